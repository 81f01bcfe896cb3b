"""Stiffness of a set from turns and what they changed, and which ropes stand out."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_OWN = 0.07
"""How much one rope may differ in stiffness from the set and still be like it. [1]"""

_LOW, _HIGH = 0.5, 1.5
"""Answers to a turn outside these, against the set's, stand out. [1]"""

_CLEAR = 3.0
"""A change counts from this many of its standard uncertainties. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Turning:
    """Turns and changes of tension of a set whose load stayed."""

    travels: FloatArray  # of each nut, positive towards the plate [m], shape (n_ropes,)
    changes: FloatArray  # of each tension [N], shape (n_ropes,)
    # standard uncertainty of each change [N], shape (n_ropes,)
    uncertainties: FloatArray


@dataclass(frozen=True, kw_only=True, slots=True)
class StiffnessFit:
    """What turns have shown."""

    stiffness: float  # of the set [N/m]
    uncertainty: float  # standard uncertainty [N/m]
    rise: float  # how far the hitch rose [m]
    # change of each rope over that expected of it at the stiffness of the set; None
    # where too little was expected [1]
    ratios: tuple[float | None, ...]
    # places of ropes that answered far less or far more than the others
    low: tuple[int, ...]
    high: tuple[int, ...]
    # of the ropes that do not stand out; what is left over their uncertainties [1]
    chi_squared: float


def fit_stiffness(turning: Turning) -> StiffnessFit | None:
    """Fit the stiffness of a set, ropes that stand out left aside.

    None where the turns were too small to tell a stiffness above zero.

    ``change_i = k (d_i - x)``, x common. A first k is the weighted median of
    ``(change_i - change_j)/(d_i - d_j)`` over pairs of ropes (Theil and Sen), which one
    bound rope in four cannot move far; then least squares without the ropes that stand
    out. x is left free, for a bound rope hides its share of it.
    """
    first = _median_slope(turning)
    if first is None or first <= 0.0:
        return None
    rise = _median_rise(turning, first)
    expected = first * (turning.travels - rise)
    low, high = _standing_out(turning, expected)
    kept = [i for i in range(len(expected)) if i not in low and i not in high]
    fitted = _least_squares(turning, kept, first)
    if fitted is None:
        return None
    stiffness, rise, uncertainty, chi_squared = fitted
    if stiffness <= 0.0 or uncertainty > 0.5 * stiffness:
        return None
    expected = stiffness * (turning.travels - rise)
    low, high = _standing_out(turning, expected)
    return StiffnessFit(
        stiffness=stiffness,
        uncertainty=uncertainty,
        rise=rise,
        ratios=tuple(
            float(change / wanted) if _is_clear(wanted, u) else None
            for change, wanted, u in zip(
                turning.changes, expected, turning.uncertainties, strict=True
            )
        ),
        low=low,
        high=high,
        chi_squared=chi_squared,
    )


def _is_clear(expected: float, uncertainty: float) -> bool:
    """Whether a change was expected that the readings can show."""
    return bool(abs(expected) > _CLEAR * uncertainty)


def _median_slope(turning: Turning) -> float | None:
    """Weighted median of the slopes of all pairs of ropes."""
    i, j = np.triu_indices(len(turning.travels), 1)
    apart = turning.travels[i] - turning.travels[j]
    used = np.abs(apart) > 1e-6
    if not used.any():
        return None
    change = turning.changes[i] - turning.changes[j]
    slopes = change[used] / apart[used]
    noise = np.hypot(turning.uncertainties[i], turning.uncertainties[j])[used]
    weights = np.abs(apart[used]) / noise
    order = np.argsort(slopes)
    total = np.cumsum(weights[order])
    return float(slopes[order][np.searchsorted(total, 0.5 * total[-1])])


def _median_rise(turning: Turning, stiffness: float) -> float:
    """Rise of the hitch that fits the middle rope."""
    return float(np.median(turning.travels - turning.changes / stiffness))


def _standing_out(
    turning: Turning, expected: FloatArray
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Ropes that answered far less or far more than expected, beyond doubt."""
    low, high = [], []
    for place, wanted in enumerate(expected):
        noise = float(turning.uncertainties[place])
        if not _is_clear(float(wanted), noise):
            continue
        ratio = float(turning.changes[place] / wanted)
        doubt = 2.0 * noise / abs(float(wanted))
        if ratio + 0.5 * doubt < _LOW:
            low.append(place)
        elif ratio - doubt > _HIGH:
            high.append(place)
    return tuple(low), tuple(high)


def _least_squares(
    turning: Turning, kept: list[int], first: float
) -> tuple[float, float, float, float] | None:
    """Stiffness, rise, uncertainty and what is left, by weighted least squares."""
    if len(kept) < 2:
        return None
    d, y = turning.travels[kept], turning.changes[kept]
    own = _OWN * first * (d - d.mean())
    noise = np.hypot(turning.uncertainties[kept], own)
    design = np.column_stack([d, -np.ones(len(d))]) / noise[:, None]
    if np.linalg.matrix_rank(design * np.array([1.0, 1e-3])) < 2:
        return None
    solution, *_ = np.linalg.lstsq(design, y / noise, rcond=None)
    stiffness = float(solution[0])
    if stiffness <= 0.0:
        return None
    left = float(np.sum((y / noise - design @ solution) ** 2))
    spare = max(1, len(kept) - 2)
    covariance = np.linalg.inv(design.T @ design)
    wide = float(np.sqrt(covariance[0, 0] * max(1.0, left / spare)))
    return stiffness, float(solution[1] / stiffness), wide, left


@dataclass(frozen=True, kw_only=True, slots=True)
class Exchange:
    """An exchange of ropes that explains a change better than any stiffness."""

    # true: turns were made on other nuts than written; False: the readings of the
    # second series belong to other ropes
    is_of_turns: bool
    # for each rope, the place that its turn or reading belongs to
    places: tuple[int, ...]
    left_over: float  # what it leaves, over the uncertainties [1]


def find_exchange(
    before: FloatArray, after: FloatArray, turning: Turning
) -> Exchange | None:
    """Find an exchange of ropes that explains the change better than any stiffness.

    Tensions before and after are of one mean [N]. Tried are all exchanges of two ropes,
    the order reversed and the numbers one off, of the turns or of the second readings.
    One is named only if what it leaves is a quarter of what any stiffness leaves as
    written, is no more than chance leaves, and is half of what remains when the worst
    rope is left aside.
    """
    n = len(before)
    if n < 3:
        return None
    as_written = what_is_left_over(turning, tuple(range(n)))
    usual = usual_left_over(n)
    if as_written <= usual:
        return None
    one_aside = min(
        what_is_left_over(turning, tuple(j for j in range(n) if j != i))
        for i in range(n)
    )
    best: Exchange | None = None
    for places in _exchanges(n):
        index = np.array(places)
        for is_of_turns in (True, False):
            tried = (
                Turning(
                    travels=turning.travels[index],
                    changes=turning.changes,
                    uncertainties=turning.uncertainties,
                )
                if is_of_turns
                else Turning(
                    travels=turning.travels,
                    changes=after[index] - before,
                    uncertainties=turning.uncertainties,
                )
            )
            left = what_is_left_over(tried, tuple(range(n)))
            if best is None or left < best.left_over - 1e-9:
                best = Exchange(is_of_turns=is_of_turns, places=places, left_over=left)
    if best is None or best.left_over > usual:
        return None
    if best.left_over > min(0.25 * as_written, 0.5 * one_aside):
        return None
    return best


def _exchanges(n: int) -> list[tuple[int, ...]]:
    """Exchanges that people make: two ropes, the order reversed, numbers one off."""
    found = []
    for i, j in combinations(range(n), 2):
        places = list(range(n))
        places[i], places[j] = j, i
        found.append(tuple(places))
    found.append(tuple(reversed(range(n))))
    found.append((*range(1, n), 0))
    found.append((n - 1, *range(n - 1)))
    return list(dict.fromkeys(found))


def usual_left_over(n_ropes: int) -> float:
    """What chance leaves over, rarely more: chi squared and four deviations [1]."""
    spare = max(1, n_ropes - 2)
    return spare + 4.0 * float(np.sqrt(2.0 * spare))


def what_is_left_over(turning: Turning, kept: tuple[int, ...]) -> float:
    """Chi squared [1] by the best stiffness above zero; as without answer if none."""
    first = _median_slope(turning)
    noise = turning.uncertainties[list(kept)]
    changes = turning.changes[list(kept)]
    nothing = float(np.sum(((changes - changes.mean()) / noise) ** 2))
    if first is None or first <= 0.0:
        return nothing
    fitted = _least_squares(turning, list(kept), first)
    return nothing if fitted is None else fitted[3]
