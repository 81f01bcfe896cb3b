"""``tension listen``: rope by rope through a microphone, into the record."""

import contextlib
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tension.cli.declaring import PATH, WholeNumber, opt, rope_order, taking
from tension.cli.options import FormOptions

if TYPE_CHECKING:
    from tension.workflow.live.takes import LiveChoice


@dataclass(frozen=True, kw_only=True, slots=True)
class LiveOptions:
    """Which ropes in what order, through which microphone."""

    series: str | None = opt(
        "--series",
        metavar="NAME",
        help="Where the readings go; the last series if left out, a new one is begun.",
    )
    device: str | None = opt(
        "--device", metavar="NAME", help="Name or number, see tension devices."
    )
    order: str | None = opt(
        "--order",
        metavar="NUMBERS",
        help="Ropes in the order taken; row by row of the hitch if left out.",
    )
    plucks: int = opt(
        "--plucks",
        type=WholeNumber(1, 20),
        default=3,
        show_default=True,
        help="Good plucks of a rope before the next.",
    )
    once: bool = opt(
        "--once", is_flag=True, help="Take each rope once, not there and back."
    )

    def choice(self) -> "LiveChoice":
        """Turn the options into a choice."""
        from tension.workflow.live.takes import LiveChoice

        return LiveChoice(
            series=self.series,
            order=rope_order(self.order),
            plucks=self.plucks,
            is_back=not self.once,
        )


@click.command("listen")
@click.argument("path", type=PATH, metavar="PATH")
@taking(live=LiveOptions, form=FormOptions)
def command(path: Path, live: LiveOptions, form: FormOptions) -> None:
    """Hear the ropes live: it says which to pluck and whether it was heard.

    PATH is a record or the folder that holds one; make it with 'tension start'. Each
    rope is recorded to a WAV file beside the record while it rings, the record is told
    as it goes, and the result is that of 'tension assess'. Broken off, the same command
    goes on where it stopped. Nothing leaves this computer.

    \b
    tension listen visit-2026-11-20
    tension listen visit-2026-11-20 --series "as left" --device "USB"
    \f

    Raises
    ------
    CaptureError
        If there is no microphone, or it or the disk gave up on the way.
    """
    from tension.capture.microphone import Microphone, choose_device, find_devices
    from tension.cli.exits import EXIT_OF_VERDICT, ExitCode, leave, tell
    from tension.cli.hearing_text import go_on_with
    from tension.cli.listening import Screen
    from tension.cli.result_text import show_assessed
    from tension.cli.terminal import Keys
    from tension.errors import CaptureError, TensionError
    from tension.workflow.live.listen import prepare
    from tension.workflow.live.takes import require_ready

    choice = live.choice()
    require_ready(path, choice)
    microphone = Microphone(choose_device(find_devices(), live.device))
    go_on = go_on_with(str(path), live.series)
    with Keys() as keys, contextlib.ExitStack() as ending:
        screen = Screen(keys, form)
        worker = ThreadPoolExecutor(max_workers=1)
        ending.callback(worker.shutdown, wait=True, cancel_futures=True)
        ending.callback(microphone.close)
        ending.callback(screen.close)
        try:
            visit = prepare(
                path, choice, source=microphone, surface=screen, worker=worker
            )
            assessed = visit.run()
        except TensionError as error:
            raise CaptureError(f"{error}; {go_on}") from error
        except KeyboardInterrupt:
            screen.close()
            tell(f"stopped; {go_on}")
            leave(ExitCode.INTERRUPTED)
    if screen.told is assessed.assessment:
        leave(EXIT_OF_VERDICT[assessed.assessment.verdict])
    show_assessed("listen", assessed, form)
