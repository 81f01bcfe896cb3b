"""Plucked ropes made in the tests: exact clamped-pinned modes, sums of decays.

Imports nothing of the mathematics under test: modes are roots of the printed
characteristic equation k1 tan(k2) = k2 tanh(k1), found by bisection.
"""

import numpy as np
from numpy.typing import NDArray

from tension.sound.hearing import Recording, Take
from tension.sound.spectra import Lines, believed
from tension.sound.string_fit import PartialSeries, StringFit, fit_strings

Array = NDArray[np.float64]
RATE = 4000.0


def clamped_pinned_modes(
    length: float, wave_speed: float, rigidity_per_density: float, n_modes: int
) -> Array:
    """Natural frequencies [Hz] of a stiff string, one end clamped, one pinned."""
    xi = length * wave_speed / np.sqrt(rigidity_per_density)
    low = np.pi * np.arange(1.0, n_modes + 1.0)
    high = low + 0.5 * np.pi

    def mismatch(k2: Array) -> Array:
        k1 = np.hypot(xi, k2)
        value: Array = k1 * np.sin(k2) - k2 * np.tanh(k1) * np.cos(k2)
        return value

    sign = np.sign(mismatch(low + 1e-9))
    for _ in range(80):
        middle = 0.5 * (low + high)
        same = np.sign(mismatch(middle)) == sign
        low = np.where(same, middle, low)
        high = np.where(same, high, middle)
    k2 = 0.5 * (low + high)
    frequencies: Array = (
        k2
        * np.hypot(xi, k2)
        * np.sqrt(rigidity_per_density)
        / (2.0 * np.pi * length**2)
    )
    return frequencies


def made_lines(frequencies: Array, levels: Array | float = 1e3) -> Lines:
    """Lines of a ring at some frequencies [Hz], in any order; levels are powers."""
    order = np.argsort(frequencies)
    n = order.size
    lines = Lines(
        frequencies=frequencies[order],
        uncertainties=np.full(n, 0.02),
        levels=np.broadcast_to(levels, n)[order].astype(np.float64),
        durations=np.full(n, 1.2),
        false_densities=np.full(n, 1e-9),
        densities=np.ones(n),
        weights=np.ones(n),
    )
    return believed(lines, lines.weights)


def fitted(
    lines: Lines,
    string_fundamental: float,
    dispersion: float,
    slack: float | None = None,
) -> StringFit:
    """The string fitted from one start, clamped at one end."""
    start = PartialSeries(
        string_fundamentals=np.array([string_fundamental]),
        dispersions=np.array([dispersion]),
    )
    slacks = None if slack is None else np.array([slack])
    (fit,) = fit_strings(lines, start, slacks)
    assert fit is not None
    return fit


def ring(
    modes: Array,
    *,
    seconds: float,
    place: float = 0.27,
    damping: float = 0.002,
    rise: float = 0.0,
    split: float = 0.0,
    weak: float = 0.0,
    rate: float = RATE,
) -> Array:
    """Sound of one pluck at t = 0: decays, glide of all partials, a weaker plane."""
    t = np.arange(int(seconds * rate)) / rate
    tau = 0.5 / (2.0 * np.pi * modes[0] * damping)
    warped = t + rise * tau * (1.0 - np.exp(-t / tau))
    total = np.zeros(t.size)
    for n, f in enumerate(modes[modes < 0.4 * rate], 1):
        level = np.sin(np.pi * n * place) * np.sin(np.pi * n * 0.19) / n
        fall = np.exp(-2.0 * np.pi * f * damping * (1.0 + f / 400.0) * t)
        wave = np.cos(2.0 * np.pi * f * warped)
        wave += weak * np.cos(2.0 * np.pi * f * (1.0 + split) * warped)
        total += level * fall * wave
    return total


def recording(
    rings: dict[float, Array],
    *,
    seconds: float,
    noise: float = 0.003,
    low_cut: float = 0.0,
    hum: float = 0.0,
    seed: int = 1,
    rate: float = RATE,
) -> Array:
    """Rings at their onsets [s], behind a second-order low cut, in hum and noise."""
    total = np.zeros(int(seconds * rate))
    onsets = sorted(rings)
    for k, onset in enumerate(onsets):
        first = int(onset * rate)
        last = int(onsets[k + 1] * rate) if k + 1 < len(onsets) else total.size
        part = rings[onset][: last - first]
        total[first : first + part.size] += part
    if low_cut:
        spectrum = np.fft.rfft(total)
        frequency = np.fft.rfftfreq(total.size, 1.0 / rate)
        frequency[0] = 1e-9
        spectrum /= 1.0 + (low_cut / frequency) ** 2
        total = np.fft.irfft(spectrum, total.size)
    total *= 0.3 / np.max(np.abs(total))
    t = np.arange(total.size) / rate
    for k in range(1, 9):
        total += hum / k * np.cos(2.0 * np.pi * 50.02 * k * t + 0.7 * k * k)
    rng = np.random.default_rng(seed)
    out: Array = total + noise * rng.standard_normal(total.size)
    return out


def take(
    samples: Array, ropes: tuple[int, ...] = (1,), rate: float = RATE, codec: str = "x"
) -> Take:
    """A recording in memory."""
    return Take(
        recording=Recording(
            name="rope-" + "-".join(map(str, ropes)) + ".wav",
            samples=np.asarray(samples, dtype=np.float32),
            sampling_rate=rate,
            source_rate=48000.0,
            codec=codec,
            clipped=np.empty((0, 2)),
        ),
        ropes=ropes,
    )
