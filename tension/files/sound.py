"""Sound files in: decimated while reading, trouble as values, none under two names."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import combinations
from pathlib import Path
from threading import Thread
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from tension.files.sound_contents import (
    find_sound_chunk,
    refuse_by_place,
    refused,
)
from tension.files.sound_stream import (
    HIGHEST_RATE,
    LOWEST_RATE,
    Decimator,
    DecodedSound,
    DecodedStream,
    Samples,
    SoundStream,
    Tally,
    absurd_rate,
    decimation_factor,
    open_sound,
    too_long,
)
from tension.files.vibration import read_vibration
from tension.notes import Note, NoteKind, Refusal
from tension.sound.recording import Recording

Name = TypeVar("Name")
Result = TypeVar("Result")

Track = SoundStream | DecodedStream

SILENT_RANGE = 4e-5
"""A recording that moves less than this is silent: about one step of 16 bit. [1]"""

_FULL_SCALE = 0.999
_DEAD_CHANNEL = 0.01  # a channel 40 dB under the other carries nothing
_OPPOSED = 0.3  # below this correlation a mean loses more than it gains
_MERGE_WITHIN = 0.02  # stretches closer than this are one [s]
_ABSURD_SAMPLE = 1e6

SAME = 12.0
"""How far the best shift stands over every other: of 92 made sets pairs of different
ropes reach 5.7 on building draws and passed 7 in two of 24 sets held out, and 12 in two
of 200 sets plucked at mid-span; copies cut, turned down and coded as music 12 and more,
coded for speech 6 to 13, which are mostly missed: a good rope refused is worse. [1]"""

MOST_ELSEWHERE = 1200.0
"""So much sound of other series is held against one series. [s]"""

# by what recordings are held against each other: rate and band [Hz], length [s]
_THIN_RATE = 1000.0
_THIN_HIGHEST = 400.0
_THIN_LONGEST = 120.0
_PEAK = 8
"""Half the width of a peak. [samples]"""
_FLOOR = 1e-6
"""Bins that hold less of the strongest are no sound of the recording. [1]"""

_Spectrum = NDArray[np.complex128]


@dataclass(kw_only=True, slots=True)
class LevelWatch:
    """What is watched at the full sampling rate [Hz] while the blocks pass by."""

    sampling_rate: float
    lowest: float = float("inf")  # extremes of all channels so far
    highest: float = float("-inf")
    has_any: bool = False  # whether any sample differs from zero
    # channel, start and end of stretches at full scale [s]
    stretches: list[tuple[int, float, float]] = field(default_factory=list)
    _n_before: int = 0  # samples of the blocks before

    def see(self, block: Samples) -> None:
        """Watch the next block, shape (n_channels, n_samples). [1]."""
        low, high = float(block.min()), float(block.max())
        self.lowest, self.highest = min(self.lowest, low), max(self.highest, high)
        self.has_any = self.has_any or low != 0 or high != 0
        if max(-low, high) >= _FULL_SCALE:
            for channel, samples in enumerate(block):
                stretches = self._at_full_scale(samples)
                self.stretches += [(channel, a, b) for a, b in stretches.tolist()]
        self._n_before += block.shape[1]

    def _at_full_scale(self, samples: Samples) -> NDArray[np.float64]:
        """Where at least three samples in a row stand at full scale. [s]."""
        is_full = np.abs(samples) >= _FULL_SCALE
        edges = np.flatnonzero(np.diff(is_full, prepend=False, append=False))
        pairs = edges.reshape(-1, 2)
        pairs = pairs[pairs[:, 1] - pairs[:, 0] >= 3]
        return _merged((pairs + self._n_before) / self.sampling_rate)

    def clipped(self, channels: tuple[int, ...]) -> NDArray[np.float64]:
        """Return where [s] any of some channels is overdriven, shape (n_clipped, 2)."""
        wanted = sorted((a, b) for one, a, b in self.stretches if one in channels)
        clipped = _merged(np.array(wanted, dtype=np.float64).reshape(-1, 2))
        clipped.flags.writeable = False
        return clipped


def _merged(stretches: NDArray[np.float64]) -> NDArray[np.float64]:
    """Stretches [s] in order of their starts, those that nearly touch as one."""
    if not len(stretches):
        return stretches
    starts, ends = stretches[:, 0], np.maximum.accumulate(stretches[:, 1])
    is_apart = starts[1:] - ends[:-1] > _MERGE_WITHIN
    firsts, lasts = np.r_[True, is_apart], np.r_[is_apart, True]
    return np.column_stack([starts[firsts], ends[lasts]])


def tame(block: Samples) -> Samples:
    """Put silence where a sample [1] is beyond any scale, as flipped bits make them."""
    if max(-float(block.min()), float(block.max())) < _ABSURD_SAMPLE:
        return block
    return np.where(np.abs(block) < _ABSURD_SAMPLE, block, np.float32(0))


def mix_down(
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


SHORTEST = 0.3
"""Shortest recording in which a rope could have been heard. [s]"""


def read_recording(path: Path, *, name: str = "") -> Recording:
    """Read the sound track of a file, whatever its extension.

    Nothing is raised for a file that is missing, damaged or no sound: the reason stands
    in ``refusal``. Samples are decimated to about 4000 per second while reading, in one
    channel; tags of the file (place, time, person) are not read. It may be WAV, AIFF,
    FLAC, MP3, Ogg, Opus, M4A, AAC, 3GP, AMR, CAF, WebM, the sound of an MP4 or MOV
    video, or a CSV log of an acceleration sensor; the record may name it otherwise.
    """
    path = Path(path)
    name = name or path.name
    opened = refuse_by_place(path, name) or open_sound(path, name)
    if not isinstance(opened, Refusal):
        with closing(opened):
            return _read(opened, path, name)
    if opened.code == NoteKind.FILE_IS_TEXT.code:
        log = read_vibration(path, name)
        if log.refusal is None or log.refusal.code != NoteKind.LOG_WITHOUT_HEADER.code:
            return log
    return refused(name, opened)


def read_two_at_a_time(
    read: Callable[[Name], Result], names: Iterable[Name]
) -> list[Result]:
    """Read several files: decoding leaves the interpreter free for another.

    Where the system gives no threads they are read one by one.
    """
    from concurrent.futures import ThreadPoolExecutor

    try:
        Thread(target=int).start()
    except RuntimeError:  # in a browser
        return list(map(read, names))
    with ThreadPoolExecutor(max_workers=2) as pool:
        return list(pool.map(read, names))


def recording_of(sound: DecodedSound, name: str) -> Recording:
    """Take decoded sound as a file is taken: decimated, in one channel, judged."""
    if not sound.samples.size:
        return refused(name, NoteKind.TOO_SHORT.refusal(recording=name, seconds=0.0))
    return _read(DecodedStream(sound), None, name)


def _read(stream: Track, path: Path | None, name: str) -> Recording:
    """Decode, decimate and judge one open sound track."""
    if stream.declared_length > stream.longest:
        minutes = f"{stream.declared_length / 60:.0f} min"
        return refused(name, too_long(name, minutes, stream.longest))
    channels, watch = _decimate(stream)
    rate = stream.sampling_rate
    refusal = _judge(stream, watch, name)
    if refusal is not None:
        return refused(name, refusal, source_rate=rate)
    samples, used, notes = mix_down(channels, name)
    peak = max(-watch.lowest, watch.highest)
    if peak > 8.0:
        # floating-point samples on the scale of whole numbers
        samples = samples / np.float32(peak)
        used = ()
    clipped = watch.clipped(used)
    samples = np.ascontiguousarray(samples)
    samples.flags.writeable = False
    return Recording(
        name=name,
        samples=samples,
        sampling_rate=rate / decimation_factor(rate),
        source_rate=rate,
        codec=stream.codec,
        clipped=clipped,
        notes=(*notes, *_find_notes(stream, path, name, clipped)),
    )


def _decimate(stream: Track) -> tuple[Samples, LevelWatch]:
    """Read a stream to its end, keeping only the decimated samples."""
    decimator: Decimator | None = None
    watch = LevelWatch(sampling_rate=stream.sampling_rate)
    pieces: list[Samples] = []
    for block in stream.blocks():
        if decimator is None:
            watch.sampling_rate = stream.sampling_rate  # known from the first on
            if not LOWEST_RATE <= watch.sampling_rate <= HIGHEST_RATE:
                break
            factor = decimation_factor(watch.sampling_rate)
            decimator = Decimator(factor, stream.n_channels)
        tamed = tame(block)
        watch.see(tamed)
        pieces.extend(decimator.push(tamed))
    if decimator is not None:
        pieces.extend(decimator.finish())
    if not pieces:
        return np.zeros((1, 0), dtype=np.float32), watch
    return np.concatenate(pieces, axis=1), watch


def _judge(stream: Track, watch: LevelWatch, name: str) -> Refusal | None:
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
    return _judge_samples(tally, watch, name)


def _judge_samples(tally: Tally, watch: LevelWatch, name: str) -> Refusal | None:
    """Say why the samples themselves cannot be used; None if they can."""
    if tally.n_not_numbers > 0.5 * tally.n_samples:
        return NoteKind.NO_NUMBERS.refusal(recording=name)
    if not watch.has_any:
        return NoteKind.ALL_ZEROS.refusal(recording=name)
    if watch.highest - watch.lowest < SILENT_RANGE:
        return NoteKind.SILENT.refusal(recording=name)
    return None


def _find_notes(
    stream: Track, path: Path | None, name: str, clipped: NDArray[np.float64]
) -> Iterable[Note]:
    """Yield what the reader of a result must know of this file."""
    tally, rate = stream.tally, stream.sampling_rate
    length = tally.n_samples / rate
    is_short = length < 0.98 * stream.declared_length - 0.2
    chunk = find_sound_chunk(path) if path else None
    if tally.is_changed:
        yield NoteKind.FORMAT_CHANGES.note(recording=name, seconds=length)
    elif tally.is_broken_off or is_short or (chunk and chunk.missing_share > 0):
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


def find_same_sound(recordings: Sequence[Recording]) -> tuple[tuple[int, ...], ...]:
    """Find groups of recordings that hold one and the same sound, by their places.

    Notes
    -----
    Generalised cross-correlation with phase transform (C. H. Knapp, G. C. Carter, IEEE
    Trans. ASSP 24, 1976): every bin counts alike, so that the noise of the place, which
    never comes twice, decides, not the tones of the rope, which do.
    """
    spectra = _spectra(
        {i: _thinned(recording) for i, recording in enumerate(recordings)}
    )
    groups: dict[int, set[int]] = {i: {i} for i in spectra}
    for i, j in combinations(spectra, 2):
        if groups[i] is not groups[j] and likeness(spectra[i], spectra[j]) > SAME:
            groups[i] |= groups[j]
            for k in groups[j]:
                groups[k] = groups[i]
    found = {min(group): tuple(sorted(group)) for group in groups.values()}
    return tuple(found[i] for i in sorted(found) if len(found[i]) > 1)


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
    spectra = _spectra(waves)
    found: dict[int, int] = {}
    for i in [i for i in spectra if i < n_own]:
        for j in [j for j in spectra if j >= n_own]:
            if i not in found and likeness(spectra[i], spectra[j]) > SAME:
                found[i] = j - n_own
    return found


def _wave_of(sound: Path | DecodedSound) -> NDArray[np.float64]:
    """The beginning of the sound, of a file too; nothing if it has none."""
    if isinstance(sound, DecodedSound):
        return _thinned(recording_of(sound, ""))
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


def _spectra(waves: Mapping[int, NDArray[np.float64]]) -> dict[int, _Spectrum]:
    """Whitened spectra on one grid; none of what holds no sound."""
    longest = max((wave.size for wave in waves.values()), default=0)
    size = 1 << max(2 * longest - 1, 1).bit_length()
    return {i: _whitened(wave, size) for i, wave in waves.items() if wave.size}


def likeness(one: _Spectrum, other: _Spectrum) -> float:
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
    phases: _Spectrum = np.where(is_sound, spectrum / np.maximum(level, 1e-300), 0)
    return phases
