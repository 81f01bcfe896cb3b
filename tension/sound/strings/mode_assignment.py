"""Numberings: rival combs fitted to the lines, each with a log-likelihood."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.physics.partials import (
    end_phase,
    mode_frequencies,
    places,
    unstiffened,
)
from tension.sound.lines.spectra import Lines, envelope
from tension.sound.strings.comb import Combs
from tension.sound.strings.string_fit import StringFit

SCATTERS = (1.5e-4, 5e-4, 1.5e-3)
"""Relative scatter of partials about the string: none, polarisations, a hitch."""
SCATTER_WEIGHTS = (0.4, 0.4, 0.2)
DEGREES = 4.0
"""Of Student's t for the place of a partial: some are pulled by neighbours."""
RELATIONS = (1.0 / 3.0, 0.5, 2.0 / 3.0, 1.5, 2.0, 3.0)
"""Rivals by counting every line as another multiple."""
SHIFTS = (-3, -2, -1, 1, 2, 3)
"""Rivals by counting on from another line."""
CLEAR = 100.0
"""Evidence beyond which the first fit needs no second look. [1]"""
AGAIN, NARROW = 4, 0.05
"""Numberings looked at again, and the gate, in spacings: a neighbour that rings along
falls into a wide one, and the fit stops between two ropes. [1]"""
BESIDE = np.array(
    [
        (spacing, dispersion)
        for spacing in np.arange(0.99, 1.011, 0.0025)
        for dispersion in (0.85, 0.92, 1.0, 1.08, 1.17)
    ]
)
"""Where it starts, over the spacing and dispersion of the first fit. [1]"""
FIRST, GROWTH = 10.0, 1.6
"""Partials the fit begins with, and by which it extends their number each round. [1]"""
GATES = (0.2, 0.07)
"""First gates of the fit, in spacings. [1]"""
SEEN = 0.9
"""Share of partials seen where the envelope stands far over the noise."""
FADE = 5.0
"""Scatter of partials about their envelope, nodes of pluck and sensor. [dB]"""
THRESHOLD = 16.0
"""Envelope at which half of the partials are found: 10 dB is seen, and most are under
the envelope. [dB]"""
DEPTH = 22.0
"""Partials lie so far under the envelope only next to a node. [dB]"""
NODE_PRIOR = 0.05
"""Probability that pluck or sensor sits on the node of every k-th partial."""
NODE_ORDERS = (2, 3, 4, 5)


@dataclass(frozen=True, kw_only=True, slots=True)
class ModeAssignment:
    """One way to number the lines of one rope.

    Attributes
    ----------
    spacing : float
        f_0. [Hz]
    dispersion : float
        Inharmonicity over spacing squared. [s^2]
    log_likelihood : float
        Against stray lines only. [1]
    n_hits : int
        Lines on the comb.
    node_order : int
        Every so-many-th partial is missing; 0 if none is.
    fundamental_frequency : float
        First natural frequency, stiffness included. [Hz]
    """

    spacing: float
    dispersion: float
    log_likelihood: float
    n_hits: int
    node_order: int
    fundamental_frequency: float


def fit_combs(
    lines: Lines,
    combs: Combs,
    n_clamped_ends: int,
    numbers: NDArray[np.int64] | None = None,
    rounds: int = 7,
    gate: float = 0.2,
) -> Combs:
    """Refine combs by robust weighted straight lines of (f/n)^2 over n^2.

    Parameters
    ----------
    lines : Lines
        Lines of the rings.
    combs : Combs
        Where to start.
    n_clamped_ends : int
        0, 1 or 2.
    numbers : ndarray, shape (n_combs, n_lines), optional
        Mode numbers for the first round; nearest places if not given.
    rounds : int
        How often the gate is narrowed and the fit repeated.
    gate : float
        Of the first round, in spacings. [1]

    Notes
    -----
    f = u sqrt(1 + kappa u^2) with u = f_0 (n + end phase) = f_0 p gives (f/p)^2 = f_0^2
    + f_0^4 kappa p^2, linear but for the end phase, which is taken from the round
    before.
    """
    frequency = lines.frequencies[None, :]
    lowest = _lowest(lines)
    # squared: many stray lines together must not pull a comb off its partials
    worth = (lines.weights * np.log1p(0.02 / lines.densities)) ** 2
    spacing = combs.spacings[:, None].copy()
    dispersion = combs.dispersions[:, None].copy()
    for turn in range(rounds):
        unstiff = unstiffened(frequency, dispersion)
        phase = end_phase(unstiff, dispersion, n_clamped_ends)
        if turn > 0 or numbers is None:
            n = np.maximum(np.rint(unstiff / spacing - phase), 1.0)
        else:
            n = np.maximum(numbers.astype(np.float64), 1.0)
        n = n + phase
        predicted = n * spacing * np.sqrt(1.0 + dispersion * (n * spacing) ** 2)
        residual = frequency - predicted
        reach = spacing * max(gate * 0.6**turn, 0.01)
        sigma = np.sqrt(
            lines.uncertainties**2 + (5e-4 * frequency) ** 2 + (0.3 * reach) ** 2
        )
        weight = worth / sigma**2 / (1.0 + (residual / sigma) ** 2 / 4.0) ** 2
        if turn < rounds - 2:
            # from the lowest partials upwards: a count goes astray at the top first
            weight *= n < lowest / spacing + FIRST * GROWTH**turn
        if turn == 0 and numbers is not None:
            weight = worth / sigma**2 * (numbers > 0)
        # y = (f/n)^2 has dy = 2 f df / n^2
        y = (frequency / n) ** 2
        weight = weight * (n**2 / (2.0 * frequency)) ** 2 + 1e-30
        x = n**2
        s0 = weight.sum(axis=1, keepdims=True)
        mean_x = (weight * x).sum(axis=1, keepdims=True) / s0
        mean_y = (weight * y).sum(axis=1, keepdims=True) / s0
        sxx = (weight * (x - mean_x) ** 2).sum(axis=1, keepdims=True)
        sxy = (weight * (x - mean_x) * (y - mean_y)).sum(axis=1, keepdims=True)
        slope = np.maximum(sxy / (sxx + 1e-12 * s0 * mean_x**2), 0.0)
        square = mean_y - slope * mean_x
        low = square < 0.2 * mean_y
        square = np.where(low, 0.2 * mean_y, square)
        slope = np.where(low, 0.8 * mean_y / mean_x, slope)
        spacing = np.sqrt(np.maximum(square, 1e-12))
        dispersion = slope / spacing**4
    return Combs(spacings=spacing[:, 0], dispersions=dispersion[:, 0])


def _lowest(lines: Lines) -> float:
    """Frequency under which few lines lie. [Hz]."""
    strength = np.cumsum(lines.weights * np.log1p(0.02 / lines.densities))
    return float(lines.frequencies[int(np.searchsorted(strength, 0.05 * strength[-1]))])


def weigh_combs(
    lines: Lines, combs: Combs, n_clamped_ends: int
) -> tuple[ModeAssignment, ...]:
    """Log-likelihood of each comb against lines that are all stray.

    Parameters
    ----------
    lines : Lines
        Lines of the rings.
    combs : Combs
        To weigh.
    n_clamped_ends : int
        0, 1 or 2.

    Notes
    -----
    A line is the partial next to it, with Student's t about its place, or stray, with
    the density of stray lines at least as high. A partial not seen between two that are
    seen costs as much as the envelope between them says it should have been seen; a
    pluck at a node of every k-th partial may explain the holes at a price.
    """
    f = lines.frequencies[None, :]
    spacing = combs.spacings[:, None]
    dispersion = combs.dispersions[:, None]
    n = np.maximum(np.rint(places(f, spacing, dispersion, n_clamped_ends)), 1.0)
    number = np.arange(float(int(n.max()) + 1))[None, :]
    comb = mode_frequencies(number, spacing, dispersion, n_clamped_ends)
    near = mode_frequencies(n, spacing, dispersion, n_clamped_ends)
    weight = weigh_places(lines, n.astype(np.int64), near, comb)
    return tuple(
        ModeAssignment(
            spacing=float(combs.spacings[k]),
            dispersion=float(combs.dispersions[k]),
            log_likelihood=float(weight.log_likelihoods[k]),
            n_hits=int(weight.hits[k]),
            node_order=int(weight.node_orders[k]),
            fundamental_frequency=float(comb[k, 1]),
        )
        for k in range(combs.spacings.size)
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Weight:
    """Weights of combs, one element each.

    Attributes
    ----------
    log_likelihoods : ndarray, shape (n_combs,)
        Against stray lines only. [1]
    hits : ndarray, shape (n_combs,)
        Lines on the comb.
    node_orders : ndarray, shape (n_combs,)
        Every so-many-th partial is missing; 0 if none is.
    """

    log_likelihoods: NDArray[np.float64]
    hits: NDArray[np.int64]
    node_orders: NDArray[np.int64]


def weigh_places(
    lines: Lines,
    numbers: NDArray[np.int64],
    near: NDArray[np.float64],
    comb: NDArray[np.float64],
) -> Weight:
    """Weigh combs of any make by where their partials stand.

    Parameters
    ----------
    lines : Lines
        Lines of the rings.
    numbers : ndarray, shape (n_combs, n_lines)
        Number of the partial next to each line, from 1.
    near : ndarray, shape (n_combs, n_lines)
        Where that partial stands. [Hz]
    comb : ndarray, shape (n_combs, n_most)
        Where the partials stand, by number from 0. [Hz]

    Notes
    -----
    As in `weigh_combs`.
    """
    f = lines.frequencies[None, :]
    residual = f - near
    n_combs, n_most = comb.shape
    place = np.arange(n_combs)[:, None] * n_most + numbers
    level = 10.0 * np.log10(lines.levels)
    # a line far under the envelope is no partial of the rope that makes it
    deep = envelope(lines, lines.frequencies) - level - DEPTH
    belief = lines.weights / (1.0 + np.exp(np.clip(deep / 2.0, -50.0, 50.0)))
    expected = envelope(lines, comb)
    chance = SEEN / (1.0 + np.exp(-np.clip((expected - THRESHOLD) / FADE, -50, 50)))
    seen_chance = chance.ravel()[place]
    totals = np.empty((len(SCATTERS), n_combs))
    best = np.full(n_combs, -np.inf)
    orders = np.zeros(n_combs, dtype=np.int64)
    counts = np.zeros(n_combs, dtype=np.int64)
    for row, scatter in enumerate(SCATTERS):
        sigma = np.sqrt(lines.uncertainties**2 + (scatter * f) ** 2)
        log_t = np.log(0.375 / sigma) - 0.5 * (DEGREES + 1.0) * np.log1p(
            (residual / sigma) ** 2 / DEGREES
        )
        likelier = np.exp(np.minimum(log_t, 20.0)) / lines.densities
        gain = belief * np.log1p(seen_chance * np.maximum(likelier - 1.0, 0.0))
        flat = np.zeros(n_combs * n_most)
        np.maximum.at(flat, place.ravel(), gain.ravel())
        top = flat.reshape(n_combs, n_most)
        seen = top > 0.7
        total, order, last = _ringing_part(top, seen, chance)
        totals[row] = total + np.log(SCATTER_WEIGHTS[row])
        better = totals[row] > best
        best[better] = totals[row][better]
        orders[better] = order[better]
        counts[better] = np.sum(seen & (np.arange(n_most) <= last[:, None]), axis=1)[
            better
        ]
    return Weight(
        log_likelihoods=np.logaddexp.reduce(totals, axis=0),
        hits=counts,
        node_orders=orders,
    )


def _ringing_part(
    gain: NDArray[np.float64], seen: NDArray[np.bool_], chance: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64]]:
    """Weigh each comb up to the last partial that rings.

    Above the last nothing is expected: one loud stray line up there tells of no
    partials that are missing below it.

    Parameters
    ----------
    gain : ndarray, shape (n_combs, n_most)
        What the line at each place speaks for the comb. [1]
    seen : ndarray, shape (n_combs, n_most)
        Whether there is one.
    chance : ndarray, shape (n_combs, n_most)
        That a partial there would be seen. [1]

    Returns
    -------
    weights : ndarray, shape (n_combs,)
        Log-likelihoods. [1]
    orders : ndarray, shape (n_combs,)
        Every so-many-th partial is missing; 0 if none is.
    last : ndarray, shape (n_combs,)
        Numbers of the last partials.
    """
    n_combs, n_most = seen.shape
    column = np.arange(n_most)
    hole = np.where(seen | (column == 0), 0.0, np.log1p(-chance))
    best = np.full(n_combs, -np.inf)
    order = np.zeros(n_combs, dtype=np.int64)
    last = np.zeros(n_combs, dtype=np.int64)
    every = np.arange(n_combs)
    for k in (0, *NODE_ORDERS):
        cost = hole
        if k:
            # a node hides its partials; one seen all the same speaks against it
            hidden = np.where(seen, np.log(1.0 - SEEN), 0.0)
            cost = np.where(column % k == 0, hidden, hole)
        running = np.cumsum(gain + cost, axis=1)
        end = np.argmax(running, axis=1)
        total = running[every, end] + (np.log(NODE_PRIOR) if k else 0.0)
        better = total > best
        best[better], order[better], last[better] = total[better], k, end[better]
    return best, order, last


def find_assignments(
    lines: Lines, combs: Combs, lowest: float, highest: float, n_clamped_ends: int
) -> tuple[ModeAssignment, ...]:
    """Fit the combs and their rivals and weigh them.

    Parameters
    ----------
    lines : Lines
        Lines of the rings.
    combs : Combs
        From the search.
    lowest, highest : float
        Range of the fundamental. [Hz]
    n_clamped_ends : int
        0, 1 or 2.
    """
    ends = n_clamped_ends
    # a wide gate forgives a coarse search, a narrow one keeps stray lines out
    found = [
        one
        for gate in GATES
        for one in weigh_combs(lines, fit_combs(lines, combs, ends, gate=gate), ends)
    ]
    found = _distinct(found, lowest, highest)[:12]
    for _ in range(2):
        related = [
            (relation * one.spacing, one.dispersion)
            for one in found[:8]
            for relation in RELATIONS
        ]
        more = Combs(
            spacings=np.array([a for a, _ in related]),
            dispersions=np.array([b for _, b in related]),
        )
        found += weigh_combs(lines, fit_combs(lines, more, ends, rounds=6), ends)
        starts, numbers = [], []
        for one in found[:4]:
            place = places(lines.frequencies, one.spacing, one.dispersion, ends)
            near = np.abs(place - np.rint(place)) < 0.1
            for shift in SHIFTS:
                k = np.rint(place).astype(np.int64) + shift
                numbers.append(np.where(near & (k > 0), k, 0))
                starts.append(one)
        more = Combs(
            spacings=np.array([one.spacing for one in starts]),
            dispersions=np.array([one.dispersion for one in starts]),
        )
        found += weigh_combs(
            lines, fit_combs(lines, more, ends, np.array(numbers)), ends
        )
        found = _distinct(found, lowest, highest)[:16]
    if found and found[0].log_likelihood < CLEAR:
        found += _looked_at_again(lines, found[:AGAIN], ends)
    return tuple(_distinct(found, lowest, highest)[:16])


def find_related(
    lines: Lines, fits: Sequence[StringFit], n_clamped_ends: int
) -> tuple[ModeAssignment, ...]:
    """Fit the strings that count every line of some strings as another multiple.

    Parameters
    ----------
    lines : Lines
        Lines of the rings.
    fits : sequence of StringFit
        Strings fitted well.
    n_clamped_ends : int
        0, 1 or 2.
    """
    pairs = [(r * fit.spacing, fit.dispersion) for fit in fits for r in RELATIONS]
    if not pairs:
        return ()
    spacings, dispersions = np.array(pairs).T
    combs = Combs(spacings=spacings, dispersions=dispersions)
    ends = n_clamped_ends
    return weigh_combs(lines, fit_combs(lines, combs, ends, gate=GATES[1]), ends)


def _looked_at_again(
    lines: Lines, found: list[ModeAssignment], n_clamped_ends: int
) -> tuple[ModeAssignment, ...]:
    """Fits from starts around each assignment, through a narrow gate."""
    near = Combs(
        spacings=np.ravel([one.spacing * BESIDE[:, 0] for one in found]),
        dispersions=np.ravel([one.dispersion * BESIDE[:, 1] for one in found]),
    )
    fitted = fit_combs(lines, near, n_clamped_ends, rounds=4, gate=NARROW)
    return weigh_combs(lines, fitted, n_clamped_ends)


def _distinct(
    found: list[ModeAssignment], lowest: float, highest: float
) -> list[ModeAssignment]:
    """Best of each group of like assignments, in order."""
    kept: list[ModeAssignment] = []
    for one in sorted(found, key=lambda each: -each.log_likelihood):
        f = one.fundamental_frequency
        if not lowest <= f <= highest:
            continue
        if all(abs(np.log(f / other.fundamental_frequency)) > 0.004 for other in kept):
            kept.append(one)
    return kept
