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
from tension.files.new_record import NewHitch, NewRecord, record_text, write_new_record
from tension.files.record import read_visit
from tension.files.toml_text import text_value
from tension.installation import Buffer, Drive, Ends, HitchPlace, Roping, Side
from tension.measurement.readings import PluckReading

FULL = NewRecord(
    n_ropes=3,
    name="Granary Wharf, goods lift 2",
    drive=Drive.TRACTION,
    roping=Roping.TWO_TO_ONE,
    date=dt.date(2026, 11, 20),
    measured_by="Łucja",
    hitches=(NewHitch(at=HitchPlace.DEAD_END_CAR, buffer=Buffer.SPRING),),
    side=Side.CAR,
    position="top landing",
    ends=Ends.SOCKET_SHEAVE,
    free_lengths=("3.40 m", "3.55 m", "11 ft 2 in"),
    people="two on the car top",
    load="empty",
    arrived="up",
    diameter="13 mm",
    construction="8x19 FC",
    rule="gb50310-2002-4.9.5",
    recordings=("as-found/1.m4a", "as-found/2.m4a", "as-found/3.m4a"),
)


def parsed(new: NewRecord) -> dict[str, Any]:
    return tomllib.loads(record_text(new))


def test_every_answer_stands_where_it_belongs() -> None:
    record = parsed(FULL)
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


def test_one_memo_keeps_its_order() -> None:
    new = NewRecord(
        n_ropes=2, recordings=("all.m4a",), order=(1, 2, 2, 1), plucks_each=3
    )
    assert parsed(new)["reading"] == [
        {
            "series": "as found",
            "kind": "pluck",
            "recording": "all.m4a",
            "ropes": [1, 2, 2, 1],
            "plucks_each": 3,
        }
    ]


def test_one_length_goes_to_the_span_and_staggers_to_the_ropes() -> None:
    new = NewRecord(n_ropes=2, free_lengths=("3.4 m",), staggers=("0 mm", "+150 mm"))
    record = parsed(new)
    assert record["span"][0]["free_length"] == "3.4 m"
    assert [rope["stagger"] for rope in record["rope"]] == ["0 mm", "+150 mm"]


def test_a_rule_of_the_house_is_written_out() -> None:
    new = NewRecord(n_ropes=2, limit="5 %", metric=Metric.OFF_MEAN)
    assert parsed(new)["rule"] == {"metric": "off-mean", "limit": "5 %"}


def test_sockets_at_one_height_are_written_only_if_said() -> None:
    new = NewRecord(n_ropes=2, has_sockets_at_one_height=True)
    assert parsed(new)["set"]["sockets"] == "one height"
    assert "sockets" not in parsed(NewRecord(n_ropes=2))["set"]


def test_nothing_that_was_not_answered_is_set() -> None:
    assert set(parsed(NewRecord(n_ropes=1))) == {
        "format",
        "lift",
        "visit",
        "set",
        "span",
        "series",
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


@pytest.mark.parametrize("new", [NewRecord(n_ropes=2), FULL], ids=["bare", "full"])
def test_every_example_is_valid_once_its_sign_is_taken_away(
    new: NewRecord, tmp_path: Path
) -> None:
    text = record_text(new)
    path = tmp_path / "visit.toml"
    places = examples(text)
    assert len(places) > 15
    hitch = text.splitlines().index("#[[hitch]]") if new is not FULL else None
    for place in places:
        content = with_example(text, place)
        if hitch is not None and place > hitch and "\nhitch = " in content:
            content = with_example(content, hitch)  # "described above"
        assert tomllib.loads(content) != tomllib.loads(text)
        path.write_text(content, encoding="utf-8")
        read_visit(path)


def test_a_new_record_is_read_back(tmp_path: Path) -> None:
    visit = read_visit(write_new_record(FULL, tmp_path))
    assert visit.rope_set.n_ropes == 3
    assert visit.lift.roping is Roping.TWO_TO_ONE
    plucks = [one for one in visit.readings if isinstance(one, PluckReading)]
    assert [one.recording for one in plucks] == list(FULL.recordings)
    lengths = [rope.free_lengths[0][1].value for rope in visit.rope_set.ropes]
    # 11 ft 2 in = 134 in of 25.4 mm
    assert lengths == pytest.approx([3.40, 3.55, 3.4036], abs=1e-9)


@pytest.mark.slow
@given(st.text(max_size=40))
@settings(max_examples=200, deadline=None)
def test_any_text_comes_back_as_typed(text: str) -> None:
    assert tomllib.loads(f"x = {text_value(text)}") == {"x": text}
    if text:
        assert parsed(NewRecord(n_ropes=1, name=text))["lift"]["name"] == text


def test_text_cannot_break_out_of_its_line() -> None:
    evil = '"\n[set]\nropes = 99 # '
    record = parsed(NewRecord(n_ropes=2, name=evil, position=evil, people=evil))
    assert record["set"]["ropes"] == 2
    assert record["lift"]["name"] == evil


def test_half_characters_of_foreign_names_are_refused() -> None:
    new = NewRecord(n_ropes=1, recordings=("rope\udce9.m4a",))
    with pytest.raises(InvalidValueError, match="rename it"):
        record_text(new)


@pytest.mark.parametrize(
    ("new", "message"),
    [
        (NewRecord(n_ropes=0), "must be 1 to 12, got 0"),
        (NewRecord(n_ropes=13), "must be 1 to 12, got 13"),
        (NewRecord(n_ropes=3, free_lengths=("1 m", "2 m")), "2 free lengths"),
        (NewRecord(n_ropes=3, staggers=("1 mm",)), "1 staggers"),
        (NewRecord(n_ropes=3, recordings=("a", "b")), "2 recordings were given for 3"),
        (NewRecord(n_ropes=2, recordings=("a", "b", "c"), order=(1, 2)), "got 3"),
        (NewRecord(n_ropes=2, recordings=("a",), order=(1, 7)), "not 1 to 2"),
    ],
)
def test_answers_that_do_not_fit_are_told(new: NewRecord, message: str) -> None:
    with pytest.raises(InvalidValueError, match=message):
        record_text(new)


def test_an_old_record_is_never_touched(tmp_path: Path) -> None:
    path = write_new_record(FULL, tmp_path)
    before = path.read_bytes()
    with pytest.raises(ExistingFileError, match="exists"):
        write_new_record(NewRecord(n_ropes=5), tmp_path)
    assert path.read_bytes() == before


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="make it first"):
        write_new_record(FULL, tmp_path / "missing")
