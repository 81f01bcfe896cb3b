"""Bounds while lengths or ropes are missing, verdicts, and whose repeat would help."""

from dataclasses import replace
from math import log

import numpy as np
import pytest
from scipy.optimize import nnls
from scipy.stats import norm

from tension.assessment import decide, interval
from tension.assessment.decide import (
    Assessment,
    Verdict,
    assess_set,
    rank_repeats,
    verdict_of,
)
from tension.assessment.interval import (
    Interval,
    SetSimulation,
    Spread,
    SpreadShape,
    _differences,
    _nonnegative_least_squares,
)
from tension.catalogue.rules import Metric
from tension.measurement.combine import (
    Premise,
    SetMeasurement,
    TensionHypothesis,
    read_only,
)
from tension.measurement.rope_figures import LengthKnowledge
from tension.sound.hearing import Rival
from tests.noted import codes
from tests.synthesis.measured_sets import RULE, measured


@pytest.mark.parametrize(
    ("metric", "lower", "upper"),
    [
        # the ratio of the extremes nearer and farther by 1.1: 0.8 x 1.1, 0.7 / 1.1
        (Metric.BELOW_HIGHEST, 0.12, 1 - 0.7 / 1.1),
        (Metric.ABOVE_LOWEST, 1.2 / 1.1 - 1, 1.3 * 1.1 - 1),
        # no less than the range over the highest, no more than over the lowest
        (Metric.RANGE_OF_MEAN, 0.01, 1.1 / 0.85 - 1),
        # 1.2/1.1 - 1 = 9.1 %, under 1 - 0.8 x 1.1 = 12 % of a rope below; 1.1/0.85 - 1
        (Metric.OFF_MEAN, 1.2 / 1.1 - 1, 1.1 / 0.85 - 1),
    ],
)
def test_a_stagger_widens_as_it_does_on_paper(
    metric: Metric, lower: float, upper: float
) -> None:
    found = Interval(observed=0.25, lower=0.2, upper=0.3)
    ratio = Interval(observed=0.12, lower=0.1, upper=0.15)
    if metric is Metric.BELOW_HIGHEST:
        ratio = found
    widened = decide._with_any_stagger(found, 1.1, metric, ratio)
    assert widened == pytest.approx((lower, upper), rel=1e-12)


def test_one_rope_far_below_the_others_is_bounded_by_what_is_off_below() -> None:
    # 30 % off the mean: nearer to it by the stagger above, 1 - 0.7 x 1.2 = 16 %, is
    # more than 1.3/1.2 - 1 = 8.3 %; half the range over its middle is more still
    found = Interval(observed=0.3, lower=0.3, upper=0.3)
    ratio = Interval(observed=0.4, lower=0.4, upper=0.4)
    lower, upper = decide._with_any_stagger(found, 1.2, Metric.OFF_MEAN, ratio)
    assert lower == pytest.approx(0.28 / 1.72, rel=1e-12)
    assert upper == pytest.approx(1.3 * 1.2 - 1, rel=1e-12)
    wide = Interval(observed=0.02, lower=0.01, upper=0.02)
    nothing = decide._with_any_stagger(wide, 1.2, Metric.OFF_MEAN, ratio=wide)
    assert nothing[0] == 0.0
    assert decide._with_any_stagger(wide, 1.2, Metric.ABOVE_LOWEST, wide)[0] == 0.0


def test_sockets_stand_no_further_apart_than_is_common() -> None:
    # without uncertainty: 100/95 more or less by the square of 3.4/(3.4 - 0.15)
    found = assessed_unknown([95.0, 100.0, 97.0], Metric.ABOVE_LOWEST)
    factor = (3.4 / 3.25) ** 2
    assert found.spread.upper == pytest.approx(100 / 95 * factor - 1, abs=3e-6)
    assert found.spread.lower == 0.0
    (note,) = [n for n in found.notes if n.code == "length-question"]
    assert "150 mm" in note.text


@pytest.mark.parametrize("metric", list(Metric))
def test_a_spread_that_nothing_bounds_has_no_upper_bound_by_any_stagger(
    metric: Metric,
) -> None:
    found = measured([95.0, 100.0, 97.0], lengths=LengthKnowledge.UNKNOWN)
    # one of 25 alike is 4 %, which nothing bounds
    cases = at(*[(1 / 25, [95.0, 100.0, 97.0])] * 25)
    rule = replace(RULE, metric=metric)
    assessed = assess_set(replace(found, hypotheses=cases), rule)
    assert assessed.spread.upper is None


def assessed_unknown(tensions: list[float], metric: Metric) -> Assessment:
    """A set of one length, 3.4 m, whose sockets may be staggered."""
    found = measured(tensions, relative=0.0, lengths=LengthKnowledge.UNKNOWN)
    found = replace(found, free_lengths=(3.4,) * len(tensions))
    return assess_set(found, replace(RULE, metric=metric, limit=0.1))


@pytest.mark.parametrize(
    ("lower", "upper", "verdict"),
    [
        (0.1000011, 0.3, Verdict.UNEQUAL),
        (0.1000009, 0.3, Verdict.CANNOT_TELL),
        (0.05, 0.1000009, Verdict.EQUAL),
        (0.05, 0.1000011, Verdict.CANNOT_TELL),
        (0.05, 0.1 + 1e-6, Verdict.EQUAL),
        (0.1 + 1e-6, 0.3, Verdict.CANNOT_TELL),
        (None, 0.05, Verdict.EQUAL),
        (0.2, None, Verdict.UNEQUAL),
        (0.05, None, Verdict.CANNOT_TELL),
        (None, None, Verdict.CANNOT_TELL),
    ],
)
def test_a_bound_a_hair_over_the_limit_lies_on_it(
    lower: float | None, upper: float | None, verdict: Verdict
) -> None:
    spread = Spread(metric=Metric.OFF_MEAN, lower=lower, upper=upper)
    assert verdict_of(spread, 0.1) is verdict


def at(*cases: tuple[float, list[float]]) -> tuple[TensionHypothesis, ...]:
    """Hypotheses by weight and tensions."""
    return tuple(
        TensionHypothesis(weight=weight, tensions=np.array(tensions))
        for weight, tensions in cases
    )


@pytest.mark.parametrize(("n", "is_bounded"), [(24, True), (25, False)])
def test_the_heaviest_two_dozen_numberings_are_weighed(
    n: int,
    is_bounded: bool,  # noqa: FBT001
) -> None:
    # one of 25 alike is 4 %, which nothing bounds
    every = at(*[(1 / n, [100.0, 101.0, 99.0])] * n)
    found = SetSimulation(every, 1e-4 * np.eye(3), 400).interval(Metric.OFF_MEAN)
    assert bool(np.isfinite(found.upper)) is is_bounded
    assert (found.lower > 0 or found.upper < 0.05) is is_bounded


@pytest.mark.parametrize(
    ("weight", "is_bounded"), [(0.976, True), (0.974, False), (1.02, True)]
)
def test_a_weight_that_is_missing_bounds_nothing_from_two_and_a_half_per_cent(
    weight: float,
    is_bounded: bool,  # noqa: FBT001
) -> None:
    one = at((weight, [100.0, 110.0]))
    found = SetSimulation(one, 1e-6 * np.eye(2)).interval(Metric.ABOVE_LOWEST)
    assert bool(np.isfinite(found.upper)) is is_bounded


def test_what_is_kept_for_other_sets_cannot_be_written_to() -> None:
    for kept in (
        interval._standard_draws(3, 8),
        _differences(SpreadShape.LOG_RANGE, 3),
        read_only([1.0]),
    ):
        with pytest.raises(ValueError, match="read-only"):
            kept[...] = 1.0


def test_draws_are_white_and_each_has_its_mirror() -> None:
    draws = interval._standard_draws(3, 4000)
    assert draws.shape == (3, 4000)
    assert draws[:, :2000] == pytest.approx(-draws[:, 2000:], abs=1e-12)
    assert draws @ draws.T / 4000 == pytest.approx(np.eye(3), abs=1e-12)
    # of the one seed, so that the same readings give the same bounds
    raw = np.random.default_rng(20240917).standard_normal((3, 2000))
    assert draws[0, :2000] == pytest.approx(raw[0] / np.sqrt((raw[0] ** 2).mean()))


def chance(apart: float, over: float, width: float) -> float:
    """Chance that two ropes so far apart, read with a width, look no further apart.

    Readings that look more alike than 16 % of those of equal ropes count as these.
    """
    alike = max(apart, norm.ppf(0.58) * width)
    return float(norm.cdf((alike - over) / width) - norm.cdf((-alike - over) / width))


@pytest.mark.parametrize(
    ("apart", "is_open"), [(0.10, True), (0.06, True), (0.02, False), (0.17, False)]
)
def test_the_doubt_of_two_ropes_is_that_of_a_difference(
    apart: float,
    is_open: bool,  # noqa: FBT001
) -> None:
    rule = replace(RULE, metric=Metric.ABOVE_LOWEST, limit=float(np.expm1(0.1)))
    found = decide._doubt(
        at((1.0, [100.0, 100 * np.exp(apart)])), 4e-4 * np.eye(2), rule
    )
    over = chance(apart, 0.1, 0.02 * np.sqrt(2))
    # 1000 draws, each with its mirror: 1.6 % at most
    assert found == pytest.approx(min(over, 1 - over) + is_open, abs=0.02)
    assert (found > 1) is is_open


def test_a_repeat_halves_one_variance_and_moves_one_rope() -> None:
    covariance = np.array([[4e-4, 1e-4], [1e-4, 9e-4]])
    every = list(decide._after_repeat(covariance, at((1.0, [100.0, 110.0])), 1))
    assert [weight for weight, _, _ in every] == pytest.approx([0.2] * 5)
    for (_, known, after), part in zip(every, (0.1, 0.3, 0.5, 0.7, 0.9), strict=True):
        assert after == pytest.approx(
            np.array([[4e-4, 1e-4 / np.sqrt(2)], [1e-4 / np.sqrt(2), 4.5e-4]])
        )
        moved = 110.0 * np.exp(np.sqrt(4.5e-4) * norm.ppf(part))
        assert known[0].tensions == pytest.approx([100.0, moved], rel=1e-9)
        assert known[0].weight == pytest.approx(1.0)


def test_a_repeat_settles_the_numbering_of_its_rope() -> None:
    cases = at((0.5, [100.0, 100.0]), (0.3, [100.0, 400.0]), (0.2, [101.9, 407.0]))
    groups = decide._grouped(cases, 1)
    assert [[h.weight for h in group] for group in groups] == [[0.5], [0.3, 0.2]]
    assert len(decide._grouped(cases, 0)) == 1
    apart = at((0.5, [100.0]), (0.5, [102.1]))
    assert len(decide._grouped(apart, 0)) == 2
    every = list(decide._after_repeat(1e-4 * np.eye(2), cases, 1))
    assert sum(weight for weight, _, _ in every) == pytest.approx(1.0)
    assert [h.weight for h in every[5][1]] == pytest.approx([0.6, 0.4])


def scripted(monkeypatch: pytest.MonkeyPatch, scores: list[float]) -> None:
    """Let the doubt be 1 now, and so much after a repeat of each rope."""

    def doubt(hypotheses, covariance, rule):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, ARG001
        halved = np.diag(covariance) < 0.9 * np.diag(covariance).max()
        return scores[int(np.argmax(halved))] if halved.any() else 1.0

    monkeypatch.setattr(decide, "_doubt", doubt)


def test_a_repeat_that_helps_by_less_than_two_per_cent_is_not_asked_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    scripted(monkeypatch, [0.981, 0.979, 0.5])
    assert rank_repeats(measured([5000.0] * 3), RULE) == (3, 2)
    scripted(monkeypatch, [0.995, 0.99, 0.99])
    assert rank_repeats(measured([5000.0] * 3), RULE) == (2,)


def premises(*cases: tuple[Premise, float, list[float]]) -> SetMeasurement:
    """Tensions under premises of the hitch, each with a covariance of its own."""
    return replace(
        measured([5000.0, 5000.0]),
        hypotheses=tuple(
            TensionHypothesis(
                weight=weight,
                tensions=np.array(tensions),
                covariance=1e-6 * np.eye(2),
                premise=premise,
            )
            for premise, weight, tensions in cases
        ),
    )


def test_an_answer_that_would_decide_is_asked_for() -> None:
    apart = premises(
        (Premise.SPRINGS, 0.6, [5000.0, 5100.0]), (Premise.NO_SPRINGS, 0.4, [5e3, 6e3])
    )
    found = assess_set(apart, RULE)
    assert found.verdict is Verdict.CANNOT_TELL
    (note,) = [n for n in found.notes if n.code == "springs-question"]
    assert note.text.index("equal") < note.text.index("unequal")
    neither = premises(
        (Premise.SPRINGS, 0.3, [5000.0, 5100.0]),
        (Premise.SPRINGS, 0.3, [5e3, 6e3]),
        (Premise.NO_SPRINGS, 0.2, [5000.0, 5100.0]),
        (Premise.NO_SPRINGS, 0.2, [5e3, 6e3]),
    )
    assert "springs-question" not in codes(assess_set(neither, RULE))


@pytest.mark.parametrize(("probability", "is_told"), [(0.0099, False), (0.0101, True)])
def test_a_rival_of_one_per_cent_is_told(
    probability: float,
    is_told: bool,  # noqa: FBT001
) -> None:
    plain = measured([5000.0, 5010.0])
    doubtful = replace(
        plain.ropes[1],
        rivals=(
            Rival(fundamental_frequency=30.0, probability=0.6 * probability),
            Rival(fundamental_frequency=7.0, probability=0.4 * probability),
        ),
    )
    found = assess_set(replace(plain, ropes=(plain.ropes[0], doubtful)), RULE)
    told = [n.ropes for n in found.notes if n.code == "rivals-widen"]
    assert told == ([(2,)] if is_told else [])


def test_a_summary_has_spread_bounds_limit_and_ropes() -> None:
    found = assess_set(measured([4000.0, 5000.0, 5000.0], relative=0.0), RULE)
    assert found.summary() == (
        "unequal, 20.0 % (20.0 to 20.0 %), lowest-below-highest at most 10 %, "
        "3 of 3 ropes"
    ).replace("lowest-below-highest", RULE.metric.value)
    rows = found.to_rows()
    assert [row["rope"] for row in rows] == [1, 2, 3]
    assert rows[0]["share"] == pytest.approx(4000 / (14000 / 3))


@pytest.mark.parametrize("n", [3, 6, 9])
def test_least_squares_that_are_not_negative_are_those_of_another_solver(
    n: int,
) -> None:
    rng = np.random.default_rng(n)
    for _ in range(20):
        rows = rng.normal(0, 1, (n * (n - 1), n))
        moment = rng.normal(0.2, 1, len(rows))
        # min u'RR'u/2 - m'u has the dual rows x >= m, min x'x/2: take RR' regular
        square = rows[:n]
        found = _nonnegative_least_squares(square @ square.T, moment[:n])
        wanted, _ = nnls(square.T, np.linalg.solve(square, moment[:n]))
        assert found == pytest.approx(wanted, rel=1e-6, abs=1e-8)


def test_a_reading_within_the_set_needs_no_force() -> None:
    assert not _nonnegative_least_squares(np.eye(3), np.array([-1.0, -2.0, 0.0])).any()
    one = _nonnegative_least_squares(np.eye(3), np.array([1.0, -2.0, 1e-12]))
    assert one == pytest.approx([1.0, 0.0, 0.0], abs=2e-12)


def test_a_limit_of_all_is_never_over() -> None:
    assert interval.log_range_from_spread(1.0, Metric.BELOW_HIGHEST) == np.inf
    nearly = interval.log_range_from_spread(0.999, Metric.BELOW_HIGHEST)
    assert nearly == pytest.approx(log(1000.0))
    assert interval.spread_from_log_range(701.0, Metric.ABOVE_LOWEST) == np.inf
    most = interval.spread_from_log_range(700.0, Metric.ABOVE_LOWEST)
    assert most == pytest.approx(np.exp(700.0))


@pytest.mark.parametrize(
    ("metric", "lower"),
    [
        (Metric.BELOW_HIGHEST, 0.3),
        (Metric.ABOVE_LOWEST, 100 / 70 - 1),
        # half the range over its middle, 15/85, and the range over the highest
        (Metric.OFF_MEAN, 15 / 85),
        (Metric.RANGE_OF_MEAN, 0.3),
    ],
)
def test_a_missing_rope_may_carry_anything(metric: Metric, lower: float) -> None:
    found = measured([100.0, 90.0, 70.0, 95.0], relative=0.0)
    lost = replace(found.ropes[3], tension=None)
    found = replace(
        found,
        ropes=(*found.ropes[:3], lost),
        hypotheses=at((1.0, [100.0, 90.0, 70.0])),
        covariance=np.zeros((3, 3)),
    )
    spread = assess_set(found, replace(RULE, metric=metric)).spread
    assert spread.lower == pytest.approx(lower, abs=3e-6)
    assert spread.upper is None
    assert spread.probability_over_limit is None


def test_one_premise_alone_asks_nothing() -> None:
    one = premises(
        (Premise.SPRINGS, 0.6, [5000.0, 5100.0]), (Premise.SPRINGS, 0.4, [5e3, 6e3])
    )
    found = assess_set(one, RULE)
    assert found.verdict is Verdict.CANNOT_TELL
    assert "springs-question" not in codes(found)


def test_bounds_are_looked_for_two_and_a_half_widths_away(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    guesses: list[tuple[float, float]] = []

    def crossing(rising, guess, *, level=0.025):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202, ARG001
        guesses.append(guess)
        return guess[0]

    monkeypatch.setattr(interval, "_crossing", crossing)
    cases = (
        TensionHypothesis(weight=0.7, tensions=np.array([100.0, 140.0])),
        TensionHypothesis(
            weight=0.3,
            tensions=np.array([100.0, 101.0]),
            covariance=np.diag([1e-4, 9e-4]),
        ),
    )
    SetSimulation(cases, 4e-4 * np.eye(2), 100).interval(Metric.ABOVE_LOWEST)
    # of a difference of two readings of the widest, and a ten millionth
    width = 2.5 * (np.sqrt(2) * 0.03 + 1e-7)
    observed = log(1.4)
    assert np.array(guesses) == pytest.approx(
        np.array([[observed - width, observed], [observed, observed + width]]),
        abs=1e-9,
    )
    guesses.clear()
    near = at((1.0, [100.0, 101.0]))
    SetSimulation(near, 9e-4 * np.eye(2), 100).interval(Metric.ABOVE_LOWEST)
    assert guesses[0][0] == 0.0


def test_a_repeat_is_weighed_by_a_thousand_draws_of_the_five_heaviest(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made: list[tuple[int, int]] = []
    whole = interval.SetSimulation

    def simulation(hypotheses, covariance, n_draws=4000):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202
        made.append((len(hypotheses), n_draws))
        return whole(hypotheses, covariance, n_draws)

    monkeypatch.setattr(decide, "SetSimulation", simulation)
    many = replace(
        measured([5000.0, 5400.0], relative=0.02),
        hypotheses=at(*[(1 / 6, [5000.0, 5400.0])] * 6),
    )
    rank_repeats(many, RULE)
    assert made[0] == (5, 1000)
    assert {n_draws for _, n_draws in made} == {1000}
