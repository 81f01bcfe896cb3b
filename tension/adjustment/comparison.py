"""As found and as left, and all that the past of a record has shown."""

from dataclasses import dataclass, replace

import numpy as np

from tension.adjustment.answer import (
    Answer,
    Answering,
    StiffnessFit,
    Turning,
    read_answer,
)
from tension.adjustment.fit import own_uncertainties
from tension.adjustment.outcome import Turn
from tension.adjustment.plan_basis import PlanRequest, shares_of
from tension.adjustment.running import (
    Past,
    find_run_in,
    find_state,
    mean_tension_of,
    state_of,
    travels_shown,
    turns_before,
)
from tension.adjustment.stiffness import NutStiffness, find_hitch, stiffness_at_hitch
from tension.assessment.decide import Assessment, RopeShare
from tension.measurement.combine import SetMeasurement
from tension.measurement.readings import Series
from tension.notes import Note, NoteKind, Refusal
from tension.quantity.estimate import Sharing
from tension.shown import Shown
from tension.wording import rope_list

# words that say nothing of the load
_FILLING = frozenset({"the", "a", "car", "cabin", "cage", "cab", "lift", "elevator"})
# differences of the mean tension that are told, and that stop a comparison [1]
_NOTED, _REFUSED = 0.03, 0.08
_CLEAR = 3.0  # standard uncertainties from which a difference counts


def _find_difference(before: SetMeasurement, after: SetMeasurement) -> Refusal | None:
    """Find the first thing that keeps two series from being held against each other."""
    if refused := before.refusal or after.refusal:
        return refused
    sides = [m.span.side.value for m in (before, after) if m.span is not None]
    if len(set(sides)) > 1:
        return NoteKind.SIDE_DIFFERS.refusal(before=sides[0], after=sides[1])
    spans = before.series.span, after.series.span
    if spans[0] != spans[1]:
        return NoteKind.SPAN_DIFFERS.refusal(before=spans[0], after=spans[1])
    if before.given != after.given or before.missing:
        both = sorted(set(before.given) & set(after.given))
        named = rope_list(both) if both else "no rope"
        return NoteKind.ROPES_DIFFER.refusal(both=named)
    return None


def _find_other_load(
    before: SetMeasurement, after: SetMeasurement
) -> Refusal | Note | None:
    """Find another load: by the newtons if they are known, else by the words.

    A refusal where it forbids the comparison, a note where it does not.
    """
    loads = {"before": _load_text(before), "after": _load_text(after)}
    is_alike = all(
        _plain(getattr(before.series, name)) == _plain(getattr(after.series, name))
        for name in ("load", "people")
    )
    ratio = _mean_ratio(before, after)
    if ratio is None:
        return None if is_alike else NoteKind.LOAD_DIFFERS.refusal(**loads)
    off, doubt = abs(ratio[0] - 1.0), _CLEAR * ratio[1]
    if off > max(_REFUSED, doubt):
        return NoteKind.LOAD_BY_NEWTONS.refusal(ratio=f"{ratio[0]:.2f}", **loads)
    if off > max(_NOTED, doubt):
        return NoteKind.LOAD_MOVED.note(percent=f"{100 * off:.0f}")
    return None if is_alike else NoteKind.LOAD_WORDED.note(ropes=(), **loads)


def _mean_ratio(
    before: SetMeasurement, after: SetMeasurement
) -> tuple[float, float] | None:
    """Mean after over mean before and its uncertainty [1], what both share left out.

    None where either knows no newtons.
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


def _plain(text: str) -> str:
    """What a condition says, without filling words."""
    words = text.lower().replace(",", " ").replace(".", " ").split()
    return " ".join(word for word in words if word not in _FILLING)


def _load_text(measurement: SetMeasurement) -> str:
    """Load and people as typed."""
    load, people = measurement.series.load, measurement.series.people
    return (load or "load not recorded") + (f", people: {people}" if people else "")


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
    """Two series held against each other."""

    # the two series
    as_found: Assessment
    as_left: Assessment
    changes: tuple[RopeChange, ...]  # one per rope, in order of number
    # run after the turn that has spread least; None if not recorded [1]
    round_trips: int | None
    stiffness: NutStiffness | None  # what the prediction rests on
    answer: Answer  # what the answer to the turns says
    notes: tuple[Note, ...]  # what a reader must know


def compare_series(
    as_found: Assessment,
    as_left: Assessment,
    *,
    turns: tuple[Turn, ...],
    request: PlanRequest,
) -> Comparison | Refusal:
    """Hold a set as found against the same set as left, or say why it cannot be.

    The turns between them stand in order of time, with what the car has run since each.
    """
    both = (as_found.measurement, as_left.measurement)
    load = _find_difference(*both) or _find_other_load(*both)
    if isinstance(load, Refusal):
        return load
    run_in = find_run_in(request, as_left.measurement.span)
    mean = mean_tension_of(request, as_found)
    newtons = 1.0 if mean is None else mean.value
    state = find_state(request, run_in, None if mean is None else newtons, turns)
    travels = travels_shown(request, run_in, turns)
    here = find_hitch(request.rope_set, request.hitch)
    told = here and stiffness_at_hitch(request, here, both[0].span)
    before, after = (shares_of(each)[0] * newtons for each in (as_found, as_left))
    wide = own_uncertainties(both[0].covariance + both[1].covariance) * newtons
    given = Answering(
        before=before,
        after=after,
        turning=Turning(
            travels=travels,
            changes=after - before,
            uncertainties=np.maximum(wide, 1e-6 * newtons),
        ),
        turns=turns,
        is_known=bool(mean) and all(turn.hitch in request.pitches for turn in turns),
        stiffness=told if isinstance(told, NutStiffness) else None,
        run_in=run_in,
        source=f'turns before the series "{both[1].series.name}"',
    )
    answer = read_answer(given)
    changes = _changes((as_found.shares, as_left.shares), given, answer.fit)
    trips = [n for turn in turns if (n := turn.round_trips_after) is not None]
    notes = [] if load is None else [load]
    came = [each.series.arrived for each in both]
    if _plain(came[0]) != _plain(came[1]):
        notes.insert(0, NoteKind.ARRIVED_DIFFERS.note(before=came[0], after=came[1]))
    return Comparison(
        as_found=as_found,
        as_left=as_left,
        changes=changes,
        round_trips=min(trips) if len(trips) == len(turns) > 0 else None,
        stiffness=given.stiffness,
        answer=answer,
        notes=(*notes, *state.notes, *answer.notes),
    )


def _changes(
    shares: tuple[tuple[RopeShare, ...], ...],
    given: Answering,
    fit: StiffnessFit | None,
) -> tuple[RopeChange, ...]:
    """One row per rope, of the shares as found and as left."""
    turning, k, newtons = given.turning, given.stiffness, float(given.before.mean())
    n = len(given.before)
    made = np.zeros(n)
    for turn in given.turns:
        made[turn.rope - 1] += turn.turns.value
    predicted: list[float | None] = [None] * n
    if k is not None:
        predicted = (turning.travels @ k.effects_after_running / newtons).tolist()
    ratios: list[float | None] = [None] * n
    if fit is not None:
        ratios = [None if np.isnan(ratio) else ratio for ratio in fit.ratios.tolist()]
    before, after = given.before / newtons, given.after / newtons
    return tuple(
        RopeChange(
            number=found.number,
            share_before=float(before[i]),
            share_after=float(after[i]),
            uncertainty_before=found.share_uncertainty or 0.0,
            uncertainty_after=left.share_uncertainty or 0.0,
            turns=float(made[i]),
            predicted=predicted[i],
            achieved=float(after[i] - before[i]),
            achieved_uncertainty=float(turning.uncertainties[i] / newtons),
            ratio=ratios[i],
        )
        for i, (found, left) in enumerate(zip(*shares, strict=True))
    )


def after_the_past(past: Past, until: Series, request: PlanRequest) -> PlanRequest:
    """Tell a request what the turns up to a series have shown.

    What was learned, what the last answer leaves in doubt, and whether the set is at
    rest. A series is held against the last before it at which the set was at rest and
    whose answer was understood, so that a reading taken too soon spoils nothing.
    """
    rest: Series | None = None
    for series in past.series[: past.series.index(until) + 1]:
        if series.span != until.span:
            continue
        since = series if rest is None else rest
        turns = turns_before(past.series, past.turns, series.name, since=since.name)
        found = turns and compare_series(
            past.assess(since), past.assess(series), turns=turns, request=request
        )
        if isinstance(found, Comparison):
            learned, doubts = found.answer.learned, found.answer.doubts
            learned = learned or request.learned
            request = replace(request, learned=learned, doubts=doubts)
        if not request.doubts and state_of(past, series, request).is_at_rest:
            rest = series
    return replace(request, state=state_of(past, until, request))
