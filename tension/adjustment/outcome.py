"""Turns of nuts as made, and outcomes of planning: a plan, directions, or why none."""

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from tension.adjustment.stiffness import Origin
from tension.catalogue.rules import Rule
from tension.errors import InvalidValueError
from tension.installation import Drive, Hitch, HitchPlace, Roping
from tension.notes import Note, NoteKind, Refusal
from tension.quantity.units import Dimension, Quantity, parse_quantity
from tension.shown import Shown

MOST_TRIPS = 12  # more round trips than people make in one go

_PARTING = re.compile(
    r"\s*[;\n]\s*|,(?=\s)|,(?=\s*[0-9]+\s*:?\s*(?:in\b|out\b|[+\u2212-]))",
    re.IGNORECASE,
)

_ONE = re.compile(
    r"(?:ropes?\s*)?(?P<rope>[0-9]+)\s*[:.]?\s*"
    r"(?P<way>in|out|[+\u2212-]|towards(?: the plate)?|away(?: from the plate)?)\s*"
    r"(?P<amount>[0-9][0-9 .,/½¼¾⅛⅜⅝⅞-]*|[½¼¾⅛⅜⅝⅞])\s*(?:turns?)?",
    re.IGNORECASE,
)

_LEFT = re.compile(r"(?:ropes?\s*)?[0-9]+\s*[:.]?\s*(?:leave|left|0|-)", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True, slots=True)
class Turn:
    """A turn of one nut."""

    after: str  # the series after which it was made
    hitch: HitchPlace  # which hitch
    rope: int  # rope number
    turns: Quantity  # positive: nut towards the plate, tension up [turns]
    # round trips the car ran afterwards; None if not recorded: nothing is learned
    round_trips_after: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class TypedTurn:
    """What was done at one nut."""

    rope: int  # rope number
    text: str  # as a record has it: "+4 1/2" is towards the plate
    turns: float  # positive: nut towards the plate [turns]


def read_turns(text: str) -> tuple[TypedTurn, ...]:
    """Read turns as a plan prints them: "2 in 4 1/2, 5 out 4", in the order typed.

    Rope, which way, how many turns; "in" is towards the plate. A rope that is left
    alone may be said to be: "4 leave".

    Raises
    ------
    InvalidValueError
        If a part is no turn, or a rope is named twice.

    Examples
    --------
    >>> [(turn.rope, turn.text) for turn in read_turns("2 in 4 1/2, 5 out 4")]
    [(2, '+4 1/2'), (5, '-4')]
    """
    turns: list[TypedTurn] = []
    for part in _PARTING.split(text):
        plain = part.strip().rstrip(".")
        if not plain or _LEFT.fullmatch(plain):
            continue
        found = _ONE.fullmatch(plain)
        if found is None:
            raise InvalidValueError(
                f'"{plain[:40]}" is no turn; write rope, in or out, and how many '
                "turns, like: 2 in 4 1/2, 5 out 4"
            )
        rope, way = int(found["rope"]), found["way"].lower()
        sign = "-" if way.startswith(("out", "away", "-", "\u2212")) else "+"
        amount = " ".join(found["amount"].split()).rstrip(" ,.-")
        made = parse_quantity(sign + amount, Dimension.TURNS)
        if made.value == 0:
            raise InvalidValueError(f"rope {rope}: no turn; leave that rope out")
        if any(rope == other.rope for other in turns):
            raise InvalidValueError(
                f"rope {rope} is named twice; give what was turned in all"
            )
        turns.append(TypedTurn(rope=rope, text=made.text, turns=made.value))
    if not turns:
        raise InvalidValueError(
            "no turn is named; write them like: 2 in 4 1/2, 5 out 4"
        )
    return tuple(turns)


class Strategy(StrEnum):
    """What a plan aims at besides equal ropes."""

    KEEP_HEIGHT = "keep-height"
    TAKE_UP_ONLY = "take-up-only"
    EASE_ONLY = "ease-only"
    FEWEST_NUTS = "fewest-nuts"


class Direction(StrEnum):
    """Which way a nut goes."""

    TAKE_UP = "towards the plate"
    EASE = "away from the plate"
    LEAVE = "leave"

    @classmethod
    def of(cls, way: float) -> "Direction":
        """By the sign of steps, turns or a travel, positive towards the plate [1]."""
        if way > 0:
            return cls.TAKE_UP
        return cls.EASE if way < 0 else cls.LEAVE


class NoPlanKind(StrEnum):
    """Why there is no plan."""

    LEAVE_IT = "leave-it"
    RUN_FIRST = "run-first"
    LOOK_FIRST = "look-first"
    MEASURE_FIRST = "measure-first"
    BEAM = "beam"
    NO_RESULT = "no-result"


class Shortage(StrEnum):
    """What a plan does not have enough of."""

    THREAD_TOWARDS_PLATE = "thread-towards-plate"
    THREAD_AWAY = "thread-away-from-plate"
    SPRING_WAY = "spring-way"
    FINE_STEPS = "fine-steps"


@dataclass(frozen=True, kw_only=True, slots=True)
class NutTurn:
    """What is done at one nut."""

    rope: int  # rope number
    steps: int  # steps of the plan; positive: nut towards the plate [1]
    turns: float  # turns of the nut [turns]
    travel: float  # of the nut along the rod [m]

    @property
    def direction(self) -> Direction:
        """Which way the nut goes."""
        return Direction.of(self.steps)


@dataclass(frozen=True, kw_only=True, slots=True)
class PlannedStep:
    """One nut in its place in the order, with what the set then carries."""

    turn: NutTurn  # what is done
    shares_now: tuple[float, ...]  # shares right after it, the car not moved [1]
    shares_after_running: tuple[float, ...]  # shares if the car ran then [1]


@dataclass(frozen=True, kw_only=True, slots=True)
class Stage:
    """Nuts turned one after the other before the car runs."""

    steps: tuple[PlannedStep, ...]  # in working order
    # predicted extremes on the way [1]
    lowest_share: float
    highest_share: float
    round_trips: int = 0  # to be run after it; 0 on a drum or a roped jack [1]


@dataclass(frozen=True, kw_only=True, slots=True)
class Forecast:
    """What a plan is expected to bring once the car has run."""

    shares: tuple[float, ...]  # expected shares [1]
    # expected, by the metric of the rule, the noise of the readings and what is not
    # known of the stiffness in it [1]
    spread: float
    upper: float  # the true spread lies under it with 97.5 % [1]
    chance_equal: float  # probability that the true spread is at or under the limit [1]


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class Plan(Shown):
    """A plan of turns."""

    name: ClassVar[str] = "plan"
    strategy: Strategy  # what it aims at
    rule: Rule  # the rule it is held against
    goal: float  # spread aimed at [1]
    hitch: Hitch  # where the nuts are
    drive: Drive  # what moves the car
    roping: Roping  # roping ratio
    steps_per_turn: int  # 4 with springs, 8 without [1]
    turns: tuple[NutTurn, ...]  # in all, one per rope in order of number
    # before they were fitted to steps, in the same order [turns]
    wanted_turns: tuple[float, ...]
    stages: tuple[Stage, ...]  # with a run of the car after each
    part: float  # part of the full correction; 1 where the stiffness is known [1]
    mean_tension: float  # of one rope [N]
    shares_before: tuple[float, ...]  # as measured [1]
    spread_before: float  # by the metric of the rule [1]
    forecast: Forecast  # once the car has run
    hitch_rise: float  # how much shorter the ropes are as a set [m]
    # of the car or counterweight; positive: more runby of the counterweight [m]
    runby_change: float
    origins: tuple[Origin, ...]  # every number it rests on and where it comes from
    notes: tuple[Note, ...]  # what a reader must know

    @property
    def n_nuts(self) -> int:
        """Nuts that are turned."""
        return sum(turn.steps != 0 for turn in self.turns)

    @property
    def turns_in_all(self) -> float:
        """Turns made, whichever way."""
        return sum(abs(turn.turns) for turn in self.turns)


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeDirection:
    """Which way one nut goes where it is not known how far."""

    rope: int  # rope number
    direction: Direction  # which way
    share: float  # as measured [1]


@dataclass(frozen=True, kw_only=True, slots=True)
class DirectionsOnly:
    """Order and direction, without how far."""

    name: ClassVar[str] = "directions-only"
    hitch: Hitch  # where the nuts are
    reasons: tuple[Refusal, ...]  # what is missing for turns
    rows: tuple[RopeDirection, ...]  # in working order; ropes to leave come last


@dataclass(frozen=True, kw_only=True, slots=True)
class NoPlan:
    """Why no nut is to be turned now."""

    kind: NoPlanKind  # which answer it is
    reasons: tuple[Refusal, ...]  # every reason, with what to do about it

    @property
    def name(self) -> str:
        """Which answer it is."""
        return self.kind.value


@dataclass(frozen=True, kw_only=True, slots=True)
class Shortfall:
    """What is short at one rope, or for the set."""

    kind: Shortage  # what
    rope: int | None  # rope number; None for the set
    # in the unit of its kind: thread [m], spring load [N], spread [1], share [1]
    needed: float
    available: float

    @property
    def short_by(self) -> float:
        """How much is missing."""
        return abs(self.needed - self.available)


@dataclass(frozen=True, kw_only=True, slots=True)
class InfeasiblePlan:
    """No plan within the limits makes the set equal."""

    name: ClassVar[str] = "infeasible"
    strategy: Strategy  # what was tried
    rule: Rule  # the rule
    shortfalls: tuple[Shortfall, ...]  # what is short, by how much
    best_spread: float  # smallest spread that can be reached within the limits [1]
    origins: tuple[Origin, ...]  # what it rests on


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

    @property
    def reasons(self) -> tuple[Refusal, ...]:
        """Why the set must run before anything is planned from it."""
        if self.is_at_rest:
            return ()
        kind = {
            RunState.NOT_RUN: NoteKind.CAR_NOT_RUN,
            RunState.TOO_FEW: NoteKind.CAR_RUN_TOO_LITTLE,
            RunState.NOT_RECORDED: NoteKind.RUN_NOT_RECORDED,
        }[self.state]
        first = kind.refusal(
            trips=self.wanted,
            run=self.round_trips,
            points=f"{100 * min(self.still_to_come, 1.0):.1f}",
        )
        if self.is_beyond_people:
            return first, NoteKind.MANY_TRIPS.refusal(trips=self.wanted)
        return (first,)

    @property
    def notes(self) -> tuple[Note, ...]:
        """That the set has not come to rest."""
        return tuple(each.as_note() for each in self.reasons)


PlanOutcome = Plan | DirectionsOnly | NoPlan | InfeasiblePlan
