"""What a file holds that is not readable as sound, and whether a wave file is whole."""

import os
from pathlib import Path
from typing import NamedTuple

from tension.errors import reason_of
from tension.notes import NoteKind, Refusal

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
_UNKNOWN_LENGTH = 0xFFFFFFFF  # what a writer that was broken off leaves as length
_MOST_CHUNKS = 1000  # parts of a file that are looked through
_MUCH = 1_000_000  # what follows the sound is told from here on [byte]


def read_head(path: Path, name: str) -> bytes | Refusal:
    """Read the first bytes of an ordinary file with something in it, or refuse it."""
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
                if head := opened.read(4096):
                    return head
    except OSError as error:
        kind, reason = NoteKind.FILE_LOCKED, reason_of(error)
    except ValueError:  # a name that no file can have
        kind = NoteKind.FILE_MISSING
    return kind.refusal(recording=name, reason=reason)


def refuse_by_contents(head: bytes, name: str) -> Refusal:
    """Say what a file that does not open as sound seems to be."""
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


class SoundChunk(NamedTuple):
    """How the sound of a wave or AIFF file lies in it."""

    is_there: bool
    # part of what it says to hold is not: decoders take the rest and show no fault
    is_cut_off: bool = False
    end: int | None = None  # the byte where it ends, if much follows it


def find_sound_chunk(path: Path) -> SoundChunk | None:
    """Find the sound of a wave or AIFF file; None for files of other kinds."""
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
                    end = opened.tell() + declared
                    if not 0 < declared < _UNKNOWN_LENGTH:
                        end = size
                    return SoundChunk(
                        is_there=True,
                        is_cut_off=end - size > 1,
                        end=end if size - end > _MUCH else None,
                    )
                opened.seek(declared + declared % 2, os.SEEK_CUR)
    except (OSError, OverflowError):
        return None
    return SoundChunk(is_there=False)
