"""`listen` and `devices` where no sound is needed: lists, refusals, words."""

import sys
from pathlib import Path

import numpy as np
import pytest

from tension import capture
from tension.capture import Block, LossKind
from tension.cli.listening import event_line, level_bar
from tension.workflow.live.events import NotCounted, What
from tests.capture.fake_library import FakeLibrary, input_device
from tests.cli.running import Ran, run
from tests.cli.test_documents import _keys, _told
from tests.workflow.live_desk import write_record


class _Heard:
    """A microphone that gives a short noise, with a hole in it."""

    name = "made"
    sampling_rate = 8000

    def __init__(self, device: object) -> None:
        del device
        self.clock = 0.0

    def take(self, patience: float) -> Block:
        del patience
        self.clock += 0.25
        samples = np.random.default_rng(1).integers(1, 2**27, 2000).astype(np.int32)
        samples[300:700] = 0
        return Block(samples=samples, moment=self.clock)

    def close(self) -> None:
        pass


@pytest.fixture
def _two(monkeypatch: pytest.MonkeyPatch) -> None:
    names = ("Built-in", "USB microphone")
    FakeLibrary(devices=[input_device(n) for n in names], default=1).install(
        monkeypatch
    )
    monkeypatch.setattr(capture, "Microphone", _Heard)


def _one_line(ran: Ran, said: str) -> None:
    assert ran.code == 3
    assert ran.out == ""
    lines = ran.err.splitlines()
    assert len(lines) == 1, lines
    assert lines[0].startswith("tension: ")
    assert said in lines[0]


@pytest.mark.usefixtures("_two")
def test_devices_lists_and_looks() -> None:
    ran = run("devices")
    assert ran.code == 0
    assert "->    1  USB microphone  ALSA     48000 Hz" in ran.out
    assert "Loudest: [" in ran.out
    assert "exact silence within the sound" in ran.out


@pytest.mark.usefixtures("_two")
def test_devices_may_list_only() -> None:
    ran = run("devices", "--list")
    assert "Loudest" not in ran.out
    assert "Built-in" in ran.out


@pytest.mark.usefixtures("_two")
def test_the_document_of_devices_has_the_keys_the_page_tells() -> None:
    told = {key for key in _told("devices") if key != "check"}
    found = set(_keys(run("devices", "--json").document))
    envelope = {key.partition("[")[0] for key in _told("Envelope, in every document")}
    own = {key for key in found if key.rstrip("?").partition(".")[0] not in envelope}
    assert own == told
    assert run("devices", "--json", "--list").document["check"] is None


def test_listen_without_a_record_tells_how_to_make_one(tmp_path: Path) -> None:
    _one_line(run("listen", tmp_path), f"make one with 'tension start {tmp_path}'")


def test_listen_without_a_microphone_touches_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    FakeLibrary(devices=[], default=-1).install(monkeypatch)
    record = write_record(tmp_path / "v")
    before = record.read_bytes()
    _one_line(run("listen", record.parent), "no microphone was found; plug one in")
    assert record.read_bytes() == before
    assert [path.name for path in record.parent.iterdir()] == ["visit.toml"]


def test_listen_without_the_library_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    record = write_record(tmp_path / "v")
    _one_line(run("listen", record), "pip install sounddevice")


def test_listen_to_a_rope_that_is_not_there_is_one_line(tmp_path: Path) -> None:
    record = write_record(tmp_path / "v")
    _one_line(run("listen", record, "--order", "1 7"), "there is no rope 7; the set")


def test_an_order_that_is_no_order_is_wrong_usage(tmp_path: Path) -> None:
    assert run("listen", write_record(tmp_path / "v"), "--order", "a b").code == 2


@pytest.mark.parametrize(
    ("platform", "said"),
    [
        ("darwin", "System Settings, Privacy & Security, Microphone"),
        ("win32", "let desktop apps use it"),
        ("linux", "tension devices"),
    ],
)
def test_zeros_are_told_by_what_they_usually_are(
    monkeypatch: pytest.MonkeyPatch, platform: str, said: str
) -> None:
    monkeypatch.setattr(sys, "platform", platform)
    assert said in event_line("silent")


@pytest.mark.parametrize("what", What)
def test_all_that_happens_has_words(what: What) -> None:
    named: dict[str, object] = {
        "device": "USB",
        "recording": "a.wav",
        "order": "1 2",
    }
    named |= {"rope": 3, "n_plucks": 2, "sampling_rate": 48000, "next_act": ""}
    heard = {"fundamental_frequency": 10.9, "reason": NotCounted.NO_PLUCK}
    places = named | heard | {"seconds": 0.1, "kind": LossKind.CLOCK}
    said = event_line(what, **places)
    assert said
    assert "{" not in said


def test_an_answer_says_heard_or_why_not() -> None:
    good = {"rope": 3, "fundamental_frequency": 10.894}
    assert event_line("heard", **good) == "rope 3: heard, 10.89 Hz"
    lost = {"rope": 3, "reason": NotCounted.INPUT_LOST, "next_act": ""}
    said = event_line("not-heard", **lost)
    assert said == "rope 3: not counted: input was lost in it"
    ear = {"rope": 3, "reason": "Too faint.", "next_act": "Go nearer."}
    said = event_line("not-heard", **ear)
    assert said == "rope 3: not counted: Too faint. Go nearer."


def test_a_loss_says_how_much_if_it_is_known_and_what_to_do() -> None:
    said = event_line("lost", seconds=0.16, kind=LossKind.ZEROS)
    assert said.startswith("0.16 s of input were lost: ")
    assert "switch voice processing off" in said
    said = event_line("lost", seconds=0.0, kind=LossKind.OVERFLOW)
    assert said.startswith("input was lost: the computer was too busy")


def test_a_level_is_drawn_with_its_figure() -> None:
    assert level_bar(-35.0) == "[##########..........] -35 dB"
    assert level_bar(-0.5).endswith("too loud")
    assert level_bar(float("-inf")) == f"[{'.' * 20}] silent"
