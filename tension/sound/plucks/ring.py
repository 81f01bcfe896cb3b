"""One ring: samples from shortly after a pluck, and where they come from."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.sound.hearing import Pluck


@dataclass(frozen=True, kw_only=True, slots=True)
class Ring:
    """A ring and the pluck it belongs to.

    Attributes
    ----------
    samples : ndarray, shape (n_samples,)
        From shortly after the release until the next event. [1]
    sampling_rate : float
        Of the samples. [Hz]
    pluck : Pluck
        When.
    take : int
        Which of the recordings.
    entry : int
        Which place in the order of that recording: the round.
    rise : float
        Mean rise of the logarithmic spectrum at the release; 0 where the recording
        begins in the ring. [1]
    image : ndarray, shape (n_log_frequencies,)
        Of its spectrum, see `tension.sound.plucks.portraits.Portrait`.
    """

    samples: NDArray[np.float64]
    sampling_rate: float
    pluck: Pluck
    take: int
    entry: int
    rise: float
    image: NDArray[np.float64]
