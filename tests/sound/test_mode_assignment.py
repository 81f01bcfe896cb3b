"""Rival assignments of made lines."""

import numpy as np
import pytest

from tension.sound.candidates import find_candidates
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.mode_assignment import (
    _dispersion_grid,
    find_assignments,
    find_series,
    weigh_series,
)
from tension.sound.spectra import Lines, believed
from tension.sound.string_fit import PartialSeries
from tests.sound.made import clamped_pinned_modes, fitted, made_lines

# 3 m at 90 m/s with EI/m 15: 15.3 Hz, partials 13 % sharp at the 20th
MODES = clamped_pinned_modes(3.0, 90.0, 15.0, 40)


def _lines(frequencies: np.ndarray, level: float = 30.0, seed: int = 0) -> Lines:
    rng = np.random.default_rng(seed)
    f = np.sort(frequencies)
    levels = 10.0 ** (0.1 * (level + rng.uniform(-6.0, 6.0, f.size)))
    return made_lines(f + 0.02 * rng.standard_normal(f.size), levels)


def _best(lines: Lines) -> float:
    series = find_series(lines, 1.2, 65.0, 1e-3, 1)
    found = find_assignments(lines, series, (1.2, 65.0))
    return float(found.fundamental_frequencies[0])


@pytest.mark.parametrize(
    "seen",
    [
        np.arange(0, 12),
        np.arange(5, 18),  # the fundamental and four more behind a low cut
        np.arange(0, 15, 2),  # a pluck at mid-span: odd partials only
        np.array([k for k in range(14) if (k + 1) % 3]),  # at a third
    ],
    ids=["all", "low cut", "odd only", "no third"],
)
def test_the_fundamental_is_found(seen: np.ndarray) -> None:
    for seed in range(5):
        assert _best(_lines(MODES[seen], seed=seed)) == pytest.approx(
            MODES[0], rel=3e-3
        )


def test_stray_lines_do_not_move_the_comb() -> None:
    rng = np.random.default_rng(5)
    stray = rng.uniform(20.0, 400.0, 8)
    lines = _lines(np.concatenate([MODES[1:14], stray]), seed=1)
    assert _best(lines) == pytest.approx(MODES[0], rel=3e-3)


def test_half_and_double_spacing_lose() -> None:
    lines = _lines(MODES[:14])
    fit = fitted(lines, 15.0, 9e-6)
    series = PartialSeries(
        string_fundamentals=fit.string_fundamental * np.array([1.0, 0.5, 2.0]),
        dispersions=np.full(3, fit.dispersion),
    )
    right, half, double = weigh_series(lines, series).log_likelihoods
    # each hole between strong lines and each line not told costs two nats
    assert right > half + 15.0
    assert right > double + 15.0


def _weigh(lines: Lines, string_fundamental: float, dispersion: float) -> float:
    series = PartialSeries(
        string_fundamentals=np.array([string_fundamental]),
        dispersions=np.array([dispersion]),
    )
    return float(weigh_series(lines, series).log_likelihoods[0])


def test_a_loud_stray_line_far_above_counts_no_partials_missing_below_it() -> None:
    lines = _lines(MODES[:10], level=35.0)
    fit = fitted(lines, 15.0, 9e-6)
    clean = _weigh(lines, fit.string_fundamental, fit.dispersion)
    stray = _lines(np.append(MODES[:10], 900.3), level=35.0)
    # thirty places between, each of which would cost two nats
    assert _weigh(stray, fit.string_fundamental, fit.dispersion) > clean - 3.0


def test_what_is_hum_speaks_for_no_comb_that_fits_it_exactly() -> None:
    n = np.arange(1.0, 13.0)
    lines = _lines(25.0 * n, level=40.0)
    # every other line stands at 50 Hz n and is most likely hum
    hum = np.where(n % 2 == 0, 0.05, 1.0)
    only_hum = believed(lines, np.where(n % 2 == 0, 0.05, 0.0))
    whole = _weigh(lines, 25.0, 1e-9)
    assert _weigh(only_hum, 25.0, 1e-9) < 0.05 * whole
    assert 0.3 * whole < _weigh(believed(lines, hum), 25.0, 1e-9) < 0.7 * whole


def test_a_node_is_named() -> None:
    lines = _lines(MODES[np.arange(0, 15, 2)])
    fit = fitted(lines, 15.0, 9e-6)
    partials = PartialSeries(
        string_fundamentals=np.array([fit.string_fundamental]),
        dispersions=np.array([fit.dispersion]),
    )
    assert weigh_series(lines, partials).node_orders[0] == 2


def test_the_fit_returns_spacing_and_stiffness() -> None:
    lines = _lines(MODES[2:16])
    fit = fitted(lines, 15.2, 8e-6)
    assert fit.fundamental_frequency == pytest.approx(MODES[0], rel=1e-3)
    # c = 90 m/s, EI/m = 15: bending 2 pi sqrt(15) / 90^2
    assert fit.sqrt_dispersion == pytest.approx(
        2 * np.pi * np.sqrt(15.0) / 90.0**2, rel=0.02
    )
    assert np.sqrt(fit.covariance[0, 0]) < 1e-3


def test_dispersions_are_tried_finely_enough() -> None:
    grid = _dispersion_grid(10.0, 300.0, 1e-3)
    assert grid[0] == 0.0
    assert grid[-1] >= 1e-3
    # step at the start: 2 f_0/u^3 with u = 300 Hz, or a fifty-thousandth of the range
    assert np.diff(grid)[0] == pytest.approx(max(2 * 10.0 / 300.0**3, 2e-7), rel=0.01)
    assert grid.size < 600


def _rope_and_thirds(level_between: float) -> Lines:
    """Partials of a rope of 36 Hz at 50 dB, and lines between at every third."""
    places = np.arange(1.0, 37.0)
    levels = np.where(places % 3 == 0, 50.0, 50.0 + level_between)
    n = places.size
    return Lines(
        frequencies=12.0 * places * np.sqrt(1.0 + 2e-5 * places**2),
        uncertainties=np.full(n, 2e-3),
        levels=10.0 ** (0.1 * levels),
        durations=np.full(n, 2.4),
        false_densities=np.full(n, 1e-9),
        densities=np.full(n, 2e-3),
        weights=np.ones(n),
    )


def test_faint_lines_between_partials_are_no_rope_of_a_third_of_the_pitch() -> None:
    # no place of pluck or sensor hides all but every third partial
    span = RopeSpan(number=1, free_length=1.2)
    heard = find_candidates(_rope_and_thirds(-18.0), span, HearingPrior())
    assert heard[0].fit.fundamental_frequency == pytest.approx(36.0, rel=0.01)
    loud = find_candidates(_rope_and_thirds(0.0), span, HearingPrior())
    assert loud[0].fit.fundamental_frequency == pytest.approx(12.0, rel=0.01)
