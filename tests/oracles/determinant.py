"""Frequencies of a stiff rope as roots of the determinant of its boundary conditions.

The deflection is A sin k2 x + B cos k2 x + C exp(-k1 x) + D exp(-k1 (L - x)), one
column each; two conditions per end make the rows. An end may be clamped, pinned, or
held in slope on a lateral spring with a mass. Nothing is imported from the program
under test.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class End:
    """An end: held in slope or not, on a lateral spring with a mass, or fixed."""

    has_slope_held: bool
    stiffness: float = np.inf
    mass: float = 0.0


CLAMPED = End(has_slope_held=True)
PINNED = End(has_slope_held=False)


def determinant(
    rates: Floats,
    *,
    tension: float,
    linear_density: float,
    flexural_rigidity: float,
    free_length: float,
    ends: tuple[End, End],
) -> Floats:
    """Determinant at angular frequencies (n,), scaled to order one."""
    half = tension / (2 * flexural_rigidity)
    root = np.sqrt(half**2 + linear_density * rates**2 / flexural_rigidity)
    k1, k2 = np.sqrt(root + half), np.sqrt(root - half)
    rows = []
    for place, end in ((0.0, ends[0]), (free_length, ends[1])):
        columns = _columns(k1, k2, place, free_length)
        outward = 1.0 if place else -1.0
        if np.isinf(end.stiffness):
            rows.append(columns[0])
        else:
            # Force of the rope on the end: EI y''' - T y' outward, held by K - M w^2.
            shear = outward * (flexural_rigidity * columns[3] - tension * columns[1])
            hold = (end.stiffness - end.mass * rates**2)[:, None] * columns[0]
            rows.append((shear - hold) / (tension + flexural_rigidity * k2**2)[:, None])
        slope = columns[1] / k1[:, None]
        curvature = columns[2] / (k1**2)[:, None]
        rows.append(slope if end.has_slope_held else curvature)
    determinants: Floats = np.linalg.det(np.stack(rows, axis=1))
    return determinants


def _columns(k1: Floats, k2: Floats, place: float, length: float) -> list[Floats]:
    """The four functions and three derivatives at one place, each (n, 4)."""
    near, far = np.exp(-k1 * place), np.exp(-k1 * (length - place))
    sine, cosine = np.sin(k2 * place), np.cos(k2 * place)
    return [
        np.stack(columns, axis=1)
        for columns in (
            (sine, cosine, near, far),
            (k2 * cosine, -k2 * sine, -k1 * near, k1 * far),
            (-(k2**2) * sine, -(k2**2) * cosine, k1**2 * near, k1**2 * far),
            (-(k2**3) * cosine, k2**3 * sine, -(k1**3) * near, k1**3 * far),
        )
    ]


def find_frequencies(
    n_frequencies: int,
    *,
    tension: float,
    linear_density: float,
    flexural_rigidity: float,
    free_length: float,
    ends: tuple[End, End],
) -> Floats:
    """Lowest frequencies [Hz]: changes of sign on a fine scan, then bisection."""

    def of(rates: Floats) -> Floats:
        return determinant(
            rates,
            tension=tension,
            linear_density=linear_density,
            flexural_rigidity=flexural_rigidity,
            free_length=free_length,
            ends=ends,
        )

    string = np.pi / free_length * np.sqrt(tension / linear_density)
    beam = (np.pi / free_length) ** 2 * np.sqrt(flexural_rigidity / linear_density)
    most = n_frequencies + 2
    highest = string * most + beam * most**2
    rates = np.linspace(0.0, highest, 20_000)[1:]
    value = of(rates)
    places = np.flatnonzero(np.sign(value[1:]) != np.sign(value[:-1]))[:n_frequencies]
    low, high = rates[places], rates[places + 1]
    falling = value[places]
    for _ in range(60):
        middle = 0.5 * (low + high)
        same = np.sign(of(middle)) == np.sign(falling)
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    return 0.5 * (low + high) / (2 * np.pi)
