"""A tree of records behind an address that fsspec reads, such as an object store."""

import os
import re
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from tension.errors import FileFormatError
from tension.files.evidence import RECORDING_SUFFIXES, natural_key
from tension.files.record import read_visit
from tension.files.visit import Visit
from tension.fleet.tree import Place, without_record
from tension.fleet.unchanged import names_of
from tension.workflow.inputs import RECORD_NAME

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


@dataclass(frozen=True, kw_only=True, slots=True)
class UrlTree:
    """A tree behind an address.

    Attributes
    ----------
    url : str
        The address of its top, without a slash at the end.
    """

    url: str

    @classmethod
    def opened(cls, url: str) -> "UrlTree":
        """Check that an address can be read.

        Raises
        ------
        FileFormatError
            If there is no such folder, or fsspec is missing.
        """
        tree = cls(url=url.rstrip("/"))
        try:
            files, top = tree._opened()
            is_there = files.isdir(top)
        except ImportError as error:
            raise FileFormatError(_CANNOT.format(url=url, reason=error)) from error
        except (OSError, ValueError) as error:
            raise FileFormatError(_CANNOT.format(url=url, reason=error)) from error
        if not is_there:
            raise FileFormatError(f"{url}: there is no such folder; check the address")
        return tree

    @property
    def name(self) -> str:
        """What a person calls it."""
        return self.url

    @property
    def folder(self) -> Path | None:
        """None: records are copied one by one."""
        return None

    def places(self) -> Iterator[Place]:
        """Find every record, in natural order of the paths.

        Yields
        ------
        Place
            A record, or a folder that holds recordings without one.
        """
        files, top = self._opened()
        pending = [("", False)]
        while pending:
            where, is_covered = pending.pop()
            shown = where or "."
            try:
                entries = files.ls(f"{top}/{where}".rstrip("/"), detail=True)
            except OSError as error:
                lines = (_CANNOT.format(url=shown, reason=error),)
                yield Place(record=shown, reasons=lines)
                continue
            found = [
                (PurePosixPath(entry["name"]).name, entry["type"] == "directory")
                for entry in entries
            ]
            names = {name for name, _ in found}
            n_recordings = sum(_is_sound(name) for name, is_dir in found if not is_dir)
            if RECORD_NAME in names:
                yield Place(record=_below(where, RECORD_NAME))
            elif n_recordings and not is_covered:
                yield Place(record=shown, reasons=(without_record(shown),))
            covered = is_covered or RECORD_NAME in names
            below = sorted(
                (n for n, is_dir in found if is_dir and not n.startswith(".")),
                key=lambda name: natural_key(Path(name)),
            )
            pending += [(_below(where, name), covered) for name in reversed(below)]

    @contextmanager
    def at_hand(self, record: str) -> Iterator[Path]:
        """Copy a record and the files it names into a folder of this machine.

        Sound files that it does not name are there by name only: they are told, not
        heard.

        Yields
        ------
        Path
            The copy of the record; gone afterwards.
        """
        files, top = self._opened()
        origin = str(PurePosixPath(top) / PurePosixPath(record).parent)
        with tempfile.TemporaryDirectory(prefix=_PREFIX) as place:
            copy = Path(place) / RECORD_NAME
            files.get_file(f"{origin}/{RECORD_NAME}", str(copy))
            visit = read_visit(copy)
            for name in names_of(visit):
                _fetch(files, f"{origin}/{name}", Path(place) / name)
            _stand_in(files, origin, Path(place), visit)
            yield copy

    def named(self, record: str, lines: Sequence[str]) -> tuple[str, ...]:
        """Name a record in what is said of it by its place in the tree."""
        folder = record.rpartition("/")[0]
        within = f"{folder}/" if folder else ""
        return tuple(_OF_COPY.sub(within, line) for line in lines)

    def _opened(self) -> tuple[Any, str]:
        """The file system and the path in it."""
        try:
            from fsspec.core import url_to_fs
        except ImportError as error:
            raise FileFormatError(_NEEDS_FSSPEC.format(url=self.url)) from error
        files, top = url_to_fs(self.url)
        return files, top.rstrip("/")


def _fetch(files: Any, origin: str, target: Path) -> None:  # noqa: ANN401 - fsspec
    """Copy one file, unless it is missing, which its reading tells."""
    target.parent.mkdir(parents=True, exist_ok=True)
    if files.isfile(origin):
        files.get_file(origin, str(target))


def _stand_in(files: Any, origin: str, place: Path, visit: Visit) -> None:  # noqa: ANN401 - fsspec
    """Put empty files for the sound files that a record does not name."""
    folders = {PurePosixPath(name).parent.as_posix() for name in names_of(visit)}
    for folder in sorted({".", *folders}):
        there = origin if folder == "." else f"{origin}/{folder}"
        if not files.isdir(there):
            continue
        for entry in files.ls(there, detail=True):
            name = PurePosixPath(entry["name"]).name
            if entry["type"] == "file" and _is_sound(name):
                (place / folder).mkdir(parents=True, exist_ok=True)
                (place / folder / name).touch()


def _is_sound(name: str) -> bool:
    """Whether a name is one of a sound file."""
    suffix = PurePosixPath(name).suffix.lower()
    return suffix in RECORDING_SUFFIXES and not name.startswith(".")


def _below(where: str, name: str) -> str:
    """A path below a folder."""
    return f"{where}/{name}" if where else name
