"""Strings that a set lends to a rope of which little is heard."""

import numpy as np
import pytest

from tension.sound.candidates import find_candidates, lend_candidates
from tension.sound.decays import FoundRope
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.spectra import Lines
from tests.sound.made import clamped_pinned_modes, fitted, made_lines

LENGTH, RIGIDITY = 3.0, 15.0


def _lines(speed: float, modes: list[int], stray: int = 0, seed: int = 0) -> Lines:
    rng = np.random.default_rng(seed)
    f = clamped_pinned_modes(LENGTH, speed, RIGIDITY, 30)[np.array(modes) - 1]
    return made_lines(np.concatenate([f, rng.uniform(20.0, 300.0, stray)]))


SPAN = RopeSpan(number=1, free_length=LENGTH)


def _few(lines: Lines | None, span: RopeSpan = SPAN) -> FoundRope:
    return FoundRope(span=span, lines=lines)


def _heard(lines: Lines) -> FoundRope:
    found = find_candidates(lines, SPAN, HearingPrior())
    return FoundRope(span=SPAN, lines=lines, candidates=found)


@pytest.mark.parametrize("seed", range(3))
def test_a_rope_of_few_partials_is_found_with_the_stiffness_of_the_others(
    seed: int,
) -> None:
    clear = [_heard(_lines(speed, list(range(1, 15)))) for speed in (88.0, 92.0)]
    few = _few(_lines(80.0, [2, 3, 4, 6, 7, 9], stray=3, seed=seed))
    lend_candidates([*clear, few])
    truth = clamped_pinned_modes(LENGTH, 80.0, RIGIDITY, 1)[0]
    best = few.candidates[0].fit
    assert best.fundamental_frequency == pytest.approx(truth, rel=2e-3)
    rigidity = (
        best.sqrt_dispersion
        * (2.0 * LENGTH * best.string_fundamental) ** 2
        / (2.0 * np.pi)
    ) ** 2
    assert rigidity == pytest.approx(RIGIDITY, rel=0.15)


def test_one_rope_alone_lends_no_stiffness() -> None:
    clear = _heard(_lines(88.0, list(range(1, 15))))
    few = _few(_lines(80.0, [2, 3, 5, 8]))
    lend_candidates([clear, few])
    assert few.candidates == ()


def test_a_known_bending_holds_a_fit_of_stray_lines() -> None:
    lines = _lines(80.0, [1, 2, 3])
    told = 2.0 * np.pi * np.sqrt(RIGIDITY) / 80.0**2
    held = fitted(lines, 13.4, told**2, slack=1e-3 * told)
    assert held.sqrt_dispersion == pytest.approx(told, rel=5e-3)
    assert held.covariance[1, 1] < (2e-3 * told) ** 2


def test_a_rope_beyond_doubt_is_lent_no_other_string() -> None:
    clear = [_heard(_lines(speed, list(range(1, 15)))) for speed in (88.0, 92.0, 80.0)]
    before = [one.candidates for one in clear]
    lend_candidates(clear)
    assert [one.candidates for one in clear] == before


def test_a_rope_refused_or_of_unknown_length_lends_and_borrows_nothing() -> None:
    clear = [_heard(_lines(speed, list(range(1, 15)))) for speed in (88.0, 92.0)]
    lines = _lines(80.0, [2, 3, 4, 6, 7, 9])
    few = _few(lines)
    lend_candidates([_few(None), clear[1], few])
    assert few.candidates == ()
    no_length = _few(lines, RopeSpan(number=3))
    lend_candidates([*clear, no_length])
    assert no_length.candidates == ()
