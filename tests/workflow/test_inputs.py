"""What a person points at: the series that a name means, and new sound by folder."""

from pathlib import Path

import pytest

from tension.errors import FileFormatError
from tension.files.record import visit_from_text
from tension.files.visit import Visit
from tension.workflow.inputs import choose_series, find_new_sound, unnamed_files

HEAD = 'format = 1\n[set]\nropes = 2\n[[span]]\nname = "top"\n'
SERIES = '[[series]]\nname = "{}"\nspan = "top"\n'


def visit(folder: Path, *series: str, more: str = "") -> Visit:
    text = HEAD + "".join(SERIES.format(name) for name in series) + more
    return visit_from_text(text, folder / "visit.toml")


@pytest.mark.parametrize(
    ("asked", "chosen"),
    [
        (None, "as Found"),
        ("", "as Found"),
        ("as left", "as left"),
        ("AS LEFT", "as left"),
        ("as Found", "as Found"),
        ("AS FOUND", "as found"),
    ],
)
def test_a_series_is_the_one_of_that_name_then_of_that_name_in_any_case(
    asked: str | None, chosen: str
) -> None:
    there = visit(Path(), "as found", "as left", "as Found")
    assert choose_series(there, asked).name == chosen


def test_a_series_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(FileFormatError, match='no series "cwt"; it has "as found"'):
        choose_series(visit(Path(), "as found"), "cwt")
    with pytest.raises(FileFormatError, match=r"there is no \[\[series\]\]"):
        choose_series(visit(Path()), None)


def test_new_sound_is_told_by_folder_and_whether_the_record_knows_it(
    tmp_path: Path,
) -> None:
    files = "a.wav", "known/a.wav", "known/b.wav", "other/a.wav", "other/deep/b.wav"
    for name in files:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(b"")
    (tmp_path / "empty").mkdir()
    named = '[[reading]]\nkind = "pluck"\nrope = 1\nrecording = "known/a.wav"\n'
    there = visit(tmp_path, "as found", more=named)
    found = [
        (one.folder, one.names, one.is_whole_folder) for one in find_new_sound(there)
    ]
    assert found == [
        ("", ("a.wav",), False),
        ("known", ("known/b.wav",), False),
        ("other", ("other/a.wav",), True),
    ]
    assert unnamed_files(there) == ("a.wav", "known/b.wav")
