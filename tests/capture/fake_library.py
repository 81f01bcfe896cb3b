"""A stand-in for sounddevice: devices, refusals, callbacks."""

import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np
import pytest


class PortAudioError(Exception):
    """As the library raises it."""


def input_device(
    name: str, rate: float = 48_000.0, channels: int = 2
) -> dict[str, Any]:
    """One device as the library describes it."""
    return {
        "name": name,
        "hostapi": 0,
        "max_input_channels": channels,
        "default_samplerate": rate,
    }


@dataclass(kw_only=True)
class FakeLibrary:
    """What the tests set and see."""

    devices: list[dict[str, Any]]
    default: int = 0
    refused_rates: set[int] = field(default_factory=set)
    refused_channels: set[int] = field(default_factory=set)
    opened: list[dict[str, Any]] = field(default_factory=list)
    is_active: bool = True
    callback: Callable[..., None] | None = None

    def install(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Stand in for the library."""
        library = self

        class InputStream:
            def __init__(self, **given: Any) -> None:  # noqa: ANN401 - as the library
                if given["samplerate"] in library.refused_rates:
                    raise PortAudioError("Invalid sample rate [PaErrorCode -9997]")
                if given["channels"] in library.refused_channels:
                    raise PortAudioError("Invalid number of channels [-9998]")
                library.opened.append(given)
                library.callback = given["callback"]

            @property
            def active(self) -> bool:
                return library.is_active

            def start(self) -> None:
                pass

            def close(self, *, ignore_errors: bool) -> None:
                assert ignore_errors

        module: Any = ModuleType("sounddevice")
        module.PortAudioError = PortAudioError
        module.InputStream = InputStream
        module.query_devices = lambda: self.devices
        module.query_hostapis = lambda: [
            {"name": "ALSA", "default_input_device": self.default}
        ]
        module.default = SimpleNamespace(device=[self.default, -1])
        monkeypatch.setitem(sys.modules, "sounddevice", module)

    def give(self, values: list[int], *, overflow: bool = False) -> None:
        """Call back with one block."""
        assert self.callback is not None
        samples = np.array(values, dtype=np.int32)[:, np.newaxis]
        status = SimpleNamespace(input_overflow=True) if overflow else None
        self.callback(samples, len(values), None, status)
