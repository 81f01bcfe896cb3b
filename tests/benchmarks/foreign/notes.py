"""The catalogue of notes that others recorded, each with its measured fundamental.

Built once by ``python -m tests.benchmarks.foreign.fetch`` and kept in the cache folder:
catalogue.json, and the samples of each source as 16 bit in SOURCE.npz.
"""

import json
import os
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.foreign.deduplication import find_copies, shape_of
from tests.benchmarks.foreign.families import Family
from tests.benchmarks.foreign.readers import RawNote, read_source
from tests.benchmarks.foreign.reference import (
    PORTIONS,
    Reference,
    end_of,
    measure,
    onset_of,
    unmeasured,
)
from tests.benchmarks.foreign.sources import (
    SOURCES,
    Source,
    Split,
    cache_folder,
    unpacked_folder,
)

Samples = NDArray[np.float32]

FEWEST_PERIODS = 25.0
LEAST_SLOWED = 1.2
"""Shortest ring of a slowed note. [s]"""
SLOWEST, FASTEST = 3.0, 30.0
MOST_PERIODS = 420.0
"""Kept of a ring: 14 s at 30 Hz."""
LONGEST_OTHER = 4.0
"""Kept of what is no string. [s]"""
LEAST_BAND = 40.0
"""Sampling rate over fundamental, at least."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Note:
    """One take of one note.

    Attributes
    ----------
    identity : str
        Name of its samples in the file of its source.
    source, maker, instrument, name : str
        Where it is from; the note as named.
    family : Family
        A string, or what it is instead.
    split : Split
        Half it belongs to.
    take : int
        Velocity or number of the take.
    rate : float
        Sampling rate as recorded. [Hz]
    first_mode, inharmonicity : float
        Measured f_1 [Hz] and B [1]; the named pitch and 0 where it is no string.
    n_partials : int
        That the fit used.
    residual : float
        Of the fit. [cent]
    early : tuple of float
        First mode over the first PORTIONS of the ring, over first_mode, less 1. [1]
    ring : float
        Length kept, from just before the onset. [s]
    before : float
        Of that, before the onset. [s]
    """

    identity: str
    source: str
    maker: str
    instrument: str
    name: str
    family: Family
    split: Split
    take: int
    rate: float
    first_mode: float
    inharmonicity: float
    n_partials: int
    residual: float
    early: tuple[float, ...]
    ring: float
    before: float

    def pitch_over(self, periods: float) -> float:
        """First mode over the first periods of the ring. [Hz]"""
        change = np.interp(np.log(periods), np.log(PORTIONS), self.early)
        return self.first_mode * float(1.0 + change)

    def samples(self) -> Samples:
        """From just before the onset to the end of the usable ring; peak 1."""
        held = samples_of(self.source, os.getpid())[self.identity]
        return np.asarray(held, dtype=np.float32) / np.float32(32767.0)


@cache
def samples_of(source: str, process: int) -> Any:  # noqa: ANN401, ARG001
    """Open file of a source's samples, one for each process that reads it."""
    return np.load(cache_folder() / f"{source}.npz")


def catalogue_path() -> Path:
    """Where the catalogue lies."""
    return cache_folder() / "catalogue.json"


@cache
def read_catalogue() -> tuple[Note, ...]:
    """Every note kept; FileNotFoundError until something was fetched."""
    if not catalogue_path().is_file():
        raise FileNotFoundError(
            f"no {catalogue_path()}: run python -m tests.benchmarks.foreign.fetch"
        )
    rows = json.loads(catalogue_path().read_text(encoding="utf-8"))
    for row in rows:
        row["family"], row["split"] = Family(row["family"]), Split(row["split"])
        row["early"] = tuple(row["early"])
    return tuple(Note(**row) for row in rows)


def notes_of(family: Family, split: Split | str | None) -> tuple[Note, ...]:
    """Notes of one family in one half, or in both."""
    return tuple(
        note
        for note in read_catalogue()
        if note.family is family and (split is None or note.split == split)
    )


def strings(split: Split | str | None) -> tuple[Note, ...]:
    """Plucked and struck strings of one half, or of both."""
    return notes_of(Family.STRING, split)


def decays(samples: NDArray[np.float64], rate: float) -> bool:
    """Whether the level falls by 4 dB from the first sixth of the ring to the last."""
    part = max(1, min(len(samples), int(3.0 * rate)) // 6)
    start = min(int(0.05 * rate), part)
    early = np.mean(samples[start : start + part] ** 2)
    late = np.mean(samples[5 * part : 6 * part] ** 2)
    return bool(late < early * 10.0**-0.4)


def rises_late(ring: NDArray[np.float64], rate: float, pitch: float) -> bool:
    """Whether the ring gets twice as loud after its first eight periods or so."""
    period = rate / pitch
    width = int(8.0 * period)
    blocks = ring[: len(ring) // width * width].reshape(-1, width)
    first = np.mean(ring[int(period) : int(period) + width] ** 2)
    return bool(first < 0.25 * np.max(np.mean(blocks**2, axis=1)))


def reference_of(ring: NDArray[np.float64], raw: RawNote) -> Reference | str:
    """What is measured of a string, or why it is dropped."""
    if not decays(ring, raw.rate):
        return "does not decay"
    found = measure(ring, raw.rate, raw.expected)
    if isinstance(found, str):
        return found
    reasons = {
        "too short": len(ring) * found.first_mode < FEWEST_PERIODS * raw.rate,
        "too high": raw.rate < LEAST_BAND * found.first_mode,
        "rises late": rises_late(ring, raw.rate, found.first_mode),
    }
    return next((reason for reason, is_so in reasons.items() if is_so), found)


def judge(source: Source, raw: RawNote) -> tuple[Note, Samples] | str:
    """Measure one raw note, or tell why it is dropped."""
    found = np.asarray(raw.samples, dtype=float)
    if len(found) < 0.05 * raw.rate or not np.any(found):
        return "too short"
    found = found / np.max(np.abs(found))
    onset = onset_of(found, raw.rate)
    ring = found[onset:]
    ring = ring[: end_of(ring, raw.rate)]
    is_string = raw.family is Family.STRING
    known = reference_of(ring, raw) if is_string else unmeasured(raw.expected)
    if isinstance(known, str):
        return known
    longest = MOST_PERIODS / known.first_mode
    kept = ring[: int(max(longest, 0.0 if is_string else LONGEST_OTHER) * raw.rate)]
    lead = found[max(0, onset - int(0.01 * raw.rate)) : onset]
    joined = np.concatenate((lead, kept)).astype(np.float32)
    note = Note(
        identity="",
        source=source.key,
        maker=source.maker,
        instrument=raw.instrument,
        name=raw.name,
        family=raw.family,
        split=source.split,
        take=raw.take,
        rate=raw.rate,
        first_mode=known.first_mode,
        inharmonicity=known.inharmonicity,
        n_partials=known.n_partials,
        residual=known.residual,
        early=known.early,
        ring=len(joined) / raw.rate,
        before=len(lead) / raw.rate,
    )
    return note, joined


def build_source(source: Source) -> Iterator[Note]:
    """Measure all notes of a source, store them and print what was dropped and why."""
    dropped: Counter[str] = Counter()
    stored: dict[str, NDArray[np.int16]] = {}
    kept: list[Note] = []
    for raw in read_source(source, unpacked_folder(source)):
        judged = judge(source, raw)
        if isinstance(judged, str):
            dropped[judged] += 1
            continue
        note, samples = judged
        identity = f"{len(stored):04d}"
        stored[identity] = np.round(samples * 32767.0).astype(np.int16)
        kept.append(replace(note, identity=identity))
    path = cache_folder() / f"{source.key}.npz"
    path.unlink(missing_ok=True)  # who has it open keeps the old one
    np.savez(path, **stored)  # type: ignore[arg-type]
    n_strings = sum(note.family is Family.STRING for note in kept)
    told = ", ".join(f"{n} {reason}" for reason, n in dropped.most_common())
    print(
        f"{source.key}: {n_strings} strings, {len(kept) - n_strings} others kept; "
        f"dropped: {told or 'none'}"
    )
    yield from kept


def without_copies(notes: Sequence[Note]) -> tuple[Note, ...]:
    """Leave out strings that are copies, those of the building half first."""
    found = [note for note in notes if note.family is Family.STRING]
    found.sort(key=lambda note: note.split is Split.BUILDING)
    shapes = []
    for note in found:
        ring = np.asarray(note.samples()[round(note.before * note.rate) :], dtype=float)
        shapes.append(shape_of(ring, note.rate, note.first_mode))
    copies = find_copies(
        shapes,
        [note.maker for note in found],
        [note.first_mode for note in found],
    )
    gone = {note for note, copy in zip(found, copies, strict=True) if copy is not None}
    counts = Counter(note.source for note in gone)
    print("copies of other notes dropped:", dict(counts))
    return tuple(note for note in notes if note not in gone)


def build_catalogue() -> None:
    """Measure every source that lies unpacked."""
    notes = [
        note
        for source in SOURCES
        if unpacked_folder(source).is_dir()
        for note in build_source(source)
    ]
    samples_of.cache_clear()
    kept = without_copies(notes)
    text = json.dumps([asdict(note) for note in kept], indent=0)
    catalogue_path().write_text(text, encoding="utf-8")
    read_catalogue.cache_clear()
    print("\n".join(table(kept)))


def table(notes: Sequence[Note]) -> Iterator[str]:
    """What is there, by source: maker, licence, half, notes and median residual."""
    yield "\n| source | package | maker | licence | half | strings | others | cent |"
    yield "|---|---|---|---|---|---|---|---|"
    for source in SOURCES:
        held = [note for note in notes if note.source == source.key]
        found = [note for note in held if note.family is Family.STRING]
        counts = Counter(note.instrument for note in found)
        told = ", ".join(f"{name} {n}" for name, n in sorted(counts.items()))
        median = f"{np.median([n.residual for n in found]):.2f}" if found else ""
        yield (
            f"| {source.key} | {source.package} {source.version} | {source.maker} "
            f"| {source.licence} | {source.split} | {told} "
            f"| {len(held) - len(found)} | {median} |"
        )
