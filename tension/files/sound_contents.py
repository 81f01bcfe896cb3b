"""What a file holds that is not readable as sound, and whether a wave file is whole."""

import io
import os
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tension.notes import NoteKind, Refusal
from tension.sound.recording import Recording

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

_KINDS = (
    (b"%PDF", "pdf"),
    (b"\xff\xd8\xff", "picture"),
    (b"\x89PNG", "picture"),
    (b"GIF8", "picture"),
    (b"PK\x03\x04", "zip"),
    (b"Rar!", "archive"),
    (b"7z\xbc\xaf", "archive"),
    (b"\x1f\x8b", "archive"),
    (b"\x7fELF", "program"),
    (b"MZ", "program"),
    (b"SQLite format 3", "database"),
    (b"bplist", "settings"),
)
_UNKNOWN_LENGTH = 0xFFFFFFFF
_MOST_CHUNKS = 1000
_MUCH = 1_000_000


def refuse_by_place(path: Path, name: str) -> Refusal | None:
    """Refuse what is no ordinary file with something in it."""
    kind, reason = NoteKind.FILE_EMPTY, "it is no ordinary file"
    try:
        if path.is_dir():
            kind = NoteKind.FILE_IS_FOLDER
        elif not path.exists():
            kind = NoteKind.FILE_MISSING
        elif not path.is_file():
            kind = NoteKind.FILE_LOCKED
        else:
            with path.open("rb") as opened:
                if opened.read(1):
                    return None
    except OSError as error:
        kind, reason = NoteKind.FILE_LOCKED, _reason(error)
    except ValueError:  # a name that no file can have
        kind = NoteKind.FILE_MISSING
    return kind.refusal(recording=name, reason=reason)


def _reason(error: OSError) -> str:
    """Return the system's reason in a form that fits into a sentence."""
    return (error.strerror or "the system refuses").lower()


def refused(name: str, refusal: Refusal, *, source_rate: float = 0.0) -> Recording:
    """Return a recording of a rate [Hz] that holds only why there is none."""
    samples = np.empty(0, dtype=np.float32)
    samples.flags.writeable = False
    return Recording(
        name=name,
        samples=samples,
        sampling_rate=0.0,
        source_rate=source_rate,
        codec="",
        clipped=np.empty((0, 2)),
        refusal=refusal,
    )


def refuse_by_contents(path: Path, name: str) -> Refusal:
    """Say what a file that does not open as sound seems to be."""
    try:
        with path.open("rb") as opened:
            head = opened.read(4096)
    except OSError as error:
        return NoteKind.FILE_LOCKED.refusal(recording=name, reason=_reason(error))
    if not head.strip(b"\0"):
        return NoteKind.ALL_ZEROS.refusal(recording=name)
    if head[4:8] in {b"ftyp", b"mdat", b"wide", b"free"}:
        return NoteKind.INDEX_LOST.refusal(recording=name)
    for start, way in _KINDS:
        if head.startswith(start):
            return NoteKind.FILE_IS_OTHER.refusal(recording=name, way=way)
    if _is_text(head):
        return NoteKind.FILE_IS_TEXT.refusal(recording=name)
    return NoteKind.FILE_DAMAGED.refusal(recording=name)


def _is_text(head: bytes) -> bool:
    """Tell text from other bytes by its control characters."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff", b"\xef\xbb\xbf")):
        return True
    n_control = sum(byte < 9 or 13 < byte < 32 or byte == 127 for byte in head)
    if n_control:
        return False
    try:
        head[:-4].decode("utf-8")
    except UnicodeDecodeError as error:
        # an older single-byte encoding: mostly plain letters all the same
        return error.start > 0 and sum(byte < 128 for byte in head) > 0.9 * len(head)
    return True


def find_missing_share(path: Path) -> float:
    """Return which share of its declared sound a wave or AIFF file lacks. [1].

    Decoders take what is there and show no fault, so the declared length is compared
    with the size of the file. 0 if it is whole, of another kind, or declares none.
    """
    found = _find_sound_chunk(path)
    if found is None:
        return 0.0
    start, declared, size = found
    is_known = 0 < declared < _UNKNOWN_LENGTH
    short = declared - (size - start) if is_known else 0
    return max(0.0, short / declared) if short > 1 else 0.0


def has_no_sound_chunk(path: Path) -> bool:
    """Tell a wave or AIFF file that has no sound where it should be."""
    return _find_sound_chunk(path) == _NONE


def find_end_of_sound(path: Path) -> int | None:
    """Find the byte where the sound of a wave or AIFF file ends, if much follows it."""
    start, declared, size = _find_sound_chunk(path) or _NONE
    end = start + declared
    is_known = 0 < declared < _UNKNOWN_LENGTH
    return end if is_known and size - end > _MUCH else None


class Beginning(io.RawIOBase):
    """A file up to some byte, for a decoder that would read on."""

    def __init__(self, path: Path, end: int) -> None:
        self._file = path.open("rb")
        self._end = end
        self.tell = self._file.tell  # type: ignore[method-assign]

    def readable(self) -> bool:
        """Say that it can be read."""
        return True

    def seekable(self) -> bool:
        """Say that one can go back in it."""
        return True

    def readinto(self, buffer: "WriteableBuffer") -> int:
        """Read up to the end."""
        view = memoryview(buffer)
        left = max(0, self._end - self.tell())
        return self._file.readinto(view[: min(len(view), left)])

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        """Go to a byte, counted from start, here or end."""
        if whence == io.SEEK_END:
            return self._file.seek(self._end + offset)
        return self._file.seek(offset, whence)

    def close(self) -> None:
        """Close the file."""
        self._file.close()
        super().close()


_NONE = (-1, -1, -1)


def _find_sound_chunk(path: Path) -> tuple[int, int, int] | None:
    """Start of the sound, bytes declared, size of the file; None for other kinds."""
    try:
        with path.open("rb") as opened:
            head = opened.read(12)
            if head[:4] == b"RIFF" and head[8:] == b"WAVE":
                wanted, is_little = b"data", True
            elif head[:4] == b"FORM" and head[8:] in {b"AIFF", b"AIFC"}:
                wanted, is_little = b"SSND", False
            else:
                return None
            size = os.fstat(opened.fileno()).st_size
            for _ in range(_MOST_CHUNKS):
                chunk = opened.read(8)
                if len(chunk) < 8:
                    break
                declared = int.from_bytes(chunk[4:], "little" if is_little else "big")
                if chunk[:4] == wanted:
                    return opened.tell(), declared, size
                opened.seek(declared + declared % 2, os.SEEK_CUR)
    except (OSError, OverflowError):
        return None
    return _NONE
