"""``tension fleet`` on the command line: what it prints, where, and with which code."""

import csv
import io
import json
from functools import partial
from pathlib import Path

import pytest

from tension.fleet.run import local_workers
from tests.cli.running import run
from tests.fleet.making import write_fleet, write_lift

SEED = 164


@pytest.fixture
def lifts(tmp_path: Path) -> Path:
    """Five lifts, one with two records, and a bad one."""
    top = write_fleet(tmp_path / "lifts", 5, seed=SEED)
    older = top / "street 0" / "lift 0 before"
    write_lift(older, 0, seed=SEED, day="2026-01-05")
    (top / "bad").mkdir()
    (top / "bad" / "visit.toml").write_text("[lift\n", encoding="utf-8")
    return top


@pytest.fixture(autouse=True)
def _in_threads(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Threads begin at once; one test has the processes that people have."""
    if request.function is not test_a_second_run_prints_the_same_bytes:
        threads = partial(local_workers, are_threads=True)
        monkeypatch.setattr("tension.fleet.run.local_workers", threads)


def options(folder: Path) -> tuple[str | Path, ...]:
    return ("--cache", folder / "kept", "--workers", "1", "--as-of", "2026-11-29")


def test_the_list_goes_to_stdout_and_what_is_unusable_to_stderr_too(
    lifts: Path, tmp_path: Path
) -> None:
    ran = run("fleet", lifts, *options(tmp_path))
    assert ran.code == 0
    assert ran.out.startswith("5 lifts: ")
    assert "street 0/lift 0/visit.toml, newest of 2" in ran.out
    assert "lift 0 before" not in ran.out
    assert "tension: bad/visit.toml: line 1" in ran.err
    assert "1 folder or record could not be used" in ran.err


def test_json_is_one_document_and_csv_a_row_a_lift(lifts: Path, tmp_path: Path) -> None:
    ran = run("fleet", lifts, *options(tmp_path), "--json", "--sort", "record")
    document = ran.document
    assert document["schema_version"] == 1
    assert document["command"] == "fleet"
    assert document["counts"]["unusable"] == 1
    assert sum(document["counts"].values()) == len(document["lifts"]) == 6
    assert document["lifts"][0]["record"] == "bad/visit.toml"
    plain = run("fleet", lifts, *options(tmp_path), "--csv", "--sort", "record")
    rows = list(csv.DictReader(io.StringIO(plain.out)))
    assert [row["record"] for row in rows] == [
        one["record"] for one in document["lifts"]
    ]
    every = run("fleet", lifts, *options(tmp_path), "--csv", "--every-record")
    assert len(every.out.splitlines()) == 8


def test_files_are_written_in_the_form_of_their_names(
    lifts: Path, tmp_path: Path
) -> None:
    names = [tmp_path / "list.csv", tmp_path / "list.jsonl", tmp_path / "list.html"]
    words = [word for name in names for word in ("-o", name)]
    assert run("fleet", lifts, *options(tmp_path), *words).code == 0
    assert len(names[0].read_text("utf-8-sig").splitlines()) == 7
    assert all(json.loads(text) for text in names[1].read_text("utf-8").splitlines())
    assert names[2].read_text("utf-8").startswith("<!DOCTYPE html>")
    again = run("fleet", lifts, *options(tmp_path), *words)
    assert again.code == 3
    assert "--overwrite" in again.err


@pytest.mark.slow  # `tests/fleet/test_kept.py` holds the lines of a second run
def test_a_second_run_prints_the_same_bytes(lifts: Path, tmp_path: Path) -> None:
    first = run("fleet", lifts, *options(tmp_path), "--json")
    second = run("fleet", lifts, *options(tmp_path), "--json")
    anew = run(
        "fleet",
        lifts,
        "--no-cache",
        "--workers",
        "2",
        "--as-of",
        "2026-11-29",
        "--json",
    )
    assert first.out == second.out == anew.out


def test_a_few_lines_can_be_asked_for(lifts: Path, tmp_path: Path) -> None:
    ran = run("fleet", lifts, *options(tmp_path), "--first", "2")
    assert "and 4 more; --first 6 prints them" in " ".join(ran.out.split())


def test_a_rule_of_the_command_line_judges_every_lift(
    lifts: Path, tmp_path: Path
) -> None:
    ran = run("fleet", lifts, *options(tmp_path), "--json", "--limit", "90 %")
    assert ran.document["counts"]["equal"] == 5


def test_the_trees_of_north_america_hold_elevators(lifts: Path, tmp_path: Path) -> None:
    ran = run("fleet", lifts, *options(tmp_path), "--terms", "north-america")
    assert ran.out.startswith("5 elevators: ")


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--json", "--csv"), 2, "not both"),
        (("--cache", "kept", "--no-cache"), 2, "not both"),
        (("--workers", "2", "--scheduler", "tcp://127.0.0.1:9"), 2, "has its own"),
        (("--workers", "0"), 2, "--workers"),
        (
            ("--as-of", "yesterday"),
            2,
            'like 2026-11-20, not "yesterday"',
        ),
        (("-o", "list.xlsx"), 3, "ends in one of"),
        (("--limit", "0 %"), 2, "--limit"),
    ],
)
def test_what_makes_no_sense_is_refused_before_the_work(
    tmp_path: Path, words: tuple[str, ...], code: int, said: str
) -> None:
    ran = run("fleet", tmp_path, *words)
    assert ran.code == code
    assert said in ran.err
    assert not ran.out


@pytest.mark.parametrize("name", ["gone", "empty"])
def test_a_folder_without_lifts_is_one_line(tmp_path: Path, name: str) -> None:
    (tmp_path / "empty").mkdir()
    ran = run("fleet", tmp_path / name, *options(tmp_path))
    assert ran.code == 3
    assert len(ran.err.splitlines()) == 1
    assert "Traceback" not in ran.err


def test_a_list_is_never_written_over_what_a_record_names(
    lifts: Path, tmp_path: Path
) -> None:
    folder = lifts / "street 0" / "lift 0"
    log = folder / "log.csv"
    log.write_text("a log of a sensor", encoding="utf-8")
    record = folder / "visit.toml"
    text = record.read_text(encoding="utf-8") + '\n[[photo]]\nfile = "log.csv"\n'
    record.write_text(text, encoding="utf-8")
    ran = run("fleet", lifts, *options(tmp_path), "-o", log, "--overwrite")
    assert ran.code == 3
    assert "never written over" in ran.err
    assert log.read_text(encoding="utf-8") == "a log of a sensor"
    beside = folder / "list.csv"
    beside.write_text("an older list", encoding="utf-8")
    ran = run("fleet", lifts, *options(tmp_path), "-o", beside, "--overwrite")
    assert ran.code == 0
