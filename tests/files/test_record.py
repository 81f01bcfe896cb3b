"""The record: what is read, and what each mistake gets."""

import contextlib
import os
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tension.catalogue import Standing
from tension.catalogue.rules import Metric
from tension.condition.findings import FindingKind
from tension.errors import FileFormatError
from tension.files.record import read_visit, visit_from_text
from tension.files.toml_reading import LARGEST_RECORD, MOST_MISTAKES
from tension.files.visit import Visit
from tension.installation import (
    Buffer,
    Drive,
    Ends,
    HitchEnd,
    HitchPlace,
    LengthFrom,
    Roping,
    Side,
    Uncertainties,
)
from tension.measurement.readings import (
    Hold,
    PluckReading,
    PullReading,
    ReturnsReading,
    SpringReading,
)

# Invented data: Granary Wharf is an imaginary warehouse made into flats.
WHOLE = """\
format = 1

[lift]
name = "Granary Wharf, goods lift 2"
drive = "traction"
roping = "1:1"
car_mass = "1840 kg"
counterweight_mass = "2300 kg"

[visit]
date = 2026-11-20
measured_by = "R. Example"
witness = "W. Example"

[rule]
use = "gb50310-2002-4.9.5"
limit = "4 %"
goal = "3 %"

[set]
ropes = 6
diameter = "13 mm"
construction = "8x19 FC"
linear_density = "0.575 kg/m"
rope_length = "38 m"
axial_rigidity = "4.6 MN"

[uncertainty]
free_length = "5 mm"
scale = "1 %"

[[span]]
name = "top, car side"
side = "car"
position = "top landing"
free_length = "3.40 m"
length_from = "clip"
ends = "socket-sheave"
hitch_end = "lower"

[[hitch]]
at = "car"
rows = [[1, 3, 5], [2, 4, 6]]
thread = "M16 left"
buffer = "spring"
spring_rate = "150 N/mm"
spring_active_coils = 8.5
spring_free_length = "160 mm"
spring_solid_length = "96 mm"
rod_free = "0.15 m"

[[rope]]
number = 2
stagger = "+150 mm"
take_up_left = "22 mm"
groove = 3

[[rope]]
number = 4
free_lengths = { "top, car side" = "3.55 m" }
ease_left = "30 mm"

[[series]]
name = "as found"
span = "top, car side"
arrived = "up"
taken = "2026-11-20 10:12 +00:00"
load = "empty"
neighbours = "damped"

[[reading]]
series = "as found"
kind = "pluck"
rope = 1
recording = "as-found/rope-1.m4a"

[[reading]]
series = "as found"
kind = "pluck"
recording = "as-found/all.m4a"
ropes = [1, 2, 3, 4, 5, 6, 6, 5, 4, 3, 2, 1]
plucks_each = 3

[[reading]]
series = "as found"
kind = "pull"
rope = 2
force = ["166.7 N", "165 N"]
deflection = "25 mm"
hold = "force"
at = "1.5 m"
scale_zero = "-0.5 N"

[[reading]]
series = "as found"
kind = "returns"
rope = 3
count = 5
elapsed = ["0.354 s", "0.351 s"]

[[reading]]
series = "as found"
kind = "spring"
rope = 1
hitch = "car"
length = "112 mm"

[[turn]]
after = "as found"
hitch = "car"
rope = 1
turns = "-1 1/4"
round_trips_after = 3

[[exclusion]]
series = "as found"
rope = 4
recording = "as-found/all.m4a"
pluck = 2
reason = "door slammed"
by = "R. Example"

[[finding]]
rope = 3
kind = "rouge"
at = "2 m above the car hitch"
seen = "yes"
"""
LEAST = "format = 1\n[set]\nropes = 4\n"


def read(text: str) -> Visit:
    return visit_from_text(text, Path("visit.toml"))


def mistakes(text: str) -> tuple[str, ...]:
    with pytest.raises(FileFormatError) as caught:
        read(text)
    return caught.value.lines


def changed(old: str, new: str) -> str:
    assert WHOLE.count(old) >= 1
    return WHOLE.replace(old, new, 1)


def test_every_part_of_a_record_is_read() -> None:
    visit = read(WHOLE)
    assert visit.lift.drive is Drive.TRACTION
    assert visit.lift.roping is Roping.ONE_TO_ONE
    assert visit.lift.car_mass is not None
    assert visit.lift.car_mass.text == "1840 kg"
    assert dict(visit.particulars) == {
        "date": "2026-11-20",
        "measured_by": "R. Example",
        "witness": "W. Example",
    }
    rope_set = visit.rope_set
    assert rope_set.n_ropes == 6
    assert [rope.number for rope in rope_set.ropes] == [1, 2, 3, 4, 5, 6]
    assert rope_set.ropes[1].stagger is not None
    assert rope_set.ropes[1].stagger.value == pytest.approx(0.15)
    assert rope_set.ropes[1].groove == 3
    ((name, length),) = rope_set.ropes[3].free_lengths
    assert (name, length.text) == ("top, car side", "3.55 m")
    assert rope_set.axial_rigidity is not None
    assert rope_set.axial_rigidity.value == pytest.approx(4.6e6)
    assert not rope_set.has_sockets_at_one_height
    assert rope_set.uncertainties == Uncertainties(
        free_length=0.005, scale=0.01, typed=("free_length", "scale")
    )


def test_the_condition_of_the_measurement_is_read() -> None:
    visit = read(WHOLE)
    (span,) = visit.rope_set.spans
    assert (span.side, span.length_from) == (Side.CAR, LengthFrom.CLIP)
    assert (span.ends, span.hitch_end) == (Ends.SOCKET_SHEAVE, HitchEnd.LOWER)
    (hitch,) = visit.rope_set.hitches
    assert hitch.at is HitchPlace.CAR
    assert hitch.rows == ((1, 3, 5), (2, 4, 6))
    assert hitch.thread is not None
    assert hitch.thread.is_left_handed
    assert hitch.buffer is Buffer.SPRING
    assert hitch.spring_active_coils == 8.5
    assert hitch.spring_rate is not None
    assert hitch.spring_rate.value == pytest.approx(150e3)
    (series,) = visit.series
    assert (series.arrived, series.neighbours) == ("up", "damped")
    assert series.taken == "2026-11-20 10:12 +00:00"
    assert series.fall == ""


def test_round_trips_of_a_series_are_read() -> None:
    told = read(changed("neighbours =", "round_trips_before = 2\nneighbours ="))
    assert [series.round_trips_before for series in told.series] == [2]
    assert [series.round_trips_before for series in read(WHOLE).series] == [None]


def test_what_a_person_knows_of_springs_and_pulls_is_read() -> None:
    text = WHOLE.replace(
        'spring_rate = "150 N/mm"',
        'spring_preload = "1.2 kN"\nspring_loads = ["2 kN", "5 kN"]\n'
        'spring_lengths = ["147 mm", "127 mm"]',
    ).replace(
        'scale = "1 %"',
        'scale = "1 %"\ndeflection = "1 mm"\ndeflection_common = "2 mm"\n'
        'placement = "3 %"',
    )
    visit = read(text)
    (hitch,) = visit.rope_set.hitches
    assert hitch.spring_preload is not None
    assert hitch.spring_preload.value == pytest.approx(1200.0)
    assert [q.value for q in hitch.spring_loads] == pytest.approx([2000.0, 5000.0])
    assert [q.text for q in hitch.spring_lengths] == ["147 mm", "127 mm"]
    known = visit.rope_set.uncertainties
    assert known.deflection == pytest.approx(0.001)
    assert known.deflection_common == pytest.approx(0.002)
    assert known.placement == pytest.approx(0.03)


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ('spring_loads = ["2 kN", "5 kN"]', "spring_lengths: write two"),
        (
            'spring_loads = ["2 kN"]\nspring_lengths = ["147 mm"]',
            "spring_loads: write two",
        ),
        (
            'spring_loads = ["2 kN", "5 kN"]\nspring_lengths = ["127 mm", "147 mm"]',
            "a spring is shorter under the larger load",
        ),
        (
            'spring_rate = "150 N/mm"\nspring_loads = ["2 kN", "5 kN"]\n'
            'spring_lengths = ["147 mm", "127 mm"]',
            "tell the rate again",
        ),
        ('spring_preload = "-1 kN"', "must be from"),
    ],
)
def test_loads_that_make_no_rate_are_refused(written: str, said: str) -> None:
    told = mistakes(WHOLE.replace('spring_rate = "150 N/mm"', written))
    assert any(said in one for one in told), told


def test_each_kind_of_reading_is_read_in_the_order_of_the_file() -> None:
    visit = read(WHOLE)
    one, memo, pull, returns, spring = visit.readings
    assert isinstance(one, PluckReading)
    assert one.ropes == (1,)
    assert isinstance(memo, PluckReading)
    assert memo.ropes == (1, 2, 3, 4, 5, 6, 6, 5, 4, 3, 2, 1)
    assert memo.plucks_each == 3
    assert isinstance(pull, PullReading)
    assert [force.text for force in pull.forces] == ["166.7 N", "165 N"]
    assert pull.hold is Hold.FORCE
    assert pull.scale_zero is not None
    assert pull.scale_zero.value == -0.5
    assert isinstance(returns, ReturnsReading)
    assert returns.count == 5
    assert isinstance(spring, SpringReading)
    assert spring.lengths[0].value == pytest.approx(0.112)
    (turn,) = visit.turns
    assert (turn.turns.value, turn.round_trips_after) == (-1.25, 3)
    (exclusion,) = visit.exclusions
    assert (exclusion.pluck, exclusion.reason) == (2, "door slammed")
    (finding,) = visit.findings
    assert finding.kind is FindingKind.ROUGE


def test_a_changed_rule_keeps_what_it_was() -> None:
    rule = read(WHOLE).rule
    assert (rule.limit, rule.changed_from, rule.goal) == (0.04, 0.05, 0.03)
    assert rule.metric is Metric.OFF_MEAN


def test_a_rule_of_ones_own_is_said_to_be_the_users() -> None:
    own = LEAST + (
        '[rule]\nmetric = "above-lowest"\nlimit = "8 %"\n'
        'source = "house rule of 2026"\n'
    )
    rule = read(own).rule
    assert (rule.metric, rule.limit) == (Metric.ABOVE_LOWEST, 0.08)
    assert rule.source == "house rule of 2026"
    assert rule.standing is Standing.USER


def test_the_shortest_record_takes_every_default() -> None:
    visit = read(LEAST)
    assert visit.rule.metric is Metric.BELOW_HIGHEST
    assert visit.rule.limit == 0.10
    assert visit.rule.source == "the program's own figure; no code was named"
    assert visit.rope_set.uncertainties == Uncertainties()
    assert len(visit.rope_set.ropes) == 4
    assert visit.readings == ()


def test_what_names_nothing_means_the_only_one() -> None:
    text = (
        LEAST
        + '[[span]]\nname = "a"\n[[series]]\nname = "b"\n[[hitch]]\nat = "car"\n'
        + '[[reading]]\nkind = "spring"\nrope = 1\nlength = "112 mm"\n'
    )
    visit = read(text)
    assert visit.series[0].span == "a"
    (reading,) = visit.readings
    assert reading.series == "b"
    assert isinstance(reading, SpringReading)
    assert reading.hitch is HitchPlace.CAR


def test_coated_ropes_and_a_single_rope_are_read() -> None:
    text = 'format = 1\n[set]\nropes = 1\nconstruction = "coated"\n'
    visit = read(text)
    assert visit.rope_set.construction == "coated"
    assert visit.rope_set.n_ropes == 1


# old text, new text, line, what is said. Lines are counted in WHOLE.
WRONG = [
    ("format = 1", "format = 2", 1, "must be 1, not 2"),
    ('drive = "traction"', 'drive = "tractoin"', 5, 'did you mean "traction"'),
    ('car_mass = "1840 kg"', 'car_mass = "1840 N"', 7, "N measures a force"),
    ('car_mass = "1840 kg"', "car_mass = 1840", 7, "text with its unit in quotes"),
    ('car_mass = "1840 kg"', 'travel = "30"', 7, "without a unit"),
    ("round_trips_after = 3", "round_trips_after = -3", 113, "must be at least 0"),
    ('"-1 1/4"', '"OUT -1 1/4"', 112, "has both OUT and a sign"),
    ('neighbours = "damped"', "round_trips_before = -1", 69, "must be at least 0"),
    ('witness = "W. Example"', 'witnes = "W"', 13, 'did you mean "witness"'),
    ("date = 2026-11-20", 'date = "20.11.2026"', 11, "date like 2026-11-20"),
    ("gb50310-2002-4.9.5", "gb50310-4.9.5", 16, "did you mean"),
    ('limit = "4 %"', 'limit = "0.04"', 17, "without a unit"),
    ('limit = "4 %"', 'limit = "400 %"', 17, "from 0.01 % to 99 %"),
    ('goal = "3 %"', 'source = "mine"', 18, "take out use or source"),
    ("ropes = 6", "ropes = 13", 21, "must be 1 to 12, not 13"),
    ("ropes = 6", "ropes = 0", 21, "must be at least 1, not 0"),
    ("ropes = 6", "ropes = true", 21, "must be a whole number, not true"),
    ("ropes = 6", 'ropes = "six"', 21, 'must be a whole number, not "six"'),
    ('diameter = "13 mm"', 'diameter = "13 m"', 22, "from 3 mm to 60 mm, not 13 m"),
    ('diameter = "13 mm"', 'diametre = "13 mm"', 22, 'did you mean "diameter"'),
    ('diameter = "13 mm"', 'free_length = "3 m"', 22, r"goes with \[uncertainty\] or"),
    ('rope_length = "38 m"', 'sockets = "level"', 25, 'must be "one height"'),
    ('scale = "1 %"', 'scale = "-1 %"', 30, "cannot be below zero"),
    ('name = "top, car side"', 'name = ""', 33, "must not be empty"),
    ('"3.40 m"', '"3400 m"', 36, "from 50 mm to 1000 m, not 3400 m"),
    ('"3.40 m"', '"-3.40 m"', 36, "from 50 mm to 1000 m, not -3.40 m"),
    ('"3.40 m"', '"0 m"', 36, "from 50 mm to 1000 m"),
    ('"3.40 m"', '"1,200 m"', 36, "two ways"),
    ("[2, 4, 6]]", "[2, 4, 4]]", 43, "names rope 4 twice"),
    ("[2, 4, 6]]", "[2, 4]]", 43, "leaves out rope 6"),
    ("[2, 4, 6]]", "[2, 4, 6, 9]]", 43, "must be 1 to 6, not 9"),
    ("[[1, 3, 5], [2, 4, 6]]", "[1, 2]", 43, "row by row"),
    ('"M16 left"', '"M15"', 44, "write the pitch too"),
    ('"M16 left"', "16", 44, "text in quotation marks, not 16"),
    ("8.5", "nan", 47, "must be a number, not nan"),
    ("8.5", "0.2", 47, "must be at least 0.5, not 0.2"),
    ("8.5", "200", 47, "must be at most 100, not 200"),
    ("number = 2", "number = 7", 53, "must be 1 to 6, not 7"),
    ("number = 2", "number = 4", 59, "rope 4 stands twice"),
    ('"+150 mm"', '"+150"', 54, "without a unit"),
    ('"+150 mm"', '"-3.38 m"', 54, "leaves nothing of the free length"),
    ('"top, car side" = "3.55 m"', '"top" = "3.55 m"', 60, 'no span "top"'),
    (
        '"top, car side" = "3.55 m"',
        '"top, car side" = 3.55',
        60,
        "text with its unit in quotes, not 3.55",
    ),
    ('arrived = "up"', 'arrived = "left"', 66, "one of up, down"),
    ('neighbours = "damped"', 'neighbors = "damped"', 69, 'did you mean "neighbours"'),
    ("rope = 1\nrec", "rope = 7\nrec", 74, "must be 1 to 6, not 7"),
    ('series = "as found"', 'series = "as left"', 72, 'there is no series "as left"'),
    ('kind = "pluck"', 'kind = "plunk"', 73, 'did you mean "pluck"'),
    ("rope = 1\nrec", 'force = "3 N"\nrec', 74, 'goes with kind = "pull"'),
    ("rope = 1\nrec", "rec", 71, "write either rope or ropes"),
    ("as-found/rope-1", "/rope-1", 75, "beside or below the record"),
    ("as-found/rope-1", "../rope-1", 75, "beside or below the record"),
    ("as-found/rope-1", "C:/rope-1", 75, "beside or below the record"),
    ("as-found/rope-1", "as-found\\\\rope-1", 75, 'write "/" between folders'),
    ("as-found/rope-1", "as-found\\u0000", 75, "is no path"),
    ("6, 6, 5", "6, 7, 5", 81, "ropes: must be 1 to 6, not 7"),
    ("6, 6, 5", '6, "6", 5', 81, 'ropes: must be a whole number, not "6"'),
    ("6, 6, 5", "6, 0, 5", 81, "ropes: must be at least 1, not 0"),
    ("[1, 2, 3, 4, 5, 6, 6, 5, 4, 3, 2, 1]", "3", 81, r"list of .*\[1, 2\], not 3"),
    ("[1, 2, 3, 4, 5, 6, 6, 5, 4, 3, 2, 1]", "[]", 81, "write either rope or ropes"),
    ('["166.7 N", "165 N"]', "[]", 88, "empty list"),
    ('["166.7 N", "165 N"]', '["166.7 N", "17 kg"]', 88, "write kgf if the scale"),
    ('hold = "force"', 'hold = "it"', 90, "one of deflection, force"),
    (
        'rope = 1\nhitch = "car"\nlength',
        'rope = 1\nhitch = "counterweight"\nlength',
        105,
        'no hitch at "counterweight" is described',
    ),
    ('turns = "-1 1/4"', 'turns = "-1 1/4 mm"', 112, "mm measures a length"),
    ('after = "as found"', 'after = "before"', 109, 'no series "before"'),
    ('reason = "door slammed"', 'reason = " "', 120, "must not be empty"),
    (
        'recording = "as-found/all.m4a"\npluck',
        'recording = "as-found/x.m4a"\npluck',
        118,
        'no reading names "as-found/x.m4a"',
    ),
    ('kind = "rouge"', 'kind = "red"', 125, "must be one of"),
    ('rope = 3\nkind = "rouge"', 'rope = 9\nkind = "rouge"', 124, "1 to 6, not 9"),
    ("[[finding]]", "[[findings]]", 123, r"did you mean \[\[finding\]\]"),
    ("[[series]]", "[series]", 63, r"\[\[series\]\] in double brackets"),
    ("[lift]", "[[lift]]", 3, r"there is only one; write it once, as \[lift\]"),
]


@pytest.mark.parametrize(("old", "new", "line", "said"), WRONG)
def test_a_mistake_is_told_with_its_line(
    old: str, new: str, line: int, said: str
) -> None:
    told = mistakes(changed(old, new))
    fitting = [one for one in told if re.search(said, one)]
    assert fitting, told
    assert any(one.startswith(f"visit.toml: line {line}: ") for one in fitting), told


@pytest.mark.parametrize(
    ("check", "said"),
    [
        ('item = "right-rope"\nplate_strength = "0 kN"', "must be from 1 N"),
        ('item = "right-rope"\nplate_diameter = "0 mm"', "must be from 1 mm"),
        ('item = "runby-later"\nrope_length = "0 m"', "must be from 500 mm"),
    ],
)
def test_what_a_check_divides_by_is_not_nought(check: str, said: str) -> None:
    assert said in mistakes(f"{WHOLE}\n[[check]]\n{check}\n")[0]


def test_all_mistakes_are_told_at_once_in_the_order_of_the_file() -> None:
    text = WHOLE.replace('"13 mm"', '"13"').replace('"150 N/mm"', '"150 kg"')
    text = text.replace("stagger =", "staggers =")
    told = mistakes(text)
    assert len(told) == 3
    assert told[0].startswith("visit.toml: line 22: set, diameter: ")
    assert told[1].startswith("visit.toml: line 46: hitch 1, spring_rate: ")
    assert told[2].startswith("visit.toml: line 54: rope 2, staggers: unknown name")


def test_a_file_with_nothing_right_is_cut_short() -> None:
    text = LEAST + "[[rope]]\nnumbre = 1\n" * 200
    told = mistakes(text)
    assert len(told) == MOST_MISTAKES + 1
    assert told[-1].endswith("more")


def test_missing_parts_are_told() -> None:
    assert any("format: is missing" in one for one in mistakes("[set]\nropes = 4\n"))
    assert any(
        "set: is missing; write [set]" in one for one in mistakes("format = 1\n")
    )
    assert any(
        "set, ropes: is missing" in one for one in mistakes("format = 1\n[set]\n")
    )
    told = mistakes(LEAST + '[[reading]]\nkind = "pull"\n')
    for key in ("series", "rope", "force", "deflection"):
        assert any(f"reading 1, {key}: is missing" in one for one in told), key


def test_names_that_others_use_stand_once() -> None:
    span = '[[span]]\nname = "a"\n'
    assert any('"a" stands twice' in one for one in mistakes(LEAST + span + span))
    hitch = '[[hitch]]\nat = "car"\n'
    assert any('"car" stands twice' in one for one in mistakes(LEAST + hitch + hitch))


COMPLETED = """
[[span]]
name = "top"
[[span]]
name = "low"
[[hitch]]
at = "car"
[[rope]]
number = 1
stagger = "+2 mm"
free_lengths = { "low" = "30 m" }
[[hitch]]
at = "car"
thread = "M16"
[[rope]]
number = 1
take_up_left = "22 mm"
free_lengths = { "top" = "3.4 m" }
[[span]]
name = "top"
position = "top landing"
"""


def test_a_later_table_of_a_rope_hitch_or_span_completes_it() -> None:
    rope_set = visit_from_text(LEAST + COMPLETED, Path("visit.toml")).rope_set
    assert [hitch.thread and hitch.thread.name for hitch in rope_set.hitches] == ["M16"]
    assert [(s.name, s.position) for s in rope_set.spans] == [
        ("top", "top landing"),
        ("low", ""),
    ]
    rope = rope_set.ropes[0]
    assert rope.stagger is not None
    assert rope.take_up_left is not None
    assert [span for span, _ in rope.free_lengths] == ["low", "top"]


@pytest.mark.parametrize(
    ("again", "said"),
    [
        ('[[hitch]]\nat = "car"\nthread = "M20"', "has thread twice"),
        ('[[rope]]\nnumber = 1\nstagger = "+3 mm"', "has stagger twice"),
        (
            '[[rope]]\nnumber = 1\nfree_lengths = { "low" = "31 m" }',
            'has free_lengths of "low" twice',
        ),
        ("[[rope]]\nnumber = 1", "rope 1 stands twice"),
    ],
)
def test_a_key_of_one_rope_hitch_or_span_stands_once(again: str, said: str) -> None:
    assert any(said in one for one in mistakes(LEAST + COMPLETED + again))


@pytest.mark.parametrize("run_stands_first", [True, False])
def test_round_trips_of_runs_belong_to_the_turns_before_them(
    run_stands_first: bool,  # noqa: FBT001 - a case
) -> None:
    turns = """
[[turn]]
rope = 1
turns = "1"
[[turn]]
rope = 1
turns = "1"
round_trips_after = 1
"""
    runs = "[[run]]\nround_trips = 2\n[[run]]\nround_trips = 3\n"
    base = '\n[[hitch]]\nat = "car"\n[[span]]\nname = "a"\n[[series]]\nname = "b"\n'
    both = runs + turns if run_stands_first else turns + runs
    visit = visit_from_text(LEAST + base + both, Path("visit.toml"))
    assert [turn.round_trips_after for turn in visit.turns] == [5, 1]


def test_sockets_at_one_height_have_no_stagger() -> None:
    text = changed('construction = "8x19 FC"', 'sockets = "one height"')
    (told,) = mistakes(text)
    assert "says one height, but rope 2 has a stagger of +150 mm" in told


def test_a_hundred_thousand_ropes_are_refused() -> None:
    (told,) = mistakes("format = 1\n[set]\nropes = 100000\n")
    assert "must be 1 to 12, not 100000" in told


SYNTAX = [
    ("limit = 1,5", 'write the value in quotation marks with its unit: limit = "1,5"'),
    ("length = 3.40 m", 'with its unit: length = "3.40 m"'),
    ("length = 10 ft", 'with its unit: length = "10 ft"'),
    ("length = 10' 6\"", 'with its unit: length = "10\' 6 in"'),
    ("name = “Granary”", "write straight quotation marks"),
    ('recording = "C:\\Users\\me"', 'write "/" between folders'),
    ("this is text", 'start the line with "#"'),
    ("a = 1\na = 2", "a is written twice; keep one"),
    ('name = "open', "need quotation marks on both sides"),
    ("[lift]\n[lift]", "written twice; keep one"),
]


@pytest.mark.parametrize(("line", "said"), SYNTAX)
def test_a_mistake_of_syntax_is_told_with_how_to_mend_it(line: str, said: str) -> None:
    (told,) = mistakes(f"format = 1\n{line}\n")
    assert said in told
    assert re.match(r"visit\.toml: line [23]: cannot read ", told)


def test_a_byte_order_mark_is_accepted(tmp_path: Path) -> None:
    path = tmp_path / "visit.toml"
    path.write_bytes(b"\xef\xbb\xbf" + WHOLE.replace("\n", "\r\n").encode())
    assert read_visit(path).rope_set.n_ropes == 6


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (LEAST.encode("utf-16"), "saved as UTF-16; save it again as UTF-8"),
        ("# Prüfer\n".encode("latin-1"), "line 1: holds a letter that is not UTF-8"),
        (b"a = 1\n\0", "bytes that are no text"),
        (b"RIFF\xff\xff\xff\xffWAVEfmt ", "not UTF-8"),
        (b"# " + b"x" * LARGEST_RECORD, "larger than 500 kB"),
        (b"a = " + b"[" * 100_000, "nested too deeply|cannot read"),
        (b"a = " + b"9" * 5000, "cannot be read"),
        (b"", "format: is missing"),
    ],
    ids=["utf-16", "latin-1", "nul", "sound", "large", "deep", "digits", "empty"],
)
def test_a_file_that_is_no_record_is_told(
    content: bytes, said: str, tmp_path: Path
) -> None:
    path = tmp_path / "visit.toml"
    path.write_bytes(content)
    with pytest.raises(FileFormatError, match=said):
        read_visit(path)


def test_a_missing_file_and_a_folder_are_told(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="there is no such file"):
        read_visit(tmp_path / "visit.toml")
    with pytest.raises(FileFormatError, match="cannot be read"):
        read_visit(tmp_path)


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_a_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    inside = tmp_path / "visit"
    inside.mkdir()
    (tmp_path / "other.wav").write_bytes(b"")
    (inside / "as-found").mkdir()
    (inside / "as-found" / "rope-1.m4a").symlink_to(tmp_path / "other.wav")
    path = inside / "visit.toml"
    path.write_text(WHOLE, encoding="utf-8")
    with pytest.raises(FileFormatError, match="leads out of the record's folder"):
        read_visit(path)


def test_a_record_that_is_read_twice_is_the_same() -> None:
    assert read(WHOLE) == read(WHOLE)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_a_record_with_a_piece_changed_is_read_or_told(data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(WHOLE)))
    length = data.draw(st.integers(0, 12))
    piece = data.draw(
        st.one_of(
            st.text(max_size=6),
            st.sampled_from(
                ['"', "[", "]", "=", "\n", "nan", "-1", "true", "{}", "[]"]
            ),
        )
    )
    with contextlib.suppress(FileFormatError):
        read(WHOLE[:start] + piece + WHOLE[start + length :])


_VALUES = [
    "1",
    "-1",
    "1.5",
    "nan",
    "true",
    '""',
    '"x"',
    "[]",
    "[[]]",
    "{}",
    "[1, 'a']",
    "2026-11-20",
    "'1 m'",
    "10" * 200,
]


@settings(max_examples=200, deadline=None)
@given(st.integers(0, WHOLE.count(" = ") - 1), st.sampled_from(_VALUES))
def test_any_kind_of_value_under_any_key_is_read_or_told(
    which: int, value: str
) -> None:
    lines = WHOLE.split("\n")
    places = [i for i, line in enumerate(lines) if " = " in line]
    place = places[min(which, len(places) - 1)]
    lines[place] = lines[place].split(" = ")[0] + " = " + value
    with contextlib.suppress(FileFormatError):
        read("\n".join(lines))
