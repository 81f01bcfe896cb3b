"""What readings tell of a set: one propagation of uncertainty, one least squares.

With these the stiffness of a set from turns and what they changed, which ropes stand
out, whether ropes were exchanged; and sets drawn at random, for the chance of a plan.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.outcome import Forecast
from tension.assessment.metrics import spread_from_tensions
from tension.catalogue.rules import Rule
from tension.physics.domain import FloatArray
from tension.physics.hitch_statics import tension_changes

BoolArray = NDArray[np.bool_]

# how much one rope may differ in stiffness from the set and still be like it [1]
_OWN = 0.07
# answers to a turn outside these, against the set's, stand out [1]
_LOW, _HIGH = 0.5, 1.5
_CLEAR = 3.0  # a change counts from this many of its standard uncertainties [1]
N_DRAWS = 2000  # simulated sets; the chance is then known to about one percent [1]
UPPER = 0.975  # part of the simulated sets under the upper bound [1]
_SEED = 20260401


def uncertainties_of(sums: FloatArray, covariance: FloatArray) -> FloatArray:
    """Standard uncertainties of weighted sums, shape (n_sums,).

    Weights of each sum [1], shape (n_sums, n), of figures of one covariance, shape
    (n, n), in the unit of these figures.
    """
    variance = np.einsum("ij,jk,ik->i", sums, covariance, sums)
    return np.asarray(np.sqrt(np.maximum(variance, 0.0)))


def own_uncertainties(covariance: FloatArray) -> FloatArray:
    """Relative uncertainty of each tension against the mean, shape (n_ropes,).

    From the covariance of the logarithms of the tensions [1]; what is common to the
    ropes drops out.
    """
    n = len(covariance)
    return uncertainties_of(np.eye(n) - 1.0 / n, covariance)


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """A line through points by least squares."""

    slope: float  # in the unit of y over that of x
    slope_uncertainty: float  # standard uncertainty by the widths of the points
    # the weighted mean point, in their units
    x: float
    y: float
    left_over: float  # chi squared: what the line leaves, over the widths [1]


def fit_line(x: FloatArray, y: FloatArray, width: FloatArray | float) -> Line | None:
    """Lay a line through points, y of a standard uncertainty `width`, all in one unit.

    None where there are no two different x.
    """
    if len(x) < 2 or np.ptp(x) == 0.0:
        return None
    weights = np.broadcast_to(1.0 / np.square(width), len(x))
    middle, level = np.average(x, weights=weights), np.average(y, weights=weights)
    away = x - middle
    power = float(weights @ away**2)
    slope = float((weights * away) @ y) / power
    left = (y - level - slope * away) / width
    return Line(
        slope=slope,
        slope_uncertainty=power**-0.5,
        x=float(middle),
        y=float(level),
        left_over=float(left @ left),
    )


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


def fit_stiffness(turning: Turning) -> StiffnessFit | None:
    """Fit the stiffness of a set, ropes that stand out left aside.

    None where the turns were too small to tell a stiffness above zero.

    ``change_i = k (d_i - x)``, x common. A first k is the weighted median of
    ``(change_i - change_j)/(d_i - d_j)`` over pairs of ropes (Theil and Sen), which one
    bound rope in four cannot move far; then least squares without the ropes that stand
    out. x is left free, for a bound rope hides its share of it.
    """
    first = _median_slope(turning)
    if first <= 0.0:
        return None
    rise = float(np.median(turning.travels - turning.changes / first))
    _, low, high = _held_against(turning, first, rise)
    kept = ~(low | high)
    line = _least_squares(turning, kept, first)
    if line is None:
        return None
    more = line.left_over / max(1, int(kept.sum()) - 2)  # than the readings explain
    uncertainty = line.slope_uncertainty * sqrt(max(1.0, more))
    if uncertainty > 0.5 * line.slope:
        return None
    rise = line.x - line.y / line.slope
    ratios, low, high = _held_against(turning, line.slope, rise)
    return StiffnessFit(
        stiffness=line.slope,
        uncertainty=uncertainty,
        rise=rise,
        ratios=tuple(None if np.isnan(r) else r for r in ratios.tolist()),
        low=tuple(np.flatnonzero(low).tolist()),
        high=tuple(np.flatnonzero(high).tolist()),
    )


def _median_slope(turning: Turning) -> float:
    """Weighted median of the slopes of all pairs of ropes; 0 where none was turned."""
    i, j = np.triu_indices(len(turning.travels), 1)
    apart = turning.travels[i] - turning.travels[j]
    used = np.abs(apart) > 1e-6
    if not used.any():
        return 0.0
    change = turning.changes[i] - turning.changes[j]
    slopes = change[used] / apart[used]
    noise = np.hypot(turning.uncertainties[i], turning.uncertainties[j])[used]
    weights = np.abs(apart[used]) / noise
    order = np.argsort(slopes)
    total = np.cumsum(weights[order])
    return float(slopes[order][np.searchsorted(total, 0.5 * total[-1])])


def _held_against(
    turning: Turning, stiffness: float, rise: float
) -> tuple[FloatArray, BoolArray, BoolArray]:
    """Each change over that expected, and which are far less or more beyond doubt."""
    expected = stiffness * (turning.travels - rise)
    clear = np.abs(expected) > _CLEAR * turning.uncertainties
    expected = np.where(clear, expected, np.nan)
    ratios = turning.changes / expected
    doubts = 2.0 * turning.uncertainties / np.abs(expected)
    return ratios, ratios + 0.5 * doubts < _LOW, ratios - doubts > _HIGH


def _least_squares(turning: Turning, kept: BoolArray, first: float) -> Line | None:
    """Line of changes over travels; its slope is the stiffness, if above zero."""
    if kept.sum() < 2:
        return None
    d = turning.travels[kept]
    own = _OWN * first * (d - d.mean())
    noise = np.hypot(turning.uncertainties[kept], own)
    line = fit_line(d, turning.changes[kept], noise)
    return line if line is not None and line.slope > 0.0 else None


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
    written, usual = left_over(turning), usual_left_over(turning)
    if n < 3 or written <= usual:
        return None
    one_aside = min(left_over(turning, ~one) for one in np.eye(n, dtype=bool))
    best = min(
        (
            Exchange(is_of_turns=is_turns, places=places, left_over=left_over(other))
            for places in _exchanges(n)
            for index in [list(places)]
            for is_turns, other in (
                (True, replace(turning, travels=turning.travels[index])),
                (False, replace(turning, changes=after[index] - before)),
            )
        ),
        key=lambda tried: round(tried.left_over, 9),
    )
    return (
        best if best.left_over <= min(usual, 0.25 * written, 0.5 * one_aside) else None
    )


def _exchanges(n: int) -> list[tuple[int, ...]]:
    """Exchanges that people make: two ropes, the order reversed, numbers one off."""
    found = []
    for i, j in combinations(range(n), 2):
        places = list(range(n))
        places[i], places[j] = j, i
        found.append(tuple(places))
    found += [tuple(reversed(range(n))), (*range(1, n), 0), (n - 1, *range(n - 1))]
    return list(dict.fromkeys(found))


def usual_left_over(turning: Turning) -> float:
    """What chance leaves over, rarely more: chi squared and four deviations [1]."""
    spare = max(1, len(turning.travels) - 2)
    return spare + 4.0 * sqrt(2.0 * spare)


def left_over(turning: Turning, kept: BoolArray | None = None) -> float:
    """Chi squared [1] by the best stiffness above zero; as without answer if none."""
    if kept is None:
        kept = np.ones(len(turning.travels), dtype=bool)
    first = _median_slope(turning)
    line = _least_squares(turning, kept, first) if first > 0.0 else None
    if line is not None:
        return line.left_over
    changes = turning.changes[kept]
    return float(
        np.sum(((changes - changes.mean()) / turning.uncertainties[kept]) ** 2)
    )


@dataclass(frozen=True, kw_only=True)
class SetSimulation:
    """Sets that the readings allow, with stiffnesses that what is known allows."""

    tensions: FloatArray  # as measured [N], shape (n_ropes,)
    # of the logarithms of the tensions, what the set shares left out [1],
    # of shape (n_ropes, n_ropes)
    covariance: FloatArray
    stiffnesses: FloatArray  # once the car has run [N/m], shape (n_ropes,)
    common_uncertainty: float  # of all stiffnesses against all tensions, relative [1]
    own_uncertainty: float  # of one stiffness against the others, relative [1]
    # what a turn may still show beyond its end [1], over that end, after the round
    # trips that are named
    left_over: float = 0.0
    n_draws: int = N_DRAWS  # number of simulated sets

    @cached_property
    def _drawn(self) -> tuple[FloatArray, FloatArray]:
        """True tensions and stiffnesses, each of shape (n_draws, n_ropes)."""
        rng = np.random.default_rng(_SEED)
        shape = (self.n_draws, len(self.tensions))
        values, vectors = np.linalg.eigh(self.covariance)
        spread = vectors * np.sqrt(np.maximum(values, 0.0))
        errors = rng.standard_normal(shape) @ spread.T
        common = rng.standard_normal((self.n_draws, 1)) * self.common_uncertainty
        own = rng.standard_normal(shape) * self.own_uncertainty
        shown = 1.0 + self.left_over * rng.uniform(-1.0, 1.0, (self.n_draws, 1))
        return (
            self.tensions * np.exp(errors),
            self.stiffnesses * shown * np.exp(common + own),
        )

    def _spreads_after(self, travels: FloatArray, rule: Rule) -> FloatArray:
        """True spreads [1] of every simulated set, shape (n_draws,)."""
        tensions, stiffnesses = self._drawn
        after = tensions + tension_changes(travels, stiffnesses)
        return spread_from_tensions(after, rule.metric)

    def upper_bound(self, travels: FloatArray, rule: Rule) -> float:
        """Bound under which the true spread [1] lies with 97.5 %.

        After the nuts have travelled, positive towards the plate [m], and the car ran.
        """
        return float(np.quantile(self._spreads_after(travels, rule), UPPER))

    def forecast(self, travels: FloatArray, rule: Rule) -> Forecast:
        """Tell what the set is expected to be after travels [m] and a run."""
        after = self.tensions + tension_changes(travels, self.stiffnesses)
        spreads = self._spreads_after(travels, rule)
        return Forecast(
            shares=tuple(float(share) for share in after / after.mean()),
            spread=float(np.mean(spreads)),
            upper=float(np.quantile(spreads, UPPER)),
            chance_equal=float(np.mean(spreads <= rule.limit)),
        )


def upper_of_equal_set(covariance: FloatArray, rule: Rule) -> float:
    """Bound what such readings leave open of a perfectly equal set.

    From the covariance of the logarithms of the tensions [1]: the spread lies under it
    with 97.5 % [1].
    """
    n = len(covariance)
    simulation = SetSimulation(
        tensions=np.ones(n),
        covariance=covariance,
        stiffnesses=np.ones(n),
        common_uncertainty=0.0,
        own_uncertainty=0.0,
    )
    return simulation.upper_bound(np.zeros(n), rule)
