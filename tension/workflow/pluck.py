"""What was heard in each sound file, by itself."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tension.files.evidence import FileEvidence, hash_file
from tension.files.sound import read_recording
from tension.sound.hear import hear_set
from tension.sound.hearing import RopeSpan, SetHearing
from tension.sound.recording import Recording, Take
from tension.workflow.listening import Progress, is_large


@dataclass(frozen=True, kw_only=True, slots=True)
class HeardFile:
    """One sound file and what was heard in it.

    Attributes
    ----------
    recording : Recording
        The sound, as read.
    hearing : SetHearing
        What was heard.
    evidence : tuple of FileEvidence
        Size and checksum; empty if the file does not exist.
    """

    recording: Recording
    hearing: SetHearing
    evidence: tuple[FileEvidence, ...]


def hear_file(
    path: Path,
    *,
    free_length: float | None = None,
    order: Sequence[int] = (1,),
    plucks_each: int | None = None,
    progress: Progress | None = None,
) -> HeardFile:
    """Hear one sound file by itself.

    Parameters
    ----------
    path : Path
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
    """
    if progress and is_large(path):
        progress(f"reading and hearing {path}")
    recording = read_recording(path, name=str(path))
    spans = [
        RopeSpan(number=number, free_length=free_length)
        for number in sorted(set(order))
    ]
    take = Take(recording=recording, ropes=tuple(order), plucks_each=plucks_each)
    evidence = (hash_file(path),) if path.is_file() else ()
    return HeardFile(
        recording=recording, hearing=hear_set([take], spans), evidence=evidence
    )
