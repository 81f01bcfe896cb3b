"""Readings of a rope that contradict each other, copies, and files nobody names."""

import itertools
import shutil
from pathlib import Path

import numpy as np
import pytest

from tension.assessment.decide import Verdict
from tension.files.sound import find_same_sound, read_recording
from tension.measurement.readings import Method
from tension.workflow.assess import Assessed, assess_record, assess_recordings
from tension.workflow.inputs import Given
from tests.cli.running import DEMO
from tests.noted import codes
from tests.synthesis.recorder import write_wave

FOUND = DEMO / "six-memos" / "as-found"
OTHER = DEMO / "before-and-after" / "as-found"
"""The same ropes, plucked another time."""

HEAD = """format = 1
[set]
ropes = 6
linear_density = "0.575 kg/m"
[[span]]
name = "top"
free_length = "3.40 m"
[[series]]
name = "as found"
"""
STAGGERS = {2: "+150 mm", 4: "+155 mm", 5: "+2 mm", 6: "+150 mm"}


@pytest.fixture(name="folder")
def visit_folder(tmp_path: Path) -> Path:
    """A record of the six ropes and one take more of each rope, unnamed."""
    for number in range(1, 7):
        shutil.copy(FOUND / f"rope-{number}.m4a", tmp_path / f"rope-{number}.m4a")
    return tmp_path


def assessed(
    folder: Path, readings: list[tuple[int, str]], exclusions: str = ""
) -> Assessed:
    text = HEAD + "".join(
        f'[[rope]]\nnumber = {rope}\nstagger = "{stagger}"\n'
        for rope, stagger in STAGGERS.items()
    )
    text += "".join(
        f'[[reading]]\nkind = "pluck"\nrope = {rope}\nrecording = "{name}"\n'
        for rope, name in readings
    )
    (folder / "visit.toml").write_text(text + exclusions, encoding="utf-8")
    return assess_record(folder)


def six() -> list[tuple[int, str]]:
    return [(n, f"rope-{n}.m4a") for n in range(1, 7)]


@pytest.mark.slow
def test_of_two_readings_that_contradict_each_other_none_wins(folder: Path) -> None:
    """Whatever their order; excluded, or outvoted, the number is back."""
    truth = assessed(folder, six()).assessment
    assert truth.verdict is Verdict.UNEQUAL
    shutil.copy(OTHER / "rope-3.m4a", folder / "again.m4a")
    wrong = (2, "again.m4a")
    rows = six()
    reasons, intervals = set(), set()
    for place in (0, 2, 6):
        found = assessed(folder, [*rows[:place], wrong, *rows[place:]])
        refusal = found.assessment.measurement.ropes[1].refusal
        assert refusal is not None
        assert refusal.code == "readings-apart"
        assert "again.m4a 10.93 Hz" in refusal.text
        assert "rope-2.m4a 9.66 Hz" in refusal.text
        assert found.assessment.verdict is not Verdict.EQUAL
        reasons.add(found.assessment.reason)
        intervals.add(found.assessment.spread.lower)
    assert len(reasons) == len(intervals) == 1

    excluded = (
        '[[exclusion]]\nrope = 2\nrecording = "again.m4a"\nreason = "it is rope 3"\n'
    )
    found = assessed(folder, [*rows, wrong], excluded)
    assert found.assessment.spread == truth.spread

    shutil.copy(OTHER / "rope-2.m4a", folder / "third.m4a")
    found = assessed(folder, [*rows, wrong, (2, "third.m4a")])
    assert "reading-outvoted" in codes(found)
    assert found.assessment.verdict is Verdict.UNEQUAL
    assert found.assessment.is_complete


@pytest.mark.slow
def test_a_repeat_that_is_missing_or_not_named_is_told(folder: Path) -> None:
    shutil.copy(OTHER / "rope-1.m4a", folder / "new.m4a")
    found = assessed(folder, [*six(), (2, "gone.m4a")])
    told = {note.code: note.text for note in found.notes}
    assert "gone.m4a is not there" in told["repeat-unheard"]
    assert "new.m4a" in told["files-not-named"]
    assert "files-not-named" not in codes(
        assessed(folder, [*six(), (1, "new.m4a"), (2, "gone.m4a")])
    )


def moved(samples: np.ndarray, rate: float, seconds: float) -> np.ndarray:
    """Half as loud, turned round in sign, and some seconds of quiet before."""
    quiet = np.zeros(int(seconds * rate), dtype=np.float32)
    return np.concatenate([quiet, -0.5 * samples])


def test_one_sound_saved_under_six_names_is_no_set(folder: Path) -> None:
    recording = read_recording(folder / "rope-1.m4a")
    rate = round(recording.sampling_rate)
    for number in range(2, 7):
        (folder / f"rope-{number}.m4a").unlink()
        write_wave(
            folder / f"rope-{number}.wav",
            moved(recording.samples, rate, 0.37 * number),
            rate,
        )
    rows = [(1, "rope-1.m4a"), *((n, f"rope-{n}.wav") for n in range(2, 7))]
    found = assessed(folder, rows)
    assert found.assessment.verdict is Verdict.NO_RESULT
    assert {
        rope.refusal.code for rope in found.assessment.measurement.ropes if rope.refusal
    } == {"same-sound"}


@pytest.mark.slow
def test_a_copy_for_the_same_rope_counts_once(folder: Path) -> None:
    """Else a copy of the wrong file would outvote the right one."""
    shutil.copy(OTHER / "rope-3.m4a", folder / "again.m4a")
    recording = read_recording(folder / "again.m4a")
    rate = round(recording.sampling_rate)
    write_wave(folder / "twin.wav", moved(recording.samples, rate, 0.5), rate)
    found = assessed(folder, [*six(), (2, "again.m4a"), (2, "twin.wav")])
    assert "same-sound-again" in codes(found)
    refusal = found.assessment.measurement.ropes[1].refusal
    assert refusal is not None
    assert refusal.code == "readings-apart"


@pytest.mark.slow
def test_a_file_that_stands_in_two_series_counts_in_neither(tmp_path: Path) -> None:
    """Until it is left out of one of them; then it counts in the other."""
    shutil.copytree(DEMO / "before-and-after", tmp_path / "visit")
    record = tmp_path / "visit" / "visit.toml"
    shutil.copy(
        tmp_path / "visit/as-found/rope-2.m4a", tmp_path / "visit/as-left/rope-2.m4a"
    )
    for series in ("as found", "as left"):
        found = assess_record(record, series=series)
        assert "same-file-elsewhere" in codes(found)
        assert Method.PLUCK not in found.assessment.measurement.ropes[1].methods
    exclusion = (
        '[[exclusion]]\nseries = "as left"\nrecording = "as-left/rope-2.m4a"\n'
        'reason = "it is the one of as found"\n'
    )
    text = record.read_text(encoding="utf-8")
    record.write_text(f"{text}\n{exclusion}", encoding="utf-8")
    found = assess_record(record, series="as found")
    assert "same-file-elsewhere" not in codes(found)
    assert Method.PLUCK in found.assessment.measurement.ropes[1].methods
    left = assess_record(record, series="as left").assessment
    assert Method.PLUCK not in left.measurement.ropes[1].methods


@pytest.mark.slow
def test_a_sound_saved_anew_into_another_series_counts_in_neither(
    tmp_path: Path,
) -> None:
    """Until it is left out of one of them: other bytes, half as loud, turned, later."""
    shutil.copytree(DEMO / "before-and-after", tmp_path / "visit")
    record = tmp_path / "visit" / "visit.toml"
    recording = read_recording(tmp_path / "visit/as-found/rope-2.m4a")
    rate = round(recording.sampling_rate)
    anew = tmp_path / "visit/as-left/saved-anew.wav"
    write_wave(anew, moved(recording.samples, rate, 0.5), rate)
    text = record.read_text(encoding="utf-8")
    text = text.replace("as-left/rope-2.m4a", "as-left/saved-anew.wav")
    record.write_text(text, encoding="utf-8")
    for series in ("as found", "as left"):
        found = assess_record(record, series=series)
        assert "same-sound-elsewhere" in codes(found)
        ropes = found.assessment.measurement.ropes
        assert [Method.PLUCK in rope.methods for rope in ropes] == [
            rope.number != 2 for rope in ropes
        ]
    exclusion = (
        '[[exclusion]]\nseries = "as left"\nrecording = "as-left/saved-anew.wav"\n'
        'reason = "it is the one of as found"\n'
    )
    record.write_text(f"{text}\n{exclusion}", encoding="utf-8")
    assert "same-sound-elsewhere" not in codes(assess_record(record, series="as found"))


def test_other_takes_of_the_same_ropes_are_other_sounds() -> None:
    files = [*sorted(FOUND.iterdir()), *sorted(OTHER.iterdir())]
    assert find_same_sound([read_recording(file) for file in files]) == ()


@pytest.fixture(name="twelve")
def two_rounds(tmp_path: Path) -> list[Path]:
    """Two rounds over six ropes in one folder."""
    files = []
    for number, source in enumerate(
        itertools.chain(sorted(FOUND.iterdir()), sorted(OTHER.iterdir())), start=1
    ):
        files.append(tmp_path / f"memo {number}.m4a")
        shutil.copy(source, files[-1])
    return files


@pytest.mark.slow
def test_two_rounds_in_one_folder_are_asked_about(twelve: list[Path]) -> None:
    found = assess_recordings(twelve, given=Given(has_sockets_at_one_height=True))
    assert found.assessment.verdict is Verdict.CANNOT_TELL
    doubt = found.assessment.measurement.doubts[0]
    assert doubt.code == "rounds-as-ropes"
    assert '--order "1 2 3 4 5 6 1 2 3 4 5 6"' in doubt.next_act
    told = assess_recordings(
        twelve,
        given=Given(has_sockets_at_one_height=True, order=(1, 2, 3, 4, 5, 6) * 2),
    )
    assert len(told.assessment.measurement.ropes) == 6
    assert told.assessment.is_complete
    plain = assess_recordings(
        twelve,
        given=Given(has_sockets_at_one_height=True, order=tuple(range(1, 13))),
    )
    assert "rounds-as-ropes" not in codes(plain)
