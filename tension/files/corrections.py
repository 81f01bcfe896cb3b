"""Corrections of a sealed record: added at the end, each tied to the one before."""

import difflib
import hashlib
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.atomic import write_atomically
from tension.files.evidence import FileEvidence, hash_file, seal_path
from tension.files.seal import (
    LARGEST,
    CorrectionsTable,
    CorrectionTable,
    Seal,
    parsed_as,
    read_sealed_text,
    record_text,
    text_sha256,
)
from tension.files.toml_text import text_value, toml_value

MOST_COMPARED = 10_000_000
"""Beyond so many pairs of lines all count as replaced: comparing takes too long. [1]"""


def changed_lines(old: str, new: str) -> tuple[str, ...]:
    """Tell which lines of a text were taken out ("- ") and put in ("+ ")."""
    compared = compared_lines(old.splitlines(), new.splitlines())
    return tuple(line for line in compared if not line.startswith("  "))


def compared_lines(old: list[str], new: list[str]) -> list[str]:
    """Mark the lines of a text as kept, taken out or put in."""
    shorter = min(len(old), len(new))
    head = next((i for i in range(shorter) if old[i] != new[i]), shorter)
    rest = shorter - head
    tail = next((i for i in range(rest) if old[-1 - i] != new[-1 - i]), rest)
    before, after = old[head : len(old) - tail], new[head : len(new) - tail]
    lines = [f"  {line}" for line in old[:head]]
    if len(before) * len(after) > MOST_COMPARED:
        lines += [f"- {line}" for line in before] + [f"+ {line}" for line in after]
    else:
        lines += _matched(before, after)
    return lines + [f"  {line}" for line in old[len(old) - tail :]]


def _matched(old: list[str], new: list[str]) -> list[str]:
    """Lines kept, taken out and put in, as few as can be."""
    matcher = difflib.SequenceMatcher(a=old, b=new, autojunk=False)
    lines: list[str] = []
    for tag, old_from, old_to, new_from, new_to in matcher.get_opcodes():
        if tag == "equal":
            lines += [f"  {line}" for line in old[old_from:old_to]]
            continue
        lines += [f"- {line}" for line in old[old_from:old_to]]
        lines += [f"+ {line}" for line in new[new_from:new_to]]
    return lines


SHARED_NAME = "corrections.toml"
"""Where the corrections of one record of a folder were in version 0.1.0 of the form."""

_HEAD = """\
# Corrections of a sealed record, added at the end, in order. Do not edit what stands
# here: each one carries the checksum of the one before. 'tension verify' checks it.
"""
_OWN_LINE = re.compile(r'^sha256_of_all_above = "([0-9a-f]{64})"\n', re.MULTILINE)


@dataclass(frozen=True, kw_only=True, slots=True)
class Correction:
    """One correction.

    Attributes
    ----------
    date : str
        Local time with zone offset.
    by, reason : str
        Who and why; never empty.
    text : str
        What is put right, in words; may be empty where files say it.
    files : tuple of FileEvidence
        Files as they are from now on, where they changed.
    removed : tuple of str
        Files that no longer belong to the record, such as originals that were trimmed.
    missing : tuple of str
        Files that the record names since the one before and that were not there.
    lines : tuple of str
        Lines taken out of the record ("-") and put in ("+").
    rule : str
        The rule from now on, in words; empty if the record did not change.
    previous : str
        Checksum of the correction before; of the seal for the first.
    sha256 : str
        Checksum up to this correction.
    """

    date: str
    by: str
    reason: str
    text: str = ""
    files: tuple[FileEvidence, ...] = ()
    removed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    rule: str = ""
    previous: str = ""
    sha256: str = ""


def corrections_path(record: Path, seal: Seal) -> Path:
    """Tell where the corrections of a record are.

    ``visit.corrections.toml`` beside ``visit.toml``; ``corrections.toml``, which all
    records of a folder once shared, where it is not that of another record.
    """
    own = record.with_name(f"{record.stem}.corrections.toml")
    shared = record.with_name(SHARED_NAME)
    if os.path.lexists(own) or not os.path.lexists(shared):
        return own
    return own if _is_of_another(shared, record, seal) else shared


def _is_of_another(shared: Path, record: Path, seal: Seal) -> bool:
    """Whether shared corrections are tied to the seal of another record."""
    try:
        table = parsed_as(CorrectionsTable, read_sealed_text(shared))
    except FileFormatError:
        return False
    if table is None or table.correction[0].previous == seal.sha256:
        return False
    others = set(record.parent.glob("*.seal.toml")) - {seal_path(record)}
    for other in others:
        try:
            if text_sha256(read_sealed_text(other)) == table.correction[0].previous:
                return True
        except FileFormatError:
            continue
    return False


def read_corrections(record: Path, seal: Seal) -> tuple[Correction, ...]:
    """Read the corrections in order and check that each is tied to the one before.

    Raises
    ------
    FileFormatError
        If the file was changed; the message names the first correction that does not
        fit.
    """
    corrections, fault = read_checked_corrections(record, seal)
    if fault:
        raise FileFormatError(fault)
    return corrections


def read_checked_corrections(
    record: Path, seal: Seal
) -> tuple[tuple[Correction, ...], str]:
    """Read the corrections that fit, and say what is wrong with the next, if any."""
    path = corrections_path(record, seal)
    if not os.path.lexists(path):
        return (), ""
    try:
        text = read_sealed_text(path)
    except FileFormatError as error:
        return (), f"{error}; it was changed"
    table = parsed_as(CorrectionsTable, text)
    if table is None:
        return (), f"{path.name}: was changed and can no longer be read"
    own_lines = list(_OWN_LINE.finditer(text))
    if len(own_lines) != len(table.correction):
        return (), f"{path.name}: was changed: checksums are missing or one too many"
    corrections, fault = _tied(text, table.correction, own_lines, seal.sha256)
    if not fault and text[own_lines[-1].end() :]:
        fault = "was changed: something follows the last correction"
    return corrections, f"{path.name}: {fault}" if fault else ""


def _tied(
    text: str,
    tables: Sequence[CorrectionTable],
    own_lines: Sequence[re.Match[str]],
    previous: str,
) -> tuple[tuple[Correction, ...], str]:
    """Follow the ties from one correction to the next, as far as they hold."""
    corrections: list[Correction] = []
    digest, done = hashlib.sha256(), 0
    for number, (table, own) in enumerate(zip(tables, own_lines, strict=True), start=1):
        digest.update(text[done : own.start()].encode("utf-8"))
        done = own.start()
        if own.group(1) != digest.hexdigest():
            return tuple(corrections), (
                f"correction {number} or what precedes it was changed"
            )
        if table.previous != previous:
            return tuple(corrections), (
                f"correction {number} is not tied to the one before"
            )
        files = tuple(FileEvidence(**dict(file)) for file in table.files)
        corrections.append(Correction(**{**dict(table), "files": files}))
        previous = own.group(1)
    return tuple(corrections), ""


def files_expected(
    seal: Seal, corrections: Sequence[Correction]
) -> tuple[FileEvidence, ...]:
    """Tell how every file must be after the corrections."""
    expected = {file.path: file for file in seal.files}
    for correction in corrections:
        expected |= {file.path: file for file in correction.files}
        for name in correction.removed:
            expected.pop(name, None)
    return tuple(expected.values())


def known_missing(seal: Seal, corrections: Sequence[Correction]) -> tuple[str, ...]:
    """Tell which files seal and corrections say were not there, nor came later."""
    expected = {file.path for file in files_expected(seal, corrections)}
    told = (*seal.missing, *(name for one in corrections for name in one.missing))
    return tuple(name for name in dict.fromkeys(told) if name not in expected)


def last_record_text(seal: Seal, corrections: Sequence[Correction]) -> str:
    """Tell the record as last sealed or corrected; empty if it cannot be rebuilt."""
    lines = seal.record_text.splitlines(keepends=True)
    for correction in corrections:
        if correction.lines:
            lines = list(difflib.restore(correction.lines, 2))
    return "".join(lines)


def make_correction(
    record: Path,
    *,
    seal: Seal,
    corrections: Sequence[Correction],
    named: Sequence[str],
    entry: Correction,
) -> Correction:
    """Complete a correction with what changed since the last one, and tie it to that.

    Raises
    ------
    FileFormatError
        If name or reason is missing, or nothing changed and no words are given.
    """
    if not entry.by.strip():
        raise FileFormatError("a correction needs a name; say who corrects: --by NAME")
    if not entry.reason.strip():
        raise FileFormatError("a correction needs a reason; say why: --reason TEXT")
    expected = {f.path: f for f in files_expected(seal, corrections)}
    known = {*expected, *known_missing(seal, corrections)}
    changed, missing = [], []
    for name in dict.fromkeys((record.name, *expected, *named)):
        path = record.parent / name
        if not path.is_file():
            missing += [] if name in known else [name]
            continue
        now = hash_file(path, name)
        if now != expected.get(name):
            changed.append(now)
    is_said = bool(entry.removed or entry.text.strip())
    if not changed and not missing and not is_said:
        raise FileFormatError(
            "nothing changed since the last seal or correction; "
            "give --text to put something right in words"
        )
    is_record_changed = any(file.path == record.name for file in changed)
    return replace(
        entry,
        files=tuple(changed),
        missing=tuple(missing),
        lines=_changed_lines(record, seal, corrections) if is_record_changed else (),
        rule=entry.rule if is_record_changed else "",
        previous=corrections[-1].sha256 if corrections else seal.sha256,
    )


def _changed_lines(
    record: Path, seal: Seal, corrections: Sequence[Correction]
) -> tuple[str, ...]:
    """The whole record, line by line, marked as kept, taken out or put in."""
    old = last_record_text(seal, corrections).splitlines(keepends=True)
    return tuple(compared_lines(old, record_text(record).splitlines(keepends=True)))


def add_correction(record: Path, seal: Seal, correction: Correction) -> Correction:
    """Write a correction at the end; what stands before is kept byte by byte.

    Raises
    ------
    FileFormatError
        If the corrections would become larger than what is read.
    """
    path = corrections_path(record, seal)
    is_first = not path.exists()
    before = _HEAD if is_first else path.read_bytes().decode("utf-8")
    lines = [
        "",
        "[[correction]]",
        f"date = {text_value(correction.date)}",
        f"by = {text_value(correction.by)}",
        f"reason = {text_value(correction.reason)}",
        f"text = {text_value(correction.text)}",
        f"rule = {text_value(correction.rule)}",
        "files = [",
        *(f"    {_inline(file)}," for file in correction.files),
        "]",
        f"removed = {toml_value(correction.removed)}",
        f"missing = {toml_value(correction.missing)}",
        "lines = [",
        *(f"    {text_value(line)}," for line in correction.lines),
        "]",
        f'previous = "{correction.previous}"',
    ]
    above = before + "\n".join(lines) + "\n"
    own = text_sha256(above)
    content = f'{above}sha256_of_all_above = "{own}"\n'.encode()
    if len(content) > LARGEST:
        raise FileFormatError(
            f"{path}: would become larger than {LARGEST // 10**6} MB and could not be "
            "read any more; begin a new record"
        )
    write_atomically(path, content, overwrite=not is_first, like=record)
    return replace(correction, sha256=own)


def _inline(file: FileEvidence) -> str:
    """One file as an inline table."""
    return (
        f"{{ path = {text_value(file.path)}, bytes = {file.n_bytes}, "
        f'sha256 = "{file.sha256}" }}'
    )
