"""What ropes of a set tell each other, and what they must not."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tension.sound.decays import FoundRope
from tension.sound.decision import weigh_candidates
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.string_fit import Candidate, StringFit

LENGTH = 3.0
# counted with every second partial, all the others, or as another simple multiple
RATIOS = st.sampled_from([0.5, 2.0 / 3.0, 1.5, 2.0])


def _candidate(
    frequency: float, log_likelihood: float, counted: float = 1.0
) -> Candidate:
    """A rope of EI/m 16 of a frequency [Hz], its partials counted `counted` times.

    Counted wrong its spacing is another, and its bending, which tells how the lines
    stretch, is the same.
    """
    speed = 2.0 * LENGTH * frequency
    return Candidate(
        fit=StringFit(
            string_fundamental=frequency * counted,
            sqrt_dispersion=8.0 * np.pi / speed**2,
            n_clamped_ends=1,
            covariance=np.diag([2e-8, 1e-8]),
            modes=np.arange(1, 9),
            lines=np.arange(8),
            residuals=np.zeros(8),
            scatter=1e-4,
        ),
        log_likelihood=log_likelihood,
    )


Rope = list[Candidate]


class Weighed(NamedTuple):
    """What is made of the candidates of one rope."""

    probabilities: np.ndarray
    support: np.ndarray


def _weigh(
    ropes: list[Rope],
    length: float | None = LENGTH,
    witnesses: list[bool] | None = None,
) -> list[Weighed]:
    found = [
        FoundRope(
            span=RopeSpan(number=k, free_length=length), candidates=tuple(candidates)
        )
        for k, candidates in enumerate(ropes, 1)
    ]
    weighed = weigh_candidates(found, HearingPrior(), witnesses)
    return [Weighed(*one) for one in weighed]


CLEAR = [[_candidate(f, 60.0)] for f in (15.0, 15.4, 14.8)]


def test_the_set_ranks_rivals_that_a_recording_allows() -> None:
    doubtful = [_candidate(15.2, 40.0, 2.0), _candidate(15.2, 39.0)]
    found = _weigh([*CLEAR, doubtful])[3]
    # t of three degrees: ln 2 at a width of 0.15 is 4.6 widths, odds of 1 to 15
    assert found.probabilities[1] > 0.9
    assert found.support[1] > found.support[0] + 2.0
    assert found.probabilities.sum() == pytest.approx(1.0)


def test_the_set_never_overrules_an_unambiguous_recording() -> None:
    # a rope at a quarter of its share sounds at half the frequency, and is a finding
    slack = [_candidate(7.5, 80.0), _candidate(15.0, 40.0)]
    found = _weigh([*CLEAR, slack])[3]
    assert found.probabilities[0] > 0.99
    # whatever the set supports
    assert found.support[0] < found.support[1]


@given(st.floats(13.0, 52.0), st.integers(2, 11), RATIOS)
@settings(max_examples=30)
def test_a_rival_far_behind_in_its_own_recording_is_none(
    behind: float, n_others: int, ratio: float
) -> None:
    others = [[_candidate(15.0 + 0.03 * k, 60.0)] for k in range(n_others)]
    own = [
        _candidate(15.1 / ratio, 60.0),
        replace(_candidate(15.1, 60.0), log_likelihood=60.0 - behind),
    ]
    assert _weigh([*others, own])[-1].probabilities[1] == 0.0


def test_one_rope_alone_keeps_its_rivals() -> None:
    found = _weigh([[_candidate(15.0, 40.0), _candidate(15.9, 40.0)]])[0]
    assert 0.3 < found.probabilities[0] < 0.7


def test_ropes_that_agree_support_each_other_and_one_counted_wrong_is_told() -> None:
    alone = _weigh([[_candidate(15.0, 60.0)]])[0].support[0]
    together = _weigh([*CLEAR, [_candidate(15.1, 60.0)]])[3].support[0]
    slack = _weigh([*CLEAR, [_candidate(7.5, 60.0)]])[3].support[0]
    miscounted = _weigh([*CLEAR, [_candidate(15.0, 60.0, 0.5)]])[3].support[0]
    assert alone == pytest.approx(0.0, abs=1e-9)
    assert together > 1.0
    # as stiff as the others, at another pitch: a finding, neither borne out nor denied
    assert miscounted + 5.0 < slack < together - 1.0
    assert miscounted < -3.0


def test_a_rope_without_candidates_says_nothing_and_is_told_nothing() -> None:
    found = _weigh([*CLEAR, []])
    assert found[3].probabilities.size == found[3].support.size == 0
    for one, other in zip(found[:3], _weigh(CLEAR), strict=True):
        np.testing.assert_allclose(one.support, other.support)
    assert all(one.support.size == 0 for one in _weigh([[], []]))


def test_only_witnesses_are_heard_against_others() -> None:
    weak = [[_candidate(15.0 + k / 10, 20.0, 0.5)] for k in range(3)]
    ropes = [*weak, [_candidate(15.0, 60.0)]]
    found = _weigh(ropes, witnesses=[False, False, False, True])
    alone = _weigh([ropes[3]])[0].support[0]
    # what weak ropes have in common bears out neither them nor the clear one
    assert found[3].support[0] == pytest.approx(alone, abs=1e-9)
    assert all(one.support[0] < 0.0 for one in found[:3])
    believed = _weigh(ropes)
    for one, other in zip(found[:3], believed[:3], strict=True):
        assert one.support[0] < other.support[0] - 2.0


def test_without_a_length_a_bending_that_no_hoist_rope_has_counts_against() -> None:
    fit = replace(_candidate(15.0, 40.0).fit, covariance=np.diag([2e-8, 1e-14]))
    straight = replace(fit, string_fundamental=25.0, sqrt_dispersion=1e-4)
    rivals = [Candidate(fit=one, log_likelihood=40.0) for one in (fit, straight)]
    odds = _weigh([rivals], length=None)[0].probabilities
    # ln bending is spread by hypot(1.2 / 2, 2 * 0.35) = 0.92 about ln(8 pi / 85^2):
    # 15 Hz at 3 m lies 0.12 spreads off it, 1e-4 lies 3.85 off, in odds 1 to 1600
    assert np.log(odds[0] / odds[1]) == pytest.approx(7.4, abs=0.5)


def test_a_wide_fit_is_no_evidence() -> None:
    sharp = _candidate(15.0, 40.0)
    wide = replace(_candidate(24.0, 34.0).fit, covariance=np.diag([2e-4, 1e-8]))
    rivals = [sharp, Candidate(fit=wide, log_likelihood=34.0)]
    found = _weigh([rivals], length=None)[0]
    assert found.probabilities[0] > 0.97


def _doubtful(frequency: float, ratio: float, behind: float) -> Rope:
    """The right count, and a wrong one that is so far behind."""
    return [
        _candidate(frequency, 40.0),
        _candidate(frequency, 40.0 - behind, ratio),
    ]


ROPES = st.lists(
    st.builds(_doubtful, st.floats(14.0, 16.0), RATIOS, st.floats(-2.0, 6.0)),
    min_size=1,
    max_size=4,
)


def _range() -> Rope:
    """A rope that keeps the grid as wide whatever ropes come and go."""
    return [_candidate(15.0, 40.0, 0.4), _candidate(15.0, 40.0, 2.6)]


@given(ROPES, st.integers(0, 3))
@settings(max_examples=30)
def test_a_rope_that_agrees_never_speaks_against_another(
    ropes: list[Rope], which: int
) -> None:
    ropes = [*ropes, _range()]
    which %= len(ropes) - 1
    before = _weigh(ropes)[which]
    best = int(np.argmax(before.probabilities))
    agreeing = [replace(ropes[which][best], log_likelihood=60.0)]
    after = _weigh([*ropes, agreeing])[which]
    # E[k^2] E[1] >= E[k]^2, k the agreement with a wave speed: never, but for rounding
    assert after.support[best] >= before.support[best] - 1e-9
    # what the rivals gain from a narrower set is less
    assert after.probabilities[best] >= before.probabilities[best] - 1e-3


@given(
    st.lists(st.floats(14.5, 15.5), min_size=3, max_size=6),
    RATIOS,
    st.floats(-1.0, 6.0),
)
@settings(max_examples=30)
def test_a_miscounted_rope_does_not_mislead_the_others(
    frequencies: list[float], ratio: float, behind: float
) -> None:
    ropes = [[_candidate(f, 60.0)] for f in frequencies[:-1]]
    ropes.append(_doubtful(frequencies[-1], ratio, behind))
    right = [_candidate(15.0, 60.0), _candidate(15.0, 45.0, 0.5)]
    wrong = [_candidate(15.0, 45.0), _candidate(15.0, 60.0, 0.5)]
    told = _weigh([*ropes, right])[:-1]
    misled = _weigh([*ropes, wrong])[:-1]
    for one, other in zip(told, misled, strict=True):
        assert np.argmax(one.probabilities) == np.argmax(other.probabilities)
        np.testing.assert_allclose(one.probabilities, other.probabilities, atol=1e-3)
