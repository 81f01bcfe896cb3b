"""Swinging hitch end: limits, beam elements with a sprung mass, a rod of elements.

No published numbers of a string that ends on a mass on a spring were found open
(textbook exercises state the case without its answer).
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.errors import InvalidValueError
from tension.physics.partials import (
    hitch_resonance_frequency,
    rod_lateral_stiffness,
)
from tension.physics.taut_rope import EndCondition, natural_frequency_from_tension
from tests.oracles.beam_elements import Chain, deflect, even_lengths, find_modes
from tests.oracles.determinant import PINNED, End, find_frequencies
from tests.oracles.disturbed_strings import lateral_spring_end_frequency_ratio
from tests.oracles.swinging_end import (
    hitch_end_frequency_ratio,
    hitch_end_line_ratio,
    hitch_lines,
)
from tests.tolerances import computed

ratios = st.floats(0.5, 1e4)
masses = st.floats(0.01, 5.0)


@pytest.mark.parametrize("stiffness", [2.0, 30.0, 400.0])
@pytest.mark.parametrize("mass", [0.05, 0.3, 1.5])
def test_lines_of_a_swinging_end_agree_with_elements(
    stiffness: float, mass: float
) -> None:
    chain = Chain(
        lengths=even_lengths(1.0, 100),
        tension=1.0,
        linear_density=1.0,
        flexural_rigidity=0.0,
        ends=("free", "pinned"),
        springs=((0, stiffness),),
        masses=((0, mass),),
    )
    expected = hitch_lines(n_lines=6, stiffness_ratio=stiffness, mass_ratio=mass)
    assert 2 * find_modes(chain, 6).frequencies == pytest.approx(
        expected, rel=computed(1e-5, "100 elements, six lines")
    )


@pytest.mark.parametrize("stiffness", [12.0, 60.0, 400.0])
@pytest.mark.parametrize("bending", [0.004, 0.03, 0.1])
def test_lines_of_a_stiff_rope_agree_with_the_determinant(
    stiffness: float, bending: float
) -> None:
    found = find_frequencies(
        7,
        tension=1.0,
        linear_density=1.0,
        flexural_rigidity=bending**2,
        free_length=1.0,
        ends=(End(has_slope_held=True, stiffness=stiffness, mass=0.7), PINNED),
    )
    lines = hitch_lines(
        n_lines=7, stiffness_ratio=stiffness, mass_ratio=0.7, bending_ratio=bending
    )
    fixed = natural_frequency_from_tension(
        mode_number=1,
        tension=1.0,
        free_length=1.0,
        flexural_rigidity=bending**2,
        ends=EndCondition.CLAMPED_PINNED,
    )
    assert lines * fixed == pytest.approx(found, rel=computed(1e-9, "rounding"))


@given(ratios, masses, st.one_of(st.just(0.0), st.floats(1e-3, 0.1)))
def test_the_lines_are_the_modes_and_one_more(
    stiffness: float, mass: float, bending: float
) -> None:
    modes = np.arange(1, 9)
    ratio = hitch_end_frequency_ratio(
        mode_number=modes,
        stiffness_ratio=stiffness,
        mass_ratio=mass,
        bending_ratio=bending,
    )
    own = float(
        hitch_end_line_ratio(
            stiffness_ratio=stiffness, mass_ratio=mass, bending_ratio=bending
        )
    )
    lines = hitch_lines(
        n_lines=8, stiffness_ratio=stiffness, mass_ratio=mass, bending_ratio=bending
    )
    fixed = natural_frequency_from_tension(
        mode_number=modes,
        tension=1.0,
        free_length=1.0,
        flexural_rigidity=bending**2,
        ends=EndCondition.CLAMPED_PINNED,
    )
    together = np.sort(np.append(ratio * fixed / fixed[0], own))[:8]
    assert together == pytest.approx(lines, rel=1e-9)
    # Below the interval of the resonance modes are lowered, above it raised.
    resonance = np.sqrt(stiffness / mass) / (2 * np.pi)
    below = modes <= np.count_nonzero(fixed < resonance)
    assert np.all(ratio[below] < 1)
    assert np.all(ratio[~below] > 1)


@given(st.integers(1, 10), ratios)
def test_without_mass_the_end_is_a_lateral_spring(mode: int, stiffness: float) -> None:
    assert hitch_end_frequency_ratio(
        mode_number=mode, stiffness_ratio=stiffness, mass_ratio=0.0
    ) == pytest.approx(
        float(
            lateral_spring_end_frequency_ratio(mode_number=mode, softness=1 / stiffness)
        ),
        rel=1e-9,
    )


@given(st.integers(1, 10))
def test_a_very_stiff_or_very_heavy_end_is_a_fixed_one(mode: int) -> None:
    stiff = hitch_end_frequency_ratio(
        mode_number=mode, stiffness_ratio=1e7, mass_ratio=0.1
    )
    heavy = hitch_end_frequency_ratio(
        mode_number=mode, stiffness_ratio=1.0, mass_ratio=1e6
    )
    assert stiff == pytest.approx(1 - 1e-7, abs=2e-8)
    # A free mass: 1 + 1/(mu n^2 pi^2).
    assert heavy - 1 == pytest.approx(1e-6 / (mode * np.pi) ** 2, rel=0.01)


@pytest.mark.parametrize("bending", [0.1, 0.5, 3.0])
def test_stiffness_of_a_rod_in_tension_agrees_with_elements(bending: float) -> None:
    chain = Chain(
        lengths=even_lengths(1.0, 60),
        tension=1.0,
        linear_density=1.0,
        flexural_rigidity=bending**2,
        ends=("clamped", "free"),
    )
    displacement, _ = deflect(chain, [(60, 1.0)])
    assert rod_lateral_stiffness(
        tension=1.0, rod_free=1.0, flexural_rigidity=bending**2
    ) == pytest.approx(1 / displacement[-1], rel=computed(1e-5, "60 elements"))


def test_a_stiff_rod_is_a_cantilever_and_a_swivelling_one_a_pendulum() -> None:
    # 3 EI/h^3 + (6/5) T/h, up to T^2 h/EI; and T/h.
    assert rod_lateral_stiffness(
        tension=10.0, rod_free=0.5, flexural_rigidity=1000.0
    ) == pytest.approx(3 * 1000 / 0.125 + 1.2 * 10 / 0.5, rel=1e-7)
    assert rod_lateral_stiffness(
        tension=10.0, rod_free=0.5, flexural_rigidity=0.0
    ) == pytest.approx(20.0, rel=1e-12)


@given(st.floats(0.01, 0.06))
def test_the_series_and_the_closed_form_of_a_rod_meet(slenderness: float) -> None:
    # A rod of unit length and rigidity under tension x^2, on both sides of the switch.
    found = rod_lateral_stiffness(
        tension=slenderness**2, rod_free=1.0, flexural_rigidity=1.0
    )
    assert found == pytest.approx(3 + 1.2 * slenderness**2, rel=1e-6)


def test_the_resonance_can_be_checked_on_paper() -> None:
    # 4 pi^2 N/m under 1 kg: 1 Hz.
    assert hitch_resonance_frequency(
        lateral_stiffness=4 * np.pi**2, end_mass=1.0
    ) == pytest.approx(1.0, rel=1e-12)


def test_a_rod_without_length_is_refused_by_name() -> None:
    with pytest.raises(InvalidValueError, match=r"free rod length .* above 0"):
        rod_lateral_stiffness(tension=1.0, rod_free=0.0, flexural_rigidity=1.0)
