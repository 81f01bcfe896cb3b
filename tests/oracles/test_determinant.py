"""The determinant against published roots, and against the beam elements."""

import numpy as np
import pytest

from tests.oracles.beam_elements import GUIDED, Chain, find_modes, graded_lengths
from tests.oracles.determinant import CLAMPED, PINNED, End, find_frequencies
from tests.reference.tables import read_table
from tests.tolerances import as_printed

ENDS = {
    "clamped-clamped": (CLAMPED, CLAMPED),
    "clamped-pinned": (CLAMPED, PINNED),
    "pinned-pinned": (PINNED, PINNED),
}


@pytest.mark.parametrize(
    "row",
    read_table("clamped_beam_roots.csv"),
    ids=lambda row: f"{row['source']} {row['mode']}",
)
def test_determinant_gives_the_published_beam_roots(row: dict[str, str]) -> None:
    frequencies = find_frequencies(
        3,
        tension=0.0,
        linear_density=1.0,
        flexural_rigidity=1.0,
        free_length=1.0,
        ends=ENDS[row["ends"]],
    )
    rate = 2 * np.pi * frequencies[int(row["mode"]) - 1]
    if row["root"]:
        assert np.sqrt(rate) == as_printed(row["root"])
    if row["root_squared"]:
        assert rate == as_printed(row["root_squared"])


@pytest.mark.parametrize("bending", [0.1, 0.02])
def test_a_sprung_heavy_end_agrees_with_the_elements(bending: float) -> None:
    end = End(has_slope_held=True, stiffness=20.0, mass=0.3)
    found = find_frequencies(
        5,
        tension=1.0,
        linear_density=1.0,
        flexural_rigidity=bending**2,
        free_length=1.0,
        ends=(end, PINNED),
    )
    chain = Chain(
        lengths=graded_lengths(1.0, 120, bending / 10),
        tension=1.0,
        linear_density=1.0,
        flexural_rigidity=bending**2,
        ends=(GUIDED, "pinned"),
        masses=((0, 0.3),),
        springs=((0, 20.0),),
    )
    assert found == pytest.approx(find_modes(chain, 5).frequencies, rel=1e-6)
