"""``tension add``: the group of its words."""

from importlib import import_module

import click

from tension.cli import options
from tension.cli.adding import RecordOptions, offer_new_files
from tension.cli.main import HelpfulGroup

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


@options.command(
    "add",
    cls=HelpfulGroup,
    commands=[click.Command(name, short_help=what) for name, what in _WORDS.items()],
    find=lambda name: getattr(
        import_module("tension.cli.add_words"), f"{name}_command"
    ),
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
