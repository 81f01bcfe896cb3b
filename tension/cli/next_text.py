"""The next command in words, with the names that are there."""

import shlex
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import click

from tension.adjustment.outcome import Direction, NutTurn
from tension.cli.text import output_width, printable
from tension.telling.numbers import turns_text
from tension.workflow.standing import USUAL_RUN, NextKind, NextStep

_REPORT = "report.pdf"


def echo_next_command(step: NextStep | None, *paths: Path) -> None:
    """Print which command comes next; it can be pasted.

    Parameters
    ----------
    step : NextStep or None
        What comes next; nothing is printed without it.
    *paths : Path
        The record or the folder, or the sound files, as given.
    """
    if step is not None:
        path, *more = paths or (Path(),)
        words = " ".join([_COMMANDS[step.kind](step, path), *_quoted(more)])
        line = f"Next command: {printable(words)}"
        if len(line) > output_width():  # a line of its own, not broken, to be pasted
            line = line.replace(": ", ":\n", 1)
        click.echo(f"\n{line}")


def _quoted(paths: Sequence[Path]) -> Iterator[str]:
    """Paths as a shell takes them."""
    return (shlex.quote(str(path)) for path in paths)


def _on_record(name: str) -> Callable[[NextStep, Path], str]:
    """A command that takes the record."""

    def words(step: NextStep, path: Path) -> str:
        del step
        return " ".join(["tension", name, *_quoted([path] if path != Path() else [])])

    return words


def _report(step: NextStep, path: Path) -> str:
    """The report, beside the record."""
    folder = path if path.is_dir() else path.parent
    output = shlex.quote(str(folder / _REPORT))
    return f"{_on_record('report')(step, path)} -o {output}"


def _add(words: str, path: Path) -> str:
    """A word of `add`; in another folder with its place."""
    place = "" if path == Path() else f" --in {shlex.quote(str(path))}"
    return f"tension add {words}{place}"


def _add_round(word: str) -> Callable[[NextStep, Path], str]:
    """A round from a folder or from new files, if there are any."""

    def words(step: NextStep, path: Path) -> str:
        sound = step.sound
        if sound is None:
            return _add(f"{word} FOLDER", path)
        folder = f" {shlex.quote(sound.folder)}" if sound.is_whole_folder else ""
        return _add(f"{word}{folder}", path)

    return words


def _add_rope(step: NextStep, path: Path) -> str:
    """A rope once more."""
    file = shlex.quote(step.sound.names[0]) if step.sound else "FILE"
    return _add(f"rope {step.ropes[0]} {file}", path)


def _add_lengths(step: NextStep, path: Path) -> str:
    """Free lengths, one for each rope."""
    example = " ".join(["3.40"] * step.n_ropes)
    return _add(f'lengths "{example} m"', path)


def _add_turns(step: NextStep, path: Path) -> str:
    """The turns of a plan, once they are made."""
    return _add(f'turns "{", ".join(map(turn_words, step.turns))}"', path)


def turn_words(turn: NutTurn) -> str:
    """Write a turn as `add turns` reads it.

    Returns
    -------
    str
        Such as "2 in 4 1/2".
    """
    way = "in" if turn.direction is Direction.TAKE_UP else "out"
    return f"{turn.rope} {way} {turns_text(abs(turn.turns)).rsplit(' ', 1)[0]}"


_COMMANDS: dict[NextKind, Callable[[NextStep, Path], str]] = {
    NextKind.START: _on_record("start"),
    NextKind.ADD_ROUND: _add_round("round"),
    NextKind.ADD_ROPE: _add_rope,
    NextKind.ADD_LENGTHS: _add_lengths,
    NextKind.ASSESS: _on_record("assess"),
    NextKind.ADJUST: _on_record("adjust"),
    NextKind.ADD_TURNS: _add_turns,
    NextKind.ADD_RUN: lambda _, path: _add(f"run {USUAL_RUN}", path),
    NextKind.ADD_LEFT: _add_round("left"),
    NextKind.COMPARE: _on_record("compare"),
    NextKind.REPORT: _report,
    NextKind.SEAL: _on_record("seal"),
    NextKind.VERIFY: _on_record("verify"),
}
