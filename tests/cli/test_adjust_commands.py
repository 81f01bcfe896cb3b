from pathlib import Path

import numpy as np
import pytest

from tests.cli.running import run, without_command
from tests.oracles.all_steps import tensions_after
from tests.synthesis.adjust_records import HEAD, series, turns, write

FOUND = [5350.0, 4800.0, 5200.0, 4650.0]
EQUAL = [5010.0, 4990.0, 5000.0, 5000.0]
TURNS = ["-3 1/4", "1 1/2", "-1 1/2", "3 1/4"]
K_RUN = 1 / (2 / 150e3 + 38 / 4.6e6)


def left(share_of_stiffness: float = 1.0) -> list[float]:
    travels = 0.002 * np.array([-3.25, 1.5, -1.5, 3.25])
    k = np.full(4, share_of_stiffness * K_RUN)
    return [float(t) for t in tensions_after(np.array(FOUND), k, travels)]


def test_adjust_prints_a_plan_and_where_its_numbers_come_from(tmp_path: Path) -> None:
    folder = write(tmp_path / "visit", series("as found", FOUND))
    ran = run("adjust", folder)
    assert ran.code == 0
    assert "PLAN at the car anchorage" in ran.out
    assert "Promised: spread under" in ran.out
    assert "[ ] 1. Rope 4: nut towards the plate" in ran.out
    assert "Stage 1 of 1" in ran.out
    assert "stop switch to STOP" in ran.out
    assert "spring rate 150 N/mm: typed" in ran.out
    assert "fewest-nuts" in ran.out
    assert ran.err == ""
    assert all(len(line) <= 80 for line in without_command(ran.out))


def test_adjust_fits_forty_columns(tmp_path: Path) -> None:
    folder = write(tmp_path / "visit", series("as found", FOUND))
    ran = run("adjust", folder, env={"COLUMNS": "40"})
    assert all(len(line) <= 40 for line in without_command(ran.out))


def test_adjust_speaks_north_american_in_inches(tmp_path: Path) -> None:
    folder = write(tmp_path / "visit", series("as found", FOUND))
    ran = run("adjust", folder, "--units", "us", "--terms", "north-america")
    assert "cotter pin" in ran.out
    assert " in less thread past the nut" in " ".join(ran.out.split())
    assert "lbf" in ran.out


def test_adjust_gives_the_plan_as_json(tmp_path: Path) -> None:
    folder = write(tmp_path / "visit", series("as found", FOUND))
    document = run("adjust", folder, "--strategy", "keep-height", "--json").document
    assert document["schema_version"] == 1
    assert document["command"] == "adjust"
    assert document["outcome"] == "plan"
    assert document["run"] == {
        "state": "at-rest",
        "round_trips_run": None,
        "round_trips_wanted": 0,
        "turned_since": [],
    }
    assert document["plan"]["round_trips"] == 4
    plan = document["plan"]
    assert sum(nut["turns"] for nut in plan["nuts"]) == 0
    by_hand = [(np.mean(FOUND) - t) / (K_RUN * 0.002) for t in FOUND]
    wanted = [nut["turns_before_steps"] for nut in plan["nuts"]]
    # what the pull itself adds to the tension is taken off by the measurement
    assert wanted == pytest.approx(by_hand, abs=0.15)
    assert {row["strategy"] for row in document["strategies"]} == {
        "keep-height",
        "take-up-only",
        "ease-only",
        "fewest-nuts",
    }
    known = {row["name"]: row["known_from"] for row in plan["rests_on"]}
    assert known["spring rate"] == "typed"
    assert known["mean tension"] == "measured"
    assert document["inputs"][0]["sha256"]
    assert document["inputs"][0]["path"].endswith("visit.toml")


def test_adjust_leaves_an_equal_set_alone(tmp_path: Path) -> None:
    folder = write(tmp_path / "visit", series("as found", EQUAL))
    ran = run("adjust", folder)
    assert ran.code == 0
    assert "LEAVE IT" in ran.out
    assert "pin out" not in ran.out


def test_adjust_tells_order_and_direction_without_spring_data(tmp_path: Path) -> None:
    head = HEAD.replace('spring_rate = "150 N/mm"\n', "")
    folder = write(
        tmp_path / "visit", series("as found", FOUND, has_springs=False), head=head
    )
    ran = run("adjust", folder)
    assert ran.code == 0
    assert "ORDER AND DIRECTION ONLY" in ran.out
    assert "does not tell the rate of the springs" in ran.out


def test_adjust_leaves_with_12_where_nothing_can_be_planned(tmp_path: Path) -> None:
    short = HEAD.replace('"96 mm"', '"128 mm"')
    solid = write(
        tmp_path / "solid", series("as found", FOUND, has_springs=False), head=short
    )
    ran = run("adjust", solid)
    assert ran.code == 12
    assert "NO FEASIBLE PLAN" in ran.out
    assert "goes solid at 4800 N" in ran.out
    slack = write(
        tmp_path / "slack",
        series("as found", [6000.0, 5900.0, 5600.0, 2500.0], has_springs=False),
    )
    ran = run("adjust", slack)
    assert ran.code == 12
    assert "LOOK FIRST" in ran.out
    assert "wedge seated" in ran.out


def test_adjust_draws_the_nuts(tmp_path: Path) -> None:
    folder = write(tmp_path / "visit", series("as found", FOUND))
    figure = tmp_path / "plan.svg"
    assert run("adjust", folder, "--plot", figure).code == 0
    assert figure.read_text(encoding="utf-8").startswith("<?xml")
    again = run("adjust", folder, "--plot", figure)
    assert again.code == 3
    assert "--overwrite" in again.err


def test_compare_holds_both_series_and_learns(tmp_path: Path) -> None:
    folder = write(
        tmp_path / "visit",
        series("as found", FOUND),
        series("as left", left(0.9)),
        turns(TURNS),
    )
    ran = run("compare", folder)
    assert ran.code == 0
    assert "the car ran 8 round trips" in ran.out
    assert "Learned: stiffness once the car has run" in ran.out
    document = run("compare", folder, "--json").document
    assert document["as_found"]["series"] == "as found"
    assert document["round_trips"] == 8
    learned = document["learned"]["set_stiffness_n_per_m"]
    assert 0.88 * K_RUN < learned < K_RUN
    for rope in document["ropes"]:
        assert rope["achieved_points"] == pytest.approx(
            0.9 * rope["predicted_points"], abs=0.3
        )
    figure = tmp_path / "both.png"
    assert run("compare", folder, "--plot", figure).code == 0
    assert figure.stat().st_size > 5000


def test_compare_refuses_another_span(tmp_path: Path) -> None:
    folder = write(
        tmp_path / "visit",
        series("as found", FOUND),
        series(
            "middle",
            EQUAL,
            span="middle, car side",
            free_length=14.0,
            has_springs=False,
        ),
    )
    ran = run("compare", folder, "--before", "as found", "--after", "middle")
    assert ran.code == 3
    assert "different spans" in ran.err
    assert ran.out == ""


def test_compare_refuses_series_in_the_wrong_order(tmp_path: Path) -> None:
    folder = write(
        tmp_path / "visit", series("as found", FOUND), series("as left", EQUAL)
    )
    ran = run("compare", folder, "--before", "as left", "--after", "as found")
    assert ran.code == 3
    assert "does not come before" in ran.err


def test_the_next_plan_uses_what_was_learned(tmp_path: Path) -> None:
    still = [5700.0, 4600.0, 5400.0, 4300.0]
    travels = 0.002 * np.array([-3.25, 1.5, -1.5, 3.25])
    after = tensions_after(np.array(still), np.full(4, 0.7 * K_RUN), travels)
    folder = write(
        tmp_path / "visit",
        series("as found", still),
        series("second", [float(t) for t in after]),
        turns(TURNS),
    )
    document = run("adjust", folder, "--json").document
    assert 0.7 * K_RUN < document["learned"]["set_stiffness_n_per_m"] < 0.985 * K_RUN
    assert document["plan"]["rests_on"][2]["known_from"] == "learned"
    first = run("adjust", folder, "--series", "as found", "--json").document
    assert first["learned"] is None


def test_springs_tells_load_by_length_beside_load_by_pull(tmp_path: Path) -> None:
    folder = write(tmp_path / "visit", series("as found", FOUND))
    ran = run("springs", folder, "--rated-load", "1000 kg")
    assert ran.code == 0
    assert "Level springs do not mean level tension" in ran.out
    assert "By length" in ran.out
    document = run("springs", folder, "--json").document
    loads = [spring["load_by_length_n"] for spring in document["springs"]]
    assert loads == pytest.approx(FOUND, abs=8.0)
    figure = tmp_path / "springs.pdf"
    assert run("springs", folder, "--plot", figure).code == 0
    assert figure.read_bytes().startswith(b"%PDF")


def test_springs_without_a_way_left_say_what_to_give_for_it(tmp_path: Path) -> None:
    folder = write(tmp_path / "visit", series("as found", FOUND))
    said = " ".join(run("springs", folder).out.split())
    assert '125 % of that: --rated-load "1000 kg".' in said
    record = folder / "visit.toml"
    text = record.read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("car_mass")]
    load = ("--rated-load", "1000 kg")
    assert "not told" not in run("springs", folder, *load).out
    record.write_text("\n".join(lines) + "\n", encoding="utf-8")
    said = " ".join(run("springs", folder, *load).out.split())
    assert 'tension add lift --car-mass "1840 kg".' in said
    assert "--rated-load" not in said


def test_springs_at_the_counterweight_are_checked_by_what_hangs_there(
    tmp_path: Path,
) -> None:
    folder = write(tmp_path / "visit", series("as found", FOUND))
    record = folder / "visit.toml"
    text = record.read_text(encoding="utf-8")
    before, after = text.split("[[reading]]", 1)
    assert after.count('hitch = "car"') == 4
    far = after.replace('hitch = "car"', 'hitch = "counterweight"')
    text = f"{before}[[reading]]{far}"
    record.write_text(text, encoding="utf-8")
    load = ("--rated-load", "1000 kg")
    said = " ".join(run("springs", folder, *load).out.split())
    assert "SPRINGS at the counterweight anchorage" in said
    assert 'tension add lift --counterweight-mass "1840 kg".' in said
    masses = 'counterweight_mass = "2000 kg"\ncar_mass'
    record.write_text(text.replace("car_mass", masses, 1), encoding="utf-8")
    found = run("springs", folder, *load, "--json").document
    assert found["rated_tension_n"] == pytest.approx(2000 * 9.80665 / 4, rel=1e-6)
    assert run("springs", folder, "--hitch", "car").code == 3


def test_springs_alone_are_told_by_length_only(tmp_path: Path) -> None:
    whole = series("as found", FOUND)
    alone = "[[reading]]".join(
        part for part in whole.split("[[reading]]") if 'kind = "pull"' not in part
    )
    document = run("springs", write(tmp_path / "visit", alone), "--json").document
    assert [s["load_by_reading_n"] for s in document["springs"]] == [None] * 4
    assert document["springs"][0]["load_by_length_n"] == pytest.approx(5350.0, abs=8.0)


def test_a_spring_that_lies_does_not_pull_the_readings_with_it(tmp_path: Path) -> None:
    bound = series("as found", FOUND).replace('"124.3 mm"', '"136.0 mm"')
    document = run("springs", write(tmp_path / "visit", bound), "--json").document
    first = document["springs"][0]
    assert first["load_by_length_n"] == pytest.approx(3600.0, abs=8.0)
    honest = run(
        "springs", write(tmp_path / "honest", series("as found", FOUND)), "--json"
    ).document["springs"][0]
    assert first["load_by_reading_n"] == honest["load_by_reading_n"]


def test_springs_that_contradict_leave_with_a_code_of_their_own(
    tmp_path: Path,
) -> None:
    bound = series("as found", FOUND).replace('"124.3 mm"', '"140.0 mm"')
    folder = write(tmp_path / "visit", bound)
    ran = run("springs", folder)
    assert ran.code == 14
    assert "STANDS OUT" in ran.out
    document = run("springs", folder, "--json").document
    assert document["is_contradicted"]
    told = {note["code"] for note in document["notes"]}
    assert "spring-stands-out" in told


def test_a_table_of_springs_fits_fifty_columns(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "50")
    ran = run("springs", write(tmp_path / "visit", series("as found", FOUND)))
    assert max(len(line) for line in without_command(ran.out)) <= 50


def test_springs_without_lengths_says_what_to_add(tmp_path: Path) -> None:
    folder = write(tmp_path / "visit", series("as found", FOUND, has_springs=False))
    ran = run("springs", folder)
    assert ran.code == 3
    assert "tension add springs" in " ".join(ran.err.split())


# --- turns that have not run, and a plan a person follows ---


def now(start: list[float] = FOUND) -> list[float]:
    """What stands on the car side before the car has run."""
    travels = 0.002 * np.array([-3.25, 1.5, -1.5, 3.25])
    k = np.full(4, 1 / (1 / 150e3 + 4 / 4.6e6))
    return [float(t) for t in tensions_after(np.array(start), k, travels)]


@pytest.mark.parametrize(
    ("trips", "words"),
    [
        (None, "does not say whether the car has run"),
        (0, "The car has not run since the nuts were turned"),
        (1, "The car has run 1 round trip(s)"),
    ],
)
def test_adjust_runs_first_and_assess_says_so(
    tmp_path: Path, trips: int | None, words: str
) -> None:
    folder = write(
        tmp_path / "visit",
        series("as found", FOUND),
        turns(TURNS, round_trips=trips),
        series("as left", now(), has_springs=False),
    )
    ran = run("adjust", folder)
    assert ran.code == 12
    assert "RUN FIRST" in ran.out
    assert words in " ".join(ran.out.split())
    assert "Rope 1: nut" not in ran.out
    document = run("adjust", folder, "--json").document
    assert document["outcome"] == "run-first"
    assert document["run"]["round_trips_wanted"] >= 3
    told = run("assess", folder, "--json").document
    assert {"not-run", "few-round-trips", "run-not-recorded"} & {
        note["code"] for note in told["notes"]
    }


def test_the_way_out_of_run_first_is_a_series_with_its_round_trips(
    tmp_path: Path,
) -> None:
    wide = [5950.0, 4450.0, 5400.0, 4200.0]
    travels = 0.002 * np.array([-3.25, 1.5, -1.5, 3.25])
    ran_in = tensions_after(np.array(wide), np.full(4, K_RUN), travels)
    again = series("run in", [float(t) for t in ran_in], has_springs=False)
    told = again.replace('load = "empty"', 'load = "empty"\nround_trips_before = 8', 1)
    parts = (
        series("as found", wide, has_springs=False),
        turns(TURNS, round_trips=0),
        series("as left", now(wide), has_springs=False),
    )
    assert run("adjust", write(tmp_path / "a", *parts, again)).code == 12
    document = run("adjust", write(tmp_path / "b", *parts, told), "--json").document
    assert document["outcome"] == "plan"
    assert document["learned"] is not None


def test_adjust_takes_account_of_turns_written_since_the_reading(
    tmp_path: Path,
) -> None:
    plain = run("adjust", write(tmp_path / "a", series("as found", FOUND)))
    turned = run(
        "adjust", write(tmp_path / "b", series("as found", FOUND), turns(TURNS))
    )
    assert plain.code == 0
    assert turned.code == 12
    assert "Nuts were turned after this reading" in " ".join(turned.out.split())


def test_compare_names_reversed_signs_and_another_load(tmp_path: Path) -> None:
    reverse = ["3 1/4", "-1 1/2", "1 1/2", "-3 1/4"]
    found = series("as found", FOUND, has_springs=False)
    ran = run(
        "compare",
        write(
            tmp_path / "a",
            found,
            turns(reverse),
            series("as left", left(), has_springs=False),
        ),
    )
    assert "the signs look reversed" in " ".join(ran.out.split())
    loaded = [2.0 * t for t in left()]
    ran = run(
        "compare",
        write(
            tmp_path / "b",
            found,
            turns(TURNS),
            series("as left", loaded, has_springs=False),
        ),
    )
    assert ran.code == 3
    assert "another load" in " ".join(ran.err.split())


@pytest.mark.parametrize("text", ['"OUT 3 1/4"', "-3.25", '"out 3.25 turns"'])
def test_the_record_reads_turns_as_the_plan_prints_them(
    tmp_path: Path, text: str
) -> None:
    written = turns(["X", *TURNS[1:]]).replace('"X"', text)
    folder = write(
        tmp_path / "visit",
        series("as found", FOUND),
        written,
        series("as left", left()),
    )
    document = run("compare", folder, "--json").document
    assert document["ropes"][0]["turns"] == -3.25


@pytest.mark.parametrize("text", ['"IN -1/4"', '"OUT"', "true", '"IN IN 2"'])
def test_turns_that_say_the_way_twice_or_not_how_far_are_refused(
    tmp_path: Path, text: str
) -> None:
    written = turns(["X", *TURNS[1:]]).replace('"X"', text)
    folder = write(tmp_path / "visit", series("as found", FOUND), written)
    ran = run("adjust", folder)
    assert ran.code == 3
    assert ran.err.count("\n") == 1
    assert "turn 1, turns" in ran.err


def test_a_plan_fits_fifty_columns_and_starts_with_what_it_promises(
    tmp_path: Path,
) -> None:
    folder = write(tmp_path / "visit", series("as found", FOUND))
    ran = run("adjust", folder, env={"COLUMNS": "50"})
    lines = without_command(ran.out)
    assert all(len(line) <= 50 for line in lines)
    heading = next(i for i, line in enumerate(lines) if line.startswith("PLAN"))
    promise = next(i for i, line in enumerate(lines) if line.startswith("Promised"))
    caution = next(i for i, line in enumerate(lines) if line.startswith("! "))
    assert heading < promise < caution
    assert ran.out.count("hold") == 1  # what is done at each nut is said once
    boxes = [line for line in lines if line.startswith("[ ] ")]
    assert boxes[0].startswith("[ ] 1. Rope 4")


def test_a_plan_is_laid_out_on_paper_with_a_page_a_stage(tmp_path: Path) -> None:
    soft = HEAD.replace("150 N/mm", "60 N/mm").replace('"160 mm"', '"300 mm"')
    wide = series("as found", [6000.0, 4600.0, 5300.0, 4300.0], has_springs=False)
    folder = write(tmp_path / "visit", wide, head=soft)
    page = tmp_path / "plan.pdf"
    ran = run("adjust", folder, "--pdf", page, "--json")
    assert ran.code == 0
    stages = len(ran.document["plan"]["stages"])
    assert stages > 1
    content = page.read_bytes()
    assert content.startswith(b"%PDF")
    assert b"/Count %d/" % (stages + 1) in content  # and what it rests on
    again = run("adjust", folder, "--pdf", page)
    assert again.code == 3
    assert "--overwrite" in again.err
    assert page.read_bytes() == content
    run("adjust", folder, "--pdf", page, "--overwrite")
    assert page.read_bytes() == content
    wrong = run("adjust", folder, "--pdf", tmp_path / "plan.txt")
    assert wrong.code == 3
    assert "ends in .pdf" in wrong.err


def test_a_slack_rope_that_was_looked_at_is_planned(tmp_path: Path) -> None:
    slack = series("as found", [6000.0, 5900.0, 5600.0, 2500.0], has_springs=False)
    looked = '[[answer]]\nnote = "517"\nropes = [4]\nanswer = "wedge seated"\n'
    head = HEAD.replace('"10 %"', '"15 %"')  # a slack rope is read less surely
    ran = run("adjust", write(tmp_path / "visit", slack, looked, head=head))
    assert ran.code == 0
    assert "Looked at: wedge seated" in " ".join(ran.out.split())


def test_sockets_that_were_looked_at_are_judged_and_planned(tmp_path: Path) -> None:
    rows = series("as found", [5650.0, 4930.0, 5660.0, 4920.0], has_springs=False)
    head = HEAD.replace('"10 %"', '"8 %"')
    asked = write(tmp_path / "asked", rows, head=head)
    assert run("assess", asked, "--json").document["verdict"] == "cannot-tell"
    ran = run("adjust", asked)
    assert (ran.code, "LOOK FIRST" in ran.out) == (12, True)
    seen = '[[answer]]\nnote = "323"\nanswer = "one height, by level"\nby = "R. E."\n'
    looked = write(tmp_path / "looked", rows, seen, head=head)
    told = run("assess", looked, "--json").document
    assert told["verdict"] == "unequal"
    assert {"stagger-pattern", "looked"} <= {note["code"] for note in told["notes"]}
    plan = run("adjust", looked)
    assert plan.code == 0
    assert "Looked at: one height, by level (R. E.)" in " ".join(plan.out.split())
    other = seen.replace("323", "324")
    unasked = write(tmp_path / "other", rows, other, head=head)
    assert "LOOK FIRST" in run("adjust", unasked).out


def test_a_nut_that_wants_far_asks_for_the_thread_left(tmp_path: Path) -> None:
    soft = HEAD.replace("150 N/mm", "20 N/mm").replace('"160 mm"', '"600 mm"')
    wide = series("as found", [6800.0, 4500.0, 4500.0, 4200.0], has_springs=False)
    ran = run("adjust", write(tmp_path / "a", wide, head=soft, has_threads=False))
    assert ran.code == 12
    assert "take_up_left" in ran.out
    assert "PLAN" not in ran.out
