"""What the program does with streams that are closed, full or poor in characters."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.running import DEMO

pytestmark = pytest.mark.slow

PULLS = DEMO / "side-pulls"

needs_shell = pytest.mark.skipif(os.name == "nt", reason="redirects in a Unix shell")


def run_in_shell(
    *words: str | Path, redirect: str, **environment: str
) -> tuple[int, bytes, str]:
    """Run the program in a process of its own: exit code, stdout, stderr."""
    line = f'"$0" -m tension "$@" {redirect}'
    done = subprocess.run(
        ["/bin/sh", "-c", line, sys.executable, *map(str, words)],
        capture_output=True,
        check=False,
        env={**os.environ, **environment},
    )
    return done.returncode, done.stdout, done.stderr.decode()


@needs_shell
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no full device")
@pytest.mark.parametrize("words", [("assess", PULLS), ("--help",)])
def test_a_full_disk_is_one_line_and_no_result(words: tuple[str | Path, ...]) -> None:
    code, _, told = run_in_shell(*words, redirect=">/dev/full")
    assert code == 3
    assert "could not be written" in told
    assert len(told.splitlines()) == 1


@needs_shell
def test_a_closed_output_changes_no_exit_code() -> None:
    assert run_in_shell("assess", PULLS, redirect=">&-")[0] == 10
    assert run_in_shell("assess", PULLS, redirect="2>&-")[0] == 10


@needs_shell
def test_a_reader_that_leaves_early_is_not_spoken_to_and_reads_no_equal() -> None:
    """0 is the code of an equal set; this one is not."""
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(
        [sys.executable, "-m", "tension", "assess", str(PULLS), "--json"],
        stdout=writing,
        stderr=subprocess.PIPE,
        check=False,
    )
    os.close(writing)
    assert (done.returncode, done.stderr) == (3, b"")


@needs_shell
def test_nobody_to_ask_is_wrong_usage_that_names_the_option() -> None:
    code, _, told = run_in_shell("start", redirect="<&-")
    assert code == 2
    assert "--ropes" in told


@needs_shell
@pytest.mark.parametrize("encoding", ["cp1252", "utf-8"])
def test_a_console_poor_in_characters_keeps_every_number(
    encoding: str, tmp_path: Path
) -> None:
    """Also where the record says what the console has no characters for."""
    text = (PULLS / "visit.toml").read_text(encoding="utf-8")
    assert 'people = "two' in text
    text = text.replace('people = "two', 'people = "Łódź 漢, two')
    (tmp_path / "visit.toml").write_text(text, encoding="utf-8")
    code, out, told = run_in_shell(
        "assess", tmp_path, redirect="", PYTHONIOENCODING=encoding
    )
    assert code == 10
    assert told == ""
    text = out.decode(encoding)
    assert "UNEQUAL" in text
    for number in range(1, 7):
        assert f"\n   {number}  " in text


@needs_shell
def test_a_file_name_cannot_move_the_cursor(tmp_path: Path) -> None:
    (tmp_path / "new\nline\x1b[2J.wav").write_bytes(b"")
    _, out, told = run_in_shell("pluck", tmp_path, redirect="")
    assert b"\x1b" not in out
    assert "\x1b" not in told
    assert b"new\\nline\\x1b[2J.wav" in out
