"""A tree of records, on a disk or behind an address, and what is found in it."""

import os
import re
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from tension.errors import FileFormatError, TensionError, lines_of
from tension.files.evidence import RECORDING_SUFFIXES, natural_key
from tension.files.visit import RECORD_NAME
from tension.fleet.kept import folders_of, names_of
from tension.fleet.spool import Place

_PREFIX = "tension-copy-"
_OF_COPY = re.compile(
    re.escape(tempfile.gettempdir() + os.sep) + re.escape(_PREFIX) + r"\w+[/\\]"
)
_NEEDS_FSSPEC = (
    "{url}: addresses are read by fsspec, which is not installed; "
    "pip install 'tension[fleet]' (and what fsspec needs for this kind of address)"
)
_CANNOT = (
    "{url}: cannot be read ({reason}); check the address, what fsspec needs for it, "
    "and that you may read there"
)
_NO_RECORD = (
    f"{{where}}: this folder holds recordings but no {RECORD_NAME}, so nothing is "
    f"known of the ropes; make one with 'tension start'"
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Tree:
    """A tree on a disk that every worker sees under the same absolute path."""

    name: str  # That path, or an address without a slash at its end

    @property
    def folder(self) -> Path | None:
        """The folder in which it lies; None if records are copied one by one."""
        return Path(self.name)

    @contextmanager
    def at_hand(self, record: str) -> Iterator[Path]:
        """Have a record and its files in a folder of this machine."""
        yield Path(self.name) / record

    def named(self, record: str, lines: Sequence[str]) -> tuple[str, ...]:
        """Name a record in what is said of it by its place in the tree."""
        del record
        return tuple(line.replace(f"{self.name}/", "") for line in lines)

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
                yield Place(shown, (_NO_RECORD.format(where=shown),))
            folders = [Path(n) for n, is_dir in entries if is_dir and n != RECORD_NAME]
            pending += [
                (str(PurePosixPath(where, folder.name)), is_covered or has_record)
                for folder in sorted(folders, key=natural_key, reverse=True)
            ]


@dataclass(frozen=True, kw_only=True, slots=True)
class UrlTree(Tree):
    """A tree behind an address that fsspec reads."""

    @property
    def folder(self) -> None:
        """No folder of this machine."""
        return

    @contextmanager
    def at_hand(self, record: str) -> Iterator[Path]:
        """Copy a record and the files it names into a folder of this machine.

        Sound files that it does not name are there by name only: they are told, not
        heard. The copy is gone afterwards.
        """
        from tension.files.record import read_visit

        files, top = self.opened()
        origin = str(PurePosixPath(top) / PurePosixPath(record).parent)
        with tempfile.TemporaryDirectory(prefix=_PREFIX) as place:
            copy = Path(place) / RECORD_NAME
            files.get_file(f"{origin}/{RECORD_NAME}", str(copy))
            names = names_of(read_visit(copy))
            for name in names:
                target = Path(place) / name
                target.parent.mkdir(parents=True, exist_ok=True)
                if files.isfile(f"{origin}/{name}"):  # if missing, its reading tells
                    files.get_file(f"{origin}/{name}", str(target))
            for folder in folders_of(names):
                there = origin if folder == "." else f"{origin}/{folder}"
                _stand_in(files, there, Path(place) / folder)
            yield copy

    def named(self, record: str, lines: Sequence[str]) -> tuple[str, ...]:
        """Name a record in what is said of it by its place in the tree."""
        folder = record.rpartition("/")[0]
        within = f"{folder}/" if folder else ""
        return tuple(_OF_COPY.sub(within, line) for line in lines)

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
            raise FileFormatError(_NEEDS_FSSPEC.format(url=self.name)) from error
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
            raise FileFormatError(
                _CANNOT.format(url=tree.name, reason=error)
            ) from error
        if is_there:
            return tree
        raise FileFormatError(
            f"{tree.name}: there is no such folder; check the address"
        )
    folder = Path(text)
    if folder.is_dir():
        return Tree(name=str(folder.absolute()))
    if folder.exists():
        raise FileFormatError(
            f"{folder}: this is a file; name the folder that holds the records, or "
            f"use 'tension assess' for one record"
        )
    raise FileFormatError(f"{folder}: there is no such folder; check the name")


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


def _stand_in(files: Any, origin: str, place: Path) -> None:  # noqa: ANN401 - fsspec
    """Put empty files for the sound files that a record does not name."""
    if not files.isdir(origin):
        return
    for name, is_folder in _listed(files, origin):
        if _is_sound(name, is_folder) and not name.startswith("."):
            place.mkdir(parents=True, exist_ok=True)
            (place / name).touch()


def _is_sound(name: str, is_folder: bool) -> bool:  # noqa: FBT001 - as entries are listed
    """Whether an entry is a sound file by its name."""
    return not is_folder and Path(name).suffix.lower() in RECORDING_SUFFIXES
