"""The seal of a record and of all it names, what was corrected, what changed since.

A seal proves sameness, not authorship: whoever can write the files can seal them anew.
Its checksum, written down elsewhere (in the report, in a letter), ties it to a day.
Corrections are added at the end, each tied to the one before.
"""

import difflib
import hashlib
import os
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator, ConfigDict
from pydantic.dataclasses import dataclass as model

from tension import __version__
from tension.catalogue.rules import Rule
from tension.errors import ExistingFileError, FileFormatError
from tension.files.atomic import write_atomically
from tension.files.evidence import FileEvidence, has_seal, hash_file, seal_path
from tension.files.toml_reading import LARGEST_RECORD
from tension.files.toml_text import Value, toml_value
from tension.files.visit import Visit, named_files
from tension.wording import limit_text

LARGEST = 20_000_000  # a seal or its corrections are no larger [byte]
_EXACTLY = ConfigDict(extra="forbid")
_NOT_AS_WRITTEN = (AttributeError, KeyError, TypeError, ValueError, RecursionError)
"""What is raised by a text that is no TOML, or not as the program writes it."""
_OWN_LINE = re.compile(r'^sha256_of_all_above = "([0-9a-f]{64})"\n', re.MULTILINE)
"""The checksum of all lines above it."""
_SEAL_HEAD = """\
# Seal of a record and of all it names. Do not edit; 'tension verify' checks it.
# It proves sameness, not authorship: whoever can write these files can seal them anew.
# Corrections go to a file of their own beside it, by 'tension seal --correct'.

format = 1
"""
_CORRECTIONS_HEAD = """\
# Corrections of a sealed record, added at the end, in order. Do not edit what stands
# here: each one carries the checksum of the one before. 'tension verify' checks it.
"""


def _by_fields(file: Any) -> Any:  # noqa: ANN401 - whatever stands in a seal
    """One file by the names of its fields, as it was made or as it is written."""
    if isinstance(file, FileEvidence):
        return file
    return {"n_bytes" if key == "bytes" else key: file[key] for key in file}


_Files = tuple[Annotated[FileEvidence, BeforeValidator(_by_fields)], ...]


@model(frozen=True, kw_only=True, slots=True, config=_EXACTLY)
class Seal:
    """What a seal says."""

    sealed: str  # local time with zone offset
    software: str  # program and version that sealed
    rule: str  # the rule of the record when it was sealed, in words
    record: str  # name of the record
    # its text, so that a later change can be shown; empty if it was no UTF-8
    record_text: str
    files: _Files  # the record and every file it names, as they were
    missing: tuple[str, ...] = ()  # files that it names and that were not there
    sha256: str = ""  # checksum of the seal itself


@model(frozen=True, kw_only=True, slots=True, config=_EXACTLY)
class Correction:
    """One correction."""

    by: str  # who; never empty
    reason: str  # why; never empty
    date: str = ""  # local time with zone offset; empty until it is written
    text: str = ""  # what is put right, in words; may be empty where files say it
    files: _Files = ()  # as they are from now on, where they changed
    # files that no longer belong to the record, such as originals that were trimmed
    removed: tuple[str, ...] = ()
    # files that the record names since the one before and that were not there
    missing: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()  # taken out of the record ("-") and put in ("+")
    rule: str = ""  # from now on, in words; empty if the record did not change
    previous: str = ""  # checksum of the correction before; of the seal for the first
    sha256: str = ""  # checksum up to this correction


class ChangeKind(StrEnum):
    """What is no longer as it was sealed."""

    SEAL = "seal changed"
    CORRECTIONS = "corrections changed"
    CHANGED = "changed"
    MISSING = "missing"
    NOT_SEALED = "not sealed"


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """One thing that is no longer as it was sealed."""

    kind: ChangeKind
    path: str  # which file
    text: str  # what was found, one sentence
    lines: tuple[str, ...] = ()  # of the record, taken out ("- ") and put in ("+ ")
    file_now: FileEvidence | None = None  # the file as it is, if it can be read


@dataclass(frozen=True, kw_only=True, slots=True)
class Verification:
    """A seal with the corrections that fit, and all that does not fit."""

    changes: tuple[Change, ...] = ()
    seal: Seal | None = None  # None if it was changed
    corrections: tuple[Correction, ...] = ()  # those that fit, in order

    @property
    def is_same(self) -> bool:
        """Whether everything is as sealed and corrected."""
        return not self.changes

    @property
    def sha256(self) -> str:
        """Checksum of the last correction, or of the seal, to be written down."""
        if self.corrections:
            return self.corrections[-1].sha256
        return self.seal.sha256 if self.seal else ""

    @property
    def rules(self) -> tuple[tuple[str, str], ...]:
        """When and which rule: at sealing, and by every correction that changed it."""
        rules = [(self.seal.sealed, self.seal.rule)] if self.seal else []
        for correction in self.corrections:
            if correction.rule and correction.rule != rules[-1][1]:
                rules.append((correction.date, correction.rule))
        return tuple(rules)

    @property
    def files(self) -> dict[str, FileEvidence]:
        """How every file must be after the corrections, by its name."""
        expected = {file.path: file for file in self.seal.files} if self.seal else {}
        for correction in self.corrections:
            expected |= {file.path: file for file in correction.files}
            for name in correction.removed:
                expected.pop(name, None)
        return expected

    @property
    def missing(self) -> tuple[str, ...]:
        """Files that are said not to have been there, and that did not come later."""
        files = self.files
        every = (self.seal, *self.corrections)
        told = dict.fromkeys(name for one in every if one for name in one.missing)
        return tuple(name for name in told if name not in files)

    @property
    def record_text(self) -> str:
        """The record as last sealed or corrected; empty if it cannot be rebuilt."""
        text = self.seal.record_text if self.seal else ""
        for correction in self.corrections:
            if correction.lines:
                text = "".join(difflib.restore(correction.lines, 2))
        return text


def rule_words(rule: Rule) -> str:
    """Write a rule in one line that changes whenever the rule does.

    The form stays as it is: lines of older seals are compared with it.
    """
    limit, was = limit_text(rule.limit), ""
    if rule.changed_from is not None:
        was = f", changed from {limit_text(rule.changed_from)}"
    where = ", ".join(part for part in (rule.source, rule.edition) if part)
    return f"{rule.name}: {rule.metric.value}, {limit}{was} ({where})"


def hash_record(
    visit: Visit, record: Path
) -> tuple[tuple[FileEvidence, ...], tuple[str, ...]]:
    """Take size and checksum of a record and of all it names; tell what is missing."""
    files, missing = [], []
    for name in (record.name, *named_files(visit)):
        path = record.parent / name
        if path.is_file():
            files.append(hash_file(path, name))
        else:
            missing.append(name)
    return tuple(files), tuple(missing)


def record_text(record: Path) -> str:
    """Read a record to show later what changed; empty if no UTF-8, or too large."""
    try:
        return _read_text(record, LARGEST_RECORD)
    except FileFormatError:
        return ""


def time_now() -> str:
    """Tell the local time with its offset, such as "2026-11-20 18:02:11 +00:00"."""
    return datetime.now().astimezone().isoformat(sep=" ", timespec="seconds")


def write_seal(visit: Visit, record: Path) -> Seal:
    """Seal a record and all it names, beside it; never over another seal.

    Raises
    ------
    ExistingFileError
        If the record is sealed already.
    """
    path = seal_path(record)
    if has_seal(record):
        raise ExistingFileError(
            f"{path}: this record is sealed already; put right what changed with "
            f"'tension seal {record} --correct'"
        )
    files, missing = hash_record(visit, record)
    text = _SEAL_HEAD + _key_lines(
        sealed=time_now(),
        software=f"tension {__version__}",
        rule=rule_words(visit.rule),
        record=record.name,
        record_text=record_text(record),
        missing=missing,
    )
    for file in files:
        text += "\n[[file]]\n" + _key_lines(**_file_keys(file))
    content = _with_own_line(f"{text}\n[seal]\n")
    write_atomically(path, content, overwrite=False, like=record)
    return _read_seal(path)


def _key_lines(**keys: Value) -> str:
    """Keys with their values, a line each."""
    return "".join(f"{key} = {toml_value(value)}\n" for key, value in keys.items())


def _file_keys(file: FileEvidence) -> dict[str, Value]:
    """The keys of a file as they are written."""
    return {"path": file.path, "bytes": file.n_bytes, "sha256": file.sha256}


def _with_own_line(above: str) -> str:
    """End a text with the line of its own checksum."""
    return f'{above}sha256_of_all_above = "{text_sha256(above)}"\n'


def text_sha256(text: str) -> str:
    """Take the SHA-256 of a text as UTF-8 (FIPS 180-4), 64 hexadecimal digits."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _read_seal(path: Path) -> Seal:
    """Read a seal and check it against its own checksum."""
    nothing = "its contents prove nothing now"
    try:
        text = _read_text(path, LARGEST)
    except FileFormatError as error:
        raise FileFormatError(f"{error}; the seal itself was changed") from error
    if text != _with_own_line(text[: -len(_with_own_line(""))]):
        raise FileFormatError(f"{path.name}: the seal itself was changed; {nothing}")
    try:
        keys = tomllib.loads(text)
        del keys["seal"]
        if keys.pop("format") == 1:
            return Seal(files=keys.pop("file"), sha256=text_sha256(text), **keys)
    except _NOT_AS_WRITTEN:
        pass
    raise FileFormatError(f"{path.name}: no seal of this program; {nothing}")


def read_sealed(record: Path) -> Verification:
    """Read the seal of a record and the corrections that are tied to it, in order.

    What was changed of seal or corrections themselves is told; files are not looked at.
    """
    path = seal_path(record)
    try:
        seal = _read_seal(path)
    except FileFormatError as error:
        change = Change(kind=ChangeKind.SEAL, path=path.name, text=str(error))
        return Verification(changes=(change,))
    path = corrections_path(record)
    corrections: list[Correction] = []
    changes: tuple[Change, ...] = ()
    try:
        for correction in _tied(path, seal.sha256) if os.path.lexists(path) else ():
            corrections.append(correction)  # noqa: PERF402 - those before a fault stay
    except FileFormatError as error:
        kind = ChangeKind.CORRECTIONS
        changes = (Change(kind=kind, path=path.name, text=str(error)),)
    return Verification(changes=changes, seal=seal, corrections=tuple(corrections))


def corrections_path(record: Path) -> Path:
    """Tell where the corrections of a record are."""
    return record.with_name(f"{record.stem}.corrections.toml")


def _read_text(path: Path, most: int) -> str:
    """The text of a file that holds so many bytes at most."""
    try:
        if not path.is_file():  # a pipe or a device may have no end
            raise FileFormatError(f"{path.name}: is no file")
        with path.open("rb") as opened:
            content = opened.read(most + 1)
    except OSError as error:
        reason = (error.strerror or "it cannot be opened").lower()
        raise FileFormatError(f"{path.name}: cannot be read ({reason})") from error
    if len(content) > most:
        raise FileFormatError(f"{path.name}: is larger than {most // 10**6} MB")
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        raise FileFormatError(f"{path.name}: is no text") from error


def _tied(path: Path, previous: str) -> Iterator[Correction]:
    """The corrections tied to the one before, in order; raises at what does not fit."""
    try:
        text = _read_text(path, LARGEST)
    except FileFormatError as error:
        raise FileFormatError(f"{error}; it was changed") from error
    try:
        document = tomllib.loads(text)
        told = [
            Correction(sha256=one.pop("sha256_of_all_above"), **one)
            for one in document.pop("correction")
        ]
    except _NOT_AS_WRITTEN:
        document, told = {}, []
    changed = f"{path.name}: was changed"
    own_lines = list(_OWN_LINE.finditer(text))
    if document or not told:
        raise FileFormatError(f"{changed} and can no longer be read")
    if len(own_lines) != len(told):
        raise FileFormatError(f"{changed}: checksums are missing or one too many")
    digest, done = hashlib.sha256(), 0
    for number, (one, own) in enumerate(zip(told, own_lines, strict=True), start=1):
        digest.update(text[done : own.start()].encode("utf-8"))
        done, name = own.start(), f"{path.name}: correction {number}"
        if own[1] != digest.hexdigest():
            raise FileFormatError(f"{name} or what precedes it was changed")
        if one.previous != previous:
            raise FileFormatError(f"{name} is not tied to the one before")
        previous = own[1]
        yield one
    if own_lines[-1].end() != len(text):
        raise FileFormatError(f"{changed}: something follows the last correction")


def append_correction(record: Path, correction: Correction) -> Correction:
    """Write a correction behind those that stand there; its checksum comes with it.

    Raises
    ------
    FileFormatError
        If the corrections would become larger than what is read.
    """
    path = corrections_path(record)
    is_first = not path.exists()
    before = _CORRECTIONS_HEAD if is_first else path.read_bytes().decode("utf-8")
    names = ("date", "by", "reason", "text", "rule")
    keys = _key_lines(**{name: getattr(correction, name) for name in names})
    files = "".join(
        f"    {{ {', '.join(_key_lines(**_file_keys(file)).splitlines())} }},\n"
        for file in correction.files
    )
    names_only = _key_lines(removed=correction.removed, missing=correction.missing)
    lines = "".join(f"    {toml_value(line)},\n" for line in correction.lines)
    above = (
        f"{before}\n[[correction]]\n{keys}files = [\n{files}]\n{names_only}"
        f"lines = [\n{lines}]\n{_key_lines(previous=correction.previous)}"
    )
    content = _with_own_line(above)
    if len(content.encode("utf-8")) > LARGEST:
        raise FileFormatError(
            f"{path}: would become larger than {LARGEST // 10**6} MB and could not be "
            "read any more; begin a new record"
        )
    write_atomically(path, content, overwrite=not is_first, like=record)
    return replace(correction, sha256=text_sha256(above))
