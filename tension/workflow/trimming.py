"""Trimming the recordings of a record: original hashed first, result held the same.

Every step leaves the record true and can be the last: the same command run again goes
on where a killed one stopped.
"""

import contextlib
import math
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from tension.assessment.decide import Assessment
from tension.errors import FileFormatError
from tension.files import wav as cutting
from tension.files.atomic import held_alone, settle_folder, write_atomically
from tension.files.evidence import has_seal, hash_file
from tension.files.record import read_visit, visit_from_text
from tension.files.seal import ChangeKind, Correction, time_now
from tension.files.toml_text import mark_deleted, with_tables
from tension.files.visit import Trim, Visit, trim_table
from tension.measurement.readings import PluckReading
from tension.notes import Refusal
from tension.sound.hearing import Recording
from tension.workflow.assess import Assessed, EvaluatedVisit
from tension.workflow.inputs import find_record, recordings_of
from tension.workflow.integrity import add_correction, verify
from tension.workflow.listening import Progress

SILENCED = "The rest is cut out; windows fade into each other over 0.02 s."
DELETED = "deleted"
SAME_SHARE = 0.25  # shares so many standard uncertainties apart are the same [1]

_Cut = tuple[Trim, bytes]
"""One recording on its way to being trimmed, and what its new file holds."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Trimmed:
    """What was trimmed."""

    # recordings trimmed or whose originals were deleted, as the record now says
    trims: tuple[Trim, ...]
    whole: tuple[tuple[str, str], ...]  # those left whole, with the reason


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
    by, progress : str, callable, optional
        Who trims, needed for a sealed record; called with one line for each file read.
    delete_originals : bool, optional
        Whether the originals go once their checksums stand in the record, also those of
        an earlier trim.

    Raises
    ------
    FileFormatError
        If the result would change, a sealed record changed otherwise or is trimmed
        without a name, or an original could not be deleted.

    Examples
    --------
    Keep of long recordings what holds the plucks::

        trim_record("visit.toml")
    """
    record = find_record(Path(path))
    if has_seal(record) and not by.strip():
        raise FileFormatError(
            f"{record}: this record is sealed, so trimming is a correction; "
            "give your name with --by"
        )
    with held_alone(record):
        visit = read_visit(record)
        if has_seal(record):
            _require_as_sealed(visit, record, delete_originals=delete_originals)
        new, whole = _trim(visit, record, by, progress)
        _correct_trims(record, by)
        left: list[str] = []
        if delete_originals:
            gone, left = _delete_originals(record)
            _correct_trims(record, by)
            new |= gone
        trims = read_visit(record).trims
    if left:
        raise FileFormatError(*left)
    return Trimmed(
        trims=tuple(trim for trim in trims if trim.recording in new),
        whole=tuple(one for one in whole if one[0] not in new),
    )


def _require_as_sealed(visit: Visit, record: Path, *, delete_originals: bool) -> None:
    """Refuse a sealed record with changes that no killed trim can have left."""
    found = verify(record)
    of_trims = {
        ChangeKind.NOT_SEALED: {trim.trimmed for trim in visit.trims},
        ChangeKind.MISSING: {  # where originals are to be deleted, they may be gone
            trim.recording
            for trim in visit.trims
            if delete_originals or trim.original == DELETED
        },
    }
    if _differ_in_trims_alone(found.record_text, visit, record):
        of_trims[ChangeKind.CHANGED] = {record.name}
    for change in found.changes:
        if change.path not in of_trims.get(change.kind, ()):
            raise FileFormatError(
                f"{record}: changed since it was sealed: {change.text}; put that right "
                "first, with 'tension seal --correct'"
            )


def _differ_in_trims_alone(old: str, visit: Visit, record: Path) -> bool:
    """Whether trims were added, originals marked as deleted, and nothing else."""
    try:
        before = visit_from_text(old, record)
    except FileFormatError:
        return False
    return (
        replace(before, trims=visit.trims) == visit
        and len(before.trims) <= len(visit.trims)
        and all(
            now in (was, replace(was, original=DELETED))
            for was, now in zip(before.trims, visit.trims, strict=False)
        )
    )


def _correct_trims(record: Path, by: str) -> None:
    """Tell the seal what trimming changed, if anything did."""
    if not has_seal(record) or (found := verify(record)).is_same:
        return
    removed = tuple(
        trim.recording
        for trim in read_visit(record).trims
        if trim.original == DELETED and trim.recording in found.files
    )
    why = "originals of trimmed recordings deleted" if removed else "recordings trimmed"
    words = Correction(by=by, reason=why, text=SILENCED, removed=removed)
    add_correction(record, words)


def _trim(
    visit: Visit, record: Path, by: str, progress: Progress | None
) -> tuple[set[str], list[tuple[str, str]]]:
    """Trim what is not trimmed yet; its names, and what was left whole and why."""
    done = {trim.recording for trim in visit.trims}
    names = set(recordings_of(visit))
    whole = [(name, "trimmed already") for name in sorted(names & done)]
    if not names - done:
        return set(), whole
    before = _assess_all(visit, progress)
    ropes = [rope for one in before if one.hearing for rope in one.hearing.ropes]
    plucks = [pluck for rope in ropes for pluck in rope.plucks]
    counted = {e.recording for e in visit.exclusions if e.pluck is not None}
    cuts = []
    for name, recording in {r.name: r for a in before for r in a.recordings}.items():
        if name in done:
            continue
        own = [p for p in plucks if p.recording == name]
        onsets = [p.start for p in own if p.is_used or name in counted]
        cut = _cut(recording, onsets, record.parent, by)
        if isinstance(cut, str):
            whole.append((name, cut))
        else:
            cuts.append(cut)
    if cuts:
        _write(visit, record, cuts, before, progress)
    return {trim.recording for trim, _ in cuts}, whole


def _assess_all(visit: Visit, progress: Progress | None) -> list[Assessed]:
    """Every series with recordings, by the rule of the record."""
    return EvaluatedVisit(visit=visit, progress=progress).each(of=PluckReading)


def _delete_originals(record: Path) -> tuple[set[str], list[str]]:
    """Delete originals, then say so; those gone, and why others could not be."""
    gone: set[str] = set()
    left: list[str] = []
    for trim in read_visit(record).trims:
        if trim.original == DELETED:
            continue
        if why := _delete(trim, record.parent):
            left.append(f"{trim.recording}: not deleted: {why}")
        else:
            gone.add(trim.recording)
    if gone:
        settle_folder(record.parent)
        text = record.read_bytes().decode("utf-8")
        write_atomically(record, mark_deleted(text, gone), overwrite=True)
    return gone, left


def _delete(trim: Trim, folder: Path) -> str:
    """Delete one original; why not, if it stays."""
    original = folder / trim.recording
    if not os.path.lexists(original):
        return ""  # a killed trim deleted it
    if not (folder / trim.trimmed).is_file():
        return f"{trim.trimmed}, which is read in its place, is not there"
    try:
        now = hash_file(original)
        if (now.n_bytes, now.sha256) != (trim.n_bytes, trim.sha256):
            return "it is not the file that was trimmed any more"
        original.unlink()
    except OSError as error:
        return (error.strerror or "the system refuses").lower()
    return ""


def _cut(
    recording: Recording, onsets: Sequence[float], folder: Path, by: str
) -> _Cut | str:
    """A recording cut down to its plucks; why not, if it stays whole."""
    if recording.refusal is not None:
        return recording.refusal.text
    if not onsets:
        return "no pluck was used in it"
    name, duration = recording.name, recording.duration
    windows = cutting.find_windows(onsets, duration)
    saved = duration - sum(w.end - w.start for w in windows)
    if saved < cutting.LEAST_SAVED * duration:
        return "the windows around the plucks cover all of it"
    evidence = hash_file(folder / name)
    content = cutting.trimmed_wav(folder / name, windows)
    if isinstance(content, Refusal):
        return content.text
    trim = Trim(
        recording=name,
        trimmed=Path(name).with_suffix(".trimmed.wav").as_posix(),
        n_bytes=evidence.n_bytes,
        sha256=evidence.sha256,
        kept=", ".join(f"{w.start:.2f} s to {w.end:.2f} s" for w in windows),
        silenced=SILENCED,
        by=by,
        date=time_now(),
    )
    return trim, content


def _write(
    visit: Visit,
    record: Path,
    cuts: Sequence[_Cut],
    before: Sequence[Assessed],
    progress: Progress | None,
) -> None:
    """Write the trimmed files, hold the result the same, then tell the record."""
    folder = record.parent
    content = record.read_bytes()
    new = [trim for trim, _ in cuts]
    written: list[Path] = []
    try:
        for trim, wave in cuts:
            path = folder / trim.trimmed
            if not _holds(path, wave):
                original = folder / trim.recording
                write_atomically(path, wave, overwrite=False, like=original)
                written.append(path)
        trimmed = replace(visit, trims=(*visit.trims, *new))
        after = _assess_all(trimmed, progress)
        _require_same(before, after, record)
        told = with_tables(content.decode("utf-8"), [trim_table(one) for one in new])
        write_atomically(record, told, overwrite=True)
    except BaseException:
        if record.read_bytes() == content:  # else the record tells of them already
            for path in written:
                with contextlib.suppress(OSError):
                    path.unlink()
        raise


def _holds(path: Path, content: bytes) -> bool:
    """Whether a killed trim left just this file."""
    if not os.path.lexists(path):
        return False
    if path.is_file() and path.read_bytes() == content:
        return True
    raise FileFormatError(
        f"{path}: this stands where the trimmed recording goes and is another file; "
        "nothing was trimmed; move it away"
    )


def _require_same(
    before: Sequence[Assessed], after: Sequence[Assessed], record: Path
) -> None:
    """Refuse a trim that changes any result."""
    both = zip(before, after, strict=True)
    changes = [c for a, b in both for c in _changed(a.assessment, b.assessment)]
    if changes:
        raise FileFormatError(*(f"{record}: {c}; nothing was trimmed" for c in changes))


def _changed(before: Assessment, after: Assessment) -> Iterator[str]:
    """Tell in what two results of the same series differ, a sentence each."""
    series = f'series "{before.measurement.series.name}"'
    old, new = before.verdict, after.verdict
    if old is not new:
        yield f"{series} would be {new.value}, not {old.value}"
        return
    for one, other in zip(before.shares, after.shares, strict=True):
        if one.share is None or other.share is None:
            if one.share is not other.share:
                yield f"{series}: rope {one.number} would gain or lose its number"
            continue
        most = SAME_SHARE * (one.share_uncertainty or math.inf)
        if abs(one.share - other.share) > most:
            yield f"{series}: the share of rope {one.number} would change"
