"""Options of the words of ``tension add``: record, order of files, conditions."""

from dataclasses import dataclass, replace
from pathlib import Path

import click

from tension.cli.declaring import PATH, opt
from tension.cli.options import PLUCKS_EACH


@dataclass(frozen=True, kw_only=True, slots=True)
class RecordOptions:
    """Which record is added to, and how."""

    place: Path = opt(
        "--in",
        type=PATH,
        default=".",
        metavar="PATH",
        help="The record or its folder; this folder if left out.",
    )
    dry_run: bool = opt(
        "--dry-run", is_flag=True, help="Show the lines, write nothing."
    )
    by: str = opt("--by", default="", metavar="NAME", help="Who; for a sealed record.")
    reason: str = opt("--reason", default="", metavar="TEXT", help="Why; likewise.")

    def after(self, before: object) -> "RecordOptions":
        """Join with what was said before the word, if anything was."""
        if not isinstance(before, RecordOptions):
            return self
        return RecordOptions(
            place=before.place if self.place == Path() else self.place,
            by=self.by or before.by,
            reason=self.reason or before.reason,
            dry_run=self.dry_run or before.dry_run,
        )


def the_record(reason: str = "") -> RecordOptions:
    """Tell which record the word that runs adds to; with a reason if none was said."""
    context = click.get_current_context()
    said = context.ensure_object(RecordOptions)
    record = replace(said, reason=said.reason or reason)
    context.obj = record
    return record


@dataclass(frozen=True, kw_only=True, slots=True)
class OrderOptions:
    """Which rope each file is of."""

    order: str | None = opt(
        "--order", metavar="NUMBERS", help='Ropes in the order plucked, "6 5 4 3 2 1".'
    )
    plucks_each: int | None = PLUCKS_EACH


@dataclass(frozen=True, kw_only=True, slots=True)
class ConditionOptions:
    """Under what a series was read."""

    same: bool = opt("--same", is_flag=True, help="Load, people, arrival as before.")
    load: str = opt("--load", metavar="TEXT", default="", help="In the car.")
    people: str = opt(
        "--people", metavar="TEXT", default="", help="Who stands on the car."
    )
    arrived: str | None = opt(
        "--arrived",
        type=click.Choice(["up", "down"], case_sensitive=False),
        help="Direction the car came from.",
    )
    neighbours: str | None = opt(
        "--neighbours",
        type=click.Choice(["free", "damped"], case_sensitive=False),
        help="The other ropes while one rings.",
    )
    taken: str = opt("--taken", metavar="TEXT", default="", help="Date and time.")
