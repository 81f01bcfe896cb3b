"""Where a visit by ear stands: which rope is plucked next. No sound, no terminal."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Self

MOST_TRIES = 3
"""So many rounds of plucks not heard well, and the next rope is taken. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """One rope, once: done when it has so many good plucks in all."""

    rope: int
    n_wanted: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Session:
    """The state of a visit by ear; every act gives a new one.

    Attributes
    ----------
    steps : tuple of Step
        In the order in which the ropes are taken.
    plucks : int
        Good plucks wanted of a rope at a time. [1]
    heard : tuple of int
        Ropes of the good plucks, in order of time.
    passed : tuple of int
        Steps left for now, counted from 0.
    n_tries : int
        Plucks not heard well in a row. [1]
    is_paused : bool
        Whether nothing is recorded.
    is_ended : bool
        Whether somebody ended it.
    """

    steps: tuple[Step, ...]
    plucks: int = 3
    heard: tuple[int, ...] = ()
    passed: tuple[int, ...] = ()
    n_tries: int = 0
    is_paused: bool = False
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

    def paused(self, *, is_paused: bool) -> Self:
        """Stop or go on."""
        return replace(self, is_paused=is_paused)

    def ended(self) -> Self:
        """End it here."""
        return replace(self, is_ended=True)

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
    """Begin a visit by ear, or go on with one.

    Parameters
    ----------
    order : sequence of int
        Ropes as they hang.
    plucks : int, optional
        Good plucks wanted of a rope at a time. [1]
    is_back : bool, optional
        Whether the ropes are taken once more, in reverse: a slow drift then falls out,
        and a rope taken for another shows.
    has : mapping of int to int, optional
        Good plucks that the record has of each rope. [1]
    """
    steps = [Step(rope=rope, n_wanted=plucks) for rope in order]
    if is_back:
        steps += [Step(rope=rope, n_wanted=2 * plucks) for rope in reversed(order)]
    heard = [rope for rope, count in (has or {}).items() for _ in range(count)]
    return Session(steps=tuple(steps), plucks=plucks, heard=tuple(heard))
