"""Tolerances under which no test can fail are refused."""

import pytest

from tests.tolerances import as_printed, computed, half_last_digit, measured


@pytest.mark.parametrize(
    ("printed", "half"),
    [("1.5664", 0.00005), ("28.70", 0.005), ("375", 0.5), ("1.2e-3", 0.00005)],
)
def test_half_of_the_last_printed_digit(printed: str, half: float) -> None:
    if printed == "1.2e-3":  # two digits: half a unit is 4 %
        with pytest.raises(ValueError, match="too few digits"):
            half_last_digit(printed)
    else:
        assert half_last_digit(printed) == pytest.approx(half, rel=1e-12)


def test_a_printed_number_is_met_to_half_its_last_digit() -> None:
    assert as_printed("28.702") == 28.70249
    assert as_printed("28.702") != 28.7026


@pytest.mark.parametrize("relative", [0.0, -1e-3, 0.0101, 0.5])
def test_a_vacuous_computed_tolerance_is_refused(relative: float) -> None:
    with pytest.raises(ValueError, match="1 % error"):
        computed(relative, "because")


def test_a_tolerance_without_a_reason_is_refused() -> None:
    with pytest.raises(ValueError, match="needs a reason"):
        computed(1e-3, " ")
    with pytest.raises(ValueError, match="needs a source"):
        measured(0.02, "")
    with pytest.raises(ValueError, match="tests nothing"):
        measured(1.5, "a source")
