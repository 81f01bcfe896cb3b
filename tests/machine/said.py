"""What the commands say of a fixed draw of records, kept beside it and held to.

``python -m tests.machine.said`` writes the file anew: in the commit of a change that
means to change what is said, and in no other; with ``--out FOLDER`` it writes the whole
lines there, to hold two states together with ``diff -r``. No sound is heard and no
picture drawn. Numbers stand with six digits, so that the last ones of another processor
do not count.
"""

import argparse
import hashlib
import json
import os
import pickle
import re
import shutil
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from html import unescape
from importlib import import_module
from itertools import product
from pathlib import Path
from typing import Any
from unittest.mock import patch

from tests.cli.running import DEMO, run
from tests.machine.drawing import LIFTS
from tests.machine.hearing_by_name import hear_by_name
from tests.machine.printed import COMMANDS, WRITTEN, write_drawn

KEPT = Path(__file__).with_name("said.txt")
SEED = 5
DRAWN = (2, 14, 17, 27, 33, 57, 64, 68, 71, 74, 76, 78, 80, 84, 87, 100, 104)
"""Of the first 110, the few that together reach nearly every branch that all reach."""
DEMO_RECORDS = ("side-pulls", "six-memos", "before-and-after")
LONGEST = 76
"""A line longer than that is kept by its beginning and a mark of the whole."""
HEADING = 24
"""The same for a section of a page."""
OTHERWISE = {
    "tension.workflow.listening.hear_set": hear_by_name,
    "tension.figures.shares.drawn_svg": lambda *_: "<svg></svg>",
}
"""What listens and what draws."""
ONCE = (
    "tension.workflow.assess.listen_to_series",
    "tension.workflow.assess.measure_series",
    "tension.workflow.assess.assess_set",
    "tension.workflow.causes.diagnose",
)
"""What most commands do of a record again is done once: it is most of the time."""
LEFT_OUT = (("assess", "--csv"), ("verify",))
ENVELOPE = ("schema_version", "command", "software")
_VERSION = re.compile(r"\b\d+\.\d+\.\w+\b")
_NUMBER = re.compile(r"-?\d+\.\d+(?:e[-+]?\d+)?")
_TAGS = re.compile(r"<style>.*?</style>|<[^>]*>", re.DOTALL)


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One line as it is kept, and the whole of it."""

    kept: str
    whole: str


def _line(whole: str, longest: int = LONGEST) -> Line:
    if len(whole) <= longest:
        return Line(kept=whole, whole=whole)
    return Line(kept=f"{whole[: longest - 7]} {_mark(whole)}", whole=whole)


def _mark(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:6]


# what a command said, in lines


def _paragraphs(text: str) -> Iterator[str]:
    """Each paragraph of a text on one line."""
    for part in re.split(r"\n\s*\n", text):
        if part.strip():
            yield _NUMBER.sub(_shortened, " ".join(part.split()))


def _shortened(found: re.Match[str]) -> str:
    text = found.group()
    return text if len(text) < 9 else f"{float(text):.6g}"


def _value(value: object) -> str:
    """Six digits of a number, a short text, a mark of a long one."""
    if value is None or value == "":
        return "-"
    if isinstance(value, float):
        return f"{value:.6g}" if abs(value) > 1e-12 else "0"
    text = str(value)
    return text.replace(" ", "_") if len(text) <= 12 else _mark(text)


def _leaves(value: object) -> Iterator[object]:
    if isinstance(value, dict | list):
        for one in value.values() if isinstance(value, dict) else value:
            yield from _leaves(one)
    else:
        yield value


def _rows(document: dict[str, Any]) -> Iterator[str]:
    """A row of values for each key on top, or for each table that it lists."""
    for key, value in document.items():
        listed = value if isinstance(value, list) and key != "inputs" else []
        tables = [one for one in listed if isinstance(one, dict)]
        for one in tables or [value]:
            leaves = list(_leaves(one))
            says = any(leaf is not None for leaf in leaves[2:] or leaves)
            if says and key not in ENVELOPE:
                yield f"{key}: {' '.join(map(_value, leaves))}"


def _page(text: str) -> Iterator[str]:
    """The words of each section of a page, its versions left out."""
    for section in re.split("(?=<h[12])", text):
        words = unescape(_TAGS.sub(" ", section))
        yield _VERSION.sub("version", " ".join(words.split()))


def _said(words: tuple[str | Path, ...], place: Path) -> Iterator[str]:
    """What a command said, in lines."""
    ran = run(*words, env={"COLUMNS": "80"})
    yield f"exit {int(ran.code)}"
    out = ran.out.replace(str(place), "PLACE")
    if "--json" in words and out:
        yield from _rows(json.loads(out))
    else:
        yield from _paragraphs(out)
    yield from _paragraphs(ran.err.replace(str(place), "PLACE"))


# records


Said = dict[str, list[Line]]
"""By command."""


def said_of_record(name: str, place: Path) -> Said:
    """What every command says of one record."""
    folder = _written(name, place)
    page = place / f"{name}.html"
    said: dict[str, Iterable[str]] = {}
    with quickly(), _inside(folder):
        for words in COMMANDS:
            if words not in LEFT_OUT:
                where = ("--in", folder) if words[0] == "add" else (folder,)
                said[" ".join(words)] = list(_said((*words, *where), place))
        said["report"] = list(_said(("report", folder, "--output", page), place))
        if page.exists():
            said["page"] = list(_page(page.read_text(encoding="utf-8")))
            page.unlink()
    return _lines(said)


def said_together(place: Path) -> Said:
    """What is said of all records together, lift by lift."""
    together = place / "together"
    for name in NAMES:
        shutil.copytree(_written(name, place), together / name)
    said = {}
    with quickly():
        for lift, form in product(LIFTS, ((), ("--json",))):
            words = ("history", "--lift", lift, *form)
            said[" ".join(words)] = list(_said((*words, together), place))
    shutil.rmtree(together)
    return _lines(said)


def _lines(said: Mapping[str, Iterable[str]]) -> Said:
    longest = {"page": HEADING}
    return {
        words: [_line(line, longest.get(words, LONGEST)) for line in lines]
        for words, lines in said.items()
    }


def _written(name: str, place: Path) -> Path:
    """The folder of a record: drawn, or the demo's without its sounds."""
    folder = place / name
    if folder.exists():
        return folder
    if name in DEMO_RECORDS:
        folder.mkdir()
        shutil.copy(DEMO / name / "visit.toml", folder)
        os.utime(folder / "visit.toml", (WRITTEN, WRITTEN))
    else:
        write_drawn(int(name), SEED, folder)
    return folder


@contextmanager
def _inside(folder: Path) -> Iterator[None]:
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


_known: dict[bytes, object] = {}


def _once(name: str, do: Callable[..., object]) -> Callable[..., object]:
    """Do, or say what came of the same before."""

    def done(*given: object, **named: object) -> object:
        key = hashlib.sha256(pickle.dumps((name, given, named))).digest()
        if key not in _known:
            _known[key] = do(*given, **named)
        return _known[key]

    return done


@contextmanager
def quickly() -> Iterator[None]:
    """Let commands say the same without what takes long."""
    with ExitStack() as changed:
        for name, other in OTHERWISE.items():
            changed.enter_context(patch(name, other))
        for name in ONCE:
            module, _, function = name.rpartition(".")
            do = getattr(import_module(module), function)
            changed.enter_context(patch(name, _once(name, do)))
        yield


# the file


NAMES = (*DEMO_RECORDS, *(f"{number:03d}" for number in DRAWN))
HISTORY = "history"
"""The name of what is said of all of them together."""


def said_of(name: str, place: Path) -> Said:
    """What is said of a record, or of all together."""
    return said_together(place) if name == HISTORY else said_of_record(name, place)


def kept() -> dict[str, dict[str, list[str]]]:
    """What the file has: by record and command."""
    found: dict[str, dict[str, list[str]]] = {}
    for text in KEPT.read_text(encoding="utf-8").split("\n\n"):
        head, *lines = text.strip().splitlines()
        name, _, words = head.removeprefix("# ").partition(": ")
        found.setdefault(name, {})[words] = lines
    return found


def main() -> None:
    """Write the file anew, or all that is said into a folder."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, help="folder for the whole lines instead")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        said = {name: said_of(name, Path(made)) for name in (*NAMES, HISTORY)}
    if given.out:
        given.out.mkdir(parents=True)
    parts = []
    for name, by_command in said.items():
        for words, lines in by_command.items():
            parts.append("\n".join((f"# {name}: {words}", *(x.kept for x in lines))))
            if given.out:
                whole = "\n".join(line.whole for line in lines)
                (given.out / f"{name} {words.replace('/', '_')}").write_text(whole)
    if not given.out:
        KEPT.write_text("\n\n".join(parts) + "\n", encoding="utf-8")
        print(KEPT.name, KEPT.stat().st_size, "bytes")


if __name__ == "__main__":
    main()
