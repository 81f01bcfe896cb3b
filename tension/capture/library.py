"""The sound library, loaded where a device is wanted, and kept from muttering."""

import contextlib
import os
import sys
from collections.abc import Iterator
from typing import Any

from tension.errors import CaptureError

_GET_LIBRARY = {
    "linux": "sudo apt install libportaudio2 (Debian, Ubuntu), "
    "dnf install portaudio (Fedora)",
    "darwin": "pip install --force-reinstall sounddevice",
    "win32": "pip install --force-reinstall sounddevice",
}


def load_library() -> Any:  # noqa: ANN401 - sounddevice carries no types
    """Load sounddevice.

    Raises
    ------
    CaptureError
        If it or what it stands on is missing.
    """
    try:
        with quiet_library():
            import sounddevice
    except ImportError as error:
        raise CaptureError(
            "the package sounddevice is missing; pip install sounddevice, then run it "
            "again"
        ) from error
    except OSError as error:
        how = _GET_LIBRARY.get(sys.platform, "install PortAudio")
        raise CaptureError(
            f"the sound library PortAudio is missing; {how}, then run it again"
        ) from error
    except Exception as error:  # its own kind of error cannot be had before it is there
        if type(error).__name__ != "PortAudioError":
            raise
        raise CaptureError(
            f"the sound system does not start ({error}); see that sound works in other "
            "programs, then run it again"
        ) from error
    return sounddevice


@contextlib.contextmanager
def quiet_library() -> Iterator[None]:
    """Keep what the library writes past Python to the terminal out of sight."""
    sys.stderr.flush()
    try:
        before = os.dup(2)
    except OSError:  # closed: nothing to hide
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(before, 2)
        os.close(before)
        os.close(nowhere)
