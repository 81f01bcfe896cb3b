"""Corrections of a sealed record: added at the end, each tied to the one before."""

import difflib
import hashlib
import os
import re
import tomllib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from pydantic.dataclasses import dataclass

from tension.errors import FileFormatError
from tension.files import seal as sealing
from tension.files.atomic import write_atomically
from tension.files.evidence import FileEvidence, hash_file, seal_path
from tension.files.seal import Seal, read_sealed_text, text_sha256
from tension.files.toml_text import toml_value

MOST_COMPARED = 10_000_000
"""Beyond so many pairs of lines all count as replaced: comparing takes too long. [1]"""


def changed_lines(old: str, new: str) -> tuple[str, ...]:
    """Tell which lines of a text were taken out ("- ") and put in ("+ ")."""
    compared = compared_lines(old.splitlines(), new.splitlines())
    return tuple(line for line in compared if not line.startswith("  "))


def compared_lines(old: list[str], new: list[str]) -> list[str]:
    """Mark the lines of a text as kept, taken out or put in, as few as can be."""
    shorter = min(len(old), len(new))
    head = next((i for i in range(shorter) if old[i] != new[i]), shorter)
    rest = shorter - head
    tail = next((i for i in range(rest) if old[-1 - i] != new[-1 - i]), rest)
    before, after = old[head : len(old) - tail], new[head : len(new) - tail]
    steps = [("replace", 0, len(before), 0, len(after))]
    if len(before) * len(after) <= MOST_COMPARED:
        matcher = difflib.SequenceMatcher(a=before, b=after, autojunk=False)
        steps = list(matcher.get_opcodes())
    lines = [f"  {line}" for line in old[:head]]
    for tag, old_from, old_to, new_from, new_to in steps:
        mark = "  " if tag == "equal" else "- "
        lines += [f"{mark}{line}" for line in before[old_from:old_to]]
        if tag != "equal":
            lines += [f"+ {line}" for line in after[new_from:new_to]]
    return lines + [f"  {line}" for line in old[len(old) - tail :]]


SHARED_NAME = "corrections.toml"
"""Where the corrections of one record of a folder were in version 0.1.0 of the form."""

_HEAD = """\
# Corrections of a sealed record, added at the end, in order. Do not edit what stands
# here: each one carries the checksum of the one before. 'tension verify' checks it.
"""


@dataclass(frozen=True, kw_only=True, slots=True, config=sealing.EXACTLY)
class Correction:
    """One correction."""

    date: str  # local time with zone offset
    by: str  # who; never empty
    reason: str  # why; never empty
    text: str = ""  # what is put right, in words; may be empty where files say it
    files: sealing.Files = ()  # as they are from now on, where they changed
    # files that no longer belong to the record, such as originals that were trimmed
    removed: tuple[str, ...] = ()
    # files that the record names since the one before and that were not there
    missing: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()  # taken out of the record ("-") and put in ("+")
    rule: str = ""  # from now on, in words; empty if the record did not change
    previous: str = ""  # checksum of the correction before; of the seal for the first
    sha256: str = ""  # checksum up to this correction


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
    except sealing.NOT_AS_WRITTEN:
        return []


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
    first = _parsed(_text_or_nothing(shared))[:1]
    if not first or first[0].previous == seal.sha256:
        return False
    others = set(record.parent.glob("*.seal.toml")) - {seal_path(record)}
    sums = (text_sha256(text) for text in map(_text_or_nothing, others) if text)
    return first[0].previous in sums


def _text_or_nothing(path: Path) -> str:
    """The text of a file that the program wrote; empty if there is none to be read."""
    try:
        return read_sealed_text(path)
    except FileFormatError:
        return ""


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
    told, own_lines = _parsed(text), list(sealing.OWN_LINE.finditer(text))
    if not told:
        return (), f"{path.name}: was changed and can no longer be read"
    if len(own_lines) != len(told):
        return (), f"{path.name}: was changed: checksums are missing or one too many"
    n_tied, fault = _tied(text, told, own_lines, seal.sha256)
    if not fault and text[own_lines[-1].end() :]:
        fault = "was changed: something follows the last correction"
    return tuple(told[:n_tied]), f"{path.name}: {fault}" if fault else ""


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
    lines: list[str] = []
    if is_record_changed := any(file.path == record.name for file in changed):
        old, new = last_record_text(seal, corrections), sealing.record_text(record)
        lines = compared_lines(
            old.splitlines(keepends=True), new.splitlines(keepends=True)
        )
    return replace(
        entry,
        files=tuple(changed),
        missing=tuple(missing),
        lines=tuple(lines),
        rule=entry.rule if is_record_changed else "",
        previous=corrections[-1].sha256 if corrections else seal.sha256,
    )


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
    keys = {
        "date": correction.date,
        "by": correction.by,
        "reason": correction.reason,
        "text": correction.text,
        "rule": correction.rule,
    }
    lines = [
        "",
        "[[correction]]",
        *(f"{key} = {toml_value(value)}" for key, value in keys.items()),
        "files = [",
        *(f"    {_inline(file)}," for file in correction.files),
        "]",
        f"removed = {toml_value(correction.removed)}",
        f"missing = {toml_value(correction.missing)}",
        "lines = [",
        *(f"    {toml_value(line)}," for line in correction.lines),
        "]",
        f"previous = {toml_value(correction.previous)}",
    ]
    above = before + "\n".join(lines) + "\n"
    content = sealing.with_own_line(above)
    if len(content.encode("utf-8")) > sealing.LARGEST:
        raise FileFormatError(
            f"{path}: would become larger than {sealing.LARGEST // 10**6} MB and could "
            "not be read any more; begin a new record"
        )
    write_atomically(path, content, overwrite=not is_first, like=record)
    return replace(correction, sha256=text_sha256(above))


def _inline(file: FileEvidence) -> str:
    """One file as an inline table."""
    keys = (f"{key} = {toml_value(value)}" for key, value in sealing.file_keys(file))
    return "{ " + ", ".join(keys) + " }"
