"""Every unit under every spelling is what it is by definition.

Inch, foot, pound and standard gravity are exact by definition (0.0254 m, 0.3048 m,
0.45359237 kg, 9.80665 m/s2), so each factor is exact too.
"""

import math

import pytest

from tension.errors import InvalidValueError
from tension.quantity.showing import UNITS
from tension.quantity.units import (
    Dimension,
    UnitSystem,
    parse_quantity,
    show_quantity,
)

FACTORS: dict[Dimension, dict[float, tuple[str, ...]]] = {
    Dimension.LENGTH: {
        1.0: ("m", "metre", "metres", "meter", "meters"),
        0.01: ("cm",),
        0.001: ("mm",),
        0.3048: ("ft", "'", "foot", "feet"),
        0.0254: ("in", '"', "inch", "inches"),
    },
    Dimension.FORCE: {
        1.0: ("N", "newton", "newtons"),
        10.0: ("daN",),
        1000.0: ("kN",),
        1000000.0: ("MN",),
        9.80665: ("kgf", "kp"),
        4.4482216152605: ("lbf",),
        4448.2216152605: ("kip", "kips"),
    },
    Dimension.MASS: {
        1.0: ("kg",),
        0.001: ("g",),
        1000.0: ("t", "tonne", "tonnes"),
        0.45359237: ("lb", "lbs", "lbm", "pound", "pounds"),
    },
    Dimension.LINEAR_DENSITY: {
        1.0: ("kg/m",),
        0.001: ("g/m", "kg/km"),
        0.01: ("kg/100m",),
        1.4881639435695537: ("lb/ft", "lbs/ft", "lbm/ft"),
        0.014881639435695537: ("lb/100ft", "lbs/100ft"),
    },
    Dimension.STIFFNESS: {
        1.0: ("N/m",),
        100.0: ("N/cm",),
        1000.0: ("N/mm", "kN/m"),
        1000000.0: ("kN/mm",),
        9806.65: ("kgf/mm",),
        980.665: ("kgf/cm",),
        175.12683524647636: ("lbf/in", "lbf/inch"),
        14.593902937206364: ("lbf/ft",),
    },
    Dimension.FREQUENCY: {1.0: ("Hz",), 1000.0: ("kHz",)},
    Dimension.TIME: {
        1.0: ("s", "sec", "second", "seconds"),
        0.001: ("ms",),
        60.0: ("min", "minute", "minutes"),
    },
    Dimension.FRACTION: {0.01: ("%", "percent")},
    Dimension.TURNS: {1.0: ("turn", "turns")},
}
SPELT = [
    (dimension, spelling, factor)
    for dimension, units in FACTORS.items()
    for factor, spellings in units.items()
    for spelling in spellings
]


@pytest.mark.parametrize(("dimension", "spelling", "factor"), SPELT)
def test_a_unit_is_what_it_is_by_definition(
    dimension: Dimension, spelling: str, factor: float
) -> None:
    found = parse_quantity(f"3 {spelling}", dimension).value
    assert found == pytest.approx(3.0 * factor, rel=1e-14)


def test_no_unit_is_left_out() -> None:
    told = {(dimension, spelling) for dimension, spelling, _ in SPELT}
    assert told == {(d, spelling) for d, units in UNITS.items() for spelling in units}


@pytest.mark.parametrize("dimension", Dimension)
def test_a_slip_of_the_pen_begins_beyond_the_largest_of_any_lift(
    dimension: Dimension,
) -> None:
    unit = next(s for d, s, factor in SPELT if d is dimension and factor <= 1.0)
    factor = next(f for d, s, f in SPELT if (d, s) == (dimension, unit))
    largest = {
        Dimension.LENGTH: 1e4,
        Dimension.FORCE: 1e10,
        Dimension.MASS: 1e6,
        Dimension.LINEAR_DENSITY: 1e3,
        Dimension.STIFFNESS: 1e11,
        Dimension.FREQUENCY: 1e6,
        Dimension.TIME: 1e6,
        Dimension.FRACTION: 10.0,
        Dimension.TURNS: 1e3,
    }[dimension]
    assert largest == dimension.largest
    edge = round(largest / factor)
    assert math.isclose(parse_quantity(f"{edge} {unit}", dimension).value, largest)
    with pytest.raises(InvalidValueError):
        parse_quantity(f"{edge + 1} {unit}", dimension)


@pytest.mark.parametrize(
    ("dimension", "in_si", "in_us"),
    [
        (Dimension.LENGTH, "mm", "in"),
        (Dimension.FORCE, "N", "lbf"),
        (Dimension.MASS, "kg", "lb"),
        (Dimension.LINEAR_DENSITY, "kg/m", "lb/ft"),
        (Dimension.STIFFNESS, "N/mm", "lbf/in"),
        (Dimension.FREQUENCY, "Hz", "Hz"),
        (Dimension.TIME, "s", "s"),
        (Dimension.FRACTION, "%", "%"),
        (Dimension.TURNS, "turns", "turns"),
    ],
)
def test_the_smallest_has_a_unit_too(
    dimension: Dimension, in_si: str, in_us: str
) -> None:
    for value in (0.0, 2e-7, -2e-7):
        for system, unit in ((UnitSystem.SI, in_si), (UnitSystem.US, in_us)):
            shown = show_quantity(value, dimension, system, digits=2)
            number, _, shown_unit = shown.partition(" ")
            assert shown_unit == unit
            factor = UNITS[dimension][unit]
            assert float(number) == pytest.approx(value / factor, rel=0.05)


@pytest.mark.parametrize(
    ("value", "dimension", "unit"),
    [
        (0.999, Dimension.LENGTH, "mm"),
        (1.0, Dimension.LENGTH, "m"),
        (-1.0, Dimension.LENGTH, "m"),
        (99_999.0, Dimension.FORCE, "N"),
        (1e5, Dimension.FORCE, "kN"),
        (999_999.0, Dimension.FORCE, "kN"),
        (1e6, Dimension.FORCE, "MN"),
    ],
)
def test_a_large_one_has_a_larger_unit(
    value: float, dimension: Dimension, unit: str
) -> None:
    assert show_quantity(value, dimension).split()[1] == unit
