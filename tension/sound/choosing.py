"""One numbering of a rope chosen among its rivals, or the reason why none can be."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.notes import NoteKind, Refusal
from tension.sound.hearing import Pluck, Rival, RopeSpan
from tension.sound.joint import SURE, WEAK_EVIDENCE, Reading
from tension.sound.partials import explained_share
from tension.sound.ringing import lowest_stood, why_no_rope
from tension.sound.rope import LARGEST_SCATTER, HeardRope
from tension.sound.spectra import Lines
from tension.sound.tworopes import Pair, find_pair, higher_dies, is_of_set

SAME_NUMBER = 0.012
"""Rivals so near in the fundamental widen the number and do not forbid it: a fortieth
of tension at most, where another number of a low partial is a quarter or more. [1]"""
RIVAL_TOLD = 1e-4
"""Probability from which a rival is carried on. [1]"""
LEAST_EXPLAINED, STRONG = 0.5, 35.0
"""A string that explains less than half of what stands out needs so much evidence, or
a set whose other ropes sound alike: of made ropes counted wrongly, on rods that no
model had found, three in four explain less. [1]"""
LEAST_SWINGING = 0.7
"""A string whose socket swings bends to much: without a set that bears it out it must
explain so much, as nine in ten on rods do and strummed sets taken for one do not."""
DOUBTED = 45.0
"""Evidence under which a rope without a set is doubted for a socket that swings, for
faint partials and for what stood before: a pluck played backwards has had 42. [1]"""
ALONE = 20.0
"""Evidence that a rope needs which no others bear out: music and machines find a comb
by chance in more recordings than a set has ropes. [1]"""
STRONGEST, STANDS_OUT = 3, 16.0
"""So many partials must stand so far over noise, without a set that bears it out: peaks
of noise that swells with the wind reach 14 dB, and of 626 made ropes heard alone the
third partial was under 16.9 dB in none. [1, dB]"""
AGAIN, LOUDER = 0.6, 10.0
"""A louder sound so soon before a pluck, its level over what stood before so much
higher: a hand is drawn along the ropes, and the last is taken for the pluck. [s, dB]"""
AGAIN_EXPLAINS = 0.95
"""Share of what is heard that one rope explains then. [1]"""
UNSEEN_SWING = 3e-3
"""A socket that seems to stand still where others of the set swing may swing so fast or
so little that its partials do not show it: of made ropes on rods, two in three of such
were off by less. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Choice:
    """What is made of the rivals of one rope.

    Attributes
    ----------
    best : Reading
        The likeliest.
    rivals : tuple of Rival
        All pitches that are apart, the likeliest first.
    spread : float
        Variance of ln fundamental that the choice leaves: rivals of almost the same
        pitch, a swing that may be unseen. [1]
    refusal : Refusal or None
        Why it cannot be given.
    """

    best: Reading
    rivals: tuple[Rival, ...]
    spread: float
    refusal: Refusal | None


def choose(span: RopeSpan, heard: HeardRope, weights: NDArray[np.float64]) -> Choice:
    """Choose a numbering, or tell why not.

    Parameters
    ----------
    span : RopeSpan
        Of the rope.
    heard : HeardRope
        What its recordings say; it has lines and readings.
    weights : ndarray, shape (n_readings,)
        Probabilities of its readings after the set was heard.

    Returns
    -------
    Choice
        The likeliest reading, with a refusal if it must not be given.
    """
    order = np.argsort(-weights, kind="stable").tolist()
    readings = [heard.readings[k] for k in order]
    best = readings[0]
    shares = weights[order]
    pitches = np.array([one.fit.fundamental_frequency for one in readings])
    offsets = np.log(pitches / pitches[0])
    beside = np.abs(offsets) < SAME_NUMBER
    rivals = tuple(
        Rival(fundamental_frequency=float(pitches[k]), probability=float(shares[k]))
        for k in range(len(readings))
        if shares[k] > RIVAL_TOLD and (k == 0 or not beside[k])
    )
    evidence = max(
        one.log_likelihood
        for one, is_beside in zip(readings, beside, strict=True)
        if is_beside
    )
    is_sure = shares[beside].sum() >= SURE and evidence >= WEAK_EVIDENCE
    spread = float(np.sum((shares * offsets**2)[beside]))
    if heard.beside_swings and best.fit.swing is None:
        spread += UNSEEN_SWING**2
    return Choice(
        best=best,
        rivals=rivals,
        spread=spread,
        refusal=_why_not(span, heard, readings, rivals, is_sure=is_sure),
    )


def _why_not(
    span: RopeSpan,
    heard: HeardRope,
    readings: list[Reading],
    rivals: tuple[Rival, ...],
    *,
    is_sure: bool,
) -> Refusal | None:
    """Refuse two ropes, what is not sure, and what does not ring as a rope does."""
    if heard.lines is None:
        return heard.refusal
    pair = find_pair(heard.lines, readings)
    if pair is not None and is_of_set(pair, readings[0].fit, heard.others):
        return _why_two(heard, pair, span)
    if not is_sure or readings[0].fit.scatter > LARGEST_SCATTER:
        told = " or ".join(f"{r.fundamental_frequency:.2f} Hz" for r in rivals[:3])
        return NoteKind.AMBIGUOUS.refusal(rope=span.number, rivals=told)
    no_rope = why_no_rope(heard.rings, heard.lines, readings[0].fit, span)
    if no_rope is not None:
        return no_rope
    return None if heard.is_usual else _why_weak(span, heard, heard.lines, readings[0])


def _why_weak(
    span: RopeSpan, heard: HeardRope, lines: Lines, first: Reading
) -> Refusal | None:
    """Refuse what stands out or explains little, where no set bears it out."""
    is_doubted = first.log_likelihood < DOUBTED
    if is_doubted and lowest_stood(lines, first.fit):
        return NoteKind.STOOD_BEFORE.refusal(rope=span.number)
    share = explained_share(lines, first.fit)
    levels = np.sort(10.0 * np.log10(lines.levels[first.fit.lines]))[::-1]
    is_faint = np.count_nonzero(levels > STANDS_OUT) < min(STRONGEST, levels.size)
    if (is_doubted and is_faint) or first.log_likelihood < ALONE:
        return NoteKind.TOO_NOISY.refusal(rope=span.number)
    follows = all(_follows_louder(one.pluck, heard.plucks) for one in heard.rings)
    if follows and share < AGAIN_EXPLAINS:
        return NoteKind.SEVERAL_SOUND.refusal(rope=span.number)
    is_bent = first.fit.swing is not None
    if is_bent and (is_doubted or share < LEAST_SWINGING):
        return NoteKind.SEVERAL_SOUND.refusal(rope=span.number)
    if share < LEAST_EXPLAINED and first.log_likelihood < STRONG:
        return NoteKind.TOO_NOISY.refusal(rope=span.number)
    return None


def _follows_louder(pluck: Pluck, plucks: Sequence[Pluck]) -> bool:
    """Whether a louder sound begins shortly before a pluck, in the same recording."""
    return any(
        one.recording == pluck.recording
        and 0.0 < pluck.start - one.start < AGAIN
        and one.signal_to_noise > pluck.signal_to_noise + LOUDER
        for one in plucks
    )


def _why_two(heard: HeardRope, pair: Pair, span: RopeSpan) -> Refusal:
    """Tell one rope that comes free of a guard from two ropes plucked at once."""
    assert heard.lines is not None  # noqa: S101  (narrowed by the caller)
    if higher_dies(heard.rings, heard.lines, pair):
        return NoteKind.TOUCHING.refusal(rope=span.number)
    return NoteKind.TWO_ROPES.refusal(
        rope=span.number,
        first=pair.lower.fundamental_frequency,
        second=pair.higher.fundamental_frequency,
    )
