"""What the ear is given and gives: recordings, spans and priors; what was heard."""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, Refusal

Array = NDArray[np.float64]
"""Real numbers; the docstring of each tells shape and unit."""
Counts = NDArray[np.int64]
"""Mode numbers, places among lines."""
LEAST_WEIGHT = 1e-4  # joint assignments lighter than this are left out [1]


@dataclass(frozen=True, kw_only=True, slots=True)
class Recording:
    """One channel of sound or vibration; nothing in one that cannot be used."""

    name: str  # how the record names the file
    # samples, full scale ±1 (vibration logs: in the unit of the
    # log) [1], shape (n_samples,)
    samples: NDArray[np.float32] = field(
        default_factory=lambda: np.empty(0, np.float32)
    )
    sampling_rate: float = 0.0  # of the samples held [Hz]
    source_rate: float = 0.0  # of the file, before decimation [Hz]
    codec: str = ""  # codec name; empty for vibration logs
    # start and end of what was at full scale in the file [s], shape (n_clipped, 2)
    clipped: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 2)))
    notes: tuple[Note, ...] = ()  # what the reading found
    refusal: Refusal | None = None  # why it cannot be used at all

    @property
    def duration(self) -> float:
        """How long it lasts; nought for one that could not be read. [s]."""
        return self.samples.size / (self.sampling_rate or 1.0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Take:
    """A recording and the ropes plucked in it.

    `ropes` in the order plucked, one for a recording of one rope; `plucks_each`: how
    many plucks were announced for each; None if not said; `excluded_plucks`: left out
    by the record, counted from 1 in this recording.
    """

    recording: Recording
    ropes: tuple[int, ...]
    plucks_each: int | None = None
    excluded_plucks: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeSpan:
    """What is known of the span of one rope before listening."""

    number: int  # rope number
    # free length, and that of the shackle rod, free to swing, if known [m]
    free_length: float | None = None
    rod_free: float | None = None
    n_clamped_ends: int = 1  # 0, 1 or 2


@dataclass(frozen=True, kw_only=True, slots=True)
class HearingPrior:
    """What is expected before listening; each width is told: doubling it is a test.

    A socket of 0.5 to 3 kg at 13 mm swings on a rod of 0.05 to 0.45 m, under a usual
    load: resonances sqrt(K/M)/(2 pi) by `tension.physics.partials`, bandwidths sqrt(T
    m)/(2 pi M); nodding, with the inertia of a bar of 0.1 to 0.2 m. Common practice, no
    source.
    """

    # range searched for the fundamental [Hz]
    lowest_frequency: float = 1.2
    highest_frequency: float = 65.0
    # standard deviation of ln(fundamental times length) within a set [1]
    spread_width: float = 0.15
    # expected fundamental times twice the length, from the mass that hangs [m/s]
    wave_speed: float | None = None
    # standard deviation of the logarithm of that wave speed [1]
    wave_speed_width: float = 0.15
    # taken where none is given: what a twelfth of the breaking force makes, less an
    # empty car; used only with lengths [m/s]
    usual_wave_speed: float = 85.0
    usual_wave_speed_width: float = 0.35  # standard deviation of its logarithm [1]
    # EI/m expected: 0.01 to 0.15 of the solid rod, ropes of 6 to 22 mm [m^4/s^2]
    rigidity_per_density: float = 16.0
    rigidity_width: float = 1.2  # standard deviation of its logarithm [1]
    resonance: float = 50.0  # of the socket to and fro [Hz]
    resonance_width: float = 0.8  # of its logarithm [1]
    bandwidth: float = 8.0  # of that resonance [Hz]
    bandwidth_width: float = 0.8  # of its logarithm [1]
    nod: float = 200.0  # resonance of the nodding socket [Hz]
    nod_width: float = 0.6  # of its logarithm [1]
    nod_bandwidth: float = 1.2  # of that resonance [Hz]
    nod_bandwidth_width: float = 1.2  # of its logarithm [1]

    def widened(self, factor: float) -> Self:
        """Multiply every width by one factor [1]: a test of what a result rests on."""
        names = [each.name for each in fields(self) if each.name.endswith("_width")]
        return replace(self, **{name: factor * getattr(self, name) for name in names})


@dataclass(frozen=True, kw_only=True, slots=True)
class Pluck:
    """One pluck in a recording, used or not."""

    recording: str  # name of the recording
    index: int  # counted from 1 in the recording
    # the ring, from onset until the next event or the noise [s]
    start: float
    end: float
    is_used: bool  # whether it counts
    reason: str = ""  # why not, in plain words; empty if used
    # level of the ring over what stood before it [dB]
    signal_to_noise: float = float("nan")
    # of this pluck alone; nan if not determined [Hz]
    fundamental_frequency: float = float("nan")


@dataclass(frozen=True, kw_only=True, slots=True)
class Partial:
    """One partial of a rope."""

    mode_number: int  # 1 is the fundamental
    frequency: float  # measured [Hz]
    level: float  # level over the noise [dB]
    decay_time: float  # time to fall by 1/e; nan if not measured [s]
    is_used: bool = True  # whether it carries weight in the fit


@dataclass(frozen=True, kw_only=True, slots=True)
class HumLine:
    """A steady line."""

    frequency: float  # at which it stands [Hz]
    level: float  # over the noise [dB]


@dataclass(frozen=True, kw_only=True, slots=True)
class Rival:
    """Another way to number the partials."""

    fundamental_frequency: float  # of the rope if it is right [Hz]
    probability: float  # that it is right, after the set was heard [1]


@dataclass(frozen=True, kw_only=True, slots=True)
class Check:
    """One check that a string was held against."""

    # "count" (probability of its count among the rivals) or "rope" (ln of the odds that
    # one rope rings and is counted right)
    name: str
    # what it shows and what it needs [1]
    value: float
    least: float

    @property
    def passed(self) -> bool:
        """Whether it shows enough."""
        return self.value >= self.least


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeHearing:
    """What was heard of one rope."""

    number: int  # rope number
    # first natural frequency of the span as a stiff string, inharmonicity included; nan
    # if refused [Hz]
    fundamental_frequency: float = float("nan")
    relative_uncertainty: float = float("nan")  # standard, of the fundamental [1]
    # B in f_n = n f_0 sqrt(1 + B n^2); nan if not determined [1]
    inharmonicity: float = float("nan")
    signal_to_noise: float = float("nan")  # of the used part [dB]
    partials: tuple[Partial, ...] = ()  # in order of mode number
    plucks: tuple[Pluck, ...] = ()  # all found, used or not
    hum: tuple[HumLine, ...] = ()  # steady lines told apart
    # other assignments, likeliest first; the chosen one left out
    rivals: tuple[Rival, ...] = ()
    refusal: Refusal | None = None  # why there is no number
    # what the string was held against, in order; empty if none was found
    checks: tuple[Check, ...] = ()
    notes: tuple[Note, ...] = ()  # what was doubtful


@dataclass(frozen=True, kw_only=True, slots=True)
class Hypothesis:
    """One joint assignment of the partials of all ropes given."""

    weight: float  # probability [1]
    # first natural frequencies, as `SetHearing.given` [Hz], shape (n_given,)
    fundamental_frequencies: NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class SetHearing:
    """What was heard of a set: ropes, joint hypotheses, covariance."""

    ropes: tuple[RopeHearing, ...]  # in the order of the spans given
    given: tuple[int, ...]  # numbers of the ropes that have a fundamental
    hypotheses: tuple[Hypothesis, ...]  # heaviest first; weights sum to one
    # of ln of the fundamentals, no shared errors of the kind [1], shape (n_given,) * 2
    covariance: NDArray[np.float64]
    # EI/m common to the set; nan if not determined [m^4/s^2]
    rigidity_per_density: float = float("nan")
    # its relative standard uncertainty [1]
    rigidity_per_density_uncertainty: float = float("nan")
    notes: tuple[Note, ...] = ()  # of the set as a whole


def joint_hypotheses(ropes: Sequence[RopeHearing]) -> tuple[Hypothesis, ...]:
    """Joint assignments of the ropes given, heaviest first."""
    joint: list[tuple[float, tuple[float, ...]]] = [(1.0, ())]
    for rope in ropes:
        rest = sum(rival.probability for rival in rope.rivals)
        choices = [(1.0 - rest, rope.fundamental_frequency)]
        choices += [(r.probability, r.fundamental_frequency) for r in rope.rivals]
        joint = [
            (weight * share, (*values, value))
            for weight, values in joint
            for share, value in choices
            if weight * share > LEAST_WEIGHT
        ]
    total = sum(weight for weight, _ in joint)
    joint.sort(key=lambda one: -one[0])
    return tuple(
        Hypothesis(weight=weight / total, fundamental_frequencies=np.array(values))
        for weight, values in joint
        if values
    )
