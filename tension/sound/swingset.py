"""Ends that some ropes of a set show, looked for in the others."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tension.notes import NoteKind
from tension.sound.hearing import RopeSpan
from tension.sound.joint import Reading
from tension.sound.partials import StringFit, explained_share
from tension.sound.rope import LEAST_EVIDENCE, HeardRope, in_order
from tension.sound.swinging import Swing
from tension.sound.swingsearch import search_told

STRONG = 35.0
"""Evidence from which the string of a rope is beyond doubt. [1]"""
AHEAD = 10.0
"""By which it is likelier than any other pitch. [1]"""
ANOTHER_PITCH = 0.012
"""Relative distance of another pitch. [1]"""
MOST_ENDS = 4
"""Ends lent."""
LEAST_EXPLAINED = 0.65
"""Of what is heard, by a string whose socket stands still where others swing. [1]"""
USUAL_SPREAD, OUTLYING, CLEAR = 0.1, 45.0, 25.0
"""A pitch a tenth off the others, a fifth of tension, needs so much evidence where
sockets swing, and so much more than a pitch as the others have: a swing not found, or
one too many, makes the count slip. [1]"""


def lend_ends(heard: Sequence[HeardRope], spans: Sequence[RopeSpan]) -> list[HeardRope]:
    """Look in each rope for the ends, stiffness and wave speed of the others.

    Parameters
    ----------
    heard : sequence of HeardRope
        The ropes, each heard by itself.
    spans : sequence of RopeSpan
        Of the same ropes.

    Returns
    -------
    list of HeardRope
        The same, some with more readings, or no longer refused as too weak.

    Notes
    -----
    Sockets of one set are alike, and the rods of a row as long as each other: an end
    that is beyond doubt in one rope is likelier in the next than any other.
    """
    strong = [
        (one.readings[0].fit, span.free_length)
        for one, span in zip(heard, spans, strict=True)
        if span.free_length is not None and _is_strong(one)
    ]
    swings = [fit.swing for fit, _ in strong if fit.swing is not None]
    if not swings:
        return list(heard)
    speed = float(np.median([2.0 * length * fit.spacing for fit, length in strong]))
    rigidity = float(np.median([_rigidity(fit, length) for fit, length in strong]))
    lent = [
        one
        if _is_settled(one)
        else _with(one, span, speed, rigidity, swings[:MOST_ENDS])
        for one, span in zip(heard, spans, strict=True)
    ]
    return [_doubted(one, span, speed) for one, span in zip(lent, spans, strict=True)]


def _rigidity(fit: StringFit, length: float) -> float:
    """EI/m that a string shows. [m^4/s^2]."""
    speed = 2.0 * length * fit.spacing
    return float((fit.bending * speed**2 / (2.0 * np.pi)) ** 2)


def _is_strong(one: HeardRope) -> bool:
    """Whether one pitch of a rope is beyond doubt."""
    if one.refusal is not None or not one.readings:
        return False
    first = one.readings[0]
    return first.log_likelihood > STRONG and all(
        other.log_likelihood < first.log_likelihood - AHEAD
        for other in one.readings[1:]
        if abs(np.log(other.fit.spacing / first.fit.spacing)) > ANOTHER_PITCH
    )


def _is_settled(one: HeardRope) -> bool:
    """Whether a rope has shown its own end beyond doubt."""
    return _is_strong(one) and one.readings[0].fit.swing is not None


def _with(
    one: HeardRope,
    span: RopeSpan,
    speed: float,
    rigidity: float,
    swings: Sequence[Swing],
) -> HeardRope:
    """Add what a rope shows if its end is as those of the others."""
    if one.lines is None:
        return one
    told = search_told(one.lines, span, speed, rigidity, swings)
    readings: tuple[Reading, ...] = in_order((*one.readings, *told))
    is_heard = bool(readings) and readings[0].log_likelihood >= LEAST_EVIDENCE
    if one.is_weak and is_heard:
        one = replace(one, refusal=None, is_weak=False)
    return replace(one, readings=readings, beside_swings=True)


def _doubted(one: HeardRope, span: RopeSpan, speed: float) -> HeardRope:
    """Refuse a pitch that may be a miscount because the swing was not found."""
    if one.refusal is not None or one.lines is None or not one.readings:
        return one
    if span.free_length is None or not _is_doubtful(one, span.free_length, speed):
        return one
    own = one.readings[0].fit.fundamental_frequency
    usual = speed / (2.0 * span.free_length)
    rivals = f"{own:.2f} Hz or about {usual:.1f} Hz, as the others"
    refusal = NoteKind.AMBIGUOUS.refusal(rope=span.number, rivals=rivals)
    return replace(one, refusal=refusal)


def _is_doubtful(one: HeardRope, length: float, speed: float) -> bool:
    """Whether little is explained, or the pitch lies apart without clear evidence."""
    first = one.readings[0]
    if one.lines is not None and first.fit.swing is None:
        share = explained_share(one.lines, first.fit)
        if one.beside_swings and share < LEAST_EXPLAINED:
            return True
    apart = [
        abs(np.log(2.0 * length * reading.fit.spacing / speed))
        for reading in one.readings
    ]
    least = max(LEAST_EVIDENCE, first.log_likelihood - CLEAR)
    has_usual_rival = any(
        off < USUAL_SPREAD and reading.log_likelihood > least
        for reading, off in zip(one.readings, apart, strict=True)
    )
    is_weak = has_usual_rival or first.log_likelihood < OUTLYING
    return bool(apart[0] > USUAL_SPREAD and is_weak)
