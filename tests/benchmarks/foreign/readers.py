"""Raw notes out of an unpacked package: samples, and the pitch they are named."""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.foreign.decoding import decode
from tests.benchmarks.foreign.families import (
    DRUM_BANKS,
    Family,
    family_of,
    string_named,
)
from tests.benchmarks.foreign.patches import read_patch
from tests.benchmarks.foreign.soundfont import SoundFont, Zone, read_soundfont
from tests.benchmarks.foreign.sources import Form, Source

Array = NDArray[np.float64]

NAMED = re.compile(r"(?:^|[-_ ])([A-G])([s#]?)(-?\d)(?:v(\d+))?$")
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
MOST_OTHERS = 6
"""Samples kept of one instrument that is no string."""
MOST_PROMPTS = 60
SPOKEN_PITCH = 160.0
"""Between those of a man and a woman, from memory. [Hz]"""
RIGHT_CHANNEL = 2
LONGEST = 30.0
"""Kept of a sample. [s]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class RawNote:
    """One sample as its package has it.

    Attributes
    ----------
    instrument, name : str
        What, and which note.
    family : Family
        A string or what else.
    take : int
        Velocity or number.
    expected : float
        Pitch by name or root key. [Hz]
    samples : ndarray, shape (n_samples,)
        Of a string up to where its loop begins, else whole.
    rate : float
        [Hz]
    """

    instrument: str
    name: str
    family: Family
    take: int
    expected: float
    samples: Array
    rate: float


def key_frequency(key: float) -> float:
    """Equal temperament, key 69 = 440 Hz. [Hz]"""
    return float(440.0 * 2.0 ** ((key - 69.0) / 12.0))


BOWED = ("cello", "contrabass")


def key_named(letter: str, sharp: str, octave: str) -> int:
    """Key of a note by name, middle C (C4) being 60."""
    return SEMITONES[letter] + bool(sharp) + 12 * (int(octave) + 1)


def named_files(source: Source, folder: Path) -> Iterator[RawNote]:
    """Files whose names end in a note."""
    for path in sorted(folder.glob(source.pattern)):
        found = NAMED.search(path.stem)
        if found is None:
            continue
        key = key_named(found[1], found[2], found[3])
        samples, rate = decode(path)
        is_bowed = source.instrument in BOWED
        yield RawNote(
            instrument=source.instrument,
            name=path.stem,
            family=Family.BOWED if is_bowed else Family.STRING,
            take=int(found[4] or 0),
            expected=key_frequency(key),
            samples=samples[: int(LONGEST * rate)],
            rate=rate,
        )


def bank(source: Source, folder: Path) -> Iterator[RawNote]:
    """Samples of a sound font, each as the first preset that wants it uses it."""
    for path in sorted(folder.glob(source.pattern)):
        font = read_soundfont(path)
        zones = sorted(font.zones(), key=lambda zone: (zone.bank, zone.program))
        seen: set[int] = set()
        held: Counter[str] = Counter()
        for listed in zones:
            is_kit = source.instrument == "drums"
            zone = replace(listed, bank=DRUM_BANKS[0]) if is_kit else listed
            kind = font.tables["shdr"][zone.sample]["type"]
            if zone.sample in seen or int(kind) & RIGHT_CHANNEL:
                continue
            raw = from_zone(font, zone, held)
            wanted = source.instrument or (raw and raw.instrument)
            if raw is not None and raw.instrument == wanted:
                seen.add(zone.sample)
                yield raw


def from_zone(font: SoundFont, zone: Zone, held: Counter[str]) -> RawNote | None:
    """A sample as a zone uses it, if it is wanted."""
    instrument = string_named(zone.preset, zone.bank, zone.program)
    family: Family | None = Family.STRING
    if instrument is None:
        instrument = zone.preset if zone.bank < 100 else "drums"
        family = family_of(zone.bank, zone.program, font.name_of(zone.sample))
        most = MOST_OTHERS * (5 if instrument == "drums" else 1)
        kind = f"{instrument} {family}"
        if family is None or held[kind] >= most:
            return None
        held[kind] += 1
    samples, rate = font.read(zone.sample), font.rate_of(zone.sample)
    if family is Family.STRING and zone.loops_from is not None:
        samples = samples[: zone.loops_from]
    return RawNote(
        instrument=instrument,
        name=f"{font.name_of(zone.sample)} key {zone.key}",
        family=family or Family.EFFECT,
        take=zone.velocity,
        expected=key_frequency(zone.key),
        samples=samples[: int(LONGEST * rate)],
        rate=rate,
    )


def patches(source: Source, folder: Path) -> Iterator[RawNote]:
    """Patch files whose names begin with the number of a program."""
    for path in sorted(folder.glob(source.pattern)):
        number, _, name = path.stem.partition("_")
        is_drum = path.parent.name.startswith("Drum")
        name = name.replace("_", " ")
        program = int(number)
        instrument = None if is_drum else string_named(name, 0, program)
        family: Family | None = Family.STRING
        if instrument is None:
            family = family_of(128 if is_drum else 0, program, name)
            instrument = "drums" if is_drum else name
        if family is None:
            continue
        for i, found in enumerate(read_patch(path.read_bytes())):
            is_cut = family is Family.STRING and found.loops_from is not None
            yield RawNote(
                instrument=instrument,
                name=f"{name} {found.name or i}",
                family=family,
                take=i,
                expected=found.root,
                samples=found.samples[: found.loops_from if is_cut else None],
                rate=found.rate,
            )


def speech(source: Source, folder: Path) -> Iterator[RawNote]:
    """Spoken prompts of 2 s or more, in order of their names."""
    n_taken = 0
    for path in sorted(folder.glob(source.pattern)):
        samples, rate = decode(path)
        if len(samples) < 2.0 * rate or n_taken >= MOST_PROMPTS:
            continue
        n_taken += 1
        yield RawNote(
            instrument="speech",
            name=path.stem,
            family=Family.SPEECH,
            take=0,
            expected=SPOKEN_PITCH,
            samples=samples[: int(LONGEST * rate)],
            rate=rate,
        )


READERS = {
    Form.NAMED_FILES: named_files,
    Form.BANK: bank,
    Form.PATCHES: patches,
    Form.SPEECH: speech,
}


def read_source(source: Source, folder: Path) -> Iterator[RawNote]:
    """All raw notes of a source."""
    return READERS[source.form](source, folder)
