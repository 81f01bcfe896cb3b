"""Spectra: noise floors, hum that is taken out, and the lines of decays."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from tension.sound.hearing import Array, HumLine

HIGHEST = 1200.0
"""Above it the partials of a rope have died within a tenth of a second. [Hz]"""


def power_of_two(least: float) -> int:
    """Give the length of a transform: the next power of two. [1]."""
    return 1 << int(np.ceil(np.log2(least)))


def first_of_each(
    values: NDArray[Any], least: float | Array | Callable[[int], Array], most: int
) -> list[int]:
    """Choose the first of each group of values that lie close, in order, so many.

    `values` (n,) or (n, n_columns), the best first; `least` distance of two groups in
    one of the columns, in the unit of each: of all, or of all to one.
    """
    kept: list[int] = []
    is_left = np.ones(len(values), dtype=bool)
    while is_left.any() and len(kept) < most:
        kept.append(int(np.argmax(is_left)))
        away = np.abs(values - values[kept[-1]])
        is_apart = away > (least(kept[-1]) if callable(least) else least)
        is_left &= is_apart.reshape(is_left.size, -1).any(axis=1)
    return kept


def noise_floor(powers: Array, spacing: float) -> Array:
    """Estimate the noise floor under lines from a low quantile of the neighbourhood.

    `powers` (n_frequencies,) [1]: power spectrum; `spacing` [Hz]: of the frequencies.
    Gives shape (n_frequencies,): mean noise power. [1]

    Notes
    -----
    Noise power is exponentially distributed: its 30 % quantile is 0.357 of its mean.
    Lines raise a low quantile little.
    """
    block = max(8, round(12.0 / spacing))
    n_blocks = max(1, powers.size // block)
    cut = powers[: n_blocks * block].reshape(n_blocks, -1)
    # the quantile by hand: numpy's own takes longer about than over it
    place = 0.3 * (cut.shape[1] - 1)
    first = int(place)
    cut = np.partition(cut, (first, min(first + 1, cut.shape[1] - 1)), axis=1)
    low = cut[:, first] + (place - first) * (cut[:, first + 1] - cut[:, first])
    low /= 0.3567
    low = np.maximum(low, 1e-30 + 1e-12 * float(low.max()))
    logarithm = np.log(low)
    if n_blocks > 2:
        padded = np.pad(logarithm, 1, mode="edge")
        logarithm = np.median(np.stack([padded[:-2], padded[1:-1], padded[2:]]), axis=0)
    centres = (np.arange(n_blocks) + 0.5) * block
    return np.asarray(np.exp(np.interp(np.arange(powers.size), centres, logarithm)))


def peaks_over(levels: Array, least: float) -> NDArray[np.intp]:
    """Find peaks over a least level [1], (n_peaks,), in levels (n_frequencies,)."""
    inner = levels[1:-1]
    is_peak = (inner > levels[:-2]) & (inner >= levels[2:]) & (inner > least)
    return 1 + np.flatnonzero(is_peak)


def amplitudes(samples: Array, sampling_rate: float, frequencies: Array) -> Array:
    """Amplitudes (n_lines,) [1] of lines [Hz] in a stretch (n_samples,) [1]."""
    window = np.hanning(samples.size)
    n_transform = power_of_two(8 * samples.size)
    spectrum = np.abs(np.fft.rfft(samples * window, n_transform))
    index = np.rint(frequencies * n_transform / sampling_rate).astype(int)
    found = spectrum[np.clip(index, 0, spectrum.size - 1)]
    return np.asarray(2.0 * found / window.sum())


MAINS = (50.0, 60.0)  # mains frequencies [Hz]
DRIFT = 4e-3
"""They stray by so much at most, even in a small building grid; relative. [1]"""
STEP = 5e-5  # of the mains frequencies tried, relative: 0.05 Hz at 1000 Hz [1]
CHUNK = 60.0  # mains wander: one frequency for so long [s]
MOST_COUNTED = 6.0
"""ln of level over noise of a multiple beyond which it counts no more. [1]"""
CLEAR = 3.0  # ln of level over noise of a multiple that is heard [1]
PLATEAU = 0.8
"""Of the most that multiples hold: neighbouring frequencies that hold so much are held
against each other by their clear multiples alone. [1]"""
COURSE = 1.0  # window in which the amplitude of a multiple is followed [s]
FLAT = 0.6
"""Lowest tenth of the amplitudes over the highest tenth, of a tone that does not ring:
a partial falls between plucks and rises at them. [1]"""
BESIDE, BESIDE_SHARE = 0.2, 1e-3
"""A line so near hum that was taken out may be what its wander left. [Hz, 1]"""
LEAST_WINDOWS = 2  # fewer tell no course [1]


def off_mains(frequencies: Array) -> Array:
    """How far lines [Hz] are off multiples of each of the mains, (2, n_lines). [Hz]."""
    mains = np.array(MAINS)[:, None]
    order = np.maximum(np.rint(frequencies / mains), 1.0)
    return np.asarray(np.abs(frequencies - order * mains))


def remove_hum(
    samples: NDArray[np.floating], rate: float
) -> tuple[NDArray[np.float32], tuple[HumLine, ...]]:
    """Take hum out of a recording.

    `samples` (n_samples,) [1]: the recording; `rate` [Hz]: sampling rate. Gives the
    recording without it (n_samples,) [1], and what was taken out of the first minute
    that held any.

    Notes
    -----
    Nothing needs to stand before the pluck. Hum lies at exact multiples of one mains
    frequency and keeps its amplitude through plucks and rings; a partial does not. Each
    multiple that is heard and keeps its level is demodulated, smoothed over `COURSE`,
    and subtracted.
    """
    cleaned = np.array(samples, dtype=np.float32)
    found: tuple[HumLine, ...] = ()
    length = round(CHUNK * rate)
    for first in range(0, cleaned.size, length):
        part = cleaned[first : first + length].astype(np.float64)
        frequencies, levels = _heard_multiples(part, rate)
        if not frequencies.size:
            continue
        is_flat = _flatness(part, rate, frequencies) > FLAT
        if is_flat.any():
            _take_out(part, rate, frequencies[is_flat])
        cleaned[first : first + length] = part
        if not found:
            lines = np.stack([frequencies, levels], axis=1)[is_flat].tolist()
            found = tuple(HumLine(frequency=f, level=level) for f, level in lines)
    return cleaned, found


def _heard_multiples(samples: Array, rate: float) -> tuple[Array, Array]:
    """Multiples of the likeliest mains frequency that stand out, and their levels."""
    nothing = np.empty(0), np.empty(0)
    if samples.size < 0.3 * rate:
        return nothing
    n_transform = power_of_two(4 * samples.size)
    spectrum = np.fft.rfft(samples * np.hanning(samples.size), n_transform)
    powers = spectrum.real**2 + spectrum.imag**2
    spacing = rate / n_transform
    levels = np.log(powers / np.maximum(noise_floor(powers, spacing), 1e-300) + 1e-12)
    steps = np.arange(-DRIFT, DRIFT + 0.5 * STEP, STEP)
    best, most = nothing, 0.0
    top = min(HIGHEST, 0.45 * rate)
    for mains in MAINS:
        order = np.arange(1.0, np.floor(top / mains) + 1.0)
        tried = mains * (1.0 + steps)[:, None] * order
        heard = levels[np.rint(tried / spacing).astype(int)]
        total = np.clip(heard, 0.0, MOST_COUNTED).sum(axis=1)
        row = int(np.argmax(total))
        if total[row] > most:
            most = float(total[row])
            # of those that hold as much, the one whose clear multiples are highest
            own = heard[:, heard[row] > CLEAR].sum(axis=1)
            row = int(np.argmax(np.where(total > PLATEAU * most, own, -np.inf)))
            clear = heard[row] > CLEAR
            best = tried[row][clear], heard[row][clear] * 10.0 / np.log(10.0)
    return best


def _flatness(samples: Array, rate: float, frequencies: Array) -> Array:
    """Lowest over highest tenth of the amplitudes of tones through a recording."""
    length = round(min(COURSE, 0.5 * samples.size / rate) * rate)
    hop = max(1, length // 2)
    if samples.size < LEAST_WINDOWS * hop or length < 2:
        return np.ones(frequencies.size)
    view = np.lib.stride_tricks.sliding_window_view(samples, length)[::hop]
    moments = np.arange(length)[:, None] / rate
    kernel = np.hanning(length)[:, None] * np.exp(-2j * np.pi * moments * frequencies)
    low, high = np.percentile(np.abs(view @ kernel), [10.0, 90.0], axis=0)
    return np.asarray(low / np.maximum(high, 1e-30))


def _take_out(samples: Array, rate: float, frequencies: Array) -> None:
    """Take tones [Hz] whose amplitude and phase change slowly out of a stretch."""
    n_samples = samples.size
    length = min(round(2.0 * COURSE * rate), n_samples) | 1
    window = np.hanning(length + 2)[1:-1]
    moments = -2j * np.pi * np.arange(n_samples) / rate
    size = power_of_two(n_samples + length)
    kernel = np.fft.fft(window, size)
    middle = slice(length // 2, length // 2 + n_samples)
    # of the window only what lies within the stretch counts
    sums = np.concatenate([[0.0], np.cumsum(window)])
    places = np.arange(n_samples) + length // 2 + 1
    weight = sums[np.minimum(places, length)]
    weight -= sums[np.maximum(places - n_samples, 0)]
    for frequency in frequencies.tolist():
        turn = np.exp(frequency * moments)
        slow = np.fft.ifft(np.fft.fft(samples * turn, size) * kernel)[middle] / weight
        samples -= 2.0 * np.real(slow * np.conj(turn))


LOWEST_LINE = 8.0  # recorders and floors rumble below it [Hz]
SCALES = (4.8, 2.4, 1.2, 0.6, 0.3)
"""Lengths of the windows: partials die within 0.1 s at 500 Hz, ring for 10 s at 10 Hz.
A window fits a decay best when it is about twice the decay time. [s]"""
OVERSAMPLING = 4
"""Points per 1/duration: a parabola then finds a peak within 1e-3 of that."""
STRAY_REACHES = (25.0, 100.0)  # neighbourhoods in which stray lines are counted [Hz]
STRAY_DEPTH = 10.0  # lines so far under the envelope are as often stray as not [dB]
SLOPE = 25.0
"""Fall of the envelope away from a line: a recorder's low cut of fourth order. [dB]"""
STRAY_SHARE = 0.3  # share of lines that belong to no series, before listening [1]


@dataclass(frozen=True, kw_only=True, slots=True)
class Lines:
    """Peaks of a ring spectrum, one array element each, in order of frequency."""

    frequencies: Array  # where they are [Hz], shape (n_lines,)
    # standard uncertainty of the frequencies from noise [Hz], shape (n_lines,)
    uncertainties: Array
    levels: Array  # power over the noise floor [1], shape (n_lines,)
    # length of the window in which each stands out most [s], shape (n_lines,)
    durations: Array
    # density of noise peaks as high as each [1/Hz], shape (n_lines,)
    false_densities: Array
    # of lines as high that belong to nothing, noise too [1/Hz], shape (n_lines,)
    densities: Array
    # belief that the line belongs to a ring rather than to hum [1], shape (n_lines,)
    weights: Array

    @property
    def strengths(self) -> Array:
        """Ln of how much likelier each is as a partial than as stray, (n_lines,)."""
        return self.weights * np.log1p(0.02 / self.densities)

    def start(self, share: float) -> float:
        """Give the frequency under which a share of the strength lies. [Hz]."""
        strength = np.cumsum(self.strengths)
        return float(self.frequencies[np.searchsorted(strength, share * strength[-1])])

    def below(self, top: float) -> Self:
        """Keep the lines up to a frequency [Hz]."""
        count = int(np.searchsorted(self.frequencies, top))
        names = [each.name for each in fields(self)]
        return replace(self, **{name: getattr(self, name)[:count] for name in names})


@lru_cache(maxsize=64)
def ring_window(length: int) -> Array:
    """Window (length,) for a decaying ring: a fast rise over a quarter, a slow fall."""
    rise = max(2, length // 4)
    window = np.empty(length)
    window[:rise] = 0.5 - 0.5 * np.cos(np.pi * (np.arange(rise) + 0.5) / rise)
    fall = length - rise
    window[rise:] = 0.5 + 0.5 * np.cos(np.pi * (np.arange(fall) + 0.5) / fall)
    window.setflags(write=False)
    return window


def ring_powers(cut: Array, n_transform: int, window: Array | None = None) -> Array:
    """Power spectrum (n_frequencies,) over the power of the window, that of a ring."""
    window = ring_window(cut.size) if window is None else window
    spectrum = np.fft.rfft(cut * window, n_transform)
    return np.asarray((spectrum.real**2 + spectrum.imag**2) / np.sum(window**2))


def find_lines(
    rings: list[Array], sampling_rate: float, hum: Sequence[float] = (), most: int = 160
) -> Lines:
    """Find the lines of the rings of one rope, each in the window that suits its decay.

    `rings` (n_samples,) [1]: from shortly after the onset, at one `sampling_rate` [Hz];
    `hum` [Hz]: taken out, lines left beside it are not believed.

    Notes
    -----
    Whitened power spectra of the rings are averaged per window length, so that several
    plucks speak before anything is decided. A line belongs to the window in which its
    log-likelihood ratio is highest; peaks within 0.8 of that window's resolution are
    the same line. A peak of a Hann-like window is located to ``0.55 / (duration *
    sqrt(level))``, the Cramér-Rao bound of an undamped line times 1.4 for the window.
    """
    longest = max(ring.size for ring in rings) / sampling_rate
    scales = [scale for scale in SCALES if scale < 0.85 * longest]
    scales = [min(longest, 1.25 * SCALES[0]), *scales]
    floors = [noise_densities(ring, sampling_rate) for ring in rings]
    found = [_peaks(rings, floors, sampling_rate, scale) for scale in scales]
    frequency, level, duration, count = (
        np.concatenate([one[k] for one in found]) for k in range(4)
    )
    order = np.argsort(-count * (level - 1.0 - np.log(level)))
    f, t = frequency[order], duration[order]
    keep = order[
        first_of_each(f, lambda k: np.asarray(0.8 / np.minimum(t, t[k])), most)
    ]
    keep = keep[np.argsort(frequency[keep])]
    f, z, t, n = (each[keep] for each in (frequency, level, duration, count))
    excess = np.minimum(n * (z - 1.0 - np.log(z)), 300.0)
    lines = Lines(
        frequencies=f,
        uncertainties=0.55 / (t * np.sqrt(z * n)),
        levels=z,
        durations=t,
        # a cell of 1/duration shows a peak as high as this by chance
        false_densities=t * (1.0 + n * z) * np.exp(-excess - 1.0),
        densities=np.ones(f.size),
        weights=np.ones(f.size),
    )
    # what is left beside hum that was taken out is not believed
    away = np.abs(f[:, None] - np.asarray(hum)).min(axis=1, initial=np.inf)
    reach = np.maximum(BESIDE + BESIDE_SHARE * f, 0.6 / t)
    return believed(lines, np.where(away < reach, 0.0, 1.0))


def believed(lines: Lines, weights: Array) -> Lines:
    """Give lines their beliefs, and the density of stray lines that follows.

    `weights` (n_lines,): belief that each belongs to a ring.

    Notes
    -----
    Of the lines nearby that are as high, to 3 dB, three in ten count as stray if they
    reach the envelope, all if they lie far under it. Nearby is within 25 or 100 Hz,
    whichever is denser: talk is dense in places.
    """
    f = lines.frequencies
    as_high = lines.levels[None, :] >= 0.5 * lines.levels[:, None]
    density = np.zeros(f.size)
    for reach in STRAY_REACHES:
        near = np.abs(f[:, None] - f[None, :]) < reach
        count = np.maximum((near & as_high) @ weights, 1.0)
        width = np.minimum(f + reach, HIGHEST) - np.maximum(f - reach, 0.0)
        density = np.maximum(density, count / width)
    heard = replace(lines, weights=weights)
    under = envelope(heard, f) - 10.0 * np.log10(lines.levels) - STRAY_DEPTH
    share = STRAY_SHARE + (1.0 - STRAY_SHARE) / (1.0 + np.exp(-under / 3.0))
    return replace(heard, densities=share * density + lines.false_densities)


def envelope(lines: Lines, frequencies: Array) -> Array:
    """Level that partials near some frequencies would have.

    `frequencies` (...) [Hz]: where. Gives shape (...): the highest line nearby, less
    ``SLOPE`` per octave of distance. [dB]
    """
    real = lines.weights > 0.5
    if not real.any():
        return np.zeros_like(frequencies)
    octaves = np.linspace(0.0, np.log2(2.0 * HIGHEST), 300)
    level = 10.0 * np.log10(lines.levels[real])
    away = np.abs(octaves[:, None] - np.log2(lines.frequencies[real])[None, :])
    height = np.max(level[None, :] - SLOPE * away, axis=1)
    return np.asarray(np.interp(np.log2(np.maximum(frequencies, 1.0)), octaves, height))


def noise_densities(ring: Array, sampling_rate: float) -> tuple[Array, Array]:
    """Frequencies [Hz], and the noise under the lines of one ring (n_samples,) there.

    Both (n_frequencies,); the noise as the variance of white noise as dense. [1]
    """
    cut = ring[: round(SCALES[0] * sampling_rate)]
    n_transform = power_of_two(cut.size)
    powers = ring_powers(cut, n_transform)
    spacing = sampling_rate / n_transform
    return spacing * np.arange(float(powers.size)), noise_floor(powers, spacing)


def _peaks(
    rings: list[Array],
    floors: list[tuple[Array, Array]],
    sampling_rate: float,
    scale: float,
) -> tuple[Array, ...]:
    """Peaks in windows of one length: frequency, level, duration, rings averaged."""
    length = round(scale * sampling_rate)
    n_transform = power_of_two(OVERSAMPLING * length)
    spacing = sampling_rate / n_transform
    n_keep = int(min(HIGHEST, 0.46 * sampling_rate) / spacing)
    grid = spacing * np.arange(n_keep)
    total = np.zeros(n_keep)
    weights = []
    for ring, (frequencies, floor) in zip(rings, floors, strict=True):
        cut = ring[:length]
        if cut.size < 0.6 * length:
            continue
        window = ring_window(cut.size)
        spectrum = np.fft.rfft(cut * window, n_transform)[:n_keep]
        powers = spectrum.real**2 + spectrum.imag**2
        powers /= np.interp(grid, frequencies, floor) * np.sum(window**2)
        weights.append(cut.size / length)
        total += weights[-1] * powers
    weight = np.array(weights)
    count = float(weight.sum() ** 2 / np.sum(weight**2))
    levels = total / weight.sum()
    # one false peak in some 500 cells
    peak = peaks_over(levels, 1.0 + 5.0 / np.sqrt(count) + 0.5 / count)
    peak = peak[peak * spacing >= max(LOWEST_LINE, 2.0 / scale)]
    peak = _without_leaks(levels, peak, spacing * scale)
    left, middle, right = (np.log(levels[peak + k] + 1e-12) for k in (-1, 0, 1))
    curvature = np.minimum(left - 2.0 * middle + right, -1e-9)
    offset = np.clip(0.5 * (left - right) / curvature, -0.5, 0.5)
    place = (peak + offset) * spacing
    return place, levels[peak], np.full(place.size, scale), np.full(place.size, count)


def _without_leaks(
    levels: Array, peak: NDArray[np.intp], cells: float
) -> NDArray[np.intp]:
    """Leave out peaks that are side lobes of others; a point is so many cells wide."""
    away = np.abs(peak[:, None] - peak[None, :]) * cells
    fall = 13.0 + 18.0 * np.log2(np.maximum(away / 2.0, 1.0))
    np.fill_diagonal(fall, 1.0)
    leak = levels[peak][None, :] * 10.0 ** (-0.1 * fall)
    return np.asarray(peak[levels[peak] > leak.max(axis=1, initial=0.0)])
