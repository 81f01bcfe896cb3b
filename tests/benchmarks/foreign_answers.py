"""Have recordings of others heard, by the program or a rival, beside what is true."""

import importlib.util
import tempfile
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks import rivals
from tests.benchmarks.foreign.recordings import ForeignRecording
from tests.benchmarks.sound_variants import hear_file
from tests.synthesis.recorder import write_wave

Array = NDArray[np.float64]

PROGRAM = "this program"
RIGHT = 0.04  # of frequency; the nearest wrong count of a low mode is further off
BEFORE_NEXT = 0.1  # s; the next pluck damps the ring within it


@dataclass(frozen=True, kw_only=True, slots=True)
class Said:
    """What was said of one recording.

    Attributes
    ----------
    frequency : float or None
        Given. [Hz]
    first_choice : float or None
        Likeliest of a string that was refused. [Hz]
    refused : str or None
        Code of the reason.
    """

    frequency: float | None = None
    first_choice: float | None = None
    refused: str | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class StringAnswer:
    """What was said of one recording, and what is true.

    Attributes
    ----------
    said : Said
        The answer.
    true_frequency : float
        nan where no string was plucked. [Hz]
    listener, chain, source, instrument : str
        Who heard it, through what, and where it is from.
    quiet : float
        Before the first pluck. [s]
    starts_inside : bool
        Whether the recording starts inside a ring.
    """

    said: Said
    true_frequency: float
    listener: str = PROGRAM
    chain: str = ""
    source: str = ""
    instrument: str = ""
    quiet: float = 0.0
    starts_inside: bool = False

    def is_right(self, frequency: float | None) -> bool:
        """Whether a frequency is given and near enough. [Hz]"""
        return (
            frequency is not None and abs(frequency / self.true_frequency - 1.0) < RIGHT
        )

    @property
    def is_given(self) -> bool:
        """Whether there is a number."""
        return self.said.frequency is not None

    @property
    def is_wrong(self) -> bool:
        """Whether there is a number and it is off."""
        return self.is_given and not self.is_right(self.said.frequency)

    @property
    def is_right_but_refused(self) -> bool:
        """Whether the likeliest of a refused string was right."""
        return self.is_right(self.said.first_choice)

    @property
    def cents(self) -> float:
        """Size of the error of a number given. [cent]"""
        if self.said.frequency is None:
            return float("nan")
        return abs(1200.0 * float(np.log2(self.said.frequency / self.true_frequency)))


Listener = Callable[[ForeignRecording], Said]


def by_program(recording: ForeignRecording) -> Said:
    """Write the recording, read it back, hear it as one rope of no known length."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "string.wav"
        write_wave(path, recording.samples, recording.rate)
        rope = hear_file(path, None)
    if rope.refusal is None:
        return Said(frequency=rope.fundamental_frequency)
    first = rope.rivals[0].fundamental_frequency if rope.rivals else None
    return Said(first_choice=first, refused=str(rope.refusal.code))


def longest_ring(recording: ForeignRecording) -> Array:
    """Up to 4 s of the longest stretch without a pluck, as the rivals want it."""
    starts = [*([0.0] if recording.starts_inside_ring else []), *recording.onsets]
    end = len(recording.samples) / recording.rate
    stops = [*(start - BEFORE_NEXT for start in starts[1:]), end]
    lengths = [stop - start for start, stop in zip(starts, stops, strict=True)]
    k = int(np.argmax(lengths))
    first = int((starts[k] + rivals.AFTER_RELEASE) * recording.rate)
    last = int(min(starts[k] + rivals.LONGEST, stops[k]) * recording.rate)
    return rivals.slowed(recording.samples[first:last].astype(float), recording.rate)


def by_rival(name: str, recording: ForeignRecording) -> Said:
    """Give a rival its best chance: the longest ring, from the true release on."""
    found = rivals.available()[name](longest_ring(recording))
    return Said(frequency=found) if found > 0.0 else Said(refused="none found")


@cache
def read_prototype(path: Path) -> Callable[[Array, int, float, float], float]:
    """Function estimate(samples, rate, lowest, highest) of a file."""
    told = importlib.util.spec_from_file_location("prototype", path)
    if told is None or told.loader is None:
        raise ValueError(f"{path}: no Python file; give one with estimate()")
    module = importlib.util.module_from_spec(told)
    told.loader.exec_module(module)
    found: Callable[[Array, int, float, float], float] = module.estimate
    return found


def by_prototype(path: Path, recording: ForeignRecording) -> Said:
    """Give the whole recording to the function of a file."""
    estimate = read_prototype(path)
    samples = recording.samples.astype(float)
    found = float(estimate(samples, recording.rate, rivals.LOWEST, rivals.HIGHEST))
    return Said(frequency=found) if found > 0.0 else Said(refused="none found")


def listeners_of(*, has_rivals: bool, prototype: Path | None) -> dict[str, Listener]:
    """Who listens, by name; the program first."""
    listeners: dict[str, Listener] = {PROGRAM: by_program}
    if has_rivals:
        for name in rivals.available():
            if name in rivals.PUBLISHED:
                listeners[name] = partial(by_rival, name)
    if prototype is not None:
        listeners[prototype.stem] = partial(by_prototype, prototype)
    return listeners


def answers_to(
    recording: ForeignRecording, listeners: dict[str, Listener]
) -> list[StringAnswer]:
    """What each listener says of one recording."""
    return [
        StringAnswer(
            said=listen(recording),
            true_frequency=recording.truth_hz,
            listener=name,
            chain=recording.chain,
            source=recording.source,
            instrument=recording.instrument,
            quiet=recording.quiet_before,
            starts_inside=recording.starts_inside_ring,
        )
        for name, listen in listeners.items()
    ]


def answer_all(
    recordings: Iterable[ForeignRecording],
    listeners: dict[str, Listener],
    *,
    n_processes: int = 1,
) -> list[StringAnswer]:
    """Every answer to every recording, in one or more processes."""
    work = partial(answers_to, listeners=listeners)
    if n_processes == 1:
        return [answer for one in recordings for answer in work(one)]
    with ProcessPoolExecutor(n_processes) as pool:
        heard = pool.map(work, recordings, chunksize=4)
        return [answer for answers in heard for answer in answers]


def require_all_seen(split: str, *, is_listed: bool) -> None:
    """Refuse to tell single recordings of the half that is held back; SystemExit."""
    if is_listed and split != "building":
        raise SystemExit(
            "recordings of the final half are not listed one by one; "
            "use --split building"
        )
