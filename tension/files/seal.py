"""The seal of a record and of all it names, and what was corrected since.

A seal proves sameness, not authorship: whoever can write the files can seal them anew.
Its checksum, written down elsewhere (in the report, in a letter), ties it to a day.
Corrections are added at the end, each tied to the one before.
"""

import difflib
import hashlib
import os
import re
import tomllib
from collections.abc import Iterable, Sequence
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
from tension.files.toml_text import Value, compared_lines, toml_value
from tension.files.visit import Visit, named_files
from tension.wording import limit_text

LARGEST = 20_000_000
"""A seal or its corrections are no larger. [byte]"""
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


_Files = tuple[Annotated[FileEvidence, BeforeValidator(_evidence)], ...]


@dataclass(frozen=True, kw_only=True, slots=True, config=_EXACTLY)
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


@dataclass(frozen=True, kw_only=True, slots=True, config=_EXACTLY)
class Correction:
    """One correction."""

    date: str  # local time with zone offset
    by: str  # who; never empty
    reason: str  # why; never empty
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


@dataclass(frozen=True, kw_only=True, slots=True)
class Sealed:
    """A seal with the corrections that fit, and what is wrong with the next, if any."""

    seal: Seal
    path: Path  # where the corrections are, or would be
    corrections: tuple[Correction, ...] = ()
    fault: str = ""

    @property
    def sha256(self) -> str:
        """Checksum of the last correction, or of the seal."""
        return self.corrections[-1].sha256 if self.corrections else self.seal.sha256

    @property
    def files(self) -> dict[str, FileEvidence]:
        """How every file must be after the corrections, by its name."""
        expected = {file.path: file for file in self.seal.files}
        for correction in self.corrections:
            expected |= {file.path: file for file in correction.files}
            for name in correction.removed:
                expected.pop(name, None)
        return expected

    @property
    def missing(self) -> tuple[str, ...]:
        """Files that are said not to have been there, and that did not come later."""
        files = self.files
        later = (name for one in self.corrections for name in one.missing)
        told = dict.fromkeys([*self.seal.missing, *later])
        return tuple(name for name in told if name not in files)

    @property
    def record_text(self) -> str:
        """The record as last sealed or corrected; empty if it cannot be rebuilt."""
        lines = self.seal.record_text.splitlines(keepends=True)
        for correction in self.corrections:
            if correction.lines:
                lines = list(difflib.restore(correction.lines, 2))
        return "".join(lines)


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
    files, missing = [hash_file(record, record.name)], []
    for name in named_files(visit):
        path = record.parent / name
        if path.is_file():
            files.append(hash_file(path, name))
        else:
            missing.append(name)
    return tuple(files), tuple(missing)


def record_text(record: Path) -> str:
    """Read a record to show later what changed; empty if no UTF-8, or too large."""
    with record.open("rb") as opened:
        content = opened.read(LARGEST_RECORD + 1)
    try:
        return "" if len(content) > LARGEST_RECORD else content.decode("utf-8")
    except UnicodeDecodeError:
        return ""


def write_seal(visit: Visit, record: Path, *, sealed: str, software: str) -> None:
    """Seal a record and all it names, beside it; never over another seal.

    Raises
    ------
    ExistingFileError
        If the record is sealed already.
    """
    path = seal_path(record)
    files, missing = hash_record(visit, record)
    text = _SEAL_HEAD + _key_lines(
        sealed=sealed,
        software=software,
        rule=rule_words(visit.rule),
        record=record.name,
        record_text=record_text(record),
        missing=missing,
    )
    for file in files:
        text += "\n[[file]]\n" + _key_lines(**_file_keys(file))
    try:
        content = _with_own_line(f"{text}\n[seal]\n")
        write_atomically(path, content, overwrite=False, like=record)
    except ExistingFileError as error:
        if not path.is_file():
            raise
        raise ExistingFileError(
            f"{path}: this record is sealed already; put right what changed with "
            f"'tension seal {record} --correct'"
        ) from error


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


def read_seal(path: Path) -> Seal:
    """Read a seal and check it against its own checksum.

    Raises
    ------
    FileFormatError
        If it was changed, or is no seal.
    """
    nothing = "its contents prove nothing now"
    try:
        text = _read_text(path)
    except FileFormatError as error:
        raise FileFormatError(f"{error}; the seal itself was changed") from error
    found = list(_OWN_LINE.finditer(text))[-1:]
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
    except _NOT_AS_WRITTEN:
        seal, ends = None, []
    if seal is None or ends != [1, ["sha256_of_all_above"]]:
        raise FileFormatError(f"{path.name}: no seal of this program; {nothing}")
    return seal


def read_sealed(record: Path) -> Sealed:
    """Read the seal of a record and the corrections that are tied to it, in order.

    Raises
    ------
    FileFormatError
        If the seal was changed, or there is none.
    """
    seal = read_seal(seal_path(record))
    path = _corrections_path(record, seal)
    if not os.path.lexists(path):
        return Sealed(seal=seal, path=path)
    try:
        text = _read_text(path)
    except FileFormatError as error:
        return Sealed(seal=seal, path=path, fault=f"{error}; it was changed")
    told, own_lines = _parsed(text), list(_OWN_LINE.finditer(text))
    n_tied = 0
    if not told:
        fault = "was changed and can no longer be read"
    elif len(own_lines) != len(told):
        fault = "was changed: checksums are missing or one too many"
    else:
        n_tied, fault = _tied(text, told, own_lines, seal.sha256)
        if not fault and text[own_lines[-1].end() :]:
            fault = "was changed: something follows the last correction"
    fault = f"{path.name}: {fault}" if fault else ""
    return Sealed(seal=seal, path=path, corrections=tuple(told[:n_tied]), fault=fault)


def _read_text(path: Path) -> str:
    """The text of a file that only the program writes."""
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


def _text_or_nothing(path: Path) -> str:
    """The same; empty if there is none to be read."""
    try:
        return _read_text(path)
    except FileFormatError:
        return ""


def _parsed(text: str) -> list[Correction]:
    """The corrections of a text, in order; none if it is not as the program writes."""
    try:
        document = tomllib.loads(text)
        tables = document.pop("correction")
        if document:
            return []
        return [
            Correction(sha256=one.pop("sha256_of_all_above"), **one) for one in tables
        ]
    except _NOT_AS_WRITTEN:
        return []


def _corrections_path(record: Path, seal: Seal) -> Path:
    """Where the corrections of a record are.

    ``visit.corrections.toml`` beside ``visit.toml``; ``corrections.toml``, which all
    records of a folder once shared, where it is not tied to the seal of another record.
    """
    own = record.with_name(f"{record.stem}.corrections.toml")
    shared = record.with_name("corrections.toml")
    if os.path.lexists(own) or not os.path.lexists(shared):
        return own
    first = [one.previous for one in _parsed(_text_or_nothing(shared))[:1]]
    others = set(record.parent.glob("*.seal.toml")) - {seal_path(record)}
    sums = {text_sha256(text) for text in map(_text_or_nothing, others) if text}
    return own if (sums - {seal.sha256}).intersection(first) else shared


def _tied(
    text: str,
    told: Sequence[Correction],
    own_lines: Sequence[re.Match[str]],
    previous: str,
) -> tuple[int, str]:
    """How many corrections are tied to the one before, and what ends the chain."""
    digest, done = hashlib.sha256(), 0
    for number, (one, own) in enumerate(zip(told, own_lines, strict=True), start=1):
        digest.update(text[done : own.start()].encode("utf-8"))
        done = own.start()
        if own[1] != digest.hexdigest():
            return number - 1, f"correction {number} or what precedes it was changed"
        if one.previous != previous:
            return number - 1, f"correction {number} is not tied to the one before"
        previous = own[1]
    return len(told), ""


def add_correction(
    record: Path, sealed: Sealed, entry: Correction, named: Iterable[str]
) -> Correction:
    """Complete a correction with what changed since the last one, and write it.

    It goes to the end and is tied to the one before; what stands there is kept byte by
    byte. Files that the record names now are looked at too.

    Raises
    ------
    FileFormatError
        If name or reason is missing, nothing changed and no words are given, or the
        corrections would become larger than what is read.
    """
    if not entry.by.strip():
        raise FileFormatError("a correction needs a name; say who corrects: --by NAME")
    if not entry.reason.strip():
        raise FileFormatError("a correction needs a reason; say why: --reason TEXT")
    expected, known = sealed.files, sealed.missing
    changed, missing = [], []
    for name in dict.fromkeys((record.name, *expected, *named)):
        path = record.parent / name
        if path.is_file():
            now = hash_file(path, name)
            changed += [] if now == expected.get(name) else [now]
        elif name not in expected and name not in known:
            missing.append(name)
    if not (changed or missing or entry.removed or entry.text.strip()):
        raise FileFormatError(
            "nothing changed since the last seal or correction; "
            "give --text to put something right in words"
        )
    lines: list[str] = []
    if is_record_changed := any(file.path == record.name for file in changed):
        texts = (sealed.record_text, record_text(record))
        lines = compared_lines(*(text.splitlines(keepends=True) for text in texts))
    correction = replace(
        entry,
        files=tuple(changed),
        missing=tuple(missing),
        lines=tuple(lines),
        rule=entry.rule if is_record_changed else "",
        previous=sealed.sha256,
    )
    return _append(record, sealed.path, correction)


def _append(record: Path, path: Path, correction: Correction) -> Correction:
    """Write a correction behind those that stand there."""
    is_first = not path.exists()
    before = _CORRECTIONS_HEAD if is_first else path.read_bytes().decode("utf-8")
    names = ("date", "by", "reason", "text", "rule")
    above = "\n".join(
        [
            before,
            "[[correction]]",
            _key_lines(**{name: getattr(correction, name) for name in names})
            + "files = [",
            *(f"    {_inline(file)}," for file in correction.files),
            "]",
            _key_lines(removed=correction.removed, missing=correction.missing)
            + "lines = [",
            *(f"    {toml_value(line)}," for line in correction.lines),
            "]",
            _key_lines(previous=correction.previous),
        ]
    )
    content = _with_own_line(above)
    if len(content.encode("utf-8")) > LARGEST:
        raise FileFormatError(
            f"{path}: would become larger than {LARGEST // 10**6} MB and could not be "
            "read any more; begin a new record"
        )
    write_atomically(path, content, overwrite=not is_first, like=record)
    return replace(correction, sha256=text_sha256(above))


def _inline(file: FileEvidence) -> str:
    """One file as an inline table."""
    keys = _key_lines(**_file_keys(file)).splitlines()
    return "{ " + ", ".join(keys) + " }"
