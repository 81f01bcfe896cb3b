"""What was heard in each sound file, by itself."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tension.errors import FileFormatError
from tension.files import sound as sound_files
from tension.files.evidence import FileEvidence, hash_file
from tension.shown import Shown, plain
from tension.sound.hear import hear_set
from tension.sound.hearing import RopeSpan, SetHearing
from tension.sound.recording import Recording, Take
from tension.workflow.listening import Progress, is_large


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class HeardFile(Shown):
    """One sound file as read, what was heard in it, and its checksum if it exists."""

    recording: Recording
    hearing: SetHearing
    evidence: tuple[FileEvidence, ...]

    def summary(self) -> str:
        """Say what was heard of each rope."""
        told = [
            f"{rope.number}: {rope.refusal.code}"
            if rope.refusal
            else f"{rope.number}: {rope.fundamental_frequency:.4g} Hz"
            for rope in self.hearing.ropes
        ]
        return f"{self.recording.name!r}, {', '.join(told)}"

    def to_rows(self) -> list[dict[str, Any]]:
        """Turn it into one row per rope, all SI; or why there is no number."""
        return [
            {
                "rope": rope.number,
                "frequency": plain(rope.fundamental_frequency),
                "relative_uncertainty": plain(rope.relative_uncertainty),
                "reason": rope.refusal.text if rope.refusal else "",
            }
            for rope in self.hearing.ropes
        ]


def read_recording(path: Path | str) -> Recording:
    """Read the sound of one file.

    Parameters
    ----------
    path : Path or str
        The file.

    Returns
    -------
    Recording
        Its samples, in one channel, decimated.

    Raises
    ------
    FileFormatError
        If it is a folder, missing, damaged, or no sound; the message says what to do.

    Examples
    --------
    >>> read_recording("recordings_demo")
    Traceback (most recent call last):
        ...
    tension.errors.FileFormatError: ...
    """
    found = sound_files.read_recording(Path(path), name=str(path))
    if found.refusal is not None:
        raise FileFormatError(f"{found.refusal.text} {found.refusal.next_act}".strip())
    return found


def hear_file(
    path: Path | str,
    *,
    free_length: float | None = None,
    order: Sequence[int] = (1,),
    plucks_each: int | None = None,
    progress: Progress | None = None,
) -> HeardFile:
    """Hear one sound file by itself.

    Parameters
    ----------
    path : Path or str
        The file.
    free_length : float, optional
        Free length of the ropes, if known. [m]
    order : sequence of int
        Rope numbers in the order plucked.
    plucks_each : int, optional
        How many plucks each rope got.
    progress : callable, optional
        Called with one line before a long file is read.

    Returns
    -------
    HeardFile
        What was heard; a file that cannot be used is a refusal in it.

    Examples
    --------
    What was heard in one file, by itself::

        print(hear_file("rope-1.m4a", free_length=3.4))
    """
    path = Path(path)
    if progress and is_large(path):
        progress(f"reading and hearing {path}")
    recording = sound_files.read_recording(path, name=str(path))
    spans = [
        RopeSpan(number=number, free_length=free_length)
        for number in sorted(set(order))
    ]
    take = Take(recording=recording, ropes=tuple(order), plucks_each=plucks_each)
    evidence = (hash_file(path),) if path.is_file() else ()
    return HeardFile(
        recording=recording, hearing=hear_set([take], spans), evidence=evidence
    )
