"""``tension add``: what was done and read on the car top, without an editor."""

import importlib
from pathlib import Path

import click

from tension.cli.options import with_record_options

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


class AddGroup(click.Group):
    """A group of the words, each imported when it is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """List the words in the order of a visit."""
        del ctx
        return list(_WORDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one word."""
        del ctx
        if cmd_name.lower() not in _WORDS:
            return None
        module = importlib.import_module(f"tension.cli.add_words.{cmd_name.lower()}")
        command: click.Command = module.command
        return command

    def format_commands(
        self, ctx: click.Context, formatter: click.HelpFormatter
    ) -> None:
        """Write the list of words without importing them."""
        del ctx
        with formatter.section("Words"):
            formatter.write_dl(list(_WORDS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Suggest the nearest word for a misspelt one."""
        from difflib import get_close_matches

        if args and args[0].lower() not in _WORDS:
            near = get_close_matches(args[0].lower(), _WORDS, n=1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            ctx.fail(f"Nothing is called '{args[0]}'.{hint} See 'tension add --help'.")
        return super().resolve_command(ctx, args)


@click.group(
    "add",
    cls=AddGroup,
    invoke_without_command=True,
    subcommand_metavar="WORD ...",
    context_settings={"help_option_names": ["-h", "--help"]},
)
@with_record_options
@click.pass_context
def command(
    ctx: click.Context,
    /,
    place: Path,
    by: str,
    reason: str,
    dry_run: bool,
) -> None:
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
    from tension.cli.adding import Place
    from tension.cli.offering import offer_new_files

    ctx.obj = Place(path=place, by=by, reason=reason, dry_run=dry_run)
    if ctx.invoked_subcommand is None:
        offer_new_files(ctx.obj)
