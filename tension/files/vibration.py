"""Logs of an acceleration sensor in: CSV of any phone logger, as one even channel."""

import math
import re
from array import array
from collections.abc import Iterable, Iterator
from itertools import islice, pairwise
from pathlib import Path
from typing import Any

import numpy as np

from tension.errors import reason_of
from tension.files.decimation import Decimator
from tension.files.sound_stream import HIGHEST_RATE, LONGEST, absurd_rate, too_long
from tension.notes import Note, NoteKind, Refusal
from tension.physics import FloatArray
from tension.sound.hearing import Recording

LARGEST = 64_000_000  # largest log that is read [byte]
MOST_ROWS = 1_000_000  # most rows that are read: 40 minutes at 400 per second [1]
SLOWEST = 10.0  # fewest rows per second from which a rope could be heard [Hz]
_SLOW = 150.0  # rows per second under which high partials are missing [Hz]
_SHORTEST = 1.0  # log from which a rope can be heard [s]
_GAP = 3.5  # steps; fewer are bridged by the curve through the neighbours
_MOST_MISSING = 0.5  # of the length
_MOST_BAD = 0.2  # of the rows
_BLOCK = 65536  # grid times laid at once
_LONGEST_LINE = 20_000  # characters of a line; a longer one is no log

_TIME_UNITS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}  # to seconds [s]
_TIME_SPELLINGS = {
    "s": "s sec secs second seconds",
    "ms": "ms msec millis millisecond milliseconds",
    "us": "us µs μs micros microseconds",
    "ns": "ns nanos nanosecond nanoseconds",
}
_TIME_UNIT_OF = {
    word: unit for unit, words in _TIME_SPELLINGS.items() for word in words.split()
}
_TIME_WORDS = {"time", "t", "timestamp", "elapsed", "zeit", "temps", "tiempo", "tempo"}
_ACCELERATION = re.compile(r"acc|vibration|g.?force|beschl|^[axyz]+$|^a[xyz]$")
_ROTATION = re.compile(r"gyr|rotation|angular|omega|rate|^[wg][xyz]$")
_NO_DIRECTION = re.compile(
    r"abs|total|magnitude|norm|sum|accuracy|temp|lat|lon|index|bias|orient|quat"
    r"|\broll|pitch|yaw|azimuth|mag\b|magnet|compass|heading|altitude|pressure|^at$"
)
_COMMENT = ("#", "%", "//")
_MOTION_UNITS = (
    ("rad/s", 1.0, r"rad/s|rads-1|rad_s"),
    ("deg/s", np.pi / 180, r"(deg|°|dps)(/s|_s|\b)"),
    ("m/s2", 1.0, r"m/s2|m/s/s|ms-2|ms2|m_s2|m/s\*\*2"),
    ("mg", 9.80665e-3, r"[(\[]mg[)\]]|_mg$"),
    ("g", 9.80665, r"[(\[]gs?[)\]]|_g$|gforce"),
)
"""Units of motion, each in SI and as loggers spell it; standard gravity is exact by
definition (CGPM 1901)."""


_Rows = Iterator[tuple[int, list[str]]]
"""Lines of a log by their numbers, counted from 1, split into cells."""


def read_vibration(path: Path, name: str) -> Recording | Refusal | None:
    """Read a CSV log with a column of times and one to three columns of motion.

    Columns are found by the words of the header, in any order, with comma, semicolon,
    tab or blanks between them and a decimal point or comma; without a header it is no
    log: None. Uneven rows are put on an even grid. Axes are combined along the
    direction of the strongest motion, which is given about its mean, in SI where the
    unit is known.
    """
    text = _read_text(path, name)
    sheet = text if isinstance(text, Refusal) else _find_sheet(text)
    if sheet is None or isinstance(sheet, Refusal):
        return sheet
    headings, rows = sheet
    notes: list[Note] = []
    log = _read_log(headings, rows, name, notes)
    even = log if isinstance(log, Refusal) else _make_even(*log, name, notes)
    if isinstance(even, Refusal):
        return even
    rate = even[1]
    motion, share = _along_strongest_axis(*even)
    if not motion.any():
        return NoteKind.SILENT.refusal(recording=name)
    if even[0].shape[1] > 1:
        columns = ", ".join(headings[c] for c in _find_columns(headings)[1])
        axis, share = NoteKind.LOG_AXIS, 100 * share
        notes.append(axis.note(recording=name, columns=columns, share=share))
    if rate < _SLOW:
        slow, top = NoteKind.LOG_SLOW, 0.45 * rate
        notes.append(slow.note(recording=name, rate=rate, highest=top))
    decimator = Decimator(rate)
    ready = decimator.push(motion.astype(np.float32)[np.newaxis])
    samples = np.concatenate([ready, decimator.finish()], axis=1)[0]
    samples.flags.writeable = False
    return Recording(
        name=name,
        samples=samples,
        sampling_rate=decimator.sampling_rate,
        source_rate=rate,
        notes=tuple(notes),
    )


def _read_log(
    headings: list[str], rows: _Rows, name: str, notes: list[Note]
) -> tuple[FloatArray, FloatArray] | Refusal:
    """Read times from the first row [s], and motion in SI where its unit is known.

    Motion has shape (n_rows, n_axes) [m/s^2] or [rad/s].
    """
    shown = ", ".join(heading or "(empty)" for heading in headings)
    time_column, motion = _find_columns(headings)
    if time_column is None:
        return NoteKind.LOG_WITHOUT_TIME.refusal(recording=name, columns=shown)
    if not motion:
        return NoteKind.LOG_WITHOUT_MOTION.refusal(recording=name, columns=shown)
    numbers, bad = _read_numbers(rows, [time_column, *motion], len(headings))
    n_rows = len(numbers) + len(bad)
    if len(bad) > _MOST_BAD * n_rows:
        return NoteKind.LOG_UNREADABLE.refusal(
            recording=name, n_bad=len(bad), n_rows=n_rows, line=bad[0]
        )
    if bad:
        lines = ", ".join(map(str, bad[:5])) + (" and more" if len(bad) > 5 else "")
        lost = NoteKind.LOG_ROWS_LOST
        notes.append(lost.note(recording=name, n_bad=len(bad), lines=lines))
    times = numbers[:, 0] - numbers[0, 0]
    time_unit = _time_unit(headings[time_column])
    if not time_unit:
        time_unit = _guess_time_unit(times)
        notes.append(NoteKind.LOG_TIME_UNIT.note(recording=name, unit=time_unit))
    named = [headings[column] for column in motion]
    units, scales = zip(*map(_motion_unit, named), strict=True)
    if not any(units):
        without = NoteKind.LOG_WITHOUT_UNIT
        notes.append(without.note(recording=name, columns=", ".join(named)))
    return times * _TIME_UNITS[time_unit], numbers[:, 1:] * scales


def _read_text(path: Path, name: str) -> str | Refusal:
    """Read a text in any encoding loggers and spreadsheets use."""
    try:
        with path.open("rb") as opened:
            content = opened.read(LARGEST + 1)
    except OSError as error:
        return NoteKind.FILE_LOCKED.refusal(recording=name, reason=reason_of(error))
    n_rows = max(content.count(b"\n"), content.count(b"\r"))
    if len(content) > LARGEST or n_rows > MOST_ROWS:
        limit, large = LARGEST / 1e6, NoteKind.LOG_TOO_LARGE
        return large.refusal(recording=name, limit=limit, rows=MOST_ROWS)
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", errors="replace").replace('"', "")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    return text.replace('"', "")


def _find_sheet(text: str) -> tuple[list[str], _Rows] | None:
    """Find the headings above the first rows of numbers, and these rows."""
    lines = text.splitlines()
    if max(map(len, lines), default=0) > _LONGEST_LINE:
        return None
    for delimiter in ("\t", ";", ",", " "):
        head = islice(_rows(lines, delimiter), 500)
        for (_, headings), (number, below) in pairwise(head):
            is_even = len(headings) >= 2 and abs(len(headings) - len(below)) <= 1
            if is_even and _n_numbers(headings) == 0 and _n_numbers(below) >= 2:
                return headings, _rows(lines, delimiter, number)
    return None


def _rows(lines: Iterable[str], delimiter: str, first: int = 1) -> _Rows:
    """Split lines from one on that say something; blanks count together."""
    for number, line in enumerate(lines, start=1):
        if number >= first and line.strip() and not line.lstrip().startswith(_COMMENT):
            cells = line.split() if delimiter == " " else line.split(delimiter)
            yield number, [cell.strip() for cell in cells]


def _n_numbers(cells: list[str]) -> int:
    """Count the cells that are numbers."""
    return len(cells) - [_number(cell) for cell in cells].count(None)


def _number(cell: str) -> float | None:
    """Read one cell, with decimal point or decimal comma; None if it is no number."""
    if "_" in cell:
        return None
    try:
        value = float(cell.replace(",", ".") if "." not in cell else cell)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _words(heading: str) -> list[str]:
    """Split a heading into lower-case words: timestampMs, time_ms, Time (ms)."""
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", heading)
    return [word for word in re.split(r"[\s_()\[\]/.,:-]+", apart.lower()) if word]


def _time_unit(heading: str) -> str:
    """Return the time unit a heading names; empty if none."""
    named = (_TIME_UNIT_OF.get(word) for word in reversed(_words(heading)))
    return next(filter(None, named), "")


def _find_columns(headings: list[str]) -> tuple[int | None, list[int]]:
    """Find the column of times, and one to three of acceleration, else of rotation.

    Times with a unit go before times without one.
    """
    timed: list[int] = []
    bare: list[int] = []
    accelerations: list[int] = []
    rotations: list[int] = []
    for column, heading in enumerate(headings):
        words = _words(heading)
        plain = " ".join(_words(re.sub(r"[(\[].*", "", heading)))
        unit, _ = _motion_unit(heading)
        if words and all(word in _TIME_UNIT_OF for word in words):
            timed.append(column)
        elif _TIME_WORDS & set(words):
            (timed if _time_unit(heading) else bare).append(column)
        elif not plain or _NO_DIRECTION.search(plain):
            continue
        elif _ROTATION.search(plain) or unit in {"rad/s", "deg/s"}:
            rotations.append(column)
        elif unit or any(map(_ACCELERATION.search, plain.split())):
            accelerations.append(column)
    return next(iter(timed + bare), None), (accelerations or rotations)[:3]


def _motion_unit(heading: str) -> tuple[str, float]:
    """Return the unit of motion a heading names, and it in SI; empty and 1 if none."""
    flat = heading.lower().replace(" ", "").replace("²", "2").replace("^", "")
    found = ((u, scale) for u, scale, spelt in _MOTION_UNITS if re.search(spelt, flat))
    return next(found, ("", 1.0))


def _guess_time_unit(times: FloatArray) -> str:
    """Take the unit in which a logger would have 20 to 20000 rows per second."""
    steps = np.abs(np.diff(times))
    step = float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0
    # a step of 0.05 to 50 ms: the bounds between units lie a decade and a half apart
    bounds = (("s", 0.3), ("ms", 300.0), ("us", 3e5))
    return next((unit for unit, longest in bounds if step < longest), "ns")


def _read_numbers(
    rows: _Rows, columns: list[int], n_cells: int
) -> tuple[FloatArray, list[int]]:
    """Read the columns that matter, and the numbers of lines that cannot be read."""
    numbers = array("d")
    bad: list[int] = []
    for line, cells in rows:
        read = [_number(cells[c]) for c in columns if c < len(cells)]
        present = [one for one in read if one is not None]
        if len(present) == len(columns) and abs(len(cells) - n_cells) <= 1:
            numbers.extend(present)
        else:
            bad.append(line)
    return np.array(numbers).reshape(-1, len(columns)), bad


def _make_even(
    written: FloatArray, values: FloatArray, name: str, notes: list[Note]
) -> tuple[FloatArray, float] | Refusal:
    """Put rows in order on an even grid of a rate [Hz], or say why it cannot be."""
    times, first = np.unique(written, return_index=True)
    values = values[first]
    n_backward = int((np.diff(written) <= 0).sum())
    n_moved = n_backward + written.size - times.size
    if times.size < 10 or n_backward > 0.5 * written.size:
        return NoteKind.LOG_WITHOUT_CLOCK.refusal(recording=name)
    steps = np.diff(times)
    is_gap = steps > _GAP * float(np.median(steps))
    # the mean step outside gaps: rounding of the times does not bend the frequencies
    rate = float((~is_gap).sum() / steps[~is_gap].sum())
    n_gaps, missing = int(is_gap.sum()), float(steps[is_gap].sum())
    start = float(times[:-1][is_gap][0] - times[0]) if n_gaps else 0.0
    gaps: dict[str, Any] = {"recording": name, "seconds": missing, "first": start}
    length = float(times[-1] - times[0])
    refusal = _judge(length, rate, name)
    if refusal is None and missing > _MOST_MISSING * length:
        refusal = NoteKind.LOG_MOSTLY_GAPS.refusal(length=length, **gaps)
    if refusal is not None:
        return refusal
    if n_moved:
        notes.append(NoteKind.LOG_OUT_OF_ORDER.note(recording=name, n_rows=n_moved))
    if n_gaps:
        notes.append(NoteKind.LOG_GAPS.note(n_gaps=n_gaps, **gaps))
    # a grid time that rounding puts past the last row still counts
    n_grid = int(length * rate + 1e-6) + 1
    grid = times[0] + np.arange(n_grid) / rate
    values = values - values.mean(axis=0)
    samples = np.concatenate(
        [
            _interpolate(times, values, grid[start : start + _BLOCK])
            for start in range(0, n_grid, _BLOCK)
        ]
    )
    after = np.searchsorted(times[1:], grid).clip(0, is_gap.size - 1)
    samples[is_gap[after]] = 0.0
    return samples, rate


def _judge(length: float, rate: float, name: str) -> Refusal | None:
    """Say why times of so many rows a second over some length [s] cannot be used."""
    if rate < SLOWEST:
        return NoteKind.LOG_TOO_SLOW.refusal(recording=name, rate=rate, least=SLOWEST)
    if rate > HIGHEST_RATE:
        return absurd_rate(name, rate)
    if length < _SHORTEST:
        return NoteKind.TOO_SHORT.refusal(recording=name, seconds=length)
    if length > LONGEST:
        return too_long(name, f"{length / 60:.0f} min", LONGEST)
    return None


def _interpolate(times: FloatArray, values: FloatArray, grid: FloatArray) -> FloatArray:
    """Lay a cubic through the four rows around each grid time (Lagrange)."""
    start = (np.searchsorted(times, grid, side="right") - 2).clip(0, times.size - 4)
    nodes = start[:, np.newaxis] + np.arange(4)
    around = times[nodes]
    result = np.zeros((grid.size, values.shape[1]))
    for one in range(4):
        weight = np.ones(grid.size)
        for other in range(4):
            if other != one:
                weight *= grid - around[:, other]
                weight /= around[:, one] - around[:, other]
        result += weight[:, np.newaxis] * values[nodes[:, one]]
    return result


def _along_strongest_axis(samples: FloatArray, rate: float) -> tuple[FloatArray, float]:
    """Return motion along its strongest direction, and that one's share of the power.

    Slow turning of the sensor does not choose the direction.
    """
    if samples.shape[1] == 1:
        return samples[:, 0], 1.0
    quick = samples - _moving_mean(samples, max(1, round(rate)))
    powers, directions = np.linalg.eigh(quick.T @ quick)
    direction = directions[:, -1]
    direction = direction * np.sign(direction[np.abs(direction).argmax()])
    total = float(powers.sum())
    return samples @ direction, float(powers[-1]) / total if total > 0 else 1.0


def _moving_mean(samples: FloatArray, n_window: int) -> FloatArray:
    """Return the mean over a window around each sample, shorter at the ends."""
    sums = np.concatenate([np.zeros((1, samples.shape[1])), np.cumsum(samples, axis=0)])
    here = np.arange(samples.shape[0])
    low = (here - n_window // 2).clip(0)
    high = (here + n_window // 2 + 1).clip(max=samples.shape[0])
    means: FloatArray = (sums[high] - sums[low]) / (high - low)[:, np.newaxis]
    return means
