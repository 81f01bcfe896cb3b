"""Kinds of evidence held against each other."""

from collections.abc import Sequence
from itertools import combinations
from math import sqrt

import numpy as np

from tension.measurement.evidence import Array, Evidence
from tension.notes import Note, NoteKind
from tension.quantity.estimate import Sharing

_UNKNOWN_OFFSET = 1e4
"""Variance of ln of a factor of which nothing is known. [1]"""

_STANDARD_DEVIATIONS = 3.0


def offset_variance(one: Evidence, other: Evidence) -> float:
    """Variance of the error common to one kind against another.

    Parameters
    ----------
    one, other : Evidence
        Two kinds on one set.

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


def notes_on_agreement(kinds: Sequence[Evidence]) -> tuple[Note, ...]:
    """Say where kinds of evidence contradict each other.

    Parameters
    ----------
    kinds : sequence of Evidence
        Kinds that give ropes a number.

    Returns
    -------
    tuple of Note
        Naming both figures; empty where they agree within their uncertainties.
    """
    notes: list[Note] = []
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
        notes += _rope_notes(one, other, common, difference, variance)
    return tuple(notes)


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


def _rope_notes(
    one: Evidence,
    other: Evidence,
    common: Sequence[int],
    difference: Array,
    variance: Array,
) -> list[Note]:
    """Ropes whose shares differ between the kinds by more than chance."""
    n = len(common)
    if n < 2:
        return []
    centring = np.eye(n) - 1 / n
    # the median, so that one rope that is off does not make the others look so
    apart = difference - np.median(difference)
    widths = np.sqrt(np.maximum(np.diag(centring @ variance @ centring), 1e-16))
    first, second = (
        np.exp(_part(k, common) - _part(k, common).mean()) for k in (one, other)
    )
    far = np.abs(apart) > _STANDARD_DEVIATIONS * widths
    worst = [i for i in range(n) if far[i]][: 1 if n == 2 else n]
    return [
        NoteKind.ROPE_CONTRADICTS.note(
            ropes=(common[i],),
            rope=common[i],
            one=one.label,
            other=other.label,
            first=f"{100 * first[i]:.1f}",
            second=f"{100 * second[i]:.1f}",
        )
        for i in worst
    ]
