"""Taut rope against beam elements, a boundary determinant and time stepping."""

from functools import partial

import numpy as np
import pytest
from numpy.typing import NDArray

from tension.physics.taut_rope import (
    EndCondition,
    natural_frequency_from_tension,
    tension_from_frequency,
)
from tests.oracles.beam_elements import Chain, even_lengths, find_modes, graded_lengths
from tests.oracles.determinant import CLAMPED, PINNED, find_frequencies
from tests.oracles.time_stepping import Grid, frequency_of_crossings, step_through
from tests.tolerances import computed

ENDS = {
    EndCondition.PINNED_PINNED: ("pinned", "pinned"),
    EndCondition.CLAMPED_PINNED: ("clamped", "pinned"),
    EndCondition.CLAMPED_CLAMPED: ("clamped", "clamped"),
}
# Ropes of a lift and beyond: length [m], tension [N], density [kg/m], rigidity [N m2].
ROPES = [
    (3.0, 5000.0, 0.35, 5.0),
    (1.0, 5000.0, 0.35, 20.0),
    (0.5, 800.0, 0.6, 120.0),
    (20.0, 1000.0, 0.575, 1.0),
    (2.0, 3.0, 0.35, 20.0),
]


def _middle(node: int, shape: NDArray[np.float64]) -> float:
    return float(shape[node])


@pytest.mark.parametrize("ends", list(EndCondition))
@pytest.mark.parametrize("rope", ROPES, ids=str)
def test_frequencies_agree_with_beam_elements(
    rope: tuple[float, float, float, float], ends: EndCondition
) -> None:
    length, tension, density, rigidity = rope
    bending = np.sqrt(rigidity / tension)
    found = []
    for n_elements in (120, 240):
        lengths = graded_lengths(length, n_elements, bending / 4 * 120 / n_elements)
        if ends is EndCondition.PINNED_PINNED:
            lengths = even_lengths(length, n_elements)
        chain = Chain(
            lengths=lengths,
            tension=tension,
            linear_density=density,
            flexural_rigidity=rigidity,
            ends=ENDS[ends],
        )
        found.append(find_modes(chain, 6).frequencies)
    own_error = np.max(np.abs(found[0] / found[1] - 1))
    tolerance = computed(1e-5, "ten times what doubling the mesh changes")
    assert own_error < tolerance / 10
    exact = natural_frequency_from_tension(
        mode_number=np.arange(1, 7),
        tension=tension,
        linear_density=density,
        free_length=length,
        flexural_rigidity=rigidity,
        ends=ends,
    )
    assert exact == pytest.approx(found[1], rel=tolerance)


@pytest.mark.parametrize("ends", list(EndCondition))
@pytest.mark.parametrize("rope", ROPES, ids=str)
def test_tension_from_a_root_of_the_determinant_is_that_put_in(
    rope: tuple[float, float, float, float], ends: EndCondition
) -> None:
    length, tension, density, rigidity = rope
    held = [CLAMPED, CLAMPED, PINNED, PINNED][2 - ends.n_clamped :][:2]
    frequencies = find_frequencies(
        6,
        tension=tension,
        linear_density=density,
        flexural_rigidity=rigidity,
        free_length=length,
        ends=(held[0], held[1]),
    )
    found = tension_from_frequency(
        frequency=frequencies,
        mode_number=np.arange(1, 7),
        linear_density=density,
        free_length=length,
        flexural_rigidity=rigidity,
        ends=ends,
    )
    # Rounding, magnified where bending outweighs tension (3 N in the last rope).
    magnified = 1 + 36 * np.pi**2 * rigidity / tension / length**2
    assert found == pytest.approx(
        np.full(6, tension), rel=computed(1e-9 * magnified, "rounding, magnified")
    )


def test_a_stiff_rope_stepped_through_time_swings_at_the_frequency() -> None:
    # Pinned rope in its first mode: the grid's own error falls as (1/n)^2.
    exact = natural_frequency_from_tension(
        mode_number=1,
        tension=5000.0,
        linear_density=0.35,
        free_length=1.0,
        flexural_rigidity=20.0,
        ends=EndCondition.PINNED_PINNED,
    )
    errors = []
    for n_cells in (20, 40):
        grid = Grid(
            free_length=1.0,
            tension=np.full(n_cells, 5000.0),
            linear_density=0.35,
            flexural_rigidity=20.0,
        )
        shape = 1e-4 * np.sin(np.pi * grid.places)
        step = 0.3 / n_cells**2 / np.sqrt(20.0 / 0.35)
        seen = step_through(
            grid,
            shape=shape,
            velocity=np.zeros_like(shape),
            step=step,
            n_steps=int(0.2 / step),
            watch=partial(_middle, n_cells // 2),
        )
        errors.append(frequency_of_crossings(seen, step) / float(exact) - 1)
    assert abs(errors[1]) < 1e-3
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.05)
