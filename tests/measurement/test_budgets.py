"""The budget of each kind of reading, line by line, as it is worked out on paper."""

from dataclasses import replace
from math import hypot, sqrt

import numpy as np
import pytest

from tension.installation import Hitch, HitchEnd, HitchPlace, Lift, RopeSet
from tension.measurement.combine import Premise, SetMeasurement
from tension.measurement.pulls import _best, _Pulled, _Pulls
from tension.measurement.readings import ReturnsReading
from tension.measurement.repeats import coverage_widening
from tension.measurement.rope_figures import LengthKnowledge, Site
from tension.measurement.series import measure_series
from tension.measurement.stiffness import StretchCase, find_stretch_cases
from tension.quantity.units import Dimension
from tests.measurement.sets import (
    DENSITY,
    GRAVITY,
    SERIES,
    find_rope_figures,
    hearing,
    ideal_fundamentals,
    measured,
    pull,
    quantity,
    rope_set,
    span,
    spring_hitch,
)

LENGTH = 3.0


def budget(found: SetMeasurement, number: int = 1) -> dict[str, float]:
    """Sources of one rope by name."""
    tension = found.ropes[number - 1].tension
    assert tension is not None
    return {source.name: source.relative for source in tension.sources}


def limp(*hitches: Hitch) -> RopeSet:
    """Ropes too thin to be stiff."""
    return rope_set(4, length=LENGTH, one_height=True, hitches=hitches, diameter=5e-5)


def test_a_pull_has_its_budget_by_the_part_that_it_made() -> None:
    ropes = limp(spring_hitch())
    told = ropes.uncertainties
    (case,) = find_stretch_cases(ropes, span(LENGTH), LENGTH)
    deflection, force = 0.05, 350.0
    side = hypot(1.5, deflection)
    during = force * side / (2 * deflection)
    made = case.stiffnesses[0] * 2 * (side - 1.5)
    tension = during - made - DENSITY * GRAVITY * 1.5
    by_force = during / tension
    by_deflection = (during + 2 * made) / tension
    found = measured(ropes, [pull(n, [force], [deflection]) for n in (1, 2, 3, 4)])
    assert found.hypotheses[0].tensions == pytest.approx([tension] * 4, rel=1e-5)
    read = hypot(by_force * told.scale, by_deflection * told.deflection / deflection)
    wanted = {
        # eight degrees of freedom, and no repeat
        "pull readings": read * coverage_widening(8.0),
        "place and direction of the pull": by_force * told.placement,
        "free length": (2 * by_force - 1) * told.free_length / LENGTH,
        "spring of this rope": (by_force - 1) * case.own_uncertainty,
        "scale": by_force * told.scale,
        "deflection of all pulls": by_deflection * told.deflection_common / deflection,
        "free length of the set": told.free_length / LENGTH,
    }
    told_of = budget(found)
    assert {n: told_of[n] for n in wanted} == pytest.approx(wanted, rel=1e-3)
    own = list(wanted.values())[:4]
    assert sqrt(found.covariance[0, 0]) == pytest.approx(hypot(*own), rel=1e-3)
    assert found.covariance[0, 1] == pytest.approx(0.0, abs=1e-9)


def test_pulls_of_other_deflections_do_not_share_all_errors() -> None:
    ropes = limp(spring_hitch())
    asides = (0.02, 0.03, 0.04, 0.05)
    (case,) = find_stretch_cases(ropes, span(LENGTH), LENGTH)
    readings, rows = [], []
    for n, aside in enumerate(asides, start=1):
        side = hypot(1.5, aside)
        made = case.stiffnesses[0] * 2 * (side - 1.5)
        tension = 5000.0
        during = tension + made + DENSITY * GRAVITY * 1.5
        readings.append(pull(n, [during * 2 * aside / side], [aside]))
        told = ropes.uncertainties
        by_ruler = (during + 2 * made) / tension / aside * told.deflection_common
        rows.append((during / tension * told.scale, by_ruler))
    found = measured(ropes, readings)
    apart = np.array(rows) - np.mean(rows, axis=0)
    between = apart @ apart.T
    # of the stretch, each stiffness moves a rope by its own part
    parts = np.array([2 * (hypot(1.5, a) - 1.5) / 5000.0 for a in asides])
    stretch = np.array(case.stiffnesses)[:, None] * parts
    away = np.log(1 - (stretch - stretch[0]))
    unlike = away - away.mean(axis=1, keepdims=True)
    between += unlike.T @ unlike / 5 / QUANTILE_VARIANCE
    assert found.covariance[0, 1] == pytest.approx(between[0, 1], rel=2e-2)
    assert found.covariance[0, 3] == pytest.approx(between[0, 3], rel=2e-2)
    assert budget(found, 1)["shared errors, rope against rope"] == pytest.approx(
        sqrt(between[0, 0]), rel=2e-2
    )


QUANTILE_VARIANCE = 2 * (0.5244005**2 + 1.2815516**2) / 5
"""Of a normal distribution at its tenths 5, 3, 7, 1 and 9."""


def pulls(**changed: object) -> _Pulls:
    """Three pulls of a rope under two stiffnesses, in round numbers."""
    known: dict[str, object] = {
        "number": 1,
        "free_length": 3.0,
        "cases": (
            StretchCase(
                premise=Premise.NOTHING,
                weight=1.0,
                stiffnesses=(100e3, 0.0),
                own_uncertainty=0.05,
            ),
        ),
        "deflections": np.array([0.02, 0.02, 0.04]),
        "doubts": np.array([0.1, 0.1, 0.05]),
        "groups": np.array([0, 0, 1.0]),
        "during": np.array([1000.0, 1000.0, 1000.0]),
        "elongations": np.array([0.002, 0.002, 0.008]),
        "weights": np.array([-10.0, -10.0, -10.0]),
        "by_bending": np.zeros(3),
    }
    return _Pulls(**(known | changed))  # type: ignore[arg-type]


def test_a_tension_is_what_the_pull_did_not_make() -> None:
    one = pulls()
    assert one.tensions == pytest.approx(
        np.array([[790.0, 790.0, 190.0], [990.0, 990.0, 990.0]])
    )
    assert one.by_force[0] == pytest.approx(1000 / np.array([790.0, 790.0, 190.0]))
    assert one.by_deflection[0] == pytest.approx(
        np.array([1400 / 790, 1400 / 790, 2600 / 190])
    )
    assert one.relative(0.03)[1] == pytest.approx(
        np.hypot(0.03, [0.1, 0.1, 0.05]) / 0.99
    )
    # the two of one deflection err together: half of a third, twice
    parts = np.array([1400 / 790 * 0.1, 1400 / 790 * 0.1])
    assert one.shared_deflection(0) == pytest.approx(parts.sum() / 3)
    assert pulls(groups=np.array([0.0, 1.0, 2.0])).shared_deflection(0) == 0.0
    both = pulls(groups=np.zeros(3))
    assert both.shared_deflection(1) == pytest.approx(0.25 / 0.99 / 3)


@pytest.mark.parametrize(
    ("elongation", "is_slack"), [(0.00969, False), (0.00971, True)]
)
def test_a_rope_of_two_hundredths_of_its_pull_is_slack(
    elongation: float,
    is_slack: bool,  # noqa: FBT001
) -> None:
    # 1000 N less 969 N and 10 N are 21 N, of which 20 N are the least
    one = pulls(elongations=np.array([0.002, 0.002, elongation]))
    assert bool(np.isnan(one.tensions[0, 2])) is is_slack


def test_the_stiffness_is_that_under_which_repeats_agree() -> None:
    assert pulls().agreeing() == 1
    alike = pulls(elongations=np.full(3, 0.002))
    assert alike.agreeing() == 0  # the first of those that agree as well
    assert pulls(weights=np.full(3, -1000.0)).agreeing() is None
    for scatter, first in ((0.9e-3, 0), (1.1e-3, 1)):
        # ln T scatters by so much under the first and not at all under the second
        spread = 790.0 * np.exp(scatter * np.array([1.2247449, 0.0, -1.2247449]))
        near = pulls(elongations=(990.0 - spread) / 100e3)
        assert near.agreeing() == first


def test_the_best_case_is_the_middle_of_the_likeliest_premise() -> None:
    premises = [Premise.SPRINGS, Premise.SPRINGS, Premise.NO_SPRINGS, Premise.SPRINGS]
    logs = np.log(np.array([[30.0], [10.0], [99.0], [20.0]]))
    assert _best(premises, logs, np.array([0.2, 0.2, 0.4, 0.2])) == 3
    assert _best(premises, logs, np.array([0.1, 0.1, 0.7, 0.1])) == 2
    # half of the chance is reached in the middle, to the last digit
    assert _best(premises[:2], logs[:2], np.array([0.5, 0.5])) == 1


def by_plucks(
    tensions: np.ndarray, *, staggers: list[float | None] | None = None
) -> SetMeasurement:
    """Plucks of limp ropes of 3 m, 0.1 % each."""
    lengths = np.full(len(tensions), LENGTH) + np.array(
        [0.0 if s is None else s for s in staggers or [None] * len(tensions)]
    )
    return measure_series(
        rope_set=rope_set(
            len(tensions), length=LENGTH, staggers=staggers or (), one_height=True
        ),
        lift=Lift(),
        series=SERIES,
        readings=[],
        hearing=hearing(ideal_fundamentals(tensions, lengths), 0.001),
    )


def test_a_pluck_has_its_budget_by_frequency_and_length() -> None:
    found = by_plucks(np.array([5000.0, 4500.0, 5500.0]))
    told = rope_set().uncertainties
    hang = DENSITY * GRAVITY * LENGTH / 2
    for number, tension in ((1, 5000.0), (2, 4500.0), (3, 5500.0)):
        by_frequency = 2 * (tension + hang) / tension
        by_length = (2 * (tension + hang) - hang) / tension
        wanted = {
            "plucks": by_frequency * 0.001,
            "free length": by_length * told.free_length / LENGTH,
            "bending unlike the others": 0.0,
            "linear density": told.linear_density,
        }
        told_of = budget(found, number)
        assert {n: told_of[n] for n in wanted} == pytest.approx(
            wanted, rel=1e-4, abs=1e-6
        )
        place = found.given.index(number)
        own = hypot(wanted["plucks"], wanted["free length"])
        assert sqrt(found.covariance[place, place]) == pytest.approx(own, rel=1e-4)
    assert found.free_lengths == (LENGTH,) * 3
    assert found.ropes[0].fundamental is not None
    assert found.ropes[0].fundamental.relative_uncertainty() == pytest.approx(0.001)
    shared = budget(found)["free length of the set"]
    mean = np.mean(
        [(2 * (t + hang) - hang) / t / LENGTH for t in (5000.0, 4500.0, 5500.0)]
    )
    assert shared == pytest.approx(float(mean) * told.free_length, rel=1e-4)


def test_lengths_of_every_rope_are_known_one_by_one() -> None:
    found = by_plucks(np.array([5000.0, 5000.0]), staggers=[0.0, 0.15])
    assert found.lengths is LengthKnowledge.PER_ROPE
    assert found.free_lengths == pytest.approx((3.0, 3.15))
    assert found.hypotheses[0].tensions == pytest.approx([5000.0, 5000.0], rel=1e-5)


def returns(rope: int, elapsed: list[float], count: int) -> ReturnsReading:
    return ReturnsReading(
        series="as found",
        rope=rope,
        count=count,
        elapsed=tuple(quantity(e, Dimension.TIME) for e in elapsed),
    )


@pytest.mark.parametrize("count", [1, 5, 10])
def test_returns_have_their_budget_by_the_stopwatch(count: int) -> None:
    length = 60.0
    ropes = replace(
        rope_set(2, length=length, one_height=True, diameter=5e-5),
        spans=(span(length, HitchEnd.UPPER),),
    )
    told = ropes.uncertainties
    half = GRAVITY * length / 2
    squared = 5000.0 / DENSITY - half  # in the middle, the hitch above
    # 2 L/(c_lower + c_upper) once, twice for a return
    once = 2 * length / (sqrt(squared - half) + sqrt(squared + half))
    elapsed = 2 * once * count
    one = 2 * told.stopwatch / elapsed
    found = measured(ropes, [returns(n, [elapsed], count) for n in (1, 2)])
    if one > 0.1:
        assert found.given == ()
        return
    assert found.hypotheses[0].tensions == pytest.approx([5000.0] * 2, rel=1e-4)
    wanted = {
        "stopwatch": one * coverage_widening(5.0),
        "free length": 2 * told.free_length / length,
        "free length of the set": 2 * told.free_length / length,
        "linear density": told.linear_density,
    }
    told_of = budget(found)
    assert {n: told_of[n] for n in wanted} == pytest.approx(wanted, rel=1e-6)


def test_bending_under_a_stopwatch_is_that_between_loose_and_bonded() -> None:
    length, elapsed, count = 20.0, 4.4, 10
    ropes = rope_set(2, length=length, one_height=True, diameter=0.013)
    found = measured(ropes, [returns(n, [elapsed], count) for n in (1, 2)])
    bounds = find_rope_figures(ropes).rigidity_per_density
    logs = []
    for rigidity in (bounds.lowest, bounds.highest):
        # one clamped end turns the hump a bending length, sqrt(b)/c, early
        way = elapsed / count / 2
        speed = (length + sqrt(length**2 - 4 * sqrt(rigidity) * way)) / 2 / way
        half = GRAVITY * length / 2
        logs.append(np.log(speed**2 + half**2 / (4 * speed**2) - half))
    wanted = (logs[0] - logs[1]) / sqrt(24.0)
    assert budget(found)["bending stiffness"] == pytest.approx(wanted, rel=1e-6)
    assert found.is_absolute


def test_a_hitch_of_its_own_place_is_told_in_words() -> None:
    place = replace(spring_hitch(), at=HitchPlace.DEAD_END_CAR)
    assert find_stretch_cases(limp(place), span(LENGTH), LENGTH)[0].weight == 1.0


def test_stiffnesses_are_weighed_by_how_well_repeats_agree() -> None:
    site = Site.of(limp(spring_hitch()), span(LENGTH))
    scale = site.rope_set.uncertainties.scale
    for factor in (0.02, 0.5):
        # repeats that scatter by so many times what is declared
        spread = 790.0 * np.exp(0.05 * factor * np.array([1.0, 0.0, -1.0]))
        one = pulls(elongations=(990.0 - spread) / 100e3)
        pulled = _Pulled(ropes=[one], site=site)
        logs = np.log(one.tensions)
        away = (logs - logs.mean(axis=1, keepdims=True)) / one.relative(scale)
        misfits = (away**2).sum(axis=1)
        # of three repeats two are spare; the case is of two alike
        scatter = max(1.0, misfits.min() / 2)
        wanted = np.exp(-misfits / 2 / scatter)
        found = pulled.weights([0, 1])
        assert found == pytest.approx(wanted / wanted.sum(), rel=1e-9)
        assert pulled.weights([1]) == pytest.approx([1.0])
    apart = pulls(during=np.array([900.0, 1000.0, 1100.0]))
    both = _Pulled(ropes=[apart, apart], site=site)
    logs = np.log(apart.tensions)
    away = (logs - logs.mean(axis=1, keepdims=True)) / apart.relative(scale)
    misfits = 2 * (away**2).sum(axis=1)
    wanted = np.exp(-misfits / 2 / max(1.0, misfits.min() / 4))
    assert both.weights([0, 1]) == pytest.approx(wanted / wanted.sum(), rel=1e-9)
