"""Draws beside the three regimes: mid-span plucks, rods, one rope alone, clean plucks.

    draw_midspan_set(seed)   plucked at mid-span through an 80 Hz roll-off
    draw_rods_set(seed)      equal set, sockets on rods of different free length by row
    draw_coupled_set(seed)   ropes on one hitch plate that gives way
    draw_touching_set(seed)  one rope touches a guard while it swings wide
    draw_lone_rope(seed)     one rope, one neighbour, no set: a SynthSet of one rope
    draw_clean_pluck(seed)   one plane, exponential decay, white noise, no low cut

Seeds as in sets.py.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.synthesis.coupled import couple
from tests.synthesis.disturbances import rms, white_noise
from tests.synthesis.plucking import (
    MODELLING_RATE,
    Damping,
    Planes,
    Sensor,
    modal_amplitudes,
    ring,
    sensed,
    solve,
)
from tests.synthesis.recorder import quantised
from tests.synthesis.regimes import REGIMES, Range, Regime, RegimeName
from tests.synthesis.ropes import Rod, RopeSpec, solid_rod_rigidity
from tests.synthesis.sets import (
    DrawnRopes,
    SynthRecording,
    SynthSet,
    draw_damping,
    draw_plucks,
    draw_recorder,
    draw_ropes,
    draw_specs,
    log_within,
    record_rope,
    record_set,
    within,
)

Array = NDArray[np.float64]

MIDSPAN = replace(
    REGIMES[RegimeName.PHONE],
    low_cut=(80.0, 80.0001),
    low_cut_orders=(2,),
    place=(0.495, 0.505),
)

RODS = replace(REGIMES[RegimeName.PHONE], low_cut=(10.0, 60.0))

# what the neighbours do is left to the plate
COUPLED = replace(
    REGIMES[RegimeName.PHONE],
    low_cut=(10.0, 80.0),
    neighbour_level=(-300.0, -300.0),
)

TOUCHING = replace(
    REGIMES[RegimeName.PHONE],
    n_plucks=(1,),
    speech_share=0.0,
    knock_share=0.0,
    slam_share=0.0,
    gain_control_share=0.0,
    signal_to_noise=(18.0, 30.0),
)

LONE = Regime(
    sensor=Sensor.MICROPHONE,
    free_length=(1.5, 14.0),
    duration=(3.0, 10.0),
    low_cut=(20.0, 120.0),
    low_cut_orders=(1, 2, 2, 3, 4),
    signal_to_noise=(0.0, 40.0),
    hum_level=(-30.0, 3.0),
    neighbour_level=(-25.0, -10.0),
    speech_share=0.2,
    knock_share=0.2,
    clipping_share=0.15,
    gain_control_share=0.3,
    split=(0.0, 0.003),
)


def draw_midspan_set(seed: int) -> SynthSet:
    """Draw a set plucked and heard at mid-span, where even modes have a node."""
    rng = np.random.default_rng([seed, 11])
    n_ropes = int(rng.choice(MIDSPAN.n_ropes))
    diameter, specs = draw_specs(rng, n_ropes, MIDSPAN.free_length)
    ropes = draw_ropes(rng, diameter, specs, MIDSPAN.split)
    return record_set(rng, ropes, MIDSPAN, name="mid-span", seed=seed)


def draw_rods_set(
    seed: int, spread: Range = (0.0, 0.03), rod_free: Range = (0.05, 0.45)
) -> SynthSet:
    """Draw an equal set whose two rows hang on rods of different free length.

    Rod core about as thick as the rope or a little more, socket 0.5 to 3 kg, a plate
    of 1e6 to 1e8 N/m that holds the rod's slope.
    """
    rng = np.random.default_rng([seed, 12])
    n_ropes = int(rng.choice(RODS.n_ropes))
    wanted = within(rng, spread)
    diameter, specs = draw_specs(rng, n_ropes, RODS.free_length, wanted)
    free = [within(rng, rod_free), within(rng, rod_free)]
    rod = Rod(
        free_length=1.0,
        diameter=diameter * float(rng.uniform(1.0, 1.5)),
        socket_mass=log_within(rng, (0.5, 3.0)) * (diameter / 0.013) ** 2,
        plate_stiffness=log_within(rng, (1e6, 1e8)),
        plate_rotation_stiffness=log_within(rng, (3e3, 1e5)),
    )
    hung = tuple(
        replace(spec, rod=replace(rod, free_length=round(free[i % 2], 3)))
        for i, spec in enumerate(specs)
    )
    ropes = draw_ropes(rng, diameter, hung, RODS.split)
    return record_set(rng, ropes, RODS, name="rods", seed=seed)


def draw_coupled_set(seed: int, plate: Range = (1e6, 2e7)) -> SynthSet:
    """Draw a set on one plate: neighbours sound by what the plate passes on.

    The truth is of each rope on its own; close ropes push each other's lines apart by
    up to T / (plate stiffness times length).
    """
    rng = np.random.default_rng([seed, 16])
    n_ropes = int(rng.choice(COUPLED.n_ropes))
    diameter, specs = draw_specs(rng, n_ropes, COUPLED.free_length)
    alone = draw_ropes(rng, diameter, specs, COUPLED.split)
    modes = couple(alone.modes, log_within(rng, plate), plate_mass=2.0)
    ropes = replace(alone, modes=modes, alone=alone.modes)
    return record_set(rng, ropes, COUPLED, name="coupled", seed=seed)


def draw_touching_set(seed: int) -> tuple[SynthSet, int]:
    """Draw a set of which one rope, its number returned, touches a guard at first.

    While it swings wide it is shorter by 3 to 15 %, and buzzes; then it comes free.
    """
    rng = np.random.default_rng([seed, 17])
    n_ropes = int(rng.choice(TOUCHING.n_ropes))
    diameter, specs = draw_specs(rng, n_ropes, TOUCHING.free_length)
    ropes = draw_ropes(rng, diameter, specs, TOUCHING.split)
    synthetic = record_set(rng, ropes, TOUCHING, name="touching", seed=seed)
    index = int(rng.integers(n_ropes))
    spec = specs[index]
    shorter = replace(spec, free_length=spec.free_length * rng.uniform(0.85, 0.97))
    short = replace(
        ropes,
        modes=tuple(
            solve(shorter) if i == index else modes
            for i, modes in enumerate(ropes.modes)
        ),
    )
    recorder = draw_recorder(rng, TOUCHING)
    touching = record_rope(rng, short, index, TOUCHING, recorder)
    free = record_rope(rng, ropes, index, TOUCHING, recorder)
    spliced = _come_free(rng, touching, free)
    recordings = list(synthetic.recordings)
    recordings[index] = spliced
    return replace(synthetic, recordings=tuple(recordings)), index + 1


def _come_free(
    rng: np.random.Generator, touching: SynthRecording, free: SynthRecording
) -> SynthRecording:
    """The first pluck of one, buzzing, until it turns into the other."""
    rate = touching.sampling_rate
    n_samples = min(len(touching.samples), len(free.samples))
    onset = int(touching.onsets[0] * rate)
    loud = int(rng.uniform(0.25, 1.0) * rate)
    early = touching.samples.astype(float)
    late = free.samples.astype(float)
    early /= rms(early[onset : onset + rate])
    late /= rms(late[int(free.onsets[0] * rate) :][:rate])
    # both releases at one moment
    late = np.roll(late, onset - int(free.onsets[0] * rate))
    share = np.clip((np.arange(n_samples) - onset - loud) / (0.05 * rate), 0.0, 1.0)
    total = early[:n_samples] * (1.0 - share) + late[:n_samples] * share
    buzz = np.zeros(n_samples)
    part = white_noise(rng, loud) * np.abs(early[onset : onset + loud]) * 0.5
    buzz[onset : onset + len(part)] = part[: n_samples - onset]
    total += buzz
    return replace(
        touching,
        samples=quantised(0.5 * total / float(np.max(np.abs(total)))),
        troubles=("touching",),
    )


def _lone_specs(rng: np.random.Generator) -> tuple[float, tuple[RopeSpec, ...]]:
    """A rope of 2.6 to 58 Hz and its neighbour 1 to 8 % away."""
    while True:
        diameter, specs = draw_specs(rng, 2, LONE.free_length, 0.05)
        wanted = log_within(rng, (2.6, 58.0))
        first = specs[0]
        speed = 2.0 * first.free_length * wanted
        tension = first.linear_density * speed**2
        if not 10.0 < tension / (diameter * 1e3) ** 2 < 130.0:
            continue
        off = float(rng.choice([-1.0, 1.0])) * rng.uniform(0.01, 0.08)
        own = replace(first, hitch_tension=tension)
        other = replace(own, hitch_tension=tension * (1.0 + off) ** 2)
        return diameter, (own, other)


def draw_lone_rope(seed: int) -> SynthSet:
    """Draw one rope alone, to be heard with no set and no prior."""
    rng = np.random.default_rng([seed, 13])
    diameter, specs = _lone_specs(rng)
    ropes = draw_ropes(rng, diameter, specs, LONE.split)
    recorder = draw_recorder(rng, LONE)
    return SynthSet(
        name="one rope",
        seed=seed,
        diameter=diameter,
        linear_density=specs[0].linear_density,
        flexural_rigidity=specs[0].flexural_rigidity,
        ropes=ropes.truths()[:1],
        recordings=(record_rope(rng, ropes, 0, LONE, recorder),),
        low_cut=recorder.low_cut,
    )


@dataclass(frozen=True, kw_only=True)
class CleanPluck:
    """A pluck in white noise, with all that the Cramer-Rao bound needs.

    Attributes
    ----------
    samples : ndarray of float32, shape (n_samples,)
        Full scale is 1.
    sampling_rate : int
        [Hz]
    onset : float
        [s]
    free_length : float
        [m]
    frequencies, amplitudes, rates : ndarray, shape (n_modes,)
        Of the partials: [Hz], in units of the samples, [1/s].
    noise : float
        Standard deviation per sample.
    """

    samples: NDArray[np.float32]
    sampling_rate: int
    onset: float
    free_length: float
    frequencies: Array
    amplitudes: Array
    rates: Array
    noise: float

    def bound(self, used: NDArray[np.intp]) -> float:
        """Cramer-Rao bound of ln f1 from chosen partials, stiffness unknown. [1]

        used holds indices into frequencies. Each damped partial has the bound of a
        damped sinusoid with unknown amplitude and phase; (f1, B) of
        f_n = n f0 sqrt(1 + B n^2) follow by weighted least squares.
        """
        seconds = len(self.samples) / self.sampling_rate - self.onset
        moments = np.arange(int(seconds * self.sampling_rate)) / self.sampling_rate
        weights = []
        for i in used:
            decay = np.exp(-2.0 * self.rates[i] * moments)
            s0, s1, s2 = (float(np.sum(moments**k * decay)) for k in range(3))
            level = self.amplitudes[i] ** 2 / (2.0 * self.noise**2)
            weights.append((2.0 * np.pi) ** 2 * level * (s2 - s1**2 / s0))
        n = np.asarray(used, dtype=float) + 1.0
        stiffness = self.inharmonicity()
        by_f1 = self.frequencies[used]
        by_b = 0.5 * by_f1 * (n**2 / (1.0 + stiffness * n**2) - 1.0 / (1.0 + stiffness))
        columns = np.array([by_f1, by_b])
        fisher = (columns * np.array(weights)) @ columns.T
        if len(n) == 1:
            return float(1.0 / np.sqrt(fisher[0, 0]))
        return float(np.sqrt(np.linalg.inv(fisher)[0, 0]))

    def inharmonicity(self) -> float:
        """B of the lowest partials by least squares. [1]"""
        n = np.arange(1, min(13, len(self.frequencies) + 1))
        squares = (self.frequencies[: len(n)] / n) ** 2
        slope, level = np.polyfit(n**2, squares, 1)
        return float(max(slope / level, 0.0))


def draw_clean_pluck(seed: int) -> CleanPluck:
    """Draw one clean pluck: 20 to 40 dB in white noise, nothing else."""
    rng = np.random.default_rng([seed, 14])
    _, specs = draw_specs(rng, 2, (1.5, 12.0), 0.05)
    spec = specs[0]
    modes = solve(spec)
    damping = draw_damping(rng)
    onset, seconds, rate = 0.6, 7.0, 8000
    pluck = draw_plucks(rng, spec, [onset], (0.1, 0.4))[0]
    weights = sensed(modes, Sensor.MICROPHONE, within(rng, (0.1, 0.4)), 0.12)
    weights = weights * modal_amplitudes(modes, pluck)
    n_samples = int(seconds * rate)
    # made directly at the file's rate: no resampling, no ramp but the onset's
    moments = np.arange(n_samples - int(onset * rate)) / rate
    rates = damping.rates(modes.frequencies)
    sound = np.zeros(n_samples)
    for weight, frequency, fall in zip(weights, modes.frequencies, rates, strict=True):
        sound[-len(moments) :] += (
            weight * np.exp(-fall * moments) * np.cos(2 * np.pi * frequency * moments)
        )
    first = int(onset * rate)
    level = rms(sound[first : first + rate])
    noise = level * 10.0 ** (-within(rng, (20.0, 40.0)) / 20.0)
    sound = sound + noise * rng.standard_normal(n_samples)
    scale = 0.5 / float(np.max(np.abs(sound)))
    return CleanPluck(
        samples=(sound * scale).astype(np.float32),
        sampling_rate=rate,
        onset=onset,
        free_length=spec.free_length,
        frequencies=modes.frequencies,
        amplitudes=np.abs(weights) * scale,
        rates=rates,
        noise=noise * scale,
    )


def ring_alone(seconds: float, rate: int, seed: int) -> Array:
    """A plain good pluck without anything else, for spoiling on purpose."""
    rng = np.random.default_rng([seed, 15])
    spec = RopeSpec(
        free_length=3.4,
        linear_density=0.575,
        flexural_rigidity=0.035 * solid_rod_rigidity(0.013),
        hitch_tension=3000.0,
    )
    ropes = DrawnRopes(
        diameter=0.013,
        modes=(solve(spec),),
        planes=(Planes(),),
        damping=Damping(at_zero=0.002, at_400=0.005),
        axial_stiffness=1e5,
    )
    pluck = draw_plucks(rng, spec, [0.0], (0.2, 0.3))[0]
    modes = ropes.modes[0]
    weights = sensed(modes, Sensor.MICROPHONE, 0.25, 0.12)
    sound = ring(
        modes,
        weights * modal_amplitudes(modes, pluck),
        ropes.damping,
        n_samples=int(seconds * MODELLING_RATE),
    )
    from scipy.signal import resample

    full: Array = resample(sound, int(seconds * rate))
    return full / float(np.max(np.abs(full)))
