"""Reading what only the program writes: a seal and corrections, odd ones included."""

import tomllib
from pathlib import Path
from typing import Annotated, TypeVar

from pydantic import BaseModel, ConfigDict, Field, Strict

from tension.errors import FileFormatError
from tension.files.evidence import FileEvidence

Kind = TypeVar("Kind", bound="Table")

LARGEST = 20_000_000
"""A seal or its corrections are no larger. [byte]"""

Text = Annotated[str, Strict()]
Sha256 = Annotated[str, Strict(), Field(pattern="^[0-9a-f]{64}$")]


class Table(BaseModel):
    """A table with exactly the keys that the program writes."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class FileTable(Table):
    """One file as it was."""

    path: Text
    n_bytes: Annotated[int, Strict(), Field(alias="bytes", ge=0)]
    sha256: Sha256

    @property
    def built(self) -> FileEvidence:
        """The file."""
        return FileEvidence(**dict(self))


class SealTable(Table):
    """A whole seal."""

    format: Annotated[int, Field(strict=True, ge=1, le=1)]
    sealed: Text
    software: Text
    rule: Text
    record: Text
    record_text: Text
    missing: tuple[Text, ...]
    file: tuple[FileTable, ...] = Field(min_length=1)
    seal: dict[Text, Sha256]


class CorrectionTable(Table):
    """One correction."""

    date: Text
    by: Text
    reason: Text
    text: Text
    rule: Text
    files: tuple[FileTable, ...]
    removed: tuple[Text, ...]
    missing: tuple[Text, ...] = ()
    lines: tuple[Text, ...]
    previous: Sha256
    sha256: Sha256 = Field(alias="sha256_of_all_above")


class CorrectionsTable(Table):
    """All corrections of a record."""

    correction: tuple[CorrectionTable, ...] = Field(min_length=1)


def read_sealed_text(path: Path) -> str:
    """Read the text of a file that only the program writes.

    Raises
    ------
    FileFormatError
        If it is no file, too large, or no UTF-8; the message begins with its name.
    """
    try:
        if not path.is_file():  # a pipe or a device may have no end
            raise FileFormatError(f"{path.name}: is no file")
        with path.open("rb") as opened:
            content = opened.read(LARGEST + 1)
    except OSError as error:
        reason = (error.strerror or "it cannot be opened").lower()
        raise FileFormatError(f"{path.name}: cannot be read ({reason})") from error
    if len(content) > LARGEST:
        raise FileFormatError(f"{path.name}: is larger than {LARGEST // 10**6} MB")
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        raise FileFormatError(f"{path.name}: is no text") from error


def parsed_as(kind: type[Kind], text: str) -> Kind | None:
    """Parse a text that only the program writes.

    Parameters
    ----------
    kind : type
        What it must be.
    text : str
        The text.

    Returns
    -------
    Table or None
        Of that kind; None if it is not as the program writes it.
    """
    try:
        return kind.model_validate(tomllib.loads(text))
    except (ValueError, RecursionError):  # mistakes of TOML and of pydantic are values
        return None
