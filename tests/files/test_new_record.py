"""A new record: what was answered stands in it, the rest as examples that work."""

import datetime as dt
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tension.catalogue.rules import Metric
from tension.errors import ExistingFileError, FileFormatError, InvalidValueError
from tension.files.record import read_visit, record_text
from tension.files.toml_text import toml_value
from tension.installation import Buffer, Drive, Ends, HitchPlace, Roping, Side
from tension.measurement.readings import PluckReading
from tension.workflow.adding import begin_record

FULL = {
    "set.ropes": 3,
    "lift.name": "Granary Wharf, goods lift 2",
    "lift.drive": Drive.TRACTION,
    "lift.roping": Roping.TWO_TO_ONE,
    "visit.date": dt.date(2026, 11, 20),
    "visit.measured_by": "Łucja",
    "hitch.at": HitchPlace.DEAD_END_CAR,
    "hitch.buffer": Buffer.SPRING,
    "span.side": Side.CAR,
    "span.position": "top landing",
    "span.ends": Ends.SOCKET_SHEAVE,
    "rope.free_lengths": ("3.40 m", "3.55 m", "11 ft 2 in"),
    "series.people": "two on the car top",
    "series.load": "empty",
    "series.arrived": "up",
    "set.diameter": "13 mm",
    "set.construction": "8x19 FC",
    "rule.use": "gb50310-2002-4.9.5",
}
FILES = ("as-found/1.m4a", "as-found/2.m4a", "as-found/3.m4a")
TWO = {"set.ropes": 2}


def begun(folder: Path, said: dict[str, Any], files: tuple[Any, ...] = ((),)) -> str:
    visit = begin_record(folder, said, *files)
    assert visit.path is not None
    return visit.path.read_text(encoding="utf-8")


def parsed(
    folder: Path, said: dict[str, Any], files: tuple[Any, ...] = ((),)
) -> dict[str, Any]:
    return tomllib.loads(begun(folder, said, files))


def test_every_answer_stands_where_it_belongs(tmp_path: Path) -> None:
    record = parsed(tmp_path, FULL, (FILES,))
    assert record["format"] == 1
    assert record["lift"] == {
        "name": "Granary Wharf, goods lift 2",
        "drive": "traction",
        "roping": "2:1",
    }
    assert record["visit"] == {"date": dt.date(2026, 11, 20), "measured_by": "Łucja"}
    assert record["rule"] == {"use": "gb50310-2002-4.9.5"}
    assert record["set"] == {"ropes": 3, "diameter": "13 mm", "construction": "8x19 FC"}
    (span,) = record["span"]
    assert span == {
        "name": "top landing, car side",
        "side": "car",
        "position": "top landing",
        "ends": "socket-sheave",
        "hitch_end": "upper",
    }
    assert record["hitch"] == [{"at": "dead-end-car", "buffer": "spring"}]
    assert [rope["free_lengths"] for rope in record["rope"]] == [
        {span["name"]: "3.40 m"},
        {span["name"]: "3.55 m"},
        {span["name"]: "11 ft 2 in"},
    ]
    assert [rope["number"] for rope in record["rope"]] == [1, 2, 3]
    (series,) = record["series"]
    assert series["span"] == span["name"]
    assert (series["people"], series["load"], series["arrived"]) == (
        "two on the car top",
        "empty",
        "up",
    )
    assert [(r["rope"], r["recording"]) for r in record["reading"]] == [
        (1, "as-found/1.m4a"),
        (2, "as-found/2.m4a"),
        (3, "as-found/3.m4a"),
    ]


def test_one_memo_keeps_its_order(tmp_path: Path) -> None:
    record = parsed(tmp_path, TWO, (("all.m4a",), (1, 2, 2, 1), 3))
    assert record["reading"] == [
        {
            "series": "as found",
            "kind": "pluck",
            "recording": "all.m4a",
            "ropes": [1, 2, 2, 1],
            "plucks_each": 3,
        }
    ]


def test_one_length_goes_to_the_span_and_staggers_to_the_ropes(tmp_path: Path) -> None:
    lengths = {"rope.free_lengths": ("3.4 m",), "rope.stagger": ("0 mm", "+150 mm")}
    record = parsed(tmp_path, TWO | lengths)
    assert record["span"][0]["free_length"] == "3.4 m"
    assert [rope["stagger"] for rope in record["rope"]] == ["0 mm", "+150 mm"]


def test_a_rule_of_the_house_is_written_out(tmp_path: Path) -> None:
    rule = {"rule.limit": "5 %", "rule.metric": Metric.OFF_MEAN}
    assert parsed(tmp_path, TWO | rule)["rule"] == {
        "metric": "off-mean",
        "limit": "5 %",
    }


def test_the_hitch_at_the_other_end_is_like_the_near_one_or_none(
    tmp_path: Path,
) -> None:
    near = {"hitch.at": "car", "hitch.thread": "M16", "hitch.rod_free": "100 mm"}
    for far, other in (("same", {"thread": "M16"}), ("none", {"buffer": "none"})):
        place = tmp_path / far
        place.mkdir()
        said = near | {"hitch.at": HitchPlace.CAR, "hitch.far": far}
        first, second = parsed(place, TWO | said)["hitch"]
        assert first == {"at": "car", "thread": "M16", "rod_free": "100 mm"}
        assert second == {"at": "counterweight", **other}


def test_sockets_at_one_height_are_written_only_if_said(tmp_path: Path) -> None:
    assert parsed(tmp_path, TWO | {"set.sockets": "one height"})["set"] == {
        "ropes": 2,
        "sockets": "one height",
    }


def test_nothing_that_was_not_answered_is_set(tmp_path: Path) -> None:
    record = parsed(tmp_path, {"set.ropes": 1, "lift.name": "", "span.ends": None})
    assert record == {
        "format": 1,
        "lift": {},
        "visit": {},
        "set": {"ropes": 1},
        "span": [{"name": "car side"}],
        "series": [{"name": "as found", "span": "car side"}],
    }


EXAMPLE = re.compile(r"#(\[|[a-z_]+ = )")


def with_example(text: str, first: int) -> str:
    """Take the comment sign from one example: a whole table, or one key."""
    lines = text.splitlines()
    last = first + 1
    if lines[first].startswith("#["):
        while last < len(lines) and EXAMPLE.match(lines[last]):
            last += 1
    for k in range(first, last):
        lines[k] = lines[k][1:]
    return "\n".join(lines) + "\n"


def examples(text: str) -> list[int]:
    """Return the lines at which an example starts; keys of example tables left out."""
    starts, is_inside = [], False
    for k, line in enumerate(text.splitlines()):
        if line.startswith("#["):
            is_inside = True
            starts.append(k)
        elif not EXAMPLE.match(line):
            is_inside = False
        elif not is_inside:
            starts.append(k)
    return starts


@pytest.mark.parametrize(
    ("said", "files"), [(TWO, ()), (FULL, FILES)], ids=["bare", "full"]
)
def test_every_example_is_valid_once_its_sign_is_taken_away(
    said: dict[str, Any], files: tuple[str, ...], tmp_path: Path
) -> None:
    text = begun(tmp_path, said, (files,))
    path = tmp_path / "visit.toml"
    places = examples(text)
    assert len(places) > 15
    hitch = text.splitlines().index("#[[hitch]]") if said is not FULL else None
    for place in places:
        content = with_example(text, place)
        if hitch is not None and place > hitch and "\nhitch = " in content:
            content = with_example(content, hitch)  # "described above"
        assert tomllib.loads(content) != tomllib.loads(text)
        path.write_text(content, encoding="utf-8")
        read_visit(path)


def test_a_new_record_is_read_back(tmp_path: Path) -> None:
    visit = begin_record(tmp_path, FULL, FILES)
    assert visit == read_visit(tmp_path / "visit.toml")
    assert visit.rope_set.n_ropes == 3
    assert visit.lift.roping is Roping.TWO_TO_ONE
    plucks = [one for one in visit.readings if isinstance(one, PluckReading)]
    assert [one.recording for one in plucks] == list(FILES)
    lengths = [rope.free_lengths[0][1].value for rope in visit.rope_set.ropes]
    # 11 ft 2 in = 134 in of 25.4 mm
    assert lengths == pytest.approx([3.40, 3.55, 3.4036], abs=1e-9)


@pytest.mark.slow
@given(st.text(max_size=40))
@settings(max_examples=200, deadline=None)
def test_any_text_comes_back_as_typed(text: str) -> None:
    assert tomllib.loads(f"x = {toml_value(text)}") == {"x": text}
    if text:
        new = {"set": {"ropes": 1}, "lift": {"name": text}, "span": {"name": "top"}}
        assert tomllib.loads(record_text(new))["lift"]["name"] == text


def test_text_cannot_break_out_of_its_line(tmp_path: Path) -> None:
    evil = '"\n[set]\nropes = 99 # '
    places = ("lift.name", "span.position", "series.people")
    record = parsed(tmp_path, TWO | dict.fromkeys(places, evil))
    assert record["set"]["ropes"] == 2
    assert record["lift"]["name"] == evil


def test_half_characters_of_foreign_names_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InvalidValueError, match="rename it"):
        begin_record(tmp_path, {"set.ropes": 1}, ("rope\udce9.m4a",))


@pytest.mark.parametrize(
    ("said", "files", "message"),
    [
        ({"set.ropes": 13}, ((),), "set, ropes: must be 1 to 12, not 13"),
        ({"rule.metric": Metric.OFF_MEAN}, ((),), "rule, limit: is missing"),
        ({"rope.free_lengths": ("2000 m",)}, ((),), "must be from 50 mm to 1000 m"),
        ({"hitch.rows": ((1,),)}, ((),), "leaves out rope 2"),
        ({}, (("a",), (1, 7)), "reading 1, ropes: must be 1 to 2, not 7"),
        ({}, (("../a",), (1, 2)), "must lie beside or below the record"),
    ],
)
def test_what_a_record_would_not_take_is_told_and_nothing_written(
    said: dict[str, Any], files: tuple[Any, ...], message: str, tmp_path: Path
) -> None:
    for dry_run in (True, False):
        with pytest.raises(FileFormatError, match="not written: .*" + message):
            begin_record(tmp_path, TWO | said, *files, dry_run=dry_run)
    assert not list(tmp_path.iterdir())


def test_a_dry_run_writes_nothing(tmp_path: Path) -> None:
    assert begin_record(tmp_path, FULL, FILES, dry_run=True).rope_set.n_ropes == 3
    assert not list(tmp_path.iterdir())


def test_an_old_record_is_never_touched(tmp_path: Path) -> None:
    before = begun(tmp_path, FULL, (FILES,))
    with pytest.raises(ExistingFileError, match="exists"):
        begin_record(tmp_path, {"set.ropes": 5}, ())
    assert (tmp_path / "visit.toml").read_text(encoding="utf-8") == before


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="make it first"):
        begin_record(tmp_path / "missing", FULL, FILES)
