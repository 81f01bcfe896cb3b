"""General pitch estimators on single plucked ropes, beside the program.

    python -m tests.benchmarks.rivals --draws 100 --seed 0

The program hears the same draws twice: as it hears a rope of no known length, and with
its free length, which is all that one rope of a set has beside its sound. Needs librosa
and praat-parselmouth for their rows; without them the rows are left out. Each rival
gets its best chance: the true moment of release, up to 4 s from there, the rate brought
down to 1000 Hz, windows of 2.5 periods of the lowest pitch searched, and the median
over its frames. It cannot refuse; frames without pitch are skipped.
"""

import argparse
import datetime as dt
import time
from collections.abc import Callable, Sequence
from importlib.util import find_spec

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample

from tests.benchmarks.scoring import SetAnswer
from tests.benchmarks.sound_sets import Trial, answer_sets
from tests.benchmarks.sound_variants import LONE_GROSS, frequency_errors
from tests.synthesis.sets import SynthSet
from tests.synthesis.variants import draw_lone_rope

Array = NDArray[np.float64]
Rival = Callable[[Array], float]

RATE = 1000
LOWEST, HIGHEST = 2.0, 65.0
AFTER_RELEASE, LONGEST = 0.05, 4.0  # s
PUBLISHED = ("librosa yin", "Praat autocorrelation", "Praat subharmonic summation")
"""Held beside the program on the strings of others."""


def best_part(synthetic: SynthSet) -> Array:
    """Up to 4 s from the first release, at RATE."""
    recording = synthetic.recordings[0]
    rate = recording.sampling_rate
    first = int((recording.onsets[0] + AFTER_RELEASE) * rate)
    stops = [*recording.onsets[1:], np.inf]
    last = int(min(recording.onsets[0] + LONGEST, stops[0] - 0.4, 1e6) * rate)
    return slowed(recording.samples[first:last].astype(float), rate)


def slowed(part: Array, rate: int) -> Array:
    """A part of a recording at RATE, its peak at one."""
    slow: Array = resample(part, round(len(part) * RATE / rate))
    return slow / (float(np.max(np.abs(slow))) + 1e-12)


def highest_peak(samples: Array) -> float:
    """Frequency of the highest line within the range searched."""
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), 16384))
    frequencies = np.fft.rfftfreq(16384, 1.0 / RATE)
    spectrum[(frequencies < LOWEST) | (frequencies > HIGHEST)] = 0.0
    return float(frequencies[np.argmax(spectrum)])


def harmonic_product(samples: Array) -> float:
    """Highest product of the spectrum at five multiples."""
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), 2**17))
    frequencies = np.fft.rfftfreq(2**17, 1.0 / RATE)
    last = int(np.searchsorted(frequencies, HIGHEST))
    first = int(np.searchsorted(frequencies, LOWEST))
    level = np.log(spectrum + 1e-9)
    places = np.arange(first, last)
    total = sum(level[np.minimum(places * k, len(level) - 1)] for k in range(1, 6))
    return float(frequencies[first + int(np.argmax(total))])


def cepstrum(samples: Array) -> float:
    """Highest place of the real cepstrum."""
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), 8192))
    real = np.fft.irfft(np.log(spectrum + 1e-6))
    first, last = int(RATE / HIGHEST), int(RATE / LOWEST)
    return float(RATE / (first + int(np.argmax(real[first : last + 1]))))


def librosa_yin(samples: Array) -> float:
    """YIN of librosa."""
    import librosa

    frame = min(len(samples), int(2.5 * RATE / LOWEST))
    found = librosa.yin(
        samples, fmin=max(LOWEST, 2.2 * RATE / frame), fmax=HIGHEST, sr=RATE,
        frame_length=frame,
    )  # fmt: skip
    return float(np.median(found))


def librosa_pyin(samples: Array) -> float:
    """Probabilistic YIN of librosa."""
    import librosa

    frame = min(len(samples), int(2.5 * RATE / LOWEST))
    found, voiced, _ = librosa.pyin(
        samples, fmin=max(LOWEST, 2.2 * RATE / frame), fmax=HIGHEST, sr=RATE,
        frame_length=frame, hop_length=64,
    )  # fmt: skip
    return float(np.median(found[voiced])) if np.any(voiced) else float("nan")


def praat_autocorrelation(samples: Array) -> float:
    """Autocorrelation of Praat."""
    import parselmouth

    sound = parselmouth.Sound(samples, RATE)
    floor = max(LOWEST, 3.1 / (len(samples) / RATE))
    pitch = sound.to_pitch_ac(pitch_floor=floor, pitch_ceiling=HIGHEST)
    return median_voiced(pitch.selected_array["frequency"])


def praat_subharmonics(samples: Array) -> float:
    """Subharmonic summation of Praat."""
    import parselmouth

    # fifteen subharmonics up to 450 Hz; its frames last two periods of the lowest pitch
    pitch = parselmouth.Sound(samples, RATE).to_pitch_shs(
        minimum_pitch=max(LOWEST, 2.1 * RATE / len(samples)),
        maximum_frequency_component=0.45 * RATE,
        ceiling=HIGHEST,
    )
    return median_voiced(pitch.selected_array["frequency"])


def median_voiced(found: Array) -> float:
    """Median over the frames that have a pitch; nan of none. [Hz]"""
    voiced = found[found > 0.0]
    return float(np.median(voiced)) if len(voiced) else float("nan")


def available() -> dict[str, Rival]:
    """Rivals that can run here."""
    rivals: dict[str, Rival] = {
        "highest line": highest_peak,
        "harmonic product": harmonic_product,
        "cepstrum": cepstrum,
    }
    if find_spec("librosa"):
        rivals["librosa yin"] = librosa_yin
        rivals["librosa pyin"] = librosa_pyin
    if find_spec("parselmouth"):
        rivals["Praat autocorrelation"] = praat_autocorrelation
        rivals["Praat subharmonic summation"] = praat_subharmonics
    return rivals


def row_of(errors: Array, n_draws: int, milliseconds: float) -> tuple[str, ...]:
    """Gross of those given, refused, median of the rest, time per second of sound."""
    gross = ~(np.abs(errors) <= LONE_GROSS)
    fine = np.abs(errors[~gross])
    share = f"{100 * float(gross.mean()):.1f} %" if len(errors) else "none given"
    return (
        share,
        f"{100 * (1.0 - len(errors) / n_draws):.1f} %",
        f"{100 * float(np.median(fine)):.3f} %" if len(fine) else "",
        f"{milliseconds:.1f}",
    )


def rival_row(rival: Rival, draws: Sequence[tuple[Array, float]]) -> tuple[str, ...]:
    """What one rival makes of the draws; it refuses none."""
    begin = time.process_time()
    found = np.array([rival(samples) for samples, _ in draws])
    spent = time.process_time() - begin
    heard = sum(len(samples) for samples, _ in draws) / RATE
    truth = np.array([frequency for _, frequency in draws])
    return row_of(found / truth - 1.0, len(draws), 1000.0 * spent / heard)


def own_row(answers: Sequence[SetAnswer]) -> tuple[str, ...]:
    """What this program makes of the draws, from file to frequency."""
    errors = [frequency_errors(answer.ropes) for answer in answers]
    heard = sum(answer.sound_seconds for answer in answers)
    spent = sum(answer.seconds for answer in answers)
    return row_of(np.concatenate(errors), len(answers), 1000.0 * spent / heard)


def main() -> None:
    """Print the program and its rivals on the same draws."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.rivals")
    parser.add_argument("--draws", type=int, default=50)
    parser.add_argument("--seed", type=int, default=0, help="the first one")
    parser.add_argument("--processes", type=int, default=1)
    options = parser.parse_args()
    seeds = range(options.seed, options.seed + options.draws)
    draws = []
    for seed in seeds:
        synthetic = draw_lone_rope(seed)
        truth = synthetic.ropes[0].fundamental_frequency
        draws.append((best_part(synthetic), truth))
    today = dt.datetime.now(tz=dt.UTC).date()
    print(f"One rope alone, seeds {seeds[0]} to {seeds[-1]}, {today}.\n")
    print(
        "| estimator | over 3 % off, of those given | refused | median of the rest "
        "| ms per s of sound |"
    )
    print("|---|---|---|---|---|")
    for name, has_lengths in (("no length", False), ("with its length", True)):
        answers = answer_sets(
            draw_lone_rope,
            seeds,
            Trial(stage="hear", has_lengths=has_lengths),
            n_processes=options.processes,
        )
        print(f"| this program, {name} | " + " | ".join(own_row(answers)) + " |")
    for name, rival in available().items():
        print(f"| {name} | " + " | ".join(rival_row(rival, draws)) + " |")


if __name__ == "__main__":
    main()
