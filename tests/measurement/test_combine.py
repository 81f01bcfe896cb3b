"""Kinds of evidence combined and held against each other."""

import numpy as np
import pytest

from tension.assessment.decide import rank_repeats
from tension.catalogue.rules import find_rule
from tension.measurement.combine import (
    SetEvidence,
    SetMeasurement,
    TensionHypothesis,
    combine,
    find_contradictions,
    single_hypothesis,
)
from tension.measurement.readings import Method
from tension.physics import FloatArray as Array
from tension.quantity.estimate import Estimate, Sharing, Source
from tests.measurement.sets import SERIES

TENSIONS = np.array([5300.0, 4850.0, 5150.0, 4700.0])


def kind(
    tensions: Array,
    relative: float,
    *,
    method: Method = Method.PULL,
    numbers: tuple[int, ...] = (1, 2, 3, 4),
    shared: float = 0.05,
    is_absolute: bool = True,
    hypotheses: tuple[TensionHypothesis, ...] = (),
) -> SetEvidence:
    n = len(numbers)
    source = Source(name="own", relative=relative)
    return SetEvidence(
        method=method,
        label=f"the {method.value}s",
        numbers=numbers,
        hypotheses=hypotheses or single_hypothesis(tensions),
        covariance=relative**2 * np.eye(n),
        own_sources=((source,),) * n,
        shared_sources=(
            Source(
                name=f"of the {method.value}s", relative=shared, sharing=Sharing.KIND
            ),
        ),
        is_absolute=is_absolute,
        fundamentals=tuple(Estimate(value=14.0) for _ in range(n))
        if method is Method.PLUCK
        else (),
    )


def together(*kinds: SetEvidence) -> SetMeasurement:
    return combine(kinds, n_ropes=4, series=SERIES, site=None)


def shares(measured: SetMeasurement) -> Array:
    tensions = measured.hypotheses[0].tensions
    return np.asarray(tensions / tensions.mean())


def test_one_kind_is_left_as_it_is() -> None:
    alone = kind(TENSIONS, 0.01)
    measured = together(alone)
    assert measured.hypotheses[0].tensions == pytest.approx(TENSIONS, rel=1e-12)
    assert measured.covariance == pytest.approx(alone.covariance)


def test_two_alike_kinds_halve_the_variance_of_shares() -> None:
    measured = together(
        kind(TENSIONS, 0.01), kind(TENSIONS, 0.01, method=Method.SPRING)
    )
    contrast = np.array([1.0, -1.0, 0.0, 0.0])
    variance = contrast @ measured.covariance @ contrast
    assert variance == pytest.approx(2 * 0.01**2 / 2, rel=1e-6)


def test_what_a_kind_shares_drops_out_of_the_shares() -> None:
    plain = together(
        kind(TENSIONS, 0.01), kind(TENSIONS, 0.01, method=Method.SPRING, shared=0.3)
    )
    high = together(
        kind(TENSIONS, 0.01),
        kind(1.2 * TENSIONS, 0.01, method=Method.SPRING, shared=0.3),
    )
    assert shares(plain) == pytest.approx(shares(high), rel=2e-3)


def test_a_kind_without_newtons_tells_shares_and_takes_the_level_of_the_other() -> None:
    wave = TENSIONS / 0.58
    measured = together(
        kind(wave, 0.002, method=Method.PLUCK, is_absolute=False),
        kind(TENSIONS * np.array([1.03, 0.97, 1.0, 1.0]), 0.03),
    )
    assert measured.is_absolute
    assert measured.hypotheses[0].tensions.mean() == pytest.approx(5000.0, rel=0.01)
    # the plucks are fifteen times as sharp, so the shares are theirs
    assert shares(measured) == pytest.approx(TENSIONS / TENSIONS.mean(), rel=1e-3)


def test_disjoint_ropes_are_tied_by_the_levels_of_their_kinds() -> None:
    measured = together(
        kind(TENSIONS[:2], 0.01, numbers=(1, 2), shared=0.02),
        kind(TENSIONS[2:], 0.01, numbers=(3, 4), shared=0.05, method=Method.SPRING),
    )
    within = np.array([1.0, -1.0, 0.0, 0.0])
    across = np.array([1.0, 0.0, -1.0, 0.0])
    assert within @ measured.covariance @ within == pytest.approx(2e-4, rel=1e-6)
    # own errors of both ropes and both levels
    wanted = 2 * 0.01**2 + 0.02**2 + 0.05**2
    assert across @ measured.covariance @ across == pytest.approx(wanted, rel=1e-6)


def test_covariance_agrees_with_simulated_readings() -> None:
    rng = np.random.default_rng(9)
    found, stated = [], np.empty((0, 0))
    for _ in range(2000):
        measured = together(
            kind(
                TENSIONS * np.exp(0.01 * rng.standard_normal(4)),
                0.01,
                shared=0.02,
            ),
            kind(
                TENSIONS[:3]
                * np.exp(0.05 * rng.standard_normal() + 0.02 * rng.standard_normal(3)),
                0.02,
                numbers=(1, 2, 3),
                shared=0.05,
                method=Method.SPRING,
            ),
        )
        if len(measured.given) < 4:
            continue  # once in two thousand chance looks like a contradiction
        found.append(np.log(shares(measured)))
        if not len(stated):
            stated = measured.covariance
    contrast = np.array([1.0, 0.0, 0.0, -1.0])
    simulated = float(np.var(np.array(found) @ contrast))
    # a Birge factor above 1 widens some; 2000 draws: 3 % of a variance
    plain = 1 / (1 / 0.01**2 + 1 / 0.02**2)
    assert simulated == pytest.approx(plain + 0.01**2, rel=0.15)
    assert contrast @ stated @ contrast >= 0.9 * simulated


def test_another_kind_settles_how_partials_are_numbered() -> None:
    twice = TENSIONS * np.array([1.0, 1.0, 4.0, 1.0])
    plucks = kind(
        twice,
        0.005,
        method=Method.PLUCK,
        hypotheses=(
            TensionHypothesis(weight=0.6, tensions=twice),
            TensionHypothesis(weight=0.4, tensions=TENSIONS),
        ),
    )
    measured = together(plucks, kind(TENSIONS, 0.03))
    assert measured.hypotheses[0].weight > 0.999
    assert measured.hypotheses[0].tensions[2] == pytest.approx(5150.0, rel=0.01)
    fundamental = measured.ropes[2].fundamental
    assert fundamental is not None
    assert fundamental.value == pytest.approx(7.0)


def test_kinds_that_agree_raise_no_note() -> None:
    rng = np.random.default_rng(1)
    for _ in range(20):
        first = TENSIONS * np.exp(0.01 * rng.standard_normal(4))
        second = TENSIONS * np.exp(0.02 * rng.standard_normal(4))
        kinds = [kind(first, 0.01), kind(second, 0.02, method=Method.SPRING)]
        assert find_contradictions(kinds) == ((), {})


def test_a_rope_that_kinds_do_not_agree_on_is_named_with_both_figures() -> None:
    off = TENSIONS * np.array([1.0, 1.0, 1.3, 1.0])
    measured = together(kind(TENSIONS, 0.01), kind(off, 0.02, method=Method.SPRING))
    refusal = measured.ropes[2].refusal
    assert refusal is not None
    assert refusal.code == "rope-contradicts"
    assert "the pulls" in refusal.text
    assert "the springs" in refusal.text
    assert measured.given == (1, 2, 4)


def test_levels_that_do_not_agree_are_named_with_both_means() -> None:
    measured = together(
        kind(TENSIONS, 0.01, shared=0.02),
        kind(1.4 * TENSIONS, 0.01, shared=0.05, method=Method.SPRING),
    )
    note = next(n for n in measured.notes if n.code == "kinds-disagree")
    assert "5000 N" in note.text
    assert "7000 N" in note.text


def test_the_odds_of_a_numbering_are_those_of_both_kinds() -> None:
    off = TENSIONS * np.array([1.0, 1.0, 1.05, 1.0])
    plucks = kind(
        TENSIONS,
        0.005,
        method=Method.PLUCK,
        hypotheses=(
            TensionHypothesis(weight=0.4, tensions=off),
            TensionHypothesis(weight=0.6, tensions=TENSIONS),
        ),
    )
    measured = together(plucks, kind(TENSIONS, 0.03))
    # the kinds differ by their own errors and by both levels of 5 %
    apart = np.log(off / TENSIONS)
    variance = (0.005**2 + 0.03**2) * np.eye(4) + 2 * 0.05**2
    misfit = apart @ np.linalg.solve(variance, apart)
    odds = 0.6 / (0.4 * np.exp(-misfit / 2))
    first, second = measured.hypotheses
    assert first.tensions[2] == pytest.approx(5150.0, rel=1e-6)
    assert first.weight / second.weight == pytest.approx(odds, rel=1e-6)


def test_a_numbering_that_another_kind_rules_out_is_none_of_those_that_stand() -> None:
    off = TENSIONS * np.array([1.0, 1.5, 1.0, 1.0])
    numberings = tuple(
        TensionHypothesis(weight=weight, tensions=tensions)
        for weight, tensions in ((0.6, TENSIONS), (0.4, off))
    )
    measured = together(
        kind(TENSIONS, 0.003),
        kind(TENSIONS, 0.003, method=Method.PLUCK, hypotheses=numberings),
    )
    # 40 % of 0.3 % each are over 90 standard deviations: exp(-4000) is no number
    assert [h.weight for h in measured.hypotheses] == [1.0]
    rule = find_rule("gb50310-2002-4.9.5")
    assert rank_repeats(measured, rule) == (1,)


def test_kinds_however_far_apart_are_weighed() -> None:
    # 40 % of 0.3 % each: a likelihood of exp(-4000) is still the largest there is
    off = TENSIONS * np.array([1.0, 1.0, 1.5, 1.0])
    measured = together(kind(TENSIONS, 0.003), kind(off, 0.003, method=Method.SPRING))
    assert measured.given == (1, 2, 4)
    assert [h.weight for h in measured.hypotheses] == [1.0]


def test_kinds_without_any_doubt_are_known_to_a_ten_millionth() -> None:
    exact = kind(TENSIONS, 0.0, shared=0.0)
    again = kind(TENSIONS, 0.0, shared=0.0, method=Method.SPRING)
    assert together(exact, again).covariance == pytest.approx(
        0.5e-14 * np.eye(4), rel=1e-6, abs=1e-20
    )
    for apart, given in ((3.9e-8, (1, 2, 3, 4)), (4.1e-8, (1, 2, 4))):
        off = TENSIONS * np.array([1.0, 1.0, 1.0 + apart, 1.0])
        other = kind(off, 0.0, shared=0.0, method=Method.SPRING)
        assert together(exact, other).given == given


def test_of_two_ropes_that_kinds_do_not_agree_on_neither_has_a_number() -> None:
    off = TENSIONS[:2] * np.array([1.0, 1.3])
    found = together(
        kind(TENSIONS[:2], 0.001, numbers=(1, 2)),
        kind(off, 0.001, numbers=(1, 2), method=Method.SPRING),
    )
    assert found.given == ()
