"""A whole visit typed on a terminal, and the page that shows it.

``python -m tests.end_to_end.whole_visit`` types it anew and writes docs/visit.md.
"""

import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from tests.end_to_end.pseudo_terminal import ROOT, type_to

DEMO = ROOT / "recordings_demo" / "before-and-after"
PAGE = ROOT / "docs" / "visit.md"
KEYS_A_SECOND = 5.0
"""Sixty words of five letters a minute; a figure taken, no source. [1/s]"""


@dataclass(frozen=True, kw_only=True)
class Typed:
    """One command, and the answers to what it asks."""

    words: tuple[str, ...]
    answers: tuple[str, ...] = ()
    is_whole: bool = False

    @property
    def line(self) -> str:
        """As typed in the shell."""
        return " ".join(f'"{w}"' if " " in w else w for w in ("tension", *self.words))

    @property
    def n_keys(self) -> int:
        """Keys pressed, Enter with them."""
        return sum(len(line) + 1 for line in (self.line, *self.answers))


def command(*words: str, answers: tuple[str, ...] = (), whole: bool = False) -> Typed:
    return Typed(words=words, answers=answers, is_whole=whole)


# What a person has on paper: Granary Wharf is invented.
CONVERSATION = (
    "",  # as-found comes first
    "Granary Wharf, goods lift 2",
    "2026-11-20",
    "R. Example",
    "",
    "",
    "1840 kg",
    "1",
    "13 mm 8x19 FC",
    ".575 kg/m",
    "4.6 MN",
    "",
    "top landing",
    "3.40 m +150 0 +155 +2 +150 mm",
    "two on the car top",
    "empty",
    "up",
    "free",
    "car",
    "1 3 5/2 4 6",
    "m16",
    "",
    "150 N/mm 160 96 mm",
    "same",
    "38 m",
    "",
    "",
    "22/14 26/11 21/15 24/13 25/12 22/14",
    "mm",
    "",
)
VISIT = (
    command("start", answers=CONVERSATION, whole=True),
    command("assess"),
    command("add", "springs", "139 142 139 139.5 137 139.5 mm", whole=True),
    command("adjust"),
    command("add", "turns", "1 out 1/4, 2 in 4 1/2, 3 out 1/2, 5 out 4", whole=True),
    command("add", "run", "6", whole=True),
    command("add", "left", answers=("",), whole=True),
    command("add", "springs", "139.5 139.5 139.5 139.5 139.5 139.5", answers=("mm",)),
    command("compare"),
    command("report", "-o", "report.pdf"),
    command("seal"),
    command(whole=True),
)
EXIT_CODES = (0, 10, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)


def bare_visit(folder: Path) -> None:
    """The sound files of the demo, without its record."""
    for name in ("as-found", "as-left"):
        shutil.copytree(DEMO / name, folder / name)


def type_visit(folder: Path) -> list[tuple[int, str]]:
    """Type the whole visit in a folder: exit code and screen of each command."""
    return [type_to(one.words, one.answers, folder) for one in VISIT]


def page(screens: list[str]) -> str:
    """The page that shows what was typed and what came back."""
    n_keys = sum(one.n_keys for one in VISIT)
    parts = [
        "# A whole visit without an editor\n",
        "Twelve sound files of the demo (invented: Granary Wharf, goods lift 2), six "
        "as found and six as left, and what stood on paper. "
        f"{len(VISIT)} commands, {n_keys} keys, which at "
        f"{KEYS_A_SECOND:g} keys a second are {n_keys / KEYS_A_SECOND:.0f} s. "
        "The record they make gives the same results to the last digit as "
        "`recordings_demo/before-and-after/visit.toml`. Typed by a program on a "
        "pseudo-terminal of 80 columns; `python -m tests.end_to_end.whole_visit` "
        "writes the page, a test holds it. Of results the first lines and the last are "
        "shown.\n",
    ]
    for one, screen in zip(VISIT, screens, strict=True):
        shown = screen.rstrip() if one.is_whole else _ends(screen)
        parts.append(f"```text\n$ {one.line}\n{shown}\n```\n")
    return "\n".join(parts)


def _ends(screen: str) -> str:
    """The first sentence, and the command that comes next."""
    lines = [line for line in screen.strip().splitlines() if not _is_drawn(line)]
    last = lines[-1:] if lines[-1].startswith("Next command:") else lines[-2:]
    return "\n".join([*lines[:2], "...", *last])


def _is_drawn(line: str) -> bool:
    """Whether a line is empty, part of a large word, or changes from day to day."""
    return not line.strip(" #") or "Sealed:" in line or "SHA-256" in line


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        bare_visit(Path(name))
        ran = type_visit(Path(name))
    for one, (code, _) in zip(VISIT, ran, strict=True):
        print(code, one.line)
    PAGE.write_text(page([screen for _, screen in ran]), encoding="utf-8")
