"""Devices chosen, opened, refused and gone: one line with the next step each."""

import sys
from pathlib import Path

import pytest

from tension import capture
from tension.capture import Device, Microphone, choose_device, find_devices
from tension.errors import CaptureError
from tests.capture.fake_library import FakeLibrary, input_device


def _library(
    monkeypatch: pytest.MonkeyPatch, *names: str, **more: object
) -> FakeLibrary:
    library = FakeLibrary(devices=[input_device(name) for name in names], **more)  # type: ignore[arg-type]
    library.install(monkeypatch)
    return library


def test_outputs_are_no_microphones(monkeypatch: pytest.MonkeyPatch) -> None:
    library = _library(monkeypatch, "USB microphone", "Speakers", default=0)
    library.devices[1]["max_input_channels"] = 0
    found = find_devices()
    assert [(one.number, one.name, one.is_default) for one in found] == [
        (0, "USB microphone", True)
    ]


@pytest.mark.parametrize(
    ("wanted", "number"),
    [(None, 1), ("0", 0), ("usb", 2), ("Built-in", 1), ("Built-in front", 0)],
)
def test_a_device_is_chosen_as_it_is_meant(
    monkeypatch: pytest.MonkeyPatch, wanted: str | None, number: int
) -> None:
    _library(monkeypatch, "Built-in front", "Built-in", "USB mic", default=1)
    assert choose_device(find_devices(), wanted).number == number


@pytest.mark.parametrize(
    ("wanted", "said"),
    [("nosuch", 'no input device "nosuch"; there are: 0 '), ("bui", "give the number")],
)
def test_a_device_that_is_none_or_two_is_told(
    monkeypatch: pytest.MonkeyPatch, wanted: str, said: str
) -> None:
    _library(monkeypatch, "Built-in front", "Built-in")
    with pytest.raises(CaptureError, match=said):
        choose_device(find_devices(), wanted)


def test_no_device_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    _library(monkeypatch)
    with pytest.raises(CaptureError, match="no microphone was found; plug one in"):
        choose_device(find_devices(), None)


def test_a_missing_package_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(CaptureError, match="pip install sounddevice"):
        find_devices()


def test_a_missing_library_is_told(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "sounddevice.py").write_text(
        'raise OSError("PortAudio library not found")\n'
    )
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.syspath_prepend(str(tmp_path))
    with pytest.raises(CaptureError, match="PortAudio is missing; "):
        find_devices()
    sys.modules.pop("sounddevice", None)


def test_a_sound_system_that_does_not_start_is_told(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "sounddevice.py").write_text('raise Exception("no host API")\n')
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.syspath_prepend(str(tmp_path))
    with pytest.raises(CaptureError, match=r"does not start \(no host API\); see"):
        find_devices()
    sys.modules.pop("sounddevice", None)


def _device(name: str = "USB mic", rate: float = 48_000.0) -> Device:
    return Device(
        number=0,
        name=name,
        interface="ALSA",
        n_channels=2,
        sampling_rate=rate,
        is_default=True,
    )


def test_the_own_rate_and_one_channel_are_asked_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    library = _library(monkeypatch, "USB mic")
    opened = Microphone(_device(rate=44_100.0))
    assert opened.sampling_rate == 44_100
    assert library.opened[0]["channels"] == 1
    assert library.opened[0]["latency"] >= 0.1


def test_two_channels_where_one_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    library = _library(monkeypatch, "USB mic", refused_channels={1})
    Microphone(_device())
    assert library.opened[0]["channels"] == 2


def test_another_rate_where_its_own_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    _library(monkeypatch, "USB mic", refused_rates={96_000})
    assert Microphone(_device(rate=96_000.0)).sampling_rate == 48_000


def test_a_rate_refused_throughout_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    _library(monkeypatch, "USB mic", refused_rates={96_000, 48_000, 44_100})
    with pytest.raises(CaptureError, match=r"opened at 96000 Hz .*tension devices"):
        Microphone(_device(rate=96_000.0))


def test_blocks_come_in_order_with_what_the_library_says(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    library = _library(monkeypatch, "USB mic")
    opened = Microphone(_device())
    library.give([1, 2])
    library.give([3], overflow=True)
    first, second = opened.take(0.1), opened.take(0.1)
    assert first is not None
    assert second is not None
    assert [*first.samples, *second.samples] == [1, 2, 3]
    assert (first.has_overflowed, second.has_overflowed) == (False, True)
    assert opened.take(0.0) is None


def test_a_device_that_is_gone_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    library = _library(monkeypatch, "USB mic")
    opened = Microphone(_device())
    library.is_active = False
    with pytest.raises(CaptureError, match="gives nothing any more"):
        opened.take(0.0)


def test_a_device_that_falls_still_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    _library(monkeypatch, "USB mic")
    opened = Microphone(_device())
    monkeypatch.setattr(capture, "STILL", 0.0)
    with pytest.raises(CaptureError, match="gives nothing any more"):
        opened.take(0.01)
