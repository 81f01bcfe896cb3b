"""Reading logs of acceleration sensors: any header, uneven rows, one axis."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tension.files import vibration
from tension.files.sound import read_recording
from tension.sound.hearing import Recording

RATE, FREQUENCY = 200.0, 15.47
AXIS = np.array([0.6, 0.0, 0.8])


def motion(
    times: NDArray[np.float64], *, gravity: bool = True, seed: int = 4
) -> NDArray[np.float64]:
    """Return acceleration along one axis, gravity along z, a little noise. [m/s^2]"""
    tone = np.sin(2 * np.pi * FREQUENCY * times)
    noise = np.random.default_rng(seed).standard_normal((times.size, 3))
    down = 9.81 * np.array([0, 0, 1.0]) if gravity else np.zeros(3)
    return np.outer(tone, AXIS) + 0.01 * noise + down


def rows(
    times: NDArray[np.float64],
    values: NDArray[np.float64],
    *,
    delimiter: str = ",",
    decimal: str = ".",
    form: str = "{:.6f}",
) -> str:
    lines = []
    for time, line in zip(times, values, strict=True):
        cells = [form.format(time), *(f"{value:.6f}" for value in line)]
        lines.append(delimiter.join(cell.replace(".", decimal) for cell in cells))
    return "\n".join(lines) + "\n"


def frequency(recording: Recording) -> float:
    """Return the one frequency present, by the phase over time of its spectrum."""
    values = np.asarray(recording.samples, dtype=float)
    spectrum = np.abs(np.fft.rfft(values * np.hanning(values.size), 32 * values.size))
    k = int(spectrum.argmax())
    low, mid, high = np.log(spectrum[k - 1 : k + 2])
    place = k + 0.5 * (low - high) / (low - 2 * mid + high)
    return float(place * recording.sampling_rate / 32 / values.size)


def read(folder: Path, text: str | bytes) -> Recording:
    path = folder / "log.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_recording(path)


EVEN = np.arange(int(10 * RATE)) / RATE


@pytest.mark.parametrize(
    ("header", "delimiter", "decimal"),
    [
        ("time (s),x (m/s2),y (m/s2),z (m/s2)", ",", "."),
        (
            "Time (s);Acceleration x (m/s^2);Acceleration y (m/s^2);Acc z (m/s^2)",
            ";",
            ",",
        ),
        ("t [s]\tax [m/s²]\tay [m/s²]\taz [m/s²]", "\t", "."),
        ("seconds_elapsed\tacc_x_m/s2\tacc_y_m/s2\tacc_z_m/s2", "\t", ","),
        ("t_s x_ms2 y_ms2 z_ms2", " ", "."),
        ('"time_s","accelX (m/s/s)","accelY (m/s/s)","accelZ (m/s/s)"', ",", "."),
    ],
)
def test_columns_are_found_by_the_words_of_the_header(
    header: str, delimiter: str, decimal: str, tmp_path: Path
) -> None:
    table = rows(EVEN, motion(EVEN), delimiter=delimiter, decimal=decimal)
    recording = read(tmp_path, f"# a logger\n\n{header}\n{table}")
    assert recording.refusal is None
    assert [note.code for note in recording.notes] == ["log-axis"]
    assert recording.sampling_rate == pytest.approx(RATE, rel=1e-6)
    assert frequency(recording) == pytest.approx(FREQUENCY, rel=1e-5)
    # the whole motion lies along one axis of length one
    assert np.abs(recording.samples).max() == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize(("unit", "scale"), [("ms", 1e3), ("us", 1e6), ("ns", 1e9)])
@pytest.mark.parametrize("is_named", [True, False])
def test_time_units_are_named_or_told(
    unit: str, scale: float, *, is_named: bool, tmp_path: Path
) -> None:
    heading = f"timestamp ({unit})" if is_named else "timestamp"
    start = 1.7e9 if unit != "ns" else 4000.0  # a clock that counts from 1970
    table = rows((EVEN + start) * scale, motion(EVEN), form="{:.0f}")
    recording = read(tmp_path, f"{heading},x (g),y (g),z (g)\n{table}")
    assert recording.refusal is None
    told = [note.text for note in recording.notes if note.code == "log-time-unit"]
    assert bool(told) != is_named
    assert all(f"taken as {unit}" in text for text in told)
    assert frequency(recording) == pytest.approx(FREQUENCY, rel=1e-5)


@pytest.mark.parametrize(
    ("heading", "scale"),
    [
        ("m/s2", 1.0),
        ("g", 9.80665),
        ("mg", 0.00980665),
        ("rad/s", 1),
        ("deg/s", 0.0174533),
    ],
)
def test_motion_is_put_into_si(heading: str, scale: float, tmp_path: Path) -> None:
    table = rows(EVEN, motion(EVEN)[:, :1])
    recording = read(tmp_path, f"time (s),x ({heading})\n{table}")
    assert recording.notes == ()
    # a sine of amplitude 0.6 by root mean square, 10 s, noise of 1 %
    strength = np.sqrt(2 * np.mean(recording.samples.astype(float) ** 2))
    assert strength == pytest.approx(0.6 * scale, rel=0.005)


def test_a_missing_unit_is_told_and_does_no_harm(tmp_path: Path) -> None:
    recording = read(tmp_path, "time (s),x\n" + rows(EVEN, motion(EVEN)[:, :1]))
    assert [note.code for note in recording.notes] == ["log-without-unit"]
    assert frequency(recording) == pytest.approx(FREQUENCY, rel=1e-5)


def test_uneven_rows_do_not_bend_the_frequency(tmp_path: Path) -> None:
    random = np.random.default_rng(11)
    times = np.sort(EVEN + random.uniform(-0.4, 0.4, EVEN.size) / RATE)
    recording = read(tmp_path, "time (s),x (g)\n" + rows(times, motion(times)[:, :1]))
    assert recording.notes == ()
    assert frequency(recording) == pytest.approx(FREQUENCY, rel=1e-4)
    # the grid holds the values a sine has at those times
    grid = times[0] + np.arange(recording.samples.size) / recording.sampling_rate
    expected = 0.6 * 9.80665 * np.sin(2 * np.pi * FREQUENCY * grid)
    error = recording.samples - expected
    assert np.abs(error[10:-10]).max() < 0.06 * 9.80665


def test_times_rounded_to_milliseconds_keep_the_frequency(tmp_path: Path) -> None:
    times = np.arange(4160) / 416.0
    table = rows(np.round(1000 * times), motion(times), form="{:.0f}")
    recording = read(tmp_path, "time (ms),x (g),y (g),z (g)\n" + table)
    assert recording.sampling_rate == pytest.approx(416, rel=1e-4)
    assert frequency(recording) == pytest.approx(FREQUENCY, rel=1e-4)


def test_gaps_are_silence_and_do_not_shift_what_follows(tmp_path: Path) -> None:
    keep = (EVEN < 4.0) | (EVEN > 4.7)
    values = motion(EVEN)[:, :1]
    recording = read(tmp_path, "time (s),x (g)\n" + rows(EVEN[keep], values[keep]))
    (note,) = recording.notes
    assert note.code == "log-gaps"
    assert "1 gaps, 0.7" in note.text
    whole = read(tmp_path, "time (s),x (g)\n" + rows(EVEN, values))
    assert recording.samples[-500:] == pytest.approx(whole.samples[-500:], abs=0.05)
    assert recording.samples[820:930] == pytest.approx(0.0, abs=1e-9)


def test_bad_rows_are_left_out_and_told_by_line(tmp_path: Path) -> None:
    lines = ["time (s),x (g)", *rows(EVEN, motion(EVEN)[:, :1]).splitlines()]
    lines[10], lines[20], lines[30] = "garbage", "0.1,nan", "1,2,3,4"
    recording = read(tmp_path, "\n".join(lines))
    assert recording.refusal is None
    (note,) = recording.notes
    assert "3 rows" in note.text
    assert "line 11, 21, 31" in note.text
    assert frequency(recording) == pytest.approx(FREQUENCY, rel=1e-4)


def test_a_row_of_another_length_is_told_where_all_others_are_read(
    tmp_path: Path,
) -> None:
    lines = ["time (s),x (g)", *rows(EVEN, motion(EVEN)[:, :1]).splitlines()]
    lines[10] = "0.045,0.1,0.2,0.3"
    (note,) = read(tmp_path, "\n".join(lines)).notes
    assert note.code == "log-rows-lost"
    assert "line 11" in note.text


def test_rows_out_of_order_are_put_right_and_told(tmp_path: Path) -> None:
    order = np.arange(EVEN.size)
    order[[100, 101]] = [101, 100]
    values = motion(EVEN)[:, :1]
    recording = read(tmp_path, "time (s),x (g)\n" + rows(EVEN[order], values[order]))
    assert [note.code for note in recording.notes] == ["log-out-of-order"]
    sorted_one = read(tmp_path, "time (s),x (g)\n" + rows(EVEN, values))
    assert np.array_equal(recording.samples, sorted_one.samples)


def test_magnitude_and_other_columns_are_left_aside(tmp_path: Path) -> None:
    three = motion(EVEN)
    magnitude = np.linalg.norm(three, axis=1)
    table = rows(EVEN, np.column_stack([three[:, :1], magnitude, 20 + EVEN]))
    header = "Time (s),Acceleration x (m/s^2),Absolute acceleration (m/s^2),Temp (C)\n"
    recording = read(tmp_path, header + table)
    assert recording.notes == ()
    assert np.abs(recording.samples).max() == pytest.approx(0.6, abs=0.05)


def test_acceleration_goes_before_rotation(tmp_path: Path) -> None:
    header = "time (s),gyro_x (rad/s),acc_x (m/s2)\n"
    table = rows(EVEN, np.column_stack([np.cos(EVEN), motion(EVEN)[:, 0]]))
    assert frequency(read(tmp_path, header + table)) == pytest.approx(
        FREQUENCY, rel=1e-4
    )


def test_slow_turning_of_the_phone_does_not_choose_the_axis(tmp_path: Path) -> None:
    values = motion(EVEN)
    values[:, 1] += 5 * np.sin(2 * np.pi * 0.05 * EVEN)
    recording = read(
        tmp_path, "t (s),x (m/s2),y (m/s2),z (m/s2)\n" + rows(EVEN, values)
    )
    assert np.abs(recording.samples).max() < 1.3
    assert frequency(recording) == pytest.approx(FREQUENCY, rel=1e-4)


def test_a_log_at_a_high_rate_is_decimated(tmp_path: Path) -> None:
    times = np.arange(24000) / 12000
    recording = read(tmp_path, "time (s),x (g)\n" + rows(times, motion(times)[:, :1]))
    assert recording.source_rate == pytest.approx(12000, rel=1e-4)
    assert recording.sampling_rate == pytest.approx(4000, rel=1e-4)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
def test_encodings_of_spreadsheets_are_read(encoding: str, tmp_path: Path) -> None:
    text = "time (s);x (m/s²)\n" + rows(EVEN, motion(EVEN)[:, :1], delimiter=";")
    assert read(tmp_path, text.encode(encoding)).notes == ()


TABLE = rows(EVEN, motion(EVEN)[:, :1])


@pytest.mark.parametrize(
    ("text", "code"),
    [
        (TABLE, "file-is-text"),
        ("only words\nand more words\n", "file-is-text"),
        ("force,x (g)\n" + TABLE, "log-without-time"),
        ("time (s),humidity\n" + TABLE, "log-without-motion"),
        ("time (s),magnitude (g)\n" + TABLE, "log-without-motion"),
        ("time (s),x (g)\n1,2\n" + "a,b\n" * 50, "log-unreadable"),
        ("time (s),x (g)\n" + "1.0,2.0\n" * 50, "log-without-clock"),
        ("time (s),x (g)\n1.0,2.0\n", "log-without-clock"),
        ("time (ns),x (g)\n" + TABLE, "absurd-rate"),
        ("time (s),x (g)\n" + TABLE + 30_000 * "z", "file-is-text"),
        ("time (s),x (g)\n" + rows(100 * EVEN, EVEN[:, None]), "log-too-slow"),
        ("time (s),x (g)\n" + rows(EVEN[:50], EVEN[:50, None]), "recording-too-short"),
        ("time (s),x (g)\n" + rows(EVEN, 0 * EVEN[:, None] + 9.81), "silent"),
    ],
)
def test_what_cannot_be_used_is_refused_with_its_reason(
    text: str, code: str, tmp_path: Path
) -> None:
    recording = read(tmp_path, text)
    assert recording.refusal is not None
    assert recording.refusal.code == code
    assert recording.refusal.next_act
    assert recording.samples.size == 0


@pytest.mark.parametrize("name", ["LARGEST", "MOST_ROWS"])
def test_a_log_too_large_is_refused(
    name: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(vibration, name, 1000)
    refusal = read(tmp_path, "time (s),x (g)\n" + TABLE).refusal
    assert refusal is not None
    assert refusal.code == "log-too-large"


def test_no_damage_raises(tmp_path: Path) -> None:
    random = np.random.default_rng(8)
    three = rows(EVEN[:400], motion(EVEN[:400]))
    whole = f"time (s),x (g),y (g),z (g)\n{three}".encode()
    for trial in range(150):
        hurt = np.frombuffer(whole, dtype=np.uint8).copy()
        places = random.integers(0, hurt.size if trial % 3 else 60, 1 + trial)
        hurt[places] = random.integers(0, 256, places.size)
        content = hurt.tobytes()[
            : int(random.integers(1, hurt.size)) if trial % 5 else None
        ]
        recording = read(tmp_path, content)
        assert np.isfinite(recording.samples).all()
        assert (recording.samples.size == 0) == (recording.refusal is not None)
