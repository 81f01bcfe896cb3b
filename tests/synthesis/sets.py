"""Sets of plucked ropes with known tension, and the recordings made of them.

Interface, kept stable:

    synthetic = draw_set(RegimeName.PHONE, seed)     # -> SynthSet
    synthetic.ropes[i].hitch_tension                 # the truth, N, at the lower end
    synthetic.ropes[i].fundamental_frequency         # the truth, Hz, stronger plane
    synthetic.recordings[i].samples                  # float32, full scale +-1
    synthetic.recordings[i].sampling_rate            # int, Hz
    synthetic.recordings[i].ropes                    # rope numbers, order of plucking
    write_set(synthetic, folder)                     # in records.py: WAV and visit.toml

Numbers of ropes count from 1. The same regime and seed give the same samples.

Seeds. DEV_SEEDS, 0 to 9999, are for building and may be looked at one by one. Seeds
from HELD_OUT_FIRST, 1 000 000, upwards are for final figures only: no draw of them is
looked at, listened to or debugged while the program is being built. Each use of the
held-out range is one run of the benchmark, printed whole. REGRESSION_SEEDS, 10000 to
10999, belong to tests in the quick suite.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.synthesis.mixing import PluckedRope, Scene, mix
from tests.synthesis.plucking import Damping, Planes, Pluck, solve
from tests.synthesis.recorder import GainControl, LowCut
from tests.synthesis.regimes import REGIMES, Range, Regime, RegimeName
from tests.synthesis.ropes import (
    GRAVITY,
    RopeModes,
    RopeSpec,
    solid_rod_rigidity,
)

Array = NDArray[np.float64]
Generator = np.random.Generator

DEV_SEEDS = range(10_000)
REGRESSION_SEEDS = range(10_000, 11_000)
HELD_OUT_FIRST = 1_000_000

# True spreads, (highest - lowest) / highest, drawn evenly over and within these bins.
SPREAD_BINS = ((0.0, 0.03), (0.03, 0.07), (0.07, 0.13), (0.13, 0.40))
PATTERNS = ("random", "one-off", "two-group", "alternating")


@dataclass(frozen=True, kw_only=True)
class RopeTruth:
    """What is true of one rope.

    Attributes
    ----------
    number : int
        Counted from 1.
    free_length : float
        Socket mouth to sheave, exact to what the record says. [m]
    hitch_tension, middle_tension : float
        At the lower end and at mid-length. [N]
    share : float
        Hitch tension over the mean of the set. [1]
    fundamental_frequency : float
        First natural frequency in the stronger plane. [Hz]
    frequencies : ndarray, shape (n_modes,)
        All of them, stronger plane. [Hz]
    split, weak_level : float
        Weaker plane: relative shift of frequency, relative amplitude. [1]
    rod_free : float or None
        Free length of the shackle rod; None if the socket is clamped. [m]
    """

    number: int
    free_length: float
    hitch_tension: float
    middle_tension: float
    share: float
    fundamental_frequency: float
    frequencies: Array
    split: float
    weak_level: float
    rod_free: float | None = None


@dataclass(frozen=True, kw_only=True)
class SynthRecording:
    """One recording.

    Attributes
    ----------
    samples : ndarray of float32, shape (n_samples,)
        Full scale is 1.
    sampling_rate : int
        [Hz]
    ropes : tuple of int
        Numbers in the order plucked.
    plucks_each : int
        Releases per entry of ropes.
    onsets : tuple of float
        Moments of release. [s]
    signal_to_noise, hum_level, neighbour_level : float
        As asked for. [dB]
    troubles : tuple of str
        Disturbances it holds.
    """

    samples: NDArray[np.float32]
    sampling_rate: int
    ropes: tuple[int, ...]
    plucks_each: int
    onsets: tuple[float, ...]
    signal_to_noise: float
    hum_level: float
    neighbour_level: float
    troubles: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class SynthSet:
    """One set of ropes, one recording per rope, and the truth.

    Attributes
    ----------
    name : str
        Regime or variant.
    seed : int
        That made it.
    diameter, linear_density, flexural_rigidity : float
        Of all ropes. [m, kg/m, N m^2]
    ropes : tuple of RopeTruth
        In order of number.
    recordings : tuple of SynthRecording
        One per rope, in order of number.
    low_cut : LowCut
        Of the recorder.
    """

    name: str
    seed: int
    diameter: float
    linear_density: float
    flexural_rigidity: float
    ropes: tuple[RopeTruth, ...]
    recordings: tuple[SynthRecording, ...]
    low_cut: LowCut

    @property
    def spread(self) -> float:
        """True (highest - lowest) / highest of the hitch tensions. [1]"""
        tensions = [rope.hitch_tension for rope in self.ropes]
        return 1.0 - min(tensions) / max(tensions)


def within(rng: Generator, bounds: Range) -> float:
    """Draw evenly from a range."""
    return float(rng.uniform(*bounds))


def log_within(rng: Generator, bounds: Range) -> float:
    """Draw evenly from a range on a logarithmic axis."""
    return float(np.exp(rng.uniform(*np.log(bounds))))


def draw_pattern(rng: Generator, n_ropes: int, spread: float) -> Array:
    """Tensions relative to each other with an exact below-highest spread."""
    pattern = PATTERNS[int(rng.integers(len(PATTERNS)))]
    height = rng.uniform(0.0, 1.0, n_ropes)
    if pattern == "one-off":
        height = 0.12 * rng.uniform(0.0, 1.0, n_ropes)
        height[rng.integers(n_ropes)] = 1.0
        if rng.random() < 0.5:
            height = 1.0 - height
    elif pattern == "two-group":
        height = 0.1 * rng.uniform(0.0, 1.0, n_ropes)
        height[rng.permutation(n_ropes)[: rng.integers(1, n_ropes)]] += 0.9
    elif pattern == "alternating":
        height = 0.2 * rng.uniform(0.0, 1.0, n_ropes)
        height[:: 2 if n_ropes > 2 else 1] += 0.8 * (n_ropes > 2)
    height = (height - height.min()) / max(float(np.ptp(height)), 1e-12)
    relative: Array = 1.0 - spread * (1.0 - height)
    return relative


def draw_spread(rng: Generator) -> float:
    """Draw a true spread, evenly over the bins; now and then one slack rope."""
    if rng.random() < 0.03:
        return float(rng.uniform(0.40, 0.80))
    return within(rng, SPREAD_BINS[int(rng.integers(len(SPREAD_BINS)))])


def draw_lengths(rng: Generator, n_ropes: int, base: float) -> Array:
    """Free lengths with the sockets staggered; tenths of millimetres."""
    step = rng.uniform(0.05, 0.25) * min(1.0, base / 2.5)
    kind = rng.integers(3)
    stagger = rng.uniform(-0.015, 0.015, n_ropes)
    if kind == 0:
        stagger += step * (np.arange(n_ropes) % 2)
    elif kind == 1:
        stagger += 0.5 * step * (np.arange(n_ropes) % 3)
    lengths: Array = np.round(base + stagger, 4)
    return lengths


@dataclass(frozen=True, kw_only=True)
class DrawnRopes:
    """Ropes of one type with their modes.

    Attributes
    ----------
    diameter : float
        [m]
    modes : tuple of RopeModes
        In order of number.
    planes : tuple of Planes
        Of each rope.
    damping : Damping
        Common to the set.
    axial_stiffness : float
        Of one fall with its spring. [N/m]
    alone : tuple of RopeModes or None
        Where modes are those of a coupled set: the ropes each on its own.
    """

    diameter: float
    modes: tuple[RopeModes, ...]
    planes: tuple[Planes, ...]
    damping: Damping
    axial_stiffness: float
    alone: tuple[RopeModes, ...] | None = None

    def truths(self) -> tuple[RopeTruth, ...]:
        """What is true of each rope."""
        mean = float(np.mean([modes.spec.hitch_tension for modes in self.modes]))
        return tuple(
            RopeTruth(
                number=i + 1,
                free_length=modes.spec.free_length,
                hitch_tension=modes.spec.hitch_tension,
                middle_tension=modes.spec.middle_tension,
                share=modes.spec.hitch_tension / mean,
                fundamental_frequency=float(modes.frequencies[0]),
                frequencies=modes.frequencies,
                split=planes.split,
                weak_level=planes.weak_level,
                rod_free=None if modes.spec.rod is None else modes.spec.rod.free_length,
            )
            for i, (modes, planes) in enumerate(
                zip(self.alone or self.modes, self.planes, strict=True)
            )
        )


def draw_specs(
    rng: Generator, n_ropes: int, length: Range, spread: float | None = None
) -> tuple[float, tuple[RopeSpec, ...]]:
    """Diameter and ropes of one type whose fundamentals lie within 1.5 to 60 Hz."""
    wanted = draw_spread(rng) if spread is None else spread
    pattern = draw_pattern(rng, n_ropes, wanted)
    while True:
        diameter = float(rng.choice([0.008, 0.009, 0.010, 0.011, 0.013, 0.016]))
        density = round(0.0034 * (diameter * 1e3) ** 2 * rng.uniform(0.95, 1.08), 4)
        rigidity = log_within(rng, (0.01, 0.15)) * solid_rod_rigidity(diameter)
        highest = log_within(rng, (14.0, 110.0)) * (diameter * 1e3) ** 2
        lengths = draw_lengths(rng, n_ropes, log_within(rng, length))
        specs = tuple(
            RopeSpec(
                free_length=float(free_length),
                linear_density=density,
                flexural_rigidity=rigidity,
                hitch_tension=float(highest * relative),
            )
            for free_length, relative in zip(lengths, pattern, strict=True)
        )
        sharp = [
            np.sqrt(spec.middle_tension / density)
            / (2.0 * (spec.free_length - spec.bending_length))
            for spec in specs
        ]
        if min(sharp) > 1.5 and max(sharp) < 60.0:
            return diameter, specs


def draw_damping(rng: Generator) -> Damping:
    """Damping ratio of 0.1 to 0.3 % at the lowest modes, up to 1 % at 400 Hz."""
    low = log_within(rng, (0.001, 0.003))
    return Damping(at_zero=low, at_400=log_within(rng, (low, 0.01)))


def draw_ropes(
    rng: Generator, diameter: float, specs: tuple[RopeSpec, ...], split: Range
) -> DrawnRopes:
    """Modes, planes, damping and springs of a set."""
    fall = 27.2e9 * diameter**2 / float(np.mean([spec.free_length for spec in specs]))
    spring = log_within(rng, (50e3, 250e3))
    return DrawnRopes(
        diameter=diameter,
        modes=tuple(solve(spec) for spec in specs),
        planes=tuple(
            Planes(
                split=within(rng, split) * float(rng.choice([-1.0, 1.0])),
                weak_level=float(rng.uniform(0.0, 0.8)),
            )
            for _ in specs
        ),
        damping=draw_damping(rng),
        axial_stiffness=1.0 / (1.0 / fall + 1.0 / spring),
    )


def draw_plucks(
    rng: Generator, spec: RopeSpec, onsets: list[float], place: Range
) -> tuple[Pluck, ...]:
    """Plucks of one rope by one hand: alike, but not the same."""
    centre = within(rng, place)
    top = 0.5 if place[0] < 0.5 < place[1] else place[1] + 0.02
    hard = min(0.02, 0.005 * spec.free_length)
    width = float(rng.uniform(0.015, 0.06))
    release = log_within(rng, (0.0003, 0.003))
    return tuple(
        Pluck(
            onset=onset,
            place=float(np.clip(centre + 0.01 * rng.standard_normal(), 0.03, top)),
            width=width,
            amplitude=log_within(rng, (0.0015, hard)),
            release=release * float(rng.uniform(0.8, 1.25)),
        )
        for onset in onsets
    )


@dataclass(frozen=True, kw_only=True)
class Recorder:
    """The recorder of one visit: same for all its recordings.

    Attributes
    ----------
    rate : int
        [Hz]
    low_cut : LowCut
        First filter.
    gain_control : GainControl or None
        Automatic gain.
    clips : bool
        Whether loud parts are over full scale.
    gates : bool
        Whether quiet parts are silenced.
    mains : float
        Of the building. [Hz]
    """

    rate: int
    low_cut: LowCut
    gain_control: GainControl | None
    clips: bool
    gates: bool
    mains: float


def draw_recorder(rng: Generator, regime: Regime) -> Recorder:
    """One recorder for the whole visit."""
    control = GainControl(
        strength=float(rng.uniform(0.3, 0.8)),
        attack=log_within(rng, (0.01, 0.1)),
        release=log_within(rng, (0.3, 2.0)),
    )
    return Recorder(
        rate=int(rng.choice(regime.rates)),
        low_cut=LowCut(
            frequency=log_within(rng, regime.low_cut),
            order=int(rng.choice(regime.low_cut_orders)),
        ),
        gain_control=control if rng.random() < regime.gain_control_share else None,
        clips=bool(rng.random() < regime.clipping_share),
        gates=bool(rng.random() < regime.gate_share),
        mains=float(rng.choice([50.0, 60.0])),
    )


def draw_onsets(rng: Generator, n_plucks: int, duration: float) -> list[float]:
    """Releases with random gaps; at least 0.4 s of quiet before the first."""
    first = float(rng.uniform(0.4, 1.0))
    gap = (duration - first) / n_plucks
    return [
        round(
            first + i * gap + (float(rng.uniform(-0.12, 0.12)) * gap if i else 0.0), 4
        )
        for i in range(n_plucks)
    ]


def _draw_troubles(rng: Generator, regime: Regime) -> tuple[str, ...]:
    """Names of the disturbances of one recording."""
    shares = (
        ("speech", regime.speech_share),
        ("knock", regime.knock_share),
        ("slam", regime.slam_share),
        ("handling", regime.handling_share),
        ("fan", regime.fan_share),
    )
    return tuple(name for name, share in shares if rng.random() < share)


def record_rope(
    rng: Generator, ropes: DrawnRopes, index: int, regime: Regime, recorder: Recorder
) -> SynthRecording:
    """Pluck one rope of a set before a recorder."""
    n_plucks = int(rng.choice(regime.n_plucks))
    duration = within(rng, regime.duration)
    if n_plucks > 1:
        duration = max(duration, min(2.7 * n_plucks, 1.5 * regime.duration[1]))
    duration = round(duration, 1)
    onsets = draw_onsets(rng, n_plucks, duration)
    spec = ropes.modes[index].spec
    scene = Scene(
        duration=duration,
        plucked=(
            PluckedRope(
                index=index,
                plucks=draw_plucks(rng, spec, onsets, regime.place),
            ),
        ),
        modes=ropes.modes,
        planes=ropes.planes,
        damping=ropes.damping,
        axial_stiffness=ropes.axial_stiffness,
        sensor=regime.sensor,
        sensor_place=within(rng, regime.place),
        signal_to_noise=within(rng, regime.signal_to_noise),
        hum_level=within(rng, regime.hum_level),
        neighbour_level=within(rng, regime.neighbour_level),
        mains=recorder.mains,
        troubles=_draw_troubles(rng, regime),
    )
    samples = mix(
        rng,
        scene,
        rate=recorder.rate,
        low_cut=recorder.low_cut,
        gain_control=recorder.gain_control,
        clips=recorder.clips,
        gates=recorder.gates,
    )
    return SynthRecording(
        samples=samples,
        sampling_rate=recorder.rate,
        ropes=(index + 1,),
        plucks_each=n_plucks,
        onsets=tuple(onsets),
        signal_to_noise=scene.signal_to_noise,
        hum_level=scene.hum_level,
        neighbour_level=scene.neighbour_level,
        troubles=scene.troubles,
    )


def record_set(
    rng: Generator,
    ropes: DrawnRopes,
    regime: Regime,
    *,
    name: str,
    seed: int,
) -> SynthSet:
    """Record every rope of a set, one after the other."""
    recorder = draw_recorder(rng, regime)
    spec = ropes.modes[0].spec
    return SynthSet(
        name=name,
        seed=seed,
        diameter=ropes.diameter,
        linear_density=spec.linear_density,
        flexural_rigidity=spec.flexural_rigidity,
        ropes=ropes.truths(),
        recordings=tuple(
            record_rope(rng, ropes, i, regime, recorder)
            for i in range(len(ropes.modes))
        ),
        low_cut=recorder.low_cut,
    )


def draw_set(regime: RegimeName | str, seed: int) -> SynthSet:
    """Draw one set of one regime; the same regime and seed give the same set."""
    name = RegimeName(regime)
    table = REGIMES[name]
    rng = np.random.default_rng([seed, list(RegimeName).index(name)])
    n_ropes = int(rng.choice(table.n_ropes))
    diameter, specs = draw_specs(rng, n_ropes, table.free_length)
    ropes = draw_ropes(rng, diameter, specs, table.split)
    return record_set(rng, ropes, table, name=name.value, seed=seed)


__all__ = [
    "DEV_SEEDS",
    "GRAVITY",
    "HELD_OUT_FIRST",
    "REGRESSION_SEEDS",
    "SPREAD_BINS",
    "DrawnRopes",
    "RegimeName",
    "RopeTruth",
    "SynthRecording",
    "SynthSet",
    "draw_pattern",
    "draw_ropes",
    "draw_set",
    "draw_specs",
    "draw_spread",
    "record_set",
]
