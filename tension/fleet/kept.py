"""Lines kept from earlier runs, what a line rests on, and when it is looked up.

A line is kept under a key of all bytes it rests on. Where the marks of the files show
that nobody touched them since, the bytes are not read again.
"""

import contextlib
import hashlib
import json
import os
import platform
import secrets
import sys
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING

from tension.errors import FileFormatError
from tension.files.evidence import find_recordings, hash_file
from tension.fleet.rows import LiftRow, row_from_text, row_to_text

if TYPE_CHECKING:  # what reads and assesses is heavy, and not needed where all is kept
    from tension.files.visit import Visit
    from tension.workflow.assess import RuleChoice

_FORM = "1"
_PROGRAM = (".py", ".toml")
_PACKAGES = ("numpy", "av", "pydantic")
"""What a result rests on besides the program and Python."""

_SETTLED = 120_000_000_000
"""A file must have rested so long before its bytes are read. [ns]

Longer than the coarsest time stamp (2 s) and than the system keeps what programs wrote
through a map of memory before it marks the file (35 s as Linux is set up; from memory).
"""
_KEEPS_TIMES = frozenset({"ext2", "ext3", "ext4", "xfs", "f2fs"})
"""Disks of this machine on which the kernel marks every change with its own clock."""

Marks = dict[str, list[int] | None]
"""Of files and folders by their paths from the folder of a record: device, number,
size, when the content and when anything changed. [ns]; None: missing."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RowCache:
    """Lines in small files, each named by its key; safe to delete, and to share.

    A file is written beside and then named in one step, so that it is there whole or
    not at all; its first line is the checksum of the rest, so that one spoilt by a
    power cut counts as missing. Equal keys hold equal lines: who comes last does no
    harm.
    """

    folder: Path

    def require_usable(self) -> None:
        """Refuse a folder in which nothing can be kept.

        Raises
        ------
        FileFormatError
            If the system refuses to write there.
        """
        probe = self.folder / f".{secrets.token_hex(6)}.part"
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            probe.write_bytes(b"")
        except OSError as error:
            reason = (error.strerror or "the system refuses").lower()
            raise FileFormatError(
                f"{self.folder}: nothing can be kept here for the next run ({reason}); "
                "name another folder with --cache, or give --no-cache"
            ) from error
        finally:
            with contextlib.suppress(OSError):
                probe.unlink(missing_ok=True)

    def find(self, key: str) -> LiftRow | None:
        """Find the line of a key; None if it is not kept."""
        text = self._read(key)
        try:
            return None if text is None else row_from_text(text)
        except ValueError:
            return None

    def keep(self, key: str, row: LiftRow) -> None:
        """Keep a line."""
        self._write(key, row_to_text(row))

    def find_quick(self, quick_key: str, folder: Path) -> LiftRow | None:
        """Find the line of a record that nobody touched since it was last read.

        Returns
        -------
        LiftRow or None
            None if anything it rests on bears another mark, or nothing is kept.
        """
        text = self._read(quick_key)
        if text is None:
            return None
        kept = json.loads(text)
        if marks_of(folder, kept["marks"]) != kept["marks"]:
            return None
        return self.find(kept["key"])

    def keep_quick(self, quick_key: str, key: str, marks: Marks) -> None:
        """Keep by which marks a record is known to be untouched."""
        self._write(quick_key, json.dumps({"key": key, "marks": marks}))

    def _place(self, key: str) -> Path:
        """Where the text of a key is."""
        return self.folder / _FORM / key[:2] / key[2:]

    def _read(self, key: str) -> str | None:
        """The text of a key; None if it is missing or spoilt."""
        try:
            check, _, body = self._place(key).read_bytes().partition(b"\n")
        except OSError:
            return None
        if hashlib.sha256(body).hexdigest().encode() != check:
            return None
        return body.decode("utf-8")

    def _write(self, key: str, text: str) -> None:
        """Keep a text; what cannot be kept is computed again another time."""
        place = self._place(key)
        body = text.encode("utf-8")
        check = hashlib.sha256(body).hexdigest().encode()
        part = place.with_name(f".{secrets.token_hex(6)}.part")
        with contextlib.suppress(OSError):
            try:
                place.parent.mkdir(parents=True, exist_ok=True)
                part.write_bytes(check + b"\n" + body)
                part.replace(place)
            finally:
                part.unlink(missing_ok=True)


def usual_folder() -> Path:
    """Give the folder that the system has for what can be made again."""
    home = Path(os.path.expanduser("~"))  # noqa: PTH111 - Path.home raises without one
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache")
    return base / "tension" / "fleet"


@cache
def program_digest() -> str:
    """Give a checksum of the program's files and of the versions a result rests on."""
    folder = Path(__file__).parents[1]
    files = sorted(p for p in folder.rglob("*") if p.suffix in _PROGRAM)
    digest = hashlib.sha256()
    for file in files:
        digest.update(file.relative_to(folder).as_posix().encode() + b"\0")
        digest.update(hashlib.sha256(file.read_bytes()).digest())
    runs_on = [platform.machine(), platform.python_version(), *map(_version, _PACKAGES)]
    digest.update(json.dumps(runs_on).encode())
    return digest.hexdigest()


def names_of(visit: "Visit") -> tuple[str, ...]:
    """Name every file that the answer of a record may rest on, itself left out."""
    from tension.files.visit import named_files
    from tension.measurement.readings import PluckReading

    heard = (r.recording for r in visit.readings if isinstance(r, PluckReading))
    cut = (trim.recording for trim in visit.trims)
    return tuple(sorted({*named_files(visit), *heard, *cut}))


def key_of(record: Path, visit: "Visit", choice: "RuleChoice | None") -> str:
    """Give the key of a record's answer: the same key, the same line.

    Returns
    -------
    str
        SHA-256 over the program, the choice, the bytes of the record and of every
        file it names, and the names of the sound files beside them.

    Raises
    ------
    OSError
        If the record cannot be read.
    """
    folder = record.parent
    names = names_of(visit)
    parts = {
        "program": program_digest(),
        "choice": repr(choice),
        "record": hash_file(record).sha256,
        "files": {name: _sha256(folder / name) for name in names},
        "beside": {where: _beside(folder / where) for where in _folders(names)},
    }
    return _digest(parts)


def quick_key_of(record: Path, choice: "RuleChoice | None") -> str:
    """Give the key, over the path, of what a record rested on when last read."""
    path = os.fsencode(record).hex()
    return _digest({"program": program_digest(), "choice": repr(choice), "path": path})


def marks_of_record(record: Path, visit: "Visit") -> Marks:
    """Look at the marks of a record and of all it rests on."""
    names = names_of(visit)
    return marks_of(record.parent, (record.name, *names, *_folders(names)))


def marks_of(folder: Path, names: Iterable[str]) -> Marks:
    """Look at the marks of some files and folders."""
    return {name: _mark(folder / name) for name in names}


def is_settled(marks: Marks, since: int) -> bool:
    """Tell whether the same marks later mean the same bytes as read now.

    They do on a disk of this machine whose kernel marks every change with its own
    clock, a time that no program can set, if everything had rested for two minutes
    when its bytes were first read: whatever is changed after that gets a later mark.

    Parameters
    ----------
    marks : Marks
        As they are now.
    since : int
        When the reading of the bytes began, see `now`. [ns]
    """
    devices = _devices()
    return all(
        mark is None or (mark[0] in devices and mark[4] <= since - _SETTLED)
        for mark in marks.values()
    )


def now() -> int:
    """Tell the time as the marks of files do. [ns since 1970]."""
    return time.time_ns()


def _version(package: str) -> str:
    """Version of a package."""
    try:
        return version(package)
    except PackageNotFoundError:
        return ""


def _digest(parts: Mapping[str, object]) -> str:
    """One checksum of several texts."""
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


def _sha256(path: Path) -> str | None:
    """Checksum of a file; None if it cannot be read."""
    try:
        return hash_file(path).sha256
    except OSError:
        return None


def _folders(names: Iterable[str]) -> tuple[str, ...]:
    """The folders of a record, its own first."""
    return tuple(sorted({".", *(Path(name).parent.as_posix() for name in names)}))


def _beside(folder: Path) -> list[str]:
    """Names of the sound files of a folder."""
    try:
        return [path.name for path in find_recordings(folder)]
    except FileFormatError:
        return []


def _mark(path: Path) -> list[int] | None:
    """The marks of a file or folder."""
    try:
        s = path.stat()
    except OSError:
        return None
    return [s.st_dev, s.st_ino, s.st_size, s.st_mtime_ns, s.st_ctime_ns]


@cache
def _devices() -> frozenset[int]:
    """Disks of this machine whose marks can be relied on; none but on Linux."""
    if not sys.platform.startswith("linux"):
        return frozenset()
    try:
        lines = Path("/proc/self/mountinfo").read_text("utf-8").splitlines()
    except OSError:
        return frozenset()
    found = set()
    for line in lines:
        before, _, after = line.partition(" - ")
        if after.split(" ")[0] in _KEEPS_TIMES:
            major, _, minor = before.split(" ")[2].partition(":")
            found.add(os.makedev(int(major), int(minor)))
    return frozenset(found)
