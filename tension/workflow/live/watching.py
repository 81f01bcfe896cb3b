"""The last seconds of a recording that is made, and where something begins in it."""

from collections import deque

import numpy as np
from numpy.typing import NDArray

from tension.capture import Block, Hum, find_hum
from tension.files.decimation import Decimator, LevelWatch
from tension.sound.hearing import Recording

KEPT = 40.0  # so much is kept at most [s]
HEARD = 4  # the last plucks of a rope, heard together while it is on [1]
LEAD = 1.5  # heard before the first of them [s]
_HUMMING = 2.0  # in so much hum is looked for [s]

# where something begins
FRAME, HOP = 0.128, 0.064  # length and distance of frames [s]
N_BEFORE, LEAST_BEFORE = 12, 7  # frames before that tell; fewer tell nothing [1]
N_BANDS, ROPE_BAND = 8, (20.0, 1500.0)  # of equal ratio, where ropes are heard [Hz]
NOISE_RISE = 1.5  # the logarithm of power in a band of noise hardly rises by more [1]
LEAST_RISE = 0.16  # mean rise over the bands from which something begins [1]
DEAD_TIME = 0.45  # two beginnings closer than this are one [s]


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
        self._held = np.empty(0, dtype=np.float32)
        self._n_seen = 0
        self._last = -np.inf
        self._before: deque[NDArray[np.float64]] = deque(maxlen=N_BEFORE)

    def push(self, values: NDArray[np.float32]) -> list[float]:
        """See the next stretch, full scale ±1 [1]; tell where something begins [s]."""
        self._held = np.concatenate([self._held, values])
        found = []
        while self._held.size >= self._n_frame:
            moment = (self._n_seen + 0.5 * self._n_frame) / self._rate
            rises = self._rises(self._held[: self._n_frame])
            if rises and moment - self._last >= DEAD_TIME:
                self._last = moment
                found.append(moment)
            self._held = self._held[self._n_hop :]
            self._n_seen += self._n_hop
        return found

    def _rises(self, frame: NDArray[np.float32]) -> bool:
        """Whether the next frame is louder than those before it."""
        spectrum = np.fft.rfft(frame * self._window)[: self._end]
        power = np.add.reduceat(spectrum.real**2 + spectrum.imag**2, self._first)
        here = np.log(power.astype(np.float64) + 1e-18)
        before = list(self._before)[:-1]
        self._before.append(here)
        if len(before) < LEAST_BEFORE:
            return False
        usual = np.median(before, axis=0)
        recent = np.median(before[-3:], axis=0)
        rise = here - np.maximum(usual, recent) - NOISE_RISE
        return float(np.maximum(rise, 0.0).mean()) >= LEAST_RISE


class RecentSound:
    """The last seconds of one recording, decimated as a file is when it is read."""

    def __init__(self, sampling_rate: float) -> None:
        self._source_rate = sampling_rate
        self._decimator = Decimator(sampling_rate)
        self._rate = self._decimator.sampling_rate
        self._levels = LevelWatch(sampling_rate=sampling_rate)
        self._onsets = OnsetWatch(self._rate)
        self._held = np.empty(0, dtype=np.float32)
        self._n_gone = 0
        self._n_frames = 0

    @property
    def end(self) -> float:
        """How long the recording is by now [s]."""
        return self._n_frames / self._source_rate

    def see(self, block: Block) -> list[float]:
        """Take the next block in; where something begins in the recording [s]."""
        if not block.samples.size:
            return []
        values = block.values[np.newaxis]
        self._n_frames += values.size
        self._levels.see(values)
        ready = self._decimator.push(values)[0]
        held = np.concatenate([self._held, ready])
        n_gone = max(held.size - round(KEPT * self._rate), 0)
        self._held, self._n_gone = held[n_gone:], self._n_gone + n_gone
        return self._onsets.push(ready)

    def find_hum(self) -> Hum | None:
        """Find hum of the mains in the last samples."""
        return find_hum(self._held[-round(_HUMMING * self._rate) :], self._rate)

    def part(
        self, name: str, onsets: list[float], end: float
    ) -> tuple[Recording, float]:
        """Give what holds the last plucks, by where they began [s], and its start [s].

        It ends some tenths of a second before the end if it comes so far only.
        """
        lead = max(onsets[-HEARD:][0] - LEAD, 0.0)
        first = max(round(lead * self._rate), self._n_gone)
        last = max(round(end * self._rate), first)
        samples = self._held[first - self._n_gone : last - self._n_gone].copy()
        samples.flags.writeable = False
        start = first / self._rate
        clipped = self._levels.clipped((0,)) - start
        inside = (clipped[:, 1] > 0.0) & (clipped[:, 0] < samples.size / self._rate)
        recording = Recording(
            name=name,
            samples=samples,
            sampling_rate=self._rate,
            source_rate=self._source_rate,
            codec="pcm_s24le",
            clipped=np.maximum(clipped[inside], 0.0),
        )
        return recording, start
