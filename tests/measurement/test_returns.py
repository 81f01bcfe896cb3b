"""Timed wave returns: tension, reaction time, own weight, refusals."""

import numpy as np
import pytest

from tension.installation import HitchEnd, Lift
from tension.measurement.combine import SetMeasurement
from tension.measurement.readings import ReturnsReading
from tension.measurement.series import measure_series
from tension.quantity.units import Dimension
from tests.measurement.sets import DENSITY, GRAVITY, SERIES, quantity, rope_set, span


def returns(rope: int, elapsed: list[float], count: int = 5) -> ReturnsReading:
    return ReturnsReading(
        series="as found",
        rope=rope,
        count=count,
        elapsed=tuple(quantity(e, Dimension.TIME) for e in elapsed),
    )


def measured(
    length: float,
    readings: list[ReturnsReading],
    hitch_end: HitchEnd = HitchEnd.LOWER,
    density: float | None = DENSITY,
) -> SetMeasurement:
    from dataclasses import replace

    rope = rope_set(length=length, one_height=True, density=density, construction="")
    rope = replace(rope, spans=(span(length, hitch_end),))
    return measure_series(rope_set=rope, lift=Lift(), series=SERIES, readings=readings)


def test_five_returns_on_sixty_metres() -> None:
    # own arithmetic: 0.58 (2 x 5 x 60/6.46)^2 = 5003 N at mid-length
    lower, upper = (
        measured(60.0, [returns(1, [6.46] * 5)], end).ropes[0].tension
        for end in (HitchEnd.LOWER, HitchEnd.UPPER)
    )
    assert lower is not None
    assert upper is not None
    # ends differ by m g L = 341 N; stiffness at its middle shortens the way by 0.3 %
    assert upper.value - lower.value == pytest.approx(DENSITY * GRAVITY * 60, rel=1e-9)
    assert (upper.value + lower.value) / 2 == pytest.approx(5003.0, rel=0.01)


def test_reaction_time_is_in_the_uncertainty() -> None:
    once = measured(60.0, [returns(1, [6.46])])
    often = measured(60.0, [returns(1, [6.46, 6.40, 6.52, 6.44, 6.48])])
    one, five = (float(np.sqrt(m.covariance[0, 0])) for m in (once, often))
    # 2 x 0.12/6.46 = 3.7 % for one, widened for showing no scatter
    assert 0.037 < one < 0.055
    assert five < one / np.sqrt(4)


def test_ten_metres_are_too_short_for_a_stopwatch() -> None:
    found = measured(10.0, [returns(1, [1.077] * 5)])
    refusal = found.ropes[0].refusal
    assert refusal is not None
    assert refusal.code == "too-short-for-stopwatch"
    assert "too short for a stopwatch" in refusal.text
    assert "22 %" in refusal.text  # 2 x 0.12/1.077


def test_what_is_just_exact_enough_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    from tension.measurement import waves

    # 2 x 0.12 s of 2 s, and half of it by four timings
    for limits, is_taken in (((0.12, 0.06), True), ((0.119, 1.0), False)):
        monkeypatch.setattr(waves, "_MOST_OF_ONE", limits[0])
        monkeypatch.setattr(waves, "_MOST_BY_REACTION", limits[1])
        found = measured(20.0, [returns(1, [2.0] * 4)])
        assert bool(found.given) is is_taken


def test_three_metres_are_told_so_too() -> None:
    found = measured(3.4, [returns(1, [0.354, 0.351])])
    assert found.given == ()


def test_twenty_metres_need_repeats() -> None:
    assert measured(20.0, [returns(1, [2.154])]).given == ()
    assert measured(20.0, [returns(1, [2.154] * 5)]).given == (1,)


def test_shares_without_linear_density() -> None:
    found = measured(
        60.0, [returns(1, [6.46] * 5), returns(2, [6.80] * 5)], density=None
    )
    assert not found.is_absolute
    ratio = found.hypotheses[0].tensions[0] / found.hypotheses[0].tensions[1]
    # (6.80/6.46)^2 at mid-length; half the weight off both makes 0.3 % more of it
    assert ratio == pytest.approx((6.80 / 6.46) ** 2, rel=0.006)


def test_nonsense_is_refused() -> None:
    found = measured(60.0, [returns(1, [0.0]), returns(2, [6.4] * 5, count=0)])
    assert [r.refusal.code for r in found.ropes[:2] if r.refusal] == [
        "returns-not-positive"
    ] * 2


def test_ropes_slower_than_their_own_weight_allows_are_slack() -> None:
    # 60 m in the middle: g L/2 = 294 m2/s2 is half of it at 2 x 60/sqrt(588) = 4.9 s
    # for a return, were it not for the weight itself: (v^2 + 147^2/v^2) = 588, v = 23.4
    slow, slower = 2 * 60 / 23.6, 2 * 60 / 23.1
    found = measured(60.0, [returns(1, [5 * slow] * 3), returns(2, [5 * slower] * 3)])
    assert found.given == (1,)
    refusal = found.ropes[1].refusal
    assert refusal is not None
    assert refusal.code == "too-slack"
    # 1.4 % of time is no quarter of a tension
    apart = measured(60.0, [returns(1, [5 * slower, 5 * slower * 1.014])])
    assert [r.refusal.code for r in apart.ropes[:1] if r.refusal] == ["too-slack"]
