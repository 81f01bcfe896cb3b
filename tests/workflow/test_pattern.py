"""Records to the pattern that is held against causes."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tension.diagnosis.outcome import Condition, Diagnosis
from tension.installation import Side
from tension.notes import Refusal
from tension.workflow.causes import diagnose_records, remember_records
from tests.noted import codes
from tests.synthesis.cause_records import Read, write

LEVEL = [5000.0, 5000.0, 5000.0]
OFF = [5300.0, 4900.0, 4800.0]


def conditions(folder: Path) -> tuple[Condition, ...]:
    outcome = diagnose_records([folder]).outcome
    assert isinstance(outcome, Diagnosis)
    return outcome.pattern.conditions


def changed(folder: Path, change: Callable[[str], str]) -> Path:
    record = folder / "visit.toml"
    record.write_text(change(record.read_text("utf-8")), "utf-8")
    return folder


def three_places(folder: Path) -> Path:
    return write(
        folder,
        "2026-11-20",
        [
            Read("top", OFF),
            Read("bottom", OFF, "bottom", arrived="down"),
            Read("cwt", OFF, "middle", "counterweight"),
        ],
    )


def test_places_come_from_the_free_lengths(tmp_path: Path) -> None:
    found = conditions(three_places(tmp_path / "v"))
    assert [c.rope_passed for c in found] == pytest.approx([0.0, 30.0, 15.0])
    assert [c.side for c in found] == [Side.CAR, Side.CAR, Side.COUNTERWEIGHT]
    assert [c.arrived for c in found] == ["up", "down", "up"]
    assert not any(c.is_by_pitch for c in found)


def test_the_other_side_stands_where_the_car_side_was_measured(tmp_path: Path) -> None:
    # without the length of the ropes its own fall would tell another place
    reads = [
        Read("mid", OFF, "middle"),
        Read("bottom", OFF, "bottom", arrived="down"),
        Read("cwt", OFF, "middle", "counterweight"),
    ]
    folder = changed(
        write(tmp_path / "v", "2026-11-20", reads),
        lambda text: text.replace('rope_length = "38.0 m"\n', ""),
    )
    places = [c.rope_passed for c in conditions(folder)]
    assert places == pytest.approx([0.0, 15.0, 0.0])


def test_the_system_is_that_of_the_record(tmp_path: Path) -> None:
    outcome = diagnose_records([three_places(tmp_path / "v")]).outcome
    assert isinstance(outcome, Diagnosis)
    system = outcome.pattern.system
    assert system.axial_rigidity == pytest.approx(4.6e6)
    assert system.car_spring_compliance == pytest.approx(1 / 150e3)
    assert (system.car_fall, system.counterweight_fall) == pytest.approx((4.0, 34.0))
    assert system.travel == pytest.approx(30.0)
    assert outcome.pattern.rows == (0, 1, 0)


def test_springs_at_the_counterweight_tell_of_that_side_where_the_car_stands(
    tmp_path: Path,
) -> None:
    def at_far_hitch(text: str) -> str:
        read = "".join(
            f'[[reading]]\nseries = "top"\nkind = "spring"\nrope = {n}\n'
            f'hitch = "counterweight"\nlength = "{120 + n} mm"\n'
            for n in (1, 2, 3)
        )
        own = 'series = "top"\nkind = "pull"'
        pulls = [part for part in text.split("[[reading]]") if own not in part]
        told = "[[reading]]".join(pulls).replace(
            'buffer = "spring"', 'buffer = "spring"\nspring_free_length = "160 mm"'
        )
        return told + read

    folder = changed(
        write(
            tmp_path / "v", "2026-11-20", [Read("mid", OFF, "middle"), Read("top", OFF)]
        ),
        at_far_hitch,
    )
    found = conditions(folder)
    assert [c.side for c in found] == [Side.CAR, Side.COUNTERWEIGHT]
    assert [c.rope_passed for c in found] == pytest.approx([15.0, 0.0])
    assert "counterweight side" in found[1].name
    tracks = remember_records([folder]).history.tracks
    assert [(t.side, t.position) for t in tracks] == [
        (Side.CAR, "middle"),
        (Side.COUNTERWEIGHT, "top"),
    ]


def test_at_the_ends_the_way_of_arrival_is_known(tmp_path: Path) -> None:
    folder = changed(
        three_places(tmp_path / "v"),
        lambda text: text.replace('arrived = "up"\n', "").replace(
            'arrived = "down"\n', ""
        ),
    )
    assert [c.arrived for c in conditions(folder)] == ["up", "down", ""]


def test_turns_part_epochs_and_tell_round_trips(tmp_path: Path) -> None:
    turns = ["1/4", "-1/4", "0"]
    folder = write(
        tmp_path / "v",
        "2026-11-20",
        [
            Read("as found", OFF, turns=turns, round_trips=0),
            Read("at once", LEVEL),
            Read("after runs", LEVEL),
        ],
    )
    folder = changed(
        folder,
        lambda text: text.replace(
            'name = "after runs"\n', 'name = "after runs"\nround_trips_before = 3\n'
        ),
    )
    found = conditions(folder)
    assert [c.epoch for c in found] == [0, 1, 1]
    assert [c.round_trips for c in found] == [None, 0, 3]
    assert [c.turned_at for c in found] == [None, 0.0, 0.0]


def test_turns_without_round_trips_count_as_run_in_and_it_is_said(
    tmp_path: Path,
) -> None:
    folder = write(
        tmp_path / "v",
        "2026-11-20",
        [
            Read("as found", OFF, turns=["1/4", "0", "0"], round_trips=None),
            Read("as left", LEVEL),
        ],
    )
    assert [c.round_trips for c in conditions(folder)] == [None, None]
    assert "round-trips-not-recorded" in codes(diagnose_records([folder]))


def test_epochs_go_on_from_visit_to_visit(tmp_path: Path) -> None:
    turns = ["1/4", "0", "0"]
    write(tmp_path / "a", "2026-01-05", [Read("as found", OFF, turns=turns)])
    write(tmp_path / "b", "2026-03-02", [Read("check", LEVEL)])
    found = conditions(tmp_path)
    assert [c.epoch for c in found] == [0, 1]
    assert [c.weeks for c in found] == pytest.approx([0.0, 8.0])
    # at another visit the set has run in
    assert found[1].round_trips is None


def test_a_load_shows_only_where_most_ropes_read_more(tmp_path: Path) -> None:
    folder = write(
        tmp_path / "v",
        "2026-11-20",
        [
            Read("empty", LEVEL),
            Read("again", [5100.0, 5100.0, 5400.0]),
            Read("loaded", [6500.0, 6500.0, 6500.0], load="half"),
        ],
    )
    loads = [c.load_tension for c in conditions(folder)]
    assert loads[0] == loads[1]
    assert loads[2] == pytest.approx(1.3 * loads[0], rel=0.01)


def test_a_rope_missing_somewhere_is_left_out_and_told(tmp_path: Path) -> None:
    folder = three_places(tmp_path / "v")
    exclusion = '[[exclusion]]\nseries = "top"\nrope = 2\nreason = "door slammed"\n'
    folder = changed(folder, lambda text: text + exclusion)
    diagnosed = diagnose_records([folder])
    assert isinstance(diagnosed.outcome, Diagnosis)
    assert diagnosed.outcome.pattern.numbers == (1, 3)
    assert "ropes-not-in-all" in codes(diagnosed)


def test_no_two_ropes_in_common_is_a_refusal(tmp_path: Path) -> None:
    out = "".join(
        f'[[exclusion]]\nseries = "{series}"\nrope = {rope}\nreason = "x"\n'
        for series, rope in (("top", 1), ("bottom", 2))
    )
    folder = changed(three_places(tmp_path / "v"), lambda text: text + out)
    outcome = diagnose_records([folder]).outcome
    assert isinstance(outcome, Refusal)
    assert outcome.code == "no-pattern"


@pytest.mark.parametrize(
    ("was", "now", "series", "fall", "both"),
    [
        ('roping = "1:1"', 'roping = "2:1"', "bottom", "34.00 m", "19.00 m"),
        ('rope_length = "38.0 m"', 'rope_length = "34.0 m"', "bottom", "34", "34.00"),
        ('free_length = "19.0 m"', 'free_length = "38.0 m"', "cwt", "38.00", "38.00"),
    ],
)
def test_a_fall_that_leaves_no_rope_for_the_other_side_is_refused_with_its_series(
    tmp_path: Path, was: str, now: str, series: str, fall: str, both: str
) -> None:
    folder = changed(three_places(tmp_path / "v"), lambda text: text.replace(was, now))
    outcome = diagnose_records([folder]).outcome
    assert isinstance(outcome, Refusal)
    assert outcome.code == "fall-beyond-rope"
    places = dict(outcome.places)
    assert (places["series"], places["day"]) == (series, "2026-11-20")
    assert fall in outcome.text
    assert both in outcome.text
    assert "Mend free_length" in outcome.next_act


def test_a_fall_just_shorter_than_the_rope_is_taken(tmp_path: Path) -> None:
    folder = changed(
        three_places(tmp_path / "v"), lambda text: text.replace('"38.0 m"', '"34.2 m"')
    )
    assert len(conditions(folder)) == 3


def test_the_oldest_series_give_way_to_the_last_twenty(tmp_path: Path) -> None:
    for month in range(1, 12):
        reads = [Read("top", LEVEL), Read("mid", LEVEL, "middle")]
        write(tmp_path / f"{month:02}", f"2025-{month:02}-03", reads)
    diagnosed = diagnose_records([tmp_path])
    assert isinstance(diagnosed.outcome, Diagnosis)
    assert len(diagnosed.outcome.pattern.conditions) == 20
    assert "oldest-series-left-out" in codes(diagnosed)


def test_a_travel_that_cannot_be_known_is_assumed_and_told(tmp_path: Path) -> None:
    folder = changed(
        write(tmp_path / "v", "2026-11-20", [Read("top", OFF), Read("again", OFF)]),
        lambda text: text.replace('rope_length = "38.0 m"\n', ""),
    )
    diagnosed = diagnose_records([folder])
    assert "travel-assumed" in codes(diagnosed)
    assert isinstance(diagnosed.outcome, Diagnosis)
    assert diagnosed.outcome.pattern.system.travel == pytest.approx(20.0)


def test_of_a_drum_no_sheave_is_told(tmp_path: Path) -> None:
    folder = changed(
        three_places(tmp_path / "v"),
        lambda text: text.replace('roping = "1:1"', 'roping = "1:1"\ndrive = "drum"'),
    )
    outcome = diagnose_records([folder]).outcome
    assert isinstance(outcome, Diagnosis)
    assert not outcome.pattern.has_sheave


def test_every_file_is_named_once_with_its_checksum(tmp_path: Path) -> None:
    three_places(tmp_path / "v")
    diagnosed = diagnose_records([tmp_path, tmp_path / "v"])
    assert [Path(f.path).name for f in diagnosed.inputs] == ["visit.toml"]


def test_a_record_without_a_day_counts_alone_and_not_among_others(
    tmp_path: Path,
) -> None:
    reads = [Read("top", OFF), Read("mid", OFF, "middle")]
    write(tmp_path / "a", None, reads)
    alone = diagnose_records([tmp_path])
    assert isinstance(alone.outcome, Diagnosis)
    write(tmp_path / "b", "2026-03-02", reads)
    among = diagnose_records([tmp_path])
    assert isinstance(among.outcome, Diagnosis)
    assert len(among.outcome.pattern.conditions) == 2
    assert "record-without-date" in codes(among)
