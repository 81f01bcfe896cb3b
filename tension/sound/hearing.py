"""What was heard of one rope and of a whole set."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from tension.notes import Note, Refusal

LEAST_WEIGHT = 1e-4
"""Joint assignments lighter than this are left out. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeSpan:
    """What is known of the span of one rope before listening.

    Attributes
    ----------
    number : int
        Rope number.
    free_length, rod_free : float or None
        Free length, and that of the shackle rod, free to swing, if known. [m]
    n_clamped_ends : int
        0, 1 or 2.
    """

    number: int
    free_length: float | None = None
    rod_free: float | None = None
    n_clamped_ends: int = 1


@dataclass(frozen=True, kw_only=True, slots=True)
class HitchPrior:
    """How a socket on a free rod is expected to swing; widths are of logarithms.

    A socket of 0.5 to 3 kg at 13 mm, on a rod of 0.05 to 0.45 m, under a usual load:
    resonances sqrt(K/M)/(2 pi) by `tension.physics.partials`, bandwidths sqrt(T m)/(2
    pi M); nodding, with the inertia of a bar of 0.1 to 0.2 m. Common practice, no
    source.

    Attributes
    ----------
    resonance, resonance_width : float
        Of the socket to and fro. [Hz], [1]
    bandwidth, bandwidth_width : float
        Of that resonance. [Hz], [1]
    nod, nod_width : float
        Resonance of the nodding socket. [Hz], [1]
    nod_bandwidth, nod_bandwidth_width : float
        Of that resonance. [Hz], [1]
    """

    resonance: float = 50.0
    resonance_width: float = 0.8
    bandwidth: float = 8.0
    bandwidth_width: float = 0.8
    nod: float = 200.0
    nod_width: float = 0.6
    nod_bandwidth: float = 1.2
    nod_bandwidth_width: float = 1.2

    def widened(self, factor: float) -> Self:
        """Multiply every width by one factor [1]."""
        return replace(
            self,
            resonance_width=factor * self.resonance_width,
            bandwidth_width=factor * self.bandwidth_width,
            nod_width=factor * self.nod_width,
            nod_bandwidth_width=factor * self.nod_bandwidth_width,
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class HearingPrior:
    """What is expected before listening; every width is stated, doubling it is a test.

    Attributes
    ----------
    lowest_frequency, highest_frequency : float
        Range searched for the fundamental. [Hz]
    spread_width : float
        Standard deviation of ln(fundamental times length) within a set. [1]
    wave_speed : float or None
        Expected fundamental times twice the length, from the mass that hangs. [m/s]
    wave_speed_width : float
        Standard deviation of the logarithm of that wave speed. [1]
    usual_wave_speed : float
        Taken where none is given: what a twelfth of the breaking force makes, less an
        empty car; used only with lengths. [m/s]
    usual_wave_speed_width : float
        Standard deviation of its logarithm. [1]
    rigidity_per_density : float
        EI/m expected: 0.01 to 0.15 of the solid rod, ropes of 6 to 22 mm. [m^4/s^2]
    rigidity_width : float
        Standard deviation of its logarithm. [1]
    hitch : HitchPrior
        Of a socket that swings on its rod.
    """

    lowest_frequency: float = 1.2
    highest_frequency: float = 65.0
    spread_width: float = 0.15
    wave_speed: float | None = None
    wave_speed_width: float = 0.15
    usual_wave_speed: float = 85.0
    usual_wave_speed_width: float = 0.35
    rigidity_per_density: float = 16.0
    rigidity_width: float = 1.2
    hitch: HitchPrior = HitchPrior()

    def widened(self, factor: float) -> Self:
        """Multiply every width by one factor [1]: a test of what a result rests on."""
        return replace(
            self,
            spread_width=factor * self.spread_width,
            wave_speed_width=factor * self.wave_speed_width,
            usual_wave_speed_width=factor * self.usual_wave_speed_width,
            rigidity_width=factor * self.rigidity_width,
            hitch=self.hitch.widened(factor),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Pluck:
    """One pluck in a recording, used or not.

    Attributes
    ----------
    recording : str
        Name of the recording.
    index : int
        Counted from 1 in the recording.
    start, end : float
        The ring, from onset until the next event or the noise. [s]
    is_used : bool
        Whether it counts.
    reason : str
        Why not, in plain words; empty if used.
    signal_to_noise : float
        Level of the ring over what stood before it. [dB]
    fundamental_frequency : float
        Of this pluck alone; nan if not determined. [Hz]
    """

    recording: str
    index: int
    start: float
    end: float
    is_used: bool
    reason: str = ""
    signal_to_noise: float = float("nan")
    fundamental_frequency: float = float("nan")


@dataclass(frozen=True, kw_only=True, slots=True)
class Partial:
    """One partial of a rope.

    Attributes
    ----------
    mode_number : int
        1 is the fundamental.
    frequency : float
        Measured. [Hz]
    level : float
        Level over the noise. [dB]
    decay_time : float
        Time to fall by 1/e; nan if not measured. [s]
    is_used : bool
        Whether it carries weight in the fit.
    """

    mode_number: int
    frequency: float
    level: float
    decay_time: float
    is_used: bool = True


@dataclass(frozen=True, kw_only=True, slots=True)
class HumLine:
    """A steady line: its frequency [Hz], and level over the noise [dB]."""

    frequency: float
    level: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Rival:
    """Another way to number the partials: fundamental [Hz], and probability [1].

    The probability is that after the set was heard.
    """

    fundamental_frequency: float
    probability: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Check:
    """One check that a string was held against.

    Attributes
    ----------
    name : str
        "count" (probability of its count among the rivals) or "rope" (ln of the odds
        that one rope rings and is counted right).
    value, least : float
        What it shows and what it needs. [1]
    """

    name: str
    value: float
    least: float

    @property
    def passed(self) -> bool:
        """Whether it shows enough."""
        return self.value >= self.least


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeHearing:
    """What was heard of one rope.

    Attributes
    ----------
    number : int
        Rope number.
    fundamental_frequency : float
        First natural frequency of the span as a stiff string, inharmonicity included;
        nan if refused. [Hz]
    relative_uncertainty : float
        Relative standard uncertainty of the fundamental. [1]
    inharmonicity : float
        B in f_n = n f_0 sqrt(1 + B n^2); nan if not determined. [1]
    signal_to_noise : float
        Of the used part. [dB]
    partials : tuple of Partial
        In order of mode number.
    plucks : tuple of Pluck
        All found, used or not.
    hum : tuple of HumLine
        Steady lines told apart.
    rivals : tuple of Rival
        Other assignments, likeliest first; the chosen one left out.
    refusal : Refusal or None
        Why there is no number.
    checks : tuple of Check
        What the string was held against, in order; empty if none was found.
    notes : tuple of Note
        What was doubtful.
    """

    number: int
    fundamental_frequency: float
    relative_uncertainty: float
    inharmonicity: float
    signal_to_noise: float
    partials: tuple[Partial, ...] = ()
    plucks: tuple[Pluck, ...] = ()
    hum: tuple[HumLine, ...] = ()
    rivals: tuple[Rival, ...] = ()
    refusal: Refusal | None = None
    checks: tuple[Check, ...] = ()
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Hypothesis:
    """One joint assignment of the partials of all ropes given.

    `weight` [1]: probability; `fundamental_frequencies` (n_given,) [Hz]: in the order
    of ``SetHearing.given``.
    """

    weight: float
    fundamental_frequencies: NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class SetHearing:
    """What was heard of a set: ropes, joint hypotheses, covariance.

    Attributes
    ----------
    ropes : tuple of RopeHearing
        In the order of the spans given.
    given : tuple of int
        Numbers of the ropes that have a fundamental.
    hypotheses : tuple of Hypothesis
        Heaviest first; weights sum to one.
    covariance : ndarray, shape (n_given, n_given)
        Of the logarithms of the fundamentals, shared errors of the kind left out. [1]
    rigidity_per_density : float
        EI/m common to the set; nan if not determined. [m^4/s^2]
    rigidity_per_density_uncertainty : float
        Its relative standard uncertainty. [1]
    notes : tuple of Note
        Of the set as a whole.
    """

    ropes: tuple[RopeHearing, ...]
    given: tuple[int, ...]
    hypotheses: tuple[Hypothesis, ...]
    covariance: NDArray[np.float64]
    rigidity_per_density: float = float("nan")
    rigidity_per_density_uncertainty: float = float("nan")
    notes: tuple[Note, ...] = ()


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
