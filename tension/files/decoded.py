"""Sound that somebody else decoded: samples in place of a file."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.errors import InvalidValueError
from tension.files.evidence import FileEvidence
from tension.files.sound_stream import (
    LONGEST,
    MOST_SAMPLES,
    Tally,
    as_full_scale,
    without_no_numbers,
)

_BLOCK = 65536
_MOST_CHANNELS = 2


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class DecodedSound:
    """Samples, their rate, and what is known of where they come from.

    Attributes
    ----------
    samples : ndarray, shape (n_samples,) or (n_channels, n_samples)
        Full scale ±1, or whole numbers of their full width; of several channels the
        first two are listened to. [1]
    sampling_rate : float
        Of the samples. [Hz]
    codec : str
        How the sound was coded before, such as "aac"; empty if it is not known.
    origin : FileEvidence or None
        The file it was decoded from, with size and checksum, if that is known.

    Raises
    ------
    InvalidValueError
        If the samples are no numbers, or of another shape.
    """

    samples: NDArray[np.generic]
    sampling_rate: float
    codec: str = ""
    origin: FileEvidence | None = None

    def __post_init__(self) -> None:
        """Refuse what is no sound at all."""
        if self.samples.ndim not in {1, 2} or self.samples.dtype.kind not in "fi":
            raise InvalidValueError(
                "samples must be numbers of shape (n_samples,) or (n_channels, "
                f"n_samples), got {self.samples.dtype} {self.samples.shape}"
            )


class DecodedStream:
    """Decoded sound handed on block by block, as from a file.

    Parameters
    ----------
    sound : DecodedSound
        The sound.

    Attributes
    ----------
    sampling_rate : float
        Of the samples. [Hz]
    n_channels : int
        Channels handed on, at most two. [1]
    codec : str
        As told.
    declared_length : float
        Length of the samples. [s]
    tally : Tally
        What happened so far.
    """

    def __init__(self, sound: DecodedSound) -> None:
        rows = np.atleast_2d(sound.samples)
        rate = float(sound.sampling_rate)
        self._rows = rows[:_MOST_CHANNELS]
        self.sampling_rate = rate if np.isfinite(rate) and rate > 0 else 0.0
        self.n_channels = self._rows.shape[0]
        self.codec = sound.codec
        self.declared_length = rows.shape[1] / self.sampling_rate if rate > 0 else 0.0
        self.longest = min(LONGEST, MOST_SAMPLES / (rows.shape[0] * max(rate, 1.0)))
        self.tally = Tally()

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """Hand the samples on.

        Yields
        ------
        ndarray, shape (n_channels, n_samples)
            The next stretch, full scale ±1. [1]
        """
        for start in range(0, self._rows.shape[1], _BLOCK):
            block = as_full_scale(self._rows[:, start : start + _BLOCK])
            self.tally.n_samples += block.shape[1]
            yield without_no_numbers(block, self.tally)
