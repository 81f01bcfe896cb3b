"""Every option misused."""

# ruff: noqa: E501 - one row of the tables on one line
from collections.abc import Callable
from functools import partial
from pathlib import Path

from tests.end_to_end.bad_files import good
from tests.end_to_end.bad_records import GOOD

Row = tuple[str, Callable[[Path], list[str]], str, str]

LENGTH = ("--free-length", "3.4 m", "--same-height")


def files(folder: Path, n_files: int = 2) -> list[str]:
    """Write good recordings."""
    for rope in range(1, n_files + 1):
        (folder / f"rope-{rope}.wav").write_bytes(good(rope))
    return [str(folder / f"rope-{rope}.wav") for rope in range(1, n_files + 1)]


def assessing(
    *options: str, n_files: int = 2, with_length: bool = True
) -> Callable[[Path], list[str]]:
    """Return a maker of an assessment of files with some options."""

    def make(folder: Path) -> list[str]:
        length = LENGTH if with_length else ()
        return ["assess", *files(folder, n_files), *length, *options]

    return make


def of_record(*options: str, command: str = "assess") -> Callable[[Path], list[str]]:
    """Return a maker of a command on a good record with some options."""

    def make(folder: Path) -> list[str]:
        (folder / "visit.toml").write_text(GOOD)
        return [command, str(folder), *options]

    return make


def plain(*arguments: str) -> Callable[[Path], list[str]]:
    """Return a maker that needs no files."""
    return lambda _: list(arguments)


def in_folder(*arguments: str) -> Callable[[Path], list[str]]:
    """Return a maker whose arguments may name the folder by {folder}."""
    return lambda folder: [one.format(folder=folder) for one in arguments]


def over_a_file(
    name: str, maker: Callable[[Path], list[str]], folder: Path
) -> list[str]:
    """Let a command write over a file that exists."""
    (folder / name).write_text("precious")
    return maker(folder)


def plotting(name: str) -> Callable[[Path], list[str]]:
    """Return a maker of an assessment that draws to a file of the folder."""
    return lambda folder: [
        "assess",
        *files(folder),
        *LENGTH,
        "--plot",
        str(folder / name),
    ]


def folder_and_file(folder: Path) -> list[str]:
    """Name a folder beside a file."""
    (folder / "memos").mkdir()
    return ["assess", str(folder / "memos"), *files(folder), *LENGTH]


def empty_folder(command: str, folder: Path) -> list[str]:
    """Name a folder that holds nothing."""
    (folder / "memos").mkdir()
    return [command, str(folder / "memos"), *(LENGTH if command == "assess" else ())]


def start_over_a_record(folder: Path) -> list[str]:
    """Begin a record where one stands."""
    (folder / "visit.toml").write_text("precious")
    return ["start", *files(folder), "--ropes", "2", "--to", str(folder)]


OPTION_MAKERS: list[Row] = [
    ("no command like this", plain("asess"), "refused", "assess"),
    ("unknown option of all", plain("--fast"), "refused", "--fast"),
    ("assess nothing", plain("assess"), "refused", "visit.toml"),
    ("assess what is missing", in_folder("assess", "{folder}/gone"), "refused", "gone"),
    ("assess an empty folder", partial(empty_folder, "assess"), "refused", "memos"),
    ("assess an empty name", plain("assess", ""), "refused", ""),
    ("assess a folder and files", folder_and_file, "refused", "memos"),
    ("assess one file", assessing(n_files=1), "refused", ""),
    ("assess thirteen files", assessing(n_files=13), "refused", "12"),
    ("unknown option", assessing("--fast"), "refused", "--fast"),
    ("option without a value", assessing("--limit"), "refused", "--limit"),
    ("length without a unit", assessing("--free-length", "3.4", with_length=False), "refused", "--free-length"),
    ("negative length", assessing("--free-length", "-3 m", with_length=False), "refused", "--free-length"),
    ("length of zero", assessing("--free-length", "0 m", with_length=False), "refused", ""),
    ("length in kilograms", assessing("--free-length", "3 kg", with_length=False), "refused", "--free-length"),
    ("length of a rail line", assessing("--free-length", "3000 km", with_length=False), "refused", ""),
    ("two lengths for three ropes", assessing("--free-length", "3 m", "--free-length", "3 m", n_files=3, with_length=False), "refused", "length"),
    ("linear density in metres", assessing("--linear-density", "3 m"), "refused", "--linear-density"),
    ("linear density of zero", assessing("--linear-density", "0 kg/m"), "refused", ""),
    ("rope of nothing", assessing("--rope", ""), "refused", "--rope"),
    ("rope in words", assessing("--rope", "the thick one"), "refused", "--rope"),
    ("unknown ends", assessing("--ends", "glued"), "refused", "--ends"),
    ("order in words", assessing("--order", "one two"), "refused", "--order"),
    ("order of nothing", assessing("--order", ""), "any result", ""),
    ("order with rope 0", assessing("--order", "0 1 2"), "refused", "order"),
    ("order with two files", assessing("--order", "1 2 2 1"), "refused", ""),
    ("order of a hundred thousand", assessing("--order", "1 100000"), "refused", ""),
    ("no plucks each", assessing("--plucks-each", "0"), "refused", "--plucks-each"),
    ("plucks in words", assessing("--plucks-each", "three"), "refused", "--plucks-each"),
    ("unknown rule", assessing("--rule", "the boss said"), "refused", "the boss said"),
    ("limit in words", assessing("--limit", "little"), "refused", "--limit"),
    ("limit without per cent", assessing("--limit", "10"), "refused", "--limit"),
    ("limit of zero", assessing("--limit", "0 %"), "refused", "limit"),
    ("negative limit", assessing("--limit", "-3 %"), "refused", ""),
    ("unknown metric", assessing("--metric", "best"), "refused", "--metric"),
    ("unknown units", assessing("--units", "furlong"), "refused", "--units"),
    ("unknown terms", assessing("--terms", "poetic"), "refused", "--terms"),
    ("JSON and CSV at once", assessing("--json", "--csv"), "refused", "--csv"),
    ("series of files", assessing("--series", "as left"), "refused", "series"),
    ("series that is not there", of_record("--series", "as lfet"), "refused", "as found"),
    ("record and lengths", of_record("--free-length", "3 m"), "refused", "--free-length"),
    ("record and order", of_record("--order", "1 2"), "refused", "--order"),
    ("plot of an unknown kind", plotting("a.gif"), "refused", ".gif"),
    ("plot without an ending", plotting("a"), "refused", ""),
    ("plot into a folder that is not there", plotting("no/a.svg"), "refused", "a.svg"),
    ("plot over a file", partial(over_a_file, "a.svg", plotting("a.svg")), "refused", "--overwrite"),
    ("plot over a recording", plotting("rope-1.wav"), "refused", "rope-1.wav"),
    ("pluck nothing", plain("pluck"), "refused", "PATH"),
    ("pluck what is missing", in_folder("pluck", "{folder}/gone.wav"), "refused", "gone.wav"),
    ("pluck an empty folder", partial(empty_folder, "pluck"), "refused", "memos"),
    ("start no ropes", in_folder("start", "--ropes", "0", "--to", "{folder}"), "refused", "--ropes"),
    ("start thirteen ropes", in_folder("start", "--ropes", "13", "--to", "{folder}"), "refused", "--ropes"),
    ("start ropes in words", in_folder("start", "--ropes", "six"), "refused", "--ropes"),
    ("start in a folder that is not there", in_folder("start", "--ropes", "2", "--to", "{folder}/no"), "refused", "no"),
    ("start over a record", start_over_a_record, "refused", "exists"),
    ("start with an unknown drive", in_folder("start", "--drive", "rocket"), "refused", "--drive"),
    ("start with an unknown roping", in_folder("start", "--roping", "3:7"), "refused", "--roping"),
    ("start with an unknown side", in_folder("start", "--side", "left"), "refused", "--side"),
    ("start with an unknown hitch", in_folder("start", "--hitch", "moon"), "refused", "--hitch"),
    ("start with an unknown buffer", in_folder("start", "--buffer", "foam"), "refused", "--buffer"),
    ("sheet of an unknown kind", in_folder("start", "--ropes", "4", "--sheet", "{folder}/a.doc"), "refused", ".doc"),
    ("sheet of an unknown paper", in_folder("start", "--ropes", "4", "--sheet", "{folder}/a.pdf", "--paper", "a3"), "refused", "--paper"),
    ("sheet in a folder that is not there", in_folder("start", "--ropes", "4", "--sheet", "{folder}/no/a.pdf"), "refused", "a.pdf"),
    ("sheet over a file", partial(over_a_file, "a.pdf", in_folder("start", "--ropes", "4", "--sheet", "{folder}/a.pdf")), "refused", "exists"),
    ("demo with a path", plain("demo", "somewhere"), "refused", "somewhere"),
    ("demo over a folder", partial(over_a_file, "visit.toml", in_folder("demo", "--to", "{folder}")), "refused", "exists"),
]  # fmt: skip
