"""An hour of listening needs no more memory than ten minutes."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
_HOUR = """
from tests.benchmarks.live import hour
told = hour(rate=4000)
print(max(mb for minute, mb in told if 8 < minute < 12))
print(max(mb for minute, mb in told if minute > 50), told[-1][0])
"""


@pytest.mark.slow
@pytest.mark.skipif(
    not Path("/proc/self/status").exists(), reason="the kernel tells no memory here"
)
def test_memory_stays_flat_over_an_hour() -> None:
    done = subprocess.run(
        [sys.executable, "-c", _HOUR],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    early, late, minutes = map(float, done.stdout.split())
    assert minutes > 55.0
    # an hour of samples at 4 kHz is 57 MB; what is kept is 40 s
    assert late < early + 10.0
