"""What the answer of a set to its turns says: a stiffness, or that something is wrong.

The stiffness of a set from turns and what they changed, which ropes stand out, whether
ropes were exchanged. Nothing is learned from an answer that is better explained
otherwise.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import combinations
from math import hypot, log, sqrt

import numpy as np

from tension.adjustment.fit import BoolArray, Line, fit_line
from tension.adjustment.outcome import Turn
from tension.adjustment.running import RunIn
from tension.adjustment.stiffness import LearnedStiffness, NutStiffness
from tension.notes import Note, NoteKind, Refusal
from tension.physics import FloatArray

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
_EXPLAINS = 0.25  # a mistake leaves no more of what any stiffness leaves [1]
# how much one rope may differ in stiffness from the set and still be like it [1]
_OWN = 0.07
# answers to a turn outside these, against the set's, stand out [1]
_LOW, _HIGH = 0.5, 1.5
_CLEAR = 3.0  # a change counts from this many of its standard uncertainties [1]


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


@dataclass(frozen=True, kw_only=True, slots=True)
class Turning:
    """Turns and changes of tension of a set whose load stayed."""

    travels: FloatArray  # of each nut, positive towards the plate [m], shape (n_ropes,)
    changes: FloatArray  # of each tension [N], shape (n_ropes,)
    # standard uncertainty of each change [N], shape (n_ropes,)
    uncertainties: FloatArray


@dataclass(frozen=True, kw_only=True, slots=True)
class StiffnessFit:
    """What turns have shown."""

    stiffness: float  # of the set [N/m]
    uncertainty: float  # standard uncertainty [N/m]
    rise: float  # how far the hitch rose [m]
    # change of each rope over that expected of it at the stiffness of the set; nan
    # where too little was expected [1], shape (n_ropes,)
    ratios: FloatArray
    # whether a rope answered far less or far more than the others, shape (n_ropes,)
    low: BoolArray
    high: BoolArray


def fit_stiffness(turning: Turning) -> StiffnessFit | None:
    """Fit the stiffness of a set, ropes that stand out left aside.

    None where the turns were too small to tell a stiffness above zero.

    ``change_i = k (d_i - x)``, x common. A first k is the weighted median of
    ``(change_i - change_j)/(d_i - d_j)`` over pairs of ropes (Theil and Sen), which one
    bound rope in four cannot move far; then least squares without the ropes that stand
    out. x is left free, for a bound rope hides its share of it.
    """
    first = _median_slope(turning)
    if first <= 0.0:
        return None
    rise = float(np.median(turning.travels - turning.changes / first))
    _, low, high = _held_against(turning, first, rise)
    kept = ~(low | high)
    line = _least_squares(turning, kept)
    if line is None:
        return None
    more = line.left_over / max(1, int(kept.sum()) - 2)  # than the readings explain
    uncertainty = line.slope_uncertainty * sqrt(max(1.0, more))
    if uncertainty > 0.5 * line.slope:
        return None
    rise = line.x - line.y / line.slope
    ratios, low, high = _held_against(turning, line.slope, rise)
    return StiffnessFit(
        stiffness=line.slope,
        uncertainty=uncertainty,
        rise=rise,
        ratios=ratios,
        low=low,
        high=high,
    )


def _median_slope(turning: Turning) -> float:
    """Weighted median of the slopes of all pairs of ropes; 0 where none was turned."""
    i, j = np.triu_indices(len(turning.travels), 1)
    apart = turning.travels[i] - turning.travels[j]
    used = apart != 0.0
    if not used.any():
        return 0.0
    change = turning.changes[i] - turning.changes[j]
    slopes = change[used] / apart[used]
    noise = np.hypot(turning.uncertainties[i], turning.uncertainties[j])[used]
    weights = np.abs(apart[used]) / noise
    order = np.argsort(slopes)
    total = np.cumsum(weights[order])
    return float(slopes[order][np.searchsorted(total, 0.5 * total[-1])])


def _held_against(
    turning: Turning, stiffness: float, rise: float
) -> tuple[FloatArray, BoolArray, BoolArray]:
    """Each change over that expected, and which are far less or more beyond doubt."""
    expected = stiffness * (turning.travels - rise)
    clear = np.abs(expected) > _CLEAR * turning.uncertainties
    expected = np.where(clear, expected, np.nan)
    ratios = turning.changes / expected
    doubts = 2.0 * turning.uncertainties / np.abs(expected)
    return ratios, ratios + 0.5 * doubts < _LOW, ratios - doubts > _HIGH


def _least_squares(turning: Turning, kept: BoolArray) -> Line | None:
    """Line of changes over travels; its slope is the stiffness, if above zero."""
    first = _median_slope(turning)
    if first <= 0.0 or not kept.any():
        return None
    d = turning.travels[kept]
    own = _OWN * first * (d - d.mean())
    noise = np.hypot(turning.uncertainties[kept], own)
    line = fit_line(d, turning.changes[kept], noise)
    return line if line is not None and line.slope > 0.0 else None


@dataclass(frozen=True, kw_only=True, slots=True)
class Exchange:
    """An exchange of ropes that explains a change better than any stiffness."""

    # true: turns were made on other nuts than written; False: the readings of the
    # second series belong to other ropes
    is_of_turns: bool
    # for each rope, the place that its turn or reading belongs to
    places: tuple[int, ...]
    left_over: float  # what it leaves, over the uncertainties [1]


def find_exchange(
    before: FloatArray, after: FloatArray, turning: Turning
) -> Exchange | None:
    """Find an exchange of ropes that explains the change better than any stiffness.

    Tensions before and after are of one mean [N]. Tried are all exchanges of two ropes,
    the order reversed and the numbers one off, of the turns or of the second readings.
    One is named only if what it leaves is a quarter of what any stiffness leaves as
    written, is no more than chance leaves, and is half of what remains when the worst
    rope is left aside.
    """
    n = len(before)
    written, usual = left_over(turning), usual_left_over(turning)
    if n < 3 or written <= usual:
        return None
    one_aside = min(left_over(turning, ~one) for one in np.eye(n, dtype=bool))
    here, pairs = np.arange(n), combinations(range(n), 2)
    swapped = [np.where(here == i, j, np.where(here == j, i, here)) for i, j in pairs]
    orders = (*swapped, here[::-1], np.roll(here, -1), np.roll(here, 1))
    tried = (
        Exchange(
            is_of_turns=is_of_turns,
            places=tuple(order.tolist()),
            left_over=left_over(replace(turning, **other)),
        )
        for order in orders
        for is_of_turns, other in (
            (True, {"travels": turning.travels[order]}),
            (False, {"changes": after[order] - before}),
        )
    )
    best = min(tried, key=lambda one: round(one.left_over, 9))
    most = min(usual, _EXPLAINS * written, 0.5 * one_aside)
    return best if best.left_over <= most else None


def usual_left_over(turning: Turning) -> float:
    """What chance leaves over, rarely more: chi squared and four deviations [1]."""
    spare = max(1, len(turning.travels) - 2)
    return spare + 4.0 * sqrt(2.0 * spare)


def left_over(turning: Turning, kept: BoolArray | None = None) -> float:
    """Chi squared [1] by the best stiffness above zero; as without answer if none."""
    if kept is None:
        kept = np.ones(len(turning.travels), dtype=bool)
    line = _least_squares(turning, kept)
    if line is not None:
        return line.left_over
    off = turning.changes[kept] - turning.changes[kept].mean()
    return float(np.sum((off / turning.uncertainties[kept]) ** 2))


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """What an answer says, with the stiffnesses that say it."""

    kind: AnswerKind  # what it says
    exchanged: Exchange | None = None  # which ropes
    learned: LearnedStiffness | None = None  # what the next plan takes
    fit: StiffnessFit | None = None  # how the set and each rope answered
    told: NutStiffness | None = None  # by the record, what the fit is held against

    @property
    def notes(self) -> tuple[Note, ...]:
        """What the answer says, and which ropes answered far less or far more."""
        notes = [] if self._main_note is None else [self._main_note]
        if self.fit is not None:
            bound, strong = NoteKind.TURN_BOUND, NoteKind.TURN_STRONG
            for kind, stands_out in ((bound, self.fit.low), (strong, self.fit.high)):
                for rope in (np.flatnonzero(stands_out) + 1).tolist():
                    ratio = round(100 * self.fit.ratios[rope - 1])
                    notes.append(kind.note(ropes=(rope,), rope=rope, ratio=ratio))
        return tuple(notes)

    @property
    def doubts(self) -> tuple[Refusal, ...]:
        """What must be settled before the next nut is turned."""
        note = self._main_note
        return () if note is None or note.kind in _ONLY_TOLD else (note.as_refusal(),)

    @property
    def _main_note(self) -> Note | None:
        """The note on what the answer says, if it needs one."""
        if self.exchanged is not None:
            return _note_on_exchange(self.exchanged)
        kind = _NOTES.get(self.kind)
        if kind is None or self.fit is None or self.told is None:
            return kind and kind.note()
        both = (self.told.after_running, self.told.now)
        stiffnesses = (self.fit.stiffness, *(float(np.mean(k)) for k in both))
        found, expected, standing = (f"{k / 1000:.3g} N/mm" for k in stiffnesses)
        return kind.note(found=found, expected=expected, standing=standing)


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


@dataclass(frozen=True, kw_only=True, slots=True)
class Answering:
    """Everything an answer is read from."""

    # tensions of the two series, of one mean [N], shape (n_ropes,)
    before: FloatArray
    after: FloatArray
    # what was turned, weighted by how far it has spread, and what changed
    turning: Turning
    turns: tuple[Turn, ...]  # the turns, each with the round trips run since
    is_known: bool  # whether newtons and every thread are known
    stiffness: NutStiffness | None  # by the record and what was learned before
    run_in: RunIn  # how a turn spreads
    source: str  # which turns between which series

    def most_left(self, part: int = 1) -> float:
        """What is left over of the turn that has spread least, after a part of the run.

        A half, a third and so on by number [1]; over what the turn brings in the end.
        """
        every = [(turn.hitch, turn.round_trips_after or 0) for turn in self.turns]
        return max(abs(self.run_in.left_over(at, n // part)) for at, n in every)


def read_answer(given: Answering) -> Answer:
    """Read what a set answered to its turns."""
    if not given.turns or not given.is_known:
        kind = AnswerKind.NOT_KNOWN if given.turns else AnswerKind.NO_TURNS
        return Answer(kind=kind)
    if mistaken := _find_mistake(given):
        return mistaken
    fit = fit_stiffness(given.turning)
    if given.run_in.spreads:
        trips = [turn.round_trips_after for turn in given.turns]
        if None in trips:
            return Answer(kind=AnswerKind.NOT_RECORDED, fit=fit)
        if 0 in trips:
            return Answer(kind=AnswerKind.NOT_RUN, fit=fit)
        if given.most_left() > _SPREAD_ENOUGH:
            return Answer(kind=AnswerKind.TOO_FEW_TRIPS, fit=fit)
    return Answer(kind=AnswerKind.TOO_SMALL) if fit is None else _weigh(given, fit)


def _find_mistake(given: Answering) -> Answer | None:
    """Signs or numbers written the wrong way, where that explains the change."""
    turning = given.turning
    written, usual = left_over(turning), usual_left_over(turning)
    exchanged = find_exchange(given.before, given.after, turning)
    reversed_ = left_over(replace(turning, travels=-turning.travels))
    is_reversed = written > usual and reversed_ <= min(usual, _EXPLAINS * written)
    if is_reversed and (exchanged is None or reversed_ <= exchanged.left_over):
        return Answer(kind=AnswerKind.SIGNS_REVERSED)
    if exchanged is not None:
        return Answer(kind=AnswerKind.EXCHANGED, exchanged=exchanged)
    return None


def _weigh(given: Answering, fit: StiffnessFit) -> Answer:
    """Hold the stiffness shown against the record's, and put the two together."""
    found, told = fit.stiffness, given.stiffness
    own = hypot(fit.uncertainty / found, 0.5 * given.most_left())
    learned = _learned(given, fit, found, own)
    answer = Answer(kind=AnswerKind.LEARNED, learned=learned, fit=fit, told=told)
    if told is None:
        return answer
    expected = float(np.mean(told.after_running))
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
    ratios = np.where(fit.low | fit.high, np.nan, fit.ratios)
    is_read = ~np.isnan(ratios)
    noise = np.divide(
        turning.uncertainties, wanted, out=np.full(len(wanted), np.inf), where=is_read
    )
    weights = _OWN_PRIOR**2 / (_OWN_PRIOR**2 + noise**2)
    each = value * (1.0 + weights * (np.where(is_read, ratios, 1.0) - 1.0))
    left = _OWN_PRIOR * np.sqrt(1.0 - weights)
    return LearnedStiffness(
        hitch=given.turns[-1].hitch,
        set_stiffness=value,
        set_uncertainty=width,
        stiffnesses=tuple(each.tolist()),
        own_uncertainty=float(np.sqrt(np.mean(left**2))),
        source=given.source,
    )
