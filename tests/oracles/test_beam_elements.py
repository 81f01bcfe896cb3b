"""Beam elements against published numbers and against themselves on finer meshes."""

import numpy as np
import pytest

from tests.oracles.beam_elements import (
    CLAMPED,
    PINNED,
    Chain,
    deflect,
    even_lengths,
    find_modes,
    graded_lengths,
    join,
    lowest_modes,
    shortening,
    weighted_tension,
)
from tests.reference.tables import read_table
from tests.tolerances import as_printed, computed, half_last_digit

INCH, POUND = 0.0254, 0.45359237
GRAVITY = 9.80665

# Printed inputs (published_beams.csv) in SI: length, linear density, flexural rigidity,
# and newtons per unit of axial force.
BEAMS = {
    "afnor": (2.0, 7800 * 0.05**2, 2e11 * 0.05**4 / 12, 1.0),
    "timoshenko": (
        80 * INCH,
        0.281 * POUND / INCH**3 * (2 * INCH) ** 2,
        30e6 * POUND * GRAVITY / INCH**2 * (2 * INCH) ** 4 / 12,
        POUND * GRAVITY,
    ),
    "thomson": (
        100 * INCH,
        7.3e-4 * POUND * GRAVITY / INCH**4 * 0.00306796 * INCH**2,
        0.0,
        POUND * GRAVITY,
    ),
}


@pytest.mark.parametrize(
    "row",
    read_table("published_beams.csv"),
    ids=lambda row: f"{row['case']} {row['mode']} {row['axial_force']}",
)
def test_elements_give_the_published_frequencies(row: dict[str, str]) -> None:
    length, density, rigidity, unit = BEAMS[row["case"]]
    chain = Chain(
        lengths=even_lengths(length, 40),
        tension=float(row["axial_force"].split()[0]) * unit,
        linear_density=density,
        flexural_rigidity=rigidity,
        ends=(PINNED, PINNED),
    )
    found = find_modes(chain, 3).frequencies[int(row["mode"]) - 1]
    expected: object = as_printed(row["frequency_hz"])
    if row["case"] == "timoshenko":  # printed from a coarse model: 0.1 % of scatter
        expected = pytest.approx(float(row["frequency_hz"]), rel=1e-3)
    assert found == expected


@pytest.mark.parametrize(
    "row",
    read_table("clamped_beam_roots.csv"),
    ids=lambda row: f"{row['source']} {row['mode']}",
)
def test_elements_give_the_published_clamped_roots(row: dict[str, str]) -> None:
    first, last = row["ends"].split("-")
    chain = Chain(
        lengths=even_lengths(1.0, 100),
        tension=0.0,
        linear_density=1.0,
        flexural_rigidity=1.0,
        ends=(first, last),
    )
    rate = 2 * np.pi * find_modes(chain, 3).frequencies[int(row["mode"]) - 1]
    if row["root"]:
        # Ten digits are printed; 100 elements are good to 1e-7.
        printed = float(row["root"])
        allowed = half_last_digit(row["root"]) + computed(1e-7, "elements") * printed
        expected = pytest.approx(printed, rel=0, abs=allowed)
        assert np.sqrt(rate) == expected
    if row["root_squared"]:
        assert rate == as_printed(row["root_squared"])


@pytest.mark.parametrize("ends", [(CLAMPED, CLAMPED), (CLAMPED, PINNED)])
@pytest.mark.parametrize("bending", [0.2, 0.03, 0.003])
def test_doubling_the_mesh_changes_less_than_a_millionth(
    ends: tuple[str, str], bending: float
) -> None:
    found = [
        find_modes(
            Chain(
                lengths=graded_lengths(1.0, n, bending / 4 * 120 / n),
                tension=1.0,
                linear_density=1.0,
                flexural_rigidity=bending**2,
                ends=ends,
            ),
            6,
        ).frequencies
        for n in (120, 240)
    ]
    assert found[0] == pytest.approx(found[1], rel=1e-6)
    # Elements are too stiff, never too soft (Rayleigh), up to the eigenvalue solver.
    assert np.all(found[0] >= found[1] * (1 - 1e-8))


def test_a_uniform_string_of_elements_is_harmonic() -> None:
    chain = Chain(
        lengths=even_lengths(5.0, 60),
        tension=3500.0,
        linear_density=0.35,
        flexural_rigidity=0.0,
        ends=(PINNED, PINNED),
    )
    # c = 100 m/s, L = 5 m: 10 Hz and its multiples.
    assert find_modes(chain, 3).frequencies == pytest.approx([10, 20, 30], rel=1e-7)


def test_the_middle_of_a_string_gives_way_by_a_quarter_of_force_times_length() -> None:
    chain = Chain(
        lengths=even_lengths(4.0, 800),
        tension=1000.0,
        linear_density=1.0,
        flexural_rigidity=1e-9,
        ends=(PINNED, PINNED),
    )
    displacement, slope = deflect(chain, [(400, 50.0)])
    # d = F L/(4 T) = 0.05 m; shortening 2 d^2/L = 1.25 mm. A smooth element cannot
    # make the kink under the force: it rounds it over its own length.
    assert displacement[400] == pytest.approx(0.05, rel=5e-4)
    assert shortening(chain, (displacement, slope)) == pytest.approx(1.25e-3, rel=1e-2)


def test_tension_of_a_hanging_rope_grows_by_its_own_weight() -> None:
    lengths = even_lengths(10.0, 4)
    tension = weighted_tension(lengths, 1000.0, 0.5, 10.0)
    assert tension[0, 0] == 1000.0
    assert tension[-1, 1] == pytest.approx(1050.0)
    assert tension[0, 1] == tension[1, 0]


def test_two_equal_chains_on_a_stiff_common_point_stay_apart() -> None:
    chain = Chain(
        lengths=even_lengths(5.0, 40),
        tension=3500.0,
        linear_density=0.35,
        flexural_rigidity=0.0,
        ends=("free", PINNED),
    )
    stiffness, mass = join([chain, chain], [0, 0])
    stiffness = stiffness.tolil()
    stiffness[-1, -1] += 1e9
    frequencies, _ = lowest_modes(stiffness.tocsc(), mass, 2)
    assert frequencies == pytest.approx([10.0, 10.0], rel=1e-5)
