"""The line of a set: tension measured against the length of the springs."""

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

FREE_LENGTH_SPREAD = 0.001
"""How much springs of one set differ in free length; the program's own figure. [m]"""

STANDS_OUT = 3.5
"""A spring stands out from so many standard uncertainties off the others. [1]"""

_WEIGHT_OF_EXPECTED = 2.0
"""How many springs the expected scatter counts for beside those read. [1]"""

_FEWEST = 4
"""Springs from which a line of the set is drawn."""


@dataclass(frozen=True, kw_only=True, slots=True)
class MeasuredTension:
    """Newtons of one rope, as measured otherwise than by its spring."""

    value: float  # tension [N]
    own: float  # standard uncertainty against the set [N]
    whole: float  # standard uncertainty, all sources [N]


@dataclass(frozen=True, kw_only=True, slots=True)
class SetSlope:
    """Line through tension against spring length of the set."""

    rate: float  # slope: what the springs of the set do together [N/m]
    uncertainty: float  # its standard uncertainty [N/m]
    mean_length: float  # length about which the line is drawn [m]
    mean_tension: float  # tension there [N]
    scatter: float  # of one spring length about the line [m]

    def tension_at(self, length: float) -> float:
        """Tension of the line [N] at a spring length [m]."""
        return self.mean_tension - self.rate * (length - self.mean_length)


def slope_of_set(
    lengths: dict[int, float],
    tensions: dict[int, MeasuredTension],
    length_width: float,
) -> SetSlope | None:
    """Lay the line of spring length [m] against tension, one outlier left aside.

    None from too few springs, or where they lie too close together.
    """
    ropes = sorted(set(lengths) & set(tensions))
    if len(ropes) < _FEWEST:
        return None
    force = np.array([tensions[rope].value for rope in ropes])
    length = np.array([lengths[rope] for rope in ropes])
    kept = np.ones(len(ropes), dtype=bool)
    off = [_off_the_others(force, length, i, length_width) for i in range(len(ropes))]
    worst = int(np.argmax(off))
    if off[worst] > STANDS_OUT:
        kept[worst] = False
    line = _line(force[kept], length[kept], length_width)
    if line is None:
        return None
    softness, middle, doubt, scatter = line
    if softness <= 0.0 or doubt > 0.5 * softness:
        return None
    return SetSlope(
        rate=1.0 / softness,
        uncertainty=doubt / softness**2,
        mean_length=float(middle),
        mean_tension=float(force[kept].mean()),
        scatter=scatter,
    )


def _off_the_others(
    force: FloatArray, length: FloatArray, place: int, length_width: float
) -> float:
    """How far one spring lies off the line of the others, in its uncertainties."""
    others = np.arange(len(force)) != place
    line = _line(force[others], length[others], length_width)
    if line is None:
        return 0.0
    softness, middle, doubt, scatter = line
    away = force[place] - force[others].mean()
    expected = middle - softness * away
    width = sqrt(scatter**2 * (1.0 + 1.0 / others.sum()) + (doubt * away) ** 2)
    return float(abs(length[place] - expected) / width)


def _line(
    force: FloatArray, length: FloatArray, length_width: float
) -> tuple[float, float, float, float] | None:
    """Softness, mean length, uncertainty of softness and scatter, by least squares."""
    # forces are read far better than lengths, so lengths are laid on forces
    away = force - force.mean()
    power = float(away @ away)
    if power <= 0.0:
        return None
    softness = -float(away @ length) / power
    left = length - length.mean() + softness * away
    expected = hypot(length_width, FREE_LENGTH_SPREAD)
    spare = max(0, len(force) - 2)
    scatter = sqrt(
        (_WEIGHT_OF_EXPECTED * expected**2 + float(left @ left))
        / (_WEIGHT_OF_EXPECTED + spare)
    )
    return softness, float(length.mean()), scatter / sqrt(power), scatter
