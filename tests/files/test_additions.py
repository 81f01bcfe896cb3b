"""Adding tables to a record: nothing lost, nothing touched, all or none."""

import datetime as dt
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tension.errors import FileFormatError
from tension.files.record import Maker, append_tables, read_visit
from tension.files.toml_reading import LARGEST_RECORD, parse_toml
from tension.files.toml_text import NewTable, tables_text, with_tables
from tension.files.visit import Visit
from tension.measurement.readings import SpringReading
from tension.workflow.adding import table
from tension.workflow.integrity import seal_record
from tests.killing import run_killed

RECORD = """format = 1
[rule]
limit = "10 %"
[set]
ropes = 2
[[hitch]]
at = "car"
[[span]]
name = "top"
[[series]]
name = "as found"
# a person's own words, kept"""


@pytest.fixture
def record(tmp_path: Path) -> Path:
    path = tmp_path / "visit.toml"
    path.write_text(RECORD, encoding="utf-8")
    return path


def spring(rope: int, length: str) -> NewTable:
    return table("reading", series="as found", kind="spring", rope=rope, length=length)


def made(*tables: NewTable) -> Maker:
    def make(visit: Visit) -> Sequence[NewTable]:
        del visit
        return tables

    return make


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_what_stood_there_stays_byte_by_byte(
    record: Path, end: str, mark: bytes
) -> None:
    before = mark + RECORD.replace("\n", end).encode()
    record.write_bytes(before)
    added = append_tables(record, made(spring(1, "140 mm")))
    assert record.read_bytes().startswith(before + end.encode())
    assert added.visit == read_visit(record)
    assert record.read_bytes().count(b"\r\n") in {0, record.read_bytes().count(b"\n")}


def test_a_dry_run_shows_the_lines_and_writes_nothing(record: Path) -> None:
    added = append_tables(record, made(spring(2, "141 mm")), dry_run=True)
    assert 'length = "141 mm"\n' in tables_text(added.tables)
    assert isinstance(added.visit.readings[0], SpringReading)
    assert record.read_text() == RECORD


def test_tables_that_would_not_be_right_are_refused_whole(record: Path) -> None:
    with pytest.raises(FileFormatError, match="rope: must be 1 to 2, not 9") as caught:
        append_tables(record, made(spring(1, "140 mm"), spring(9, "140 mm")))
    assert "nothing was added" in str(caught.value)
    assert record.read_text() == RECORD


def test_a_sealed_record_is_not_added_to(record: Path) -> None:
    seal_record(record)
    with pytest.raises(FileFormatError, match="sealed"):
        append_tables(record, made(spring(1, "140 mm")))
    assert record.read_text() == RECORD


def test_a_record_too_large_to_read_again_is_refused(record: Path) -> None:
    record.write_text(RECORD + "\n# " + "x" * (LARGEST_RECORD - len(RECORD) - 10))
    before = record.read_bytes()
    with pytest.raises(FileFormatError, match="larger than"):
        append_tables(record, made(spring(1, "140 mm")))
    assert record.read_bytes() == before


def test_a_record_saved_by_an_editor_meanwhile_is_not_written_over(
    record: Path,
) -> None:
    def saved_meanwhile(visit: Visit) -> Sequence[NewTable]:
        del visit
        record.write_text(RECORD + "\n# saved")
        return [spring(1, "140 mm")]

    with pytest.raises(FileFormatError, match="run it again"):
        append_tables(record, saved_meanwhile)
    assert record.read_text() == RECORD + "\n# saved"


def test_a_kill_at_any_change_leaves_the_record_whole(record: Path) -> None:
    for at in range(1, 20):
        record.write_text(RECORD)
        was_killed = run_killed(
            lambda: append_tables(record, made(spring(1, "140 mm"))), record.parent, at
        )
        n_readings = len(read_visit(record).readings)
        assert record.read_text().startswith(RECORD)
        assert n_readings in {0, 1}
        if not was_killed:
            assert n_readings == 1
            return
    pytest.fail("never came to its end")


ADD = """
import sys
from pathlib import Path
from tension.files.record import append_tables
from tension.files.toml_text import NewTable
for number in range(4):
    length = f"{100 + 4 * int(sys.argv[2]) + number} mm"
    keys = {"kind": "spring", "rope": 1, "length": length}
    table = NewTable(name="reading", keys=keys)
    append_tables(Path(sys.argv[1]), lambda visit: [table])
"""


@pytest.mark.slow
def test_tables_added_at_once_are_all_there(record: Path) -> None:
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", ADD, str(record), str(n)], stderr=subprocess.PIPE
        )
        for n in range(3)
    ]
    for writer in writers:
        assert writer.communicate()[1] == b""
    lengths = [
        reading.lengths[0].text
        for reading in read_visit(record).readings
        if isinstance(reading, SpringReading)
    ]
    assert sorted(lengths) == [f"{100 + n} mm" for n in range(12)]


@settings(max_examples=100, deadline=None)
@given(
    st.dictionaries(
        st.from_regex(r"[a-z_]{1,9}", fullmatch=True),
        st.one_of(
            st.text(st.characters(exclude_categories=["Cs"]), min_size=1),
            st.integers(-(10**9), 10**9),
            st.booleans(),
            st.dates(dt.date(1000, 1, 1)),
            st.lists(st.integers(0, 99), min_size=1),
            st.dictionaries(st.text("abc ,\"'", min_size=1), st.text("de"), min_size=1),
        ),
    )
)
def test_every_value_is_read_as_it_was_written(keys: dict[str, object]) -> None:
    table = NewTable(name="reading", keys=keys)  # type: ignore[arg-type]
    assert parse_toml(tables_text([table]), "x") == {"reading": [keys]}


@pytest.mark.parametrize(
    ("text", "longer"),
    [
        ("[set]", "[set]\nropes = 4"),
        ('[visit]\nnote = """\n[set]\n"""\n[ set ]  # mine\n', None),
        ("[set]\r\n[lift]\r\n", "[set]\r\nropes = 4\r\n[lift]\r\n"),
    ],
)
def test_keys_of_the_set_go_under_its_own_heading(
    text: str, longer: str | None
) -> None:
    table = NewTable(name="set", keys={"ropes": 4})
    assert with_tables(text, [table]) == (longer or f"{text}ropes = 4\n")
