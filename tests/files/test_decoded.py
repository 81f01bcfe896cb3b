"""Sound handed over decoded is taken as its file is, where nothing decodes."""

import subprocess
import sys
import threading
import wave
from pathlib import Path

import numpy as np
import pytest

from tension.errors import InvalidValueError
from tension.files.sound import read_recording, read_two_at_a_time
from tension.files.sound_stream import DecodedSound
from tests.synthesis.recorder import write_wave

RATE = 16_000


def ring(seconds: float = 3.0) -> np.ndarray:
    """A tone with a clipped beginning."""
    times = np.arange(0.0, seconds, 1 / RATE)
    tone = np.exp(-times) * np.sin(2 * np.pi * 20.0 * times)
    ring: np.ndarray = np.clip(2.0 * tone, -1.0, 1.0).astype(np.float32)
    return ring


def test_samples_are_taken_as_the_file_that_holds_them(tmp_path: Path) -> None:
    write_wave(tmp_path / "rope.wav", ring(), RATE)
    with wave.open(str(tmp_path / "rope.wav")) as opened:
        width = opened.getsampwidth()
        raw = opened.readframes(opened.getnframes())
    whole = np.frombuffer(raw, dtype=f"<i{width}")
    read = read_recording(tmp_path / "rope.wav")
    handed = read_recording(
        DecodedSound(samples=whole, sampling_rate=RATE, codec=read.codec),
        name="rope.wav",
    )
    assert np.array_equal(read.samples, handed.samples)
    assert np.array_equal(read.clipped, handed.clipped)
    assert len(read.clipped)
    assert (read.sampling_rate, read.source_rate, read.codec, read.notes) == (
        handed.sampling_rate,
        handed.source_rate,
        handed.codec,
        handed.notes,
    )


@pytest.mark.parametrize(
    ("samples", "rate", "code"),
    [
        (ring(), 0.0, "absurd-rate"),
        (ring(), float("nan"), "absurd-rate"),
        (ring(), 1e6, "absurd-rate"),
        (ring(0.1), RATE, "recording-too-short"),
        (np.empty(0, dtype=np.float32), RATE, "recording-too-short"),
        (np.zeros(RATE, dtype=np.float32), RATE, "all-zeros"),
        (np.full(RATE, np.nan), RATE, "no-numbers"),
        (np.zeros((2, 3700 * 300), dtype=np.int16), 300.0, "recording-too-long"),
    ],
)
def test_what_is_no_sound_is_refused_with_its_reason(
    samples: np.ndarray, rate: float, code: str
) -> None:
    found = read_recording(
        DecodedSound(samples=samples, sampling_rate=rate), name="given"
    )
    assert found.refusal is not None
    assert found.refusal.code == code
    assert found.samples.size == 0


def test_two_channels_are_mixed_and_more_passed_over() -> None:
    three = np.stack([ring(), ring(), np.roll(ring(), 4000)])
    found = read_recording(
        DecodedSound(samples=three, sampling_rate=RATE), name="given"
    )
    alone = read_recording(
        DecodedSound(samples=ring(), sampling_rate=RATE), name="given"
    )
    assert np.array_equal(found.samples, alone.samples)


def test_what_are_no_samples_cannot_be_handed_over() -> None:
    for wrong in (np.zeros((1, 2, 3)), np.array(["a"]), np.zeros(3, dtype=complex)):
        with pytest.raises(InvalidValueError, match="samples must be numbers of shape"):
            DecodedSound(samples=wrong, sampling_rate=RATE)


def test_files_are_read_one_by_one_where_no_thread_starts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    here = threading.get_ident()
    assert set(read_two_at_a_time(lambda _: threading.get_ident(), range(4))) != {here}

    def none_left(thread: threading.Thread) -> None:
        raise RuntimeError(f"can't start new thread {thread.name}")

    monkeypatch.setattr(threading.Thread, "start", none_left)
    assert read_two_at_a_time(lambda n: (n, threading.get_ident()), range(4)) == [
        (n, here) for n in range(4)
    ]


ASSESS = """
import sys, threading
for name in ("av", "pydantic", "scipy", "matplotlib", "sounddevice", "click"):
    sys.modules[name] = None
def none_left(self):
    raise RuntimeError("can't start new thread")
threading.Thread.start = none_left
import numpy as np, tension
times = np.arange(0, 5.0, 1 / 8000)
rng = np.random.default_rng(3)
def plucked(pitch):
    tones = [np.sin(2 * np.pi * n * pitch * (times - 1)) / n for n in range(1, 9)]
    ring = np.exp(-(times - 1) / 2) * (times > 1) * sum(tones)
    return 0.2 * ring + rng.normal(0, 1e-3, times.size)
length = tension.parse_quantity("3.40 m", "length")
visit = tension.Visit(
    path=None, lift=tension.Lift(), rule=tension.find_rule(),
    rope_set=tension.RopeSet(
        n_ropes=2, ropes=(tension.Rope(number=1), tension.Rope(number=2)),
        spans=(tension.Span(name="top", free_length=length),),
        has_sockets_at_one_height=True,
    ),
    series=(tension.Series(name="as found", span="top"),),
    readings=tuple(
        tension.PluckReading(series="as found", recording=f"rope {n}", ropes=(n,))
        for n in (1, 2)
    ),
    sounds={
        f"rope {n}": tension.DecodedSound(
            samples=plucked(f), sampling_rate=8000.0,
            origin=tension.FileEvidence(path=f"{n}.m4a", n_bytes=9, sha256="0" * 64),
        )
        for n, f in ((1, 14.0), (2, 12.0))
    },
)
found = tension.assess_record(visit)
print(found.assessment.verdict.value, [one.path for one in found.inputs])
"""


def test_a_set_is_assessed_with_numpy_alone_and_no_thread() -> None:
    done = subprocess.run(
        [sys.executable, "-c", ASSESS], capture_output=True, text=True, check=False
    )
    assert done.stdout.strip() == "unequal ['1.m4a', '2.m4a']", done.stderr
