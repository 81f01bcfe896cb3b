"""What ropes of a set tell each other, and what they must not."""

from dataclasses import replace

import numpy as np
import pytest

from tension.notes import NoteKind
from tension.sound.apart import doubt_apart
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.joint import Reading, confirmed, weigh_readings
from tension.sound.partials import StringFit
from tension.sound.rope import HeardRope
from tension.sound.shared import Measured, share_stiffness

LENGTH = 3.0


def _reading(frequency: float, evidence: float) -> Reading:
    # EI/m = 16 whatever the speed: bending = 2 pi 4 / c^2
    speed = 2.0 * LENGTH * frequency
    return Reading(
        fit=StringFit(
            spacing=frequency,
            bending=8.0 * np.pi / speed**2,
            n_clamped_ends=1,
            covariance=np.diag([2e-8, 1e-8]),
            modes=np.arange(1, 9),
            lines=np.arange(8),
            residuals=np.zeros(8),
            scatter=1e-4,
        ),
        log_likelihood=evidence,
    )


def test_the_set_ranks_rivals_that_a_recording_allows() -> None:
    clear = [[_reading(15.0, 60.0)], [_reading(15.4, 60.0)], [_reading(14.8, 60.0)]]
    doubtful = [_reading(30.0, 40.0), _reading(15.2, 39.0)]
    weights = weigh_readings([*clear, doubtful], [LENGTH] * 4, HearingPrior())
    # t of three degrees: ln 2 at a width of 0.15 is 4.6 widths, odds of 1 to 15
    assert weights[3][1] > 0.9


def test_the_set_never_overrules_an_unambiguous_recording() -> None:
    # a rope at a quarter of its share sounds at half the frequency, and is a finding
    clear = [[_reading(15.0, 60.0)], [_reading(15.4, 60.0)], [_reading(14.8, 60.0)]]
    slack = [_reading(7.5, 80.0), _reading(15.0, 40.0)]
    weights = weigh_readings([*clear, slack], [LENGTH] * 4, HearingPrior())
    assert weights[3][0] > 0.99


def test_one_rope_alone_keeps_its_rivals() -> None:
    weights = weigh_readings(
        [[_reading(15.0, 40.0), _reading(15.9, 40.0)]], [LENGTH], HearingPrior()
    )
    assert 0.3 < weights[0][0] < 0.7


def test_without_a_length_a_bending_that_no_hoist_rope_has_counts_against() -> None:
    fit = replace(_reading(15.0, 40.0).fit, covariance=np.diag([2e-8, 1e-14]))
    straight = replace(fit, spacing=25.0, bending=1e-4)
    rivals = [Reading(fit=one, log_likelihood=40.0) for one in (fit, straight)]
    odds = weigh_readings([rivals], [None], HearingPrior())[0]
    # ln bending is spread by hypot(1.2 / 2, 2 * 0.35) = 0.92 about ln(8 pi / 85^2):
    # 15 Hz at 3 m lies 0.12 spreads off it, 1e-4 lies 3.85 off, in odds 1 to 1600
    assert np.log(odds[0] / odds[1]) == pytest.approx(7.4, abs=0.5)


def test_a_wide_fit_is_no_evidence() -> None:
    sharp = _reading(15.0, 40.0)
    wide = replace(_reading(24.0, 34.0).fit, covariance=np.diag([2e-4, 1e-8]))
    rivals = [sharp, Reading(fit=wide, log_likelihood=34.0)]
    odds = weigh_readings([rivals], [None], HearingPrior())[0]
    assert odds[0] > 0.97


def _measured(number: int, error: float, bending_error: float) -> Measured:
    speed = 2.0 * LENGTH * 15.0
    bending = 8.0 * np.pi / speed**2
    # extrapolated from high partials: ln f_1 and the bending err together
    spread = 0.2 * bending
    cross = -0.95 * 2e-3 * spread
    return Measured(
        number=number,
        length=LENGTH,
        fundamental_frequency=15.0 * np.exp(error),
        spacing=15.0 * np.exp(error),
        bending=bending * (1.0 + bending_error),
        covariance=np.array([[4e-6, cross], [cross, spread**2]]),
    )


def test_a_bending_known_from_the_others_corrects_the_fundamental() -> None:
    good = [
        Measured(
            number=2 * k,
            length=LENGTH,
            fundamental_frequency=15.0,
            spacing=15.0,
            bending=8.0 * np.pi / 90.0**2,
            covariance=np.diag([1e-8, (2e-3 * 8.0 * np.pi / 90.0**2) ** 2]),
        )
        for k in (2, 3, 4)
    ]
    # bending 20 % low, one standard deviation: the fundamental is 0.19 % high
    shared = share_stiffness([_measured(1, 1.9e-3, -0.2), *good], HearingPrior())
    assert shared.changes[0] == pytest.approx(-1.9e-3, rel=0.1)
    assert np.sqrt(shared.covariance[0, 0]) < 1e-3
    assert shared.rigidity_per_density == pytest.approx(16.0, rel=0.02)


def test_lengths_unknown_share_nothing() -> None:
    one = _measured(1, 0.0, 0.0)
    nameless = Measured(
        number=1,
        length=None,
        fundamental_frequency=one.fundamental_frequency,
        spacing=one.spacing,
        bending=one.bending,
        covariance=one.covariance,
    )
    shared = share_stiffness([nameless], HearingPrior())
    assert shared.changes[0] == 0.0
    assert np.isnan(shared.rigidity_per_density)


def test_a_weak_reading_needs_the_other_ropes() -> None:
    others = [(_reading(f, 60.0).fit, LENGTH) for f in (15.0, 15.3, 14.8)]
    prior = HearingPrior()
    weak = _reading(15.1, 12.0)
    assert confirmed(weak, LENGTH, others, prior)
    assert not confirmed(weak, LENGTH, others[:1], prior)
    assert not confirmed(weak, None, others, prior)
    assert not confirmed(_reading(15.1, 5.0), LENGTH, others, prior)
    assert not confirmed(_reading(30.2, 12.0), LENGTH, others, prior)


def test_a_pitch_apart_is_asked_about_where_a_usual_one_is_nearly_as_good() -> None:
    clear = [HeardRope(readings=(_reading(15.0 + k / 10, 60.0),)) for k in range(3)]
    doubtful = HeardRope(readings=(_reading(7.5, 60.0), _reading(15.1, 40.0)))
    slack = HeardRope(readings=(_reading(7.5, 90.0), _reading(15.1, 40.0)))
    spans = [RopeSpan(number=k + 1, free_length=LENGTH) for k in range(5)]
    weights = [np.ones(1)] * 3 + [np.array([0.9, 0.1])] * 2
    heard = doubt_apart([*clear, doubtful, slack], spans, weights)
    told = [one.refusal for one in heard]
    assert told[:3] == [None] * 3
    assert told[3] is not None
    assert told[3].code == NoteKind.AMBIGUOUS.code
    # a slack rope is a finding, not a doubt
    assert told[4] is None
    # nor is there a doubt where the set has ranked the usual pitch first
    weights[3] = np.array([0.1, 0.9])
    ranked = doubt_apart([*clear, doubtful, slack], spans, weights)
    assert ranked[3].refusal is None
    assert ranked[3].is_usual


def test_a_pitch_as_the_others_have_bears_a_weak_rope_out() -> None:
    heard = [HeardRope(readings=(_reading(15.0 + k / 10, 60.0),)) for k in range(3)]
    spans = [RopeSpan(number=k + 1, free_length=LENGTH) for k in range(3)]
    weights = [np.ones(1)] * 3
    borne = doubt_apart(heard, spans, weights)
    assert [one.is_usual for one in borne] == [True] * 3
    alone = doubt_apart(heard[:1], spans[:1], weights[:1])
    assert not alone[0].is_usual
