"""Long memos: every rope of a set plucked in turn in one recording, talk between.

``draw_memo(seed, talk=True)`` gives 3 to 8 ropes with 1 to 3 plucks each, irregular
gaps, longer ones between ropes, mostly there and back. Seeds as in sets.py.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

from tests.synthesis import disturbances
from tests.synthesis.plucking import (
    MODELLING_RATE,
    Pluck,
    Sensor,
    glide,
    modal_amplitudes,
    ring,
    sensed,
)
from tests.synthesis.recorder import LowCut, quantised
from tests.synthesis.sets import (
    DrawnRopes,
    RopeTruth,
    draw_plucks,
    draw_ropes,
    draw_specs,
    log_within,
    within,
)

Array = NDArray[np.float64]
Generator = np.random.Generator

RATE = 8000
LONGEST_RING = 9.0
TALK = ("speech", "cough", "slam", "car", "knock", "handling")


@dataclass(frozen=True, kw_only=True)
class Memo:
    """One long memo and what was done in it.

    Attributes
    ----------
    samples : ndarray of float32, shape (n_samples,)
        Full scale is 1.
    sampling_rate : int
        [Hz]
    order : tuple of int
        Rope numbers in the order plucked.
    plucks_each : int
        Announced for each entry of order.
    onsets : tuple of tuple of float
        Releases, by entry of order. [s]
    ropes : tuple of RopeTruth
        By number.
    talk : tuple of (str, float)
        What disturbs, and when it begins. [s]
    """

    samples: NDArray[np.float32]
    sampling_rate: int
    order: tuple[int, ...]
    plucks_each: int
    onsets: tuple[tuple[float, ...], ...]
    ropes: tuple[RopeTruth, ...]
    talk: tuple[tuple[str, float], ...]


def draw_order(rng: Generator, n_ropes: int) -> tuple[int, ...]:
    """There and back, once, or twice the same way."""
    there = tuple(range(1, n_ropes + 1))
    kind = rng.choice(3, p=[0.6, 0.25, 0.15])
    return (there + there[::-1], there, there + there)[int(kind)]


def draw_times(
    rng: Generator, counts: list[int], missing: set[int]
) -> tuple[tuple[tuple[float, ...], ...], list[tuple[float, float]]]:
    """Irregular releases with longer gaps between ropes, and the gaps themselves."""
    short = within(rng, (2.0, 3.5))
    longer = within(rng, (1.7, 3.0)) * (short if max(counts) > 1 else 2.0)
    now = within(rng, (0.8, 2.5))
    onsets, free = [], []
    for entry, count in enumerate(counts):
        mine = []
        for i in range(count):
            mine.append(round(now, 3))
            gap = short if i + 1 < count else longer
            if entry in missing and i + 1 == count and count > 1:
                mine.pop()
            after = now + gap * within(rng, (0.85, 1.15))
            if i + 1 == count:
                free.append((now + min(2.0, 0.5 * gap), after - 0.4))
            now = after
        onsets.append(tuple(mine))
    return tuple(onsets), free


def sound_of(
    rng: Generator, ropes: DrawnRopes, index: int, plucks: tuple[Pluck, ...], end: float
) -> list[tuple[float, Array]]:
    """Rings of one rope and what its neighbours take of them, by onset."""
    parts = []
    place = plucks[0].place if plucks else 0.25
    for i, pluck in enumerate(plucks):
        stop = plucks[i + 1].onset if i + 1 < len(plucks) else end
        seconds = min(LONGEST_RING, stop - pluck.onset - float(rng.uniform(0.1, 0.3)))
        n_samples = int(seconds * MODELLING_RATE)
        total = np.zeros(n_samples)
        for j, modes in enumerate(ropes.modes):
            level = 1.0 if j == index else 0.06 / abs(j - index)
            weights = sensed(modes, Sensor.MICROPHONE, place, 0.12)
            weights = weights * modal_amplitudes(modes, pluck)
            total += level * ring(
                modes,
                weights,
                ropes.damping,
                n_samples=n_samples,
                planes=ropes.planes[j],
                rise=glide(modes.spec, pluck, ropes.axial_stiffness),
                phases=None if j == index else rng.uniform(0.0, 6.28, len(weights)),
            )
        fade = min(n_samples, int(0.06 * MODELLING_RATE))
        total[n_samples - fade :] *= np.linspace(1.0, 0.0, fade)
        parts.append((pluck.onset, total))
    return parts


def one_trouble(rng: Generator, name: str, rate: float) -> Array:
    """Something that is no pluck, peak 1."""
    seconds = {"speech": 2.0, "cough": 0.35, "slam": 1.2, "car": 4.0, "knock": 0.3}
    n_samples = int(seconds.get(name, 0.8) * within(rng, (0.6, 1.0)) * rate)
    if name == "cough":
        fall = np.exp(-np.arange(n_samples) / rate / 0.09)
        sound = disturbances.pink_noise(rng, n_samples, rate, 200.0) * fall
    elif name == "car":
        moments = np.linspace(-2.0, 2.0, n_samples)
        sound = disturbances.pink_noise(rng, n_samples, rate) * np.exp(-(moments**2))
    else:
        makers = {
            "speech": disturbances.speech,
            "slam": disturbances.door_slam,
            "knock": disturbances.knock,
            "handling": disturbances.handling,
        }
        sound = makers[name](rng, n_samples, rate)
    return sound / (float(np.max(np.abs(sound))) + 1e-12)


def _add_talk(
    rng: Generator, total: Array, free: list[tuple[float, float]], level: float
) -> list[tuple[str, float]]:
    """Put trouble into half of the gaps between ropes, in place."""
    heard = []
    for first, last in free:
        if rng.random() > 0.5 or last - first < 0.6:
            continue
        name = str(rng.choice(TALK))
        part = one_trouble(rng, name, RATE)[: int((last - first) * RATE)]
        start = within(rng, (first, max(first + 0.01, last - len(part) / RATE)))
        peak = 10.0 ** ((level + within(rng, (-8.0, 8.0))) / 20.0)
        place = int(start * RATE)
        fits = part[: len(total) - place]
        total[place : place + len(fits)] += peak * fits
        heard.append((name, round(start, 2)))
    return heard


def draw_memo(
    seed: int, *, talk: bool = False, n_missing: int = 0, level: float = 0.0
) -> Memo:
    """Draw one memo; n_missing entries lack their last pluck; level of talk in dB."""
    rng = np.random.default_rng([seed, 18, int(talk)])
    n_ropes = int(rng.integers(3, 9))
    diameter, specs = draw_specs(rng, n_ropes, (1.8, 6.0))
    ropes = draw_ropes(rng, diameter, specs, (0.0, 0.001))
    order = draw_order(rng, n_ropes)
    plucks_each = int(rng.integers(1, 4))
    missing = {int(k) for k in rng.permutation(len(order))[:n_missing]}
    onsets, free = draw_times(rng, [plucks_each] * len(order), missing)
    duration = free[-1][1] + 0.4
    slow = np.zeros(int((duration + 0.5) * MODELLING_RATE))
    for entry, rope in enumerate(order):
        plucks = draw_plucks(rng, specs[rope - 1], list(onsets[entry]), (0.15, 0.35))
        for onset, part in sound_of(rng, ropes, rope - 1, plucks, free[entry][1] + 0.3):
            first = int(onset * MODELLING_RATE)
            fits = part[: len(slow) - first]
            slow[first : first + len(fits)] += fits
    low_cut = LowCut(frequency=log_within(rng, (20.0, 100.0)), order=2)
    slow = low_cut.apply(slow, MODELLING_RATE)
    loud = [disturbances.rms(slow[int(t * 4000) :][:4000]) for ts in onsets for t in ts]
    slow /= float(np.median(loud))
    total = resample_poly(slow, RATE, int(MODELLING_RATE))
    n_samples = len(total)
    noise = 10.0 ** (-within(rng, (14.0, 30.0)) / 20.0)
    total = total + noise * low_cut.apply(
        disturbances.pink_noise(rng, n_samples, RATE), RATE
    )
    mains = float(rng.choice([50.0, 60.0]))
    hum = disturbances.hum(rng, n_samples, RATE, mains, 8)
    hum = low_cut.apply(hum, RATE)
    humming = 10.0 ** (-within(rng, (12.0, 30.0)) / 20.0)
    total += humming * hum / disturbances.rms(hum)
    heard = _add_talk(rng, total, free if talk else [], level)
    return Memo(
        samples=quantised(0.6 * total / float(np.max(np.abs(total)))),
        sampling_rate=RATE,
        order=order,
        plucks_each=plucks_each,
        onsets=onsets,
        ropes=ropes.truths(),
        talk=tuple(heard),
    )
