"""What was computed is kept, and what changed in any way is computed again."""

import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tension.fleet import tree
from tension.fleet.listing import Row
from tension.fleet.run import Job, line_of_record, untouched, usual_folder
from tension.fleet.tree import open_tree, program_digest
from tension.workflow import assess
from tension.workflow.assess import RuleChoice
from tests.fleet.making import alone, rows_of, write_fleet, write_lift

SEED = 161
RULE = RuleChoice(limit=0.05)


@pytest.fixture
def computed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Folders of the records that were assessed."""
    right = assess.assess_record
    seen: list[str] = []

    def count(path: Path, **more: RuleChoice | None) -> object:
        seen.append(path.parent.name)
        return right(path, choice=more["choice"])

    monkeypatch.setattr(assess, "assess_record", count)
    return seen


@pytest.fixture
def lift(tmp_path: Path) -> Path:
    """A record with a photo, and with a recording that is missing."""
    record = write_lift(tmp_path / "lifts" / "one", 1, seed=SEED)
    text = record.read_text(encoding="utf-8")
    text += '\n[[photo]]\nfile = "tag.jpg"\n'
    text += (
        '[[reading]]\nseries = "as found"\nkind = "pluck"\nrope = 1\n'
        'recording = "sound/gone.m4a"\n'
    )
    record.write_text(text, encoding="utf-8")
    (record.parent / "tag.jpg").write_bytes(b"photo")
    (record.parent / "sound").mkdir()
    return record


def again(record: Path, cache: Path, choice: RuleChoice | None = None) -> Row:
    top = record.parent.parent
    return rows_of(top, cache=cache, choice=choice)["one/visit.toml"]


def test_an_unchanged_record_is_not_computed_again(
    lift: Path, tmp_path: Path, computed: list[str]
) -> None:
    rows = [again(lift, tmp_path / "kept") for _ in range(3)]
    assert computed == ["one"]
    assert rows[0] == rows[1] == rows[2]


def _touch_up(record: Path) -> None:
    with record.open("a", encoding="utf-8") as opened:
        opened.write("# a word\n")


def _photo(record: Path) -> None:
    (record.parent / "tag.jpg").write_bytes(b"ph0to")


def _recording_comes(record: Path) -> None:
    (record.parent / "sound" / "gone.m4a").write_bytes(b"no sound")


def _photo_goes(record: Path) -> None:
    (record.parent / "tag.jpg").unlink()


def _sound_beside(record: Path) -> None:
    (record.parent / "memo 7.m4a").write_bytes(b"no sound")


def _sound_beside_a_recording(record: Path) -> None:
    (record.parent / "sound" / "memo 7.m4a").write_bytes(b"no sound")


CHANGES = [
    _touch_up,
    _photo,
    _recording_comes,
    _photo_goes,
    _sound_beside,
    _sound_beside_a_recording,
]


@pytest.fixture(params=[False, True], ids=["read", "by marks"])
def by_marks(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let marks be relied on at once, on every disk, or not at all."""
    if request.param:
        monkeypatch.setattr(tree, "_SETTLED", -(10**12))
        monkeypatch.setattr(tree, "_devices", _every_disk)
    else:
        monkeypatch.setattr(tree, "_devices", frozenset)


class _Every(frozenset[int]):
    """Every number."""

    def __contains__(self, one: object) -> bool:
        return True


def _every_disk() -> frozenset[int]:
    return _Every()


@pytest.mark.usefixtures("by_marks")
@pytest.mark.parametrize("change", CHANGES)
def test_whatever_changes_is_seen(
    lift: Path, tmp_path: Path, computed: list[str], change: Callable[[Path], None]
) -> None:
    again(lift, tmp_path / "kept")
    change(lift)
    row = again(lift, tmp_path / "kept")
    assert len(computed) == 2
    computed.clear()
    assert row == again(lift, tmp_path / "kept")
    assert not computed


@pytest.mark.usefixtures("by_marks")
def test_a_change_that_hides_its_size_and_time_is_seen(
    lift: Path, tmp_path: Path, computed: list[str]
) -> None:
    again(lift, tmp_path / "kept")
    before = lift.stat()
    text = lift.read_bytes()
    lift.write_bytes(text.replace(b'"Lift 1"', b'"Lift 2"'))
    os.utime(lift, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert lift.stat().st_size == before.st_size
    assert lift.stat().st_mtime_ns == before.st_mtime_ns
    assert again(lift, tmp_path / "kept")["lift"] == "Lift 2"
    assert len(computed) == 2


def test_marks_are_relied_on_only_when_all_has_rested(
    lift: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tree, "_devices", _every_disk)
    cache = tmp_path / "kept"
    job = Job(tree=open_tree(str(lift.parent.parent)), cache=cache)
    line_of_record("one/visit.toml", job)
    assert untouched("one/visit.toml", job) is None  # written this moment
    later = time.time_ns() + tree._SETTLED + 10**9
    monkeypatch.setattr("tension.fleet.run.time.time_ns", lambda: later)
    line_of_record("one/visit.toml", job)
    assert untouched("one/visit.toml", job) == line_of_record("one/visit.toml", job)


def test_marks_are_not_relied_on_where_the_kernel_does_not_keep_them(
    lift: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tree, "_SETTLED", -(10**12))
    monkeypatch.setattr(tree, "_devices", frozenset)
    cache = tmp_path / "kept"
    job = Job(tree=open_tree(str(lift.parent.parent)), cache=cache)
    line_of_record("one/visit.toml", job)
    assert untouched("one/visit.toml", job) is None


def test_reading_every_byte_can_be_asked_for(
    lift: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tree, "_SETTLED", -(10**12))
    monkeypatch.setattr(tree, "_devices", _every_disk)
    cache = tmp_path / "kept"
    lifts = open_tree(str(lift.parent.parent))
    line_of_record("one/visit.toml", Job(tree=lifts, cache=cache))
    assert untouched("one/visit.toml", Job(tree=lifts, cache=cache)) is not None
    all_read = Job(tree=lifts, cache=cache, is_every_byte_read=True)
    assert untouched("one/visit.toml", all_read) is None


def test_another_rule_and_another_program_have_lines_of_their_own(
    lift: Path, tmp_path: Path, computed: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = again(lift, tmp_path / "kept")
    assert again(lift, tmp_path / "kept", RULE) == again(lift, tmp_path / "kept", RULE)
    assert again(lift, tmp_path / "kept", RULE)["limit_percent"] == 5.0
    assert again(lift, tmp_path / "kept") == plain
    assert len(computed) == 2
    monkeypatch.setattr(tree, "program_digest", lambda: "another")
    assert again(lift, tmp_path / "kept") == plain
    assert len(computed) == 3


@pytest.mark.parametrize("name", ["assessment/decide.py", "documents/keys.txt"])
def test_the_program_is_told_apart_by_its_text(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    package = Path(tree.__file__).parents[1]
    copy = tmp_path / "tension"
    shutil.copytree(package, copy, ignore=shutil.ignore_patterns("__pycache__"))
    digest = program_digest.__wrapped__
    monkeypatch.setattr(tree, "__file__", str(copy / "fleet" / "tree.py"))
    same = digest()
    monkeypatch.undo()
    assert digest() == same
    with (copy / name).open("a", encoding="utf-8") as opened:
        opened.write("# another\n")
    monkeypatch.setattr(tree, "__file__", str(copy / "fleet" / "tree.py"))
    assert digest() != same


def test_equal_records_share_a_line_wherever_they_lie(
    lift: Path, tmp_path: Path, computed: list[str]
) -> None:
    shutil.copytree(lift.parent, lift.parent.parent / "two")
    rows = rows_of(lift.parent.parent, cache=tmp_path / "kept")
    assert len(rows) == 2
    first = again(lift, tmp_path / "kept")
    shutil.move(lift.parent, lift.parent.parent / "three")
    moved = rows_of(lift.parent.parent, cache=tmp_path / "kept")["three/visit.toml"]
    assert moved["shares_percent"] == first["shares_percent"]
    assert len(computed) <= 2  # both at the same moment at most


@pytest.mark.parametrize("spoil", [b"", b"x", b"0" * 64 + b"\n{}", None])
def test_a_spoilt_or_deleted_cache_is_computed_again(
    lift: Path, tmp_path: Path, computed: list[str], spoil: bytes | None
) -> None:
    row = again(lift, tmp_path / "kept")
    for one in _files(tmp_path / "kept"):
        if spoil is None:
            one.unlink()
        else:
            one.write_bytes(spoil)
    assert again(lift, tmp_path / "kept") == row
    assert again(lift, tmp_path / "kept") == row
    assert len(computed) == 2


def test_a_digit_that_a_disk_spoilt_is_not_believed(lift: Path, tmp_path: Path) -> None:
    row = again(lift, tmp_path / "kept")
    for one in _files(tmp_path / "kept"):
        check, _, body = one.read_bytes().partition(b"\n")
        one.write_bytes(check + b"\n" + body.replace(b"9", b"8"))
    assert again(lift, tmp_path / "kept") == row


def test_a_record_that_changes_while_it_is_assessed_is_not_kept(
    lift: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    right = assess.assess_record

    def change(path: Path, **more: RuleChoice | None) -> object:
        found = right(path, choice=more["choice"])
        _photo(path)
        return found

    monkeypatch.setattr(assess, "assess_record", change)
    again(lift, tmp_path / "kept")
    assert not list(_files(tmp_path / "kept"))


@pytest.mark.slow
def test_two_runs_at_once_and_a_cache_deleted_meanwhile_do_no_harm(
    tmp_path: Path,
) -> None:
    top = write_fleet(tmp_path / "lifts", 12, seed=SEED)
    wanted = {p.relative_to(top).as_posix(): alone(p) for p in top.rglob("visit.toml")}
    found: list[dict[str, Row]] = []
    failed: list[BaseException] = []

    def go() -> None:
        try:
            found.append(rows_of(top, cache=tmp_path / "kept"))
        except BaseException as error:  # noqa: BLE001 - told below
            failed.append(error)

    runs = [threading.Thread(target=go) for _ in range(3)]
    for one in runs:
        one.start()
    for _ in range(20):
        shutil.rmtree(tmp_path / "kept" / "1", ignore_errors=True)
    for one in runs:
        one.join()
    assert not failed
    for rows in found:
        assert {n: r["shares_percent"] for n, r in rows.items()} == {
            n: r["shares_percent"] for n, r in wanted.items()
        }


def test_a_cache_that_cannot_be_written_is_refused_before_the_work(
    lift: Path, tmp_path: Path
) -> None:
    from tension.errors import FileFormatError

    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(FileFormatError, match="--no-cache"):
        again(lift, tmp_path / "file" / "kept")


def test_the_usual_folder_is_the_one_for_what_can_be_made_again(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr("sys.platform", "linux")
    assert usual_folder() == tmp_path / "tension" / "fleet"


def _files(folder: Path) -> Iterator[Path]:
    """Everything that is kept."""
    return (path for path in folder.rglob("*") if path.is_file())
