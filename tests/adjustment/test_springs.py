from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tension.adjustment.springs import (
    SpringCheck,
    are_level,
    check_springs,
    rated_tension,
)
from tension.installation import HitchPlace, RopeSet, Roping
from tension.measurement.readings import SpringReading
from tension.notes import NoteKind, Refusal
from tension.quantity.showing import force_text
from tension.quantity.units import Dimension, UnitSystem
from tension.telling.plans import spring_lines, spring_rows
from tests.noted import codes
from tests.oracles.spring_lines import Springs
from tests.synthesis.measured_sets import assessed, hitch, quantity, rope_set

FORCES = np.array([5300.0, 4850.0, 5150.0, 4700.0, 5000.0, 4400.0])
RATE, FREE = 150e3, 0.160


def readings(
    lengths: np.ndarray | list[float], series: str = "as found"
) -> tuple[SpringReading, ...]:
    return tuple(
        SpringReading(
            series=series,
            rope=i + 1,
            hitch=HitchPlace.CAR,
            lengths=(quantity(float(length), Dimension.LENGTH),),
        )
        for i, length in enumerate(lengths)
    )


def checked(
    lengths: np.ndarray | list[float],
    *,
    forces: np.ndarray = FORCES,
    rated: float | None = None,
    ropes: RopeSet | None = None,
) -> SpringCheck:
    outcome = check_springs(
        assessed(forces),
        readings(lengths),
        rope_set=ropes or rope_set(6),
        place=HitchPlace.CAR,
        rated=rated,
    )
    assert isinstance(outcome, SpringCheck), outcome
    return outcome


TRUE_LENGTHS = FREE - FORCES / RATE


def test_springs_are_held_against_readings_of_their_own_side_alone() -> None:
    far = HitchPlace.COUNTERWEIGHT
    # half as much again hangs there
    lengths = [replace(r, hitch=far) for r in readings(FREE - 1.5 * FORCES / RATE)]
    check = check_springs(
        assessed(FORCES),
        tuple(lengths),
        rope_set=rope_set(6, hitches=(hitch(), hitch(far))),
        place=far,
    )
    assert isinstance(check, SpringCheck)
    assert not check.is_contradicted
    assert {one.by_reading for one in check.springs} == {None}
    assert [one.by_length for one in check.springs] == pytest.approx(1.5 * FORCES)
    (note,) = [n for n in check.notes if n.code == "sides-not-mixed"]
    assert dict(note.places) == {"side": "car", "place": "counterweight"}
    assert "sides-not-mixed" not in [n.code for n in checked(TRUE_LENGTHS).notes]


def test_load_by_length_stands_beside_load_by_reading() -> None:
    check = checked(TRUE_LENGTHS)
    for spring, force in zip(check.springs, FORCES, strict=True):
        assert spring.by_length == pytest.approx(force, rel=1e-9)
        assert spring.by_reading == pytest.approx(force, rel=1e-9)
        # 5 % of rate, 0.5 mm of reading and 1 mm of free length at 150 N/mm
        by_hand = np.hypot(0.05 * force, 150 * np.hypot(0.5, 1.0))
        assert spring.by_length_uncertainty == pytest.approx(by_hand, rel=1e-6)
        by_hand = np.hypot(0.005, 0.05) * force  # reading and linear density
        assert spring.by_reading_uncertainty == pytest.approx(by_hand, rel=1e-6)
        assert not spring.stands_out


def test_slope_of_the_set_is_its_rate() -> None:
    check = checked(TRUE_LENGTHS)
    assert check.slope is not None
    assert check.slope.rate == pytest.approx(RATE, rel=1e-6)
    assert check.slope.tension_at(np.array(0.130)) == pytest.approx(
        RATE * 0.030, rel=1e-6
    )


def test_slope_holds_its_uncertainty_with_read_lengths() -> None:
    inside = flagged = 0
    for seed in range(100):
        rng = np.random.default_rng(seed)
        forces = np.linspace(4000, 6000, 8) * (1 + 0.02 * rng.standard_normal(8))
        lengths = FREE - forces / RATE + 0.0011 * rng.standard_normal(8)
        check = checked(lengths, forces=forces, ropes=rope_set(8))
        assert check.slope is not None
        inside += abs(check.slope.rate - RATE) < 2.0 * check.slope.uncertainty
        flagged += any(spring.stands_out for spring in check.springs)
    assert 88 <= inside <= 99
    assert flagged <= 6


def test_a_bound_spring_stands_out_and_does_not_tilt_the_line() -> None:
    lengths = TRUE_LENGTHS.copy()
    lengths[1] += 0.012  # held 12 mm too long by friction
    check = checked(lengths)
    assert [s.rope for s in check.springs if s.stands_out] == [2]
    notes = [n for n in check.notes if n.code == NoteKind.SPRING_OUTLIER.code]
    assert [n.ropes for n in notes] == [(2,)]
    assert check.slope is not None
    assert check.slope.rate == pytest.approx(RATE, rel=0.1)


def test_a_rate_that_the_set_does_not_show_is_told() -> None:
    wide = np.array([6500.0, 3500.0, 5800.0, 4200.0, 5000.0, 4700.0])
    for rate, is_told in ((300e3, True), (90e3, True), (150e3, False)):
        found = checked(FREE - wide / rate, forces=wide)
        codes = {note.code for note in found.notes}
        assert (NoteKind.RATES_DISAGREE.code in codes) is is_told, rate


def test_level_springs_do_not_decide_and_the_page_says_so() -> None:
    check = checked(np.full(6, 0.127))
    assert are_level(check)
    assert check.slope is None
    assert NoteKind.LEVEL_SPRINGS.code in {note.code for note in check.notes}
    text = " ".join(cells[0] for _, cells in spring_lines(check, UnitSystem.SI))
    assert "Level springs do not mean level tension" in text


def test_margin_to_solid_at_overload_by_arithmetic() -> None:
    # 1500 kg and 125 % of 1000 kg on six ropes: 4494 N; 30.0 mm of 64 mm used.
    rated = rated_tension(
        quantity(1500.0, Dimension.MASS, "1500 kg"),
        quantity(1000.0, Dimension.MASS, "1000 kg"),
        Roping.ONE_TO_ONE,
        6,
    )
    even = np.full(6, 5000.0)
    check = checked(FREE - even / RATE, forces=even, rated=rated)
    load = (1500 + 1250) * 9.80665 / 6
    assert check.rated_tension == pytest.approx(load, rel=1e-9)
    by_hand = 1 - load / 150 / 64
    assert check.springs[0].margin == pytest.approx(by_hand, rel=1e-9)
    uneven = checked(TRUE_LENGTHS, rated=rated)
    for spring, force in zip(uneven.springs, FORCES, strict=True):
        share = force / FORCES.mean()
        assert spring.margin == pytest.approx(1 - share * load / 150 / 64, rel=1e-9)
    mass = quantity(2750.0, Dimension.MASS), quantity(0.0, Dimension.MASS)
    assert rated_tension(*mass, Roping.TWO_TO_ONE, 6) == pytest.approx(load / 2)


def test_a_rope_without_a_share_is_taken_to_carry_an_even_one_at_overload() -> None:
    rated = rated_tension(
        quantity(1500.0, Dimension.MASS),
        quantity(1000.0, Dimension.MASS),
        Roping.ONE_TO_ONE,
        6,
    )
    check = checked(TRUE_LENGTHS, forces=FORCES[:5], rated=rated)
    assert check.springs[5].by_reading is None
    load = (1500 + 1250) * 9.80665 / 6
    assert check.springs[5].margin == pytest.approx(1 - load / 150 / 64, rel=1e-9)


def test_a_spring_that_goes_solid_at_overload_is_told() -> None:
    rated = rated_tension(
        quantity(4000.0, Dimension.MASS),
        quantity(2000.0, Dimension.MASS),
        Roping.ONE_TO_ONE,
        6,
    )
    check = checked(TRUE_LENGTHS, rated=rated)
    codes = [note.code for note in check.notes]
    assert NoteKind.SPRING_NEAR_SOLID.code in codes


def test_a_spring_just_solid_at_overload_is_told() -> None:
    # half a metre of way at a rate of twice the load; all figures exact
    ropes = with_springs(
        rope_set(6),
        spring_rate=quantity(8192.0, Dimension.STIFFNESS),
        spring_free_length=quantity(0.75, Dimension.LENGTH),
        spring_solid_length=quantity(0.25, Dimension.LENGTH),
    )
    for rated, margin, is_told in ((4096.0, 0.0, True), (4095.0, 1 / 4096, False)):
        found = checked(
            np.full(6, 0.5), forces=np.full(6, 5e3), ropes=ropes, rated=rated
        )
        assert found.springs[0].margin == margin
        codes = {note.code for note in found.notes}
        assert (NoteKind.SPRING_NEAR_SOLID.code in codes) is is_told


def test_a_spring_solid_without_load_has_no_margin() -> None:
    solid = quantity(FREE, Dimension.LENGTH)
    ropes = with_springs(rope_set(6), spring_solid_length=solid)
    check = checked(TRUE_LENGTHS, ropes=ropes, rated=5000.0)
    assert [spring.margin for spring in check.springs] == [None] * 6


def test_springs_just_three_millimetres_apart_look_level() -> None:
    check = checked(TRUE_LENGTHS)
    for longer, is_level in ((0.003, True), (0.003001, False)):
        springs = tuple(replace(s, length=0.0) for s in check.springs[:5])
        longest = replace(check.springs[5], length=longer)
        assert are_level(replace(check, springs=(*springs, longest))) is is_level


def test_a_length_just_a_millimetre_under_solid_is_not_questioned() -> None:
    ropes = with_springs(
        rope_set(6), spring_solid_length=quantity(0.001, Dimension.LENGTH)
    )
    lengths = TRUE_LENGTHS.copy()
    lengths[0] = 0.0
    found = codes(checked(lengths, ropes=ropes))
    assert NoteKind.SPRING_SOLID_NOW.code in found
    assert NoteKind.SPRING_SHORT.code not in found


@pytest.mark.parametrize(("beyond", "is_solid"), [(0.0, True), (1e-9, False)])
def test_a_spring_within_half_a_millimetre_of_solid_is_solid(
    *, beyond: float, is_solid: bool
) -> None:
    lengths = TRUE_LENGTHS.copy()
    lengths[0] = 0.096 + 0.0005 + beyond
    assert checked(lengths).springs[0].is_solid is is_solid


def test_a_length_under_solid_is_questioned() -> None:
    lengths = TRUE_LENGTHS.copy()
    lengths[0] = 0.090
    codes = [n.code for n in checked(lengths).notes]
    assert NoteKind.SPRING_SHORT.code in codes


def test_without_spring_lengths_the_check_is_refused() -> None:
    outcome = check_springs(
        assessed(FORCES),
        readings(TRUE_LENGTHS, series="another"),
        rope_set=rope_set(6),
        place=HitchPlace.CAR,
    )
    assert isinstance(outcome, Refusal)
    assert outcome.code == NoteKind.NO_SPRING_LENGTHS.code
    missing = check_springs(
        assessed(FORCES),
        readings(TRUE_LENGTHS),
        rope_set=rope_set(6, hitches=(hitch(HitchPlace.COUNTERWEIGHT),)),
        place=HitchPlace.CAR,
    )
    assert isinstance(missing, Refusal)


def with_springs(ropes: RopeSet, **figures: Any) -> RopeSet:  # noqa: ANN401
    (one, *rest) = ropes.hitches
    return replace(ropes, hitches=(replace(one, **figures), *rest))


def test_springs_that_fit_contradict_nothing() -> None:
    for n in (1, 2, 3, 6):
        check = checked(TRUE_LENGTHS[:n], forces=FORCES[:n] if n > 1 else FORCES)
        assert not check.is_contradicted, codes(check)


@pytest.mark.parametrize("n", [3, 4, 5, 6])
def test_one_spring_half_off_stands_out_from_three_on(n: int) -> None:
    lengths = TRUE_LENGTHS[:n].copy()
    lengths[1] = FREE - FORCES[1] / 1.56 / RATE  # its load by length 56 % under
    check = checked(lengths, forces=FORCES[:n], ropes=rope_set(n))
    assert [s.rope for s in check.springs if s.stands_out] == [2]
    assert NoteKind.SPRING_OUTLIER.code in codes(check)
    assert check.is_contradicted


def test_of_two_springs_that_disagree_neither_is_blamed() -> None:
    lengths = TRUE_LENGTHS[:2].copy()
    lengths[1] = FREE - FORCES[1] / 1.56 / RATE
    check = checked(lengths, forces=FORCES[:2], ropes=rope_set(2))
    assert not any(s.stands_out for s in check.springs)
    assert NoteKind.SPRINGS_DISAGREE.code in codes(check)
    assert check.is_contradicted


@pytest.mark.parametrize("factor", [1.56, 1 / 1.56])
def test_all_springs_against_the_readings_are_told(factor: float) -> None:
    check = checked(FREE - FORCES * factor / RATE)
    assert NoteKind.SPRINGS_ALL_OFF.code in codes(check)
    assert not any(s.stands_out for s in check.springs)
    assert check.is_contradicted


def test_a_longer_spring_under_more_load_is_told_without_a_rate() -> None:
    ropes = with_springs(rope_set(3), spring_rate=None)
    forces = np.array([6000.0, 4000.0, 5000.0])
    lengths = np.array([0.135, 0.122, 0.130])
    check = checked(lengths, forces=forces, ropes=ropes)
    assert check.rate is None
    note = next(n for n in check.notes if n.code == NoteKind.SPRINGS_REVERSED.code)
    assert note.ropes == (1, 2)
    assert check.is_contradicted


def test_a_spring_that_is_solid_now_tells_no_load() -> None:
    lengths = TRUE_LENGTHS.copy()
    lengths[3] = 0.0962  # solid length 96 mm
    check = checked(lengths)
    assert check.springs[3].by_length is None
    assert NoteKind.SPRING_SOLID_NOW.code in codes(check)
    assert "SOLID" in spring_rows(check, UnitSystem.SI)[3]


def test_no_load_below_nothing_is_printed() -> None:
    lengths = TRUE_LENGTHS.copy()
    lengths[2] = 0.188
    check = checked(lengths)
    assert check.springs[2].by_length is None
    assert NoteKind.SPRING_NOT_PRESSED.code in codes(check)
    assert check.is_contradicted
    assert not any(
        "-4" in cell for row in spring_rows(check, UnitSystem.SI) for cell in row
    )


def test_a_preload_is_part_of_the_load() -> None:
    preload = quantity(2000.0, Dimension.FORCE, "2 kN")
    ropes = with_springs(rope_set(6), spring_preload=preload)
    check = checked(FREE - (FORCES - 2000.0) / RATE, ropes=ropes)
    for spring, force in zip(check.springs, FORCES, strict=True):
        assert spring.by_length == pytest.approx(force, rel=1e-9)
    assert not check.is_contradicted
    text = " ".join(cells[0] for _, cells in spring_lines(check, UnitSystem.SI))
    assert "spring preload" in text
    assert "(2 kN)" in text
    held = checked(np.full(6, FREE), ropes=ropes)
    assert NoteKind.SPRING_AT_PRELOAD.code in codes(held)
    assert NoteKind.SPRING_NOT_PRESSED.code not in codes(held)


def test_two_loads_in_the_record_make_the_rate() -> None:
    ropes = with_springs(
        rope_set(6),
        spring_rate=None,
        spring_loads=(
            quantity(2000.0, Dimension.FORCE, "2 kN"),
            quantity(5000.0, Dimension.FORCE, "5 kN"),
        ),
        spring_lengths=(
            quantity(0.147, Dimension.LENGTH, "147 mm"),
            quantity(0.127, Dimension.LENGTH, "127 mm"),
        ),
    )
    check = checked(TRUE_LENGTHS, ropes=ropes)
    assert check.rate is not None
    assert check.rate.value == pytest.approx(150e3, rel=1e-9)
    assert check.rate.source == "2 kN at 147 mm and 5 kN at 127 mm"
    # 2 % of the larger load and 0.5 mm, each twice; 5 % between springs
    of_loads = np.hypot(0.02 * 5000 * 2**0.5 / 3000, 0.5 * 2**0.5 / 20)
    assert check.rate.relative_uncertainty == pytest.approx(np.hypot(of_loads, 0.05))


def test_the_table_has_a_row_a_spring() -> None:
    check = checked(TRUE_LENGTHS)
    rows = spring_rows(check, UnitSystem.SI)
    assert len(rows) == 6
    assert rows[0][:2] == ("1", "124.7 mm")
    assert rows[0][3].startswith("5300 ±")


SAID = {
    NoteKind.SPRING_OUTLIER.code: "outlier",
    NoteKind.SPRING_NOT_PRESSED.code: "not pressed",
    NoteKind.SPRING_SHORT.code: "short",
    NoteKind.SPRING_SOLID_NOW.code: "solid",
    NoteKind.RATES_DISAGREE.code: "rates disagree",
    NoteKind.SPRINGS_DISAGREE.code: "disagree",
    NoteKind.SPRINGS_ALL_OFF.code: "all off",
    NoteKind.SPRINGS_REVERSED.code: "reversed",
}


def drawn_springs(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Tensions, and lengths that are about right, all wrong, or one of them is."""
    n = int(rng.integers(2, 8))
    forces = 5000 * np.exp(0.12 * rng.standard_normal(n))
    stiffer = np.exp(rng.choice([0.0, 0.2, 0.35]) * rng.standard_normal())
    lengths = FREE - forces * stiffer / RATE + 0.0011 * rng.standard_normal(n)
    wrong = rng.random()
    if wrong < 0.4:
        lengths[rng.integers(n)] += 0.006 * rng.standard_normal()
    elif wrong < 0.5:
        lengths[rng.integers(n)] = rng.choice([0.0945, 0.0955, 0.0963, 0.0967, 0.1605])
    elif wrong < 0.7:
        lengths = lengths[::-1].copy()
    return forces, lengths


def test_springs_say_what_plain_loops_over_them_say() -> None:
    rng = np.random.default_rng(21)
    said: dict[str, int] = dict.fromkeys([*SAID.values(), "nothing", "line"], 0)
    for _ in range(300):
        forces, lengths = drawn_springs(rng)
        check = checked(lengths, forces=forces, ropes=rope_set(len(forces)))
        by_hand = Springs(
            lengths=lengths.tolist(),
            tensions=forces.tolist(),
            rate=RATE,
            free=FREE,
            solid=0.096,
        )
        told = {SAID[code] for code in codes(check) if code in SAID}
        assert told == by_hand.notes, (forces, lengths)
        assert [one.stands_out for one in check.springs] == by_hand.outliers
        loads = [one.by_length for one in check.springs]
        assert loads == [
            None if load is None else pytest.approx(load) for load in by_hand.loads
        ]
        assert (check.slope is None) is (by_hand.line is None)
        if check.slope is not None:
            line = check.slope
            figures = (line.rate, line.uncertainty, line.mean_tension, line.mean_length)
            assert figures == pytest.approx(by_hand.line)
            assert line.scatter == pytest.approx(by_hand.scatter)
            said["line"] += 1
        for one in told or {"nothing"}:
            said[one] += 1
    assert min(said.values()) > 2, said


def test_the_notes_of_springs_tell_the_figures_they_rest_on() -> None:
    lengths = TRUE_LENGTHS[:2].copy()
    lengths[1] = FREE - FORCES[1] / 2 / RATE
    check = checked(lengths, forces=FORCES[:2], ropes=rope_set(2))
    told = {note.kind: dict(note.places) for note in check.notes}
    # the first presses its spring with what it reads, the second with half of it
    assert told[NoteKind.SPRINGS_DISAGREE] == {
        "one": 1,
        "other": 2,
        "by_length": f"{5300 / 2425:.2f}",
        "by_reading": f"{5300 / 4850:.2f}",
    }
    bound = TRUE_LENGTHS.copy()
    bound[1] += 0.012
    (outlier,) = [
        dict(note.places)
        for note in checked(bound).notes
        if note.kind is NoteKind.SPRING_OUTLIER
    ]
    by_hand = RATE * (FREE - bound[1])
    assert outlier["rope"] == 2
    assert outlier["by_length"] == force_text(by_hand)
    assert outlier["by_reading"] == force_text(4850.0)


def test_a_preload_is_not_pressed_out_of_the_spring_at_overload() -> None:
    rated = rated_tension(
        quantity(1500.0, Dimension.MASS),
        quantity(1000.0, Dimension.MASS),
        Roping.ONE_TO_ONE,
        6,
    )
    load = (1500 + 1250) * 9.80665 / 6
    for preload, by_hand in ((2000.0, 1 - (load - 2000) / 150 / 64), (9000.0, 1.0)):
        ropes = with_springs(
            rope_set(6), spring_preload=quantity(preload, Dimension.FORCE)
        )
        check = checked(TRUE_LENGTHS, forces=np.full(6, 5e3), ropes=ropes, rated=rated)
        assert check.springs[0].margin == pytest.approx(by_hand)
    assert checked(TRUE_LENGTHS).springs[0].margin is None


def test_a_set_of_shares_alone_tells_loads_by_length_only() -> None:
    outcome = check_springs(
        assessed(FORCES / 5000, is_absolute=False),
        readings(TRUE_LENGTHS),
        rope_set=rope_set(6),
        place=HitchPlace.CAR,
    )
    assert isinstance(outcome, SpringCheck)
    assert {one.by_reading for one in outcome.springs} == {None}
    assert outcome.slope is None
    assert [one.by_length for one in outcome.springs] == pytest.approx(list(FORCES))


def test_lengths_of_one_spring_are_averaged_and_of_other_places_left() -> None:
    length = Dimension.LENGTH
    twice = SpringReading(
        series="as found",
        rope=1,
        hitch=HitchPlace.CAR,
        lengths=(quantity(0.124, length), quantity(0.126, length)),
    )
    others = (
        replace(twice, rope=2, hitch=HitchPlace.COUNTERWEIGHT),
        replace(twice, rope=3, series="another"),
        replace(twice, rope=4, lengths=()),
    )
    outcome = check_springs(
        assessed(FORCES),
        (twice, *others),
        rope_set=rope_set(6),
        place=HitchPlace.CAR,
    )
    assert isinstance(outcome, SpringCheck)
    (one,) = outcome.springs
    assert one.rope == 1
    assert one.length == pytest.approx(0.125)
    assert "1 springs at the car" in outcome.summary()


def test_a_check_is_summed_up_by_what_contradicts() -> None:
    fine = checked(TRUE_LENGTHS).summary()
    assert fine == "6 springs at the car: no contradiction"
    lengths = TRUE_LENGTHS.copy()
    lengths[1] += 0.012
    assert checked(lengths).summary() == "6 springs at the car: spring-stands-out"
