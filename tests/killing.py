"""Killing a process at the nth change it makes on the disk, without any clean-up."""

import os
import sys
from collections.abc import Callable
from pathlib import Path

KILLED = 9
CHANGES = {"os.rename", "os.remove", "os.link", "os.chmod", "os.mkdir", "os.rmdir"}


def run_killed(act: Callable[[], object], folder: Path, at: int) -> bool:
    """Run in a child that dies before its nth change below a folder.

    Returns
    -------
    bool
        Whether it was killed; otherwise it came to its end.
    """
    child = os.fork()
    if child == 0:
        _die_at(folder, at)
        try:
            act()
        except BaseException:  # noqa: BLE001 - the child must not run the tests on
            os._exit(3)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    code = os.waitstatus_to_exitcode(status)
    assert code in {0, KILLED}, f"the child ended with {code}"
    return code == KILLED


def _die_at(folder: Path, at: int) -> None:
    """Count changes and die before one of them."""
    count = 0
    inside = str(folder)

    def watch(event: str, details: tuple[object, ...]) -> None:
        nonlocal count
        is_write = event == "open" and bool(
            isinstance(details[2], int) and details[2] & (os.O_WRONLY | os.O_RDWR)
        )
        if not (is_write or event in CHANGES):
            return
        if inside not in str(details[0]):
            return
        count += 1
        if count == at:
            os._exit(KILLED)

    sys.addaudithook(watch)
