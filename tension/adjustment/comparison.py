"""As found and as left: what the turns changed, and what is learned from it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.fit import (
    Exchange,
    StiffnessFit,
    Turning,
    find_exchange,
    fit_stiffness,
)
from tension.adjustment.hitch_parts import find_hitch
from tension.adjustment.learned import LearnedStiffness
from tension.adjustment.plan_basis import PlanRequest, mean_tension
from tension.adjustment.simulation import own_uncertainties
from tension.adjustment.stiffness import NutStiffness, stiffness_at_hitch
from tension.adjustment.turns import Turn
from tension.assessment.outcome import Assessment
from tension.installation import Drive, HitchPlace
from tension.notes import Note, NoteKind, Refusal
from tension.physics.hitch_statics import tension_changes
from tension.shown import Shown

FloatArray = NDArray[np.float64]

ENOUGH_TRIPS = 2
"""Round trips from which a turn has spread far enough to learn from."""

_OWN_PRIOR = 0.08
"""How ropes of one set differ in stiffness before anything is learned. [1]"""

_TOLD = 0.10
"""What the record tells of a set is trusted no better than this. [1]"""

_DISAGREE = 2.0
"""Beyond so many standard uncertainties the turns outweigh the record. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeChange:
    """One rope as found and as left.

    Attributes
    ----------
    number : int
        Rope number.
    share_before, share_after : float
        As found and as left. [1]
    uncertainty_before, uncertainty_after : float
        Standard uncertainties of the shares. [1]
    turns : float
        Turns made in between, as written; positive towards the plate. [turns]
    predicted : float or None
        Change of share expected of all the turns; None where nothing is known. [1]
    achieved : float
        Change of share found. [1]
    achieved_uncertainty : float
        Its standard uncertainty. [1]
    ratio : float or None
        Change found over that expected, by the answer of the set; None where too
        little was expected. [1]
    """

    number: int
    share_before: float
    share_after: float
    uncertainty_before: float
    uncertainty_after: float
    turns: float
    predicted: float | None
    achieved: float
    achieved_uncertainty: float
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
        Run after the turns; None if not recorded.
    stiffness : NutStiffness or None
        What the prediction rests on.
    learned : LearnedStiffness or None
        What the turns have shown; None where nothing is learned.
    exchanged : Exchange or None
        An exchange of ropes that explains the change better than any stiffness.
    notes : tuple of Note
        What a reader must know.
    """

    as_found: Assessment
    as_left: Assessment
    changes: tuple[RopeChange, ...]
    round_trips: int | None
    stiffness: NutStiffness | None
    learned: LearnedStiffness | None
    exchanged: Exchange | None
    notes: tuple[Note, ...]


def compare_series(
    as_found: Assessment,
    as_left: Assessment,
    *,
    turns: tuple[Turn, ...],
    request: PlanRequest,
) -> Comparison | Refusal:
    """Hold a set as found against the same set as left.

    Parameters
    ----------
    as_found, as_left : Assessment
        The two series.
    turns : tuple of Turn
        Turns between them, in order of time.
    request : PlanRequest
        The installation, and what was learned before.

    Returns
    -------
    Comparison or Refusal
        The comparison, or why the two cannot be held against each other.
    """
    refused = _find_difference(as_found, as_left)
    if refused is not None:
        return refused
    round_trips = turns[-1].round_trips_after if turns else None
    notes = _condition_notes(as_found, as_left, turns, round_trips)
    travels, known = _travels(turns, request)
    stiffness = _stiffness(as_found, request)
    mean = mean_tension(as_found, request)
    newtons = 1.0 if mean is None else mean.value
    turning, before, after = _turning(as_found, as_left, travels, newtons)
    has_run = request.drive is not Drive.TRACTION or (round_trips or 0) >= ENOUGH_TRIPS
    fit = fit_stiffness(turning) if turns and known else None
    exchanged = find_exchange(before, after, turning) if turns and known else None
    learned = None
    if turns and has_run and exchanged is None and mean is not None and known:
        learned = _learn(fit, turning, stiffness, turns, as_left)
        if learned is None:
            notes.append(NoteKind.NOTHING_LEARNED.note())
    if exchanged is not None:
        notes.append(NoteKind.TURNS_EXCHANGED.note(what=_in_words(exchanged)))
    elif fit is not None:
        notes.extend(_standing_out_notes(fit))
    predicted = _predicted(stiffness, travels, newtons, has_run=has_run)
    return Comparison(
        as_found=as_found,
        as_left=as_left,
        changes=_changes(as_found, as_left, turns, turning, newtons, predicted, fit),
        round_trips=round_trips,
        stiffness=stiffness,
        learned=learned,
        exchanged=exchanged,
        notes=tuple(notes),
    )


def _find_difference(as_found: Assessment, as_left: Assessment) -> Refusal | None:
    """Find what keeps two series from being held against each other."""
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
    if _differs(before.series.load, after.series.load) or _differs(
        before.series.people, after.series.people
    ):
        return NoteKind.LOAD_DIFFERS.refusal(
            before=_load_text(before.series.load, before.series.people),
            after=_load_text(after.series.load, after.series.people),
        )
    if before.given != after.given or len(before.given) < len(before.ropes):
        both = sorted(set(before.given) & set(after.given))
        return NoteKind.ROPES_DIFFER.refusal(ropes=", ".join(map(str, both)) or "none")
    return None


def _differs(before: str, after: str) -> bool:
    """Whether two conditions as typed are not the same."""
    return before.strip().lower() != after.strip().lower()


def _load_text(load: str, people: str) -> str:
    """Load and people as typed."""
    parts = [load or "load not recorded"]
    if people:
        parts.append(f"people: {people}")
    return ", ".join(parts)


def _condition_notes(
    as_found: Assessment,
    as_left: Assessment,
    turns: tuple[Turn, ...],
    round_trips: int | None,
) -> list[Note]:
    """What is different, or not recorded, without forbidding the comparison."""
    before, after = as_found.measurement.series, as_left.measurement.series
    notes = []
    if _differs(before.arrived, after.arrived):
        notes.append(
            NoteKind.ARRIVED_DIFFERS.note(before=before.arrived, after=after.arrived)
        )
    if not turns:
        notes.append(NoteKind.NO_TURNS.note())
    elif round_trips is None or round_trips == 0:
        notes.append(NoteKind.NOT_RUN.note())
    elif round_trips <= ENOUGH_TRIPS:
        notes.append(NoteKind.FEW_TRIPS.note(trips=round_trips))
    return notes


def _travels(turns: tuple[Turn, ...], request: PlanRequest) -> tuple[FloatArray, bool]:
    """Travel of each nut in all, and whether every thread is known."""
    travels = np.zeros(request.rope_set.n_ropes)
    known = True
    for turn in turns:
        hitch = find_hitch(request.rope_set, turn.hitch)
        if hitch is None or hitch.thread is None:
            known = False
            continue
        travels[turn.rope - 1] += turn.turns.value * hitch.thread.pitch
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


def _turning(
    as_found: Assessment, as_left: Assessment, travels: FloatArray, newtons: float
) -> tuple[Turning, FloatArray, FloatArray]:
    """Changes in newtons of a set whose load stayed, with their uncertainties."""
    before, after = _shares(as_found), _shares(as_left)
    both = as_found.measurement.covariance + as_left.measurement.covariance
    turning = Turning(
        travels=travels,
        changes=(after - before) * newtons,
        uncertainties=np.maximum(own_uncertainties(both), 1e-6) * newtons,
    )
    return turning, before * newtons, after * newtons


def _shares(assessment: Assessment) -> FloatArray:
    """Shares of a complete set, of mean one."""
    shares = np.array([share.share for share in assessment.shares], dtype=float)
    return np.asarray(shares / shares.mean())


def _predicted(
    stiffness: NutStiffness | None,
    travels: FloatArray,
    newtons: float,
    *,
    has_run: bool,
) -> FloatArray | None:
    """Change of share expected, after running or before."""
    if stiffness is None:
        return None
    k = stiffness.after_running if has_run else stiffness.now
    return np.asarray(tension_changes(travels, k) / newtons)


def _changes(
    as_found: Assessment,
    as_left: Assessment,
    turns: tuple[Turn, ...],
    turning: Turning,
    newtons: float,
    predicted: FloatArray | None,
    fit: StiffnessFit | None,
) -> tuple[RopeChange, ...]:
    """One row per rope."""
    made = np.zeros(len(turning.travels))
    for turn in turns:
        made[turn.rope - 1] += turn.turns.value
    before, after = _shares(as_found), _shares(as_left)
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
            achieved_uncertainty=float(turning.uncertainties[i] / newtons),
            ratio=None if fit is None else fit.ratios[i],
        )
        for i in range(len(made))
    )


def _learn(
    fit: StiffnessFit | None,
    turning: Turning,
    stiffness: NutStiffness | None,
    turns: tuple[Turn, ...],
    as_left: Assessment,
) -> LearnedStiffness | None:
    """Put the turns together with what the record told before them."""
    if fit is None:
        return None
    relative = max(fit.uncertainty / fit.stiffness, 0.01)
    value, width = fit.stiffness, relative
    if stiffness is not None:
        told = float(np.mean(stiffness.after_running))
        told_width = max(stiffness.common_uncertainty, _TOLD)
        apart = abs(np.log(fit.stiffness / told))
        if apart <= _DISAGREE * float(np.hypot(told_width, relative)):
            weight = told_width**2 / (told_width**2 + relative**2)
            value = float(told * (fit.stiffness / told) ** weight)
            width = float(np.sqrt(weight) * relative)
    each, own = _per_rope(fit, turning, value)
    return LearnedStiffness(
        hitch=_hitch_of(turns),
        set_stiffness=value,
        set_uncertainty=width,
        stiffnesses=each,
        own_uncertainty=own,
        source=f'turns before the series "{as_left.measurement.series.name}"',
    )


def _hitch_of(turns: tuple[Turn, ...]) -> HitchPlace:
    """Where the nuts were turned; the last one if at several."""
    return turns[-1].hitch


def _per_rope(
    fit: StiffnessFit, turning: Turning, value: float
) -> tuple[tuple[float, ...], float]:
    """Stiffness of each rope, drawn towards the set as far as its reading is loose."""
    each, left = [], []
    for place, ratio in enumerate(fit.ratios):
        wanted = abs(fit.stiffness * (turning.travels[place] - fit.rise))
        if ratio is None or place in fit.low or place in fit.high:
            each.append(value)
            left.append(_OWN_PRIOR)
            continue
        width = float(turning.uncertainties[place] / wanted)
        weight = _OWN_PRIOR**2 / (_OWN_PRIOR**2 + width**2)
        each.append(float(value * (1.0 + weight * (ratio - 1.0))))
        left.append(_OWN_PRIOR * float(np.sqrt(1.0 - weight)))
    return tuple(each), float(np.sqrt(np.mean(np.square(left))))


def _standing_out_notes(fit: StiffnessFit) -> list[Note]:
    """Name the ropes that answered far less or far more than the others."""
    notes = []
    for places, kind in (
        (fit.low, NoteKind.TURN_BOUND),
        (fit.high, NoteKind.TURN_STRONG),
    ):
        for place in places:
            ratio = fit.ratios[place]
            if ratio is not None:
                notes.append(
                    kind.note(
                        ropes=(place + 1,), rope=place + 1, ratio=round(100 * ratio)
                    )
                )
    return notes


def _in_words(exchange: Exchange) -> str:
    """Tell an exchange of ropes."""
    moved = [i + 1 for i, place in enumerate(exchange.places) if place != i]
    what = "turns" if exchange.is_of_turns else "readings as left"
    if len(moved) == 2:
        return f"the {what} of ropes {moved[0]} and {moved[1]} are exchanged"
    pairs = ", ".join(
        f"{place + 1} for {i + 1}" for i, place in enumerate(exchange.places)
    )
    return f"the {what} belong to other numbers ({pairs})"
