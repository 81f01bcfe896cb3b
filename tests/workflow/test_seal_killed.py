"""Sealing and correcting, killed before each change they make on the disk."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from tension.errors import ExistingFileError
from tension.workflow.integrity import (
    CorrectionWords,
    correct_record,
    seal_record,
    verify,
)
from tests.killing import run_killed

RECORD = """format = 1
[rule]
limit = "10 %"
[set]
ropes = 2
"""
WORDS = CorrectionWords(by="R. Calder", reason="put right", text="A word.")


def plain(folder: Path) -> None:
    """A record that is not sealed."""
    folder.mkdir()
    (folder / "visit.toml").write_text(RECORD, encoding="utf-8")


def sealed(folder: Path) -> None:
    plain(folder)
    seal_record(folder)


def corrected(folder: Path) -> None:
    sealed(folder)
    correct_record(folder, WORDS)


def seal(folder: Path) -> None:
    seal_record(folder)


def correct(folder: Path) -> None:
    correct_record(folder, WORDS)


@pytest.mark.parametrize(
    ("begin", "act", "corrections"),
    [(plain, seal, (0, 0)), (sealed, correct, (0, 1)), (corrected, correct, (1, 2))],
)
def test_a_kill_leaves_what_was_there_or_what_was_asked_for(
    tmp_path: Path,
    begin: Callable[[Path], None],
    act: Callable[[Path], None],
    corrections: tuple[int, int],
) -> None:
    start = tmp_path / "start"
    begin(start)
    at, is_killed = 0, True
    while is_killed:
        at += 1
        one = tmp_path / f"at-{at}"
        shutil.copytree(start, one)
        is_killed = run_killed(lambda one=one: act(one), one, at)  # type: ignore[misc]
        assert (one / "visit.toml").read_text(encoding="utf-8") == RECORD
        if act is seal and not (one / "visit.seal.toml").exists():
            act(one)
        found = verify(one)
        assert found.is_same, found.changes
        assert len(found.corrections) in corrections
        if act is correct:
            act(one)
            assert verify(one).is_same
        else:
            with pytest.raises(ExistingFileError, match="sealed already"):
                act(one)
    assert at > 2
