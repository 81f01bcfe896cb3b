"""Exceptions: the input, not the program, is at fault.

A rope that cannot be heard or a plan that does not exist is a value, not one of these.
"""

import os
from collections.abc import Sequence


class TensionError(Exception):
    """Base of every error that tells a person what to change in the input."""


class InvalidValueError(TensionError, ValueError):
    """A number or text outside what a quantity or a model allows."""


class FileFormatError(TensionError):
    """A file that cannot be used, with every mistake found in it, one line each.

    Attributes
    ----------
    lines : tuple of str
        One complete sentence per mistake: what, where, the value, what to do next.
    """

    def __init__(self, *lines: str) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines


class ExistingFileError(TensionError):
    """An output file exists already and may not be overwritten."""


class CaptureError(TensionError):
    """No microphone, no sound library, or input was lost."""


def reason_of(error: OSError) -> str:
    """Tell the system's reason in a form that fits into a sentence."""
    return (error.strerror or str(error) or "the system refuses").lower()


def lines_of(error: TensionError | OSError) -> Sequence[str]:
    """Tell what an error says, a line per mistake."""
    if isinstance(error, FileFormatError):
        return error.lines
    if not isinstance(error, OSError):
        return [str(error)]
    reason = reason_of(error)
    if error.filename is None:
        return [f"the system refuses ({reason}); see that disk and files can be used"]
    return [
        f"{os.fsdecode(error.filename)}: cannot be used ({reason}); check that it is "
        "there, that you may read and write it, and that the disk has room"
    ]
