"""Files as they lie on the disk: in natural order, with size, checksum and seal."""

import errno
import hashlib
import os
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from tension.errors import FileFormatError, reason_of

_KINDS = (
    "wav wave aif aiff aifc flac mp3 ogg oga opus m4a m4b aac 3gp 3gpp 3g2 amr caf "
    "webm mka mp4 m4v mov wma"
)
RECORDING_SUFFIXES = frozenset(f".{kind}" for kind in _KINDS.split())
"""Extensions by which a folder is searched; a file named by itself needs none."""

_DIGITS = re.compile(r"([0-9]+)")

NaturalKey = tuple[tuple[tuple[int, int, str], ...], str]


def natural_key(path: Path) -> NaturalKey:
    """Return a key that sorts by name as a person would: "memo 2" before "memo 12".

    Numbers by size, letters without regard to case, the extension last.

    Examples
    --------
    >>> names = ["Memo 12.m4a", "memo 2.m4a", "memo.m4a"]
    >>> sorted(names, key=lambda name: natural_key(Path(name)))
    ['memo.m4a', 'memo 2.m4a', 'Memo 12.m4a']
    """
    stem = unicodedata.normalize("NFC", path.stem).casefold()
    parts = [part for part in _DIGITS.split(stem) if part]
    key = tuple(
        (0, int(part), "") if _DIGITS.fullmatch(part) else (1, 0, part)
        for part in parts
    )
    return key, path.name


def find_recordings(folder: Path) -> tuple[Path, ...]:
    """Return the sound files of a folder in natural order.

    Folders inside it are not searched; hidden files are left out, and with them the
    ``._`` companions that some systems write beside each file on a memory stick. A
    folder without sound may hold CSV logs of an acceleration sensor instead.

    Raises
    ------
    FileFormatError
        If the folder is missing, is no folder or may not be read.
    """
    try:
        entries = list(folder.iterdir())
    except OSError as error:
        advice = f"this folder cannot be read ({reason_of(error)}); check that you may"
        if isinstance(error, FileNotFoundError):
            advice = "there is no such folder; check the name"
        elif isinstance(error, NotADirectoryError):
            advice = "this is a file, not a folder; name the folder it is in"
        raise FileFormatError(f"{folder}: {advice}") from error
    for suffixes in (RECORDING_SUFFIXES, {".csv"}):
        found = [
            entry
            for entry in entries
            if entry.suffix.lower() in suffixes
            and not entry.name.startswith(".")
            and entry.is_file()
        ]
        if found:
            return tuple(sorted(found, key=natural_key))
    return ()


@dataclass(frozen=True, kw_only=True, slots=True)
class FileEvidence:
    """One file as it was when it was read."""

    path: str  # how record or command line names it, with forward slashes
    n_bytes: int  # size [byte]
    sha256: str  # SHA-256 of the bytes (FIPS 180-4), 64 hexadecimal digits


def hash_file(path: Path, name: str | None = None) -> FileEvidence:
    """Read a file once and return its size and checksum, under a name if it has one.

    Both come from the same bytes, so they belong together even if the file grows.

    Raises
    ------
    OSError
        If it is missing, cannot be read or is no ordinary file; whether that matters
        is for the caller to say.
    """
    if not path.is_file() and path.exists():
        # a device or a pipe may have no end
        raise OSError(errno.EINVAL, "no ordinary file", str(path))
    with path.open("rb") as opened:
        digest = hashlib.file_digest(opened, "sha256")
        n_bytes = opened.tell()
    return FileEvidence(
        path=path.as_posix() if name is None else name,
        n_bytes=n_bytes,
        sha256=digest.hexdigest(),
    )


def seal_path(record: Path) -> Path:
    """Tell where the seal of a record is."""
    return record.with_name(f"{record.stem}.seal.toml")


def has_seal(record: Path) -> bool:
    """Tell whether a record is sealed."""
    return os.path.lexists(seal_path(record))
