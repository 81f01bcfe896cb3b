"""A sound server without a sound card: what is played is what the microphone hears.

PulseAudio with a null sink whose monitor is the default source, reached through its
plugin for ALSA, as PortAudio of Debian knows no other way. No systemd, no D-Bus; it
runs as root too. Needs pulseaudio, pulseaudio-utils, libportaudio2, libasound2-plugins.
"""

import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
import wave
from collections.abc import Iterator
from ctypes.util import find_library
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

from tests.capture.made_source import Made

RATE = 48_000
_PLUGIN = "alsa-lib/libasound_module_pcm_pulse.so"


def why_not() -> str:
    """Why it cannot run here; empty if it can."""
    if not sys.platform.startswith("linux"):
        return "PulseAudio with a null sink is set up on Linux only"
    missing = [
        name for name in ("pulseaudio", "pactl", "paplay") if not shutil.which(name)
    ]
    if find_library("portaudio") is None:
        missing.append("libportaudio2")
    if not any(Path("/usr/lib").glob(f"*/{_PLUGIN}")):
        missing.append("libasound2-plugins")
    return f"not installed: {', '.join(missing)}" if missing else ""


def require_server() -> None:
    """Skip where it cannot run; in CI that is a failure."""
    reason = why_not()
    if reason and os.environ.get("TENSION_IN_CI"):
        pytest.fail(reason)
    if reason:
        pytest.skip(reason)


@dataclass(kw_only=True)
class NullSink:
    """A running server."""

    folder: Path
    environment: dict[str, str]
    server: subprocess.Popen[bytes]
    players: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def play(self, path: Path) -> subprocess.Popen[bytes]:
        """Begin to play a WAV file."""
        player = subprocess.Popen(
            ["paplay", "--device=fakemic", str(path)], env=self.environment
        )
        self.players.append(player)
        return player

    def play_samples(
        self, samples: Made, name: str = "played"
    ) -> subprocess.Popen[bytes]:
        """Begin to play samples."""
        path = self.folder / f"{name}.wav"
        write_wav(path, samples)
        return self.play(path)

    def stop_playing(self) -> None:
        """Let every player end."""
        for player in self.players:
            player.kill()
            player.wait()
        self.players.clear()


def write_wav(path: Path, samples: Made, rate: int = RATE) -> None:
    """Write 16 bit."""
    whole = np.round(np.clip(samples, -1.0, 1.0) * (2**15 - 1)).astype("<i2")
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(whole.tobytes())


@contextlib.contextmanager
def null_sink() -> Iterator[NullSink]:
    """Run a server while this holds."""
    require_server()
    folder = Path(tempfile.mkdtemp(prefix="ns"))  # names of sockets are short
    environment = {
        **os.environ,
        "PULSE_SERVER": f"unix:{folder}/s",
        "PULSE_COOKIE": f"{folder}/cookie",
        "ALSA_CONFIG_PATH": f"/usr/share/alsa/alsa.conf:{folder}/asound.conf",
        "HOME": str(folder),
        "XDG_RUNTIME_DIR": str(folder),
        "PULSE_RUNTIME_PATH": f"{folder}/run",
        "PULSE_STATE_PATH": f"{folder}/state",
    }
    (folder / "asound.conf").write_text(
        "pcm.!default { type pulse }\nctl.!default { type pulse }\n"
    )
    server = subprocess.Popen(
        [
            "pulseaudio",
            *("-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no"),
            *("--disable-shm=yes", "--log-level=error"),
            *("-L", f"module-native-protocol-unix socket={folder}/s auth-anonymous=1"),
            *("-L", f"module-null-sink sink_name=fakemic rate={RATE} channels=1"),
        ],
        env=environment,
        stderr=subprocess.DEVNULL,
    )
    sink = NullSink(folder=folder, environment=environment, server=server)
    try:
        _wait_for(environment)
        yield sink
    finally:
        sink.stop_playing()
        server.terminate()
        server.wait()
        shutil.rmtree(folder, ignore_errors=True)


def _wait_for(environment: dict[str, str]) -> None:
    """Wait until the server answers."""
    end = time.monotonic() + 30.0
    command = ["pactl", "set-default-source", "fakemic.monitor"]
    while subprocess.call(command, env=environment, stderr=subprocess.DEVNULL):
        assert time.monotonic() < end, "the sound server does not answer"
        time.sleep(0.1)
