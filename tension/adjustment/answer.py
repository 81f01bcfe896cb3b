"""What the answer of a set to its turns says: a stiffness, or that something is wrong.

Nothing is learned from an answer that is better explained otherwise.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from math import hypot, log, sqrt

import numpy as np

from tension.adjustment.fit import (
    Exchange,
    StiffnessFit,
    Turning,
    find_exchange,
    fit_stiffness,
    left_over,
    usual_left_over,
)
from tension.adjustment.running import RunIn
from tension.adjustment.stiffness import LearnedStiffness, NutStiffness
from tension.adjustment.turns import PastTurn
from tension.notes import Note, NoteKind, Refusal
from tension.physics.domain import FloatArray

# what may be left over of a turn of which something is learned; half of it counts as
# an uncertainty of what is learned [1]
_SPREAD_ENOUGH = 0.20
# what is left over after a third of the round trips where they were more than enough,
# so that the turns outweigh the record [1]
_LONG_SPREAD = 0.02
# how ropes of one set differ in stiffness before anything is learned [1]
_OWN_PRIOR = 0.08
_TOLD = 0.10  # what the record tells of a set is trusted no better than this [1]
_DISAGREE = 2.0  # beyond so many standard uncertainties two stiffnesses differ
_FAR_LESS = 0.35  # an answer under this part of what was expected is no stiffness [1]


class AnswerKind(StrEnum):
    """What an answer says."""

    NO_TURNS = "no-turns"
    NOT_RECORDED = "not-recorded"
    NOT_RUN = "not-run"
    TOO_FEW_TRIPS = "too-few-trips"
    NOT_KNOWN = "not-known"
    TOO_SMALL = "too-small"
    SIGNS_REVERSED = "signs-reversed"
    EXCHANGED = "exchanged"
    LIKE_STANDING = "like-standing"
    FAR_MORE = "far-more"
    FAR_LESS = "far-less"
    LEARNED = "learned"
    LEARNED_AGAINST_RECORD = "learned-against-record"


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """What an answer says, with the stiffnesses that say it."""

    kind: AnswerKind  # what it says
    found: float | None = None  # stiffness that the answer shows [N/m]
    # stiffness by the record once the car has run, and while it stands [N/m]
    expected: float | None = None
    standing: float | None = None
    exchanged: Exchange | None = None  # which ropes
    learned: LearnedStiffness | None = None  # what the next plan takes


@dataclass(frozen=True, kw_only=True, slots=True)
class Answering:
    """Everything an answer is read from."""

    # tensions of the two series, of one mean [N], shape (n_ropes,)
    before: FloatArray
    after: FloatArray
    # what was turned, weighted by how far it has spread, and what changed
    turning: Turning
    turns: tuple[PastTurn, ...]  # the turns themselves
    is_known: bool  # whether newtons and every thread are known
    stiffness: NutStiffness | None  # by the record and what was learned before
    run_in: RunIn  # how a turn spreads
    source: str  # which turns between which series

    def most_left(self, part: int = 1) -> float:
        """What is left over of the turn that has spread least, after a part of the run.

        A half, a third and so on by number [1]; over what the turn brings in the end.
        """
        return max(
            abs(self.run_in.left_over(past.turn.hitch, past.at_least // part))
            for past in self.turns
        )


def read_answer(given: Answering) -> tuple[Answer, StiffnessFit | None]:
    """Read what a set answered to its turns."""
    if not given.turns or not given.is_known:
        kind = AnswerKind.NOT_KNOWN if given.turns else AnswerKind.NO_TURNS
        return Answer(kind=kind), None
    mistaken = _find_mistake(given)
    if mistaken is not None:
        return mistaken, None
    fit = fit_stiffness(given.turning)
    not_spread = _find_not_spread(given)
    if not_spread is not None:
        return Answer(kind=not_spread), fit
    if fit is None:
        return Answer(kind=AnswerKind.TOO_SMALL), None
    return _weigh(given, fit), fit


def _find_mistake(given: Answering) -> Answer | None:
    """Signs or numbers written the wrong way, where that explains the change."""
    turning = given.turning
    written, usual = left_over(turning), usual_left_over(turning)
    exchanged = find_exchange(given.before, given.after, turning)
    reversed_ = left_over(replace(turning, travels=-turning.travels))
    is_reversed = written > usual and reversed_ <= min(usual, 0.25 * written)
    if is_reversed and (exchanged is None or reversed_ <= exchanged.left_over):
        return Answer(kind=AnswerKind.SIGNS_REVERSED)
    if exchanged is not None:
        return Answer(kind=AnswerKind.EXCHANGED, exchanged=exchanged)
    return None


def _find_not_spread(given: Answering) -> AnswerKind | None:
    """Whether the turns have not spread far enough to learn from."""
    if not given.run_in.spreads:
        return None
    trips = [past.round_trips for past in given.turns]
    if None in trips:
        return AnswerKind.NOT_RECORDED
    if 0 in trips:
        return AnswerKind.NOT_RUN
    return AnswerKind.TOO_FEW_TRIPS if given.most_left() > _SPREAD_ENOUGH else None


def _weigh(given: Answering, fit: StiffnessFit) -> Answer:
    """Hold the stiffness shown against the record's, and put the two together."""
    found, told = fit.stiffness, given.stiffness
    own = hypot(max(fit.uncertainty / found, 0.01), 0.5 * given.most_left())
    learned = _learned(given, fit, found, own)
    answer = Answer(kind=AnswerKind.LEARNED, found=found, learned=learned)
    if told is None:
        return answer
    expected = float(np.mean(told.after_running))
    answer = replace(answer, expected=expected, standing=float(np.mean(told.now)))
    width = max(told.common_uncertainty, _TOLD)
    both = hypot(width, own)
    apart = log(found / expected)
    if abs(apart) <= _DISAGREE * both:
        weight = width**2 / both**2
        value = expected * (found / expected) ** weight
        return replace(answer, learned=_learned(given, fit, value, sqrt(weight) * own))
    if found < _FAR_LESS * expected:
        return replace(answer, kind=AnswerKind.FAR_LESS, learned=None)
    if apart > 0.0 and given.run_in.spreads:  # not run as written, or a wrong record
        over = log(found / float(np.mean(told.now)))
        if over > _DISAGREE * both:
            return replace(answer, kind=AnswerKind.FAR_MORE, learned=None)
        if over >= -_DISAGREE * both or given.most_left(3) > _LONG_SPREAD:
            return replace(answer, kind=AnswerKind.LIKE_STANDING, learned=None)
    return replace(answer, kind=AnswerKind.LEARNED_AGAINST_RECORD)


def _learned(
    given: Answering, fit: StiffnessFit, value: float, width: float
) -> LearnedStiffness:
    """What the next plan takes: a rope drawn to the set as its reading is loose."""
    turning = given.turning
    wanted = fit.stiffness * (turning.travels - fit.rise)
    ratios = np.array([np.nan if r is None else r for r in fit.ratios])
    ratios[[*fit.low, *fit.high]] = np.nan
    is_read = ~np.isnan(ratios)
    noise = np.divide(
        turning.uncertainties, wanted, out=np.full(len(wanted), np.inf), where=is_read
    )
    weights = _OWN_PRIOR**2 / (_OWN_PRIOR**2 + noise**2)
    each = value * (1.0 + weights * (np.where(is_read, ratios, 1.0) - 1.0))
    left = _OWN_PRIOR * np.sqrt(1.0 - weights)
    return LearnedStiffness(
        hitch=given.turns[-1].turn.hitch,
        set_stiffness=value,
        set_uncertainty=width,
        stiffnesses=tuple(each.tolist()),
        own_uncertainty=float(np.sqrt(np.mean(left**2))),
        source=given.source,
    )


_NOTES = {
    AnswerKind.NO_TURNS: NoteKind.NO_TURNS,
    AnswerKind.TOO_SMALL: NoteKind.NOTHING_LEARNED,
    AnswerKind.SIGNS_REVERSED: NoteKind.SIGNS_REVERSED,
    AnswerKind.EXCHANGED: NoteKind.TURNS_EXCHANGED,
    AnswerKind.LIKE_STANDING: NoteKind.ANSWERS_AS_STANDING,
    AnswerKind.FAR_MORE: NoteKind.ANSWERS_FAR_OFF,
    AnswerKind.FAR_LESS: NoteKind.ANSWERS_FAR_OFF,
    AnswerKind.LEARNED_AGAINST_RECORD: NoteKind.RECORD_DISAGREES,
}

_ONLY_TOLD = {NoteKind.NO_TURNS, NoteKind.NOTHING_LEARNED, NoteKind.RECORD_DISAGREES}


def notes_on_answer(answer: Answer, fit: StiffnessFit | None) -> tuple[Note, ...]:
    """Tell what an answer says, and which ropes answered far less or far more."""
    main = _main_note(answer)
    notes = [] if main is None else [main]
    low, high = ((), ()) if fit is None else (fit.low, fit.high)
    for places, kind in ((low, NoteKind.TURN_BOUND), (high, NoteKind.TURN_STRONG)):
        for place in places:
            ratio = round(100 * (fit.ratios[place] or 0.0)) if fit else 0
            notes.append(kind.note(ropes=(place + 1,), rope=place + 1, ratio=ratio))
    return tuple(notes)


def doubts_of_answer(answer: Answer) -> tuple[Refusal, ...]:
    """Tell what of an answer must be settled before the next nut is turned."""
    note = _main_note(answer)
    return () if note is None or note.kind in _ONLY_TOLD else (note.as_refusal(),)


def _main_note(answer: Answer) -> Note | None:
    """The note on what an answer says, if it needs one."""
    kind = _NOTES.get(answer.kind)
    if kind is None:
        return None
    if answer.exchanged is not None:
        return _note_on_exchange(answer.exchanged)
    if answer.found is None:
        return kind.note()
    found, told, standing = (
        f"{(value or 0.0) / 1000:.3g} N/mm"
        for value in (answer.found, answer.expected, answer.standing)
    )
    return kind.note(found=found, expected=told, standing=standing)


def _note_on_exchange(exchange: Exchange) -> Note:
    """Tell which ropes are exchanged, of their turns or of their readings."""
    kind = NoteKind.TURNS_EXCHANGED
    moved = [i + 1 for i, place in enumerate(exchange.places) if place != i]
    way = "turns" if exchange.is_of_turns else "readings"
    if len(moved) == 2:
        return kind.note(way=f"two-{way}", one=moved[0], other=moved[1])
    pairs = ", ".join(
        f"{place + 1} for {i + 1}" for i, place in enumerate(exchange.places)
    )
    return kind.note(way=way, pairs=pairs)
