"""The order of the readings of one kind names no other rope and moves no bound."""

from itertools import permutations
from pathlib import Path

import pytest

import tension
from tension.telling.results import reason_text

HEAD = """format = 1
[lift]
name = "Granary Wharf, goods lift 2"
drive = "traction"
roping = "1:1"
[set]
ropes = 4
diameter = "13 mm"
linear_density = "0.575 kg/m"
sockets = "one height"
[[span]]
name = "top, car side"
side = "car"
position = "top landing"
free_length = "3.40 m"
ends = "socket-sheave"
hitch_end = "lower"
[[series]]
name = "as found"
span = "top, car side"
"""
FORCES = {1: "147 N", 2: "124 N", 3: "156 N", 4: "147 N"}


def _assessed(order: tuple[int, ...], folder: Path) -> tuple[object, ...]:
    """Verdict, reason, shares with their uncertainties and the interval."""
    readings = "".join(
        f'[[reading]]\nseries = "as found"\nkind = "pull"\nrope = {rope}\n'
        f'force = "{FORCES[rope]}"\ndeflection = "25 mm"\nhold = "deflection"\n'
        for rope in order
    )
    path = folder / "visit.toml"
    path.write_text(HEAD + readings, encoding="utf-8")
    found = tension.assess_record(path).assessment
    shares = [(one.number, one.share, one.share_uncertainty) for one in found.shares]
    return found.verdict, reason_text(found), shares, found.spread


@pytest.mark.parametrize("order", list(permutations(FORCES))[1::5])
def test_pulls_in_any_order_say_the_same(
    order: tuple[int, ...], tmp_path: Path
) -> None:
    one = _assessed((1, 2, 3, 4), tmp_path)
    assert "rope 2" in str(one[1])
    assert _assessed(order, tmp_path) == one
