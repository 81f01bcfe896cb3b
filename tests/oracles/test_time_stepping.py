"""Time stepping against what a string must do, and against finer grids."""

import numpy as np
import pytest

from tests.oracles.time_stepping import Grid, frequency_of_crossings, step_through


def _frequency(n_cells: int, flexural_rigidity: float = 0.0) -> float:
    grid = Grid(
        free_length=5.0,
        tension=np.full(n_cells, 3500.0),
        linear_density=0.35,
        flexural_rigidity=flexural_rigidity,
    )
    shape = 1e-3 * np.sin(np.pi * grid.places / 5.0)
    step = 0.2 / n_cells**1.5 / 10
    seen = step_through(
        grid,
        shape=shape,
        velocity=np.zeros_like(shape),
        step=step,
        n_steps=int(0.55 / step),
        watch=lambda now: float(now[n_cells // 2]),
    )
    return frequency_of_crossings(seen, step)


def test_a_sine_swings_at_the_frequency_of_the_string() -> None:
    # 100 m/s over 5 m: 10 Hz; the grid of n cells is slow by (pi/n)^2/24.
    coarse, fine = _frequency(20), _frequency(40)
    assert coarse == pytest.approx(10.0, rel=2e-3)
    assert (10.0 - coarse) / (10.0 - fine) == pytest.approx(4.0, rel=0.1)


def test_a_stiff_rope_with_pinned_ends_swings_faster() -> None:
    # B = pi^2 EI/(T L^2) = 0.02 for EI = 177.3 N m2: faster by sqrt(1.02).
    rigidity = 0.02 * 3500.0 * 25.0 / np.pi**2
    assert _frequency(20, rigidity) / _frequency(20) == pytest.approx(
        np.sqrt(1.02), rel=2e-4
    )


def test_crossings_of_a_sine_give_its_frequency() -> None:
    time = np.arange(0, 2, 1e-3)
    assert frequency_of_crossings(
        np.sin(2 * np.pi * 7.3 * time - 0.4), 1e-3
    ) == pytest.approx(7.3, rel=1e-7)
