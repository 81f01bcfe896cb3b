"""Rope classes: the printed factors, and what is refused."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.catalogue import Standing
from tension.catalogue.ropes import (
    RopeClass,
    find_axial_rigidity,
    find_rope_class,
    flexural_rigidity_bounds,
    linear_density_from_class,
    metal_area,
    rope_classes,
)
from tension.notes import Refusal
from tension.quantity.estimate import Sharing
from tests.oracles.seale_rope import metal_over_rod, rigidity_over_rod
from tests.reference.tables import read_table
from tests.tolerances import as_printed, computed


def find(construction: str) -> RopeClass:
    found = find_rope_class(construction)
    assert isinstance(found, RopeClass), found
    return found


@pytest.mark.parametrize(
    "row", read_table("rope_class_factors.csv"), ids=lambda row: row["class"]
)
def test_the_factors_are_those_printed(row: dict[str, str]) -> None:
    rope_class = find(row["class"])
    assert rope_class.mass_factor == as_printed(row["W"])
    assert rope_class.area_factor == as_printed(row["C"])
    assert rope_class.strength_factor == as_printed(row["K"])
    assert rope_class.standing is Standing.SEEN


def test_every_row_of_the_catalogue_is_a_printed_one() -> None:
    printed = {find(row["class"]).name for row in read_table("rope_class_factors.csv")}
    assert printed == {rope_class.name for rope_class in rope_classes()}


@pytest.mark.parametrize("row", read_table("rope_mass.csv"))
def test_the_mass_is_that_of_another_table(row: dict[str, str]) -> None:
    diameter = 1e-3 * float(row["diameter_mm"])
    mass = linear_density_from_class(find(row["class"]), diameter).value
    assert 100 * mass == as_printed(row["kg_per_100m"])


def test_steel_of_the_area_weighs_less_than_the_rope() -> None:
    # lay and core come on top of the bare wires: steel 7850 kg/m³, common value
    for rope_class in rope_classes():
        bare = 7850 * metal_area(rope_class, 0.013)
        whole = linear_density_from_class(rope_class, 0.013).value
        assert 1.0 < whole / bare < 1.3


@given(st.sampled_from(rope_classes()), st.floats(0.006, 0.022))
def test_mass_and_area_grow_with_the_square(
    rope_class: RopeClass, diameter: float
) -> None:
    thin, thick = diameter, 2 * diameter
    mass = linear_density_from_class(rope_class, thin).value
    assert linear_density_from_class(rope_class, thick).value == pytest.approx(4 * mass)
    area = metal_area(rope_class, thin)
    assert metal_area(rope_class, thick) == pytest.approx(4 * area)


def test_the_area_of_one_rope_is_as_worked_by_hand() -> None:
    # 0.349 x 13² = 58.981 mm²
    area = metal_area(find("8x19 FC"), 0.013)
    assert 1e6 * area == pytest.approx(58.981, rel=1e-9)


def test_an_error_of_the_table_is_common_to_the_set() -> None:
    density = linear_density_from_class(find("8x19 FC"), 0.013)
    assert density.relative_uncertainty([Sharing.OWN]) == 0
    assert density.relative_uncertainty([Sharing.SET]) == 0.05


@pytest.mark.parametrize(
    ("construction", "name"),
    [
        ("8x19S-FC", "8x19 FC"),
        ("8×19 Seale FC", "8x19 FC"),
        ("8x19W IWRC", "8x19 steel"),
        ("8 x 25 Filler + NFC", "8x19 FC"),
        ("8x19, hemp core", "8x19 FC"),
        ("6 x 36WS-IWRC", "6x36 steel"),
        ("6x25F (FC)", "6x19 FC"),
        ("8x19 Warrington, fiber core", "8x19 FC"),
        ("8x19 steel core", "8x19 steel"),
        ("6X7 FC", "6x7 FC"),
    ],
)
def test_a_class_is_found_however_it_is_written(construction: str, name: str) -> None:
    assert find(construction).name == name


@pytest.mark.parametrize(
    ("construction", "code"),
    [
        ("coated", "rope-needs-data-sheet"),
        ("8x19 FC compacted", "rope-needs-data-sheet"),
        ("8xK19 IWRC", "rope-needs-data-sheet"),
        ("flat belt", "rope-needs-data-sheet"),
        ("9x19 FC", "rope-not-in-table"),
        ("18x7", "rope-not-in-table"),
        ("8x190 FC", "rope-not-in-table"),
        ("rope", "rope-not-in-table"),
        ("8x19", "rope-core-not-said"),
        ("8x19 fibre or steel", "rope-core-not-said"),
        ("", "rope-not-said"),
    ],
)
def test_what_the_table_does_not_hold_is_refused(construction: str, code: str) -> None:
    found = find_rope_class(construction)
    assert isinstance(found, Refusal)
    assert found.code == code
    assert found.next_act


@given(st.text(max_size=40))
def test_any_construction_is_found_or_refused(construction: str) -> None:
    assert isinstance(find_rope_class(construction), RopeClass | Refusal)


def test_the_bounds_of_bending_are_those_of_the_geometry() -> None:
    loose, bonded = rigidity_over_rod()
    # wires as thin as the printed metal area has them: of each the fourth power
    printed = find("8x19 FC").area_factor / (pi / 4)
    thinner = (printed / metal_over_rod()) ** 2
    least, most = flexural_rigidity_bounds(0.013)
    rod = 196e9 * pi * 0.013**4 / 64
    # both are kept to three digits: half the last one
    assert least / rod == pytest.approx(loose * thinner, abs=0.5e-5)
    assert most / rod == pytest.approx(bonded, abs=0.5e-3)


def test_the_ideal_rope_fills_a_little_more_than_a_real_one() -> None:
    # printed fill factor of 8x19 FC: 4 C/pi = 0.444
    assert 1.0 < metal_over_rod() / (4 * find("8x19 FC").area_factor / pi) < 1.2


def test_axial_rigidity_takes_the_middle_and_says_it_is_from_memory() -> None:
    for rope_class in rope_classes():
        assert rope_class.modulus_standing is Standing.MEMORY
        ends = [1e9 * end for end in rope_class.modulus_gpa]
        middle = find_axial_rigidity(diameter=0.013, construction=rope_class.name)
        assert middle.value == pytest.approx(
            sum(ends) / 2 * metal_area(rope_class, 0.013),
            rel=computed(1e-9, "rounding"),
        )
