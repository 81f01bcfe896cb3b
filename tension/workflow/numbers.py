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

from tension import installation
from tension.assessment.decide import assess_set
from tension.assessment.outcome import Assessment
from tension.catalogue.rules import Rule, find_rule
from tension.errors import InvalidValueError
from tension.installation import Ends, HitchEnd, RopeSet
from tension.measurement.readings import Hold, PullReading, Series
from tension.measurement.series import measure_series
from tension.notes import NoteKind
from tension.physics import FloatArray
from tension.physics.own_weight import effective_squared_wave_speed, weight_to_hitch
from tension.physics.partials import point_mass_frequency_ratio
from tension.physics.taut_rope import EndCondition, natural_frequency_from_tension
from tension.quantity.units import Dimension, Quantity, parse_quantity
from tension.sound.hearing import Hypothesis, RopeHearing, SetHearing
from tension.workflow.assess import RuleChoice

Choice = TypeVar("Choice", bound=StrEnum)

Number = float | str
"""A number in SI, or a text with its unit."""

_SERIES = Series(name="numbers", span="span")
_LENGTHS = (0.05, 300.0)  # free lengths that are taken [m]
_RATES = (1e3, 1e8)  # spring rates that are taken [N/m]
_HIGHEST = 200.0  # frequency that is taken [Hz]


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
    uncertainties: installation.Uncertainties = field(
        default_factory=installation.Uncertainties
    )


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
    about = ropes or AboutRopes()
    rope_set = _rope_set(len(heard), free_lengths, about)
    widths = _per_rope(relative_uncertainty, "relative_uncertainty", len(heard))
    _require(
        np.all((widths > 0) & (widths < 0.5)),
        "relative_uncertainty is a part of the frequency, between 0 and 0.5; "
        "write 0.002 for 0.2 %",
    )
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
    _require(
        read.ndim in {1, 2},
        f"forces must have shape (n_ropes,) or (n_ropes, n_repeats), got {read.shape}",
    )
    read = read.reshape(len(read), -1)
    aside = _deflections(deflections, read.shape)
    is_read = np.isfinite(read + aside)
    at = None if pulled_at is None else _quantity(pulled_at, Dimension.LENGTH)
    readings = [
        PullReading(
            series=_SERIES.name,
            rope=i + 1,
            forces=_quantities(read[i, told], Dimension.FORCE),
            deflections=_quantities(
                aside[i, told] if aside.shape == read.shape else aside[i],
                Dimension.LENGTH,
            ),
            hold=Hold.DEFLECTION,
            at=at,
        )
        for i, told in enumerate(is_read)
        if told.any()
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
        lift=installation.Lift(),
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
    sensor: tuple[Number, Number], about: AboutRopes, lengths: FloatArray
) -> FloatArray:
    """Frequency with a sensor on each rope over that without."""
    density = _density(about, "what a sensor does to the pitch")
    mass = _quantity(sensor[0], Dimension.MASS).value
    at = _quantity(sensor[1], Dimension.LENGTH).value
    _require(
        mass >= 0 and np.all((at >= 0) & (at <= lengths)),
        f"sensor is (mass, distance from an end), in kg and m, got {sensor}",
    )
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
        raise InvalidValueError(
            f"{needed} needs the linear density; give it to AboutRopes as "
            "linear_density, in kg/m"
        )
    return density.value


def _rigidity_per_density(about: AboutRopes) -> float:
    """EI/m where EI was given, else nan. [m^4/s^2]."""
    rigidity = about.flexural_rigidity
    if not rigidity:
        return float("nan") if rigidity is None else 0.0
    _require(
        rigidity > 0, f"flexural_rigidity must not be below 0 N m2, got {rigidity:g}"
    )
    return rigidity / _density(about, "flexural_rigidity")


def _span(about: AboutRopes, free_length: Quantity | None = None) -> installation.Span:
    """The one span."""
    return installation.Span(
        name=_SERIES.span,
        free_length=free_length,
        ends=_choice(Ends, about.ends, "ends"),
        hitch_end=_choice(HitchEnd, about.hitch_end, "hitch_end"),
    )


def _rope_set(n_ropes: int, free_lengths: ArrayLike, about: AboutRopes) -> RopeSet:
    """The set with its one span and hitch as a record would describe it."""
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
    ropes = tuple(
        installation.Rope(number=number, free_lengths=((_SERIES.span, length),))
        for number, length in enumerate(metres, start=1)
    )
    return RopeSet(
        n_ropes=n_ropes,
        ropes=ropes if typed else (),
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


def _hitches(about: AboutRopes) -> tuple[installation.Hitch, ...]:
    """What is known of the hitch."""
    rate = _optional(about.spring_rate, Dimension.STIFFNESS)
    if rate is None and about.has_springs is None:
        return ()
    _require(
        rate is None or about.has_springs is not False,
        "spring_rate was given and has_springs is False; leave out one of them",
    )
    _require(
        rate is None or _RATES[0] <= rate.value <= _RATES[1],
        f"spring_rate is in N/m, from 1e3 to 1e8, got {about.spring_rate}; multiply "
        'N/mm by 1000, or write a text like "150 N/mm"',
    )
    none, spring = installation.Buffer.NONE, installation.Buffer.SPRING
    buffer = none if about.has_springs is False else spring
    at = installation.HitchPlace.CAR
    return (installation.Hitch(at=at, buffer=buffer, spring_rate=rate),)


def _deflections(values: ArrayLike, shape: tuple[int, ...]) -> FloatArray:
    """Ropes by repeats, or one column where one stands for all repeats."""
    found = _numbers(values, "deflections")
    if found.shape != shape:
        found = _per_rope(
            found, "deflections", shape[0], "one number, one per rope, or one per force"
        )[:, None]
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


def _require_between(
    values: FloatArray, bounds: tuple[float, float], message: str
) -> None:
    """Refuse values outside of bounds, naming the first in the message."""
    for value in values[~((values > bounds[0]) & (values <= bounds[1]))]:
        raise InvalidValueError(message.format(got=float(value)))


def _choice(kind: type[Choice], value: Choice | str, name: str) -> Choice:
    """A member by itself or by its word."""
    try:
        return kind(value)
    except ValueError:
        known = ", ".join(f'"{one.value}"' for one in kind)
        raise InvalidValueError(f'{name} is one of {known}, not "{value}"') from None


def _quantity(value: Number, dimension: Dimension) -> Quantity:
    """A text with its unit, or a number in SI."""
    if isinstance(value, str):
        return parse_quantity(value, dimension)
    return Quantity(value=float(value), dimension=dimension, text=f"{float(value):g}")


def _optional(value: Number | None, dimension: Dimension) -> Quantity | None:
    """A quantity above zero, where it was given."""
    if value is None:
        return None
    found = _quantity(value, dimension)
    _require(
        found.value > 0, f"a {dimension.value} must be above zero, got {found.text}"
    )
    return found


def _quantities(values: FloatArray, dimension: Dimension) -> tuple[Quantity, ...]:
    """A row of numbers in SI."""
    return tuple(_quantity(float(value), dimension) for value in values)


def _numbers(values: ArrayLike, name: str) -> FloatArray:
    """An array of floats, None as nan."""
    try:
        return np.array(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise InvalidValueError(
            f"{name} must be numbers in SI, the same count for each rope; fill what is "
            "missing with nan"
        ) from None


def _per_rope(
    values: ArrayLike,
    name: str,
    n_ropes: int,
    wanted: str = "one number for all, or one per rope",
) -> FloatArray:
    """One value per rope, a single one for all."""
    found = _numbers(values, name)
    _require(
        found.shape in {(), (n_ropes,)},
        f"{name} has shape {found.shape} for {n_ropes} ropes; give {wanted}",
    )
    return np.array(np.broadcast_to(found, n_ropes))
