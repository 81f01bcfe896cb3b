"""A visit by ear killed anywhere: what came in is on the disk, and it is resumed."""

import mmap
import os
import signal
import struct
import threading
import time
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tension.files.record import read_visit
from tension.files.sound import read_recording
from tension.measurement.readings import PluckReading
from tension.notes import NoteKind
from tests.workflow.live_desk import (
    RATE,
    Choice,
    Desk,
    plucks_on_demand,
    visit,
    write_record,
)
from tests.workflow.quick_ear import use_quick_ear

N_KILLS = 50
CHOICE = Choice(plucks=2, is_back=False)
N_BLOCKS = 400
"""An uncut visit takes about so many blocks of 0.05 s."""


def _result(record: Path) -> object:
    """Stands for a result that asks for nothing more."""

    class Nothing:
        visit = read_visit(record)
        measure_again = ()

    nothing = Nothing()
    nothing.assessment = nothing  # type: ignore[attr-defined]
    return nothing


def _run(record: Path, count: mmap.mmap | None = None, kill_at: int = 0) -> Desk:
    """Run a visit; count the samples handed over, and die some blocks on."""
    desk = Desk()
    made = visit(record, plucks_on_demand(desk, ring=4.4, rest=0.4), desk, CHOICE)
    made.assess = lambda *_, **__: _result(record)  # type: ignore[assignment]
    take = made.source.take
    n_blocks = 0

    def counted(patience: float) -> object:
        nonlocal n_blocks
        block = take(patience)
        n_blocks += 1
        if count is not None and block is not None:
            before = struct.unpack_from("q", count)[0]
            struct.pack_into("q", count, 0, before + block.samples.size)
            if n_blocks == kill_at:
                _die_soon(kill_at)
        return block

    made.source.take = counted  # type: ignore[method-assign,assignment]
    made.run()
    return desk


def _die_soon(seed: int) -> None:
    """Be killed a few thousandths of a second on, wherever the program is then."""
    delay = np.random.default_rng(seed).uniform(0.0, 0.01)

    def die() -> None:
        time.sleep(delay)
        os.kill(os.getpid(), signal.SIGKILL)

    threading.Thread(target=die, daemon=True).start()


def _run_killed(record: Path, kill_at: int) -> tuple[bool, int]:
    """Run in a child that is killed; whether it was, and the samples it was given."""
    with mmap.mmap(-1, 8) as count:
        child = os.fork()
        if child == 0:
            try:
                _run(record, count, kill_at)
            finally:
                os._exit(0)
        _, status = os.waitpid(child, 0)
        return os.WIFSIGNALED(status), struct.unpack_from("q", count)[0]


def _on_disk(folder: Path) -> int:
    """Samples in all recordings, by their headers."""
    total = 0
    for path in folder.rglob("*.wav"):
        with wave.open(str(path), "rb") as file:
            total += file.getnframes()
    return total


def _hard() -> Iterator[int]:
    rng = np.random.default_rng(20)
    yield from rng.integers(3, N_BLOCKS, N_KILLS).tolist()


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that can fork")
def test_fifty_kills_lose_nothing_and_are_resumed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    use_quick_ear(monkeypatch)
    n_killed = 0
    for k, kill_at in enumerate(_hard()):
        record = write_record(tmp_path / f"v{k}")
        was_killed, given = _run_killed(record, kill_at)
        n_killed += was_killed
        assert _on_disk(record.parent) >= given - 0.5 * RATE, f"kill {k} at {kill_at}"
        visit_then = read_visit(record)
        for path in record.parent.rglob("*.wav"):
            refusal = read_recording(path).refusal
            assert refusal is None or refusal.code == NoteKind.TOO_SHORT.code
        if k % 2:  # killed again while it goes on
            _run_killed(record, kill_at // 3 + 3)
        _run(record)
        readings = read_visit(record).readings
        assert readings[: len(visit_then.readings)] == visit_then.readings
        ropes = {r.ropes[0] for r in readings if isinstance(r, PluckReading)}
        assert ropes == {1, 2}
        names = {r.recording for r in readings if isinstance(r, PluckReading)}
        kept = {
            p.relative_to(record.parent).as_posix()
            for p in record.parent.rglob("*.wav")
        }
        assert kept == names
    assert n_killed > 0.8 * N_KILLS
