"""An open microphone: its own rate, one channel, blocks queued as they come."""

import queue
import sys
import time
from typing import Any

import numpy as np

from tension.capture.blocks import Block
from tension.capture.devices import Device
from tension.capture.library import load_library, quiet_library
from tension.errors import CaptureError

BUFFER = 0.25
"""Latency asked for: long, so that a busy computer loses nothing. [s]"""
STILL = 4.0
"""A device that gives nothing for so long is gone. [s]"""


class Microphone:
    """Blocks of an input device, as they come.

    Nothing but queueing is done where the library calls: a callback that takes its time
    loses input, and the library does not always say so.

    Parameters
    ----------
    device : Device
        The device.

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
        """Tell the time by the clock of the blocks.

        Returns
        -------
        float
            It only goes forward. [s]
        """
        return time.monotonic()

    def take(self, patience: float) -> Block | None:
        """Give the next block.

        Parameters
        ----------
        patience : float
            So long it is waited for. [s]

        Returns
        -------
        Block or None
            None if none came.

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
        with quiet_library():
            self._stream.close(ignore_errors=True)


def _open(device: Device, callback: Any) -> tuple[Any, int]:  # noqa: ANN401 - as the library calls
    """Open at the device's own rate, one channel; where that is refused, as it can."""
    library = load_library()
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
            with quiet_library():
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
