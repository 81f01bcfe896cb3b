"""From numbers to a result: frequencies or side pulls, lengths and a rule, no files."""

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from tension.assessment.decide import assess_set
from tension.assessment.outcome import Assessment
from tension.catalogue.rules import Metric, Rule
from tension.errors import InvalidValueError
from tension.installation import (
    Ends,
    HitchEnd,
    Lift,
    RopeSet,
)
from tension.measurement.readings import Hold, PullReading
from tension.measurement.series import measure_series
from tension.notes import NoteKind
from tension.physics.own_weight import effective_squared_wave_speed, weight_to_hitch
from tension.physics.partials import point_mass_frequency_ratio
from tension.physics.taut_rope import EndCondition, natural_frequency_from_tension
from tension.quantity.units import Dimension
from tension.sound.hearing import Hypothesis, RopeHearing, SetHearing
from tension.workflow.given_numbers import (
    SERIES,
    AboutRopes,
    FloatArray,
    Number,
    choice,
    find_given_rule,
    make_hitches,
    make_rope_set,
    numbers,
    per_rope,
    quantities,
    quantity,
    require_between,
)

_HIGHEST = 200.0  # [Hz]
_FREQUENCIES = (
    f"frequencies must lie above 0 and up to {_HIGHEST:g} Hz, got {{got:g}}; nan where "
    "a rope was not measured"
)
_DEFLECTIONS = (
    "deflections are metres, above 0 and under 2, got {got:g}; divide millimetres by "
    "1000"
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
    rule : Rule or str, optional
        A rule, or the name of one in the catalogue.
    limit : float or str, optional
        Another limit: 0.10, or "10 %". [1]
    metric : Metric or str, optional
        Another metric, such as "off-mean".

    Returns
    -------
    Assessment
        Verdict, spread with its interval, share and tension of each rope.

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
    heard = numbers(frequencies, "frequencies")
    if heard.ndim != 1:
        raise InvalidValueError(
            f"frequencies must be one row, a value per rope, got shape {heard.shape}"
        )
    require_between(heard[np.isfinite(heard)], 0.0, _HIGHEST, _FREQUENCIES)
    rope_set = make_rope_set(len(heard), free_lengths, ropes or AboutRopes())
    widths = per_rope(relative_uncertainty, "relative_uncertainty", len(heard))
    if not np.all((widths > 0) & (widths < 0.5)):
        raise InvalidValueError(
            "relative_uncertainty is a part of the frequency, between 0 and 0.5; "
            "write 0.002 for 0.2 %"
        )
    if sensor is not None:
        heard = heard / _sensor_ratio(sensor, rope_set, free_lengths)
    measured = measure_series(
        rope_set=rope_set,
        lift=Lift(),
        series=SERIES,
        readings=(),
        hearing=_hearing(heard, widths, _stiffness(rope_set, flexural_rigidity)),
    )
    return assess_set(measured, find_given_rule(rule, limit, metric))


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
    ropes : AboutRopes, optional
        Linear density, diameter and the like.
    pulled_at : float or str, optional
        Distance of the pull from the lower node; the middle if left out. [m]
    hold : Hold or str, optional
        What was held the same on all ropes: "deflection" or "force".
    scale_zero : float or str, optional
        What the scale reads without load. [N]
    rule : Rule or str, optional
        A rule, or the name of one in the catalogue.
    limit : float or str, optional
        Another limit: 0.10, or "10 %". [1]
    metric : Metric or str, optional
        Another metric, such as "off-mean".

    Returns
    -------
    Assessment
        Verdict, spread with its interval, share and tension of each rope.

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
    read = numbers(forces, "forces")
    if read.ndim not in {1, 2}:
        raise InvalidValueError(
            "forces must have shape (n_ropes,) or (n_ropes, n_repeats), got "
            f"{read.shape}"
        )
    read = read[:, None] if read.ndim == 1 else read
    aside = _deflections(deflections, read.shape)
    rope_set = make_rope_set(len(read), free_lengths, ropes or AboutRopes())
    hitches = make_hitches(spring_rate, has_springs=has_springs)
    at = None if pulled_at is None else quantity(pulled_at, Dimension.LENGTH)
    zero = quantity(scale_zero, Dimension.FORCE)
    held = choice(Hold, hold, "hold")
    readings = [
        PullReading(
            series=SERIES.name,
            rope=i + 1,
            forces=quantities(read[i], Dimension.FORCE),
            deflections=quantities(
                aside[i][: 1 if aside.shape[1] == 1 else None], Dimension.LENGTH
            ),
            hold=held,
            at=at,
            scale_zero=zero,
        )
        for i in range(len(read))
        if np.isfinite(read[i]).any()
    ]
    measured = measure_series(
        rope_set=replace(rope_set, hitches=hitches),
        lift=Lift(),
        series=SERIES,
        readings=readings,
    )
    return assess_set(measured, find_given_rule(rule, limit, metric))


def _hearing(
    frequencies: FloatArray, widths: FloatArray, stiffness: float | None
) -> SetHearing:
    """What would have been heard."""
    given = [i for i, f in enumerate(frequencies) if np.isfinite(f)]
    heard = frequencies[given]
    return SetHearing(
        ropes=tuple(
            RopeHearing(
                number=i + 1,
                fundamental_frequency=float(f),
                relative_uncertainty=float(width),
                inharmonicity=float("nan"),
                signal_to_noise=float("nan"),
                refusal=None
                if np.isfinite(f)
                else NoteKind.NOT_MEASURED.refusal(rope=i + 1),
            )
            for i, (f, width) in enumerate(zip(frequencies, widths, strict=True))
        ),
        given=tuple(i + 1 for i in given),
        hypotheses=(Hypothesis(weight=1.0, fundamental_frequencies=heard),)
        if given
        else (),
        covariance=np.diag(widths[given] ** 2),
        rigidity_per_density=float("nan") if stiffness is None else stiffness,
        rigidity_per_density_uncertainty=float("nan") if stiffness is None else 0.0,
    )


def _sensor_ratio(
    sensor: tuple[Number, Number], rope_set: RopeSet, free_lengths: ArrayLike
) -> FloatArray:
    """Frequency with a sensor on each rope over that without."""
    if rope_set.linear_density is None:
        raise InvalidValueError(
            "what a sensor does to the pitch needs the linear density; give it to "
            "AboutRopes as linear_density, in kg/m"
        )
    mass = quantity(sensor[0], Dimension.MASS).value
    at = quantity(sensor[1], Dimension.LENGTH).value
    lengths = per_rope(free_lengths, "free_lengths", rope_set.n_ropes)
    if mass < 0 or not np.all((at >= 0) & (at <= lengths)):
        raise InvalidValueError(
            f"sensor is (mass, distance from an end), in kg and m, got {sensor}"
        )
    return np.asarray(
        point_mass_frequency_ratio(
            mode_number=1,
            mass_ratio=mass / (rope_set.linear_density.value * lengths),
            position_ratio=at / lengths,
        )
    )


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
    linear_density : float
        Of one rope. [kg/m]
    flexural_rigidity : float, optional
        Of one rope; an ideal string if left out. [N m2]
    mode_number : int, optional
        Which partial, from 1 up. [1]
    ends : Ends or str, optional
        What holds the span.
    hitch_end : HitchEnd or str, optional
        End of the span at which the hitch is.

    Returns
    -------
    ndarray, shape (n_ropes,)
        Frequencies. [Hz]

    Raises
    ------
    InvalidValueError
        If numbers do not go together; the message says what to give.

    Examples
    --------
    4988 N below and half of 5 m of 0.5 kg/m make 5000 N at mid-length: 10 Hz.

    >>> found = frequencies_from_tensions(
    ...     [4987.74], free_lengths=5.0, linear_density=0.5
    ... )
    >>> round(float(found[0]), 4)
    10.0
    """
    wanted = numbers(tensions, "tensions")
    lengths = per_rope(free_lengths, "free_lengths", len(np.atleast_1d(wanted)))
    middle = np.atleast_1d(wanted) / linear_density - weight_to_hitch(
        distance=lengths / 2, hitch_end=choice(HitchEnd, hitch_end, "hitch_end")
    )
    found = natural_frequency_from_tension(
        mode_number=mode_number,
        tension=effective_squared_wave_speed(
            squared_wave_speed=middle, mode_number=mode_number, free_length=lengths
        ),
        free_length=lengths,
        flexural_rigidity=flexural_rigidity / linear_density,
        ends=EndCondition.from_ends(choice(Ends, ends, "ends")),
    )
    return np.asarray(found, dtype=np.float64)


def _stiffness(rope_set: RopeSet, rigidity: float | None) -> float | None:
    """EI/m, where EI was given. [m^4/s^2]."""
    if rigidity is None:
        return None
    if rigidity < 0:
        raise InvalidValueError(
            f"flexural_rigidity must not be below 0 N m2, got {rigidity:g}"
        )
    if rope_set.linear_density is None:
        if rigidity == 0:
            return 0.0
        raise InvalidValueError(
            "flexural_rigidity needs the linear density; give it to AboutRopes as "
            "linear_density, in kg/m"
        )
    return rigidity / rope_set.linear_density.value


def _deflections(values: ArrayLike, shape: tuple[int, ...]) -> FloatArray:
    """Ropes by repeats, or one column where one stands for all repeats."""
    found = numbers(values, "deflections")
    if found.ndim == 0:
        found = np.full((shape[0], 1), float(found))
    elif found.shape == (shape[0],):
        found = found[:, None]
    elif found.shape != shape:
        raise InvalidValueError(
            f"deflections have shape {found.shape}, forces {shape}; give one number, "
            "one per rope, or one per force"
        )
    require_between(found[np.isfinite(found)], 0.0, 2.0, _DEFLECTIONS)
    return found
