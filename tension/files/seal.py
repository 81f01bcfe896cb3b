"""The seal: size and checksum of a record and of all it names.

A seal proves sameness, not authorship: whoever can write the files can seal them anew.
Its checksum, written down elsewhere (in the report, in a letter), ties it to a day.
"""

import hashlib
import re
import tomllib
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, ConfigDict
from pydantic.dataclasses import dataclass

from tension.catalogue.rules import Rule
from tension.errors import ExistingFileError, FileFormatError
from tension.files.atomic import write_atomically
from tension.files.evidence import FileEvidence, hash_file, seal_path
from tension.files.toml_reading import LARGEST_RECORD
from tension.files.toml_text import toml_value
from tension.files.visit import Visit, named_files
from tension.wording import limit_text

LARGEST = 20_000_000
"""A seal or its corrections are no larger. [byte]"""
EXACTLY = ConfigDict(extra="forbid")
"""A table has the keys that the program writes and no other."""
NOT_AS_WRITTEN = (
    AttributeError,
    KeyError,
    TypeError,
    ValueError,
    RecursionError,
)
"""What is raised by a text that is no TOML, or not as the program writes it."""
OWN_LINE = re.compile(r'^sha256_of_all_above = "([0-9a-f]{64})"\n', re.MULTILINE)
"""The checksum of all lines above it."""


def _evidence(value: object) -> FileEvidence:
    """One file as it was, as the program writes it."""
    match value:
        case FileEvidence():
            return value
        case {"path": str(path), "bytes": int(n_bytes), "sha256": str(sha256), **more}:
            is_right = not more and type(n_bytes) is int and n_bytes >= 0
            if is_right and re.fullmatch("[0-9a-f]{64}", sha256):
                return FileEvidence(path=path, n_bytes=n_bytes, sha256=sha256)
    raise ValueError


Files = tuple[Annotated[FileEvidence, BeforeValidator(_evidence)], ...]


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


CLAIM = (
    "A seal proves sameness, not authorship: whoever can write these files can seal "
    "them anew. Write its checksum down elsewhere."
)

_HEAD = """\
# Seal of a record and of all it names. Do not edit; 'tension verify' checks it.
# It proves sameness, not authorship: whoever can write these files can seal them anew.
# Corrections go to a file of their own beside it, by 'tension seal --correct'.
"""


@dataclass(frozen=True, kw_only=True, slots=True, config=EXACTLY)
class Seal:
    """What a seal says."""

    sealed: str  # local time with zone offset
    software: str  # program and version that sealed
    rule: str  # the rule of the record when it was sealed, in words
    record: str  # name of the record
    # its text, so that a later change can be shown; empty if it was no UTF-8
    record_text: str
    files: Files  # the record and every file it names, as they were
    missing: tuple[str, ...] = ()  # files that it names and that were not there
    sha256: str = ""  # checksum of the seal itself


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
    keys = {
        "sealed": seal.sealed,
        "software": seal.software,
        "rule": seal.rule,
        "record": seal.record,
        "record_text": seal.record_text,
        "missing": seal.missing,
    }
    lines = [_HEAD, "format = 1", *(f"{k} = {toml_value(v)}" for k, v in keys.items())]
    for file in seal.files:
        lines += ["", "[[file]]"]
        lines += [f"{key} = {toml_value(value)}" for key, value in file_keys(file)]
    return with_own_line("\n".join([*lines, "", "[seal]"]) + "\n")


def file_keys(file: FileEvidence) -> Iterable[tuple[str, str | int]]:
    """Give the keys of a file as they are written."""
    return ("path", file.path), ("bytes", file.n_bytes), ("sha256", file.sha256)


def with_own_line(above: str) -> str:
    """End a text with the line of its own checksum."""
    return f'{above}sha256_of_all_above = "{text_sha256(above)}"\n'


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
    found = list(OWN_LINE.finditer(text))[-1:]
    if not any(
        own.end() == len(text) and own[1] == text_sha256(text[: own.start()])
        for own in found
    ):
        raise FileFormatError(f"{path.name}: the seal itself was changed; {nothing}")
    try:
        keys = tomllib.loads(text)
        ends = [keys.pop("format"), list(keys.pop("seal"))]
        keys |= {"files": keys.pop("file"), "sha256": text_sha256(text)}
        seal = Seal(**keys)
    except NOT_AS_WRITTEN:
        seal, ends = None, []
    if seal is None or ends != [1, ["sha256_of_all_above"]]:
        raise FileFormatError(f"{path.name}: no seal of this program; {nothing}")
    return seal


def text_sha256(text: str) -> str:
    """Take the SHA-256 of a text as UTF-8 (FIPS 180-4), 64 hexadecimal digits."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()
