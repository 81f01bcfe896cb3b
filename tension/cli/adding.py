"""What the words of `add` share: from a line to tables, and what was added in words."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

import click

from tension.cli.add_options import ConditionOptions, the_record
from tension.cli.asking import (
    BackError,
    EndedError,
    ask,
    ask_line,
    ask_or_refuse,
    ask_yes,
    is_terminal,
    one_of,
)
from tension.cli.exits import tell_progress
from tension.cli.record_text import added_text, echo_next_command
from tension.cli.text import output_width, printable, wrapped
from tension.errors import InvalidValueError
from tension.files.additions import Maker
from tension.files.record import read_visit
from tension.files.visit import Visit
from tension.measurement.readings import Hold
from tension.quantity.unit_table import SHOWN_UNITS
from tension.quantity.units import Dimension, Quantity
from tension.workflow.adding import add_to_record
from tension.workflow.adding_numbers import (
    Sheet,
    SidePulls,
    UnitMissingError,
    read_sheet,
)
from tension.workflow.adding_recordings import (
    Conditions,
    RoundFiles,
    repeat_of_rope,
    round_of_ropes,
)
from tension.workflow.inputs import find_record, unnamed_files
from tension.workflow.integrity import CorrectionWords, correct_record
from tension.workflow.standing import next_of_visit, standing_of

Typed = TypeVar("Typed")


def run_add(make: Maker) -> None:
    """Add, and say what was added and what comes next."""
    place = the_record()
    words = CorrectionWords(by=place.by, reason=place.reason)
    is_correction = bool(place.by and place.reason)
    addition = add_to_record(
        place.place, make, dry_run=place.dry_run, words=words if is_correction else None
    )
    if place.dry_run:
        click.echo(addition.text, nl=False)
        click.echo("Nothing was written.", err=True)
        return
    width = output_width()
    for line in added_text(addition.tables):
        click.echo(wrapped(f"Added: {printable(line)}", width, "", "  "))
    step = next_of_visit(addition.visit)
    echo_next_command(step, place.place)


def read_lines(lines: Sequence[str], dimension: Dimension, *, unit: str = "") -> Sheet:
    """Read typed lines; a missing unit is asked once on a terminal.

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

    none = "Without a unit nothing is added."
    question = f"{line[:30]} of what: {SHOWN_UNITS[dimension]}"
    unit = ask_or_refuse(question, read, "", none)
    if not unit:
        raise click.UsageError(none)
    return unit


def lines_or_asked(lines: Sequence[str], question: str) -> list[str]:
    """Take the lines of the command, of a pipe, or ask for them one by one.

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


def text_of(quantity: Quantity | None) -> str:
    """Give what was typed; nothing if nothing was."""
    return quantity.text if quantity else ""


def side_pulls_typed(
    lines: Sequence[str],
    deflection: Quantity | None,
    force: Quantity | None,
    at: Quantity | None,
) -> SidePulls:
    """Read a sheet of side pulls: what was held, and a line a rope, or asked for.

    Raises
    ------
    click.UsageError
        If it is not told what was held, or a line names no rope.
    """
    held = deflection or force
    if held is None or (deflection and force):
        raise click.UsageError(
            'Give what was held the same on all ropes: --deflection "25 mm" or --force.'
        )
    sheet = read_lines(
        lines_or_asked(lines, 'Rope and readings, like "2: 38 37.5 lbf" (Enter ends)'),
        Dimension.FORCE if deflection else Dimension.LENGTH,
    )
    if not sheet.by_rope:
        raise click.UsageError('Begin each line with its rope, like "2: 38 37.5 lbf".')
    return SidePulls(
        read=sheet.by_rope,
        held=held,
        hold=Hold.DEFLECTION if deflection else Hold.FORCE,
        at=text_of(at),
    )


def conditions_of(options: ConditionOptions) -> Conditions:
    """Tell under what a series was read: said, or asked; never assumed.

    Raises
    ------
    click.UsageError
        If nothing is said and nobody can be asked.
    """
    said = Conditions(
        is_same=options.same,
        arrived=options.arrived or "",
        taken=options.taken,
        load=options.load,
        people=options.people,
        neighbours=options.neighbours or "",
    )
    visit = read_visit(find_record(the_record().place))
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
            arrived=ask(
                "The car came (up, down; Enter skips)", one_of(["up", "down"]), ""
            ),
            load=ask("Load in the car (Enter skips)", str, ""),
            people=ask("Who is on the car (Enter skips)", str, ""),
            taken=said.taken,
        )
    except (BackError, EndedError):
        raise click.UsageError("Without an answer nothing is added.") from None


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


def correct_in_words(text: str) -> None:
    """Put something right, in words, in a sealed record.

    Raises
    ------
    click.UsageError
        If nobody is named, or no reason.
    """
    place = the_record()
    if not (place.by.strip() and place.reason.strip()):
        raise click.UsageError("A correction needs --by NAME and --reason TEXT.")
    if place.dry_run:
        click.echo(f"Would be corrected, by {place.by}: {printable(text)}")
        return
    words = CorrectionWords(by=place.by, reason=place.reason, text=text)
    correction = correct_record(place.place, words)
    click.echo(f"Corrected, {correction.date}, by {printable(correction.by)}.")
    step = standing_of(place.place).step
    echo_next_command(step, place.place)


def offer_new_files() -> None:
    """Offer the new sound files of the folder, one by one or as a round.

    Raises
    ------
    click.UsageError
        If nobody can be asked.
    """
    path = find_record(the_record().place)
    visit = read_visit(path)
    new = unnamed_files(visit)
    if not new:
        click.echo("No new sound file. What can be added: tension add --help")
        return
    if not is_terminal():
        shown = ", ".join(new[:6])
        raise click.UsageError(f"New: {shown}. Say what they are: tension add --help")
    n_ropes = visit.rope_set.n_ropes
    folder = path.parent
    try:
        if len(new) == n_ropes and ask_yes(
            f'{len(new)} new sound files: one more round of "{visit.series[-1].name}"',
            skipped=False,
        ):
            run_add(round_of_ropes(RoundFiles(paths=[folder / name for name in new])))
            return
        likely = _likely_ropes(path, visit)
        for name in new:
            rope = _rope_asked(name, n_ropes, likely)
            if rope:
                run_add(repeat_of_rope(rope, [folder / name]))
    except (BackError, EndedError):
        click.echo("No more was added.", err=True)


def _likely_ropes(path: Path, visit: Visit) -> list[int]:
    """Ropes that a new recording is likely of: missing, or to be measured again."""
    from tension.workflow.assess import assess_record

    missing = next_of_visit(visit).ropes
    if missing:
        return list(missing)
    assessed = assess_record(path, progress=tell_progress)
    return list(assessed.assessment.measure_again)


def _rope_asked(name: str, n_ropes: int, likely: list[int]) -> int:
    """Ask which rope a file is of; nought for none."""
    first = likely.pop(0) if likely else 0

    def read(line: str) -> int:
        plain = line.lower().removeprefix("rope").strip()
        if plain in {"y", "yes"} and first:
            return first
        if plain in {"n", "no", "0"}:
            return 0
        if plain.isdigit() and 1 <= int(plain) <= n_ropes:
            return int(plain)
        raise InvalidValueError(f"answer with a rope, 1 to {n_ropes}, or n for none")

    guess = f"rope {first} again? (Y, n or a rope)" if first else "which rope? (or n)"
    return ask(f"New {name}: {guess}", read, first)
