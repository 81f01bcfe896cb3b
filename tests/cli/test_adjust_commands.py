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
    assert "Rope 4: nut towards the plate" in ran.out
    assert "In this order: 4, 1, 2, 3." in ran.out
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
    assert " in more thread past the nut" in ran.out
    assert "lbf" in ran.out


def test_adjust_gives_the_plan_as_json(tmp_path: Path) -> None:
    folder = write(tmp_path / "visit", series("as found", FOUND))
    document = run("adjust", folder, "--json").document
    assert document["schema_version"] == 1
    assert document["command"] == "adjust"
    assert document["outcome"] == "plan"
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
    assert "the car ran 3 round trips" in ran.out
    assert "Learned: stiffness once the car has run" in ran.out
    document = run("compare", folder, "--json").document
    assert document["as_found"]["series"] == "as found"
    assert document["round_trips"] == 3
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
    assert 0.7 * K_RUN < document["learned"]["set_stiffness_n_per_m"] < 0.97 * K_RUN
    assert document["plan"]["rests_on"][2]["known_from"] == "learned"
    first = run("adjust", folder, "--series", "as found", "--json").document
    assert first["learned"] is None


def test_springs_tells_load_by_length_beside_load_by_pull(tmp_path: Path) -> None:
    folder = write(tmp_path / "visit", series("as found", FOUND))
    ran = run("springs", folder, "--rated-load", "1000 kg")
    assert ran.code == 0
    assert "Level springs do not mean level tension" in ran.out
    assert "by length" in ran.out
    document = run("springs", folder, "--json").document
    loads = [spring["load_by_length_n"] for spring in document["springs"]]
    assert loads == pytest.approx(FOUND, abs=8.0)
    figure = tmp_path / "springs.pdf"
    assert run("springs", folder, "--plot", figure).code == 0
    assert figure.read_bytes().startswith(b"%PDF")


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


def test_springs_without_lengths_says_what_to_add(tmp_path: Path) -> None:
    folder = write(tmp_path / "visit", series("as found", FOUND, has_springs=False))
    ran = run("springs", folder)
    assert ran.code == 3
    assert 'kind = "spring"' in ran.err
