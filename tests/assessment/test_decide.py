"""The three-way decision, its words, and what to measure again."""

from dataclasses import replace

import numpy as np
import pytest

from tension.assessment import decide
from tension.assessment.decide import SOCKET_STAGGER, Verdict, assess_set
from tension.catalogue import Standing
from tension.catalogue.rules import Metric, Rule
from tension.measurement.combine import (
    RopeMeasurement,
    SetMeasurement,
    TensionHypothesis,
)
from tension.measurement.readings import Series
from tension.measurement.rope_figures import LengthKnowledge
from tension.notes import NoteKind
from tension.quantity.estimate import Estimate, Sharing, Source
from tension.sound.hearing import Rival
from tension.telling.results import reason_text
from tests.noted import codes


def rule(metric: Metric = Metric.BELOW_HIGHEST, limit: float = 0.10) -> Rule:
    return Rule(
        name="house rule",
        metric=metric,
        limit=limit,
        source="test",
        edition="",
        standing=Standing.USER,
    )


def measurement(
    tensions: list[float | None],
    relative: float | list[float] = 0.005,
    *,
    lengths: LengthKnowledge = LengthKnowledge.PER_ROPE,
    free_length: float = 3.4,
) -> SetMeasurement:
    own = np.broadcast_to(np.asarray(relative, dtype=float), (len(tensions),))
    given = [i for i, tension in enumerate(tensions) if tension is not None]
    values = np.array([tensions[i] for i in given], dtype=float)
    return SetMeasurement(
        series=Series(name="as found", span="top"),
        span=None,
        ropes=tuple(
            RopeMeasurement(
                number=i + 1,
                tension=None
                if tension is None
                else Estimate(
                    value=tension,
                    sources=(
                        Source(name="own", relative=float(own[i])),
                        Source(name="all", relative=0.05, sharing=Sharing.SET),
                    ),
                ),
            )
            for i, tension in enumerate(tensions)
        ),
        is_absolute=True,
        hypotheses=(TensionHypothesis(weight=1.0, tensions=values),),
        covariance=np.diag(own[given] ** 2),
        lengths=lengths,
        free_lengths=(free_length,) * len(given),
    )


def test_equal_needs_the_upper_bound_under_the_limit() -> None:
    found = assess_set(measurement([100, 101, 99, 100, 102]), rule())
    assert found.verdict is Verdict.EQUAL
    assert found.spread.upper is not None
    assert found.spread.upper < 0.10
    assert found.measure_again == ()
    assert reason_text(found).startswith(
        "All ropes are within 10 % (lowest below highest)"
    )


def test_unequal_needs_the_lower_bound_over_the_limit() -> None:
    found = assess_set(measurement([100, 101, 99, 118, 100]), rule())
    assert found.verdict is Verdict.UNEQUAL
    assert found.spread.lower is not None
    assert found.spread.lower > 0.10
    assert "rope 4" in reason_text(found)
    assert "rope 3" in reason_text(found)
    assert found.measure_again == ()


def test_in_between_nothing_is_told_and_the_uncertain_rope_is_named() -> None:
    found = assess_set(
        measurement([5300, 4850, 5150, 4700], [0.005, 0.005, 0.04, 0.005]), rule()
    )
    assert found.verdict is Verdict.CANNOT_TELL
    assert found.measure_again[0] == 3
    assert "rope 3 decides" in reason_text(found)


def test_the_limit_itself_counts_as_equal() -> None:
    # 95, 100, 105 is 5.0 % off its mean exactly
    found = assess_set(measurement([95, 100, 105], 0.0), rule(Metric.OFF_MEAN, 0.05))
    assert found.verdict is Verdict.EQUAL


@pytest.mark.parametrize(
    ("tensions", "lowest", "mean"),
    [
        ([95, 100, 105], Verdict.UNEQUAL, Verdict.EQUAL),
        ([100, 100, 100, 109], Verdict.EQUAL, Verdict.UNEQUAL),
        ([96, 100, 100, 104.5], Verdict.EQUAL, Verdict.EQUAL),
        ([95.5, 100, 100, 100, 104.9], Verdict.EQUAL, Verdict.EQUAL),
    ],
)
def test_exact_readings_get_the_verdicts_of_plain_arithmetic(
    tensions: list[float | None], lowest: Verdict, mean: Verdict
) -> None:
    exact = measurement(tensions, 0.0)
    assert assess_set(exact, rule(Metric.ABOVE_LOWEST, 0.10)).verdict is lowest
    assert assess_set(exact, rule(Metric.OFF_MEAN, 0.05)).verdict is mean


def test_another_common_rule_that_differs_is_named() -> None:
    found = assess_set(
        measurement([100, 100, 100, 109], 0.001), rule(Metric.ABOVE_LOWEST)
    )
    assert found.verdict is Verdict.EQUAL
    note = next(n for n in found.notes if n.code == "other-rule-differs")
    assert "5 % off-mean would say unequal (6.6 %)" in note.text
    by_metric = {s.metric: s for s in found.other_spreads}
    assert len(by_metric) == 3
    assert by_metric[Metric.OFF_MEAN].observed == pytest.approx(109 / 102.25 - 1)
    assert by_metric[Metric.OFF_MEAN].upper is not None


def test_equal_is_never_said_while_a_rope_has_no_number() -> None:
    found = assess_set(measurement([100, None, 100, 100, 100], 0.001), rule())
    assert found.verdict is Verdict.CANNOT_TELL
    assert not found.is_complete
    assert found.measure_again[0] == 2
    assert found.spread.upper is None
    assert "rope 2 has no number" in reason_text(found)


@pytest.mark.parametrize("metric", list(Metric))
def test_unequal_may_be_said_whatever_the_missing_rope_carries(metric: Metric) -> None:
    found = assess_set(measurement([100, None, 100, 70, 100]), rule(metric, 0.10))
    assert found.verdict is Verdict.UNEQUAL
    # no tension of the missing rope brings the spread under the lower bound
    lower = found.spread.lower
    assert lower is not None
    for missing in np.linspace(30, 300, 400):
        whole = np.array([100, missing, 100, 70, 100])
        mean = whole.mean()
        spread = {
            Metric.BELOW_HIGHEST: np.ptp(whole) / whole.max(),
            Metric.ABOVE_LOWEST: np.ptp(whole) / whole.min(),
            Metric.OFF_MEAN: np.abs(whole / mean - 1).max(),
            Metric.RANGE_OF_MEAN: np.ptp(whole) / mean,
        }[metric]
        assert spread >= lower


def test_fewer_than_two_ropes_give_no_result() -> None:
    found = assess_set(measurement([100, None, None]), rule())
    assert found.verdict is Verdict.NO_RESULT
    assert found.spread.observed is None
    assert "too-few-ropes" in codes(found)
    assert found.measure_again == (2, 3)
    assert len(found.other_spreads) == 3


def test_a_set_that_is_refused_gives_no_result() -> None:
    refused = replace(
        measurement([100, 101]),
        refusal=NoteKind.BELTS.refusal(),
    )
    found = assess_set(refused, rule())
    assert found.verdict is Verdict.NO_RESULT
    assert reason_text(found) == NoteKind.BELTS.note().text


def test_one_length_for_all_asks_the_one_question() -> None:
    found = assess_set(
        measurement([100, 101, 99, 100], lengths=LengthKnowledge.UNKNOWN), rule()
    )
    assert found.verdict is Verdict.CANNOT_TELL
    assert "length-question" in codes(found)
    assert reason_text(found).endswith("?")
    assert found.spread.upper is not None
    assert found.spread.upper > 0.10


def test_the_question_names_the_stagger_in_millimetres(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(decide, "SOCKET_STAGGER", 0.2)
    for last in (100, 45):
        found = assess_set(
            measurement([100, 101, 99, last], lengths=LengthKnowledge.UNKNOWN), rule()
        )
        told = [dict(note.places) for note in found.notes]
        assert {"stagger": "200"} in told


def test_a_slack_rope_is_unequal_whatever_the_stagger() -> None:
    found = assess_set(
        measurement([100, 101, 99, 45], lengths=LengthKnowledge.UNKNOWN), rule()
    )
    assert found.verdict is Verdict.UNEQUAL
    assert "length-not-decisive" in codes(found)


def test_equal_may_be_said_of_a_long_span_whatever_the_stagger() -> None:
    found = assess_set(
        measurement(
            [100, 101, 99, 100], lengths=LengthKnowledge.UNKNOWN, free_length=40.0
        ),
        rule(),
    )
    assert found.verdict is Verdict.EQUAL
    assert "length-not-decisive" in codes(found)


@pytest.mark.parametrize("metric", list(Metric))
def test_bounds_hold_for_any_stagger(metric: Metric) -> None:
    rng = np.random.default_rng(4)
    tensions = np.array([100.0, 104.0, 97.0, 101.0])
    found = assess_set(
        measurement([*tensions], 0.0, lengths=LengthKnowledge.UNKNOWN), rule(metric)
    )
    assert found.spread.lower is not None
    assert found.spread.upper is not None
    for _ in range(2000):
        stagger = SOCKET_STAGGER * rng.integers(0, 2, 4)
        true = tensions * ((3.4 - stagger) / 3.4) ** 2
        mean = true.mean()
        spread = {
            Metric.BELOW_HIGHEST: np.ptp(true) / true.max(),
            Metric.ABOVE_LOWEST: np.ptp(true) / true.min(),
            Metric.OFF_MEAN: np.abs(true / mean - 1).max(),
            Metric.RANGE_OF_MEAN: np.ptp(true) / mean,
        }[metric]
        assert found.spread.lower - 1e-6 <= spread <= found.spread.upper + 1e-6


def test_without_any_length_nothing_is_bounded() -> None:
    found = assess_set(
        measurement(
            [100, 101, 99, 40],
            lengths=LengthKnowledge.UNKNOWN,
            free_length=float("nan"),
        ),
        rule(),
    )
    assert found.verdict is Verdict.CANNOT_TELL
    assert found.spread.lower is None
    assert "no-length-question" in codes(found)


def with_rival(weight: float) -> SetMeasurement:
    plain = measurement([100, 101, 99, 100, 101])
    tensions = plain.hypotheses[0].tensions
    rival = tensions * np.array([1, 1, 4, 1, 1])
    third = replace(
        plain.ropes[2],
        rivals=(Rival(fundamental_frequency=30.0, probability=weight),),
    )
    return replace(
        plain,
        ropes=(*plain.ropes[:2], third, *plain.ropes[3:]),
        hypotheses=(
            TensionHypothesis(weight=1 - weight, tensions=tensions),
            TensionHypothesis(weight=weight, tensions=rival),
        ),
    )


def test_a_rope_that_may_be_miscounted_makes_it_open_and_is_named_first() -> None:
    sure = assess_set(with_rival(0.01), rule())
    assert sure.verdict is Verdict.EQUAL
    doubtful = assess_set(with_rival(0.05), rule())
    assert doubtful.verdict is Verdict.CANNOT_TELL
    assert doubtful.measure_again[0] == 3
    assert "rivals-widen" in codes(doubtful)


def test_shares_are_of_the_mean_and_their_uncertainty_is_that_of_a_deviation() -> None:
    relative = 0.01
    found = assess_set(measurement([100, 100, 100, 100], relative), rule())
    for share in found.shares:
        assert share.share == pytest.approx(1.0)
        # u sqrt((n - 1)/n), for the mean contains the rope itself
        assert share.share_uncertainty == pytest.approx(relative * 0.75**0.5, rel=1e-9)
        assert share.tension_uncertainty == pytest.approx(
            100 * (relative**2 + 0.05**2) ** 0.5, rel=1e-9
        )


def test_share_uncertainty_agrees_with_simulated_readings() -> None:
    tensions = [90.0, 100.0, 112.0, 98.0]
    own = [0.01, 0.02, 0.005, 0.03]
    found = assess_set(measurement([*tensions], own), rule())
    draws = np.random.default_rng(5).standard_normal((200_000, 4)) * own
    read = np.array(tensions) * np.exp(draws)
    shares = read / read.mean(axis=1, keepdims=True)
    for share, width in zip(found.shares, shares.std(axis=0), strict=True):
        # 200 000 draws: 0.16 % standard error; second order of 3 % readings: 0.1 %
        assert share.share_uncertainty == pytest.approx(float(width), rel=0.008)


def test_the_same_input_gives_the_same_result() -> None:
    one = assess_set(measurement([100, 107, 95, 101], 0.015), rule())
    two = assess_set(measurement([100, 107, 95, 101], 0.015), rule())
    assert one.spread == two.spread
    assert one.measure_again == two.measure_again


def test_measuring_the_named_rope_again_decides_more_often_than_another() -> None:
    tensions = np.array([100.0, 91.0, 100.0, 99.0, 101.0])
    own = np.array([0.004, 0.004, 0.004, 0.03, 0.004])
    found = assess_set(measurement([*tensions], [*own]), rule(limit=0.08))
    assert found.verdict is Verdict.CANNOT_TELL
    named = found.measure_again[0]
    assert named == 4
    rng = np.random.default_rng(6)
    decided = {}
    for rope in (named, 1):
        decided[rope] = 0
        for _ in range(60):
            repeat = tensions.copy()
            width = own.copy()
            i = rope - 1
            repeat[i] *= np.exp(width[i] * np.sqrt(0.5) * rng.standard_normal())
            width[i] *= np.sqrt(0.5)
            again = assess_set(measurement([*repeat], [*width]), rule(limit=0.08))
            decided[rope] += again.verdict is not Verdict.CANNOT_TELL
    assert decided[named] > decided[1]


@pytest.mark.slow
def test_of_a_thousand_equal_sets_few_are_called_unequal() -> None:
    rng = np.random.default_rng(7)
    for relative in (0.01, 0.03):
        unequal = 0
        for _ in range(500):
            read = 100 * np.exp(relative * rng.standard_normal(6))
            found = assess_set(measurement([*read], relative), rule())
            unequal += found.verdict is Verdict.UNEQUAL
        assert unequal / 500 <= 0.05
