"""Natural order of names, and the recordings of a folder."""

import random
from pathlib import Path

import pytest

from tension.errors import FileFormatError
from tension.files.evidence import find_recordings, natural_key

IN_ORDER = [
    "1.m4a",
    "02.m4a",
    "10.m4a",
    "New Recording.m4a",
    "New Recording 2.m4a",
    "new recording 3.M4A",
    "New Recording 12.m4a",
    "rope-1 (2).wav",
    "rope-2.wav",
    "rope-10.wav",
    "Ünter 1.wav",
]


def test_names_come_in_the_order_a_person_expects() -> None:
    paths = [Path(name) for name in IN_ORDER]
    for seed in range(20):
        mixed = paths.copy()
        random.Random(seed).shuffle(mixed)  # noqa: S311
        assert sorted(mixed, key=natural_key) == paths


def test_digits_of_other_scripts_and_endless_digits_do_no_harm() -> None:
    odd = [Path("²1.wav"), Path("٣.wav"), Path("9" * 4000 + ".wav"), Path(".wav")]
    assert len(sorted(odd, key=natural_key)) == len(odd)


def test_only_sound_files_of_the_folder_itself_are_found(tmp_path: Path) -> None:
    for name in ("b 10.M4A", "b 9.m4a", "._b 9.m4a", ".hidden.wav", "visit.toml"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "inner.wav").mkdir()
    (tmp_path / "inner.wav" / "deep.wav").write_bytes(b"x")
    assert [path.name for path in find_recordings(tmp_path)] == ["b 9.m4a", "b 10.M4A"]


def test_logs_stand_in_only_where_there_is_no_sound(tmp_path: Path) -> None:
    (tmp_path / "rope 1.csv").write_bytes(b"x")
    assert [path.name for path in find_recordings(tmp_path)] == ["rope 1.csv"]
    (tmp_path / "rope 1.wav").write_bytes(b"x")
    assert [path.name for path in find_recordings(tmp_path)] == ["rope 1.wav"]


def test_a_folder_without_sound_gives_nothing(tmp_path: Path) -> None:
    assert find_recordings(tmp_path) == ()


def test_what_is_no_folder_is_told(tmp_path: Path) -> None:
    file = tmp_path / "a.wav"
    file.write_bytes(b"x")
    with pytest.raises(FileFormatError, match="not a folder; name the folder"):
        find_recordings(file)
    with pytest.raises(FileFormatError, match="no such folder; check"):
        find_recordings(tmp_path / "missing")
