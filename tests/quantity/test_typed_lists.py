"""Several numbers in one line, as people type them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.errors import InvalidValueError
from tension.quantity.units import Dimension, parse_quantity, read_typed_list

LINES = [
    ("139 142 139,5 mm", [0.139, 0.142, 0.1395]),
    ("139, 142, 139.5 MM", [0.139, 0.142, 0.1395]),
    ("139mm 14.2cm", [0.139, 0.142]),
    ("139 mm 142 mm", [0.139, 0.142]),
    ("10 ft 6 in, 10 ft 4 1/2 in", [3.2004, 3.1623]),
    ("10' 4 1/2\" 10' 5\"", [3.1623, 3.175]),
    ("3 1/2 4½ 5/8 in", [0.0889, 0.1143, 0.015875]),
    ("4-1/2 in", [0.1143]),
    ("3⅕ ⅚ in", [0.08128, 0.0254 * 5 / 6]),
    ("10' 4-1/2\" 10 ft 5-1/4 in", [3.1623, 3.18135]),
    ("10, 1/2 in", [0.254, 0.0127]),
    ("3 m 40 cm 3 m 41 cm", [3.4, 3.41]),
    ("3.40 m +150 0 -2 mm", [3.4, 0.15, 0.0, -0.002]),
]


@pytest.mark.parametrize(("line", "wanted"), LINES)
def test_a_line_is_parted_as_it_is_meant(line: str, wanted: list[float]) -> None:
    assert not read_typed_list(line, Dimension.LENGTH)[1]
    assert read_all(line) == pytest.approx(wanted, rel=1e-12)


def test_a_unit_that_is_missing_is_told_and_taken_from_elsewhere() -> None:
    assert read_typed_list("139 142", Dimension.LENGTH) == (["139", "142"], True)
    typed, lacks_unit = read_typed_list("139 142", Dimension.LENGTH, "mm")
    assert typed == ["139 mm", "142 mm"]
    assert lacks_unit


@pytest.mark.parametrize("line", ["mm 139", "139 ? 142 mm", "3.4 m; rope"])
def test_what_is_no_number_is_refused(line: str) -> None:
    with pytest.raises(InvalidValueError):
        read_all(line)


def read_all(line: str) -> list[float]:
    texts, _ = read_typed_list(line, Dimension.LENGTH)
    return [parse_quantity(text, Dimension.LENGTH).value for text in texts]


numbers = st.decimals(1, 9999, places=1).map(str)


@given(
    st.lists(numbers, min_size=1, max_size=12),
    st.sampled_from([" ", ", ", "; ", "  "]),
    st.sampled_from(["mm", " mm", "m", " in", " FT"]),
    st.booleans(),
)
def test_no_number_is_lost_whatever_parts_them(
    typed: list[str],
    apart: str,
    unit: str,
    has_comma: bool,  # noqa: FBT001 - drawn
) -> None:
    line = apart.join(typed).replace(".", "," if has_comma else ".") + unit
    wanted = [
        parse_quantity(f"{number} {unit}", Dimension.LENGTH).value for number in typed
    ]
    assert read_all(line) == wanted
