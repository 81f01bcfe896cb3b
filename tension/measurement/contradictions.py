"""Readings of one rope held against each other: they agree, or a vote, or nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import expm1, hypot

from tension.notes import Note, NoteKind, Refusal

REPEATABILITY = 0.02
"""By how much readings of one rope may differ anyway: how hard it is plucked, how it is
held; the program's own figure, of tension. [1]"""

_STANDARD_DEVIATIONS = 3.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Settled:
    """Which readings of one rope count.

    Attributes
    ----------
    used : tuple of int
        Their places; empty if the readings contradict each other.
    refusal : Refusal or None
        Why none counts.
    note : Note or None
        Which one was outvoted.
    """

    used: tuple[int, ...]
    refusal: Refusal | None = None
    note: Note | None = None


def settle_readings(
    rope: int,
    logarithms: Sequence[float],
    uncertainties: Sequence[float],
    texts: Sequence[str],
) -> Settled:
    """Find which readings of one rope count, whatever their order.

    Parameters
    ----------
    rope : int
        Rope number.
    logarithms : sequence of float, shape (n_readings,)
        Logarithms of the tensions read, up to a common term. [1]
    uncertainties : sequence of float, shape (n_readings,)
        Relative standard uncertainty of each tension. [1]
    texts : sequence of str, shape (n_readings,)
        What was read, in words: file and figure.

    Returns
    -------
    Settled
        All of them, if they agree. If not, those that agree with each other and are
        two thirds of all or more, with a note; else none, with the reason.
    """
    n = len(logarithms)
    order = sorted(range(n), key=lambda i: (logarithms[i], texts[i]))
    groups = [_group_from(order[k:], logarithms, uncertainties) for k in range(n)]
    largest = max(groups, key=len, default=[])
    if len(largest) == n:
        return Settled(used=tuple(range(n)))
    told = sorted(texts[i] for i in largest)
    if 3 * len(largest) >= 2 * n and sum(len(g) == len(largest) for g in groups) == 1:
        odd = sorted(texts[i] for i in range(n) if i not in largest)
        note = NoteKind.READING_OUTVOTED.note(
            ropes=(rope,),
            rope=rope,
            count=n,
            agreeing=len(largest),
            readings=" and ".join(told),
            odd=" and ".join(odd),
        )
        return Settled(used=tuple(sorted(largest)), note=note)
    widest = expm1(max(logarithms) - min(logarithms))
    refusal = NoteKind.READINGS_APART.refusal(
        rope=rope, readings=" against ".join(sorted(texts)), apart=f"{100 * widest:.0f}"
    )
    return Settled(used=(), refusal=refusal)


def agree(one: float, other: float, *uncertainties: float) -> bool:
    """Tell whether two readings can be of one tension.

    Parameters
    ----------
    one, other : float
        Logarithms of the tensions. [1]
    *uncertainties : float
        Relative standard uncertainty of each. [1]

    Returns
    -------
    bool
        Whether they differ by no more than three standard deviations, or than
        readings of one rope do anyway.
    """
    allowed = max(REPEATABILITY, _STANDARD_DEVIATIONS * hypot(*uncertainties))
    return abs(one - other) <= allowed


def _group_from(
    order: Sequence[int], logarithms: Sequence[float], uncertainties: Sequence[float]
) -> list[int]:
    """Readings from the first on of which every two can be of one tension."""
    group: list[int] = []
    for i in order:
        if not all(
            agree(logarithms[i], logarithms[j], uncertainties[i], uncertainties[j])
            for j in group
        ):
            break
        group.append(i)
    return group
