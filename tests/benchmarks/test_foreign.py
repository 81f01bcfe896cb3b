"""What the foreign bench reads, draws and adds is what it says; nothing is fetched."""

import struct
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.benchmarks.foreign import chains, notes, readers, recordings
from tests.benchmarks.foreign.deduplication import find_copies, shape_of
from tests.benchmarks.foreign.families import Family
from tests.benchmarks.foreign.readers import RawNote
from tests.benchmarks.foreign.reference import (
    Reference,
    is_misnumbered,
    measure,
    number_partials,
    spectrum,
)
from tests.benchmarks.foreign.soundfont import read_soundfont
from tests.benchmarks.foreign.sources import SOURCES, Split
from tests.synthesis import disturbances
from tests.synthesis.recorder import LowCut

Array = NDArray[np.float64]

RATE = 44100.0


def made_ring(
    pitch: float, inharmonicity: float = 1e-4, sharp: float = 0.0, seed: int = 0
) -> Array:
    """A stiff string's ring by its formula, with faint noise; pitch is f_1.

    It starts sharper by a share that dies within 0.2 s or so.
    """
    rng = np.random.default_rng(seed)
    moments = np.arange(int(3.0 * RATE)) / RATE
    turned = 2.0 * np.pi * (moments + 0.1 * sharp * (1.0 - np.exp(-moments / 0.1)))
    spacing = pitch / np.sqrt(1.0 + inharmonicity)
    ring = 1e-5 * rng.standard_normal(len(moments))
    for n in range(1, 20):
        place = n * spacing * np.sqrt(1.0 + inharmonicity * n**2)
        wave = np.sin(place * turned + rng.uniform(0.0, 6.28))
        ring += np.exp(-moments * (1.0 + 0.1 * n)) * wave / n
    scaled: Array = ring / np.max(np.abs(ring))
    return scaled


def chunk(name: bytes, body: bytes) -> bytes:
    """One RIFF chunk."""
    return name + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)


def made_bank(steps: NDArray[np.int16]) -> bytes:
    """A sound font of one preset with one looped sample, its root key overridden."""
    preset = struct.pack("<20sHHH12s", b"Banjo", 105, 0, 0, b"")
    preset += struct.pack("<20sHHH12s", b"EOP", 0, 0, 1, b"")
    instrument = struct.pack("<20sH20sH", b"Banjo", 0, b"EOI", 1)
    zone = [(43, 0x7F00), (44, 0x7F20), (54, 1), (58, 64), (2, 5), (53, 0)]
    header = (b"Banjo E", 0, len(steps), 600, 900, 22050, 60, 0, 0, 1)
    end = (b"EOS", *([0] * 9))
    tables = {
        b"phdr": preset,
        b"pbag": struct.pack("<4H", 0, 0, 1, 0),
        b"pmod": b"",
        b"pgen": struct.pack("<2H", 41, 0),
        b"inst": instrument,
        b"ibag": struct.pack("<4H", 0, 0, len(zone), 0),
        b"imod": b"",
        b"igen": b"".join(struct.pack("<2H", *pair) for pair in zone),
        b"shdr": b"".join(struct.pack("<20s5IBbHH", *row) for row in (header, end)),
    }
    hydra = b"".join(chunk(name, body) for name, body in tables.items())
    sound = b"sdta" + chunk(b"smpl", steps.astype("<i2").tobytes())
    lists = chunk(b"LIST", sound) + chunk(b"LIST", b"pdta" + hydra)
    return chunk(b"RIFF", b"sfbk" + lists)


def test_a_bank_gives_its_samples_up_to_the_loop(tmp_path: Path) -> None:
    steps = np.arange(1000, dtype=np.int16)
    path = tmp_path / "made.sf2"
    path.write_bytes(made_bank(steps))
    font = read_soundfont(path)
    (zone,) = font.zones()
    assert (zone.preset, zone.bank, zone.program) == ("Banjo", 0, 105)
    assert (zone.key, zone.velocity, zone.loops_from) == (64, 0x20, 605)
    assert font.rate_of(zone.sample) == 22050.0
    np.testing.assert_array_equal(font.read(zone.sample) * 32768.0, steps)


def test_what_is_no_bank_is_named(tmp_path: Path) -> None:
    path = tmp_path / "made.sf2"
    path.write_bytes(chunk(b"RIFF", b"WAVE"))
    with pytest.raises(ValueError, match=r"made\.sf2 is no sound font"):
        read_soundfont(path)


@pytest.mark.parametrize("named", [110.0, 220.0, 55.0])
def test_the_reference_is_the_first_mode_whatever_octave_is_named(named: float) -> None:
    found = measure(made_ring(111.3), RATE, named)
    assert isinstance(found, Reference)
    assert found.first_mode == pytest.approx(111.3, rel=1e-4)
    assert found.inharmonicity == pytest.approx(1e-4, rel=0.05)


def test_a_string_that_starts_sharp_is_said_to() -> None:
    found = measure(made_ring(110.0, sharp=0.006), RATE, 110.0)
    assert isinstance(found, Reference)
    assert found.first_mode == pytest.approx(110.0, rel=3e-4)
    assert 0.002 < found.early[0] < 0.006
    assert list(found.early) == sorted(found.early, reverse=True)


def test_two_strings_in_unison_are_no_reference() -> None:
    other = made_ring(110.0 * 2.0 ** (8.0 / 1200.0), seed=1)
    assert measure(made_ring(110.0) + other, RATE, 110.0) == "unison"


def test_another_note_than_named_is_no_reference() -> None:
    assert measure(made_ring(130.0), RATE, 110.0) == "not the note named"


@pytest.mark.parametrize(
    ("pitch", "start"), [(110.0, 110.0), (220.0, 110.0), (220.0, 440.0)]
)
def test_a_spacing_of_half_or_twice_is_seen(pitch: float, start: float) -> None:
    shape = spectrum(made_ring(pitch), RATE, start)
    series = number_partials(shape, start, 0.45 * RATE)
    is_refused = series is None or is_misnumbered(shape, series)
    assert is_refused is (pitch != start)


def raw_note(samples: Array, expected: float = 165.0) -> RawNote:
    """A banjo's string, as it is named."""
    return RawNote(
        instrument="banjo",
        name="E3",
        family=Family.STRING,
        take=0,
        expected=expected,
        samples=samples,
        rate=RATE,
    )


@pytest.mark.parametrize(
    ("last", "rise", "decay", "named", "reason"),
    [
        (0.14, 0.0, 9.0, 165.0, "too short"),
        (0.14, 0.0, 9.0, 330.0, "too short"),
        (3.0, 0.2, 0.0, 165.0, "rises late"),
    ],
)
def test_a_note_that_will_not_do_is_dropped_with_its_reason(
    last: float, rise: float, decay: float, named: float, reason: str
) -> None:
    ring = made_ring(164.0)[: int(last * RATE)]
    moments = np.arange(len(ring)) / RATE
    ring *= np.exp(-moments * decay)
    ring *= 1.0 - 0.85 * np.exp(-moments / max(rise, 1e-6)) * (rise > 0.0)
    assert notes.judge(SOURCES[0], raw_note(ring, named)) == reason


def test_a_bowed_note_is_no_pluck() -> None:
    steady = made_ring(164.0) * np.exp(np.arange(int(3.0 * RATE)) / RATE * 1.2)
    assert notes.judge(SOURCES[0], raw_note(steady)) == "does not decay"


def test_a_good_note_is_kept_from_just_before_its_onset() -> None:
    silence = np.zeros(int(0.2 * RATE))
    judged = notes.judge(
        SOURCES[0], raw_note(np.concatenate((silence, made_ring(164.0))))
    )
    assert not isinstance(judged, str)
    note, samples = judged
    assert note.first_mode == pytest.approx(164.0, rel=1e-4)
    assert note.before == pytest.approx(0.01, abs=1e-3)
    assert len(samples) == round(note.ring * RATE)


def test_a_copy_is_found_though_retuned_and_another_string_is_not() -> None:
    ring = made_ring(110.0)
    shapes = [
        shape_of(ring, RATE, 110.0),
        shape_of(ring, RATE * 1.01, 111.1),
        shape_of(made_ring(110.0, seed=3), RATE, 110.0),
    ]
    copies = find_copies(shapes, ["one", "two", "three"], [110.0, 111.1, 110.3])
    assert copies == (None, 0, None)


@pytest.fixture
def note(monkeypatch: pytest.MonkeyPatch) -> notes.Note:
    """A note made by formula."""
    ring = made_ring(110.0)
    lead = np.zeros(int(0.01 * RATE))
    steps = np.round(np.concatenate((lead, ring)) * 32767.0).astype(np.int16)
    monkeypatch.setattr(notes, "samples_of", lambda *_: {"0000": steps})
    return notes.Note(
        identity="0000",
        source="made",
        maker="made",
        instrument="string",
        name="A2",
        family=Family.STRING,
        split=Split.BUILDING,
        take=0,
        rate=RATE,
        first_mode=110.0,
        inharmonicity=1e-4,
        n_partials=19,
        residual=0.1,
        early=(0.0,) * 5,
        ring=len(steps) / RATE,
        before=len(lead) / RATE,
    )


@pytest.mark.parametrize("seed", range(20))
def test_a_habit_never_outlasts_the_ring(seed: int) -> None:
    ring = 1.3
    habit = recordings.draw_habit(np.random.default_rng(seed), ring)
    assert all(0.6 <= gap <= ring for gap in habit.gaps)
    lost = 0.0 if habit.gaps else habit.cut
    assert 0.0 < habit.tail + lost <= ring + 1e-9
    assert (habit.quiet == 0.0) == (habit.cut > 0.0)
    assert len(habit.strengths) == len(habit.gaps) + 1


@pytest.mark.parametrize("factor", [0.0123, 0.0777, 0.1413, 0.6])
def test_the_factor_is_that_of_the_ratio_taken(factor: float) -> None:
    slowing = recordings.slow(44101.0, factor)
    assert slowing.rate / slowing.ratio == pytest.approx(44101.0 * slowing.factor)
    assert slowing.factor == pytest.approx(factor, rel=1e-3)
    assert slowing.factor != factor


def test_the_truth_of_a_slowed_note_is_exact(note: notes.Note) -> None:
    rng = np.random.default_rng(5)
    found = recordings.record(rng, note, (note,), 9.7, chains.Chain.CLEAN, quiet=0.5)
    assert found.truth_hz == pytest.approx(9.7, rel=2e-3)
    first = int((found.onsets[-1] + 0.3) * found.rate)
    ring = found.samples[first:].astype(float)
    size = 1 << 22
    level = np.abs(np.fft.rfft(ring * np.hanning(len(ring)), size))
    place = np.argmax(level[: int(12.0 * size / found.rate)]) * found.rate / size
    assert place == pytest.approx(found.truth_hz, rel=2e-3)


def test_the_truth_is_that_of_the_part_recorded(note: notes.Note) -> None:
    sharp = replace(note, early=(0.01, 0.01, 0.008, 0.004, 0.002))
    rng = np.random.default_rng(5)
    found = recordings.record(rng, sharp, (sharp,), 9.7, chains.Chain.CLEAN, quiet=0.5)
    parts = (*np.diff(found.onsets), found.tail)
    pitch = sharp.pitch_over(max(parts) * 9.7)
    assert found.truth_hz == pytest.approx(pitch * found.slowing, rel=1e-4)
    assert found.truth_hz > 1.001 * note.first_mode * found.slowing


def test_the_quiet_asked_for_is_quiet(note: notes.Note) -> None:
    rng = np.random.default_rng(1)
    found = recordings.record(rng, note, (note,), 20.0, chains.Chain.CLEAN, quiet=0.7)
    assert found.onsets[0] == pytest.approx(0.7)
    before = found.samples[: int(0.5 * found.rate)]
    after = found.samples[int(0.7 * found.rate) : int(1.7 * found.rate)]
    ratio = 20.0 * np.log10(np.std(after) / np.std(before))
    assert ratio == pytest.approx(recordings.FLOOR, abs=6.0)


@pytest.mark.parametrize(
    ("chain", "under"),
    # each 20 dB under the ring add up to 17.0 dB, 3 and 15 dB to 2.7 dB
    [(chains.Chain.PHONE, 16.99), (chains.Chain.FAR, 2.73)],
)
def test_hum_and_noise_are_as_far_under_the_ring_as_said(
    chain: chains.Chain, under: float
) -> None:
    rate, pitch = 8000, 11.0
    moments = np.arange(6 * rate) / rate
    ring = np.sin(2.0 * np.pi * 8.3 * pitch * moments) * np.exp(-moments)
    found = chains.apply(
        chain, np.random.default_rng(0), ring, rate=rate, pitch=pitch, onset=0.5
    )
    order, place = (2, 1.6) if chain is chains.Chain.PHONE else (4, 3.5)
    heard = LowCut(frequency=place * pitch, order=order).apply(ring, rate)
    level = disturbances.rms(heard[rate // 2 : rate // 2 + rate])
    ratio = 20.0 * np.log10(level / disturbances.rms(found - heard))
    assert ratio == pytest.approx(under, abs=0.5)


@pytest.mark.parametrize("chain", list(chains.Chain))
def test_every_chain_keeps_the_length(chain: chains.Chain) -> None:
    rate = 8000
    moments = np.arange(2 * rate) / rate
    ring = np.sin(2.0 * np.pi * 440.0 * moments) * np.exp(-moments)
    found = chains.apply(
        chain, np.random.default_rng(0), ring, rate=rate, pitch=20.0, onset=0.0
    )
    assert np.all(np.isfinite(found))
    assert len(found) == pytest.approx(len(ring), abs=0.06 * rate)


def test_no_maker_is_in_both_halves() -> None:
    halves: dict[str, set[Split]] = {}
    for source in SOURCES:
        halves.setdefault(source.maker, set()).add(source.split)
    assert all(len(found) == 1 for found in halves.values())


@pytest.mark.parametrize(
    ("name", "frequency"),
    # equal temperament from A4 = 440 Hz (ISO 16): E1 is 41 semitones below, A1 36
    [("E1", 41.203), ("harp-A1", 55.0), ("bass_As1", 58.270), ("A4v10", 440.0)],
)
def test_a_name_is_its_note(name: str, frequency: float) -> None:
    found = readers.NAMED.search(name)
    assert found is not None
    key = readers.key_named(found[1], found[2], found[3])
    assert readers.key_frequency(key) == pytest.approx(frequency, abs=5e-4)


def test_a_name_without_a_note_is_none() -> None:
    assert readers.NAMED.search("rope-3") is None
