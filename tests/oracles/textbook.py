"""Textbook formulas of strings and stiff strings, for limits and tables."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def ideal_string_tension(
    *,
    frequency: ArrayLike,
    mode_number: ArrayLike,
    free_length: ArrayLike,
    linear_density: ArrayLike,
) -> FloatArray:
    """m (2 L f/n)^2. [N]"""
    wave_speed = 2 * np.asarray(free_length) * np.asarray(frequency)
    found = np.asarray(linear_density) * (wave_speed / np.asarray(mode_number)) ** 2
    return np.asarray(found, dtype=float)[()]


def bending_length(
    *, squared_wave_speed: ArrayLike, rigidity_per_density: ArrayLike
) -> FloatArray:
    """sqrt(EI/T). [m]"""
    ratio = np.asarray(rigidity_per_density) / np.asarray(squared_wave_speed)
    return np.asarray(np.sqrt(ratio))


def inharmonicity_from_rigidity(
    *,
    squared_wave_speed: ArrayLike,
    free_length: ArrayLike,
    rigidity_per_density: ArrayLike,
) -> FloatArray:
    """B = pi^2 EI/(T L^2), pinned partials standing at n f sqrt(1 + B n^2). [1]"""
    bending = bending_length(
        squared_wave_speed=squared_wave_speed, rigidity_per_density=rigidity_per_density
    )
    return np.asarray((np.pi * bending / np.asarray(free_length)) ** 2)
