"""Noise: the floor of a spectrum under its lines."""

import numpy as np
from numpy.typing import NDArray


def noise_floor(powers: NDArray[np.float64], spacing: float) -> NDArray[np.float64]:
    """Estimate the noise floor under lines from a low quantile of the neighbourhood.

    Parameters
    ----------
    powers : ndarray, shape (n_frequencies,)
        Power spectrum. [1]
    spacing : float
        Of the frequencies. [Hz]

    Returns
    -------
    ndarray, shape (n_frequencies,)
        Mean noise power. [1]

    Notes
    -----
    Noise power is exponentially distributed: its 30 % quantile is 0.357 of its mean.
    Lines raise a low quantile little.
    """
    block = max(8, round(12.0 / spacing))
    n_blocks = max(1, powers.size // block)
    cut = powers[: n_blocks * block].reshape(n_blocks, -1)
    # the quantile by hand: numpy's own takes longer about than over it
    place = 0.3 * (cut.shape[1] - 1)
    first = int(place)
    cut = np.partition(cut, (first, min(first + 1, cut.shape[1] - 1)), axis=1)
    low = cut[:, first] + (place - first) * (cut[:, first + 1] - cut[:, first])
    low /= 0.3567
    low = np.maximum(low, 1e-30 + 1e-12 * float(low.max()))
    logarithm = np.log(low)
    if n_blocks > 2:
        padded = np.pad(logarithm, 1, mode="edge")
        logarithm = np.median(np.stack([padded[:-2], padded[1:-1], padded[2:]]), axis=0)
    centres = (np.arange(n_blocks) + 0.5) * block
    floor: NDArray[np.float64] = np.exp(
        np.interp(np.arange(powers.size), centres, logarithm)
    )
    return floor
