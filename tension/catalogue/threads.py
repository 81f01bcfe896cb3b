"""Screw threads of rods: coarse pitches with source and standing, names as typed."""

import re
from dataclasses import dataclass
from functools import cache

from tension.catalogue import Standing, published, read_row
from tension.errors import InvalidValueError
from tension.quantity.showing import INCH


@dataclass(frozen=True, kw_only=True, slots=True)
class ThreadPitch:
    """Pitch of a coarse thread."""

    size: str  # such as "M16" or "5/8"
    pitch: float  # travel of the nut in one turn [m]
    source: str  # where it is published
    standing: Standing  # how it is known


@cache
def thread_pitches() -> tuple[ThreadPitch, ...]:
    """Give the coarse threads of the catalogue."""
    rows = []
    for series in published("threads.toml").values():
        metric, inch = series.pop("pitch_mm", {}), series.pop("threads_per_inch", {})
        pitches = {size: 1e-3 * mm for size, mm in metric.items()}
        pitches |= {size: INCH / count for size, count in inch.items()}
        rows += [
            read_row(ThreadPitch, series, size=size, pitch=pitch)
            for size, pitch in pitches.items()
        ]
    return tuple(rows)


def find_thread_pitch(size: str) -> ThreadPitch | None:
    """Find the coarse pitch of a thread size, such as "M16" or "5/8".

    Examples
    --------
    >>> find_thread_pitch("M16").pitch
    0.002
    """
    return next((row for row in thread_pitches() if row.size == size.upper()), None)


@dataclass(frozen=True, kw_only=True, slots=True)
class Thread:
    """Thread of a shackle rod."""

    name: str  # as typed, such as "M16" or "5/8-11"
    pitch: float  # travel of the nut in one turn [m]
    is_left_handed: bool = False  # whether it is a left-hand thread


_METRIC_THREAD = re.compile(
    r"(?P<size>M[0-9]{1,2})(?:X(?P<pitch>[0-9](?:[.,][0-9]+)?))?"
)
_INCH_THREAD = re.compile(
    r"(?P<size>1|[1-9][0-9]?/[1-9][0-9]?)(?:IN|\")?"
    r"(?:-(?P<count>[1-9][0-9]?)(?:-?UN[CFS]?)?|-?(?P<coarse>UNC))"
)
_LEFT_HANDED = re.compile(r"[ -]*(?:left(?:[- ]hand(?:ed)?)?|lh)$")


def parse_thread(text: str) -> Thread:
    """Read the thread of a rod, with the pitch typed or the coarse one of that size.

    Parameters
    ----------
    text : str
        Such as "M16", "M16 left", "M16x1.5", "5/8-11".

    Raises
    ------
    InvalidValueError
        If it is no thread, or its pitch is neither typed nor in the catalogue.

    Examples
    --------
    >>> parse_thread("M16 left")
    Thread(name='M16 left', pitch=0.002, is_left_handed=True)
    """
    plain = " ".join(text[:40].lower().replace("×", "x").split())
    right = _LEFT_HANDED.sub("", plain)
    typed = right.replace(" ", "").upper()
    found = _METRIC_THREAD.fullmatch(typed) or _INCH_THREAD.fullmatch(typed)
    if found is None or len(text) > 40:
        raise InvalidValueError(
            f'"{text[:40]}" is no thread that is read; write it like M16, M16x1.5, '
            '5/8-11, or "M16 left" for a left-hand thread'
        )
    told = found.groupdict()
    size = str(told["size"])
    coarse = find_thread_pitch(size)
    if told.get("pitch"):
        pitch = 1e-3 * float(str(told["pitch"]).replace(",", "."))
    elif told.get("count"):
        pitch = INCH / int(str(told["count"]))
    elif coarse:
        pitch = coarse.pitch
    else:
        raise InvalidValueError(
            f'"{text}": the coarse pitch of this size is not known; write the pitch '
            "too, like M16x1.5 or 5/8-11"
        )
    if not 0.0 < pitch < 0.3 * _diameter(size):
        raise InvalidValueError(
            f'"{text}": a pitch of {1e3 * pitch:.3g} mm does not go with that size; '
            "check both numbers"
        )
    return Thread(name=text, pitch=pitch, is_left_handed=right != plain)


def _diameter(size: str) -> float:
    """Nominal diameter from the name of a size. [m]."""
    if size.startswith("M"):
        return 1e-3 * int(size[1:])
    over, _, under = size.partition("/")
    return INCH * int(over) / int(under or 1)
