"""What `devices` finds, as text and as a document."""

from collections.abc import Sequence

import click

from tension.capture.check import CHECKED, FAINT, MicrophoneCheck, check_source
from tension.capture.devices import Device, choose_device, find_devices
from tension.capture.levels import LOUD
from tension.capture.microphone import Microphone
from tension.cli.listening_words import hum_words, level_bar, lost_line, why_silent
from tension.cli.text import output_width, table, wrapped


def look(
    wanted: str | None, *, is_list: bool
) -> tuple[tuple[Device, ...], Device, MicrophoneCheck | None]:
    """List the devices and look at one.

    Parameters
    ----------
    wanted : str or None
        Number or part of the name; None for that of the system.
    is_list : bool
        Whether none is opened.

    Returns
    -------
    devices : tuple of Device
        Those there are.
    chosen : Device
        The one that would be listened to.
    check : MicrophoneCheck or None
        What came in; None if none was opened.
    """
    devices = find_devices()
    chosen = choose_device(devices, wanted)
    if is_list:
        return devices, chosen, None
    click.echo(f"Looking at {chosen.name} for {CHECKED:.0f} s: make a sound.", err=True)
    microphone = Microphone(chosen)
    try:
        return devices, chosen, check_source(microphone)
    finally:
        microphone.close()


def devices_text(
    devices: Sequence[Device], chosen: Device, check: MicrophoneCheck | None
) -> str:
    """Write the list and what was seen."""
    rows = [
        (
            "->" if one == chosen else "",
            str(one.number),
            one.name,
            one.interface,
            f"{one.sampling_rate:.0f} Hz",
        )
        for one in devices
    ]
    width = output_width()
    headers = ("", "No.", "Microphone", "Through", "Rate")
    lines = [table(headers, rows, width, left=(0, 2, 3))]
    if check is not None:
        lines += [
            "",
            *(wrapped(line, width, "", "  ") for line in _seen(chosen, check)),
        ]
    return "\n".join(lines) + "\n"


def _seen(chosen: Device, check: MicrophoneCheck) -> list[str]:
    """What was seen, a line each."""
    if check.is_silent:
        said = why_silent()
        return [said[0].upper() + said[1:]]
    lines = [f"Loudest: {level_bar(check.peak)}"]
    if check.peak >= LOUD:
        lines.append("Too loud: turn the input down, or go further from the sound.")
    elif check.peak < FAINT:
        lines.append("Hardly anything comes in: turn the input up, see cable and plug.")
    if hum_words(check.hum):
        lines.append(f"{hum_words(check.hum)}: see the cable; go nearer to the rope.")
    lines += [lost_line(one.seconds, one.kind) for one in check.losses]
    if chosen.may_change_sound:
        lines.append("Its name tells of voice processing, which eats rope sound.")
    return lines if len(lines) > 1 else [*lines, "Nothing was lost."]
