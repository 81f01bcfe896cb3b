"""Recordings in which no rope was plucked: drums, bells, voices, machines, a tune.

    for recording in draw_strangers(100, seed=1, split="building"):
        ...

What others recorded is slowed like the strings half of the time, so that its pitch
lies where a rope's would, and heard as it is otherwise. An answer to any of them is a
false one. Machines, fans and knocks are made by formula.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.foreign.chains import Chain, apply
from tests.benchmarks.foreign.families import Family
from tests.benchmarks.foreign.notes import (
    FASTEST,
    SLOWEST,
    Note,
    notes_of,
    strings,
)
from tests.benchmarks.foreign.recordings import (
    ForeignRecording,
    draw_note,
    lay,
    log_uniform,
    record,
    ring_of,
    slow,
    to_level,
)
from tests.benchmarks.foreign.sources import Split
from tests.synthesis import disturbances

Array = NDArray[np.float64]
Generator = np.random.Generator

RATE = 8000
SEMITONE = 2.0 ** (1.0 / 12.0)
RECORDED = tuple(family for family in Family if family is not Family.STRING)


@dataclass(frozen=True, kw_only=True, slots=True)
class Made:
    """Samples of something that is no rope, at RATE, and the pitch it has. [Hz]"""

    samples: Array
    pitch: float


def length(rng: Generator) -> int:
    """Samples of a recording of 3 to 15 s."""
    return int(RATE * rng.uniform(3.0, 15.0))


def motor(rng: Generator) -> Made:
    """A drive that runs up and down, with the whine of its gear."""
    n_samples = length(rng)
    samples = disturbances.whine(rng, n_samples, RATE)
    moments = np.linspace(0.0, 1.0, n_samples)
    speed = rng.uniform(3.0, 30.0) * np.sin(np.pi * moments) ** rng.uniform(0.3, 1.0)
    turned = 2.0 * np.pi * np.cumsum(speed) / RATE
    teeth = int(rng.integers(7, 40))
    samples += rng.uniform(0.2, 1.0) * np.cos(teeth * turned) * (1 + np.cos(turned))
    return Made(samples=samples, pitch=float(np.max(speed)))


def fan(rng: Generator) -> Made:
    """Fans and the rush of air, once in two with a blade passing at 3 to 30 Hz."""
    n_samples = length(rng)
    samples = disturbances.fan(rng, n_samples, RATE)
    pitch = log_uniform(rng, SLOWEST, FASTEST)
    if rng.random() < 0.5:
        turned = 2.0 * np.pi * pitch * np.arange(n_samples) / RATE
        turned += 0.5 * disturbances.slow_wander(rng, n_samples, RATE, 1.0)
        samples *= 1.0 + 0.8 * np.cos(turned)
    return Made(samples=samples, pitch=pitch)


def knocks_at(rng: Generator, n_samples: int, places: Array) -> Array:
    """The same knock at many places, unevenly strong."""
    samples = np.zeros(n_samples)
    one = disturbances.knock(rng, int(0.4 * RATE), RATE)
    for place in places:
        lay(samples, one * rng.uniform(0.3, 1.0), 0, int(place * RATE))
    samples += 1e-3 * disturbances.pink_noise(rng, n_samples, RATE)
    return samples


def knocking(rng: Generator) -> Made:
    """Someone at work: knocks at uneven intervals."""
    n_samples = length(rng)
    places = np.cumsum(rng.exponential(rng.uniform(0.2, 1.0), 60) + 0.08)
    return Made(
        samples=knocks_at(rng, n_samples, places),
        pitch=log_uniform(rng, SLOWEST, FASTEST),
    )


def chatter(rng: Generator) -> Made:
    """A relay or a loose part that knocks 3 to 30 times a second, in bursts."""
    n_samples = length(rng)
    pitch = log_uniform(rng, SLOWEST, FASTEST)
    places = np.arange(int(n_samples / RATE * pitch)) / pitch
    places += rng.normal(0.0, rng.choice([0.0, 0.003, 0.02]) / pitch, len(places))
    period = rng.uniform(1.0, 6.0)
    places = places[places % period < rng.uniform(0.4, 1.0) * period]
    return Made(samples=knocks_at(rng, n_samples, np.abs(places)), pitch=pitch)


def melody(rng: Generator, notes: tuple[Note, ...]) -> list[Note]:
    """Three to eight notes of one instrument, not all of one pitch."""
    while True:
        chosen = draw_note(rng, notes)
        same = [
            note
            for note in notes
            if note.maker == chosen.maker
            and note.instrument == chosen.instrument
            and note.rate == chosen.rate
        ]
        n_notes = int(rng.integers(3, 9))
        played = [same[int(rng.integers(len(same)))] for _ in range(n_notes)]
        pitches = [note.first_mode for note in played]
        if max(pitches) > SEMITONE * min(pitches):
            return played


def tune(rng: Generator, split: Split | str | None) -> Made:
    """A melody, all of it slowed by one factor."""
    played = melody(rng, strings(split))
    n_notes, rate = len(played), played[0].rate
    pitch = log_uniform(rng, SLOWEST, FASTEST)
    slowing = slow(rate, pitch / min(note.first_mode for note in played))
    pause = rng.uniform(0.3, 1.5)
    length_here = int((n_notes * pause + 1.5) * slowing.rate)
    samples = 1e-4 * rng.standard_normal(length_here)
    for i, note in enumerate(played):
        ring, lead = ring_of(note, slowing, 2.0 * pause)
        ring[-int(0.1 * slowing.rate) :] *= np.linspace(1.0, 0.0, len(ring))[
            -int(0.1 * slowing.rate) :
        ]
        lay(samples, ring, lead, int((i * pause + 0.1) * slowing.rate))
    step = slowing.rate // RATE
    return Made(samples=samples[::step], pitch=pitch)


MAKERS: dict[str, Callable[[Generator], Made]] = {
    "motor": motor,
    "fan": fan,
    "knocking": knocking,
    "chatter": chatter,
}
KINDS = (*(family.value for family in RECORDED), *MAKERS, "tune")


def record_other(
    rng: Generator, notes: tuple[Note, ...], chain: Chain, chain_rng: Generator
) -> ForeignRecording:
    """Something that others recorded, slowed or as it is."""
    note = draw_note(rng, notes)
    pitch = log_uniform(rng, SLOWEST, FASTEST)
    is_slowed = rng.random() < 0.5
    frequency = pitch if is_slowed else note.first_mode
    return record(
        rng, note, (note,), frequency, chain, cut_at=pitch, chain_rng=chain_rng
    )


def record_made(
    rng: Generator, kind: str, made: Made, chain: Chain, chain_rng: Generator
) -> ForeignRecording:
    """Something made by formula, or a tune."""
    heard = apply(
        chain, chain_rng, made.samples, rate=RATE, pitch=made.pitch, onset=0.0
    )
    return ForeignRecording(
        samples=to_level(rng, heard),
        rate=RATE,
        truth_hz=float("nan"),
        inharmonicity=0.0,
        residual=0.0,
        glide=0.0,
        source="made",
        maker="made",
        instrument=kind,
        note="",
        chain=chain.value,
        quiet_before=0.0,
        n_plucks=0,
        starts_inside_ring=False,
        onsets=(),
        gap=float("nan"),
        tail=0.0,
        slowing=1.0,
    )


def draw_strangers(
    n: int,
    seed: int,
    split: Split | str | None,
    chain: Chain | str = Chain.PHONE,
) -> Iterator[tuple[str, ForeignRecording]]:
    """Draw kinds evenly; the kind and the recording, whose truth_hz is no rope's.

    Parameters
    ----------
    n : int
        How many.
    seed : int
        The same seed gives the same recordings, in every chain.
    split : {"building", "final"} or None
        Half of the sources.
    chain : str
        What they go through.
    """
    for i in range(n):
        rng = np.random.default_rng([seed, i, 2])
        chain_rng = np.random.default_rng([seed, i, 3])
        kind = KINDS[int(rng.integers(len(KINDS)))]
        if kind in MAKERS:
            made = MAKERS[kind](rng)
            yield kind, record_made(rng, kind, made, Chain(chain), chain_rng)
        elif kind == "tune":
            made = tune(rng, split)
            yield kind, record_made(rng, kind, made, Chain(chain), chain_rng)
        else:
            notes = notes_of(Family(kind), split)
            yield kind, record_other(rng, notes, Chain(chain), chain_rng)
