"""What comes next is told where a person would tell it, and can be run."""

import shlex
import shutil
from pathlib import Path

import pytest

from tests.cli.running import DEMO, MEMOS, run


def _next(out: str) -> str:
    """The command that is told as the next one; empty if none is."""
    return " ".join(out.partition("Next command:")[2].split())


@pytest.fixture
def visit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demo with springs and checks, in the folder that one is in."""
    shutil.copytree(DEMO / "before-and-after", tmp_path / "visit")
    monkeypatch.chdir(tmp_path)
    return tmp_path / "visit"


def test_a_sealed_record_that_is_the_same_is_reported(visit: Path) -> None:
    assert _next(run("seal", visit).out) == f"tension verify {visit}"
    assert _next(run("verify", visit).out).startswith(f"tension report {visit}")
    assert _next(run("verify", visit, "--json").out) == ""
    record = visit / "visit.toml"
    record.write_text(record.read_text("utf-8") + "# changed\n", encoding="utf-8")
    assert _next(run("verify", visit).out) == ""


def test_the_demo_is_copied_to_go_on_with_it(visit: Path) -> None:
    words = shlex.split(_next(run("demo").out))
    copied = run(*words[1:])
    assert copied.code == 0
    assert _next(copied.out) == "tension assess demo/six-memos"
    assert (visit.parent / "demo" / "six-memos" / "visit.toml").exists()


def test_files_that_were_all_heard_are_assessed(visit: Path) -> None:
    del visit
    files = [MEMOS / "rope-1.m4a", MEMOS / "rope-2.m4a"]
    assert _next(run("pluck", *files).out) == f"tension assess {files[0]} {files[1]}"
    assert _next(run("pluck", files[0]).out) == ""


@pytest.mark.slow
def test_a_checked_set_is_reported(visit: Path) -> None:
    assert _next(run("acceptance", visit).out).startswith(f"tension report {visit}")


def test_after_turns_as_many_round_trips_are_asked_as_are_still_to_run(
    visit: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.rmtree(visit)
    shutil.copytree(DEMO / "side-pulls", visit)
    monkeypatch.chdir(visit)
    run("add", "turns", "2 in 4 3/4, 5 out 3 3/4")
    ran = run("adjust")
    assert "Round trips still to run: 5. Then" in " ".join(ran.out.split())
    assert _next(ran.out) == "tension add run 5"
    run("add", "run", "3")
    assert _next(run("adjust").out) == "tension add run 2"
    run("add", "run", "2")
    ran = run("adjust")
    assert "Round trips still to run: 0. Then" in " ".join(ran.out.split())
    assert _next(ran.out) == "tension add left FOLDER"


def test_where_no_plan_is_made_what_the_result_asks_comes_next(
    visit: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(visit)
    assert run("adjust").code == 0
    assert _next(run("adjust").out) == "tension compare"
    lengthless = (DEMO / "side-pulls" / "visit.toml").read_text("utf-8")
    lines = lengthless.splitlines(keepends=True)
    kept = [line for line in lines if not line.startswith(("free_length", "stagger"))]
    Path("visit.toml").write_text("".join(kept), encoding="utf-8")
    shutil.rmtree("as-found")
    shutil.rmtree("as-left")
    assert _next(run("adjust").out).startswith('tension add lengths "3.40')
    assert _next(run("assess").out).startswith('tension add lengths "3.40')
