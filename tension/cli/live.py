"""From the options of `listen` to a visit by ear, and its end told."""

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import click

from tension.capture.microphone import Microphone, choose_device, find_devices
from tension.cli.assessing import rope_order, show_assessed
from tension.cli.exits import EXIT_OF_VERDICT, ExitCode
from tension.cli.keys import Keys
from tension.cli.listening import Screen
from tension.cli.listening_words import go_on_with
from tension.cli.text import printable
from tension.errors import CaptureError, TensionError
from tension.workflow.assess import Assessed
from tension.workflow.live.begin import LiveChoice, prepare, require_ready


def run_listen(
    ctx: click.Context, path: Path, options: Mapping[str, Any]
) -> tuple[Assessed, Screen]:
    """Listen to every rope of a record.

    Raises
    ------
    CaptureError
        If there is no microphone, or it or the disk gave up on the way.
    """
    choice = LiveChoice(
        series=options["series"],
        order=rope_order(options["order"]),
        plucks=options["plucks"],
        is_back=not options["once"],
    )
    require_ready(path, choice)
    microphone = Microphone(choose_device(find_devices(), options["device"]))
    go_on = printable(go_on_with(str(path), options["series"]))
    worker = ThreadPoolExecutor(max_workers=1)
    with Keys() as keys:
        screen = Screen(keys, options)
        try:
            visit = prepare(
                path, choice, source=microphone, surface=screen, worker=worker
            )
            return visit.run(), screen
        except TensionError as error:
            raise CaptureError(f"{error}; {go_on}") from error
        except KeyboardInterrupt:
            screen.close()
            click.echo(f"tension: stopped; {go_on}", err=True)
            ctx.exit(ExitCode.INTERRUPTED)
        finally:
            screen.close()
            microphone.close()
            worker.shutdown(wait=True, cancel_futures=True)


def show_heard(
    ctx: click.Context, assessed: Assessed, screen: Screen, options: Mapping[str, Any]
) -> None:
    """Print the result, unless it stands there already, and leave with its code."""
    if screen.told is assessed.assessment:
        ctx.exit(EXIT_OF_VERDICT[assessed.assessment.verdict])
    show_assessed(ctx, "listen", assessed, {**options, "as_csv": False})
