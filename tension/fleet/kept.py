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
from dataclasses import asdict, dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tension.errors import FileFormatError
from tension.files.evidence import find_recordings, hash_file
from tension.fleet.spool import LiftRow, row_from_fields, row_of

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
        try:
            self._place_whole(self.folder / "probe", b"")
            (self.folder / "probe").unlink(missing_ok=True)
        except OSError as error:
            reason = (error.strerror or "the system refuses").lower()
            raise FileFormatError(
                f"{self.folder}: nothing can be kept here for the next run ({reason}); "
                "name another folder with --cache, or give --no-cache"
            ) from error

    def untouched(self, record: Path, choice: "RuleChoice | None") -> LiftRow | None:
        """Find the line of a record that nobody touched since its bytes were read."""
        last = self._read(quick_key_of(record, choice))
        if last is None or marks_of(record.parent, last["marks"]) != last["marks"]:
            return None
        return self._find(last["key"])

    def answer(
        self, record: Path, choice: "RuleChoice | None", *, are_marks_kept: bool
    ) -> LiftRow:
        """Find the line of a record under the bytes it rests on, or make and keep it.

        With it the marks by which the record is later known to be untouched, if asked.
        """
        from tension.files.record import read_visit
        from tension.workflow.assess import assess_record

        began = time.time_ns()  # as the marks of files tell it
        visit = read_visit(record)
        marks = marks_of_record(record, visit)
        key = key_of(record, visit, choice)
        row = self._find(key)
        if row is None:
            row = row_of(assess_record(record, choice=choice))
            if key_of(record, read_visit(record), choice) != key:
                return row  # changed meanwhile: right or wrong, it is not kept
            self.keep(key, asdict(row))
        if are_marks_kept and is_settled(marks, began):
            self.keep(quick_key_of(record, choice), {"key": key, "marks": marks})
        return row

    def keep(self, key: str, value: object) -> None:
        """Keep a value of JSON; what cannot be kept is computed again another time."""
        body = json.dumps(value, allow_nan=False).encode("utf-8")
        check = hashlib.sha256(body).hexdigest().encode()
        with contextlib.suppress(OSError):
            self._place_whole(self._place(key), check + b"\n" + body)

    def _find(self, key: str) -> LiftRow | None:
        """The line of a key; None if it is not kept."""
        fields = self._read(key)
        return None if fields is None else row_from_fields(fields)

    def _place(self, key: str) -> Path:
        """Where the text of a key is."""
        return self.folder / _FORM / key[:2] / key[2:]

    def _read(self, key: str) -> Any:  # noqa: ANN401 - as JSON has it
        """What is kept under a key; None if it is missing or spoilt."""
        try:
            check, _, body = self._place(key).read_bytes().partition(b"\n")
        except OSError:
            return None
        is_whole = hashlib.sha256(body).hexdigest().encode() == check
        return json.loads(body) if is_whole else None

    @staticmethod
    def _place_whole(place: Path, content: bytes) -> None:
        """Write beside, then name: without waiting for the disk, as checksums tell."""
        part = place.with_name(f".{secrets.token_hex(6)}.part")
        try:
            place.parent.mkdir(parents=True, exist_ok=True)
            part.write_bytes(content)
            part.replace(place)
        finally:
            with contextlib.suppress(OSError):
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
    runs_on = [platform.machine(), platform.python_version(), *map(version, _PACKAGES)]
    digest.update(json.dumps(runs_on).encode())
    return digest.hexdigest()


def names_of(visit: "Visit") -> tuple[str, ...]:
    """Name every file that the answer of a record may rest on, itself left out."""
    from tension.files.visit import named_files
    from tension.measurement.readings import PluckReading

    heard = (r.recording for r in visit.readings if isinstance(r, PluckReading))
    cut = (trim.recording for trim in visit.trims)
    return tuple(sorted({*named_files(visit), *heard, *cut}))


def folders_of(names: Iterable[str]) -> tuple[str, ...]:
    """Give the folders of the files that a record names, and its own."""
    return tuple(sorted({".", *(Path(name).parent.as_posix() for name in names)}))


def key_of(record: Path, visit: "Visit", choice: "RuleChoice | None") -> str:
    """Give the key of a record's answer: the same key, the same line.

    SHA-256 over the program, the choice, the bytes of the record and of every file it
    names, and the names of the sound files beside them.

    Raises
    ------
    OSError
        If the record cannot be read.
    """
    folder = record.parent
    names = names_of(visit)
    return _digest(
        choice,
        record=hash_file(record).sha256,
        files={name: _sha256(folder / name) for name in names},
        beside={where: _beside(folder / where) for where in folders_of(names)},
    )


def quick_key_of(record: Path, choice: "RuleChoice | None") -> str:
    """Give the key, over the path, of what a record rested on when last read."""
    return _digest(choice, path=os.fsencode(record).hex())


def marks_of_record(record: Path, visit: "Visit") -> Marks:
    """Look at the marks of a record and of all it rests on."""
    names = names_of(visit)
    return marks_of(record.parent, (record.name, *names, *folders_of(names)))


def marks_of(folder: Path, names: Iterable[str]) -> Marks:
    """Look at the marks of some files and folders."""
    return {name: _mark(folder / name) for name in names}


def is_settled(marks: Marks, since: int) -> bool:
    """Tell whether the same marks later mean the same bytes as read now.

    They do on a disk of this machine whose kernel marks every change with its own
    clock, a time that no program can set, if everything had rested for two minutes
    when its bytes were first read, at `since`. [ns] Whatever is changed after that gets
    a later mark.
    """
    devices = _devices()
    return all(
        mark is None or (mark[0] in devices and mark[4] <= since - _SETTLED)
        for mark in marks.values()
    )


def _digest(choice: "RuleChoice | None", **parts: str | Mapping[str, object]) -> str:
    """One checksum of the program, the choice and more."""
    whole = {"program": program_digest(), "choice": repr(choice), **parts}
    return hashlib.sha256(json.dumps(whole, sort_keys=True).encode()).hexdigest()


def _sha256(path: Path) -> str | None:
    """Checksum of a file; None if it cannot be read."""
    try:
        return hash_file(path).sha256
    except OSError:
        return None


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
