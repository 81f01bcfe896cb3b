"""What the words of `add` share: from a line to tables, and what was added in words."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import click

from tension.cli.added_text import added_text
from tension.cli.asking import (
    BackError,
    EndedError,
    ask,
    ask_line,
    ask_yes,
    is_terminal,
    one_of,
)
from tension.cli.next_text import echo_next_command
from tension.cli.text import output_width, printable, wrapped
from tension.errors import InvalidValueError
from tension.files.additions import Maker
from tension.files.record import read_visit
from tension.files.visit import Visit
from tension.installation import HitchPlace
from tension.measurement.readings import Hold
from tension.quantity.unit_table import SHOWN_UNITS
from tension.quantity.units import Dimension
from tension.workflow.adding import Where, add_to_record
from tension.workflow.adding_numbers import (
    Sheet,
    SidePulls,
    UnitMissingError,
    read_sheet,
)
from tension.workflow.adding_recordings import (
    Conditions,
)
from tension.workflow.inputs import find_record
from tension.workflow.integrity import CorrectionWords, correct_record
from tension.workflow.standing import next_of_visit, standing_of

Typed = TypeVar("Typed")


@dataclass(frozen=True, kw_only=True, slots=True)
class Place:
    """Which record is added to, and how.

    Attributes
    ----------
    path : Path
        The record or its folder.
    by, reason : str
        Who and why, for a sealed record.
    dry_run : bool
        Whether nothing is written.
    """

    path: Path
    by: str = ""
    reason: str = ""
    dry_run: bool = False


def place_of(ctx: click.Context, options: Mapping[str, Any]) -> Place:
    """Join the options before a word with those after it."""
    before = ctx.obj if isinstance(ctx.obj, Place) else Place(path=Path())
    here = options["place"]
    return Place(
        path=before.path if here == Path() else here,
        by=options["by"] or before.by,
        reason=options["reason"] or before.reason,
        dry_run=options["dry_run"] or before.dry_run,
    )


def run_add(place: Place, make: Maker) -> None:
    """Add, and say what was added and what comes next."""
    words = CorrectionWords(by=place.by, reason=place.reason)
    is_correction = bool(place.by and place.reason)
    addition = add_to_record(
        place.path,
        make,
        dry_run=place.dry_run,
        words=words if is_correction else None,
    )
    if place.dry_run:
        click.echo(addition.text, nl=False)
        click.echo("Nothing was written.", err=True)
        return
    width = output_width()
    for line in added_text(addition.tables):
        click.echo(wrapped(f"Added: {printable(line)}", width, "", "  "))
    step = next_of_visit(addition.visit)
    echo_next_command(step, place.path)


def read_lines(lines: Sequence[str], dimension: Dimension, *, unit: str = "") -> Sheet:
    """Read typed lines; a missing unit is asked once on a terminal.

    Parameters
    ----------
    lines : sequence of str
        As typed.
    dimension : Dimension
        What was read.
    unit : str, optional
        As given by an option.

    Raises
    ------
    click.UsageError
        If they cannot be read.
    """
    try:
        return read_sheet(lines, dimension, unit)
    except UnitMissingError as error:
        shown = SHOWN_UNITS[dimension]
        if not is_terminal():
            raise click.UsageError(
                f"{error}; write it once, at the end of the line: {shown}."
            ) from error
        return read_sheet(lines, dimension, _unit_asked(lines[0], dimension))
    except InvalidValueError as error:
        raise click.UsageError(f"{error}.") from error


def _unit_asked(line: str, dimension: Dimension) -> str:
    """Ask for the unit of numbers that have none."""

    def read(answer: str) -> str:
        read_sheet([line], dimension, answer)
        return answer

    try:
        unit = ask(f"{line[:30]} of what: {SHOWN_UNITS[dimension]}", read, "")
    except (BackError, EndedError):
        unit = ""
    if not unit:
        raise click.UsageError("Without a unit nothing is added.")
    return unit


def lines_or_asked(lines: Sequence[str], question: str) -> list[str]:
    """Take the lines of the command, of a pipe, or ask for them one by one.

    Returns
    -------
    list of str
        Lines that are not empty.

    Raises
    ------
    click.UsageError
        If nothing was typed.
    """
    if lines and list(lines) != ["-"]:
        return list(lines)
    found: list[str] = []
    try:
        while line := ask_line(question):
            found.append(line)
    except (BackError, EndedError):
        pass
    if not found:
        raise click.UsageError("Nothing was typed, so nothing is added.")
    return found


def typed(read: Callable[[str], Typed], text: str) -> Typed:
    """Read what was typed; what cannot be read is wrong usage.

    Raises
    ------
    click.UsageError
        If it cannot be read.
    """
    try:
        return read(text)
    except InvalidValueError as error:
        raise click.UsageError(f"{error}.") from error


def side_pulls_typed(lines: Sequence[str], options: Mapping[str, Any]) -> SidePulls:
    """Read a sheet of side pulls.

    Parameters
    ----------
    lines : sequence of str
        A rope a line; asked for if there are none.
    options : mapping
        What was held, and where it was pulled.

    Raises
    ------
    click.UsageError
        If it is not told what was held, or a line names no rope.
    """
    held = [options[key] for key in ("deflection", "force") if options[key]]
    if len(held) != 1:
        raise click.UsageError(
            'Give what was held the same on all ropes: --deflection "25 mm" or --force.'
        )
    is_force_read = options["deflection"] is not None
    sheet = read_lines(
        lines_or_asked(lines, 'Rope and readings, like "2: 38 37.5 lbf" (Enter ends)'),
        Dimension.FORCE if is_force_read else Dimension.LENGTH,
    )
    if not sheet.by_rope:
        raise click.UsageError('Begin each line with its rope, like "2: 38 37.5 lbf".')
    return SidePulls(
        read=sheet.by_rope,
        held=held[0],
        hold=Hold.DEFLECTION if is_force_read else Hold.FORCE,
        at=options["at"].text if options["at"] else "",
    )


def where_of(options: Mapping[str, Any]) -> Where:
    """Turn the options into series and hitch."""
    hitch = options.get("hitch")
    return Where(
        series=options["series"] or "", hitch=HitchPlace(hitch) if hitch else None
    )


def conditions_of(place: Place, options: Mapping[str, Any]) -> Conditions:
    """Tell under what a series was read: said, or asked; never assumed.

    Raises
    ------
    click.UsageError
        If nothing is said and nobody can be asked.
    """
    keys = ("arrived", "taken", "load", "people", "neighbours")
    said = Conditions(
        is_same=options["same"], **{key: options[key] or "" for key in keys}
    )
    visit = read_visit(find_record(place.path))
    if said.is_said or not visit.series:
        return said
    question = f"As before ({_conditions_in_words(visit)})"
    if not is_terminal():
        raise click.UsageError(
            f"{question}? Say --same, or what differs: --load, --people, --arrived."
        )
    try:
        if ask_yes(question, skipped=True):
            return Conditions(is_same=True, taken=said.taken)
        return Conditions(
            arrived=ask("The car came (up, down; Enter skips)", _arrived, ""),
            load=ask("Load in the car (Enter skips)", str, ""),
            people=ask("Who is on the car (Enter skips)", str, ""),
            taken=said.taken,
        )
    except (BackError, EndedError):
        raise click.UsageError("Without an answer nothing is added.") from None


def _arrived(line: str) -> str:
    """The way the car came."""
    return one_of(["up", "down"])(line)


def _conditions_in_words(visit: Visit) -> str:
    """Where and under what the last series was read."""
    series = visit.series[-1]
    span = next((s for s in visit.rope_set.spans if s.name == series.span), None)
    place = f"{span.side.value} side, {span.position}" if span else series.span
    parts = [
        place.removesuffix(", "),
        f"came {series.arrived}" if series.arrived else "",
        f"load {series.load}" if series.load else "",
        f"people {series.people}" if series.people else "",
        f"neighbours {series.neighbours}" if series.neighbours else "",
    ]
    return "; ".join(part for part in parts if part)


def correct_in_words(place: Place, text: str) -> None:
    """Put something right, in words, in a sealed record.

    Raises
    ------
    click.UsageError
        If nobody is named, or no reason.
    """
    if not (place.by.strip() and place.reason.strip()):
        raise click.UsageError("A correction needs --by NAME and --reason TEXT.")
    if place.dry_run:
        click.echo(f"Would be corrected, by {place.by}: {printable(text)}")
        return
    words = CorrectionWords(by=place.by, reason=place.reason, text=text)
    correction = correct_record(place.path, words)
    click.echo(f"Corrected, {correction.date}, by {printable(correction.by)}.")
    step = standing_of(place.path).step
    echo_next_command(step, place.path)
