"""Rope sets as measured, with tensions that are known, for plans and comparisons."""

from dataclasses import replace

import numpy as np

from tension.assessment.decide import Assessment, assess_set
from tension.catalogue import Standing
from tension.catalogue.rules import Metric, Rule
from tension.catalogue.threads import Thread
from tension.installation import Buffer, Hitch, HitchPlace, Rope, RopeSet, Side, Span
from tension.measurement.combine import (
    RopeMeasurement,
    SetMeasurement,
    TensionHypothesis,
)
from tension.measurement.readings import Method, Series
from tension.measurement.rope_figures import LengthKnowledge
from tension.quantity.estimate import Estimate, Sharing, Source
from tension.quantity.units import Dimension, Quantity

RULE = Rule(
    name="test",
    metric=Metric.BELOW_HIGHEST,
    limit=0.10,
    source="a test",
    edition="",
    standing=Standing.PROGRAM,
    goal=0.05,
)
M16 = Thread(name="M16", pitch=0.002)
SPAN = Span(
    name="top, car side",
    free_length=Quantity(value=4.0, dimension=Dimension.LENGTH, text="4 m"),
)


def quantity(value: float, dimension: Dimension, text: str = "") -> Quantity:
    return Quantity(value=value, dimension=dimension, text=text or f"{value:g}")


def hitch(
    at: HitchPlace = HitchPlace.CAR,
    *,
    rate: float | None = 150e3,
    buffer: Buffer = Buffer.SPRING,
    thread: Thread | None = M16,
    rows: tuple[tuple[int, ...], ...] = (),
    free_length: float | None = 0.160,
    solid: float | None = 0.096,
) -> Hitch:
    length = Dimension.LENGTH
    return Hitch(
        at=at,
        rows=rows,
        thread=thread,
        buffer=buffer,
        spring_rate=(
            None
            if rate is None
            else quantity(rate, Dimension.STIFFNESS, f"{rate / 1000:g} N/mm")
        ),
        spring_free_length=(
            None if free_length is None else quantity(free_length, length, "160 mm")
        ),
        spring_solid_length=None if solid is None else quantity(solid, length, "96 mm"),
    )


def rope(number: int, *, take_up: float = 0.1, ease: float = 0.1) -> Rope:
    """A rope of whose rod the thread left is told."""
    length = Dimension.LENGTH
    return Rope(
        number=number,
        take_up_left=quantity(take_up, length, f"{1000 * take_up:g} mm"),
        ease_left=quantity(ease, length, f"{1000 * ease:g} mm"),
    )


def rope_set(
    n_ropes: int,
    *,
    hitches: tuple[Hitch, ...] | None = None,
    rope_length: float | None = 38.0,
    axial_rigidity: float | None = 4.6e6,
    ropes: tuple[Rope, ...] = (),
) -> RopeSet:
    return RopeSet(
        n_ropes=n_ropes,
        ropes=ropes or tuple(rope(i + 1) for i in range(n_ropes)),
        spans=(SPAN,),
        hitches=(
            hitches
            if hitches is not None
            else (hitch(), hitch(HitchPlace.COUNTERWEIGHT))
        ),
        rope_length=(
            None
            if rope_length is None
            else quantity(rope_length, Dimension.LENGTH, f"{rope_length:g} m")
        ),
        axial_rigidity=(
            None
            if axial_rigidity is None
            else quantity(axial_rigidity, Dimension.FORCE, "4.6 MN")
        ),
    )


def measured(
    tensions: list[float] | np.ndarray,
    *,
    relative: float = 0.005,
    is_absolute: bool = True,
    span: Span | None = SPAN,
    series: Series | None = None,
    lengths: LengthKnowledge = LengthKnowledge.ONE_HEIGHT,
) -> SetMeasurement:
    """What was measured, taken as it stands: the readings are the tensions given."""
    values = np.asarray(tensions, dtype=float)
    n = len(values)
    sources = (
        Source(name="reading", relative=relative),
        Source(name="linear density", relative=0.05, sharing=Sharing.SET),
    )
    return SetMeasurement(
        series=series or Series(name="as found", span="top, car side", load="empty"),
        span=span,
        ropes=tuple(
            RopeMeasurement(
                number=i + 1,
                tension=Estimate(value=float(value), sources=sources),
                methods=(Method.PLUCK,),
            )
            for i, value in enumerate(values)
        ),
        is_absolute=is_absolute,
        hypotheses=(TensionHypothesis(weight=1.0, tensions=values),),
        covariance=np.eye(n) * relative**2,
        lengths=lengths,
        free_lengths=(4.0,) * n,
    )


def assessed(
    tensions: list[float] | np.ndarray,
    *,
    relative: float = 0.005,
    rule: Rule = RULE,
    series: Series | None = None,
    span: Span | None = SPAN,
    is_absolute: bool = True,
    lengths: LengthKnowledge = LengthKnowledge.ONE_HEIGHT,
) -> Assessment:
    return assess_set(
        measured(
            tensions,
            relative=relative,
            series=series,
            span=span,
            is_absolute=is_absolute,
            lengths=lengths,
        ),
        rule,
    )


def counterweight_span() -> Span:
    return replace(SPAN, name="counterweight side", side=Side.COUNTERWEIGHT)
