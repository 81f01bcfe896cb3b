"""As found and as left: what the turns changed, and what is learned from it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.answer import Answer, Answering, read_answer
from tension.adjustment.answer_notes import notes_on_answer
from tension.adjustment.fit import Exchange, StiffnessFit, Turning
from tension.adjustment.origins import LearnedStiffness, find_hitch, pitches_of
from tension.adjustment.plan_basis import PlanRequest, find_run_in_of, mean_tension
from tension.adjustment.run_in import RunIn
from tension.adjustment.simulation import own_uncertainties
from tension.adjustment.state import find_state
from tension.adjustment.stiffness import NutStiffness, stiffness_at_hitch
from tension.adjustment.turns import PastTurn
from tension.assessment.outcome import Assessment
from tension.measurement.outcome import SetMeasurement
from tension.notes import Note, NoteKind, Refusal
from tension.physics.hitch_statics import tension_changes
from tension.quantity.estimate import Sharing
from tension.shown import Shown
from tension.wording import rope_list

_FILLING = frozenset({"the", "a", "car", "cabin", "cage", "cab", "lift", "elevator"})
"""Words that say nothing of the load."""

_NOTED, _REFUSED = 0.03, 0.08
"""Differences of the mean tension that are told, and that stop a comparison. [1]"""

_CLEAR = 3.0
"""Standard uncertainties from which a difference counts."""

FloatArray = NDArray[np.float64]


def find_difference(as_found: Assessment, as_left: Assessment) -> Refusal | None:
    """Find the first thing that keeps two series from being held against each other."""
    before, after = as_found.measurement, as_left.measurement
    for measurement in (before, after):
        if measurement.refusal is not None:
            return measurement.refusal
    sides = [m.span.side.value for m in (before, after) if m.span is not None]
    if len(set(sides)) > 1:
        return NoteKind.SIDE_DIFFERS.refusal(before=sides[0], after=sides[1])
    if before.series.span != after.series.span:
        return NoteKind.SPAN_DIFFERS.refusal(
            before=before.series.span, after=after.series.span
        )
    if before.given != after.given or len(before.given) < len(before.ropes):
        both = sorted(set(before.given) & set(after.given))
        named = rope_list(both) if both else "no rope"
        return NoteKind.ROPES_DIFFER.refusal(both=named)
    return _find_other_load(before, after)


def _find_other_load(before: SetMeasurement, after: SetMeasurement) -> Refusal | None:
    """Find another load: by the newtons if they are known, else by the words."""
    ratio = mean_ratio(before, after)
    if ratio is None:
        if _is_worded_alike(before, after):
            return None
        return NoteKind.LOAD_DIFFERS.refusal(
            before=_load_text(before), after=_load_text(after)
        )
    if abs(ratio[0] - 1.0) > max(_REFUSED, _CLEAR * ratio[1]):
        return NoteKind.LOAD_BY_NEWTONS.refusal(
            ratio=f"{ratio[0]:.2f}", before=_load_text(before), after=_load_text(after)
        )
    return None


def notes_on_conditions(as_found: Assessment, as_left: Assessment) -> list[Note]:
    """Tell what differs without forbidding the comparison."""
    before, after = as_found.measurement, as_left.measurement
    notes = []
    if _plain(before.series.arrived) != _plain(after.series.arrived):
        notes.append(
            NoteKind.ARRIVED_DIFFERS.note(
                before=before.series.arrived, after=after.series.arrived
            )
        )
    ratio = mean_ratio(before, after)
    if ratio is None:
        return notes
    off = abs(ratio[0] - 1.0)
    if off > max(_NOTED, _CLEAR * ratio[1]):
        notes.append(NoteKind.LOAD_MOVED.note(percent=f"{100 * off:.0f}"))
    elif not _is_worded_alike(before, after):
        notes.append(
            NoteKind.LOAD_WORDED.note(
                before=_load_text(before), after=_load_text(after)
            )
        )
    return notes


def mean_ratio(
    before: SetMeasurement, after: SetMeasurement
) -> tuple[float, float] | None:
    """Hold the mean tensions of two series against each other.

    Mean after over mean before and its standard uncertainty [1], what both series share
    left out; None where either knows no newtons.
    """
    means, variance, both = [], 0.0, (before, after)
    for each in both:
        given = [rope.tension for rope in each.ropes if rope.tension is not None]
        if not each.is_absolute or not given:
            return None
        means.append(float(np.mean([estimate.value for estimate in given])))
        own = own_uncertainties(each.covariance)
        variance += float(np.mean(own**2)) / len(given)
    kinds = [{kind for rope in each.ropes for kind in rope.methods} for each in both]
    if kinds[0] != kinds[1]:  # then what a kind shares does not cancel
        variance += max(
            rope.tension.relative_uncertainty((Sharing.SET, Sharing.KIND)) ** 2
            for each in both
            for rope in each.ropes
            if rope.tension is not None
        )
    return means[1] / means[0], float(np.sqrt(variance))


def _is_worded_alike(before: SetMeasurement, after: SetMeasurement) -> bool:
    """Whether load and people are told in words that mean the same."""
    return _plain(before.series.load) == _plain(after.series.load) and _plain(
        before.series.people
    ) == _plain(after.series.people)


def _plain(text: str) -> str:
    """What a condition says, without filling words."""
    words = text.lower().replace(",", " ").replace(".", " ").split()
    return " ".join(word for word in words if word not in _FILLING)


def _load_text(measurement: SetMeasurement) -> str:
    """Load and people as typed."""
    parts = [measurement.series.load or "load not recorded"]
    if measurement.series.people:
        parts.append(f"people: {measurement.series.people}")
    return ", ".join(parts)


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeChange:
    """One rope as found and as left."""

    number: int  # rope number
    # as found and as left [1]
    share_before: float
    share_after: float
    # standard uncertainties of the shares [1]
    uncertainty_before: float
    uncertainty_after: float
    # turns made in between, as written; positive towards the plate [turns]
    turns: float
    # change of share expected of all the turns; None where nothing is known [1]
    predicted: float | None
    achieved: float  # change of share found [1]
    achieved_uncertainty: float  # its standard uncertainty [1]
    # change found over that expected, by the answer of the set; None where too little
    # was expected [1]
    ratio: float | None


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class Comparison(Shown):
    """Two series held against each other.

    Attributes
    ----------
    as_found, as_left : Assessment
        The two series.
    changes : tuple of RopeChange
        One per rope, in order of number.
    round_trips : int or None
        Run after the turn that has spread least; None if not recorded.
    stiffness : NutStiffness or None
        What the prediction rests on.
    answer : Answer
        What the answer to the turns says.
    notes : tuple of Note
        What a reader must know.
    """

    as_found: Assessment
    as_left: Assessment
    changes: tuple[RopeChange, ...]
    round_trips: int | None
    stiffness: NutStiffness | None
    answer: Answer
    notes: tuple[Note, ...]

    @property
    def learned(self) -> LearnedStiffness | None:
        """What the turns have shown; None where nothing is learned."""
        return self.answer.learned

    @property
    def exchanged(self) -> Exchange | None:
        """An exchange of ropes that explains the change better than any stiffness."""
        return self.answer.exchanged


def compare_series(
    as_found: Assessment,
    as_left: Assessment,
    *,
    turns: tuple[PastTurn, ...],
    request: PlanRequest,
) -> Comparison | Refusal:
    """Hold a set as found against the same set as left, or say why it cannot be.

    The turns between them stand in order of time, with what the car has run since each.
    """
    refused = find_difference(as_found, as_left)
    if refused is not None:
        return refused
    run_in = find_run_in_of(request, as_left)
    travels, known = _travels(turns, request, run_in)
    stiffness = _stiffness(as_found, request)
    mean = mean_tension(as_found, request)
    both = _Both(
        as_found=as_found, as_left=as_left, newtons=1.0 if mean is None else mean.value
    )
    turning = both.turning(travels)
    answer, fit = read_answer(
        Answering(
            before=both.before * both.newtons,
            after=both.after * both.newtons,
            turning=turning,
            turns=turns,
            is_known=known and mean is not None,
            stiffness=stiffness,
            run_in=run_in,
            source=f'turns before the series "{as_left.measurement.series.name}"',
        )
    )
    state = find_state(
        turns,
        rope_set=request.rope_set,
        run_in=run_in,
        mean_tension=None if mean is None else mean.value,
    )
    predicted = None
    if stiffness is not None:
        predicted = tension_changes(travels, stiffness.after_running) / both.newtons
    return Comparison(
        as_found=as_found,
        as_left=as_left,
        changes=_changes(both, turns, turning, predicted, fit),
        round_trips=_least_trips(turns),
        stiffness=stiffness,
        answer=answer,
        notes=(
            *notes_on_conditions(as_found, as_left),
            *notes_on_answer(answer, state, fit),
        ),
    )


def _least_trips(turns: tuple[PastTurn, ...]) -> int | None:
    """Run after the turn that has spread least; None if any is not recorded."""
    trips = [past.round_trips for past in turns if past.round_trips is not None]
    return min(trips) if len(trips) == len(turns) > 0 else None


def _travels(
    turns: tuple[PastTurn, ...], request: PlanRequest, run_in: RunIn
) -> tuple[FloatArray, bool]:
    """Travel of each nut by what it shows so far, and whether every thread is known."""
    travels = np.zeros(request.rope_set.n_ropes)
    pitches = pitches_of(request.rope_set)
    known = True
    for past in turns:
        turn = past.turn
        if turn.hitch not in pitches:
            known = False
            continue
        # a turn that has not spread shows more in its own fall than in the end
        shown = 1.0
        if run_in.is_known or past.at_least == 0:
            shown += run_in.left_over(turn.hitch, past.at_least)
        travels[turn.rope - 1] += turn.turns.value * pitches[turn.hitch] * shown
    return travels, known


def _stiffness(assessment: Assessment, request: PlanRequest) -> NutStiffness | None:
    """Stiffness by the record and what was learned before; None if not known."""
    hitch = find_hitch(request.rope_set, request.hitch)
    span = assessment.measurement.span
    if hitch is None or span is None:
        return None
    found = stiffness_at_hitch(
        request.rope_set,
        hitch=hitch,
        span=span,
        drive=request.drive,
        learned=request.learned,
    )
    return None if isinstance(found, Refusal) else found


@dataclass(frozen=True, kw_only=True, slots=True)
class _Both:
    """Two series of a set whose load stayed."""

    as_found: Assessment
    as_left: Assessment
    newtons: float  # of an even share; 1 where none are known

    @property
    def before(self) -> FloatArray:
        """Shares as found, of mean one [1]."""
        return _shares(self.as_found)

    @property
    def after(self) -> FloatArray:
        """Shares as left, of mean one [1]."""
        return _shares(self.as_left)

    def turning(self, travels: FloatArray) -> Turning:
        """Changes in newtons with their uncertainties, beside the travels [m]."""
        both = (
            self.as_found.measurement.covariance + self.as_left.measurement.covariance
        )
        return Turning(
            travels=travels,
            changes=(self.after - self.before) * self.newtons,
            uncertainties=np.maximum(own_uncertainties(both), 1e-6) * self.newtons,
        )


def _shares(assessment: Assessment) -> FloatArray:
    """Shares of a complete set, of mean one."""
    shares = np.array([share.share for share in assessment.shares], dtype=float)
    return np.asarray(shares / shares.mean())


def _changes(
    both: _Both,
    turns: tuple[PastTurn, ...],
    turning: Turning,
    predicted: FloatArray | None,
    fit: StiffnessFit | None,
) -> tuple[RopeChange, ...]:
    """One row per rope."""
    as_found, as_left = both.as_found, both.as_left
    before, after = both.before, both.after
    made = np.zeros(len(turning.travels))
    for past in turns:
        made[past.turn.rope - 1] += past.turn.turns.value
    return tuple(
        RopeChange(
            number=as_found.shares[i].number,
            share_before=float(before[i]),
            share_after=float(after[i]),
            uncertainty_before=as_found.shares[i].share_uncertainty or 0.0,
            uncertainty_after=as_left.shares[i].share_uncertainty or 0.0,
            turns=float(made[i]),
            predicted=None if predicted is None else float(predicted[i]),
            achieved=float(after[i] - before[i]),
            achieved_uncertainty=float(turning.uncertainties[i] / both.newtons),
            ratio=None if fit is None else fit.ratios[i],
        )
        for i in range(len(made))
    )
