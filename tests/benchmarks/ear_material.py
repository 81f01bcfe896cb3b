"""What the table of the ear is set on: statistics of first choices, right and wrong.

Building halves and building seeds only. Each recording is heard as one rope without a
length; what the ear would choose first is described by its statistics, whether it would
be given or not.
"""

import os
from collections.abc import Callable, Iterator
from dataclasses import astuple, dataclass
from fractions import Fraction
from multiprocessing import Pool
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

from tension.sound.decays import find_decays
from tension.sound.decision import decide, weigh_candidates
from tension.sound.hear import keep_one_pitch
from tension.sound.hearing import HearingPrior, Recording, RopeSpan, Take
from tests.benchmarks.foreign.recordings import draw
from tests.benchmarks.foreign.strangers import draw_strangers
from tests.synthesis.bad_recordings import make_bad, make_bad_recordings
from tests.synthesis.regimes import RegimeName
from tests.synthesis.sets import SynthSet, draw_set
from tests.synthesis.stepped.stepped_sets import draw_stepped_set

Array = NDArray[np.float64]

RATE = 4000
RIGHT = 0.04
PART = 20
ALMOST = (
    "two ropes at once",
    "all ropes strummed",
    "played backwards",
    "machine turning steadily",
    "machine switched on",
    "music",
    "door slams",
    "steady clicking",
    "ratchet",
    "too short",
    "stopped as the rope is let go",
)
"""Kinds of bad recordings that sound most like a rope: more of them are heard."""
A_ROPE_ALL_THE_SAME = {"muted string", "a piece repeated"}
"""Left out: the pitch that is found in them is that of a string."""


@dataclass(frozen=True, kw_only=True)
class Row:
    """One recording and what is chosen first in it.

    Attributes
    ----------
    material : str
        real, no rope, first generator, second generator.
    source : str
        Left out together: package and instrument, kind, regime.
    right : bool
        Whether the first choice is the fundamental.
    probability : float
        Of its count among the rivals. [1]
    statistics : tuple of float
        In the order of `Statistics`; empty without a candidate.
    """

    material: str
    source: str
    right: bool
    probability: float
    statistics: tuple[float, ...]


def first_choice(
    samples: NDArray[Any], rate: float, truth: float | None
) -> tuple[bool, float, tuple[float, ...]]:
    """Hear one rope; right or not, probability, statistics."""
    step = Fraction(RATE, round(rate)).limit_denominator(1000)
    slow = resample_poly(np.asarray(samples, float), step.numerator, step.denominator)
    recording = Recording(
        name="one",
        samples=slow.astype(np.float32),
        sampling_rate=rate * float(step),
        source_rate=rate,
        codec="pcm",
        clipped=np.empty((0, 2)),
    )
    span, prior = RopeSpan(number=1), HearingPrior()
    found = find_decays([Take(recording=recording, ropes=(1,))], [span])[1]
    keep_one_pitch(found, prior)
    decision = decide(found, *weigh_candidates([found], prior)[0])
    if decision is None:
        return False, 0.0, ()
    pitch = decision.best.fit.fundamental_frequency
    right = truth is not None and abs(pitch / truth - 1.0) <= RIGHT
    return right, decision.checks[0].value, astuple(decision.statistics)


def _row(material: str, source: str, *heard: Any) -> Row:  # noqa: ANN401
    right, probability, statistics = first_choice(*heard)
    return Row(
        material=material,
        source=source,
        right=right,
        probability=probability,
        statistics=statistics,
    )


def real(chain: str, seed: int) -> Iterator[Row]:
    """Strings that others plucked."""
    for one in draw("building", chain, PART, seed):
        source = f"{one.source} {one.instrument}"
        yield _row("real", source, one.samples, one.rate, one.truth_hz)


def no_rope(chain: str, seed: int) -> Iterator[Row]:
    """What is no rope."""
    for kind, one in draw_strangers(PART, seed, "building", chain):
        if kind not in A_ROPE_ALL_THE_SAME:
            yield _row("no rope", kind, one.samples, one.rate, None)


def bad(_: str, seed: int) -> Iterator[Row]:
    """Recordings of no use, made."""
    for one in make_bad_recordings(seed):
        if one.kind not in A_ROPE_ALL_THE_SAME:
            yield _row("no rope", one.kind, one.samples, one.sampling_rate, None)


def almost(_: str, seed: int) -> Iterator[Row]:
    """Bad recordings that sound most like a rope."""
    for kind in ALMOST:
        one = make_bad(kind, seed)
        yield _row("no rope", one.kind, one.samples, one.sampling_rate, None)


def _ropes(material: str, source: str, drawn: SynthSet) -> Iterator[Row]:
    for rope, one in zip(drawn.ropes, drawn.recordings, strict=True):
        truth = rope.fundamental_frequency
        yield _row(material, source, one.samples, one.sampling_rate, truth)


def first_generator(regime: str, seed: int) -> Iterator[Row]:
    """Ropes of finite elements."""
    return _ropes("first generator", regime, draw_set(RegimeName(regime), seed))


def second_generator(regime: str, seed: int) -> Iterator[Row]:
    """Ropes stepped through time."""
    drawn = draw_stepped_set(RegimeName(regime), seed)
    return _ropes("second generator", f"stepped {regime}", drawn)


Job = tuple[Callable[[str, int], Iterator[Row]], str, int]

CHAINS = ("clean", "phone", "far")
CODED = ("amr", "opus", "gain", "voice")


def jobs(seed: int, scale: float) -> list[Job]:
    """All of the material; scale 1 takes half an hour on two cores."""

    def seeds(count: int) -> range:
        return range(seed * 1000, seed * 1000 + max(1, round(count * scale)))

    regimes = [regime.value for regime in RegimeName]
    return [
        *((real, chain, s) for chain in CHAINS for s in seeds(20)),
        *((real, chain, s) for chain in CODED for s in seeds(4)),
        *((no_rope, chain, s) for chain in ("clean", "phone") for s in seeds(20)),
        *((bad, "", s) for s in seeds(6)),
        *((almost, "", s) for s in seeds(20)),
        *((first_generator, regime, s) for regime in regimes for s in seeds(20)),
        *((second_generator, regime, s) for regime in regimes for s in seeds(10)),
    ]


def _run(job: Job) -> list[Row]:
    make, what, seed = job
    return list(make(what, seed))


def collect(seed: int, scale: float, processes: int) -> list[Row]:
    """Hear all of it."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    with Pool(processes) as pool:
        return [row for part in pool.imap(_run, jobs(seed, scale)) for row in part]
