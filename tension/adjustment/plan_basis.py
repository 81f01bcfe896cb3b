"""What a plan is computed from: what is asked, what is known, what nuts may not do."""

from dataclasses import dataclass, field
from math import hypot

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.fit import SetSimulation, own_uncertainties
from tension.adjustment.outcome import NutTurn, Strategy
from tension.adjustment.running import RunIn, SetState, find_run_in, mean_tension_of
from tension.adjustment.stiffness import (
    NutStiffness,
    Origin,
    Setting,
    spring_lengths_of,
    spring_rate_of,
    stiffness_at_hitch,
)
from tension.assessment.outcome import Assessment
from tension.installation import Buffer, Hitch, HitchPlace, RopeSet
from tension.notes import Note, NoteKind, Refusal
from tension.physics.domain import FloatArray
from tension.quantity.units import Dimension, Quantity

IntArray = NDArray[np.int64]

LOWEST_SHARE = 0.60
HIGHEST_SHARE = 1.40  # no rope leaves these shares of the mean on the way [1]
LARGEST_TRAVEL = 0.010  # no nut goes further before the car has run [m]
# part of the correction that is made where the stiffness is only assumed [1]
FIRST_PART = 0.70

ANSWERABLE = frozenset(
    kind.code
    for kind in (
        NoteKind.FAR_BELOW,
        NoteKind.SIGNS_REVERSED,
        NoteKind.TURNS_EXCHANGED,
        NoteKind.ANSWERS_FAR_OFF,
        NoteKind.STAGGER_PATTERN,
    )
)
"""Doubts that a person settles by looking, not by measuring."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Looked:
    """An answer to a doubt that only eyes can settle."""

    code: str  # code of the note that was answered
    ropes: tuple[int, ...]  # ropes it is of; empty for every rope
    words: str  # what was found, and by whom, as typed

    def settles(self, code: str, rope: int | None = None) -> bool:
        """Tell whether the answer settles a doubt of this code, of this rope."""
        is_of_rope = rope is None or not self.ropes or rope in self.ropes
        return code == self.code and is_of_rope


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanRequest(Setting):
    """What is to be planned, besides the set as measured."""

    hitch: HitchPlace = HitchPlace.CAR  # where the nuts are turned
    # what to aim at besides equal ropes
    strategy: Strategy = Strategy.FEWEST_NUTS
    # whether the set has come to rest since its nuts were turned
    state: SetState = field(default_factory=SetState)
    # what the answer to earlier turns leaves to be settled
    doubts: tuple[Refusal, ...] = ()
    looked: tuple[Looked, ...] = ()  # what a person looked at and answered

    def has_looked(self, code: str, rope: int | None = None) -> bool:
        """Tell whether a person settled a doubt of this code, of this rope."""
        return any(looked.settles(code, rope) for looked in self.looked)


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
    rope_set: RopeSet, hitch: Hitch, simulation: SetSimulation, step: float
) -> Limits:
    """Find the limits of a set at one hitch, by what was measured of it.

    Travel of the nut in one step [m]. A rope that is outside already may stay where it
    is, not go further.
    """
    tensions = simulation.tensions
    n = len(tensions)
    take_up, ease = np.full(n, np.inf), np.full(n, np.inf)
    for rope in rope_set.ropes:
        for left, told in ((take_up, rope.take_up_left), (ease, rope.ease_left)):
            if 1 <= rope.number <= n and told is not None:
                left[rope.number - 1] = max(0.0, told.value)
    # where the thread left is not told, what is safe without asking
    towards, away = (
        np.floor(np.where(np.isinf(left), LARGEST_TRAVEL, left) / step + 1e-9)
        for left in (take_up, ease)
    )
    solid, origins, notes = _solid_load(rope_set, hitch)
    places = tuple(i for i in range(n) if np.isinf(take_up[i]) or np.isinf(ease[i]))
    if places:
        every = tuple(i + 1 for i in places) if len(places) < n else ()
        notes = (*notes, NoteKind.THREAD_NOT_TYPED.note(ropes=every))
    mean = float(tensions.mean())
    room = 2.0 * float(own_uncertainties(simulation.covariance).max()) * mean
    return Limits(
        lowest_steps=-away.astype(np.int64),
        highest_steps=towards.astype(np.int64),
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


def _solid_load(
    rope_set: RopeSet, hitch: Hitch
) -> tuple[float, tuple[Origin, ...], tuple[Note, ...]]:
    """Load at which the springs go solid, and where it comes from."""
    if hitch.buffer is not Buffer.SPRING:
        return np.inf, (), ()
    rate = spring_rate_of(hitch, rope_set)
    free, solid = spring_lengths_of(hitch)
    if rate is None or free is None or solid is None or free.value <= solid.value:
        return np.inf, (), (NoteKind.SOLID_NOT_KNOWN.note(),)
    return rate.value * (free.value - solid.value), (free, solid), ()


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanBasis:
    """Everything a plan is computed from."""

    assessment: Assessment  # the set as measured
    request: PlanRequest  # what is to be planned
    hitch: Hitch  # where the nuts are
    stiffness: NutStiffness  # seen from the nuts
    run_in: RunIn  # how a turn spreads while the car runs
    limits: Limits  # what the nuts may not do
    simulation: SetSimulation  # sets that the readings allow
    goal: float  # spread aimed at [1]
    part: float  # part of the correction to make [1]
    step: float  # travel of a nut in one step [m]
    # steps that people can make in one turn; more without a spring, where each tells
    # much more [1]
    steps_per_turn: int
    origins: tuple[Origin, ...]  # where every number comes from

    @property
    def tensions(self) -> FloatArray:
        """As measured, or shares times the mean from the mass that hangs [N]."""
        return self.simulation.tensions

    @property
    def aimed(self) -> FloatArray:
        """Tensions as if only the part to be corrected were there [N]."""
        mean = self.tensions.mean()
        return np.asarray(mean + self.part * (self.tensions - mean))

    @property
    def most_steps(self) -> int:
        """Steps that a nut may go before the car has run [1]."""
        return int(LARGEST_TRAVEL / self.step + 1e-9)

    def turn(self, place: int, steps: int) -> NutTurn:
        """What steps of one nut are in turns and millimetres."""
        return NutTurn(
            rope=self.assessment.shares[place].number,
            steps=steps,
            turns=steps / self.steps_per_turn,
            travel=steps * self.step,
        )


def find_basis(
    assessment: Assessment, request: PlanRequest, hitch: Hitch
) -> PlanBasis | tuple[Refusal, ...]:
    """Gather what a plan needs, or everything that is missing."""
    span, mean = assessment.measurement.span, mean_tension_of(request, assessment)
    missing: list[Refusal] = []
    if hitch.thread is None:
        missing.append(NoteKind.THREAD_UNKNOWN.refusal())
    if mean is None:
        missing.append(NoteKind.NEWTONS_UNKNOWN.refusal())
    if span is None:
        return (*missing, NoteKind.FALL_UNKNOWN.refusal(span=""))
    stiffness = stiffness_at_hitch(request, hitch, span)
    if isinstance(stiffness, Refusal):
        return (*missing, stiffness)
    if hitch.thread is None or mean is None:
        return tuple(missing)
    steps_per_turn = 8 if hitch.buffer is Buffer.NONE else 4
    step = hitch.thread.pitch / steps_per_turn
    simulation = _simulation(assessment, request, mean, stiffness)
    run_in = find_run_in(request, span)
    limits = find_limits(request.rope_set, hitch, simulation, step)
    goal = assessment.rule.goal
    pitch = Quantity(
        value=hitch.thread.pitch, dimension=Dimension.LENGTH, text=hitch.thread.name
    )
    return PlanBasis(
        assessment=assessment,
        request=request,
        hitch=hitch,
        stiffness=stiffness,
        run_in=run_in,
        limits=limits,
        simulation=simulation,
        goal=0.5 * assessment.rule.limit if goal is None else goal,
        part=FIRST_PART if stiffness.is_assumed else 1.0,
        step=step,
        steps_per_turn=steps_per_turn,
        origins=(
            mean,
            Origin.typed("thread pitch", pitch),
            *stiffness.origins,
            *([run_in.travel] if run_in.travel else ()),
            *limits.origins,
        ),
    )


def _simulation(
    assessment: Assessment, request: PlanRequest, mean: Origin, stiffness: NutStiffness
) -> SetSimulation:
    """The sets that the readings allow."""
    shares = np.array([s.share for s in assessment.shares], dtype=float)
    # the scale cancels in what was learned
    scale = 0.0 if request.learned is not None else mean.relative_uncertainty
    return SetSimulation(
        tensions=shares / shares.mean() * mean.value,
        covariance=assessment.measurement.covariance,
        stiffnesses=stiffness.after_running,
        common_uncertainty=hypot(stiffness.common_uncertainty, scale),
        own_uncertainty=stiffness.own_uncertainty,
    )
