"""Schema, page and readers agree on every key of the record."""

import pytest

from tension.condition import checks, confirmation, findings
from tension.files import attachments
from tension.files import record_schema as schema
from tension.files import record_schema_others as others
from tension.files.schema_types import Form, Table
from tension.installation import Hitch, Lift, Rope, Span, Uncertainties
from tension.measurement.readings import Method, Series
from tests.files.record_page import PAGE, page_with, record_section, title


def test_the_page_is_as_the_schema_says() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert page_with(record_section(), page) == page, (
        "run: python -m tests.files.record_page"
    )


@pytest.mark.parametrize("table", schema.record_fields(), ids=lambda table: table.name)
def test_every_key_stands_under_its_table(table: Table) -> None:
    page = PAGE.read_text(encoding="utf-8")
    part = page.split(title(table) + "\n")[1].split("\n#")[0]
    for key in table.keys:
        assert f"| `{key.name}` |" in part


@pytest.mark.parametrize("table", schema.record_fields(), ids=lambda table: table.name)
def test_every_key_has_a_meaning_and_a_default(table: Table) -> None:
    assert len(set(table.key_names)) == len(table.keys)
    for key in table.keys:
        assert key.meaning
        assert key.default
        is_measured = key.form in {Form.QUANTITY, Form.QUANTITIES, Form.LENGTHS}
        assert (key.dimension is not None) == is_measured


@pytest.mark.parametrize("table", schema.OWN_TABLES, ids=lambda table: table.name)
def test_every_quantity_of_the_reader_has_a_range(table: Table) -> None:
    for key in table.keys:
        if key.dimension is not None:
            assert key.least < key.most


def _all_keys(common: tuple[str, ...], own: dict[str, tuple[str, ...]]) -> set[str]:
    return set(common).union(*own.values())


def test_tables_that_other_modules_read_have_their_keys() -> None:
    kinds = {str(kind): keys for kind, keys in findings.KEYS_OF.items()}
    assert set(others.FINDING.key_names) == _all_keys(findings.COMMON_KEYS, kinds)
    items = {str(item): keys for item, keys in checks.KEYS_OF.items()}
    assert set(others.CHECK.key_names) == _all_keys(checks.COMMON_KEYS, items)
    assert set(others.ALLOWANCE.key_names) == set(confirmation.ALLOWANCE_KEYS)
    assert set(others.INSTRUMENT.key_names) == set(attachments.INSTRUMENT_KEYS)
    assert set(others.ANSWER.key_names) == set(attachments.ANSWER_KEYS)
    assert set(others.TRIM.key_names) == set(attachments.TRIM_KEYS)


def test_every_word_of_the_condition_stands_on_the_page() -> None:
    kinds = others.FINDING.key("kind").meaning
    assert all(kind.value in kinds for kind in findings.FindingKind)
    items = others.CHECK.key("item").meaning
    assert all(item.value in items for item in checks.CheckItem)


@pytest.mark.parametrize(
    ("table", "kind"),
    [
        (schema.LIFT, Lift),
        (schema.UNCERTAINTY, Uncertainties),
        (schema.SPAN, Span),
        (schema.HITCH, Hitch),
        (schema.ROPE, Rope),
        (schema.SERIES, Series),
    ],
    ids=lambda value: getattr(value, "name", None) or value.__name__,
)
def test_keys_and_fields_have_the_same_names(table: Table, kind: type) -> None:
    fields = set(kind.__dataclass_fields__) - {"typed"}  # type: ignore[attr-defined]
    assert fields == set(table.key_names)


def test_the_keys_of_each_kind_of_reading_are_keys_of_readings() -> None:
    assert set(schema.KEYS_OF_READING) == set(Method)
    own = set().union(*schema.KEYS_OF_READING.values())
    assert own | {"series", "kind"} == set(schema.READING.key_names)
