"""What ropes of one reel share when they have been measured: their stiffness."""

from dataclasses import replace

import numpy as np
import pytest

from tension.sound.hearing import HearingPrior, RopeHearing
from tension.sound.measure_rope import Measured, share_stiffness

LENGTH = 3.0


def _measured(
    number: int,
    error: float = 0.0,
    bending_error: float = 0.0,
    length: float | None = LENGTH,
) -> Measured:
    speed = 2.0 * LENGTH * 15.0
    sqrt_dispersion = 8.0 * np.pi / speed**2
    # extrapolated from high partials: ln f_1 and the bending err together
    spread = 0.2 * sqrt_dispersion
    cross = -0.95 * 2e-3 * spread
    return Measured(
        rope=RopeHearing(number=number, fundamental_frequency=15.0 * np.exp(error)),
        length=length,
        string_fundamental=15.0 * np.exp(error),
        sqrt_dispersion=sqrt_dispersion * (1.0 + bending_error),
        covariance=np.array([[4e-6, cross], [cross, spread**2]]),
    )


def test_a_bending_known_from_the_others_corrects_the_fundamental() -> None:
    known = np.diag([1e-8, (2e-3 * 8.0 * np.pi / 90.0**2) ** 2])
    good = [replace(_measured(2 * k), covariance=known) for k in (2, 3, 4)]
    # bending 20 % low, one standard deviation: the fundamental is 0.19 % high
    shared = share_stiffness([_measured(1, 1.9e-3, -0.2), *good], HearingPrior())
    rope = shared.ropes[0]
    assert np.log(rope.fundamental_frequency / 15.0) == pytest.approx(0.0, abs=1.9e-4)
    assert rope.relative_uncertainty == np.sqrt(shared.covariance[0, 0]) < 1e-3
    assert shared.rigidity_per_density == pytest.approx(16.0, rel=0.02)


def test_lengths_unknown_share_nothing() -> None:
    measured = [_measured(1, 1.9e-3, -0.2, length=None), _measured(2)]
    shared = share_stiffness(measured, HearingPrior())
    before = [one.rope.fundamental_frequency for one in measured]
    assert [rope.fundamental_frequency for rope in shared.ropes] == before
    assert np.isnan(shared.rigidity_per_density)
