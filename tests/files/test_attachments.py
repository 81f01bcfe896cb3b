"""Instruments, answers and trims as a record tells them."""

import tomllib

import pytest

from tension.files.attachments import (
    Instrument,
    NoteAnswer,
    answer_from_table,
    instrument_from_table,
    trim_from_table,
)


def test_an_instrument_keeps_what_was_typed() -> None:
    table = tomllib.loads(
        'what = "spring scale"\nserial = "S-1"\nlast_check = 2026-10-02'
    )
    assert instrument_from_table(table) == (
        Instrument(what="spring scale", serial="S-1", last_check="2026-10-02"),
        (),
    )


@pytest.mark.parametrize("note", ["223", '"223"', '"clipped"'])
def test_an_answer_names_its_note_by_number_or_code(note: str) -> None:
    table = tomllib.loads(f'note = {note}\nanswer = "plucked again"\nropes = [1, 2]')
    answer, mistakes = answer_from_table(table)
    assert mistakes == ()
    assert answer == NoteAnswer(
        note=note.strip('"'), answer="plucked again", ropes=(1, 2)
    )


def test_what_is_missing_or_unknown_is_told() -> None:
    for read, table, keys in (
        (instrument_from_table, {"serail": "S-1"}, {"serail", "what"}),
        (answer_from_table, {"note": True, "ropes": [0]}, {"note", "answer", "ropes"}),
        (
            trim_from_table,
            {"recording": "../a.wav", "trimmed": 3},
            {"recording", "trimmed", "sha256"},
        ),
    ):
        value, mistakes = read(table)
        assert value is None
        assert {mistake.key for mistake in mistakes} == keys
