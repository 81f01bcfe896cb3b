"""The steps themselves, in plain loops that numba compiles.

States have rows for nodes, padded by two rows of zeros on either side, and columns for
ropes and planes. Compiled, a step is more than ten times faster than whole-array
operations with a banded solver of LAPACK.
"""

import importlib
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def _compiled(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile with numba; without it, say so when the function is called."""
    try:
        numba = importlib.import_module("numba")
    except ModuleNotFoundError:
        return _without_numba
    compiled: Callable[..., Any] = numba.njit(cache=True, fastmath=True)(function)
    return compiled


def _without_numba(*_: object) -> None:
    """Plain loops would take hours."""
    message = "stepping ropes through time needs numba: pip install numba"
    raise ModuleNotFoundError(message)


@_compiled
def _lead(
    own: int,
    state: tuple[Array, ...],
    held_shape: Array,
    held_plate: Array,
    rise: float,
    pulled: float,
    kept: float,
) -> None:
    """Move everything with the hand; the rest of its rope's motion dies a little."""
    u, e, up, _ = state
    for i in range(len(u)):
        for s in range(u.shape[1]):
            u[i, s] += rise * held_shape[i, s]
        for s in range(own, own + 2):
            rest = pulled * held_shape[i, s]
            u[i, s] = rest + kept * (u[i, s] - rest)
            e[i, s] *= kept
    for p in range(2):
        up[p] += rise * held_plate[p]


@_compiled
def _add_product(sign: float, bands: Array, x: Array, y: Array) -> None:
    """y += sign B x for symmetric B of five bands; all columns in one long row."""
    m = x.shape[1]
    n = x.size - 4 * m
    middle, upper, outer = bands[0].ravel(), bands[1].ravel(), bands[2].ravel()
    at, total = x.ravel(), y.ravel()[2 * m :]
    # slices, so that no index can be below zero and the loop becomes a vector loop
    d0, d1, d2, d3, d4 = (
        middle[2 * m :],
        upper[2 * m :],
        outer[2 * m :],
        upper[m:],
        outer,
    )
    x0, x1, x2, x3, x4 = at[2 * m :], at[3 * m :], at[4 * m :], at[m:], at
    for j in range(n):
        total[j] += sign * (
            d0[j] * x0[j]
            + d1[j] * x1[j]
            + d2[j] * x2[j]
            + d3[j] * x3[j]
            + d4[j] * x4[j]
        )


@_compiled
def _slopes(own: int, S: Array, u: Array, w: Array) -> None:
    """w = S u of one rope, both planes."""
    for i in range(2, len(u) - 2):
        for p in range(2):
            s = own + p
            w[i, p] = S[0, i, s] * u[i, s] + S[1, i, s] * u[i + 1, s]
            w[i, p] += S[1, i - 1, s] * u[i - 1, s]


@_compiled
def _solve(F: Array, y: Array, column: int) -> None:
    """Columns of y, the first of which has these factors, in place."""
    n = len(y) - 2
    last = column + y.shape[1]
    for i in range(2, n):
        F1, F2 = F[1, i - 1, column:last], F[2, i - 2, column:last]
        yi, yb, ya = y[i], y[i - 1], y[i - 2]
        for s in range(len(yi)):
            yi[s] -= F1[s] * yb[s] + F2[s] * ya[s]
    for i in range(n - 1, 1, -1):
        F0, F1 = F[0, i, column:last], F[1, i, column:last]
        F2 = F[2, i, column:last]
        yi, yb, ya = y[i], y[i + 1], y[i + 2]
        for s in range(len(yi)):
            yi[s] = F0[s] * yi[s] - F1[s] * yb[s] - F2[s] * ya[s]


@_compiled
def _stiffen(
    own: int, u: Array, solved: tuple[Array, Array, Array], stretch: Array, axial: float
) -> None:
    """Find the stretch of the coming half step, one unknown, and what it changes."""
    y, z, w = solved
    along, stiff = 0.0, 0.0
    for i in range(2, len(u) - 2):
        for p in range(2):
            along += 0.5 * (u[i, own + p] + y[i, own + p]) * w[i, p]
            stiff += 0.25 * axial * z[i, p] * w[i, p]
    coming = (along - stiff * stretch[0]) / (1.0 + stiff)
    back = 0.5 * axial * (coming + stretch[0])
    stretch[0] = coming
    for i in range(2, len(u) - 2):
        for p in range(2):
            y[i, own + p] -= back * z[i, p]


@_compiled
def _move(state: tuple[Array, ...], y: Array) -> None:
    """Take the solved change as the last one and go there."""
    u, e, change = state[0].ravel(), state[1].ravel(), y.ravel()
    for j in range(len(u)):
        e[j] = change[j]
        u[j] += change[j]
        change[j] = 0.0


@_compiled
def _push_plate(
    state: tuple[Array, ...], link: Array, plate: Array, y: Array
) -> tuple[float, float]:
    """What drives rope and plate against each other; returns the plate's part."""
    u, _, up, ep = state
    drive = [plate[1, p] * ep[p] - plate[0, p] * up[p] for p in range(2)]
    for s in range(u.shape[1]):
        for i in range(2):
            drive[s % 2] -= link[i, s] * u[i + 2, s]
            y[i + 2, s] -= link[i, s] * up[s % 2]
    return drive[0] / plate[2, 0], drive[1] / plate[2, 1]


@_compiled
def step_on(
    state: tuple[Array, ...],
    stretch: Array,
    arrays: tuple[Array, ...],
    grip: tuple[int, Array, Array, Array, Array],
    hand: tuple[Array, Array, Array],
    ear: tuple[Array, Array, tuple[int, int]],
    heard: Array,
) -> None:
    """All steps of one hand."""
    K, E, F, S, link, plate, axial = arrays
    rope, held_shape, held_plate, force, extra = grip
    pulled, held, kept = hand
    windows, rods, (low, high) = ear
    u, e, up, ep = state
    y, z = np.zeros_like(u), np.zeros((len(u), 2))
    w = np.zeros_like(z)
    own = 2 * rope
    for k in range(len(heard)):
        rise = pulled[k + 1] - pulled[k]
        _slopes(own, S, u, w)
        if kept[k] < 1.0 or rise != 0.0:
            _lead(own, state, held_shape, held_plate, rise, pulled[k + 1], kept[k])
            _slopes(own, S, u, w)
            stretch[0] = 0.5 * np.sum(w * (u - e)[:, own : own + 2])
        _add_product(1.0, E, e, y)
        _add_product(-1.0, K, u, y)
        first, second = _push_plate(state, link, plate, y)
        if held[k] != 0.0:
            for p in range(2):
                y[:, own + p] += held[k] * force[:, p] + held[k] ** 3 * extra[:, p]
        _solve(F, y, 0)
        z[:] = w
        _solve(F, z, own)
        _stiffen(own, u, (y, z, w), stretch, axial[rope])
        _move(state, y)
        ep[0], ep[1] = first, second
        up[0] += first
        up[1] += second
        for s in range(u.shape[1]):
            heard[k, s] = rods[s] * (e[2, s] - ep[s % 2])
        for i in range(low, high):
            for s in range(u.shape[1]):
                heard[k, s] += windows[i, s] * e[i, s]
