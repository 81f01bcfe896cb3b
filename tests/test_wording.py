"""Words of the trade: each once, European and North American."""

import ast
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import tension
from tension.notes import NoteKind, sentences
from tension.wording import Terms, rope_list, say
from tests.architecture.shape import tree_of
from tests.files.record_page import record_fields
from tests.trade_words import is_known, places_of

PACKAGE = Path(tension.__file__).parent
TABLE_NAMES = {table.name for table in record_fields()} | {
    "correction",
    "file",
    "table",
    "item",
}


def texts_of(path: Path) -> Iterator[str]:
    """Every text in a module that is no docstring."""
    tree = tree_of(path)
    alone = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        value = node.value if isinstance(node, ast.Constant) else None
        if isinstance(value, str) and id(node) not in alone:
            yield value


def test_every_place_in_the_program_has_its_word() -> None:
    for path in sorted(PACKAGE.rglob("*.py")):
        if path.name == "wording.py":
            continue
        for text in texts_of(path):
            for word in places_of(text):
                assert is_known(word) or word in TABLE_NAMES, f"{path.name}: {word}"


def test_every_place_in_the_catalogue_has_its_word() -> None:
    for path in sorted((PACKAGE / "catalogue").glob("*.toml")):
        lines = path.read_text(encoding="utf-8").splitlines()
        for line in lines:
            if line.startswith("[["):
                continue
            for word in places_of(line):
                assert is_known(word), f"{path.name}: {word}"


def test_every_note_has_its_sentences_and_every_sentence_its_note() -> None:
    table = json.loads((PACKAGE / "notes.en.json").read_text(encoding="utf-8"))
    codes = {kind.code for kind in NoteKind}
    assert {code.split(".")[0] for code in table} == codes <= set(table)
    assert all(sentences()[kind.code][0].endswith((".", "}")) for kind in NoteKind)


def test_a_way_chooses_among_the_sentences_of_a_note() -> None:
    note = NoteKind.ONE_CHANNEL.note(recording="a.wav", channel=2, way="silent")
    assert note.text == "Only channel 2 of a.wav is used: the other one is silent."
    plain = NoteKind.ONE_CHANNEL.note(recording="a.wav", channel=2, way="other")
    assert plain.text == "Only channel 2 of a.wav is used."


def test_ropes_are_named_by_their_number() -> None:
    assert rope_list((3,)) == "rope 3"
    assert rope_list((2, 3, 5)) == "ropes 2, 3 and 5"
    assert rope_list((2, 3, 5), ", ") == "ropes 2, 3, 5"
    assert rope_list(()) == "the set"
    assert NoteKind.ROPES_MISSING.note(ropes=(4,)).text.count("rope 4") == 1


@pytest.mark.parametrize("terms", list(Terms))
def test_no_note_is_left_with_an_unfilled_place(terms: Terms) -> None:
    for kind in NoteKind:
        for place in places_of(
            say(sentences()[kind.code][0] + sentences()[kind.code][1], terms)
        ):
            assert place in TABLE_NAMES


@pytest.mark.parametrize(
    ("text", "europe", "north_america"),
    [
        ("the [[lift]]", "the lift", "the elevator"),
        ("[[Lift]] 2", "Lift 2", "Elevator 2"),
        ("both [[hitches]]", "both anchorages", "both hitches"),
        ("new [[split pins]]", "new split pins", "new cotter pins"),
        ("a [[spanner]]", "a spanner", "a wrench"),
        ("add a [[hitch]]", "add an anchorage", "add a hitch"),
        ("A [[lift]]", "A lift", "An elevator"),
        ("Santa [[lift]] [[[lift]]", "Santa lift [lift", "Santa elevator [elevator"),
        ("[[Unfavourable]]", "Unfavourable", "Unfavorable"),
    ],
)
def test_a_place_is_filled_in_the_words_of_the_reader(
    text: str, europe: str, north_america: str
) -> None:
    assert say(text, Terms.EUROPE) == europe
    assert say(text, Terms.NORTH_AMERICA) == north_america


def test_what_is_no_word_of_the_trade_stays_as_it_is() -> None:
    assert (
        say("[[zzz]] {lift} [lift] [[ ]]", Terms.EUROPE)
        == "[[zzz]] {lift} [lift] [[ ]]"
    )
    assert not is_known("zzz")


@given(st.text(max_size=60), st.sampled_from(Terms))
def test_a_text_without_double_brackets_is_never_touched(
    text: str, terms: Terms
) -> None:
    plain = text.replace("[[", "[ [")
    assert say(plain, terms) == plain


@given(st.text(max_size=60), st.sampled_from(Terms))
def test_words_once_filled_are_not_filled_again(text: str, terms: Terms) -> None:
    once = say(f"[[lift]] {text} [[hitch plates]]", terms)
    assert say(once, terms) == once or "[[" in once
