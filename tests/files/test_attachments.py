"""Instruments, answers and trims as a record tells them."""

from pathlib import Path

import pytest

from tension.errors import FileFormatError
from tension.files.record import visit_from_text
from tension.files.visit import Instrument, NoteAnswer, Visit

TWO = "format = 1\n[set]\nropes = 2\n"


def read(text: str) -> Visit:
    return visit_from_text(TWO + text, Path("visit.toml"))


def test_an_instrument_keeps_what_was_typed() -> None:
    visit = read(
        '[[instrument]]\nwhat = "spring scale"\nserial = "S-1"\n'
        "last_check = 2026-10-02\n"
    )
    assert visit.instruments == (
        Instrument(what="spring scale", serial="S-1", last_check="2026-10-02"),
    )


@pytest.mark.parametrize("note", ["223", '"223"', '"clipped"'])
def test_an_answer_names_its_note_by_number_or_code(note: str) -> None:
    visit = read(
        f'[[answer]]\nnote = {note}\nanswer = "plucked again"\nropes = [1, 2]\n'
    )
    assert visit.answers == (
        NoteAnswer(note=note.strip('"'), answer="plucked again", ropes=(1, 2)),
    )


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ('[[instrument]]\nserail = "S-1"', {"serail", "what"}),
        ("[[answer]]\nnote = true\nropes = [0]", {"note", "answer", "ropes"}),
        (
            '[[trim]]\nrecording = "../a.wav"\ntrimmed = 3',
            {"recording", "trimmed", "sha256"},
        ),
    ],
)
def test_what_is_missing_or_unknown_is_told(text: str, keys: set[str]) -> None:
    with pytest.raises(FileFormatError) as caught:
        read(text)
    told = [line.split(", ", 1)[1].split(":")[0] for line in caught.value.lines]
    assert set(told) == keys
