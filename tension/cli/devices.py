"""``tension devices``: which microphones there are, and whether one hears."""

import contextlib

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
    from tension.capture import microphone
    from tension.capture.blocks import CHECKED, check_source
    from tension.cli.listening import devices_text
    from tension.documents.commands import document

    devices = microphone.find_devices()
    chosen = microphone.choose_device(devices, device)
    check = None
    if not is_list:
        tell_work(f"Looking at {chosen.name} for {CHECKED:.0f} s: make a sound.")
        with contextlib.closing(microphone.Microphone(chosen)) as source:
            check = check_source(source)
    if as_json:
        echo_document(document("devices", (devices, chosen, check)))
    else:
        click.echo(devices_text(devices, chosen, check))
    is_deaf = check is not None and check.is_silent
    return ExitCode.UNUSABLE_INPUT if is_deaf else ExitCode.DONE
