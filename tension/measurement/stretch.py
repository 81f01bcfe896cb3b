"""How stiff a rope with its springs is against a side pull, and how well it is known.

What the record does not say is kept open as cases: springs of which only the usual
range is known, and no springs at all. Each case is a handful of stiffnesses, equally
likely, so that shares and verdict can be worked out under every one of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, hypot, log, sqrt
from statistics import NormalDist

from tension.catalogue.ropes import AxialRigidity, find_axial_rigidity
from tension.installation import Buffer, Hitch, HitchPlace, RopeSet, Side, Span
from tension.measurement.outcome import Premise
from tension.measurement.rope_figures import USUAL_DIAMETER
from tension.measurement.springs import SpringRate, find_spring_rate
from tension.physics.hitch_statics import stiffness_in_series

_USUAL_RATES = (30e3, 500e3)
"""Between these lie the rates of shackle springs; common practice, no source. [N/m]"""

_BUFFER_RATES = (100e3, 5e6)
"""Rubber is stiffer, and of no one rate; common practice, no source. [N/m]"""

_USUAL_LENGTH = 40.0
"""Hitch to hitch, where it is not told; the program's own figure. [m]"""

_SPRINGS_LIKELY = 0.6
"""Chance of springs where nothing is said of them; the program's own figure, little
over one half so that the interval holds without springs as well. [1]"""

_QUANTILES = (0.5, 0.3, 0.7, 0.1, 0.9)
"""Where a distribution is looked at, the middle first. [1]"""

_NORMAL = NormalDist()

QUANTILE_VARIANCE = sum(_NORMAL.inv_cdf(q) ** 2 for q in _QUANTILES) / len(_QUANTILES)
"""Variance of a normal distribution as seen at its quantiles. [1]"""

HITCHES_OF_SIDE = {
    Side.CAR: (HitchPlace.CAR, HitchPlace.DEAD_END_CAR),
    Side.COUNTERWEIGHT: (HitchPlace.COUNTERWEIGHT, HitchPlace.DEAD_END_COUNTERWEIGHT),
}
"""Where the ropes of a side may be fastened."""


@dataclass(frozen=True, kw_only=True, slots=True)
class StretchCase:
    """Stiffness against a side pull, if what is taken of the hitch is so."""

    premise: Premise  # what is taken of the hitch; nothing where the record says it
    weight: float  # chance of it [1]
    stiffnesses: tuple[float, ...]  # equally likely, the middle one first [N/m]
    # relative, of one rope against the others, by its spring [1]
    own_uncertainty: float


def find_stretch_cases(
    rope_set: RopeSet, span: Span, free_length: float
) -> tuple[StretchCase, ...]:
    """Find how stiff a rope of a free length [m] is against being pulled aside.

    One case where the record says what is at this hitch, likeliest first; two where it
    does not. While the rope grips the sheave this fall alone gives way; should it
    creep, the whole rope does: a pull is small against what traction holds, so the
    first is likelier, falling evenly to the second.
    """
    fall = _Fall(
        rope_set=rope_set,
        free_length=free_length,
        rigidity=_axial_rigidity(rope_set),
        near=[h for h in rope_set.hitches if h.at in HITCHES_OF_SIDE[span.side]],
    )
    if not fall.near:
        return (
            _usual(fall, Premise.SPRINGS, _SPRINGS_LIKELY, _USUAL_RATES),
            _bare(fall, Premise.NO_SPRINGS, 1 - _SPRINGS_LIKELY),
        )
    if any(h.buffer is Buffer.BEAM for h in fall.near):
        return (_usual(fall, Premise.RATE_UNKNOWN, 1.0, _BUFFER_RATES),)
    rates = [find_spring_rate(h) for h in fall.near if h.buffer is not Buffer.NONE]
    if not rates:
        return (_bare(fall, Premise.NOTHING, 1.0),)
    known = [rate for rate in rates if rate is not None]
    if len(known) == len(rates):
        return (_sprung(fall, known),)
    soft = all(h.buffer is not Buffer.RUBBER for h in fall.near)
    wanted = _USUAL_RATES if soft else _BUFFER_RATES
    return (_usual(fall, Premise.RATE_UNKNOWN, 1.0, wanted),)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Fall:
    """A fall of rope with the hitches at its end."""

    rope_set: RopeSet
    free_length: float
    rigidity: AxialRigidity
    near: list[Hitch]

    def held(self, rates: Sequence[float]) -> float:
        """Stiffness while the sheave holds. [N/m]."""
        return stiffness_in_series(
            free_length=self.free_length,
            axial_rigidity=self.rigidity.value,
            spring_rates=rates,
        )

    def crept(self, rates: Sequence[float]) -> float:
        """Stiffness of the whole rope, hitch to hitch. [N/m]."""
        typed = self.rope_set.rope_length
        length = typed.value if typed is not None else _USUAL_LENGTH
        far = [h for h in self.rope_set.hitches if h not in self.near]
        others = [find_spring_rate(h) for h in far if h.buffer is not Buffer.NONE]
        known = [rate.value for rate in others if rate is not None]
        # nothing told of the far hitch: it is taken to be like this one
        told = known if far and len(known) == len(others) else list(rates)
        return stiffness_in_series(
            free_length=max(length, self.free_length),
            axial_rigidity=self.rigidity.value,
            spring_rates=[*rates, *told],
        )

    def likely(self, rates: Sequence[float]) -> tuple[float, float]:
        """Mean and standard deviation between held and crept, held likelier. [N/m]."""
        held, crept = self.held(rates), self.crept(rates)
        rope = (
            held
            * (held * self.free_length / self.rigidity.value)
            * self.rigidity.relative_uncertainty
        )
        return held - (held - crept) / 3, hypot((held - crept) / sqrt(18), rope)


def _sprung(fall: _Fall, rates: list[SpringRate]) -> StretchCase:
    """Springs of known rate."""
    mean, width = fall.likely([rate.value for rate in rates])
    parts = [(mean / rate.value, rate.relative_uncertainty) for rate in rates]
    by_rates = mean * hypot(*(part * doubt for part, doubt in parts))
    return StretchCase(
        premise=Premise.NOTHING,
        weight=1.0,
        stiffnesses=_normal(mean, hypot(width, by_rates)),
        own_uncertainty=sum(part for part, _ in parts)
        * fall.rope_set.uncertainties.spring_rate,
    )


def _bare(fall: _Fall, premise: Premise, weight: float) -> StretchCase:
    """Rope alone, fastened to the plate."""
    return StretchCase(
        premise=premise,
        weight=weight,
        stiffnesses=_normal(*fall.likely([])),
        own_uncertainty=0.0,
    )


def _usual(
    fall: _Fall, premise: Premise, weight: float, between: tuple[float, float]
) -> StretchCase:
    """Springs of a rate that is usual, even by its logarithm."""
    low, high = (log(rate) for rate in between)
    rates = [exp(low + q * (high - low)) for q in _QUANTILES]
    return StretchCase(
        premise=premise,
        weight=weight,
        stiffnesses=tuple(fall.held([rate]) for rate in rates),
        own_uncertainty=fall.rope_set.uncertainties.spring_rate,
    )


def _normal(mean: float, width: float) -> tuple[float, ...]:
    """A normal distribution, at its quantiles, above zero."""
    return tuple(
        max(mean + width * _NORMAL.inv_cdf(q), 0.05 * mean) for q in _QUANTILES
    )


def _axial_rigidity(rope_set: RopeSet) -> AxialRigidity:
    """EA as typed, else by diameter and class, else of a usual rope."""
    if rope_set.axial_rigidity is not None:
        return AxialRigidity(
            value=rope_set.axial_rigidity.value,
            relative_uncertainty=0.05,
            construction=rope_set.construction,
            source=rope_set.axial_rigidity.text,
        )
    diameter = rope_set.diameter.value if rope_set.diameter else USUAL_DIAMETER
    return find_axial_rigidity(diameter=diameter, construction=rope_set.construction)
