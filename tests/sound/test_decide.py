"""The one place where a rope is given or refused: two checks, and what is told."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tension.notes import Refusal
from tension.sound import decision as deciding
from tension.sound.candidates import find_own_candidates
from tension.sound.decays import FoundRope, find_decays
from tension.sound.decision import (
    LEAST_ODDS,
    LEAST_PROBABILITY,
    SAME_NUMBER,
    SUPPORT,
    Decision,
    Reason,
    Term,
    decide,
    refuse,
)
from tension.sound.hearing import HearingPrior, RopeSpan, Take
from tension.sound.string_fit import Candidate
from tests.sound.made import clamped_pinned_modes, recording, ring, take

SPAN = RopeSpan(number=1, free_length=3.0)
ONE = clamped_pinned_modes(3.0, 60.0, 8.0, 24)


@cache
def _take() -> Take:
    return take(recording({0.8: ring(ONE, seconds=3.0)}, seconds=3.8))


@cache
def _heard() -> FoundRope:
    """A clear rope, and two rivals: one of almost its pitch, one of twice that."""
    heard = find_decays([_take()], [SPAN])[1]
    find_own_candidates(heard, HearingPrior())
    best = heard.candidates[0]
    beside = replace(
        best.fit,
        string_fundamental=best.fit.string_fundamental * (1.0 + 0.5 * SAME_NUMBER),
    )
    double = replace(best.fit, string_fundamental=best.fit.string_fundamental * 2.0)
    rivals = [Candidate(fit=fit, log_likelihood=5.0) for fit in (beside, double)]
    return replace(heard, candidates=(best, *rivals))


def _decided(
    monkeypatch: pytest.MonkeyPatch,
    *,
    shares: tuple[float, float, float] = (0.95, 0.03, 0.02),
    odds: float = 2.0,
    support: float = 0.0,
    reason: Reason = Reason.FAINT,
) -> Decision:
    monkeypatch.setattr(deciding, "rope_odds", lambda _: (LEAST_ODDS + odds, reason))
    decision = decide(_heard(), np.array(shares), np.array([support, 0.0, 0.0]))
    assert decision is not None
    return decision


def _refusal(heard: FoundRope, decision: Decision | None) -> Refusal:
    refusal = refuse(heard, decision, [_take().recording]).refusal
    assert refusal is not None
    return refusal


def test_a_rope_that_passes_both_checks_is_given(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found = _decided(monkeypatch)
    assert found.reason is None
    assert not found.confirmed
    assert [check.name for check in found.checks] == ["count", "rope"]
    # a rival of almost its pitch counts for it, and widens the number
    assert found.checks[0].value == pytest.approx(0.98)
    assert found.spread == pytest.approx(0.03 * (0.5 * SAME_NUMBER) ** 2, rel=0.05)
    assert len(found.rivals) == 2


def test_a_count_in_doubt_is_refused_with_both_pitches(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    least = LEAST_PROBABILITY - 0.02
    found = _decided(monkeypatch, shares=(least, 0.0, 1.0 - least))
    assert found.reason is Reason.COUNT
    assert [check.passed for check in found.checks] == [False, True]
    refusal = _refusal(_heard(), found)
    assert refusal.code == "ambiguous-numbering"
    assert f"{found.rivals[0].fundamental_frequency:.2f} Hz" in refusal.text
    assert f"{found.rivals[1].fundamental_frequency:.2f} Hz" in refusal.text


def test_the_likeliest_is_chosen_whatever_its_place(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found = _decided(monkeypatch, shares=(0.04, 0.0, 0.96))
    assert found.best is _heard().candidates[2]
    assert found.rivals[0].probability == pytest.approx(0.96)


def test_the_set_bears_out_a_doubtful_rope_and_no_more_than_so_much(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    low, high = SUPPORT
    borne = _decided(monkeypatch, odds=-0.9 * high, support=50.0)
    assert borne.reason is None
    assert borne.confirmed
    assert borne.checks[1].value == pytest.approx(LEAST_ODDS + 0.1 * high)
    assert _decided(monkeypatch, odds=-1.1 * high, support=50.0).reason is Reason.FAINT
    # nor does a pitch apart from all others refuse a rope that is clear by itself
    clear = _decided(monkeypatch, odds=1.1 * abs(low), support=-50.0)
    assert clear.reason is None
    assert not clear.confirmed


@pytest.mark.parametrize("reason", list(Reason))
def test_each_reason_has_its_words_and_its_next_act(
    reason: Reason, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = _decided(monkeypatch, odds=-9.0, reason=reason)
    assert found.reason is reason
    refusal = _refusal(_heard(), found)
    assert refusal.text
    assert refusal.next_act


def test_a_term_that_takes_all_refuses_a_clear_rope(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # no share is over 1: the term takes its most
    monkeypatch.setattr(deciding, "TERMS", (Term("explained", 2.0, -0.1, 50.0),))
    found = decide(_heard(), np.array([1.0, 0.0, 0.0]), np.zeros(3))
    assert found is not None
    assert found.reason is Reason.SEVERAL


def test_without_a_candidate_there_is_nothing_to_decide() -> None:
    heard = replace(_heard(), candidates=())
    assert decide(heard, np.empty(0), np.empty(0)) is None
    refusal = _refusal(heard, None)
    assert refusal.text
    assert refusal.next_act
