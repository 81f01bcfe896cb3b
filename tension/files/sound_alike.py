"""One recording under several names: the same wave, moved, scaled or coded anew."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tension.files.sound import read_recording, recording_of
from tension.files.sound_stream import DecodedSound
from tension.sound.recording import Recording

SAME = 12.0
"""How far the best shift stands over every other: of 92 made sets pairs of different
ropes reach 5.7 on building draws and passed 7 in two of 24 sets held out; copies cut,
turned down and coded as music 12 and more, coded for speech 6 to 13, which are mostly
missed: a good rope refused is worse. [1]"""

MOST_ELSEWHERE = 1200.0
"""So much sound of other series is held against one series. [s]"""

_RATE = 1000.0
_HIGHEST = 400.0
_LONGEST = 120.0
_PEAK = 8
"""Half the width of a peak. [samples]"""
_FLOOR = 1e-6
"""Bins that hold less of the strongest are no sound of the recording. [1]"""

_Spectrum = NDArray[np.complex128]


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
            seconds += waves[n_own + j].size / _RATE
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
    samples = recording.samples[: int(_LONGEST * rate)].astype(np.float64)
    spectrum = np.fft.rfft(samples)
    spectrum[int(_HIGHEST / rate * samples.size) + 1 :] = 0
    smooth = np.fft.irfft(spectrum, samples.size)
    times = np.arange(0, samples.size / rate, 1 / _RATE)
    wave: NDArray[np.float64] = np.interp(times, np.arange(samples.size) / rate, smooth)
    return wave


def _whitened(wave: NDArray[np.float64], size: int) -> _Spectrum:
    """Phases of the bins that hold sound."""
    spectrum = np.fft.rfft(wave - wave.mean(), size)
    spectrum[int(_HIGHEST / _RATE * size) :] = 0
    level = np.abs(spectrum)
    is_sound = level > _FLOOR * level.max()
    phases: _Spectrum = np.where(is_sound, spectrum / np.maximum(level, 1e-300), 0)
    return phases
