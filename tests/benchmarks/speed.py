"""Speed and memory as ratios within one run, printed as the tables of docs/accuracy.md.

``python -m tests.benchmarks.speed [--runs 5]``; needs ffmpeg to make the m4a files.
"""

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
import wave
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import numpy as np

RATE = 48_000
BASELINE = "import numpy, scipy.signal, scipy.optimize"


def plucked(seconds: float, fundamental: float, seed: int) -> np.ndarray:
    """A plain decaying comb with noise: speed needs sound, not truth."""
    rng = np.random.default_rng(seed)
    times = np.arange(int(seconds * RATE)) / RATE
    samples = 0.003 * rng.standard_normal(len(times))
    for start in np.arange(1.0, seconds - 3.0, 5.0):
        after = times - start
        ring = (after >= 0) * np.exp(-np.clip(after, 0, None) / 1.2)
        for mode in range(3, 20):
            stretched = mode * fundamental * np.sqrt(1 + 1e-4 * mode**2)
            samples += 0.02 * ring * np.sin(2 * np.pi * stretched * after)
    return samples


def write_wav(path: Path, samples: np.ndarray) -> None:
    """Write 16-bit mono."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())


def make_memos(folder: Path, seconds: float = 15.0) -> list[Path]:
    """Six m4a memos."""
    memos = []
    for rope in range(6):
        source = folder / "source.wav"
        write_wav(source, plucked(seconds, 15.0 + 0.1 * rope, rope))
        memo = folder / f"memo-{rope + 1}.m4a"
        subprocess.run(
            ["ffmpeg", "-v", "error", "-y", "-i", source, "-b:a", "64k", memo],
            check=True,
        )
        memos.append(memo)
    return memos


def wall_time(command: Sequence[str | Path]) -> float:
    """Wall time of one process, bytecode compiled, nothing printed."""
    environment = {k: v for k, v in os.environ.items() if "DONTWRITE" not in k}
    started = time.perf_counter()
    subprocess.run(command, capture_output=True, check=False, env=environment)
    return time.perf_counter() - started


def cold_start(memos: Sequence[Path], runs: int) -> str:
    """Assess six memos against importing numpy and scipy, alternately."""
    assess: list[str | Path] = [sys.executable, "-m", "tension", "assess", *memos]
    assess += ["--free-length", "3.4 m", "--same-height"]
    baseline: list[str | Path] = [sys.executable, "-c", BASELINE]
    wall_time(assess), wall_time(baseline)
    pairs = [(wall_time(assess), wall_time(baseline)) for _ in range(runs)]
    ratios = sorted(a / b for a, b in pairs)
    return (
        f"| `assess` on six 15 s m4a files, cold / importing numpy, scipy.signal, "
        f"scipy.optimize | {statistics.median(ratios):.2f} | {ratios[0]:.2f} to "
        f"{ratios[-1]:.2f} | at most 3 |"
    )


def real_time(folder: Path) -> str:
    """Reading and hearing on one core against the length of the sound."""
    path = folder / "minute.wav"
    write_wav(path, plucked(60.0, 15.2, 7))
    code = (
        "import sys, time, tension\n"
        "from tension.sound.hearing import RopeSpan\n"
        "from pathlib import Path\n"
        "p = Path(sys.argv[1])\n"
        "def go():\n"
        "    take = tension.Take(recording=tension.read_recording(p), ropes=(1,))\n"
        "    tension.hear_set([take], [RopeSpan(number=1)])\n"
        "go(); t = time.process_time(); go(); print(time.process_time() - t)"
    )
    environment = os.environ | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    found = sorted(
        60.0
        / float(
            subprocess.run(
                [sys.executable, "-c", code, path],
                capture_output=True,
                text=True,
                check=True,
                env=environment,
            ).stdout
        )
        for _ in range(3)
    )
    return (
        f"| length of a 48 kHz recording / processor time to read and hear it "
        f"| {statistics.median(found):.0f} | {found[0]:.0f} to {found[-1]:.0f} "
        "| at least 20 |"
    )


def memory(folder: Path) -> str:
    """Peak memory of an hour of sound, of one whole process."""
    path = folder / "hour.wav"
    minute = (np.clip(plucked(60.0, 15.2, 3), -1, 1) * 32767).astype("<i2").tobytes()
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        for _ in range(60):
            file.writeframes(minute)
    subprocess.run(
        [sys.executable, "-m", "tension", "pluck", path, "--json"],
        capture_output=True,
        check=False,
    )
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    return (
        f"| peak memory of `pluck` on an hour of sound | {peak:.0f} MB | - | 300 MB |"
    )


def main() -> None:
    """Run all and print one table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=7)
    runs = parser.parse_args().runs
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        hour = memory(folder)  # first: later children would hide its peak
        rows = [cold_start(make_memos(folder), runs), real_time(folder), hour]
    print(f"Measured {date.today()}, {runs} pairs, medians.\n")
    print("| what | median | range | asked |\n|---|---|---|---|")
    print("\n".join(rows))


if __name__ == "__main__":
    main()
