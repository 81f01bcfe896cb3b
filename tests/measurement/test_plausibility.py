"""What was measured against mass, stagger and rounds."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from tension.installation import HitchPlace, Lift, Roping, Side, Span
from tension.measurement.combine import SetMeasurement
from tension.measurement.readings import ReturnsReading, SpringReading
from tension.measurement.series import doubt_rounds, measure_series
from tension.quantity.units import Dimension
from tension.sound.hearing import Pluck
from tests.measurement.sets import (
    GRAVITY,
    SERIES,
    TENSIONS,
    hearing,
    ideal_fundamentals,
    pull,
    quantity,
    rope_set,
    span,
    spring_hitch,
)
from tests.noted import codes

LEVEL = np.full(4, 3.4)
MASS = float(TENSIONS.sum()) / GRAVITY


def measured(
    fundamentals: np.ndarray,
    lift: Lift,
    staggers: Sequence[float | None] = (),
) -> SetMeasurement:
    return measure_series(
        rope_set=rope_set(one_height=not staggers, staggers=staggers),
        lift=lift,
        series=SERIES,
        readings=[],
        hearing=hearing(fundamentals),
    )


def lift(mass: float, roping: Roping = Roping.ONE_TO_ONE) -> Lift:
    return Lift(roping=roping, car_mass=quantity(mass, Dimension.MASS))


def mass_notes(found: SetMeasurement) -> list[str]:
    return [n.text for n in found.notes if n.code.startswith("mass-ratio")]


def test_a_sum_that_fits_the_mass_raises_nothing() -> None:
    fundamentals = ideal_fundamentals(TENSIONS, LEVEL)
    assert mass_notes(measured(fundamentals, lift(MASS))) == []
    assert mass_notes(measured(fundamentals, lift(1.1 * MASS))) == []
    assert mass_notes(measured(fundamentals, lift(2 * MASS, Roping.TWO_TO_ONE))) == []


@pytest.mark.parametrize(
    ("factor", "ratio", "meaning"),
    [
        (2.0, "4.00", "twice its place"),
        (1.5, "2.25", "two partials taken for three"),
        (0.5, "0.25", "half its place"),
        (2 / 3, "0.44", "three partials taken for two"),
    ],
)
def test_miscounted_partials_are_named_by_their_ratio(
    factor: float, ratio: str, meaning: str
) -> None:
    fundamentals = factor * ideal_fundamentals(TENSIONS, LEVEL)
    (text,) = mass_notes(measured(fundamentals, lift(MASS)))
    assert meaning in text
    assert abs(float(text.split(" times it")[0].split()[-1]) - float(ratio)) < 0.03


def test_a_wrong_roping_ratio_is_named() -> None:
    fundamentals = ideal_fundamentals(TENSIONS, LEVEL)
    (text,) = mass_notes(measured(fundamentals, lift(MASS, Roping.TWO_TO_ONE)))
    assert "another roping ratio than the record says, or a mass that is half" in text
    (text,) = mass_notes(measured(fundamentals, lift(2 * MASS)))
    assert "a mass that is double" in text


def test_any_other_misfit_is_told_without_a_guess() -> None:
    fundamentals = ideal_fundamentals(TENSIONS, LEVEL)
    (text,) = mass_notes(measured(fundamentals, lift(MASS / 1.4)))
    assert text.endswith("1.40 times it.")


def test_the_other_side_has_its_own_mass() -> None:
    found = measure_series(
        rope_set=replace(
            rope_set(one_height=True),
            spans=(replace(span(), side=Side.COUNTERWEIGHT),),
        ),
        lift=lift(MASS / 4),
        series=SERIES,
        readings=[],
        hearing=hearing(ideal_fundamentals(TENSIONS, LEVEL)),
    )
    assert mass_notes(found) == []


def test_a_forgotten_stagger_shows_as_two_rows() -> None:
    equal = np.array([5000.0, 5020.0, 4990.0, 5010.0])
    lengths = np.array([3.4, 3.55, 3.4, 3.55])
    found = measured(ideal_fundamentals(equal, lengths), Lift())
    note = next(n for n in found.notes if n.code == "stagger-pattern")
    assert note.ropes == (1, 3)


def test_one_tight_rope_is_no_row() -> None:
    tight = np.array([5000.0, 5010.0, 5800.0, 4990.0])
    found = measured(ideal_fundamentals(tight, LEVEL), Lift())
    assert "stagger-pattern" not in codes(found)


def test_a_stagger_of_the_wrong_sign_follows_the_lengths() -> None:
    equal = np.array([5000.0, 5010.0, 4995.0, 5005.0])
    lengths = np.array([3.4, 3.25, 3.4, 3.25])
    entered = [None, 0.15, None, 0.15]
    found = measured(ideal_fundamentals(equal, lengths), Lift(), entered)
    assert "length-pattern" in codes(found)
    right = measured(
        ideal_fundamentals(equal, np.array([3.4, 3.55, 3.4, 3.55])), Lift(), entered
    )
    assert "length-pattern" not in codes(right)


def test_all_ropes_moving_together_between_rounds_is_told() -> None:
    still = [pull(n, [147.0, 147.5, 146.5]) for n in (1, 2, 3, 4)]
    moved = [pull(n, [147.0, 151.0, 155.0]) for n in (1, 2, 3, 4)]
    found = [
        measure_series(
            rope_set=rope_set(one_height=True),
            lift=Lift(),
            series=SERIES,
            readings=readings,
        )
        for readings in (still, moved)
    ]
    assert "moved-together" not in codes(found[0])
    assert "moved-together" in codes(found[1])


def test_plucks_that_move_together_are_told_too() -> None:
    heard = hearing(ideal_fundamentals(TENSIONS, LEVEL))
    ropes = tuple(
        replace(
            rope,
            plucks=tuple(
                Pluck(
                    recording="all.m4a",
                    index=i + 1,
                    start=10.0 * i,
                    end=10.0 * i + 5,
                    is_used=True,
                    fundamental_frequency=rope.fundamental_frequency * (1 + 0.02 * i),
                )
                for i in range(2)
            ),
        )
        for rope in heard.ropes
    )
    found = measure_series(
        rope_set=rope_set(one_height=True),
        lift=Lift(),
        series=SERIES,
        readings=[],
        hearing=replace(heard, ropes=ropes),
    )
    note = next(n for n in found.notes if n.code == "moved-together")
    assert "+4.0 %" in note.text


def test_two_ropes_changed_over_between_rounds_are_named() -> None:
    first, last = [147.0, 140.0, 155.0, 148.0], [147.2, 155.3, 139.8, 147.7]
    swapped = [
        pull(i + 1, [a, b]) for i, (a, b) in enumerate(zip(first, last, strict=True))
    ]
    scattered = [
        pull(i + 1, [a, a * (1.06 if i == 1 else 1.0)]) for i, a in enumerate(first)
    ]
    found = [
        measure_series(
            rope_set=rope_set(one_height=True),
            lift=Lift(),
            series=SERIES,
            readings=readings,
        )
        for readings in (swapped, scattered)
    ]
    note = next(n for n in found[0].notes if n.code == "swapped-ropes")
    assert note.ropes == (2, 3)
    assert "swapped-ropes" not in codes(found[1])


TWICE = np.array([5300.0, 4850.0, 5150.0, 4700.0, 4950.0])


def files(tensions: np.ndarray) -> SetMeasurement:
    """As many files, each taken for a rope of its own."""
    lengths = np.full(len(tensions), 3.4)
    return measure_series(
        rope_set=rope_set(len(tensions), one_height=True),
        lift=Lift(),
        series=SERIES,
        readings=[],
        hearing=hearing(ideal_fundamentals(tensions, lengths)),
    )


@pytest.mark.parametrize(
    ("tensions", "order"),
    [
        (np.tile(TWICE[:3], 2), "1 2 3 1 2 3"),
        (np.concatenate([TWICE, TWICE[::-1]]), "1 2 3 4 5 5 4 3 2 1"),
        (np.repeat(TWICE[:3], 3), "1 1 1 2 2 2 3 3 3"),
    ],
)
def test_files_that_sound_like_rounds_are_doubted(
    tensions: np.ndarray, order: str
) -> None:
    measured = files(tensions * (1 + 0.003 * np.sin(np.arange(len(tensions)))))
    doubted = doubt_rounds(measured)
    (doubt,) = doubted.doubts
    assert doubt.code == "rounds-as-ropes"
    n = len(tensions)
    plain = " ".join(str(rope) for rope in range(1, n + 1))
    assert f'--order "{order}" if it is so' in doubt.next_act
    assert f'--order "{plain}" if they are {n} ropes' in doubt.next_act
    n_ropes = len(set(order.split()))
    assert f"{n // n_ropes} rounds over {n_ropes} ropes" in doubt.text
    assert doubted.notes == (*measured.notes, doubt)


@pytest.mark.parametrize(
    "tensions",
    [
        np.tile(TWICE[:2], 2),  # two ropes twice look like sockets in two rows
        np.full(6, 5000.0),  # equal ropes fit every order
        np.tile(TWICE[:3], 2) * np.array([1, 1, 1, 1, 1, 1.02]),
        TWICE,
    ],
)
def test_files_that_fit_no_rounds_are_ropes(tensions: np.ndarray) -> None:
    measured = files(tensions)
    assert doubt_rounds(measured) is measured


def test_rows_of_the_hitch_are_told_by_their_numbers() -> None:
    equal = np.array([5000.0, 5020.0, 4990.0, 5010.0])
    lengths = np.array([3.4, 3.4, 3.55, 3.55])
    rows = replace(spring_hitch(), rows=((3, 4), (1, 2)))
    found = measure_series(
        rope_set=rope_set(one_height=True, hitches=(rows,)),
        lift=Lift(),
        series=SERIES,
        readings=[],
        hearing=hearing(ideal_fundamentals(equal, lengths)),
    )
    note = next(n for n in found.notes if n.code == "stagger-pattern")
    assert note.ropes == (1, 2)
    assert [doubt.code for doubt in found.doubts] == ["stagger-pattern"]
    other = replace(rows, at=HitchPlace.COUNTERWEIGHT)
    found = measure_series(
        rope_set=rope_set(one_height=True, hitches=(other,)),
        lift=Lift(),
        series=SERIES,
        readings=[],
        hearing=hearing(ideal_fundamentals(equal, lengths)),
    )
    assert found.doubts == ()


def test_a_step_that_no_stagger_makes_is_no_row() -> None:
    # 0.3 m of 3.4 m makes 18 % at most
    apart = np.array([6200.0, 5000.0, 6180.0, 5020.0])
    found = measured(ideal_fundamentals(apart, LEVEL), Lift())
    assert found.doubts == ()
    near = measured(
        ideal_fundamentals(np.array([5800, 5000, 5790, 5010.0]), LEVEL), Lift()
    )
    assert [doubt.code for doubt in near.doubts] == ["stagger-pattern"]


def test_two_ropes_timed_in_each_others_place_are_named() -> None:
    times = [(6.46, 6.46), (6.30, 6.72), (6.72, 6.31)]
    readings = [
        ReturnsReading(
            series="as found",
            rope=i + 1,
            count=5,
            elapsed=tuple(quantity(t, Dimension.TIME) for t in both),
        )
        for i, both in enumerate(times)
    ]
    found = measure_series(
        rope_set=rope_set(3, one_height=True, length=60.0),
        lift=Lift(),
        series=SERIES,
        readings=readings,
    )
    note = next(n for n in found.notes if n.code == "swapped-ropes")
    assert note.ropes == (2, 3)


@pytest.mark.parametrize("spans", [(), (span(),)])
def test_springs_alone_tell_the_side_whose_mass_they_carry(
    spans: tuple[Span, ...],
) -> None:
    def noted(*places: HitchPlace) -> list[str]:
        readings = [
            SpringReading(
                series="as found", rope=n, hitch=place, lengths=(quantity(0.128),)
            )
            for n, place in enumerate([*places] * (4 // len(places)), start=1)
        ]
        hitches = tuple(replace(spring_hitch(), at=at) for at in places)
        # 4800 N each, where the car makes half of it
        found = measure_series(
            rope_set=replace(rope_set(hitches=hitches), spans=spans),
            lift=lift(2 * 4800.0 / GRAVITY),
            series=SERIES,
            readings=readings,
        )
        return mass_notes(found)

    (note,) = noted(HitchPlace.CAR)
    assert "2.00 times" in note
    assert noted(HitchPlace.COUNTERWEIGHT) == []
    # of both the car side is told, a rope without a number at the mean of the others
    (note,) = noted(HitchPlace.CAR, HitchPlace.COUNTERWEIGHT)
    assert "2.00 times" in note


def test_no_mass_is_held_against_nothing() -> None:
    fundamentals = ideal_fundamentals(TENSIONS, LEVEL)
    assert mass_notes(measured(fundamentals, lift(0.0))) == []


def test_quick_returns_that_move_together_are_told() -> None:
    readings = [
        ReturnsReading(
            series="as found",
            rope=n,
            count=1,
            elapsed=tuple(quantity(t, Dimension.TIME) for t in (0.90, 0.85)),
        )
        for n in (1, 2, 3)
    ]
    found = measure_series(
        rope_set=rope_set(3, one_height=True, length=60.0),
        lift=Lift(),
        series=SERIES,
        readings=readings,
    )
    note = next(n for n in found.notes if n.code == "moved-together")
    assert "+11.4 %" in note.text
