"""Lines kept from earlier runs; safe to delete, and safe with several runs at once."""

import contextlib
import hashlib
import json
import os
import secrets
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tension.errors import FileFormatError
from tension.fleet.rows import LiftRow, row_from_text, row_to_text
from tension.fleet.unchanged import Rested

_FORM = "1"


@dataclass(frozen=True, kw_only=True, slots=True)
class RowCache:
    """Lines in small files, each named by the key of what it rests on.

    A file is written beside and then named in one step, so that it is there whole or
    not at all; its first line is the checksum of the rest, so that one spoilt by a
    power cut counts as missing. Equal keys hold equal lines: who comes last does no
    harm.

    Attributes
    ----------
    folder : Path
        Where the files are.
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
        """Find the line of a key.

        Returns
        -------
        LiftRow or None
            None if it is not kept.
        """
        text = self._read(key)
        if text is None:
            return None
        try:
            return row_from_text(text)
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
        kept: dict[str, Any] = json.loads(text)
        marks = {
            name: None if mark is None else tuple(mark)
            for name, mark in kept["marks"].items()
        }
        if Rested.looked_at(folder, marks).signatures != marks:
            return None
        return self.find(kept["key"])

    def keep_quick(self, quick_key: str, key: str, rested: Rested) -> None:
        """Keep by which marks a record is known to be untouched."""
        marks = dict(rested.signatures)
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
    """Tell where lines are kept if nobody says otherwise.

    Returns
    -------
    Path
        The folder that the system has for what can be made again.
    """
    home = Path(os.path.expanduser("~"))  # noqa: PTH111 - Path.home raises without one
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache")
    return base / "tension" / "fleet"
