"""Atomic writing: faults at every step leave the old or the new file whole."""

import errno
import os
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

import pytest

from tension.errors import ExistingFileError, FileFormatError, TensionError
from tension.files.atomic import write_atomically

OLD, NEW = b"old and whole", b"new " * 50_000


def names(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


@pytest.mark.parametrize("overwrite", [True, False])
def test_a_new_file_is_written(*, overwrite: bool, tmp_path: Path) -> None:
    write_atomically(tmp_path / "a.toml", "Łódź\n", overwrite=overwrite)
    assert (tmp_path / "a.toml").read_bytes() == "Łódź\n".encode()
    assert names(tmp_path) == ["a.toml"]


def test_an_old_file_is_replaced_only_on_demand(tmp_path: Path) -> None:
    path = tmp_path / "a.pdf"
    path.write_bytes(OLD)
    with pytest.raises(
        ExistingFileError, match="exists; give another name, or --overw"
    ):
        write_atomically(path, NEW, overwrite=False)
    assert path.read_bytes() == OLD
    write_atomically(path, NEW, overwrite=True)
    assert path.read_bytes() == NEW
    assert names(tmp_path) == ["a.pdf"]


def test_a_link_counts_as_a_file_even_if_it_leads_nowhere(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to(tmp_path / "nowhere")
    with pytest.raises(ExistingFileError, match="exists"):
        write_atomically(tmp_path / "a", NEW, overwrite=False)
    assert names(tmp_path) == ["a"]


def test_folders_and_missing_folders_are_told(tmp_path: Path) -> None:
    with pytest.raises(ExistingFileError, match="is a folder; name a file in it"):
        write_atomically(tmp_path, NEW, overwrite=True)
    with pytest.raises(FileFormatError, match="make it first"):
        write_atomically(tmp_path / "no" / "a", NEW, overwrite=True)


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o444, 0o666])
def test_who_may_read_a_file_stays(mode: int, tmp_path: Path) -> None:
    path, beside = tmp_path / "a.toml", tmp_path / "b.toml"
    path.write_bytes(OLD)
    path.chmod(mode)
    write_atomically(beside, NEW, overwrite=False, like=path)
    write_atomically(path, NEW, overwrite=True)
    for written in (path, beside):
        assert written.stat().st_mode & 0o777 == mode
        assert written.read_bytes() == NEW


def fail(number: int) -> Callable[..., NoReturn]:
    def failing(*_: object, **__: object) -> NoReturn:
        raise OSError(number, os.strerror(number))

    return failing


@pytest.mark.parametrize("overwrite", [True, False])
@pytest.mark.parametrize("step", ["open", "fsync", "name"])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EACCES, errno.EROFS])
def test_a_fault_at_any_step_leaves_the_old_file(
    step: str,
    number: int,
    *,
    overwrite: bool,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = tmp_path / "a.svg"
    if overwrite:
        path.write_bytes(OLD)
    with monkeypatch.context() as patch:
        if step == "open":
            patch.setattr(Path, "open", fail(number))
        elif step == "fsync":
            patch.setattr(os, "fsync", fail(number))
        else:
            patch.setattr(os, "link", fail(errno.EPERM))
            patch.setattr(Path, "replace", fail(number))
        with pytest.raises(TensionError, match="nothing was changed"):
            write_atomically(path, NEW, overwrite=overwrite)
    assert names(tmp_path) == (["a.svg"] if overwrite else [])
    if overwrite:
        assert path.read_bytes() == OLD


def test_a_disk_without_links_still_never_overwrites(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "link", fail(errno.EPERM))
    path = tmp_path / "a"
    write_atomically(path, NEW, overwrite=False)
    assert path.read_bytes() == NEW
    with pytest.raises(ExistingFileError, match="exists"):
        write_atomically(path, OLD, overwrite=False)
    assert path.read_bytes() == NEW
    assert names(tmp_path) == ["a"]


def test_a_stop_from_the_keyboard_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a"
    path.write_bytes(OLD)

    def stop(_: int) -> NoReturn:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stop)
    with pytest.raises(KeyboardInterrupt):
        write_atomically(path, NEW, overwrite=True)
    assert path.read_bytes() == OLD
    assert names(tmp_path) == ["a"]


KILLED = """
import os, signal, sys
from pathlib import Path
import tension.files.atomic as atomic
step = sys.argv[2]
kill = lambda *a, **k: os.kill(os.getpid(), signal.SIGKILL)
if step == "fsync":
    os.fsync = kill
else:
    Path.replace = kill
atomic.write_atomically(Path(sys.argv[1]), b"new" * 9999, overwrite=True)
"""


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_killed_program_leaves_the_old_file(step: str, tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(OLD)
    done = subprocess.run([sys.executable, "-c", KILLED, str(path), step], check=False)
    assert done.returncode == -9
    assert path.read_bytes() == OLD


def test_of_many_writers_one_wins_and_nothing_is_mixed(tmp_path: Path) -> None:
    path = tmp_path / "a"
    refused = []

    def write(letter: str) -> None:
        try:
            write_atomically(path, letter * 100_000, overwrite=False)
        except ExistingFileError:
            refused.append(letter)

    threads = [threading.Thread(target=write, args=(x,)) for x in "abcdefgh"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(refused) == 7
    (winner,) = set("abcdefgh") - set(refused)
    assert path.read_text() == winner * 100_000
    assert names(tmp_path) == ["a"]
