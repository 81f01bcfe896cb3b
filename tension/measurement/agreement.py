"""Kinds of evidence held against each other."""

from collections.abc import Sequence
from itertools import combinations
from math import pi, sqrt

import numpy as np

from tension.measurement.evidence import Array, Evidence
from tension.notes import Note, NoteKind, Refusal
from tension.quantity.estimate import Sharing

_UNKNOWN_OFFSET = 1e4
"""Variance of ln of a factor of which nothing is known. [1]"""

_STANDARD_DEVIATIONS = 3.0

_APART = 4.0
"""Standard deviations from which a rope has no number: chance alone makes 3 of them on
one rope in four hundred. [1]"""


def offset_variance(one: Evidence, other: Evidence) -> float:
    """Variance of the error common to one kind against another.

    Returns
    -------
    float
        Of the logarithm; without bound where only one of them knows newtons. What the
        whole set shares, such as its linear density, drops out if both rest on it. [1]
    """
    if one.is_absolute != other.is_absolute:
        return _UNKNOWN_OFFSET
    common = {s.name for s in one.shared_sources if s.sharing is Sharing.SET} & {
        s.name for s in other.shared_sources if s.sharing is Sharing.SET
    }
    return sum(
        source.relative**2
        for kind in (one, other)
        for source in kind.shared_sources
        if source.name not in common
    )


def find_contradictions(
    kinds: Sequence[Evidence],
) -> tuple[tuple[Note, ...], dict[int, Refusal]]:
    """Find where kinds of evidence contradict each other.

    Returns
    -------
    notes : tuple of Note
        Where the kinds differ as a whole, by their means; shares are left untouched.
    refusals : dict of int to Refusal
        Ropes that carry another share by one kind than by another, with both figures.
    """
    notes: list[Note] = []
    refusals: dict[int, Refusal] = {}
    for one, other in combinations(kinds, 2):
        common = [n for n in one.numbers if n in other.numbers]
        if not common:
            continue
        first = _part(one, common)
        second = _part(other, common)
        difference = first - second
        variance = _covariance(one, common) + _covariance(other, common)
        level = _level_note(one, other, common, variance)
        notes += [level] if level else []
        found = _ropes_apart(one, other, common, difference, variance)
        refusals |= {n: r for n, r in found.items() if n not in refusals}
    return tuple(notes), refusals


def _part(kind: Evidence, numbers: Sequence[int]) -> Array:
    """Logarithms of the tensions of some ropes."""
    return np.asarray(np.log(kind.tensions[[kind.numbers.index(n) for n in numbers]]))


def _covariance(kind: Evidence, numbers: Sequence[int]) -> Array:
    """Covariance of the logarithms of the tensions of some ropes."""
    where = [kind.numbers.index(n) for n in numbers]
    return kind.covariance[np.ix_(where, where)]


def _level_note(
    one: Evidence, other: Evidence, common: Sequence[int], variance: Array
) -> Note | None:
    """Both means, where both are newtons and they do not agree."""
    if not (one.is_absolute and other.is_absolute):
        return None
    first, second = _part(one, common), _part(other, common)
    width = sqrt(float(variance.mean()) + offset_variance(one, other))
    if abs(float((first - second).mean())) <= _STANDARD_DEVIATIONS * width:
        return None
    return NoteKind.KINDS_DISAGREE.note(
        one=one.label,
        other=other.label,
        first=_newtons(float(np.exp(first).mean())),
        second=_newtons(float(np.exp(second).mean())),
    )


def _newtons(value: float) -> str:
    """Three digits, written out."""
    return f"{float(f'{value:.3g}'):.0f}"


def _ropes_apart(
    one: Evidence,
    other: Evidence,
    common: Sequence[int],
    difference: Array,
    variance: Array,
) -> dict[int, Refusal]:
    """Ropes whose shares differ between the kinds by more than chance."""
    n = len(common)
    if n < 2:
        return {}
    # the median, so that one rope that is off does not make the others look so
    apart = difference - np.median(difference)
    own = np.diag(variance)
    # the median of n normal readings has pi/2 times the variance of their mean
    widths = np.sqrt(np.maximum(own + pi / 2 * own.mean() / n, 1e-16))
    first, second = (
        np.exp(_part(k, common) - _part(k, common).mean()) for k in (one, other)
    )
    far = np.abs(apart) > _APART * widths
    return {
        common[i]: NoteKind.ROPE_CONTRADICTS.refusal(
            rope=common[i],
            one=one.label,
            other=other.label,
            first=f"{100 * first[i]:.1f}",
            second=f"{100 * second[i]:.1f}",
        )
        for i in range(n)
        if far[i]
    }
