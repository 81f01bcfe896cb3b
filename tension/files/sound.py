"""Sound files in: decimated while reading, trouble as values, none under two names."""

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from functools import lru_cache
from itertools import combinations, product
from pathlib import Path
from typing import BinaryIO, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from tension.errors import reason_of
from tension.files.decimation import Samples
from tension.files.sound_stream import (
    DecodedSound,
    DecodedStream,
    SoundStream,
    open_track,
    too_long,
)
from tension.files.vibration import read_vibration
from tension.notes import Note, NoteKind, Refusal
from tension.sound.hearing import Recording

Name = TypeVar("Name")
Result = TypeVar("Result")

_DEAD_CHANNEL = 0.01  # a channel 40 dB under the other carries nothing
_OPPOSED = 0.3  # below this correlation a mean loses more than it gains

SAME = 12.0
"""How far the best shift stands over every other: of 92 made sets pairs of different
ropes reach 5.7 on building draws and passed 7 in two of 24 sets held out, and 12 in two
of 200 sets plucked at mid-span; copies cut, turned down and coded as music 12 and more,
coded for speech 6 to 13, which are mostly missed: a good rope refused is worse. [1]"""

MOST_ELSEWHERE = 1200.0  # so much sound of other series is held against one series [s]

# by what recordings are held against each other: rate and band [Hz], length [s]
_THIN_RATE = 1000.0
_THIN_HIGHEST = 400.0  # band by which recordings are compared [Hz]
_THIN_LONGEST = 120.0  # length by which recordings are compared [s]
_PEAK = 8  # half the width of a peak [samples]
_FLOOR = 1e-6  # bins that hold less of the strongest are no sound of the recording [1]

_Spectrum = NDArray[np.complex128]

_KINDS = (
    (b"%PDF", "pdf"),
    (b"\xff\xd8\xff", "picture"),
    (b"\x89PNG", "picture"),
    (b"GIF8", "picture"),
    (b"PK\x03\x04", "zip"),
    (b"Rar!", "archive"),
    (b"7z\xbc\xaf", "archive"),
    (b"\x1f\x8b", "archive"),
    (b"\x7fELF", "program"),
    (b"MZ", "program"),
    (b"SQLite format 3", "database"),
    (b"bplist", "settings"),
)
_UNKNOWN_LENGTH = 0xFFFFFFFF  # what a writer that was broken off leaves as length
_MOST_CHUNKS = 1000  # parts of a file that are looked through
_MUCH = 1_000_000  # what follows the sound is told from here on [byte]


def read_recording(source: Path | DecodedSound, *, name: str = "") -> Recording:
    """Read the sound track of a file, whatever its extension, or take decoded sound.

    Nothing is raised for a file that is missing, damaged or no sound: the reason stands
    in ``refusal``. Samples are decimated to about 4000 per second while reading, in one
    channel; tags of the file (place, time, person) are not read. It may be WAV, AIFF,
    FLAC, MP3, Ogg, Opus, M4A, AAC, 3GP, AMR, CAF, WebM, the sound of an MP4 or MOV
    video, or a CSV log of an acceleration sensor; the record may name it otherwise.
    """
    if isinstance(source, Path):
        name = name or source.name
    opened, rate = open_sound(source, name), 0.0
    found: Recording | Refusal
    if isinstance(opened, SoundStream):
        with closing(opened):
            found = _read(opened, name)
            rate = opened.sampling_rate
    elif isinstance(source, Path) and opened.code == NoteKind.FILE_IS_TEXT.code:
        found = read_vibration(source, name) or opened
    else:
        found = opened
    if isinstance(found, Refusal):
        return Recording(name=name, source_rate=rate, refusal=found)
    return found


def read_two_at_a_time(
    read: Callable[[Name], Result], names: Iterable[Name]
) -> list[Result]:
    """Read several files: decoding leaves the interpreter free for another.

    Where the system gives no threads they are read one by one.
    """
    from concurrent.futures import ThreadPoolExecutor
    from threading import Thread

    try:
        Thread(target=int).start()
    except RuntimeError:  # in a browser
        return list(map(read, names))
    with ThreadPoolExecutor(max_workers=2) as pool:
        return list(pool.map(read, names))


def _read(stream: SoundStream, name: str) -> Recording | Refusal:
    """Decode, decimate and judge one open sound track."""
    if stream.declared_length > stream.longest:
        return too_long(name, f"{stream.declared_length / 60:.0f} min", stream.longest)
    channels, rate = stream.decimated()
    if refusal := next(stream.refusals(name), None):
        return refusal
    samples, used, notes = _mixed_down(channels, name)
    notes += tuple(stream.notes(name))
    peak = max(-stream.levels.lowest, stream.levels.highest)
    if peak > 8.0:
        # floating-point samples on the scale of whole numbers
        samples, used = samples / np.float32(peak), ()
    clipped = stream.levels.clipped(used)
    if clipped.size:
        overdriven = float(np.diff(clipped, axis=1).sum())
        notes += (NoteKind.CLIPPED.note(recording=name, seconds=overdriven),)
    samples = np.ascontiguousarray(samples)
    samples.flags.writeable = False
    return Recording(
        name=name,
        samples=samples,
        sampling_rate=rate,
        source_rate=stream.sampling_rate,
        codec=stream.codec,
        clipped=clipped,
        notes=notes,
    )


def _mixed_down(
    channels: Samples, name: str
) -> tuple[Samples, tuple[int, ...], tuple[Note, ...]]:
    """Make one channel of one or two.

    Two channels that agree, shape (n_channels, n_samples) [1], are averaged; of two
    that do not, the louder is used. Gives the samples, the channels they were made of,
    counted from 0, and what was chosen and why.
    """
    if channels.shape[0] == 1:
        return channels[0], (0,), ()
    first, second = channels
    if np.array_equal(first, second):
        return first, (0,), ()
    power = np.array([_moment(row, row) for row in channels])
    louder = int(power.argmax())
    way = ""
    if power.min() <= _DEAD_CHANNEL**2 * power.max():
        way = "silent"
    elif _moment(first, second) < _OPPOSED * float(np.sqrt(power.prod())):
        way = "weaker"
    if way:
        note = NoteKind.ONE_CHANNEL.note(recording=name, channel=louder + 1, way=way)
        return channels[louder], (louder,), (note,)
    note = NoteKind.CHANNELS_AVERAGED.note(recording=name, n_channels=2)
    return channels.mean(axis=0, dtype=np.float32), (0, 1), (note,)


def _moment(first: Samples, second: Samples) -> float:
    """Return the mean product of two channels, their own means taken off."""
    product = float(np.dot(first, second)) / first.size
    return product - float(first.mean()) * float(second.mean())


class _Contents(NamedTuple):
    """What an ordinary file begins with, and how the sound lies in it."""

    head: bytes  # never empty
    # part of what a wave or AIFF file says to hold is not: decoders show no fault
    is_cut_off: bool = False
    end: int | None = None  # the byte where its sound ends, if much follows it


def open_sound(source: Path | DecodedSound, name: str) -> SoundStream | Refusal:
    """Open the sound track of a file, by its contents; it is to be closed."""
    if isinstance(source, DecodedSound):
        return DecodedStream(source)
    found = _look_into(source, name)
    if isinstance(found, Refusal):
        return found
    opened = open_track(source, found.end, name)
    if isinstance(opened, SoundStream):
        opened.is_broken_off = found.is_cut_off
    return opened or _refuse_by_contents(found.head, name)


def _look_into(path: Path, name: str) -> _Contents | Refusal:
    """Look into an ordinary file with something in it, or refuse it."""
    kind, reason = NoteKind.FILE_EMPTY, "it is no ordinary file"
    try:
        if path.is_dir():
            kind = NoteKind.FILE_IS_FOLDER
        elif not path.exists():
            kind = NoteKind.FILE_MISSING
        elif not path.is_file():
            kind = NoteKind.FILE_LOCKED
        else:
            with path.open("rb") as opened:
                if head := opened.read(4096):
                    found = _find_sound(opened, head)
                    return found or _refuse_by_contents(head, name)
    except OSError as error:
        kind, reason = NoteKind.FILE_LOCKED, reason_of(error)
    except ValueError:  # a name that no file can have
        kind = NoteKind.FILE_MISSING
    return kind.refusal(recording=name, reason=reason)


def _find_sound(opened: BinaryIO, head: bytes) -> _Contents | None:
    """Find where sound lies; None for a wave or AIFF file that has none."""
    is_wave = head[:4] == b"RIFF" and head[8:12] == b"WAVE"
    if not is_wave and not (head[:4] == b"FORM" and head[8:12] in {b"AIFF", b"AIFC"}):
        return _Contents(head)
    size = os.fstat(opened.fileno()).st_size
    opened.seek(12)
    for _ in range(_MOST_CHUNKS):
        chunk = opened.read(8)
        if len(chunk) < 8:
            break
        declared = int.from_bytes(chunk[4:], "little" if is_wave else "big")
        if chunk[:4] == (b"data" if is_wave else b"SSND"):
            is_known = 0 < declared < _UNKNOWN_LENGTH
            end = opened.tell() + declared if is_known else size
            return _Contents(head, end - size > 1, end if size - end > _MUCH else None)
        opened.seek(declared + declared % 2, os.SEEK_CUR)
    return None


def _refuse_by_contents(head: bytes, name: str) -> Refusal:
    """Say what a file that does not open as sound seems to be."""
    if not head.strip(b"\0"):
        return NoteKind.ALL_ZEROS.refusal(recording=name)
    if head[4:8] in {b"ftyp", b"mdat", b"wide", b"free"}:
        return NoteKind.INDEX_LOST.refusal(recording=name)
    for start, way in _KINDS:
        if head.startswith(start):
            return NoteKind.FILE_IS_OTHER.refusal(recording=name, way=way)
    if _is_text(head):
        return NoteKind.FILE_IS_TEXT.refusal(recording=name)
    return NoteKind.FILE_DAMAGED.refusal(recording=name)


def _is_text(head: bytes) -> bool:
    """Tell text from other bytes by its control characters."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff", b"\xef\xbb\xbf")):
        return True
    if any(byte < 9 or 13 < byte < 32 or byte == 127 for byte in head):
        return False
    try:
        head[:-4].decode("utf-8")
    except UnicodeDecodeError as error:
        # an older single-byte encoding: mostly plain letters all the same
        return error.start > 0 and sum(byte < 128 for byte in head) > 0.9 * len(head)
    return True


def find_same_sound(recordings: Sequence[Recording]) -> tuple[tuple[int, ...], ...]:
    """Find groups of recordings that hold one and the same sound, by their places.

    Notes
    -----
    Generalised cross-correlation with phase transform (C. H. Knapp, G. C. Carter, IEEE
    Trans. ASSP 24, 1976): every bin counts alike, so that the noise of the place, which
    never comes twice, decides, not the tones of the rope, which do.
    """
    waves = {i: _thinned(recording) for i, recording in enumerate(recordings)}
    groups: dict[int, set[int]] = {}
    for i, j in _alike(waves, combinations(waves, 2)):
        both = groups.get(i, {i}) | groups.get(j, {j})
        groups |= dict.fromkeys(both, both)
    found = {min(group): tuple(sorted(group)) for group in groups.values()}
    return tuple(found[i] for i in sorted(found))


def find_same_elsewhere(
    recordings: Sequence[Recording], others: Sequence[Path | DecodedSound]
) -> Mapping[int, int]:
    """Find recordings whose sound others hold as well, saved anew.

    Gives the place of the first other alike for each; at most `MOST_ELSEWHERE` of the
    sound of the others is looked at.
    """
    n_own = len(recordings)
    waves = {i: _thinned(recording) for i, recording in enumerate(recordings)}
    seconds = 0.0
    for j, other in enumerate(others):
        if seconds < MOST_ELSEWHERE:
            waves[n_own + j] = _wave_of(other)
            seconds += waves[n_own + j].size / _THIN_RATE
    found: dict[int, int] = {}
    for i, j in _alike(waves, product(range(n_own), range(n_own, len(waves)))):
        found.setdefault(i, j - n_own)
    return found


def _wave_of(sound: Path | DecodedSound) -> NDArray[np.float64]:
    """The beginning of the sound, of a file too; nothing if it has none."""
    if isinstance(sound, DecodedSound):
        return _thinned(read_recording(sound))
    try:
        state = sound.stat()
    except OSError:
        return np.empty(0)
    return _kept_wave(sound, state.st_size, state.st_mtime_ns).astype(np.float64)


@lru_cache(maxsize=128)
def _kept_wave(path: Path, size: int, changed: int) -> NDArray[np.float32]:
    """The same, kept: every series of a record asks for those of all others."""
    del size, changed  # another file under that name is read again
    return _thinned(read_recording(path)).astype(np.float32)


def _alike(
    waves: Mapping[int, NDArray[np.float64]], pairs: Iterable[tuple[int, int]]
) -> Iterator[tuple[int, int]]:
    """Yield the pairs that hold one sound; what holds none is like nothing."""
    longest = max((wave.size for wave in waves.values()), default=0)
    size = 1 << max(2 * longest - 1, 1).bit_length()
    spectra = {i: _whitened(wave, size) for i, wave in waves.items() if wave.size}
    for i, j in pairs:
        is_sound = i in spectra and j in spectra
        if is_sound and _likeness(spectra[i], spectra[j]) > SAME:
            yield i, j


def _likeness(one: _Spectrum, other: _Spectrum) -> float:
    """Tell how far [1] the best shift of two whitened spectra stands over others."""
    product = one * other.conj()
    if not product.any():
        return 0.0
    size = 2 * (one.size - 1)
    # a turned polarity is the same sound too
    table = np.abs(np.fft.irfft(product, size))
    best = int(table.argmax())
    around = np.arange(best - _PEAK, best + _PEAK + 1) % size
    peak = float(table[best])
    table[around] = 0.0
    return peak / float(table.max())


def _thinned(recording: Recording) -> NDArray[np.float64]:
    """The beginning of a recording under 400 Hz, at a rate common to all.

    Nothing of one that cannot be used, or is shorter than a second.
    """
    rate = recording.sampling_rate
    if recording.refusal is not None or recording.samples.size <= rate:
        return np.empty(0)
    samples = recording.samples[: int(_THIN_LONGEST * rate)].astype(np.float64)
    spectrum = np.fft.rfft(samples)
    spectrum[int(_THIN_HIGHEST / rate * samples.size) + 1 :] = 0
    smooth = np.fft.irfft(spectrum, samples.size)
    times = np.arange(0, samples.size / rate, 1 / _THIN_RATE)
    wave: NDArray[np.float64] = np.interp(times, np.arange(samples.size) / rate, smooth)
    return wave


def _whitened(wave: NDArray[np.float64], size: int) -> _Spectrum:
    """Phases of the bins that hold sound."""
    spectrum = np.fft.rfft(wave - wave.mean(), size)
    spectrum[int(_THIN_HIGHEST / _THIN_RATE * size) :] = 0
    level = np.abs(spectrum)
    is_sound = level > _FLOOR * level.max()
    return np.where(is_sound, spectrum / np.maximum(level, 1e-300), 0)
