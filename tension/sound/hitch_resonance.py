"""Where socket and rod swing: the end turns the wave, adds lines."""

from dataclasses import dataclass

import numpy as np

from tension.physics.partials import hitch_resonance_frequency, rod_lateral_stiffness
from tension.sound.hearing import HearingPrior, RopeSpan
from tension.sound.recording import Array, Counts


@dataclass(frozen=True, kw_only=True, slots=True)
class HitchResonance:
    """How a hitch end swings."""

    # at which socket and rod would swing if the rope carried nothing away: to and fro
    # first, then nodding [Hz]
    resonances: tuple[float, ...]
    # of each resonance, by what the rope carries away: sqrt(T m)/(2 pi M) for a mass M
    # that moves to and fro [Hz]
    bandwidths: tuple[float, ...]

    def turn(self, frequencies: Array) -> Array:
        """Give `end_turn` of this end.

        `frequencies` (n_lines,) [Hz]: where. Gives shape (n_lines,): part of a mode
        number. [1]
        """
        return end_turn(
            frequencies, np.array(self.resonances), np.array(self.bandwidths)
        )

    def lines_below(self, frequencies: Array) -> Counts:
        """Count the lines of the end below some frequencies.

        `frequencies` (n_lines,) [Hz]: where. Gives shape (n_lines,): how many
        resonances lie below. [1]
        """
        below = frequencies[:, None] > np.array(self.resonances)[None, :]
        return np.asarray(np.sum(below, axis=1), dtype=np.int64)


def end_turn(frequencies: Array, resonances: Array, bandwidths: Array) -> Array:
    """Part of a mode number that a swinging end takes up.

    `frequencies` (..., n_lines) [Hz]: where; `resonances`, `bandwidths` (..., n_swings)
    [Hz]: of the end. Gives shape (..., n_lines): from 0 far below all resonances to
    their number far above. [1]

    Notes
    -----
    A lossless end has a reactance that rises between its poles (Foster's theorem): it
    turns the wave by 1/pi atan(sum of f bandwidth/(resonance^2 - f^2)) of a place, and
    by a whole place more past each pole. For one mass on one spring this is z cot z =
    -(kappa - mu z^2), as `tension.physics.partials` has it. Far above all resonances
    the mass holds the end still, and the rope is clamped in the socket.
    """
    f = frequencies[..., None, :]
    gap = resonances[..., :, None] ** 2 - f**2
    gap = np.where(np.abs(gap) < 1e-9, 1e-9, gap)
    lean = np.sum(f * bandwidths[..., :, None] / gap, axis=-2)
    passed = np.sum(gap < 0.0, axis=-2)
    result: Array = np.arctan(lean) / np.pi + passed
    return result


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


@dataclass(frozen=True, kw_only=True, slots=True)
class Expected:
    """Gaussian priors on linear functions of the columns."""

    # which functions; first of the stiffness, then of the end, shape (n_priors, 6)
    rows: Array
    # expected, and standard deviation [1], shape (n_priors,)
    means: Array
    widths: Array

    @property
    def hold(self) -> Array:
        """Inverse covariance of the columns, (6, 6)."""
        hold: Array = self.rows.T @ (self.rows / self.widths[:, None] ** 2)
        return hold

    def off(self, ends: Array) -> Array:
        """How far ends (n_ends, 6) are off, in widths, (n_ends, n_priors). [1]."""
        off: Array = (self.means - ends @ self.rows.T) / self.widths
        return off

    def pull(self, ends: Array) -> Array:
        """Slope of the log-prior at ends (n_ends, 6), of that shape."""
        pull: Array = self.off(ends) / self.widths @ self.rows
        return pull

    def sqrt_dispersion(self, log_fundamental: Array) -> Array:
        """Logarithm of the bending expected at ln of a spacing, shape as given."""
        return np.asarray(
            self.means[0] - self.rows[0, STRING_FUNDAMENTAL] * log_fundamental
        )


def _of_end(
    sqrt_dispersion: tuple[float, float, float], means: Array, widths: Array
) -> Expected:
    """Prior of an end: of ln bending plus so many ln spacings, and of four columns."""
    rows = np.eye(N_COLUMNS)[SQRT_DISPERSION:]
    rows[0, STRING_FUNDAMENTAL], mean, width = sqrt_dispersion
    return Expected(
        rows=rows, means=np.append(mean, means), widths=np.append(width, widths)
    )


def expected_ends(span: RopeSpan, prior: HearingPrior) -> Expected:
    """Turn the prior into what is expected of one rope and its end."""
    mean = np.log(2.0 * np.pi) + 0.5 * np.log(prior.rigidity_per_density)
    width = 0.5 * prior.rigidity_width
    if span.free_length is None:
        speed = np.log(prior.usual_wave_speed)
        spread = 2.0 * prior.usual_wave_speed_width
        string = 0.0, mean - 2.0 * speed, width + spread
    else:
        string = 2.0, mean - 2.0 * np.log(2.0 * span.free_length), width
    hitch = prior.hitch
    resonance, resonance_width = hitch.resonance, hitch.resonance_width
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
    usual = [resonance, hitch.bandwidth, hitch.nod, hitch.nod_bandwidth]
    widths = [
        resonance_width,
        hitch.bandwidth_width,
        hitch.nod_width,
        hitch.nod_bandwidth_width,
    ]
    return _of_end(string, np.log(usual), np.array(widths))


def told_ends(length: float, rigidity: float, hitch: HitchResonance) -> Expected:
    """Expect of a rope what other ropes of its set have shown.

    `length` [m]: its own; `rigidity` [m^4/s^2]: EI/m of the set.
    """
    mean = np.log(2.0 * np.pi) + 0.5 * np.log(rigidity) - 2.0 * np.log(2.0 * length)
    means = np.log(np.stack([hitch.resonances, hitch.bandwidths], axis=1)).ravel()
    widths = SLACK * np.array([1.0, 2.0, 2.0, 5.0])
    return _of_end((2.0, mean, 0.5 * SLACK), means, widths)
