"""Linear density typed or from the table, and the bounds of the bending stiffness."""

from dataclasses import replace

import pytest

from tension.catalogue.ropes import BONDED_WIRES, LOOSE_WIRES
from tension.installation import Rope, Uncertainties
from tension.measurement.rope_figures import (
    find_free_lengths,
)
from tension.quantity.estimate import Sharing
from tests.measurement.sets import (
    find_rope_figures,
    quantity,
    rigidity_from_partials,
    rope_set,
    span,
)


def test_what_is_typed_goes_before_the_table() -> None:
    found = find_rope_figures(rope_set(density=0.6))
    assert found.linear_density is not None
    assert found.linear_density.value == 0.6
    assert found.notes == ()


def test_the_table_is_marked_and_its_error_is_shared_by_the_set() -> None:
    found = find_rope_figures(rope_set(density=None))
    assert found.linear_density is not None
    # EN 12385 factor of 8x19 with fibre core as printed in Feyrer, Wire Ropes,
    # table 1.9: 0.340 kg per 100 m and mm2
    assert found.linear_density.value == pytest.approx(0.340 * 13**2 / 100, rel=1e-9)
    assert found.linear_density.relative_uncertainty((Sharing.SET,)) >= 0.05
    assert [note.code for note in found.notes] == ["from-table"]


def test_a_typed_uncertainty_stands_for_the_table_too() -> None:
    rope = rope_set(
        density=None,
        uncertainties=Uncertainties(linear_density=0.02, typed=("linear_density",)),
    )
    found = find_rope_figures(rope).linear_density
    assert found is not None
    assert found.relative_uncertainty((Sharing.SET,)) == pytest.approx(0.02)


def test_coated_ropes_have_no_mass_in_the_table() -> None:
    found = find_rope_figures(replace(rope_set(density=None), construction="coated"))
    assert found.linear_density is None
    assert len(found.notes) == 1


def test_stiffness_heard_goes_before_the_bounds() -> None:
    known = find_rope_figures(rope_set()).rigidity_per_density
    assert known.lowest < 14.0 < known.highest
    heard = rigidity_from_partials(14.0, 0.2, known)
    assert heard.likely == 14.0
    assert heard.relative_uncertainty == 0.2
    assert rigidity_from_partials(float("nan"), 0.2, known) is known
    assert rigidity_from_partials(14.0, 3.0, known) is known


def test_bounds_are_those_of_a_rod() -> None:
    found = find_rope_figures(rope_set(density=0.58)).rigidity_per_density
    # 196 GPa, 13 mm: EI of the rod 274.8 N m2, over 0.58 kg/m
    assert found.highest == pytest.approx(BONDED_WIRES * 274.8 / 0.58, rel=1e-3)
    assert found.lowest == pytest.approx(LOOSE_WIRES * 274.8 / 0.58, rel=1e-3)


def test_lengths_read_on_each_rope_share_no_reading() -> None:
    each = tuple(
        Rope(number=n, free_lengths=(("top", quantity(3.4)),)) for n in (1, 2, 3, 4)
    )
    ropes = replace(rope_set(length=None), ropes=each)
    found = find_free_lengths(ropes, span(None))
    assert dict(found.lengths) == dict.fromkeys((1, 2, 3, 4), 3.4)
    assert found.shared_uncertainty == 0.0
    assert found.own_uncertainty == ropes.uncertainties.free_length
    shared = find_free_lengths(ropes, span(3.4))
    assert shared.shared_uncertainty == ropes.uncertainties.free_length
