"""`listen` and `devices` through real audio, at a terminal: what is played is heard."""

import json
import os
import re
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.capture.made_source import noise
from tests.capture.null_sink import RATE, NullSink, null_sink
from tests.cli.demo_played import DEMO, write_empty_record, write_memos
from tests.cli.running import run
from tests.end_to_end.pseudo_terminal import Terminal

pytestmark = pytest.mark.slow

MOST_ATTEMPTS, PATIENCE = 5, 40.0
"""Times a memo of 9 s is played, and how long a rope may take after each. [1, s]"""


@pytest.fixture
def sink() -> Iterator[NullSink]:
    with null_sink() as running:
        yield running


def _room(sink: NullSink, seconds: float = 900.0) -> None:
    """A quiet room: no microphone gives exact zeros."""
    twenty = noise(20.0, RATE, 1e-4)
    sink.play_samples(np.tile(twenty, round(seconds / 20.0)), "room")


def _hear_rope(
    terminal: Terminal, sink: NullSink, memos: dict[int, Path], rope: int
) -> None:
    """Play the memo of a rope until it is done, again where a pluck was lost."""
    for attempt in range(MOST_ATTEMPTS):
        player = sink.play(memos[rope])
        try:
            terminal.expect(f"rope {rope}: done", PATIENCE)
            break
        except AssertionError:  # a pluck was lost on a busy machine: pluck again
            if attempt == MOST_ATTEMPTS - 1:
                raise
        finally:
            player.kill()


def _hear_ropes(
    terminal: Terminal, sink: NullSink, memos: dict[int, Path], n_ropes: int
) -> None:
    """Play the memo of each rope that is asked for."""
    for _ in range(n_ropes):
        asked = terminal.expect(r"rope (\d): pluck \(1 of 3\)", 120.0)
        _hear_rope(terminal, sink, memos, int(asked.group(1)))


def test_the_demo_played_is_heard_as_its_files_are(
    sink: NullSink, tmp_path: Path
) -> None:
    record = write_empty_record(tmp_path / "visit")
    memos = write_memos(sink.folder)
    words = ["listen", str(record.parent), "--once", "--json"]
    _room(sink)
    with Terminal(words, sink.environment) as terminal:
        terminal.expect(r"rope 1: pluck \(1 of 3\)")
        terminal._read_to = 0
        _hear_ropes(terminal, sink, memos, 2)
        sink.play(memos[5])
        terminal.expect(r"rope 5: pluck \(2 of 3\)", 120.0)
        terminal.kill()
    out = tmp_path / "heard.json"
    with Terminal(words, sink.environment, out) as terminal:
        terminal.expect("rope-5.wav from before the break: rope 5, ", 120.0)
        while not re.search("rope 6: done", terminal.shown):
            found = terminal.expect(r"rope (\d): pluck \(\d of 3\)", 120.0)
            _hear_rope(terminal, sink, memos, int(found.group(1)))
        assert terminal.end() == 10
    heard = json.loads(out.read_text())
    again = run("assess", record.parent, "--json").document
    assert heard["command"] == "listen"
    assert heard | {"command": "assess"} == again
    files = run("assess", DEMO, "--json").document
    for live, file in zip(heard["ropes"], files["ropes"], strict=True):
        assert live["share_percent"] == pytest.approx(file["share_percent"], rel=1e-3)
    assert heard["verdict"] == files["verdict"] == "unequal"


def test_devices_tells_silence_and_sound(sink: NullSink) -> None:
    with Terminal(["devices"], sink.environment) as terminal:
        assert terminal.end() == 3
        shown = " ".join(terminal.shown.split())
    assert "The input is exactly zero: no permission, muted, or the wrong one" in shown
    _room(sink, 60.0)
    with Terminal(["devices", "--device", "pulse"], sink.environment) as terminal:
        assert terminal.end() == 0
    assert "Loudest: [" in terminal.shown
    assert "pulse" in terminal.shown


def test_a_microphone_that_goes_and_ctrl_c_keep_what_was_heard(
    sink: NullSink, tmp_path: Path
) -> None:
    record = write_empty_record(tmp_path / "visit")
    memos = write_memos(sink.folder)
    words = ["listen", str(record.parent), "--once"]
    go_on = f"what was heard is kept; go on with: tension listen {record.parent}"
    _room(sink)
    with Terminal(words, sink.environment) as terminal:
        terminal.expect(r"rope 1: pluck \(1 of 3\)")
        sink.play(memos[1])
        terminal.expect(r"rope 1: pluck \(2 of 3\)", 120.0)
        os.killpg(terminal.process.pid, signal.SIGINT)
        assert terminal.end() == 130
    assert f"stopped; {go_on}" in " ".join(terminal.shown.split())
    assert "Traceback" not in terminal.shown
    assert 'recording = "as-found/rope-1.wav"' in record.read_text()
    with Terminal(words, sink.environment) as terminal:
        terminal.expect(r"rope 1: pluck", 120.0)
        time.sleep(1.0)
        sink.server.kill()
        assert terminal.end() == 3
    shown = " ".join(terminal.shown.split())
    assert "gives nothing any more; see its plug and cable; what was" in shown
    assert "Traceback" not in terminal.shown
