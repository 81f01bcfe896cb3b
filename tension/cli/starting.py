"""From the options and answers of `start` to a new record or a blank sheet."""

import shlex
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from tension.cautions import ON_THE_CAR_TOP
from tension.cli.assessing import rope_order, rule_choice
from tension.cli.text import output_width, printable, wrapped
from tension.errors import FileFormatError, InvalidValueError
from tension.installation import Buffer, Drive, Ends, HitchPlace, Roping, Side
from tension.wording import Terms, say
from tension.workflow.figures import require_drawable, write_sheet
from tension.workflow.inputs import in_rope_order, split_rope_type
from tension.workflow.start import Answers, require_no_record, start_record


def run_start(paths: Sequence[Path], options: Mapping[str, Any]) -> None:
    """Make a record or a sheet, asking on a terminal for what was not given.

    Parameters
    ----------
    paths : sequence of Path
        A folder of recordings, or the recordings, or nothing.
    options : mapping
        The options of the command.

    Raises
    ------
    click.UsageError
        If the number of ropes is not known and nobody can be asked.
    """
    terms = Terms(options["terms"])
    if options["sheet"]:
        n_ropes = _n_ropes((), options)
        require_drawable(options["sheet"], overwrite=False)
        write_sheet(
            options["sheet"],
            n_ropes=n_ropes,
            paper=options["paper"],
            lift=options["name"] or "",
            terms=terms,
        )
        click.echo(f"Wrote {printable(str(options['sheet']))}.")
        return
    recordings, folder = _recordings(paths, options)
    given = dict(options)
    require_no_record(folder)
    rule_choice(options)
    given["ropes"] = _n_ropes(recordings, options)
    given["order"] = _order(recordings, given)
    if is_somebody_there():
        given = _asked(given)
    record = start_record(_answers(given), recordings, folder)
    click.echo(
        f"Wrote {printable(str(record))}. Fill in what is missing, then: "
        f"tension assess {printable(shlex.quote(str(record)))}"
    )
    for line in ON_THE_CAR_TOP:
        click.echo(wrapped(say(line, terms), output_width()), err=True)


def is_somebody_there() -> bool:
    """Tell whether questions can be answered.

    Returns
    -------
    bool
        Whether the input is a terminal.
    """
    return sys.stdin.isatty()


def _recordings(
    paths: Sequence[Path], options: Mapping[str, Any]
) -> tuple[tuple[Path, ...], Path]:
    """Find the recordings, and the folder that the record goes to."""
    if not paths:
        return (), options["to"] or Path()
    if len(paths) == 1 and paths[0].is_dir() and not any(paths[0].iterdir()):
        return (), options["to"] or paths[0]
    missing = [path for path in paths if not path.exists()]
    if missing:
        raise FileFormatError(f"{missing[0]}: there is no such file; check the name")
    recordings = in_rope_order(paths)
    return recordings, options["to"] or recordings[0].parent


def _n_ropes(recordings: Sequence[Path], options: Mapping[str, Any]) -> int:
    """How many ropes: given, counted, or asked."""
    order = rope_order(options["order"])
    if options["ropes"]:
        return int(options["ropes"])
    if order:
        return max(order)
    if len(recordings) > 1:
        return len(recordings)
    if is_somebody_there():
        return int(click.prompt("How many ropes", type=click.IntRange(1, 12)))
    raise click.UsageError("How many ropes? Give --ropes, such as --ropes 6.")


def _order(recordings: Sequence[Path], given: Mapping[str, Any]) -> str | None:
    """Order of the ropes in one memo: given, or asked; none for a file per rope."""
    n_ropes, n_files = given["ropes"], len(recordings)
    order = rope_order(given["order"])
    if n_files > 1 and n_files not in {len(order), n_ropes if not order else 0}:
        numbers = list(range(1, n_ropes + 1)) * n_files
        raise click.UsageError(
            f"{n_files} sound files and {n_ropes} ropes: say which rope each file is "
            f'of, such as --order "{" ".join(map(str, numbers[:n_files]))}".'
        )
    if order or n_files == n_ropes or not recordings:
        return given["order"] or None
    plain = " ".join(map(str, range(1, n_ropes + 1)))
    if not is_somebody_there():
        raise click.UsageError(
            "In which order were the ropes plucked in the memo? "
            f'Give --order, such as --order "{plain}".'
        )

    def read(text: str) -> str:
        numbers = rope_order(text)
        if max(numbers) > n_ropes:
            raise click.BadParameter(f"the set has {n_ropes} ropes, got {text}")
        return text

    asked: str = click.prompt(
        "Order in which the ropes were plucked", default=plain, value_proc=read
    )
    return asked


def _asked(given: dict[str, Any]) -> dict[str, Any]:
    """Ask the few questions that an answer needs; Enter skips."""
    _ask_choice(given, "drive", "Drive", Drive)
    _ask_choice(given, "roping", "Roping", Roping)
    _ask_choice(given, "hitch", "Where are the nuts", HitchPlace)
    _ask_choice(given, "side", "Side that is plucked or pulled", Side)
    if not given["free_lengths"] and not given["same_height"]:
        given["same_height"] = click.confirm(
            "Do all sockets stand at one height", default=False
        )
    if not given["free_lengths"]:
        given["free_lengths"] = _ask_lengths(given)
    if given["people"] is None:
        given["people"] = click.prompt(
            "Who is on the car (Enter skips)", default="", show_default=False
        )
    return given


def _ask_choice(given: dict[str, Any], key: str, question: str, kind: Any) -> None:
    """Ask for one of a few words."""
    if given[key]:
        return
    words = [member.value for member in kind]
    answer = click.prompt(
        f"{question} ({', '.join(words)}; Enter skips)",
        default="",
        show_default=False,
        type=click.Choice(["", *words]),
        show_choices=False,
    )
    given[key] = answer or None


def _ask_lengths(given: Mapping[str, Any]) -> tuple[Any, ...]:
    """Ask for one free length, or one per rope."""
    if given["same_height"]:
        length = _ask_length('Free length, like "3.40 m" (Enter skips)')
        return () if length is None else (length,)
    lengths = []
    for number in range(1, given["ropes"] + 1):
        length = _ask_length(
            f'Free length of rope {number}, like "3.40 m" (Enter skips all)'
        )
        if length is None:
            return ()
        lengths.append(length)
    return tuple(lengths)


def _ask_length(question: str) -> Any:
    """Ask for a length until it can be read; None if it is skipped."""
    from tension.cli.options import LENGTH

    def read(text: str) -> Any:
        return LENGTH.convert(text.strip(' "'), None, None) if text.strip() else ""

    answer = click.prompt(question, default="", show_default=False, value_proc=read)
    return answer or None


def _answers(given: Mapping[str, Any]) -> Answers:
    """Turn options and answers into what the record is made of."""
    diameter, construction = "", ""
    if given["rope_type"]:
        try:
            diameter, construction = split_rope_type(given["rope_type"])
        except InvalidValueError as error:
            raise click.BadParameter(str(error), param_hint="--rope") from error
    density, limit = given["linear_density"], given["limit"]
    return Answers(
        n_ropes=given["ropes"],
        name=given["name"] or "",
        drive=Drive(given["drive"]) if given["drive"] else None,
        roping=Roping(given["roping"]) if given["roping"] else None,
        hitch=HitchPlace(given["hitch"]) if given["hitch"] else None,
        buffer=Buffer(given["buffer"]) if given["buffer"] else None,
        side=Side(given["side"]) if given["side"] else None,
        position=given["position"] or "",
        people=given["people"] or "",
        ends=Ends(given["ends"]) if given["ends"] else None,
        free_lengths=tuple(length.text for length in given["free_lengths"]),
        has_sockets_at_one_height=bool(given["same_height"]),
        diameter=diameter,
        construction=construction,
        linear_density=density.text if density else "",
        rule=given["rule_name"] or "",
        limit=limit.text if limit else "",
        metric=given["metric"],
        order=rope_order(given["order"]),
        plucks_each=given["plucks_each"],
    )
