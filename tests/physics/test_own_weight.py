"""Own weight: identities, the exact equation, beam elements and time stepping.

No published table of a hanging string fixed at both ends was found open (zeros of
J0 Y0 cross products stand in the memory tests); the equation is checked by elements.
"""

from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tension.installation import HitchEnd
from tension.physics.own_weight import (
    STANDARD_GRAVITY,
    effective_squared_wave_speed,
    mid_length_squared_wave_speed,
    weight_to_hitch,
)
from tension.physics.taut_rope import EndCondition, natural_frequency_from_tension
from tests.oracles.beam_elements import (
    Chain,
    even_lengths,
    find_modes,
    graded_lengths,
    weighted_tension,
)
from tests.oracles.hanging_string import natural_frequency_with_own_weight
from tests.oracles.time_stepping import Grid, step_through
from tests.physics.forward import travel_time
from tests.tolerances import computed

ROUNDING = computed(1e-9, "rounding of a closed form")
speeds = st.floats(400.0, 40_000.0)
lengths = st.floats(0.5, 60.0)
hitches = st.sampled_from(list(HitchEnd))


@given(lengths, hitches, st.floats(0.05, 5.0))
def test_weight_over_density_needs_no_density(
    distance: float, hitch: HitchEnd, density: float
) -> None:
    alone = weight_to_hitch(distance=distance, hitch_end=hitch)
    newtons = weight_to_hitch(
        distance=distance, hitch_end=hitch, linear_density=density
    )
    assert newtons == pytest.approx(alone * density, rel=ROUNDING)


def test_a_lower_hitch_carries_less_by_the_weight_between() -> None:
    # 0.5 kg/m over 20 m at 9.80665 m/s2 is 98.0665 N.
    lower, upper = (
        float(weight_to_hitch(distance=20.0, hitch_end=hitch, linear_density=0.5))
        for hitch in (HitchEnd.LOWER, HitchEnd.UPPER)
    )
    assert lower == pytest.approx(-98.0665, rel=1e-12)
    assert upper == pytest.approx(98.0665, rel=1e-12)


@given(speeds, lengths, st.integers(1, 10))
def test_effective_and_mid_length_speeds_are_inverse(
    speed: float, length: float, mode: int
) -> None:
    if STANDARD_GRAVITY * length / 2 > 0.8 * speed:  # lower end nearly slack
        return
    effective = effective_squared_wave_speed(
        squared_wave_speed=speed, mode_number=mode, free_length=length
    )
    assert effective < speed
    assert mid_length_squared_wave_speed(
        squared_wave_speed=effective, mode_number=mode, free_length=length
    ) == pytest.approx(speed, rel=ROUNDING)


@pytest.mark.parametrize("mode", [1, 2, 3])
def test_second_order_leaves_a_remainder_of_fourth_order(mode: int) -> None:
    # The weight is odd about the middle, so odd orders vanish: halving it divides the
    # remainder by 16.
    length = 100.0
    remainders, seconds = [], []
    for ratio in (0.2, 0.1):
        speed = STANDARD_GRAVITY * length / 2 / ratio
        exact = natural_frequency_with_own_weight(
            mode_number=mode, squared_wave_speed=speed, free_length=length
        )
        effective = effective_squared_wave_speed(
            squared_wave_speed=speed, mode_number=mode, free_length=length
        )
        shown = (2 * length * exact / mode) ** 2
        remainders.append(float(shown / effective - 1))
        seconds.append(float(1 - shown / speed) / ratio**2)
    assert remainders[0] / remainders[1] == pytest.approx(16, rel=0.15)
    # The coefficient itself: (1/4)(1 + 1/(n pi)^2), reached as the weight vanishes.
    coefficient = 0.25 * (1 + 1 / (mode * np.pi) ** 2)
    assert seconds[1] == pytest.approx(coefficient, rel=computed(0.005, "order eps^2"))


@pytest.mark.parametrize(
    ("length", "density", "lower_tension"),
    [(10.0, 0.35, 5000.0), (100.0, 0.5, 5000.0), (300.0, 0.8, 3000.0)],
)
def test_exact_frequencies_agree_with_beam_elements(
    length: float, density: float, lower_tension: float
) -> None:
    found = []
    for n_elements in (60, 120):
        lengths = even_lengths(length, n_elements)
        chain = Chain(
            lengths=lengths,
            tension=weighted_tension(lengths, lower_tension, density, STANDARD_GRAVITY),
            linear_density=density,
            flexural_rigidity=0.0,
            ends=("pinned", "pinned"),
        )
        found.append(find_modes(chain, 3).frequencies)
    assert found[0] == pytest.approx(found[1], rel=1e-7)
    exact = natural_frequency_with_own_weight(
        mode_number=[1, 2, 3],
        squared_wave_speed=lower_tension / density + STANDARD_GRAVITY * length / 2,
        free_length=length,
    )
    assert exact == pytest.approx(
        found[1], rel=computed(1e-6, "ten times what doubling the mesh changes")
    )


@pytest.mark.parametrize(
    ("length", "lower_tension", "rigidity"), [(3.0, 500.0, 5.0), (20.0, 1000.0, 20.0)]
)
def test_weight_and_bending_together_are_the_tension_at_mid_length(
    length: float, lower_tension: float, rigidity: float
) -> None:
    density = 0.35
    lengths = graded_lengths(length, 240, np.sqrt(rigidity / lower_tension) / 10)
    chain = Chain(
        lengths=lengths,
        tension=weighted_tension(lengths, lower_tension, density, STANDARD_GRAVITY),
        linear_density=density,
        flexural_rigidity=rigidity,
        ends=("clamped", "pinned"),
    )
    mode = np.arange(1, 6)
    middle = lower_tension / density + STANDARD_GRAVITY * length / 2
    expected = natural_frequency_from_tension(
        mode_number=mode,
        tension=effective_squared_wave_speed(
            squared_wave_speed=middle, mode_number=mode, free_length=length
        ),
        free_length=length,
        flexural_rigidity=rigidity / density,
        ends=EndCondition.CLAMPED_PINNED,
    )
    # The clamp sees the local tension, not that at mid-length: eps times the bending
    # length over the free length in frequency, 3.4e-4 for the shorter rope.
    assert find_modes(chain, 5).frequencies == pytest.approx(
        expected, rel=computed(5e-4, "clamp at local tension")
    )


@given(speeds, lengths)
def test_travel_time_without_gravity_is_length_over_speed(
    speed: float, length: float
) -> None:
    assert travel_time(
        squared_wave_speed=speed, free_length=length, gravity=0.0
    ) == pytest.approx(length / np.sqrt(speed), rel=ROUNDING)


def _at(node: int, shape: NDArray[np.float64]) -> float:
    return float(shape[node])


def test_travel_time_agrees_with_a_pulse_stepped_through_time() -> None:
    length, density, lower = 100.0, 0.5, 400.0
    n_cells = 4000
    middles = (np.arange(n_cells) + 0.5) * length / n_cells
    grid = Grid(
        free_length=length,
        tension=lower + density * STANDARD_GRAVITY * middles,
        linear_density=density,
    )
    step = 0.9 * grid.cell / np.sqrt((lower + density * 9.81 * length) / density)
    # A hump sent up from near the lower end: seen at 10 m and at 90 m.
    start = 4.0
    shape = np.exp(-(((grid.places - start) / 0.5) ** 2))
    slope = -2 * (grid.places - start) / 0.25 * shape
    speed = np.sqrt(lower / density + STANDARD_GRAVITY * grid.places)
    first, last = n_cells // 10, 9 * n_cells // 10
    peaks = []
    for node in (first, last):
        signal = step_through(
            grid,
            shape=shape,
            velocity=-speed * slope,
            step=step,
            n_steps=int(3.4 / step),
            watch=partial(_at, node),
        )
        peaks.append(np.argmax(signal) * step)
    between = travel_time(
        squared_wave_speed=lower / density + STANDARD_GRAVITY * 50.0,
        free_length=80.0,
    )
    assert peaks[1] - peaks[0] == pytest.approx(
        between, rel=computed(0.003, "two steps of 3.4 s / 4000 cells and hump width")
    )


def test_a_rope_that_cannot_carry_its_own_weight_has_no_travel_time() -> None:
    assert np.isnan(travel_time(squared_wave_speed=100.0, free_length=50.0))
