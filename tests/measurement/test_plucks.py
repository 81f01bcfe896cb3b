"""Plucks: from fundamentals to tension at the hitch, with covariance and budget."""

from dataclasses import replace

import numpy as np
import pytest

from tension.installation import HitchEnd, Rope, Uncertainties
from tension.measurement.combine import SetMeasurement
from tension.measurement.rope_figures import LengthKnowledge
from tension.quantity.estimate import Sharing
from tension.sound.hearing import Hypothesis
from tests.measurement.sets import (
    DENSITY,
    GRAVITY,
    SERIES,
    TENSIONS,
    hearing,
    ideal_fundamentals,
    measure_from_plucks,
    quantity,
    rope_set,
    span,
)
from tests.oracles.beam_elements import (
    Chain,
    find_modes,
    graded_lengths,
    weighted_tension,
)

LENGTHS = np.array([3.4, 3.55, 3.4, 3.55])
STAGGERS = [None, 0.15, None, 0.15]


def tensions_of(measured: SetMeasurement) -> list[float]:
    return [r.tension.value for r in measured.ropes if r.tension is not None]


def test_ideal_strings_give_their_tension_at_the_hitch() -> None:
    measured = measure_from_plucks(
        hearing(ideal_fundamentals(TENSIONS, LENGTHS)),
        rope_set=rope_set(staggers=STAGGERS),
        span=span(),
        series=SERIES,
    )
    assert measured.is_absolute
    assert measured.lengths is LengthKnowledge.PER_ROPE
    assert tensions_of(measured) == pytest.approx([*TENSIONS], rel=1e-5)
    assert measured.free_lengths == pytest.approx(tuple(LENGTHS))


def test_hitch_above_carries_the_weight_of_the_span_more() -> None:
    heard = hearing(ideal_fundamentals(TENSIONS, LENGTHS))
    below, above = (
        measure_from_plucks(
            heard,
            rope_set=rope_set(staggers=STAGGERS),
            span=span(hitch_end=end),
            series=SERIES,
        )
        for end in (HitchEnd.LOWER, HitchEnd.UPPER)
    )
    gained = np.array(tensions_of(above)) - tensions_of(below)
    assert gained == pytest.approx(DENSITY * GRAVITY * LENGTHS, rel=1e-9)


def test_shares_need_no_linear_density() -> None:
    heard = hearing(ideal_fundamentals(TENSIONS, LENGTHS))
    measured = measure_from_plucks(
        heard,
        rope_set=rope_set(staggers=STAGGERS, density=None, construction=""),
        span=span(),
        series=SERIES,
    )
    assert not measured.is_absolute
    found = np.array(tensions_of(measured))
    assert found / found.mean() == pytest.approx(TENSIONS / TENSIONS.mean(), rel=1e-5)


def test_level_sockets_need_no_length_at_all() -> None:
    level = np.full(4, 3.4)
    measured = measure_from_plucks(
        hearing(ideal_fundamentals(TENSIONS, level)),
        rope_set=rope_set(length=None, one_height=True),
        span=span(None),
        series=SERIES,
    )
    assert not measured.is_absolute
    found = np.array(tensions_of(measured))
    # what is left out is half the weight of 3.4 m: 10 N of 5000, 0.02 % of a share
    assert found / found.mean() == pytest.approx(TENSIONS / TENSIONS.mean(), rel=3e-4)


def test_stagger_left_out_makes_two_rows_of_it() -> None:
    equal = np.full(4, 5000.0)
    measured = measure_from_plucks(
        hearing(ideal_fundamentals(equal, LENGTHS)),
        rope_set=rope_set(),
        span=span(),
        series=SERIES,
    )
    assert measured.lengths is LengthKnowledge.UNKNOWN
    found = tensions_of(measured)
    assert found[0] / found[1] == pytest.approx((3.55 / 3.4) ** 2, rel=5e-4)


def test_a_span_under_one_and_a_half_metres_gives_shares_only() -> None:
    short = np.full(4, 1.2)
    measured = measure_from_plucks(
        hearing(ideal_fundamentals(TENSIONS, short)),
        rope_set=rope_set(length=1.2, one_height=True),
        span=span(1.2),
        series=SERIES,
    )
    assert not measured.is_absolute
    assert "too-short-for-newtons" in {note.code for note in measured.notes}


@pytest.mark.parametrize("rigidity", [3.0, 15.0, 60.0])
def test_stiff_ropes_of_finite_elements_are_told_right(rigidity: float) -> None:
    fundamentals = []
    for tension, length in zip(TENSIONS, LENGTHS, strict=True):
        cut = graded_lengths(float(length), 200, 0.002)
        along = weighted_tension(cut, float(tension), DENSITY, GRAVITY)
        chain = Chain(
            lengths=cut,
            tension=along,
            linear_density=DENSITY,
            flexural_rigidity=rigidity * DENSITY,
        )
        fundamentals.append(find_modes(chain, 1).frequencies[0])
    measured = measure_from_plucks(
        hearing(np.array(fundamentals), rigidity=rigidity, rigidity_uncertainty=0.05),
        rope_set=rope_set(staggers=STAGGERS),
        span=span(),
        series=SERIES,
    )
    # weight and bending together are not exact: up to 1e-4 of tension for the stiffest
    assert tensions_of(measured) == pytest.approx([*TENSIONS], rel=2e-4)


def test_unknown_stiffness_widens_the_newtons_and_not_the_shares() -> None:
    heard = ideal_fundamentals(TENSIONS, LENGTHS)
    known, unknown = (
        measure_from_plucks(
            hearing(heard, rigidity=q, rigidity_uncertainty=0.02),
            rope_set=rope_set(staggers=STAGGERS),
            span=span(),
            series=SERIES,
        )
        for q in (10.0, float("nan"))
    )
    for sure, open_ in zip(known.ropes, unknown.ropes, strict=True):
        assert sure.tension is not None
        assert open_.tension is not None
        kind = (Sharing.KIND,)
        assert sure.tension.relative_uncertainty(kind) < 0.002
        assert open_.tension.relative_uncertainty(kind) > 0.02
        # what bending does to a rope unlike the others: far under a tenth of that
        own = (Sharing.OWN,)
        more = open_.tension.relative_uncertainty(own) ** 2
        more -= sure.tension.relative_uncertainty(own) ** 2
        assert more**0.5 < 0.1 * open_.tension.relative_uncertainty(kind)
    shares = [np.array(tensions_of(m)) for m in (known, unknown)]
    shares = [s / s.mean() for s in shares]
    assert shares[0] == pytest.approx(shares[1], rel=0.002)


def test_covariance_agrees_with_simulated_errors_of_sound_and_tape() -> None:
    by_sound, by_tape = 0.003, 0.008
    rope = rope_set(staggers=STAGGERS, uncertainties=Uncertainties(free_length=by_tape))
    heard = ideal_fundamentals(TENSIONS, LENGTHS)
    measured = measure_from_plucks(
        hearing(heard, by_sound), rope_set=rope, span=span(), series=SERIES
    )
    rng = np.random.default_rng(3)
    found = []
    for _ in range(3000):
        tape = LENGTHS + by_tape * rng.standard_normal(4)
        sound = ideal_fundamentals(TENSIONS, tape)
        sound = sound * (1 + by_sound * rng.standard_normal(4))
        # T = m (2 L f)^2 with the length written down, and half the weight off
        read = DENSITY * (2 * LENGTHS * sound) ** 2
        found.append(np.log(read - DENSITY * GRAVITY * LENGTHS / 2))
    simulated = np.std(found, axis=0)
    stated = np.sqrt(np.diag(measured.covariance))
    # 3000 draws: 1.3 % standard error each, 0.65 % of their mean
    assert stated == pytest.approx(simulated, rel=0.045)
    assert stated.mean() == pytest.approx(simulated.mean(), rel=0.02)


def test_every_joint_numbering_is_mapped() -> None:
    heard = ideal_fundamentals(TENSIONS, LENGTHS)
    twice = heard * np.array([1.0, 1.0, 2.0, 1.0])
    measured = measure_from_plucks(
        hearing(
            heard,
            hypotheses=(
                Hypothesis(weight=0.97, fundamental_frequencies=heard),
                Hypothesis(weight=0.03, fundamental_frequencies=twice),
            ),
        ),
        rope_set=rope_set(staggers=STAGGERS),
        span=span(),
        series=SERIES,
    )
    assert [h.weight for h in measured.hypotheses] == pytest.approx([0.97, 0.03])
    ratio = measured.hypotheses[1].tensions / measured.hypotheses[0].tensions
    assert ratio == pytest.approx([1, 1, 4, 1], rel=0.02)


def test_a_rope_without_a_length_is_refused_and_the_others_stay() -> None:
    ropes = tuple(
        Rope(number=n, free_lengths=(("top", quantity(3.4)),)) for n in (1, 2, 4)
    )
    measured = measure_from_plucks(
        hearing(ideal_fundamentals(TENSIONS, np.full(4, 3.4))),
        rope_set=replace(rope_set(length=None), ropes=ropes),
        span=span(None),
        series=SERIES,
    )
    assert measured.given == (1, 2, 4)
    refusal = measured.ropes[2].refusal
    assert refusal is not None
    assert refusal.code == "no-free-length"
    assert measured.hypotheses[0].tensions.shape == (3,)
    assert measured.covariance.shape == (3, 3)


def test_what_stiffness_does_to_the_shares_is_in_the_covariance() -> None:
    lengths = np.array([2.0, 2.15, 2.0, 2.15])
    heard = ideal_fundamentals(TENSIONS, lengths)
    rope = rope_set(
        length=2.0, staggers=STAGGERS, uncertainties=Uncertainties(free_length=0.0)
    )

    def measured(rigidity: float) -> SetMeasurement:
        return measure_from_plucks(
            hearing(heard, 1e-7, rigidity=rigidity, rigidity_uncertainty=0.3),
            rope_set=rope,
            span=span(2.0),
            series=SERIES,
        )

    low, middle, high = (measured(q) for q in (14.0, 20.0, 26.0))
    contrast = np.array([1.0, -1.0, 0.0, 0.0])
    moved = np.log(tensions_of(high)) - np.log(tensions_of(low))
    wanted = abs(float(contrast @ moved)) / 2
    stated = float(np.sqrt(contrast @ middle.covariance @ contrast))
    assert stated == pytest.approx(wanted, rel=1e-3)


def test_a_rope_without_a_length_is_refused_where_others_have_one() -> None:
    ropes = rope_set(length=None)
    own = tuple(
        Rope(number=n, free_lengths=(("top", quantity(3.4)),)) for n in (1, 2, 4)
    )
    measured = measure_from_plucks(
        hearing(ideal_fundamentals(TENSIONS, np.full(4, 3.4))),
        rope_set=replace(ropes, ropes=own),
        span=span(None),
        series=SERIES,
    )
    assert measured.given == (1, 2, 4)
    refusal = measured.ropes[2].refusal
    assert refusal is not None
    assert refusal.code == "no-free-length"
    assert tensions_of(measured) == pytest.approx([5300.0, 4850.0, 4700.0], rel=1e-5)
    # lengths of their own share no error
    told = [r.tension.sources for r in measured.ropes if r.tension is not None]
    assert "free length of the set" not in {one.name for each in told for one in each}


def test_a_slack_rope_leaves_the_others_as_they_are() -> None:
    heard = ideal_fundamentals(TENSIONS, np.full(4, 3.4))
    heard[1] = 0.5  # (2 x 3.4 x 0.5)^2 = 11.6 m2/s2; half the span weighs 16.7
    measured = measure_from_plucks(
        hearing(heard), rope_set=rope_set(one_height=True), span=span(), series=SERIES
    )
    assert measured.given == (1, 3, 4)
    refusal = measured.ropes[1].refusal
    assert refusal is not None
    assert refusal.code == "too-slack"
    assert tensions_of(measured) == pytest.approx([5300.0, 5150.0, 4700.0], rel=1e-5)


def test_half_is_open_where_bonded_wires_would_leave_no_tension() -> None:
    # a slack clamped-pinned span of 0.9 m with the EI/m of bonded wires sounds at
    # 15.42/(2 pi 0.81) sqrt(71) = 25.5 Hz
    measured = measure_from_plucks(
        hearing(np.array([25.0, 25.3]), rigidity=np.nan),
        rope_set=rope_set(2, one_height=True, length=0.9),
        span=span(0.9),
        series=SERIES,
    )
    tension = measured.ropes[0].tension
    assert tension is not None
    (source,) = (s for s in tension.sources if s.name == "bending stiffness")
    assert source.relative == 0.5


def test_numberings_that_no_tension_explains_leave_their_weight_to_the_others() -> None:
    # under 1 Hz a rope of 3.4 m would carry less than its own weight
    fundamentals = ideal_fundamentals(TENSIONS, np.full(4, 3.4))
    slack = fundamentals * np.array([1.0, 0.05, 1.0, 1.0])
    measured = measure_from_plucks(
        hearing(
            fundamentals,
            hypotheses=tuple(
                Hypothesis(weight=weight, fundamental_frequencies=heard)
                for weight, heard in ((0.6, fundamentals), (0.4, slack))
            ),
        ),
        rope_set=rope_set(one_height=True),
        span=span(),
        series=SERIES,
    )
    assert [h.weight for h in measured.hypotheses] == [1.0]
