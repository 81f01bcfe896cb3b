"""Recordings cut down to the windows around the plucks.

It reduces what is heard of people and guarantees nothing: what was said within a window
stays in it.
"""

import io
import re
import tomllib
import wave
from collections.abc import Collection, Sequence
from contextlib import closing
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tension.errors import FileFormatError
from tension.files.sound_stream import SoundStream, open_sound
from tension.files.toml_text import toml_value
from tension.files.visit import Trim
from tension.notes import Refusal

BEFORE = 1.0
"""Kept before each pluck, so that hum and noise are known. [s]"""
RING = 8.0
"""Kept after each pluck: as long as a ring is listened to, for in noise nobody can say
where it ends. [s]"""
JOIN = 0.02
"""Over so much one window fades into the next. [s]"""
LEAST_SAVED = 0.02
"""A recording of which less would go stays whole. [1]"""
TRIM_CLAIM = (
    "Trimming reduces the speech in a recording and guarantees nothing: what was said "
    "within a kept window is still there."
)
_TRIM_HEAD = re.compile(r"(?=^[ \t]*\[\[[ \t]*trim[ \t]*\]\])", re.MULTILINE)
_ORIGINAL = re.compile(r'^(original = )"[^"\n]*"', re.MULTILINE)


@dataclass(frozen=True, kw_only=True, slots=True)
class Window:
    """A stretch that is kept."""

    # from the start of the recording [s]
    start: float
    end: float


def find_windows(onsets: Sequence[float], duration: float) -> tuple[Window, ...]:
    """Find what is kept [s] of a recording by its plucks [s]; no ring is cut.

    Examples
    --------
    >>> find_windows([3.0, 20.0], 60.0)
    (Window(start=2.0, end=11.0), Window(start=19.0, end=28.0))
    """
    windows: list[Window] = []
    for onset in sorted(onsets):
        low, high = max(onset - BEFORE, 0.0), min(onset + RING, duration)
        if windows and low <= windows[-1].end + JOIN:
            low = windows.pop().start
        windows.append(Window(start=low, end=high))
    return tuple(windows)


def share_kept(windows: Sequence[Window], duration: float) -> float:
    """Tell which part of a duration [s] is kept."""
    return sum(w.end - w.start for w in windows) / duration if duration else 1.0


def trimmed_wav(source: Path, windows: Sequence[Window]) -> bytes | Refusal:
    """Decode a recording and write only its windows, joined, as WAV.

    The sampling rate and up to two channels are those of the file; samples get 24 bit,
    so that a quiet recording loses nothing.
    """
    opened = open_sound(source, source.name)
    if isinstance(opened, Refusal):
        return opened
    with closing(opened):
        kept = _kept(opened, windows)
        rate = opened.sampling_rate
    return _wav(_joined(kept, round(JOIN * rate)), round(rate))


def _kept(stream: SoundStream, windows: Sequence[Window]) -> list[NDArray[np.float32]]:
    """The samples of each window, decoded block by block."""
    pieces: list[list[NDArray[np.float32]]] = [[] for _ in windows]
    first = 0
    for block in stream.blocks():
        rate = stream.sampling_rate
        for place, window in enumerate(windows):
            low = max(round(window.start * rate) - first, 0)
            high = min(round(window.end * rate) - first, block.shape[1])
            if low < high:
                pieces[place].append(block[:, low:high])
        first += block.shape[1]
    return [np.concatenate(piece, axis=1) for piece in pieces if piece]


def _joined(windows: Sequence[NDArray[np.float32]], n_join: int) -> NDArray[np.float32]:
    """Windows one after the other, each fading into the next without a click."""
    joined = windows[0]
    for window in windows[1:]:
        n = min(n_join, joined.shape[1], window.shape[1])
        # powers, not amplitudes, add up to one: noise keeps its level
        fade = np.sin(np.linspace(0.0, np.pi / 2.0, n, dtype=np.float32))
        across = joined[:, -n:] * fade[::-1] + window[:, :n] * fade
        joined = np.concatenate([joined[:, :-n], across, window[:, n:]], axis=1)
    return joined


def _wav(samples: NDArray[np.float32], rate: int) -> bytes:
    """Samples as 24 bit WAV."""
    full = float(2**23 - 1)
    whole = np.round(np.clip(samples, -1.0, 1.0).T.astype(np.float64) * full)
    raw = whole.astype("<i4").reshape(-1).view(np.uint8).reshape(-1, 4)[:, :3]
    content = io.BytesIO()
    with wave.open(content, "wb") as written:
        written.setnchannels(samples.shape[0])
        written.setsampwidth(3)
        written.setframerate(rate)
        written.writeframes(raw.tobytes())
    return content.getvalue()


def windows_text(windows: Sequence[Window]) -> str:
    """Write which windows were kept: "2.00 s to 6.00 s, 19.00 s to 28.00 s"."""
    return ", ".join(f"{w.start:.2f} s to {w.end:.2f} s" for w in windows)


def trim_lines(trims: Sequence[Trim]) -> str:
    """Write trims as tables for the end of a record, an empty line before each."""
    lines: list[str] = []
    for trim in trims:
        keys = {name.removeprefix("n_"): value for name, value in asdict(trim).items()}
        lines += ["", "[[trim]]"]
        lines += [f"{key} = {toml_value(value)}" for key, value in keys.items()]
    return "\n".join(lines) + "\n"


def mark_deleted(text: str, recordings: Collection[str]) -> str:
    """Say in a record that the originals of some trims are deleted.

    Raises
    ------
    FileFormatError
        If the trims stand there in another form than the program writes.
    """
    before = tomllib.loads(text)
    wanted = [
        one | {"original": "deleted"} if one["recording"] in recordings else one
        for one in before["trim"]
    ]
    parts = _TRIM_HEAD.split(text)
    marked = parts[:1]
    for part, one in zip(parts[1:], before["trim"], strict=False):
        is_gone = one["recording"] in recordings
        marked.append(_ORIGINAL.sub(r'\1"deleted"', part, count=1) if is_gone else part)
    changed = "".join(marked)
    if len(parts) != len(wanted) + 1 or tomllib.loads(changed) != before | {
        "trim": wanted
    }:
        raise FileFormatError(
            "the [[trim]] tables of the record are not as the program wrote them; "
            'write original = "deleted" into those of ' + ", ".join(sorted(recordings))
        )
    return changed


def differ_in_trims_alone(old: str, new: str) -> bool:
    """Tell whether trims were added, originals marked as deleted, and nothing else."""
    try:
        before, after = tomllib.loads(old), tomllib.loads(new)
    except tomllib.TOMLDecodeError:
        return False
    trims, later = before.pop("trim", []), after.pop("trim", [])
    deleted = {"original": "deleted"}
    return (
        before == after
        and all(
            one in (trim, trim | deleted)
            for trim, one in zip(trims, later, strict=False)
        )
        and len(trims) <= len(later)
    )
