"""Where a figure turns what a formula takes or gives: just inside and just outside."""

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from tension.errors import InvalidValueError
from tension.physics.hitch_statics import (
    spring_rate_from_two_loads,
    spring_rate_from_wire,
)
from tension.physics.own_weight import tension_from_returns
from tension.physics.partials import (
    end_phase,
    mode_frequencies,
    point_mass_frequency_ratio,
    rod_lateral_stiffness,
    unstiffened,
)
from tension.physics.sheave import SheaveSystem, run_to
from tension.physics.side_pull import (
    PulledSpan,
    lateral_compliance,
    tension_from_side_pull,
)
from tension.physics.taut_rope import (
    EndCondition,
    natural_frequency_from_tension,
    tension_from_frequency,
)


@pytest.mark.parametrize("ends", list(EndCondition))
@pytest.mark.parametrize(("held", "is_taut"), [(0.0101, True), (0.0099, False)])
def test_a_rope_that_bending_alone_holds_has_no_tension(
    ends: EndCondition,
    held: float,
    is_taut: bool,  # noqa: FBT001
) -> None:
    # H L^2/EI from a hundredth on
    span = PulledSpan(
        free_length=2.0, pull_point=0.7, flexural_rigidity=50.0, ends=ends
    )
    horizontal = held * 50.0 / 4.0
    compliance = float(lateral_compliance(span=span, horizontal=horizontal))
    found = tension_from_side_pull(
        force=0.001 / compliance, deflection=0.001, span=span
    ).pulled_tension
    assert bool(np.isfinite(found)) is is_taut
    if is_taut:
        assert float(found) == pytest.approx(horizontal, rel=1e-6)


@pytest.mark.parametrize("ends", list(EndCondition))
@pytest.mark.parametrize("rigidity", [1e-3, 1.0, 30.0, 1e3])
def test_the_chord_of_a_pull_is_that_of_a_bracketing_solver(
    ends: EndCondition, rigidity: float
) -> None:
    span = PulledSpan(
        free_length=3.0, pull_point=1.1, flexural_rigidity=rigidity, ends=ends
    )
    for force, aside in ((150.0, 0.025), (10.0, 0.05), (900.0, 0.02)):

        def excess(
            log_horizontal: float, force: float = force, aside: float = aside
        ) -> float:
            compliance = lateral_compliance(
                span=span, horizontal=np.exp(log_horizontal)
            )
            return float(np.log(compliance * force / aside))

        low, high = np.log(0.02 * rigidity / 9.0), np.log(1e7)
        found = tension_from_side_pull(force=force, deflection=aside, span=span)
        if excess(low) < 0:
            assert np.isnan(found.pulled_tension)
            continue
        chord = np.exp(brentq(excess, low, high, xtol=1e-14))
        sides = np.hypot(1.1, aside) + np.hypot(1.9, aside)
        assert float(found.pulled_tension) == pytest.approx(
            float(chord * sides / 3.0), rel=1e-9
        )


def test_a_travel_lies_within_the_rope() -> None:
    line = SheaveSystem(
        car_fall=4.6,
        counterweight_fall=4.6,
        travel=4.59,
        axial_rigidity=4.6e6,
    )
    assert line.passed.tolist() == [4.59]
    for travel in (4.6, -4.6):
        with pytest.raises(InvalidValueError, match="less than the fall"):
            replace(line, travel=travel)
    for name in ("car_fall", "counterweight_fall", "axial_rigidity"):
        nothing: dict[str, Any] = {name: 0.0}
        with pytest.raises(InvalidValueError, match="must be above 0"):
            replace(line, travel=0.0, **nothing)


def test_the_falls_of_two_to_one_pass_one_two_and_one_travel() -> None:
    line = SheaveSystem(
        car_fall=4.0,
        counterweight_fall=30.0,
        travel=10.0,
        n_falls=2,
        axial_rigidity=1e6,
        car_spring_compliance=1e-5,
        counterweight_spring_compliance=2e-5,
    )
    assert line.passed == pytest.approx((10.0, 20.0, 10.0))
    assert line.compliances == pytest.approx((1.4e-5, 4e-6, 30e-6, 5e-5))


def system(travel: float = 30.0, fall: float = 34.0) -> SheaveSystem:
    return SheaveSystem(
        axial_rigidity=4.6e6, car_fall=4.0, counterweight_fall=fall, travel=travel
    )


def test_a_run_lies_within_the_travel() -> None:
    assert system(33.99).travel == 33.99
    assert system(-3.99).travel == -3.99
    told = r"above -4\.0 m, the car fall, and under 34\.0 m, the counterweight fall"
    for travel in (-4.0, 34.0):
        with pytest.raises(InvalidValueError, match=told):
            system(travel)
    with pytest.raises(InvalidValueError, match="must be above 0"):
        system(0.0, 0.0)
    level = np.zeros(2)
    for start, end in ((0.0, 30.0), (30.0, 0.0)):
        run_to(level, radius_deviations=level, start=start, end=end, system=system())
    for start, end in ((-0.01, 30.0), (0.0, 30.01), (30.01, 0.0), (0.0, -0.01)):
        with pytest.raises(InvalidValueError, match="within the travel of 30"):
            run_to(
                level, radius_deviations=level, start=start, end=end, system=system()
            )
    with pytest.raises(InvalidValueError, match="slip difference must be above 0"):
        run_to(
            level,
            radius_deviations=level,
            start=0.0,
            end=1.0,
            system=system(),
            slip_difference=0.0,
        )


def test_slip_is_met_between_twenty_fourths_of_the_travel() -> None:
    # equal grooves: a difference over the limit is cut to it first after the first
    # part, in which it has shrunk by the ratio of the car side's lengths
    level = np.zeros(1)
    start = np.array([1000.0])
    part = run_to(
        start,
        radius_deviations=level,
        start=0.0,
        end=30.0,
        system=system(),
        slip_difference=900.0,
    )
    u, lengths = 1000.0, 4.0 + np.linspace(0.0, 30.0, 25)
    for before, after in pairwise(lengths):
        u = min(u * before / after, 900.0)
    assert part == pytest.approx([u], rel=1e-12)
    tenth = run_to(
        start,
        radius_deviations=level,
        start=0.0,
        end=3.1,
        system=system(),
        slip_difference=900.0,
    )
    u, lengths = 1000.0, 4.0 + np.linspace(0.0, 3.1, 4)  # 3.1/30 of 24 is 2.5
    for before, after in pairwise(lengths):
        u = min(u * before / after, 900.0)
    assert tenth == pytest.approx([u], rel=1e-12)


def test_loads_and_lengths_of_a_spring_go_against_each_other() -> None:
    assert spring_rate_from_two_loads(
        loads=(5000.0, 2000.0), lengths=(0.127, 0.147)
    ) == pytest.approx(150e3)
    for loads, lengths in (
        ((2000.0, 2000.0), (0.147, 0.127)),
        ((2000.0, 5000.0), (0.127, 0.127)),
        ((2000.0, 5000.0), (0.127, 0.147)),
    ):
        with pytest.raises(InvalidValueError, match="shorter under the larger load"):
            spring_rate_from_two_loads(loads=loads, lengths=lengths)
    with pytest.raises(InvalidValueError, match="larger than the wire"):
        spring_rate_from_wire(
            wire_diameter=0.01,
            mean_coil_diameter=0.01,
            n_active_coils=8,
            shear_modulus=79e9,
        )


@pytest.mark.parametrize("n_clamped", [0, 1, 2])
def test_modes_of_a_stiff_string_are_a_fixed_point(n_clamped: int) -> None:
    modes = np.arange(1.0, 12.0)
    found = mode_frequencies(modes, 14.0, 2e-5, n_clamped)
    unstiff = unstiffened(found, 2e-5)
    assert unstiff * np.sqrt(1 + 2e-5 * unstiff**2) == pytest.approx(found, rel=1e-12)
    slope = np.sqrt(2e-5) * unstiff
    ends = n_clamped / np.pi * np.arctan(slope / np.hypot(1.0, slope))
    assert end_phase(unstiff, 2e-5, n_clamped) == pytest.approx(ends, rel=1e-12)
    assert unstiff == pytest.approx(14.0 * (modes + ends), rel=1e-4)


@pytest.mark.parametrize("mode", [1, 2, 3, 4, 5])
def test_a_mass_on_the_rope_is_the_root_of_its_equation(mode: int) -> None:
    for ratio, place in ((0.05, 0.3), (2.0, 0.11), (0.5, 0.5)):

        def equation(z: float, ratio: float = ratio, place: float = place) -> float:
            return float(
                np.sin(z) - ratio * z * np.sin(place * z) * np.sin((1 - place) * z)
            )

        found = float(
            point_mass_frequency_ratio(
                mode_number=mode, mass_ratio=ratio, position_ratio=place
            )
        )
        assert equation(found * mode * np.pi) == pytest.approx(0.0, abs=1e-9)
        assert (mode - 1) / mode < found <= 1.0 + 1e-12


def test_the_slowest_return_that_bending_allows() -> None:
    # (L^2)/(4 e sqrt(b)) once, twice for a return: no tension beyond
    slowest = 2 * 10.0**2 / (4 * 2 * np.sqrt(4.0))
    for time, is_taut in ((0.999 * slowest, True), (1.001 * slowest, False)):
        found = tension_from_returns(
            return_time=time,
            free_length=10.0,
            flexural_rigidity=4.0,
            ends=EndCondition.CLAMPED_CLAMPED,
            gravity=0.0,
        )
        assert bool(np.isfinite(found)) is is_taut


@pytest.mark.parametrize("ends", list(EndCondition))
@pytest.mark.parametrize("mode", [1, 2, 3])
def test_a_frequency_of_the_slack_rope_has_no_tension(
    ends: EndCondition, mode: int
) -> None:
    slack = float(
        natural_frequency_from_tension(
            mode_number=mode,
            tension=0.0,
            free_length=2.0,
            flexural_rigidity=30.0,
            ends=ends,
        )
    )
    for factor, is_taut in ((1 + 1e-6, True), (1 - 1e-6, False), (0.0 + 1.0, False)):
        found = tension_from_frequency(
            frequency=factor * slack,
            mode_number=mode,
            free_length=2.0,
            flexural_rigidity=30.0,
            ends=ends,
        )
        assert bool(np.isfinite(found) and found > 1e-6) is is_taut


@pytest.mark.parametrize(
    ("x", "tolerance"), [(0.01, 1e-12), (0.0299, 1e-10), (0.04, 1e-11), (3.0, 1e-14)]
)
def test_a_rod_is_a_cantilever_to_the_last_digits(x: float, tolerance: float) -> None:
    # T/(h - tanh(k h)/k) in longer floats; the series serves up to 0.03
    longer = np.longdouble(x)
    wanted = 1 / (1 - np.tanh(longer) / longer)
    found = rod_lateral_stiffness(tension=x**2, rod_free=1.0, flexural_rigidity=1.0) / (
        x**2
    )
    assert float(found) == pytest.approx(float(wanted), rel=tolerance)


@pytest.mark.parametrize("part", [0.5, 1.5, 2.0, 3.5, 3.99])
def test_a_clamped_bar_pressed_past_what_a_pinned_one_bears(part: float) -> None:
    # T = -part pi^2 EI/L^2, which buckles at four: k2 tan(k2/2) = -k1 tanh(k1/2) with
    # k1^2 = k2^2 - part pi^2, and f = k1 k2 sqrt(b)/(2 pi L^2)
    pressed = part * np.pi**2

    def equation(k2: float) -> float:
        k1 = np.sqrt(k2**2 - pressed)
        return float(k2 * np.sin(k2 / 2) + k1 * np.tanh(k1 / 2) * np.cos(k2 / 2))

    low = max(np.sqrt(pressed), np.pi) * (1 + 1e-9)
    k2 = brentq(equation, low, 2 * np.pi - 1e-9, xtol=1e-13)
    found = natural_frequency_from_tension(
        mode_number=1,
        tension=-pressed * 30.0 / 4.0,
        free_length=2.0,
        flexural_rigidity=30.0,
        ends=EndCondition.CLAMPED_CLAMPED,
    )
    k1 = np.sqrt(k2**2 - pressed)
    wanted = k1 * k2 * np.sqrt(30.0) / (2 * np.pi * 4.0)
    assert float(found) == pytest.approx(wanted, rel=1e-7)


def test_a_bar_buckles_where_euler_says() -> None:
    for ends, least in (
        (EndCondition.PINNED_PINNED, 1.0),
        (EndCondition.CLAMPED_CLAMPED, 4.0),
    ):
        for part, stands in ((0.9999, True), (1.0001, False)):
            found = natural_frequency_from_tension(
                mode_number=1,
                tension=-part * least * np.pi**2 * 30.0 / 4.0,
                free_length=2.0,
                flexural_rigidity=30.0,
                ends=ends,
            )
            assert bool(np.isfinite(found)) is stands


def test_a_return_as_slow_as_bending_lets_it_be_still_tells_a_speed() -> None:
    # 2 m in 1 s one way, and 4 sqrt(EI/m) of one clamp: the root is just nought
    def told(time: float) -> float:
        return float(
            tension_from_returns(
                return_time=time,
                free_length=2.0,
                flexural_rigidity=1.0,
                ends=EndCondition.CLAMPED_PINNED,
                gravity=0.0,
            )
        )

    assert told(2.0) == 1.0
    assert np.isnan(told(2.001))


def test_half_as_heavy_a_rope_of_half_the_stiffness_carries_half() -> None:
    one, half = (
        tension_from_returns(
            return_time=0.4,
            free_length=20.0,
            flexural_rigidity=20.0 * density,
            linear_density=density,
            ends=EndCondition.CLAMPED_CLAMPED,
        )
        for density in (1.0, 0.5)
    )
    assert half == pytest.approx(one / 2, rel=1e-12)
