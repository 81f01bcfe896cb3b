"""Hear real plucked strings from a folder: is the mode number right?

    python -m tests.benchmarks.real_strings FOLDER --seed 0

The repository holds none: the folder is the reader's. Sampled instruments whose files
are named by their note do (E1.mp3, As1.wav, harp-B1.mp3; s or # is a sharp), such as
the public packages tonejs-instrument-bass-electric-mp3 and -harp-mp3 (samples under
CC-BY 3.0). Only notes in the range the program searches are taken. A note's name is
good to about 2 % of frequency, so a mode number is right within 4 %. Each string is
heard as it is, after a moment of quiet, and worse: behind a 110 Hz low cut, in noise
15 dB below it and 50 Hz hum 3 dB below it, three times with noise of its own.
"""

import argparse
import re
import tempfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tension.files.sound import read_recording
from tests.benchmarks.scoring import count
from tests.benchmarks.sound_variants import hear_file
from tests.synthesis import disturbances
from tests.synthesis.recorder import LowCut, quantised, write_wave

Array = NDArray[np.float64]

NAMED = re.compile(r"(?:^|[-_ ])([A-G])([s#]?)(-?\d)$")
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
LOWEST, HIGHEST = 15.0, 63.0
RIGHT = 0.04
QUIET = 0.8  # s before the pluck
N_WORSE = 3


def note_frequency(stem: str) -> float | None:
    """Frequency of the note that a file's name ends in, A4 = 440 Hz. [Hz]"""
    found = NAMED.search(stem)
    if found is None:
        return None
    steps = SEMITONES[found[1]] + bool(found[2]) + 12 * (int(found[3]) + 1) - 69
    return float(440.0 * 2.0 ** (steps / 12.0))


def worsened(rng: np.random.Generator, samples: Array, rate: float) -> Array:
    """Low cut, noise and hum against the level of the second after the pluck."""
    heard = LowCut(frequency=110.0, order=2).apply(samples, rate)
    first = int(QUIET * rate)
    level = disturbances.rms(heard[first : first + int(rate)])
    noise = disturbances.white_noise(rng, len(heard))
    hum = disturbances.hum(rng, len(heard), rate, 50.0, 8)
    total: Array = heard + noise * (
        level * 10.0 ** (-15.0 / 20.0) / disturbances.rms(noise)
    )
    total += hum * (level * 10.0 ** (-3.0 / 20.0) / disturbances.rms(hum))
    return total


def answer(samples: Array, rate: int, folder: Path) -> float | None:
    """Frequency given, or None if refused. [Hz]"""
    path = folder / "string.wav"
    write_wave(path, quantised(0.8 * samples / np.max(np.abs(samples))), rate)
    rope = hear_file(path, None)
    return None if rope.refusal is not None else rope.fundamental_frequency


def row(what: str, pairs: list[tuple[float | None, float]]) -> str:
    """Right, refused and wrong of a list of answers and notes."""
    refused = count(found is None for found, _ in pairs)
    right = count(
        found is not None and abs(found / note - 1.0) <= RIGHT for found, note in pairs
    )
    wrong = count(
        found is not None and abs(found / note - 1.0) > RIGHT for found, note in pairs
    )
    return f"| {what} | {right} | {refused} | {wrong} |"


def main() -> None:
    """Print one table."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.real_strings")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    rng = np.random.default_rng(options.seed)
    clean: list[tuple[float | None, float]] = []
    worse: list[tuple[float | None, float]] = []
    with tempfile.TemporaryDirectory() as name:
        for path in sorted(options.folder.iterdir()):
            note = note_frequency(path.stem)
            if note is None or not LOWEST <= note <= HIGHEST:
                continue
            recording = read_recording(path)
            rate = round(recording.sampling_rate)
            string = np.asarray(recording.samples, dtype=float)
            string /= np.max(np.abs(string))
            faint = 1e-4 * rng.standard_normal(len(string) + int(QUIET * rate))
            faint[int(QUIET * rate) :] += string
            clean.append((answer(faint, rate, Path(name)), note))
            worse += [
                (answer(worsened(rng, faint, rate), rate, Path(name)), note)
                for _ in range(N_WORSE)
            ]
            found = clean[-1][0]
            told = "refused" if found is None else f"{found:.3f} Hz"
            print(f"{path.name}: note {note:.2f} Hz, {told}")
    print("\n| strings | mode number right | refused | wrong |\n|---|---|---|---|")
    print(row("as they are", clean))
    print(row("low cut, noise and hum", worse))


if __name__ == "__main__":
    main()
