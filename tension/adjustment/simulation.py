"""Chance that a set is equal after a plan, by simulated readings and stiffnesses."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from tension.adjustment.outcome import Forecast
from tension.assessment.metrics import spread_from_tensions
from tension.catalogue.rules import Rule
from tension.physics.domain import FloatArray
from tension.physics.hitch_statics import tension_changes

N_DRAWS = 2000  # simulated sets; the chance is then known to about one percent [1]
UPPER = 0.975  # part of the simulated sets under the upper bound [1]
_SEED = 20260401


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
