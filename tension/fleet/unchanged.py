"""What a line rests on: the key of its bytes, and when looking at times is enough."""

import hashlib
import json
import os
import platform
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

if TYPE_CHECKING:  # what reads and assesses is heavy, and not needed where all is kept
    from tension.files.visit import Visit
    from tension.workflow.assess import RuleChoice


Signature = tuple[int, int, int, int, int] | None
"""Device, number, size, when the content and when anything changed; None: missing."""

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


@cache
def program_digest() -> str:
    """Tell the program apart from every other: its text and what it is run by.

    Returns
    -------
    str
        Checksum of all files of the program and of the versions that a result rests
        on.
    """
    folder = Path(__file__).parents[1]
    files = sorted(p for p in folder.rglob("*") if p.suffix in _PROGRAM)
    digest = hashlib.sha256()
    for file in files:
        digest.update(file.relative_to(folder).as_posix().encode() + b"\0")
        digest.update(hashlib.sha256(file.read_bytes()).digest())
    runs_on = [platform.machine(), platform.python_version(), *map(_version, _PACKAGES)]
    digest.update(json.dumps(runs_on).encode())
    return digest.hexdigest()


def _version(package: str) -> str:
    """Version of a package."""
    try:
        return version(package)
    except PackageNotFoundError:
        return ""


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
    """Give the key under which it is kept what a record rested on when last read.

    Returns
    -------
    str
        SHA-256 over the program, the choice and the path.
    """
    path = os.fsencode(record).hex()
    return _digest({"program": program_digest(), "choice": repr(choice), "path": path})


@dataclass(frozen=True, kw_only=True, slots=True)
class Rested:
    """What a record rested on, by the marks of the system.

    Attributes
    ----------
    signatures : mapping of str to tuple or None
        Of every file and folder, by its path from the folder of the record.
    """

    signatures: Mapping[str, Signature]

    @classmethod
    def seen(cls, record: Path, visit: "Visit") -> "Rested":
        """Look at the marks of a record and of all it rests on."""
        names = names_of(visit)
        return cls.looked_at(record.parent, (record.name, *names, *_folders(names)))

    @classmethod
    def looked_at(cls, folder: Path, names: Iterable[str]) -> "Rested":
        """Look at the marks of some files and folders."""
        return cls(signatures={name: _signature(folder / name) for name in names})

    def is_settled(self, since: int) -> bool:
        """Tell whether the same marks later mean the same bytes as read now.

        They do on a disk of this machine whose kernel marks every change with its own
        clock, a time that no program can set, if everything had rested for two
        minutes when its bytes were first read: whatever is changed after that gets a
        later mark.

        Parameters
        ----------
        since : int
            When the reading of the bytes began, as `time.time_ns`. [ns]
        """
        devices = _devices()
        return all(
            mark is None or (mark[0] in devices and mark[4] <= since - _SETTLED)
            for mark in self.signatures.values()
        )


def now() -> int:
    """Tell the time as the marks of files do.

    Returns
    -------
    int
        Since 1970. [ns]
    """
    return time.time_ns()


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


def _signature(path: Path) -> Signature:
    """The marks of a file or folder."""
    try:
        state = path.stat()
    except OSError:
        return None
    return (
        state.st_dev,
        state.st_ino,
        state.st_size,
        state.st_mtime_ns,
        state.st_ctime_ns,
    )


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
