"""Where a figure turns how a quantity is read, shown or compared."""

import pytest

from tension.errors import InvalidValueError
from tension.quantity.showing import UnitSystem, rounded_text, show_quantity
from tension.quantity.units import (
    Dimension,
    Quantity,
    as_typed,
    exceeds,
    is_same,
    parse_quantity,
    read_typed_list,
    require_positive,
)


@pytest.mark.parametrize(
    ("value", "dimension", "shown"),
    [
        (1.0, Dimension.LENGTH, "1 m"),
        (-1.0, Dimension.LENGTH, "-1 m"),
        (0.99, Dimension.LENGTH, "990 mm"),
        (0.0, Dimension.LENGTH, "0 mm"),
        (1e5, Dimension.FORCE, "100 kN"),
        (99_999.0, Dimension.FORCE, "99999 N"),
        (1e6, Dimension.FORCE, "1 MN"),
        (999_999.0, Dimension.FORCE, "999.999 kN"),
        (1.25e6, Dimension.FORCE, "1.25 MN"),
        (0.5, Dimension.FORCE, "0.5 N"),
        (0.5, Dimension.MASS, "0.5 kg"),
        (0.58, Dimension.LINEAR_DENSITY, "0.58 kg/m"),
        (400.0, Dimension.STIFFNESS, "0.4 N/mm"),
        (0.25, Dimension.FREQUENCY, "0.25 Hz"),
        (0.25, Dimension.TIME, "0.25 s"),
        (0.005, Dimension.FRACTION, "0.5 %"),
    ],
)
def test_a_value_has_the_unit_of_its_size(
    value: float, dimension: Dimension, shown: str
) -> None:
    assert show_quantity(value, dimension) == shown


@pytest.mark.parametrize(
    ("uncertainty", "shown"),
    [
        # the second digit below 2.95, the first from there on
        (0.0294, "1.235"),
        (0.0296, "1.23"),
        (0.01, "1.235"),
        (0.0995, "1.23"),
        (0.3, "1.2"),
        (2.94, "1.2"),
        (3.0, "1"),
        (29.4, "1"),
        (31.0, "0"),
    ],
)
def test_a_value_is_rounded_to_what_is_known_of_it(
    uncertainty: float, shown: str
) -> None:
    assert rounded_text(1.2346, uncertainty) == shown


@pytest.mark.parametrize(
    ("value", "uncertainty", "digits", "shown"),
    [
        (1_234_567.0, None, None, "1234570"),
        (1.0000004, None, None, "1"),
        (1.0000006, None, 7, "1.000001"),
        (999.96, None, 4, "1000"),
        (-0.0001, 0.1, None, "0.00"),
        (12_345.0, 210.0, None, "12340"),
        (12_345.0, 400.0, None, "12300"),
        (5.0, 0.0, None, "5"),
        (5.25, float("inf"), 2, "5.2"),
        (0.0, None, 3, "0"),
    ],
)
def test_digits_are_those_asked_for(
    value: float, uncertainty: float | None, digits: int | None, shown: str
) -> None:
    assert rounded_text(value, uncertainty, digits) == shown


@pytest.mark.parametrize(
    ("inches", "uncertainty", "digits", "shown"),
    [
        (133.875, None, None, "11 ft 1 7/8 in"),
        (133.90625, None, None, "11 ft 1 7/8 in"),  # to a sixteenth
        (133.90625, 0.01, None, "11 ft 1 29/32 in"),
        (133.890625, 0.0001, None, "11 ft 1 57/64 in"),  # and no finer than that
        (133.9, 0.0001, None, "11 ft 1 29/32 in"),
        (133.9, 0.26, None, "11 ft 2 in"),
        (133.9, 0.24, None, "11 ft 1 7/8 in"),
        (133.875, 1.1, None, "11 ft 2 in"),
        (133.875, 0.0, None, "11 ft 1 7/8 in"),
        (144.0, None, None, "12 ft"),
        (-144.5, None, None, "-12 ft 1/2 in"),
        (0.3048 / 0.0254, None, None, "1 ft"),
        (11.99, None, None, "11.99 in"),
        (133.875, None, 3, "11 ft 2 in"),
        (133.6, None, 4, "11 ft 1 5/8 in"),
    ],
)
def test_feet_have_fractions_as_fine_as_the_inch_is_known(
    inches: float, uncertainty: float | None, digits: int | None, shown: str
) -> None:
    inch = 0.0254
    known = None if uncertainty is None else uncertainty * inch
    assert show_quantity(
        inches * inch, Dimension.LENGTH, UnitSystem.US, known, digits
    ) == (shown)


@pytest.mark.parametrize(
    ("turns", "shown"),
    [
        (1.0, "+1 turn"),
        (1.125, "+1 1/8 turns"),
        (0.875, "+7/8 turn"),
        (-2.0, "-2 turns"),
        (0.0, "0 turns"),
        (1e-9 / 8, "0 turns"),
        (1.0 + 1.2e-10, "+1 turn"),  # a thousand millionth of an eighth
        (1.0 + 1.3e-10, "+1.00 turns"),
        (0.3, "+0.30 turns"),
    ],
)
def test_turns_are_in_eighths_where_they_are(turns: float, shown: str) -> None:
    assert show_quantity(turns, Dimension.TURNS) == shown


def test_a_text_is_read_to_sixty_characters() -> None:
    longest = "5" + " " * 58 + "m"
    assert parse_quantity(longest, Dimension.LENGTH).value == 5.0
    with pytest.raises(InvalidValueError, match="61 characters"):
        parse_quantity(longest + " ", Dimension.LENGTH)
    with pytest.raises(InvalidValueError, match=f'"{"x" * 20}\\.\\.\\."'):
        parse_quantity("x" * 61, Dimension.LENGTH)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1,20 N", 1.2),
        ("1,2000 N", 1.2),
        ("0,200 N", 0.2),
        ("1234,500 N", 1234.5),
        ("1,200 N", None),
        ("123,500 N", None),
    ],
)
def test_a_comma_before_three_digits_may_part_thousands(
    text: str, value: float | None
) -> None:
    if value is None:
        with pytest.raises(InvalidValueError, match="two ways"):
            parse_quantity(text, Dimension.FORCE)
        return
    assert parse_quantity(text, Dimension.FORCE).value == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("10 ft 11 63/64 in", (120 + 11 + 63 / 64) * 0.0254),
        ("10 ft 12 in", None),
        ("1 min 59.999 s", 119.999),
        ("1 min 60 s", None),
        ("3 m 99 cm", 3.99),
        ("3 m 100 cm", None),
        ("3 m 40 cm 5 mm", 3.405),
        ("3 m 5 mm", 3.005),
        ("40 cm 3 m", None),
        ("10 ft 5 mm", None),
        ("1 s 5 ms", None),
    ],
)
def test_a_part_is_less_than_one_of_the_part_before(
    text: str, value: float | None
) -> None:
    dimension = Dimension.TIME if "s" in text else Dimension.LENGTH
    if value is None:
        with pytest.raises(InvalidValueError):
            parse_quantity(text, dimension)
        return
    assert parse_quantity(text, dimension).value == pytest.approx(value, rel=1e-12)


def test_a_quantity_is_the_decimal_that_is_written() -> None:
    # 0.3 as written, not the sum of 0.1 and 0.2
    assert parse_quantity("10 cm", Dimension.LENGTH).value == 0.1
    assert parse_quantity("1 m 10 cm", Dimension.LENGTH).value == 1.1
    assert parse_quantity("7 in", Dimension.LENGTH).value == 0.1778
    assert parse_quantity("-7 in", Dimension.LENGTH).value == -0.1778


def test_values_differ_from_a_thousand_millionth_on() -> None:
    assert is_same(1.0, 1.0 + 0.99e-9)
    assert not is_same(1.0, 1.0 + 1.01e-9)
    assert not exceeds(1.0 + 0.99e-9, 1.0)
    assert exceeds(1.0 + 1.01e-9, 1.0)
    assert not exceeds(1.0, 1.0)


def test_a_text_that_says_another_value_is_not_believed() -> None:
    told = Quantity(value=0.0117, dimension=Dimension.LENGTH, text="11.7 mm")
    assert as_typed(told) * 10_000 == 117
    other = Quantity(value=0.0118, dimension=Dimension.LENGTH, text="11.7 mm")
    assert as_typed(other) * 10_000 == 118
    words = Quantity(value=0.0118, dimension=Dimension.LENGTH, text="a finger")
    assert as_typed(words) * 10_000 == 118


def test_nought_is_not_above_zero() -> None:
    least = parse_quantity("0.001 mm", Dimension.LENGTH)
    assert require_positive(least, "length") is least
    with pytest.raises(InvalidValueError, match="must be above zero, got 0 mm"):
        require_positive(parse_quantity("0 mm", Dimension.LENGTH), "length")


def test_what_is_no_number_in_a_list_is_told_with_what_follows() -> None:
    with pytest.raises(InvalidValueError, match=r'^"#bcdefghijklmnopqrst" is no'):
        read_typed_list("139 #bcdefghijklmnopqrstuvwxyz", Dimension.LENGTH)
    assert read_typed_list("  139 142", Dimension.LENGTH)[1]
    assert not read_typed_list("139 142 mm", Dimension.LENGTH)[1]
