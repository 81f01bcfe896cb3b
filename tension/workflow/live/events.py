"""A visit by ear as types: what it shows to a person, where it stands; no words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from typing import Protocol, Self

from tension.capture.blocks import Hum, LossKind
from tension.workflow.assess import Assessed

MOST_TRIES = 3  # rounds of plucks not heard well, and the next rope is taken [1]


class Act(Enum):
    """What a person asks for with a key."""

    UNDO = "undo"
    REPEAT = "repeat"
    SKIP = "skip"
    PAUSE = "pause"
    END = "end"


class Reason(Enum):
    """Why a pluck does not count, where the ear has no words of its own."""

    NO_PLUCK = "no pluck"
    INPUT_LOST = "input lost"
    UNDONE = "undone"
    REPEATED = "repeated"


class What(Enum):
    """What happened, by the name of its words."""

    BEGAN = "began"
    TAKEN_UP = "taken-up"  # a recording that a broken-off visit left behind
    TAKEN_BACK = "taken-back"
    NOTHING_TAKEN_BACK = "nothing-taken-back"
    LEFT = "left"
    LEFT_BY_ITSELF = "left-by-itself"  # too many plucks were not heard well
    DONE = "done"  # a rope has the plucks that were wanted
    PAUSED = "paused"
    GOING_ON = "going-on"
    DOZING = "dozing"  # nobody plucked for long; the next sound ends it
    AWAKE = "awake"
    SILENT = "silent"  # the input is exactly zero


class Event:
    """Something that is shown."""

    __slots__ = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Told(Event):
    """Something of which a line is told, with what stands in it."""

    what: What
    places: Mapping[str, str | int]

    @classmethod
    def of(cls, what: What, **places: str | int) -> Self:
        """Put together what happened."""
        return cls(what=what, places=places)


@dataclass(frozen=True, kw_only=True, slots=True)
class Prompt(Event):
    """Which rope is to be plucked, and whether it is another than before."""

    rope: int
    n_good: int
    n_wanted: int
    is_new: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Meter(Event):
    """Level and hum, some times a second."""

    peak: float  # below full scale [dB]
    hum: Hum | None  # while nothing rings; None if not known
    is_ringing: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer(Event):
    """What was heard of one pluck of a rope, and whether it counts."""

    rope: int
    is_good: bool
    # of the rope by the plucks so far; nan if it got no number [Hz]
    fundamental_frequency: float = float("nan")
    reason: Reason | str = ""  # this and the next act may be texts of the ear
    next_act: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Lost(Event):
    """Input was lost."""

    seconds: float  # 0 if it is not known [s]
    kind: LossKind


@dataclass(frozen=True, kw_only=True, slots=True)
class Result(Event):
    """The result of what the record holds now, as ``assess`` gives it."""

    assessed: Assessed
    again: tuple[int, ...]  # ropes that are asked for again, the most useful first


class Surface(Protocol):
    """Where a visit by ear is shown, and where keys come from."""

    @property
    def has_keys(self) -> bool:
        """Whether a person can press keys."""

    def show(self, event: Event) -> None:
        """Show what happened."""

    def acts(self) -> tuple[Act, ...]:
        """Tell what was asked for since the last time; never waits."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """One rope, once: done when it has so many good plucks in all."""

    rope: int
    n_wanted: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Session:
    """Which rope is plucked next: no sound, no terminal; every act gives a new one."""

    steps: tuple[Step, ...]
    plucks: int = 3  # good ones wanted of a rope at a time [1]
    heard: tuple[int, ...] = ()  # ropes of the good plucks, in order of time
    passed: tuple[int, ...] = ()  # steps left for now, counted from 0
    n_tries: int = 0  # plucks not heard well in a row [1]
    is_ended: bool = False

    @property
    def place(self) -> int | None:
        """Which step is on, counted from 0; None when all are done."""
        if self.is_ended:
            return None
        for place, step in enumerate(self.steps):
            if place not in self.passed and self.n_good(step.rope) < step.n_wanted:
                return place
        return None

    @property
    def step(self) -> Step | None:
        """The step that is on; None when all are done."""
        return None if self.place is None else self.steps[self.place]

    @property
    def n_done(self) -> int:
        """Good plucks in the step that is on [1]."""
        step = self.step
        if step is None:
            return 0
        return max(self.n_good(step.rope) - step.n_wanted + self.plucks, 0)

    def n_good(self, rope: int) -> int:
        """Count the good plucks of a rope so far."""
        return self.heard.count(rope)

    def with_good(self, rope: int) -> Self:
        """A pluck was heard well."""
        return replace(self, heard=(*self.heard, rope), n_tries=0)

    def with_bad(self) -> Self:
        """A pluck was not heard well; after too many the next rope is taken."""
        tried = replace(self, n_tries=self.n_tries + 1)
        return tried.skipped() if tried.n_tries >= MOST_TRIES * self.plucks else tried

    def skipped(self) -> Self:
        """Leave the rope that is on for now."""
        place, step = self.place, self.step
        if place is None or step is None:
            return self
        n_missing = step.n_wanted - self.n_good(step.rope)
        # what it lacks is not asked for on the way back
        later = tuple(
            replace(one, n_wanted=one.n_wanted - n_missing)
            if k > place and one.rope == step.rope
            else one
            for k, one in enumerate(self.steps)
        )
        return replace(self, steps=later, passed=(*self.passed, place), n_tries=0)

    def undone(self) -> Self:
        """Take back the last good pluck, if there is any; its rope is on again."""
        if not self.heard:
            return self
        rope = self.heard[-1]
        kept = tuple(p for p in self.passed if self.steps[p].rope != rope)
        return replace(self, heard=self.heard[:-1], passed=kept, n_tries=0)

    def repeated(self) -> Self:
        """Begin the step that is on anew."""
        step, n_left = self.step, self.n_done
        heard = list(self.heard)
        while step is not None and n_left:
            place = len(heard) - 1 - heard[::-1].index(step.rope)
            del heard[place]
            n_left -= 1
        return replace(self, heard=tuple(heard), n_tries=0)

    def again(self, ropes: Sequence[int]) -> Self:
        """Take some ropes once more, and nothing else."""
        steps = tuple(
            Step(rope=rope, n_wanted=self.n_good(rope) + self.plucks)
            for rope in dict.fromkeys(ropes)
        )
        return replace(self, steps=steps, passed=(), n_tries=0)


def begin_session(
    order: Sequence[int],
    *,
    plucks: int = 3,
    is_back: bool = True,
    has: Mapping[int, int] | None = None,
) -> Session:
    """Begin a visit by ear, or go on with one that has plucks of some ropes [1].

    Ropes come as they hang, and once more in reverse: a slow drift then falls out, and
    a rope taken for another shows.
    """
    steps = [Step(rope=rope, n_wanted=plucks) for rope in order]
    if is_back:
        steps += [Step(rope=rope, n_wanted=2 * plucks) for rope in reversed(order)]
    heard = [rope for rope, count in (has or {}).items() for _ in range(count)]
    return Session(steps=tuple(steps), plucks=plucks, heard=tuple(heard))
