"""From numbers to a result: frequencies or side pulls, lengths and a rule, no files.

What a caller gives in numbers, texts and words is held against what can be; a mistake
says what to give.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike

from tension import installation
from tension.assessment.decide import assess_set
from tension.assessment.outcome import Assessment
from tension.catalogue.rules import Metric, Rule, changed, find_rule
from tension.errors import InvalidValueError
from tension.installation import Ends, HitchEnd, RopeSet
from tension.measurement.readings import Hold, PullReading, Series
from tension.measurement.series import measure_series
from tension.notes import NoteKind
from tension.physics.domain import FloatArray
from tension.physics.own_weight import effective_squared_wave_speed, weight_to_hitch
from tension.physics.partials import point_mass_frequency_ratio
from tension.physics.taut_rope import EndCondition, natural_frequency_from_tension
from tension.quantity.units import Dimension, Quantity, parse_quantity
from tension.sound.hearing import Hypothesis, RopeHearing, SetHearing

Choice = TypeVar("Choice", bound=StrEnum)

Number = float | str
"""A number in SI, or a text with its unit."""

_SERIES = Series(name="numbers", span="span")
_LENGTHS = (0.05, 300.0)  # [m]
_NEEDS_DENSITY = (
    "needs the linear density; give it to AboutRopes as linear_density, in kg/m"
)
_HIGHEST = 200.0  # [Hz]


@dataclass(frozen=True, kw_only=True, slots=True)
class AboutRopes:
    """What is known of the ropes besides the readings."""

    # of one rope; without it there are shares and no newtons [kg/m]
    linear_density: Number | None = None
    diameter: Number | None = None  # nominal [m]
    construction: str = ""  # such as "8x19 FC"; with the diameter it gives the rest
    axial_rigidity: Number | None = None  # EA of one rope [N]
    rope_length: Number | None = None  # hitch to hitch [m]
    # what holds the span: "socket-sheave", "socket-socket", "sheave-sheave"
    ends: Ends | str = Ends.SOCKET_SHEAVE
    # end of the span at which the hitch is: "lower" or "upper"
    hitch_end: HitchEnd | str = HitchEnd.LOWER
    # of what a person reads
    uncertainties: installation.Uncertainties = field(
        default_factory=installation.Uncertainties
    )


def assess_frequencies(  # noqa: PLR0913 - one name for each thing a person reads
    frequencies: ArrayLike,
    *,
    free_lengths: ArrayLike,
    ropes: AboutRopes | None = None,
    relative_uncertainty: ArrayLike = 0.002,
    flexural_rigidity: float | None = None,
    sensor: tuple[Number, Number] | None = None,
    rule: Rule | str | None = None,
    limit: Number | None = None,
    metric: Metric | str | None = None,
) -> Assessment:
    """Assess a set from the fundamental frequency of each rope.

    Parameters
    ----------
    frequencies : array_like, shape (n_ropes,)
        Fundamental of each rope, in order of number; nan or None where a rope was not
        measured. [Hz]
    free_lengths : array_like, shape (n_ropes,) or ()
        Free length of each rope; one number if all have it. [m]
    ropes : AboutRopes, optional
        Linear density, diameter and the like.
    relative_uncertainty : array_like, shape (n_ropes,) or (), optional
        Relative standard uncertainty of each frequency. [1]
    flexural_rigidity : float, optional
        Of one rope, 0 for ideal strings; by diameter, within wide bounds, if left out;
        it needs the linear density. [N m2]
    sensor : tuple of (float or str, float or str), optional
        Mass of a sensor fixed to each rope in turn, and its distance from the nearer
        end: it lowers the pitch, which is taken off; it needs the linear density.
        [kg], [m]
    rule, limit, metric : Rule or str, float or str, Metric or str, optional
        A rule, or the name of one in the catalogue; another limit of it, 0.10 or
        "10 %" [1]; another metric, such as "off-mean".

    Raises
    ------
    InvalidValueError
        If numbers do not go together; the message says what to give.

    Examples
    --------
    Four ideal strings of 0.5 kg/m and 5 m at 10 Hz: 0.5 (2 x 5 x 10)^2 = 5000 N, less
    half of what hangs, at the hitch below.

    >>> found = assess_frequencies(
    ...     [10.0, 10.0, 10.0, 10.0],
    ...     free_lengths=5.0,
    ...     ropes=AboutRopes(linear_density=0.5),
    ...     flexural_rigidity=0.0,
    ... )
    >>> found.verdict.value
    'equal'
    >>> round(found.shares[0].tension)
    4988
    """
    heard = _numbers(frequencies, "frequencies")
    _require(
        heard.ndim == 1,
        f"frequencies must be one row, a value per rope, got shape {heard.shape}",
    )
    _require_between(
        heard[np.isfinite(heard)],
        (0.0, _HIGHEST),
        f"frequencies must lie above 0 and up to {_HIGHEST:g} Hz, got {{got:g}}; nan "
        "where a rope was not measured",
    )
    rope_set = _rope_set(len(heard), free_lengths, ropes or AboutRopes())
    widths = _per_rope(relative_uncertainty, "relative_uncertainty", len(heard))
    _require(
        np.all((widths > 0) & (widths < 0.5)),
        "relative_uncertainty is a part of the frequency, between 0 and 0.5; "
        "write 0.002 for 0.2 %",
    )
    if sensor is not None:
        heard = heard / _sensor_ratio(sensor, rope_set, free_lengths)
    hearing = _hearing(heard, widths, _stiffness(rope_set, flexural_rigidity))
    return _assessed(rope_set, (), hearing, _rule(rule, limit, metric))


def assess_pulls(  # noqa: PLR0913 - one name for each thing a person reads
    forces: ArrayLike,
    deflections: ArrayLike,
    *,
    free_lengths: ArrayLike,
    spring_rate: Number | None = None,
    has_springs: bool | None = None,
    ropes: AboutRopes | None = None,
    pulled_at: Number | None = None,
    hold: Hold | str = Hold.DEFLECTION,
    scale_zero: Number = 0.0,
    rule: Rule | str | None = None,
    limit: Number | None = None,
    metric: Metric | str | None = None,
) -> Assessment:
    """Assess a set from side pulls: forces across the ropes and their deflections.

    Parameters
    ----------
    forces : array_like, shape (n_ropes,) or (n_ropes, n_repeats)
        Readings of the scale, ropes in order of number; nan or None where there is
        none. [N]
    deflections : array_like, shape (), (n_ropes,) or (n_ropes, n_repeats)
        Deflection of the pulled point; one number for all, one per rope, or one per
        reading. One for several forces is one error in all of them. [m]
    free_lengths : array_like, shape (n_ropes,) or ()
        Free length of each rope; one number if all have it. [m]
    spring_rate : float or str, optional
        Of the spring of one rope at this hitch. [N/m]
    has_springs : bool, optional
        False where ropes are fastened without springs; if this and the rate are left
        out, the result allows for both and asks.
    pulled_at : float or str, optional
        Distance of the pull from the lower node; the middle if left out. [m]
    scale_zero : float or str, optional
        What the scale reads without load. [N]
    hold : Hold or str, optional
        What was held the same on all ropes: "deflection" or "force".
    ropes, rule, limit, metric : AboutRopes, Rule or str, float or str, Metric or str
        As of `assess_frequencies`. [1]

    Raises
    ------
    InvalidValueError
        If numbers do not go together; the message says what to give.

    Examples
    --------
    >>> found = assess_pulls(
    ...     [[165, 168], [160, 158], [171, 170], [120, 118]],
    ...     0.025,
    ...     free_lengths=3.0,
    ...     spring_rate="150 N/mm",
    ...     ropes=AboutRopes(diameter="13 mm", construction="8x19 FC"),
    ... )
    >>> found.verdict.value
    'unequal'
    """
    read = _numbers(forces, "forces")
    _require(
        read.ndim in {1, 2},
        f"forces must have shape (n_ropes,) or (n_ropes, n_repeats), got {read.shape}",
    )
    read = read.reshape(len(read), -1)
    aside = _deflections(deflections, read.shape)
    rope_set = _rope_set(len(read), free_lengths, ropes or AboutRopes())
    rope_set = replace(rope_set, hitches=_hitches(spring_rate, has_springs=has_springs))
    at = None if pulled_at is None else _quantity(pulled_at, Dimension.LENGTH)
    zero = _quantity(scale_zero, Dimension.FORCE)
    held = _choice(Hold, hold, "hold")
    readings = [
        PullReading(
            series=_SERIES.name,
            rope=i + 1,
            forces=_quantities(read[i], Dimension.FORCE),
            deflections=_quantities(aside[i], Dimension.LENGTH),
            hold=held,
            at=at,
            scale_zero=zero,
        )
        for i in range(len(read))
        if np.isfinite(read[i]).any()
    ]
    return _assessed(rope_set, readings, None, _rule(rule, limit, metric))


def frequencies_from_tensions(  # noqa: PLR0913
    tensions: ArrayLike,
    *,
    free_lengths: ArrayLike,
    linear_density: float,
    flexural_rigidity: float = 0.0,
    mode_number: int = 1,
    ends: Ends | str = Ends.SOCKET_SHEAVE,
    hitch_end: HitchEnd | str = HitchEnd.LOWER,
) -> FloatArray:
    """Compute at what frequency ropes of known tension ring, own weight included.

    Parameters
    ----------
    tensions : array_like, shape (n_ropes,)
        Tension of each rope at the hitch. [N]
    free_lengths : array_like, shape (n_ropes,) or ()
        Free length of each rope; one number if all have it. [m]
    linear_density, flexural_rigidity : float
        Of one rope; an ideal string if the rigidity is left out. [kg/m], [N m2]
    mode_number : int, optional
        Which partial, from 1 up. [1]
    ends, hitch_end : Ends or str, HitchEnd or str, optional
        What holds the span; its end at which the hitch is.

    Returns
    -------
    ndarray, shape (n_ropes,)
        Frequencies. [Hz]

    Examples
    --------
    4988 N below and half of 5 m of 0.5 kg/m make 5000 N at mid-length: 10 Hz.

    >>> found = frequencies_from_tensions(
    ...     [4987.74], free_lengths=5.0, linear_density=0.5
    ... )
    >>> round(float(found[0]), 4)
    10.0
    """
    wanted = np.atleast_1d(_numbers(tensions, "tensions"))
    lengths = _per_rope(free_lengths, "free_lengths", len(wanted))
    middle = wanted / linear_density - weight_to_hitch(
        distance=lengths / 2, hitch_end=_choice(HitchEnd, hitch_end, "hitch_end")
    )
    found = natural_frequency_from_tension(
        mode_number=mode_number,
        tension=effective_squared_wave_speed(
            squared_wave_speed=middle, mode_number=mode_number, free_length=lengths
        ),
        free_length=lengths,
        flexural_rigidity=flexural_rigidity / linear_density,
        ends=EndCondition.from_ends(_choice(Ends, ends, "ends")),
    )
    return np.asarray(found, dtype=np.float64)


def _assessed(
    rope_set: RopeSet,
    readings: Sequence[PullReading],
    hearing: SetHearing | None,
    rule: Rule,
) -> Assessment:
    """Measured as a series of a record would be, and assessed."""
    measured = measure_series(
        rope_set=rope_set,
        lift=installation.Lift(),
        series=_SERIES,
        readings=readings,
        hearing=hearing,
    )
    return assess_set(measured, rule)


def _hearing(
    frequencies: FloatArray, widths: FloatArray, stiffness: float
) -> SetHearing:
    """What would have been heard; EI/m [m^4/s^2] is nan where it is not known."""
    nan, none = float("nan"), NoteKind.NOT_MEASURED
    given = np.flatnonzero(np.isfinite(frequencies))
    only = Hypothesis(weight=1.0, fundamental_frequencies=frequencies[given])
    return SetHearing(
        ropes=tuple(
            RopeHearing(
                number=i + 1,
                fundamental_frequency=float(frequencies[i]),
                relative_uncertainty=float(widths[i]),
                inharmonicity=nan,
                signal_to_noise=nan,
                refusal=None if i in given else none.refusal(rope=i + 1),
            )
            for i in range(len(frequencies))
        ),
        given=tuple(int(i) + 1 for i in given),
        hypotheses=(only,) if given.size else (),
        covariance=np.diag(widths[given] ** 2),
        rigidity_per_density=stiffness,
        rigidity_per_density_uncertainty=0.0 * stiffness,
    )


def _sensor_ratio(
    sensor: tuple[Number, Number], rope_set: RopeSet, free_lengths: ArrayLike
) -> FloatArray:
    """Frequency with a sensor on each rope over that without."""
    if rope_set.linear_density is None:
        raise InvalidValueError(f"what a sensor does to the pitch {_NEEDS_DENSITY}")
    mass = _quantity(sensor[0], Dimension.MASS).value
    at = _quantity(sensor[1], Dimension.LENGTH).value
    lengths = _per_rope(free_lengths, "free_lengths", rope_set.n_ropes)
    _require(
        mass >= 0 and np.all((at >= 0) & (at <= lengths)),
        f"sensor is (mass, distance from an end), in kg and m, got {sensor}",
    )
    return np.asarray(
        point_mass_frequency_ratio(
            mode_number=1,
            mass_ratio=mass / (rope_set.linear_density.value * lengths),
            position_ratio=at / lengths,
        )
    )


def _stiffness(rope_set: RopeSet, rigidity: float | None) -> float:
    """EI/m where EI was given, else nan. [m^4/s^2]."""
    if rigidity is None:
        return float("nan")
    _require(
        rigidity >= 0,
        f"flexural_rigidity must not be below 0 N m2, got {rigidity:g}",
    )
    _require(
        not rigidity or rope_set.linear_density is not None,
        f"flexural_rigidity {_NEEDS_DENSITY}",
    )
    density = rope_set.linear_density
    return rigidity / density.value if density else 0.0


def _rope_set(n_ropes: int, free_lengths: ArrayLike, data: AboutRopes) -> RopeSet:
    """The set with its one span as a record would describe it."""
    _require(1 <= n_ropes <= 12, f"a set has 1 to 12 ropes, got {n_ropes} values")
    lengths = _per_rope(free_lengths, "free_lengths", n_ropes)
    _require_between(
        lengths,
        _LENGTHS,
        f"free_lengths are metres, from {_LENGTHS[0]:g} to {_LENGTHS[1]:g}, got "
        "{got:g}; divide millimetres by 1000",
    )
    metres = _quantities(lengths, Dimension.LENGTH)
    typed = np.ndim(free_lengths) > 0
    span = installation.Span(
        name=_SERIES.span,
        free_length=None if typed else metres[0],
        ends=_choice(Ends, data.ends, "ends"),
        hitch_end=_choice(HitchEnd, data.hitch_end, "hitch_end"),
    )
    ropes = tuple(
        installation.Rope(number=number, free_lengths=((_SERIES.span, length),))
        for number, length in enumerate(metres, start=1)
    )
    return RopeSet(
        n_ropes=n_ropes,
        ropes=ropes if typed else (),
        spans=(span,),
        diameter=_optional(data.diameter, Dimension.LENGTH),
        construction=data.construction,
        linear_density=_optional(data.linear_density, Dimension.LINEAR_DENSITY),
        rope_length=_optional(data.rope_length, Dimension.LENGTH),
        axial_rigidity=_optional(data.axial_rigidity, Dimension.FORCE),
        has_sockets_at_one_height=not typed,
        uncertainties=data.uncertainties,
    )


def _hitches(
    spring_rate: Number | None, *, has_springs: bool | None
) -> tuple[installation.Hitch, ...]:
    """What is known of the hitch."""
    _require(
        spring_rate is None or has_springs is not False,
        "spring_rate was given and has_springs is False; leave out one of them",
    )
    if spring_rate is None and has_springs is None:
        return ()
    none, spring = installation.Buffer.NONE, installation.Buffer.SPRING
    rate = _optional(spring_rate, Dimension.STIFFNESS)
    if rate is not None and not 1e3 <= rate.value <= 1e8:
        raise InvalidValueError(
            f"spring_rate is in N/m, from 1e3 to 1e8, got {rate.value:g}; multiply "
            'N/mm by 1000, or write a text like "150 N/mm"'
        )
    buffer, at = none if has_springs is False else spring, installation.HitchPlace.CAR
    return (installation.Hitch(at=at, buffer=buffer, spring_rate=rate),)


def _rule(
    rule: Rule | str | None, limit: Number | None, metric: Metric | str | None
) -> Rule:
    """The rule that decides."""
    chosen = rule if isinstance(rule, Rule) else find_rule(rule)
    if limit is None and metric is None:
        return chosen
    value = None if limit is None else _quantity(limit, Dimension.FRACTION).value
    _require(
        value is None or 0 < value < 1,
        f'limit is a part of 1: write 0.10 or "10 %", not {limit}',
    )
    wanted = None if metric is None else _choice(Metric, metric, "metric")
    return changed(chosen, limit=value, metric=wanted)


def _deflections(values: ArrayLike, shape: tuple[int, ...]) -> FloatArray:
    """Ropes by repeats, or one column where one stands for all repeats."""
    found = _numbers(values, "deflections")
    if found.ndim == 0:
        found = np.full((shape[0], 1), float(found))
    elif found.shape == (shape[0],):
        found = found[:, None]
    elif found.shape != shape:
        raise InvalidValueError(
            f"deflections have shape {found.shape}, forces {shape}; give one number, "
            "one per rope, or one per force"
        )
    _require_between(
        found[np.isfinite(found)],
        (0.0, 2.0),
        "deflections are metres, above 0 and under 2, got {got:g}; divide millimetres "
        "by 1000",
    )
    return found


def _require(holds: object, message: str) -> None:
    """Refuse what cannot be."""
    if not holds:
        raise InvalidValueError(message)


def _choice(kind: type[Choice], value: Choice | str, name: str) -> Choice:
    """A member by itself or by its word."""
    try:
        return kind(value)
    except ValueError:
        known = ", ".join(f'"{one.value}"' for one in kind)
        raise InvalidValueError(f'{name} is one of {known}, not "{value}"') from None


def _optional(value: Number | None, dimension: Dimension) -> Quantity | None:
    """A quantity above zero, where it was given."""
    if value is None:
        return None
    found = _quantity(value, dimension)
    _require(
        found.value > 0,
        f"a {dimension.value} must be above zero, got {found.text}",
    )
    return found


def _quantity(value: Number, dimension: Dimension) -> Quantity:
    """A text with its unit, or a number in SI."""
    if isinstance(value, str):
        return parse_quantity(value, dimension)
    return Quantity(value=float(value), dimension=dimension, text=f"{float(value):g}")


def _quantities(values: FloatArray, dimension: Dimension) -> tuple[Quantity, ...]:
    """Those of a row that are numbers."""
    return tuple(_quantity(float(v), dimension) for v in values if np.isfinite(v))


def _numbers(values: ArrayLike, name: str) -> FloatArray:
    """An array of floats, None as nan."""
    try:
        return np.array(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise InvalidValueError(
            f"{name} must be numbers in SI, the same count for each rope; fill what is "
            "missing with nan"
        ) from None


def _per_rope(values: ArrayLike, name: str, n_ropes: int) -> FloatArray:
    """One value per rope, a single one for all."""
    found = _numbers(values, name)
    if found.ndim == 0:
        return np.full(n_ropes, float(found))
    _require(
        found.shape == (n_ropes,),
        f"{name} has shape {found.shape} for {n_ropes} ropes; give one number for "
        "all, or one per rope",
    )
    return found


def _require_between(
    values: FloatArray, bounds: tuple[float, float], message: str
) -> None:
    """Refuse values outside of bounds, naming the first in the message."""
    outside = values[~((values > bounds[0]) & (values <= bounds[1]))]
    if outside.size:
        raise InvalidValueError(message.format(got=float(outside[0])))
