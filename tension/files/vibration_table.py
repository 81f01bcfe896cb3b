"""The table in a log of an acceleration sensor: header, columns, units, rows."""

import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tension.notes import NoteKind, Refusal

LARGEST = 64_000_000
"""Largest log that is read. [byte]"""
MOST_ROWS = 1_000_000
"""Most rows that are read: 40 minutes at 400 per second. [1]"""
_LONGEST_LINE = 20_000
_ROWS_AT_ONCE = 20_000

MOTION_UNITS = {
    "m/s2": 1.0,
    "g": 9.80665,  # standard gravity, exact by definition (CGPM 1901)
    "mg": 9.80665e-3,
    "rad/s": 1.0,
    "deg/s": np.pi / 180,
}
"""Units of motion to SI."""

_TIME_UNITS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}
_TIME_SPELLINGS = {
    word: unit
    for unit, words in (
        ("s", "s sec secs second seconds"),
        ("ms", "ms msec millis millisecond milliseconds"),
        ("us", "us µs μs micros microseconds"),
        ("ns", "ns nanos nanosecond nanoseconds"),
    )
    for word in words.split()
}
_TIME_WORDS = {"time", "t", "timestamp", "elapsed", "zeit", "temps", "tiempo", "tempo"}
_ACCELERATION = re.compile(r"acc|vibration|g.?force|beschl|^[axyz]+$|^a[xyz]$")
_ROTATION = re.compile(r"gyr|rotation|angular|omega|rate|^[wg][xyz]$")
_NO_DIRECTION = re.compile(
    r"abs|total|magnitude|norm|sum|accuracy|temp|lat|lon|index|bias|orient|quat"
    r"|\broll|pitch|yaw|azimuth|mag\b|magnet|compass|heading|altitude|pressure|^at$"
)
_COMMENT = ("#", "%", "//")
_MOST_BAD = 0.2


@dataclass(frozen=True, kw_only=True, slots=True)
class VibrationTable:
    """The columns of a log that matter."""

    times: NDArray[np.float64]  # as written, from the first row [s]
    # motion, shape (n_rows, n_axes), in SI where the unit is known [m/s^2] or [rad/s]
    values: NDArray[np.float64]
    columns: tuple[str, ...]  # headings of the columns of motion
    unit: str  # theirs; empty if the header names none
    guessed_time_unit: str  # in which times were taken; empty if the header names it
    bad_lines: tuple[int, ...]  # numbers of rows that cannot be read


@dataclass(frozen=True, kw_only=True, slots=True)
class _Sheet:
    """Lines of a log, its delimiter and where the numbers start."""

    lines: list[str]
    delimiter: str
    headings: list[str]
    first_row: int


def read_table(path: Path, name: str, unit: str) -> VibrationTable | Refusal:
    """Read the columns of a log; ``unit`` holds where the header names none."""
    text = _read_text(path)
    if text is None:
        limit = LARGEST / 1e6
        return NoteKind.LOG_TOO_LARGE.refusal(
            recording=name, limit=limit, rows=MOST_ROWS
        )
    sheet = _find_sheet(text)
    if sheet is None:
        return NoteKind.LOG_WITHOUT_HEADER.refusal(recording=name)
    shown = ", ".join(heading or "(empty)" for heading in sheet.headings)
    time_column = _find_time_column(sheet.headings)
    if time_column is None:
        return NoteKind.LOG_WITHOUT_TIME.refusal(recording=name, columns=shown)
    motion = _find_motion_columns(sheet.headings, time_column)
    if not motion:
        return NoteKind.LOG_WITHOUT_MOTION.refusal(recording=name, columns=shown)
    numbers, bad_lines, n_rows = _read_numbers(sheet, [time_column, *motion])
    if len(bad_lines) > _MOST_BAD * n_rows or len(numbers) < 2:
        return NoteKind.LOG_UNREADABLE.refusal(
            recording=name,
            n_bad=len(bad_lines),
            n_rows=n_rows,
            line=bad_lines[0] if bad_lines else sheet.first_row + 1,
        )
    return _in_si(sheet, numbers, [time_column, *motion], unit, bad_lines)


def _in_si(
    sheet: _Sheet,
    numbers: NDArray[np.float64],
    columns: list[int],
    unit: str,
    bad_lines: tuple[int, ...],
) -> VibrationTable:
    """Put times and motion into SI by the units of the header."""
    heading = sheet.headings[columns[0]]
    times = numbers[:, 0] - numbers[0, 0]
    time_unit = _time_unit(heading)
    guessed = "" if time_unit else _guess_time_unit(times)
    found = [_motion_unit(sheet.headings[column]) for column in columns[1:]]
    scales = [MOTION_UNITS.get(one or unit, 1.0) for one in found]
    return VibrationTable(
        times=times * _TIME_UNITS[time_unit or guessed],
        values=numbers[:, 1:] * scales,
        columns=tuple(sheet.headings[column] for column in columns[1:]),
        unit=next((one for one in found if one), unit),
        guessed_time_unit=guessed,
        bad_lines=bad_lines,
    )


def _read_text(path: Path) -> str | None:
    """Read a text in any encoding loggers and spreadsheets use; None: too large."""
    with path.open("rb") as opened:
        content = opened.read(LARGEST + 1)
    n_rows = max(content.count(b"\n"), content.count(b"\r"))
    if len(content) > LARGEST or n_rows > MOST_ROWS:
        return None
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", errors="replace").replace('"', "")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    return text.replace('"', "")


def _find_sheet(text: str) -> _Sheet | None:
    """Find the first rows of numbers and the headings above them."""
    lines = text.splitlines()
    if max(map(len, lines), default=0) > _LONGEST_LINE:
        return None
    kept = [
        (number, line)
        for number, line in enumerate(lines[:500])
        if line.strip() and not line.lstrip().startswith(_COMMENT)
    ]
    for delimiter in ("\t", ";", ",", " "):
        for (_, line), (number, next_line) in pairwise(kept):
            headings, below = _cells(line, delimiter), _cells(next_line, delimiter)
            if _is_header(headings, below):
                return _Sheet(
                    lines=lines,
                    delimiter=delimiter,
                    headings=headings,
                    first_row=number,
                )
    return None


def _is_header(headings: list[str], below: list[str]) -> bool:
    """Say whether one line names the columns of the numbers in the next."""
    if len(headings) < 2 or abs(len(headings) - len(below)) > 1:
        return False
    return _n_numbers(headings) == 0 and _n_numbers(below) >= 2


def _cells(line: str, delimiter: str) -> list[str]:
    """Split one line; blanks count together."""
    parts = line.split() if delimiter == " " else line.split(delimiter)
    return [part.strip() for part in parts]


def _n_numbers(cells: list[str]) -> int:
    """Count the cells that are numbers."""
    return sum(_number(cell) is not None for cell in cells)


def _number(cell: str) -> float | None:
    """Read one cell, with decimal point or decimal comma; None if it is no number."""
    if "_" in cell:
        return None
    try:
        value = float(cell.replace(",", ".") if "." not in cell else cell)
    except ValueError:
        return None
    return value if np.isfinite(value) else None


def _words(heading: str) -> list[str]:
    """Split a heading into lower-case words: timestampMs, time_ms, Time (ms)."""
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", heading)
    return [word for word in re.split(r"[\s_()\[\]/.,:-]+", apart.lower()) if word]


def _time_unit(heading: str) -> str:
    """Return the time unit a heading names; empty if none."""
    named = (_TIME_SPELLINGS.get(word) for word in reversed(_words(heading)))
    return next(filter(None, named), "")


def _find_time_column(headings: list[str]) -> int | None:
    """Return the column of times, one with a unit before one without."""
    bare = []
    for column, heading in enumerate(headings):
        words = _words(heading)
        is_named = bool(_TIME_WORDS & set(words))
        is_unit_alone = bool(words) and all(word in _TIME_SPELLINGS for word in words)
        if is_unit_alone or (is_named and _time_unit(heading)):
            return column
        bare += [column] if is_named else []
    return bare[0] if bare else None


def _find_motion_columns(headings: list[str], time_column: int) -> list[int]:
    """Return one to three columns of acceleration, else of rotation rate."""
    accelerations, rotations = [], []
    for column, heading in enumerate(headings):
        plain = " ".join(_words(re.sub(r"[(\[].*", "", heading)))
        is_time = column == time_column or _TIME_WORDS & set(_words(heading))
        if is_time or not plain or _NO_DIRECTION.search(plain):
            continue
        unit = _motion_unit(heading)
        if _ROTATION.search(plain) or unit in {"rad/s", "deg/s"}:
            rotations.append(column)
        elif unit or any(map(_ACCELERATION.search, plain.split())):
            accelerations.append(column)
    return (accelerations or rotations)[:3]


_MOTION_SPELLINGS = (
    ("rad/s", r"rad/s|rads-1|rad_s"),
    ("deg/s", r"(deg|°|dps)(/s|_s|\b)"),
    ("m/s2", r"m/s2|m/s/s|ms-2|ms2|m_s2|m/s\*\*2"),
    ("mg", r"[(\[]mg[)\]]|_mg$"),
    ("g", r"[(\[]gs?[)\]]|_g$|gforce"),
)


def _motion_unit(heading: str) -> str:
    """Return the unit of motion a heading names; empty if none."""
    flat = heading.lower().replace(" ", "").replace("²", "2").replace("^", "")
    found = (unit for unit, spelt in _MOTION_SPELLINGS if re.search(spelt, flat))
    return next(found, "")


def _guess_time_unit(times: NDArray[np.float64]) -> str:
    """Take the unit in which a logger would have 20 to 20000 rows per second."""
    steps = np.abs(np.diff(times))
    step = float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0
    # a step of 0.05 to 50 ms: the bounds between units lie a decade and a half apart
    for unit, longest in (("s", 0.3), ("ms", 300.0), ("us", 3e5)):
        if step < longest:
            return unit
    return "ns"


def _read_numbers(
    sheet: _Sheet, columns: list[int]
) -> tuple[NDArray[np.float64], tuple[int, ...], int]:
    """Read the columns that matter; rows that cannot be read are counted."""
    pieces, bad, n_rows = [], [], 0
    for start in range(sheet.first_row, len(sheet.lines), _ROWS_AT_ONCE):
        rows = sheet.lines[start : start + _ROWS_AT_ONCE]
        numbers, bad_here = _read_piece(rows, start, sheet, columns)
        pieces.append(numbers)
        bad += bad_here
        n_rows += len(numbers) + len(bad_here)
    return np.concatenate(pieces), tuple(bad), n_rows


def _read_piece(
    rows: list[str], start: int, sheet: _Sheet, columns: list[int]
) -> tuple[NDArray[np.float64], list[int]]:
    """Read some rows at once, or one by one if any of them is out of order."""
    if not any(row.strip() for row in rows):
        return np.empty((0, len(columns))), []
    try:
        numbers = _read_fast(rows, sheet.delimiter, columns)
    except ValueError:
        return _read_row_by_row(rows, start, sheet, columns)
    if np.isfinite(numbers).all():
        return numbers, []
    return _read_row_by_row(rows, start, sheet, columns)


def _read_fast(
    rows: list[str], delimiter: str, columns: list[int]
) -> NDArray[np.float64]:
    """Read rows that are all in order; raises ValueError if one is not."""
    if delimiter != ",":
        rows = [row.replace(",", ".") for row in rows]
    return np.loadtxt(
        rows,
        delimiter=None if delimiter == " " else delimiter,
        usecols=columns,
        comments=_COMMENT,
        ndmin=2,
    )


def _read_row_by_row(
    rows: list[str], start: int, sheet: _Sheet, columns: list[int]
) -> tuple[NDArray[np.float64], list[int]]:
    """Read rows one by one, passing over those that cannot be read."""
    good: list[list[float]] = []
    bad: list[int] = []
    for number, row in enumerate(rows, start=start + 1):
        if not row.strip() or row.lstrip().startswith(_COMMENT):
            continue
        cells = _cells(row, sheet.delimiter)
        numbers = [_number(cells[c]) if c < len(cells) else None for c in columns]
        present = [one for one in numbers if one is not None]
        if len(present) == len(columns) and abs(len(cells) - len(sheet.headings)) <= 1:
            good.append(present)
        else:
            bad.append(number)
    return np.array(good, dtype=np.float64).reshape(-1, len(columns)), bad
