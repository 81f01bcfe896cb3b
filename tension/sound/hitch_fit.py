"""Strings on a swinging hitch end fitted to lines, many at once."""

from dataclasses import replace

import numpy as np

from tension.physics.partials import places
from tension.sound.hitch_resonance import (
    BANDWIDTH,
    N_COLUMNS,
    NOD,
    NOD_BANDWIDTH,
    RESONANCE,
    SQRT_DISPERSION,
    STRING_FUNDAMENTAL,
    Expected,
    HitchResonance,
    end_turn,
)
from tension.sound.mode_assignment import weigh_places
from tension.sound.recording import Array, Counts
from tension.sound.spectra import Lines
from tension.sound.string_fit import LARGEST_SQRT_DISPERSION, StringFit

LARGEST_STEPS = np.array([0.03, 0.4, 0.2, 0.4, 0.2, 0.4])
"""Of the columns in one round. [1]"""
LOWEST = np.log([0.5, 1e-6, 5.0, 0.1, 20.0, 0.02])
HIGHEST = np.log([100.0, LARGEST_SQRT_DISPERSION, 500.0, 100.0, 2000.0, 100.0])
"""Ends outside are none that a rope hangs on."""
SCATTER = 3e-4
"""Relative scatter of partials about the model while ends are sought."""
MODEL_SCATTER = 1e-4
"""What two swings leave of a rod that bends and a socket of some length: finite
elements of rods of 0.05 to 0.45 m are met to 1e-4 in most partials. [1]"""
DEGREES = 4.0
"""Of Student's t."""


def counted(frequencies: Array, ends: Array, n_clamped_ends: int) -> Array:
    """Places of lines, those of the end counted as well.

    `frequencies` (n_lines,) [Hz]: measured; `ends` (n_ends, 6): strings and ends, by
    columns. Gives shape (n_ends, n_lines): numbers, not rounded. [1]
    """
    f = np.atleast_2d(frequencies)
    table = np.exp(ends)
    place = places(
        f,
        table[:, STRING_FUNDAMENTAL : STRING_FUNDAMENTAL + 1],
        table[:, SQRT_DISPERSION : SQRT_DISPERSION + 1] ** 2,
        n_clamped_ends,
    )
    turn = end_turn(f, table[:, [RESONANCE, NOD]], table[:, [BANDWIDTH, NOD_BANDWIDTH]])
    result: Array = place + turn
    return result


def _slopes(frequencies: Array, ends: Array, n_clamped_ends: int) -> Array:
    """Places per hertz."""
    step = 1e-4 * frequencies
    up = counted(frequencies + step, ends, n_clamped_ends)
    down = counted(frequencies - step, ends, n_clamped_ends)
    result: Array = (up - down) / (2.0 * step)
    return result


def _linearised(
    frequencies: Array, ends: Array, n_clamped_ends: int
) -> tuple[Array, Array, Array]:
    """Places, their slopes, and derivatives of the frequency of a place to the columns.

    The last of shape (n_ends, n_lines, 6), of frequencies of shape (n_lines,).
    """
    step, near = 1e-3, 1e-4 * frequencies
    moves = step * np.concatenate([np.eye(N_COLUMNS), -np.eye(N_COLUMNS)])
    moves = np.concatenate([np.zeros((3, N_COLUMNS)), moves])
    f = np.tile(frequencies, (len(moves), 1))
    f[1] += near
    f[2] -= near
    f = np.repeat(f, len(ends), axis=0)
    table = (moves[:, None, :] + ends).reshape(-1, N_COLUMNS)
    every = counted(f, table, n_clamped_ends).reshape(
        len(moves), len(ends), frequencies.size
    )
    slope = (every[1] - every[2]) / (2.0 * near)
    change = every[3 : 3 + N_COLUMNS] - every[3 + N_COLUMNS :]
    # at a given place the frequency falls as the place at a frequency rises
    design = np.moveaxis(-change / (2.0 * step * slope), 0, -1)
    return every[0], slope, design


def refine_ends(
    lines: Lines,
    ends: Array,
    expected: Expected,
    n_clamped_ends: int,
    *,
    gate: float,
    rounds: int = 10,
) -> tuple[Array, Array]:
    """Fit strings and ends to lines, by Gauss and Newton with a narrowing gate.

    `ends` (n_ends, 6): where to start; `gate` [1]: of the first round, in spacings.

    Returns
    -------
    ends : ndarray, shape (n_ends, 6)
        Refined, in the same order.
    normal : ndarray, shape (n_ends, 6, 6)
        Inverse of the covariance of each.
    """
    f = lines.frequencies
    strength = lines.weights * np.log1p(0.02 / lines.densities)
    worth = np.minimum(strength**2, 30.0) / 10.0
    hold = expected.rows.T @ (expected.rows / expected.widths[:, None] ** 2)
    ends, normal = ends.copy(), np.empty(0)
    for turn in range(rounds):
        place, slope, design = _linearised(f, ends, n_clamped_ends)
        residual = (place - np.maximum(np.rint(place), 1.0)) / slope
        reach = max(gate * 0.6**turn, 0.01) / slope
        sigma2 = lines.uncertainties**2 + (SCATTER * f) ** 2 + (0.3 * reach) ** 2
        weight = worth / sigma2 / (1.0 + residual**2 / sigma2 / DEGREES) ** 2
        heavy = weight[..., None] * design
        normal = np.swapaxes(design, 1, 2) @ heavy + hold
        gap = (expected.means - ends @ expected.rows.T) / expected.widths**2
        right = np.einsum("cl,cli->ci", residual, heavy) + gap @ expected.rows
        step = np.linalg.solve(normal, right[..., None])[..., 0]
        ends += np.clip(step, -LARGEST_STEPS, LARGEST_STEPS)
        ends = np.clip(ends, LOWEST, HIGHEST)
    return ends, normal


def weigh_ends(
    lines: Lines,
    ends: Array,
    normal: Array,
    expected: Expected,
    n_clamped_ends: int,
) -> Array:
    """Log-likelihood of strings and ends, the freedom of the end paid for.

    `ends` (n_ends, 6): refined; `normal` (n_ends, 6, 6): inverse covariances. Gives
    shape (n_ends,): comparable with that of a assignment whose socket stands still. [1]

    Notes
    -----
    Laplace's approximation: density of the prior at the best fit, times the volume that
    the lines leave open, for the four columns of the end.
    """
    f = lines.frequencies
    place = counted(f, ends, n_clamped_ends)
    number = np.maximum(np.rint(place), 1.0)
    near = f + (number - place) / _slopes(f[None, :], ends, n_clamped_ends)
    grid = np.geomspace(1.0, 1.05 * float(f[-1]), 1500)
    table = counted(grid, ends, n_clamped_ends)
    numbers = np.arange(float(int(number.max()) + 1))
    partials = np.array([np.interp(numbers, row, grid) for row in table])
    partials[:, 0] = 0.0
    logs, _ = weigh_places(lines, number.astype(np.int64), near, partials)
    off = (ends @ expected.rows.T - expected.means) / expected.widths
    open_volume = np.linalg.slogdet(np.linalg.inv(normal)[:, 2:, 2:])[1]
    paid = 0.5 * open_volume - np.log(expected.widths[1:]).sum()
    result: Array = logs + paid - 0.5 * np.sum(off[:, 1:] ** 2, axis=1)
    return result


def fit_with_hitch(
    lines: Lines,
    end: Array,
    expected: Expected,
    n_clamped_ends: int,
    rounds: int = 8,
) -> StringFit | None:
    """Fit one string and its end to the lines that belong to it.

    `end` (6,): refined.

    Notes
    -----
    As `fit_string`, with the end in the model: partials near a
    resonance move with it, so that they say little of the string.
    """
    one = end[None, :].copy()
    used, number = _match(lines, one, n_clamped_ends)
    if used.size < 5:
        return None
    f = lines.frequencies[used]
    noise = lines.uncertainties[used] / f
    scatter = SCATTER
    hold = expected.rows.T @ (expected.rows / expected.widths[:, None] ** 2)
    covariance = residual = np.empty(0)
    for _ in range(rounds):
        place, slope, moved = _linearised(f, one, n_clamped_ends)
        residual = ((place - number) / slope)[0] / f
        variance = noise**2 + scatter**2
        weight = (DEGREES + 1.0) / (DEGREES + residual**2 / variance) / variance
        design = moved[0] / f[:, None]
        normal = design.T @ (weight[:, None] * design) + hold
        gap = (expected.means - one[0] @ expected.rows.T) / expected.widths**2
        right = design.T @ (weight * residual) + gap @ expected.rows
        one[0] += np.clip(np.linalg.solve(normal, right), -LARGEST_STEPS, LARGEST_STEPS)
        one = np.clip(one, LOWEST, HIGHEST)
        covariance = np.linalg.inv(normal)
        degrees = max(used.size - 5.0, 0.5)
        excess = np.sum(weight * variance * (residual**2 - noise**2)) / degrees
        total = (degrees * max(excess, 0.0) + 2.0 * (2e-4) ** 2) / (degrees + 2.0)
        scatter = float(np.sqrt(total + MODEL_SCATTER**2))
    table = np.exp(one[0]).tolist()
    fit = StringFit(
        string_fundamental=table[STRING_FUNDAMENTAL],
        sqrt_dispersion=table[SQRT_DISPERSION],
        n_clamped_ends=n_clamped_ends,
        covariance=covariance,
        modes=number.astype(np.int64),
        lines=used,
        residuals=residual,
        scatter=scatter,
        hitch=HitchResonance(
            resonances=(table[RESONANCE], table[NOD]),
            bandwidths=(table[BANDWIDTH], table[NOD_BANDWIDTH]),
        ),
    )
    return _without_end(fit, covariance, f)


def _match(lines: Lines, end: Array, n_clamped_ends: int) -> tuple[Counts, Array]:
    """Lines on the series, the highest of each place, and their counted numbers."""
    f = lines.frequencies
    place = counted(f, end, n_clamped_ends)[0]
    slope = _slopes(f[None, :], end, n_clamped_ends)[0]
    number = np.maximum(np.rint(place), 1.0)
    off = np.abs(place - number) / slope
    reach = np.minimum(3.0 * lines.uncertainties + 0.004 * f, 0.15 / slope)
    chosen: dict[int, int] = {}
    for k in np.flatnonzero((off < reach) & (lines.weights > 0.3)).tolist():
        key = int(number[k])
        if key not in chosen or lines.levels[k] > lines.levels[chosen[key]]:
            chosen[key] = k
    used = np.array([chosen[key] for key in sorted(chosen)], dtype=np.int64)
    return used, number[used]


def _without_end(fit: StringFit, covariance: Array, f: Array) -> StringFit:
    """Leave the end out of what is told of the string, lines [Hz] counted with it."""
    assert fit.hitch is not None  # noqa: S101  (given by the caller)
    modes = fit.modes - fit.hitch.lines_below(f)
    # the line of the end and a partial beside it have one number: neither is told
    own = (modes >= 1) & (np.bincount(np.maximum(modes, 0))[np.maximum(modes, 0)] == 1)
    stiff = fit.sqrt_dispersion
    turn = np.diag([1.0, stiff])
    first = fit.slopes(np.ones(1))
    turn[0] = [first[0, 0], first[0, 1] * stiff]
    return replace(
        fit,
        covariance=turn @ covariance[:2, :2] @ turn.T,
        modes=modes[own],
        lines=fit.lines[own],
        residuals=fit.residuals[own],
    )
