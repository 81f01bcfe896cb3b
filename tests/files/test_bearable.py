"""No input takes more time or memory than a person would wait for; limits are told."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from copy import deepcopy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.errors import FileFormatError
from tension.files.record import read_visit
from tension.files.record_links import known_from
from tension.files.record_tables import TABLES
from tension.files.sound import read_recording
from tension.files.sound_stream import LONGEST
from tension.files.toml_reading import (
    LARGEST_RECORD,
    MOST_ENTRIES,
    parse_toml,
    read_tables,
)
from tension.sound.hearing import HearingPrior, Recording, RopeSpan, Take
from tension.workflow.assess import assess_record
from tension.workflow.listening import hear_rounds, require_bearable
from tests.cli.running import DEMO
from tests.peak_memory import PEAK_IN_MEGABYTES

HEAD = """format = 1
[set]
ropes = 6
[[span]]
name = "top"
[[series]]
name = "s"
"""

SHAPES = {
    "tables": HEAD + "[[rope]]\n" * 200_000,
    "tables of one": HEAD + "[[rope]]\nnumber = 1\n" * (MOST_ENTRIES // 2),
    "dotted key": HEAD + ".".join(["a"] * 100_000) + " = 1\n",
    "dotted keys": HEAD + (".".join(["a"] * 50) + " = 1\n") * 2000,
    "dotted header": HEAD + "[" + ".".join(["a"] * 100_000) + "]\n",
    "list": HEAD + "x = [" + "1," * 150_000 + "1]\n",
    "forces": HEAD
    + '[[reading]]\nkind = "pull"\nrope = 1\ndeflection = "25 mm"\nforce = ['
    + '"1 N",' * 9_000
    + '"1 N"]\n',
    "ropes": HEAD
    + '[[reading]]\nkind = "pluck"\nrecording = "a"\nropes = ['
    + "1," * 9_000
    + "1]\n",
    "brackets": HEAD + "x = " + "[" * 200_000 + "]" * 200_000 + "\n",
    "braces": HEAD + "x = " + "{a=" * 100_000 + "1" + "}" * 100_000 + "\n",
    "some brackets": HEAD + "x = " + "[" * 400 + "]" * 400 + "\n",
    "keys": HEAD + "".join(f"k{i} = 1\n" for i in range(MOST_ENTRIES - 10)),
    "readings": HEAD
    + '[[reading]]\nkind = "pluck"\nrope = 1\nrecording = "a"\n' * 2_000,
    "series": HEAD + "".join(f'[[series]]\nname = "{i}"\n' for i in range(4_000)),
    "digits": HEAD + "x = " + "9" * 400_000 + "\n",
    "letters": "x" * (LARGEST_RECORD + 1),
}


@pytest.mark.slow
@pytest.mark.parametrize("shape", sorted(SHAPES))
def test_a_record_of_any_shape_is_told_its_limit(shape: str, tmp_path: Path) -> None:
    """In a process of its own, in half a minute and half a gigabyte."""
    record = tmp_path / "visit.toml"
    record.write_text(SHAPES[shape], encoding="utf-8")
    code = (
        "from pathlib import Path\n"
        "from tension.files.record import read_visit\n"
        "from tension.errors import FileFormatError\n"
        "try: read_visit(Path('visit.toml'))\n"
        "except FileFormatError as error: print('told', len(error.lines) <= 51)\n"
        + PEAK_IN_MEGABYTES
        + "print(peak_in_megabytes())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env={"PYTHONPATH": str(Path(__file__).parents[2])},
        capture_output=True,
        text=True,
        timeout=30,
        check=True,
    )
    told, peak = done.stdout.splitlines()
    assert told == "told True"
    assert float(peak) < 500


@pytest.mark.parametrize(
    ("opened", "closed"), [("[", "]"), ("{ a = ", " }"), ("[\n  # more\n", "]")]
)
def test_nesting_deeper_than_any_record_is_told_with_its_line(
    opened: str, closed: str
) -> None:
    def nested(depth: int) -> str:
        return HEAD + f"x = {opened * depth}1{closed * depth}\n"

    assert "series" in parse_toml(nested(8), "visit.toml")
    with pytest.raises(FileFormatError, match=r"toml: line \d+: .* nested too deeply"):
        parse_toml(nested(9), "visit.toml")


def places(
    value: object, path: tuple[str | int, ...] = ()
) -> Iterator[tuple[str | int, ...]]:
    """Every place in a document where something else may be written."""
    if path:
        yield path
    inner: Any = ()
    if isinstance(value, dict):
        inner = value.items()
    elif isinstance(value, list):
        inner = enumerate(value)
    for key, one in inner:
        yield from places(one, (*path, key))


ODD = [[], {}, [[]], ["a"], {"a": 1}, 0, -1, True, 1.5, "", "a", "\n", [1, "a"], [{}]]
RECORD = parse_toml(
    (DEMO / "six-memos" / "visit.toml").read_text(encoding="utf-8"), "visit.toml"
)
EXTRA = parse_toml(
    """
[[finding]]
rope = 1
kind = "broken-wires"
seen = "yes"
[[finding]]
rope = 2
kind = "diameter"
readings = ["12.9 mm", "13 mm"]
[[finding]]
rope = 3
kind = "groove"
[[check]]
item = "runby"
[[turn]]
after = "as found"
hitch = "car"
rope = 1
turns = "1"
[[exclusion]]
series = "as found"
rope = 1
reason = "x"
[allowance]
table = "x"
[[instrument]]
what = "phone"
[[answer]]
note = 301
answer = "x"
[uncertainty]
free_length = "5 mm"
""",
    "extra",
)


@pytest.mark.parametrize(
    "every", [3, pytest.param(1, marks=pytest.mark.slow)], ids=["a third", "all"]
)
@pytest.mark.parametrize(("number", "odd"), list(enumerate(ODD)), ids=repr)
def test_no_odd_value_in_any_place_does_more_than_be_told(
    number: int, odd: object, every: int
) -> None:
    document = {**RECORD, **EXTRA}
    for place in list(places(document))[number % every :: every]:
        changed = replaced(document, place, odd)
        with suppress(FileFormatError):
            read_tables(
                changed,
                TABLES[""],
                ("visit.toml", ""),
                context=known_from(changed, Path()),
            )


def replaced(
    document: dict[str, Any], path: tuple[str | int, ...], odd: object
) -> dict[str, Any]:
    """A document with one value changed."""
    copy = deepcopy(document)
    at: Any = copy
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = odd
    return copy


def test_the_limits_of_readings_are_told_with_their_place(tmp_path: Path) -> None:
    record = tmp_path / "visit.toml"
    pull = '[[reading]]\nkind = "pull"\nrope = {}\ndeflection = "25 mm"\nforce = [{}]\n'
    fifty, more = ('"150 N", ' * 50, '"150 N", ' * 51)
    record.write_text(HEAD + pull.format(1, fifty), encoding="utf-8")
    assert len(read_visit(record).readings) == 1
    record.write_text(HEAD + pull.format(1, more), encoding="utf-8")
    with pytest.raises(FileFormatError, match="reading 1: rope 1 has more than 50"):
        read_visit(record)


def test_more_recordings_of_a_rope_than_are_heard_are_refused(tmp_path: Path) -> None:
    record = tmp_path / "visit.toml"
    pluck = '[[reading]]\nkind = "pluck"\nrope = 1\nrecording = "{}.wav"\n'
    record.write_text(
        HEAD + "".join(pluck.format(i) for i in range(9)), encoding="utf-8"
    )
    with pytest.raises(FileFormatError, match="at most 8 are heard"):
        assess_record(record)


def sound(seconds: float, name: str) -> Recording:
    """A recording of quiet noise, at a rate that costs nothing."""
    rng = np.random.default_rng(3)
    samples = rng.normal(size=int(seconds)).astype(np.float32)
    return Recording(
        name=name,
        samples=samples,
        sampling_rate=1.0,
        source_rate=1.0,
        codec="",
        clipped=np.empty((0, 2)),
    )


def test_several_series_are_no_longer_than_one_may_be() -> None:
    hour = sound(LONGEST, "all.wav")
    require_bearable([[hour]])
    with pytest.raises(FileFormatError, match="all series last more than 60 min"):
        require_bearable([[hour], [sound(2.0, "more.wav")]])


def test_rounds_that_would_be_heard_again_and_again_are_refused() -> None:
    """Each round hears the whole set, so that eight of them would take eight times."""
    long = [
        Take(recording=sound(LONGEST / 4, f"{rope}.wav"), ropes=(rope,))
        for rope in (1, 2, 3)
    ]
    again = [Take(recording=sound(5.0, f"again-{i}.wav"), ropes=(1,)) for i in range(3)]
    spans = [RopeSpan(number=rope, free_length=3.4) for rope in (1, 2, 3)]
    with pytest.raises(FileFormatError, match="the whole set is heard 4 times"):
        hear_rounds([*long, *again], spans, HearingPrior())


def log(times: np.ndarray) -> str:
    """A log of an acceleration sensor."""
    rows = [f"{t:.5f},{np.sin(70 * t):.4f}" for t in times]
    return "time (s),x (m/s2)\n" + "\n".join(rows) + "\n"


@given(gap=st.floats(4.0, 3000.0), rate=st.sampled_from([100.0, 400.0, 20_000.0]))
def test_a_gap_of_any_length_is_laid_with_silence_or_refused(
    gap: float, rate: float, tmp_path_factory: pytest.TempPathFactory
) -> None:
    times = np.arange(400) / rate
    both = np.concatenate([times, times + gap])
    path = tmp_path_factory.mktemp("log") / "log.csv"
    path.write_text(log(both), encoding="utf-8")
    found = read_recording(path)
    # never more than was written and as much silence again
    assert found.samples.size <= 2 * both.size + 2
    if gap > 3 * 400 / rate:  # more is missing than there
        assert found.refusal is not None
        assert found.refusal.code in {"log-mostly-gaps", "recording-too-long"}


def wave(body: bytes, declared: int, tail: bytes) -> bytes:
    """A wave file at 8000 samples per second."""
    head = b"RIFF\xff\xff\xff\x7fWAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00"
    head += b"\x40\x1f\x00\x00\x80\x3e\x00\x00\x02\x00\x10\x00"
    return head + b"data" + declared.to_bytes(4, "little") + body + tail


def followed_by_zeros(path: Path, n_bytes: int) -> None:
    """Fill a file up with zeros, as a recorder that broke off may leave it."""
    with path.open("r+b") as opened:
        opened.truncate(path.stat().st_size + n_bytes)


def bytes_read() -> int:
    """What this process has read so far, of files and pipes; nought if nobody tells."""
    try:
        told = Path("/proc/self/io").read_text(encoding="ascii")
    except OSError:
        return 0
    return int(told.split()[1])


def test_zeros_after_the_sound_of_a_wave_file_are_not_looked_through(
    tmp_path: Path,
) -> None:
    rng = np.random.default_rng(1)
    body = (2000 * rng.standard_normal(16_000)).astype("<i2").tobytes()
    path = tmp_path / "tail.wav"
    path.write_bytes(wave(body, len(body), b""))
    whole = read_recording(path)
    followed_by_zeros(path, 60_000_000)
    before = bytes_read()
    found = read_recording(path)
    assert np.array_equal(found.samples, whole.samples)
    path.write_bytes(wave(b"", 0, b"")[:36])
    followed_by_zeros(path, 60_000_000)
    assert read_recording(path).refusal is not None
    assert bytes_read() - before < 20_000_000


@pytest.mark.parametrize(("channels", "minutes"), [(1, 61), (2, 61), (4, 31)])
def test_a_recording_is_read_for_an_hour_of_two_channels_at_most(
    channels: int, minutes: int, tmp_path: Path
) -> None:
    rate = 48_000
    n_bytes = minutes * 60 * rate * channels * 2
    head = bytearray(wave(b"", n_bytes, b""))
    head[22:24] = channels.to_bytes(2, "little")
    head[24:28] = rate.to_bytes(4, "little")
    head[28:32] = (rate * channels * 2).to_bytes(4, "little")
    head[32:34] = (2 * channels).to_bytes(2, "little")
    path = tmp_path / "long.wav"
    path.write_bytes(bytes(head))
    followed_by_zeros(path, n_bytes)
    refusal = read_recording(path).refusal
    assert refusal is not None
    assert refusal.code == "recording-too-long"
    assert f"at most {min(60, 120 // channels)} min are read" in refusal.text
