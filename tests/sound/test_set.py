"""What ropes of a set tell each other, and what they must not."""

from dataclasses import replace

import numpy as np
import pytest

from tension.notes import NoteKind
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.joint import Reading, confirmed, weigh_readings
from tension.sound.partials import StringFit
from tension.sound.rope import HeardRope
from tension.sound.shared import Measured, share_stiffness
from tension.sound.standing import stand_in_set
from tension.sound.stiffstring import mode_frequencies
from tests.sound.made import made_lines

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


def _heard(*readings: Reading, is_weak: bool = False) -> HeardRope:
    """A rope whose lines are the partials of its first reading."""
    fit = readings[0].fit
    modes = fit.modes.astype(np.float64)
    f = mode_frequencies(modes, fit.spacing, fit.dispersion, fit.n_clamped_ends)
    lines = made_lines(f)
    refusal = NoteKind.TOO_NOISY.refusal(rope=1) if is_weak else None
    return HeardRope(lines=lines, readings=readings, refusal=refusal, is_weak=is_weak)


def _stand(
    heard: list[HeardRope], weights: list[np.ndarray] | None = None
) -> list[HeardRope]:
    spans = [RopeSpan(number=k + 1, free_length=LENGTH) for k in range(len(heard))]
    first = [np.eye(len(one.readings))[0] for one in heard]
    return stand_in_set(heard, spans, weights or first, HearingPrior())


CLEAR_ROPES = [_heard(_reading(15.0 + k / 10, 60.0)) for k in range(3)]


def test_a_pitch_apart_is_asked_about_where_a_usual_one_is_nearly_as_good() -> None:
    doubtful = _heard(_reading(7.5, 60.0), _reading(15.1, 40.0))
    slack = _heard(_reading(7.5, 90.0), _reading(15.1, 40.0))
    told = [one.refusal for one in _stand([*CLEAR_ROPES, doubtful, slack])]
    assert told[:3] == [None] * 3
    assert told[3] is not None
    assert told[3].code == NoteKind.AMBIGUOUS.code
    # a slack rope is a finding, not a doubt
    assert told[4] is None
    # nor is there a doubt where the set has ranked the usual pitch first
    ranked = _stand([*CLEAR_ROPES, doubtful], [*[np.ones(1)] * 3, np.array([0.1, 0.9])])
    assert ranked[3].refusal is None
    assert ranked[3].is_usual


def test_a_weak_pitch_apart_is_given_only_as_stiff_as_the_others() -> None:
    alike = _reading(10.0, 30.0)
    other = replace(alike, fit=replace(alike.fit, bending=2.0 * alike.fit.bending))
    heard = _stand([*CLEAR_ROPES, _heard(alike), _heard(other)])
    assert heard[3].refusal is None
    assert heard[4].refusal is not None


def test_weak_ropes_do_not_bear_each_other_out() -> None:
    weak = [_heard(_reading(15.0 + k / 10, 20.0)) for k in range(4)]
    assert all(one.refusal is not None for one in _stand(weak))
    borne = _stand([*CLEAR_ROPES, *weak])
    assert [one.is_usual for one in borne] == [True] * 7
    assert [one.refusal for one in borne] == [None] * 7
    # two ropes have no usual pitch, and one has no set
    assert not _stand(CLEAR_ROPES[:2])[0].is_usual
    assert _stand(weak[:1])[0].refusal is None


def test_what_two_kinds_of_rope_have_is_usual_for_each() -> None:
    slack = [_heard(_reading(10.0 + k / 10, 60.0)) for k in range(3)]
    assert all(one.is_usual for one in _stand([*CLEAR_ROPES, *slack]))


def test_the_others_bear_out_a_rope_that_is_too_weak() -> None:
    faint = _heard(_reading(15.1, 13.0), is_weak=True)
    stray = _heard(_reading(31.0, 13.0), is_weak=True)
    heard = _stand([*CLEAR_ROPES, faint, stray])
    assert heard[3].refusal is None
    assert [note.code for note in heard[3].notes] == [NoteKind.SET_CONFIRMS.code]
    assert heard[4].refusal is not None


def test_each_rope_knows_the_pitches_of_the_others() -> None:
    heard = _stand(CLEAR_ROPES)
    assert heard[0].others == pytest.approx(
        tuple(one.readings[0].fit.fundamental_frequency for one in CLEAR_ROPES[1:])
    )
    refused = _heard(_reading(31.0, 13.0), is_weak=True)
    assert _stand([*CLEAR_ROPES, refused])[0].others is None
