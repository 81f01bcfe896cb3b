"""JSON documents are as docs/file-formats.md says, key by key."""

import re
from collections.abc import Iterator
from typing import Any

import pytest

from tests.architecture.pages import DOCS
from tests.cli.running import DEMO, MEMOS, run

# Keys whose inside is told elsewhere on the page: notes and refusals.
CLOSED = ("notes", "refusal", "software")


def _keys(value: object, path: str = "") -> Iterator[str]:
    """Paths of all keys of a document, as the page writes them."""
    if isinstance(value, dict):
        for key, inside in value.items():
            place = f"{path}.{key}" if path else key
            if key in CLOSED or not isinstance(inside, dict | list):
                yield place
            elif isinstance(inside, list) and not any(
                isinstance(one, dict) for one in inside
            ):
                yield place if inside else f"{place}?"
            else:
                yield from _keys(inside, place)
    elif isinstance(value, list):
        for one in value:
            yield from _keys(one, f"{path}[]")


def _told(*headings: str) -> set[str]:
    """Keys that the page tells under some headings."""
    text = (DOCS / "file-formats.md").read_text(encoding="utf-8")
    told: set[str] = set()
    for heading in headings:
        part = text.split(f"### {heading}\n")[1].split("\n#")[0]
        told |= set(re.findall(r"^\| `([^`]+)` \|", part, re.MULTILINE))
    return told


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        ("assess, demo, listen", ("assess", DEMO / "six-memos", "--json")),
        ("assess, demo, listen", ("assess", DEMO / "side-pulls", "--json")),
        ("assess, demo, listen", ("demo", "--json")),
        ("pluck", ("pluck", MEMOS / "rope-1.m4a", "--json")),
        ("fleet", ("fleet", DEMO / "side-pulls", "--no-cache", "--json")),
        ("acceptance", ("acceptance", DEMO / "side-pulls", "--json")),
        ("history", ("history", DEMO / "side-pulls", "--json")),
    ],
)
def test_a_document_has_the_keys_the_page_tells(
    heading: str, words: tuple[Any, ...]
) -> None:
    told = _told("Envelope, in every document", heading)
    found = set(_keys(run(*words).document))
    empty = {key.removesuffix("?") for key in found if key.endswith("?")}
    certain = {key for key in found if not key.endswith("?")}
    # an object that is null here has its keys told all the same
    nulls = {key for key in certain if any(one.startswith(f"{key}.") for one in told)}
    empty, certain = empty | nulls, certain - nulls
    inside_notes = {key for key in told if key.startswith("notes[]")}
    assert certain <= (told - inside_notes) | {"notes"}
    missing = told - inside_notes - certain
    assert all(any(key.startswith(e) for e in empty) for key in missing), missing
