"""Disturbances: limits, beam elements, determinant, time stepping."""

from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tension.errors import InvalidValueError
from tension.physics.partials import point_mass_frequency_ratio
from tests.oracles.beam_elements import (
    Chain,
    even_lengths,
    find_modes,
    join,
    lowest_modes,
)
from tests.oracles.disturbed_strings import (
    Motion,
    amplitude_frequency_ratio,
    coupled_frequencies,
    hitch_coupling,
    lateral_spring_end_frequency_ratio,
)
from tests.oracles.time_stepping import Grid, frequency_of_crossings, step_through
from tests.tolerances import computed

modes = st.integers(1, 12)


def string(
    springs: tuple[tuple[int, float], ...] = (),
    masses: tuple[tuple[int, float], ...] = (),
    ends: tuple[str, str] = ("pinned", "pinned"),
    tension: float = 1.0,
) -> Chain:
    """A string of unit length and mass."""
    return Chain(
        lengths=even_lengths(1.0, 80),
        tension=tension,
        linear_density=1.0,
        flexural_rigidity=0.0,
        ends=ends,
        springs=springs,
        masses=masses,
    )


@pytest.mark.parametrize("ratio", [0.01, 0.1, 1.0])
@pytest.mark.parametrize("node", [8, 20, 40, 71])
def test_a_point_mass_lowers_frequencies_as_the_elements_say(
    ratio: float, node: int
) -> None:
    found = find_modes(string(masses=((node, ratio),)), 5).frequencies
    expected = point_mass_frequency_ratio(
        mode_number=np.arange(1, 6), mass_ratio=ratio, position_ratio=node / 80
    )
    assert found / (0.5 * np.arange(1, 6)) == pytest.approx(
        expected,
        # 80 smooth elements cannot make the kink at the mass sharper than one of them.
        rel=computed(0.01 if ratio == 1 else 0.003, "kink over one element of 80"),
    )


@given(modes, st.floats(0, 1e-5), st.floats(0, 1))
def test_a_light_mass_lowers_a_frequency_by_its_share_of_the_swing(
    mode: int, ratio: float, place: float
) -> None:
    # Rayleigh: r sin^2(n pi x/L) to first order in n r.
    found = point_mass_frequency_ratio(
        mode_number=mode, mass_ratio=ratio, position_ratio=place
    )
    expected = ratio * np.sin(mode * np.pi * place) ** 2
    assert 1 - found == pytest.approx(expected, rel=0.005, abs=1e-12)


@given(modes, st.floats(0, 5), st.floats(0, 1))
def test_a_point_mass_lowers_and_never_reaches_the_next_lower_mode(
    mode: int, ratio: float, place: float
) -> None:
    found = point_mass_frequency_ratio(
        mode_number=mode, mass_ratio=ratio, position_ratio=place
    )
    assert (mode - 1) / mode - 1e-12 <= found <= 1 + 1e-12
    assert found == pytest.approx(
        point_mass_frequency_ratio(
            mode_number=mode, mass_ratio=ratio, position_ratio=1 - place
        ),
        rel=1e-7,
    )


@given(modes, st.floats(0, 1e-4))
def test_a_stiff_end_lowers_every_mode_by_its_softness(
    mode: int, softness: float
) -> None:
    found = lateral_spring_end_frequency_ratio(mode_number=mode, softness=softness)
    assert 1 - found == pytest.approx(softness, rel=0.005, abs=1e-12)


@pytest.mark.parametrize("softness", [1e-3, 0.05, 0.5])
def test_a_sprung_end_lowers_frequencies_as_the_elements_say(softness: float) -> None:
    chain = string(springs=((0, 1 / softness),), ends=("free", "pinned"))
    expected = lateral_spring_end_frequency_ratio(
        mode_number=np.arange(1, 6), softness=softness
    )
    assert find_modes(chain, 5).frequencies / (0.5 * np.arange(1, 6)) == pytest.approx(
        expected, rel=computed(1e-5, "80 elements, five modes")
    )


def _middle(node: int, shape: NDArray[np.float64]) -> float:
    return float(shape[0, node])


def _stepped_ratio(amplitude: float, motion: Motion) -> float:
    """Frequency at an amplitude over that of a small swing, both stepped."""
    n_cells = 24
    grid = Grid(
        free_length=5.0,
        tension=np.full(n_cells, 5000.0),
        linear_density=0.35,
        axial_stiffness=5e5,
    )
    sine = np.sin(np.pi * grid.places / 5.0)
    step = 0.1 * grid.cell / np.sqrt(5000.0 / 0.35)
    found = []
    for aside in (1e-6, amplitude):
        shape = np.stack([aside * sine, np.zeros_like(sine)])
        # On the grid a sine of slope changes is slower: start the circle at its speed.
        slow = (2 / grid.cell) * np.sin(np.pi * grid.cell / 10.0)
        stretch = 0.5 * 5.0 * 0.5 * (aside * slow) ** 2
        rate = slow * np.sqrt((5000.0 + 5e5 * stretch) / 0.35)
        turning = 1.0 if motion is Motion.CIRCULAR else 0.0
        velocity = np.stack([np.zeros_like(sine), turning * rate * aside * sine])
        seen = step_through(
            grid,
            shape=shape,
            velocity=velocity,
            step=step,
            n_steps=int(1.0 / step),
            watch=partial(_middle, n_cells // 2),
        )
        found.append(frequency_of_crossings(seen, step))
    return found[1] / found[0]


@pytest.mark.parametrize("motion", list(Motion))
@pytest.mark.parametrize("amplitude", [0.03, 0.1])
def test_a_wide_swing_is_faster_as_stepped_through_time(
    amplitude: float, motion: Motion
) -> None:
    expected = amplitude_frequency_ratio(
        mode_number=1,
        amplitude=amplitude,
        free_length=5.0,
        tension=5000.0,
        axial_stiffness=5e5,
        motion=motion,
    )
    # Of the rise itself, so that a rise 1 % too large is seen.
    assert _stepped_ratio(amplitude, motion) - 1 == pytest.approx(
        float(expected) - 1, rel=computed(0.007, "24 cells: (pi/24)^2/2 of the rise")
    )


@given(modes, st.floats(1e-5, 1e-3))
def test_a_small_swing_rises_by_three_eighths_or_a_half(
    mode: int, amplitude: float
) -> None:
    stretch = 1e4 * (mode * np.pi * amplitude) ** 2 / (4 * 5.0 * 5000.0)
    for motion, part in ((Motion.PLANAR, 3 / 8), (Motion.CIRCULAR, 1 / 2)):
        found = amplitude_frequency_ratio(
            mode_number=mode,
            amplitude=amplitude,
            free_length=5.0,
            tension=5000.0,
            axial_stiffness=1e4,
            motion=motion,
        )
        assert found - 1 == pytest.approx(part * stretch, rel=0.005, abs=1e-12)


def test_coupled_ropes_agree_with_joined_elements() -> None:
    tensions = [1.0, 1.03, 0.9]
    stiffness = 40.0
    chains = [string(ends=("free", "pinned"), tension=t) for t in tensions]
    whole, mass = join(chains, [0, 0, 0])
    whole = whole.tolil()
    whole[-1, -1] += stiffness
    found, _ = lowest_modes(whole.tocsc(), mass, 6)
    expected = coupled_frequencies(
        tensions=tensions,
        linear_density=1.0,
        free_lengths=1.0,
        lateral_stiffness=stiffness,
        n_frequencies=6,
    )
    assert expected == pytest.approx(
        found, rel=computed(1e-5, "80 elements, two modes")
    )


@given(st.floats(-0.02, 0.02), st.floats(1e-4, 2e-3))
def test_two_coupled_ropes_shift_as_two_coupled_pendulums(
    detuning: float, coupling: float
) -> None:
    length, tension, density = 5.0, 5000.0, 0.35
    stiffness = tension / (coupling * length)
    assert hitch_coupling(
        tension=tension, free_length=length, lateral_stiffness=stiffness
    ) == pytest.approx(coupling, rel=1e-9)
    # Lengths, not tensions, detune here: the coupling stays the same to first order.
    lengths = length * np.array([1 + detuning / 2, 1 - detuning / 2])
    found = coupled_frequencies(
        tensions=tension,
        linear_density=density,
        free_lengths=lengths,
        lateral_stiffness=stiffness,
        n_frequencies=2,
    )
    middle = np.sqrt(tension / density) / (2 * length)
    shifts = -coupling + np.array([-1, 1]) * np.hypot(detuning / 2, coupling)
    assert found / middle - 1 == pytest.approx(shifts, abs=3e-4)


def test_equal_ropes_on_one_hitch_show_two_lines_twice_the_coupling_apart() -> None:
    # kappa = 5000/(1e6 x 5) = 0.1 %: the in-phase line lies 0.2 % below the other.
    found = coupled_frequencies(
        tensions=[5000.0, 5000.0],
        linear_density=0.35,
        free_lengths=5.0,
        lateral_stiffness=1e6,
        n_frequencies=2,
    )
    assert found[1] == pytest.approx(np.sqrt(5000 / 0.35) / 10, rel=1e-9)
    assert 1 - found[0] / found[1] == pytest.approx(0.002, rel=computed(0.004, "kappa"))


def test_a_mass_outside_the_rope_is_refused_by_name() -> None:
    with pytest.raises(InvalidValueError, match="position ratio counted from the far"):
        point_mass_frequency_ratio(mode_number=1, mass_ratio=0.1, position_ratio=1.2)
