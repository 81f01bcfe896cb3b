"""What a plan of turns is computed from, or everything that is missing for one."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.learned import LearnedStiffness
from tension.adjustment.limits import Limits, find_limits
from tension.adjustment.looked import Looked
from tension.adjustment.origins import KnownFrom, Origin
from tension.adjustment.outcome import Strategy
from tension.adjustment.run_in import RunIn, find_run_in
from tension.adjustment.simulation import SetSimulation, own_uncertainties
from tension.adjustment.state import SetState
from tension.adjustment.stiffness import NutStiffness, stiffness_at_hitch
from tension.assessment.outcome import Assessment
from tension.catalogue.threads import Thread
from tension.installation import (
    Drive,
    Hitch,
    HitchPlace,
    RopeSet,
    Roping,
    Span,
)
from tension.notes import NoteKind, Refusal
from tension.quantity.estimate import Sharing
from tension.quantity.units import Dimension, Quantity

FloatArray = NDArray[np.float64]

FIRST_PART = 0.70
"""Part of the correction that is made where the stiffness is only assumed. [1]"""

STEPS_WITH_SPRING = 4
"""Steps that people can make in one turn of a nut on a spring."""

STEPS_WITHOUT_SPRING = 8
"""Steps in one turn of a nut without a spring, where each tells much more."""

_STANDARD_GRAVITY = 9.80665  # [m/s2]
_MASS_UNCERTAINTY = 0.10  # car weights on plates are often wrong by a tenth


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
    """Everything a plan is computed from.

    Attributes
    ----------
    assessment : Assessment
        The set as measured.
    request : PlanRequest
        What is to be planned.
    hitch : Hitch
        Where the nuts are.
    tensions : ndarray, shape (n_ropes,)
        As measured, or shares times the mean from the mass that hangs. [N]
    stiffness : NutStiffness
        Seen from the nuts.
    run_in : RunIn
        How a turn spreads while the car runs.
    limits : Limits
        What the nuts may not do.
    simulation : SetSimulation
        Sets that the readings allow.
    goal : float
        Spread aimed at. [1]
    part : float
        Part of the correction to make. [1]
    step : float
        Travel of a nut in one step. [m]
    steps_per_turn : int
        Steps in one turn.
    origins : tuple of Origin
        Where every number comes from.
    """

    assessment: Assessment
    request: PlanRequest
    hitch: Hitch
    tensions: FloatArray
    stiffness: NutStiffness
    run_in: RunIn
    limits: Limits
    simulation: SetSimulation
    goal: float
    part: float
    step: float
    steps_per_turn: int
    origins: tuple[Origin, ...]

    def place_of(self, rope: int) -> int:
        """Tell the place of a rope in the arrays.

        Returns
        -------
        int
            Counted from 0.
        """
        return [share.number for share in self.assessment.shares].index(rope)

    @property
    def aimed(self) -> FloatArray:
        """Tensions as if only the part to be corrected were there [N]."""
        mean = self.tensions.mean()
        return np.asarray(mean + self.part * (self.tensions - mean))


def find_basis(
    assessment: Assessment, request: PlanRequest, hitch: Hitch
) -> PlanBasis | tuple[Refusal, ...]:
    """Gather what a plan needs, or everything that is missing.

    Returns
    -------
    PlanBasis or tuple of Refusal
        What to compute from, or what is missing for it.
    """
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
    """Mean tension of a rope: measured, or from the mass that hangs.

    Returns
    -------
    Origin or None
        The tension [N] and where it comes from; None if only shares are known.
    """
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
        value=mass.value * _STANDARD_GRAVITY / n,
        dimension=Dimension.FORCE,
        known_from=KnownFrom.TYPED,
        source=f"from {mass.text} on {n} falls",
        relative_uncertainty=_MASS_UNCERTAINTY,
    )
