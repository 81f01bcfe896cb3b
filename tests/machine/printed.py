"""What every command prints of drawn records, to hold two states of the code together.

``python -m tests.machine.printed --records 200 --out before`` draws records, runs the
commands on each and on the demo, and writes what they said, one file each.
Do it again after a change into another folder and hold the two with ``diff -r``: only
what the change meant may differ.
"""

import argparse
import os
import random
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.cli.running import DEMO, run

TENSIONS = (
    (5000, 5000, 5000, 5000),
    (5000, 4950, 5050, 4980),
    (5000, 4550, 5050, 4900),
    (5000, 4200, 5300, 5000),
    (7000, 4200, 3300, 5000),
)
RULES = (
    'use = "gb50310-2002-4.9.5"',
    'limit = "8 %"',
    'limit = "15 %"\nmetric = "above-lowest"',
    "",
)
SERIES = ("as found", "as left")
TABLES = (
    '[[finding]]\nrope = {r}\nkind = "broken-wires"\nbroken = {n}\n'
    'distribution = "spread"\nlay = "78 mm"\n',
    '[[finding]]\nrope = {r}\nkind = "broken-wires"\nbroken = {n}\n'
    'distribution = "one-or-two-strands"\nin_one_strand = 3\n',
    '[[finding]]\nrope = {r}\nkind = "diameter"\n'
    'diameters = ["12.{n} mm", "12.5 mm"]\n',
    '[[finding]]\nrope = {r}\nkind = "lay-length"\nlay = "8{r}.{n} mm"\n'
    'baseline = "78 mm"\n',
    '[[finding]]\nkind = "rouge"\nseen = "yes"\ncounts = true\n',
    '[[finding]]\nkind = "unequal-tension"\nseen = "yes"\ncounts = true\n',
    '[[finding]]\nrope = {r}\nkind = "groove"\ngroove = {r}\nseating = "0.{n} mm"\n',
    '[[finding]]\nrope = {r}\nkind = "crossed"\nother_rope = 1\n',
    '[[check]]\nitem = "right-rope"\nanswer = "yes"\ntag_text = "13 8x19 FC"\n'
    'tag_diameter = "13 mm"\nplate_diameter = "1{r} mm"\n',
    '[[check]]\nitem = "new-diameter"\nrope = {r}\n'
    'diameters = ["13.{n} mm", "13.2 mm", "13.2 mm", "13.1 mm"]\n',
    '[[check]]\nitem = "not-crossed"\nhitch_order = [1, 2, 3, 4]\n'
    "grooves = [1, 2, 4, 3]\n",
    '[[check]]\nitem = "tail"\nrope = {r}\nlength = "{n}0 mm"\n',
    '[[check]]\nitem = "runby"\nnow = "{n}0 mm"\nleast = "50 mm"\nmost = "90 mm"\n',
    '[[check]]\nitem = "tension"\nanswer = "yes"\n',
    '[[check]]\nitem = "clips"\nrope = {r}\n'
    'distances = ["80 mm", "160 mm", "2{n}0 mm"]\n',
    '[[check]]\nitem = "cleanliness"\nanswer = "no"\nnote = "oil on rope {r}"\n',
    '[allowance]\ntable = "japan-structure-40"\nedition = "2020"\npage = "40"\n'
    'confirmed_by = "I. Example"\ndate = 2026-11-20\n'
    '[[allowance.figure]]\nwhat = "spread"\nbreaks = {n}\n',
    '[[instrument]]\nwhat = "spring scale"\nname = "hand, 500 N"\nserial = "{n}"\n',
    '[[answer]]\nnote = "looked"\nanswer = "yes"\nby = "R. Example"\n',
    '[[exclusion]]\nseries = "as found"\nrope = {r}\nreason = "it was held"\n',
    '[[turn]]\nafter = "as found"\nrope = {r}\nturns = "+{r} 1/2"\nhitch = "car"\n',
    '[[turn]]\nafter = "as found"\nrope = {r}\nturns = "-1/4"\n'
    'hitch = "counterweight"\n',
    '[[run]]\nafter = "as found"\nround_trips = 1{n}\n',
)
"""Tables with a place for a rope and for a figure; some contradict each other."""

LINES = (
    'rope_length = "38 m"',
    'axial_rigidity = "4600 kN"',
    'diameter = "13 mm"',
    'construction = "8x19 FC"',
    'sockets = "one height"',
)
HITCH = (
    'thread = "M16"',
    'spring_rate = "150 N/mm"',
    'spring_free_length = "160 mm"',
    'spring_solid_length = "96 mm"',
    "rows = [[1, 3], [2, 4]]",
)
LIFT = ('name = "Granary Wharf, lift 1"', 'roping = "1:1"', 'travel = "30 m"')
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


def _reading(draw: random.Random, series: str, rope: int, tension: float) -> str:
    head = f'[[reading]]\nseries = "{series}"\nrope = {rope}\n'
    kind = draw.choice(("pull", "pull", "returns", "spring"))
    if kind == "pull":
        force = 4.0 * tension * 0.05 / 30.0
        return f'{head}kind = "pull"\nforce = "{force:.2f} N"\ndeflection = "50 mm"\n'
    if kind == "returns":
        elapsed = 20.0 * 30.0 / (tension / 0.58) ** 0.5
        return f'{head}kind = "returns"\ncount = 10\nelapsed = "{elapsed:.3f} s"\n'
    length = 160.0 - tension / 150.0
    return f'{head}kind = "spring"\nhitch = "car"\nlength = "{length:.1f} mm"\n'


def _some(draw: random.Random, lines: tuple[str, ...]) -> str:
    return "".join(f"{line}\n" for line in lines if draw.random() < 0.7)


def drawn(number: int, seed: int) -> str:
    """One record; some have mistakes."""
    draw = random.Random(f"{seed}-{number}")  # noqa: S311
    tables = [
        f"format = 1\n[lift]\n{_some(draw, LIFT)}",
        '[uncertainty]\nscale = "0.5 %"\ndeflection = "0.1 mm"\nspring_rate = "1 %"\n'
        '[visit]\ndate = 2026-11-20\nmeasured_by = "R. Example"\n',
        f"[rule]\n{draw.choice(RULES)}\n",
        f'[set]\nropes = 4\nlinear_density = "0.58 kg/m"\n{_some(draw, LINES)}',
        '[[span]]\nname = "top"\nfree_length = "30 m"\nside = "car"\n'
        'position = "top landing"\nends = "socket-sheave"\n',
    ]
    tables.append(f'[[hitch]]\nat = "car"\n{_some(draw, HITCH)}')
    if draw.random() < 0.7:
        tables.append(f'[[hitch]]\nat = "counterweight"\n{_some(draw, HITCH)}')
    if draw.random() < 0.5:
        room = draw.randint(1, 30)
        tables.extend(
            f'[[rope]]\nnumber = {rope}\ntake_up_left = "{room} mm"\n'
            f'ease_left = "{room} mm"\nstagger = "+{draw.randint(0, 150)} mm"\n'
            for rope in (1, 2, 3, 4)
        )
    is_whole = draw.random() < 0.85
    for series in SERIES[: draw.choice((1, 2))]:
        tables.append(
            f'[[series]]\nname = "{series}"\nspan = "top"\narrived = "up"\n'
            f"{_some(draw, ('round_trips_before = 6',))}"
        )
        for rope, tension in enumerate(draw.choice(TENSIONS), start=1):
            tables.extend(
                _reading(draw, series, rope, tension * draw.gauss(1.0, 0.003))
                for _ in range(
                    draw.choice((1, 1, 1, 1, 1, 2, 2, 3) if is_whole else (0, 1))
                )
            )
    for table in draw.sample(TABLES, draw.randint(0, 5)):
        rope, figure = draw.randint(1, 4), draw.randint(0, 9)
        tables.append(table.replace("{r}", str(rope)).replace("{n}", str(figure)))
    if draw.random() < 0.05:
        tables.append(draw.choice(("[[reading]]\nrope = 9\n", "[sett]\n", "x = 1,5\n")))
    return "\n".join(tables)


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


def _records(number: int, seed: int, place: Path) -> Iterator[tuple[str, Path]]:
    for name in ("six-memos", "side-pulls", "before-and-after", "one-memo"):
        shutil.copytree(DEMO / name, place / name)
        yield name, place / name
    for i in range(number):
        folder = place / f"record-{i:03d}"
        folder.mkdir()
        record = folder / "visit.toml"
        record.write_text(drawn(i, seed), encoding="utf-8")
        os.utime(record, (WRITTEN, WRITTEN))
        yield folder.name, folder


def main() -> None:
    """Write what the commands say."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--records", type=int, default=200)
    parser.add_argument("--seed", type=int, default=14)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--no-sound", action="store_true", help="leave the demo out")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
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
        for form in ((), ("--json",)):
            out = given.out.resolve() / "all" / f"history{''.join(form)}"
            _say(("history", place, *form), out, place)
        fleet = ("fleet", place, "--no-cache", "--as-of", "2026-11-29", "--csv")
        _say((*fleet, "--workers", "1"), given.out.resolve() / "all" / "fleet", place)


if __name__ == "__main__":
    main()
