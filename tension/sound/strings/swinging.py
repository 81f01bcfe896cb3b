"""Places of partials where socket and rod swing: the end turns the wave, adds lines."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class Swing:
    """How a hitch end swings.

    Attributes
    ----------
    resonances : tuple of float
        At which socket and rod would swing if the rope carried nothing away: to and fro
        first, then nodding. [Hz]
    bandwidths : tuple of float
        Of each resonance, by what the rope carries away: sqrt(T m)/(2 pi M) for a mass
        M that moves to and fro. [Hz]
    """

    resonances: tuple[float, ...]
    bandwidths: tuple[float, ...]

    def turn(self, frequencies: Array) -> Array:
        """Give `end_turn` of this end.

        Parameters
        ----------
        frequencies : ndarray, shape (n_lines,)
            Where. [Hz]

        Returns
        -------
        ndarray, shape (n_lines,)
            Part of a mode number. [1]
        """
        return end_turn(
            frequencies, np.array(self.resonances), np.array(self.bandwidths)
        )

    def lines_below(self, frequencies: Array) -> NDArray[np.int64]:
        """Count the lines of the end below some frequencies.

        Parameters
        ----------
        frequencies : ndarray, shape (n_lines,)
            Where. [Hz]

        Returns
        -------
        ndarray, shape (n_lines,)
            How many resonances lie below. [1]
        """
        below = frequencies[:, None] > np.array(self.resonances)[None, :]
        return np.asarray(np.sum(below, axis=1), dtype=np.int64)


def end_turn(frequencies: Array, resonances: Array, bandwidths: Array) -> Array:
    """Part of a mode number that a swinging end takes up.

    Parameters
    ----------
    frequencies : ndarray, shape (..., n_lines)
        Where. [Hz]
    resonances : ndarray, shape (..., n_swings)
        Of the end. [Hz]
    bandwidths : ndarray, shape (..., n_swings)
        Of each. [Hz]

    Returns
    -------
    ndarray, shape (..., n_lines)
        From 0 far below all resonances to the number of resonances far above. [1]

    Notes
    -----
    A lossless end has a reactance that rises between its poles (Foster's theorem): it
    turns the wave by 1/pi atan(sum of f bandwidth/(resonance^2 - f^2)) of a place, and
    by a whole place more past each pole. For one mass on one spring this is z cot z =
    -(kappa - mu z^2), as `tension.physics.hitch_end` has it. Far above all resonances
    the mass holds the end still, and the rope is clamped in the socket.
    """
    f = frequencies[..., None, :]
    gap = resonances[..., :, None] ** 2 - f**2
    gap = np.where(np.abs(gap) < 1e-9, 1e-9, gap)
    lean = np.sum(f * bandwidths[..., :, None] / gap, axis=-2)
    passed = np.sum(gap < 0.0, axis=-2)
    result: Array = np.arctan(lean) / np.pi + passed
    return result
