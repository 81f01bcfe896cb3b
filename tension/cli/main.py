"""The command line as a whole: commands loaded when used, errors to lines."""

import contextlib
import os
import sys
from collections.abc import Sequence
from typing import Any, NoReturn

import click

from tension.cli.declaring import LazyGroup
from tension.cli.terminal import (
    STOPPED,
    Interruptible,
    OutputError,
    ReaderLeftError,
    give_up_output,
    let_stand_ins,
    open_missing_streams,
    visible_streams,
)
from tension.cli.text import printable
from tension.errors import TensionError, lines_of
from tension.version import __version__

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


class _Program(LazyGroup):
    """The program: an error of the input becomes its lines, whatever the command."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run the command line: nothing hidden is shown, wrong usage is one line."""
        is_alone = extra.pop("standalone_mode", True)
        extra["standalone_mode"] = False
        with visible_streams():
            try:
                code = super().main(*args, **extra)
            except click.ClickException as error:
                click.echo(f"tension: {printable(_usage_line(error))}", err=True)
                code = error.exit_code
            except click.Abort:
                if not is_alone:
                    raise
                code = 1
        if is_alone:
            sys.exit(code if isinstance(code, int) else 0)
        return code

    def invoke(self, ctx: click.Context) -> object:
        """Run a command; an error of the input becomes its lines on stderr."""
        wants_json = "--json" in ctx.args
        try:
            return super().invoke(ctx)
        except (TensionError, OSError) as error:
            if isinstance(error, OutputError):
                raise
            lines = lines_of(error)
            for line in lines:
                click.echo(f"tension: {printable(line)}", err=True)
            if wants_json:
                _print_errors(ctx.invoked_subcommand or "", lines)
            ctx.exit(3)


def _usage_line(error: click.ClickException) -> str:
    """What is wrong with the usage, and where to look."""
    said = " ".join(error.format_message().split())
    context = error.ctx if isinstance(error, click.UsageError) else None
    if context is None or "--help" in said:
        return said
    ending = "" if said.endswith((".", "?", ":")) else "."
    return f"{said}{ending} See '{context.command_path} --help'."


def _print_errors(name: str, lines: Sequence[str]) -> None:
    """Print the document of a command that could not use its input."""
    from tension.documents.shape import errors_document, to_json

    click.echo(to_json(errors_document(name, lines)), nl=False)


@click.group(
    cls=_Program,
    loaded={
        name: (what, f"tension.cli.{name}:command") for name, what in _COMMANDS.items()
    },
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
    with Interruptible() as interruptible:
        try:
            open_missing_streams()
            let_stand_ins()
            _be_quiet()
            with visible_streams():
                code = _run_to_code()
                sys.stdout.flush()
        except ReaderLeftError:
            # whoever read left before the result, which may not have been equal
            give_up_output()
            code = 3
        except OSError as error:
            reason = (error.strerror or "the system refuses").lower()
            _tell(
                f"tension: the result could not be written to the output ({reason}); "
                "make room or write elsewhere, and run it again"
            )
            give_up_output()
            code = 3
        except BaseException:
            # an import broken off by Ctrl-C may end in any error
            if not interruptible.was_interrupted:
                raise
            _tell(STOPPED)
            code = 130
    if interruptible.was_interrupted and code == 130:
        # Python itself would end otherwise where the signal met code made from text
        os._exit(code)
    raise SystemExit(code)


def _run_to_code() -> int:
    """Run the command and give its exit code."""
    try:
        result = command.main(prog_name="tension", standalone_mode=False)
    except (click.Abort, KeyboardInterrupt):
        _tell(STOPPED)
        return 130
    return result if isinstance(result, int) else 0


def _tell(line: str) -> None:
    """Say a last word, if anybody can still read it."""
    with contextlib.suppress(OSError):
        click.echo(line, err=True)


def _be_quiet() -> None:
    """Keep what libraries mutter, and how they draw on a screen, out of the way."""
    import logging
    import warnings

    warnings.simplefilter("ignore")
    logging.getLogger().addHandler(logging.NullHandler())
    os.environ["MPLBACKEND"] = "agg"
