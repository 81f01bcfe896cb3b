"""What the words of ``tension add`` share: the record, how a word adds, new files."""

import functools
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tension.cli import asking, options
from tension.cli.output import printable, tell_progress, wrapped
from tension.errors import InvalidValueError

if TYPE_CHECKING:
    from tension.files.record import Maker


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


def the_record(**more: str) -> RecordOptions:
    """Tell which record the word that runs adds to; what is said more is kept too."""
    context = click.get_current_context()
    record: RecordOptions = replace(context.obj, **more)
    context.obj = record
    return record


def word(**groups: type) -> Callable[[Callable[..., "Maker | None"]], click.Command]:
    """Make a word of `add` of ``NAME_command``, which adds what it gives, if anything.

    Parameters may be groups of options that are made as the program runs.
    """

    def decorate(function: Callable[..., "Maker | None"]) -> click.Command:
        @functools.wraps(function)
        def add(**said: Any) -> None:
            the_record(**options.said_of(said.pop("record")))
            try:
                make = function(**said)
            except InvalidValueError as error:  # of what was typed
                raise click.UsageError(f"{error}.") from error
            if make is not None:
                run_add(make)

        name = function.__name__.removesuffix("_command")
        every = {**groups, "record": RecordOptions}
        return options.command(name, made=every)(add)

    return decorate


def run_add(make: "Maker") -> None:
    """Add, and say what was added and what comes next."""
    from tension.cli.record_text import added_text, echo_next_command
    from tension.files.seal import Correction
    from tension.files.toml_text import tables_text
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
        click.echo(tables_text(addition.tables), nl=False)
        click.echo("Nothing was written.", err=True)
        return
    for line in added_text(addition.tables):
        click.echo(wrapped(f"Added: {printable(line)}", "", "  "))
    echo_next_command(standing_of_visit(addition.visit).step, place.path)


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
    files = [path.parent / name for name in new]
    try:
        if len(new) == n_ropes and asking.ask_yes(
            f'{len(new)} new sound files: one more round of "{visit.series[-1].name}"',
            skipped=False,
        ):
            new_round = adding_readings.RoundFiles(paths=files)
            run_add(partial(adding_readings.round_of_ropes, files=new_round))
            return
        likely = list(standing_of_visit(visit).step.ropes)
        if not likely:
            assessed = assess_record(path, progress=tell_progress)
            likely = list(assessed.assessment.measure_again)
        for file, name in zip(files, new, strict=True):
            rope = _rope_asked(name, n_ropes, likely.pop(0) if likely else 0)
            if rope:
                run_add(
                    partial(adding_readings.repeat_of_rope, rope=rope, files=[file])
                )
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
