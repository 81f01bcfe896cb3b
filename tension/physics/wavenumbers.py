"""Characteristic equation of a stiff string: the one unknown behind every frequency.

A mode of a rope under tension with bending stiffness is made of an oscillating part of
wavenumber k2/L and an evanescent part of wavenumber k1/L near the ends. The end
conditions tie both together; what is solved for is always the oscillating one.
"""

from collections.abc import Callable
from enum import Enum

import numpy as np

from tension.installation import Ends
from tension.physics.domain import FloatArray

_MAXIMUM_STEPS = 80
_RELATIVE_STEP = 4.0 * float(np.finfo(np.float64).eps)


class EndCondition(Enum):
    """How the two ends of a span are held.

    A socket, a wedge or a thimble clamps the rope at its mouth. A rope that runs onto a
    sheave behaves as pinned at the geometric tangent point: the point of contact moves
    back by one bending length, and the clamping there takes the same length off again.
    """

    PINNED_PINNED = "pinned-pinned"
    CLAMPED_PINNED = "clamped-pinned"
    CLAMPED_CLAMPED = "clamped-clamped"

    @property
    def n_clamped(self) -> int:
        """Number of clamped ends.

        Returns
        -------
        int
            0, 1 or 2.
        """
        return list(EndCondition).index(self)

    @classmethod
    def from_ends(cls, ends: Ends) -> "EndCondition":
        """Tell how the ends of a span of the installation are held.

        Parameters
        ----------
        ends : Ends
            What holds the two ends.

        Returns
        -------
        EndCondition
            Sockets count as clamped, tangent points on a sheave as pinned.
        """
        return {
            Ends.SHEAVE_SHEAVE: cls.PINNED_PINNED,
            Ends.SOCKET_SHEAVE: cls.CLAMPED_PINNED,
            Ends.SOCKET_SOCKET: cls.CLAMPED_CLAMPED,
        }[ends]


def _end_phase(
    *,
    ratio: FloatArray,
    ratio_slope: FloatArray,
    evanescent: FloatArray,
    evanescent_slope: FloatArray,
    mode_number: FloatArray,
    n_clamped: int,
) -> tuple[FloatArray, FloatArray]:
    # The phase that the clamped ends add to k2, and its slope by k2:
    # k1 tan k2 = k2 tanh k1, and the two factors of the clamped-clamped equation, are
    # k2 = n pi + e atan(h k2/k1), h = tanh k1, tanh k1/2 (n even), coth k1/2 (n odd).
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        argument = evanescent / n_clamped
        hyperbolic = np.tanh(argument)
        log_slope = 4.0 * np.exp(-2.0 * argument) / -np.expm1(-4.0 * argument)
        sign = np.where(mode_number % 2 == 1, -1.0, 1.0) if n_clamped == 2 else 1.0
        factor = np.where(sign > 0, hyperbolic, 1.0 / hyperbolic)
        tangent = ratio * factor
        stretch = np.where(
            log_slope > 0.0, sign * log_slope * evanescent_slope / n_clamped, 0.0
        )
        tangent_slope = factor * ratio_slope + tangent * stretch
        phase = n_clamped * np.arctan(tangent)
        phase_slope = n_clamped * tangent_slope / (1.0 + tangent**2)
    return phase, phase_slope


def _solve(
    *,
    excess: Callable[[FloatArray], tuple[FloatArray, FloatArray]],
    lower: FloatArray,
    upper: FloatArray,
) -> FloatArray:
    # Root of a rising function: Newton steps, bisection where they leave the bracket.
    low, high = lower.copy(), upper.copy()
    root = low.copy()
    for _ in range(_MAXIMUM_STEPS):
        value, slope = excess(root)
        low = np.where(value <= 0, root, low)
        high = np.where(value >= 0, root, high)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = value / slope
        proposed = root - step
        inside = (proposed >= low) & (proposed <= high)
        following = np.where(inside, proposed, 0.5 * (low + high))
        moved = np.abs(following - root) > _RELATIVE_STEP * root
        root = following
        if not np.any(moved):
            break
    return root


def wavenumber_from_tension(
    *,
    mode_number: FloatArray,
    squared_wave_speed: FloatArray,
    free_length: FloatArray,
    rigidity_per_density: FloatArray,
    ends: EndCondition,
) -> FloatArray:
    """Find the oscillatory wavenumber times the free length, from the tension.

    Parameters
    ----------
    mode_number : ndarray
        Mode numbers. [1]
    squared_wave_speed : ndarray
        Tension over linear density; negative for a bar in compression. [m2/s2]
    free_length : ndarray
        Free length. [m]
    rigidity_per_density : ndarray
        Flexural rigidity over linear density. [m4/s2]
    ends : EndCondition
        How the ends are held.

    Returns
    -------
    ndarray
        Oscillatory wavenumber times free length, k2; nan beyond buckling. [1]
    """
    mode_number, speed, rigidity = np.broadcast_arrays(
        mode_number, squared_wave_speed * free_length**2, rigidity_per_density
    )
    harmonic = mode_number * np.pi
    if ends.n_clamped == 0:
        return harmonic
    with np.errstate(divide="ignore", invalid="ignore"):
        compression = np.where(speed < 0, np.sqrt(np.maximum(-speed / rigidity, 0)), 0)
    upper = harmonic + ends.n_clamped * np.pi / 2
    lower = np.clip(compression * (1.0 + 1e-12), harmonic, upper)

    def excess(root: FloatArray) -> tuple[FloatArray, FloatArray]:
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = root * np.sqrt(rigidity) / np.sqrt(speed + rigidity * root**2)
            ratio = np.where(rigidity == 0, 0.0, ratio)
            evanescent = root / ratio
            phase, phase_slope = _end_phase(
                ratio=ratio,
                ratio_slope=(1.0 - ratio**2) * ratio / root,
                evanescent=evanescent,
                evanescent_slope=ratio,
                mode_number=mode_number,
                n_clamped=ends.n_clamped,
            )
        return root - harmonic - phase, 1.0 - phase_slope

    root = _solve(excess=excess, lower=lower, upper=upper)
    return np.where(compression >= upper, np.nan, root)


def wavenumber_from_frequency(
    *,
    mode_number: FloatArray,
    frequency: FloatArray,
    free_length: FloatArray,
    rigidity_per_density: FloatArray,
    ends: EndCondition,
) -> FloatArray:
    """Find the oscillatory wavenumber times the free length, from a measured frequency.

    Parameters
    ----------
    mode_number : ndarray
        Mode numbers. [1]
    frequency : ndarray
        Measured frequencies. [Hz]
    free_length : ndarray
        Free length. [m]
    rigidity_per_density : ndarray
        Flexural rigidity over linear density. [m4/s2]
    ends : EndCondition
        How the ends are held.

    Returns
    -------
    ndarray
        Oscillatory wavenumber times free length, k2; nan where the frequency is not
        above that of the same span without any tension. [1]
    """
    mode_number, rate, slackness = np.broadcast_arrays(
        mode_number,
        2.0 * np.pi * frequency * free_length**2,
        np.sqrt(rigidity_per_density),
    )
    harmonic = mode_number * np.pi
    slack = wavenumber_from_tension(
        mode_number=mode_number,
        squared_wave_speed=np.zeros(()),
        free_length=np.ones(()),
        rigidity_per_density=np.ones(()),
        ends=ends,
    )
    is_taut = rate > slackness * slack**2
    if ends.n_clamped == 0:
        return np.where(is_taut, harmonic, np.nan)
    taut_rate = np.where(is_taut, rate, np.nan)

    def excess(root: FloatArray) -> tuple[FloatArray, FloatArray]:
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = root**2 * slackness / taut_rate
            evanescent = root / ratio
            phase, phase_slope = _end_phase(
                ratio=ratio,
                ratio_slope=2.0 * ratio / root,
                evanescent=evanescent,
                evanescent_slope=-1.0 / ratio,
                mode_number=mode_number,
                n_clamped=ends.n_clamped,
            )
        return root - harmonic - phase, 1.0 - phase_slope

    return np.where(is_taut, _solve(excess=excess, lower=harmonic, upper=slack), np.nan)
