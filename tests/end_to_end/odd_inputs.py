"""Inputs damaged at random, given to the program: what it does with a thousand of them.

    python -m tests.end_to_end.odd_inputs --inputs 1000 --seed 1

A good record, recording, sensor log, seal or command line is damaged at random places
and given to a random command that reads it. Every answer must be a listed exit code
with a line for people, no traceback, no file changed, within 30 s and 500 MB.
"""

import argparse
import random
import resource
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from click.testing import CliRunner

from tests.end_to_end.bad_files import good
from tests.end_to_end.bad_records import GOOD

LISTED = {0, 2, 3, 10, 11, 12, 13}
MOST_SECONDS = 30.0
MOST_MEGABYTES = 500.0
WORDS = (
    b"\x00",
    b"\xff\xfe",
    b"\xef\xbb\xbf",
    b"[[rope]]\n",
    b"[[reading]]\n",
    b'"""',
    b"= [",
    b"{",
    b"1e999",
    b"-1",
    b"nan",
    b"99999999999999999999",
    b"../",
    b"\x1b[31m",
    "\u202e".encode(),
    b'"3 m 4"',
    b"'",
    b"\r",
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """What the program did with one input."""

    kind: str
    words: tuple[str, ...]
    code: int
    seconds: float
    fault: str


def damaged(draw: random.Random, content: bytes) -> bytes:
    """A content with one to three damages: bytes turned, cut out, put in, doubled."""
    data = bytearray(content)
    for _ in range(draw.randint(1, 3)):
        at = draw.randrange(len(data) + 1)
        length = draw.choice((1, 1, 4, 40, 400))
        way = draw.randrange(5)
        if way == 0 and data:
            data[at % len(data)] ^= draw.randrange(1, 256)
        elif way == 1:
            del data[at : at + length]
        elif way == 2:
            data[at:at] = draw.choice(WORDS)
        elif way == 3:
            data[at:at] = draw.randbytes(length)
        else:
            data[at:at] = data[max(0, at - length) : at]
    return bytes(data)


def _record(draw: random.Random, folder: Path) -> list[str]:
    """A damaged record."""
    (folder / "visit.toml").write_bytes(damaged(draw, GOOD.encode()))
    name = draw.choice(
        ("assess", "assess", "adjust", "springs", "acceptance", "verify")
    )
    more = ["--json"] * (name == "assess" and draw.random() < 0.3)
    return [name, str(folder), *more]


def _lines(draw: random.Random, folder: Path) -> list[str]:
    """A record whose lines are left out, doubled or changed over."""
    lines = GOOD.splitlines(keepends=True)
    for _ in range(draw.randint(1, 8)):
        at, to = draw.randrange(len(lines)), draw.randrange(len(lines))
        way = draw.randrange(3)
        if way == 0:
            del lines[at]
        elif way == 1:
            lines.insert(to, lines[at])
        else:
            lines[at], lines[to] = lines[to], lines[at]
    (folder / "visit.toml").write_text("".join(lines), encoding="utf-8")
    return [draw.choice(("assess", "adjust", "compare", "acceptance")), str(folder)]


def _sound(draw: random.Random, folder: Path) -> list[str]:
    """A damaged recording, alone."""
    content = good(2)
    if draw.random() < 0.3:
        content = content[: draw.randrange(len(content))]
    (folder / "rope-1.wav").write_bytes(damaged(draw, content))
    return ["pluck", str(folder / "rope-1.wav")]


def _log(draw: random.Random, folder: Path) -> list[str]:
    """A damaged log of an acceleration sensor."""
    times = np.arange(0.0, 4.0, 0.005)
    rows = [f"{t:.4f},{np.sin(95 * t) * np.exp(-t):.4f}" for t in times]
    text = "time (s),x (m/s2)\n" + "\n".join(rows) + "\n"
    (folder / "rope-1.csv").write_bytes(damaged(draw, text.encode()))
    return ["pluck", str(folder / "rope-1.csv")]


def _seal(draw: random.Random, folder: Path) -> list[str]:
    """A damaged seal, or damaged corrections."""
    from tension.files.seal import Correction
    from tension.workflow.integrity import correct_record, seal_record

    (folder / "visit.toml").write_text(GOOD, encoding="utf-8")
    seal_record(folder)
    correct_record(folder, Correction(by="R. Calder", reason="misread", text="A."))
    path = folder / draw.choice(("visit.seal.toml", "visit.corrections.toml"))
    path.write_bytes(damaged(draw, path.read_bytes()))
    return ["verify", str(folder), *(["--json"] * draw.randrange(2))]


def _options(draw: random.Random, folder: Path) -> list[str]:
    """A good record, and options with damaged values."""
    (folder / "visit.toml").write_text(GOOD, encoding="utf-8")
    name = draw.choice(("assess", "adjust", "acceptance"))
    words = [name, str(folder)]
    for _ in range(draw.randint(1, 3)):
        option = draw.choice(
            (
                "--limit",
                "--metric",
                "--rule",
                "--series",
                "--units",
                "--terms",
                "--order",
            )
        )
        value = draw.choice(("5 %", "off-mean", "as found", "1 2 3", "si", "60 ropes"))
        shown = damaged(draw, value.encode()).decode("utf-8", "replace")
        words += [option, shown.replace("\x00", "0")]
    return words


KINDS: dict[str, tuple[float, Callable[[random.Random, Path], list[str]]]] = {
    "record, bytes": (0.35, _record),
    "record, lines": (0.2, _lines),
    "recording": (0.1, _sound),
    "sensor log": (0.1, _log),
    "seal or corrections": (0.15, _seal),
    "options": (0.1, _options),
}
"""Share of the inputs, and what makes one."""


def answer(seed: int, number: int) -> Answer:
    """Make one input and give it to the program."""
    from tension.cli.main import command

    draw = random.Random(f"{seed} {number}")  # noqa: S311 - not for secrets
    weights = [share for share, _ in KINDS.values()]
    (kind,) = draw.choices(list(KINDS), weights)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        words = KINDS[kind][1](draw, folder)
        before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
        begun = time.process_time()
        done = CliRunner().invoke(command, words, prog_name="tension")
        seconds = time.process_time() - begun
        after = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    error = done.exception
    told = done.stdout + done.stderr
    fault = ""
    if error is not None and not isinstance(error, SystemExit):
        fault = f"{type(error).__name__}: {error}"
    elif done.exit_code not in LISTED:
        fault = f"exit code {done.exit_code}"
    elif not told.strip() or "Traceback" in told or "Warning:" in told:
        fault = "no line for people"
    elif not all(line.isprintable() for line in told.split("\n")):
        fault = "hidden characters"
    elif before != after:
        fault = "files changed"
    elif seconds > MOST_SECONDS:
        fault = f"{seconds:.0f} s"
    return Answer(
        kind=kind, words=tuple(words), code=done.exit_code, seconds=seconds, fault=fault
    )


def main() -> int:
    """Give the program its inputs and print what came of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    answers = [answer(given.seed, number) for number in range(given.inputs)]
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print("| input | number | exit codes | longest | faults |")
    print("|---|---|---|---|---|")
    for kind in KINDS:
        own = [one for one in answers if one.kind == kind]
        codes = sorted(Counter(one.code for one in own).items())
        shown = ", ".join(f"{code}: {count}" for code, count in codes)
        longest = max((one.seconds for one in own), default=0.0)
        n_faults = sum(bool(one.fault) for one in own)
        print(f"| {kind} | {len(own)} | {shown} | {longest:.1f} s | {n_faults} |")
    print(
        f"\nSeed {given.seed}, {given.inputs} inputs; the process took {peak:.0f} MB."
    )
    for number, one in enumerate(answers):
        if one.fault:
            print(f"{number}: {' '.join(one.words)}: {one.fault}", file=sys.stderr)
    return int(peak > MOST_MEGABYTES or any(one.fault for one in answers))


if __name__ == "__main__":
    sys.exit(main())
