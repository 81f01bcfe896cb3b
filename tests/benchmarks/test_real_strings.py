"""Names of notes are read as notes, and answers counted as right, refused or wrong."""

import pytest

from tests.benchmarks.real_strings import note_frequency, row


@pytest.mark.parametrize(
    ("stem", "frequency"),
    # equal temperament from A4 = 440 Hz (ISO 16): E1 is 41 semitones below, A1 36
    [("E1", 41.203), ("harp-A1", 55.0), ("bass_As1", 58.270), ("A4", 440.0)],
)
def test_a_name_is_its_note(stem: str, frequency: float) -> None:
    assert note_frequency(stem) == pytest.approx(frequency, abs=5e-4)


def test_a_name_without_a_note_is_none() -> None:
    assert note_frequency("rope-3") is None


def test_right_refused_and_wrong_are_counted() -> None:
    told = row("strings", [(41.0, 41.2), (None, 41.2), (20.6, 41.2), (82.4, 41.2)])
    assert told == (
        "| strings | 25.00 % (1 of 4) | 25.00 % (1 of 4) | 50.00 % (2 of 4) |"
    )
