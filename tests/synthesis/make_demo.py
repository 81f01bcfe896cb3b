"""Make recordings_demo/: ``python -m tests.synthesis.make_demo``.

The seed is fixed, so the samples are the same every time; the bytes of the m4a files
depend on the version of ffmpeg.
"""

import hashlib
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.synthesis import demo_lift as lift
from tests.synthesis import demo_records as records
from tests.synthesis.demo_sound import RATE, record
from tests.synthesis.plucking import solve
from tests.synthesis.recorder import write_sound
from tests.synthesis.ropes import RopeSpec, static_deflection

SEED = 20261120
BIT_RATE = "32k"
ORDER = (1, 2, 3, 4, 5, 6, 6, 5, 4, 3, 2, 1)


def pull_forces(rng: np.random.Generator) -> NDArray[np.float64]:
    """Pounds read at one inch aside, three times per rope, to a quarter pound.

    Statics of the finite-element rope under the tension it has when pulled: its own,
    and the stretch over the fall's axial stiffness with its spring.
    """
    aside = records.INCH
    rows = []
    for spec in lift.as_found().specs:
        length = spec.free_length
        axial = 1.0 / (length / lift.TRUE_AXIAL_RIGIDITY + 1.0 / lift.TRUE_SPRING_RATE)
        stretched = RopeSpec(
            free_length=length,
            linear_density=spec.linear_density,
            flexural_rigidity=spec.flexural_rigidity,
            hitch_tension=spec.hitch_tension + axial * 2.0 * aside**2 / length,
        )
        force = aside / static_deflection(stretched, length / 2.0)
        pounds = force / records.POUND_FORCE * (1 + 0.01 * rng.standard_normal(3))
        rows.append(np.round(pounds * 4.0) / 4.0)
    return np.array(rows)


def write_memos(rng: np.random.Generator, ropes: lift.DemoRopes, folder: Path) -> None:
    """Write one m4a per rope."""
    folder.mkdir(parents=True, exist_ok=True)
    for rope in range(1, lift.N_ROPES + 1):
        samples = record(rng, ropes, (rope,))
        write_sound(folder / f"rope-{rope}.m4a", samples, RATE, BIT_RATE)


def write_text(path: Path, text: str) -> None:
    """Write a text file, its folder included."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


def make_demo(folder: Path) -> None:
    """Make everything but nothing twice."""
    found, left = lift.as_found(), lift.as_left()
    one = folder / "one-memo"
    write_text(one / "visit.toml", records.one_memo(ORDER))
    samples = record(np.random.default_rng([SEED, 1]), found, ORDER)
    write_sound(one / "all-ropes.m4a", samples, RATE, BIT_RATE)

    six = folder / "six-memos"
    write_text(six / "visit.toml", records.six_memos())
    write_memos(np.random.default_rng([SEED, 2]), found, six / "as-found")

    both = folder / "before-and-after"
    write_text(both / "visit.toml", records.before_and_after())
    write_memos(np.random.default_rng([SEED, 3]), found, both / "as-found")
    write_memos(np.random.default_rng([SEED, 4]), left, both / "as-left")

    pulls = records.side_pulls(pull_forces(np.random.default_rng([SEED, 5])))
    write_text(folder / "side-pulls" / "visit.toml", pulls)
    write_text(folder / "README.md", readme(folder))


def _truth_table() -> str:
    """True tensions and fundamentals, as Markdown."""
    lines = [
        "| rope | free length / m | as found / N | share / % | f1 / Hz "
        "| as left / N | share / % |",
        "|---|---|---|---|---|---|---|",
    ]
    found, left = lift.as_found(), lift.as_left()
    for i, spec in enumerate(found.specs):
        first, last = found.tensions[i], left.tensions[i]
        lines.append(
            f"| {i + 1} | {spec.free_length:.3f} | {first:.0f} "
            f"| {100 * first / found.tensions.mean():.1f} "
            f"| {solve(spec).frequencies[0]:.3f} | {last:.0f} "
            f"| {100 * last / left.tensions.mean():.1f} |"
        )
    return "\n".join(lines)


def _spreads(ropes: lift.DemoRopes) -> str:
    """Spread by the two usual metrics, in words."""
    tensions = ropes.tensions
    off = float(np.max(np.abs(tensions / tensions.mean() - 1.0)))
    below = 1.0 - float(tensions.min() / tensions.max())
    return f"{100 * off:.1f} % off the mean, {100 * below:.1f} % below the highest"


def readme(folder: Path) -> str:
    """Text of the demo's README, hashes included."""
    files = sorted(p for p in folder.rglob("*") if p.suffix in {".m4a", ".toml"})
    hashes = "\n".join(
        f"    {hashlib.sha256(path.read_bytes()).hexdigest()}  "
        f"{path.relative_to(folder).as_posix()}"
        for path in files
    )
    found = lift.as_found()
    compliance = 2 / lift.TRUE_SPRING_RATE + lift.ROPE_LENGTH / lift.TRUE_AXIAL_RIGIDITY
    per_turn = lift.THREAD_PITCH / compliance
    turns = ", ".join(
        f"rope {i + 1} {records.turns_text(float(turn))}"
        for i, turn in enumerate(lift.TURNS)
        if turn
    )
    return f"""# Demo: Granary Wharf, goods lift 2

Everything here is invented: the building, the lift, its ropes, the person who measured
and every reading. No lift was measured and no sound was recorded. The recordings are
made by a program from finite-element ropes (own weight, socket clamped, sheave pinned,
3.5 % of the bending stiffness of a solid rod), which imports nothing of `tension`:

    python -m tests.synthesis.make_demo

Seed {SEED}. The samples are the same every time; the bytes of the m4a files depend on
the version of ffmpeg.

| folder, each for `tension assess recordings_demo/...` | what it holds |
|---|---|
| `one-memo/` | one long memo, ropes 1 to 6 and back, three plucks each |
| `six-memos/` | one memo per rope, three plucks each, and spring lengths |
| `side-pulls/` | spring-scale readings in inches and pounds |
| `before-and-after/` | six memos as found, the turns made, six memos as left |

`six-memos/as-found` is also a folder of sound files alone, without a record.

The sound: a phone beside the rope at a quarter of the span (low cut 45 Hz, second
order), noise 22 dB and 50 Hz hum with multiples 16 dB below the ring, neighbouring
ropes sounding along at 22 dB below, two planes of swing up to 0.1 % apart, AAC at
{BIT_RATE.removesuffix("k")} kb/s, mono, {RATE} Hz.

## The truth

Tension at the car hitch, the lower end. The six sum to the weight of the 1840 kg that
hang there, the two people on the car top included.

{_truth_table()}

As found: {_spreads(found)}.
As left: {_spreads(lift.as_left())}.
The mean is {found.tensions.mean():.1f} N.

Between the two, the nuts at the car hitch were turned
({turns}; positive is towards the plate)
and the car ran six round trips. The true springs are 146 N/mm and the true axial
rigidity is 4.4 MN; the record says 150 N/mm and 4.6 MN, as a drawing would. With
springs at both hitches and 38 m of rope, a turn of the M16 nut moves a rope's tension
by {per_turn:.1f} N, less its part of what the whole set moves.

The side pulls are the statics of the same ropes, held one inch aside at mid-span, with
the tension that the stretch adds; 1 % of scatter and a scale that is read to a quarter
of a pound.

## SHA-256

{hashes}
"""


if __name__ == "__main__":
    make_demo(Path(__file__).resolve().parents[2] / "recordings_demo")
