"""Recordings of one rope into which another rope of the set was plucked."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.synthesis.bad_recordings import RATE, draw_spec, ring_of
from tests.synthesis.plucking import solve

Array = NDArray[np.float64]

PATTERNS = ("AAAB", "BAAA", "AAB", "AB", "ABAB", "AAAA")
"""Ropes in the order plucked; A is the one that was meant."""
FIRST, FADE = 0.8, 0.05
"""Quiet before the first pluck, and how a hand ends a ring. [s]"""
LEVEL, NOISE = 0.2, 1e-4


@dataclass(frozen=True, kw_only=True, slots=True)
class MixedPlucks:
    """A recording at RATE and the fundamentals of its two ropes, A and B. [Hz]"""

    samples: Array
    fundamentals: tuple[float, float]


def draw_mixed(seed: int, pattern: str) -> MixedPlucks:
    """Two ropes 4 to 20 % apart in pitch, plucked 1 to 2.5 s apart."""
    rng = np.random.default_rng([seed, *pattern.encode()])
    first = draw_spec(rng)
    ratio = float(rng.uniform(1.08, 1.45) ** rng.choice([-1.0, 1.0]))
    specs = (first, replace(first, hitch_tension=first.hitch_tension * ratio))
    gap = float(rng.uniform(1.0, 2.5))
    n_samples = int((FIRST + gap * len(pattern) + 2.0) * RATE)
    samples = NOISE * rng.standard_normal(n_samples)
    for place, name in enumerate(pattern):
        seconds = gap * float(rng.choice([1.0, 2.0]))
        ring = ring_of(rng, specs["AB".index(name)], seconds)
        ring *= LEVEL * float(rng.uniform(0.6, 1.0))
        n_fade = int(FADE * RATE)
        ring[-n_fade:] *= np.linspace(1.0, 0.0, n_fade)
        start = int((FIRST + place * gap) * RATE)
        end = min(start + ring.size, n_samples)
        samples[start:end] += ring[: end - start]
    own, other = (float(solve(spec).frequencies[0]) for spec in specs)
    return MixedPlucks(samples=samples, fundamentals=(own, other))
