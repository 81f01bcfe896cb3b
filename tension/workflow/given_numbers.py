"""What a caller gives in numbers, texts and words; a mistake says what to give."""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tension.catalogue.rules import Metric, Rule, changed, find_rule
from tension.errors import InvalidValueError
from tension.installation import (
    Buffer,
    Ends,
    Hitch,
    HitchEnd,
    HitchPlace,
    Rope,
    RopeSet,
    Span,
    Uncertainties,
)
from tension.measurement.readings import Series
from tension.quantity.units import Dimension, Quantity, parse_quantity

FloatArray = NDArray[np.float64]
Choice = TypeVar("Choice", bound=StrEnum)

Number = float | str
"""A number in SI, or a text with its unit."""

SERIES = Series(name="numbers", span="span")
_LONGEST = 300.0  # [m]
_LENGTHS = (
    f"free_lengths are metres, from 0.05 to {_LONGEST:g}, got {{got:g}}; divide "
    "millimetres by 1000"
)


@dataclass(frozen=True, kw_only=True, slots=True)
class AboutRopes:
    """What is known of the ropes besides the readings.

    Attributes
    ----------
    linear_density : float or str or None
        Of one rope; without it there are shares and no newtons. [kg/m]
    diameter : float or str or None
        Nominal. [m]
    construction : str
        Such as "8x19 FC"; with the diameter it gives what is not typed.
    axial_rigidity : float or str or None
        EA of one rope. [N]
    rope_length : float or str or None
        Hitch to hitch. [m]
    ends : Ends or str
        What holds the span: "socket-sheave", "socket-socket", "sheave-sheave".
    hitch_end : HitchEnd or str
        End of the span at which the hitch is: "lower" or "upper".
    uncertainties : Uncertainties
        Of what a person reads.
    """

    linear_density: Number | None = None
    diameter: Number | None = None
    construction: str = ""
    axial_rigidity: Number | None = None
    rope_length: Number | None = None
    ends: Ends | str = Ends.SOCKET_SHEAVE
    hitch_end: HitchEnd | str = HitchEnd.LOWER
    uncertainties: Uncertainties = field(default_factory=Uncertainties)


def make_rope_set(n_ropes: int, free_lengths: ArrayLike, data: AboutRopes) -> RopeSet:
    """The set with its one span as a record would describe it.

    Raises
    ------
    InvalidValueError
        If lengths or what is known of the ropes cannot be.
    """
    if not 1 <= n_ropes <= 12:
        raise InvalidValueError(f"a set has 1 to 12 ropes, got {n_ropes} values")
    lengths = per_rope(free_lengths, "free_lengths", n_ropes)
    require_between(lengths, 0.05, _LONGEST, _LENGTHS)
    metres = quantities(lengths, Dimension.LENGTH)
    typed = np.ndim(free_lengths) > 0
    span = Span(
        name=SERIES.span,
        free_length=None if typed else metres[0],
        ends=choice(Ends, data.ends, "ends"),
        hitch_end=choice(HitchEnd, data.hitch_end, "hitch_end"),
    )
    ropes = tuple(
        Rope(number=number, free_lengths=((SERIES.span, length),))
        for number, length in enumerate(metres, start=1)
    )
    return RopeSet(
        n_ropes=n_ropes,
        ropes=ropes if typed else (),
        spans=(span,),
        diameter=optional(data.diameter, Dimension.LENGTH),
        construction=data.construction,
        linear_density=optional(data.linear_density, Dimension.LINEAR_DENSITY),
        rope_length=optional(data.rope_length, Dimension.LENGTH),
        axial_rigidity=optional(data.axial_rigidity, Dimension.FORCE),
        has_sockets_at_one_height=not typed,
        uncertainties=data.uncertainties,
    )


def make_hitches(
    spring_rate: Number | None, *, has_springs: bool | None
) -> tuple[Hitch, ...]:
    """What is known of the hitch.

    Raises
    ------
    InvalidValueError
        If rate and springs contradict each other, or the rate cannot be.
    """
    if spring_rate is not None and has_springs is False:
        raise InvalidValueError(
            "spring_rate was given and has_springs is False; leave out one of them"
        )
    if spring_rate is None and has_springs is None:
        return ()
    buffer = Buffer.NONE if has_springs is False else Buffer.SPRING
    rate = optional(spring_rate, Dimension.STIFFNESS)
    if rate is not None and not 1e3 <= rate.value <= 1e8:
        raise InvalidValueError(
            f"spring_rate is in N/m, from 1e3 to 1e8, got {rate.value:g}; multiply "
            'N/mm by 1000, or write a text like "150 N/mm"'
        )
    return (Hitch(at=HitchPlace.CAR, buffer=buffer, spring_rate=rate),)


def find_given_rule(
    rule: Rule | str | None, limit: Number | None, metric: Metric | str | None
) -> Rule:
    """The rule that decides.

    Raises
    ------
    InvalidValueError
        If there is no such rule, limit or metric.
    """
    chosen = rule if isinstance(rule, Rule) else find_rule(rule)
    if limit is None and metric is None:
        return chosen
    value = None if limit is None else quantity(limit, Dimension.FRACTION).value
    if value is not None and not 0 < value < 1:
        raise InvalidValueError(
            f'limit is a part of 1: write 0.10 or "10 %", not {limit}'
        )
    wanted = None if metric is None else choice(Metric, metric, "metric")
    return changed(chosen, limit=value, metric=wanted)


def choice(kind: type[Choice], value: Choice | str, name: str) -> Choice:
    """A member by itself or by its word.

    Raises
    ------
    InvalidValueError
        With the words there are.
    """
    try:
        return kind(value)
    except ValueError:
        known = ", ".join(f'"{one.value}"' for one in kind)
        raise InvalidValueError(f'{name} is one of {known}, not "{value}"') from None


def optional(value: Number | None, dimension: Dimension) -> Quantity | None:
    """A quantity, where it was given.

    Raises
    ------
    InvalidValueError
        If it is not above zero.
    """
    if value is None:
        return None
    found = quantity(value, dimension)
    if found.value <= 0:
        raise InvalidValueError(
            f"a {dimension.value} must be above zero, got {found.text}"
        )
    return found


def quantity(value: Number, dimension: Dimension) -> Quantity:
    """A text with its unit, or a number in SI."""
    if isinstance(value, str):
        return parse_quantity(value, dimension)
    return Quantity(value=float(value), dimension=dimension, text=f"{float(value):g}")


def quantities(values: FloatArray, dimension: Dimension) -> tuple[Quantity, ...]:
    """Those of a row that are numbers."""
    return tuple(quantity(float(v), dimension) for v in values if np.isfinite(v))


def numbers(values: ArrayLike, name: str) -> FloatArray:
    """An array of floats, None as nan.

    Raises
    ------
    InvalidValueError
        If they are no numbers.
    """
    try:
        return np.array(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise InvalidValueError(
            f"{name} must be numbers in SI, the same count for each rope; fill what is "
            "missing with nan"
        ) from None


def per_rope(values: ArrayLike, name: str, n_ropes: int) -> FloatArray:
    """One value per rope, a single one for all.

    Raises
    ------
    InvalidValueError
        If there are more or fewer.
    """
    found = numbers(values, name)
    if found.ndim == 0:
        return np.full(n_ropes, float(found))
    if found.shape != (n_ropes,):
        raise InvalidValueError(
            f"{name} has shape {found.shape} for {n_ropes} ropes; give one number for "
            "all, or one per rope"
        )
    return found


def require_between(
    values: FloatArray, least: float, most: float, message: str
) -> None:
    """Refuse values outside of bounds of the same unit, and name the first.

    Raises
    ------
    InvalidValueError
        With the message, filled with the first such value.
    """
    outside = values[~((values > least) & (values <= most))]
    if outside.size:
        raise InvalidValueError(message.format(got=float(outside[0])))
