"""Write a set as a person would bring it home: sound files and a visit.toml."""

from pathlib import Path

from tests.synthesis.recorder import Coding, write_sound
from tests.synthesis.sets import SynthSet

SPAN = "top, car side"
SERIES = "as found"


def write_set(
    synthetic: SynthSet,
    folder: Path,
    *,
    coding: Coding = Coding.WAV,
) -> Path:
    """Write rope-1.wav ... and visit.toml; return the path of the record.

    Lengths are exact and said to be so; the linear density is exact. Of a set on rods
    the two rows of the hitch are written, not how far its rods swing.
    """
    folder.mkdir(parents=True, exist_ok=True)
    readings = []
    for recording in synthetic.recordings:
        name = f"rope-{'-'.join(str(rope) for rope in recording.ropes)}.{coding}"
        write_sound(folder / name, recording.samples, recording.sampling_rate)
        readings.append(_reading(recording.ropes, recording.plucks_each, name))
    record = folder / "visit.toml"
    hitch = ""
    if any(rope.rod_free is not None for rope in synthetic.ropes):
        numbers = [rope.number for rope in synthetic.ropes]
        hitch = f'\n[[hitch]]\nat = "car"\nrows = {[numbers[::2], numbers[1::2]]}\n'
    text = _head(synthetic) + hitch + _ropes(synthetic) + _series() + "".join(readings)
    record.write_text(text, encoding="utf-8")
    return record


def _head(synthetic: SynthSet) -> str:
    base = synthetic.ropes[0].free_length
    return f"""format = 1

[lift]
name = "Granary Wharf, made-up set {synthetic.name} {synthetic.seed}"
drive = "traction"
roping = "1:1"

[visit]
date = 2026-11-20

[set]
ropes = {len(synthetic.ropes)}
diameter = "{synthetic.diameter * 1e3:.0f} mm"
construction = "8x19 FC"
linear_density = "{synthetic.linear_density:.4f} kg/m"

[uncertainty]
free_length = "0 mm"

[[span]]
name = "{SPAN}"
side = "car"
position = "top landing"
free_length = "{base:.4f} m"
length_from = "socket"
ends = "socket-sheave"
hitch_end = "lower"
"""


def _ropes(synthetic: SynthSet) -> str:
    return "".join(
        f"""
[[rope]]
number = {rope.number}
free_lengths = {{ "{SPAN}" = "{rope.free_length:.4f} m" }}
"""
        for rope in synthetic.ropes
    )


def _series() -> str:
    return f"""
[[series]]
name = "{SERIES}"
span = "{SPAN}"
load = "empty"
"""


def _reading(ropes: tuple[int, ...], plucks_each: int, name: str) -> str:
    which = f"rope = {ropes[0]}" if len(ropes) == 1 else f"ropes = {list(ropes)}"
    return f"""
[[reading]]
series = "{SERIES}"
kind = "pluck"
{which}
recording = "{name}"
plucks_each = {plucks_each}
"""
