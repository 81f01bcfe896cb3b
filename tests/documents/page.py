"""The documents of docs/file-formats.md, written from what writes them.

``python -m tests.documents.page`` writes it; a test holds the page to it.
"""

from collections.abc import Iterator
from pathlib import Path

from tension.documents.commands import (
    ADJUST,
    ANSWERS,
    CAUSES,
    COMPARE,
    SHAPES,
    SPRINGS,
)
from tension.documents.shape import ENVELOPE, Shape, described

PAGE = Path(__file__).resolve().parents[2] / "docs" / "file-formats.md"
HEADING = "### Envelope, in every document\n"
AFTER = "\nThe numbers of `fleet` are those of"


DOCUMENTS = {
    "Envelope, in every document": ENVELOPE,
    "assess, demo, listen": SHAPES["assess"],
    "pluck": SHAPES["pluck"],
    "devices": SHAPES["devices"],
    "adjust": Shape((*ADJUST, *(key for one in ANSWERS.values() for key in one))),
    "compare": COMPARE,
    "springs": SPRINGS,
    "causes": CAUSES,
    "history": SHAPES["history"],
    "acceptance": SHAPES["acceptance"],
    "seal": SHAPES["seal"],
    "seal --correct": SHAPES["seal --correct"],
    "verify": SHAPES["verify"],
    "trim": SHAPES["trim"],
    "fleet": Shape((*described("fleet"), *described("fleet, lifts"))),
}
"""Those of commands stand beside the keys of the envelope."""


def section() -> str:
    """Every document with its keys."""
    return "\n".join(
        "\n".join(_lines(name, dict(rows_of(shape))))
        for name, shape in DOCUMENTS.items()
    )


def rows_of(shape: Shape, path: str = "") -> Iterator[tuple[str, str]]:
    """Every key by its path with its meaning."""
    for key in shape:
        name = f"{path}{key.name}"
        if key.meaning or not key.shape:
            yield name, key.meaning
        else:
            yield from rows_of(key.shape, f"{name}{'[]' if key.is_many else ''}.")


def _lines(name: str, rows: dict[str, str]) -> Iterator[str]:
    """Heading and a row a key."""
    yield f"### {name}\n"
    yield "| key | meaning |"
    yield "|---|---|"
    yield from (f"| `{key}` | {meaning} |" for key, meaning in rows.items())
    yield ""


def page_with(written: str, page: str) -> str:
    """The page with the documents put in place of those it has."""
    before, _, rest = page.partition(HEADING)
    return before + written + AFTER + rest.partition(AFTER)[2]


if __name__ == "__main__":
    PAGE.write_text(page_with(section(), PAGE.read_text("utf-8")), encoding="utf-8")
    print(PAGE.name)
