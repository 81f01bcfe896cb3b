"""Blocks of samples as they come: what was lost, how loud, where something begins.

Losses are found by frames counted against the clock and by stretches of zeros: the
sound library does not tell of every loss, so nothing here rests on its word alone.
"""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import Enum
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

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

# where something begins
FRAME, HOP = 0.128, 0.064  # length and distance of frames [s]
N_BEFORE, LEAST_BEFORE = 12, 7  # frames before that tell; fewer tell nothing [1]
N_BANDS, ROPE_BAND = (
    8,
    (20.0, 1500.0),
)  # bands of equal ratio where ropes are heard [Hz]
NOISE_RISE = 1.5  # the logarithm of power in a band of noise hardly rises by more [1]
LEAST_RISE = 0.16  # mean rise over the bands from which something begins [1]
DEAD_TIME = 0.45  # two beginnings closer than this are one [s]


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


class Source(Protocol):
    """Where blocks come from: a microphone, or a made one in simulated time."""

    @property
    def name(self) -> str:
        """Name of the device."""

    @property
    def sampling_rate(self) -> int:
        """Of the blocks [Hz]."""

    def take(self, patience: float) -> Block | None:
        """Give the next block; None if none came within the patience [s]."""

    def now(self) -> float:
        """Tell the time by the clock of the blocks [s]."""

    def close(self) -> None:
        """Let go of the device."""


class LossKind(Enum):
    """How a loss shows."""

    CLOCK = "fewer frames than the clock allows"
    ZEROS = "exact silence within the sound"
    OVERFLOW = "told by the sound library"


@dataclass(frozen=True, kw_only=True, slots=True)
class Loss:
    """Input that was lost."""

    kind: LossKind
    frame: int  # where about in the stream, counted from 0
    seconds: float  # how much; 0 if it is not known [s]


@dataclass(kw_only=True, slots=True)
class LossWatch:
    """Watches the blocks of one stream."""

    sampling_rate: int
    n_frames: int = 0  # seen
    n_zeros: int = 0  # in a row at its end
    has_sound: bool = False  # any sample differed from zero
    _start: float | None = None
    _usual: float = 0.0
    _late: deque[tuple[float, float]] = field(default_factory=deque)

    @property
    def seconds_of_zeros(self) -> float:
        """How long the input has been exactly zero, up to the last frame seen [s]."""
        return self.n_zeros / self.sampling_rate

    def see(self, block: Block) -> tuple[Loss, ...]:
        """Watch one block."""
        if not block.samples.size:
            return ()
        losses = self._zeros(block)
        self.n_frames += block.samples.size
        late = self._lateness(block)
        if late:
            losses.append(Loss(kind=LossKind.CLOCK, frame=self.n_frames, seconds=late))
        elif block.has_overflowed:
            place = self.n_frames - block.samples.size
            losses.append(Loss(kind=LossKind.OVERFLOW, frame=place, seconds=0.0))
        return tuple(losses)

    def _zeros(self, block: Block) -> list[Loss]:
        """Stretches of zeros that end in this block."""
        sounding = np.flatnonzero(block.samples)
        if not sounding.size:
            self.n_zeros += block.samples.size
            return []
        edges = np.concatenate(([-1 - self.n_zeros], sounding))
        gaps = np.diff(edges) - 1
        # what stood before the first sound of the stream is no loss
        found = [
            Loss(
                kind=LossKind.ZEROS,
                frame=self.n_frames + int(edges[place]) + 1,
                seconds=float(gaps[place]) / self.sampling_rate,
            )
            for place in np.flatnonzero(gaps >= SHORTEST_ZEROS * self.sampling_rate)
            if self.has_sound or place > 0
        ]
        self.has_sound = True
        self.n_zeros = block.samples.size - 1 - int(sounding[-1])
        return found

    def _lateness(self, block: Block) -> float:
        """Frames that are behind the clock for good [s]; nought if none."""
        if self._start is None:
            # time starts when the first block is there: some devices begin late
            self._start = block.moment - self.n_frames / self.sampling_rate
        here = block.moment - self._start - self.n_frames / self.sampling_rate
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
class MicrophoneCheck:
    """What came in of an open source."""

    sampling_rate: int  # of the source [Hz]
    seconds: float  # how much [s]
    peak: float  # below full scale; of exact silence -inf [dB]
    hum: Hum | None
    losses: tuple[Loss, ...]

    @property
    def is_silent(self) -> bool:
        """Whether every sample was exactly zero, or none came."""
        return self.peak == float("-inf")


def check_source(
    source: Source,
    seconds: float = CHECKED,
    watch: Callable[[float], None] | None = None,
) -> MicrophoneCheck:
    """Look at what an open source gives for so long [s]; each peak is watched [dB]."""
    rate = source.sampling_rate
    losses = LossWatch(sampling_rate=rate)
    found: list[Loss] = []
    pieces = [np.empty(0, dtype=np.float32)]
    end = source.now() + seconds
    while source.now() < end:
        block = source.take(0.2)
        if block is None:
            continue
        found += losses.see(block)
        pieces.append(block.values)
        if watch is not None:
            watch(peak_level(block.values))
    values = np.concatenate(pieces)
    return MicrophoneCheck(
        sampling_rate=rate,
        seconds=values.size / rate,
        peak=peak_level(values),
        hum=find_hum(values, float(rate)),
        losses=tuple(found),
    )


class OnsetWatch:
    """Tells when something begins in a stream of samples at some thousand hertz.

    Cheaply: enough to know when to listen, not what it was.
    """

    def __init__(self, sampling_rate: float) -> None:
        self._rate = sampling_rate
        self._n_frame = round(FRAME * sampling_rate)
        self._n_hop = round(HOP * sampling_rate)
        self._window = np.hanning(self._n_frame).astype(np.float32)
        frequencies = np.fft.rfftfreq(self._n_frame, 1.0 / sampling_rate)
        top = min(ROPE_BAND[1], 0.45 * sampling_rate)
        edges = np.geomspace(ROPE_BAND[0], top, N_BANDS + 1)
        first = np.unique(np.searchsorted(frequencies, edges))
        self._first, self._end = first[:-1], int(first[-1])
        self.forget()

    def forget(self) -> None:
        """Begin anew: what comes next does not follow what was seen."""
        self._held = np.empty(0, dtype=np.float32)
        self._n_seen = 0
        self._last = -np.inf
        self._before: deque[NDArray[np.float64]] = deque(maxlen=N_BEFORE)

    def push(self, values: NDArray[np.float32]) -> list[float]:
        """See the next stretch, full scale ±1 [1]; tell where something begins [s]."""
        self._held = np.concatenate([self._held, values])
        found = []
        while self._held.size >= self._n_frame:
            began = self._frame(self._held[: self._n_frame])
            if began is not None:
                found.append(began)
            self._held = self._held[self._n_hop :]
            self._n_seen += self._n_hop
        return found

    def _frame(self, frame: NDArray[np.float32]) -> float | None:
        """Where something begins in one frame, from the start of the stream [s]."""
        spectrum = np.fft.rfft(frame * self._window)[: self._end]
        power = np.add.reduceat(spectrum.real**2 + spectrum.imag**2, self._first)
        here = np.log(power.astype(np.float64) + 1e-18)
        before = list(self._before)[:-1]
        self._before.append(here)
        if len(before) < LEAST_BEFORE:
            return None
        usual = np.median(before[-N_BEFORE:], axis=0)
        recent = np.median(before[-3:], axis=0)
        rise = here - np.maximum(usual, recent) - NOISE_RISE
        is_high = float(np.maximum(rise, 0.0).mean()) >= LEAST_RISE
        moment = (self._n_seen + 0.5 * self._n_frame) / self._rate
        if not is_high or moment - self._last < DEAD_TIME:
            return None
        self._last = moment
        return moment
