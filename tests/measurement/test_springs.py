"""Spring lengths: tension by rate and compression, and when they tell nothing."""

from dataclasses import replace

import numpy as np
import pytest

from tension.catalogue.ropes import find_shear_modulus
from tension.installation import Hitch, HitchPlace, Side
from tension.measurement.readings import SpringReading
from tension.measurement.rope_figures import LengthKnowledge
from tension.measurement.stiffness import RateFrom, find_spring_rate
from tension.quantity.units import Dimension
from tests.measurement.sets import (
    measured,
    pull,
    quantity,
    rope_set,
    span,
    spring_hitch,
)
from tests.noted import codes


def spring(
    rope: int, lengths: list[float], hitch: HitchPlace = HitchPlace.CAR
) -> SpringReading:
    return SpringReading(
        series="as found",
        rope=rope,
        hitch=hitch,
        lengths=tuple(quantity(length) for length in lengths),
    )


def test_rate_times_compression() -> None:
    rope = rope_set(hitches=(spring_hitch(),))
    # 150 N/mm over 48 mm and 32 mm
    found = measured(rope, [spring(1, [0.112]), spring(2, [0.128])])
    assert list(found.hypotheses[0].tensions) == pytest.approx([7200.0, 4800.0])
    assert found.is_absolute
    assert found.lengths is LengthKnowledge.NOT_NEEDED


def both_hitches() -> tuple[Hitch, ...]:
    return spring_hitch(), replace(spring_hitch(), at=HitchPlace.COUNTERWEIGHT)


@pytest.mark.parametrize(("rope", "fall"), [(38.0, 34.6), (None, None), (3.0, None)])
def test_springs_alone_tell_of_their_own_side_where_the_car_stands(
    rope: float | None, fall: float | None
) -> None:
    ropes = replace(
        rope_set(hitches=both_hitches()),
        rope_length=None if rope is None else quantity(rope),
        spans=(replace(span(), position="top"),),
    )
    far = HitchPlace.DEAD_END_COUNTERWEIGHT
    hitches = (*ropes.hitches, replace(spring_hitch(), at=far))
    found = measured(
        replace(ropes, hitches=hitches),
        [spring(1, [0.112], HitchPlace.COUNTERWEIGHT), spring(2, [0.128], far)],
    )
    assert list(found.hypotheses[0].tensions) == pytest.approx([7200.0, 4800.0])
    assert found.span is not None
    assert (found.span.side, found.span.position) == (Side.COUNTERWEIGHT, "top")
    length = found.span.free_length
    assert (length.value if length else None) == (fall and pytest.approx(fall))
    assert found.lengths is LengthKnowledge.NOT_NEEDED
    assert np.isnan(found.free_lengths).all()


def test_springs_of_the_other_side_are_not_mixed_in() -> None:
    ropes = rope_set(hitches=both_hitches(), length=10.0)
    pulls = [pull(n, [50.0, 50.5]) for n in (1, 2)]
    far = [spring(n, [0.112], HitchPlace.COUNTERWEIGHT) for n in (1, 2, 3)]
    found, alone = measured(ropes, [*pulls, *far]), measured(ropes, pulls)
    assert found.given == alone.given == (1, 2)
    assert list(found.hypotheses[0].tensions) == list(alone.hypotheses[0].tensions)
    assert found.span == ropes.spans[0]
    refusal = found.ropes[2].refusal
    assert refusal is not None
    assert refusal.code == "sides-not-mixed"
    assert [note.code for note in found.ropes[0].notes] == ["sides-not-mixed"]
    assert "springs at the counterweight [[hitch]] are of the other" in refusal.text
    # at one's own side springs are mixed in as before
    near = measured(ropes, [*pulls, spring(3, [0.112])])
    assert near.given == (1, 2, 3)
    # at both hitches without a span the car side is told
    both = [spring(1, [0.112]), spring(2, [0.112], HitchPlace.COUNTERWEIGHT)]
    assert measured(replace(ropes, spans=()), both).given == (1,)


def test_springs_differ_by_their_rates_more_than_a_calliper_reads() -> None:
    rope = rope_set(hitches=(spring_hitch(),))
    found = measured(rope, [spring(1, [0.112])])
    # 5 % between springs; 0.5 mm twice over 48 mm is 1.5 %
    wanted = np.hypot(0.05, 0.0005 * np.sqrt(2) / 0.048)
    assert np.sqrt(found.covariance[0, 0]) == pytest.approx(wanted, rel=1e-9)


def test_rate_from_wire_and_coil() -> None:
    hitch = Hitch(
        at=HitchPlace.CAR,
        spring_wire=quantity(0.016),
        spring_coil=quantity(0.056),
        spring_active_coils=8.0,
        spring_free_length=quantity(0.200),
        spring_material="music wire",
    )
    found = measured(rope_set(hitches=(hitch,)), [spring(1, [0.190])])
    # own arithmetic: 79.3 GPa 16^4/(8 56^3 8) = 462 N/mm, 10 mm
    assert found.hypotheses[0].tensions[0] == pytest.approx(4620.0, rel=2e-3)


@pytest.mark.parametrize(
    ("length", "code"),
    [
        (0.096, "spring-solid"),
        (0.160, "spring-unloaded"),
        (0.161, "spring-unloaded"),
    ],
)
def test_a_spring_that_cannot_tell_is_refused(length: float, code: str) -> None:
    rope = rope_set(hitches=(spring_hitch(),))
    found = measured(rope, [spring(1, [length]), spring(2, [0.12])])
    refusal = found.ropes[0].refusal
    assert refusal is not None
    assert refusal.code == code
    assert found.given == (2,)


def test_without_rate_or_free_length_there_is_no_tension() -> None:
    bare = Hitch(at=HitchPlace.CAR)
    found = measured(rope_set(hitches=(bare,)), [spring(1, [0.112])])
    assert found.ropes[0].refusal is not None
    assert found.ropes[0].refusal.code == "spring-rate-unknown"
    no_length = replace(spring_hitch(), spring_free_length=None)
    found = measured(rope_set(hitches=(no_length,)), [spring(1, [0.112])])
    assert found.ropes[0].refusal is not None
    assert found.ropes[0].refusal.code == "spring-free-length"


def pressed(loads: tuple[float, float], lengths: tuple[float, float]) -> Hitch:
    return replace(
        spring_hitch(),
        spring_rate=None,
        spring_loads=tuple(quantity(load, Dimension.FORCE) for load in loads),
        spring_lengths=tuple(quantity(length) for length in lengths),
    )


def test_rate_from_two_loads() -> None:
    hitch = pressed((2000.0, 5000.0), (0.147, 0.127))
    found = find_spring_rate(hitch)
    assert found is not None
    # 3000 N over 20 mm; 2 % of 5 kN on either load, 0.5 mm on either length
    assert found.value == pytest.approx(150e3, rel=1e-9)
    wanted = np.sqrt(2) * np.hypot(100 / 3000, 0.5 / 20)
    assert found.relative_uncertainty == pytest.approx(wanted, rel=1e-9)
    assert found.rate_from is RateFrom.TWO_LOADS


def test_uncertainty_of_a_rate_from_two_loads_agrees_with_draws() -> None:
    rng = np.random.default_rng(11)
    stated = find_spring_rate(pressed((2000.0, 5000.0), (0.147, 0.127)))
    assert stated is not None
    draws = 40_000
    loads = np.array([[2000.0], [5000.0]]) + rng.normal(0.0, 100.0, (2, draws))
    lengths = np.array([[0.147], [0.127]]) + rng.normal(0.0, 0.0005, (2, draws))
    rates = (loads[1] - loads[0]) / (lengths[0] - lengths[1])
    # second-order terms 0.4 %, sampling 0.35 %
    assert stated.relative_uncertainty == pytest.approx(
        rates.std() / rates.mean(), rel=0.01
    )


def test_figures_that_make_no_spring_give_no_rate() -> None:
    assert find_spring_rate(pressed((2000.0, 5000.0), (0.127, 0.147))) is None
    thick = Hitch(
        at=HitchPlace.CAR,
        spring_wire=quantity(0.056),
        spring_coil=quantity(0.016),
        spring_active_coils=8.0,
    )
    assert find_spring_rate(thick) is None


def test_a_quarter_coil_and_a_caliper_make_the_uncertainty_of_a_worked_out_rate() -> (
    None
):
    hitch = Hitch(
        at=HitchPlace.CAR,
        spring_wire=quantity(0.016),
        spring_coil=quantity(0.056),
        spring_active_coils=8.0,
        spring_material="music wire",
    )
    found, shear = find_spring_rate(hitch), find_shear_modulus("music wire")
    assert found is not None
    assert shear is not None
    assert f"shear modulus {shear.value / 1e9:.1f} GPa of music wire" in found.source
    assert 70e9 < shear.value < 90e9
    known = np.hypot(0.05, 0.25 / 8)  # 4 x 1 % and 3 x 1 % are 5 %
    assert found.relative_uncertainty == pytest.approx(
        np.hypot(known, shear.relative_uncertainty), rel=1e-9
    )


def test_one_typing_error_among_spring_lengths_is_outvoted() -> None:
    rope = rope_set(hitches=(spring_hitch(),))
    found = measured(rope, [spring(1, [0.112, 0.1121, 0.121]), spring(2, [0.12])])
    assert found.hypotheses[0].tensions[0] == pytest.approx(7192.5, rel=1e-9)
    assert "reading-outvoted" in codes(found)
    apart = measured(rope, [spring(1, [0.112, 0.121])])
    assert apart.ropes[0].refusal is not None
    assert apart.ropes[0].refusal.code == "readings-apart"


def test_lengths_agree_by_how_well_the_springs_are_read() -> None:
    # 20 and 18.5 mm of compression are 8 % apart, half a millimetre of each 2.6 %
    rope = rope_set(hitches=(spring_hitch(),))
    assert measured(rope, [spring(1, [0.140, 0.1415])]).given == (1,)
    # half a millimetre of 40 and 37 mm is 1.3 %: 8 % is more than thrice its root sum
    apart = measured(rope, [spring(1, [0.120, 0.123])]).ropes[0].refusal
    assert apart is not None
    assert apart.code == "readings-apart"


def test_a_spring_of_unknown_rate_is_told_so_however_it_was_read() -> None:
    soft = replace(spring_hitch(), spring_rate=None)
    refusal = (
        measured(rope_set(hitches=(soft,)), [spring(1, [0.112, 0.121])])
        .ropes[0]
        .refusal
    )
    assert refusal is not None
    assert refusal.code == "spring-rate-unknown"
