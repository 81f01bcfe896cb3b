"""``tension add``: what was done and read on the car top, without an editor."""

import functools
from collections.abc import Callable
from typing import TYPE_CHECKING

import click

from tension.cli.add_options import RecordOptions
from tension.cli.declaring import LazyGroup, taking

if TYPE_CHECKING:
    from tension.files.additions import Maker

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
    "lift": "What the record lacks of the lift: travel, roping, masses.",
    "set": "What it lacks of the ropes: length, diameter, stiffness.",
    "turns": "Turns of the nuts, as the plan prints them.",
    "run": "Round trips of the car after the turns.",
    "exclude": "A rope or a recording that does not count, and why.",
    "looked": "What was seen where a note asked to look.",
    "finding": "A finding on the condition of a rope.",
    "correction": "Something put right, in words, in a sealed record.",
}
_PLACES = {
    "add_readings": (
        *("rope", "round", "left", "side"),
        *("pulls", "returns", "springs", "lengths", "threads"),
    ),
    "add_facts": ("hitch", "lift", "set"),
    "add_work": ("turns", "run", "exclude", "looked", "finding", "correction"),
}


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
        offer_new_files()


def adds(function: Callable[..., "Maker"]) -> Callable[..., None]:
    """Let a word add to the record the tables that its function gives."""

    @taking(record=RecordOptions)
    @functools.wraps(function)
    def add(record: RecordOptions, **said: object) -> None:
        from tension.cli.adding import run_add

        context = click.get_current_context()
        context.obj = record.after(context.obj)
        run_add(function(**said))

    return add
