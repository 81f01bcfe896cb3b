"""Ropes on one plate agree with the equation of two strings on one spring."""

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.synthesis.coupled import solve_coupled
from tests.synthesis.plucking import Pluck, modal_amplitudes
from tests.synthesis.ropes import RopeSpec
from tests.synthesis.sets import REGRESSION_SEEDS
from tests.synthesis.variants import draw_coupled_set

PLATE = 1e6
LENGTH, DENSITY = 5.0, 0.35


def make_spec(tension: float) -> RopeSpec:
    # flexible and far lighter than taut, so that weight and bending are out of it
    return RopeSpec(
        free_length=LENGTH,
        linear_density=DENSITY * 1e-3,
        flexural_rigidity=1e-3,
        hitch_tension=tension,
    )


def two_strings(tensions: tuple[float, float]) -> list[float]:
    """Roots of T1 k1 cot k1 L + T2 k2 cot k2 L = -K near the first modes."""
    density = DENSITY * 1e-3

    def equation(frequency: float) -> float:
        total = PLATE
        for tension in tensions:
            k = 2.0 * np.pi * frequency * np.sqrt(density / tension)
            total += tension * k / np.tan(k * LENGTH)
        return float(total)

    first = min(np.sqrt(t / density) / (2.0 * LENGTH) for t in tensions)
    second = max(np.sqrt(t / density) / (2.0 * LENGTH) for t in tensions)
    low = brentq(equation, 0.9 * first, first * (1.0 - 1e-9), xtol=1e-12)
    high = brentq(equation, first * (1.0 + 1e-9), second * (1.0 - 1e-9), xtol=1e-12)
    return [low, high]


@pytest.mark.parametrize("second", [5010.0, 5050.0, 5500.0])
def test_two_ropes_on_a_plate_have_the_modes_of_two_strings(second: float) -> None:
    specs = (make_spec(5000.0), make_spec(second))
    found = solve_coupled(specs, PLATE, plate_mass=1e-6)[0].frequencies[:2]
    expected = two_strings((5000.0, second))
    # stiffness left: sqrt(EI / T) / L = 9e-5, in the tenth stiffer rope 4e-6 less
    ratio = found / np.array(expected)
    assert ratio[1] / ratio[0] == pytest.approx(1.0, abs=6e-6)
    assert ratio[0] == pytest.approx(1.0 + 9e-5, abs=3e-5)


def test_equal_ropes_part_by_twice_the_coupling() -> None:
    # T / (K L) = 0.1 %: one mode holds the plate still, the other is 0.2 % lower
    specs = (make_spec(5000.0), make_spec(5000.0))
    found = solve_coupled(specs, PLATE, plate_mass=1e-6)[0].frequencies[:2]
    assert found[0] / found[1] - 1.0 == pytest.approx(-0.002, rel=0.01)


def test_energy_of_the_neighbour_falls_with_detuning() -> None:
    pluck = Pluck(onset=0.0, place=0.25, width=0.02, amplitude=0.004, release=1e-3)
    shares = []
    for second in (5000.0, 5050.0, 5250.0):
        coupled = solve_coupled((make_spec(5000.0), make_spec(second)), PLATE, 1e-6)
        amplitudes = modal_amplitudes(coupled[0], pluck)[:2]
        middle = [abs(modes.deflection(2.5)[:2] * amplitudes) for modes in coupled]
        # largest swing of the neighbour at the two first modes, over the rope's own
        shares.append(float(np.sum(middle[1]) / np.sum(middle[0])))
    # amplitudes 1 : 2 kap / hypot(detuning, 2 kap), kap = 0.1 %, detuning half of dT/T
    expected = [1.0, 0.002 / np.hypot(0.005, 0.002), 0.002 / np.hypot(0.0247, 0.002)]
    # of first order in the detuning, which is 2.5 % in the last
    np.testing.assert_allclose(shares, expected, rtol=0.1)


def test_a_stiff_plate_leaves_each_rope_its_own_modes() -> None:
    specs = (make_spec(5000.0), make_spec(5500.0))
    coupled = solve_coupled(specs, 1e12, plate_mass=1e-6)[0]
    string = np.sqrt(5000.0 / (DENSITY * 1e-3)) / (2.0 * LENGTH)
    assert coupled.frequencies[0] == pytest.approx(string * (1 + 9e-5), rel=3e-5)


def test_the_truth_of_a_coupled_set_is_of_the_ropes_alone() -> None:
    synthetic = draw_coupled_set(REGRESSION_SEEDS[3])
    for rope in synthetic.ropes:
        string = np.sqrt(rope.middle_tension / synthetic.linear_density) / (
            2.0 * rope.free_length
        )
        assert string < rope.fundamental_frequency < 1.2 * string
