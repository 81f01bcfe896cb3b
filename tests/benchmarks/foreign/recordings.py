"""Recordings of one string that others plucked, slowed to the pitch of a rope.

    for recording in draw("building", "phone", 100, seed=1):
        ...

Slowing is relabelling the sampling rate, then resampling to 8000 or 16 000 Hz by an
exact ratio, so the truth stays exact. Number i of a seed is the same recording in every
chain.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

from tests.benchmarks.foreign.chains import Chain, apply
from tests.benchmarks.foreign.families import ONE_STRING
from tests.benchmarks.foreign.notes import (
    FASTEST,
    LEAST_SLOWED,
    SLOWEST,
    Note,
    strings,
)
from tests.benchmarks.foreign.reference import PORTIONS
from tests.benchmarks.foreign.sources import Split
from tests.synthesis import disturbances

Array = NDArray[np.float64]
Generator = np.random.Generator

FLOOR = 70.0
"""Noise under the first second of the ring. [dB]"""
INSIDE_SHARE = 0.15
SAME_PITCH = 1e-3
SAME_STIFFNESS = 0.3
MOST_PLUCKS = 5
FEW = 6


@dataclass(frozen=True, kw_only=True, slots=True)
class Habit:
    """How one person plucks and records.

    Attributes
    ----------
    quiet : float
        Before the first pluck; 0 if the recording starts inside a ring. [s]
    cut : float
        Of the first ring before the recording starts. [s]
    gaps : tuple of float
        Between plucks; one less than there are plucks. [s]
    strengths : tuple of float
        One a pluck; 1 is the strongest possible. [1]
    fades : tuple of float
        Time in which a new pluck damps the ring before. [s]
    tail : float
        Recorded after the last pluck. [s]
    """

    quiet: float
    cut: float
    gaps: tuple[float, ...]
    strengths: tuple[float, ...]
    fades: tuple[float, ...]
    tail: float


@dataclass(frozen=True, kw_only=True, slots=True)
class ForeignRecording:
    """One recording and what is true of it.

    Attributes
    ----------
    samples : ndarray of float32, shape (n_samples,)
        Peak 0.5 to 0.9.
    rate : int
        8000 or 16 000. [Hz]
    truth_hz : float
        First mode over the longest ring between two plucks or to the end, of the first
        take if takes differ (by under 0.1 %). [Hz]
    inharmonicity : float
        B of f_n = n f_0 sqrt(1 + B n^2), f_1 being truth_hz. [1]
    residual : float
        Of the fit that gave the reference. [cent]
    glide : float
        How much sharper the first 12 periods are than truth_hz, less 1. [1]
    source, maker, instrument, note : str
        Where it is from.
    chain : str
        What it went through.
    quiet_before : float
        [s]
    n_plucks : int
        Counting one whose attack was cut off.
    starts_inside_ring : bool
        Whether the attack of the first pluck is not in the recording.
    onsets : tuple of float
        Attacks in the recording; a codec may shift them by up to 0.05 s. [s]
    gap : float
        Shortest between plucks; nan of one. [s]
    tail : float
        After the last pluck. [s]
    slowing : float
        Frequency of the recording over that of the file. [1]
    """

    samples: NDArray[np.float32]
    rate: int
    truth_hz: float
    inharmonicity: float
    residual: float
    glide: float
    source: str
    maker: str
    instrument: str
    note: str
    chain: str
    quiet_before: float
    n_plucks: int
    starts_inside_ring: bool
    onsets: tuple[float, ...]
    gap: float
    tail: float
    slowing: float


def log_uniform(rng: Generator, low: float, high: float) -> float:
    """Draw evenly on a logarithmic axis."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def draw_habit(
    rng: Generator,
    ring: float,
    *,
    quiet: float | None = None,
) -> Habit:
    """Draw freely; nothing lasts longer than the ring [s] of the slowed note."""
    n_plucks = int(rng.integers(1, MOST_PLUCKS + 1))
    before = log_uniform(rng, 0.02, 3.0)
    inside = bool(rng.random() < INSIDE_SHARE)
    cut = float(rng.uniform(0.05, 0.6))
    longest = min(4.0, ring - 0.05)
    gaps = tuple(
        float(rng.uniform(min(0.6, longest), longest)) for _ in range(n_plucks - 1)
    )
    decibels = rng.uniform(-10.0, 0.0, n_plucks)
    fades = tuple(float(x) for x in rng.uniform(0.03, 0.1, n_plucks))
    tail = float(rng.uniform(1.2, 8.0))
    is_inside = inside and quiet is None
    cut = min(cut, gaps[0] - 0.3 if gaps else ring - 1.2)
    lost = cut if is_inside and n_plucks == 1 else 0.0
    return Habit(
        quiet=0.0 if is_inside else before if quiet is None else quiet,
        cut=max(0.0, cut) if is_inside else 0.0,
        gaps=gaps,
        strengths=tuple(float(x) for x in 10.0 ** (decibels / 20.0)),
        fades=fades,
        tail=min(tail, ring - max(0.0, lost)),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Slowing:
    """An exact ratio of resampling that slows a note.

    Attributes
    ----------
    rate : int
        Of the slowed samples. [Hz]
    ratio : Fraction
        Samples out over samples in.
    factor : float
        Frequency out over frequency in. [1]
    """

    rate: int
    ratio: Fraction
    factor: float

    def apply(self, samples: Array) -> Array:
        """Resample."""
        out: Array = resample_poly(
            samples, self.ratio.numerator, self.ratio.denominator
        )
        return out


def slow(note_rate: float, factor: float) -> Slowing:
    """Ratio that brings a note to about a factor of its frequency."""
    relabelled = note_rate * factor
    rate = 16000 if relabelled >= 16000.0 else 8000
    ratio = Fraction(rate / relabelled).limit_denominator(400)
    return Slowing(rate=rate, ratio=ratio, factor=float(rate / ratio / note_rate))


def ring_of(note: Note, slowing: Slowing, longest: float) -> tuple[Array, int]:
    """Slowed samples of a note and how many of them lie before the onset."""
    taken = int((longest * slowing.factor + note.before) * note.rate) + 1
    samples = np.asarray(note.samples()[:taken], dtype=float)
    lead = int(note.before * note.rate)
    samples[:lead] *= np.linspace(0.0, 1.0, lead)
    out = slowing.apply(samples)
    return out, min(len(out), round(lead * float(slowing.ratio)))


def lay(total: Array, ring: Array, lead: int, at: int) -> None:
    """Add a ring whose onset falls on a sample; what sticks out is cut off."""
    start = at - lead
    first = max(0, -start)
    last = min(len(ring), len(total) - start)
    if last > first:
        total[start + first : start + last] += ring[first:last]


def compose(
    rng: Generator, takes: Sequence[Note], slowing: Slowing, habit: Habit
) -> tuple[Array, tuple[float, ...]]:
    """Lay the plucks of a habit one after the other; samples and onsets [s]."""
    rate = slowing.rate
    onsets = habit.quiet - habit.cut + np.concatenate(([0.0], np.cumsum(habit.gaps)))
    total = np.zeros(
        round((onsets[-1] + habit.tail + habit.cut * (len(onsets) == 1)) * rate)
    )
    ends = [*onsets[1:], len(total) / rate]
    for i, (onset, end) in enumerate(zip(onsets, ends, strict=True)):
        at = round(onset * rate)
        if i:
            width = int(habit.fades[i] * rate)
            first = max(0, at - width // 2)
            falling = 0.5 + 0.5 * np.cos(np.pi * np.arange(width) / width)
            kept = total[first : first + width]
            kept *= falling[: len(kept)]
            total[first + width :] = 0.0
        take = takes[int(rng.integers(len(takes)))] if i else takes[0]
        ring, lead = ring_of(take, slowing, end - onset + 0.3)
        lay(total, habit.strengths[i] * ring, lead if i or habit.quiet else 0, at)
    level = disturbances.rms(total[: round((max(0.0, onsets[0]) + 1.0) * rate)])
    noise = disturbances.pink_noise(rng, len(total), rate)
    noise += disturbances.white_noise(rng, len(total))
    total += noise * (level * 10.0 ** (-FLOOR / 20.0) / disturbances.rms(noise))
    return total, tuple(float(x) for x in onsets if x >= 0.0)


def is_one_string(note: Note, other: Note) -> bool:
    """Whether two notes are takes of one string: pitch and stiffness agree."""
    names = {note.instrument, other.instrument}
    return (
        note.maker == other.maker
        and note.rate == other.rate
        and (len(names) == 1 or names <= ONE_STRING)
        and abs(other.first_mode / note.first_mode - 1.0) < SAME_PITCH
        and abs(other.inharmonicity - note.inharmonicity)
        <= SAME_STIFFNESS * note.inharmonicity
    )


def takes_of(note: Note, notes: Sequence[Note]) -> tuple[Note, ...]:
    """The note, then other takes of the same string."""
    others = (n for n in notes if n != note and is_one_string(note, n))
    return (note, *others)


def record(
    rng: Generator,
    note: Note,
    takes: Sequence[Note],
    frequency: float,
    chain: Chain,
    *,
    quiet: float | None = None,
    cut_at: float | None = None,
    chain_rng: Generator | None = None,
) -> ForeignRecording:
    """One recording of a note slowed to about a frequency.

    Parameters
    ----------
    rng : Generator
        Draws the habit.
    note : Note
        First pluck.
    takes : sequence of Note
        What later plucks are drawn from; the note first.
    frequency : float
        Wanted. [Hz]
    chain : Chain
        What it goes through.
    quiet : float, optional
        Before the first pluck. [s]
    cut_at : float, optional
        Pitch that places the low cut, if not the truth. [Hz]
    chain_rng : Generator, optional
        Draws hum, noise and gain.
    """
    slowing = slow(note.rate, frequency / note.first_mode)
    ring = min((take.ring - take.before) / slowing.factor for take in takes)
    habit = draw_habit(rng, max(ring, LEAST_SLOWED), quiet=quiet)
    longest = max(*habit.gaps, habit.tail) if habit.gaps else habit.tail
    pitch = note.pitch_over(longest * slowing.factor * note.first_mode)
    truth = pitch * slowing.factor
    clean, onsets = compose(rng, takes, slowing, habit)
    heard = apply(
        chain,
        chain_rng or rng,
        clean,
        rate=slowing.rate,
        pitch=cut_at or truth,
        onset=habit.quiet,
    )
    return ForeignRecording(
        samples=to_level(rng, heard),
        rate=slowing.rate,
        truth_hz=truth,
        inharmonicity=note.inharmonicity,
        residual=note.residual,
        glide=note.pitch_over(PORTIONS[0]) / pitch - 1.0,
        source=note.source,
        maker=note.maker,
        instrument=note.instrument,
        note=note.name,
        chain=chain.value,
        quiet_before=habit.quiet,
        n_plucks=len(habit.strengths),
        starts_inside_ring=habit.cut > 0.0,
        onsets=onsets,
        gap=min(habit.gaps, default=float("nan")),
        tail=habit.tail,
        slowing=slowing.factor,
    )


def to_level(rng: Generator, samples: Array) -> NDArray[np.float32]:
    """Scale so that the peak lies between half and nine tenths of full scale."""
    peak = max(float(np.max(np.abs(samples), initial=0.0)), 1e-12)
    return (samples * (float(rng.uniform(0.5, 0.9)) / peak)).astype(np.float32)


def highest_frequency(note: Note) -> float:
    """Fastest at which the slowed ring still lasts long enough. [Hz]"""
    periods = (note.ring - note.before) * note.first_mode
    return min(FASTEST, periods / LEAST_SLOWED)


def draw_note(rng: Generator, notes: Sequence[Note]) -> Note:
    """Draw evenly by instrument, by maker, by note.

    An instrument or maker with few notes comes up less often, in their proportion.
    """
    left = tuple(notes)
    for part in ("instrument", "maker"):
        counts = Counter(str(getattr(note, part)) for note in left)
        names = sorted(counts)
        weights = np.array([min(counts[name], FEW) for name in names], dtype=float)
        chosen = names[int(rng.choice(len(names), p=weights / weights.sum()))]
        left = tuple(note for note in left if getattr(note, part) == chosen)
    return left[int(rng.integers(len(left)))]


def draw(
    split: Split | str | None,
    chain: Chain | str,
    n: int,
    seed: int,
    *,
    quiet: float | None = None,
) -> Iterator[ForeignRecording]:
    """Draw recordings of single strings.

    Parameters
    ----------
    split : {"building", "final"} or None
        Half of the sources; None for both.
    chain : str
        clean, phone, far, amr, opus, gain or voice.
    n : int
        How many.
    seed : int
        The same seed gives the same recordings, in every chain.
    quiet : float, optional
        Fixed quiet before the first pluck instead of a drawn habit. [s]
    """
    notes = strings(split)
    for i in range(n):
        rng = np.random.default_rng([seed, i])
        note = draw_note(rng, notes)
        frequency = log_uniform(rng, SLOWEST, highest_frequency(note))
        yield record(
            rng,
            note,
            takes_of(note, notes),
            frequency,
            Chain(chain),
            quiet=quiet,
            chain_rng=np.random.default_rng([seed, i, 1]),
        )
