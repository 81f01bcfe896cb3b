"""``tension devices``: which microphones there are, and whether one hears."""

import contextlib
from typing import Any

import click

from tension.cli import options
from tension.cli.output import ExitCode, echo_document, tell_work


@options.command("devices")
def command(
    *,
    device: str | None = options.opt(
        "Look at this one: name or number.", metavar="NAME"
    ),
    is_list: bool = options.opt("List only, open none.", "--list"),
    as_json: options.Json,
) -> ExitCode:
    """List the microphones and look for five seconds at what one gives.

    The look tells level, hum of the mains, input that was lost, and an input that is
    exactly zero with what that usually is. Nothing is recorded.
    """
    from tension import capture
    from tension.cli import listening
    from tension.cli.screen import screen
    from tension.documents.commands import document

    devices = capture.find_devices()
    chosen = capture.choose_device(devices, device)
    check = None
    if not is_list:
        length = f"{capture.CHECKED:.0f} s"
        tell_work(f"Looking at {chosen.name} for {length}: make a sound.")
        with contextlib.closing(capture.Microphone(chosen)) as source:
            check = capture.check_source(source)
    if as_json:
        echo_document(document("devices", (devices, chosen, check)))
    else:
        seen: dict[str, Any] = {"devices": devices, "chosen": chosen, "check": check}
        click.echo(screen("devices", capture=capture, listening=listening, **seen))
    is_deaf = check is not None and check.is_silent
    return ExitCode.UNUSABLE_INPUT if is_deaf else ExitCode.DONE
