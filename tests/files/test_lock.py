"""Several commands at once on one record: none loses what another wrote."""

import subprocess
import sys
from pathlib import Path

import pytest

from tension.errors import FileFormatError
from tension.files import atomic
from tension.files.atomic import held_alone
from tension.files.seal import read_sealed
from tension.workflow.integrity import seal_record, verify

pytestmark = pytest.mark.slow

RECORD = """format = 1
[rule]
limit = "10 %"
[set]
ropes = 2
"""
CORRECT = """
import sys
from pathlib import Path
from tension.files.seal import Correction
from tension.workflow.integrity import correct_record
for number in range(4):
    text = f"{sys.argv[2]} {number}"
    words = Correction(by="R. Calder", reason="put right", text=text)
    correct_record(Path(sys.argv[1]), words)
"""


def start(code: str, *words: str) -> subprocess.Popen[bytes]:
    """Another process of the program."""
    return subprocess.Popen(
        [sys.executable, "-c", code, *words], stderr=subprocess.PIPE
    )


def test_corrections_written_at_once_are_all_there(tmp_path: Path) -> None:
    record = tmp_path / "visit.toml"
    record.write_text(RECORD, encoding="utf-8")
    seal_record(record)
    writers = [start(CORRECT, str(record), f"writer {n}") for n in range(4)]
    for writer in writers:
        assert writer.communicate()[1] == b""
        assert writer.returncode == 0
    told = read_sealed(record).corrections
    assert {one.text for one in told} == {
        f"writer {n} {k}" for n in range(4) for k in range(4)
    }
    assert verify(record).is_same


def test_a_record_that_is_held_is_told_and_free_once_its_holder_is_gone(
    tmp_path: Path,
) -> None:
    record = tmp_path / "visit.toml"
    record.write_text(RECORD, encoding="utf-8")
    holder = start(
        "import sys, time\nfrom pathlib import Path\n"
        "from tension.files.atomic import held_alone\n"
        "with held_alone(Path(sys.argv[1])):\n"
        "    Path(sys.argv[1] + '.held').touch()\n    time.sleep(60)\n",
        str(record),
    )
    try:
        while not Path(f"{record}.held").exists():
            assert holder.poll() is None
        with (
            pytest.raises(FileFormatError, match="another command is writing"),
            held_alone(record, patience=0.1),
        ):
            pass
    finally:
        holder.kill()
        holder.communicate()
    with held_alone(record, patience=5.0):
        pass


def test_a_file_replaced_while_it_was_waited_for_is_held_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record = tmp_path / "visit.toml"
    record.write_text(RECORD, encoding="utf-8")
    tries: list[int] = []
    try_to_lock = atomic._try_to_lock

    def replaced_first(handle: int) -> bool:
        if not tries:
            (tmp_path / "new").write_text(RECORD, encoding="utf-8")
            (tmp_path / "new").replace(record)  # as the command that held it does
        tries.append(handle)
        return try_to_lock(handle)

    monkeypatch.setattr(atomic, "_try_to_lock", replaced_first)
    with held_alone(record):
        assert len(tries) == 2


def test_a_record_that_is_not_there_cannot_be_held(tmp_path: Path) -> None:
    with (
        pytest.raises(FileFormatError, match="no such file"),
        held_alone(tmp_path / "x"),
    ):
        pass
