"""A taut string or stiff rope stepped through time, and the frequency of what it does.

Central differences in space and time on an even grid. Tension may change along the rope
and with its stretch. Nothing is imported from the program under test.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Grid:
    """A rope on a grid: tension at the cell middles (n_cells,) [N], and constants.

    Attributes
    ----------
    free_length : float
        [m]
    tension : ndarray, shape (n_cells,)
        At the middle of every cell. [N]
    linear_density : float
        [kg/m]
    flexural_rigidity : float
        [N m2]; pinned ends.
    axial_stiffness : float
        Stretch raises the tension everywhere by this times it. [N/m]
    """

    free_length: float
    tension: Floats
    linear_density: float
    flexural_rigidity: float = 0.0
    axial_stiffness: float = 0.0

    @property
    def cell(self) -> float:
        """Cell length. [m]"""
        return self.free_length / len(self.tension)

    @property
    def places(self) -> Floats:
        """Places of the nodes, ends included. [m]"""
        return np.linspace(0.0, self.free_length, len(self.tension) + 1)

    def acceleration(self, shape: Floats) -> Floats:
        """Acceleration of the nodes (..., n_cells + 1), the ends held."""
        slope = np.diff(shape, axis=-1) / self.cell
        stretch = 0.5 * self.cell * np.sum(slope**2)
        pull = (self.tension + self.axial_stiffness * stretch) * slope
        force = np.zeros_like(shape)
        force[..., 1:-1] = np.diff(pull, axis=-1) / self.cell
        if self.flexural_rigidity:
            curvature = np.zeros_like(shape)
            curvature[..., 1:-1] = np.diff(slope, axis=-1) / self.cell
            moment = np.diff(curvature, n=2, axis=-1) / self.cell**2
            force[..., 1:-1] -= self.flexural_rigidity * moment
        return force / self.linear_density


def step_through(
    grid: Grid,
    *,
    shape: Floats,
    velocity: Floats,
    step: float,
    n_steps: int,
    watch: Callable[[Floats], float],
) -> Floats:
    """What `watch` sees of the shape at every step, the start included."""
    now = shape.copy()
    before = now - step * velocity + 0.5 * step**2 * grid.acceleration(now)
    seen = [watch(now)]
    for _ in range(n_steps):
        before, now = now, 2 * now - before + step**2 * grid.acceleration(now)
        seen.append(watch(now))
    return np.array(seen)


def frequency_of_crossings(signal: Floats, step: float) -> float:
    """Frequency [Hz] from upward crossings of zero, placed by cubic interpolation."""
    rising = np.flatnonzero((signal[:-1] < 0) & (signal[1:] >= 0))
    rising = rising[(rising >= 1) & (rising + 2 < len(signal))]
    times = [
        (place + _crossing(signal[place - 1 : place + 3])) * step for place in rising
    ]
    return float((len(times) - 1) / (times[-1] - times[0]))


def _crossing(window: Floats) -> float:
    """Where the cubic through four values at -1, 0, 1, 2 crosses zero, from 0 to 1."""
    cubic = np.polynomial.Polynomial.fit(np.arange(-1, 3), window, 3)
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if cubic(middle) < 0 else (low, middle)
    return low
