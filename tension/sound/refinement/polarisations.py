"""What the phases of a ring are made of: string, glide of each ring, two planes."""

import numpy as np
from numpy.typing import NDArray

from tension.sound.refinement.tracks import Track
from tension.sound.strings.string_fit import StringFit, mode_slopes

Array = NDArray[np.float64]

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
LEAST_DAMPING = 7e-4
"""Damping ratio of a bare wire rope that nothing touches. [1]"""


class PhaseRows:
    """Columns of the linear problem, data in one row per frame of a track.

    Parameters
    ----------
    tracks : list of Track
        Of all rings.
    fit : StringFit
        The string they were demodulated with.
    """

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
        self.sizes = np.array([t.times.size for t in tracks])
        self.starts = np.cumsum(self.sizes) - self.sizes
        self.time = np.concatenate([t.times for t in tracks])
        self.cycles = np.concatenate([t.frequency * t.times for t in tracks])
        self.phase = np.concatenate([t.phases for t in tracks])
        self.variance = np.concatenate([t.variances for t in tracks])
        self.level = np.concatenate([t.levels for t in tracks])
        mode = np.repeat([t.mode for t in tracks], self.sizes)
        ring = np.repeat([t.ring for t in tracks], self.sizes)
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
        """Take its weighted mean in each track off each column.

        Parameters
        ----------
        values : ndarray, shape (n_rows,) or (n_rows, n_columns)
            One row per frame.
        weights : ndarray, shape (n_rows,)
            Of the frames. [1]

        Returns
        -------
        ndarray
            Of the shape of the values.
        """
        column = weights.reshape(-1, *(1,) * (values.ndim - 1))
        mean = np.add.reduceat(column * values, self.starts, axis=0)
        mean /= np.add.reduceat(column, self.starts, axis=0)
        centred: Array = values - np.repeat(mean, self.sizes, axis=0)
        return centred


def plane_targets(rows: PhaseRows) -> tuple[Array, Array, Array]:
    """Take off phases and levels what each pair of planes adds.

    Returns
    -------
    phases : ndarray, shape (n_rows, n_pairs)
        What is left of the phases; the first pair is one plane alone. [cycles]
    levels : ndarray, shape (n_rows, n_pairs)
        What is left of the levels. [1]
    log_prior : ndarray, shape (n_pairs,)
        Logarithm of the prior probability of each pair. [1]
    """
    phases, levels, prior = [rows.phase], [rows.level], [float(np.log(ONE_PLANE))]
    splits = [split for split in SPLITS if split != 0.0]
    n_pairs = len(splits) * len(SHARES) / 2.0
    for split in splits:
        along = np.cos(2.0 * np.pi * split * rows.cycles)
        across = np.sin(2.0 * np.pi * split * rows.cycles)
        for share in SHARES:
            # ln(1 + share exp(i turn)) by its parts, faster than the complex logarithm
            angle = np.arctan2(share * across, 1.0 + share * along)
            square = 1.0 + share * (share + 2.0 * along)
            phases.append(rows.phase - angle / (2.0 * np.pi))
            levels.append(rows.level - np.log(square) / (4.0 * np.pi))
            sense = SAME_SENSE if share > 0.0 else 1.0 - SAME_SENSE
            prior.append(float(np.log((1.0 - ONE_PLANE) * sense / n_pairs)))
    return np.stack(phases, axis=1), np.stack(levels, axis=1), np.array(prior)


def level_evidence(rows: PhaseRows, levels: Array, weights: Array) -> Array:
    """Weigh how well the fall of the amplitudes agrees with each pair of planes.

    Parameters
    ----------
    rows : PhaseRows
        Of all tracks.
    levels : ndarray, shape (n_rows, n_pairs)
        Less what each pair adds. [1]
    weights : ndarray, shape (n_rows,)
        Of the frames. [1]

    Returns
    -------
    ndarray, shape (n_pairs,)
        Logarithm of the likelihood, up to a constant. [1]
    """
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
    result: Array = -0.5 * (weights @ levels**2 - np.sum(right * solution, axis=0))
    return result


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
