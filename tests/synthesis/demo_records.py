"""The records of the demo, as the person on the car top fills them in."""

import numpy as np
from numpy.typing import NDArray

from tests.synthesis import demo_lift as lift
from tests.synthesis.demo_lift import DemoRopes

INCH = 0.0254
POUND_FORCE = 4.4482216152605
SPAN = "top, car side"


def _head(spans: str, lengths: str, note: str) -> str:
    return f"""# Invented data: Granary Wharf is an imaginary warehouse made into flats.
format = 1

[lift]
name = "Granary Wharf, goods lift 2"
drive = "traction"
roping = "1:1"
car_mass = "1840 kg"

[visit]
date = 2026-11-20
measured_by = "R. Example"
place = "car top, car stopped below the top landing"
note = "{note}"

[rule]
use = "gb50310-2002-4.9.5"

[set]
ropes = 6
diameter = "13 mm"
construction = "8x19 FC"
{spans}
{lengths}"""


METRIC_SET = """linear_density = "0.575 kg/m"
rope_length = "38 m"
axial_rigidity = "4.6 MN"
"""

METRIC_SPAN = f"""[[span]]
name = "{SPAN}"
side = "car"
position = "top landing"
free_length = "3.40 m"
length_from = "socket"
ends = "socket-sheave"
hitch_end = "lower"

[[hitch]]
at = "car"
rows = [[1, 3, 5], [2, 4, 6]]
thread = "M16"
buffer = "spring"
spring_rate = "150 N/mm"
spring_free_length = "160 mm"
spring_solid_length = "96 mm"

[[hitch]]
at = "counterweight"
rows = [[1, 3, 5], [2, 4, 6]]
thread = "M16"
buffer = "spring"
spring_rate = "150 N/mm"
spring_free_length = "160 mm"
spring_solid_length = "96 mm"
"""


def _series(name: str, span: str = SPAN) -> str:
    hour = "10:12" if name == "as found" else "11:40"
    return f"""
[[series]]
name = "{name}"
span = "{span}"
arrived = "up"
taken = "2026-11-20 {hour} +00:00"
load = "empty"
people = "two on the car top"
neighbours = "free"
"""


def _metric_ropes() -> str:
    take_up = ("22 mm", "26 mm", "21 mm", "24 mm", "25 mm", "22 mm")
    ease = ("14 mm", "11 mm", "15 mm", "13 mm", "12 mm", "14 mm")
    parts = []
    for i, stagger in enumerate(lift.STAGGER):
        text = f'stagger = "{stagger * 1e3:+.0f} mm"\n' if stagger else ""
        parts.append(
            f"\n[[rope]]\nnumber = {i + 1}\n{text}"
            f'take_up_left = "{take_up[i]}"\nease_left = "{ease[i]}"\n'
        )
    return "".join(parts)


def _springs(series: str, ropes: DemoRopes) -> str:
    """Spring lengths to half a millimetre."""
    return "".join(
        f'\n[[reading]]\nseries = "{series}"\nkind = "spring"\nrope = {i + 1}\n'
        f'hitch = "car"\nlength = "{np.round(length * 2e3) / 2:.1f} mm"\n'
        for i, length in enumerate(ropes.spring_lengths)
    )


def _memos(series: str, folder: str) -> str:
    return "".join(
        f'\n[[reading]]\nseries = "{series}"\nkind = "pluck"\nrope = {rope}\n'
        f'recording = "{folder}/rope-{rope}.m4a"\nplucks_each = 3\n'
        for rope in range(1, lift.N_ROPES + 1)
    )


def one_memo(order: tuple[int, ...]) -> str:
    """Record of one long memo, there and back."""
    note = "One memo, ropes 1 to 6 and back, three plucks each."
    return (
        _head(METRIC_SET, METRIC_SPAN, note)
        + _metric_ropes()
        + _series("as found")
        + '\n[[reading]]\nseries = "as found"\nkind = "pluck"\n'
        + f'recording = "all-ropes.m4a"\nropes = {list(order)}\nplucks_each = 3\n'
    )


def six_memos() -> str:
    """Record of one memo per rope and the spring lengths."""
    note = "One memo per rope, three plucks each."
    return (
        _head(METRIC_SET, METRIC_SPAN, note)
        + _metric_ropes()
        + _series("as found")
        + _memos("as found", "as-found")
        + _springs("as found", lift.as_found())
    )


def before_and_after() -> str:
    """Record of both rounds and the turns between them."""
    note = "Found unequal, turned, run six times up and down, measured again."
    turns = "".join(
        f'\n[[turn]]\nafter = "as found"\nhitch = "car"\nrope = {i + 1}\n'
        f'turns = "{turns_text(float(turn))}"\nround_trips_after = 6\n'
        for i, turn in enumerate(lift.TURNS)
        if turn
    )
    return (
        _head(METRIC_SET, METRIC_SPAN, note)
        + _metric_ropes()
        + _series("as found")
        + _memos("as found", "as-found")
        + _springs("as found", lift.as_found())
        + turns
        + _series("as left")
        + _memos("as left", "as-left")
        + _springs("as left", lift.as_left())
    )


def turns_text(turns: float) -> str:
    """Turns as typed: a sign, whole turns, quarters."""
    whole, quarters = divmod(round(abs(turns) * 4), 4)
    fraction = {0: "", 1: "1/4", 2: "1/2", 3: "3/4"}[quarters]
    words = " ".join(part for part in (str(whole) if whole else "", fraction) if part)
    return ("+" if turns > 0 else "-") + words


US_SPAN = f"""[[span]]
name = "{SPAN}"
side = "car"
position = "top landing"
free_length = "11' 1 7/8\\""
length_from = "socket"
ends = "socket-sheave"
hitch_end = "lower"

[[hitch]]
at = "car"
rows = [[1, 3, 5], [2, 4, 6]]
thread = "M16"
buffer = "spring"
spring_rate = "857 lbf/in"
"""

US_SET = """linear_density = "0.386 lb/ft"
rope_length = "125 ft"
"""


def _inches(length: float) -> str:
    """Signed, to the eighth of an inch."""
    whole, eighths = divmod(round(length / INCH * 8), 8)
    shown = {0: "", 2: " 1/4", 4: " 1/2", 6: " 3/4"}.get(eighths, f" {eighths}/8")
    return f"+{whole}{shown} in"


def side_pulls(forces: NDArray[np.float64]) -> str:
    """Record of spring-scale readings, shape (6, 3), in pounds at one inch."""
    note = "Spring scale at mid-span, one inch aside, straightedge on the guide rail."
    ropes = "".join(
        f'\n[[rope]]\nnumber = {i + 1}\nstagger = "{_inches(float(stagger))}"\n'
        for i, stagger in enumerate(lift.STAGGER)
        if stagger > 0.01
    )
    pulls = []
    for i, readings in enumerate(forces):
        texts = ", ".join(f'"{reading:.2f} lbf"' for reading in readings)
        middle = round((lift.FREE_LENGTH + float(lift.STAGGER[i])) / 2 / INCH * 4) / 4
        pulls.append(
            f'\n[[reading]]\nseries = "as found"\nkind = "pull"\nrope = {i + 1}\n'
            f'force = [{texts}]\ndeflection = "1 in"\nhold = "deflection"\n'
            f'at = "{middle:.2f} in"\n'
        )
    text = _head(US_SET, US_SPAN, note).replace('"1840 kg"', '"4057 lb"')
    return text + ropes + _series("as found") + "".join(pulls)
