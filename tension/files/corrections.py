"""Corrections of a sealed record: added at the end, each tied to the one before."""

import difflib
import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from tension.errors import FileFormatError
from tension.files.atomic import write_atomically
from tension.files.evidence import FileEvidence, hash_file
from tension.files.seal import (
    Seal,
    files_from,
    record_text,
    seal_path,
    text_sha256,
)
from tension.files.toml_text import text_value

CORRECTIONS_NAME = "corrections.toml"

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
    lines: tuple[str, ...] = ()
    rule: str = ""
    previous: str = ""
    sha256: str = ""


def corrections_path(record: Path) -> Path:
    """Tell where the corrections of a record are.

    Parameters
    ----------
    record : Path
        The record.

    Returns
    -------
    Path
        ``corrections.toml`` beside it.
    """
    return record.with_name(CORRECTIONS_NAME)


def read_corrections(record: Path, seal: Seal) -> tuple[Correction, ...]:
    """Read the corrections and check that each is tied to the one before.

    Parameters
    ----------
    record : Path
        The record.
    seal : Seal
        Its seal, to which the first is tied.

    Returns
    -------
    tuple of Correction
        In order; empty if there are none.

    Raises
    ------
    FileFormatError
        If the file was changed; the message names the first correction that does not
        fit.
    """
    corrections, fault = read_checked_corrections(record, seal)
    if fault:
        raise FileFormatError(f"{CORRECTIONS_NAME}: {fault}")
    return corrections


def read_checked_corrections(
    record: Path, seal: Seal
) -> tuple[tuple[Correction, ...], str]:
    """Read the corrections that fit, and say what is wrong with the next.

    Parameters
    ----------
    record : Path
        The record.
    seal : Seal
        Its seal.

    Returns
    -------
    tuple of (tuple of Correction, str)
        What fits, and the fault; empty if there is none.
    """
    path = corrections_path(record)
    if not path.exists():
        return (), ""
    try:
        text = path.read_bytes().decode("utf-8")
        tables = tomllib.loads(text).get("correction", [])
    except (UnicodeDecodeError, tomllib.TOMLDecodeError):
        return (), "was changed and can no longer be read"
    own_lines = list(_OWN_LINE.finditer(text))
    if not isinstance(tables, list) or len(own_lines) != len(tables):
        return (), "was changed: checksums are missing or one too many"
    if not own_lines:
        return (), "was changed: it holds no correction any more"
    tail = text[own_lines[-1].end() :]
    corrections, fault = _tied(text, tables, own_lines, seal.sha256)
    if not fault and tail:
        fault = "was changed: something follows the last correction"
    return corrections, fault


def _tied(
    text: str,
    tables: Sequence[dict[str, object]],
    own_lines: Sequence[re.Match[str]],
    previous: str,
) -> tuple[tuple[Correction, ...], str]:
    """Follow the ties from one correction to the next, as far as they hold."""
    corrections: list[Correction] = []
    for number, (table, own) in enumerate(zip(tables, own_lines, strict=True), start=1):
        fault = ""
        if own.group(1) != text_sha256(text[: own.start()]):
            fault = f"correction {number} or what precedes it was changed"
        elif table.get("previous") != previous:
            fault = f"correction {number} is not tied to the one before"
        if fault:
            return tuple(corrections), fault
        corrections.append(_from_table(table))
        previous = own.group(1)
    return tuple(corrections), ""


def _from_table(table: dict[str, object]) -> Correction:
    """One correction as TOML gives it."""
    files = table.get("files", [])
    lines, removed = table.get("lines", []), table.get("removed", [])
    return Correction(
        date=str(table.get("date", "")),
        by=str(table.get("by", "")),
        reason=str(table.get("reason", "")),
        text=str(table.get("text", "")),
        files=files_from(files if isinstance(files, list) else []),
        lines=tuple(str(line) for line in lines) if isinstance(lines, list) else (),
        removed=tuple(str(name) for name in removed)
        if isinstance(removed, list)
        else (),
        rule=str(table.get("rule", "")),
        previous=str(table.get("previous", "")),
        sha256=str(table.get("sha256_of_all_above", "")),
    )


def files_expected(
    seal: Seal, corrections: Sequence[Correction]
) -> tuple[FileEvidence, ...]:
    """Tell how every file must be after the corrections.

    Parameters
    ----------
    seal : Seal
        The seal.
    corrections : sequence of Correction
        In order.

    Returns
    -------
    tuple of FileEvidence
        Each path once.
    """
    expected = {file.path: file for file in seal.files}
    for correction in corrections:
        expected |= {file.path: file for file in correction.files}
        for name in correction.removed:
            expected.pop(name, None)
    return tuple(expected.values())


def last_record_text(seal: Seal, corrections: Sequence[Correction]) -> str:
    """Tell the text of the record as it was last sealed or corrected.

    Parameters
    ----------
    seal : Seal
        The seal, which holds the first text.
    corrections : sequence of Correction
        In order; each tells the lines it changed.

    Returns
    -------
    str
        The text; empty if it cannot be rebuilt.
    """
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
    """Complete a correction with what changed since the last one.

    Parameters
    ----------
    record : Path
        The record.
    seal : Seal
        Its seal.
    corrections : sequence of Correction
        Those before, in order.
    named : sequence of str
        Every file that the record names now.
    entry : Correction
        Date, name, reason, words and rule.

    Returns
    -------
    Correction
        With changed files, changed lines of the record and the tie to the one before.

    Raises
    ------
    FileFormatError
        If name or reason is missing, or nothing changed and no words are given.
    """
    for key, value in (("by", entry.by), ("reason", entry.reason)):
        if not value.strip():
            raise FileFormatError(f"a correction needs {key}; write it")
    expected = {f.path: f for f in files_expected(seal, corrections)}
    changed = []
    for name in dict.fromkeys((record.name, *expected, *named)):
        path = record.parent / name
        if not path.is_file():
            continue
        now = replace(hash_file(path), path=name)
        if now != expected.get(name):
            changed.append(now)
    if not changed and not entry.removed and not entry.text.strip():
        raise FileFormatError(
            "nothing changed since the last seal or correction; "
            "give --text to put something right in words"
        )
    is_record_changed = any(file.path == record.name for file in changed)
    return replace(
        entry,
        files=tuple(changed),
        lines=_changed_lines(record, seal, corrections) if is_record_changed else (),
        rule=entry.rule if is_record_changed else "",
        previous=corrections[-1].sha256 if corrections else seal.sha256,
    )


def changed_lines(old: str, new: str) -> tuple[str, ...]:
    """Tell which lines of a text were taken out and put in.

    Parameters
    ----------
    old, new : str
        The text before and after.

    Returns
    -------
    tuple of str
        Lines that start with "- " or "+ ", without line ends.
    """
    compared = _compared(old.splitlines(), new.splitlines())
    return tuple(line for line in compared if not line.startswith("  "))


def _changed_lines(
    record: Path, seal: Seal, corrections: Sequence[Correction]
) -> tuple[str, ...]:
    """The whole record, line by line, marked as kept, taken out or put in."""
    old = last_record_text(seal, corrections).splitlines(keepends=True)
    return tuple(_compared(old, record_text(record).splitlines(keepends=True)))


def _compared(old: list[str], new: list[str]) -> list[str]:
    """Lines kept, taken out and put in, in the form that `difflib.restore` reads."""
    matcher = difflib.SequenceMatcher(a=old, b=new, autojunk=False)
    lines: list[str] = []
    for tag, old_from, old_to, new_from, new_to in matcher.get_opcodes():
        if tag == "equal":
            lines += [f"  {line}" for line in old[old_from:old_to]]
            continue
        lines += [f"- {line}" for line in old[old_from:old_to]]
        lines += [f"+ {line}" for line in new[new_from:new_to]]
    return lines


def add_correction(record: Path, correction: Correction) -> Correction:
    """Write a correction at the end; what stands before is kept byte by byte.

    Parameters
    ----------
    record : Path
        The record.
    correction : Correction
        Complete, with its tie to the one before.

    Returns
    -------
    Correction
        With its own checksum.
    """
    path = corrections_path(record)
    before = path.read_bytes().decode("utf-8") if path.exists() else _HEAD
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
        f"removed = [{', '.join(text_value(name) for name in correction.removed)}]",
        "lines = [",
        *(f"    {text_value(line)}," for line in correction.lines),
        "]",
        f'previous = "{correction.previous}"',
    ]
    above = before + "\n".join(lines) + "\n"
    own = text_sha256(above)
    write_atomically(
        path, f'{above}sha256_of_all_above = "{own}"\n', overwrite=path.exists()
    )
    return replace(correction, sha256=own)


def _inline(file: FileEvidence) -> str:
    """One file as an inline table."""
    return (
        f"{{ path = {text_value(file.path)}, bytes = {file.n_bytes}, "
        f'sha256 = "{file.sha256}" }}'
    )


def has_seal(record: Path) -> bool:
    """Tell whether a record is sealed.

    Parameters
    ----------
    record : Path
        The record.

    Returns
    -------
    bool
        Whether a seal stands beside it.
    """
    return seal_path(record).exists()
