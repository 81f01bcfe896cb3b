"""What every command prints of drawn records, to hold two states of the code together.

Of drawn records no sound is heard: their recordings tell the frequency by their names.

``python -m tests.machine.printed --records 200 --out before`` draws records, runs the
commands on each and on the demo, and writes what they said, one file each.
Do it again after a change into another folder and hold the two with ``diff -r``: only
what the change meant may differ.
"""

import argparse
import os
import shutil
import tempfile
from collections.abc import Iterator
from itertools import product
from pathlib import Path

from tests.cli.running import DEMO, run
from tests.machine.drawing import LIFTS, drawn
from tests.machine.hearing_by_name import hearing_by_name

WRITTEN = 1_800_000_000
"""Time of the records on the disk, which reports tell. [s]"""
COMMANDS = (
    ("assess", "--json"),
    ("assess",),
    ("assess", "--csv"),
    ("adjust",),
    ("adjust", "--json"),
    ("compare",),
    ("compare", "--json"),
    ("springs",),
    ("springs", "--json"),
    ("causes",),
    ("causes", "--json"),
    ("acceptance",),
    ("acceptance", "--json"),
    ("add", "turns", "2 in 1/2", "--dry-run"),
    ("add", "pulls", "3: 22 N", "--deflection", "50 mm", "--dry-run"),
    ("verify",),
)


def _say(words: tuple[str | Path, ...], out: Path, place: Path) -> None:
    ran = run(*words, env={"COLUMNS": "80"})
    told = f"exit {ran.code}\n{ran.out}\n--- stderr\n{ran.err}"
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(told.replace(str(place), "PLACE"), encoding="utf-8")


def _report(folder: Path, out: Path, place: Path) -> None:
    page = place / "page.html"
    _say(("report", folder, "--output", page), out / "report", place)
    if page.exists():
        shutil.move(page, out / "report.html")


def write_drawn(number: int, seed: int, folder: Path) -> None:
    """A drawn record in a folder of its own."""
    one = drawn(number, seed)
    folder.mkdir()
    for name, content in (*one.files.items(), ("visit.toml", one.text.encode())):
        file = folder / name
        file.write_bytes(content)
        os.utime(file, (WRITTEN, WRITTEN))


def _records(number: int, seed: int, place: Path) -> Iterator[tuple[str, Path]]:
    for name in ("six-memos", "side-pulls", "before-and-after", "one-memo"):
        shutil.copytree(DEMO / name, place / name)
        yield name, place / name
    for i in range(number):
        folder = place / f"record-{i:03d}"
        write_drawn(i, seed, folder)
        yield folder.name, folder


def main() -> None:
    """Write what the commands say."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--records", type=int, default=200)
    parser.add_argument("--seed", type=int, default=14)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--no-sound", action="store_true", help="leave the demo out")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as made, hearing_by_name():
        place = Path(made)
        for name, folder in _records(given.records, given.seed, place):
            if given.no_sound and not name.startswith("record-"):
                continue
            os.chdir(folder)
            for words in COMMANDS:
                where = ("--in", folder) if words[0] == "add" else (folder,)
                _say(
                    (*words, *where),
                    given.out.resolve() / name / " ".join(words).replace("/", "_"),
                    place,
                )
            _report(folder, given.out.resolve() / name, place)
            os.chdir(place)
        for lift, form in product(LIFTS, ((), ("--json",))):
            asked = ("history", "--lift", lift, *form)
            _say((*asked, place), given.out.resolve() / "all" / " ".join(asked), place)
        fleet = ("fleet", place, "--no-cache", "--as-of", "2026-11-29", "--csv")
        _say((*fleet, "--workers", "1"), given.out.resolve() / "all" / "fleet", place)


if __name__ == "__main__":
    main()
