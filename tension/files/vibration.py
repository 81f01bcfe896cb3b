"""Logs of an acceleration sensor in: CSV of any phone logger, as one even channel."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tension.files.sound_contents import refuse_by_place, refused
from tension.files.sound_decimation import Decimator, decimation_factor
from tension.files.sound_stream import HIGHEST_RATE, LONGEST, absurd_rate, too_long
from tension.files.vibration_table import MOTION_UNITS, VibrationTable, read_table
from tension.notes import Note, NoteKind, Refusal
from tension.sound.recording import Recording

SLOWEST = 10.0
"""Fewest rows per second from which a rope could be heard. [Hz]"""
_SLOW = 150.0
_SHORTEST = 1.0
_GAP = 3.5  # steps; fewer are bridged by the curve through the neighbours
_MOST_MISSING = 0.5  # of the length
_BLOCK = 65536  # grid times laid at once


def read_vibration(path: Path, *, unit: str | None = None, name: str = "") -> Recording:
    """Read a CSV log with a column of times and one to three columns of motion.

    Columns are found by the words of the header, in any order, with comma, semicolon,
    tab or blanks between them and a decimal point or comma. Uneven rows are put on an
    even grid. Axes are combined along the direction of the strongest motion.

    Parameters
    ----------
    path : Path
        The log.
    unit : str or None
        Unit of the motion if the header names none: m/s2, g, mg, rad/s or deg/s.
    name : str
        How the record names it; the file name if left out.

    Returns
    -------
    Recording
        Motion about its mean, in SI where the unit is known, and what the reading
        found, or the refusal.
    """
    path = Path(path)
    name = name or path.name
    if unit is not None and unit not in MOTION_UNITS:
        known = ", ".join(MOTION_UNITS)
        return refused(name, NoteKind.LOG_UNIT_UNKNOWN.refusal(unit=unit, known=known))
    refusal = refuse_by_place(path, name)
    if refusal is not None:
        return refused(name, refusal)
    try:
        table = read_table(path, name, unit or "")
    except OSError as error:
        reason = (error.strerror or "the system refuses").lower()
        return refused(
            name, NoteKind.FILE_LOCKED.refusal(recording=name, reason=reason)
        )
    if isinstance(table, Refusal):
        return refused(name, table)
    return _make_recording(table, name)


@dataclass(frozen=True, kw_only=True, slots=True)
class _EvenMotion:
    """Motion on an even grid."""

    samples: NDArray[np.float64]
    rate: float
    gap_starts: NDArray[np.float64]
    gap_lengths: NDArray[np.float64]
    n_moved: int


def _make_recording(table: VibrationTable, name: str) -> Recording:
    """Put a table on an even grid and along one axis."""
    even = _make_even(table, name)
    if isinstance(even, Refusal):
        return refused(name, even)
    motion, share = _along_strongest_axis(even.samples, even.rate)
    if not motion.any():
        return refused(name, NoteKind.SILENT.refusal(recording=name))
    factor = decimation_factor(even.rate)
    decimator = Decimator(factor)
    pieces = decimator.push(motion[np.newaxis].astype(np.float32))
    samples = np.concatenate([*pieces, *decimator.finish()], axis=1)[0]
    samples.flags.writeable = False
    return Recording(
        name=name,
        samples=samples,
        sampling_rate=even.rate / factor,
        source_rate=even.rate,
        codec="",
        clipped=np.empty((0, 2)),
        notes=tuple(_find_notes(table, even, share, name)),
    )


def _make_even(table: VibrationTable, name: str) -> _EvenMotion | Refusal:
    """Put rows in order and on an even grid, or say why that cannot be done."""
    order = np.argsort(table.times, kind="stable")
    times, first = np.unique(table.times[order], return_index=True)
    values = table.values[order][first]
    n_backward = int((np.diff(table.times) <= 0).sum())
    n_moved = n_backward + table.times.size - times.size
    if times.size < 10 or n_backward > 0.5 * table.times.size:
        return NoteKind.LOG_WITHOUT_CLOCK.refusal(recording=name)
    steps = np.diff(times)
    usual = float(np.median(steps))
    is_gap = steps > _GAP * usual
    # the mean step outside gaps: rounding of the times does not bend the frequencies
    rate = float((~is_gap).sum() / steps[~is_gap].sum())
    gap_starts, gap_lengths = times[:-1][is_gap] - times[0], steps[is_gap]
    length = float(times[-1] - times[0])
    refusal = _judge_times(times, rate, name) or _judge_gaps(
        gap_starts, gap_lengths, length, name
    )
    if refusal is not None:
        return refusal
    # a grid time that rounding puts past the last row still counts
    n_grid = int(length * rate + 1e-6) + 1
    grid = times[0] + np.arange(n_grid) / rate
    middle = values.mean(axis=0)
    samples = np.concatenate(
        [
            _interpolate(times, values - middle, grid[start : start + _BLOCK])
            for start in range(0, n_grid, _BLOCK)
        ]
    )
    after = np.searchsorted(times[1:], grid).clip(0, is_gap.size - 1)
    samples[is_gap[after]] = 0.0
    return _EvenMotion(
        samples=samples,
        rate=rate,
        gap_starts=gap_starts,
        gap_lengths=gap_lengths,
        n_moved=n_moved,
    )


def _judge_times(times: NDArray[np.float64], rate: float, name: str) -> Refusal | None:
    """Say why the times cannot be used; None if they can."""
    length = float(times[-1] - times[0])
    if rate < SLOWEST:
        return NoteKind.LOG_TOO_SLOW.refusal(recording=name, rate=rate, least=SLOWEST)
    if rate > HIGHEST_RATE:
        return absurd_rate(name, rate)
    if length < _SHORTEST:
        return NoteKind.TOO_SHORT.refusal(recording=name, seconds=length)
    if length > LONGEST:
        return too_long(name, f"{length / 60:.0f} min", LONGEST)
    return None


def _judge_gaps(
    starts: NDArray[np.float64], gaps: NDArray[np.float64], length: float, name: str
) -> Refusal | None:
    """Refuse a log of which more is missing than there; silence is not laid in it."""
    missing = float(gaps.sum())
    if missing <= _MOST_MISSING * length:
        return None
    return NoteKind.LOG_MOSTLY_GAPS.refusal(
        recording=name, seconds=missing, length=length, first=float(starts[0])
    )


def _interpolate(
    times: NDArray[np.float64],
    values: NDArray[np.float64],
    grid: NDArray[np.float64],
) -> NDArray[np.float64]:
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


def _along_strongest_axis(
    samples: NDArray[np.float64], rate: float
) -> tuple[NDArray[np.float64], float]:
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


def _moving_mean(samples: NDArray[np.float64], n_window: int) -> NDArray[np.float64]:
    """Return the mean over a window around each sample, shorter at the ends."""
    sums = np.concatenate([np.zeros((1, samples.shape[1])), np.cumsum(samples, axis=0)])
    here = np.arange(samples.shape[0])
    low = (here - n_window // 2).clip(0)
    high = (here + n_window // 2 + 1).clip(max=samples.shape[0])
    means: NDArray[np.float64] = (sums[high] - sums[low]) / (high - low)[:, np.newaxis]
    return means


def _find_notes(
    table: VibrationTable, even: _EvenMotion, share: float, name: str
) -> Iterator[Note]:
    """Yield what the reader of a result must know of this log."""
    columns = ", ".join(table.columns)
    if table.bad_lines:
        shown = ", ".join(map(str, table.bad_lines[:5]))
        more = " and more" if len(table.bad_lines) > 5 else ""
        yield NoteKind.LOG_ROWS_LOST.note(
            recording=name, n_bad=len(table.bad_lines), lines=shown + more
        )
    if even.n_moved:
        yield NoteKind.LOG_OUT_OF_ORDER.note(recording=name, n_rows=even.n_moved)
    if even.gap_starts.size:
        yield NoteKind.LOG_GAPS.note(
            recording=name,
            n_gaps=even.gap_starts.size,
            seconds=float(even.gap_lengths.sum()),
            first=float(even.gap_starts[0]),
        )
    if table.guessed_time_unit:
        unit = table.guessed_time_unit
        yield NoteKind.LOG_TIME_UNIT.note(recording=name, unit=unit)
    if not table.unit:
        yield NoteKind.LOG_WITHOUT_UNIT.note(recording=name, columns=columns)
    if len(table.columns) > 1:
        yield NoteKind.LOG_AXIS.note(recording=name, columns=columns, share=100 * share)
    if even.rate < _SLOW:
        yield NoteKind.LOG_SLOW.note(
            recording=name, rate=even.rate, highest=0.45 * even.rate
        )
