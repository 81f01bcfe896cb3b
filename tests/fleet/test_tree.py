"""Every record of a tree is found once, in natural order; what lacks one is told."""

import os
from pathlib import Path

import pytest

from tension.errors import FileFormatError
from tension.fleet.tree import Place, open_tree


def touch(path: Path, text: str = "") -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


def places(top: Path, *, is_url: bool) -> list[Place]:
    return list(open_tree(top.as_uri() if is_url else str(top)).places())


@pytest.fixture(params=[False, True], ids=["folder", "address"])
def is_url(request: pytest.FixtureRequest) -> bool:
    if request.param:
        pytest.importorskip("fsspec", reason="addresses need the extra 'fleet'")
    return bool(request.param)


def test_records_come_in_natural_order_at_any_depth(
    tmp_path: Path, *, is_url: bool
) -> None:
    for name in ("lift 10", "lift 9/2026/november", "lift 9", "Lift 1/a"):
        touch(tmp_path / name / "visit.toml")
    touch(tmp_path / ".hidden" / "visit.toml")
    touch(tmp_path / "visit.toml.bak")
    assert [p.record for p in places(tmp_path, is_url=is_url)] == [
        "Lift 1/a/visit.toml",
        "lift 9/visit.toml",
        "lift 9/2026/november/visit.toml",
        "lift 10/visit.toml",
    ]


def test_a_record_at_the_top_is_found(tmp_path: Path, *, is_url: bool) -> None:
    touch(tmp_path / "visit.toml")
    assert places(tmp_path, is_url=is_url) == [Place("visit.toml")]


def test_recordings_without_a_record_are_told_those_below_one_are_not(
    tmp_path: Path, *, is_url: bool
) -> None:
    touch(tmp_path / "with" / "visit.toml")
    touch(tmp_path / "with" / "as-found" / "memo.m4a")
    touch(tmp_path / "without" / "memo.m4a")
    touch(tmp_path / "papers" / "letter.pdf")
    found = places(tmp_path, is_url=is_url)
    assert [p.record for p in found] == ["with/visit.toml", "without"]
    assert "holds recordings but no visit.toml" in found[1].reasons[0]


def test_links_to_folders_are_followed_but_never_in_a_circle(tmp_path: Path) -> None:
    touch(tmp_path / "top" / "one" / "visit.toml")
    touch(tmp_path / "elsewhere" / "two" / "visit.toml")
    (tmp_path / "top" / "more").symlink_to(tmp_path / "elsewhere")
    (tmp_path / "elsewhere" / "back").symlink_to(tmp_path / "top")
    (tmp_path / "top" / "nowhere").symlink_to(tmp_path / "gone")
    found = [p.record for p in places(tmp_path / "top", is_url=False)]
    assert found == ["more/two/visit.toml", "one/visit.toml"]


@pytest.mark.skipif(os.name == "nt", reason="names there are text")
def test_a_folder_whose_name_is_in_no_coding_is_found(tmp_path: Path) -> None:
    folder = os.fsencode(tmp_path) + b"/\xff lift"
    Path(os.fsdecode(folder)).mkdir()
    touch(Path(os.fsdecode(folder)) / "visit.toml")
    (found,) = places(tmp_path, is_url=False)
    assert os.fsencode(found.record) == b"\xff lift/visit.toml"


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may read all")
def test_a_folder_that_may_not_be_read_is_told(tmp_path: Path) -> None:
    touch(tmp_path / "one" / "visit.toml")
    (tmp_path / "two").mkdir(mode=0)
    found = places(tmp_path, is_url=False)
    assert found[1].record == "two"
    assert "permission denied" in found[1].reasons[0]


def test_a_folder_that_cannot_be_read_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    touch(tmp_path / "one" / "visit.toml")
    (tmp_path / "two").mkdir()
    right = os.scandir

    def refuse(path: Path) -> object:
        if Path(path).name == "two":
            raise PermissionError(13, "Permission denied", str(path))
        return right(path)

    monkeypatch.setattr(os, "scandir", refuse)
    found = places(tmp_path, is_url=False)
    assert [p.record for p in found] == ["one/visit.toml", "two"]
    assert found[1].reasons[0].startswith("two: cannot be used (permission denied)")


@pytest.mark.parametrize(
    ("name", "said"),
    [("gone", "there is no such folder"), ("visit.toml", "this is a file")],
)
def test_what_is_no_folder_is_refused(tmp_path: Path, name: str, said: str) -> None:
    touch(tmp_path / "visit.toml")
    with pytest.raises(FileFormatError, match=said):
        open_tree(str(tmp_path / name))


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("nonsense://lifts", "cannot be read"),
        ("file:///gone/lifts", "there is no such folder"),
    ],
)
def test_an_address_that_cannot_be_read_is_refused(address: str, said: str) -> None:
    pytest.importorskip("fsspec", reason="addresses need the extra 'fleet'")
    with pytest.raises(FileFormatError, match=said):
        open_tree(address)
