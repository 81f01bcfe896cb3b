"""The demo is copied whole or not at all, however the copying ends."""

import shutil
from pathlib import Path

import pytest

from tension.errors import ExistingFileError, FileFormatError
from tension.workflow.adding import copy_demo
from tests.killing import run_killed


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A small demo of nested folders."""
    for name in ("README.md", "one/visit.toml", "one/as-found/1.m4a", "two/visit.toml"):
        path = tmp_path / "place" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(name, encoding="utf-8")
    return tmp_path / "place"


def files(folder: Path) -> dict[str, str]:
    """Every file of a folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_text(encoding="utf-8")
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.mark.slow
def test_a_copy_killed_anywhere_is_whole_or_not_there_and_can_run_again(
    place: Path, tmp_path: Path
) -> None:
    at = 0
    is_killed = True
    while is_killed:
        at += 1
        where = tmp_path / f"at-{at}"
        where.mkdir()
        is_killed = run_killed(lambda: copy_demo(place, where / "demo"), where, at)  # noqa: B023
        if (where / "demo").exists():
            assert files(where / "demo") == files(place)
        else:
            copy_demo(place, where / "demo")
            assert files(where / "demo") == files(place)
    assert at > 8


@pytest.mark.parametrize("stop", [KeyboardInterrupt(), OSError(28, "No space left")])
@pytest.mark.parametrize("after", [0, 2, 4])
def test_a_copy_broken_off_leaves_nothing(
    place: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    stop: BaseException,
    after: int,
) -> None:
    copy = shutil.copy2
    done: list[str] = []

    def broken(source: str, target: str, **more: bool) -> object:
        if len(done) == after:
            raise stop
        done.append(source)
        return copy(source, target, **more)

    monkeypatch.setattr(shutil, "copy2", broken)
    monkeypatch.setattr(
        shutil.copytree,
        "__defaults__",
        tuple(
            broken if one is copy else one for one in shutil.copytree.__defaults__ or ()
        ),
    )
    if after == 4:  # the last step instead: the name

        def refuse(*_: object) -> None:
            raise stop

        monkeypatch.setattr(Path, "rename", refuse)
    with pytest.raises((KeyboardInterrupt, FileFormatError)):
        copy_demo(place, tmp_path / "demo")
    assert [path.name for path in tmp_path.iterdir()] == ["place"]


def test_a_link_that_leads_nowhere_is_not_copied_over(
    place: Path, tmp_path: Path
) -> None:
    (tmp_path / "demo").symlink_to(tmp_path / "nowhere")
    with pytest.raises(ExistingFileError, match="exists already"):
        copy_demo(place, tmp_path / "demo")
