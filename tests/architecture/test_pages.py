"""The pages of docs/ tell the truth about the program."""

import re
from pathlib import Path

import pytest

from tests.architecture.numbers import numbers_of
from tests.architecture.pages import DOCS, PAGES, ROOT, public_entries

RUN = "way.md"  # drawn from a run of the program that tells of every call
PAGE = [pytest.param(name, marks=[pytest.mark.slow] * (name == RUN)) for name in PAGES]


@pytest.mark.parametrize("name", PAGE)
def test_written_pages_are_as_the_program_says(name: str) -> None:
    found = (DOCS / name).read_text(encoding="utf-8")
    assert found == PAGES[name](), "run: python -m tests.architecture.pages"


def test_every_number_has_a_sentence() -> None:
    bare = [f"{n.place}: {n.name}" for n in numbers_of(ROOT) if n.meaning == "-"]
    assert not bare


def test_relative_links_lead_somewhere() -> None:
    for page in [ROOT / "README.md", ROOT / "DEVELOPERS.md", *DOCS.glob("*.md")]:
        for target in re.findall(
            r"\]\(([^)#:]+)(?:#[^)]*)?\)", page.read_text("utf-8")
        ):
            assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_names_avoid_the_words_the_house_does_not_use() -> None:
    banned = {"f0", "fs", "sr", "freq", "calc", "err", "tol", "utils", "misc", "data"}
    used = {entry.name for entry in public_entries()}
    assert not used & banned


def test_no_module_is_called_by_a_word_that_says_nothing() -> None:
    banned = {"utils", "helpers", "common", "misc", "manager", "handler"}
    stems = {path.stem for path in (ROOT / "tension").rglob("*.py")}
    assert not stems & banned


def test_top_level_holds_only_what_the_layout_names() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml"}
    allowed |= {"tension", "tests", "recordings_demo", "docs"}
    made_on_the_way = {"build", "dist", "tension.egg-info"}
    found = {p.name for p in Path(ROOT).iterdir() if not p.name.startswith(".")}
    assert found - made_on_the_way <= allowed
