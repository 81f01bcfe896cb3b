"""What the words of `add` share: the record, options, what is asked, what is said."""

import functools
import inspect
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from tension.cli import asking, options
from tension.cli.main import HelpfulGroup
from tension.cli.output import printable, tell_progress, wrapped
from tension.errors import InvalidValueError
from tension.installation import Arrived, Neighbours
from tension.quantity.units import Dimension, Quantity

if TYPE_CHECKING:
    from tension.files.record import Maker
    from tension.files.visit import Visit
    from tension.measurement.readings import Series
    from tension.workflow.adding_readings import RoundFiles
    from tension.workflow.typed_sheets import Sheet

Typed = TypeVar("Typed")


@dataclass(frozen=True, kw_only=True, slots=True)
class RecordOptions:
    """Which record is added to, and how."""

    place: Path | None = options.opt(
        "The record or its folder; this folder if left out.",
        "--in",
        metavar="PATH",
    )
    dry_run: bool = options.opt("Show the lines, write nothing.")
    by: str = options.opt("Who; for a sealed record.", metavar="NAME")
    reason: str = options.opt("Why; likewise.")

    @property
    def path(self) -> Path:
        """Give the record or its folder."""
        return self.place or Path()


@options.command(
    "add",
    cls=HelpfulGroup,
    heading="Words",
    unknown="Nothing is called '{}'.{} See 'tension add --help'.",
    invoke_without_command=True,
    subcommand_metavar="WORD ...",
    context_settings={"help_option_names": ["-h", "--help"]},
)
def command(record: RecordOptions) -> None:
    """Add to the record what was read and done; nothing that stands there changes.

    The record of the folder one is in is added to; --in names another. Lines go to its
    end, all or none, and what contradicts it is refused. Without a word, on a terminal,
    new sound files of the folder are offered.

    \b
    tension add rope 2 "New Recording 16.m4a"
    tension add springs "139 142 139 139.5 137 139.5 mm"
    tension add turns "2 in 4 1/2, 5 out 4"
    tension add run 6
    tension add left as-left --same
    """
    ctx = click.get_current_context()
    ctx.obj = record
    if ctx.invoked_subcommand is None:
        offer_new_files()


def the_record(**more: str) -> RecordOptions:
    """Tell which record the word that runs adds to; what is said more is kept too."""
    context = click.get_current_context()
    record: RecordOptions = replace(context.obj, **more)
    context.obj = record
    return record


def word(
    name: str, listed: str
) -> Callable[[Callable[..., "Maker | None"]], Callable[..., "Maker | None"]]:
    """Make a word of `add`, listed so, which adds what its function gives, if any."""

    def decorate(function: Callable[..., "Maker | None"]) -> Callable[..., Any]:
        @functools.wraps(function)
        def add(record: RecordOptions, **said: Any) -> None:
            the_record(**options.said_of(record))
            try:
                make = function(**said)
            except InvalidValueError as error:  # of what was typed
                raise click.UsageError(f"{error}.") from error
            if make is not None:
                run_add(make)

        own = inspect.signature(function)
        last = inspect.Parameter(
            "record", inspect.Parameter.KEYWORD_ONLY, annotation=RecordOptions
        )
        every = [*own.parameters.values(), last]
        add.__signature__ = own.replace(parameters=every)  # type: ignore[attr-defined]
        command.add_command(options.command(name, short_help=listed)(add))
        return function

    return decorate


@dataclass(frozen=True, kw_only=True, slots=True)
class OrderOptions:
    """Which rope each file is of."""

    order: options.Order = options.opt('Ropes in the order plucked, "6 5 4 3 2 1".')
    plucks_each: options.PlucksEach

    def files(self, paths: Sequence[Path]) -> "RoundFiles":
        """Recordings of a round as they were given."""
        from tension.workflow.adding_readings import RoundFiles

        return RoundFiles(paths=paths, order=self.order, plucks_each=self.plucks_each)


@dataclass(frozen=True, kw_only=True, slots=True)
class ConditionOptions:
    """Under what a series was read."""

    is_same: bool = options.opt("Load, people, arrival as before.", "--same")
    load: str = options.opt("In the car.")
    people: str = options.opt("Who stands on the car.")
    arrived: Arrived | None = options.opt("Direction the car came from.")
    neighbours: Neighbours | None = options.opt("The other ropes while one rings.")
    taken: str = options.opt("Date and time.")


def run_add(make: "Maker") -> None:
    """Add, and say what was added and what comes next."""
    from tension.cli.record_text import added_text, echo_next_command
    from tension.files.seal import Correction
    from tension.workflow.adding import add_to_record
    from tension.workflow.standing import standing_of_visit

    place = the_record()
    words = Correction(by=place.by, reason=place.reason)
    addition = add_to_record(
        place.path,
        make,
        dry_run=place.dry_run,
        words=words if place.by and place.reason else None,
    )
    if place.dry_run:
        click.echo(addition.text, nl=False)
        click.echo("Nothing was written.", err=True)
        return
    for line in added_text(addition.tables):
        click.echo(wrapped(f"Added: {printable(line)}", "", "  "))
    echo_next_command(standing_of_visit(addition.visit).step, place.path)


def correct_in_words(text: str) -> None:
    """Put something right, in words, in a sealed record; it needs a name and why."""
    from tension.cli.record_text import echo_next_command
    from tension.files.seal import Correction
    from tension.workflow.integrity import correct_record
    from tension.workflow.standing import standing_of

    place = the_record()
    is_told = place.by.strip() and place.reason.strip()
    options.require(is_told, "A correction needs --by NAME and --reason TEXT.")
    if place.dry_run:
        click.echo(f"Would be corrected, by {place.by}: {printable(text)}")
        return
    words = Correction(by=place.by, reason=place.reason, text=text)
    correction = correct_record(place.path, words)
    click.echo(f"Corrected, {correction.date}, by {printable(correction.by)}.")
    echo_next_command(standing_of(place.path).step, place.path)


def with_unit(read: Callable[[str], Typed], dimension: Dimension) -> Typed:
    """Read what was typed; a missing unit is asked for once on a terminal."""
    if not asking.is_terminal():
        return read("")
    with asking.answered("Without a unit nothing is added."):
        return asking.Known(n_ropes=0).with_unit(read, dimension)


def read_in_order(line: str, dimension: Dimension) -> tuple[Quantity, ...]:
    """Read the numbers of one line, which names no rope."""
    from tension.workflow.typed_sheets import read_sheet

    sheet = with_unit(lambda unit: read_sheet([line], dimension, unit), dimension)
    options.require(sheet.in_order, f'"{line}" names a rope; write the numbers alone.')
    return sheet.in_order


def sheet_typed(lines: Sequence[str], question: str, dimension: Dimension) -> "Sheet":
    """Read the lines of the command or of a pipe, or ask for them one by one."""
    from tension.workflow.typed_sheets import read_sheet

    found = [line for line in lines if list(lines) != ["-"]]
    if not found:
        try:
            while line := asking.ask_line(f"{question} (Enter ends)"):
                found.append(line)
        except (asking.BackError, asking.EndedError):
            pass
        options.require(found, "Nothing was typed, so nothing is added.")
    return with_unit(lambda unit: read_sheet(found, dimension, unit), dimension)


def series_of(name: str, told: ConditionOptions) -> "tuple[Series, bool]":
    """Tell under what a series was read, and whether the rest is as in that before.

    It is said, or asked; never assumed.
    """
    from tension.cli.start_questions import QUESTIONS
    from tension.files.record import read_visit
    from tension.measurement.readings import Series
    from tension.workflow.inputs import find_record

    said = options.said_of(told)
    is_said = said.keys() & {"is_same", "load", "people", "arrived"}
    said.pop("is_same", None)
    new = Series(name=name, span="", **said)
    visit = read_visit(find_record(the_record().path))
    if is_said or not visit.series:
        return new, told.is_same
    question = f"As before ({_conditions_in_words(visit)})"
    options.require(
        asking.is_terminal(),
        f"{question}? Say --same, or what differs: --load, --people, --arrived.",
    )
    with asking.answered("Without an answer nothing is added."):
        if asking.ask_yes(question, skipped=True):
            return new, True
        known = asking.Known(n_ropes=visit.rope_set.n_ropes)
        own = [one for one in QUESTIONS if one.key in {"arrived", "load", "people"}]
        asked: dict[str, Any] = {one.key: one.ask(known) or "" for one in own}
        return replace(new, **asked), False


def _conditions_in_words(visit: "Visit") -> str:
    """Where and under what the last series was read."""
    series = visit.series[-1]
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


def offer_new_files() -> None:
    """Offer the new sound files of the folder, one by one or as a round."""
    from tension.files.record import read_visit
    from tension.workflow import adding_readings
    from tension.workflow.assess import assess_record
    from tension.workflow.inputs import find_record, unnamed_files
    from tension.workflow.standing import standing_of_visit

    path = find_record(the_record().path)
    visit = read_visit(path)
    new = unnamed_files(visit)
    if not new:
        click.echo("No new sound file. What can be added: tension add --help")
        return
    options.require(
        asking.is_terminal(),
        f"New: {', '.join(new[:6])}. Say what they are: tension add --help",
    )
    n_ropes = visit.rope_set.n_ropes
    folder = path.parent
    try:
        if len(new) == n_ropes and asking.ask_yes(
            f'{len(new)} new sound files: one more round of "{visit.series[-1].name}"',
            skipped=False,
        ):
            files = adding_readings.RoundFiles(paths=[folder / one for one in new])
            run_add(adding_readings.round_of_ropes(files))
            return
        likely = list(standing_of_visit(visit).step.ropes)
        if not likely:
            assessed = assess_record(path, progress=tell_progress)
            likely = list(assessed.assessment.measure_again)
        for name in new:
            rope = _rope_asked(name, n_ropes, likely.pop(0) if likely else 0)
            if rope:
                run_add(adding_readings.repeat_of_rope(rope, [folder / name]))
    except (asking.BackError, asking.EndedError):
        click.echo("No more was added.", err=True)


def _rope_asked(name: str, n_ropes: int, likely: int) -> int:
    """Ask which rope a file is of; nought for none."""
    a_rope = asking.number_to(n_ropes, "answer with a rope, 1 to {}, or n for none")

    def read(line: str) -> int:
        plain = line.lower().removeprefix("rope").strip()
        if plain in asking.YES and likely:
            return likely
        return 0 if plain in {*asking.NO, "0"} else a_rope(plain)

    guess = f"rope {likely} again? (Y, n or a rope)" if likely else "which rope? (or n)"
    return asking.ask(f"New {name}: {guess}", read, likely)
