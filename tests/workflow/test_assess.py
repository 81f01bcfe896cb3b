"""Assessing sound files: what was found on the way reaches the result."""

from dataclasses import replace
from pathlib import Path

import pytest

from tension.files import sound
from tension.notes import NoteKind
from tension.sound.hearing import Recording
from tension.workflow.assess import assess_recordings

MEMOS = Path(__file__).resolve().parents[2] / "recordings_demo" / "six-memos"


@pytest.mark.slow
def test_what_reading_a_file_found_is_told_though_its_rope_has_no_number(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    cut_off = NoteKind.CUT_OFF.note(recording="rope-1.m4a", seconds=1.0)
    silent = NoteKind.SILENT.refusal(recording="rope-1.m4a")

    read_recording = sound.read_recording

    def read(path: Path, *, name: str) -> Recording:
        recording = read_recording(path, name=name)
        if path.name != "rope-1.m4a":
            return recording
        return replace(recording, notes=(cut_off, cut_off), refusal=silent)

    monkeypatch.setattr(sound, "read_recording", read)
    files = sorted((MEMOS / "as-found").glob("*.m4a"))[:3]
    assessed = assess_recordings(files)
    assert assessed.assessment.shares[0].share is None
    told = [(note.code, note.text) for note in assessed.notes]
    assert told.count((cut_off.code, cut_off.text)) == 1
    assert [row["share"] is None for row in assessed.to_rows()] == [True, False, False]
