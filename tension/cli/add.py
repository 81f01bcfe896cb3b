"""``tension add``: what was done and read on the car top, without an editor."""

from dataclasses import dataclass
from pathlib import Path

import click

from tension.cli.declaring import PATH, opt, taking
from tension.cli.lazy import LazyGroup
from tension.cli.options import PLUCKS_EACH

_WORDS = {
    "rope": "A rope once more: its new recording.",
    "round": "One more round of a series, or the first.",
    "left": "The set as left: a round after the turns.",
    "side": "A round on the other side, or at another place.",
    "pulls": "Side pulls off a paper sheet, a line a rope.",
    "returns": "Timed wave returns of one rope.",
    "springs": "Lengths of the springs under load.",
    "lengths": "Free lengths that the record lacks.",
    "threads": "Thread left on the rods.",
    "hitch": "Where the nuts are: rows, thread, springs.",
    "turns": "Turns of the nuts, as the plan prints them.",
    "run": "Round trips of the car after the turns.",
    "exclude": "A rope or a recording that does not count, and why.",
    "looked": "What was seen where a note asked to look.",
    "finding": "A finding on the condition of a rope.",
    "correction": "Something put right, in words, in a sealed record.",
}
_PLACES = {
    "add_recordings": ("rope", "round", "left", "side"),
    "add_readings": ("pulls", "returns", "springs", "lengths", "threads", "hitch"),
    "add_work": ("turns", "run", "exclude", "looked", "finding", "correction"),
}


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

    def after(self, before: "RecordOptions | None") -> "RecordOptions":
        """Join with what was said before the word."""
        if before is None:
            return self
        return RecordOptions(
            place=before.place if self.place == Path() else self.place,
            by=self.by or before.by,
            reason=self.reason or before.reason,
            dry_run=self.dry_run or before.dry_run,
        )


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


@click.group(
    "add",
    cls=LazyGroup,
    loaded={
        word: (what, f"tension.cli.{module}:{word}_command")
        for word, what in _WORDS.items()
        for module, words in _PLACES.items()
        if word in words
    },
    heading="Words",
    unknown="Nothing is called '{}'.{} See 'tension add --help'.",
    invoke_without_command=True,
    subcommand_metavar="WORD ...",
    context_settings={"help_option_names": ["-h", "--help"]},
)
@taking(record=RecordOptions)
@click.pass_context
def command(ctx: click.Context, /, record: RecordOptions) -> None:
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
    from tension.cli.adding import offer_new_files

    ctx.obj = record
    if ctx.invoked_subcommand is None:
        offer_new_files(record)
