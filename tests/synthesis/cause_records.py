"""Records of visits to one made-up lift, side pulls with known tensions."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.synthesis.lifts_with_a_cause import Array, SteppedLift

TOP, TRAVEL, LOW = 4.0, 30.0, 4.0


@dataclass
class Read:
    """One series as written down."""

    name: str
    tensions: Sequence[float]
    place: str = "top"
    side: str = "car"
    arrived: str = "up"
    load: str = "empty"
    turns: Sequence[str] = ()
    round_trips: int | None = 4


FALLS = {
    ("top", "car"): TOP,
    ("middle", "car"): TOP + TRAVEL / 2,
    ("bottom", "car"): TOP + TRAVEL,
    ("middle", "counterweight"): LOW + TRAVEL / 2,
}


def head(day: str | None, n_ropes: int, extra: str = "", lift: str = "lift 2") -> str:
    """The installation: 38 m of rope of 4.6 MN, springs of 150 N/mm at both ends."""
    spans = "".join(
        f"""
[[span]]
name = "{place}, {side} side"
side = "{side}"
position = "{place}"
free_length = "{length} m"
ends = "socket-sheave"
"""
        for (place, side), length in FALLS.items()
    )
    hitches = "".join(
        f"""
[[hitch]]
at = "{at}"
rows = [[{", ".join(str(n) for n in range(1, n_ropes + 1, 2))}], [{
            ", ".join(str(n) for n in range(2, n_ropes + 1, 2))
        }]]
thread = "M16"
buffer = "spring"
spring_rate = "150 N/mm"
"""
        for at in ("car", "counterweight")
    )
    date = "" if day is None else f"date = {day}\n"
    return f"""format = 1

[lift]
name = "Granary Wharf, goods {lift}"
roping = "1:1"

[visit]
{date}{extra}
[rule]
metric = "below-highest"
limit = "10 %"
source = "a test"

[set]
ropes = {n_ropes}
linear_density = "0.575 kg/m"
rope_length = "{TOP + TRAVEL + LOW} m"
axial_rigidity = "4.6 MN"
sockets = "one height"

[uncertainty]
free_length = "1 mm"
scale = "1 %"
deflection = "0.2 mm"
deflection_common = "0 mm"
placement = "1 %"
{spans}{hitches}"""


def series(read: Read) -> str:
    """Side pulls at mid-span, 1 % of the span aside."""
    fall = FALLS[read.place, read.side]
    aside = 0.005 * fall
    lines = [
        "[[series]]",
        f'name = "{read.name}"',
        f'span = "{read.place}, {read.side} side"',
        f'arrived = "{read.arrived}"',
        f'load = "{read.load}"',
    ]
    for number, tension in enumerate(read.tensions, start=1):
        force = tension * aside * 4.0 / fall
        lines += [
            "[[reading]]",
            f'series = "{read.name}"',
            'kind = "pull"',
            f"rope = {number}",
            "force = [" + ", ".join([f'"{force:.3f} N"'] * 3) + "]",
            f'deflection = "{1e3 * aside:.2f} mm"',
            'hold = "deflection"',
        ]
    for number, text in enumerate(read.turns, start=1):
        lines += [
            "[[turn]]",
            f'after = "{read.name}"',
            'hitch = "car"',
            f"rope = {number}",
            f'turns = "{text}"',
        ]
        if read.round_trips is not None:
            lines.append(f"round_trips_after = {read.round_trips}")
    return "\n".join(lines) + "\n"


def write(folder: Path, day: str | None, reads: Sequence[Read], **head_of: str) -> Path:
    """A folder that holds one record."""
    folder.mkdir(parents=True)
    text = head(day, len(reads[0].tensions), **head_of)
    text += "".join(series(read) for read in reads)
    (folder / "visit.toml").write_text(text, encoding="utf-8")
    return folder


def stepped_reads(lift: SteppedLift) -> list[Read]:
    """Top, middle from either way, bottom and the other side, as the lift runs."""
    travel = lift.travel
    lift.cycle(6)

    def now(tensions: Array) -> list[float]:
        return [float(t) for t in tensions]

    reads = [Read("top", now(lift.car))]
    lift.run_to(travel / 2)
    reads.append(Read("mid down", now(lift.car), "middle", arrived="down"))
    lift.run_to(travel)
    reads.append(Read("bottom", now(lift.car), "bottom", arrived="down"))
    lift.run_to(travel / 2)
    reads.append(Read("mid up", now(lift.car), "middle"))
    reads.append(Read("cwt", now(lift.other), "middle", "counterweight"))
    return reads
