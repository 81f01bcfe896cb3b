"""Trimming a record: original hashed first, result the same, nothing half done."""

import hashlib
import shutil
import wave
from pathlib import Path

import numpy as np
import pytest

from tension.errors import FileFormatError
from tension.files.record import read_visit
from tension.workflow import trimming
from tension.workflow.assess import assess_record
from tension.workflow.integrity import seal_record, verify
from tension.workflow.trimming import trim_record
from tests.synthesis.demo_lift import CAR_MASS, N_ROPES, SHARES, DemoRopes
from tests.synthesis.demo_sound import DAMPING, LOW_CUT, RATE
from tests.synthesis.mixing import PluckedRope, Scene, mix
from tests.synthesis.plucking import Planes, Pluck, Sensor, solve
from tests.synthesis.ropes import GRAVITY

FIRST = 9.0
"""Long before the first pluck, where people talk. [s]"""

RECORD = """format = 1
[lift]
name = "Granary Wharf, goods lift 2"
[rule]
metric = "off-mean"
limit = "5 %"
source = "house rule of 2026"
[set]
ropes = 2
linear_density = "0.575 kg/m"
[[span]]
name = "top"
free_length = "3.40 m"
[[rope]]
number = 2
stagger = "+150 mm"
[[series]]
name = "as found"
span = "top"
[[reading]]
series = "as found"
kind = "pluck"
rope = 1
recording = "memos/rope-1.wav"
[[reading]]
series = "as found"
kind = "pluck"
rope = 2
recording = "memos/rope-2.wav"
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record of two ropes in long memos: 9 s before the plucks, 20 s after."""
    folder = tmp_path_factory.mktemp("visit")
    (folder / "memos").mkdir()
    (folder / "visit.toml").write_text(RECORD, encoding="utf-8")
    mean = CAR_MASS * GRAVITY / N_ROPES
    ropes = DemoRopes(tensions=SHARES * mean / 100).specs[:2]
    modes = tuple(solve(spec) for spec in ropes)
    for index in (0, 1):
        generator = np.random.default_rng(20261120 + index)
        plucks = tuple(
            Pluck(
                onset=FIRST + 2.6 * k,
                place=0.25,
                width=0.03,
                amplitude=0.004,
                release=0.0012,
            )
            for k in range(2)
        )
        scene = Scene(
            duration=FIRST + 2.6 + 20.0,
            plucked=(PluckedRope(index=index, plucks=plucks),),
            modes=modes,
            planes=tuple(Planes(split=0.0, weak_level=0.0) for _ in modes),
            damping=DAMPING,
            axial_stiffness=1e5,
            sensor=Sensor.MICROPHONE,
            sensor_place=0.25,
            signal_to_noise=25.0,
            hum_level=-20.0,
            neighbour_level=-30.0,
        )
        samples = mix(generator, scene, rate=RATE, low_cut=LOW_CUT)
        with wave.open(str(folder / f"memos/rope-{index + 1}.wav"), "wb") as written:
            written.setnchannels(1)
            written.setsampwidth(2)
            written.setframerate(RATE)
            scaled = 0.5 * samples / np.abs(samples).max()
            written.writeframes(np.round(scaled * 32767).astype("<i2").tobytes())
    return folder


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    """A copy of the record that a test may change."""
    shutil.copytree(made, tmp_path / "visit")
    return tmp_path / "visit"


def contents(folder: Path) -> dict[str, str]:
    """Checksum of every file."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(
            path.read_bytes()
        ).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.mark.slow
def test_the_result_on_what_is_left_is_the_same(folder: Path) -> None:
    before, original = assess_record(folder), contents(folder)
    trimmed = trim_record(folder, by="R. Calder")
    assert len(trimmed.trims) == 2
    after = assess_record(folder)
    assert after.assessment.verdict is before.assessment.verdict
    for one, other in zip(
        before.assessment.shares, after.assessment.shares, strict=True
    ):
        assert one.share is not None
        assert other.share is not None
        assert one.share_uncertainty is not None
        assert abs(one.share - other.share) < 0.25 * one.share_uncertainty
    now = contents(folder)
    for trim in trimmed.trims:
        assert trim.sha256 == original[trim.recording] == now[trim.recording]
        assert trim.trimmed in now
    assert read_visit(folder / "visit.toml").trims == trimmed.trims


@pytest.mark.slow
def test_what_lies_outside_the_windows_is_gone(folder: Path) -> None:
    (trim, _) = trim_record(folder).trims
    with wave.open(str(folder / trim.trimmed), "rb") as opened:
        duration = opened.getnframes() / opened.getframerate()
    # 1 s before the first of two plucks 2.6 s apart, 8 s after the second
    assert duration == pytest.approx(1.0 + 2.6 + 8.0, abs=0.2)
    start = float(trim.kept.split(" s")[0])
    assert start == pytest.approx(FIRST - 1.0, abs=0.1)


@pytest.mark.slow
def test_the_originals_go_only_when_asked_and_their_checksums_stay(
    folder: Path,
) -> None:
    original = contents(folder)
    trimmed = trim_record(folder, delete_originals=True)
    for trim in trimmed.trims:
        assert not (folder / trim.recording).exists()
        assert trim.original == "deleted"
        assert trim.sha256 == original[trim.recording]
    assert assess_record(folder).assessment.is_complete


@pytest.mark.parametrize("originals", ["kept", "deleted"])
def test_trimming_a_sealed_record_is_a_correction(folder: Path, originals: str) -> None:
    seal_record(folder)
    with pytest.raises(FileFormatError, match="give your name"):
        trim_record(folder)
    trim_record(folder, by="R. Calder", delete_originals=originals == "deleted")
    found = verify(folder)
    assert found.is_same, found.changes
    reasons = ["recordings trimmed", "originals of trimmed recordings deleted"]
    assert [one.reason for one in found.corrections] == (
        reasons if originals == "deleted" else reasons[:1]
    )


@pytest.mark.slow
def test_a_trim_that_changes_the_result_is_refused_and_leaves_nothing(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = contents(folder)
    monkeypatch.setattr(trimming, "SAME_SHARE", -1.0)
    with pytest.raises(FileFormatError, match="nothing was trimmed"):
        trim_record(folder)
    assert contents(folder) == before


@pytest.mark.slow
@pytest.mark.parametrize("good_writes", [0, 1, 2])
def test_a_full_disk_leaves_record_and_recordings_as_they_were(
    folder: Path, monkeypatch: pytest.MonkeyPatch, good_writes: int
) -> None:
    before = contents(folder)
    write = Path.write_bytes
    done: list[Path] = []

    def fill_up(temporary: Path, data: bytes) -> int:
        if len(done) == good_writes:
            raise OSError(28, "No space left on device")
        done.append(temporary)
        return write(temporary, data)

    monkeypatch.setattr(Path, "write_bytes", fill_up)
    with pytest.raises(FileFormatError, match="nothing was changed"):
        trim_record(folder, delete_originals=True)
    assert contents(folder) == before


@pytest.mark.slow
def test_a_second_trim_has_nothing_left_to_do(folder: Path) -> None:
    trim_record(folder)
    again = trim_record(folder)
    assert again.trims == ()
    assert {why for _, why in again.whole} == {"trimmed already"}
