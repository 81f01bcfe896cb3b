"""Records of side pulls and spring lengths with known tensions, for whole runs."""

from collections.abc import Sequence
from pathlib import Path

HEAD = """format = 1

[lift]
name = "Granary Wharf, goods lift 2"
drive = "traction"
roping = "1:1"
car_mass = "2039 kg"
travel = "30 m"

[visit]
date = 2026-11-20

[rule]
metric = "below-highest"
limit = "10 %"
source = "a test"
goal = "6 %"

[set]
ropes = {n_ropes}
linear_density = "0.575 kg/m"
rope_length = "38 m"
axial_rigidity = "4.6 MN"
sockets = "one height"

[uncertainty]
free_length = "1 mm"
scale = "0.5 %"
deflection = "0.2 mm"
deflection_common = "0 mm"
placement = "1 %"

[[span]]
name = "top, car side"
side = "car"
position = "top landing"
free_length = "4.00 m"
ends = "socket-sheave"

[[span]]
name = "middle, car side"
side = "car"
position = "middle"
free_length = "14.0 m"
ends = "socket-sheave"

[[hitch]]
at = "car"
rows = [[1, 3], [2, 4]]
thread = "M16"
buffer = "spring"
spring_rate = "150 N/mm"
spring_free_length = "160 mm"
spring_solid_length = "96 mm"

[[hitch]]
at = "counterweight"
thread = "M16"
buffer = "spring"
spring_rate = "150 N/mm"
"""


def series(
    name: str,
    tensions: Sequence[float],
    *,
    span: str = "top, car side",
    free_length: float = 4.0,
    has_springs: bool = True,
) -> str:
    """Side pulls at mid-span to 25 mm, and springs of 150 N/mm and 160 mm."""
    lines = [
        "[[series]]",
        f'name = "{name}"',
        f'span = "{span}"',
        'arrived = "up"',
        'load = "empty"',
    ]
    for number, tension in enumerate(tensions, start=1):
        force = tension * 0.025 * 4.0 / free_length
        lines += [
            "[[reading]]",
            f'series = "{name}"',
            'kind = "pull"',
            f"rope = {number}",
            "force = [" + ", ".join([f'"{force:.2f} N"'] * 3) + "]",
            'deflection = "25 mm"',
            'hold = "deflection"',
        ]
        if has_springs:
            lines += [
                "[[reading]]",
                f'series = "{name}"',
                'kind = "spring"',
                f"rope = {number}",
                'hitch = "car"',
                f'length = "{160 - tension / 150:.1f} mm"',
            ]
    return "\n".join(lines) + "\n"


def turns(
    made: Sequence[str], *, after: str = "as found", round_trips: int | None = 8
) -> str:
    """Turns at the car hitch, as typed."""
    lines = []
    for number, text in enumerate(made, start=1):
        lines += [
            "[[turn]]",
            f'after = "{after}"',
            'hitch = "car"',
            f"rope = {number}",
            f'turns = "{text}"',
        ]
        if round_trips is not None:
            lines.append(f"round_trips_after = {round_trips}")
    return "\n".join(lines) + "\n"


def threads(n_ropes: int, left: str = "100 mm") -> str:
    """Thread left at every rod, both ways."""
    return "".join(
        f'[[rope]]\nnumber = {i + 1}\ntake_up_left = "{left}"\nease_left = "{left}"\n'
        for i in range(n_ropes)
    )


def write(
    folder: Path,
    *parts: str,
    n_ropes: int = 4,
    head: str = HEAD,
    has_threads: bool = True,
) -> Path:
    """Write a record of these parts and give its folder."""
    folder.mkdir(parents=True, exist_ok=True)
    rods = threads(n_ropes) if has_threads else ""
    text = head.replace("{n_ropes}", str(n_ropes)) + "\n" + "\n".join((rods, *parts))
    (folder / "visit.toml").write_text(text, encoding="utf-8")
    return folder
