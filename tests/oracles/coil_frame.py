"""A helical spring as a space frame of straight beam elements.

Twelve degrees of freedom an element (stretch, twist, two bendings; no shear), one end
clamped, the other free to move along the axis only. Imports nothing from the package.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def _element(length: float, ea: float, gj: float, ei: float) -> Array:
    """Stiffness of a beam element in its own axes."""
    k = np.zeros((12, 12))
    for i, j, rate in ((0, 6, ea / length), (3, 9, gj / length)):
        k[i, i] += rate
        k[j, j] += rate
        k[i, j] -= rate
        k[j, i] -= rate
    for v1, r1, v2, r2, sign in ((1, 5, 7, 11, 1.0), (2, 4, 8, 10, -1.0)):
        places = [v1, r1, v2, r2]
        block = (ei / length**3) * np.array(
            [
                [12, sign * 6 * length, -12, sign * 6 * length],
                [sign * 6 * length, 4 * length**2, -sign * 6 * length, 2 * length**2],
                [-12, -sign * 6 * length, 12, -sign * 6 * length],
                [sign * 6 * length, 2 * length**2, -sign * 6 * length, 4 * length**2],
            ]
        )
        k[np.ix_(places, places)] += block
    return k


def coil_rate(
    *,
    wire_diameter: float,
    mean_coil_diameter: float,
    n_coils: float,
    pitch: float,
    shear_modulus: float,
    poisson: float = 0.3,
    per_turn: int = 48,
) -> float:
    """Axial rate of the coil between two ends that cannot turn."""
    d, radius = wire_diameter, mean_coil_diameter / 2.0
    young = 2.0 * shear_modulus * (1.0 + poisson)
    area, second = np.pi * d**2 / 4.0, np.pi * d**4 / 64.0
    n = round(per_turn * n_coils)
    angle = np.linspace(0.0, 2.0 * np.pi * n_coils, n + 1)
    points = np.column_stack(
        [radius * np.cos(angle), radius * np.sin(angle), pitch * angle / (2 * np.pi)]
    )
    size = 6 * (n + 1)
    stiffness = np.zeros((size, size))
    for i in range(n):
        along = points[i + 1] - points[i]
        length = float(np.linalg.norm(along))
        x = along / length
        y = np.cross([0.0, 0.0, 1.0], x)
        y /= np.linalg.norm(y)
        turn = np.kron(np.eye(4), np.vstack([x, y, np.cross(x, y)]))
        k = _element(length, young * area, shear_modulus * 2 * second, young * second)
        places = slice(6 * i, 6 * i + 12)
        stiffness[places, places] += turn.T @ k @ turn
    free = np.r_[6 : size - 6, size - 4]  # last node: only along the axis
    force = np.zeros(size)
    force[size - 4] = 1.0
    moved = np.linalg.solve(stiffness[np.ix_(free, free)], force[free])
    return 1.0 / float(moved[-1])
