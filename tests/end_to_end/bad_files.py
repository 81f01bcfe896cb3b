"""Damaged and wrong sound files, alone or as rope 2 of three."""

# ruff: noqa: E501 - one row of the tables on one line

import math
import shutil
import struct
import subprocess
from collections.abc import Callable
from functools import cache, partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.files.sound_files import FORMS, amr_file, encode, wave_bytes

Row = tuple[str, Callable[[Path], list[str]], str, str]

RATE = 8000
LENGTH = "3.40 m"


def rope_sound(
    fundamental: float, *, seconds: float = 6.0, seed: int = 0
) -> NDArray[np.float64]:
    """Return two plucks of an ideal string in faint noise, quiet before them."""
    time = np.arange(int(RATE * seconds)) / RATE
    sound = 1e-4 * np.random.default_rng(seed).standard_normal(time.size)
    for start in (0.6, 3.4):
        after = np.clip(time - start, 0, None)
        for mode in range(1, 20):
            angular = 2 * np.pi * mode * fundamental
            level = 0.05 * math.sin(mode * math.pi * 0.28)
            sound += level * np.exp(-0.002 * angular * after) * np.sin(angular * after)
    return sound


@cache
def good(rope: int) -> bytes:
    """Return a good recording of one rope."""
    return wave_bytes(rope_sound(15.5 + 0.05 * rope, seed=rope), rate=RATE)


def arguments(folder: Path, middle: Path) -> list[str]:
    """Put a file between two good ropes and return the arguments."""
    (folder / "rope-1.wav").write_bytes(good(1))
    (folder / "rope-3.wav").write_bytes(good(3))
    files = [str(folder / "rope-1.wav"), str(middle), str(folder / "rope-3.wav")]
    return ["assess", *files, "--free-length", LENGTH, "--same-height"]


def bytes_maker(
    content: Callable[[], bytes], name: str = "rope-2.wav"
) -> Callable[[Path], list[str]]:
    """Return a maker that writes some bytes as rope 2."""

    def make(folder: Path) -> list[str]:
        middle = folder / name
        middle.write_bytes(content())
        return arguments(folder, middle)

    return make


def place_maker(place: Callable[[Path], Path]) -> Callable[[Path], list[str]]:
    """Return a maker that lets a function prepare the place of rope 2."""

    def make(folder: Path) -> list[str]:
        return arguments(folder, place(folder))

    return make


_ENCODED: dict[str, bytes] = {}


def encoded(folder: Path, form: str) -> bytes:
    """Return rope 2 in some form, encoded once."""
    if form not in _ENCODED:
        source = folder / "_source.wav"
        source.write_bytes(good(2))
        target = encode(source, folder / f"_{form}", *FORMS[form])
        _ENCODED[form] = target.read_bytes()
        source.unlink()
        target.unlink()
    return _ENCODED[form]


def truncated(share: float, form: str, folder: Path) -> list[str]:
    """Cut a file off."""
    content = encoded(folder, form)
    middle = folder / f"rope-2-{form}"
    middle.write_bytes(content[: int(share * len(content))])
    return ["pluck", str(middle)]


def flipped(seed: int, form: str, folder: Path) -> list[str]:
    """Change bytes: some all over the file, then some in its head."""
    content = np.frombuffer(encoded(folder, form), dtype=np.uint8).copy()
    random = np.random.default_rng(seed)
    reach = content.size if seed % 2 else 300
    places = random.integers(0, min(reach, content.size), 12)
    content[places] ^= random.integers(1, 256, 12).astype(np.uint8)
    middle = folder / f"rope-2-{form}"
    middle.write_bytes(content.tobytes())
    return ["pluck", str(middle)]


def under_another_name(form: str, suffix: str, folder: Path) -> list[str]:
    """Give a file a wrong extension."""
    middle = folder / f"rope-2{suffix}"
    middle.write_bytes(encoded(folder, form))
    return arguments(folder, middle)


def header(
    *, rate: int = RATE, channels: int = 1, bits: int = 16, size: int | None = None
) -> bytes:
    """Return a wave file whose header says something else than its samples."""
    body = good(2)[44:]
    width = max(1, bits // 8 * channels)
    form = struct.pack(
        "<HHIIHH", 1, channels, rate, rate * width & 0xFFFFFFFF, width, bits
    )
    length = len(body) if size is None else size
    chunks = (
        b"fmt " + struct.pack("<I", 16) + form + b"data" + struct.pack("<I", length)
    )
    return b"RIFF" + struct.pack("<I", 36 + len(body)) + b"WAVE" + chunks + body


def clipped() -> bytes:
    """Return a recording that is overdriven from end to end."""
    return wave_bytes(np.clip(3000 * rope_sound(15.6), -1, 1), rate=RATE)


def not_numbers() -> bytes:
    """Return floating-point samples of which every third is not a number."""
    samples = rope_sound(15.6)
    samples[::3] = np.nan
    return wave_bytes(samples, rate=RATE, bits=32, is_float=True)


def noise() -> bytes:
    """Return noise alone."""
    random = np.random.default_rng(7)
    return wave_bytes(0.05 * random.standard_normal(5 * RATE), rate=RATE)


def hum() -> bytes:
    """Return mains hum with its multiples, and nothing else."""
    time = np.arange(5 * RATE) / RATE
    tones = np.zeros(time.size)
    for k in range(1, 9):
        tones += np.sin(2 * np.pi * 50 * k * time + k) / k
    return wave_bytes(0.1 * tones, rate=RATE)


def speech_like() -> bytes:
    """Return bursts of voiced sound with a gliding pitch."""
    time = np.arange(5 * RATE) / RATE
    pitch = 2 * np.pi * np.cumsum(130 + 30 * np.sin(2 * np.pi * 0.9 * time)) / RATE
    voiced = np.zeros(time.size)
    for k in range(1, 12):
        voiced += np.sin(k * pitch) / k
    bursts = np.clip(np.sin(2 * np.pi * 2.3 * time), 0, 1)
    return wave_bytes(0.1 * voiced * bursts, rate=RATE)


def a_folder(folder: Path) -> Path:
    """Put a folder where the file should be."""
    (folder / "rope-2.wav").mkdir()
    return folder / "rope-2.wav"


def a_link_in_a_circle(folder: Path) -> Path:
    """Put a link that leads to itself."""
    (folder / "rope-2.wav").symlink_to(folder / "rope-2.wav")
    return folder / "rope-2.wav"


def a_link_to_nowhere(folder: Path) -> Path:
    """Put a link whose end is missing."""
    (folder / "rope-2.wav").symlink_to(folder / "gone.wav")
    return folder / "rope-2.wav"


def a_playlist(folder: Path) -> Path:
    """Put a list that names another file."""
    (folder / "other.wav").write_bytes(good(2))
    lines = "#EXTM3U\n#EXT-X-TARGETDURATION:5\n#EXTINF:5,\nother.wav\n#EXT-X-ENDLIST\n"
    (folder / "rope-2.wav").write_text(lines)
    return folder / "rope-2.wav"


def ten_hours(folder: Path) -> Path:
    """Put ten hours of silence."""
    target = folder / "rope-2.flac"
    program = shutil.which("ffmpeg")
    if program is None:
        samples = np.zeros(10 * 3600 * 1000)
        target.write_bytes(wave_bytes(samples, rate=1000, bits=8))
        return target
    source = "anullsrc=r=8000:cl=mono"
    command = [program, "-loglevel", "error", "-f", "lavfi", "-i", source]
    subprocess.run([*command, "-t", "36000", str(target)], check=True)
    return target


def an_amr_file(folder: Path) -> Path:
    """Put a voice message."""
    source = folder / "_source.wav"
    source.write_bytes(good(2))
    target = amr_file(source, folder / "rope-2.amr")
    source.unlink()
    return target


def _in_forms() -> list[Row]:
    """Return truncated and changed files of every family of forms."""
    rows: list[Row] = []
    forms = ("16-bit.wav", "free.flac", "plain.mp3", "vorbis.ogg", "music.opus")
    more = ("aac.m4a", "adts.aac", "low-rate.3gp", "apple.caf", "browser.webm")
    for form in (*forms, *more):
        for share in (0.001, 0.02, 0.5, 0.95):
            name = f"{form} cut off at {100 * share:g} %"
            make = partial(truncated, share, form)
            # an early end leaves nothing to hear; a late one is told where it shows
            told = f"rope-2-{form}" if share < 0.1 else ""
            if share > 0.1 and form in {"16-bit.wav", "free.flac"}:
                told = "is cut off"
            rows.append((name, make, "any result", told))
        for seed in (1, 2, 3):
            name = f"{form} with changed bytes, draw {seed}"
            rows.append((name, partial(flipped, seed, form), "any result", ""))
    return rows


def _wave(
    samples: NDArray[np.float64], rate: int = RATE
) -> Callable[[Path], list[str]]:
    """Return a maker of a plain wave file."""
    return bytes_maker(lambda: wave_bytes(samples, rate=rate))


FILE_MAKERS: list[Row] = [
    *_in_forms(),
    ("empty", bytes_maker(lambda: b""), "not equal", "empty"),
    ("one byte", bytes_maker(lambda: b"R"), "not equal", "rope-2.wav"),
    ("text", bytes_maker(lambda: b"rope 2 is slack\n" * 9), "not equal", "text"),
    ("UTF-16 text", bytes_maker(lambda: "slack ü".encode("utf-16")), "not equal", "text"),
    ("zeros, no header", bytes_maker(lambda: bytes(9999)), "not equal", "zeros"),
    ("a picture", bytes_maker(lambda: b"\xff\xd8\xff\xe0" + bytes(999)), "not equal", "picture"),
    ("a document", bytes_maker(lambda: b"%PDF-1.7\n" + bytes(999)), "not equal", "PDF"),
    ("an archive", bytes_maker(lambda: b"PK\x03\x04" + bytes(999)), "not equal", "archive"),
    ("random bytes", bytes_maker(lambda: np.random.default_rng(1).bytes(50000)), "not equal", "rope-2.wav"),
    ("a playlist", place_maker(a_playlist), "not equal", "text"),
    ("samples of zero", _wave(np.zeros(5 * RATE)), "not equal", "zeros"),
    ("a constant", _wave(np.full(5 * RATE, 0.2)), "not equal", "silent"),
    ("one step of noise", _wave(np.tile([0, 2**-15], 20000)), "not equal", "silent"),
    ("a tenth of a second", _wave(rope_sound(15.6, seconds=0.1)), "not equal", "0.10 s"),
    ("clipped throughout", bytes_maker(clipped), "any result", "overdriven"),
    ("not a number", bytes_maker(not_numbers), "any result", "not a number"),
    ("all not a number", bytes_maker(lambda: wave_bytes(np.full(40000, np.nan), rate=RATE, bits=32, is_float=True)), "not equal", "not a number"),
    ("infinite", bytes_maker(lambda: wave_bytes(np.full(40000, np.inf), rate=RATE, bits=32, is_float=True)), "not equal", "infinite"),
    ("1e30 times too loud", bytes_maker(lambda: wave_bytes(1e30 * rope_sound(15.6), rate=RATE, bits=32, is_float=True)), "any result", "rope-2.wav"),
    ("noise alone", bytes_maker(noise), "not equal", "rope-2.wav"),
    ("hum alone", bytes_maker(hum), "not equal", "rope-2.wav"),
    ("speech alone", bytes_maker(speech_like), "not equal", ""),
    ("3 samples per second", _wave(rope_sound(15.6), rate=3), "not equal", "samples per second"),
    ("400 000 samples per second", _wave(rope_sound(15.6), rate=400_000), "not equal", "samples per second"),
    ("rate of zero", bytes_maker(lambda: header(rate=0)), "not equal", "rope-2.wav"),
    ("rate of 4 billion", bytes_maker(lambda: header(rate=0xFFFFFFFF)), "not equal", "rope-2.wav"),
    ("no channels", bytes_maker(lambda: header(channels=0)), "any result", ""),
    ("9999 channels", bytes_maker(lambda: header(channels=9999)), "any result", ""),
    ("7 bits", bytes_maker(lambda: header(bits=7)), "any result", ""),
    ("64 bits", bytes_maker(lambda: header(bits=64)), "any result", ""),
    ("length field of 4 GB", bytes_maker(lambda: header(size=0xFFFFFFF0)), "any result", "cut off"),
    ("length field of zero", bytes_maker(lambda: header(size=0)), "any result", ""),
    ("wave header alone", bytes_maker(lambda: good(2)[:44]), "not equal", "rope-2.wav"),
    ("a folder", place_maker(a_folder), "refused", "folder"),
    ("missing", place_maker(lambda folder: folder / "rope-2.wav"), "not equal", "rope-2.wav"),
    ("a link in a circle", place_maker(a_link_in_a_circle), "not equal", "rope-2.wav"),
    ("a link to nowhere", place_maker(a_link_to_nowhere), "not equal", "rope-2.wav"),
    ("a device without end", place_maker(lambda _: Path("/dev/zero")), "not equal", "ordinary"),
    ("ten hours of silence", place_maker(ten_hours), "not equal", "60 min"),
    ("a voice message", place_maker(an_amr_file), "any result", "speech"),
    ("m4a named wav", partial(under_another_name, "aac.m4a", ".wav"), "any result", ""),
    ("wav named m4a", partial(under_another_name, "16-bit.wav", ".m4a"), "any result", ""),
    ("mp3 without extension", partial(under_another_name, "plain.mp3", ""), "any result", ""),
    ("odd name", bytes_maker(lambda: b"", "rope 2 {x} [[lift]] %s ü.wav"), "not equal", "{x}"),
    ("log without header", bytes_maker(lambda: b"1,2\n3,4\n" * 50, "rope-2.csv"), "not equal", "rope-2.csv"),
    ("log without time", bytes_maker(lambda: b"a,x (g)\n" + b"3,4\n" * 50, "rope-2.csv"), "not equal", "times"),
    ("log that stands still", bytes_maker(lambda: b"time (s),x (g)\n" + b"1,2\n" * 50, "rope-2.csv"), "not equal", "forward"),
]  # fmt: skip
