"""Every kind of note can be quoted, and says what was found and what to do."""

import re
from collections import Counter

import pytest

from tension.notes import NoteKind

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
    assert re.search(r"[.!}]$", kind.text)
    assert not kind.next_act or re.search(r"[.!}\]\"']$", kind.next_act)
