"""The units a quantity may be written in, and SI to text in those a person asked for.

Inch, foot, pound and standard gravity are exact by definition (0.0254 m, 0.3048 m,
0.45359237 kg, 9.80665 m/s²; from memory: the international yard and pound of 1959 and
the third general conference on weights and measures of 1901).
"""

from collections.abc import Mapping
from enum import Enum, StrEnum
from math import isfinite

INCH = 0.0254  # exact by definition [m]
FOOT = 0.3048  # twelve inches [m]
POUND = 0.45359237  # exact by definition [kg]
STANDARD_GRAVITY = 9.80665  # exact by definition [m/s²]
POUND_FORCE = POUND * STANDARD_GRAVITY


class Dimension(Enum):
    """What a number measures; the value is how a person would call it.

    With its unit in SI; the units offered when one is missing or wrong; and the number
    beyond which one is a slip of the pen, in any lift. [SI]
    """

    LENGTH = "length", "m", "m, mm, ft or in", 1e4
    FORCE = "force", "N", "N, kN, kgf or lbf", 1e10
    MASS = "mass", "kg", "kg or lb", 1e6
    LINEAR_DENSITY = "mass per length", "kg/m", "kg/m or lb/ft", 1e3
    STIFFNESS = "spring rate", "N/m", "N/mm or lbf/in", 1e11
    FREQUENCY = "frequency", "Hz", "Hz", 1e6
    TIME = "time", "s", "s, ms or min", 1e6
    FRACTION = "percentage", "1", "%", 10.0
    TURNS = "turns", "turns", "turns", 1e3

    _value_: str
    unit: str
    offered: str
    largest: float

    def __new__(cls, word: str, unit: str, offered: str, largest: float) -> "Dimension":
        """Make a member whose value is its word."""
        one = object.__new__(cls)
        one._value_ = word
        one.unit, one.offered, one.largest = unit, offered, largest
        return one


def _spelt(factor: float, *names: str) -> dict[str, float]:
    """One unit under each of its spellings."""
    return dict.fromkeys(names, factor)


# one of each in SI, by dimension and spelling
UNITS: Mapping[Dimension, Mapping[str, float]] = {
    Dimension.LENGTH: {
        **_spelt(1.0, "m", "metre", "metres", "meter", "meters"),
        **_spelt(1e-2, "cm"),
        **_spelt(1e-3, "mm"),
        **_spelt(FOOT, "ft", "'", "foot", "feet"),
        **_spelt(INCH, "in", '"', "inch", "inches"),
    },
    Dimension.FORCE: {
        **_spelt(1.0, "N", "newton", "newtons"),
        **_spelt(10.0, "daN"),
        **_spelt(1e3, "kN"),
        **_spelt(1e6, "MN"),
        **_spelt(STANDARD_GRAVITY, "kgf", "kp"),
        **_spelt(POUND_FORCE, "lbf"),
        **_spelt(1e3 * POUND_FORCE, "kip", "kips"),
    },
    Dimension.MASS: {
        **_spelt(1.0, "kg"),
        **_spelt(1e-3, "g"),
        **_spelt(1e3, "t", "tonne", "tonnes"),
        **_spelt(POUND, "lb", "lbs", "lbm", "pound", "pounds"),
    },
    Dimension.LINEAR_DENSITY: {
        **_spelt(1.0, "kg/m"),
        **_spelt(1e-3, "g/m", "kg/km"),
        **_spelt(1e-2, "kg/100m"),
        **_spelt(POUND / FOOT, "lb/ft", "lbs/ft", "lbm/ft"),
        **_spelt(POUND / FOOT / 100, "lb/100ft", "lbs/100ft"),
    },
    Dimension.STIFFNESS: {
        **_spelt(1.0, "N/m"),
        **_spelt(1e3, "N/mm", "kN/m"),
        **_spelt(1e6, "kN/mm"),
        **_spelt(1e2, "N/cm"),
        **_spelt(STANDARD_GRAVITY * 1e3, "kgf/mm"),
        **_spelt(STANDARD_GRAVITY * 1e2, "kgf/cm"),
        **_spelt(POUND_FORCE / INCH, "lbf/in", "lbf/inch"),
        **_spelt(POUND_FORCE / FOOT, "lbf/ft"),
    },
    Dimension.FREQUENCY: {**_spelt(1.0, "Hz"), **_spelt(1e3, "kHz")},
    Dimension.TIME: {
        **_spelt(1.0, "s", "sec", "second", "seconds"),
        **_spelt(1e-3, "ms"),
        **_spelt(60.0, "min", "minute", "minutes"),
    },
    Dimension.FRACTION: _spelt(0.01, "%", "percent"),
    Dimension.TURNS: _spelt(1.0, "turn", "turns"),
}

EXACT_CASE = frozenset({"MN", "kN/m", "kN/mm"})
"""Units that mean something else in other letters: mN is not MN."""

CHAINS: tuple[tuple[Dimension, tuple[float, ...]], ...] = (
    (Dimension.LENGTH, (FOOT, INCH)),
    (Dimension.LENGTH, (1.0, 1e-2, 1e-3)),
    (Dimension.TIME, (60.0, 1.0)),
)
"""Units that may follow each other in one quantity, the larger first."""

WEIGHT_OR_MASS: Mapping[tuple[Dimension, str], str] = {
    (Dimension.FORCE, "kg"): "write kgf if the scale face shows kg",
    (Dimension.FORCE, "g"): "write N, or kgf if the scale face shows kg",
    (Dimension.FORCE, "lb"): "write lbf if the scale face shows lb",
    (Dimension.FORCE, "lbs"): "write lbf if the scale face shows lb",
    (Dimension.MASS, "kgf"): "write kg",
    (Dimension.MASS, "kp"): "write kg",
    (Dimension.MASS, "lbf"): "write lb",
    (Dimension.LINEAR_DENSITY, "N/m"): "write kg/m; 1 kg/m weighs 9.81 N/m",
    (Dimension.LINEAR_DENSITY, "lbf/ft"): "write lb/ft",
    (Dimension.STIFFNESS, "kg/mm"): "write kgf/mm if that is meant",
    (Dimension.STIFFNESS, "kg/cm"): "write kgf/cm if that is meant",
    (Dimension.STIFFNESS, "lb/in"): "write lbf/in if that is meant",
    (Dimension.STIFFNESS, "lbs/in"): "write lbf/in if that is meant",
    (Dimension.STIFFNESS, "lb/ft"): "write lbf/ft or lbf/in if that is meant",
    (Dimension.STIFFNESS, "lb/inch"): "write lbf/in if that is meant",
}
"""What to write instead, where mass and force are mistaken for each other."""


def find_factor(name: str, dimension: Dimension) -> float | None:
    """Find the size of a unit in SI, as typed without spaces and dots."""
    units = UNITS[dimension]
    if name in units:
        return units[name]
    found = {
        factor
        for spelling, factor in units.items()
        if spelling.lower() == name.lower() and spelling not in EXACT_CASE
    }
    return found.pop() if len(found) == 1 else None


class UnitSystem(StrEnum):
    """Units shown; what was typed is echoed as typed."""

    SI = "si"
    US = "us"


_USUAL_DIGITS = 6  # significant digits where none are asked
_FINEST_FRACTION, _USUAL_FRACTION = 64, 16

_SHOWN = {
    Dimension.LENGTH: ((1.0, "m"), (0.0, "mm")),
    Dimension.FORCE: ((1e6, "MN"), (1e5, "kN"), (0.0, "N")),
    Dimension.MASS: ((0.0, "kg"),),
    Dimension.LINEAR_DENSITY: ((0.0, "kg/m"),),
    Dimension.STIFFNESS: ((0.0, "N/mm"),),
    Dimension.FREQUENCY: ((0.0, "Hz"),),
    Dimension.TIME: ((0.0, "s"),),
    Dimension.FRACTION: ((0.0, "%"),),
    Dimension.TURNS: ((0.0, "turns"),),
}
"""From which size [SI] which unit is shown."""

# likewise, in US customary units
_SHOWN_IN_US = {
    Dimension.LENGTH: ((0.0, "in"),),
    Dimension.FORCE: ((0.0, "lbf"),),
    Dimension.MASS: ((0.0, "lb"),),
    Dimension.LINEAR_DENSITY: ((0.0, "lb/ft"),),
    Dimension.STIFFNESS: ((0.0, "lbf/in"),),
}


def show_quantity(
    value: float,
    dimension: Dimension,
    system: UnitSystem = UnitSystem.SI,
    uncertainty: float | None = None,
    digits: int | None = None,
) -> str:
    """Write a value with its unit, rounded to what is known of it.

    Parameters
    ----------
    value : float
        The value. [SI]
    dimension : Dimension
        What it measures.
    system : UnitSystem
        SI, or feet, inches and pounds.
    uncertainty : float, optional
        Standard uncertainty: the value is rounded at its second digit, at its first
        if that is 3 or more. [SI]
    digits : int, optional
        Or the number of significant digits; six if neither is given. [1]

    Returns
    -------
    str
        Such as "3.400 m", "11 ft 1 7/8 in" or "1124 lbf"; "none" for nan.

    Examples
    --------
    >>> show_quantity(3.4, Dimension.LENGTH, uncertainty=0.005)
    '3.400 m'
    >>> show_quantity(5003.1, Dimension.FORCE, UnitSystem.US, digits=3)
    '1120 lbf'
    """
    if not isfinite(value):
        return "none"
    if dimension is Dimension.TURNS and uncertainty is None and digits is None:
        return _turns(value)
    if system is UnitSystem.US and dimension is Dimension.LENGTH and abs(value) >= FOOT:
        parts = _fraction_of_inch(value, uncertainty, digits)
        feet, rest = divmod(round(abs(value) / INCH * parts), 12 * parts)
        inches = f" {_mixed(rest, parts)} in" if rest else ""
        return f"{'-' if value < 0 else ''}{feet} ft{inches}"
    own = _SHOWN_IN_US if system is UnitSystem.US else _SHOWN
    units = own.get(dimension, _SHOWN[dimension])
    name = next(name for least, name in units if abs(value) >= least)
    size = UNITS[dimension][name]
    shown = rounded_text(
        value / size, None if uncertainty is None else uncertainty / size, digits
    )
    return f"{shown} {name}"


def small_length(value: float, units: UnitSystem = UnitSystem.SI) -> str:
    """Write a travel or a spring length [m]: tenths of mm, or hundredths of an inch."""
    if units is UnitSystem.US:
        return f"{value / INCH:.2f} in"
    return f"{1000.0 * value:.1f} mm"


def force_text(value: float, units: UnitSystem = UnitSystem.SI) -> str:
    """Write a tension or a spring load [N] to three digits."""
    return show_quantity(value, Dimension.FORCE, units, digits=3)


def rounded_text(
    value: float, uncertainty: float | None = None, digits: int | None = None
) -> str:
    """Write a number [1] rounded to what is known of it, never with an exponent.

    Examples
    --------
    >>> rounded_text(1234.5, 21.0), rounded_text(0.5749, digits=2)
    ('1234', '0.57')
    """
    if uncertainty is not None and isfinite(uncertainty) and uncertainty > 0:
        figures, _, power = f"{uncertainty:.1e}".partition("e")
        return _plain(value, int(power) if figures >= "3" else int(power) - 1)
    if value == 0:
        return "0"
    wanted = _USUAL_DIGITS if digits is None else digits
    rounded = f"{value:.{wanted - 1}e}"
    last = int(rounded.partition("e")[2]) - wanted + 1
    text = _plain(float(rounded), last)
    if digits is None and "." in text:
        text = text.rstrip("0").rstrip(".")
    return text


def _plain(value: float, last: int) -> str:
    """A number rounded at a power of ten, without an exponent."""
    if last > 0:
        text = f"{round(value / 10.0**last) * 10**last:d}"
    else:
        text = f"{value:.{-last}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def _fraction_of_inch(
    value: float, uncertainty: float | None, digits: int | None
) -> int:
    """Into how many parts an inch is divided."""
    if uncertainty is None and digits is not None:
        uncertainty = abs(value) * 10.0 ** (1 - digits)
    if uncertainty is None or uncertainty <= 0:
        return _USUAL_FRACTION
    parts = 1
    while parts < _FINEST_FRACTION and INCH / parts > uncertainty:
        parts *= 2
    return parts


def _mixed(count: int, parts: int) -> str:
    """A whole number and a fraction in its lowest terms."""
    whole, over = divmod(count, parts)
    while over and over % 2 == 0:
        over, parts = over // 2, parts // 2
    if not over:
        return str(whole)
    return f"{whole} {over}/{parts}" if whole else f"{over}/{parts}"


def _turns(value: float) -> str:
    """Turns with their sign; in eighths where they are eighths."""
    count = round(abs(value) * 8)
    if abs(abs(value) * 8 - count) > 1e-9:
        return f"{value:+.2f} turns"
    if count == 0:
        return "0 turns"
    return f"{f'{value:+}'[0]}{_mixed(count, 8)} {'turn' if count <= 8 else 'turns'}"
