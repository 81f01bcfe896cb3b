"""The command line as a whole: commands loaded when used, errors to lines."""

import contextlib
import importlib
import os
import sys
from collections.abc import Callable
from difflib import get_close_matches
from typing import Any, NoReturn

import click

from tension import __version__
from tension.cli import output
from tension.cli.output import echo_document, tell
from tension.errors import TensionError, lines_of

_COMMANDS = {
    "assess": "Say equal, unequal or cannot tell from sound files or a record.",
    "pluck": "Tell what was heard in each sound file.",
    "listen": "Hear the ropes live through a microphone, rope by rope.",
    "devices": "List the microphones and look at what one gives.",
    "start": "Make a record to fill in, or a blank sheet for the car top.",
    "add": "Add to a record what was read and done; no editor needed.",
    "demo": "Assess the demo recordings that come with the program.",
    "adjust": "Plan the turns: which nut, which way, how far.",
    "compare": "Hold as found against as left, and learn from the turns.",
    "springs": "Check the shackle springs: rate, margin, load by length.",
    "causes": "Say what the measurements suggest as the cause.",
    "history": "Show the visits to one lift over time, and the next check.",
    "acceptance": "Check a set after re-roping, or print the blank form.",
    "report": "Write the record as a document, PDF or HTML.",
    "seal": "Write sizes and checksums of a record and all it names.",
    "verify": "Find what changed in a sealed record.",
    "trim": "Keep only the windows around the plucks.",
    "fleet": "List every lift of a folder tree, the worst first.",
}


class HelpfulGroup(click.Group):
    """A group that imports a command when it is called; the list needs none of them.

    The commands it is made with have a name and a few words, and `find` gives the one
    of a name. Words may be in any case, and the nearest is named for a misspelt one:
    `heading` stands over the list; `unknown` is said of a word that is none of them,
    with two places, for the word and for the suggestion.
    """

    def __init__(
        self,
        *args: Any,
        find: Callable[[str], click.Command],
        heading: str,
        unknown: str,
        **attributes: Any,
    ) -> None:
        super().__init__(*args, **attributes)
        self._find, self._heading, self._unknown = find, heading, unknown

    def list_commands(self, ctx: click.Context) -> list[str]:
        """List the commands in the order in which they were made."""
        del ctx
        return list(self.commands)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import a command, in any case."""
        del ctx
        name = cmd_name.lower()
        return self._find(name) if name in self.commands else None

    def format_commands(
        self, ctx: click.Context, formatter: click.HelpFormatter
    ) -> None:
        """Write the list of commands without getting them, each with its few words."""
        del ctx
        listed = [(name, one.short_help or "") for name, one in self.commands.items()]
        with formatter.section(self._heading):
            formatter.write_dl(listed)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Suggest the nearest command for a misspelt one."""
        if args and args[0].lower() not in self.commands:
            near = get_close_matches(args[0].lower(), self.commands, n=1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            ctx.fail(self._unknown.format(args[0], hint))
        return super().resolve_command(ctx, args)


class _Program(HelpfulGroup):
    """The program: an error becomes lines."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run the command line: nothing hidden is shown, wrong usage is one line."""
        is_alone = extra.pop("standalone_mode", True)
        extra["standalone_mode"] = False
        with output.visible_streams():
            try:
                found = super().main(*args, **extra)
                code = found if isinstance(found, int) else 0
            except click.ClickException as error:
                tell(_usage_line(error))
                code = error.exit_code
            except click.Abort:
                _tell_last(output.STOPPED)
                code = 130
        if is_alone:
            sys.exit(code)
        return code

    def invoke(self, ctx: click.Context) -> object:
        """Run a command; an error of the input becomes its lines on stderr."""
        wants_json = "--json" in ctx.args
        try:
            return super().invoke(ctx)
        except (TensionError, OSError) as error:
            if isinstance(error, output.OutputError):
                raise
            lines = lines_of(error)
            for line in lines:
                tell(line)
            if wants_json:
                from tension.documents.commands import errors_document

                echo_document(errors_document(ctx.invoked_subcommand or "", lines))
            ctx.exit(3)


def _usage_line(error: click.ClickException) -> str:
    """What is wrong with the usage, and where to look."""
    said = " ".join(error.format_message().split())
    context = error.ctx if isinstance(error, click.UsageError) else None
    if context is None or "--help" in said:
        return said
    ending = "" if said.endswith((".", "?", ":")) else "."
    return f"{said}{ending} See '{context.command_path} --help'."


@click.group(
    cls=_Program,
    commands=[click.Command(name, short_help=what) for name, what in _COMMANDS.items()],
    find=lambda name: importlib.import_module(f"tension.cli.{name}").command,
    heading="Commands",
    unknown="There is no command '{}'.{} See 'tension --help'.",
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@click.version_option(__version__, prog_name="tension")
@click.pass_context
def command(ctx: click.Context) -> None:
    """Share of the load each rope of a traction lift carries.

    Give it a short recording of each plucked rope, spring-scale side pulls or timed
    wave returns. It says EQUAL, UNEQUAL or CANNOT TELL against a named rule, plans the
    turns and writes the record.

    Only authorised lift personnel work on ropes; local code decides. Alone in a folder
    that holds a record, it tells where the visit stands and what comes next.

    \b
    Exit codes: 0 done (equal), 10 unequal, 11 cannot tell, 12 no feasible plan,
    13 verify found a change, 14 springs contradict, 3 input cannot be used or no
    result, 2 wrong usage.
    """
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        ctx.color = False
    if ctx.invoked_subcommand is None:
        from tension.cli.record_text import tell_standing

        if not tell_standing():
            click.echo(ctx.get_help())
            ctx.exit(2)


def run() -> NoReturn:
    """Run the command line with writable streams and leave with its code.

    Raises
    ------
    SystemExit
        Always.
    """
    with output.interruptible() as interrupts:
        try:
            output.ready_streams()
            _be_quiet()
            with output.visible_streams():
                code: int = command.main(prog_name="tension", standalone_mode=False)
                sys.stdout.flush()
        except output.ReaderLeftError:
            # whoever read left before the result, which may not have been equal
            output.give_up_output()
            code = 3
        except OSError as error:
            reason = (error.strerror or "the system refuses").lower()
            _tell_last(
                f"the result could not be written to the output ({reason}); "
                "make room or write elsewhere, and run it again"
            )
            output.give_up_output()
            code = 3
        except BaseException:
            # an import broken off by Ctrl-C may end in any error
            if not interrupts:
                raise
            _tell_last(output.STOPPED)
            code = 130
    if interrupts and code == 130:
        # Python itself would end otherwise where the signal met code made from text
        os._exit(code)
    raise SystemExit(code)


def _tell_last(line: str) -> None:
    """Say a last word, if anybody can still read it."""
    with contextlib.suppress(OSError):
        tell(line)


def _be_quiet() -> None:
    """Keep what libraries mutter, and how they draw on a screen, out of the way."""
    import logging
    import warnings

    warnings.simplefilter("ignore")
    logging.getLogger().addHandler(logging.NullHandler())
    os.environ["MPLBACKEND"] = "agg"
