"""Phases of the partials: the frequency that glide and two planes leave."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import erfc, sqrt

import numpy as np

from tension.sound.hearing import Array, Counts
from tension.sound.spectra import noise_densities
from tension.sound.string_fit import StringFit

PERIODS = 2.5
"""Frame length in periods of the spacing: the next partials fall on zeros of its Hann
window's side lobes or beyond."""
LEAST_SIGNAL = 8.0  # power over noise of a frame whose phase can be followed [1]
FRAME_SCATTER = 0.011
"""Scatter of phases that noise does not explain, neighbours 20 dB down. [cycles]"""
WANDER = 3.5
"""Neighbouring frames wander together: variance counts so many times. With this and the
above 97 in 100 of 990 ropes of made contact, phone and hard sets lay within two
standard uncertainties, 94 to 99 in each third. [1]"""
LARGEST_OFFSET = 5e-3
"""A phase that runs off more follows another line: planes, glides. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Track:
    """Phases of one partial in one ring."""

    # mode number, and which ring
    mode: int
    ring: int
    frequency: float  # at which it was demodulated [Hz]
    times: Array  # from the onset [s], shape (n_frames,)
    phases: Array  # unwrapped, against the frequency above [cycles], shape (n_frames,)
    variances: Array  # from noise [cycles^2], shape (n_frames,)
    # logarithm of the amplitude over 2 pi, so that its variance is the
    # phase's [1], shape (n_frames,)
    levels: Array
    damping: float  # damping ratio, from the fall of the amplitude [1]
    log_amplitude: float  # of the partial at the onset [1]


def follow_phases(
    ring: Array, sampling_rate: float, index: int, fit: StringFit, modes: Counts
) -> list[Track]:
    """Follow the phases of partials through one ring.

    `ring` (n_samples,) [1]: from shortly after the onset; `modes` (n_modes,): which to
    follow.
    """
    seconds = np.clip(PERIODS / fit.fundamental_frequency, 0.06, 1.0)
    length = int(seconds * sampling_rate)
    hop = max(1, length // 2)
    if ring.size < 2 * length:
        return []
    frequencies = fit.frequencies(modes)
    noise = np.interp(frequencies, *noise_densities(ring, sampling_rate))
    view = np.lib.stride_tricks.sliding_window_view(ring, length)[::hop]
    window = np.hanning(length)
    moments = np.arange(length) / sampling_rate
    kernel = window[:, None] * np.exp(-2j * np.pi * moments[:, None] * frequencies)
    starts = np.arange(view.shape[0]) * hop / sampling_rate
    values = view @ kernel * np.exp(-2j * np.pi * starts[:, None] * frequencies)
    signal = np.abs(values) ** 2 / (noise * np.sum(window**2))
    times = starts + 0.5 * length / sampling_rate
    tracks = []
    for k, mode in enumerate(modes):
        weak = np.flatnonzero(signal[:, k] < LEAST_SIGNAL)
        end = int(weak[0]) if weak.size else times.size
        if end < 3:
            continue
        # of ln of the amplitude, weighed by power over noise [1/s]
        strength = signal[:end, k]
        fall = -_slope(times[:end], 0.5 * np.log(strength), strength)
        size = np.abs(values[:end, k])
        tracks.append(
            Track(
                mode=int(mode),
                ring=index,
                frequency=float(frequencies[k]),
                times=times[:end],
                phases=np.unwrap(np.angle(values[:end, k])) / (2.0 * np.pi),
                variances=0.5 / strength / (2.0 * np.pi) ** 2,
                levels=np.log(size) / (2.0 * np.pi),
                damping=float(fall / (2.0 * np.pi * frequencies[k])),
                log_amplitude=float(np.log(size.max()) + fall * times[0]),
            )
        )
    return tracks


def _slope(times: Array, values: Array, weights: Array) -> float:
    """Slope of a weighted straight line."""
    time = times - np.average(times, weights=weights)
    return float(np.sum(weights * time * values) / np.sum(weights * time**2))


def _trusted(tracks: Sequence[Track]) -> list[Track]:
    """Leave out tracks that followed another line, and trust rough ones less."""
    slopes = [
        _slope(one.times, one.phases, 1.0 / (one.variances + FRAME_SCATTER**2))
        / one.frequency
        for one in tracks
    ]
    is_near = np.abs(np.array(slopes) - np.median(slopes)) < LARGEST_OFFSET
    return [_roughened(tracks[k]) for k in np.flatnonzero(is_near).tolist()]


def _roughened(track: Track) -> Track:
    """Add to the variance what the phase wanders about a parabola: other lines near."""
    if track.times.size < 5:
        return track
    weight = 1.0 / np.sqrt(track.variances + FRAME_SCATTER**2)
    curve = np.polyfit(track.times, track.phases, 2, w=weight)
    residual = track.phases - np.polyval(curve, track.times)
    rough = float(np.average(residual**2, weights=weight**2))
    expected = float(np.average(track.variances, weights=weight**2))
    extra = WANDER * max(rough - expected, 0.0)
    return replace(track, variances=track.variances + extra)


GLIDES = (0.3, 0.6, 1.2, 2.5, 5.0, 10.0, 20.0)
"""Times in which the rise of pitch after the release dies. [s]"""
GLIDE_SPREAD = 0.5
"""Of the logarithm of that time about half the decay time of the fundamental, whose
energy makes the rise; its damping is taken from the lowest partials followed. [1]"""
SPLITS = tuple(np.round(np.linspace(-0.0024, 0.0024, 17), 6))
"""Relative difference of the two planes: end stiffness differs by direction. [1]"""
SHARES = (-0.82, -0.53, -0.3, -0.1, 0.1, 0.3, 0.53, 0.82)
"""Amplitude of the weaker plane over the stronger's, either sense: tangents of evenly
spaced angles, for a hand knows nothing of the two planes. [1]"""
ONE_PLANE = 0.1
"""Probability that a rope swings in one plane, or in two alike: angles between the
lowest of those above and none. Even odds stated too little where planes differ. [1]"""
SAME_SENSE = 0.8
"""Probability that both planes start in the same sense: the microphone is held on the
side to which the rope is pulled more often than not; at random it is a half. [1]"""
LEAST_DAMPING = 7e-4  # damping ratio of a bare wire rope that nothing touches [1]
GLIDE_WIDTHS = (3e-5, 3e-3)
"""Relative rise of pitch at the release: none to speak of, and that of a wide pluck;
each the part above zero of a normal of this deviation. It goes with the square of the
amplitude, which is seen to differ between plucks. [1]"""
UNLIKELY = -12.0
"""Logarithm of the prior odds below which a time of the glide is not tried. [1]"""
NEXT_TO_NOTHING = 40.0
"""ln of weight under the highest at which a point of the grid adds nothing. [1]"""
OWN_GLIDE = 0.25
"""What a ring's rise differs by from that law, of its width: gain control. [1]"""
CHANGE_WIDTH = 3e-3  # of the fundamental against the first fit, standard deviation [1]
SCATTERS = (5e-5, 2e-4, 8e-4)
"""Scatter of single partials about the string: hitch, neighbours. [1]"""
N_WIDTHS = len(SCATTERS) * len(GLIDE_WIDTHS)


class PhaseRows:
    """Columns of the linear problem, data in one row per frame of a track.

    `tracks`: of all rings; `fit`: the string they were demodulated with.
    """

    def __init__(self, tracks: Sequence[Track], fit: StringFit) -> None:
        modes, of_mode = np.unique([t.mode for t in tracks], return_inverse=True)
        rings, of_ring = np.unique([t.ring for t in tracks], return_inverse=True)
        slopes = fit.slopes(np.append(1.0, modes))
        self.sizes = np.array([t.times.size for t in tracks])
        self.starts = np.cumsum(self.sizes) - self.sizes
        self.time = np.concatenate([t.times for t in tracks])
        frequency = np.repeat([t.frequency for t in tracks], self.sizes)
        self.cycles = frequency * self.time
        self.phase = np.concatenate([t.phases for t in tracks])
        self.variance = np.concatenate([t.variances for t in tracks])
        self.level = np.concatenate([t.levels for t in tracks])
        mode, ring = np.repeat(of_mode, self.sizes), np.repeat(of_ring, self.sizes)
        # a change of ln f_1 at fixed bending changes ln f_n by about as much
        first = (slopes[1:, 0] / slopes[0, 0])[mode]
        bend = (slopes[1:, 1] - slopes[0, 1])[mode]
        self.common = np.stack([self.cycles * first, self.cycles * bend], axis=1)
        self.own = self.cycles[:, None] * np.eye(modes.size)[mode]
        self.in_ring = frequency[:, None] * np.eye(rings.size)[ring]
        self.squares = _amplitudes(tracks, rings) ** 2
        lowest = sorted(tracks, key=lambda t: t.mode)[: 3 * rings.size]
        damping = float(np.median([t.damping for t in lowest]))
        damping = float(np.clip(damping, LEAST_DAMPING, 10.0 * LEAST_DAMPING))
        first_rate = 2.0 * np.pi * fit.fundamental_frequency * damping
        self.log_glide = (
            -0.5 * ((np.log(GLIDES) - np.log(0.5 / first_rate)) / GLIDE_SPREAD) ** 2
        )
        self.sqrt_dispersion_width = max(fit.sqrt_dispersion, 1e-3)
        self.degrees = max(self.time.size - len(tracks) - 3, 1)

    def centred(self, values: Array, weights: Array) -> Array:
        """Take its weighted mean in each track off each column (n_rows, ...)."""
        column = weights.reshape(-1, *(1,) * (values.ndim - 1))
        mean = np.add.reduceat(column * values, self.starts, axis=0)
        mean /= np.add.reduceat(column, self.starts, axis=0)
        return np.asarray(values - np.repeat(mean, self.sizes, axis=0))


def plane_targets(rows: PhaseRows) -> tuple[Array, Array, Array]:
    """Take off phases and levels what each pair of planes adds.

    Gives what is left of the phases [cycles] and of the levels [1], each of shape
    (n_rows, n_pairs), the first pair one plane alone; and the logarithm of the prior
    probability of each pair, shape (n_pairs,). [1]
    """
    splits = np.array([split for split in SPLITS if split != 0.0])
    shares = np.array(SHARES)
    turn = (2.0 * np.pi * splits) * rows.cycles[:, None]
    along, across = np.cos(turn)[..., None], np.sin(turn)[..., None]
    # ln(1 + share exp(i turn)) by its parts, faster than the complex logarithm
    angle = np.arctan2(shares * across, 1.0 + shares * along)
    square = np.log(1.0 + shares * (shares + 2.0 * along))
    added = angle / (2.0 * np.pi), square / (4.0 * np.pi)
    phases, levels = (
        np.column_stack([own, own[:, None] - more.reshape(own.size, -1)])
        for own, more in zip((rows.phase, rows.level), added, strict=True)
    )
    sense = np.where(shares > 0.0, SAME_SENSE, 1.0 - SAME_SENSE)
    pairs = np.log((1.0 - ONE_PLANE) * sense / (splits.size * shares.size / 2.0))
    return phases, levels, np.append(np.log(ONE_PLANE), np.tile(pairs, splits.size))


def _level_log_likelihoods(rows: PhaseRows, levels: Array, weights: Array) -> Array:
    """Ln of how likely levels, less what planes add, are of each pair, (n_pairs,)."""
    # free: each partial's decay and, for gain control, a parabola and a cubic per ring
    time = rows.time[:, None]
    gain = np.sign(rows.in_ring) * time
    columns = np.hstack([np.sign(rows.own) * time, gain * time, gain * time**2])
    columns = rows.centred(columns, weights)
    levels = rows.centred(levels, weights)
    normal = columns.T @ (weights[:, None] * columns)
    normal[np.diag_indices_from(normal)] += 1e-9 * np.trace(normal) + 1e-12
    right = columns.T @ (weights[:, None] * levels)
    solution = np.linalg.solve(normal, right)
    return np.asarray(-0.5 * (weights @ levels**2 - np.sum(right * solution, axis=0)))


def _amplitudes(tracks: Sequence[Track], rings: Counts) -> Array:
    """Amplitude of each ring against the largest, from the partials they share."""
    modes, of_mode = np.unique([track.mode for track in tracks], return_inverse=True)
    of_ring = np.searchsorted(rings, [track.ring for track in tracks])
    logs = np.zeros((modes.size, rings.size))
    is_heard = np.zeros(logs.shape, dtype=bool)
    logs[of_mode, of_ring] = [track.log_amplitude for track in tracks]
    is_heard[of_mode, of_ring] = True
    gain = np.zeros(rings.size)
    for _ in range(5):
        for ring in range(rings.size):
            others = is_heard & (np.arange(rings.size) != ring)
            shared = is_heard[:, ring] & others.any(axis=1)
            left = np.sum((logs - gain) * others, axis=1)[shared]
            if shared.any():
                mean = left / others[shared].sum(axis=1)
                gain[ring] = np.median(logs[shared, ring] - mean)
        gain -= gain.max()
    return np.exp(gain)


@dataclass(frozen=True, kw_only=True, slots=True)
class PhaseFit:
    """What the phases say beyond a first fit."""

    covariance: Array  # of the two changes, shape (2, 2)
    change: float = 0.0  # of ln of the fundamental, against the first fit [1]
    sqrt_dispersion_change: float = 0.0  # of the bending, against it [s]
    glide: float = 0.0  # relative rise at the release, largest of the rings [1]
    glide_uncertainty: float = 0.0  # standard uncertainty of that rise [1]


def fit_phases(tracks: Sequence[Track], fit: StringFit) -> PhaseFit | None:
    """Weigh all glides and whirls that the phases allow and average over them.

    Notes
    -----
    Phase of partial n: a constant, plus f_n t (change of ln f_1, of the bending, the
    partial's own offset), plus rise times f_n tau (1 - exp(-t/tau)), plus the argument
    of 1 + r exp(2 pi i delta f_n t) for a weaker plane. All but tau, delta and r are
    linear with Gaussian priors; those three are summed over a grid with the evidence of
    each. Pulled aside a rope is longer, so a rise is never negative: of its Gaussian
    only the positive part counts, with its share of the probability and its moments.
    """
    tracks = _trusted(tracks) if tracks else ()
    if len(tracks) < 2:
        return None
    rows = PhaseRows(tracks, fit)
    planes = plane_targets(rows)
    weights = 1.0 / (rows.variance + FRAME_SCATTER**2)
    _, residual = _marginalise(rows, weights, planes)
    scale2 = max(float(np.sum(weights * residual**2) / rows.degrees), 1.0)
    t2 = residual**2 * weights / scale2
    return _marginalise(rows, 5.0 / (4.0 + t2) * weights / scale2, planes)[0]


def _marginalise(
    rows: PhaseRows, weights: Array, planes: tuple[Array, Array, Array]
) -> tuple[PhaseFit, Array]:
    """Sum over glide times, planes and scatters; and residuals at the best point."""
    targets, levels, log_prior = planes
    log_prior = log_prior + _level_log_likelihoods(rows, levels, weights)
    targets = rows.centred(targets, weights)
    likely = np.flatnonzero(rows.log_glide >= rows.log_glide.max() + UNLIKELY)
    matrices = [_columns(rows, weights, tau) for tau in np.array(GLIDES)[likely]]
    grid = _solve(rows, matrices, weights, targets)
    log = grid.log - 0.5 * (weights @ targets**2) + log_prior
    log += np.repeat(rows.log_glide[likely], N_WIDTHS)[:, None]
    share, shift, loss = _positive(grid.rise / grid.spread[:, None], log)
    posterior = np.exp(log + np.log(share) - (log + np.log(share)).max())
    row, column = np.unravel_index(int(np.argmax(posterior)), posterior.shape)
    posterior /= posterior.sum()
    means = grid.solution[:, :2] + grid.lean[:, :, None] * shift[:, None, :]
    mean = np.einsum("pk,pik->i", posterior, means)
    away = means - mean[:, None]
    covariance = (
        np.einsum("p,pij->ij", posterior.sum(axis=1), grid.covariance)
        - np.einsum("p,pi,pj->ij", np.sum(posterior * loss, 1), grid.lean, grid.lean)
        + np.einsum("pk,pik,pjk->ij", posterior, away, away)
    )
    rise = grid.rise + grid.spread[:, None] * shift
    matrix = matrices[int(row) // N_WIDTHS]
    found = PhaseFit(
        change=float(mean[0]),
        sqrt_dispersion_change=float(mean[1]),
        covariance=covariance,
        glide=float(np.sum(posterior * rise)),
        glide_uncertainty=float(grid.spread[row]),
    )
    return found, targets[:, column] - matrix @ grid.solution[row, :, column]


def _columns(rows: PhaseRows, weights: Array, tau: float) -> Array:
    """Columns of the linear problem of one glide time [s]."""
    curve = (tau * (1.0 - np.exp(-rows.time / tau)))[:, None]
    law = np.hstack([rows.squares[:, None], np.eye(rows.squares.size)])
    rise = rows.centred(rows.in_ring * curve, weights) @ law
    columns = np.hstack([rows.common, rows.own])
    return np.hstack([rows.centred(columns, weights), rise])


@dataclass(frozen=True, kw_only=True, slots=True)
class _Grid:
    """Solutions at each glide time, scatter and width; n_pairs pairs of planes each."""

    log: Array
    solution: Array
    covariance: Array
    rise: Array
    spread: Array
    lean: Array


def _solve(
    rows: PhaseRows, matrices: Sequence[Array], weights: Array, targets: Array
) -> _Grid:
    """Solve the linear problems with all widths expected of their columns."""
    place = 2 + rows.own.shape[1]  # of the common rise
    widths = np.array(
        [
            [
                CHANGE_WIDTH,
                rows.sqrt_dispersion_width,
                *np.full(rows.own.shape[1], scatter),
                width,
                *(OWN_GLIDE * width * rows.squares),
            ]
            for scatter, width in product(SCATTERS, GLIDE_WIDTHS)
        ]
    )
    heavy = [(weights[:, None] * matrix).T for matrix in matrices]
    right = np.stack([one @ targets for one in heavy])[:, None]
    products = zip(heavy, matrices, strict=True)
    normal = np.stack([one @ matrix for one, matrix in products])[:, None]
    total = normal + widths[:, :, None] ** -2.0 * np.eye(widths.shape[1])
    inverse: Array = np.asarray(np.linalg.inv(total), dtype=np.float64)
    solution = inverse @ right
    log = 0.5 * np.sum(right * solution, axis=2)
    log -= (0.5 * np.linalg.slogdet(total)[1] + np.sum(np.log(widths), 1))[..., None]
    spread = np.sqrt(inverse[..., place, place])
    return _Grid(
        log=log.reshape(-1, log.shape[-1]),
        solution=solution.reshape(-1, *solution.shape[2:]),
        covariance=inverse[..., :2, :2].reshape(-1, 2, 2),
        rise=solution[..., place, :].reshape(-1, log.shape[-1]),
        spread=spread.ravel(),
        lean=(inverse[..., :2, place] / spread[..., None]).reshape(-1, 2),
    )


def _positive(ratio: Array, log: Array) -> tuple[Array, Array, Array]:
    """Share above zero, shift of mean and loss of variance if only that share is kept.

    `ratio` (n_points, n_pairs) [1]: mean over deviation of Gaussians; `log` (n_points,
    n_pairs) [1]: ln of their weights; what cannot count in the sum has a share of next
    to none. All of one shape: the share, the shift in deviations, the loss in
    variances. [1]
    """
    kept = np.maximum(ratio, -30.0)
    below = np.maximum(-kept, 0.0)
    # Birnbaum's bound of the tail of a Gaussian: enough to tell what counts
    least = log - 0.5 * below**2 - np.log(below + np.sqrt(4.0 + below**2))
    counts = log > least.max() - NEXT_TO_NOTHING
    share = np.full(ratio.shape, np.exp(-2.0 * NEXT_TO_NOTHING))
    share[counts] = [0.5 * erfc(-one / sqrt(2.0)) for one in kept[counts].tolist()]
    shift = np.zeros(ratio.shape)
    shift[counts] = np.exp(-0.5 * kept[counts] ** 2) / sqrt(2.0 * np.pi) / share[counts]
    return share, shift, shift * (kept + shift)
