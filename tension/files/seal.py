"""The seal: size and checksum of a record and of all it names.

A seal proves sameness, not authorship: whoever can write the files can seal them anew.
Its checksum, written down elsewhere (in the report, in a letter), ties it to a day.
"""

import hashlib
import os
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, TypeVar

from pydantic import BaseModel, ConfigDict, Field, Strict

from tension.catalogue.rules import Rule
from tension.errors import ExistingFileError, FileFormatError
from tension.files.atomic import write_atomically
from tension.files.evidence import FileEvidence, hash_file
from tension.files.toml_reading import LARGEST_RECORD
from tension.files.toml_text import text_value, toml_value
from tension.files.visit import Visit, named_files
from tension.wording import limit_text

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
    """Parse a text; None if it is not as the program writes that kind."""
    try:
        return kind.model_validate(tomllib.loads(text))
    except (ValueError, RecursionError):  # mistakes of TOML and of pydantic are values
        return None


CLAIM = (
    "A seal proves sameness, not authorship: whoever can write these files can seal "
    "them anew. Write its checksum down elsewhere."
)

_HEAD = """\
# Seal of a record and of all it names. Do not edit; 'tension verify' checks it.
# It proves sameness, not authorship: whoever can write these files can seal them anew.
# Corrections go to a file of their own beside it, by 'tension seal --correct'.
"""
_OWN_LINE = re.compile(r'sha256_of_all_above = "([0-9a-f]{64})"\n\Z')


@dataclass(frozen=True, kw_only=True, slots=True)
class Seal:
    """What a seal says.

    Attributes
    ----------
    sealed : str
        Local time with zone offset.
    software : str
        Program and version that sealed.
    rule : str
        The rule of the record when it was sealed, in words.
    record : str
        Name of the record.
    record_text : str
        Its text, so that a later change can be shown; empty if it was no UTF-8.
    files : tuple of FileEvidence
        The record and every file it names, as they were.
    missing : tuple of str
        Files that the record names and that were not there.
    sha256 : str
        Checksum of the seal itself.
    """

    sealed: str
    software: str
    rule: str
    record: str
    record_text: str
    files: tuple[FileEvidence, ...]
    missing: tuple[str, ...] = ()
    sha256: str = ""


def seal_path(record: Path) -> Path:
    """Tell where the seal of a record is."""
    return record.with_name(f"{record.stem}.seal.toml")


def has_seal(record: Path) -> bool:
    """Tell whether a record is sealed."""
    return os.path.lexists(seal_path(record))


def rule_words(rule: Rule) -> str:
    """Write a rule in one line that changes whenever the rule does.

    The form stays as it is: lines of older seals are compared with it.
    """
    limit = limit_text(rule.limit)
    was = (
        ""
        if rule.changed_from is None
        else f", changed from {limit_text(rule.changed_from)}"
    )
    where = ", ".join(part for part in (rule.source, rule.edition) if part)
    return f"{rule.name}: {rule.metric.value}, {limit}{was} ({where})"


def hash_record(
    visit: Visit, record: Path
) -> tuple[tuple[FileEvidence, ...], tuple[str, ...]]:
    """Take size and checksum of a record and of all it names; tell what is missing."""
    files, missing = [hash_file(record, record.name)], []
    for name in named_files(visit):
        path = record.parent / name
        if path.is_file():
            files.append(hash_file(path, name))
        else:
            missing.append(name)
    return tuple(files), tuple(missing)


def make_seal(visit: Visit, record: Path, *, sealed: str, software: str) -> Seal:
    """Take sizes and checksums of a record and of all it names."""
    files, missing = hash_record(visit, record)
    seal = Seal(
        sealed=sealed,
        software=software,
        rule=rule_words(visit.rule),
        record=record.name,
        record_text=record_text(record),
        files=files,
        missing=missing,
    )
    return replace(seal, sha256=text_sha256(render_seal(seal)))


def record_text(record: Path) -> str:
    """Read a record to show later what changed; empty if no UTF-8, or too large."""
    with record.open("rb") as opened:
        content = opened.read(LARGEST_RECORD + 1)
    if len(content) > LARGEST_RECORD:
        return ""
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return ""


def render_seal(seal: Seal) -> str:
    """Write a seal as TOML, its own checksum in the last line."""
    lines = [
        _HEAD,
        "format = 1",
        f"sealed = {text_value(seal.sealed)}",
        f"software = {text_value(seal.software)}",
        f"rule = {text_value(seal.rule)}",
        f"record = {text_value(seal.record)}",
        f"record_text = {text_value(seal.record_text)}",
        f"missing = {toml_value(seal.missing)}",
        *file_lines("file", seal.files),
        "",
        "[seal]",
    ]
    above = "\n".join(lines) + "\n"
    return f'{above}sha256_of_all_above = "{text_sha256(above)}"\n'


def file_lines(key: str, files: Iterable[FileEvidence]) -> list[str]:
    """Write files as tables of an array."""
    lines = []
    for file in files:
        lines += [
            "",
            f"[[{key}]]",
            f"path = {text_value(file.path)}",
            f"bytes = {file.n_bytes}",
            f'sha256 = "{file.sha256}"',
        ]
    return lines


def write_seal(seal: Seal, record: Path) -> Path:
    """Write a seal beside its record; never over another one.

    Raises
    ------
    ExistingFileError
        If the record is sealed already.
    """
    path = seal_path(record)
    try:
        write_atomically(path, render_seal(seal), overwrite=False, like=record)
    except ExistingFileError as error:
        if not path.is_file():
            raise
        raise ExistingFileError(
            f"{path}: this record is sealed already; put right what changed with "
            f"'tension seal {record} --correct'"
        ) from error
    return path


def read_seal(path: Path) -> Seal:
    """Read a seal and check it against its own checksum.

    Raises
    ------
    FileFormatError
        If it was changed, or is no seal.
    """
    nothing = "its contents prove nothing now"
    try:
        text = read_sealed_text(path)
    except FileFormatError as error:
        raise FileFormatError(f"{error}; the seal itself was changed") from error
    own = _OWN_LINE.search(text)
    if own is None or own.group(1) != text_sha256(text[: own.start()]):
        raise FileFormatError(f"{path.name}: the seal itself was changed; {nothing}")
    table = parsed_as(SealTable, text)
    if table is None:
        raise FileFormatError(f"{path.name}: no seal of this program; {nothing}")
    return Seal(
        sealed=table.sealed,
        software=table.software,
        rule=table.rule,
        record=table.record,
        record_text=table.record_text,
        files=tuple(FileEvidence(**dict(file)) for file in table.file),
        missing=table.missing,
        sha256=text_sha256(text),
    )


def text_sha256(text: str) -> str:
    """Take the SHA-256 of a text as UTF-8 (FIPS 180-4), 64 hexadecimal digits."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()
