"""Readings of one rope: all, a vote, or nothing, whatever their order."""

from collections.abc import Sequence
from dataclasses import replace
from math import exp, log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.assessment.decide import Verdict, assess_set
from tension.catalogue.rules import find_rule
from tension.installation import HitchPlace, Lift
from tension.measurement.combine import SetMeasurement
from tension.measurement.readings import (
    Reading,
    ReturnsReading,
    SpringReading,
)
from tension.measurement.repeats import (
    REPEATABILITY,
    HeardRound,
    merge_rounds,
    settle_readings,
)
from tension.measurement.series import measure_series
from tension.quantity.units import Dimension
from tension.sound.hearing import SetHearing
from tests.measurement.sets import (
    SERIES,
    hearing,
    ideal_fundamentals,
    pull,
    quantity,
    rope_set,
    spring_hitch,
)

LENGTH = 3.4

readings = st.lists(
    st.tuples(st.floats(-0.3, 0.3), st.floats(1e-4, 0.05)), min_size=1, max_size=7
)


@given(readings=readings, data=st.data())
def test_the_order_of_readings_changes_nothing(
    readings: list[tuple[float, float]], data: st.DataObject
) -> None:
    texts = [f"reading {i}" for i in range(len(readings))]
    rows = [(v, u, t) for (v, u), t in zip(readings, texts, strict=True)]
    moved = data.draw(st.permutations(rows))

    def told(rows: list[tuple[float, float, str]]) -> tuple[set[str], str, str]:
        values, own, names = (list(column) for column in zip(*rows, strict=True))
        settled = settle_readings(2, values, own, names)
        return (
            {names[i] for i in settled.used},
            settled.refusal.text if settled.refusal else "",
            "".join(note.text for note in settled.notes),
        )

    assert told(rows) == told(moved)


@given(readings=readings)
def test_what_counts_agrees_and_is_two_thirds_or_all(
    readings: list[tuple[float, float]],
) -> None:
    values, own = (list(column) for column in zip(*readings, strict=True))
    texts = [f"reading {i}" for i in range(len(values))]
    settled = settle_readings(2, values, own, texts)
    n_used = len(settled.used)
    assert n_used == 0 or 3 * n_used >= 2 * len(values)
    assert (settled.refusal is not None) == (n_used == 0)
    assert bool(settled.notes) == (0 < n_used < len(values))
    for i in settled.used:
        for j in settled.used:
            allowed = max(REPEATABILITY, 3 * np.hypot(own[i], own[j]))
            assert abs(values[i] - values[j]) <= allowed
    told = settled.notes[0] if settled.notes else settled.refusal
    if told is not None:
        assert all(text in told.text for text in texts)


def test_two_that_contradict_count_neither_and_a_third_decides() -> None:
    values = [0.0, 0.06]
    assert settle_readings(2, values, [0.002] * 2, ["a", "b"]).used == ()
    assert settle_readings(2, [*values, 0.001], [0.002] * 3, ["a", "b", "c"]).used == (
        0,
        2,
    )
    # a chain in which the ends do not agree has no majority
    chain = [0.0, 0.015, 0.03]
    assert settle_readings(2, chain, [1e-4] * 3, ["a", "b", "c"]).used == ()


def rounds_of(*every: dict[int, float], relative: float = 0.001) -> list[HeardRound]:
    """Rounds that read some ropes at these tensions; the first reads all."""
    numbers = sorted(every[0])
    found: list[HeardRound] = []
    for place, tensions in enumerate(every):
        full = np.array([(every[0] | tensions)[n] for n in numbers])
        heard = hearing(
            ideal_fundamentals(full, np.full(len(numbers), LENGTH)), relative
        )
        names = {n: f"round-{place + 1}/rope-{n}.m4a" for n in tensions}
        found.append((heard, names))
    return found


def measured(heard: SetHearing, n_ropes: int) -> SetMeasurement:
    return measure_series(
        rope_set=rope_set(n_ropes, staggers=[0.0] * n_ropes),
        lift=Lift(),
        series=SERIES,
        readings=[],
        hearing=heard,
    )


@given(
    n_ropes=st.integers(3, 8),
    wrong=st.integers(1, 3),
    seed=st.integers(0, 10_000),
)
def test_a_wrong_repeat_never_makes_an_unequal_set_equal(
    n_ropes: int, wrong: int, seed: int
) -> None:
    """As many recordings of other ropes under the wrong name as there may be."""
    rng = np.random.default_rng(seed)
    truth = {n + 1: float(t) for n, t in enumerate(rng.uniform(4200, 5800, n_ropes))}
    lowest, highest = min(truth.values()), max(truth.values())
    is_unequal = 1 - lowest / highest > 0.105
    extra = [
        {int(rope): truth[int(other)]}
        for rope, other in rng.integers(1, n_ropes + 1, size=(wrong, 2))
    ]
    found = measured(merge_rounds(rounds_of(truth, *extra)), n_ropes)
    verdict = assess_set(found, find_rule()).verdict
    n_of = [sum(rope in one for one in extra) for rope in truth]
    if is_unequal and max(n_of) == 1:
        assert verdict is not Verdict.EQUAL
    for one in extra:
        ((rope, tension),) = one.items()
        if n_of[rope - 1] == 1 and abs(log(tension / truth[rope])) > 0.021:
            refusal = found.ropes[rope - 1].refusal
            assert refusal is not None
            assert refusal.code == "readings-apart"
            assert f"round-1/rope-{rope}.m4a" in refusal.text


def test_the_majority_counts_and_the_other_is_told() -> None:
    truth = {1: 5000.0, 2: 4400.0, 3: 5000.0}
    heard = merge_rounds(rounds_of(truth, {2: 4404.0}, {2: 5000.0}))
    found = measured(heard, 3)
    assert found.given == (1, 2, 3)
    note = next(n for n in found.notes if n.code == "reading-outvoted")
    assert note.ropes == (2,)
    assert "not used: round-3/rope-2.m4a" in note.text
    shares = found.hypotheses[0].tensions
    assert shares[1] / shares[0] == pytest.approx(0.8804, rel=1e-3)


@given(move=st.floats(-0.08, 0.08), wrong=st.sampled_from([1.0, 1.07, 0.93]))
def test_a_move_of_all_ropes_between_rounds_is_no_contradiction(
    move: float, wrong: float
) -> None:
    """Somebody stepped on the car; a rope that moved by itself still stands out."""
    truth = {n: 5000.0 + 60.0 * n for n in range(1, 7)}
    second = {n: t * exp(move) for n, t in truth.items()}
    second[4] *= wrong
    found = measured(merge_rounds(rounds_of(truth, second)), 6)
    assert found.given == tuple(n for n in truth if n != 4 or wrong == 1.0)
    tensions = found.hypotheses[0].tensions
    assert tensions[0] / tensions[2] == pytest.approx(5060.0 / 5180.0, rel=1e-3)


def test_ropes_changed_over_between_rounds_are_named() -> None:
    truth = {1: 5000.0, 2: 4400.0, 3: 5600.0, 4: 5000.0}
    second = truth | {2: 5600.0, 3: 4400.0}
    found = measured(merge_rounds(rounds_of(truth, second)), 4)
    assert found.given == (1, 4)
    note = next(n for n in found.notes if n.code == "swapped-ropes")
    assert note.ropes == (2, 3)


def test_one_round_is_left_as_it_was_heard() -> None:
    (one,) = rounds_of({1: 5000.0, 2: 5100.0})
    assert merge_rounds([one]) is one[0]


def test_the_uncertainty_of_repeats_holds_what_it_says() -> None:
    """Scatter between recordings beyond what was heard is found and counted."""
    rng = np.random.default_rng(4)
    scores = []
    for _ in range(400):
        truth = np.full(6, 5000.0)
        every = [
            truth * np.exp(2 * rng.normal(0, [0.0005], 6) + rng.normal(0, 0.003, 6))
            for _ in range(2)
        ]
        rounds = rounds_of(
            *(dict(enumerate(one.tolist(), start=1)) for one in every), relative=0.0005
        )
        heard = merge_rounds(rounds)
        if len(heard.given) < 6:
            continue
        values = np.log(heard.hypotheses[0].fundamental_frequencies)
        contrast = np.zeros(6)
        contrast[:2] = 1.0, -1.0
        width = np.sqrt(contrast @ heard.covariance @ contrast)
        scores.append(float(contrast @ values / width))
    assert len(scores) > 380
    within = np.mean(np.abs(scores) < 2)
    # 400 draws of 95 %: 1.1 % is one standard deviation
    assert 0.90 < within < 0.985


def typed_set(*extra: Reading) -> SetMeasurement:
    """Three kinds on four equal ropes, and what else is read."""
    return measure_series(
        rope_set=replace(
            rope_set(4, staggers=[0.0] * 4, length=30.0, hitches=(spring_hitch(),)),
        ),
        lift=Lift(),
        series=SERIES,
        readings=extra,
    )


def test_typed_readings_contradict_each_other_likewise() -> None:
    kinds: dict[str, tuple[Sequence[Reading], list[str]]] = {
        "pull": (
            [pull(n, [147.0 if n != 2 else 95.0], (0.2,)) for n in (1, 2, 3)]
            + [pull(2, [147.0], (0.2,))],
            ["95.0", "147.0"],
        ),
        "returns": (
            [returns(n, [2.0, 2.01]) for n in (1, 3)] + [returns(2, [2.0, 2.6])],
            ["2.0", "2.6"],
        ),
        "spring": (
            [spring(n, [0.112]) for n in (1, 3)]
            + [spring(2, [0.112]), spring(2, [0.124])],
            ["0.112", "0.124"],
        ),
    }
    for name, (typed, figures) in kinds.items():
        for order in (typed, typed[::-1]):
            found = typed_set(*order)
            assert found.given == (1, 3), name
            refusal = found.ropes[1].refusal
            assert refusal is not None
            assert refusal.code == "readings-apart"
            assert all(figure in refusal.text for figure in figures), refusal.text


def returns(rope: int, elapsed: list[float]) -> ReturnsReading:
    return ReturnsReading(
        series="as found",
        rope=rope,
        count=3,
        elapsed=tuple(quantity(e, Dimension.TIME) for e in elapsed),
    )


def spring(rope: int, lengths: list[float]) -> SpringReading:
    return SpringReading(
        series="as found",
        rope=rope,
        hitch=HitchPlace.CAR,
        lengths=tuple(quantity(x) for x in lengths),
    )
