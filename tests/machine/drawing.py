"""Records drawn at random, of ropes whose tensions are known; some have mistakes.

Readings follow from the tensions by T = F a b/(d (a + b)), T = m (2 n L/t)^2,
T = m (2 L f)^2 and T = k (l_0 - l), with scatter; what is left after turns follows from
them, not always as it should. The frequency of a recording is in its name, for the ear
of `hearing_by_name`; its samples only tell it from others.
"""

import random
import wave
from collections.abc import Iterator
from dataclasses import dataclass, field
from io import BytesIO
from math import sqrt

from tests.machine import drawn_tables

PITCH, RATE, FREE, RIGIDITY = 2e-3, 150e3, 0.160, 4.6e6
"""Of thread, spring and rope. [m], [N/m], [m], [N]"""
LIFTS = tuple(f"Granary Wharf, lift {number}" for number in (1, 2, 3))
ROPES = (4, 4, 4, 6, 6, 3, 5, 2, 8)
SPREADS = (0.0, 0.002, 0.01, 0.03, 0.08, 0.08, 0.2)
"""Standard deviations of the tensions within a set. [1]"""
SCATTERS = (3e-4, 1e-3, 1e-3, 3e-3, 2e-2)
"""Of the readings. [1]"""
UNCERTAINTIES = (
    'scale = "0.5 %"\ndeflection = "0.1 mm"\ndeflection_common = "0 mm"\n'
    'placement = "0.2 %"\nspring_rate = "1 %"\nspring_length = "0.1 mm"\n'
    'stopwatch = "0.02 s"\nfree_length = "1 mm"\n',
    'scale = "0.5 %"\ndeflection = "0.1 mm"\nspring_rate = "1 %"\n',
    'free_length = "2 mm"\nlinear_density = "1 %"\nstopwatch = "60 ms"\n',
    "",
    'scale = "6 %"\ndeflection = "2 mm"\nspring_rate = "15 %"\nfree_length = "30 mm"\n',
)
HITCHES = (
    ("car",),
    ("car", "counterweight"),
    ("car", "counterweight"),
    ("dead-end-car", "dead-end-counterweight"),
)
PLACES = (
    ("top landing", "car", 4.0),
    ("middle", "car", 19.0),
    ("bottom landing", "car", 34.0),
    ("middle", "counterweight", 19.0),
    ("bottom landing", "counterweight", 4.0),
)
"""Where the car stands, side, and the length between hitch and sheave there. [m]"""


@dataclass
class Drawn:
    """One record with the files beside it, and what it was drawn from."""

    draw: random.Random
    n_ropes: int
    density: float
    scatter: float
    is_imperial: bool
    hitches: tuple[str, ...]
    staggers: list[float]
    is_careful: bool
    """Whether everything is told and read as well as can be, so that plans come."""
    tables: list[str] = field(default_factory=list)
    files: dict[str, bytes] = field(default_factory=dict)

    @property
    def text(self) -> str:
        return "\n".join(self.tables)

    def often(self, part: float) -> bool:
        return self.draw.random() < part

    def some(self, lines: tuple[str, ...], part: float = 0.7) -> str:
        told = 1.0 if self.is_careful else part
        return "".join(f"{line}\n" for line in lines if self.often(told))

    def length(self, value: float, digits: int = 1) -> str:
        """As people write it; digits are of a millimetre."""
        if self.is_imperial:
            feet = int(value / 0.3048)
            inches = f"{value / 0.0254 - 12 * feet:.{digits + 1}f}"
            return f"{feet} ft {inches} in" if feet else f"{inches} in"
        if value > 2 and self.often(0.5):
            return f"{value:.3f} m" if self.often(0.7) else f"{value * 100:.1f} cm"
        return f"{value * 1000:.{digits}f} mm"

    def force(self, value: float) -> str:
        if self.is_imperial:
            return f"{value / 4.4482216:.3f} lbf"
        return f"{value:.2f} N" if self.often(0.8) else f"{value / 9.80665:.3f} kgf"

    def read(self, value: float) -> float:
        return value * self.draw.gauss(1.0, self.scatter)


def drawn(number: int, seed: int) -> Drawn:
    """One record."""
    draw = random.Random(f"{seed}-{number}")  # noqa: S311
    n_ropes = draw.choice(ROPES)
    unlike = draw.choice((0.0, 0.0, 0.15))
    is_careful = draw.random() < 0.45
    one = Drawn(
        draw=draw,
        is_careful=is_careful,
        n_ropes=n_ropes,
        staggers=[unlike * (i % 2) for i in range(n_ropes)],
        density=draw.choice((0.58, 0.575, 0.37)),
        scatter=3e-4 if is_careful else draw.choice(SCATTERS),
        is_imperial=draw.random() < 0.2,
        hitches=draw.choice(HITCHES),
    )
    places = draw.choice(
        (PLACES[:1], PLACES[:1], PLACES[:2], PLACES[1:4], PLACES[:3], PLACES)
    )
    mean = draw.choice((2500.0, 5000.0, 5000.0, 9000.0))
    spread = draw.choice(SPREADS)
    tensions = [mean * (1 + draw.gauss(0, spread)) for _ in range(one.n_ropes)]
    if one.often(0.3):
        tensions[draw.randrange(one.n_ropes)] *= draw.choice((0.7, 0.9, 1.15))
    one.tables.append(_top(one, tensions, number))
    one.tables.append(_set(one))
    one.tables.extend(
        f'[[span]]\nname = "{position}, {side}"\nside = "{side}"\n'
        f'position = "{position}"\nfree_length = "{one.length(fall)}"\n'
        + one.some(('ends = "socket-sheave"', 'length_from = "socket"'), 0.8)
        for position, side, fall in places
    )
    one.tables.extend(_hitch(one, at) for at in one.hitches)
    if any(one.staggers) or one.often(0.5):
        one.tables.extend(_rope(one, rope) for rope in range(1, one.n_ropes + 1))
    for name, place, now in _taken(one, places, tensions):
        _series(one, name, place, now)
    tables = draw.sample(drawn_tables.TABLES, draw.choice((0, 1, 3, 3, 12)))
    if one.often(0.4):
        tables.append(draw.choice(drawn_tables.ALLOWANCES))
    one.tables.extend(_filled(one, table) for table in tables)
    if one.often(0.06):
        one.tables.append(draw.choice(drawn_tables.WRONG))
    return one


def _filled(one: Drawn, table: str) -> str:
    """A table with its places filled."""
    rope = one.draw.randint(1, one.n_ropes)
    places = {
        "{r}": rope,
        "{o}": rope % one.n_ropes + 1,
        "{n}": one.draw.randint(0, 9),
        "{h}": one.draw.choice(one.hitches),
        "{s}": one.draw.choice(("as found", "as found", "as left")),
    }
    for place, value in places.items():
        table = table.replace(place, str(value))
    return table


def _top(one: Drawn, tensions: list[float], number: int) -> str:
    """Lift, visit, rule and uncertainties; three lifts share all records."""
    draw = one.draw
    mass = f"{sum(tensions) / 9.80665 * draw.choice((1.0, 1.01, 1.3)):.0f} kg"
    apart = 100 * (1 - min(tensions) / max(tensions))
    missed = apart * draw.choice((0.7, 0.97, 0.999, 1.001, 1.03, 1.4))
    rules = [*drawn_tables.RULES]
    if apart > 1:
        rules += [f'limit = "{missed:.3f} %"'] * 4
    lift = (
        f'car_mass = "{mass}"',
        f'roping = "{"2:1" if "dead" in one.hitches[0] else "1:1"}"',
        f'travel = "{one.length(30.0)}"',
        'drive = "traction"',
    )
    day = f"{2019 + number % 4}-{1 + number % 12:02d}-{draw.randint(1, 28):02d}"
    installed = draw.choice(('rope_installed = "March 2019"\n', "", ""))
    return (
        f'format = 1\n[lift]\nname = "{LIFTS[number % 3]}"\n'
        f"{one.some(lift, 0.6)}[visit]\ndate = {day}\n{installed}"
        f"{one.some(drawn_tables.VISIT)}[rule]\n{draw.choice(rules)}\n"
        f"[uncertainty]\n{draw.choice(UNCERTAINTIES[: 2 if one.is_careful else None])}"
    )


def _set(one: Drawn) -> str:
    lines = (
        f'linear_density = "{one.density} kg/m"',
        f'rope_length = "{one.length(38.0)}"',
        'axial_rigidity = "4600 kN"',
        'diameter = "13 mm"',
        f'construction = "{one.draw.choice(drawn_tables.CONSTRUCTIONS)}"',
        "" if any(one.staggers) else 'sockets = "one height"',
    )
    return f"[set]\nropes = {one.n_ropes}\n{one.some(lines, 0.85)}"


def _hitch(one: Drawn, at: str) -> str:
    spring = one.draw.choice(drawn_tables.SPRINGS[: 2 if one.is_careful else None])
    odd, even = (
        ", ".join(map(str, range(first, one.n_ropes + 1, 2))) for first in (1, 2)
    )
    lines = (
        f'thread = "{one.draw.choice(drawn_tables.THREADS)}"',
        f"rows = [[{odd}], [{even}]]",
        f'rod_free = "{one.length(0.3)}"' if one.often(0.3) else "",
    )
    return f'[[hitch]]\nat = "{at}"\n{spring}{one.some(lines, 0.8)}'


def _rope(one: Drawn, rope: int) -> str:
    lines = (
        f'take_up_left = "{one.draw.choice((2, 15, 40, 40))} mm"',
        f'ease_left = "{one.draw.choice((2, 15, 40, 40))} mm"',
        f'stagger = "{one.length(one.staggers[rope - 1])}"',
        f"groove = {rope}",
    )
    return f"[[rope]]\nnumber = {rope}\n{one.some(lines, 0.85)}"


Place = tuple[str, str, float]


def _taken(
    one: Drawn, places: tuple[Place, ...], tensions: list[float]
) -> Iterator[tuple[str, Place, list[float]]]:
    """Series with their place and tensions: place by place, then after turns."""
    draw = one.draw
    name = last = "as found"
    lean = draw.choice((0.0, 0.0, 0.0, 0.05))
    leaning = [draw.gauss(0, lean) for _ in tensions]
    for number, place in enumerate(places):
        # a length that is out shows most where the rope is short
        here = [
            t * (1 + by * 4.0 / place[2])
            for t, by in zip(tensions, leaning, strict=True)
        ]
        yield name, place, here
        last = name
        name = f"place {number + 2}"
    if one.often(0.6):
        for stage in ("as left", "as left again")[: draw.choice((1, 1, 1, 2))]:
            tensions = _turned(one, last, tensions)
            yield stage, places[0], tensions
            last = stage


def _turned(one: Drawn, after: str, tensions: list[float]) -> list[float]:
    """Turn some nuts, most in the way that evens the set out; what is left then."""
    draw = one.draw
    springs = 1 / RATE * len(one.hitches)
    stiffness = draw.choice((1.0, 1.0, 0.6, 1.5, 0.0)) / (springs + 38.0 / RIGIDITY)
    mean = sum(tensions) / len(tensions)
    turned = [0.0] * len(tensions)
    for i, tension in enumerate(tensions):
        wanted = (mean - tension) * (springs + 38.0 / RIGIDITY) / PITCH
        eighths = round(8 * wanted * draw.choice((1, 1, 1, 0.5, -0.5)))
        if eighths and abs(eighths) < 160 and one.often(0.8):
            turned[i] = eighths / 8
            told = one.draw.choice(("round_trips_after = 40\n", "", ""))
            one.tables.append(
                f'[[turn]]\nafter = "{after}"\nrope = {i + 1}\n'
                f'turns = "{eighths / 8:+g}"\nhitch = "{draw.choice(one.hitches)}"\n'
                f"{told}"
            )
    if one.often(0.6):
        trips = draw.choice((3, 30, 60))
        one.tables.append(f'[[run]]\nafter = "{after}"\nround_trips = {trips}\n')
    middle = sum(turned) / len(turned)
    return [
        max(t + stiffness * PITCH * (turn - middle), 200.0)
        for t, turn in zip(tensions, turned, strict=True)
    ]


def _series(one: Drawn, name: str, place: Place, tensions: list[float]) -> None:
    """One round: of every rope by one kind, of some by others too."""
    draw = one.draw
    position, side, fall = place
    lines = (
        'arrived = "up"',
        f"round_trips_before = {draw.choice((0, 40, 40, 40))}",
        'load = "empty"',
        'neighbours = "free"',
        f'taken = "2021-03-0{draw.randint(1, 3)} 10:1{draw.randint(0, 9)} +00:00"',
    )
    one.tables.append(
        f'[[series]]\nname = "{name}"\nspan = "{position}, {side}"\n{one.some(lines)}'
    )
    kinds = ["pull", "pluck", "pull", "pluck", "returns", "spring"]
    main = draw.choice(kinds[: 2 if one.is_careful else None])
    second = draw.choice(kinds)
    part = draw.choice((0.0, 0.0, 0.3, 1.0))
    missing = draw.choice((0.0, 0.0, 0.0, 0.0, 0.2)) * (not one.is_careful)
    hold = draw.choice(("deflection", "deflection", "force"))
    for rope, tension in enumerate(tensions, start=1):
        length = fall + one.staggers[rope - 1]
        for repeat in range(draw.choice((1, 1, 1, 2, 3))):
            if not one.often(missing):
                _reading(one, (name, rope, repeat), main, (tension, length, hold))
        if one.often(part):
            _reading(one, (name, rope, 9), second, (tension, length, hold))


def _reading(
    one: Drawn,
    which: tuple[str, int, int],
    kind: str,
    known: tuple[float, float, str],
) -> None:
    draw, (series, rope, repeat), (tension, fall, hold) = one.draw, which, known
    tension = one.read(tension) * (1.2 if one.often(0.01) else 1.0)
    head = f'[[reading]]\nseries = "{series}"\nrope = {rope}\nkind = "{kind}"\n'
    if kind == "pluck":
        frequency = sqrt(tension / one.density) / (2 * fall)
        manner = draw.choice("aaaaaaaaaaaa" if one.is_careful else "aaaaaaaaabcd")
        take = f"{series[-3:].strip()}-{rope}{'abcdefghij'[repeat]}"
        file = f"{take} {frequency:.4f}{manner}.wav"
        if one.is_careful or not one.often(0.03):
            one.files[file] = _sound(draw)
        one.tables.append(f'{head}recording = "{file}"\n')
    elif kind == "returns":
        period = 2 * fall / sqrt(tension / one.density)
        count = max(5, round(draw.choice((0.5, 3.0, 4.0, 6.0)) / period))
        elapsed = count * period
        one.tables.append(f'{head}count = {count}\nelapsed = "{elapsed:.3f} s"\n')
    elif kind == "spring":
        at = draw.choice(one.hitches)
        length = one.length(FREE - tension / RATE, 2)
        one.tables.append(f'{head}hitch = "{at}"\nlength = "{length}"\n')
    else:
        one.tables.append(head + _pull(one, tension, fall, hold))


def _pull(one: Drawn, tension: float, fall: float, hold: str) -> str:
    aside = 0.05 if fall > 10 else 0.025
    at = one.draw.choice((fall / 2, fall / 2, 1.6))
    by_force = tension / at + tension / (fall - at)
    told = "" if at == fall / 2 else f'at = "{one.length(at)}"\n'
    if hold == "force":
        aside = 40.0 / by_force
        return (
            f'force = "{one.force(40.0)}"\nhold = "force"\n'
            f'deflection = ["{one.length(aside, 2)}", "{one.length(aside, 1)}"]\n{told}'
        )
    zero = one.draw.choice(("", "", 'scale_zero = "0.4 N"\n'))
    force = aside * by_force + (0.4 if zero else 0.0)
    return (
        f'force = "{one.force(force)}"\ndeflection = "{one.length(aside)}"\n'
        f"{told}{zero}"
    )


def _sound(draw: random.Random) -> bytes:
    """So much noise as counts as a recording: 0.4 s."""
    made = BytesIO()
    with wave.open(made, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(4000)
        out.writeframes(draw.randbytes(3200))
    return made.getvalue()
