"""The tables of the record in docs/file-formats.md, written from its description.

``python -m tests.files.record_page`` writes it; a test holds the page to it.
"""

from collections.abc import Iterator
from pathlib import Path

from tension.files.record import record_fields
from tension.files.table_model import TableWords

PAGE = Path(__file__).resolve().parents[2] / "docs" / "file-formats.md"
HEADING = "### Top of the file\n"


def record_section() -> str:
    """Every table with its keys."""
    return "\n".join("\n".join(_table_lines(table)) for table in record_fields())


def title(table: TableWords) -> str:
    """A table as the page calls it."""
    return f"### `{table.header}`" if table.header else "### Top of the file"


def _table_lines(table: TableWords) -> Iterator[str]:
    """Heading and one row per key."""
    yield title(table) + "\n"
    if table.name:
        yield table.meaning + "\n"
    yield "| key | written as | left out | meaning |"
    yield "|---|---|---|---|"
    for key in table.keys:
        meaning = key.meaning.replace("|", "\\|")
        yield f"| `{key.name}` | {key.form} | {key.left_out} | {meaning} |"
    yield ""


def page_with(section: str, page: str) -> str:
    """The page with the tables put in place of those it has."""
    before, _, rest = page.partition(HEADING)
    after = rest.find("\n## ")
    return before + section + (rest[after:] if after >= 0 else "")


if __name__ == "__main__":
    text = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(page_with(record_section(), text), encoding="utf-8")
    print(PAGE.name)
