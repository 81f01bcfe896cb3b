"""What a plan is computed from: what was measured, and what the nuts may not do."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.origins import (
    KnownFrom,
    LearnedStiffness,
    Origin,
    find_free_length,
    find_solid_length,
    spring_rate_of,
)
from tension.adjustment.outcome import Strategy
from tension.adjustment.run_in import RunIn, find_run_in
from tension.adjustment.simulation import SetSimulation, own_uncertainties
from tension.adjustment.state import Looked, SetState
from tension.adjustment.stiffness import NutStiffness, stiffness_at_hitch
from tension.assessment.outcome import Assessment
from tension.catalogue.threads import Thread
from tension.installation import (
    Buffer,
    Drive,
    Hitch,
    HitchPlace,
    RopeSet,
    Roping,
    Span,
)
from tension.notes import Note, NoteKind, Refusal
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.quantity.estimate import Sharing
from tension.quantity.units import Dimension, Quantity

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LOWEST_SHARE = 0.60
HIGHEST_SHARE = 1.40
"""No rope leaves these shares of the mean on the way. [1]"""

LARGEST_TRAVEL = 0.010
"""No nut goes further before the car has run. [m]"""

FIRST_PART = 0.70
"""Part of the correction that is made where the stiffness is only assumed. [1]"""

STEPS_WITH_SPRING = 4
"""Steps that people can make in one turn of a nut on a spring."""

STEPS_WITHOUT_SPRING = 8
"""Steps in one turn of a nut without a spring, where each tells much more."""

_MASS_UNCERTAINTY = 0.10  # car weights on plates are often wrong by a tenth


@dataclass(frozen=True, kw_only=True, slots=True)
class Limits:
    """Limits of one set at one hitch."""

    # whole steps that the thread allows, shape (n_ropes,)
    lowest_steps: IntArray
    highest_steps: IntArray
    # thread left towards the plate and away from it; infinity if not told [m],
    # of shape (n_ropes,)
    take_up_left: FloatArray
    ease_left: FloatArray
    # tensions not to be passed on the way, with room for the uncertainty of what
    # was read [N], shape (n_ropes,)
    lowest: FloatArray
    highest: FloatArray
    # load at which a spring goes solid; infinity if not known or none [N]
    solid_load: float
    # places of the ropes of which a person has not told the thread left: no nut of
    # theirs goes further than `LARGEST_TRAVEL` until it is
    unknown: tuple[int, ...]
    origins: tuple[Origin, ...]  # where they come from
    notes: tuple[Note, ...]  # what is not known


def find_limits(
    rope_set: RopeSet,
    *,
    hitch: Hitch,
    tensions: FloatArray,
    step: float,
    reading_uncertainty: float,
) -> Limits:
    """Find the limits of a set at one hitch.

    Tensions as measured [N], travel of the nut in one step [m], largest relative
    standard uncertainty of a tension against the others [1]. A rope that is outside
    already may stay where it is, not go further.
    """
    n = len(tensions)
    take_up, ease = np.full(n, np.inf), np.full(n, np.inf)
    for rope in rope_set.ropes:
        if 1 <= rope.number <= n:
            take_up[rope.number - 1] = _left(rope.take_up_left)
            ease[rope.number - 1] = _left(rope.ease_left)
    solid, origins, notes = _solid_load(rope_set, hitch)
    places = tuple(i for i in range(n) if np.isinf(take_up[i]) or np.isinf(ease[i]))
    if places:
        every = tuple(i + 1 for i in places) if len(places) < n else ()
        notes = (*notes, NoteKind.THREAD_NOT_TYPED.note(ropes=every))
    mean = float(tensions.mean())
    room = 2.0 * reading_uncertainty * mean
    return Limits(
        lowest_steps=-_whole_steps(_safe(ease), step),
        highest_steps=_whole_steps(_safe(take_up), step),
        take_up_left=take_up,
        ease_left=ease,
        lowest=np.minimum(LOWEST_SHARE * mean + room, tensions - 1e-6 * mean),
        highest=np.minimum(
            np.maximum(HIGHEST_SHARE * mean - room, tensions + 1e-6 * mean),
            max(solid, float(tensions.max()) * (1.0 + 1e-6)),
        ),
        solid_load=solid,
        unknown=places,
        origins=origins,
        notes=notes,
    )


def _left(quantity: Quantity | None) -> float:
    """Thread left; without limit where the record does not tell."""
    return np.inf if quantity is None else max(0.0, quantity.value)


def _safe(left: FloatArray) -> FloatArray:
    """Thread left; where it is not told, what is safe without asking [m]."""
    return np.where(np.isinf(left), LARGEST_TRAVEL, left)


def _whole_steps(left: FloatArray, step: float) -> IntArray:
    """Whole steps that fit in the thread left."""
    return np.asarray(np.floor(left / step + 1e-9), dtype=np.int64)


def _solid_load(
    rope_set: RopeSet, hitch: Hitch
) -> tuple[float, tuple[Origin, ...], tuple[Note, ...]]:
    """Load at which the springs go solid, and where it comes from."""
    if hitch.buffer is not Buffer.SPRING:
        return np.inf, (), ()
    rate = spring_rate_of(hitch, rope_set)
    free, solid = find_free_length(hitch), find_solid_length(hitch)
    if rate is None or free is None or solid is None or free.value <= solid.value:
        return np.inf, (), (NoteKind.SOLID_NOT_KNOWN.note(),)
    load = rate.value * (free.value - solid.value)
    return load, (free, solid), ()


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanRequest:
    """What is to be planned, besides the set as measured.

    Attributes
    ----------
    rope_set : RopeSet
        What hangs in the hoistway.
    hitch : HitchPlace
        Where the nuts are turned.
    strategy : Strategy
        What to aim at besides equal ropes.
    drive : Drive
        What moves the car.
    roping : Roping
        Roping ratio.
    hanging_mass : Quantity or None
        All that hangs on the side measured, for shares without newtons. [kg]
    travel : Quantity or None
        Of the car. [m]
    learned : LearnedStiffness or None
        What earlier turns have shown.
    state : SetState
        Whether the set has come to rest since its nuts were turned.
    doubts : tuple of Refusal
        What the answer to earlier turns leaves to be settled.
    looked : tuple of Looked
        What a person looked at and answered.
    """

    rope_set: RopeSet
    hitch: HitchPlace = HitchPlace.CAR
    strategy: Strategy = Strategy.FEWEST_NUTS
    drive: Drive = Drive.TRACTION
    roping: Roping = Roping.ONE_TO_ONE
    hanging_mass: Quantity | None = None
    travel: Quantity | None = None
    learned: LearnedStiffness | None = None
    state: SetState = field(default_factory=SetState)
    doubts: tuple[Refusal, ...] = ()
    looked: tuple[Looked, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanBasis:
    """Everything a plan is computed from."""

    assessment: Assessment  # the set as measured
    request: PlanRequest  # what is to be planned
    hitch: Hitch  # where the nuts are
    # as measured, or shares times the mean from the mass that hangs [N],
    # of shape (n_ropes,)
    tensions: FloatArray
    stiffness: NutStiffness  # seen from the nuts
    run_in: RunIn  # how a turn spreads while the car runs
    limits: Limits  # what the nuts may not do
    simulation: SetSimulation  # sets that the readings allow
    goal: float  # spread aimed at [1]
    part: float  # part of the correction to make [1]
    step: float  # travel of a nut in one step [m]
    steps_per_turn: int  # steps in one turn
    origins: tuple[Origin, ...]  # where every number comes from

    def place_of(self, rope: int) -> int:
        """Place of a rope in the arrays, counted from 0."""
        return [share.number for share in self.assessment.shares].index(rope)

    @property
    def aimed(self) -> FloatArray:
        """Tensions as if only the part to be corrected were there [N]."""
        mean = self.tensions.mean()
        return np.asarray(mean + self.part * (self.tensions - mean))


def find_basis(
    assessment: Assessment, request: PlanRequest, hitch: Hitch
) -> PlanBasis | tuple[Refusal, ...]:
    """Gather what a plan needs, or everything that is missing."""
    span = assessment.measurement.span
    missing: list[Refusal] = []
    if hitch.thread is None:
        missing.append(NoteKind.THREAD_UNKNOWN.refusal())
    mean = mean_tension(assessment, request)
    if mean is None:
        missing.append(NoteKind.NEWTONS_UNKNOWN.refusal())
    if span is None:
        return (*missing, NoteKind.FALL_UNKNOWN.refusal(span=""))
    stiffness = stiffness_at_hitch(
        request.rope_set,
        hitch=hitch,
        span=span,
        drive=request.drive,
        learned=request.learned,
    )
    if isinstance(stiffness, Refusal):
        missing.append(stiffness)
        return tuple(missing)
    if hitch.thread is None or mean is None:
        return tuple(missing)
    return _put_basis(assessment, request, hitch, hitch.thread, mean, stiffness)


def _put_basis(
    assessment: Assessment,
    request: PlanRequest,
    hitch: Hitch,
    thread: Thread,
    mean: Origin,
    stiffness: NutStiffness,
) -> PlanBasis:
    """Put together what a plan is computed from."""
    shares = np.array([s.share for s in assessment.shares], dtype=float)
    tensions = shares / shares.mean() * mean.value
    covariance = assessment.measurement.covariance
    steps_per_turn = STEPS_WITH_SPRING if stiffness.has_spring else STEPS_WITHOUT_SPRING
    step = thread.pitch / steps_per_turn
    limits = find_limits(
        request.rope_set,
        hitch=hitch,
        tensions=tensions,
        step=step,
        reading_uncertainty=float(own_uncertainties(covariance).max()),
    )
    pitch = Origin(
        name="thread pitch",
        value=thread.pitch,
        dimension=Dimension.LENGTH,
        known_from=KnownFrom.TYPED,
        source=thread.name,
    )
    goal = assessment.rule.goal
    run_in = find_run_in_of(request, assessment)
    of_running = () if run_in.travel is None else (run_in.travel,)
    return PlanBasis(
        assessment=assessment,
        request=request,
        hitch=hitch,
        tensions=tensions,
        stiffness=stiffness,
        run_in=run_in,
        limits=limits,
        simulation=SetSimulation(
            tensions=tensions,
            covariance=covariance,
            stiffnesses=stiffness.after_running,
            common_uncertainty=_of_changes(stiffness, mean, request),
            own_uncertainty=stiffness.own_uncertainty,
        ),
        goal=0.5 * assessment.rule.limit if goal is None else goal,
        part=FIRST_PART if stiffness.is_assumed else 1.0,
        step=step,
        steps_per_turn=steps_per_turn,
        origins=(mean, pitch, *stiffness.origins, *of_running, *limits.origins),
    )


def find_run_in_of(request: PlanRequest, assessment: Assessment) -> RunIn:
    """Find how turns spread in the fall that a series was read on."""
    return find_run_in(
        request.rope_set,
        span=assessment.measurement.span or Span(name=""),
        drive=request.drive,
        roping=request.roping,
        travel=request.travel,
        learned=request.learned,
    )


def _of_changes(stiffness: NutStiffness, mean: Origin, request: PlanRequest) -> float:
    """Uncertainty of changes of share; the scale cancels in what was learned."""
    if request.learned is not None:
        return stiffness.common_uncertainty
    return float(np.hypot(stiffness.common_uncertainty, mean.relative_uncertainty))


def mean_tension(assessment: Assessment, request: PlanRequest) -> Origin | None:
    """Mean tension of a rope: measured, or from the mass that hangs."""
    measurement = assessment.measurement
    if measurement.is_absolute:
        given = [rope.tension for rope in measurement.ropes if rope.tension is not None]
        shared = max(
            estimate.relative_uncertainty((Sharing.SET, Sharing.KIND))
            for estimate in given
        )
        return Origin(
            name="mean tension",
            value=float(np.mean([estimate.value for estimate in given])),
            dimension=Dimension.FORCE,
            known_from=KnownFrom.MEASURED,
            source=f'mean of the series "{measurement.series.name}"',
            relative_uncertainty=shared,
        )
    mass = request.hanging_mass
    if mass is None:
        return None
    n = request.rope_set.n_ropes * request.roping.n_falls
    return Origin(
        name="mean tension",
        value=mass.value * STANDARD_GRAVITY / n,
        dimension=Dimension.FORCE,
        known_from=KnownFrom.TYPED,
        source=f"from {mass.text} on {n} falls",
        relative_uncertainty=_MASS_UNCERTAINTY,
    )
