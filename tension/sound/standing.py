"""How the pitch of each rope stands in its set: borne out, usual, or to be doubted."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tension.notes import NoteKind
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.joint import SURE, Reading, as_stiff, confirmed, log_speed
from tension.sound.partials import StringFit, explained_share
from tension.sound.rope import LEAST_EVIDENCE, HeardRope

Array = NDArray[np.float64]

LEAST_ROPES, LEAST_WITNESSES = 3, 2
"""Fewer ropes have no usual wave speed, and fewer that are clear tell none."""
WITNESS, WITNESS_EXPLAINS = 30.0, 0.5
"""Evidence, and share of what is heard, of a rope that others are held against: several
weak ropes on swinging sockets are miscounted alike, and would bear each other out."""
USUAL = 0.1
"""Distance of a pitch from those of the others within which it is usual: a fifth of
tension, one standard deviation of a made set being less. [1]"""
LEAST_LIKE = 2
"""Others so near make a pitch usual that is apart from most: two kinds of rope, or a
row that was left slack."""
CLEAR = 25.0
"""Evidence that a rope needs in a set without witnesses, and by which a pitch apart
must be likelier than a usual one of the same recording: a slack rope has no line at
the places that a usual pitch needs, and beats it by more. [1]"""
ANOTHER = 0.05
"""Distance of a pitch that is another one, and not the same a little off. [1]"""
STRONG, EXPLAINED = 45.0, 0.65
"""Evidence that a pitch apart needs by itself if it is not as stiff as the others, and
share of what is heard that it must explain; beside a swinging end, which may be fitted
to anything, it needs as much without witnesses. [1]"""


def stand_in_set(
    heard: Sequence[HeardRope],
    spans: Sequence[RopeSpan],
    probabilities: Sequence[Array],
    prior: HearingPrior,
) -> list[HeardRope]:
    """Keep what the set bears out, and doubt what is apart without good evidence.

    Parameters
    ----------
    heard : sequence of HeardRope
        The ropes, each heard by itself.
    spans : sequence of RopeSpan
        Of the same ropes.
    probabilities : sequence of ndarray, shape (n_readings,)
        Of the readings of each, after the set was heard; empty if there are none.
    prior : HearingPrior
        What is expected.

    Returns
    -------
    list of HeardRope
        The same, some no longer refused as too weak, some refused with both pitches.

    Notes
    -----
    The set has ranked the rivals before: this asks only about what it chose.
    """
    chosen = [
        one.readings[int(np.argmax(weights))] if weights.size else None
        for one, weights in zip(heard, probabilities, strict=True)
    ]
    witnesses = [
        _Witness(number=span.number, fit=first.fit, length=span.free_length)
        for one, first, span, weights in zip(
            heard, chosen, spans, probabilities, strict=True
        )
        if first is not None
        and span.free_length is not None
        and _is_witness(one, first, weights)
    ]
    result = []
    for one, first, span in zip(heard, chosen, spans, strict=True):
        if first is None or span.free_length is None or len(spans) < LEAST_ROPES:
            result.append(one)
            continue
        others = [each for each in witnesses if each.number != span.number]
        known = _borne_out(one, first, span, others, prior)
        result.append(_placed(known, first, span, others))
    return [
        replace(one, others=_others(k, result, chosen)) for k, one in enumerate(result)
    ]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Witness:
    """A rope heard so well that others may be held against it."""

    number: int
    fit: StringFit
    length: float


def _is_witness(one: HeardRope, first: Reading, weights: Array) -> bool:
    """Whether what was chosen for a rope is clear by itself."""
    if one.refusal is not None or one.lines is None:
        return False
    pitches = np.array([other.fit.spacing for other in one.readings])
    beside = np.abs(np.log(pitches / first.fit.spacing)) < ANOTHER
    return bool(
        first.log_likelihood > WITNESS
        and weights[beside].sum() > SURE
        and explained_share(one.lines, first.fit) > WITNESS_EXPLAINS
    )


def _others(
    k: int, heard: Sequence[HeardRope], chosen: Sequence[Reading | None]
) -> tuple[float, ...] | None:
    """Pitches of the other ropes, if every one of them was heard. [Hz]."""
    result = []
    for j, (one, first) in enumerate(zip(heard, chosen, strict=True)):
        if j != k:
            if one.refusal is not None or first is None:
                return None
            result.append(first.fit.fundamental_frequency)
    return tuple(result) or None


def _borne_out(
    one: HeardRope,
    first: Reading,
    span: RopeSpan,
    others: Sequence[_Witness],
    prior: HearingPrior,
) -> HeardRope:
    """Keep a rope that is weak by itself where the others bear it out."""
    strings = [(each.fit, each.length) for each in others]
    if not one.is_weak or not confirmed(first, span.free_length, strings, prior):
        return one
    note = NoteKind.SET_CONFIRMS.note(ropes=(span.number,), rope=span.number)
    return replace(one, refusal=None, notes=(*one.notes, note))


def _placed(
    one: HeardRope, first: Reading, span: RopeSpan, others: Sequence[_Witness]
) -> HeardRope:
    """Mark one rope as usual, or refuse it if it is apart and not clear of doubt."""
    if one.refusal is not None or span.free_length is None:
        return one
    swings = one.beside_swings or first.fit.swing is not None
    if len(others) < LEAST_WITNESSES:
        if _stands_alone(one, first, STRONG if swings else CLEAR):
            return one
        return _refused(one, first, span, _next_pitch(one, first))
    own = log_speed(first.fit, span.free_length)
    speeds = np.array([log_speed(each.fit, each.length) for each in others])
    like = np.count_nonzero(np.abs(speeds - own) < USUAL)
    if abs(np.median([*speeds, own]) - own) < USUAL or like >= LEAST_LIKE:
        return replace(one, is_usual=True)
    spacing = float(np.exp(np.median(speeds))) / (2.0 * span.free_length)
    rival = _usual_rival(one, first, spacing)
    strings = [(each.fit, each.length) for each in others]
    is_alike = not swings and as_stiff(first.fit, span.free_length, strings)
    if rival is None and (is_alike or _stands_alone(one, first, STRONG)):
        return one
    return _refused(one, first, span, rival or f"about {spacing:.1f} Hz")


def _stands_alone(one: HeardRope, first: Reading, least: float) -> bool:
    """Whether a pitch needs no others: much evidence, and most of what is heard."""
    if one.lines is None or first.log_likelihood < least:
        return False
    return explained_share(one.lines, first.fit) > EXPLAINED


def _refused(one: HeardRope, first: Reading, span: RopeSpan, rival: str) -> HeardRope:
    """The rope refused, both pitches told."""
    own = f"{first.fit.fundamental_frequency:.2f} Hz"
    refusal = NoteKind.AMBIGUOUS.refusal(rope=span.number, rivals=f"{own} or {rival}")
    return replace(one, refusal=refusal)


def _next_pitch(one: HeardRope, first: Reading) -> str:
    """The likeliest pitch that is another one."""
    for other in one.readings:
        if abs(np.log(other.fit.spacing / first.fit.spacing)) > ANOTHER:
            return f"{other.fit.fundamental_frequency:.2f} Hz"
    return "another"


def _usual_rival(one: HeardRope, first: Reading, spacing: float) -> str | None:
    """Pitch of a usual reading nearly as good as the chosen one."""
    least = max(LEAST_EVIDENCE, first.log_likelihood - CLEAR)
    for other in one.readings:
        is_usual = abs(np.log(other.fit.spacing / spacing)) < USUAL
        is_another = abs(np.log(other.fit.spacing / first.fit.spacing)) > ANOTHER
        if is_usual and is_another and other.log_likelihood > least:
            return f"{other.fit.fundamental_frequency:.2f} Hz"
    return None
