"""A tree of folders on a disk that every worker sees under the same path."""

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from tension.errors import lines_of
from tension.files.evidence import RECORDING_SUFFIXES, natural_key
from tension.fleet.tree import Place, without_record
from tension.workflow.inputs import RECORD_NAME


@dataclass(frozen=True, kw_only=True, slots=True)
class FolderTree:
    """A tree of folders on a disk that every worker sees under the same path.

    Attributes
    ----------
    top : Path
        The folder at the top, absolute.
    """

    top: Path

    @property
    def name(self) -> str:
        """What a person calls it."""
        return str(self.top)

    @property
    def folder(self) -> Path | None:
        """The folder in which it lies."""
        return self.top

    def places(self) -> Iterator[Place]:
        """Find every record, in natural order of the paths.

        Links to folders are followed, but never back into a folder that holds them;
        hidden folders are left out.

        Yields
        ------
        Place
            A record, a folder that cannot be read, or one that holds recordings
            without a record in it or above it.
        """
        start = _Folder(path=self.top, above=frozenset(), is_covered=False)
        pending = [start]
        while pending:
            folder = pending.pop()
            where = folder.path.relative_to(self.top).as_posix()
            try:
                inside = folder.read()
            except OSError as error:
                yield Place(record=where, reasons=self.named(where, lines_of(error)))
                continue
            if inside.has_record:
                yield Place(record=(PurePosixPath(where) / RECORD_NAME).as_posix())
            elif inside.n_recordings and not folder.is_covered:
                yield Place(record=where, reasons=(without_record(where),))
            pending += reversed(inside.folders)

    @contextmanager
    def at_hand(self, record: str) -> Iterator[Path]:
        """Have a record and its files in a folder of this machine."""
        yield self.top / record

    def named(self, record: str, lines: Sequence[str]) -> tuple[str, ...]:
        """Name a record in what is said of it by its place in the tree."""
        del record
        return tuple(line.replace(f"{self.top}/", "") for line in lines)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Folder:
    """A folder to be searched: the folders it lies in, and whether one has a record."""

    path: Path
    above: frozenset[tuple[int, int]]
    is_covered: bool

    def read(self) -> "_Inside":
        """What it holds."""
        state = self.path.stat()
        here = (state.st_dev, state.st_ino)
        if here in self.above:
            return _Inside()
        with os.scandir(self.path) as entries:
            found = [
                (Path(entry.name), _is_folder(entry))
                for entry in entries
                if not entry.name.startswith(".")
            ]
        has_record = any(name.name == RECORD_NAME for name, _ in found)
        names = sorted((n for n, is_folder in found if is_folder), key=natural_key)
        return _Inside(
            has_record=has_record,
            n_recordings=sum(
                name.suffix.lower() in RECORDING_SUFFIXES
                for name, is_folder in found
                if not is_folder
            ),
            folders=tuple(
                _Folder(
                    path=self.path / name,
                    above=self.above | {here},
                    is_covered=self.is_covered or has_record,
                )
                for name in names
                if name.name != RECORD_NAME
            ),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Inside:
    """What a folder holds."""

    has_record: bool = False
    n_recordings: int = 0
    folders: tuple[_Folder, ...] = ()


def _is_folder(entry: "os.DirEntry[str]") -> bool:
    """Whether an entry is a folder, or a link to one."""
    try:
        return entry.is_dir()
    except OSError:
        return False
