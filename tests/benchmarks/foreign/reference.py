"""The fundamental of a recorded note, measured from the partials of the untouched file.

Partials are peaks of a long Hann-windowed spectrum, numbered outwards from a start, and
fitted robustly by f_n = n f_0 sqrt(1 + B n^2) (a stiff string between hinges, e.g.
Fletcher and Rossing, The Physics of Musical Instruments, 2.18). The start comes from a
method of another kind, the difference function of de Cheveigné and Kawahara (YIN,
J. Acoust. Soc. Am. 111(4), 2002, 1917-1930), near the note's name or an octave off it.
A note is dropped, with a reason, wherever this could be misled.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

Array = NDArray[np.float64]

HIGHEST_PARTIAL = 40
FEWEST_PARTIALS = 4
WORST_RESIDUAL = 5.0
"""Root of the weighted mean square over the partials. [cent]"""
WORST_GLIDE = 0.008
PORTIONS = (12, 25, 50, 100, 200)
"""Parts of a ring from its start, in periods; plucked hard, a string starts sharp."""
UNISON = 4.0
"""Two peaks farther apart than this are two strings. [cent]"""
CENT = 1200.0 / np.log(2.0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Reference:
    """What the partials of one ring say.

    Attributes
    ----------
    first_mode : float
        f_0 sqrt(1 + B). [Hz]
    inharmonicity : float
        B. [1]
    n_partials : int
        That the fit used.
    residual : float
        Root of the weighted mean square. [cent]
    early : tuple of float
        First mode over the first PORTIONS of the ring, over first_mode, less 1. [1]
    """

    first_mode: float
    inharmonicity: float
    n_partials: int
    residual: float
    early: tuple[float, ...]


def unmeasured(pitch: float) -> Reference:
    """Of what is no string: the pitch it is named, and nothing else."""
    return Reference(
        first_mode=pitch,
        inharmonicity=0.0,
        n_partials=0,
        residual=0.0,
        early=(0.0,) * len(PORTIONS),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Spectrum:
    """Level of a windowed ring, with its local floor."""

    level: Array
    floor: Array
    step: float
    resolution: float

    def peak(self, centre: float, reach: float) -> tuple[float, float] | None:
        """Frequency and level of the highest peak near a place, if above the floor."""
        first = max(1, int((centre - reach) / self.step))
        last = min(len(self.level) - 2, int((centre + reach) / self.step) + 1)
        if last - first < 3:
            return None
        at = first + int(np.argmax(self.level[first:last]))
        a, b, c = self.level[at - 1 : at + 2]
        if a > b or c > b or b < self.floor[at] + 12.0:
            return None
        shift = 0.5 * (a - c) / (a - 2.0 * b + c) if a - 2.0 * b + c < 0.0 else 0.0
        return (at + shift) * self.step, float(b)


def spectrum(ring: Array, rate: float, spacing: float) -> Spectrum:
    """Hann-windowed spectrum, zero-padded; floor over one and a half spacings."""
    size = 1 << int(np.ceil(np.log2(4 * len(ring))))
    level = 20.0 * np.log10(
        np.abs(np.fft.rfft(ring * np.hanning(len(ring)), size)) + 1e-12
    )
    step = rate / size
    coarse = level[:: max(1, int(0.02 * spacing / step))]
    reach = 75
    floor = np.interp(
        np.arange(len(level)),
        np.linspace(0.0, len(level) - 1.0, len(coarse)),
        median_filter(coarse, reach, mode="nearest"),
    )
    return Spectrum(
        level=level, floor=floor, step=step, resolution=2.0 * rate / len(ring)
    )


def onset_of(samples: Array, rate: float) -> int:
    """First sample of the ring: a tenth of the peak, less 3 ms."""
    loud = np.abs(samples) > 0.1 * np.max(np.abs(samples))
    return max(0, int(np.argmax(loud)) - int(0.003 * rate))


def end_of(samples: Array, rate: float) -> int:
    """Where the ring has fallen by 50 dB, or the file ends."""
    hop = int(0.02 * rate)
    n_blocks = len(samples) // hop
    if n_blocks == 0:
        return len(samples)
    peaks = np.abs(samples[: n_blocks * hop]).reshape(n_blocks, hop).max(axis=1)
    audible = np.nonzero(peaks > 10.0 ** (-50.0 / 20.0) * peaks.max())[0]
    return int(audible[-1] + 1) * hop


def repetition(ring: Array, rate: float, expected: float) -> float | None:
    """Fundamental by the difference function, from expected / 2.6 to expected * 2.6."""
    longest = int(2.6 * rate / expected)
    shortest = max(2, int(rate / expected / 2.6))
    width = min(len(ring) - longest, max(2 * longest, int(0.15 * rate)))
    if width < longest:
        return None
    part = ring[: width + longest]
    size = 1 << int(np.ceil(np.log2(2 * len(part))))
    product = np.fft.rfft(part, size) * np.conj(np.fft.rfft(part[:width], size))
    correlation = np.fft.irfft(product, size)[: longest + 1]
    energy = np.concatenate(([0.0], np.cumsum(part**2)))
    lags = np.arange(longest + 1)
    difference = energy[width] + energy[lags + width] - energy[lags] - 2.0 * correlation
    total = np.cumsum(difference[1:]) / lags[1:]
    normal = np.concatenate(([1.0], difference[1:] / np.maximum(total, 1e-12)))
    dips = shortest + np.nonzero(normal[shortest:] < 0.2)[0]
    at = int(dips[0]) if len(dips) else shortest + int(np.argmin(normal[shortest:]))
    while at + 1 < longest and normal[at + 1] < normal[at]:
        at += 1
    return rate / at if normal[at] < 0.5 and at < longest - 1 else None


def solve(numbers: Array, frequencies: Array) -> tuple[float, float, float]:
    """Robust f_0, B and residual [cent]; (f_n / n)^2 is linear in n^2."""
    squares = (frequencies / numbers) ** 2
    weights = np.sqrt(numbers)
    spacing, stiffness = float(np.median(frequencies / numbers)), 0.0
    off = np.zeros(len(numbers))
    for _ in range(12):
        table = np.stack((np.ones(len(numbers)), numbers**2), axis=1)
        root = weights[:, None]
        found = np.linalg.lstsq(table * root, squares * weights, rcond=None)[0]
        if found[1] < 0.0:
            found = np.array([np.average(squares, weights=weights**2), 0.0])
        spacing = float(np.sqrt(max(found[0], 1e-9)))
        stiffness = float(found[1] / max(found[0], 1e-9))
        fitted = numbers * spacing * np.sqrt(1.0 + stiffness * numbers**2)
        off = CENT * np.log(frequencies / fitted)
        scale = max(0.5, 1.4826 * float(np.median(np.abs(off))))
        trust = np.clip(1.0 - (off / (4.0 * scale)) ** 2, 0.0, 1.0)
        weights = np.sqrt(numbers) * trust + 1e-6
    residual = float(np.sqrt(np.average(off**2, weights=weights**2)))
    return spacing, stiffness, residual


@dataclass(frozen=True, kw_only=True, slots=True)
class Series:
    """Numbered partials and their fit."""

    numbers: Array
    frequencies: Array
    levels: Array
    spacing: float
    stiffness: float
    residual: float

    def place(self, number: float) -> float:
        """Frequency of a mode. [Hz]"""
        return float(number * self.spacing * np.sqrt(1.0 + self.stiffness * number**2))


def start(shape: Spectrum, near: float) -> float:
    """Spacing within 4 % at which the first partials are loudest together."""
    grid = near * np.linspace(0.96, 1.04, 321)
    numbers = np.arange(1, 7)
    places = np.rint(grid[:, None] * numbers / shape.step).astype(int)
    above = shape.level - shape.floor
    heights = np.maximum(0.0, above[np.minimum(places, len(above) - 1)]).sum(axis=1)
    return float(grid[int(np.argmax(heights))])


def number_partials(shape: Spectrum, near: float, highest: float) -> Series | None:
    """Follow the partials outwards, fitting anew after each."""
    spacing, stiffness = start(shape, near), 0.0
    numbers: list[float] = []
    places: list[float] = []
    levels: list[float] = []
    missing = 0
    for n in range(1, HIGHEST_PARTIAL + 1):
        place = n * spacing * np.sqrt(1.0 + stiffness * n**2)
        if place > highest or missing > 4:
            break
        reach = max(0.7 * shape.resolution, (0.03 if n > 6 else 0.02 * n) * spacing)
        found = shape.peak(place, min(reach, 0.3 * spacing) if n > 3 else reach)
        if found is None or (levels and found[1] < max(levels) - 65.0):
            missing += 1
            continue
        missing = 0
        numbers.append(float(n))
        places.append(found[0])
        levels.append(found[1])
        if len(numbers) >= 3:
            spacing, stiffness, _ = solve(np.array(numbers), np.array(places))
    if len(numbers) < FEWEST_PARTIALS:
        return None
    spacing, stiffness, residual = solve(np.array(numbers), np.array(places))
    return Series(
        numbers=np.array(numbers),
        frequencies=np.array(places),
        levels=np.array(levels),
        spacing=spacing,
        stiffness=stiffness,
        residual=residual,
    )


def is_misnumbered(shape: Spectrum, series: Series) -> bool:
    """Whether lines between the partials, or every other one missing, say so.

    Lines at halves or thirds as strong as the partials beside them mean that the true
    spacing is smaller; partials all even or all multiples of three, that it is larger.
    """
    for parts in (2, 3):
        between = 0
        for n in np.arange(1, min(9, series.numbers[-1] + 1)):
            beside = series.levels[np.abs(series.numbers - n) <= 1]
            line = shape.peak(series.place(n - 1.0 / parts), 0.04 * series.spacing)
            if line and len(beside) and line[1] > np.max(beside) - 18.0:
                between += 1
        if between >= 3:
            return True
        off = series.levels[series.numbers % parts != 0]
        on = series.levels[series.numbers % parts == 0]
        if not len(off) or (len(on) and np.max(off) < np.max(on) - 30.0):
            return True
    return False


def has_unison(shape: Spectrum, series: Series) -> bool:
    """Whether most partials stand twice, more than a few cents apart."""
    twice, looked = 0, 0
    for frequency, level in zip(series.frequencies, series.levels, strict=True):
        reach = 0.012 * frequency
        least = max(UNISON / CENT * frequency, 1.2 * shape.resolution)
        if least > 0.8 * reach or level < np.max(series.levels) - 35.0:
            continue
        looked += 1
        sides = (
            shape.peak(frequency + sign * 0.5 * (least + reach), 0.5 * (reach - least))
            for sign in (-1.0, 1.0)
        )
        twice += any(side is not None and side[1] > level - 12.0 for side in sides)
    return looked >= 3 and twice >= 0.5 * looked


def is_synthetic(series: Series) -> bool:
    """Whether many partials are harmonic as no free string's are: bowed, or made."""
    return (
        series.stiffness < 1e-6 and len(series.numbers) >= 10 and series.residual < 0.3
    )


def early_pitch(ring: Array, rate: float, series: Series) -> tuple[float, ...]:
    """Change of all partials together over the first parts of the ring."""
    found = []
    for periods in PORTIONS:
        part = ring[: int(periods / series.spacing * rate)]
        shape = spectrum(part, rate, series.spacing)
        reach = max(0.03 * series.spacing, 0.5 * shape.resolution)
        ratios, weights = [0.0], [1e-3]
        for number, frequency in zip(series.numbers, series.frequencies, strict=True):
            peak = shape.peak(frequency, reach) if number <= 12 else None
            if peak is not None:
                ratios.append(peak[0] / frequency - 1.0)
                weights.append(number)
        order = np.argsort(ratios)
        passed = np.cumsum(np.array(weights)[order])
        at = int(np.searchsorted(passed, 0.5 * passed[-1]))
        found.append(float(np.array(ratios)[order][at]))
    return tuple(found)


def misgiving(shape: Spectrum, series: Series) -> str | None:
    """Why a fit is no reference."""
    if is_misnumbered(shape, series):
        return "number unsure"
    if has_unison(shape, series):
        return "unison"
    if series.residual > WORST_RESIDUAL:
        return "poor fit"
    return "too harmonic" if is_synthetic(series) else None


def near_name(ring: Array, rate: float, expected: float) -> float | str:
    """Repetition at the note's name or octaves off, or why there is none. [Hz]"""
    if len(ring) < 20.0 * rate / expected:
        return "too short"
    near = repetition(ring, rate, expected)
    if near is None:
        return "no repetition"
    octaves = np.log2(near / expected)
    return near if abs(octaves - round(octaves)) < 0.08 else "not the note named"


def measure(samples: Array, rate: float, expected: float) -> Reference | str:
    """Reference of a note, or the reason why there is none.

    Parameters
    ----------
    samples : ndarray, shape (n_samples,)
        From the pluck to the end of the usable ring.
    rate : float
        [Hz]
    expected : float
        Frequency of the note's name or root key. [Hz]
    """
    first = int(max(0.02, 1.5 / expected) * rate)
    length = int(max(1.5, 80.0 / expected) * rate)
    ring = np.asarray(samples, dtype=float)[first : first + length]
    near = near_name(ring, rate, expected)
    if isinstance(near, str):
        return near
    shape = spectrum(ring, rate, near)
    series = number_partials(shape, near, 0.45 * rate)
    if series is None:
        return "few partials"
    reason = misgiving(shape, series)
    early = early_pitch(ring, rate, series)
    if reason is not None or max(map(abs, early)) > WORST_GLIDE:
        return reason or "glides"
    return Reference(
        first_mode=series.place(1.0),
        inharmonicity=series.stiffness,
        n_partials=len(series.numbers),
        residual=series.residual,
        early=early,
    )
