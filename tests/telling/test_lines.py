"""Notes as lines, and the words of enumerations and sentences."""

import ast
import re
import string
from collections.abc import Iterator
from enum import Enum
from pathlib import Path

import pytest

import tension
from tension.adjustment.outcome import NoPlanKind, Shortage, Strategy
from tension.assessment.decide import Reason
from tension.capture import LossKind
from tension.catalogue.rules import Metric
from tension.condition.acceptance import FigureKind
from tension.condition.comparison import Outcome
from tension.condition.findings import (
    ConditionState,
    Distribution,
    FindingKind,
    GaugeEntry,
)
from tension.diagnosis.outcome import Cause, Step
from tension.fleet.listing import Order
from tension.installation import HitchPlace
from tension.notes import NoteKind
from tension.telling.lines import _words, notes_alike, told, with_next_act, word
from tension.workflow.live.events import NotCounted
from tests.architecture.shape import tree_of
from tests.trade_words import is_known, places_of

TOLD = (
    Cause,
    ConditionState,
    Distribution,
    FigureKind,
    FindingKind,
    GaugeEntry,
    HitchPlace,
    LossKind,
    Metric,
    NoPlanKind,
    NotCounted,
    Order,
    Outcome,
    Reason,
    Shortage,
    Step,
    Strategy,
)
SENTENCES = [
    (table, name, text)
    for table, texts in _words().items()
    for name, text in texts.items()
]


@pytest.mark.parametrize("kind", TOLD)
def test_every_member_has_a_word_and_no_word_has_no_member(kind: type[Enum]) -> None:
    assert all(word(one) for one in kind)
    codes = {v if isinstance(v := one.value, str) else v[0] for one in kind}
    for table, texts in _words().items():
        if table.split(".")[0] == kind.__name__:
            assert set(texts) <= codes


def test_every_table_is_of_an_enumeration_or_of_a_module() -> None:
    package = Path(tension.__file__).parent
    rooms = ("telling", "figures", "report", "cli")
    modules = {path.stem for room in rooms for path in (package / room).glob("*.py")}
    known = modules | {"capture"} | {kind.__name__ for kind in TOLD}
    assert {table.split(".")[0] for table in _words()} <= known


@pytest.mark.parametrize(("table", "name", "text"), SENTENCES)
def test_a_sentence_has_known_words_of_the_trade(
    table: str, name: str, text: str
) -> None:
    assert text == text.strip(), (table, name)
    assert all(map(is_known, places_of(text)))


def _calls() -> Iterator[tuple[str, ast.Call]]:
    """Every call of `told` in the package, with its file."""
    for path in sorted((Path(tension.__file__).parent).rglob("*.py")):
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "told":
                yield path.name, node


def test_what_is_asked_for_is_there_with_all_its_places() -> None:
    for where, call in _calls():
        given = {keyword.arg for keyword in call.keywords}
        constants = (n for n in ast.walk(call.args[0]) if isinstance(n, ast.Constant))
        asked = "\n".join(str(constant.value) for constant in constants)
        for key in re.findall(r"^[a-z]+\.[a-z-]+$", asked, re.MULTILINE):
            table, name = key.split(".")
            parsed = string.Formatter().parse(_words()[table][name])
            places = {place for _, place, _, _ in parsed}
            assert None in given or places - {None} <= given, f"{where}: {key}"


def test_a_sentence_fills_its_places() -> None:
    assert (
        told("plans.hangs-lower", amount="3 mm")
        == "The car hangs 3 mm lower: check its levels."
    )


def test_a_note_is_told_with_what_to_do() -> None:
    told = with_next_act(NoteKind.NOT_RECORDED.note(rope=3))
    assert told == "There is no recording of rope 3. Record rope 3."
    assert not with_next_act(NoteKind.NO_TURNS.note()).endswith(" ")


def test_notes_that_differ_by_their_rope_alone_stand_together() -> None:
    first, second = (NoteKind.NOT_RECORDED.note(rope=n, ropes=(n,)) for n in (1, 2))
    other = NoteKind.HUM_FOUND.note(rope=1, lines="50 Hz", ropes=(1,))
    more = NoteKind.HUM_FOUND.note(rope=2, lines="60 Hz", ropes=(2,))
    of_set = NoteKind.NO_TURNS.note()
    found = notes_alike([first, other, second, of_set, more])
    assert found == [[first, second], [other], [of_set], [more]]
