"""Level of a recording: which channel to use, where overdriven, whether silent."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, NoteKind

SILENT_RANGE = 4e-5
"""A recording that moves less than this is silent: about one step of 16 bit. [1]"""

_FULL_SCALE = 0.999
_DEAD_CHANNEL = 0.01  # a channel 40 dB under the other carries nothing
_OPPOSED = 0.3  # below this correlation a mean loses more than it gains
_MERGE_WITHIN = 0.02  # stretches closer than this are one [s]
_ABSURD_SAMPLE = 1e6


@dataclass(kw_only=True, slots=True)
class LevelWatch:
    """What is watched at the full sampling rate while the blocks pass by.

    Attributes
    ----------
    sampling_rate : float
        Of the file. [Hz]
    lowest, highest : float
        Extremes of all channels so far. [1]
    has_any : bool
        Whether any sample differs from zero.
    stretches : list of (int, float, float)
        Channel, start and end of stretches at full scale. [s]
    """

    sampling_rate: float
    lowest: float = float("inf")
    highest: float = float("-inf")
    has_any: bool = False
    stretches: list[tuple[int, float, float]] = field(default_factory=list)
    _n_before: int = 0

    def see(self, block: NDArray[np.float32]) -> None:
        """Watch one block.

        Parameters
        ----------
        block : ndarray, shape (n_channels, n_samples)
            The next stretch. [1]
        """
        low, high = float(block.min()), float(block.max())
        self.lowest, self.highest = min(self.lowest, low), max(self.highest, high)
        self.has_any = self.has_any or low != 0 or high != 0
        if max(-low, high) >= _FULL_SCALE:
            for channel, samples in enumerate(block):
                self._find_stretches(channel, samples)
        self._n_before += block.shape[1]

    def _find_stretches(self, channel: int, samples: NDArray[np.float32]) -> None:
        """Find where at least three samples in a row stand at full scale."""
        is_full = np.abs(samples) >= _FULL_SCALE
        edges = np.flatnonzero(np.diff(is_full, prepend=False, append=False))
        pairs = edges.reshape(-1, 2)
        pairs = pairs[pairs[:, 1] - pairs[:, 0] >= 3]
        starts, ends = (pairs.T + self._n_before) / self.sampling_rate
        if starts.size == 0:
            return
        breaks = np.flatnonzero(starts[1:] - ends[:-1] > _MERGE_WITHIN)
        firsts = starts[np.concatenate(([0], breaks + 1))]
        lasts = ends[np.concatenate((breaks, [ends.size - 1]))]
        for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True):
            self._add(channel, first, last)

    def _add(self, channel: int, first: float, last: float) -> None:
        """Add a stretch, merged with the one before where they nearly touch."""
        before = self.stretches[-1] if self.stretches else None
        if before and before[0] == channel and first - before[2] <= _MERGE_WITHIN:
            self.stretches[-1] = (channel, before[1], last)
        else:
            self.stretches.append((channel, first, last))

    def clipped(self, channels: tuple[int, ...]) -> NDArray[np.float64]:
        """Return where any of some channels is overdriven.

        Parameters
        ----------
        channels : tuple of int
            Counted from 0.

        Returns
        -------
        ndarray, shape (n_clipped, 2)
            Start and end, in order, not overlapping. [s]
        """
        wanted = sorted(
            (a, b) for channel, a, b in self.stretches if channel in channels
        )
        merged: list[list[float]] = []
        for start, end in wanted:
            if merged and start - merged[-1][1] <= _MERGE_WITHIN:
                merged[-1][1] = max(end, merged[-1][1])
            else:
                merged.append([start, end])
        clipped = np.array(merged, dtype=np.float64).reshape(-1, 2)
        clipped.flags.writeable = False
        return clipped


def tame(block: NDArray[np.float32]) -> NDArray[np.float32]:
    """Put silence where a sample is beyond any scale, as flipped bits make them.

    Parameters
    ----------
    block : ndarray, shape (n_channels, n_samples)
        A stretch. [1]

    Returns
    -------
    ndarray, shape (n_channels, n_samples)
        The same array if nothing was to be done. [1]
    """
    if max(-float(block.min()), float(block.max())) < _ABSURD_SAMPLE:
        return block
    return np.where(np.abs(block) < _ABSURD_SAMPLE, block, np.float32(0))


def mix_down(
    channels: NDArray[np.float32], name: str
) -> tuple[NDArray[np.float32], tuple[int, ...], tuple[Note, ...]]:
    """Make one channel of one or two.

    Two channels that agree are averaged; of two that do not, the louder is used.

    Parameters
    ----------
    channels : ndarray, shape (n_channels, n_samples)
        Decimated samples. [1]
    name : str
        How the record names the recording.

    Returns
    -------
    samples : ndarray, shape (n_samples,)
        The channel to use. [1]
    used : tuple of int
        Channels it was made of, counted from 0.
    notes : tuple of Note
        What was chosen and why; empty where there was nothing to choose.
    """
    if channels.shape[0] == 1:
        return channels[0], (0,), ()
    first, second = channels
    if np.array_equal(first, second):
        return first, (0,), ()
    power = np.array([_moment(row, row) for row in channels])
    louder = int(power.argmax())
    reason = ""
    if power.min() <= _DEAD_CHANNEL**2 * power.max():
        reason = "the other one is silent"
    elif _moment(first, second) < _OPPOSED * float(np.sqrt(power.prod())):
        reason = "the other one is weaker and does not agree with it"
    if reason:
        note = NoteKind.ONE_CHANNEL.note(
            recording=name, channel=louder + 1, reason=reason
        )
        return channels[louder], (louder,), (note,)
    note = NoteKind.CHANNELS_AVERAGED.note(recording=name, n_channels=2)
    return channels.mean(axis=0, dtype=np.float32), (0, 1), (note,)


def _moment(first: NDArray[np.float32], second: NDArray[np.float32]) -> float:
    """Return the mean product of two channels, their own means taken off."""
    product = float(np.dot(first, second)) / first.size
    return product - float(first.mean()) * float(second.mean())
