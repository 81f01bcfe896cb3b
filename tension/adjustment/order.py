"""The way there: in which order the nuts are turned, so that every rope stays loaded.

Until the car runs, a turn works by this hitch's spring and this fall alone.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.physics.hitch_statics import tension_changes

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, slots=True)
class Way:
    """What limits the way from one set of tensions to the next, car not moved."""

    tensions: FloatArray  # before the first nut [N], shape (n_ropes,)
    stiffnesses: FloatArray  # before the car has run [N/m], shape (n_ropes,)
    # how much stiffer the ropes may be than thought, relative [1]
    stiffness_margin: float
    # no rope may pass these on the way [N], shape (n_ropes,)
    lowest: FloatArray
    highest: FloatArray

    def room(self, travels: FloatArray) -> float:
        """How far every rope stays from its limits once some nuts have been turned.

        Parameters
        ----------
        travels : ndarray, shape (..., n_ropes)
            Travel of every nut so far. [m]

        Returns
        -------
        float
            Of the rope and stiffness that come nearest; negative if a limit is
            passed. [N]
        """
        nearest = np.inf
        for factor in (1.0, 1.0 + self.stiffness_margin):
            k = self.stiffnesses * factor
            after = self.tensions + tension_changes(travels, k)
            room = np.minimum(after - self.lowest, self.highest - after)
            nearest = min(nearest, float(room.min()))
        return nearest

    def is_kept(self, order: tuple[int, ...], travels: FloatArray) -> bool:
        """Whether every rope stays within its limits after each nut.

        Parameters
        ----------
        order : tuple of int
            Places of the ropes whose nuts are turned, first to last.
        travels : ndarray, shape (n_ropes,)
            Travel of every nut in the end. [m]

        Returns
        -------
        bool
            True if no limit is passed.
        """
        return self.least_room(order, travels) >= 0.0

    def least_room(self, order: tuple[int, ...], travels: FloatArray) -> float:
        """How near any rope comes to its limits after any nut.

        Parameters
        ----------
        order : tuple of int
            Places of the ropes whose nuts are turned, first to last.
        travels : ndarray, shape (n_ropes,)
            Travel of every nut in the end. [m]

        Returns
        -------
        float
            Negative if a limit is passed. [N]
        """
        so_far = np.zeros(len(travels))
        least = np.inf
        for place in order:
            so_far[place] = travels[place]
            least = min(least, self.room(so_far))
        return float(least)


def trade_order(tensions: FloatArray, travels: FloatArray) -> tuple[int, ...]:
    """Order of the trade: the slackest rope first, then the tightest, and so on.

    Parameters
    ----------
    tensions : ndarray, shape (n_ropes,)
        Before. [N]
    travels : ndarray, shape (n_ropes,)
        Travel of every nut; those without travel are left out. [m]
    """
    by_tension = [int(i) for i in np.argsort(tensions, kind="stable")]
    take_up = [i for i in by_tension if travels[i] > 0.0]
    ease = [i for i in reversed(by_tension) if travels[i] < 0.0]
    order: list[int] = []
    while take_up or ease:
        if take_up:
            order.append(take_up.pop(0))
        if ease:
            order.append(ease.pop(0))
    return tuple(order)


def find_order(way: Way, travels: FloatArray) -> tuple[int, ...] | None:
    """Find an order of the nuts that keeps every rope within its limits.

    Parameters
    ----------
    way : Way
        Tensions before and the limits.
    travels : ndarray, shape (n_ropes,)
        Travel of every nut. [m]

    Returns
    -------
    tuple of int or None
        Places of the ropes, first to last; None if no order keeps the limits.

    Notes
    -----
    The order of the trade is taken if it keeps the limits. Else the order that stays
    furthest from them is found among all: what the ropes carry depends only on which
    nuts have been turned, so the best way to each group of nuts is the better of the
    best ways to the groups one nut smaller.
    """
    usual = trade_order(way.tensions, travels)
    if way.is_kept(usual, travels):
        return usual
    best = _widest_order(way, travels, usual)
    return best if way.is_kept(best, travels) else None


def _widest_order(
    way: Way, travels: FloatArray, places: tuple[int, ...]
) -> tuple[int, ...]:
    """Order whose nearest approach to a limit is furthest, over all groups of nuts."""
    n = len(places)
    groups = np.arange(1 << n)
    turned = (groups[:, None] >> np.arange(n)) & 1
    so_far = np.zeros((len(groups), len(travels)))
    so_far[:, list(places)] = turned * travels[list(places)]
    room = _rooms(way, so_far)
    width = np.full(len(groups), -np.inf)
    last = np.zeros(len(groups), dtype=np.int64)
    width[0] = np.inf
    for group in range(1, len(groups)):
        members = [i for i in range(n) if group >> i & 1]
        before = [width[group & ~(1 << i)] for i in members]
        best = int(np.argmax(before))
        width[group] = min(before[best], room[group])
        last[group] = members[best]
    order: list[int] = []
    group = len(groups) - 1
    while group:
        order.append(places[int(last[group])])
        group &= ~(1 << int(last[group]))
    return tuple(reversed(order))


def _rooms(way: Way, so_far: FloatArray) -> FloatArray:
    """Room to the limits after each group of nuts."""
    nearest = np.full(len(so_far), np.inf)
    for factor in (1.0, 1.0 + way.stiffness_margin):
        k = way.stiffnesses * factor
        rise = so_far @ k / k.sum()
        after = way.tensions + k * (so_far - rise[:, None])
        room = np.minimum(after - way.lowest, way.highest - after).min(axis=1)
        nearest = np.minimum(nearest, room)
    return nearest


def split_steps(steps: IntArray, n_stages: int) -> list[IntArray]:
    """Split steps into stages between which the car runs.

    Parameters
    ----------
    steps : ndarray of int, shape (n_ropes,)
        Steps of each nut in all.
    n_stages : int
        Number of stages, 1 or more.

    Returns
    -------
    list of ndarray of int
        Whole steps of each stage; they sum to the steps.
    """
    so_far = np.zeros(len(steps), dtype=np.int64)
    stages = []
    for stage in range(1, n_stages + 1):
        until = np.trunc(steps * stage / n_stages + np.sign(steps) * 0.4999)
        until = until.astype(np.int64) if stage < n_stages else steps
        stages.append(until - so_far)
        so_far = until
    return stages
