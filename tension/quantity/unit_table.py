"""The units a quantity may be written in, with their size in SI.

Inch, foot, pound and standard gravity are exact by definition (0.0254 m, 0.3048 m,
0.45359237 kg, 9.80665 m/s²; from memory: the international yard and pound of 1959 and
the third general conference on weights and measures of 1901).
"""

from collections.abc import Mapping
from enum import Enum

INCH = 0.0254  # exact by definition [m]
FOOT = 0.3048  # twelve inches [m]
POUND = 0.45359237  # exact by definition [kg]
STANDARD_GRAVITY = 9.80665  # exact by definition [m/s²]
POUND_FORCE = POUND * STANDARD_GRAVITY


class Dimension(Enum):
    """What a number measures; the value is how a person would call it."""

    LENGTH = "length"
    FORCE = "force"
    MASS = "mass"
    LINEAR_DENSITY = "mass per length"
    STIFFNESS = "spring rate"
    FREQUENCY = "frequency"
    TIME = "time"
    FRACTION = "percentage"
    TURNS = "turns"


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

SHOWN_UNITS: Mapping[Dimension, str] = {
    Dimension.LENGTH: "m, mm, ft or in",
    Dimension.FORCE: "N, kN, kgf or lbf",
    Dimension.MASS: "kg or lb",
    Dimension.LINEAR_DENSITY: "kg/m or lb/ft",
    Dimension.STIFFNESS: "N/mm or lbf/in",
    Dimension.FREQUENCY: "Hz",
    Dimension.TIME: "s, ms or min",
    Dimension.FRACTION: "%",
    Dimension.TURNS: "turns",
}
"""Units offered when one is missing or wrong."""

LARGEST: Mapping[Dimension, float] = {
    Dimension.LENGTH: 1e4,
    Dimension.FORCE: 1e10,
    Dimension.MASS: 1e6,
    Dimension.LINEAR_DENSITY: 1e3,
    Dimension.STIFFNESS: 1e11,
    Dimension.FREQUENCY: 1e6,
    Dimension.TIME: 1e6,
    Dimension.FRACTION: 10.0,
    Dimension.TURNS: 1e3,
}
"""Beyond this a number is a slip of the pen, in any lift. [SI]"""

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
