"""What comes in while it is recorded: rings, losses, level; nothing of ropes."""

import numpy as np
from numpy.typing import NDArray

from tension.capture import blocks
from tension.files.decimation import Decimator, LevelWatch
from tension.sound.hearing import Recording
from tension.workflow.live.events import Meter

KEPT = 40.0  # so much is kept at most [s]
HEARD = 4  # the last plucks of a rope, heard together while it is on [1]
LEAD = 1.5  # heard before the first of them [s]
METER = 0.1  # between two looks at the level [s]
SILENCE = 3.0  # exact zeros for so long are told [s]
_AROUND = 0.1  # on both sides of a loss, in which a pluck does not count [s]
_LATE = blocks.SETTLES + 0.5  # so long before the clock tells of a loss it may lie [s]


class SoundWatch:
    """Watches the blocks of one device, at its rate [Hz], recording by recording."""

    def __init__(self, sampling_rate: int) -> None:
        self._rate = sampling_rate
        self._recent = _Recent(sampling_rate)
        self._onsets = blocks.OnsetWatch(self._recent.sampling_rate)
        self._losses = blocks.LossWatch(sampling_rate=sampling_rate)
        self._lost: list[tuple[float, float]] = []
        self._n_frames = 0
        self._is_silence_told = False
        self._metered = 0.0
        self._peak = float("-inf")
        self._hum: blocks.Hum | None = None

    @property
    def end(self) -> float:
        """How long the recording is by now [s]."""
        return self._n_frames / self._rate

    def begin(self) -> None:
        """Begin with another recording."""
        self._recent.begin()
        self._onsets.forget()
        self._lost.clear()
        self._n_frames = 0

    def pass_over(self, block: blocks.Block) -> tuple[blocks.Loss, ...]:
        """See a block that is not recorded."""
        self._peak = max(self._peak, blocks.peak_level(block.values))
        return self._losses.see(block)

    def see(self, block: blocks.Block) -> tuple[list[float], tuple[blocks.Loss, ...]]:
        """See a block that is recorded: where something begins [s], what was lost."""
        losses = self.pass_over(block)
        self._n_frames += block.samples.size
        for loss in losses:
            ago = self._losses.n_frames - loss.frame
            place = (self._n_frames - ago) / self._rate
            # the clock tells only once nothing more came late
            early = _LATE if loss.kind is blocks.LossKind.CLOCK else _AROUND
            late = loss.seconds if loss.kind is blocks.LossKind.ZEROS else 0.0
            self._lost.append((place - early, place + late + _AROUND))
        return self._onsets.push(self._recent.push(block.values)), losses

    def is_lost(self, start: float, end: float) -> bool:
        """Tell whether input was lost, as far as is known, in a stretch [s]."""
        return any(low < end and high > start for low, high in self._lost)

    def part(
        self, name: str, onsets: list[float], end: float
    ) -> tuple[Recording, float]:
        """Give the recent part of the recording, the last plucks in it, its start [s].

        It ends some tenths of a second before the end if it comes so far only.
        """
        first = onsets[-HEARD:][0]
        start = max(first - LEAD, 0.0, self._recent.start)
        return self._recent.recording(name, start, end), start

    def is_newly_silent(self) -> bool:
        """Tell once that the input has been exactly zero for long."""
        was_told, seconds = self._is_silence_told, self._losses.seconds_of_zeros
        self._is_silence_told = seconds >= SILENCE or (was_told and seconds > 0.0)
        return self._is_silence_told and not was_told

    def meter(self, block: blocks.Block, *, is_ringing: bool) -> Meter | None:
        """Tell level, and hum while nothing rings, unless just told."""
        if block.moment - self._metered < METER:
            return None
        if not is_ringing and int(block.moment) != int(self._metered):
            self._hum = blocks.find_hum(
                self._recent.last(2.0), self._recent.sampling_rate
            )
        self._metered = block.moment
        shown = Meter(peak=self._peak, hum=self._hum, is_ringing=is_ringing)
        self._peak = float("-inf")
        return shown


class _Recent:
    """The last seconds of one recording, decimated as a file is when it is read."""

    def __init__(self, sampling_rate: int) -> None:
        self.source_rate = float(sampling_rate)
        self.sampling_rate = Decimator(self.source_rate).sampling_rate
        self.begin()

    def begin(self) -> None:
        """Begin anew, with another recording."""
        self._decimator = Decimator(self.source_rate)
        self._levels = LevelWatch(sampling_rate=self.source_rate)
        self._held = np.empty(0, dtype=np.float32)
        self._n_gone = 0

    @property
    def start(self) -> float:
        """Where it begins, from the start of the recording [s]."""
        return self._n_gone / self.sampling_rate

    def push(self, values: NDArray[np.float32]) -> NDArray[np.float32]:
        """Take the next block in; decimated samples that are ready."""
        if not values.size:
            return values
        block = values[np.newaxis]
        self._levels.see(block)
        ready: NDArray[np.float32] = self._decimator.push(block)[0]
        held = np.concatenate([self._held, ready])
        n_gone = max(held.size - round(KEPT * self.sampling_rate), 0)
        self._held, self._n_gone = held[n_gone:], self._n_gone + n_gone
        stretches = self._levels.stretches
        while stretches and stretches[0][2] < self.start:  # at full scale, not kept
            del stretches[0]
        return ready

    def last(self, seconds: float) -> NDArray[np.float32]:
        """The last samples, decimated; fewer if there are no more."""
        return self._held[-round(seconds * self.sampling_rate) :]

    def recording(self, name: str, start: float, end: float) -> Recording:
        """A stretch from the start of what is recorded [s] as a recording."""
        rate = self.sampling_rate
        first = max(round(start * rate), self._n_gone)
        last = max(round(end * rate), first)
        samples = self._held[first - self._n_gone : last - self._n_gone].copy()
        samples.flags.writeable = False
        clipped = self._levels.clipped((0,)) - first / rate
        inside = (clipped[:, 1] > 0.0) & (clipped[:, 0] < samples.size / rate)
        return Recording(
            name=name,
            samples=samples,
            sampling_rate=rate,
            source_rate=self.source_rate,
            codec="pcm_s24le",
            clipped=np.maximum(clipped[inside], 0.0),
        )
