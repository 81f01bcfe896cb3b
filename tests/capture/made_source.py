"""A made microphone in simulated time: what it gives is a function of the time."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tension.capture import Block, Microphone
from tension.errors import CaptureError

Made = NDArray[np.float64]
Script = Iterator[Made]
"""Gives stretches of sound, one after the other, until the device is gone."""


@dataclass(kw_only=True)
class MadeSource(Microphone):
    """Gives the stretches of a script in blocks, each at the moment it ends."""

    script: Script
    sampling_rate: int = 22_050
    name: str = "made microphone"
    block: float = 0.05
    clock: float = 100.0
    is_closed: bool = False
    _held: Made = field(default_factory=lambda: np.empty(0))

    def take(self, patience: float) -> Block | None:
        if not patience:
            return None
        n = round(self.block * self.sampling_rate)
        while self._held.size < n:
            try:
                self._held = np.concatenate([self._held, next(self.script)])
            except StopIteration:
                raise CaptureError("the script is at its end") from None
        samples, self._held = self._held[:n], self._held[n:]
        self.clock += self.block
        whole = np.round(np.clip(samples, -1.0, 1.0) * (2**23 - 1)).astype(np.int32)
        return Block(samples=whole * np.int32(256), moment=self.clock)

    def close(self) -> None:
        self.is_closed = True


def noise(seconds: float, rate: int, level: float = 1e-4, seed: int = 0) -> Made:
    """White noise of a quiet room."""
    return level * np.random.default_rng(seed).standard_normal(round(seconds * rate))


def pluck(
    fundamental: float,
    seconds: float,
    rate: int,
    *,
    level: float = 0.05,
    n_partials: int = 14,
) -> Made:
    """One pluck of a string: partials that decay, struck off the middle."""
    time = np.arange(round(seconds * rate)) / rate
    made = np.zeros(time.size)
    for mode in range(1, n_partials + 1):
        frequency = mode * fundamental * np.sqrt(1.0 + 2e-5 * mode**2)
        strength = np.sin(0.28 * np.pi * mode)
        made += (
            strength
            * np.exp(-time * (0.5 + 0.05 * mode))
            * np.sin(2.0 * np.pi * frequency * time)
        )
    scaled: Made = level * made / np.abs(made).max()
    return scaled


def chained(stretches: Sequence[Made]) -> Script:
    """A script of stretches that are known before."""
    yield from stretches
