"""Repeats of one rope: do they agree, a vote if not, and how widely they scatter."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import expm1, hypot
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from tension.measurement.readings import PullReading, ReturnsReading, SpringReading
from tension.notes import Note, NoteKind, Refusal

Array = NDArray[np.float64]
Read = TypeVar("Read", PullReading, ReturnsReading, SpringReading)
Found = TypeVar("Found")

_DECLARED_FREEDOM = 5.0
"""Degrees of freedom that the declared uncertainty of one reading counts for. [1]"""

_OUTLYING = 9.0
"""Variance ratio from which a rope's own scatter stands for it alone. [1]"""

_TWO_SIDED = 1.959964  # normal quantile of 95 %, two-sided [1]

REPEATABILITY = 0.02
"""By how much readings of one rope may differ anyway: how hard it is plucked, how it is
held; the program's own figure, of tension. [1]"""

_STANDARD_DEVIATIONS = 3.0  # by which readings of one rope may differ [1]


def coverage_widening(degrees_of_freedom: float) -> float:
    """Ratio of Student's t to the normal quantile, two-sided 95 %.

    From 3 degrees of freedom on [1]. Expansion of Cornish and Fisher to the third
    order; 0.4 % low at 4 degrees.
    """
    z, n = _TWO_SIDED, degrees_of_freedom
    quantile = (
        z
        + (z**3 + z) / (4 * n)
        + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * n**2)
        + (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * n**3)
    )
    return quantile / z


def uncertainty_of_means(
    logarithms: Sequence[Sequence[float]],
    declared: Sequence[float],
    *,
    declared_freedom: float = _DECLARED_FREEDOM,
) -> Array:
    """Relative uncertainty of the mean of each rope's repeats, shape (n_ropes,).

    `logarithms` are of the repeated tensions, rope by rope; `declared` is the relative
    uncertainty of one reading of each rope [1], which counts for `declared_freedom`
    degrees. The scatter is pooled over the ropes and blended with the declared
    uncertainty; the result is widened by Student's t. A reading that was not repeated
    shows no scatter and is widened all the more. A rope that scatters far more than the
    others stands for itself.
    """
    counts = np.array([len(one) for one in logarithms], dtype=float)
    wanted = np.asarray(declared, dtype=float)
    squares = np.array([float(np.var(one)) * len(one) for one in logarithms])
    freedom = counts - 1
    # in units of the declared variance of each rope, so that ropes can be pooled
    relative = squares / np.maximum(wanted, 1e-9) ** 2

    def pooled(ropes: NDArray[np.bool_]) -> tuple[float, float]:
        """Variance in units of the declared one, and its degrees of freedom."""
        degrees = declared_freedom + freedom[ropes].sum()
        return float((declared_freedom + relative[ropes].sum()) / degrees), degrees

    others = ~np.eye(len(counts), dtype=bool)
    ordinary = np.array(
        [
            free == 0 or own / free <= _OUTLYING * pooled(apart)[0]
            for own, free, apart in zip(relative, freedom, others, strict=True)
        ],
        dtype=bool,
    )
    result = np.empty(len(counts))
    for i, is_ordinary in enumerate(ordinary):
        variance, degrees = (
            pooled(ordinary)
            if is_ordinary
            else (relative[i] / freedom[i], max(freedom[i], 3.0))
        )
        widening = coverage_widening(degrees)
        result[i] = wanted[i] * np.sqrt(variance / counts[i]) * widening
    return result


@dataclass(frozen=True, kw_only=True, slots=True)
class Settled:
    """Which readings of one rope count."""

    used: tuple[int, ...]  # their places; empty if the readings contradict each other
    refusal: Refusal | None = None  # why none counts
    notes: tuple[Note, ...] = ()  # which one was outvoted


def settle_readings(
    rope: int,
    logarithms: Sequence[float],
    uncertainties: Sequence[float],
    texts: Sequence[str],
) -> Settled:
    """Find which readings of one rope count, whatever their order.

    Logarithms of the tensions read, up to a common term, relative standard
    uncertainties [1] and what was read, in words; shape (n_readings,) each. All count,
    if they agree. If not, those that agree with each other and are two thirds of all or
    more, with a note; else none, with the reason.
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
        return Settled(used=tuple(sorted(largest)), notes=(note,))
    widest = expm1(max(logarithms) - min(logarithms))
    refusal = NoteKind.READINGS_APART.refusal(
        rope=rope, readings=" against ".join(sorted(texts)), apart=f"{100 * widest:.0f}"
    )
    return Settled(used=(), refusal=refusal)


def agree(one: float, other: float, *uncertainties: float) -> bool:
    """Tell whether two readings can be of one tension.

    By their logarithms [1] and the relative standard uncertainty of each [1]: they
    differ by no more than three standard deviations, or than readings of one rope do
    anyway.
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


def rope_by_rope(
    readings: Sequence[Read],
    read: Callable[[int, list[Read]], tuple[Found, Sequence[Note]] | Refusal],
) -> tuple[list[Found], dict[int, Refusal], list[Note]]:
    """Read the ropes one after the other: what each says, or why it says nothing.

    Readings of a rope, and the repeats in each, come in an order of their names,
    however they were typed, so that sums over them are the same to the last digit.
    """
    found: list[Found] = []
    refusals: dict[int, Refusal] = {}
    notes: list[Note] = []
    for number in sorted({reading.rope for reading in readings}):
        own = [reading.in_order() for reading in readings if reading.rope == number]
        told = read(number, sorted(own, key=lambda reading: reading.names))
        if isinstance(told, Refusal):
            refusals[number] = told
            continue
        found.append(told[0])
        notes += told[1]
    return found, refusals, notes
