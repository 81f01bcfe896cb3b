import csv
from pathlib import Path

import pytest

from tension.errors import InvalidValueError
from tension.physics.hitch_statics import (
    solid_length,
    spring_rate_from_two_loads,
    spring_rate_from_wire,
)
from tests.oracles.coil_frame import coil_rate
from tests.tolerances import as_printed, computed

TABLE = Path(__file__).parents[1] / "reference" / "spring_rates.csv"
SHEAR_MODULUS = 81370e6  # as the worked examples use it


def worked_examples() -> list[dict[str, str]]:
    with TABLE.open(encoding="utf-8") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def rate_of(row: dict[str, str]) -> float:
    return spring_rate_from_wire(
        wire_diameter=float(row["wire_diameter_mm"]) / 1000,
        mean_coil_diameter=float(row["mean_coil_diameter_mm"]) / 1000,
        n_active_coils=float(row["n_active_coils"]),
        shear_modulus=SHEAR_MODULUS,
    )


# --- published worked examples ---


@pytest.mark.parametrize("row", worked_examples(), ids=lambda row: row["example"])
def test_rate_agrees_with_published_worked_examples(row: dict[str, str]) -> None:
    rate = rate_of(row) / 1000
    if row["rate_n_per_mm"]:
        assert rate == as_printed(row["rate_n_per_mm"])
        return
    solid = 1000 * solid_length(
        wire_diameter=float(row["wire_diameter_mm"]) / 1000,
        n_active_coils=float(row["n_active_coils"]),
    )
    n_gaps = float(row["n_total_coils"]) - 1
    deflection = float(row["load_n"]) / rate
    free_length = solid + n_gaps * float(row["gap_mm"]) + deflection
    assert free_length == as_printed(row["free_length_mm"])


@pytest.mark.parametrize("row", worked_examples(), ids=lambda row: row["example"])
def test_squared_and_ground_ends_add_two_coils(row: dict[str, str]) -> None:
    wire = float(row["wire_diameter_mm"])
    solid = solid_length(
        wire_diameter=wire,
        n_active_coils=float(row["n_active_coils"]),
    )
    assert solid == pytest.approx(wire * float(row["n_total_coils"]), rel=1e-12)


# --- another mathematics: a space frame of beam elements ---


def test_rate_agrees_with_a_space_frame_of_the_coil() -> None:
    shape = {
        "wire_diameter": 0.002,
        "mean_coil_diameter": 0.060,
        "shear_modulus": 79.3e9,
    }
    coarse, fine = (
        coil_rate(**shape, n_coils=4, pitch=0.0025, per_turn=per_turn)
        for per_turn in (24, 48)
    )
    closed = spring_rate_from_wire(**shape, n_active_coils=4)
    assert abs(fine - coarse) / fine < 0.03
    extrapolated = fine + (fine - coarse) / 3.0  # chords of a circle: second order
    assert closed == pytest.approx(
        extrapolated, rel=computed(5e-3, "slope of the coil, frame without shear")
    )


# --- limits and identities ---


def test_rate_goes_with_the_fourth_power_of_the_wire() -> None:
    shape = {"mean_coil_diameter": 0.06, "n_active_coils": 8, "shear_modulus": 79.3e9}
    thin = spring_rate_from_wire(wire_diameter=0.010, **shape)
    thick = spring_rate_from_wire(wire_diameter=0.0101, **shape)
    assert thick / thin == pytest.approx(1.01**4, rel=1e-12)


def test_two_springs_on_each_other_are_one_of_twice_the_coils() -> None:
    shape = {
        "wire_diameter": 0.01,
        "mean_coil_diameter": 0.06,
        "shear_modulus": 79.3e9,
    }
    one = spring_rate_from_wire(n_active_coils=4, **shape)
    two = spring_rate_from_wire(n_active_coils=8, **shape)
    assert 1 / two == pytest.approx(2 / one, rel=1e-12)


def test_a_rate_from_two_loads_is_the_rate_that_made_them() -> None:
    rate, free = 150e3, 0.160
    loads = (2000.0, 5000.0)
    lengths = (free - loads[0] / rate, free - loads[1] / rate)
    found = spring_rate_from_two_loads(loads=loads, lengths=lengths)
    assert found == pytest.approx(rate, rel=1e-9)


def test_a_spring_that_gets_longer_under_load_is_refused() -> None:
    with pytest.raises(InvalidValueError, match="shorter under the larger load"):
        spring_rate_from_two_loads(loads=(1000.0, 2000.0), lengths=(0.12, 0.13))


def test_rates_of_usual_springs_by_arithmetic() -> None:
    # Our own arithmetic, no outside source: 79.3 GPa, coil 60 mm, 8 coils.
    for wire, by_hand in ((12, 79300 * 12**4), (10, 79300 * 10**4)):
        found = spring_rate_from_wire(
            wire_diameter=wire / 1000,
            mean_coil_diameter=0.060,
            n_active_coils=8,
            shear_modulus=79.3e9,
        )
        assert found / 1000 == pytest.approx(by_hand / (8 * 60**3 * 8), rel=1e-12)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"wire_diameter": 0.0}, "wire diameter"),
        ({"n_active_coils": -1.0}, "active coils"),
        ({"mean_coil_diameter": 0.01}, "larger than the wire"),
    ],
)
def test_springs_that_cannot_be_are_refused(
    changed: dict[str, float], words: str
) -> None:
    shape = {
        "wire_diameter": 0.012,
        "mean_coil_diameter": 0.060,
        "n_active_coils": 8.0,
        "shear_modulus": 79.3e9,
    }
    with pytest.raises(InvalidValueError, match=words):
        spring_rate_from_wire(**(shape | changed))


def test_a_spring_may_be_as_soft_as_it_likes() -> None:
    # 10 N over 10 mm
    rate = spring_rate_from_two_loads(loads=(0.0, 10.0), lengths=(0.10, 0.09))
    assert rate == pytest.approx(1000.0)
