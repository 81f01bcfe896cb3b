"""Uncertainty of a set: one propagation, one line, and sets drawn at random."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.outcome import Forecast, Strategy
from tension.assessment.interval import spread_from_tensions, square_root
from tension.catalogue.rules import Rule
from tension.physics import FloatArray
from tension.physics.hitch_statics import tension_changes

BoolArray = NDArray[np.bool_]

_KNOWN = 2.0  # a nut is turned from so many standard uncertainties on [1]
N_DRAWS = 2000  # simulated sets; the chance is then known to about one percent [1]
UPPER = 0.975  # part of the simulated sets under the upper bound [1]
_SEED = 20260401  # simulated sets are the same each time


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


@dataclass(frozen=True, kw_only=True)
class DrawnSets:
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
        rng, n = np.random.default_rng(_SEED), self.n_draws
        standard = rng.standard_normal((n, len(self.tensions)))
        common = rng.standard_normal((n, 1)) * self.common_uncertainty
        own = rng.standard_normal(standard.shape) * self.own_uncertainty
        shown = 1.0 + self.left_over * rng.uniform(-1.0, 1.0, (n, 1))
        return (
            self.tensions * np.exp(standard @ square_root(self.covariance)),
            self.stiffnesses * shown * np.exp(common + own),
        )

    def is_known_off(self, strategy: Strategy) -> BoolArray:
        """Find the ropes that are off by more than is known of them, shape (n_ropes,).

        From the mean; where all are taken up from the highest rope, where all are eased
        from the lowest.
        """
        each = np.eye(len(self.tensions))
        towards = each.mean(axis=0)
        if strategy is Strategy.TAKE_UP_ONLY:
            towards = each[self.tensions.argmax()]
        elif strategy is Strategy.EASE_ONLY:
            towards = each[self.tensions.argmin()]
        apart = each - towards
        off = np.abs(apart @ self.tensions) / self.tensions.mean()
        return np.asarray(off > _KNOWN * uncertainties_of(apart, self.covariance))

    def forecast(self, travels: FloatArray, rule: Rule) -> Forecast:
        """Tell what the set is expected to be after travels [m] and a run."""
        after = self.tensions + tension_changes(travels, self.stiffnesses)
        tensions, stiffnesses = self._drawn
        drawn = tensions + tension_changes(travels, stiffnesses)
        spreads = spread_from_tensions(drawn, rule.metric)
        return Forecast(
            shares=tuple((after / after.mean()).tolist()),
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
    equal = DrawnSets(
        tensions=np.ones(n),
        covariance=covariance,
        stiffnesses=np.ones(n),
        common_uncertainty=0.0,
        own_uncertainty=0.0,
    )
    return equal.forecast(np.zeros(n), rule).upper
