"""Pitches of screw threads, with source and standing."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from tension.catalogue.standing import Standing

_INCH = 0.0254


@dataclass(frozen=True, kw_only=True, slots=True)
class ThreadPitch:
    """Pitch of a coarse thread.

    Attributes
    ----------
    size : str
        Such as "M16" or "5/8".
    pitch : float
        Travel of the nut in one turn. [m]
    source : str
        Where it is published.
    standing : Standing
        How it is known.
    """

    size: str
    pitch: float
    source: str
    standing: Standing


@cache
def thread_pitches() -> tuple[ThreadPitch, ...]:
    """Give the coarse threads of the catalogue."""
    text = files("tension.catalogue").joinpath("threads.toml").read_text("utf-8")
    rows = []
    for series in tomllib.loads(text).values():
        pitches = {size: 1e-3 * mm for size, mm in series.get("pitch_mm", {}).items()}
        for size, count in series.get("threads_per_inch", {}).items():
            pitches[size] = _INCH / count
        rows += [
            ThreadPitch(
                size=size,
                pitch=pitch,
                source=series["source"],
                standing=Standing(series["standing"]),
            )
            for size, pitch in pitches.items()
        ]
    return tuple(rows)


def find_thread_pitch(size: str) -> ThreadPitch | None:
    """Find the coarse pitch of a thread size.

    Parameters
    ----------
    size : str
        Such as "M16" or "5/8".

    Returns
    -------
    ThreadPitch or None
        The row; None if the catalogue does not have it.

    Examples
    --------
    >>> find_thread_pitch("M16").pitch
    0.002
    """
    return next((row for row in thread_pitches() if row.size == size.upper()), None)
