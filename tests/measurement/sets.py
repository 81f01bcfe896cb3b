"""Sets of ropes and readings of them, made by formulas of their own."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tension.installation import (
    Buffer,
    Hitch,
    HitchEnd,
    HitchPlace,
    Lift,
    Rope,
    RopeSet,
    Span,
    Uncertainties,
)
from tension.measurement.combine import SetMeasurement, combine
from tension.measurement.readings import Hold, PullReading, Reading, Series
from tension.measurement.rope_figures import RigidityRange, Site
from tension.measurement.series import measure_series
from tension.measurement.waves import _Heard, evidence_from_plucks
from tension.quantity.units import Dimension, Quantity
from tension.sound.hearing import Hypothesis, RopeHearing, SetHearing

Array = NDArray[np.float64]

GRAVITY = 9.80665
DENSITY = 0.58
SERIES = Series(name="as found", span="top")
TENSIONS = np.array([5300.0, 4850.0, 5150.0, 4700.0])


def quantity(value: float, dimension: Dimension = Dimension.LENGTH) -> Quantity:
    return Quantity(value=value, dimension=dimension, text=repr(value))


def span(length: float | None = 3.4, hitch_end: HitchEnd = HitchEnd.LOWER) -> Span:
    return Span(
        name="top",
        free_length=None if length is None else quantity(length),
        hitch_end=hitch_end,
    )


def rope_set(
    n_ropes: int = 4,
    *,
    staggers: Sequence[float | None] = (),
    density: float | None = DENSITY,
    length: float | None = 3.4,
    one_height: bool = False,
    uncertainties: Uncertainties | None = None,
    hitches: tuple[Hitch, ...] = (),
    diameter: float = 0.013,
    construction: str = "8x19 FC",
) -> RopeSet:
    return RopeSet(
        n_ropes=n_ropes,
        ropes=tuple(
            Rope(number=i + 1, stagger=quantity(stagger))
            for i, stagger in enumerate(staggers)
            if stagger is not None
        ),
        spans=(span(length),),
        hitches=hitches,
        diameter=quantity(diameter),
        construction=construction,
        linear_density=None
        if density is None
        else quantity(density, Dimension.LINEAR_DENSITY),
        rope_length=quantity(38.0),
        axial_rigidity=quantity(4.6e6, Dimension.FORCE),
        has_sockets_at_one_height=one_height,
        uncertainties=uncertainties or Uncertainties(),
    )


def spring_hitch(rate: float = 150e3) -> Hitch:
    return Hitch(
        at=HitchPlace.CAR,
        buffer=Buffer.SPRING,
        spring_rate=quantity(rate, Dimension.STIFFNESS),
        spring_free_length=quantity(0.160),
        spring_solid_length=quantity(0.096),
    )


def ideal_fundamentals(tensions: Array, lengths: Array) -> Array:
    """Of ideal strings; at mid-length half the weight of the span is added."""
    middle = tensions + DENSITY * GRAVITY * lengths / 2
    return np.asarray(np.sqrt(middle / DENSITY) / (2 * lengths))


def hearing(
    fundamentals: Array,
    relative: float | Array = 0.001,
    *,
    rigidity: float = 0.0,
    rigidity_uncertainty: float = 0.0,
    hypotheses: tuple[Hypothesis, ...] = (),
) -> SetHearing:
    n = len(fundamentals)
    own = np.broadcast_to(np.asarray(relative, dtype=float), (n,))
    return SetHearing(
        ropes=tuple(
            RopeHearing(
                number=i + 1,
                fundamental_frequency=float(fundamentals[i]),
                relative_uncertainty=float(own[i]),
                inharmonicity=0.0,
                signal_to_noise=30.0,
            )
            for i in range(n)
        ),
        given=tuple(range(1, n + 1)),
        hypotheses=hypotheses
        or (Hypothesis(weight=1.0, fundamental_frequencies=fundamentals),),
        covariance=np.diag(own**2),
        rigidity_per_density=rigidity,
        rigidity_per_density_uncertainty=rigidity_uncertainty,
    )


def pull(
    rope: int,
    forces: Sequence[float],
    deflections: Sequence[float] = (0.025,),
    *,
    hold: Hold = Hold.DEFLECTION,
    at: float | None = None,
    zero: float | None = None,
) -> PullReading:
    return PullReading(
        series="as found",
        rope=rope,
        forces=tuple(quantity(f, Dimension.FORCE) for f in forces),
        deflections=tuple(quantity(d) for d in deflections),
        hold=hold,
        at=None if at is None else quantity(at),
        scale_zero=None if zero is None else quantity(zero, Dimension.FORCE),
    )


def find_rope_figures(ropes: RopeSet) -> Site:
    """What is known of the ropes of a set, wherever they are read."""
    return Site.of(ropes, span())


def rigidity_from_partials(
    measured: float, relative: float, known: RigidityRange
) -> RigidityRange:
    """EI/m of a set whose partials tell so much of it, known between bounds."""
    site = replace(find_rope_figures(rope_set()), rigidity_per_density=known)
    heard = hearing(np.array([10.0]), rigidity=measured, rigidity_uncertainty=relative)
    return _Heard(hearing=heard, kept=[0], site=site).rigidity


def measure_from_plucks(
    hearing: SetHearing, *, rope_set: RopeSet, span: Span, series: Series
) -> SetMeasurement:
    """Measure a set from what was heard of its plucked ropes alone."""
    site = Site.of(rope_set, span)
    evidence = evidence_from_plucks(hearing, site)
    return combine((evidence,), n_ropes=rope_set.n_ropes, series=series, site=site)


def measured(rope: RopeSet, readings: Sequence[Reading]) -> SetMeasurement:
    """A set measured from readings of the one series."""
    return measure_series(rope_set=rope, lift=Lift(), series=SERIES, readings=readings)
