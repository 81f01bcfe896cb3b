"""docs/report.md tells every kind, item, key and table that there is."""

import re
from pathlib import Path

import pytest

from tension.catalogue.allowances import allowance_tables
from tension.condition import checks, findings
from tension.condition.checks import acceptance_items
from tension.files.record_tables import TABLES
from tension.files.table_model import keys_of

PAGE = (Path(__file__).parents[2] / "docs" / "report.md").read_text(encoding="utf-8")

NAMES = sorted(
    {
        *findings.FindingKind,
        *keys_of(TABLES["finding"]),
        *checks.CheckItem,
        *(key for keys in checks.KEYS_OF.values() for key in keys),
        *(table.name for table in allowance_tables()),
    }
)


@pytest.mark.parametrize("name", NAMES)
def test_the_page_names_it(name: str) -> None:
    assert f"`{name}`" in PAGE


@pytest.mark.parametrize("key", sorted(keys_of(TABLES["allowance"])))
def test_the_page_shows_every_key_of_an_allowance(key: str) -> None:
    written = "[[allowance.figure]]" if key == "figure" else f"{key} = "
    assert written in PAGE


@pytest.mark.parametrize("key", sorted(keys_of(TABLES["allowance.figure"])))
def test_the_page_names_every_key_of_a_figure(key: str) -> None:
    assert re.search(rf"\b{key}\b", PAGE)


def test_every_item_of_the_form_is_a_kind_of_check() -> None:
    assert [i.name for i in acceptance_items()] == [c.value for c in checks.CheckItem]
