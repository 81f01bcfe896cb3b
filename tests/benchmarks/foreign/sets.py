"""Sets of six with known shares, out of one string that others plucked.

    for drawn in draw_sets(20, seed=1, split="building", chain="phone"):
        ...

One note taken again and again is one string. Each of its six recordings is slowed by a
factor of its own: ropes of equal length whose tensions go as the square of the factor.
Takes of another strength differ a little in pitch, as a player's do; that is given
apart as player_spread and not part of the truth.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.foreign.chains import Chain
from tests.benchmarks.foreign.notes import (
    FASTEST,
    LEAST_SLOWED,
    SLOWEST,
    Note,
    strings,
)
from tests.benchmarks.foreign.recordings import (
    ForeignRecording,
    draw_note,
    log_uniform,
    record,
    takes_of,
)
from tests.benchmarks.foreign.sources import Split
from tests.synthesis.sets import draw_pattern

N_ROPES = 6
WIDEST = 0.20


@dataclass(frozen=True, kw_only=True, slots=True)
class ForeignSet:
    """Six recordings and what is true of them.

    Attributes
    ----------
    recordings : tuple of ForeignRecording
        One a rope; all lengths are equal.
    tensions : ndarray, shape (6,)
        Relative to their mean: squares of the factors of slowing. [1]
    spread : float
        (highest - lowest) / highest of the tensions. [1]
    player_spread : float
        The same of the squares of the takes' own pitches, as measured. [1]
    n_takes : int
        Different takes that there were to draw from.
    """

    recordings: tuple[ForeignRecording, ...]
    tensions: NDArray[np.float64]
    spread: float
    player_spread: float
    n_takes: int


@cache
def notes_with_takes(split: Split | str | None) -> tuple[Note, ...]:
    """Notes of which there are several takes."""
    notes = strings(split)
    return tuple(note for note in notes if len(takes_of(note, notes)) > 1)


def draw_set(
    rng: np.random.Generator, split: Split | str | None, chain: Chain, seed: list[int]
) -> ForeignSet:
    """One set; half of the time of a string of which there are several takes."""
    notes = strings(split)
    among = notes_with_takes(split) if rng.random() < 0.5 else notes
    takes = takes_of(draw_note(rng, among or notes), notes)
    spread = float(rng.uniform(0.0, WIDEST))
    relative = draw_pattern(rng, N_ROPES, spread)
    periods = min((take.ring - take.before) * take.first_mode for take in takes)
    lowest = SLOWEST / float(np.sqrt(relative.min()))
    highest = log_uniform(rng, lowest, min(FASTEST, periods / LEAST_SLOWED))
    recordings = []
    pitches = []
    for i, tension in enumerate(relative):
        first = int(rng.integers(len(takes)))
        order = (takes[first], *takes[:first], *takes[first + 1 :])
        factor = highest * float(np.sqrt(tension)) / takes[0].first_mode
        pitches.append(order[0].first_mode)
        recordings.append(
            record(
                rng,
                order[0],
                order,
                factor * order[0].first_mode,
                chain,
                cut_at=highest,
                chain_rng=np.random.default_rng([*seed, i]),
            )
        )
    tensions = np.array([recording.slowing**2 for recording in recordings])
    squares = np.square(pitches)
    return ForeignSet(
        recordings=tuple(recordings),
        tensions=tensions / tensions.mean(),
        spread=float(1.0 - tensions.min() / tensions.max()),
        player_spread=float(1.0 - squares.min() / squares.max()),
        n_takes=len(takes),
    )


def draw_sets(
    n: int, seed: int, split: Split | str | None, chain: Chain | str
) -> Iterator[ForeignSet]:
    """Draw sets with true spreads of 0 to 20 %.

    Parameters
    ----------
    n : int
        How many.
    seed : int
        The same seed gives the same sets, in every chain.
    split : {"building", "final"} or None
        Half of the sources.
    chain : str
        What all six go through.
    """
    for i in range(n):
        rng = np.random.default_rng([seed, i, 4])
        yield draw_set(rng, split, Chain(chain), [seed, i, 5])
