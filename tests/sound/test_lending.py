"""Strings that a set lends to a rope of which little is heard."""

import numpy as np
import pytest

from tension.notes import NoteKind
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.lending import lend
from tension.sound.partials import fit_string
from tension.sound.rope import HeardRope, read_lines
from tension.sound.spectra import Lines
from tests.sound.made import clamped_pinned_modes, made_lines

LENGTH, RIGIDITY = 3.0, 15.0


def _lines(speed: float, modes: list[int], stray: int = 0, seed: int = 0) -> Lines:
    rng = np.random.default_rng(seed)
    f = clamped_pinned_modes(LENGTH, speed, RIGIDITY, 30)[np.array(modes) - 1]
    return made_lines(np.concatenate([f, rng.uniform(20.0, 300.0, stray)]))


def _heard(lines: Lines) -> HeardRope:
    span = RopeSpan(number=1, free_length=LENGTH)
    readings = read_lines(lines, span, HearingPrior())
    is_weak = not readings or readings[0].log_likelihood < 17.0
    refusal = NoteKind.TOO_NOISY.refusal(rope=1) if is_weak else None
    return HeardRope(lines=lines, readings=readings, refusal=refusal, is_weak=is_weak)


def _spans(count: int) -> list[RopeSpan]:
    return [RopeSpan(number=k + 1, free_length=LENGTH) for k in range(count)]


@pytest.mark.parametrize("seed", range(3))
def test_a_rope_of_few_partials_is_found_with_the_stiffness_of_the_others(
    seed: int,
) -> None:
    clear = [_heard(_lines(speed, list(range(1, 15)))) for speed in (88.0, 92.0)]
    few = HeardRope(
        lines=_lines(80.0, [2, 3, 4, 6, 7, 9], stray=3, seed=seed), is_weak=True
    )
    lent = lend([*clear, few], _spans(3))[2]
    truth = clamped_pinned_modes(LENGTH, 80.0, RIGIDITY, 1)[0]
    best = lent.readings[0].fit
    assert best.fundamental_frequency == pytest.approx(truth, rel=2e-3)
    rigidity = (best.bending * (2.0 * LENGTH * best.spacing) ** 2 / (2.0 * np.pi)) ** 2
    assert rigidity == pytest.approx(RIGIDITY, rel=0.15)


def test_one_rope_alone_lends_no_stiffness() -> None:
    clear = _heard(_lines(88.0, list(range(1, 15))))
    few = HeardRope(lines=_lines(80.0, [2, 3, 5, 8]), is_weak=True)
    assert lend([clear, few], _spans(2))[1].readings == ()


def test_a_known_bending_holds_a_fit_of_stray_lines() -> None:
    lines = _lines(80.0, [1, 2, 3])
    told = 2.0 * np.pi * np.sqrt(RIGIDITY) / 80.0**2
    held = fit_string(lines, 13.4, told**2, 1, bending_slack=1e-3 * told)
    assert held is not None
    assert held.bending == pytest.approx(told, rel=5e-3)
    assert held.covariance[1, 1] < (2e-3 * told) ** 2
