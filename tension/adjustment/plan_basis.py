"""What a plan is computed from: what is asked, what is in doubt, what nuts may do."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import hypot

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.fit import DrawnSets, own_uncertainties, upper_of_equal_set
from tension.adjustment.outcome import NoPlan, NoPlanKind, SetState, Strategy
from tension.adjustment.running import RunIn, find_run_in, mean_tension_of
from tension.adjustment.stiffness import (
    NutStiffness,
    Origin,
    Setting,
    find_hitch,
    pitch_of,
    solid_load_of,
    stiffness_at_hitch,
)
from tension.assessment.decide import Assessment, Verdict
from tension.assessment.interval import spread_from_tensions
from tension.installation import Buffer, Hitch, HitchPlace, RopeSet, Span
from tension.measurement.rope_figures import LengthKnowledge
from tension.notes import Note, NoteKind, Refusal
from tension.physics import FloatArray
from tension.wording import limit_text

IntArray = NDArray[np.int64]

LOWEST_SHARE = 0.60  # of the mean, below which no rope goes on the way [1]
HIGHEST_SHARE = 1.40  # no rope leaves these shares of the mean on the way [1]
LARGEST_TRAVEL = 0.010  # no nut goes further before the car has run [m]
HAIR = 1e-9  # what arithmetic leaves between figures that are the same [1]
# part of the correction that is made where the stiffness is only assumed [1]
FIRST_PART = 0.70
# under this share of an even one a person looks before turning [1]
_LOOK_FIRST_SHARE = 0.60
# a rival numbering at least as probable as this is a doubt [1]
_RIVAL_PROBABILITY = 0.01
# notes that tell of a doubt about a rope or about how partials were counted
_DOUBTFUL = (
    NoteKind.SWAPPED_ROPES,
    NoteKind.TOUCHING,
    NoteKind.ROPE_CONTRADICTS,
    NoteKind.MASS_RATIO_NAMED,
)

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


def find_no_plan(assessment: Assessment, request: PlanRequest) -> NoPlan | None:
    """Find why no plan may be made: all reasons at once; None if nuts may be turned."""
    if refusal := assessment.measurement.refusal:
        return NoPlan(kind=NoPlanKind.NO_RESULT, reasons=(refusal,))
    if unrun := _find_unrun(request.state):
        return unrun
    every = (*((doubt, None) for doubt in request.doubts), *_find_doubts(assessment))
    doubts = tuple(
        doubt
        for doubt, rope in every
        if doubt.code not in ANSWERABLE
        or not any(looked.settles(doubt.code, rope) for looked in request.looked)
    )
    if doubts:
        return NoPlan(kind=NoPlanKind.LOOK_FIRST, reasons=doubts)
    if assessment.verdict is Verdict.EQUAL:
        reasons = (NoteKind.LEAVE_IT.refusal(),)
        return NoPlan(kind=NoPlanKind.LEAVE_IT, reasons=reasons)
    upper = upper_of_equal_set(assessment.measurement.covariance, assessment.rule)
    if upper > assessment.rule.limit:
        limit, least = limit_text(assessment.rule.limit), f"{100 * upper:.0f}"
        return measure_first(assessment, "even-set", upper=least, limit=limit)
    shares, widths = shares_of(assessment)
    is_even = bool(np.all(np.abs(shares - 1.0) <= 2.0 * widths))
    return measure_first(assessment, "near-even") if is_even else None


def measure_first(assessment: Assessment, way: str, **places: str) -> NoPlan:
    """Ask to measure again the ropes the verdict hangs on, or the two known least."""
    _, widths = shares_of(assessment)
    loosest = (np.argsort(-widths, kind="stable") + 1).tolist()
    again = assessment.measure_again or loosest[:2]
    refusal = NoteKind.MEASURE_FIRST.refusal(way=way, again=tuple(again), **places)
    return NoPlan(kind=NoPlanKind.MEASURE_FIRST, reasons=(refusal,))


def shares_of(assessment: Assessment) -> tuple[FloatArray, FloatArray]:
    """Give shares and their standard uncertainties [1], each of shape (n_ropes,)."""
    every = [(share.share, share.share_uncertainty) for share in assessment.shares]
    shares, widths = np.array(every, dtype=float).T
    return shares, widths


def _find_unrun(state: SetState) -> NoPlan | None:
    """Whether the set must run, or be measured again, before anything is planned."""
    if not state.turned_since:
        kind, reasons = NoPlanKind.RUN_FIRST, state.reasons
        return NoPlan(kind=kind, reasons=reasons) if reasons else None
    trips = state.wanted_since
    ropes = ", ".join(map(str, state.turned_since))
    reasons = (NoteKind.TURNED_SINCE.refusal(ropes=ropes, trips=trips),)
    if state.is_beyond_people:
        reasons = (*reasons, NoteKind.MANY_TRIPS.refusal(trips=trips))
    kind = NoPlanKind.RUN_FIRST if trips else NoPlanKind.MEASURE_FIRST
    return NoPlan(kind=kind, reasons=reasons)


def _find_doubts(assessment: Assessment) -> Iterator[tuple[Refusal, int | None]]:
    """Every doubt about the set, or about a rope that eyes can settle."""
    measurement = assessment.measurement
    if measurement.lengths is LengthKnowledge.UNKNOWN:
        yield NoteKind.LENGTHS_UNKNOWN.refusal(), None
    for note in measurement.doubts:
        yield note.as_refusal(), None
    for rope in measurement.ropes:
        if rope.tension is None:
            why = {"reason": rope.refusal} if rope.refusal else {"way": "not-measured"}
            yield NoteKind.NO_SHARE.refusal(rope=rope.number, **why), None
        elif any(rival.probability >= _RIVAL_PROBABILITY for rival in rope.rivals):
            yield NoteKind.RIVAL_NUMBERS.refusal(rope=rope.number), None
    for note in _notes_of(assessment):
        if note.kind in _DOUBTFUL:
            yield NoteKind.ROPE_IN_DOUBT.refusal(reason=note), None
    for share in assessment.shares:
        if share.share is not None and share.share < _LOOK_FIRST_SHARE:
            percent, rope_number = 100 * share.share, share.number
            doubt = NoteKind.FAR_BELOW.refusal(rope=rope_number, share=percent)
            yield doubt, rope_number


def _notes_of(assessment: Assessment) -> tuple[Note, ...]:
    """Notes of the set and of its ropes, each once."""
    of_ropes = [note for rope in assessment.measurement.ropes for note in rope.notes]
    return tuple(
        dict.fromkeys((*assessment.notes, *assessment.measurement.notes, *of_ropes))
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Limits:
    """Limits of one set at one hitch."""

    # whole steps that the thread allows, shape (n_ropes,)
    lowest_steps: IntArray
    highest_steps: IntArray
    # thread left towards the plate and away from it; infinity if a person has not told
    # it: no nut goes further than `LARGEST_TRAVEL` until it is [m], shape (n_ropes,)
    take_up_left: FloatArray
    ease_left: FloatArray
    # tensions not to be passed on the way, with room for the uncertainty of what
    # was read [N], shape (n_ropes,)
    lowest: FloatArray
    highest: FloatArray
    # load at which a spring goes solid; infinity if not known or none [N]
    solid_load: float
    origins: tuple[Origin, ...]  # the lengths that load comes from
    notes: tuple[Note, ...]  # what is not known


def find_limits(
    rope_set: RopeSet, hitch: Hitch, simulation: DrawnSets, step: float
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
            if told is not None:
                left[rope.number - 1] = max(0.0, told.value)
    # where the thread left is not told, what is safe without asking
    towards, away = (
        np.floor(np.where(np.isinf(left), LARGEST_TRAVEL, left) / step + HAIR)
        for left in (take_up, ease)
    )
    solid, lengths = solid_load_of(hitch, rope_set)
    is_missing = hitch.buffer is Buffer.SPRING and not lengths
    notes = [NoteKind.SOLID_NOT_KNOWN.note()] if is_missing else []
    untold = tuple((np.flatnonzero(np.isinf(take_up + ease)) + 1).tolist())
    if untold:
        every = untold if len(untold) < n else ()
        notes.append(NoteKind.THREAD_NOT_TYPED.note(ropes=every))
    mean = float(tensions.mean())
    room = 2.0 * float(own_uncertainties(simulation.covariance).max()) * mean
    highest = np.minimum(HIGHEST_SHARE * mean - room, max(solid, tensions.max()))
    return Limits(
        lowest_steps=-away.astype(np.int64),
        highest_steps=towards.astype(np.int64),
        take_up_left=take_up,
        ease_left=ease,
        lowest=np.minimum(LOWEST_SHARE * mean + room, tensions),
        highest=np.maximum(highest, tensions),
        solid_load=solid,
        origins=lengths,
        notes=tuple(notes),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class PlanBasis:
    """Everything a plan is computed from."""

    assessment: Assessment  # the set as measured
    request: PlanRequest  # what is to be planned
    span: Span  # the fall that was measured
    hitch: Hitch  # where the nuts are
    stiffness: NutStiffness  # seen from the nuts
    run_in: RunIn  # how a turn spreads while the car runs
    limits: Limits  # what the nuts may not do
    told: tuple[Note, ...]  # notes of the set and of its ropes, each once
    simulation: DrawnSets  # sets that the readings allow
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
    def spread_before(self) -> float:
        """As measured, by the metric of the rule [1]."""
        metric = self.assessment.rule.metric
        return float(spread_from_tensions(self.tensions, metric))

    @property
    def most_steps(self) -> int:
        """Steps that a nut may go before the car has run [1]."""
        return int(LARGEST_TRAVEL / self.step + HAIR)


def find_basis(
    assessment: Assessment, request: PlanRequest
) -> PlanBasis | tuple[Refusal, ...]:
    """Gather what a plan needs, or everything that is missing."""
    span, rope_set = assessment.measurement.span, request.rope_set
    hitch = find_hitch(rope_set, request.hitch)
    if hitch is None:
        return (NoteKind.HITCH_UNKNOWN.refusal(place=request.hitch.value),)
    if hitch.buffer is Buffer.BEAM:
        return (NoteKind.BEAM.refusal(),)
    pitch, stiffness = pitch_of(hitch), stiffness_at_hitch(request, hitch, span)
    run_in, mean = find_run_in(request, span), mean_tension_of(request, assessment)
    missing: list[Refusal] = []
    if pitch is None:
        missing.append(NoteKind.THREAD_UNKNOWN.refusal())
    if mean is None:
        missing.append(NoteKind.NEWTONS_UNKNOWN.refusal())
    if isinstance(stiffness, Refusal):
        missing.append(stiffness)
    if pitch is None or mean is None or span is None or isinstance(stiffness, Refusal):
        return tuple(missing)
    steps_per_turn = 8 if hitch.buffer is Buffer.NONE else 4
    step = pitch.value / steps_per_turn
    # the scale of the tensions cancels in what was learned
    scale = 0.0 if request.learned is not None else mean.relative_uncertainty
    simulation = DrawnSets(
        tensions=shares_of(assessment)[0] * mean.value,
        covariance=assessment.measurement.covariance,
        stiffnesses=stiffness.after_running,
        common_uncertainty=hypot(stiffness.common_uncertainty, scale),
        own_uncertainty=stiffness.own_uncertainty,
    )
    limits = find_limits(rope_set, hitch, simulation, step)
    rule, travel = assessment.rule, (run_in.travel,) if run_in.travel else ()
    return PlanBasis(
        assessment=assessment,
        request=request,
        span=span,
        hitch=hitch,
        stiffness=stiffness,
        run_in=run_in,
        limits=limits,
        told=_notes_of(assessment),
        simulation=simulation,
        goal=0.5 * rule.limit if rule.goal is None else rule.goal,
        part=FIRST_PART if stiffness.is_assumed else 1.0,
        step=step,
        steps_per_turn=steps_per_turn,
        origins=(mean, pitch, *stiffness.origins, *travel, *limits.origins),
    )
