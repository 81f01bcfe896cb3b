"""Strings whose hitch end swings: searched, fitted and weighed against lines.

The end turns the wave and adds lines.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tension.physics.partials import (
    hitch_resonance_frequency,
    mode_positions,
    rod_lateral_stiffness,
)
from tension.sound.hearing import Array, Counts, HearingPrior, RopeSpan
from tension.sound.mode_assignment import weigh_places
from tension.sound.spectra import Lines, first_of_each
from tension.sound.string_fit import (
    LARGEST_SQRT_DISPERSION,
    Candidate,
    HitchResonance,
    StringFit,
    end_turn,
    highest_of_each,
)

STRING_FUNDAMENTAL, SQRT_DISPERSION, RESONANCE, BANDWIDTH, NOD, NOD_BANDWIDTH = range(6)
"""Columns of a table of ends: the natural logarithm of each."""
N_COLUMNS = 6
NOMINAL_TENSION, NOMINAL_RIGIDITY, NOMINAL_MASS = 5000.0, 640.0, 1.5
"""A rod of 16 mm and its socket under a usual load, for what a rod length says of the
resonance; common practice, no source. [N], [N m^2], [kg]"""
ROD_SHARE = 0.5
"""Of the width of the resonance that is left where the rod's length is known. [1]"""
SLACK = 0.06
"""How far ends and EI/m of one set differ, one standard deviation of ln. [1]"""
LARGEST_STEPS = np.array([0.03, 0.4, 0.2, 0.4, 0.2, 0.4])
"""Of the columns in one round. [1]"""
LOWEST = np.log([0.5, 1e-6, 5.0, 0.1, 20.0, 0.02])
HIGHEST = np.log([100.0, LARGEST_SQRT_DISPERSION, 500.0, 100.0, 2000.0, 100.0])
"""Ends outside are none that a rope hangs on."""
SCATTER = 3e-4  # relative scatter of partials about the model while ends are sought
MODEL_SCATTER = 1e-4
"""What two swings leave of a rod that bends and a socket of some length: finite
elements of rods of 0.05 to 0.45 m are met to 1e-4 in most partials. [1]"""
DEGREES = 4.0  # of Student's t
ROUNDS, FIT_ROUNDS = 10, 8  # of Gauss and Newton, of all and of the likeliest [1]
LEAST_USED, LEAST_MODES = 5, 3
"""Lines that a string and its end need, and partials that then are left. [1]"""
SAME_SPACING = 0.003  # of ln: ends of strings so near are one [1]
SPEEDS = (35.0, 180.0)
"""Of waves on ropes that carry a sixth to four times their usual load. [m/s]"""
LOWEST_STRING_FUNDAMENTAL = 3.0  # looked for without a length [Hz]
BLOCK = 8192  # strings weighed at a time, for the memory's sake
TOP = 350.0  # lines looked at first: above it stiffness must be known well [Hz]
MOST_PLACES = 80.0
"""Partials looked at first: of a long rope more are of no use, and cost much."""
FIRST_GATE = 0.05
"""Starts lie so near, in places: wider ones are drawn aside by stray lines. [1]"""
MOST_LINES = 60
MOST_SCORES = 3000  # pairs of string and end among which starts are chosen
MOST_STARTS = 40  # starts refined
MOST_KEPT = 4  # strings tried with several nodding resonances
RESONANCES = np.geomspace(14.0, 190.0, 36)
"""Of the socket to and fro: from a thin rod of 0.5 m to one of 0.1 m. [Hz]"""
NODS = (110.0, 160.0, 230.0, 330.0)  # of the nodding socket [Hz]
WIDTH_STEPS = np.array([-1.2, -0.4, 0.4, 1.2])
"""Widths tried, in standard deviations of the prior. [1]"""
TOLD_RANGE = 0.25
"""How far the wave speed of a rope may lie from that of the others, of its log. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Expected:
    """Gaussian priors of ln bending plus `lean` ln spacings, and the ends' columns."""

    lean: float  # by how many ln spacings [1]
    # expected, and standard deviation [1], shape (5,)
    means: Array
    widths: Array

    @property
    def rows(self) -> Array:
        """Which functions of the columns they are of, (5, 6)."""
        rows = np.eye(N_COLUMNS)[SQRT_DISPERSION:]
        rows[0, STRING_FUNDAMENTAL] = self.lean
        return rows

    def off(self, ends: Array) -> Array:
        """How far ends (n_ends, 6) are off, in widths, (n_ends, n_priors). [1]."""
        return np.asarray((self.means - ends @ self.rows.T) / self.widths)

    def sqrt_dispersion(self, log_fundamental: Array) -> Array:
        """Logarithm of the bending expected at ln of a spacing, shape as given."""
        return np.asarray(self.means[0] - self.lean * log_fundamental)


def expected_ends(span: RopeSpan, prior: HearingPrior) -> Expected:
    """Turn the prior into what is expected of one rope and its end."""
    mean = np.log(2.0 * np.pi) + 0.5 * np.log(prior.rigidity_per_density)
    width = 0.5 * prior.rigidity_width
    if span.free_length is None:
        speed = np.log(prior.usual_wave_speed)
        spread = 2.0 * prior.usual_wave_speed_width
        lean, mean, width = 0.0, mean - 2.0 * speed, width + spread
    else:
        lean, mean = 2.0, mean - 2.0 * np.log(2.0 * span.free_length)
    resonance, resonance_width = prior.resonance, prior.resonance_width
    if span.rod_free:
        stiffness = rod_lateral_stiffness(
            tension=NOMINAL_TENSION,
            rod_free=span.rod_free,
            flexural_rigidity=NOMINAL_RIGIDITY,
        )
        resonance = float(
            hitch_resonance_frequency(
                lateral_stiffness=stiffness, end_mass=NOMINAL_MASS
            )
        )
        resonance_width *= ROD_SHARE
    usual = np.log([resonance, prior.bandwidth, prior.nod, prior.nod_bandwidth])
    spreads = prior.bandwidth_width, prior.nod_width, prior.nod_bandwidth_width
    return Expected(
        lean=lean,
        means=np.append(mean, usual),
        widths=np.array([width, resonance_width, *spreads]),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Ends:
    """Strings and ends, one a row of six logarithms, held against lines."""

    lines: Lines
    expected: Expected
    n_clamped_ends: int

    def places(self, frequencies: Array, ends: Array) -> Array:
        """Places of lines, those of the end counted as well, (n_ends, n_lines)."""
        f = np.atleast_2d(frequencies)
        table = np.exp(ends)
        resonances, widths = [RESONANCE, NOD], [BANDWIDTH, NOD_BANDWIDTH]
        turn = end_turn(f, table[:, resonances], table[:, widths])
        return self.string_places(f, ends) + turn

    def string_places(self, frequencies: Array, ends: Array) -> Array:
        """Places of lines on the strings alone, (n_ends, n_lines)."""
        table = np.exp(ends)
        spacings, bendings = table[:, :1], table[:, 1:2]
        return mode_positions(frequencies, spacings, bendings**2, self.n_clamped_ends)

    def slopes(self, frequencies: Array, ends: Array) -> Array:
        """Places per hertz."""
        step = 1e-4 * frequencies
        up = self.places(frequencies + step, ends)
        return (up - self.places(frequencies - step, ends)) / (2.0 * step)

    def linearised(self, frequencies: Array, ends: Array) -> tuple[Array, Array, Array]:
        """Places, their slopes, and derivatives of frequencies of places to columns.

        The last of shape (n_ends, n_lines, 6), of frequencies of shape (n_lines,).
        """
        step = 1e-3
        place = self.places(frequencies, ends)
        slope = self.slopes(frequencies, ends)
        changes = [
            self.places(frequencies, ends + move)
            - self.places(frequencies, ends - move)
            for move in step * np.eye(N_COLUMNS)
        ]
        # at a given place the frequency falls as the place at a frequency rises
        design = -np.stack(changes, axis=-1) / (2.0 * step * slope[..., None])
        return place, slope, design

    def _refined(self, ends: Array, gate: float) -> tuple[Array, Array]:
        """Fit with a narrowing gate; inverse covariances too, (n_ends, 6, 6)."""
        f = self.lines.frequencies
        worth = np.minimum(self.lines.strengths**2, 30.0) / 10.0
        normal = np.empty(0)
        for turn in range(ROUNDS):
            place, slope, design = self.linearised(f, ends)
            residual = (place - np.maximum(np.rint(place), 1.0)) / slope
            reach = max(gate * 0.6**turn, 0.01) / slope
            sigma2 = self.lines.uncertainties**2 + (SCATTER * f) ** 2
            sigma2 = sigma2 + (0.3 * reach) ** 2
            weight = worth / sigma2 / (1.0 + residual**2 / sigma2 / DEGREES) ** 2
            ends, normal = self._step(ends, residual, weight, design)
        return ends, normal

    def _step(
        self, ends: Array, residual: Array, weight: Array, design: Array
    ) -> tuple[Array, Array]:
        """Move ends to where weighed residuals and the prior draw them."""
        rows, widths = self.expected.rows, self.expected.widths
        heavy = weight[..., None] * design
        normal = np.swapaxes(design, 1, 2) @ heavy
        normal += rows.T @ (rows / widths[:, None] ** 2)
        right = np.einsum("cl,cli->ci", residual, heavy)
        right += self.expected.off(ends) / widths @ rows
        step = np.linalg.solve(normal, right[..., None])[..., 0]
        ends = ends + np.clip(step, -LARGEST_STEPS, LARGEST_STEPS)
        return np.clip(ends, LOWEST, HIGHEST), normal

    def settled(self, ends: Array, gate: float) -> tuple[Array, Array]:
        """Fit by Gauss and Newton, and weigh with the freedom of the end paid for.

        Gives the ends and their log-likelihoods, (n_ends,), comparable with those of an
        assignment whose socket stands still.

        Notes
        -----
        Laplace's approximation: density of the prior at the best fit, times the volume
        that the lines leave open, for the four columns of the end.
        """
        ends, normal = self._refined(ends, gate)
        f = self.lines.frequencies
        place = self.places(f, ends)
        number = np.maximum(np.rint(place), 1.0)
        near = f + (number - place) / self.slopes(f, ends)
        grid = np.geomspace(1.0, 1.05 * float(f[-1]), 1500)
        table = self.places(grid, ends)
        numbers = np.arange(float(int(number.max()) + 1))
        partials = np.array([np.interp(numbers, row, grid) for row in table])
        partials[:, 0] = 0.0
        logs, _ = weigh_places(self.lines, number.astype(np.int64), near, partials)
        off = self.expected.off(ends)[:, 1:]
        open_volume = np.linalg.slogdet(np.linalg.inv(normal)[:, 2:, 2:])[1]
        paid = 0.5 * open_volume - np.log(self.expected.widths[1:]).sum()
        return ends, logs + paid - 0.5 * np.sum(off**2, axis=1)

    def candidates(self, ends: Array, logs: Array) -> tuple[Candidate, ...]:
        """Fit the likeliest well."""
        fits = [(self.fit(ends[k]), float(logs[k])) for k in _distinct(ends, logs)]
        return tuple(
            Candidate(fit=fit, log_likelihood=log)
            for fit, log in fits
            if fit is not None and fit.modes.size >= LEAST_MODES
        )

    def fit(self, end: Array) -> StringFit | None:
        """Fit one string and its end to the lines that belong to it.

        As `fit_strings`, with the end in the model: partials near a resonance move with
        it, so that they say little of the string.
        """
        one = end[None, :]
        number, used = self._match(one)
        if used.size < LEAST_USED:
            return None
        f = self.lines.frequencies[used]
        noise = self.lines.uncertainties[used] / f
        degrees = max(used.size - 5.0, 0.5)
        scatter, normal, residual = SCATTER, np.empty(0), np.empty(0)
        for _ in range(FIT_ROUNDS):
            place, slope, moved = self.linearised(f, one)
            residual = ((place - number) / slope) / f
            variance = noise**2 + scatter**2
            weight = (DEGREES + 1.0) / (DEGREES + residual**2 / variance) / variance
            one, normal = self._step(one, residual, weight, moved / f[:, None])
            excess = np.sum(weight * variance * (residual**2 - noise**2)) / degrees
            total = (degrees * max(excess, 0.0) + 2.0 * (2e-4) ** 2) / (degrees + 2.0)
            scatter = float(np.sqrt(total + MODEL_SCATTER**2))
        spacing, bending, resonance, width, nod, nod_width = np.exp(one[0]).tolist()
        fit = StringFit(
            string_fundamental=spacing,
            sqrt_dispersion=bending,
            n_clamped_ends=self.n_clamped_ends,
            covariance=np.linalg.inv(normal[0]),
            modes=number,
            lines=used,
            residuals=residual[0],
            scatter=scatter,
            hitch=HitchResonance(
                resonances=(resonance, nod), bandwidths=(width, nod_width)
            ),
        )
        return _without_end(fit, f)

    def _match(self, end: Array) -> tuple[Counts, Counts]:
        """Counted numbers of the lines on the series, and the highest line of each."""
        lines, f = self.lines, self.lines.frequencies
        place, slope = self.places(f, end)[0], self.slopes(f, end)[0]
        number = np.maximum(np.rint(place), 1.0)
        off = np.abs(place - number) / slope
        reach = np.minimum(3.0 * lines.uncertainties + 0.004 * f, 0.15 / slope)
        return highest_of_each(lines, number.astype(np.int64), off < reach)


def _without_end(fit: StringFit, f: Array) -> StringFit:
    """Leave the end out of what is told of the string, lines [Hz] counted with it."""
    assert fit.hitch is not None  # noqa: S101  (given by the caller)
    modes = fit.modes - np.sum(f[:, None] > np.array(fit.hitch.resonances), axis=1)
    # the line of the end and a partial beside it have one number: neither is told
    own = (modes >= 1) & (np.bincount(np.maximum(modes, 0))[np.maximum(modes, 0)] == 1)
    turn = np.diag([1.0, fit.sqrt_dispersion])
    turn[0] = fit.slopes(np.ones(1))[0] * [1.0, fit.sqrt_dispersion]
    return replace(
        fit,
        covariance=turn @ fit.covariance[:2, :2] @ turn.T,
        modes=modes[own],
        lines=fit.lines[own],
        residuals=fit.residuals[own],
    )


def search_hitches(
    lines: Lines, span: RopeSpan, prior: HearingPrior, known: Sequence[StringFit]
) -> tuple[Candidate, ...]:
    """Find strings on swinging ends that agree with lines.

    `known`: strings found with the socket at rest: upper partials may be right.
    """
    expected = expected_ends(span, prior)
    if span.free_length is None:
        low, high = LOWEST_STRING_FUNDAMENTAL, prior.highest_frequency
    else:
        low, high = (speed / (2.0 * span.free_length) for speed in SPEEDS)
    top = min(TOP, MOST_PLACES * float(np.sqrt(low * high)))
    # and of strings found already, a little beside them
    beside = [(f.string_fundamental, max(f.sqrt_dispersion, 1e-6)) for f in known]
    asides = [(aside, 0.0) for aside in (-0.008, -0.004, 0.0, 0.004, 0.008)]
    near = np.log(np.array(beside).reshape(-1, 1, 2)) + np.array(asides)
    strings = [_strings(low, high, top, expected), near.reshape(-1, 2)]
    held = _Ends(lines=lines, expected=expected, n_clamped_ends=span.n_clamped_ends)
    found, logs = held.settled(_starts(held, np.concatenate(strings), top), FIRST_GATE)
    best = _distinct(found, logs)
    again = np.repeat(found[best], len(NODS), axis=0)
    again[:, NOD] = np.tile(np.log(NODS), len(best))
    more, more_logs = held.settled(again, 0.1)
    return held.candidates(
        np.concatenate([more, found[best]]), np.concatenate([more_logs, logs[best]])
    )


def search_told(
    lines: Lines,
    span: RopeSpan,
    speed: float,
    rigidity: float,
    hitches: Sequence[HitchResonance],
) -> tuple[Candidate, ...]:
    """Find what agrees with lines if the rope is like others of its set.

    `speed` [m/s]: wave speed of the others; `rigidity` [m^4/s^2]: EI/m of the others.
    """
    if span.free_length is None:
        return ()
    twice = 2.0 * span.free_length
    spacings = np.log(speed / twice) + np.arange(-TOLD_RANGE, TOLD_RANGE, 0.004)
    mean = np.log(2.0 * np.pi) + 0.5 * np.log(rigidity) - 2.0 * np.log(twice)
    widths = SLACK * np.array([0.5, 1.0, 2.0, 2.0, 5.0])
    result: list[Candidate] = []
    for hitch in hitches:
        end = np.log(np.stack([hitch.resonances, hitch.bandwidths], axis=1)).ravel()
        expected = Expected(lean=2.0, means=np.append(mean, end), widths=widths)
        held = _Ends(lines=lines, expected=expected, n_clamped_ends=span.n_clamped_ends)
        ends = np.tile(np.append(0.0, expected.means), (spacings.size, 1))
        ends[:, STRING_FUNDAMENTAL] = spacings
        ends[:, SQRT_DISPERSION] = expected.sqrt_dispersion(spacings)
        place = held.places(lines.frequencies, ends)
        score = np.cos(2.0 * np.pi * place) @ lines.strengths
        ends, logs = held.settled(ends[np.argsort(-score)[: MOST_STARTS // 4]], 0.15)
        result += held.candidates(ends, logs - np.log(len(hitches)))
    return tuple(sorted(result, key=lambda one: -one.log_likelihood))


def _distinct(ends: Array, logs: Array) -> NDArray[np.intp]:
    """Likeliest of each group of like spacings, in order, a few."""
    order = np.argsort(-logs)
    spacings = ends[order, STRING_FUNDAMENTAL]
    return order[first_of_each(spacings, SAME_SPACING, MOST_KEPT)]


def _strings(low: float, high: float, top: float, expected: Expected) -> Array:
    """Logarithms of spacing and bending to try, shape (n_strings, 2)."""
    spacings = [low]
    while spacings[-1] < high:
        spacings.append(spacings[-1] * (1.0 + min(0.2 * spacings[-1] / top, 0.01)))
    grid = np.array(spacings[:-1])
    if not grid.size:
        return np.empty((0, 2))
    usual, width = expected.sqrt_dispersion(np.log(grid)), expected.widths[0]
    largest = np.exp(2.0 * (usual + 1.7 * width))
    largest = np.minimum(largest, LARGEST_SQRT_DISPERSION**2)
    # a place at half the band and a little moves by a third from one to the next
    step = 0.7 * grid / (0.57 * top) ** 3
    steps = [np.exp(2.0 * (usual - 3.0 * width))]
    while np.any(steps[-1] < largest):
        steps.append(steps[-1] + np.maximum(step, 0.1 * steps[-1]))
    dispersions = np.stack(steps, axis=1)
    row, column = np.nonzero(dispersions < largest[:, None])
    logs = np.log(grid)[row], 0.5 * np.log(dispersions[row, column])
    return np.stack(logs, axis=1)


def _starts(held: _Ends, strings: Array, top: float) -> Array:
    """The strings and ends whose places lie nearest to whole numbers."""
    expected = held.expected
    widths = expected.means[2] + expected.widths[2] * WIDTH_STEPS
    hitches = np.array([(a, b) for a in np.log(RESONANCES) for b in widths])
    row, column = _likeliest_pairs(held, strings, hitches, top)
    found = np.hstack([strings[row], hitches[column]])
    own = found[:, [STRING_FUNDAMENTAL, RESONANCE]]
    kept = first_of_each(own, np.array([0.008, 0.15]), MOST_STARTS)
    return np.hstack([found[kept], np.tile(expected.means[3:], (len(kept), 1))])


def _likeliest_pairs(
    held: _Ends, strings: Array, hitches: Array, top: float
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows of strings and of hitches that agree best below a frequency, in order."""
    strength, f = held.lines.strengths, held.lines.frequencies
    pick = np.flatnonzero(f < top)
    pick = pick[np.argsort(-strength[pick])[:MOST_LINES]]
    f = f[pick][None, :]
    of_hitch = _waves(end_turn(f, np.exp(hitches[:, :1]), np.exp(hitches[:, 1:]))).T
    off = (hitches - held.expected.means[1:3]) / held.expected.widths[1:3]
    paid = 0.5 * np.sum(off**2, axis=1).astype(np.float32)
    scores, pairs = np.empty(0, dtype=np.float32), np.empty(0, dtype=np.intp)
    least = -np.inf
    for first in range(0, len(strings), BLOCK):
        place = held.string_places(f, strings[first : first + BLOCK])
        # whole numbers speak for a string and end, half ones against it
        of_string = np.tile(strength[pick], 2) * _waves(-place)
        score = (of_string.astype(np.float32) @ of_hitch - paid).ravel()
        new = np.flatnonzero(score >= least)
        scores = np.append(scores, score[new])
        pairs = np.append(pairs, first * len(hitches) + new)
        if scores.size > MOST_SCORES:
            best = np.argpartition(-scores, MOST_SCORES)[:MOST_SCORES]
            scores, pairs = scores[best], pairs[best]
            least = scores.min()
    return np.divmod(pairs[np.argsort(-scores, kind="stable")], len(hitches))


def _waves(turn: Array) -> NDArray[np.float32]:
    """Cosines and sines of turns, one beside the other."""
    angle = 2.0 * np.pi * turn
    return np.hstack([np.cos(angle), np.sin(angle)]).astype(np.float32)
