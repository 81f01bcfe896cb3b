"""A tree of records, on a disk or behind an address: what is found in it.

And what the answer of a record rests on: its key is of all these bytes. Where the marks
of the files show that nobody touched them since, the bytes are not read again.
"""

import hashlib
import json
import os
import platform
import re
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, NamedTuple

from tension.errors import FileFormatError, TensionError, lines_of
from tension.files.evidence import (
    RECORDING_SUFFIXES,
    find_recordings,
    hash_file,
    natural_key,
)
from tension.files.visit import RECORD_NAME

if TYPE_CHECKING:
    from tension.files.visit import Visit
    from tension.workflow.assess import RuleChoice

_PROGRAM = (".py", ".toml", ".txt", ".json")
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

_PREFIX = "tension-copy-"
_OF_COPY = re.compile(
    re.escape(tempfile.gettempdir() + os.sep) + re.escape(_PREFIX) + r"\w+[/\\]"
)
_CANNOT = (
    "{url}: cannot be read ({reason}); check the address, what fsspec needs for it, "
    "and that you may read there"
)


class Place(NamedTuple):
    """A record found in a tree, or a folder with reasons why it cannot be used."""

    record: str  # Its path from the top, with forward slashes
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Tree:
    """A tree on a disk that every worker sees under the same absolute path."""

    name: str  # That path, or an address without a slash at its end

    @property
    def folder(self) -> Path | None:
        """The folder in which it lies; None if records are copied one by one."""
        return None if "://" in self.name else Path(self.name)

    @contextmanager
    def at_hand(self, record: str) -> Iterator[Path]:
        """Have a record and its files in a folder of this machine."""
        yield Path(self.name) / record

    def named(self, record: str, lines: Sequence[str]) -> tuple[str, ...]:
        """Name a record in what is said of it by its place in the tree."""
        within = record[: record.rfind("/") + 1]
        return tuple(
            _OF_COPY.sub(lambda _: within, line).replace(f"{self.name}/", "")
            for line in lines
        )

    def entries(self, where: str) -> list[tuple[str, bool]]:
        """List a folder below the top: names, each with whether it is a folder.

        Links are followed, but never back into a folder above.
        """
        path = Path(self.name) / where
        above = [Path(self.name) / p for p in PurePosixPath(where).parents]
        if any(path.samefile(one) for one in above):
            return []
        with os.scandir(path) as found:
            return [(entry.name, _is_folder(entry)) for entry in found]

    def places(self) -> Iterator[Place]:
        """Find every record outside of hidden folders, in natural order of the paths.

        And every folder that cannot be read, or that holds recordings without a record
        in it or above it.
        """
        pending = [("", False)]
        while pending:
            where, is_covered = pending.pop()
            shown = where or "."
            try:
                entries = self.entries(where)
            except (OSError, TensionError) as error:
                yield Place(shown, self.named(shown, lines_of(error)))
                continue
            entries = [entry for entry in entries if not entry[0].startswith(".")]
            has_record = any(name == RECORD_NAME for name, _ in entries)
            if has_record:
                yield Place(str(PurePosixPath(where, RECORD_NAME)))
            elif not is_covered and any(_is_sound(*entry) for entry in entries):
                reason = (
                    f"{shown}: this folder holds recordings but no {RECORD_NAME}, so "
                    "nothing is known of the ropes; make one with 'tension start'"
                )
                yield Place(shown, (reason,))
            folders = [Path(n) for n, is_dir in entries if is_dir and n != RECORD_NAME]
            pending += [
                (str(PurePosixPath(where, folder.name)), is_covered or has_record)
                for folder in sorted(folders, key=natural_key, reverse=True)
            ]


@dataclass(frozen=True, kw_only=True, slots=True)
class UrlTree(Tree):
    """A tree behind an address that fsspec reads."""

    @contextmanager
    def at_hand(self, record: str) -> Iterator[Path]:
        """Copy a record and the files it names into a folder of this machine.

        Sound files that it does not name are there by name only: they are told, not
        heard. The copy is gone afterwards.
        """
        from tension.files.record import read_visit

        files, top = self.opened()
        origin = PurePosixPath(top, record).parent
        with tempfile.TemporaryDirectory(prefix=_PREFIX) as place:
            copy = Path(place) / RECORD_NAME
            files.get_file(str(origin / RECORD_NAME), str(copy))
            for name in rests_on(read_visit(copy)):
                _fetch(files, str(origin / name), Path(place) / name)
            yield copy

    def entries(self, where: str) -> list[tuple[str, bool]]:
        """List a folder.

        Raises
        ------
        FileFormatError
            If it cannot be read.
        """
        files, top = self.opened()
        try:
            return _listed(files, f"{top}/{where}".rstrip("/"))
        except OSError as error:
            text = _CANNOT.format(url=where or ".", reason=error)
            raise FileFormatError(text) from error

    def opened(self) -> tuple[Any, str]:
        """Open the file system; give it and the path of the top in it.

        Raises
        ------
        FileFormatError
            If fsspec is not installed.
        """
        try:
            from fsspec.core import url_to_fs
        except ImportError as error:
            raise FileFormatError(
                f"{self.name}: addresses are read by fsspec, which is not installed; "
                "pip install 'tension[fleet]' (and what fsspec needs for this address)"
            ) from error
        files, top = url_to_fs(self.name)
        return files, top.rstrip("/")


def open_tree(text: str) -> Tree:
    """Find the tree that a person means: a folder, or ``s3://bucket/lifts``.

    Raises
    ------
    FileFormatError
        If there is no such folder, or what reads such addresses is not installed.
    """
    if "://" in text:
        tree = UrlTree(name=text.rstrip("/"))
        try:
            files, top = tree.opened()
            is_there = files.isdir(top)
        except (ImportError, OSError, ValueError) as error:
            reason = _CANNOT.format(url=tree.name, reason=error)
            raise FileFormatError(reason) from error
        if is_there:
            return tree
    elif Path(text).is_dir():
        return Tree(name=str(Path(text).absolute()))
    elif Path(text).exists():
        raise FileFormatError(
            f"{text}: this is a file; name the folder that holds the records, or use "
            "'tension assess' for one record"
        )
    raise FileFormatError(f"{text}: there is no such folder; check the name")


def _is_folder(entry: "os.DirEntry[str]") -> bool:
    """Whether an entry is a folder, or a link to one."""
    try:
        return entry.is_dir()
    except OSError:
        return False


def _listed(files: Any, path: str) -> list[tuple[str, bool]]:  # noqa: ANN401 - fsspec
    """Names in a folder behind an address, each with whether it is a folder."""
    return [
        (PurePosixPath(entry["name"]).name, entry["type"] == "directory")
        for entry in files.ls(path, detail=True)
    ]


def _fetch(files: Any, origin: str, target: Path) -> None:  # noqa: ANN401 - fsspec
    """Copy a file; of a folder the sound files, empty; the missing is told later."""
    if files.isfile(origin):
        target.parent.mkdir(parents=True, exist_ok=True)
        files.get_file(origin, str(target))
    elif files.isdir(origin):
        target.mkdir(parents=True, exist_ok=True)
        for name, is_folder in _listed(files, origin):
            if _is_sound(name, is_folder) and not name.startswith("."):
                (target / name).touch()


def _is_sound(name: str, is_folder: bool) -> bool:  # noqa: FBT001 - as entries are listed
    """Whether an entry is a sound file by its name."""
    return not is_folder and Path(name).suffix.lower() in RECORDING_SUFFIXES


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


def rests_on(visit: "Visit") -> tuple[str, ...]:
    """Name every file and folder that the answer of a record may rest on, but itself.

    Of folders the names of the sound files count; they come before their files.
    """
    from tension.files.visit import named_files
    from tension.workflow.inputs import recordings_of

    cut = (trim.recording for trim in visit.trims)
    names = {*named_files(visit), *recordings_of(visit), *cut}
    folders = {".", *(Path(name).parent.as_posix() for name in names)}
    return (*sorted(folders), *sorted(names))


def key_of(record: Path, visit: "Visit", choice: "RuleChoice | None") -> str:
    """Give the key of a record's answer: the same key, the same line.

    SHA-256 over the program, the choice, the bytes of the record and of every file it
    names, and the names of the sound files beside them.
    """
    names = (record.name, *rests_on(visit))
    return _digest(choice, {name: _content(record.parent / name) for name in names})


def quick_key_of(record: Path, choice: "RuleChoice | None") -> str:
    """Give the key, over the path, of what a record rested on when last read."""
    return _digest(choice, os.fsencode(record).hex())


def marks_of(folder: Path, names: Iterable[str]) -> Marks:
    """Look at the marks of some files and folders."""
    marks: Marks = {}
    for name in names:
        try:
            s = (folder / name).stat()
        except OSError:
            marks[name] = None
        else:
            marks[name] = [s.st_dev, s.st_ino, s.st_size, s.st_mtime_ns, s.st_ctime_ns]
    return marks


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


def _digest(choice: "RuleChoice | None", more: object) -> str:
    """One checksum of the program, the choice and more."""
    whole = json.dumps([program_digest(), repr(choice), more])
    return hashlib.sha256(whole.encode()).hexdigest()


def _content(path: Path) -> str | list[str] | None:
    """Checksum of a file, or names of the sound files of a folder; None if missing."""
    try:
        if path.is_dir():
            return [one.name for one in find_recordings(path)]
        return hash_file(path).sha256
    except (OSError, FileFormatError):
        return None


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
