"""No damaged or wrong input ends in a traceback, a false equal, or a changed folder."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.end_to_end.bad_inputs import ANY_RESULT, BadInput, bad_inputs
from tests.peak_memory import PEAK_IN_MEGABYTES

INPUTS = bad_inputs()
LEAST_MEMORY_SAMPLE = 8  # every eighth input is run in a process of its own
MOST_MEMORY = 500  # [MB]

CHILD = f"""{PEAK_IN_MEGABYTES}
import atexit, sys
target = sys.argv.pop(1)
def tell():
    open(target, "w").write(str(peak_in_megabytes()))
atexit.register(tell)
from tension.cli.main import run
run()
"""


def contents(folder: Path) -> dict[str, tuple[int, bytes]]:
    """Return every file of a folder with its size and its first bytes."""
    return {
        str(path.relative_to(folder)): (path.stat().st_size, path.read_bytes()[:99999])
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def identify(one: BadInput) -> str:
    """Return a name that fits into a test report."""
    return re.sub(r"[^a-z0-9.%]+", "-", one.name.lower())


def check(one: BadInput, code: int, stdout: str, stderr: str) -> None:
    """Check what a command did with one bad input."""
    told = " ".join((stdout + stderr).split())  # lines are broken at any blank
    assert code in one.codes, (code, told[-2000:])
    assert "Traceback" not in told
    assert "Warning:" not in told
    assert one.says in told, told[-2000:]
    if code in {2, 3}:
        assert told.strip()
        assert "\x1b" not in stderr
    if code == 2:
        assert stderr.strip()
        assert not stdout.strip()
    # words that a result must not use
    assert not re.search(r"\b(safe|dangerous|certificate)\b", told, re.IGNORECASE)


@pytest.mark.slow
@pytest.mark.parametrize("one", INPUTS, ids=identify)
def test_a_bad_input_gives_its_lines_or_a_result_with_a_note(
    one: BadInput, tmp_path: Path
) -> None:
    from tension.cli.main import command

    folder = tmp_path / "visit"
    folder.mkdir()
    arguments = one.make(folder)
    before = contents(folder)
    done = CliRunner().invoke(command, arguments, prog_name="tension")
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    check(one, done.exit_code, done.stdout, done.stderr)
    assert contents(folder) == before


def memory_sample() -> list[BadInput]:
    """Return every eighth input and those that were made to take much."""
    heavy = ("ten hours", "100000", "five million", "ten thousand", "hundred thousand")
    chosen = INPUTS[::LEAST_MEMORY_SAMPLE]
    return [
        one
        for one in INPUTS
        if one in chosen or any(word in one.name for word in heavy)
    ]


@pytest.mark.slow
@pytest.mark.parametrize("one", memory_sample(), ids=identify)
def test_a_bad_input_takes_less_than_500_megabytes(
    one: BadInput, tmp_path: Path
) -> None:
    folder = tmp_path / "visit"
    folder.mkdir()
    arguments = one.make(folder)
    if any("\0" in argument for argument in arguments):
        pytest.skip("no shell can pass a zero on")
    peak = tmp_path / "peak"
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(peak), *arguments],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    check(one, done.returncode, done.stdout, done.stderr)
    assert int(peak.read_text()) < MOST_MEMORY


def test_there_are_two_hundred_inputs_of_different_names() -> None:
    assert len(INPUTS) >= 200
    assert len({identify(one) for one in INPUTS}) == len(INPUTS)
    assert all(one.codes <= ANY_RESULT | {2} for one in INPUTS)
    assert all(1 not in one.codes for one in INPUTS)
