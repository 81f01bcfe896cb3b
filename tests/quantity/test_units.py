"""Text with a unit to SI: what is read, what is asked back."""

import contextlib
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tension.errors import InvalidValueError
from tension.quantity.showing import (
    EXACT_CASE,
    UNITS,
    find_factor,
    force_text,
    small_length,
)
from tension.quantity.units import (
    Dimension,
    UnitSystem,
    parse_quantity,
    require_positive,
    show_quantity,
)

# Inch, foot, pound and standard gravity are exact by definition, so the products below
# are exact too: 10 ft 4 1/2 in = 124.5 in of 25.4 mm.
READ = [
    ("10' 4 1/2\"", Dimension.LENGTH, 124.5 * 0.0254),
    ("10′ 4½″", Dimension.LENGTH, 124.5 * 0.0254),
    ("10’ 4½”", Dimension.LENGTH, 124.5 * 0.0254),
    ("10'-4 1/2\"", Dimension.LENGTH, 124.5 * 0.0254),
    ("10 ft 4-1/2 in.", Dimension.LENGTH, 124.5 * 0.0254),
    ("10 ft 6 in", Dimension.LENGTH, 126 * 0.0254),
    ("½ in", Dimension.LENGTH, 0.0127),
    ("5/8 in", Dimension.LENGTH, 0.015875),
    (".5 in", Dimension.LENGTH, 0.0127),
    ("118 in", Dimension.LENGTH, 2.9972),
    ("3.40 m", Dimension.LENGTH, 3.4),
    ("3,5 m", Dimension.LENGTH, 3.5),
    ("3 m 40 cm", Dimension.LENGTH, 3.4),
    ("+150 mm", Dimension.LENGTH, 0.15),
    ("−150 mm", Dimension.LENGTH, -0.15),
    ("13mm", Dimension.LENGTH, 0.013),
    ("12 345 mm", Dimension.LENGTH, 12.345),
    ("12\u202f345,5 mm", Dimension.LENGTH, 12.3455),
    ("166.7 N", Dimension.FORCE, 166.7),
    ("1\u2009200 N", Dimension.FORCE, 1200.0),
    ("1 200,5 N", Dimension.FORCE, 1200.5),
    ("12 kgf", Dimension.FORCE, 12 * 9.80665),
    ("38 lbf", Dimension.FORCE, 38 * 0.45359237 * 9.80665),
    ("4.6 MN", Dimension.FORCE, 4.6e6),
    ("4.6e6 N", Dimension.FORCE, 4.6e6),
    ("12 KN", Dimension.FORCE, 12e3),
    ("0,586 kg/m", Dimension.LINEAR_DENSITY, 0.586),
    ("34.5 kg/100 m", Dimension.LINEAR_DENSITY, 0.345),
    ("0.39 lb/ft", Dimension.LINEAR_DENSITY, 0.39 * 0.45359237 / 0.3048),
    ("150 N/mm", Dimension.STIFFNESS, 150e3),
    ("857 lbf/in", Dimension.STIFFNESS, 857 * 0.45359237 * 9.80665 / 0.0254),
    ("1840 kg", Dimension.MASS, 1840.0),
    ("4000 lb", Dimension.MASS, 4000 * 0.45359237),
    ("250 g", Dimension.MASS, 0.25),
    ("12.5 Hz", Dimension.FREQUENCY, 12.5),
    ("354 ms", Dimension.TIME, 0.354),
    ("1 min 20 s", Dimension.TIME, 80.0),
    ("10 %", Dimension.FRACTION, 0.1),
    ("-1 1/4", Dimension.TURNS, -1.25),
    ("+4 1/2 turns", Dimension.TURNS, 4.5),
    ("−¼", Dimension.TURNS, -0.25),
    ("0", Dimension.TURNS, 0.0),
]


@pytest.mark.parametrize(("text", "dimension", "value"), READ)
def test_a_person_may_write_it_so(
    text: str, dimension: Dimension, value: float
) -> None:
    quantity = parse_quantity(text, dimension)
    assert quantity.value == pytest.approx(value, rel=1e-12, abs=0)
    assert quantity.text == text
    assert quantity.dimension is dimension


REFUSED = [
    ("1,200 N", Dimension.FORCE, "two ways; write 1200 if .* 1.200 if"),
    ("12,345 mm", Dimension.LENGTH, "two ways"),
    ("3.4", Dimension.LENGTH, "without a unit; write a length in m, mm, ft or in"),
    ("10 ft 6", Dimension.LENGTH, "without a unit"),
    ("3 4 m", Dimension.LENGTH, "two numbers in a row"),
    ("38 kg", Dimension.FORCE, "write kgf if the scale face shows kg"),
    ("38 lb", Dimension.FORCE, "write lbf if the scale face shows lb"),
    ("12 kgf", Dimension.MASS, "kgf measures a force, and a mass is wanted"),
    ("5.6 N/m", Dimension.LINEAR_DENSITY, "write kg/m"),
    ("857 lb/in", Dimension.STIFFNESS, "write lbf/in"),
    ("4.6 mN", Dimension.FORCE, '"mN" is not known'),
    ("13 N", Dimension.LENGTH, "N measures a force, and a length is wanted"),
    ("6 in 10 ft", Dimension.LENGTH, "the larger unit first"),
    ("10 ft 6 mm", Dimension.LENGTH, "order that is not read"),
    ("10 ft 10 ft", Dimension.LENGTH, "order that is not read"),
    ("10 ft 14 in", Dimension.LENGTH, "14 in is a whole ft or more"),
    ("1.5 ft 3 in", Dimension.LENGTH, "only the last number may have a fraction"),
    ("3.5 1/2 in", Dimension.LENGTH, "no mixed number"),
    ("3 5/4 in", Dimension.LENGTH, "no mixed number"),
    ("1/0 in", Dimension.LENGTH, "divides by nought"),
    ("nan m", Dimension.LENGTH, 'needs a number before "nan"'),
    ("inf N", Dimension.FORCE, 'needs a number before "inf"'),
    ("-inf N", Dimension.FORCE, 'needs a number before "inf"'),
    ("m", Dimension.LENGTH, "needs a number"),
    ("+", Dimension.LENGTH, "no number"),
    ("9**9**9", Dimension.LENGTH, r'the character "\*"'),
    ("٣ m", Dimension.LENGTH, "the character"),
    ("1.200.3 N", Dimension.FORCE, "point or comma that is not read"),
    ("1,200,300 N", Dimension.FORCE, "point or comma that is not read"),
    ("10'6\"x", Dimension.LENGTH, "needs a number before"),
    ("10-6 m", Dimension.LENGTH, "two numbers in a row"),
    ("3/ m", Dimension.LENGTH, 'the character "/"'),
    ("1e999 m", Dimension.LENGTH, "too large for a length"),
    ("9" * 50 + " m", Dimension.LENGTH, "too large for a length"),
    ("100 km", Dimension.LENGTH, '"km" is not known'),
    ("-5 kg", Dimension.MASS, "cannot be below zero"),
    ("x" * 100, Dimension.FORCE, r"too long .* \(100 characters\)"),
    ("", Dimension.FORCE, "empty text"),
    ("  ", Dimension.FORCE, "empty text"),
    ("0.1", Dimension.FRACTION, "write a percentage in %"),
    ("1 ton", Dimension.MASS, '"ton" is not known'),
    ("1/4 3", Dimension.TURNS, "two numbers in a row"),
]


@pytest.mark.parametrize(("text", "dimension", "sentence"), REFUSED)
def test_what_is_doubtful_is_asked_back(
    text: str, dimension: Dimension, sentence: str
) -> None:
    with pytest.raises(InvalidValueError, match=sentence):
        parse_quantity(text, dimension)


@given(st.text(max_size=80), st.sampled_from(Dimension))
def test_any_text_is_read_or_refused_and_never_anything_else(
    text: str, dimension: Dimension
) -> None:
    try:
        quantity = parse_quantity(text, dimension)
    except InvalidValueError:
        return
    assert abs(quantity.value) <= dimension.largest


_MARKS = st.text(alphabet="0123456789.,/-+'\" eEmftinNkg½¼ ", max_size=61)


@given(_MARKS, st.sampled_from(Dimension))
def test_texts_that_look_like_quantities_never_crash(
    text: str, dimension: Dimension
) -> None:
    with contextlib.suppress(InvalidValueError):
        assert parse_quantity(text, dimension).text == text


@given(st.integers(0, 400), st.integers(0, 11), st.integers(0, 63))
def test_feet_inches_and_fractions_add_up(feet: int, inches: int, parts: int) -> None:
    fraction = f" {parts}/64" if parts else ""
    read = parse_quantity(f"{feet} ft {inches}{fraction} in", Dimension.LENGTH)
    marks = parse_quantity(f"{feet}' {inches}{fraction}\"", Dimension.LENGTH)
    wanted = (feet * 12 + inches + parts / 64) * 0.0254
    assert read.value == pytest.approx(wanted, rel=1e-12, abs=1e-15)
    assert marks.value == read.value


@given(st.integers(1, 999_999), st.integers(0, 99))
def test_decimal_comma_point_and_thin_spaces_mean_the_same(
    whole: int, hundredths: int
) -> None:
    point = f"{whole}.{hundredths:02d} mm"
    wanted = parse_quantity(point, Dimension.LENGTH).value
    comma = point.replace(".", ",")
    spaced = f"{whole:,}".replace(",", "\u202f") + f",{hundredths:02d} mm"
    assert parse_quantity(comma, Dimension.LENGTH).value == wanted
    assert parse_quantity(spaced, Dimension.LENGTH).value == wanted


@given(st.integers(1, 999), st.integers(0, 999))
def test_a_comma_before_three_digits_is_never_guessed(left: int, right: int) -> None:
    with pytest.raises(InvalidValueError, match="two ways"):
        parse_quantity(f"{left},{right:03d} N", Dimension.FORCE)


def test_every_spelling_of_every_unit_is_read_as_its_unit() -> None:
    for dimension, units in UNITS.items():
        for name, factor in units.items():
            read = parse_quantity(f"2 {name}", dimension).value
            assert read == pytest.approx(2 * factor, rel=1e-12)
            if name not in EXACT_CASE:
                other = parse_quantity(f"2 {name.upper()}", dimension).value
                assert other == read


def test_every_dimension_has_units_a_limit_and_words() -> None:
    assert set(UNITS) == set(Dimension)
    for dimension in Dimension:
        offered = re.split(", | or ", dimension.offered)
        assert all(find_factor(unit, dimension) for unit in offered)
        if dimension is not Dimension.FRACTION:  # a plain number has no unit
            assert find_factor(dimension.unit, dimension) == 1.0


def test_a_unit_of_one_dimension_is_never_one_of_another() -> None:
    seen: dict[str, Dimension] = {}
    for dimension, units in UNITS.items():
        for name in units:
            assert name not in seen
            seen[name] = dimension


def test_absurd_texts_are_refused() -> None:
    for text in ("1 " * 29, "1/" * 29, "9" * 60, "'" * 60, "x" * 10**6):
        with pytest.raises(InvalidValueError):
            parse_quantity(text, Dimension.LENGTH)


def test_a_free_length_must_be_above_zero() -> None:
    good = parse_quantity("3 m", Dimension.LENGTH)
    assert require_positive(good, "free length") is good
    for text in ("0 m", "-3 m"):
        with pytest.raises(InvalidValueError, match="free length must be above zero"):
            require_positive(parse_quantity(text, Dimension.LENGTH), "free length")


RANGES = {
    Dimension.LENGTH: (1e-3, 300.0),
    Dimension.FORCE: (1.0, 9e6),
    Dimension.MASS: (0.1, 1e5),
    Dimension.LINEAR_DENSITY: (0.01, 10.0),
    Dimension.STIFFNESS: (1e3, 1e7),
    Dimension.FREQUENCY: (0.1, 500.0),
    Dimension.TIME: (1e-3, 1e4),
    Dimension.FRACTION: (1e-4, 2.0),
    Dimension.TURNS: (0.01, 50.0),
}


@given(st.data(), st.sampled_from(Dimension), st.sampled_from(UnitSystem))
def test_what_is_shown_can_be_read_again(
    data: st.DataObject, dimension: Dimension, system: UnitSystem
) -> None:
    value = data.draw(st.floats(*RANGES[dimension]))
    uncertainty = value * data.draw(st.sampled_from([0.001, 0.01, 0.1]))
    shown = show_quantity(value, dimension, system, uncertainty=uncertainty)
    read = parse_quantity(shown, dimension).value
    # rounded at the second digit of the uncertainty at the coarsest, half a digit off;
    # a fraction of an inch is at most one uncertainty wide or 1/64 in
    step = 0.0254 / 64 if dimension is Dimension.LENGTH else 0.0
    assert abs(read - value) <= max(0.51 * uncertainty, 0.51 * step)


@given(st.data(), st.sampled_from(Dimension))
def test_si_shows_six_digits_where_nothing_is_said(
    data: st.DataObject, dimension: Dimension
) -> None:
    value = data.draw(st.floats(*RANGES[dimension]))
    shown = show_quantity(value, dimension)
    tolerance = 5e-3 / value if dimension is Dimension.TURNS else 5.1e-6
    assert parse_quantity(shown, dimension).value == pytest.approx(value, rel=tolerance)


SHOWN = [
    (3.4, Dimension.LENGTH, UnitSystem.SI, 0.005, "3.400 m"),
    (3.4, Dimension.LENGTH, UnitSystem.SI, None, "3.4 m"),
    (0.15, Dimension.LENGTH, UnitSystem.SI, None, "150 mm"),
    (124.5 * 0.0254, Dimension.LENGTH, UnitSystem.US, None, "10 ft 4 1/2 in"),
    (124.5 * 0.0254, Dimension.LENGTH, UnitSystem.US, 0.03, "10 ft 4 in"),
    (120 * 0.0254, Dimension.LENGTH, UnitSystem.US, None, "10 ft"),
    (0.013, Dimension.LENGTH, UnitSystem.US, 1e-4, "0.512 in"),
    (5003.1, Dimension.FORCE, UnitSystem.SI, 50.0, "5000 N"),
    (5003.1, Dimension.FORCE, UnitSystem.SI, 12.0, "5003 N"),
    (4.6e6, Dimension.FORCE, UnitSystem.SI, None, "4.6 MN"),
    (150e3, Dimension.STIFFNESS, UnitSystem.SI, None, "150 N/mm"),
    (0.575, Dimension.LINEAR_DENSITY, UnitSystem.US, 0.01, "0.386 lb/ft"),
    (0.1, Dimension.FRACTION, UnitSystem.SI, None, "10 %"),
    (-1.25, Dimension.TURNS, UnitSystem.SI, None, "-1 1/4 turns"),
    (0.5, Dimension.TURNS, UnitSystem.US, None, "+1/2 turn"),
    (0.0, Dimension.TURNS, UnitSystem.SI, None, "0 turns"),
    (0.0, Dimension.FORCE, UnitSystem.SI, None, "0 N"),
    (float("nan"), Dimension.FORCE, UnitSystem.SI, None, "none"),
]


@pytest.mark.parametrize(("value", "dimension", "system", "uncertainty", "text"), SHOWN)
def test_values_are_shown_as_people_write_them(
    value: float,
    dimension: Dimension,
    system: UnitSystem,
    uncertainty: float | None,
    text: str,
) -> None:
    assert show_quantity(value, dimension, system, uncertainty) == text


def test_a_small_uncertainty_never_brings_an_exponent() -> None:
    shown = show_quantity(123456.0, Dimension.MASS, uncertainty=5000.0)
    assert shown == "123000 kg"
    assert show_quantity(-0.0001, Dimension.LENGTH, uncertainty=0.01) == "0 mm"


def test_what_is_not_measured_here_is_refused_with_what_is() -> None:
    with pytest.raises(InvalidValueError, match=r'"weight" is nothing .* "mass"'):
        parse_quantity("3 kg", "weight")


def test_small_lengths_and_forces_have_the_digits_of_a_calliper_and_a_scale() -> None:
    assert small_length(0.01234) == "12.3 mm"
    assert small_length(0.01234, UnitSystem.US) == "0.49 in"
    assert force_text(5003.1) == "5000 N"
    assert force_text(5003.1, UnitSystem.US) == "1120 lbf"
