"""What comes in while it is recorded: rings, losses, level; nothing of ropes."""

from tension.capture.blocks import Block
from tension.capture.levels import Hum, find_hum, peak_level
from tension.capture.losses import SETTLES, Loss, LossKind, LossWatch
from tension.capture.onsets import OnsetWatch
from tension.sound.recording import Recording
from tension.workflow.live.events import Meter
from tension.workflow.live.recent import RecentSound

HEARD = 4
"""Plucks of a rope that are heard together while it is on, the last ones. [1]"""
LEAD = 1.5
"""Heard before the first of them. [s]"""
METER = 0.1
"""Between two looks at the level. [s]"""
SILENCE = 3.0
"""Exact zeros for so long are told. [s]"""
_AROUND = 0.1
_LATE = SETTLES + 0.5


class SoundWatch:
    """Watches the blocks of one device, recording by recording.

    Parameters
    ----------
    sampling_rate : int
        Of the blocks. [Hz]
    """

    def __init__(self, sampling_rate: int) -> None:
        self._rate = sampling_rate
        self._recent = RecentSound(sampling_rate)
        self._onsets = OnsetWatch(self._recent.sampling_rate)
        self._losses = LossWatch(sampling_rate=sampling_rate)
        self._lost: list[tuple[float, float]] = []
        self._n_frames = 0
        self._is_silence_told = False
        self._metered = 0.0
        self._peak = float("-inf")
        self._hum: Hum | None = None

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

    def pass_over(self, block: Block) -> tuple[Loss, ...]:
        """See a block that is not recorded."""
        self._peak = max(self._peak, peak_level(block.values))
        return self._losses.see(block)

    def see(self, block: Block) -> tuple[list[float], tuple[Loss, ...]]:
        """See a block that is recorded.

        Returns
        -------
        onsets : list of float
            Where something begins, from the start of the recording. [s]
        losses : tuple of Loss
            What was lost.
        """
        losses = self.pass_over(block)
        self._n_frames += block.samples.size
        for loss in losses:
            ago = self._losses.n_frames - loss.frame
            place = (self._n_frames - ago) / self._rate
            # the clock tells only once nothing more came late
            early = _LATE if loss.kind is LossKind.CLOCK else _AROUND
            late = loss.seconds if loss.kind is LossKind.ZEROS else 0.0
            self._lost.append((place - early, place + late + _AROUND))
        return self._onsets.push(self._recent.push(block.values)), losses

    def is_lost(self, start: float, end: float) -> bool:
        """Tell whether input was lost in a stretch of the recording.

        Parameters
        ----------
        start, end : float
            From its start. [s]

        Returns
        -------
        bool
            Whether any was, as far as is known by now.
        """
        return any(low < end and high > start for low, high in self._lost)

    def part(
        self, name: str, onsets: list[float], end: float
    ) -> tuple[Recording, float]:
        """Give the recent part of the recording, its last plucks in it.

        Parameters
        ----------
        name : str
            How it is called.
        onsets : list of float
            Where plucks begin, in order of time. [s]
        end : float
            Where the part ends, some tenths of a second earlier if it comes so far
            only. [s]

        Returns
        -------
        recording : Recording
            The part.
        start : float
            Where it begins. [s]
        """
        first = onsets[-HEARD:][0]
        start = max(first - LEAD, 0.0, self._recent.start)
        return self._recent.recording(name, start, end), start

    def new_silence(self) -> float:
        """Tell once that the input is exactly zero.

        Returns
        -------
        float
            So long by now; 0 if it is not, or was told. [s]
        """
        seconds = self._losses.seconds_of_zeros
        if seconds < SILENCE:
            self._is_silence_told = self._is_silence_told and seconds > 0.0
            return 0.0
        if self._is_silence_told:
            return 0.0
        self._is_silence_told = True
        return seconds

    def meter(self, block: Block, *, is_ringing: bool) -> Meter | None:
        """Tell level and hum some times a second.

        Parameters
        ----------
        block : Block
            The last one.
        is_ringing : bool
            Whether a ring is listened to; hum is looked for while none is.

        Returns
        -------
        Meter or None
            None if it was told just now.
        """
        if block.moment - self._metered < METER:
            return None
        if not is_ringing and int(block.moment) != int(self._metered):
            self._hum = find_hum(self._recent.last(2.0), self._recent.sampling_rate)
        self._metered = block.moment
        shown = Meter(peak=self._peak, hum=self._hum, is_ringing=is_ringing)
        self._peak = float("-inf")
        return shown
