"""The recent part of what is recorded, decimated as a file is when it is read."""

from collections import deque

import numpy as np
from numpy.typing import NDArray

from tension.files.sound import LevelWatch
from tension.files.sound_decimation import Decimator, decimation_factor
from tension.sound.recording import Recording

KEPT = 40.0
"""So much is kept at most. [s]"""


class RecentSound:
    """The last seconds of one recording.

    Parameters
    ----------
    sampling_rate : int
        Of the blocks. [Hz]
    """

    def __init__(self, sampling_rate: int) -> None:
        self.source_rate = float(sampling_rate)
        self._factor = decimation_factor(self.source_rate)
        self.sampling_rate = self.source_rate / self._factor
        self.begin()

    def begin(self) -> None:
        """Begin anew, with another recording."""
        self._decimator = Decimator(self._factor)
        self._watch = LevelWatch(sampling_rate=self.source_rate)
        self._pieces: deque[NDArray[np.float32]] = deque()
        self._n_held = 0
        self._n_gone = 0

    @property
    def start(self) -> float:
        """Where it begins, from the start of the recording [s]."""
        return self._n_gone / self.sampling_rate

    @property
    def end(self) -> float:
        """How far it reaches, from the start of the recording [s]."""
        return (self._n_gone + self._n_held) / self.sampling_rate

    def push(self, values: NDArray[np.float32]) -> NDArray[np.float32]:
        """Take the next block in.

        Parameters
        ----------
        values : ndarray, shape (n_samples,)
            Full scale ±1. [1]

        Returns
        -------
        ndarray, shape (n_out,)
            Decimated samples that are ready. [1]
        """
        if not values.size:
            return values
        block = values[np.newaxis]
        self._watch.see(block)
        ready = [piece[0] for piece in self._decimator.push(block)]
        for piece in ready:
            self._pieces.append(piece)
            self._n_held += piece.size
        while self._n_held > KEPT * self.sampling_rate:
            gone = self._pieces.popleft().size
            self._n_held -= gone
            self._n_gone += gone
        self._forget_clipped()
        return np.concatenate(ready) if ready else np.empty(0, dtype=np.float32)

    def last(self, seconds: float) -> NDArray[np.float32]:
        """Give the last samples.

        Parameters
        ----------
        seconds : float
            How many. [s]

        Returns
        -------
        ndarray, shape (n_samples,)
            Decimated; fewer if there are no more. [1]
        """
        wanted = round(seconds * self.sampling_rate)
        pieces: list[NDArray[np.float32]] = []
        have = 0
        for piece in reversed(self._pieces):
            if have >= wanted:
                break
            pieces.append(piece)
            have += piece.size
        if not pieces:
            return np.empty(0, dtype=np.float32)
        return np.concatenate(pieces[::-1])[-wanted:]

    def recording(self, name: str, start: float, end: float) -> Recording:
        """Give a stretch as a recording of its own.

        Parameters
        ----------
        name : str
            How it is called.
        start, end : float
            From the start of what is recorded. [s]
        """
        rate = self.sampling_rate
        first = max(round(start * rate), self._n_gone)
        last = max(round(end * rate), first)
        held = np.concatenate([np.empty(0, dtype=np.float32), *self._pieces])
        samples = held[first - self._n_gone : last - self._n_gone].copy()
        samples.flags.writeable = False
        offset = first / rate
        clipped = self._watch.clipped((0,)) - offset
        inside = (clipped[:, 1] > 0.0) & (clipped[:, 0] < samples.size / rate)
        return Recording(
            name=name,
            samples=samples,
            sampling_rate=rate,
            source_rate=self.source_rate,
            codec="pcm_s24le",
            clipped=np.maximum(clipped[inside], 0.0),
        )

    def _forget_clipped(self) -> None:
        """Drop stretches at full scale that are older than what is kept."""
        oldest = self._n_gone / self.sampling_rate
        stretches = self._watch.stretches
        while stretches and stretches[0][2] < oldest:
            del stretches[0]
