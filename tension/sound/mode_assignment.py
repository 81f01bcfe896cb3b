"""Numberings: series that lines could be, fitted, each with a log-likelihood."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from math import sqrt
from typing import Self

import numpy as np
from numpy.typing import NDArray

from tension.physics import partials as physics
from tension.sound.hearing import Array, Counts
from tension.sound.spectra import Lines, envelope, first_of_each, power_of_two
from tension.sound.string_fit import Candidate, PartialSeries, StringFit, series_of

MOST_PARTIALS = 48
"""Mode numbers looked at in the search; the fit that follows uses all."""
LEAST_WORTH = 0.1
"""ln of how much likelier a line is as partial than as stray, to be searched. [1]"""
MOST_CANDIDATES = 24  # candidates kept per octave of the fundamental
SCATTERS = (1.5e-4, 5e-4, 1.5e-3)
"""Relative scatter of partials about the string: none, polarisations, a hitch."""
SCATTER_WEIGHTS = (0.4, 0.4, 0.2)
DEGREES = 4.0
"""Of Student's t for the place of a partial: some are pulled by neighbours."""
RELATIONS = np.array([1.0 / 3.0, 0.5, 2.0 / 3.0, 1.5, 2.0, 3.0])
"""Rivals by counting every line as another multiple."""
SHIFTS = np.array([-3, -2, -1, 1, 2, 3])  # rivals by counting on from another line
CLEAR = 100.0  # evidence beyond which the first fit needs no second look [1]
AGAIN, NARROW = 4, 0.05
"""Numberings looked at again, and the gate, in spacings: a neighbour that rings along
falls into a wide one, and the fit stops between two ropes. [1]"""
BESIDE = np.array(
    list(product(np.arange(0.99, 1.011, 0.0025), (0.85, 0.92, 1.0, 1.08, 1.17)))
)
"""Where it starts, over the spacing and dispersion of the first fit. [1]"""
SAME_PITCH = 0.004  # assignments so near in ln pitch are one [1]
FEW_SERIES = 20  # fewer are weighed in one table, whatever their sizes [1]
FIRST, GROWTH = 10.0, 1.6
"""Partials the fit begins with, and by which it extends their number each round. [1]"""
GATES = (0.2, 0.07)  # first gates of the fit, in spacings [1]
SEEN = 0.9  # share of partials seen where the envelope stands far over the noise
FADE = 5.0  # scatter of partials about their envelope, nodes of pluck and sensor [dB]
THRESHOLD = 16.0
"""Envelope at which half of the partials are found: 10 dB is seen, and most are under
the envelope. [dB]"""
DEPTH = 22.0  # partials lie so far under the envelope only next to a node [dB]
NODE_PRIOR = 0.05
"""Probability that pluck or sensor sits on the node of every k-th partial."""
NODE_ORDERS = (2, 3, 4, 5)


def _dispersion_grid(spacing: float, highest: float, largest: float) -> Array:
    """Dispersions to try, from 0 [s^2]: steps move the top by a fifth of the spacing.

    A cubic phase error, fitted by a change of spacing, leaves about a third of itself
    at the ends; u^3/2 per dispersion and spacing then gives the step 2 f_0/u^3.
    """
    grid = [0.0]
    while grid[-1] < largest:
        root = sqrt(1.0 + 4.0 * grid[-1] * highest**2)
        # the cube of `unstiffened`, of one number
        top3 = highest**3 * sqrt(2.0 / (1.0 + root)) ** 3
        step = max(2.0 * spacing / top3, 0.02 * grid[-1], 2e-4 * largest)
        grid.append(grid[-1] + step)
    return np.array(grid)


def find_series(
    lines: Lines,
    lowest: float,
    highest: float,
    largest_dispersion: float,
    n_clamped_ends: int,
) -> PartialSeries:
    """Find the spacings and dispersions at which many lines fall on a series.

    `lowest`, `highest` [Hz]: range of the spacing; `largest_dispersion` [s^2]: largest
    dispersion tried.

    Notes
    -----
    On an axis that undoes the dispersion the lines stand at multiples of the spacing;
    the cosine transform of the lines is then large at 1/spacing. The cosine is positive
    at places of the series and negative at the mid-points, so a series at double the
    spacing loses and one at half the spacing gains nothing.
    """
    edges = [lowest]
    while edges[-1] < highest:
        edges.append(min(2.0 * edges[-1], highest))
    octaves = [
        _search_octave(lines, low, high, largest_dispersion, n_clamped_ends)
        for low, high in pairwise(edges)
    ]
    spacings, dispersions = zip(*octaves, strict=True)
    return PartialSeries(
        string_fundamentals=np.concatenate(spacings),
        dispersions=np.concatenate(dispersions),
        n_clamped_ends=n_clamped_ends,
    )


def _search_octave(
    lines: Lines, low: float, high: float, largest: float, n_clamped_ends: int
) -> tuple[Array, Array]:
    """Spacings and dispersions found in one octave of the spacing."""
    strength = lines.strengths
    top = max(lines.start(0.1) + 0.5 * MOST_PARTIALS * high, MOST_PARTIALS * low)
    used = (lines.frequencies <= top) & (strength > LEAST_WORTH)
    frequencies, strength = lines.frequencies[used], strength[used]
    if frequencies.size < 2:
        return np.empty(0), np.empty(0)
    grid = _dispersion_grid(low, float(frequencies[-1]), largest)
    cell = low / 8.0
    unstiff = physics.unstiffened(frequencies, grid[:, None])
    turn = physics.end_phase(unstiff, grid[:, None], n_clamped_ends)
    n_cells = int(frequencies[-1] / cell) + 2
    n_transform = power_of_two(4 * n_cells)
    index = np.floor(unstiff / cell).astype(np.int64)
    fraction = unstiff / cell - index
    flat = np.arange(grid.size)[:, None] * n_transform + index
    phasor = strength * np.exp(2j * np.pi * turn)
    cells = np.stack([flat, flat + 1]).ravel()
    weight = np.stack([phasor * (1.0 - fraction), phasor * fraction]).ravel()
    partials = np.empty(grid.size * n_transform, dtype=np.complex64)
    partials.real = np.bincount(cells, weight.real, partials.size)
    partials.imag = np.bincount(cells, weight.imag, partials.size)
    transform = np.fft.fft(partials.reshape(grid.size, n_transform), axis=1).real
    rate = 1.0 / (n_transform * cell)
    first = max(1, int(1.0 / high / rate))
    last = min(n_transform // 4 - 1, int(np.ceil(1.0 / low / rate)))
    inverse = np.arange(first, last + 1)
    score = transform[:, inverse] + 0.5 * transform[:, 2 * inverse]
    rows, columns = _highest(score)
    return np.asarray(1.0 / (inverse[columns] * rate), np.float64), grid[rows]


def _highest(score: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns of the highest local maxima."""
    around = np.pad(score, 1, constant_values=-np.inf)
    around = np.maximum(np.maximum(around[:-2], around[1:-1]), around[2:])
    around = np.maximum(np.maximum(around[:, :-2], around[:, 1:-1]), around[:, 2:])
    rows, columns = np.nonzero(score >= around)
    best = np.argsort(-score[rows, columns])[:MOST_CANDIDATES]
    return rows[best], columns[best]


@dataclass(frozen=True, kw_only=True, slots=True)
class ModeAssignments(PartialSeries):
    """Ways to number the lines of one rope, one element each."""

    log_likelihoods: Array  # against stray lines only [1], shape (n_series,)
    # every so-many-th partial is missing; 0 if none is, shape (n_series,)
    node_orders: Counts
    # first natural frequencies, stiffness included [Hz], shape (n_series,)
    fundamental_frequencies: Array

    def best_with(
        self, *others: Self, within: tuple[float, float], most: int = 16
    ) -> Self:
        """Give the likeliest of each pitch within a range [Hz], in order, so many."""
        every = self.joined(*others).within(*within)
        pitches = np.log(every.fundamental_frequencies)
        return every.of(np.array(first_of_each(pitches, SAME_PITCH, most), np.intp))

    def within(self, low: float, high: float) -> Self:
        """Give those whose pitch lies in a range [Hz], likeliest first."""
        order = np.argsort(-self.log_likelihoods, kind="stable")
        pitch = self.fundamental_frequencies[order]
        return self.of(order[(low <= pitch) & (pitch <= high)])

    def candidates(self, fits: Sequence[StringFit]) -> tuple[Candidate, ...]:
        """Give the strings fitted to each with what its numbering says."""
        found = zip(fits, self.log_likelihoods, self.node_orders, strict=True)
        return tuple(
            Candidate(fit=fit, log_likelihood=float(log), node_order=int(order))
            for fit, log, order in found
        )


def fit_series(
    lines: Lines,
    series: PartialSeries,
    numbers: Counts | None = None,
    rounds: int = 7,
    gate: float = 0.2,
) -> PartialSeries:
    """Refine series by robust weighted straight lines of (f/n)^2 over n^2.

    `numbers` (n_series, n_lines): mode numbers for the first round; nearest places if
    not given; `rounds`: how often the gate is narrowed and the fit repeated; `gate`
    [1]: of the first round, in spacings.

    Notes
    -----
    f = u sqrt(1 + kappa u^2) with u = f_0 (n + end phase) = f_0 p gives (f/p)^2 = f_0^2
    + f_0^4 kappa p^2, linear but for the end phase, which is taken from the round
    before.
    """
    frequency = lines.frequencies
    lowest = lines.start(0.05)
    # squared: many stray lines together must not pull a series off its partials
    worth = lines.strengths**2
    spacing = series.string_fundamentals[:, None]
    dispersion = series.dispersions[:, None]
    for turn in range(rounds):
        unstiff = physics.unstiffened(frequency, dispersion)
        phase = physics.end_phase(unstiff, dispersion, series.n_clamped_ends)
        told = numbers if turn == 0 else None
        near = unstiff / spacing - phase if told is None else told
        n = np.maximum(np.rint(near), 1.0) + phase
        predicted = n * spacing * np.sqrt(1.0 + dispersion * (n * spacing) ** 2)
        residual = frequency - predicted
        reach = spacing * max(gate * 0.6**turn, 0.01)
        sigma2 = lines.uncertainties**2 + (5e-4 * frequency) ** 2 + (0.3 * reach) ** 2
        weight = worth / sigma2
        if told is None:
            weight /= (1.0 + residual**2 / sigma2 / 4.0) ** 2
            if turn < rounds - 2:
                # from the lowest partials upwards: a count goes astray at the top first
                weight *= n < lowest / spacing + FIRST * GROWTH**turn
        else:
            weight = weight * (told > 0)
        # y = (f/n)^2 has dy = 2 f df / n^2
        weight = weight * (n**2 / (2.0 * frequency)) ** 2 + 1e-30
        square, slope = _straight_line(n**2, (frequency / n) ** 2, weight)
        spacing = np.sqrt(np.maximum(square, 1e-12))
        dispersion = slope / spacing**4
    return PartialSeries(
        string_fundamentals=spacing[:, 0],
        dispersions=dispersion[:, 0],
        n_clamped_ends=series.n_clamped_ends,
    )


def _straight_line(x: Array, y: Array, weight: Array) -> tuple[Array, Array]:
    """Weighted straight line through each row, level and slope; neither is negative."""
    s0 = weight.sum(axis=1, keepdims=True)
    mean_x = (weight * x).sum(axis=1, keepdims=True) / s0
    mean_y = (weight * y).sum(axis=1, keepdims=True) / s0
    sxx = (weight * (x - mean_x) ** 2).sum(axis=1, keepdims=True)
    sxy = (weight * (x - mean_x) * (y - mean_y)).sum(axis=1, keepdims=True)
    slope = np.maximum(sxy / (sxx + 1e-12 * s0 * mean_x**2), 0.0)
    level = mean_y - slope * mean_x
    low = level < 0.2 * mean_y
    level = np.where(low, 0.2 * mean_y, level)
    return level, np.where(low, 0.8 * mean_y / mean_x, slope)


def weigh_series(
    lines: Lines, series: PartialSeries, table: Array | None = None
) -> ModeAssignments:
    """Log-likelihood of each series against lines that are all stray.

    `table` (n_series, n_most) [Hz]: where the partials stand, by number from 0, if
    known already; enough for all lines.

    Notes
    -----
    A line is the partial next to it, with Student's t about its place, or stray, with
    the density of stray lines at least as high. A partial not seen between two that are
    seen costs as much as the envelope between them says it should have been seen; a
    pluck at a node of every k-th partial may explain the holes at a price.
    """
    n = np.maximum(np.rint(series.places(lines.frequencies)), 1.0)
    weights, orders, first = np.empty((3, n.shape[0]))
    # series with about as many partials go together: tables have no holes
    octave = np.ceil(np.log2(n.max(axis=1))) * (len(n) >= FEW_SERIES)
    for one in np.unique(octave):
        rows = np.flatnonzero(octave == one)
        number = np.arange(n[rows].max() + 1.0)[None, :]
        if table is None:
            partials = series.of(rows).partials(number)
        else:
            partials = table[rows, : number.size]
        numbers = n[rows].astype(np.int64)
        near = np.take_along_axis(partials, numbers, axis=1)
        weights[rows], orders[rows] = weigh_places(lines, numbers, near, partials)
        first[rows] = partials[:, 1]
    return ModeAssignments(
        string_fundamentals=series.string_fundamentals,
        dispersions=series.dispersions,
        n_clamped_ends=series.n_clamped_ends,
        log_likelihoods=weights,
        node_orders=orders.astype(np.int64),
        fundamental_frequencies=first,
    )


def weigh_places(
    lines: Lines, numbers: Counts, near: Array, partials: Array
) -> tuple[Array, Counts]:
    """Weigh series of any make by where their partials stand.

    `numbers` (n_series, n_lines): number of the partial next to each line, from 1;
    `near` (n_series, n_lines) [Hz]: where that partial stands; `partials` (n_series,
    n_most) [Hz]: where the partials stand, by number from 0.

    Gives log-likelihoods and node orders, each (n_series,), as in `weigh_series`.
    """
    f = lines.frequencies
    residual = f - near
    n_series, n_most = partials.shape
    place = np.arange(n_series)[:, None] * n_most + numbers
    expected = envelope(lines, np.concatenate([f, partials.ravel()]))
    # a line far under the envelope is no partial of the rope that makes it
    deep = expected[: f.size] - 10.0 * np.log10(lines.levels) - DEPTH
    belief = lines.weights / (1.0 + np.exp(np.clip(deep / 2.0, -50.0, 50.0)))
    over = np.clip((expected[f.size :] - THRESHOLD) / FADE, -50, 50)
    chance = SEEN / (1.0 + np.exp(-over))
    scatter = np.array(SCATTERS)[:, None, None]
    sigma = np.sqrt(lines.uncertainties**2 + (scatter * f) ** 2)
    log_t = np.log(0.375 / sigma) - 0.5 * (DEGREES + 1.0) * np.log1p(
        (residual / sigma) ** 2 / DEGREES
    )
    likelier = np.exp(np.minimum(log_t, 20.0)) / lines.densities
    gain = belief * np.log1p(chance[place] * np.maximum(likelier - 1.0, 0.0))
    top = np.zeros((len(SCATTERS), n_series * n_most))
    every = np.arange(len(SCATTERS))[:, None] * n_series * n_most + place.ravel()
    np.maximum.at(top.ravel(), every.ravel(), gain.ravel())
    shape = n_series, n_most
    totals, orders = _ringing_part(top.reshape(-1, *shape), chance.reshape(shape))
    totals += np.log(SCATTER_WEIGHTS)[:, None]
    best = np.argmax(totals, axis=0)
    return np.logaddexp.reduce(totals, axis=0), orders[best, np.arange(n_series)]


def _ringing_part(gain: Array, chance: Array) -> tuple[Array, Counts]:
    """Weigh each series up to the last partial that rings.

    Above the last nothing is expected: one loud stray line up there tells of no
    partials that are missing below it.

    `gain` (n_scatters, n_series, n_most) [1]: what the line at each place speaks for
    the series; `chance` (n_series, n_most) [1]: that a partial there would be seen.
    Gives log-likelihoods and node orders, each (n_scatters, n_series).
    """
    seen = gain > 0.7
    hole = np.log1p(-chance)
    hole[:, 0] = 0.0
    whole = np.where(seen, gain, gain + hole)
    best = np.cumsum(whole, axis=-1).max(axis=-1)
    order = np.zeros(best.shape, dtype=np.int64)
    for k in NODE_ORDERS:
        # a node hides its partials; one seen all the same speaks against it
        hidden = whole.copy()
        every = gain[..., ::k]
        hidden[..., ::k] = np.where(seen[..., ::k], every + np.log(1.0 - SEEN), every)
        total = np.cumsum(hidden, axis=-1, out=hidden).max(axis=-1)
        total += np.log(NODE_PRIOR)
        order[total > best] = k
        best = np.maximum(best, total)
    return best, order


def find_assignments(
    lines: Lines, series: PartialSeries, within: tuple[float, float]
) -> ModeAssignments:
    """Fit the series and their rivals and weigh them, fundamentals within [Hz]."""
    # a wide gate forgives a coarse search, a narrow one keeps stray lines out
    wide, narrow = (
        weigh_series(lines, fit_series(lines, series, gate=gate)) for gate in GATES
    )
    found = wide.best_with(narrow, within=within, most=12)
    for _ in range(2):
        more = found.of(slice(8)).spread(RELATIONS)
        related = weigh_series(lines, fit_series(lines, more, rounds=6))
        shifted = weigh_series(lines, _shifted(lines, found.joined(related)))
        found = found.best_with(related, shifted, within=within)
    if found.log_likelihoods.size and found.log_likelihoods[0] < CLEAR:
        near = found.of(slice(AGAIN)).spread(BESIDE[:, 0], BESIDE[:, 1])
        fitted = fit_series(lines, near, rounds=4, gate=NARROW)
        found = found.best_with(weigh_series(lines, fitted), within=within)
    return found


def find_related(
    lines: Lines, fits: Sequence[StringFit], within: tuple[float, float]
) -> ModeAssignments:
    """Fit the strings that count every line of some strings as another multiple.

    Likeliest first, fundamentals within [Hz].
    """
    related = series_of(fits).spread(RELATIONS)
    found = weigh_series(lines, fit_series(lines, related, gate=GATES[1]))
    return found.within(*within)


def _shifted(lines: Lines, found: PartialSeries) -> PartialSeries:
    """Series fitted as the first few, counted on from another line."""
    starts = found.of(slice(4))
    place = starts.places(lines.frequencies)
    whole = np.rint(place)
    near = np.abs(place - whole) < 0.1
    k = whole.astype(np.int64)[:, None, :] + SHIFTS[:, None]
    numbers = np.where(near[:, None, :] & (k > 0), k, 0)
    numbers = numbers.reshape(-1, lines.frequencies.size)
    return fit_series(lines, starts.spread(np.ones(SHIFTS.size)), numbers)
