"""Notes as lines: with what to do, and together where they say the same."""

from tension.notes import NoteKind
from tension.telling.lines import notes_alike, with_next_act


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
