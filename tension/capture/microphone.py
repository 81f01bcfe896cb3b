"""Input devices, and an open microphone whose blocks are queued as they come.

The only module that knows sounddevice, which is imported where a device is wanted.
"""

import contextlib
import os
import queue
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tension.capture.blocks import Block
from tension.errors import CaptureError

BUFFER = 0.25  # latency asked for: long, so that a busy computer loses nothing [s]
STILL = 4.0  # a device that gives nothing for so long is gone [s]
# words in names of inputs that change the sound; common practice, no source
ENHANCED = ("echo", "communications", "noise", "hands-free")
_GET_LIBRARY = {
    "linux": "sudo apt install libportaudio2 (Debian, Ubuntu), "
    "dnf install portaudio (Fedora)",
    "darwin": "pip install --force-reinstall sounddevice",
    "win32": "pip install --force-reinstall sounddevice",
}
_SEE_SOUND = "see that sound works in other programs"


@dataclass(frozen=True, kw_only=True, slots=True)
class Device:
    """An input device."""

    number: int
    name: str
    interface: str  # the part of the system it is reached by
    n_channels: int  # the most it gives [1]
    sampling_rate: float  # its own [Hz]
    is_default: bool  # the system takes it where none is named

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
    library = _load_library()
    try:
        with _quiet_library():
            interfaces = library.query_hostapis()
            found = library.query_devices()
            default = library.default.device[0]
            if default < 0 and interfaces:
                default = interfaces[0]["default_input_device"]
    except library.PortAudioError as error:
        why = f"the sound system does not answer ({error}); {_SEE_SOUND}"
        raise CaptureError(f"{why}, then run it again") from error
    return tuple(
        Device(
            number=number,
            name=str(one["name"]),
            interface=str(interfaces[one["hostapi"]]["name"]),
            n_channels=int(one["max_input_channels"]),
            sampling_rate=float(one["default_samplerate"]),
            is_default=number == default,
        )
        for number, one in enumerate(found)
        if one["max_input_channels"] > 0
    )


def choose_device(devices: Sequence[Device], wanted: str | None) -> Device:
    """Choose the device that a person means by its number or a part of its name.

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


class Microphone:
    """Blocks of an input device, as they come.

    Nothing but queueing is done where the library calls: a callback that takes its time
    loses input, and the library does not always say so.

    Raises
    ------
    CaptureError
        If it cannot be opened.
    """

    def __init__(self, device: Device) -> None:
        self.name = device.name
        self._blocks: queue.SimpleQueue[Block] = queue.SimpleQueue()
        self._stream, self.sampling_rate = _open(device, self._queue)
        self._last = time.monotonic()

    def _queue(self, samples: Any, n_frames: int, times: Any, status: Any) -> None:  # noqa: ANN401 - as the library calls
        """Queue one block, its first channel."""
        del n_frames, times
        self._blocks.put(
            Block(
                samples=samples[:, 0].copy(),
                moment=time.monotonic(),
                has_overflowed=bool(status and status.input_overflow),
            )
        )

    def now(self) -> float:
        """Tell the time by the clock of the blocks, which only goes forward [s]."""
        return time.monotonic()

    def take(self, patience: float) -> Block | None:
        """Give the next block, if one comes within the patience [s].

        Raises
        ------
        CaptureError
            If the device is gone.
        """
        try:
            block = self._blocks.get(timeout=patience)
        except queue.Empty:
            is_still = time.monotonic() - self._last > STILL
            if is_still or not self._stream.active:
                raise CaptureError(
                    f'the microphone "{self.name}" gives nothing any more; see its '
                    "plug and cable"
                ) from None
            return None
        self._last = time.monotonic()
        return block

    def close(self) -> None:
        """Let go of the device."""
        with _quiet_library():
            self._stream.close(ignore_errors=True)


def _open(device: Device, callback: Any) -> tuple[Any, int]:  # noqa: ANN401 - as the library calls
    """Open at the device's own rate, one channel; where that is refused, as it can."""
    library = _load_library()
    own = round(device.sampling_rate)
    tries: list[dict[str, Any]] = [
        {"samplerate": rate, "channels": channels}
        for rate in dict.fromkeys((own, 48_000, 44_100))
        for channels in dict.fromkeys((1, min(2, device.n_channels)))
    ]
    if sys.platform == "win32" and "WASAPI" in device.interface:
        let_convert = library.WasapiSettings(auto_convert=True)
        tries += [one | {"extra_settings": let_convert} for one in tries]
    refused: Exception | None = None
    for one in tries:
        try:
            with _quiet_library():
                stream = library.InputStream(
                    device=device.number,
                    dtype=np.int32,
                    latency=BUFFER,
                    callback=callback,
                    **one,
                )
                stream.start()
        except (library.PortAudioError, ValueError) as error:
            refused = refused or error
        else:
            return stream, one["samplerate"]
    raise CaptureError(
        f'the microphone "{device.name}" cannot be opened at {own} Hz ({refused}); '
        "close other programs that use it, or choose another: tension devices"
    ) from refused


def _load_library() -> Any:  # noqa: ANN401 - sounddevice carries no types
    """Load sounddevice.

    Raises
    ------
    CaptureError
        If it or what it stands on is missing.
    """
    try:
        with _quiet_library():
            import sounddevice
    except Exception as error:
        if isinstance(error, ImportError):
            why = "the package sounddevice is missing; pip install sounddevice"
        elif isinstance(error, OSError):
            how = _GET_LIBRARY.get(sys.platform, "install PortAudio")
            why = f"the sound library PortAudio is missing; {how}"
        elif type(error).__name__ == "PortAudioError":  # cannot be imported by now
            why = f"the sound system does not start ({error}); {_SEE_SOUND}"
        else:
            raise
        raise CaptureError(f"{why}, then run it again") from error
    return sounddevice


@contextlib.contextmanager
def _quiet_library() -> Iterator[None]:
    """Keep what the library writes past Python to the terminal out of sight."""
    sys.stderr.flush()
    try:
        before = os.dup(2)
    except OSError:  # closed: nothing to hide
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(before, 2)
        os.close(before)
        os.close(nowhere)
