"""What the answer of a set to its turns says: a stiffness, or that something is wrong.

Nothing is learned from an answer that is better explained otherwise.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.fit import (
    Exchange,
    StiffnessFit,
    Turning,
    find_exchange,
    fit_stiffness,
    usual_left_over,
    what_is_left_over,
)
from tension.adjustment.origins import LearnedStiffness
from tension.adjustment.run_in import RunIn
from tension.adjustment.stiffness import NutStiffness
from tension.adjustment.turns import PastTurn
from tension.installation import HitchPlace

FloatArray = NDArray[np.float64]

_SPREAD_ENOUGH = 0.20
"""What may be left over of a turn of which something is learned; half of it counts as
an uncertainty of what is learned. [1]"""

_LONG_SPREAD = 0.02
"""What is left over after a third of the round trips where they were more than enough,
so that the turns outweigh the record. [1]"""

_OWN_PRIOR = 0.08
"""How ropes of one set differ in stiffness before anything is learned. [1]"""

_TOLD = 0.10
"""What the record tells of a set is trusted no better than this. [1]"""

_DISAGREE = 2.0
"""Beyond so many standard uncertainties two stiffnesses differ."""

_FAR_LESS = 0.35
"""An answer under this part of what was expected is no stiffness. [1]"""


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
    exchanged = find_exchange(given.before, given.after, given.turning)
    if _are_signs_reversed(given, exchanged):
        return Answer(kind=AnswerKind.SIGNS_REVERSED)
    if exchanged is not None:
        return Answer(kind=AnswerKind.EXCHANGED, exchanged=exchanged)
    return None


def _are_signs_reversed(given: Answering, exchanged: Exchange | None) -> bool:
    """Whether the change fits the turns the other way round, and only so."""
    turning = given.turning
    every = tuple(range(len(turning.travels)))
    usual = usual_left_over(len(every))
    written = what_is_left_over(turning, every)
    other_way = replace(turning, travels=-turning.travels)
    if exchanged is not None and exchanged.left_over < what_is_left_over(
        other_way, every
    ):
        return False
    return written > usual and what_is_left_over(other_way, every) <= min(
        usual, 0.25 * written
    )


def _find_not_spread(given: Answering) -> AnswerKind | None:
    """Whether the turns have not spread far enough to learn from."""
    if not given.run_in.spreads:
        return None
    if any(past.round_trips is None for past in given.turns):
        return AnswerKind.NOT_RECORDED
    if any(past.round_trips == 0 for past in given.turns):
        return AnswerKind.NOT_RUN
    if _most_left(given, 1) > _SPREAD_ENOUGH:
        return AnswerKind.TOO_FEW_TRIPS
    return None


def _most_left(given: Answering, part: int) -> float:
    """What is left over of the turn that has spread least, after a part of the run."""
    return max(
        abs(given.run_in.left_over(past.turn.hitch, past.at_least // part))
        for past in given.turns
    )


def _weigh(given: Answering, fit: StiffnessFit) -> Answer:
    """Hold the stiffness shown against the record's, and put the two together."""
    left = 0.5 * _most_left(given, 1)
    own = float(np.hypot(max(fit.uncertainty / fit.stiffness, 0.01), left))
    if given.stiffness is None:
        learned = _learned(given, fit, fit.stiffness, own)
        return Answer(kind=AnswerKind.LEARNED, found=fit.stiffness, learned=learned)
    told = float(np.mean(given.stiffness.after_running))
    standing = float(np.mean(given.stiffness.now))
    width = max(given.stiffness.common_uncertainty, _TOLD)
    both = float(np.hypot(width, own))
    answer = Answer(
        kind=AnswerKind.LEARNED, found=fit.stiffness, expected=told, standing=standing
    )
    apart = float(np.log(fit.stiffness / told))
    if abs(apart) <= _DISAGREE * both:
        weight = width**2 / both**2
        value = told * (fit.stiffness / told) ** weight
        learned = _learned(given, fit, float(value), float(np.sqrt(weight) * own))
        return replace(answer, learned=learned)
    if apart > 0.0:
        kind = _of_more(given, fit.stiffness, standing, both)
    else:
        is_far = fit.stiffness < _FAR_LESS * told
        kind = AnswerKind.FAR_LESS if is_far else AnswerKind.LEARNED_AGAINST_RECORD
    if kind is not AnswerKind.LEARNED_AGAINST_RECORD:
        return replace(answer, kind=kind)
    learned = _learned(given, fit, fit.stiffness, own)
    return replace(answer, kind=kind, learned=learned)


def _of_more(
    given: Answering, found: float, standing: float, width: float
) -> AnswerKind:
    """An answer of more than expected: not run as written, or a wrong record."""
    if not given.run_in.spreads:
        return AnswerKind.LEARNED_AGAINST_RECORD
    over = float(np.log(found / standing))
    if over > _DISAGREE * width:
        return AnswerKind.FAR_MORE
    is_like_standing = abs(over) <= _DISAGREE * width
    if is_like_standing or _most_left(given, 3) > _LONG_SPREAD:
        return AnswerKind.LIKE_STANDING
    return AnswerKind.LEARNED_AGAINST_RECORD


def _learned(
    given: Answering, fit: StiffnessFit, value: float, width: float
) -> LearnedStiffness:
    """What the next plan takes."""
    each, own = _per_rope(fit, given.turning, value)
    return LearnedStiffness(
        hitch=_hitch_of(given.turns),
        set_stiffness=value,
        set_uncertainty=width,
        stiffnesses=each,
        own_uncertainty=own,
        source=given.source,
    )


def _hitch_of(turns: tuple[PastTurn, ...]) -> HitchPlace:
    """Where the nuts were turned; the last one if at several."""
    return turns[-1].turn.hitch


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
