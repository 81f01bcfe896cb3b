"""What hands do to a stepped rope: pull, let go, take hold again.

A rope that is held rests in the shape its force gives it, plate and neighbours with it.
Let go, the force falls to nothing in the time the finger takes to slip. Taken again,
its motion dies within 30 to 100 ms while it is led aside anew; neighbours ring on.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

from tests.synthesis.plucking import Pluck
from tests.synthesis.stepped.grid import STEP
from tests.synthesis.stepped.stepping import Ear, Hand, Hoist, State

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class Grip:
    """How a rope is taken again before a pluck.

    Attributes
    ----------
    lasts : float
        From the touch to the release. [s]
    damping : float
        Time in which the old ring falls by e^4. [s]
    pull : float
        Time in which the rope is led aside. [s]
    """

    lasts: float
    damping: float
    pull: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Touch:
    """One pluck: where, how far in both planes, and the grip before it.

    Attributes
    ----------
    pluck : Pluck
        Moment, place, width, deflection and time of release.
    direction : float
        Of the pull, from the first plane. [rad]
    grip : Grip
        Not used for the first pluck, which begins held.
    """

    pluck: Pluck
    direction: float
    grip: Grip

    @property
    def taken(self) -> float:
        """Moment of the touch. [s]"""
        return self.pluck.onset - self.grip.lasts


@dataclass(frozen=True, kw_only=True, slots=True)
class Held:
    """A rope at rest in a hand: as the attributes of Hand, and its stretch [m]."""

    shape: Array
    plate: Array
    force: Array
    extra: Array
    stretch: float


def hold(hoist: Hoist, rope: int, touch: Touch) -> Held:
    """Everything at rest with one rope pulled aside."""
    shape = np.zeros((hoist.n_rows, len(hoist.planes)))
    plate = np.zeros(2)
    force, extra = np.zeros((2, hoist.n_rows, 2))
    pluck = touch.pluck
    amounts = pluck.amplitude * np.array(
        [np.cos(touch.direction), np.sin(touch.direction)]
    )
    stretch = 0.0
    for p in range(2):
        column = 2 * rope + p
        plane = hoist.planes[column]
        K = plane.stiffness.tolil()
        K[-1, -1] += hoist.others(column)[0]
        finger = plane.window(pluck.place, pluck.width)
        solved = splu(K.tocsc()).solve(finger)
        scale = amounts[p] / float(finger @ solved)
        solved *= scale
        stretch += 0.5 * float(solved @ (plane.stretching @ solved))
        plate[p] = solved[-1]
        for other in range(p, len(hoist.planes), 2):
            shape[2:-2, other] = solved[-1] * hoist.planes[other].carried[:-1]
        shape[2:-2, column] = solved[:-1]
        force[2:-2, p] = scale * finger[:-1]
        extra[2:-2, p] = (plane.stretching @ solved)[:-1]
    extra *= hoist.axial_stiffness[rope] * stretch
    return Held(shape=shape, plate=plate, force=force, extra=extra, stretch=stretch)


def begin_held(hoist: Hoist, rope: int, held: Held) -> State:
    """A state at rest in a hand."""
    state = hoist.at_rest(rope)
    state.shape[:] = held.shape
    state.plate[:] = held.plate
    state.stretch[:] = held.stretch
    return state


def _rise(n_steps: int, duration: float) -> Array:
    """From 0 to 1 in a time, smoothly, then 1; shape (n_steps,)."""
    share = np.clip(np.arange(1, n_steps + 1) * STEP / max(duration, STEP), 0.0, 1.0)
    out: Array = 0.5 - 0.5 * np.cos(np.pi * share)
    return out


def gripping(held: Held, grip: Grip, n_steps: int) -> Hand:
    """Old motion dies while the rope is led aside, then it is held."""
    late = max(0, n_steps - round((grip.pull + 0.03) / STEP))
    pulled = np.concatenate([np.zeros(late + 1), _rise(n_steps - late, grip.pull)])
    return Hand(
        held_shape=held.shape,
        held_plate=held.plate,
        force=held.force,
        extra=held.extra,
        pulled=pulled,
        held=pulled[1:],
        kept=np.full(n_steps, np.exp(-4.0 * STEP / grip.damping)),
    )


def letting_go(held: Held, release: float, n_steps: int) -> Hand:
    """The finger slips off, then nobody touches the rope."""
    return Hand(
        held_shape=held.shape,
        held_plate=held.plate,
        force=held.force,
        extra=held.extra,
        pulled=np.ones(n_steps + 1),
        held=1.0 - _rise(n_steps, 2.5 * release),
        kept=np.ones(n_steps),
    )


def play(
    hoist: Hoist, rope: int, touches: tuple[Touch, ...], end: float, ear: Ear
) -> Array:
    """Heard from the first release to the end, shape (n_steps, n_columns).

    The slow pull of the hand itself is not heard, only what moves freely.
    """
    held = hold(hoist, rope, touches[0])
    state = begin_held(hoist, rope, held)
    parts = []
    for i, touch in enumerate(touches):
        until = touches[i + 1].taken if i + 1 < len(touches) else end
        n_steps = max(1, round((until - touch.pluck.onset) / STEP))
        free = letting_go(held, touch.pluck.release, n_steps)
        parts.append(hoist.step(state, n_steps, ear, free))
        if i + 1 < len(touches):
            held = hold(hoist, rope, touches[i + 1])
            grip = touches[i + 1].grip
            n_steps = max(1, round(grip.lasts / STEP))
            hand = gripping(held, grip, n_steps)
            parts.append(hoist.step(state, n_steps, ear, hand))
    return np.concatenate(parts)
