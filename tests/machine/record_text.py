"""Records as a person writes them, table by table, of ropes whose tensions are known.

Every rope is 30 m long and weighs 0.58 kg/m; readings follow from its tension by
T = F L/(4 d), T = m (2 n L/t)^2 and T = k (l_0 - l).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt

LENGTH, DENSITY, RATE, SPRING = 30.0, 0.58, 150e3, 0.160
DEFLECTION, COUNT = 0.05, 10
KINDS = ("pull", "returns", "spring")
SERIES = ("as found", "as left")
PHOTO = "photos/tag.jpg"

SETS = (
    (5000.0, 5000.0, 5000.0, 5000.0),
    (5000.0, 4950.0, 5050.0, 4980.0),
    (5000.0, 4550.0, 5050.0, 4900.0),
    (5000.0, 4200.0, 5300.0, 5000.0),
)
"""Tensions of the four ropes: equal, nearly so, in doubt, unequal. [N]"""

HEAD = f"""format = 1
[set]
ropes = 4
linear_density = "{DENSITY} kg/m"
rope_length = "38 m"
axial_rigidity = "4600 kN"
sockets = "one height"
[uncertainty]
scale = "0.5 %"
stopwatch = "0.02 s"
spring_length = "0.1 mm"
spring_rate = "1 %"
[[span]]
name = "top"
free_length = "{LENGTH} m"
[[hitch]]
at = "car"
thread = "M16"
spring_rate = "150 N/mm"
spring_free_length = "160 mm"
[[photo]]
file = "{PHOTO}"
"""


Key = tuple[str, int, str]


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One reading: its text, its name in results, and what a person knows of it."""

    text: str
    name: str
    kind: str
    series: str
    rope: int
    is_true: bool

    @property
    def key(self) -> Key:
        """Series, rope and name."""
        return (self.series, self.rope, self.name)


def typed(kind: str, tension: float) -> tuple[str, str]:
    """What a person reads on a rope of this tension, and what results call it."""
    if kind == "pull":
        force = f"{4.0 * tension * DEFLECTION / LENGTH:.3f} N"
        deflection = f"{1000 * DEFLECTION:g} mm"
        return (
            f'force = "{force}"\ndeflection = "{deflection}"',
            f"pull {force} at {deflection}",
        )
    if kind == "returns":
        elapsed = f"{2.0 * COUNT * LENGTH / sqrt(tension / DENSITY):.4f} s"
        return (
            f'count = {COUNT}\nelapsed = "{elapsed}"',
            f"{COUNT} returns in {elapsed}",
        )
    if kind == "spring":
        length = f"{1000 * (SPRING - tension / RATE):.4f} mm"
        return f'length = "{length}"', f"car spring {length}"
    return f'recording = "gone-{tension:.0f}.m4a"', ""


def reading(kind: str, series: str, rope: int, tension: float, *, is_true: bool) -> Row:
    """One [[reading]] of a rope."""
    figures, name = typed(kind, tension)
    text = (
        f'[[reading]]\nseries = "{series}"\nkind = "{kind}"\nrope = {rope}\n{figures}\n'
    )
    return Row(
        text=text, name=name, kind=kind, series=series, rope=rope, is_true=is_true
    )


def exclusion(series: str, rope: int, name: str = "") -> str:
    """Leave a rope out of a series, or one reading of it."""
    reading = f'reading = "{name}"\n' if name else ""
    return (
        f'[[exclusion]]\nseries = "{series}"\nrope = {rope}\n{reading}'
        'reason = "it was held"\n'
    )


def turn(series: str, rope: int) -> str:
    """A nut turned after a series."""
    return f'[[turn]]\nafter = "{series}"\nrope = {rope}\nturns = "+1/2"\n'


def record(series: Sequence[str], rows: Iterable[Row], rest: Iterable[str]) -> str:
    """The whole record."""
    named = (f'[[series]]\nname = "{name}"\n' for name in series)
    return HEAD + "".join((*named, *(row.text for row in rows), *rest))


_PULL = '[[reading]]\nseries = "as found"\nkind = "pull"\nrope = 1\n'
_FIGURES = 'force = "33 N"\ndeflection = "50 mm"\n'

ILLEGAL = (
    _PULL.replace("rope = 1", "rope = 99") + _FIGURES,
    _PULL.replace("rope = 1", 'rope = "one"') + _FIGURES,
    _PULL.replace('"pull"', '"tug"'),
    _PULL.replace("as found", "never taken") + _FIGURES,
    _PULL + 'deflection = "50 mm"\n',
    _PULL + 'force = "33"\ndeflection = "50 mm"\n',
    _PULL + 'force = "3 kg"\ndeflection = "50 mm"\n',
    _PULL + 'force = "1,200 N"\ndeflection = "50 mm"\n',
    _PULL + 'force = "33 N"\ndeflection = "50 m"\n',
    _PULL + _FIGURES + 'forse = "33 N"\n',
    _PULL.replace('"pull"', '"pluck"') + 'recording = "../outside.m4a"\n',
    '[[exclusion]]\nseries = "as found"\nrope = 1\n',
    '[[exclusion]]\nseries = "as found"\nrope = 5\nreason = "none such"\n',
    '[[exclusion]]\nseries = "as found"\nreading = "pull 1 N at 9 mm"\nreason = "no"\n',
    '[[turn]]\nafter = "as found"\nrope = 1\nturns = "300"\n',
    '[[turn]]\nafter = "as found"\nhitch = "counterweight"\nrope = 1\nturns = "1"\n',
    '[[series]]\nname = "as found"\n',
    '[[photos]]\nfile = "tag.jpg"\n',
)
"""Tables with one mistake each."""
