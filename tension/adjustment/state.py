"""What is known of a set beside its tensions: has it run, what did a person see."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from tension.adjustment.origins import pitches_of
from tension.adjustment.run_in import MOST_TRIPS, USUAL_TRIPS, RunIn
from tension.adjustment.turns import PastTurn
from tension.installation import HitchPlace, RopeSet
from tension.notes import NoteKind

FloatArray = NDArray[np.float64]

AT_REST = 0.01
"""Spread that turns not yet spread may add to a set that counts as run in. [1]"""

_MOST_MORE = 2000
"""More round trips than this are not counted."""

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


class RunState(StrEnum):
    """Whether the car has run since the nuts were turned."""

    AT_REST = "at-rest"
    NOT_RECORDED = "not-recorded"
    NOT_RUN = "not-run"
    TOO_FEW = "too-few"


@dataclass(frozen=True, kw_only=True, slots=True)
class SetState:
    """What was turned before a reading, how far the car ran, what is still to come."""

    state: RunState = RunState.AT_REST  # whether the set has come to rest
    round_trips: int = 0  # run since the turn that has spread least [1]
    # round trips still to be run until the set is at rest; 0 if it is [1]
    wanted: int = 0
    # spread by which the shares will still change, about [1]
    still_to_come: float = 0.0
    turned: bool = False  # whether any nut was turned before the reading
    turned_since: tuple[int, ...] = ()  # ropes whose nuts were turned after the reading
    wanted_since: int = 0  # round trips until those turns have spread [1]

    @property
    def is_at_rest(self) -> bool:
        """Whether the reading speaks for the set as it will stay."""
        return self.state is RunState.AT_REST

    @property
    def is_beyond_people(self) -> bool:
        """Whether more round trips are wanted than people make in one go."""
        return max(self.wanted, self.wanted_since) > MOST_TRIPS


def find_state(
    before: tuple[PastTurn, ...],
    since: tuple[PastTurn, ...] = (),
    *,
    rope_set: RopeSet,
    run_in: RunIn,
    mean_tension: float | None,
    has_never_run: bool = False,
) -> SetState:
    """Find whether a set has come to rest where it was read.

    From the turns before and after it, the mean tension of a rope [N], None where only
    shares are known, and whether the record says that the car had not run when the set
    was first read.
    """
    still = _Still(
        run_in=run_in,
        pitches=pitches_of(rope_set),
        mean_tension=mean_tension,
        n_ropes=rope_set.n_ropes,
    )
    turned_since = tuple(sorted({past.turn.rope for past in since}))
    wanted_since = still.wanted(since) if since else 0
    if not run_in.spreads or not (before or has_never_run):
        return SetState(
            turned=bool(before), turned_since=turned_since, wanted_since=wanted_since
        )
    state = _state(before, still, has_never_run=has_never_run)
    wanted = 0
    if state is not RunState.AT_REST:
        wanted = max(1, still.wanted(before))
    return SetState(
        state=state,
        round_trips=min((past.at_least for past in before), default=0),
        wanted=wanted,
        still_to_come=still.spread(before, 0),
        turned=bool(before),
        turned_since=turned_since,
        wanted_since=wanted_since,
    )


def _state(
    before: tuple[PastTurn, ...], still: "_Still", *, has_never_run: bool
) -> RunState:
    """Whether the turns have spread."""
    if any(past.round_trips is None for past in before):
        return RunState.NOT_RECORDED
    if has_never_run or any(past.round_trips == 0 for past in before):
        return RunState.NOT_RUN
    is_little = still.spread(before, 0) <= AT_REST
    return RunState.AT_REST if is_little else RunState.TOO_FEW


@dataclass(frozen=True, kw_only=True, slots=True)
class _Still:
    """What turns have still to bring."""

    run_in: RunIn
    pitches: Mapping[HitchPlace, float]
    mean_tension: float | None
    n_ropes: int

    def spread(self, turns: tuple[PastTurn, ...], more: int) -> float:
        """Spread that has still to go once the car has run so many more trips."""
        if self.mean_tension is None:  # over what remains of the turns themselves
            return max(
                (abs(self._left(past, more)) for past in turns),
                default=0.0,
            )
        still = np.zeros(self.n_ropes)
        for past in turns:
            pitch = self.pitches.get(past.turn.hitch, 0.002)
            travel = past.turn.turns.value * pitch
            still[past.turn.rope - 1] += travel * self._left(past, more)
        return float(np.ptp(still) * self.run_in.settled / self.mean_tension)

    def _left(self, past: PastTurn, more: int) -> float:
        """What is left over of one turn."""
        return self.run_in.left_over(past.turn.hitch, past.at_least + more)

    def wanted(self, turns: tuple[PastTurn, ...]) -> int:
        """Round trips until hardly anything has still to go; the usual at least."""
        if not turns:  # how far it is off is not known: until a twentieth is left
            near = self.run_in.near
            few = np.flatnonzero(np.abs(near) <= 0.05)
            return max(USUAL_TRIPS, int(few[0])) if len(few) else _MOST_MORE
        least = min(past.at_least for past in turns)
        first = max(0, USUAL_TRIPS - least)
        for more in range(first, _MOST_MORE):
            if self.spread(turns, more) <= 0.5 * AT_REST:
                return more
        return _MOST_MORE


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
