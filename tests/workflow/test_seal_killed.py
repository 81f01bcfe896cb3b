"""Sealing and correcting, killed before each change they make on the disk."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from tension.errors import ExistingFileError, FileFormatError
from tension.files.record import read_visit
from tension.files.seal import Correction, write_seal
from tension.files.toml_text import mark_deleted, with_tables
from tension.files.visit import Trim, trim_table
from tension.workflow.integrity import correct_record, seal_record, verify
from tension.workflow.trimming import _require_as_sealed
from tests.killing import run_killed

RECORD = """format = 1
[rule]
limit = "10 %"
[set]
ropes = 2
"""
WORDS = Correction(by="R. Calder", reason="put right", text="A word.")


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


def trimmed(*names: str) -> str:
    """The record with trims as the program writes them."""
    trims = [
        Trim(recording=name, trimmed=f"{name}.t.wav", n_bytes=1, sha256="ab" * 32)
        for name in names
    ]
    return with_tables(RECORD, list(map(trim_table, trims)))


ONE, TWO = trimmed("a"), trimmed("a", "b")


@pytest.mark.parametrize(
    ("old", "new"), [(RECORD, TWO), (ONE, TWO), (TWO, mark_deleted(TWO, {"b"}))]
)
def test_trims_added_and_originals_deleted_may_be_those_of_a_killed_trim(
    tmp_path: Path, old: str, new: str
) -> None:
    record = tmp_path / "visit.toml"
    record.write_text(old, encoding="utf-8")
    seal_record(record)
    record.write_text(new, encoding="utf-8")
    _require_as_sealed(read_visit(record), record, delete_originals=False)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (mark_deleted(TWO, {"b"}), TWO),
        (TWO, ONE),
        (ONE, TWO.replace("10 %", "9 %")),
        (TWO, TWO.replace("bytes = 1", "bytes = 2")),
        (RECORD.replace("ropes = 2", "ropes = 99"), TWO),
    ],
)
def test_a_record_that_no_trim_can_have_changed_is_not_trimmed(
    tmp_path: Path, old: str, new: str
) -> None:
    record = tmp_path / "visit.toml"
    record.write_text(RECORD, encoding="utf-8")
    visit = read_visit(record)
    record.write_text(old, encoding="utf-8")
    write_seal(visit, record)
    record.write_text(new, encoding="utf-8")
    with pytest.raises(FileFormatError, match="changed since it was sealed"):
        _require_as_sealed(read_visit(record), record, delete_originals=False)
