"""Sound files in: any phone format, decimated while reading, trouble as values."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tension.files.sound_contents import find_missing_share, refuse_by_place
from tension.files.sound_decimation import Decimator, decimation_factor
from tension.files.sound_levels import SILENT_RANGE, LevelWatch, mix_down, tame
from tension.files.sound_stream import (
    HIGHEST_RATE,
    LOWEST_RATE,
    SoundStream,
    absurd_rate,
    open_sound,
    too_long,
)
from tension.files.vibration import read_vibration
from tension.notes import Note, NoteKind, Refusal
from tension.sound.recording import Recording

if TYPE_CHECKING:
    from collections.abc import Iterable

SHORTEST = 0.3
"""Shortest recording in which a rope could have been heard. [s]"""


def read_recording(path: Path, *, name: str = "") -> Recording:
    """Read the sound track of a file, whatever its extension.

    Nothing is raised for a file that is missing, damaged or no sound: the reason stands
    in ``refusal``. Samples are decimated to about 4000 per second while reading, in one
    channel; tags of the file (place, time, person) are not read.

    Parameters
    ----------
    path : Path
        The file: WAV, AIFF, FLAC, MP3, Ogg, Opus, M4A, AAC, 3GP, AMR, CAF, WebM, the
        sound of an MP4 or MOV video, or a CSV log of an acceleration sensor.
    name : str
        How the record names it; the file name if left out.

    Returns
    -------
    Recording
        The samples and what the reading found, or the refusal.
    """
    path = Path(path)
    name = name or path.name
    refusal = refuse_by_place(path, name)
    if refusal is not None:
        return _refused(name, refusal)
    opened = open_sound(path, name)
    if isinstance(opened, Refusal):
        return _read_text(path, name, opened)
    try:
        return _read(opened, path, name)
    finally:
        opened.close()


def _read_text(path: Path, name: str, refusal: Refusal) -> Recording:
    """Read a text as a log of an acceleration sensor, if it looks like one."""
    if refusal.code == NoteKind.FILE_IS_TEXT.code:
        log = read_vibration(path, name=name)
        if log.refusal is None or log.refusal.code != NoteKind.LOG_WITHOUT_HEADER.code:
            return log
    return _refused(name, refusal)


def _refused(name: str, refusal: Refusal, *, source_rate: float = 0.0) -> Recording:
    """Return a recording that holds only the reason why there is none."""
    return Recording(
        name=name,
        samples=_read_only(np.empty(0, dtype=np.float32)),
        sampling_rate=0.0,
        source_rate=source_rate,
        codec="",
        clipped=np.empty((0, 2)),
        refusal=refusal,
    )


def _read(stream: SoundStream, path: Path, name: str) -> Recording:
    """Decode, decimate and judge one open sound track."""
    if stream.declared_length > stream.longest:
        minutes = f"{stream.declared_length / 60:.0f} min"
        return _refused(name, too_long(name, minutes, stream.longest))
    channels, watch = _decimate(stream)
    rate = stream.sampling_rate
    refusal = _judge(stream, watch, name)
    if refusal is not None:
        return _refused(name, refusal, source_rate=rate)
    samples, used, notes = mix_down(channels, name)
    peak = max(-watch.lowest, watch.highest)
    if peak > 8.0:
        # floating-point samples on the scale of whole numbers
        samples = samples / np.float32(peak)
        used = ()
    clipped = watch.clipped(used)
    return Recording(
        name=name,
        samples=_read_only(np.ascontiguousarray(samples)),
        sampling_rate=rate / decimation_factor(rate),
        source_rate=rate,
        codec=stream.codec,
        clipped=clipped,
        notes=(*notes, *_find_notes(stream, path, name, clipped)),
    )


def _decimate(stream: SoundStream) -> tuple[NDArray[np.float32], LevelWatch]:
    """Read a stream to its end, keeping only the decimated samples."""
    decimator: Decimator | None = None
    watch = LevelWatch(sampling_rate=stream.sampling_rate)
    pieces: list[NDArray[np.float32]] = []
    for block in stream.blocks():
        if decimator is None:
            rate = stream.sampling_rate
            if not LOWEST_RATE <= rate <= HIGHEST_RATE:
                break
            watch = LevelWatch(sampling_rate=rate)
            decimator = Decimator(decimation_factor(rate), stream.n_channels)
        tamed = tame(block)
        watch.see(tamed)
        pieces.extend(decimator.push(tamed))
    if decimator is not None:
        pieces.extend(decimator.finish())
    if not pieces:
        return np.zeros((1, 0), dtype=np.float32), watch
    return np.concatenate(pieces, axis=1), watch


def _judge(stream: SoundStream, watch: LevelWatch, name: str) -> Refusal | None:
    """Say why what was decoded cannot be used at all; None if it can."""
    tally, rate = stream.tally, stream.sampling_rate
    length = tally.n_samples / rate if rate else 0.0
    n_read = tally.n_samples - tally.n_filled
    if n_read <= 0 or n_read < 0.5 * tally.n_samples:
        return NoteKind.FILE_DAMAGED.refusal(recording=name)
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        return absurd_rate(name, rate)
    if tally.is_too_long:
        minutes = f"more than {stream.longest / 60:.0f} min"
        return too_long(name, minutes, stream.longest)
    if length < SHORTEST:
        return NoteKind.TOO_SHORT.refusal(recording=name, seconds=length)
    return _judge_samples(stream, watch, name)


def _judge_samples(stream: SoundStream, watch: LevelWatch, name: str) -> Refusal | None:
    """Say why the samples themselves cannot be used; None if they can."""
    if stream.tally.n_not_numbers > 0.5 * stream.tally.n_samples:
        return NoteKind.NO_NUMBERS.refusal(recording=name)
    if not watch.has_any:
        return NoteKind.ALL_ZEROS.refusal(recording=name)
    if watch.highest - watch.lowest < SILENT_RANGE:
        return NoteKind.SILENT.refusal(recording=name)
    return None


def _find_notes(
    stream: SoundStream, path: Path, name: str, clipped: NDArray[np.float64]
) -> "Iterable[Note]":
    """Yield what the reader of a result must know of this file."""
    tally, rate = stream.tally, stream.sampling_rate
    length = tally.n_samples / rate
    is_short = length < 0.98 * stream.declared_length - 0.2
    if tally.is_changed:
        yield NoteKind.FORMAT_CHANGES.note(recording=name, seconds=length)
    elif tally.is_broken_off or is_short or find_missing_share(path) > 0:
        yield NoteKind.CUT_OFF.note(recording=name, seconds=length)
    if tally.n_filled:
        lost = tally.n_filled / rate
        yield NoteKind.PARTS_LOST.note(recording=name, seconds=lost)
    if tally.n_not_numbers:
        yield NoteKind.NOT_NUMBERS.note(recording=name, n_samples=tally.n_not_numbers)
    if "amr" in stream.codec:
        yield NoteKind.CODEC_CUTS_LOWS.note(recording=name, codec="AMR")
    elif tally.n_voice_packets > 0.5 * tally.n_packets:
        yield NoteKind.CODEC_CUTS_LOWS.note(recording=name, codec="Opus voice")
    if clipped.size:
        overdriven = float(np.diff(clipped, axis=1).sum())
        yield NoteKind.CLIPPED.note(recording=name, seconds=overdriven)


def _read_only(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Lock an array against writing."""
    samples.flags.writeable = False
    return samples
