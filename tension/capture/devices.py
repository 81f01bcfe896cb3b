"""Input devices: which there are, and which one a person means."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from tension.capture.library import load_library, quiet_library
from tension.errors import CaptureError

ENHANCED = ("echo", "communications", "noise", "hands-free")
"""Words in names of inputs that change the sound. Common practice, no source."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Device:
    """An input device.

    Attributes
    ----------
    number : int
        As the sound library counts.
    name : str
        As the system names it.
    interface : str
        Through which part of the system it is reached.
    n_channels : int
        Most channels it gives. [1]
    sampling_rate : float
        Its own. [Hz]
    is_default : bool
        Whether the system takes it where none is named.
    """

    number: int
    name: str
    interface: str
    n_channels: int
    sampling_rate: float
    is_default: bool

    @property
    def may_change_sound(self) -> bool:
        """Whether its name tells of voice processing."""
        return any(word in self.name.casefold() for word in ENHANCED)


def find_devices() -> tuple[Device, ...]:
    """Find the input devices; empty if there are none.

    Raises
    ------
    CaptureError
        If the sound library is missing or does not answer.
    """
    library = load_library()
    try:
        with quiet_library():
            interfaces = library.query_hostapis()
            found = library.query_devices()
            default = library.default.device[0]
            if default < 0 and interfaces:
                default = interfaces[0]["default_input_device"]
    except library.PortAudioError as error:
        raise CaptureError(
            f"the sound system does not answer ({error}); see that sound works in "
            "other programs, then run it again"
        ) from error
    return tuple(
        _device(number, one, interfaces, default)
        for number, one in enumerate(found)
        if one["max_input_channels"] > 0
    )


def _device(
    number: int, one: dict[str, Any], interfaces: Sequence[dict[str, Any]], default: int
) -> Device:
    """One device as the library describes it."""
    return Device(
        number=number,
        name=str(one["name"]),
        interface=str(interfaces[one["hostapi"]]["name"]),
        n_channels=int(one["max_input_channels"]),
        sampling_rate=float(one["default_samplerate"]),
        is_default=number == default,
    )


def choose_device(devices: Sequence[Device], wanted: str | None) -> Device:
    """Choose the device that a person means.

    Parameters
    ----------
    devices : sequence of Device
        Those there are.
    wanted : str or None
        Its number, or a part of its name; None for that of the system.

    Raises
    ------
    CaptureError
        If there is none, none of that name, or several.
    """
    if not devices:
        raise CaptureError(
            "no microphone was found; plug one in, then run it again (devices are "
            "looked for at the start only)"
        )
    if wanted is None:
        return next((one for one in devices if one.is_default), devices[0])
    if wanted.isdecimal():
        found = [one for one in devices if one.number == int(wanted)]
    else:
        named = [one for one in devices if wanted.casefold() in one.name.casefold()]
        found = [one for one in named if one.name == wanted] or named
    if len(found) == 1:
        return found[0]
    names = "; ".join(f"{one.number} {one.name}" for one in found or devices)
    if found:
        raise CaptureError(f'"{wanted}" is in several names: {names}; give the number')
    raise CaptureError(f'there is no input device "{wanted}"; there are: {names}')
