"""Phases of the partials over the ring: the frequency that glide and whirl leave."""

from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from tension.sound.partials import StringFit, mode_slopes
from tension.sound.stiffstring import mode_frequencies

Array = NDArray[np.float64]

PERIODS = 2.5
"""Frame length in periods of the spacing: the next partials fall on zeros of its Hann
window's side lobes or beyond."""
LEAST_SIGNAL = 8.0
"""Power over noise of a frame whose phase can be followed. [1]"""
FRAME_SCATTER = 0.011
"""Scatter of phases that noise does not explain, neighbours 20 dB down. [cycles]"""
GLIDES = (0.3, 0.6, 1.2, 2.5, 5.0, 10.0, 20.0)
"""Times in which the rise of pitch after the release dies. [s]"""
GLIDE_SPREAD = 0.5
"""Of the logarithm of that time about half the decay time of the fundamental, whose
energy makes the rise; its damping is taken from the lowest partials followed. [1]"""
GLIDE_WIDTHS = (3e-4, 3e-3)
"""Relative rise of pitch at the release, standard deviation: a gentle and a wide pluck.
It goes with the square of the amplitude, which is seen to differ between plucks. [1]"""
OWN_GLIDE = 0.25
"""What a ring's rise differs by from that law, of its width: gain control. [1]"""
SPLITS = tuple(np.round(np.linspace(-0.0024, 0.0024, 17), 6))
"""Relative difference of the two planes: end stiffness differs by direction. [1]"""
SHARES = (-0.85, -0.6, -0.35, 0.35, 0.6, 0.85)
"""Amplitude of the weaker plane over the stronger's, either sense. [1]"""
SAME_SENSE = 0.8
"""Probability that both planes start in the same sense: the microphone is held on the
side to which the rope is pulled more often than not; at random it is a half. [1]"""
LEAST_DAMPING = 7e-4
"""Damping ratio of a bare wire rope that nothing touches. [1]"""
WANDER = 2.0
"""Neighbouring frames wander together: variance counts so many times. [1]"""
LARGEST_OFFSET = 5e-3
"""A phase that runs off more follows another line: planes, glides. [1]"""
CHANGE_WIDTH = 3e-3
"""Of the fundamental against the first fit, standard deviation. [1]"""
SCATTERS = (5e-5, 2e-4, 8e-4)
"""Scatter of single partials about the string: hitch, neighbours. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Track:
    """Phases of one partial in one ring.

    Attributes
    ----------
    mode : int
        Mode number.
    ring : int
        Which ring.
    frequency : float
        At which it was demodulated. [Hz]
    times : ndarray, shape (n_frames,)
        From the onset. [s]
    phases : ndarray, shape (n_frames,)
        Unwrapped, against the frequency above. [cycles]
    variances : ndarray, shape (n_frames,)
        From noise. [cycles^2]
    levels : ndarray, shape (n_frames,)
        Logarithm of the amplitude over 2 pi, so that its variance is the phase's. [1]
    damping : float
        Damping ratio, from the fall of the amplitude. [1]
    log_amplitude : float
        Of the partial at the onset. [1]
    """

    mode: int
    ring: int
    frequency: float
    times: Array
    phases: Array
    variances: Array
    levels: Array
    damping: float
    log_amplitude: float


@dataclass(frozen=True, kw_only=True, slots=True)
class PhaseFit:
    """What the phases say beyond a first fit.

    Attributes
    ----------
    change : float
        Of the logarithm of the fundamental. [1]
    bending_change : float
        Of the bending. [s]
    covariance : ndarray, shape (2, 2)
        Of both.
    glide : float
        Relative rise at the release, largest of the rings. [1]
    glide_uncertainty : float
        Standard uncertainty of that. [1]
    """

    change: float
    bending_change: float
    covariance: Array
    glide: float
    glide_uncertainty: float


def follow_phases(
    ring: Array,
    sampling_rate: float,
    index: int,
    fit: StringFit,
    modes: NDArray[np.int64],
    noise: Array,
) -> list[Track]:
    """Follow the phases of partials through one ring.

    Parameters
    ----------
    ring : ndarray, shape (n_samples,)
        From shortly after the onset. [1]
    sampling_rate : float
        Of the samples. [Hz]
    index : int
        Of the ring.
    fit : StringFit
        Where the partials are.
    modes : ndarray, shape (n_modes,)
        Which to follow.
    noise : ndarray, shape (n_modes,)
        Noise variance per sample at each. [1]

    Returns
    -------
    list of Track
        Those that can be followed over three frames at least.
    """
    spacing = fit.fundamental_frequency
    length = int(np.clip(PERIODS / spacing, 0.06, 1.0) * sampling_rate)
    hop = max(1, length // 2)
    if ring.size < 2 * length:
        return []
    frequencies = mode_frequencies(
        modes.astype(np.float64), fit.spacing, fit.dispersion, fit.n_clamped_ends
    )
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
        phase = np.unwrap(np.angle(values[:end, k])) / (2.0 * np.pi)
        strength = signal[:end, k]
        time = times[:end] - np.average(times[:end], weights=strength)
        fall = 0.5 * np.log(strength)
        rate = -np.sum(strength * time * fall) / np.sum(strength * time**2)
        tracks.append(
            Track(
                mode=int(mode),
                ring=index,
                frequency=float(frequencies[k]),
                times=times[:end],
                phases=phase,
                variances=0.5 / strength / (2.0 * np.pi) ** 2,
                levels=np.log(np.abs(values[:end, k])) / (2.0 * np.pi),
                damping=float(rate / (2.0 * np.pi * frequencies[k])),
                log_amplitude=float(
                    np.log(np.abs(values[:end, k]).max()) + rate * times[0]
                ),
            )
        )
    return tracks


def fit_phases(tracks: list[Track], fit: StringFit) -> PhaseFit | None:
    """Weigh all glides and whirls that the phases allow and average over them.

    Parameters
    ----------
    tracks : list of Track
        Of all rings.
    fit : StringFit
        The string they were demodulated with.

    Returns
    -------
    PhaseFit or None
        None with fewer than two tracks.

    Notes
    -----
    Phase of partial n: a constant, plus f_n t (change of ln f_1, of the bending, the
    partial's own offset), plus rise times f_n tau (1 - exp(-t/tau)), plus the argument
    of 1 + r exp(2 pi i delta f_n t) for a weaker plane. All but tau, delta and r are
    linear with Gaussian priors; those three are summed over a grid with the evidence of
    each.
    """
    tracks = [_roughened(track) for track in _agreeing(tracks)]
    if len(tracks) < 2:
        return None
    design = _Design(tracks, fit)
    weights = 1.0 / (design.variance + FRAME_SCATTER**2)
    best = None
    for _ in range(2):
        best = _marginalise(design, weights)
        residual = best.residual
        scale2 = max(float(np.sum(weights * residual**2) / design.degrees), 1.0)
        t2 = residual**2 / (design.variance + FRAME_SCATTER**2) / scale2
        weights = 5.0 / (4.0 + t2) / (design.variance + FRAME_SCATTER**2) / scale2
    return best.fit if best is not None else None


def _agreeing(tracks: list[Track]) -> list[Track]:
    """Leave out tracks that followed something else than the partial."""
    if len(tracks) < 2:
        return tracks
    slopes = []
    for track in tracks:
        weight = 1.0 / (track.variances + FRAME_SCATTER**2)
        time = track.times - np.average(track.times, weights=weight)
        slope = np.sum(weight * time * track.phases) / np.sum(weight * time**2)
        slopes.append(slope / track.frequency)
    offset = np.array(slopes) - np.median(slopes)
    return [
        track
        for track, off in zip(tracks, offset, strict=True)
        if abs(off) < LARGEST_OFFSET
    ]


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


def _amplitudes(tracks: list[Track], rings: list[int]) -> Array:
    """Amplitude of each ring against the largest, from the partials they share."""
    logs: dict[tuple[int, int], float] = {
        (track.mode, track.ring): track.log_amplitude for track in tracks
    }
    gain = np.zeros(len(rings))
    for _ in range(5):
        for place, ring in enumerate(rings):
            steps = []
            for (mode, of), value in logs.items():
                if of == ring:
                    others = [
                        logs[mode, other] - gain[k]
                        for k, other in enumerate(rings)
                        if (mode, other) in logs and other != ring
                    ]
                    if others:
                        steps.append(value - float(np.mean(others)))
            if steps:
                gain[place] = float(np.median(steps))
        gain -= gain.max()
    return np.exp(gain)


class _Design:
    """Columns of the linear problem, data in one row per frame."""

    def __init__(self, tracks: list[Track], fit: StringFit) -> None:
        modes = sorted({track.mode for track in tracks})
        rings = sorted({track.ring for track in tracks})
        slopes = mode_slopes(
            np.array([1.0, *map(float, modes)]),
            fit.spacing,
            fit.bending,
            fit.n_clamped_ends,
        )
        by_bending = dict(zip(modes, slopes[1:, 1] - slopes[0, 1], strict=True))
        # a change of ln f_1 at fixed bending changes ln f_n by about as much
        by_first = dict(zip(modes, slopes[1:, 0] / slopes[0, 0], strict=True))
        self.track = np.concatenate(
            [np.full(t.times.size, k) for k, t in enumerate(tracks)]
        )
        self.time = np.concatenate([t.times for t in tracks])
        self.cycles = np.concatenate([t.frequency * t.times for t in tracks])
        self.phase = np.concatenate([t.phases for t in tracks])
        self.variance = np.concatenate([t.variances for t in tracks])
        self.level = np.concatenate([t.levels for t in tracks])
        mode = np.concatenate([np.full(t.times.size, t.mode) for t in tracks])
        ring = np.concatenate([np.full(t.times.size, t.ring) for t in tracks])
        frequency = self.cycles / self.time
        first = np.array([by_first[m] for m in mode])
        bend = np.array([by_bending[m] for m in mode])
        self.common = np.stack([self.cycles * first, self.cycles * bend], axis=1)
        self.own = self.cycles[:, None] * (mode[:, None] == np.array(modes))
        self.in_ring = frequency[:, None] * (ring[:, None] == np.array(rings))
        self.squares = _amplitudes(tracks, rings) ** 2
        self.n_rings = len(rings)
        self.n_tracks = len(tracks)
        lowest = sorted(tracks, key=lambda t: t.mode)[: 3 * len(rings)]
        damping = float(np.median([t.damping for t in lowest]))
        damping = float(np.clip(damping, LEAST_DAMPING, 10.0 * LEAST_DAMPING))
        first_rate = 2.0 * np.pi * fit.fundamental_frequency * damping
        self.log_glide = (
            -0.5 * ((np.log(GLIDES) - np.log(0.5 / first_rate)) / GLIDE_SPREAD) ** 2
        )
        self.bending_width = max(fit.bending, 1e-3)
        self.degrees = max(self.time.size - self.n_tracks - 3, 1)

    def centred(self, values: Array, weights: Array) -> Array:
        """Values less their weighted mean in each track."""
        total = np.bincount(self.track, weights, self.n_tracks)
        if values.ndim == 1:
            mean = np.bincount(self.track, weights * values, self.n_tracks) / total
            centred: Array = values - mean[self.track]
            return centred
        out = np.empty_like(values)
        for column in range(values.shape[1]):
            out[:, column] = self.centred(values[:, column], weights)
        return out


@dataclass(frozen=True, kw_only=True, slots=True)
class _Marginal:
    """Average over the grid, and the residuals at its best point."""

    fit: PhaseFit
    residual: Array


def _marginalise(design: _Design, weights: Array) -> _Marginal:
    """Sum over glide times, planes and scatters."""
    targets, levels, log_prior = _targets(design)
    log_prior = log_prior + _log_levels(design, levels, weights)
    targets = design.centred(targets, weights)
    energy = weights @ targets**2
    n_rings, n_own = design.n_rings, design.own.shape[1]
    steady = design.centred(np.hstack([design.common, design.own]), weights)
    heavy = weights[:, None] * steady
    steady_normal, steady_right = heavy.T @ steady, heavy.T @ targets
    logs, means, spreads, glides, columns = [], [], [], [], []
    law = np.hstack([design.squares[:, None], np.eye(n_rings)])
    for tau, log_glide in zip(GLIDES, design.log_glide, strict=True):
        curve = (tau * (1.0 - np.exp(-design.time / tau)))[:, None]
        rise = design.centred(design.in_ring * curve, weights) @ law
        cross = heavy.T @ rise
        own = rise.T @ (weights[:, None] * rise)
        normal = np.block([[steady_normal, cross], [cross.T, own]])
        right = np.vstack([steady_right, rise.T @ (weights[:, None] * targets)])
        matrix = np.hstack([steady, rise])
        for scatter, width in product(SCATTERS, GLIDE_WIDTHS):
            prior = np.concatenate(
                [
                    [CHANGE_WIDTH, design.bending_width],
                    np.full(n_own, scatter),
                    [width],
                    OWN_GLIDE * width * design.squares,
                ]
            )
            total = normal + np.diag(prior**-2.0)
            inverse = np.linalg.inv(total)
            solution = inverse @ right
            _, determinant = np.linalg.slogdet(total)
            log = -0.5 * (energy - np.sum(right * solution, axis=0))
            log -= 0.5 * determinant + np.sum(np.log(prior))
            logs.append(log + log_prior + log_glide)
            means.append(solution[:2])
            spreads.append(inverse[:2, :2])
            place = 2 + n_own
            glides.append((solution[place : place + 1], inverse[place, place]))
            columns.append((matrix, solution))
    table = np.array(logs)
    posterior = np.exp(table - table.max())
    posterior /= posterior.sum()
    mean = sum(share @ found.T for share, found in zip(posterior, means, strict=True))
    covariance = sum(
        share.sum() * spread
        + (found - mean[:, None]) @ (share[:, None] * (found - mean[:, None]).T)
        for share, found, spread in zip(posterior, means, spreads, strict=True)
    )
    row, column = np.unravel_index(int(np.argmax(table)), table.shape)
    matrix, solution = columns[int(row)]
    residual = targets[:, column] - matrix @ solution[:, column]
    rise = sum(
        (share @ found.T) for share, (found, _) in zip(posterior, glides, strict=True)
    )
    return _Marginal(
        fit=PhaseFit(
            change=float(mean[0]),
            bending_change=float(mean[1]),
            covariance=np.asarray(covariance),
            glide=float(np.max(rise)),
            glide_uncertainty=float(np.sqrt(glides[int(row)][1])),
        ),
        residual=residual,
    )


def _log_levels(design: _Design, levels: Array, weights: Array) -> Array:
    """How well the fall of the amplitudes agrees with each pair of planes."""
    # free: each partial's decay and, for gain control, a parabola and a cubic per ring
    time = design.time[:, None]
    gain = np.sign(design.in_ring) * time
    columns = np.hstack([np.sign(design.own) * time, gain * time, gain * time**2])
    columns = design.centred(columns, weights)
    levels = design.centred(levels, weights)
    normal = columns.T @ (weights[:, None] * columns)
    normal[np.diag_indices_from(normal)] += 1e-9 * np.trace(normal) + 1e-12
    right = columns.T @ (weights[:, None] * levels)
    solution = np.linalg.solve(normal, right)
    result: Array = -0.5 * (weights @ levels**2 - np.sum(right * solution, axis=0))
    return result


def _targets(design: _Design) -> tuple[Array, Array, Array]:
    """Phases and levels less what each pair of planes adds, and the prior of each."""
    phases, levels, prior = [design.phase], [design.level], [0.0]
    splits = [split for split in SPLITS if split != 0.0]
    n_pairs = len(splits) * len(SHARES) / 2.0
    for split in splits:
        turn = np.exp(2j * np.pi * split * design.cycles)
        for share in SHARES:
            extra = np.log(1.0 + share * turn) / (2.0 * np.pi)
            phases.append(design.phase - extra.imag)
            levels.append(design.level - extra.real)
            sense = SAME_SENSE if share > 0.0 else 1.0 - SAME_SENSE
            prior.append(float(np.log(sense / n_pairs)))
    return np.stack(phases, axis=1), np.stack(levels, axis=1), np.array(prior)
