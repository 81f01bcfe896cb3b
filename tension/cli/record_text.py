"""What is said of a record: where it stands, what was added, what comes next."""

import shlex
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import click

from tension.adjustment.outcome import Direction, NutTurn
from tension.cli.output import output_width, printable, wrapped
from tension.files.toml_text import NewTable, Value
from tension.files.visit import Visit
from tension.measurement.readings import Series
from tension.telling.lines import words_of
from tension.telling.numbers import turns_text
from tension.workflow.inputs import is_record
from tension.workflow.standing import NextKind, NextStep, Standing, standing_of


def echo_next_command(step: NextStep | None, *paths: Path) -> None:
    """Print which command comes next, with the paths as given; it can be pasted."""
    if step is not None:
        path, *more = paths or (Path(),)
        words = step.kind.format(**_names(step, path))
        echo_command(" ".join(["tension", words, *(_quoted(one) for one in more)]))


def _names(step: NextStep, path: Path) -> dict[str, object]:
    """What stands in the commands: the names that are there, else what to put."""
    is_here, sound = path == Path(), step.sound
    folder = path if path.is_dir() else path.parent
    new_round = " FOLDER"
    if sound is not None:
        new_round = f" {_quoted(sound.folder)}" if sound.is_whole_folder else ""
    return {
        "record": "" if is_here else f" {_quoted(path)}",
        "place": "" if is_here else f" --in {_quoted(path)}",
        "new_round": new_round,
        "rope": step.ropes[0] if step.ropes else "",
        "file": _quoted(sound.names[0]) if sound else "FILE",
        "lengths": " ".join(["3.40"] * step.n_ropes),
        "turns": ", ".join(map(turn_words, step.turns)),
        "trips": step.round_trips,
        "report": _quoted(folder / "report.pdf"),
    }


def _quoted(path: Path | str) -> str:
    """A path as a shell takes it."""
    return shlex.quote(str(path))


def echo_command(words: str) -> None:
    """Print a command as the next one."""
    line = f"Next command: {printable(words)}"
    if len(line) > output_width():  # a line of its own, not broken, to be pasted
        line = line.replace(": ", ":\n", 1)
    click.echo(f"\n{line}")


def next_of_files(path: Path) -> NextStep:
    """Seal what is whole, or see that what was sealed is so still."""
    is_sealed = standing_of(path).is_sealed
    return NextStep(kind=NextKind.VERIFY if is_sealed else NextKind.SEAL)


def turn_words(turn: NutTurn) -> str:
    """Write a turn as `add turns` reads it, such as "2 in 4 1/2"."""
    way = "in" if turn.direction is Direction.TAKE_UP else "out"
    return f"{turn.rope} {way} {turns_text(abs(turn.turns)).rsplit(' ', 1)[0]}"


def tell_standing() -> bool:
    """Tell where the visit of this folder stands, if it holds a record."""
    if not is_record(Path()):
        return False
    standing = standing_of(Path())
    given = dict(standing.visit.particulars)
    title = ", ".join(filter(None, (standing.visit.lift.name, given.get("date"))))
    click.echo(wrapped(printable(title or "No name, no date")))
    for is_done, what in _steps(standing):
        mark = "[x]" if is_done else "[ ]"
        click.echo(wrapped(f"{mark} {printable(what)}", "", "    "))
    for sound in standing.sound:
        what = f"new sound file: {sound.names[0]}"
        if len(sound.names) > 1:
            folder = sound.folder or "this folder"
            what = f"{len(sound.names)} new sound files in {folder}"
        click.echo(wrapped(f" +  {printable(what)}", "", "    "))
    echo_next_command(standing.step, Path())
    return True


def _steps(standing: Standing) -> Iterator[tuple[bool, str]]:
    """What is done, and what is not."""
    n_ropes = standing.visit.rope_set.n_ropes
    for name, read in standing.rounds.items():
        ropes = f'"{name}" {len(read)} of {n_ropes} ropes'
        yield len(read) == n_ropes, f"measured: {ropes}"
    if not standing.rounds:
        yield False, "measured"
    turned = ", ".join(map(str, standing.turned))
    yield bool(turned), "planned: tension adjust works it out; it is not kept"
    yield bool(turned), f"turned: rope {turned}" if turned else "turned"
    trips = f": {standing.round_trips} round trips" if standing.is_run else ""
    yield standing.is_run, f"run{trips}"
    yield standing.is_left, "left: measured after the turns"
    yield standing.is_sealed, "sealed"


def conditions_in_words(series: Series, visit: Visit) -> str:
    """Tell where and under what a series was read."""
    span = next((s for s in visit.rope_set.spans if s.name == series.span), None)
    place = f"{span.side.value} side, {span.position}" if span else series.span
    told = {
        "came": series.arrived,
        "load": series.load,
        "people": series.people,
        "neighbours": series.neighbours,
    }
    said = [f"{what} {how}" for what, how in told.items() if how]
    return "; ".join(filter(None, [place.removesuffix(", "), *said]))


def added_text(tables: Sequence[NewTable]) -> Iterator[str]:
    """Say what was added, a line for what belongs together."""
    groups: dict[tuple[str, str], list[Mapping[str, Value | None]]] = {}
    for table in tables:
        kind = str(table.keys.get("kind", ""))
        groups.setdefault((table.name, kind), []).append(table.keys)
    for (name, kind), members in groups.items():
        words = words_of("record_text.added").get(kind if name == "reading" else name)
        told = words and words.format_map(_places(members))
        yield told or f"{len(members)} of [[{name}]]"


def _places(members: Sequence[Mapping[str, Value | None]]) -> dict[str, object]:
    """The words that stand in the places of what was added."""
    first = members[0]
    ropes = [str(one.get("rope") or one.get("number") or "all") for one in members]
    files, turns = [], []
    for one, rope in zip(members, ropes, strict=True):
        several, turned = one.get("ropes"), str(one.get("turns"))
        of = " ".join(map(str, several)) if isinstance(several, tuple) else ""
        files.append(f"rope {of or rope} {one.get('recording')}")
        way = "in" if turned[0] == "+" else "out"
        turns.append(f"rope {rope} {way} {turned[1:].strip()}")
    return {
        **first,
        "every_rope": ", ".join(ropes),
        "every_file": "; ".join(files[:3])
        + (f"; to {files[-1]}" if len(files) > 3 else ""),
        "every_turn": ", ".join(turns),
        "every_fact": ", ".join(f"{key} {said}" for key, said in first.items() if said),
        "length_or_thread": "thread left" if "take_up_left" in first else "free length",
        "reading": first.get("recording") or f"rope {ropes[0]}",
    }
