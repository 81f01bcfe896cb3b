"""Ropes of a set on one plate, stepped through time in two planes.

The planes of a rope and its stretch are coupled as Kirchhoff and Carrier have it: the
tension rises with the mean square of the slope. The stretch between two moments is
taken as half of u+ . S u, which makes the energy of the scheme exact: with C = 0 it is
constant, with C it falls at every step, but for rounding. u+ enters its own tension by
one number per rope, so a step is two solves of five bands and one division.

Columns of the states are ropes and planes: column 2 r + p is rope r in plane p. Rows
are nodes, padded by two rows of zeros on either side.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cholesky_banded
from scipy.sparse import csc_array

from tests.synthesis.stepped.grid import STEP, PlaneOfRope, Plate
from tests.synthesis.stepped.kernels import step_on

Array = NDArray[np.float64]


def padded(rows: Array) -> Array:
    """Two rows of zeros before and after, so that no step has a special end."""
    return np.pad(rows, [(2, 2)] + [(0, 0)] * (rows.ndim - 1))


def _padded_bands(bands: Array) -> Array:
    """Each band padded."""
    return np.array([padded(band) for band in bands])


def _bands(matrices: list[csc_array]) -> Array:
    """Main and two upper diagonals, shape (3, n_nodes, n_columns)."""
    n = matrices[0].shape[0] - 1
    out = np.zeros((3, n, len(matrices)))
    for column, matrix in enumerate(matrices):
        for k in range(3):
            out[k, : n - k, column] = matrix[:-1, :-1].diagonal(k)
    return out


def _factors(matrices: list[csc_array]) -> Array:
    """L D L^T of each: one over D, and two lower diagonals of L, as bands."""
    bands = _bands(matrices)
    out = np.zeros_like(bands)
    for column in range(bands.shape[2]):
        # a banded Cholesky factor, its rows scaled to a unit diagonal
        factor = cholesky_banded(bands[:, :, column], lower=True)
        out[0, :, column] = factor[0] ** -2.0
        out[1:, :, column] = factor[1:] / factor[0]
    return out


@dataclass(kw_only=True)
class State:
    """Where everything is and how far it came in the last step.

    Attributes
    ----------
    shape, change : ndarray, shape (n_rows, n_columns)
        [m]
    plate, plate_change : ndarray, shape (2,)
        [m]
    stretch : ndarray, shape (1,)
        Of the rope in hand, between the last moment and this. [m]
    rope : int
        Which that is; the stretch of the others, which only ring along, is left out.
    """

    shape: Array
    change: Array
    plate: Array
    plate_change: Array
    stretch: Array
    rope: int


@dataclass(frozen=True, kw_only=True)
class Hand:
    """What a hand does to one rope during some steps.

    The rope is led along its held shape and its other motion dies; the force that
    holds it is let go when the hand opens.

    Attributes
    ----------
    held_shape : ndarray, shape (n_rows, n_columns)
        Everything at rest with the rope pulled aside. [m]
    held_plate : ndarray, shape (2,)
        [m]
    force, extra : ndarray, shape (n_rows, 2)
        Which holds it, at rest tension and by its own stretch. [N]
    pulled : ndarray, shape (n_steps + 1,)
        How far the rope is led, by step. [1]
    held : ndarray, shape (n_steps,)
        Share of the force. [1]
    kept : ndarray, shape (n_steps,)
        Share of other motion left by each step. [1]
    """

    held_shape: Array
    held_plate: Array
    force: Array
    extra: Array
    pulled: Array
    held: Array
    kept: Array


@dataclass(frozen=True, kw_only=True)
class Ear:
    """What is heard: for each rope and plane a weighted change of places per step.

    Attributes
    ----------
    windows : ndarray, shape (n_rows, n_columns)
        Weights of the nodes. [1]
    rods : ndarray, shape (n_columns,)
        Weight of the socket against its plate. [1]
    """

    windows: Array
    rods: Array

    @property
    def reach(self) -> tuple[int, int]:
        """First and last node with a weight, the last excluded."""
        heard = np.flatnonzero(np.any(self.windows != 0.0, axis=1))
        return (int(heard[0]), int(heard[-1]) + 1) if len(heard) else (0, 0)


@dataclass(frozen=True, kw_only=True)
class Hoist:
    """A set of ropes in two planes, ready to be stepped.

    Attributes
    ----------
    planes : tuple of PlaneOfRope
        Rope 0 in plane 0, in plane 1, rope 1 in plane 0 ...
    plate : Plate
        Under all rods, alike in both planes.
    axial_stiffness : ndarray, shape (n_ropes,)
        Stretch raises the tension by this times it. [N/m]
    """

    planes: tuple[PlaneOfRope, ...]
    plate: Plate
    axial_stiffness: Array

    @cached_property
    def arrays(self) -> tuple[Array, ...]:
        """All that a step needs, as plain arrays, times step squared."""
        stiffness = [plane.stiffness for plane in self.planes]
        inertia = [plane.inertia for plane in self.planes]
        damping = [plane.damping for plane in self.planes]
        pairs = list(zip(inertia, damping, strict=True))
        plate_inertia, plate_stiffness = self.plate_terms()
        drag = 0.5 * STEP * self.plate.damping
        return (
            STEP**2 * _padded_bands(_bands(stiffness)),
            _padded_bands(_bands([A - 0.5 * STEP * C for A, C in pairs])),
            _padded_bands(_factors([A + 0.5 * STEP * C for A, C in pairs])),
            _padded_bands(_bands([plane.stretching for plane in self.planes])),
            STEP**2
            * np.array([K[[0, 1], :][:, [-1]].toarray().ravel() for K in stiffness]).T,
            np.array(
                [STEP**2 * plate_stiffness, plate_inertia - drag, plate_inertia + drag]
            ),
            STEP**2 * self.axial_stiffness,
        )

    @property
    def n_rows(self) -> int:
        """Nodes of each rope, the held one at the sheave left out, and the padding."""
        return len(self.planes[0].cells) + 4

    def plate_terms(self) -> tuple[Array, Array]:
        """A and K of the plate itself with all rods, by plane. [kg, N/m]"""
        inertia, stiffness = np.empty(2), np.empty(2)
        for p in range(2):
            ropes = self.planes[p::2]
            own = self.plate.mass + 0.25 * STEP**2 * self.plate.stiffness
            inertia[p] = own + sum(float(rope.inertia[-1, -1]) for rope in ropes)
            stiffness[p] = self.plate.stiffness + sum(
                float(rope.stiffness[-1, -1]) for rope in ropes
            )
        return inertia, stiffness

    def others(self, column: int) -> tuple[float, float]:
        """Stiffness and inertia of the plate with the other ropes carried along."""
        stiffness = self.plate.stiffness
        inertia = self.plate.mass + 0.25 * STEP**2 * self.plate.stiffness
        for other in range(column % 2, len(self.planes), 2):
            if other != column:
                plane = self.planes[other]
                shape = plane.carried
                stiffness += float(shape @ (plane.stiffness @ shape))
                inertia += float(shape @ (plane.inertia @ shape))
        return stiffness, inertia

    def at_rest(self, rope: int) -> State:
        """Nothing moves; one rope is to be taken in hand."""
        zeros = np.zeros((self.n_rows, len(self.planes)))
        return State(
            shape=zeros,
            change=zeros.copy(),
            plate=np.zeros(2),
            plate_change=np.zeros(2),
            stretch=np.zeros(1),
            rope=rope,
        )

    def step(self, state: State, n_steps: int, ear: Ear, hand: Hand) -> Array:
        """Step on in place; return what is heard, shape (n_steps, n_columns)."""
        heard = np.zeros((n_steps, len(self.planes)))
        step_on(
            (state.shape, state.change, state.plate, state.plate_change),
            state.stretch,
            self.arrays,
            (
                state.rope,
                hand.held_shape,
                hand.held_plate,
                STEP**2 * hand.force,
                STEP**2 * hand.extra,
            ),
            (hand.pulled, hand.held, hand.kept),
            (ear.windows, ear.rods, ear.reach),
            heard,
        )
        return heard

    def energy(self, state: State) -> float:
        """Of the scheme, between the last moment and this. [J]"""
        total = 0.5 * float(self.axial_stiffness[state.rope] * state.stretch[0] ** 2)
        for column, plane in enumerate(self.planes):
            p = column % 2
            now = np.append(state.shape[2:-2, column], state.plate[p])
            change = np.append(state.change[2:-2, column], state.plate_change[p])
            total += 0.5 * float(change @ (plane.inertia @ change)) / STEP**2
            total += 0.5 * float(now @ (plane.stiffness @ (now - change)))
        inertia = self.plate.mass + 0.25 * STEP**2 * self.plate.stiffness
        moved = float(np.sum(state.plate_change**2)) / STEP**2
        bent = float(state.plate @ (state.plate - state.plate_change))
        return total + 0.5 * (inertia * moved + self.plate.stiffness * bent)


def no_hand(hoist: Hoist, n_steps: int) -> Hand:
    """Nobody touches anything."""
    zeros = np.zeros((hoist.n_rows, len(hoist.planes)))
    return Hand(
        held_shape=zeros,
        held_plate=np.zeros(2),
        force=zeros[:, :2],
        extra=zeros[:, :2],
        pulled=np.zeros(n_steps + 1),
        held=np.zeros(n_steps),
        kept=np.ones(n_steps),
    )
