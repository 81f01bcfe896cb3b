"""Trimming the recordings of a record: original hashed first, result held the same."""

import contextlib
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from tension.assessment.outcome import Assessment
from tension.errors import FileFormatError
from tension.files.atomic import write_atomically
from tension.files.attachments import Trim
from tension.files.corrections import has_seal, read_corrections
from tension.files.evidence import hash_file
from tension.files.record import read_visit
from tension.files.seal import read_seal, seal_path
from tension.files.trim import (
    LEAST_SAVED,
    Window,
    find_windows,
    share_kept,
    trim_lines,
    trimmed_wav,
    windows_text,
)
from tension.files.visit import Visit
from tension.measurement.readings import PluckReading
from tension.notes import Refusal
from tension.sound.hearing import Pluck
from tension.sound.recording import Recording
from tension.workflow.assess import Assessed, assess_visit
from tension.workflow.inputs import find_record
from tension.workflow.integrity import CorrectionWords, correct_visit, time_now

Progress = Callable[[str], None]

SAME_SHARE = 0.25
"""Shares are the same within this part of their standard uncertainty. [1]"""
SILENCED = "The rest is cut out; windows fade into each other over 0.02 s."


@dataclass(frozen=True, kw_only=True, slots=True)
class Trimmed:
    """What was trimmed.

    Attributes
    ----------
    trims : tuple of Trim
        Recordings trimmed, as the record now says.
    whole : tuple of (str, str)
        Recordings left whole, and why.
    """

    trims: tuple[Trim, ...]
    whole: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Cut:
    """One recording on its way to being trimmed."""

    trim: Trim
    content: bytes


def trim_record(
    path: Path | str,
    *,
    by: str = "",
    delete_originals: bool = False,
    progress: Progress | None = None,
) -> Trimmed:
    """Trim the recordings of a record to the windows around the plucks.

    The checksum of each original is taken first. Nothing is changed unless the
    assessment on what is left gives the same result.

    Parameters
    ----------
    path : Path or str
        The record, or the folder that holds it.
    by : str, optional
        Who trims; needed for a sealed record.
    delete_originals : bool, optional
        Whether the originals go once their checksums stand in the record.
    progress : callable, optional
        Called with one line for each file read.

    Returns
    -------
    Trimmed
        What was trimmed and what was left whole.

    Raises
    ------
    FileFormatError
        If the result would change, or nothing can be trimmed of a sealed record
        without a name.
    """
    record = find_record(Path(path))
    visit = read_visit(record)
    if has_seal(record):
        if not by.strip():
            raise FileFormatError(
                f"{record}: this record is sealed, so trimming is a correction; "
                "give your name with --by"
            )
        read_corrections(record, read_seal(seal_path(record)))
    before = _assess(visit, progress)
    original = "deleted" if delete_originals else "kept"
    cuts, whole = _cut_all(visit, record.parent, before, by=by, original=original)
    if not cuts:
        return Trimmed(trims=(), whole=tuple(whole))
    _write(visit, record, cuts, before, progress)
    if has_seal(record):
        gone = tuple(cut.trim.recording for cut in cuts) if delete_originals else ()
        correct_visit(
            read_visit(record),
            record,
            CorrectionWords(
                by=by, reason="recordings trimmed", text=SILENCED, removed=gone
            ),
        )
    if delete_originals:
        for cut in cuts:
            (record.parent / cut.trim.recording).unlink()
    return Trimmed(trims=tuple(cut.trim for cut in cuts), whole=tuple(whole))


def _assess(visit: Visit, progress: Progress | None) -> list[Assessed]:
    """Assess every series that has recordings."""
    names = {r.series for r in visit.readings if isinstance(r, PluckReading)}
    return [
        assess_visit(visit, series=series.name, progress=progress)
        for series in visit.series
        if series.name in names
    ]


def _cut_all(
    visit: Visit,
    folder: Path,
    before: Sequence[Assessed],
    *,
    by: str,
    original: str,
) -> tuple[list[_Cut], list[tuple[str, str]]]:
    """Cut every recording that can be cut."""
    trimmed = {trim.recording for trim in visit.trims}
    recordings = {r.name: r for one in before for r in one.recordings}
    plucks = _plucks(before)
    counted = {e.recording for e in visit.exclusions if e.pluck is not None}
    cuts: list[_Cut] = []
    whole: list[tuple[str, str]] = []
    for name, recording in recordings.items():
        if name in trimmed:
            whole.append((name, "trimmed already"))
            continue
        own = plucks.get(name, [])
        if name not in counted:
            own = [pluck for pluck in own if pluck.is_used]
        windows, why = _windows(recording, own)
        evidence = hash_file(folder / name) if windows else None
        if evidence is None:
            whole.append((name, why))
            continue
        content = trimmed_wav(folder / name, windows)
        if isinstance(content, Refusal):
            whole.append((name, content.text))
            continue
        trim = Trim(
            recording=name,
            trimmed=_trimmed_name(name),
            n_bytes=evidence.n_bytes,
            sha256=evidence.sha256,
            kept=windows_text(windows),
            silenced=SILENCED,
            original=original,
            by=by,
            date=time_now(),
        )
        cuts.append(_Cut(trim=trim, content=content))
    return cuts, whole


def _plucks(before: Sequence[Assessed]) -> dict[str, list[Pluck]]:
    """All plucks found, by recording."""
    found: dict[str, list[Pluck]] = {}
    for one in before:
        ropes = one.hearing.ropes if one.hearing else ()
        for pluck in (pluck for rope in ropes for pluck in rope.plucks):
            own = found.setdefault(pluck.recording, [])
            if pluck not in own:
                own.append(pluck)
    return found


def _windows(
    recording: Recording, plucks: Sequence[Pluck]
) -> tuple[tuple[Window, ...], str]:
    """What is kept of a recording; none, and why, if it stays whole."""
    if recording.refusal is not None:
        return (), recording.refusal.text
    if not plucks:
        return (), "no pluck was used in it"
    duration = len(recording.samples) / recording.sampling_rate
    windows = find_windows([(p.start, p.end) for p in plucks], duration)
    if share_kept(windows, duration) > 1.0 - LEAST_SAVED:
        return (), "the windows around the plucks cover all of it"
    return windows, ""


def _trimmed_name(name: str) -> str:
    """Name of the file that is read instead, beside the original."""
    path = Path(name)
    return path.with_name(f"{path.stem}.trimmed.wav").as_posix()


def _write(
    visit: Visit,
    record: Path,
    cuts: Sequence[_Cut],
    before: Sequence[Assessed],
    progress: Progress | None,
) -> None:
    """Write the trimmed files, hold the result the same, then tell the record."""
    folder = record.parent
    written: list[Path] = []
    try:
        for cut in cuts:
            path = folder / cut.trim.trimmed
            write_atomically(path, cut.content, overwrite=False)
            written.append(path)
        trims = (*visit.trims, *(cut.trim for cut in cuts))
        _require_same(before, _assess(replace(visit, trims=trims), progress), record)
        text = record.read_bytes().decode("utf-8")
        added = trim_lines([cut.trim for cut in cuts])
        between = "" if text.endswith("\n") else "\n"
        write_atomically(record, text + between + added, overwrite=True)
    except BaseException:
        for path in written:
            with contextlib.suppress(OSError):
                path.unlink()
        raise


def _require_same(
    before: Sequence[Assessed], after: Sequence[Assessed], record: Path
) -> None:
    """Refuse a trim that changes any result."""
    changes = [
        change
        for one, other in zip(before, after, strict=True)
        for change in changed(one.assessment, other.assessment)
    ]
    if changes:
        raise FileFormatError(
            *(f"{record}: {change}; nothing was trimmed" for change in changes)
        )


def changed(before: Assessment, after: Assessment) -> list[str]:
    """Tell in what two results of the same series differ.

    Parameters
    ----------
    before, after : Assessment
        On the originals and on what is left.

    Returns
    -------
    list of str
        A sentence per difference; empty if the result is the same.
    """
    series = before.measurement.series.name
    if before.verdict is not after.verdict:
        return [
            f'series "{series}" would be {after.verdict.value}, '
            f"not {before.verdict.value}"
        ]
    found = []
    for one, other in zip(before.shares, after.shares, strict=True):
        if (one.share is None) is not (other.share is None):
            found.append(
                f'series "{series}": rope {one.number} would gain or lose its number'
            )
        elif one.share is not None and other.share is not None:
            allowed = SAME_SHARE * (one.share_uncertainty or math.inf)
            if abs(one.share - other.share) > allowed:
                found.append(
                    f'series "{series}": the share of rope {one.number} would change'
                )
    return found
