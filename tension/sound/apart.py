"""Pitches apart from those of the set, doubted where a usual one is nearly as good."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tension.notes import NoteKind
from tension.sound.hearing import RopeSpan
from tension.sound.joint import Reading
from tension.sound.partials import explained_share
from tension.sound.rope import LEAST_EVIDENCE, HeardRope

Array = NDArray[np.float64]

LEAST_ROPES = 3
"""Fewer have no usual wave speed."""
USUAL = 0.1
"""Distance of a pitch from those of the others within which it is usual: a fifth of
tension, one standard deviation of a made set being less. [1]"""
CLEAR = 25.0
"""By which a pitch apart must be likelier than a usual one of the same recording: a
slack rope has no line at the places that a usual pitch needs, and beats it by more."""

STRONG, EXPLAINED = 45.0, 0.65
"""Evidence, or share of what is heard, that a pitch apart needs by itself. [1]"""


def doubt_apart(
    heard: Sequence[HeardRope],
    spans: Sequence[RopeSpan],
    probabilities: Sequence[Array],
) -> list[HeardRope]:
    """Refuse a pitch apart from the set where the recording allows a usual one too.

    Parameters
    ----------
    heard : sequence of HeardRope
        The ropes, each heard by itself.
    spans : sequence of RopeSpan
        Of the same ropes.
    probabilities : sequence of ndarray, shape (n_readings,)
        Of the readings of each, after the set was heard; empty if it is refused.

    Returns
    -------
    list of HeardRope
        The same, some refused with both pitches told, others borne out.

    Notes
    -----
    The set has ranked the rivals before: this asks only about what it left apart.
    """
    chosen = [
        one.readings[int(np.argmax(weights))] if weights.size else None
        for one, weights in zip(heard, probabilities, strict=True)
    ]
    speeds = [
        2.0 * span.free_length * first.fit.spacing
        for first, span in zip(chosen, spans, strict=True)
        if span.free_length is not None and first is not None
    ]
    if len(speeds) < LEAST_ROPES:
        return list(heard)
    usual = float(np.median(speeds))
    return [
        one if first is None else _doubted(one, first, span, usual)
        for one, first, span in zip(heard, chosen, spans, strict=True)
    ]


def _doubted(one: HeardRope, first: Reading, span: RopeSpan, usual: float) -> HeardRope:
    """Refuse one rope if its pitch is apart and not clear of doubt."""
    if one.refusal is not None or span.free_length is None:
        return one
    spacing = usual / (2.0 * span.free_length)
    if abs(np.log(first.fit.spacing / spacing)) < USUAL:
        return replace(one, is_usual=True)
    rival = _usual_rival(one, first, spacing)
    if rival is None and not _explains_little(one, first):
        return one
    own = first.fit.fundamental_frequency
    told = f"about {spacing:.1f} Hz" if rival is None else f"{rival:.2f} Hz"
    refusal = NoteKind.AMBIGUOUS.refusal(
        rope=span.number, rivals=f"{own:.2f} Hz or {told}"
    )
    return replace(one, refusal=refusal)


def _usual_rival(one: HeardRope, first: Reading, spacing: float) -> float | None:
    """Pitch of a usual reading nearly as good as the chosen one. [Hz]."""
    least = max(LEAST_EVIDENCE, first.log_likelihood - CLEAR)
    for other in one.readings:
        is_usual = abs(np.log(other.fit.spacing / spacing)) < USUAL
        if is_usual and other.log_likelihood > least:
            return other.fit.fundamental_frequency
    return None


def _explains_little(one: HeardRope, first: Reading) -> bool:
    """Whether the chosen reading is weak and leaves much of what is heard open."""
    if one.lines is None or first.log_likelihood > STRONG:
        return False
    return explained_share(one.lines, first.fit) < EXPLAINED
