"""Models, page and the types that are built agree on every key of the record."""

import pytest

from tension.condition import checks, findings
from tension.condition.findings import CONFIRMING_KEYS
from tension.files.record_tables import TABLES
from tension.files.table_model import keys_of
from tension.measurement.readings import Method
from tests.files.record_page import (
    PAGE,
    TableWords,
    page_with,
    record_fields,
    record_section,
    title,
)


def test_the_page_is_as_the_models_say() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert page_with(record_section(), page) == page, (
        "run: python -m tests.files.record_page"
    )


@pytest.mark.parametrize("table", record_fields(), ids=lambda table: table.name)
def test_every_key_stands_under_its_table(table: TableWords) -> None:
    page = PAGE.read_text(encoding="utf-8")
    part = page.split(title(table) + "\n")[1].split("\n#")[0]
    for key in table.keys:
        assert f"| `{key.name}` |" in part


@pytest.mark.parametrize("table", record_fields(), ids=lambda table: table.name)
def test_every_key_has_a_meaning_and_a_default(table: TableWords) -> None:
    assert table.meaning
    assert len({key.name for key in table.keys}) == len(table.keys)
    for key in table.keys:
        assert key.meaning
        assert key.left_out


def test_keys_of_one_kind_are_keys_of_the_table() -> None:
    for table in (TABLES[name] for name in ("reading", "finding", "check")):
        own = {key for keys in table.form.kinds.values() for key in keys}
        assert own <= set(keys_of(table))
        for kind, needed in table.form.needed.items():
            assert set(needed) <= set(table.form.kinds[kind])
    reading = TABLES["reading"].form
    assert set(reading.kinds) == set(reading.needed) == set(Method)
    assert set(findings.KEYS_OF) == set(findings.FindingKind)
    assert set(checks.KEYS_OF) <= set(checks.CheckItem)
    assert set(CONFIRMING_KEYS) <= set(keys_of(TABLES["allowance"]))


CONDITION = {"finding", "check", "allowance.figure"}


def test_every_quantity_outside_the_condition_has_a_range() -> None:
    for table in record_fields():
        for key in table.keys:
            if "text with unit" in key.form and table.name not in CONDITION:
                assert " to " in key.form, (table.name, key.name)
