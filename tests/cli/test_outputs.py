"""Nothing that a command reads is its output, whatever was asked."""

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.running import DEMO, MEMOS, run
from tests.workflow.test_trimming import contents

HERE = "six-memos"
PLOTS = ("assess", "adjust", "compare", "springs")


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    """The demo with a photo, a recording and a record whose names end as figures do."""
    shutil.copytree(DEMO / HERE, tmp_path / HERE)
    folder = tmp_path / HERE
    text = (folder / "visit.toml").read_text(encoding="utf-8")
    text = text.replace('"as-found/rope-1.m4a"', '"as-found/rope-1.png"')
    text += '\n[[finding]]\nkind = "rouge"\nseen = "no"\nphoto = "rouge.png"\n'
    (folder / "as-found/rope-1.m4a").rename(folder / "as-found/rope-1.png")
    (folder / "rouge.png").write_bytes(b"photo")
    (folder / "visit.toml").write_text(text, encoding="utf-8")
    (folder / "visit.pdf").symlink_to("visit.toml")
    os.link(folder / "visit.toml", folder / "visit.html")
    return folder


def same(path: Path) -> Path:
    return path


def around(path: Path) -> Path:
    return path.parent / ".." / path.parent.name / path.name


@pytest.mark.parametrize("written", [same, around])
@pytest.mark.parametrize("name", ["as-found/rope-1.png", "rouge.png", "visit.pdf"])
@pytest.mark.parametrize("command", PLOTS)
def test_a_figure_is_never_drawn_over_what_a_record_names(
    visit: Path, command: str, name: str, written: Callable[[Path], Path]
) -> None:
    before = contents(visit)
    ran = run(command, visit, "--plot", written(visit / name), "--overwrite")
    assert ran.code == 3
    assert "never written over" in ran.err
    assert contents(visit) == before


@pytest.mark.parametrize("name", ["visit.pdf", "visit.html"])
def test_a_report_is_never_written_over_its_record(visit: Path, name: str) -> None:
    before = contents(visit)
    ran = run("report", visit / "visit.toml", "-o", visit / name, "--overwrite")
    assert ran.code == 3
    assert "never written over" in ran.err
    assert contents(visit) == before


@pytest.mark.parametrize("command", ["pluck", "assess"])
def test_a_figure_is_never_drawn_over_a_sound_file(
    command: str, tmp_path: Path
) -> None:
    sound = tmp_path / "rope-1.png"
    shutil.copy(MEMOS / "rope-1.m4a", sound)
    before = contents(tmp_path)
    ran = run(command, sound, "--plot", sound, "--overwrite")
    assert ran.code == 3
    assert "never written over" in ran.err
    assert contents(tmp_path) == before


@pytest.mark.slow
def test_another_figure_is_replaced_when_asked(visit: Path) -> None:
    target = visit / "shares.svg"
    target.write_bytes(b"the old one")
    assert run("assess", visit, "--plot", target, "--overwrite").code == 10
    assert target.read_bytes() != b"the old one"
