"""A fleet answers as single use does, wherever the work is done."""

import json
import pickle
from functools import partial
from pathlib import Path

import pytest

from tension.catalogue.rules import Metric
from tension.errors import FileFormatError
from tension.fleet.listing import FAULT, Row, is_usable
from tension.fleet.run import (
    Job,
    Workers,
    assess_fleet,
    line_of_record,
    local_workers,
    progress_text,
)
from tension.fleet.tree import open_tree
from tension.workflow import assess
from tension.workflow.assess import RuleChoice
from tests.cli.running import run
from tests.fleet import making
from tests.fleet.damage import WAYS
from tests.fleet.deadly import DeadlyTree
from tests.fleet.making import add_sound, alone, rows_of, write_fleet, write_lift

SEED = 16


def as_bytes(row: Row) -> bytes:
    """A line without its path, as it is kept."""
    return json.dumps(row | {"record": ""}).encode()


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, bytes]]:
    """A fleet, one of its lifts by sound, and what single use answers of each."""
    top = write_fleet(tmp_path_factory.mktemp("lifts"), 24, seed=SEED)
    add_sound(top)
    return top, {
        record.relative_to(top).as_posix(): as_bytes(alone(record))
        for record in top.rglob("visit.toml")
    }


@pytest.mark.slow
@pytest.mark.parametrize(
    "workers", [partial(local_workers, 3, are_threads=True), partial(local_workers, 2)]
)
def test_lines_are_those_of_single_use_byte_for_byte(
    workers: Workers, known: tuple[Path, dict[str, bytes]]
) -> None:
    top, answers = known
    found = rows_of(top, workers=workers)
    assert {record: as_bytes(row) for record, row in found.items()} == answers
    assert {row["verdict"] for row in found.values()} >= {"equal", "unequal"}


def test_a_line_holds_the_numbers_that_assess_prints(tmp_path: Path) -> None:
    record = add_sound(tmp_path)
    row = rows_of(tmp_path)["heard/visit.toml"]
    printed = run("assess", record, "--json").document
    ropes = printed["ropes"]
    pairs = [
        (row["verdict"], printed["verdict"]),
        (row["reason"], printed["reason"]),
        (row["spread_percent"], printed["spread"]["percent"]),
        (row["lower_percent"], printed["spread"]["lower_percent"]),
        (row["upper_percent"], printed["spread"]["upper_percent"]),
        (row["probability_over_limit"], printed["spread"]["probability_over_limit"]),
        (row["limit_percent"], printed["rule"]["limit_percent"]),
        (row["shares_percent"], [r["share_percent"] for r in ropes]),
        (
            row["share_standard_uncertainties_percent"],
            [r["share_standard_uncertainty_percent"] for r in ropes],
        ),
        (row["tensions_n"], [r["tension_n"] for r in ropes]),
        (row["measure_again"], printed["measure_again"]),
        (row["record_sha256"], printed["inputs"][0]["sha256"]),
    ]
    for ours, theirs in pairs:
        assert json.dumps(ours) == json.dumps(theirs)
    assert (row["lowest_rope"], row["highest_rope"]) == (2, 5)


def test_another_rule_is_asked_of_every_record(tmp_path: Path) -> None:
    record = write_lift(tmp_path / "one", 1, seed=SEED)
    choice = RuleChoice(limit=0.04, metric=Metric.OFF_MEAN)
    row = rows_of(tmp_path, choice=choice)["one/visit.toml"]
    assert as_bytes(row) == as_bytes(alone(record, choice))
    assert (row["metric"], row["limit_percent"]) == ("off-mean", 4.0)


@pytest.mark.slow
@pytest.mark.parametrize(
    "workers", [partial(local_workers, 2, are_threads=True), partial(local_workers, 2)]
)
def test_of_a_fleet_with_a_fifth_damaged_all_good_ones_are_right_and_bad_ones_named(
    workers: Workers, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    top = write_fleet(tmp_path / "lifts", 55, seed=SEED + 1)
    records = sorted(top.rglob("visit.toml"))
    damaged = {records[5 * place]: way for place, way in enumerate(WAYS)}
    good = {
        record.relative_to(top).as_posix(): as_bytes(alone(record))
        for record in records
        if record not in damaged
    }
    for record, way in damaged.items():
        way(record)
    found = rows_of(top, workers=workers, cache=tmp_path / "kept")
    usable = {name: as_bytes(row) for name, row in found.items() if is_usable(row)}
    assert usable == good
    bad = {name: row for name, row in found.items() if not is_usable(row)}
    assert len(bad) == len(WAYS) == 11
    for record in damaged:
        place = record.relative_to(top)
        row = bad.get(place.as_posix()) or bad[place.parent.as_posix()]
        assert row["verdict"] == "unusable"
        assert place.parent.as_posix() in row["reason"]
        assert str(tmp_path) not in row["reason"]
    threads = partial(local_workers, are_threads=True)
    monkeypatch.setattr("tension.fleet.run.local_workers", threads)
    ran = run("fleet", top, "--cache", tmp_path / "kept", "--workers", "2")
    assert ran.code == 0
    assert "11 folders or records could not be used" in ran.err
    for name in bad:
        assert f"tension: {name}" in ran.err


def test_a_fault_of_the_program_stops_nothing_and_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    top = write_fleet(tmp_path, 3, seed=SEED)
    right = assess.assess_record

    def fails(path: Path, **more: RuleChoice | None) -> object:
        if "lift 1" in str(path):
            raise IndexError("pop from empty list")
        return right(path, choice=more["choice"])

    monkeypatch.setattr("tension.workflow.assess.assess_record", fails)
    found = rows_of(top)
    row = found["street 0/lift 1/visit.toml"]
    assert row["verdict"] == FAULT
    assert "IndexError" in row["reason"]
    assert "tension assess" in row["reason"]
    assert sum(is_usable(other) for other in found.values()) == 2


@pytest.mark.slow
def test_a_worker_that_dies_is_replaced_and_the_record_named(tmp_path: Path) -> None:
    top = write_fleet(tmp_path, 5, seed=SEED)
    found = rows_of(f"deadly://{top}", workers=partial(local_workers, 2))
    row = found["street 0/lift 3/visit.toml"]
    assert row["verdict"] == FAULT
    assert "died" in row["reason"]
    good = {name: as_bytes(r) for name, r in found.items() if is_usable(r)}
    assert good == {
        p.relative_to(top).as_posix(): as_bytes(alone(p))
        for p in top.rglob("visit.toml")
        if p.parent.name != "lift 3"
    }


def test_a_folder_without_records_is_refused_with_the_next_step(
    tmp_path: Path,
) -> None:
    with pytest.raises(FileFormatError, match="in this folder or below"):
        rows_of(tmp_path)


@pytest.mark.slow
def test_records_behind_an_address_answer_as_those_in_a_folder(tmp_path: Path) -> None:
    pytest.importorskip("fsspec", reason="addresses need the extra 'fleet'")
    top = write_fleet(tmp_path / "lifts", 3, seed=SEED)
    record = top / "street 0" / "lift 1" / "visit.toml"
    for name in ("memo 7.m4a", "memo 8.wav"):
        (record.parent / name).write_bytes(b"not named by the record")
    here = rows_of(top)
    assert "files-not-named" in here["street 0/lift 1/visit.toml"]["notes"]
    processes, kept = partial(local_workers, 2), tmp_path / "kept"
    assert rows_of(top.as_uri(), workers=processes, cache=kept) == here
    for cache in (None, kept):
        assert rows_of(top.as_uri(), cache=cache) == here


def test_progress_is_told_with_what_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    top = write_fleet(tmp_path, 3, seed=SEED)
    (top / "bad").mkdir()
    (top / "bad" / "visit.toml").mkdir()
    monkeypatch.setattr("tension.fleet.run._EVERY", 0.0)
    told: list[str] = []
    job = Job(tree=open_tree(str(top)))
    with assess_fleet(job, partial(local_workers, 1, are_threads=True), told.append):
        pass
    assert len(told) == 4
    assert told[-1] == "4 of 4 records, 1 not usable, about 0 s to go"
    assert progress_text(10, 100, 0, 60.0).endswith("about 9 min to go")


def test_a_message_of_a_copy_names_the_place_in_the_tree(tmp_path: Path) -> None:
    pytest.importorskip("fsspec", reason="addresses need the extra 'fleet'")
    (tmp_path / "one").mkdir()
    (tmp_path / "one" / "visit.toml").write_text("x = [\n", encoding="utf-8")
    row = rows_of(tmp_path.as_uri())["one/visit.toml"]
    assert row["reason"].startswith("one/visit.toml: line 1")


@pytest.fixture(autouse=True)
def _deadly_trees(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the address of a deadly tree be opened."""

    def opened(text: str) -> object:
        if text.startswith("deadly://"):
            return DeadlyTree(name=text.removeprefix("deadly://"))
        return open_tree(text)

    monkeypatch.setattr(making, "open_tree", opened)


def test_a_job_can_be_passed_to_another_process(tmp_path: Path) -> None:
    write_lift(tmp_path / "one", 1, seed=SEED)
    job = Job(tree=open_tree(str(tmp_path)), choice=RuleChoice(limit=0.05))
    again = pickle.loads(pickle.dumps(job))  # noqa: S301 - our own
    assert is_usable(line_of_record("one/visit.toml", again))
    assert again == job
