"""Every kind of note can be quoted, and says what was found and what to do."""

import re
from collections import Counter

import pytest

from tension.notes import NoteKind, sentences

ROOMS = range(1, 9)
"""Hundreds of the numbers, a room each."""


def test_no_number_and_no_code_is_given_twice() -> None:
    for given in (
        Counter(kind.number for kind in NoteKind),
        Counter(kind.code for kind in NoteKind),
    ):
        assert [one for one, times in given.items() if times > 1] == []
    assert len(NoteKind) == len(NoteKind.__members__)


@pytest.mark.parametrize("kind", NoteKind)
def test_a_note_has_a_room_a_code_and_sentences(kind: NoteKind) -> None:
    assert kind.number // 100 in ROOMS
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", kind.code)
    text, next_act = sentences()[kind.code]
    assert re.search(r"[.!}]$", text)
    assert not next_act or re.search(r"[.!}\]\"']$", next_act)


@pytest.mark.parametrize("kind", NoteKind)
def test_what_a_command_can_write_is_told_with_the_command(kind: NoteKind) -> None:
    # "[set]" is the table of the record; "[[word]]" a place for a trade word
    for table in re.findall(r"(?<!\[)\[(set|lift)\](?!\])", sentences()[kind.code][1]):
        assert f"tension add {table}" in sentences()[kind.code][1]


def test_without_any_rope_there_are_no_others_to_measure() -> None:
    told = NoteKind.TOO_FEW_ROPES.note(n_given=0, n_ropes=4)
    assert "others" not in told.next_act
