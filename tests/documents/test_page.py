"""Documents are told as they are written."""

import enum
import math

import pytest

from tension.documents.commands import shape
from tests.documents.page import DOCUMENTS, PAGE, page_with, rows_of, section


def test_the_page_is_written_from_the_documents() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert page == page_with(section(), page), "run: python -m tests.documents.page"


def test_every_key_is_told_once_with_its_meaning() -> None:
    for name, document in DOCUMENTS.items():
        rows = dict(rows_of(document))
        assert all(rows.values()), (name, [k for k, v in rows.items() if not v])
        paths = [path for path, _ in rows_of(document)]
        repeated = {path for path in paths if paths.count(path) > 1}
        # the kinds of answer of adjust share two keys
        assert {p.split("[")[0] for p in repeated} <= {"reasons", "rests_on"}, name


class _Way(enum.Enum):
    UP = "up"


class _Thing:
    share = 1 / 3
    mass = math.nan
    way = _Way.UP
    nothing = None
    many = (1, 2.0 / 3)


def test_a_row_writes_what_it_tells() -> None:
    described = shape(
        """
        share_percent | share x100 | of the mean, in percent
        mass_kg       | mass | weighed
        way           | | where to
        inner         | nothing.deeper | what is not there
        many          | | two of them
        told          | | taken by a function
        """,
        "",
        {"told": lambda thing: type(thing).__name__},
    )
    assert described.of(_Thing()) == {
        "share_percent": pytest.approx(33.3333333, abs=0.0),
        "mass_kg": None,
        "way": "up",
        "inner": None,
        "many": [1, 0.666666667],
        "told": "_Thing",
    }
    assert dict(rows_of(described))["share_percent"] == "of the mean, in percent"
