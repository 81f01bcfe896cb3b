"""Strings on soft ends, swinging wide, or sharing a hitch; closed forms."""

from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

_HALVINGS = 64


class Motion(Enum):
    """How the rope swings."""

    PLANAR = "planar"
    CIRCULAR = "circular"


def lateral_spring_end_frequency_ratio(
    *, mode_number: ArrayLike, softness: ArrayLike
) -> FloatArray:
    """Compute how an end on a lateral spring lowers a frequency, exact for a string.

    Parameters
    ----------
    mode_number : array_like
        Mode number, from 1 up. [1]
    softness : array_like
        Tension over (lateral stiffness times free length); 0 is a fixed end. [1]

    Returns
    -------
    ndarray
        Frequency with the soft end over frequency with both ends fixed. [1]

    Notes
    -----
    With z = w L/c and q the softness, tan z = -q z; z = n pi - atan(q z), whose root
    lies in ((n - 1/2) pi, n pi]. To first order the ratio is 1 - q. Two polarisations
    on an end of different stiffness across and along split by q_x - q_y.
    """
    mode = np.asarray(mode_number, dtype=float)
    soft = np.asarray(softness, dtype=float)
    mode, soft = np.broadcast_arrays(mode, soft)
    low, high = (mode - 0.5) * np.pi, mode * np.pi
    for _ in range(_HALVINGS):
        z = 0.5 * (low + high)
        below = z + np.arctan(soft * z) < mode * np.pi
        low, high = np.where(below, z, low), np.where(below, high, z)
    return (0.5 * (low + high) / (mode * np.pi))[()]


def amplitude_frequency_ratio(
    *,
    mode_number: ArrayLike,
    amplitude: ArrayLike,
    free_length: ArrayLike,
    tension: ArrayLike,
    axial_stiffness: ArrayLike,
    motion: Motion = Motion.PLANAR,
) -> FloatArray:
    """Compute how swinging far raises a frequency, because it stretches the rope.

    Parameters
    ----------
    mode_number : array_like
        Mode number, from 1 up. [1]
    amplitude : array_like
        Largest displacement of the mode, from the rest position. [m]
    free_length : array_like
        Free length. [m]
    tension : array_like
        Tension at rest. [N]
    axial_stiffness : array_like
        Stiffness of the whole rope with its springs in series. [N/m]
    motion : Motion
        In a plane or round in a circle.

    Returns
    -------
    ndarray
        Frequency at that amplitude over frequency of a small swing. [1]

    Notes
    -----
    The mode stretches the rope by (n pi A)^2/(4 L) at its largest; in units of tension
    that is e = K (n pi A)^2/(4 L T). Circular: sqrt(1 + e), about 1 + e/2. Planar: a
    Duffing oscillator, sqrt(1 + e) agm(1, sqrt(1 - e/(2 + 2 e))), about 1 + 3 e/8, the
    arithmetic-geometric mean standing for the elliptic integral. The tension is taken
    to be even along the rope, as it is while sound runs along steel much faster.
    """
    mode = np.asarray(mode_number, dtype=float)
    aside = np.asarray(amplitude, dtype=float)
    length = np.asarray(free_length, dtype=float)
    pull = np.asarray(tension, dtype=float)
    stiffness = np.asarray(axial_stiffness, dtype=float)
    stretch = stiffness * (mode * np.pi * aside) ** 2 / (4.0 * length * pull)
    rigid = np.sqrt(1.0 + stretch)
    if motion is Motion.CIRCULAR:
        return np.asarray(rigid[()])
    larger, smaller = (
        np.ones_like(stretch),
        np.sqrt(1.0 - stretch / (2.0 + 2 * stretch)),
    )
    for _ in range(8):
        larger, smaller = 0.5 * (larger + smaller), np.sqrt(larger * smaller)
    return np.asarray((rigid * larger)[()])


def hitch_coupling(
    *, tension: ArrayLike, free_length: ArrayLike, lateral_stiffness: ArrayLike
) -> FloatArray:
    """Compute how strongly ropes of one hitch share their swing, T/(K L).

    Parameters
    ----------
    tension : array_like
        Tension of one rope. [N]
    free_length : array_like
        Free length. [m]
    lateral_stiffness : array_like
        Lateral stiffness of the common hitch. [N/m]

    Returns
    -------
    ndarray
        Relative shift of the frequency that the common hitch allows. Two equal ropes
        show two lines twice this apart; relative differences of frequency well above
        it are read true. [1]

    Raises
    ------
    InvalidValueError
        If an argument is outside the range named above.
    """
    pull = np.asarray(tension, dtype=float)
    length = np.asarray(free_length, dtype=float)
    stiffness = np.asarray(lateral_stiffness, dtype=float)
    return np.asarray((pull / (stiffness * length))[()])


def coupled_frequencies(
    *,
    tensions: ArrayLike,
    linear_density: ArrayLike,
    free_lengths: ArrayLike,
    lateral_stiffness: float,
    n_frequencies: int,
) -> FloatArray:
    """Compute the lowest frequencies of ropes that end on one lateral spring, exact.

    Parameters
    ----------
    tensions : array_like, shape (n_ropes,)
        Tension of each rope. [N]
    linear_density : array_like
        Mass per unit length, one for all or one per rope. [kg/m]
    free_lengths : array_like
        Free length, one for all or one per rope. [m]
    lateral_stiffness : float
        Lateral stiffness of the common hitch. [N/m]
    n_frequencies : int
        How many.

    Returns
    -------
    ndarray, shape (n_frequencies,)
        Frequencies of the whole set in rising order; n_ropes to each mode number. [Hz]

    Notes
    -----
    sum over ropes of T k cot(k L) = -K with k = w sqrt(m/T). The left side falls
    between neighbouring frequencies of the ropes on a fixed hitch, so one root lies
    between each two of them and one below the lowest. Two ropes detuned by a part d and
    coupled by kappa = T/(K L) shift by -kappa +- sqrt((d/2)^2 + kappa^2), to first
    order.

    References
    ----------
    .. [1] J. O. Smith, Physical audio signal processing, "Coupled strings
       eigenanalysis": the same structure for two piano strings on one bridge.
    """
    pulls = np.asarray(tensions, dtype=float)
    density = np.asarray(linear_density, dtype=float)
    lengths = np.asarray(free_lengths, dtype=float)
    stiffness = float(np.asarray(lateral_stiffness, dtype=float))
    pulls, density, lengths = np.broadcast_arrays(pulls, density, lengths)
    fixed = np.sqrt(pulls / density) / (2.0 * lengths)
    multiples = np.arange(1, n_frequencies + 1)
    poles = np.sort(np.outer(multiples, fixed).ravel())[:n_frequencies]
    low = np.concatenate([[0.0], poles[:-1]])
    high = poles.copy()
    wavenumbers = 2.0 * np.pi * np.sqrt(density / pulls)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        number = middle[:, None] * wavenumbers
        with np.errstate(divide="ignore", invalid="ignore"):
            reaction = np.sum(pulls * number / np.tan(number * lengths), axis=1)
        below = reaction + stiffness > 0
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray(0.5 * (low + high), dtype=float)
