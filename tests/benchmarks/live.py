"""What a visit by ear costs: answers, waiting, memory over an hour.

``python -m tests.benchmarks.live`` prints the table of docs/listening-live.md; times
are of the processor, so that a busy machine shows the same.
"""

import argparse
import contextlib
import re
import statistics
import tempfile
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from tension.errors import CaptureError
from tension.workflow.live import takes
from tension.workflow.live.events import What
from tension.workflow.live.listen import prepare
from tension.workflow.live.takes import hear_window, open_book
from tests.capture.made_source import Made, MadeSource, noise, pluck
from tests.cli.demo_played import memo, write_empty_record
from tests.workflow.live_desk import AtOnce, Desk, write_record
from tests.workflow.quick_ear import use_quick_ear

SEED = 4


def demo_answers(folder: Path) -> tuple[list[float], int]:
    """Processor time of each answer on the demo set, and how many were good."""
    record = write_empty_record(folder / "demo")
    desk = Desk()
    times: list[float] = []

    def timed(*given: object) -> object:
        began = time.process_time()
        answer = hear_window(*given)  # type: ignore[arg-type]
        times.append(time.process_time() - began)
        return answer

    rate = memo(1)[1]

    def played() -> Iterator[Made]:
        yield noise(2.0, rate, 1e-4, SEED)
        while True:
            samples = np.concatenate([memo(desk.rope)[0], noise(2.0, rate, 1e-4)])
            yield from np.array_split(samples, samples.size // 2000)

    source = MadeSource(script=played(), sampling_rate=rate)
    made = prepare(
        open_book(record, AtOnce()),
        is_back=False,
        source=source,
        surface=desk,
    )
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(takes, "hear_window", timed)
        made.run()
    return times, len(desk.places_of(What.HEARD))


def waiting_share(seconds: float = 60.0, rate: int = 48_000) -> float:
    """Processor time of a second of waiting, the sound system left out."""
    with tempfile.TemporaryDirectory() as folder:
        desk = Desk()
        source = MadeSource(
            script=iter([noise(seconds, rate, 1e-3, SEED)]), sampling_rate=rate
        )
        made = prepare(
            open_book(write_record(Path(folder) / "v"), AtOnce()),
            source=source,
            surface=desk,
        )
        began = time.process_time()
        with contextlib.suppress(CaptureError):  # the script is at its end
            made.run()
        assert desk.ropes_of(What.BEGAN)
        return (time.process_time() - began) / seconds


def _resident() -> float:
    """Memory of this process in MB, as the kernel counts it."""
    status = Path("/proc/self/status").read_text()
    found = re.search(r"VmRSS:\s+(\d+)", status)
    assert found is not None
    return int(found.group(1)) / 1024.0


def hour(rate: int = 8000, minutes: float = 60.0) -> list[tuple[float, float]]:
    """Memory by the minute of a visit of an hour, the ear a quick one."""
    told: list[tuple[float, float]] = []
    with (
        pytest.MonkeyPatch.context() as patched,
        tempfile.TemporaryDirectory() as folder,
    ):
        use_quick_ear(patched)
        desk = Desk()
        ring = pluck(10.9, 6.0, rate)

        def played() -> Iterator[Made]:
            second = 0
            while second < 60.0 * minutes:
                yield noise(40.0, rate, 1e-3, second)
                yield ring + noise(6.0, rate, 1e-3, second + 1)
                second += 46
                told.append((second / 60.0, _resident()))

        source = MadeSource(script=played(), sampling_rate=rate)
        made = prepare(
            open_book(write_record(Path(folder) / "v", n_ropes=12), AtOnce()),
            plucks=4,
            source=source,
            surface=desk,
        )
        with contextlib.suppress(CaptureError):  # the script is at its end
            made.run()
    return told


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--minutes", type=float, default=60.0)
    minutes = parser.parse_args().minutes
    with tempfile.TemporaryDirectory() as folder:
        times, n_good = demo_answers(Path(folder))
    told = hour(minutes=minutes)
    early = [mb for minute, mb in told if 0.1 * minutes <= minute <= 0.2 * minutes]
    late = [mb for minute, mb in told if minute >= 0.9 * minutes]
    print(f"Run on {date.today()}, seed {SEED}.\n")
    print("| what | figure |\n|---|---|")
    print(
        f"| answer after the end of a ring, {len(times)} plucks of the demo set "
        f"({n_good} good) | median {statistics.median(times):.2f} s, most "
        f"{max(times):.2f} s |"
    )
    print(
        "| processor while waiting, 48 kHz, the sound system left out (60 s) | "
        f"{100 * waiting_share():.1f} % of one |"
    )
    print(
        f"| memory over {told[-1][0]:.0f} minutes (simulated, 8 kHz, 12 ropes, quick "
        f"ear) | {statistics.mean(early):.0f} MB after a tenth, "
        f"{statistics.mean(late):.0f} MB at the end |"
    )


if __name__ == "__main__":
    main()
