"""Every package the program needs is there for a reason that is written down."""

import re
import tomllib

import pytest

from tests.architecture.pages import DOCS, ROOT

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))[
    "project"
]
CALLED = {"av": "PyAV", "dask": "Dask"}
"""Names that people know a package by."""
NEEDED = [
    re.match(r"[A-Za-z0-9_-]+", line).group()  # type: ignore[union-attr]
    for line in [*PROJECT["dependencies"], *PROJECT["optional-dependencies"]["fleet"]]
]


@pytest.mark.parametrize("name", NEEDED)
def test_the_page_of_decisions_says_why(name: str) -> None:
    page = (DOCS / "decisions.md").read_text(encoding="utf-8")
    called = CALLED.get(name, name)
    assert re.search(rf"\b{called}\b", page, re.IGNORECASE)
