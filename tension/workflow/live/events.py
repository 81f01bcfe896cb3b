"""A visit by ear as types: what it shows to a person, where it stands; no words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum, StrEnum
from typing import Protocol, Self

from tension.capture import Hum
from tension.workflow.assess import Assessed

MOST_TRIES = 3  # rounds of plucks not heard well, and the next rope is taken [1]


class Act(Enum):
    """What a person asks for, by its key."""

    UNDO = "u"
    REPEAT = "r"
    SKIP = "s"
    PAUSE = "p"
    END = "q"


class NotCounted(Enum):
    """Why a pluck does not count, where the ear has no words of its own."""

    NO_PLUCK = "no pluck"
    INPUT_LOST = "input lost"
    UNDONE = "undone"
    REPEATED = "repeated"


class What(StrEnum):
    """What happened, by the name of its words."""

    BEGAN = "began"
    TAKEN_UP = "taken-up"  # a recording that a broken-off visit left behind
    HEARD = "heard"
    NOT_HEARD = "not-heard"
    LOST = "lost"
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


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """What was heard of one pluck of a rope, and whether it counts."""

    rope: int
    # of the rope by the plucks so far; None if the pluck does not count [Hz]
    fundamental_frequency: float | None = None
    reason: NotCounted | str = ""  # this and the next act may be texts of the ear
    next_act: str = ""


class Surface(Protocol):
    """Where a visit by ear is shown, and where keys come from."""

    @property
    def has_keys(self) -> bool:
        """Whether a person can press keys."""

    def acts(self) -> tuple[Act, ...]:
        """Tell what was asked for since the last time; never waits."""

    def tell(self, what: What, **places: object) -> None:
        """Tell a line of what happened, with what stands in it."""

    def ask(self, session: "Session", *, is_new: bool) -> None:
        """Ask for a pluck of the rope that is on, another than before or the same."""

    def meter(self, peak: float, hum: Hum | None, *, is_ringing: bool) -> None:
        """Show the level [dB], and hum if it is known, some times a second."""

    def result(self, assessed: Assessed, again: tuple[int, ...]) -> None:
        """Show the result of what the record holds, and ropes asked for again."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Session:
    """Which rope is plucked next: no sound, no terminal; every act gives a new one."""

    ropes: tuple[int, ...]  # of each step, in order
    plucks: int = 3  # good ones wanted in a step [1]
    heard: tuple[int, ...] = ()  # steps of the good plucks, in order of time
    passed: tuple[int, ...] = ()  # steps left for now
    n_tries: int = 0  # plucks not heard well in a row [1]
    is_ended: bool = False

    @property
    def step(self) -> int | None:
        """Which step is on, counted from 0; None when all are done."""
        steps = () if self.is_ended else range(len(self.ropes))
        return next(filter(self._is_open, steps), None)

    @property
    def rope(self) -> int | None:
        """The rope that is on; None when all are done."""
        return None if self.step is None else self.ropes[self.step]

    @property
    def n_done(self) -> int:
        """Good plucks in the step that is on [1]."""
        return 0 if self.step is None else self.heard.count(self.step)

    def _is_open(self, step: int) -> bool:
        """Whether a step wants plucks."""
        return step not in self.passed and self.heard.count(step) < self.plucks

    def n_good(self, rope: int) -> int:
        """Count the good plucks of a rope so far."""
        return [self.ropes[step] for step in self.heard].count(rope)

    def with_good(self, rope: int) -> Self:
        """A pluck was heard well; what a step does not want goes to the next."""
        own = [step for step, one in enumerate(self.ropes) if one == rope]
        step = next(filter(self._is_open, own), own[-1])
        return replace(self, heard=(*self.heard, step), n_tries=0)

    def with_bad(self) -> Self:
        """A pluck was not heard well; after too many the next rope is taken."""
        tried = replace(self, n_tries=self.n_tries + 1)
        return tried.skipped() if tried.n_tries >= MOST_TRIES * self.plucks else tried

    def skipped(self) -> Self:
        """Leave the rope that is on for now."""
        here = () if self.step is None else (self.step,)
        return replace(self, passed=(*self.passed, *here), n_tries=0)

    def undone(self) -> Self:
        """Take back the last good pluck, if there is any; its step is on again."""
        kept = tuple(step for step in self.passed if step not in self.heard[-1:])
        return replace(self, heard=self.heard[:-1], passed=kept, n_tries=0)

    def repeated(self) -> Self:
        """Begin the step that is on anew."""
        heard = tuple(step for step in self.heard if step != self.step)
        return replace(self, heard=heard, n_tries=0)

    def again(self, ropes: Sequence[int]) -> Self:
        """Take some ropes once more, and nothing else."""
        passed = tuple(range(len(self.ropes)))
        more = dict.fromkeys(ropes)
        return replace(self, ropes=(*self.ropes, *more), passed=passed, n_tries=0)


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
    back = reversed(order) if is_back else ()
    session = Session(ropes=(*order, *back), plucks=plucks)
    for rope, count in (has or {}).items():
        for _ in range(count if rope in order else 0):
            session = session.with_good(rope)
    return session
