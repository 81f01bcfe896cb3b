"""The tables of the record in docs/file-formats.md, written from the schema.

``python -m tests.files.record_page`` writes it; a test holds the page to it.
"""

from collections.abc import Iterator
from pathlib import Path

from tension.files.record_schema import record_fields
from tension.files.schema_types import Key, Table
from tension.quantity.units import show_quantity

PAGE = Path(__file__).resolve().parents[2] / "docs" / "file-formats.md"
HEADING = "### Top of the file\n"


def record_section() -> str:
    """Every table with its keys."""
    return "\n".join("\n".join(_table_lines(table)) for table in record_fields())


def title(table: Table) -> str:
    """A table as the page calls it."""
    if not table.name:
        return "### Top of the file"
    name = f"[[{table.name}]]" if table.is_list else f"[{table.name}]"
    return f"### `{name}`"


def _table_lines(table: Table) -> Iterator[str]:
    """Heading and one row per key."""
    yield title(table) + "\n"
    if table.name:
        yield table.meaning[0].upper() + table.meaning[1:] + ".\n"
    yield "| key | written as | left out | meaning |"
    yield "|---|---|---|---|"
    for key in table.keys:
        meaning = key.meaning.replace("|", "\\|")
        yield f"| `{key.name}` | {_form(key)} | {key.default} | {meaning} |"
    yield ""


def _form(key: Key) -> str:
    """Form, dimension and range."""
    text = key.form.value
    if key.dimension is None:
        return text
    text = f"{text}: {key.dimension.value}"
    if key.least == key.most:
        return text
    least = show_quantity(key.least, key.dimension)
    most = show_quantity(key.most, key.dimension)
    return f"{text}, {least} to {most}"


def page_with(section: str, page: str) -> str:
    """The page with the tables put in place of those it has."""
    before, _, rest = page.partition(HEADING)
    after = rest.find("\n## ")
    return before + section + (rest[after:] if after >= 0 else "")


if __name__ == "__main__":
    text = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(page_with(record_section(), text), encoding="utf-8")
    print(PAGE.name)
