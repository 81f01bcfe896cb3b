"""The microphone: devices, blocks as they come, what was lost of them, level and hum.

The only module that knows sounddevice, which is imported where a device is wanted.
Losses are found by frames counted against the clock and by stretches of zeros: the
sound library does not tell of every loss, so nothing here rests on its word alone.
"""

import contextlib
import math
import os
import queue
import sys
import time
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tension.errors import CaptureError
from tension.telling.lines import told, words_of

BUFFER = 0.25  # latency asked for: long, so that a busy computer loses nothing [s]
STILL = 4.0  # a device that gives nothing for so long is gone [s]
# words in names of inputs that change the sound; common practice, no source
ENHANCED = ("echo", "communications", "noise", "hands-free")
FULL_SCALE = 2.0**31  # of the samples of a block [1]
SHORTEST_ZEROS = 0.02  # exact silence for so long within sound is no sound [s]
LEAST_LATE = 0.06  # frames that stay behind the clock by more are lost, not late [s]
SETTLES = 2.0  # what is only late comes within this time [s]
# clock of a device against that of the computer, at most; a usual crystal is ten times
# better, from memory [1]
DRIFT = 3e-4
CHECKED = 5.0  # how long is looked [s]
FAINT = -80.0  # under this peak hardly anything comes in: 13 steps of 16 bit [dB]
LOUD = -1.0  # from this level on the input is overdriven or nearly so [dB]
STRONG_HUM = 10.0  # over all else in the band it drowns a rope at a distance [dB]
_MAINS, _BAND, _LINE = (50.0, 60.0), (20.0, 600.0), 1.6  # [Hz]
_AROUND = 0.1  # on both sides of a loss, in which a pluck does not count [s]
_LATE = SETTLES + 0.5  # so long before the clock tells of a loss it may lie [s]


@dataclass(frozen=True, kw_only=True, slots=True)
class Block:
    """Samples of one channel as the device gave them, of 32 bit."""

    samples: NDArray[np.int32]  # what the device gave in fewer stands in the upper bits
    moment: float  # when it came, by a clock that only goes forward [s]
    has_overflowed: bool = False  # the sound library says that input was lost before it

    @property
    def values(self) -> NDArray[np.float32]:
        """The samples, full scale ±1, as sound is computed with [1]."""
        return self.samples.astype(np.float32) / np.float32(FULL_SCALE)


class LossKind(Enum):
    """How a loss shows."""

    CLOCK = "fewer frames than the clock allows"
    ZEROS = "exact silence within the sound"
    OVERFLOW = "told by the sound library"


@dataclass(frozen=True, kw_only=True, slots=True)
class Loss:
    """Input that was lost."""

    kind: LossKind
    seconds: float  # how much; 0 if it is not known [s]
    # between which it lies, from the start of the stream [s]
    start: float
    end: float


@dataclass(kw_only=True, slots=True)
class LossWatch:
    """Watches the blocks of one stream."""

    sampling_rate: int
    n_frames: int = 0  # seen
    n_zeros: int = 0  # in a row at its end
    found: list[Loss] = field(default_factory=list)
    _usual: float = math.inf  # how late blocks come, by the clock of the device
    _late: deque[tuple[float, float]] = field(default_factory=deque)

    def see(self, block: Block) -> list[Loss]:
        """Watch one block; what was lost, as far as it shows now."""
        if not block.samples.size:
            return []
        losses = self._zeros(block)
        before = self.n_frames
        self.n_frames += block.samples.size
        late = self._lateness(block)
        if late:
            # the clock tells only once nothing more came late
            losses.append(self._loss(LossKind.CLOCK, self.n_frames, late, _LATE))
        elif block.has_overflowed:
            losses.append(self._loss(LossKind.OVERFLOW, before, 0.0))
        self.found += losses
        return losses

    def is_lost(self, start: float, end: float) -> bool:
        """Tell whether input was lost in a stretch of the stream, as far as known [s].

        A little around a loss counts as lost.
        """
        return any(loss.start < end and loss.end > start for loss in self.found)

    def _loss(
        self, kind: LossKind, frame: int, seconds: float, early: float = _AROUND
    ) -> Loss:
        """What was lost, about a frame or up to so long before it [s]."""
        place = frame / self.sampling_rate
        end = place + (seconds if kind is LossKind.ZEROS else 0.0) + _AROUND
        return Loss(kind=kind, seconds=seconds, start=place - early, end=end)

    def _zeros(self, block: Block) -> list[Loss]:
        """Stretches of zeros that end in this block."""
        sounding = np.flatnonzero(block.samples)
        if not sounding.size:
            self.n_zeros += block.samples.size
            return []
        edges = np.concatenate(([-1 - self.n_zeros], sounding))
        gaps = np.diff(edges) - 1
        # what stood before the first sound of the stream is no loss
        gaps[0] *= self.n_zeros < self.n_frames
        self.n_zeros = block.samples.size - 1 - int(sounding[-1])
        rate = self.sampling_rate
        return [
            self._loss(
                LossKind.ZEROS,
                self.n_frames + int(edges[place]) + 1,
                float(gaps[place]) / rate,
            )
            for place in np.flatnonzero(gaps >= SHORTEST_ZEROS * rate)
        ]

    def _lateness(self, block: Block) -> float:
        """Frames that are behind the clock for good [s]; nought if none."""
        here = block.moment - self.n_frames / self.sampling_rate
        self._late.append((block.moment, here))
        if block.moment - self._late[0][0] < SETTLES:
            self._usual = min(self._usual, here)
            return 0.0
        while block.moment - self._late[0][0] > SETTLES:
            self._late.popleft()
        least = min(one for _, one in self._late)
        step = least - self._usual
        if step < LEAST_LATE:
            drift = DRIFT * block.samples.size / self.sampling_rate
            self._usual += min(step, drift)
            return 0.0
        self._usual = least
        return step


@dataclass(frozen=True, kw_only=True, slots=True)
class Hum:
    """Hum of the mains, 50 or 60 Hz; its level over all else from 20 to 600 Hz [dB]."""

    mains: float
    over_rest: float

    @property
    def is_strong(self) -> bool:
        """Whether it is worth going nearer or switching something off."""
        return self.over_rest >= STRONG_HUM


def peak_level(values: NDArray[np.float32]) -> float:
    """Tell the peak of samples of full scale ±1 [dB]; -inf for exact silence."""
    peak = float(np.abs(values).max()) if values.size else 0.0
    return 20.0 * float(np.log10(peak)) if peak else float("-inf")


def find_hum(values: NDArray[np.float32], sampling_rate: float) -> Hum | None:
    """Find hum of 50 or 60 Hz, the stronger, in a second or more of waiting.

    Samples are of full scale ±1, at a sampling rate [Hz].
    """
    if values.size < sampling_rate:
        return None
    window = np.hanning(values.size)
    power = np.abs(np.fft.rfft(values * window)) ** 2
    frequencies = np.fft.rfftfreq(values.size, 1.0 / sampling_rate)
    inside = (frequencies >= _BAND[0]) & (frequencies <= _BAND[1])
    total = float(power[inside].sum())
    if total <= 0.0:
        return None
    found = []
    for mains in _MAINS:
        off = np.abs(frequencies - mains * np.maximum(np.round(frequencies / mains), 1))
        near = inside & (off <= _LINE)
        lines = float(power[near].sum())
        rest = max(total - lines, 1e-12 * total)
        found.append(Hum(mains=mains, over_rest=10.0 * float(np.log10(lines / rest))))
    return max(found, key=lambda one: one.over_rest)


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
        raise CaptureError(told("capture.no-answer", error=error)) from error
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
        raise CaptureError(told("capture.none"))
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
    which = "several" if found else "unknown"
    raise CaptureError(told(f"capture.{which}", wanted=wanted, names=names))


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
                raise CaptureError(told("capture.gone", name=self.name)) from None
            return None
        self._last = time.monotonic()
        return block

    def close(self) -> None:
        """Let go of the device."""
        with _quiet_library():
            self._stream.close(ignore_errors=True)


@dataclass(frozen=True, kw_only=True, slots=True)
class MicrophoneCheck:
    """What came in of an open source."""

    sampling_rate: int  # of the source [Hz]
    seconds: float  # how much [s]
    peak: float  # below full scale; of exact silence -inf [dB]
    hum: Hum | None
    losses: tuple[Loss, ...]

    @property
    def is_silent(self) -> bool:
        """Whether every sample was exactly zero."""
        return self.peak == float("-inf")


def check_source(source: Microphone) -> MicrophoneCheck:
    """Look at some seconds of what an open source gives."""
    rate = source.sampling_rate
    watch = LossWatch(sampling_rate=rate)
    pieces = []
    while watch.n_frames < CHECKED * rate:
        block = source.take(0.2)
        if block is not None:
            watch.see(block)
            pieces.append(block.values)
    values = np.concatenate(pieces)
    return MicrophoneCheck(
        sampling_rate=rate,
        seconds=values.size / rate,
        peak=peak_level(values),
        hum=find_hum(values, float(rate)),
        losses=tuple(watch.found),
    )


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
    places = {"name": device.name, "rate": own, "refused": refused}
    raise CaptureError(told("capture.not-opened", **places)) from refused


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
    except ImportError as error:
        raise CaptureError(told("capture.no-package")) from error
    except OSError as error:
        how = words_of("capture.library")
        why = told("capture.no-library", how=how.get(sys.platform, how["other"]))
        raise CaptureError(why) from error
    except Exception as error:
        raise CaptureError(told("capture.no-start", error=error)) from error
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
