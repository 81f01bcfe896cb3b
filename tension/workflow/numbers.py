"""From numbers to a result: frequencies or side pulls, lengths and a rule, no files.

What a caller gives in numbers, texts and words is held against what can be; a mistake
says what to give.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike

from tension.assessment.decide import Assessment, assess_set
from tension.catalogue.rules import Rule, find_rule
from tension.errors import InvalidValueError
from tension.installation import (
    MOST_ROPES,
    Buffer,
    Ends,
    Hitch,
    HitchEnd,
    HitchPlace,
    Lift,
    Rope,
    RopeSet,
    Span,
    Uncertainties,
)
from tension.measurement.readings import Hold, PullReading, Series
from tension.measurement.series import measure_series
from tension.notes import NoteKind
from tension.physics import FloatArray
from tension.physics.own_weight import effective_squared_wave_speed, weight_to_hitch
from tension.physics.partials import point_mass_frequency_ratio
from tension.physics.taut_rope import EndCondition, natural_frequency_from_tension
from tension.quantity.units import Dimension, Quantity, parse_quantity, require_positive
from tension.sound.hearing import RopeHearing, SetHearing, joint_hypotheses
from tension.telling.lines import told
from tension.workflow.assess import RuleChoice

Choice = TypeVar("Choice", bound=StrEnum)

Number = float | str
"""A number in SI, or a text with its unit."""

_SERIES = Series(name="numbers", span="span")
_LENGTHS = (0.05, 300.0)  # free lengths that are taken [m]
_RATES = (1e3, 1e8)  # spring rates that are taken [N/m]
_FREQUENCIES = (0.0, 200.0)  # frequencies that are taken [Hz]
_DEFLECTIONS = (0.0, 2.0)  # deflections that are taken [m]


@dataclass(frozen=True, kw_only=True, slots=True)
class AboutRopes:
    """What is known of the ropes, their span and their hitch besides the readings."""

    # of one rope; without it there are shares and no newtons [kg/m]
    linear_density: Number | None = None
    diameter: Number | None = None  # nominal [m]
    construction: str = ""  # such as "8x19 FC"; with the diameter it gives the rest
    axial_rigidity: Number | None = None  # EA of one rope [N]
    # EI of one rope, 0 for ideal strings; by diameter, within wide bounds, if left out;
    # it needs the linear density and is for frequencies alone [N m2]
    flexural_rigidity: float | None = None
    rope_length: Number | None = None  # hitch to hitch [m]
    spring_rate: Number | None = None  # of the spring of one rope at this hitch [N/m]
    # False where ropes are fastened without springs; if this and the rate are left out,
    # the result of pulls allows for both and asks
    has_springs: bool | None = None
    # what holds the span: "socket-sheave", "socket-socket", "sheave-sheave"
    ends: Ends | str = Ends.SOCKET_SHEAVE
    # end of the span at which the hitch is: "lower" or "upper"
    hitch_end: HitchEnd | str = HitchEnd.LOWER
    # of what a person reads
    uncertainties: Uncertainties = field(default_factory=Uncertainties)


def assess_frequencies(
    frequencies: ArrayLike,
    *,
    free_lengths: ArrayLike,
    ropes: AboutRopes | None = None,
    relative_uncertainty: ArrayLike = 0.002,
    sensor: tuple[Number, Number] | None = None,
    rule: Rule | RuleChoice | str | None = None,
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
    sensor : tuple of (float or str, float or str), optional
        Mass of a sensor fixed to each rope in turn, and its distance from the nearer
        end: it lowers the pitch, which is taken off; it needs the linear density.
        [kg], [m]
    rule : Rule or RuleChoice or str, optional
        A rule, the name of one in the catalogue, or a choice of rule, limit and metric.

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
    ...     ropes=AboutRopes(linear_density=0.5, flexural_rigidity=0.0),
    ... )
    >>> found.verdict.value
    'equal'
    >>> round(found.shares[0].tension)
    4988
    """
    heard = _numbers(frequencies, "frequencies")
    _require(heard.ndim == 1, "one-row", shape=heard.shape)
    _require_between(heard[np.isfinite(heard)], _FREQUENCIES, "frequency")
    about = ropes or AboutRopes()
    rope_set = _rope_set(len(heard), free_lengths, about)
    widths = _per_rope(relative_uncertainty, "relative_uncertainty", len(heard))
    _require(np.all((widths > 0) & (widths < 0.5)), "uncertainty")
    if sensor is not None:
        lengths = _per_rope(free_lengths, "free_lengths", len(heard))
        heard = heard / _sensor_ratio(sensor, about, lengths)
    hearing = _hearing(heard, widths, _rigidity_per_density(about))
    return _assessed(rope_set, (), hearing, rule)


def assess_pulls(
    forces: ArrayLike,
    deflections: ArrayLike,
    *,
    free_lengths: ArrayLike,
    ropes: AboutRopes | None = None,
    pulled_at: Number | None = None,
    rule: Rule | RuleChoice | str | None = None,
) -> Assessment:
    """Assess a set from side pulls: forces across the ropes and their deflections.

    Parameters
    ----------
    forces : array_like, shape (n_ropes,) or (n_ropes, n_repeats)
        Readings of the scale less what it reads without load, ropes in order of number;
        nan or None where there is none. [N]
    deflections : array_like, shape (), (n_ropes,) or (n_ropes, n_repeats)
        Deflection of the pulled point; one number for all, one per rope, or one per
        reading. One for several forces is one error in all of them. [m]
    free_lengths : array_like, shape (n_ropes,) or ()
        Free length of each rope; one number if all have it. [m]
    ropes : AboutRopes, optional
        Diameter, construction, springs at the hitch and the like.
    pulled_at : float or str, optional
        Distance of the pull from the lower node; the middle if left out. [m]
    rule : Rule or RuleChoice or str, optional
        As of `assess_frequencies`.

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
    ...     ropes=AboutRopes(
    ...         diameter="13 mm", construction="8x19 FC", spring_rate="150 N/mm"
    ...     ),
    ... )
    >>> found.verdict.value
    'unequal'
    """
    read = _numbers(forces, "forces")
    _require(read.ndim in {1, 2}, "forces", shape=read.shape)
    read = read.reshape(len(read), -1)
    aside = _deflections(deflections, read.shape)
    is_read = np.isfinite(read + aside)
    at = None if pulled_at is None else _quantity(pulled_at, Dimension.LENGTH)
    readings = [
        PullReading(
            series=_SERIES.name,
            rope=i + 1,
            forces=_quantities(read[i, taken], Dimension.FORCE),
            deflections=_quantities(
                aside[i, taken] if aside.shape == read.shape else aside[i],
                Dimension.LENGTH,
            ),
            hold=Hold.DEFLECTION,
            at=at,
        )
        for i, taken in enumerate(is_read)
        if taken.any()
    ]
    rope_set = _rope_set(len(read), free_lengths, ropes or AboutRopes())
    return _assessed(rope_set, readings, None, rule)


def frequencies_from_tensions(
    tensions: ArrayLike,
    *,
    free_lengths: ArrayLike,
    ropes: AboutRopes,
    mode_number: int = 1,
) -> FloatArray:
    """Compute at what frequency ropes of known tension ring, own weight included.

    Parameters
    ----------
    tensions : array_like, shape (n_ropes,)
        Tension of each rope at the hitch. [N]
    free_lengths : array_like, shape (n_ropes,) or ()
        Free length of each rope; one number if all have it. [m]
    ropes : AboutRopes
        Linear density, flexural rigidity (an ideal string if it is left out) and ends.
    mode_number : int, optional
        Which partial, from 1 up. [1]

    Returns
    -------
    ndarray, shape (n_ropes,)
        Frequencies. [Hz]

    Raises
    ------
    InvalidValueError
        If the linear density is missing, or numbers do not go together.

    Examples
    --------
    4988 N below and half of 5 m of 0.5 kg/m make 5000 N at mid-length: 10 Hz.

    >>> found = frequencies_from_tensions(
    ...     [4987.74], free_lengths=5.0, ropes=AboutRopes(linear_density=0.5)
    ... )
    >>> round(float(found[0]), 4)
    10.0
    """
    wanted = np.atleast_1d(_numbers(tensions, "tensions"))
    lengths = _per_rope(free_lengths, "free_lengths", len(wanted))
    span = _span(ropes)
    middle = wanted / _density(ropes, "a frequency") - weight_to_hitch(
        distance=lengths / 2, hitch_end=span.hitch_end
    )
    found = natural_frequency_from_tension(
        mode_number=mode_number,
        tension=effective_squared_wave_speed(
            squared_wave_speed=middle, mode_number=mode_number, free_length=lengths
        ),
        free_length=lengths,
        flexural_rigidity=np.nan_to_num(_rigidity_per_density(ropes)),
        ends=EndCondition.from_ends(span.ends),
    )
    return np.asarray(found, dtype=np.float64)


def _assessed(
    rope_set: RopeSet,
    readings: Sequence[PullReading],
    hearing: SetHearing | None,
    rule: Rule | RuleChoice | str | None,
) -> Assessment:
    """Measured as a series of a record would be, and assessed."""
    measured = measure_series(
        rope_set=rope_set,
        lift=Lift(),
        series=_SERIES,
        readings=readings,
        hearing=hearing,
    )
    if isinstance(rule, RuleChoice):
        return assess_set(measured, rule.apply(find_rule()))
    return assess_set(measured, rule if isinstance(rule, Rule) else find_rule(rule))


def _hearing(
    frequencies: FloatArray, widths: FloatArray, stiffness: float
) -> SetHearing:
    """What would have been heard; EI/m [m^4/s^2] is nan where it is not known."""
    given, none = np.flatnonzero(np.isfinite(frequencies)), NoteKind.NOT_MEASURED
    ropes = tuple(
        RopeHearing(
            number=i + 1,
            fundamental_frequency=float(frequencies[i]),
            relative_uncertainty=float(widths[i]),
            refusal=None if i in given else none.refusal(rope=i + 1),
        )
        for i in range(len(frequencies))
    )
    return SetHearing(
        ropes=ropes,
        given=tuple(rope.number for rope in ropes if not rope.refusal),
        hypotheses=joint_hypotheses([rope for rope in ropes if not rope.refusal]),
        covariance=np.diag(widths[given] ** 2),
        rigidity_per_density=stiffness,
        rigidity_per_density_uncertainty=0.0 * stiffness,
    )


def _sensor_ratio(
    sensor: tuple[Number, Number], about: AboutRopes, lengths: FloatArray
) -> FloatArray:
    """Frequency with a sensor on each rope over that without."""
    density = _density(about, "what a sensor does to the pitch")
    mass = _quantity(sensor[0], Dimension.MASS).value
    at = _quantity(sensor[1], Dimension.LENGTH).value
    is_on_rope = mass >= 0 and np.all((at >= 0) & (at <= lengths))
    _require(is_on_rope, "sensor", sensor=sensor)
    return np.asarray(
        point_mass_frequency_ratio(
            mode_number=1,
            mass_ratio=mass / (density * lengths),
            position_ratio=at / lengths,
        )
    )


def _density(about: AboutRopes, needed: str) -> float:
    """The linear density, for what cannot do without. [kg/m]."""
    density = _optional(about.linear_density, Dimension.LINEAR_DENSITY)
    if density is None:
        raise InvalidValueError(told("numbers.linear-density", needed=needed))
    return density.value


def _rigidity_per_density(about: AboutRopes) -> float:
    """EI/m where EI was given, else nan. [m^4/s^2]."""
    rigidity = about.flexural_rigidity
    if not rigidity:
        return float("nan") if rigidity is None else 0.0
    _require(rigidity > 0, "rigidity", rigidity=rigidity)
    return rigidity / _density(about, "flexural_rigidity")


def _span(about: AboutRopes, free_length: Quantity | None = None) -> Span:
    """The one span."""
    return Span(
        name=_SERIES.span,
        free_length=free_length,
        ends=_choice(Ends, about.ends, "ends"),
        hitch_end=_choice(HitchEnd, about.hitch_end, "hitch_end"),
    )


def _rope_set(n_ropes: int, free_lengths: ArrayLike, about: AboutRopes) -> RopeSet:
    """The set with its one span and hitch as a record would describe it."""
    has_ropes = 1 <= n_ropes <= MOST_ROPES
    _require(has_ropes, "ropes", most=MOST_ROPES, n_ropes=n_ropes)
    lengths = _per_rope(free_lengths, "free_lengths", n_ropes)
    _require_between(lengths, _LENGTHS, "free-lengths")
    metres = _quantities(lengths, Dimension.LENGTH)
    typed = np.ndim(free_lengths) > 0
    return RopeSet(
        n_ropes=n_ropes,
        ropes=tuple(
            Rope(number=number, free_lengths=((_SERIES.span, length),))
            for number, length in enumerate(metres if typed else (), start=1)
        ),
        spans=(_span(about, None if typed else metres[0]),),
        hitches=_hitches(about),
        diameter=_optional(about.diameter, Dimension.LENGTH),
        construction=about.construction,
        linear_density=_optional(about.linear_density, Dimension.LINEAR_DENSITY),
        rope_length=_optional(about.rope_length, Dimension.LENGTH),
        axial_rigidity=_optional(about.axial_rigidity, Dimension.FORCE),
        has_sockets_at_one_height=not typed,
        uncertainties=about.uncertainties,
    )


def _hitches(about: AboutRopes) -> tuple[Hitch, ...]:
    """What is known of the hitch."""
    rate = _optional(about.spring_rate, Dimension.STIFFNESS)
    if rate is None and about.has_springs is None:
        return ()
    if rate is not None:
        _require(about.has_springs is not False, "two-springs")
        is_rate = _RATES[0] <= rate.value <= _RATES[1]
        _require(is_rate, "spring-rate", rate=about.spring_rate)
    buffer = Buffer.NONE if about.has_springs is False else Buffer.SPRING
    return (Hitch(at=HitchPlace.CAR, buffer=buffer, spring_rate=rate),)


def _deflections(values: ArrayLike, shape: tuple[int, ...]) -> FloatArray:
    """Ropes by repeats, or one column where one stands for all repeats."""
    found = _numbers(values, "deflections")
    if found.shape != shape:
        wanted = "one number, one per rope, or one per force"
        found = _per_rope(found, "deflections", shape[0], wanted)[:, None]
    _require_between(found[np.isfinite(found)], _DEFLECTIONS, "deflections")
    return found


def _require(holds: object, why: str, **places: object) -> None:
    """Refuse what cannot be, by the name of the sentence that says so."""
    if not holds:
        raise InvalidValueError(told(f"numbers.{why}", **places))


def _require_between(values: FloatArray, bounds: tuple[float, float], why: str) -> None:
    """Refuse values outside of bounds, naming the first of them."""
    least, most = bounds
    for value in values[~((values > least) & (values <= most))]:
        _require(None, why, least=least, most=most, got=float(value))


def _choice(kind: type[Choice], value: Choice | str, name: str) -> Choice:
    """A member by itself or by its word."""
    known = ", ".join(f'"{one.value}"' for one in kind)
    _require(value in list(kind), "choice", name=name, known=known, value=value)
    return kind(value)


def _quantity(value: Number, dimension: Dimension) -> Quantity:
    """A text with its unit, or a number in SI."""
    if isinstance(value, str):
        return parse_quantity(value, dimension)
    return Quantity(value=float(value), dimension=dimension, text=f"{float(value):g}")


def _optional(value: Number | None, dimension: Dimension) -> Quantity | None:
    """A quantity above zero, where it was given."""
    if value is None:
        return None
    return require_positive(_quantity(value, dimension), f"a {dimension.value}")


def _quantities(values: FloatArray, dimension: Dimension) -> tuple[Quantity, ...]:
    """A row of numbers in SI."""
    return tuple(_quantity(float(value), dimension) for value in values)


def _numbers(values: ArrayLike, name: str) -> FloatArray:
    """An array of floats, None as nan."""
    try:
        return np.array(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise InvalidValueError(told("numbers.no-numbers", name=name)) from None


def _per_rope(
    values: ArrayLike,
    name: str,
    n_ropes: int,
    wanted: str = "one number for all, or one per rope",
) -> FloatArray:
    """One value per rope, a single one for all."""
    found = _numbers(values, name)
    said = {"name": name, "n_ropes": n_ropes, "wanted": wanted}
    _require(found.shape in {(), (n_ropes,)}, "shape", shape=found.shape, **said)
    return np.array(np.broadcast_to(found, n_ropes))
