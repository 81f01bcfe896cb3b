"""Trim killed before each change it makes: true at once, and ended by the next run."""

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from tension.errors import FileFormatError
from tension.files import atomic
from tension.files.record import read_visit
from tension.files.visit import Trim, Visit
from tension.workflow import trimming
from tension.workflow.assess import Assessed
from tension.workflow.integrity import seal_record, verify
from tension.workflow.listening import Progress
from tension.workflow.trimming import trim_record
from tests.killing import run_killed
from tests.workflow.test_trimming import contents, folder, made

pytestmark = pytest.mark.slow

__all__ = ["folder", "made"]  # fixtures


@pytest.fixture(autouse=True)
def heard_once(made: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The sound stays the same in every run, so it is listened to once."""
    assess = trimming._assess_all
    known: dict[tuple[str, ...], list[Assessed]] = heard_once_for.setdefault(made, {})

    def remembered(visit: Visit, progress: Progress | None) -> list[Assessed]:
        trims = tuple(trim.recording for trim in visit.trims)
        if trims not in known:
            known[trims] = assess(visit, progress)
        return known[trims]

    monkeypatch.setattr(trimming, "_assess_all", remembered)


heard_once_for: dict[Path, dict[tuple[str, ...], list[Assessed]]] = {}


def undated(trims: tuple[Trim, ...]) -> tuple[Trim, ...]:
    """Trims without the time at which they were made."""
    return tuple(replace(trim, date="") for trim in trims)


def require_nothing_lost(folder: Path, originals: dict[str, str]) -> None:
    """Every recording, or what is read in its place, is there; nothing said early."""
    visit = read_visit(folder / "visit.toml")
    trims = {trim.recording: trim for trim in visit.trims}
    now = contents(folder)
    for name, sha256 in originals.items():
        trim = trims.get(name)
        if trim is None:
            assert now[name] == sha256
        else:
            assert trim.sha256 == sha256
            assert trim.trimmed in now
            assert trim.original == "kept" or name not in now


@pytest.mark.parametrize("is_sealed", [False, True])
@pytest.mark.parametrize("delete", [False, True])
def test_a_trim_killed_anywhere_loses_nothing_and_is_ended_by_the_next(
    folder: Path, tmp_path: Path, *, is_sealed: bool, delete: bool
) -> None:
    originals = {n: s for n, s in contents(folder).items() if n.startswith("memos")}
    if is_sealed:
        seal_record(folder)

    def trim(where: Path) -> None:
        trim_record(where, by="R. Calder", delete_originals=delete)

    whole = tmp_path / "whole"
    shutil.copytree(folder, whole)
    trim(whole)
    expected = undated(read_visit(whole / "visit.toml").trims)
    at = 0
    is_killed = True
    while is_killed:
        at += 1
        one = tmp_path / f"at-{at}"
        shutil.copytree(folder, one)
        is_killed = run_killed(lambda one=one: trim(one), one, at)  # type: ignore[misc]
        require_nothing_lost(one, originals)
        trim(one)
        require_nothing_lost(one, originals)
        assert undated(read_visit(one / "visit.toml").trims) == expected
        left = {n for n in contents(one) if not n.endswith(".part")}
        assert left == set(contents(whole))
        if is_sealed:
            found = verify(one)
            assert found.is_same, (at, found.changes)
    assert at > 10


def test_a_plain_trim_can_be_followed_by_deleting_the_originals(folder: Path) -> None:
    seal_record(folder)
    trim_record(folder, by="R. Calder")
    trimmed = trim_record(folder, by="R. Calder", delete_originals=True)
    assert [trim.original for trim in trimmed.trims] == ["deleted", "deleted"]
    assert not list(folder.glob("memos/rope-?.wav"))
    assert verify(folder).is_same


@pytest.mark.parametrize("fault", ["unlink", "changed", "trimmed gone"])
def test_an_original_that_cannot_be_deleted_stays_and_stands_as_kept(
    folder: Path, monkeypatch: pytest.MonkeyPatch, fault: str
) -> None:
    trim_record(folder)
    one = folder / "memos/rope-1.wav"
    if fault == "changed":
        one.write_bytes(one.read_bytes() + b"more")
    elif fault == "trimmed gone":
        (folder / "memos/rope-1.trimmed.wav").unlink()
    else:
        unlink = Path.unlink

        def refuse(path: Path, missing_ok: bool = False) -> None:  # noqa: FBT001, FBT002
            if path == one:
                raise OSError(1, "Operation not permitted")
            unlink(path, missing_ok=missing_ok)

        monkeypatch.setattr(Path, "unlink", refuse)
    with pytest.raises(FileFormatError, match=r"rope-1.wav: not deleted") as told:
        trim_record(folder, delete_originals=True)
    assert len(told.value.lines) == 1
    assert one.exists()
    assert not (folder / "memos/rope-2.wav").exists()
    states = [t.original for t in read_visit(folder / "visit.toml").trims]
    assert states == ["kept", "deleted"]


def test_a_fault_after_the_record_tells_of_the_trims_keeps_their_files(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settle = atomic.settle_folder

    def stop(where: Path) -> None:
        if "[[trim]]" in (folder / "visit.toml").read_text(encoding="utf-8"):
            raise KeyboardInterrupt
        settle(where)

    monkeypatch.setattr(atomic, "settle_folder", stop)
    with pytest.raises(KeyboardInterrupt):
        trim_record(folder)
    assert all(
        (folder / t.trimmed).exists() for t in read_visit(folder / "visit.toml").trims
    )


def test_a_record_changed_otherwise_since_it_was_sealed_is_not_trimmed(
    folder: Path,
) -> None:
    seal_record(folder)
    record = folder / "visit.toml"
    text = record.read_text(encoding="utf-8")
    record.write_text(text.replace('limit = "5 %"', 'limit = "9 %"'), encoding="utf-8")
    before = contents(folder)
    with pytest.raises(FileFormatError, match="changed since it was sealed"):
        trim_record(folder, by="R. Calder")
    assert contents(folder) == before


def test_a_file_that_stands_in_the_way_is_told_and_kept(folder: Path) -> None:
    mine = folder / "memos/rope-2.trimmed.wav"
    mine.write_bytes(b"mine")
    before = contents(folder)
    with pytest.raises(FileFormatError, match="move it away"):
        trim_record(folder)
    assert contents(folder) == before


def test_record_and_recordings_keep_who_may_read_them(folder: Path) -> None:
    for path in (folder / "visit.toml", *folder.glob("memos/*.wav")):
        path.chmod(0o600)
    seal_record(folder)
    trim_record(folder, by="R. Calder", delete_originals=True)
    assert len(list(folder.glob("*.toml"))) == 3  # record, seal, corrections
    for path in (*folder.glob("*.toml"), *folder.glob("memos/*.wav")):
        assert path.stat().st_mode & 0o777 == 0o600
