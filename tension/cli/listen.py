"""``tension listen``: rope by rope through a microphone, into the record."""

import contextlib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import click

from tension.cli import options
from tension.cli.output import ExitCode, tell
from tension.errors import CaptureError, TensionError


@dataclass(frozen=True, kw_only=True, slots=True)
class LiveOptions:
    """Which ropes in what order, through which microphone."""

    series: str | None = options.opt(
        "Where the readings go; the last series if left out, a new one is begun.",
        metavar="NAME",
    )
    device: str | None = options.opt(
        "Name or number, see tension devices.", metavar="NAME"
    )
    order: options.Order = options.opt(
        "Ropes in the order taken; row by row of the hitch if left out."
    )
    plucks: int = options.opt(
        "Good plucks of a rope before the next.",
        type=options.WholeNumber(1, 20),
        default=3,
    )
    once: bool = options.opt("Take each rope once, not there and back.")


@options.command("listen")
def command(
    live: LiveOptions,
    form: options.Form,
    path: Path = options.arg("PATH"),
) -> ExitCode:
    """Hear the ropes live: it says which to pluck and whether it was heard.

    PATH is a record or the folder that holds one; make it with 'tension start'. Each
    rope is recorded to a WAV file beside the record while it rings, the record is told
    as it goes, and the result is that of 'tension assess'. Broken off, the same command
    goes on where it stopped. Nothing leaves this computer.

    \b
    tension listen visit-2026-11-20
    tension listen visit-2026-11-20 --series "as left" --device "USB"
    """
    from tension.capture import Microphone, choose_device, find_devices
    from tension.cli.listening import Screen
    from tension.cli.result_text import EXIT_OF_VERDICT, show_assessed
    from tension.workflow.live.listen import prepare
    from tension.workflow.live.takes import open_book

    worker = ThreadPoolExecutor(max_workers=1)
    book = open_book(path, worker, live.series, live.order)
    microphone = Microphone(choose_device(find_devices(), live.device))
    named = f' --series "{live.series}"' if live.series else ""
    with Screen(form) as screen, contextlib.ExitStack() as ending:
        ending.enter_context(_go_on_by(f"tension listen {path}{named}"))
        ending.callback(worker.shutdown, wait=True, cancel_futures=True)
        ending.callback(microphone.close)
        ending.callback(screen.close)
        assessed = prepare(
            book,
            plucks=live.plucks,
            is_back=not live.once,
            source=microphone,
            surface=screen,
        ).run()
    if screen.told is assessed.assessment:
        return EXIT_OF_VERDICT[assessed.assessment.verdict]
    return show_assessed("listen", assessed, form)


@contextlib.contextmanager
def _go_on_by(command_line: str) -> Iterator[None]:
    """Say how to go on where listening is broken off."""
    go_on = f"what was heard is kept; go on with: {command_line}"
    try:
        yield
    except TensionError as error:
        raise CaptureError(f"{error}; {go_on}") from error
    except KeyboardInterrupt:
        tell(f"stopped; {go_on}")
        raise click.exceptions.Exit(ExitCode.INTERRUPTED) from None
