"""From numbers to a result, and how results show themselves."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import tension
from tension.assessment.decide import Verdict
from tension.errors import InvalidValueError

about = tension.AboutRopes
ROPES = tension.AboutRopes(diameter="13 mm", construction="8x19 FC")
STRINGS = tension.AboutRopes(linear_density=0.5, flexural_rigidity=0.0)
GRAVITY = 9.80665


def test_ideal_strings_give_the_tensions_that_made_them() -> None:
    tensions = np.array([5300.0, 4850.0, 5150.0, 4700.0])
    lengths = np.array([3.4, 3.55, 3.4, 3.55])
    middle = tensions + 0.5 * GRAVITY * lengths / 2
    frequencies = np.sqrt(middle / 0.5) / (2 * lengths)
    found = tension.assess_frequencies(frequencies, free_lengths=lengths, ropes=STRINGS)
    assert [s.tension for s in found.shares] == pytest.approx(list(tensions), rel=1e-3)
    assert found.verdict is Verdict.UNEQUAL
    assert found.spread.observed == pytest.approx(1 - 4700 / 5300, abs=1e-3)


def test_tensions_to_frequencies_and_back() -> None:
    tensions = [5300.0, 4850.0, 5150.0]
    for hitch_end in ("lower", "upper"):
        about = tension.AboutRopes(
            linear_density="0.5 kg/m", flexural_rigidity=4.0, hitch_end=hitch_end
        )
        heard = tension.frequencies_from_tensions(
            tensions, free_lengths=20.0, ropes=about
        )
        found = tension.assess_frequencies(heard, free_lengths=20.0, ropes=about)
        assert [s.tension for s in found.shares] == pytest.approx(tensions, rel=1e-6)


def test_the_mass_of_a_sensor_is_taken_off() -> None:
    # 20 g at the middle of 5 m of 0.35 kg/m: r = 0.0114, 1/sqrt(1 + 2 r) of the pitch
    # to first order: the tension would read 2.2 % too low
    about = tension.AboutRopes(linear_density=0.35, flexural_rigidity=0.0)
    heard = tension.frequencies_from_tensions(
        [5000.0, 5000.0], free_lengths=5.0, ropes=about
    )
    loaded = heard / math.sqrt(1 + 2 * 0.020 / (0.35 * 5.0))
    found = tension.assess_frequencies(
        loaded,
        free_lengths=5.0,
        ropes=about,
        sensor=("0.020 kg", "2.5 m"),
    )
    assert found.shares[0].tension == pytest.approx(5000.0, rel=3e-4)
    plain = tension.assess_frequencies(loaded, free_lengths=5.0, ropes=about)
    assert plain.shares[0].tension == pytest.approx(5000.0 * 0.978, rel=1e-3)
    with pytest.raises(InvalidValueError, match="needs the linear density"):
        tension.assess_frequencies([10.0], free_lengths=5.0, sensor=(0.02, 1.0))
    with pytest.raises(InvalidValueError, match="a frequency needs the linear density"):
        tension.frequencies_from_tensions(
            [5e3], free_lengths=5.0, ropes=tension.AboutRopes()
        )


def test_a_rope_without_a_number_stays_in_the_set() -> None:
    found = tension.assess_frequencies(
        [10.0, math.nan, 10.1, 10.0], free_lengths=5.0, ropes=STRINGS
    )
    assert found.measurement.given == (1, 3, 4)
    assert found.to_rows()[1]["share"] is None
    assert found.to_rows()[1]["reason"]
    none = tension.assess_frequencies([math.nan] * 2, free_lengths=5.0)
    assert none.verdict is Verdict.NO_RESULT


def test_pulls_from_numbers_are_pulls_of_a_record() -> None:
    # F = 4 d T/L of a limp rope on soft springs; at mid-span half the weight more
    about = tension.AboutRopes(linear_density=0.5, diameter=0.00005, spring_rate=1000.0)
    forces = [4 * 0.025 * (t + 0.5 * GRAVITY * 1.5) / 3.0 for t in (5000.0, 4000.0)]
    found = tension.assess_pulls(forces, 0.025, free_lengths=3.0, ropes=about)
    assert [s.tension for s in found.shares] == pytest.approx([5000, 4000], rel=2e-3)


def test_pulls_take_repeats_and_gaps() -> None:
    forces = [[165.0, 166.0, math.nan], [160.0, 161.0, 162.0], [math.nan] * 3]
    found = tension.assess_pulls(
        forces, [0.025, 0.025, 0.025], free_lengths=[3.0, 3.1, 3.0], ropes=ROPES
    )
    assert found.measurement.given == (1, 2)
    plate = replace(ROPES, has_springs=False)
    aside = [[0.025, 0.025, math.nan], [0.025] * 3]
    each = tension.assess_pulls(forces[:2], aside, free_lengths=3.0, ropes=plate)
    assert each.measurement.given == (1, 2)


def test_a_force_and_its_deflection_count_as_a_pair() -> None:
    # a gap in one of the two leaves the other out; a rope of gaps is not measured
    forces = [[165.0, 190.0, math.nan], [160.0, 161.0, 162.0], [150.0, 1.0, 1.0]]
    aside = [[0.025, math.nan, 0.030], [0.025] * 3, [math.nan] * 3]
    found = tension.assess_pulls(forces, aside, free_lengths=3.0, ropes=ROPES)
    alone = tension.assess_pulls(
        [165.0, 161.0], 0.025, free_lengths=3.0, ropes=ROPES
    ).measurement.hypotheses[0]
    assert found.measurement.given == (1, 2)
    tensions = found.measurement.hypotheses[0].tensions
    assert tensions == pytest.approx(alone.tensions, rel=1e-4)


def test_a_rule_is_given_by_itself_by_its_name_or_as_a_choice() -> None:
    named = tension.find_rule("gb50310-2002-4.9.5")
    chosen = tension.RuleChoice(limit=0.05, metric=tension.Metric.OFF_MEAN)
    for rule, wanted in (
        (None, tension.find_rule()),
        (named.name, named),
        (named, named),
        (chosen, chosen.apply(tension.find_rule())),
    ):
        found = tension.assess_frequencies([10.0, 10.4], free_lengths=5.0, rule=rule)
        assert found.rule == wanted


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"free_lengths": [3.0, 3.1]}, "give one number for all, or one per rope"),
        ({"free_lengths": 3400.0}, "divide millimetres by 1000"),
        ({"frequencies": [[10.0, 10.0]]}, "a value per rope"),
        ({"frequencies": [10.0, -1.0, 9.0]}, "must lie above 0"),
        ({"frequencies": ["ten", 10.0, 9.0]}, "must be numbers in SI"),
        ({"frequencies": [10.0] * 13}, "1 to 12 ropes"),
        ({"rule": tension.RuleChoice(limit=10.0)}, "between 0 % and 100 %"),
        ({"rule": "gb50310"}, "did you mean"),
        ({"relative_uncertainty": 2.0}, "0.002 for 0.2 %"),
        ({"ropes": about(flexural_rigidity=4.0)}, "needs the linear density"),
        ({"ropes": about(flexural_rigidity=-4.0)}, "must not be below 0 N m2"),
        ({"ropes": about(ends="socket")}, '"socket-sheave"'),
        ({"ropes": about(diameter="13")}, "a number without a unit"),
    ],
)
def test_an_error_says_what_to_do(given: dict[str, object], told: str) -> None:
    wanted: dict[str, object] = {
        "frequencies": [10.0, 10.1, 9.9],
        "free_lengths": 5.0,
        **given,
    }
    with pytest.raises(InvalidValueError) as caught:
        tension.assess_frequencies(**wanted)  # type: ignore[arg-type]
    assert told in str(caught.value)


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"ropes": about(spring_rate=150.0)}, '"150 N/mm"'),
        ({"ropes": about(spring_rate=15e4, has_springs=False)}, "leave out one"),
        ({"deflections": 25.0}, "divide millimetres by 1000"),
        ({"deflections": [0.02] * 3}, "one per rope, or one per force"),
    ],
)
def test_an_error_of_pulls_says_what_to_do(given: dict[str, object], told: str) -> None:
    wanted: dict[str, object] = {
        "forces": [165.0, 160.0],
        "deflections": 0.025,
        "free_lengths": 3.0,
        **given,
    }
    with pytest.raises(InvalidValueError) as caught:
        tension.assess_pulls(**wanted)  # type: ignore[arg-type]
    assert told in str(caught.value)


@pytest.mark.parametrize(
    ("inside", "outside"),
    [
        ({"frequencies": [200.0, 9.9]}, {"frequencies": [200.01, 9.9]}),
        ({"frequencies": [10.0] * 12}, {"frequencies": []}),
        ({"free_lengths": 300.0}, {"free_lengths": 300.1}),
        ({"free_lengths": 0.051}, {"free_lengths": 0.05}),
        ({"relative_uncertainty": 0.49}, {"relative_uncertainty": 0.5}),
        ({"relative_uncertainty": 1e-9}, {"relative_uncertainty": 0.0}),
        ({"sensor": (0.0, 0.0)}, {"sensor": (-0.001, 0.0)}),
        ({"sensor": (0.02, 5.0)}, {"sensor": (0.02, 5.001)}),
        ({"sensor": ("20 g", "0 m")}, {"sensor": (0.02, -0.001)}),
        ({"ropes": about(diameter=1e-4)}, {"ropes": about(diameter=0.0)}),
    ],
)
def test_numbers_of_frequencies_are_taken_up_to_their_ends(
    inside: dict[str, object], outside: dict[str, object]
) -> None:
    usual: dict[str, object] = {
        "frequencies": [10.0, 9.9],
        "free_lengths": 5.0,
        "ropes": STRINGS,
    }
    tension.assess_frequencies(**{**usual, **inside})  # type: ignore[arg-type]
    with pytest.raises(InvalidValueError):
        tension.assess_frequencies(**{**usual, **outside})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("inside", "outside"),
    [
        ({"deflections": 2.0}, {"deflections": 2.01}),
        ({"deflections": [0.001, 0.002]}, {"deflections": [0.0, 0.002]}),
        ({"forces": [[150.0], [160.0]]}, {"forces": [[[150.0], [160.0]]]}),
        (
            {"ropes": about(spring_rate=1e3)},
            {"ropes": about(spring_rate=999.0)},
        ),
        (
            {"ropes": about(spring_rate=1e8, has_springs=True)},
            {"ropes": about(spring_rate=1.01e8)},
        ),
    ],
)
def test_numbers_of_pulls_are_taken_up_to_their_ends(
    inside: dict[str, object], outside: dict[str, object]
) -> None:
    usual: dict[str, object] = {
        "forces": [165.0, 160.0],
        "deflections": 0.025,
        "free_lengths": 3.0,
    }
    tension.assess_pulls(**{**usual, **inside})  # type: ignore[arg-type]
    with pytest.raises(InvalidValueError):
        tension.assess_pulls(**{**usual, **outside})  # type: ignore[arg-type]


def test_ropes_without_springs_stand_on_the_plate() -> None:
    found = [
        tension.assess_pulls(
            [165.0, 160.0],
            0.025,
            free_lengths=3.0,
            ropes=replace(ROPES, has_springs=has_springs),
            pulled_at="1.5 m",
        ).measurement
        for has_springs in (False, True, None)
    ]
    codes = [{note.code for note in one.notes} for one in found]
    assert not codes[0] & {"rate-unknown", "stretch-unknown"}
    assert "rate-unknown" in codes[1]
    assert "stretch-unknown" in codes[2]


def test_dimensions_are_words_too() -> None:
    assert tension.parse_quantity("5 kN", "force").value == pytest.approx(5000)
    with pytest.raises(InvalidValueError, match='one of "length", "force"'):
        tension.parse_quantity("5 kN", "weight")
    with pytest.raises(InvalidValueError, match="measures a mass"):
        tension.parse_quantity("5 kg", "force")


def test_texts_and_paths_alike(tmp_path: Path) -> None:
    heard = tension.hear_file("recordings_demo/six-memos/as-found/rope-1.m4a")
    assert heard.recording.refusal is None
    for wrong in (str(tmp_path), "no-such-file.wav"):
        with pytest.raises(tension.FileFormatError, match=r"\."):
            tension.read_recording(wrong)


def test_a_result_shows_itself_in_a_line_a_table_and_plain_data() -> None:
    found = tension.assess_pulls(
        [165.0, 160.0, 171.0], 0.025, free_lengths=3.0, ropes=ROPES
    )
    assert len(repr(found)) < 120
    assert len(repr(found.measurement)) < 200
    assert json.loads(json.dumps(found.to_dict()))["verdict"] == found.verdict.value
    rows = found.to_rows()
    assert [row["rope"] for row in rows] == [1, 2, 3]
    assert {len(row) for row in rows} == {len(rows[0])}
    html = found._repr_html_()
    assert html.count("<tr>") == 4
    assert "<script" not in html


def test_results_of_records_show_themselves_too() -> None:
    assessed = tension.assess_record("recordings_demo/side-pulls")
    assert len(repr(assessed)) < 200
    json.dumps(assessed.to_dict())
    planned = tension.plan_record("recordings_demo/side-pulls")
    assert len(repr(planned)) < 400
    json.dumps(planned.to_dict())
    assert planned.to_rows()


def test_what_the_program_says_is_escaped_in_a_table() -> None:
    about = tension.AboutRopes(construction="<b>8x19</b>")
    found = tension.assess_frequencies([10.0, 10.1], free_lengths=5.0, ropes=about)
    assert "<b>" not in found._repr_html_()
