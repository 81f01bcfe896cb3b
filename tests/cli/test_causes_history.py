"""`tension causes` and `tension history` on records as people keep them."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tension.diagnosis.outcome import Cause, Diagnosis
from tension.telling.causes import conclusion_line
from tension.telling.lines import word
from tension.workflow.causes import diagnose_records
from tests.cli.running import run
from tests.synthesis.cause_records import Read, stepped_reads, write
from tests.synthesis.lifts_with_a_cause import SteppedLift

EQUAL = [5010.0, 4990.0, 5005.0, 4995.0, 5000.0]
SLACK = [4350.0, 5160.0, 5170.0, 5160.0, 5160.0]


def lift(radii: np.ndarray | None = None) -> SteppedLift:
    return SteppedLift(
        n_ropes=5,
        rigidities=np.full(5, 4.6e6),
        springs=(np.full(5, 1 / 150e3), np.full(5, 1 / 150e3)),
        radii=np.ones(5) if radii is None else radii,
        falls=(4.0, 34.0),
        travel=30.0,
        loads=(25000.0, 30000.0),
        grip=1.6,
    )


@pytest.fixture(scope="module")
def grooves(tmp_path_factory: pytest.TempPathFactory) -> Path:
    radii = 1 + np.array([0.08, -0.02, 0.0, -0.05, 0.01]) / 260
    folder = tmp_path_factory.mktemp("grooves") / "visit"
    return write(folder, "2026-11-20", stepped_reads(lift(radii)))


def visits(folder: Path, **head: str) -> Path:
    """Left equal, still equal, then rope 1 slack; twice."""
    days = ("2025-06-02", "2025-08-11", "2025-10-20", "2025-12-29", "2026-03-09")
    half = [4680.0, 5080.0, 5080.0, 5080.0, 5080.0]
    turns = ["1/4", "-1/4", "0", "0", "0"]
    write(
        folder / days[0],
        days[0],
        [Read("as found", SLACK, turns=turns), Read("as left", EQUAL)],
        **head,
    )
    write(folder / days[1], days[1], [Read("check", half)], **head)
    write(
        folder / days[2],
        days[2],
        [Read("as found", SLACK, turns=turns), Read("as left", EQUAL)],
        **head,
    )
    write(folder / days[3], days[3], [Read("check", half)], **head)
    write(folder / days[4], days[4], [Read("check", SLACK)], **head)
    return folder


def test_causes_suggests_grooves_and_shows_the_number(grooves: Path) -> None:
    ran = run("causes", grooves)
    assert ran.code == 0
    assert ran.out.startswith("The pattern suggests: grooves of different radius")
    assert "rope 1 lies +5" in ran.out
    assert "a change of +8" in " ".join(ran.out.split())
    assert "MEASURE NEXT" in ran.out
    assert "Measure groove depths" in ran.out
    assert "A pattern suggests, it does not prove." in ran.out
    assert "Only authorised lift personnel" in ran.out
    assert ran.err == ""
    assert all(len(line) <= 80 for line in ran.out.splitlines())


def test_causes_fits_forty_columns(grooves: Path) -> None:
    ran = run("causes", grooves, env={"COLUMNS": "40"})
    assert all(len(line) <= 40 for line in ran.out.splitlines())


def test_causes_speaks_north_american_in_pounds(grooves: Path) -> None:
    ran = run("causes", grooves, "--terms", "north-america", "--units", "us")
    assert "elevator personnel" in ran.out
    assert "lbf" in ran.out


def test_causes_gives_weights_and_series_as_json(grooves: Path) -> None:
    document = run("causes", grooves, "--json").document
    assert document["command"] == "causes"
    assert document["conclusion"] == "suggests"
    first = document["hypotheses"][0]
    assert first["causes"] == ["groove-radius"]
    assert sum(h["weight"] for h in document["hypotheses"]) == pytest.approx(1.0)
    assert document["next_measurement"]["expected_gain_bit"] >= 0.0
    assert len(document["series"]) == 5
    assert all(abs(sum(s["deviations_n"])) < 1e-3 for s in document["series"])
    assert document["series"][1]["rope_passed_m"] == pytest.approx(15.0)
    assert document["inputs"][0]["sha256"]


def test_one_series_concludes_nothing_and_names_what_to_measure(tmp_path: Path) -> None:
    folder = write(tmp_path / "visit", "2026-11-20", [Read("as found", SLACK)])
    ran = run("causes", folder)
    assert ran.code == 0
    assert ran.out.startswith("Nothing can be concluded yet: one series")
    assert "MEASURE NEXT" in ran.out
    assert "WHAT TO DO" not in ran.out


@pytest.mark.parametrize(
    ("weight", "says"),
    [
        (0.96, "One series alone tells it: ropes set too long or too short, rope 2"),
        (0.6, "Nothing can be concluded yet: one series"),
    ],
)
def test_a_cause_far_ahead_is_named_though_nothing_is_concluded(
    tmp_path: Path, weight: float, says: str
) -> None:
    folder = write(tmp_path / "visit", "2026-11-20", [Read("as found", SLACK)])
    found = diagnose_records([folder]).outcome
    assert isinstance(found, Diagnosis)
    first = replace(
        found.suspects[0], causes=(Cause.LENGTH,), ropes=(2,), weight=weight
    )
    told = conclusion_line(replace(found, suspects=(first, *found.suspects[1:])))
    assert told.startswith(says)
    assert "one series of a setting of the nuts cannot tell causes apart" in told


def test_a_rope_that_goes_slack_again_is_told_over_visits(tmp_path: Path) -> None:
    ran = run("causes", visits(tmp_path / "lift"))
    first = " ".join(ran.out.split("\n\n")[0].split())
    assert first.startswith("The pattern suggests: rope that stretches on")
    assert "rope 1" in first


def test_causes_works_without_newtons(tmp_path: Path, grooves: Path) -> None:
    text = (grooves / "visit.toml").read_text("utf-8")
    folder = tmp_path / "visit"
    folder.mkdir()
    bare = text.replace('linear_density = "0.575 kg/m"\n', "")
    (folder / "visit.toml").write_text(bare, "utf-8")
    ran = run("causes", folder)
    assert ran.code == 0
    assert "grooves of different radius" in ran.out


def test_causes_tells_what_it_assumed(tmp_path: Path, grooves: Path) -> None:
    text = (grooves / "visit.toml").read_text("utf-8")
    folder = tmp_path / "visit"
    folder.mkdir()
    bare = text.replace('axial_rigidity = "4.6 MN"\n', "")
    bare = bare.replace('spring_rate = "150 N/mm"\n', "")
    (folder / "visit.toml").write_text(bare.replace('arrived = "up"\n', ""), "utf-8")
    ran = run("causes", folder)
    assert ran.code == 0
    plain = " ".join(ran.out.split())
    assert "the ropes, car side, counterweight side" in plain
    assert "not recorded in 3 of 5 series" in plain


def test_causes_draws_a_figure_and_never_writes_over_one(
    grooves: Path, tmp_path: Path
) -> None:
    figure = tmp_path / "causes.svg"
    assert run("causes", grooves, "--plot", figure).code == 0
    drawn = figure.read_bytes()
    assert drawn.startswith(b"<?xml")
    ran = run("causes", grooves, "--plot", figure)
    assert ran.code == 3
    assert "--overwrite" in ran.err
    assert figure.read_bytes() == drawn
    record = grooves / "visit.toml"
    assert run("causes", grooves, "--plot", record, "--overwrite").code == 3


def test_no_word_condemns() -> None:
    words = " ".join(f"{word(one)} {word(one, 'act')}" for one in Cause).lower()
    assert not {"worn", "dangerous", "safe", "fail"} & set(words.split())


@pytest.mark.parametrize("name", ["causes", "history"])
def test_nothing_to_read_is_one_line_with_a_next_step(
    name: str, tmp_path: Path
) -> None:
    ran = run(name, tmp_path)
    assert ran.code == 3
    assert ran.out == ""
    assert "tension start" in ran.err
    assert len(ran.err.splitlines()) == 1
    missing = run(name, tmp_path / "nowhere")
    assert missing.code == 3
    assert "no such file" in missing.err


@pytest.mark.parametrize("name", ["causes", "history"])
def test_records_of_several_lifts_ask_which(name: str, tmp_path: Path) -> None:
    for number in (2, 3):
        write(
            tmp_path / f"lift-{number}",
            "2026-11-20",
            [Read("as found", EQUAL)],
            lift=f"lift {number}",
        )
    ran = run(name, tmp_path)
    assert ran.code == 3
    assert "choose one with --lift" in ran.err
    one = run(name, tmp_path, "--lift", "granary wharf,  Goods lift 3", "--json")
    assert one.code == 0
    assert [i["path"][-17:] for i in one.document["inputs"]] == ["lift-3/visit.toml"]
    other = run(name, tmp_path, "--lift", "lift 9")
    assert other.code == 3
    assert '"Granary Wharf, goods lift 2"' in other.err


def test_a_bad_record_is_named_and_the_others_stand(tmp_path: Path) -> None:
    folder = visits(tmp_path / "lift")
    (folder / "2025-08-11" / "visit.toml").write_text("format = 1\n[set]\n", "utf-8")
    undated = write(folder / "zz", None, [Read("check", EQUAL)])
    before = sorted(p.read_bytes() for p in folder.rglob("*.toml"))
    ran = run("history", folder)
    assert ran.code == 0
    plain = " ".join(ran.out.split())
    assert "2025-08-11/visit.toml is left out" in plain
    assert f"{undated.name}/visit.toml is left out, for it tells no day" in plain
    assert "4 visits" in plain
    assert sorted(p.read_bytes() for p in folder.rglob("*.toml")) == before


def test_history_tells_found_from_left_and_what_came_back(tmp_path: Path) -> None:
    ran = run("history", visits(tmp_path / "lift"))
    assert ran.code == 0
    assert "Granary Wharf, goods lift 2: 5 visits." in ran.out
    rows = [line for line in ran.out.splitlines() if line.startswith("2025-10-20")]
    assert [row.split()[1:3] for row in rows] == [["as", "found"], ["as", "left"]]
    assert "-13." in rows[0]
    assert ran.out.count("Returned within 20 weeks") == 2
    plain = " ".join(ran.out.split())
    assert "Trend: rope 1 -2." in plain
    assert "Next check: the last series reads over the limit" in plain
    assert all(len(line) <= 80 for line in ran.out.splitlines())


def test_history_fits_forty_columns(tmp_path: Path) -> None:
    ran = run("history", visits(tmp_path / "lift"), env={"COLUMNS": "40"})
    assert all(len(line) <= 40 for line in ran.out.splitlines())


def test_history_suggests_a_day_from_the_trend(tmp_path: Path) -> None:
    folder = visits(tmp_path / "lift")
    last = folder / "2026-03-09" / "visit.toml"
    last.unlink()
    document = run("history", folder, "--json").document
    (track,) = document["tracks"]
    check = track["next_check"]
    assert not check["over_now"]
    assert "2025-12-29" <= check["earliest"] <= check["likely"] <= "2026-04-01"
    trend = track["trends"][0]
    # 6.5 points in ten weeks
    assert trend["slope_percent_per_week"] == pytest.approx(-0.65, abs=0.03)
    assert trend["seen"]
    assert track["points"][0]["role"] == "as found"


def test_a_name_with_brackets_stays_as_it_was_typed(tmp_path: Path) -> None:
    record = visits(tmp_path / "lift") / "2025-06-02" / "visit.toml"
    text = record.read_text("utf-8")
    record.write_text(text.replace("Granary Wharf", "Granary [[lift]]"), "utf-8")
    assert run("history", record).out.startswith("Granary [[lift]], goods lift 2:")


def test_a_re_roping_begins_a_new_life(tmp_path: Path) -> None:
    folder = visits(tmp_path / "lift")
    one = run("history", folder, "--json").document
    assert len(one["tracks"]) == 1
    two = run("history", folder, "--re-roped", "2025-10-20", "--json").document
    assert [t["life"] for t in two["tracks"]] == [0, 1]
    assert two["lives"][1]["begun"] == "2025-10-20"
    assert "returned" in two["tracks"][0]
    text = run("history", folder, "--re-roped", "2025-10-20").out
    assert "ropes of 2025-10" in text
    wrong = run("history", folder, "--re-roped", "20 October")
    assert wrong.code == 2


def test_causes_keeps_to_the_last_life(tmp_path: Path) -> None:
    folder = visits(tmp_path / "lift")
    ran = run("causes", folder, "--re-roped", "2025-10-20", "--json")
    assert len(ran.document["series"]) == 4
    assert "earlier-life" in {note["code"] for note in ran.document["notes"]}


def test_history_draws_a_figure(tmp_path: Path) -> None:
    figure = tmp_path / "history.png"
    assert run("history", visits(tmp_path / "lift"), "--plot", figure).code == 0
    assert figure.read_bytes()[:4] == b"\x89PNG"


def test_history_goes_by_the_rule_asked_for(tmp_path: Path) -> None:
    folder = visits(tmp_path / "lift")
    ran = run("history", folder, "--limit", "30 %", "--metric", "off-mean")
    assert "Rule: off-mean, limit 30 %." in ran.out
    assert "Returned" not in ran.out
