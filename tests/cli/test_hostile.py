"""Names that would move the cursor, odd environments, Ctrl-C, unreadable places."""

import csv
import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from tension.cli import main
from tension.cli.output import OutputError, VisibleStream
from tension.documents.commands import csv_text, to_json
from tests.cli.running import DEMO, run

ROOT = Path(__file__).parents[2]
EVIL = "a\x1b[31mb\u202ec\x9bd\u2028e\x07f\rg"


def visible(text: str) -> bool:
    return all(line.isprintable() for line in text.split("\n"))


@given(st.text())
def test_nothing_hidden_passes_a_stream(text: str) -> None:
    under = io.StringIO()
    stream = VisibleStream(under)
    stream.write(text)
    assert visible(under.getvalue())
    assert under.getvalue().count("\n") == text.count("\n")


@given(st.text())
def test_nothing_hidden_stands_in_json_and_nothing_is_lost(text: str) -> None:
    written = to_json({"name": text})
    assert visible(written)
    assert json.loads(written) == {"name": text}


@given(st.text(), st.sampled_from(["", "=", "+", "-", "@", "\t", "\r", " =", "\n="]))
def test_no_cell_is_a_formula(text: str, start: str) -> None:
    cell = csv_text(start + text)
    assert cell.isprintable()
    assert cell.lstrip()[:1] not in {"=", "+", "-", "@"}
    plain = csv_text("as found")
    assert plain == "as found"


@pytest.fixture(name="folder")
def evil_folder(tmp_path: Path) -> Path:
    """Two series whose names, like their folder's, are not to be trusted."""
    folder = tmp_path / EVIL.replace("\r", "")
    shutil.copytree(DEMO / "before-and-after", folder)
    record = folder / "visit.toml"
    evil = json.dumps("=" + EVIL)
    text = record.read_text(encoding="utf-8").replace('"as left"', evil)
    text = text.replace('load = "empty"', f"load = {evil}")
    record.write_text(text.replace("Granary", "Gra\\u001bnary"), encoding="utf-8")
    return folder


@pytest.mark.slow
def test_no_command_lets_a_name_move_the_cursor(folder: Path, tmp_path: Path) -> None:
    for words in (
        ("assess", folder),
        ("assess", folder, "--csv"),
        ("assess", folder, "--json"),
        ("adjust", folder),
        ("compare", folder),
        ("compare", folder, "--before", EVIL),
        ("pluck", folder / "as-found" / "rope-1.m4a"),
        ("report", folder, "-o", tmp_path / "out.html"),
        ("assess", folder / EVIL),
        ("assess", "--limit", EVIL, folder),
        ("assess", "--" + EVIL),
        (EVIL,),
        ("start", "--ropes", "6", "--to", folder / EVIL),
    ):
        ran = run(*words)
        assert visible(ran.out), words
        assert visible(ran.err), words
    rows = list(csv.reader(io.StringIO(run("assess", folder, "--csv").out)))
    assert all(row[0].startswith("'=") for row in rows[1:])


def test_no_place_that_was_written_to_breaks_a_line(tmp_path: Path) -> None:
    """A name of two lines could add a line that looks like one of the program's."""
    place = tmp_path / "a\nEQUAL"
    place.mkdir()
    for words in (
        ("acceptance", "--blank", place / "form.html"),
        ("demo", "--to", place / "demo"),
        ("start", "--ropes", "2", "--sheet", place / "sheet.pdf"),
        ("seal", place / "demo" / "side-pulls"),
        ("verify", place / "demo" / "side-pulls"),
    ):
        ran = run(*words)
        assert ran.code == 0, ran.err
        lines = (ran.out + ran.err).splitlines()
        assert not [line for line in lines if line.startswith("EQUAL")], words


def tension(*words: str | Path, **environment: str) -> subprocess.Popen[str]:
    """The program in a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "tension", *map(str, words)],
        cwd=ROOT,
        env={**os.environ, **environment},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


INTERRUPTED = """
import signal, sys
# whoever runs the tests in the background may have had it ignored
signal.signal(signal.SIGINT, signal.default_int_handler)
left = [int(sys.argv.pop(1))]
def hook(event, arguments):
    if event == "import":
        left[0] -= 1
        if left[0] == 0:
            signal.raise_signal(signal.SIGINT)
from tension.__main__ import main
sys.addaudithook(hook)
main()
"""


@pytest.mark.slow
@pytest.mark.parametrize("n_imports", [1, 5, 20, 60, 150, 300, 400, 5000])
def test_ctrl_c_amid_any_import_is_one_line(n_imports: int) -> None:
    words = [str(n_imports), "assess", str(DEMO / "side-pulls")]
    done = subprocess.run(
        [sys.executable, "-c", INTERRUPTED, *words],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == (130 if n_imports < 5000 else 10), done.stderr
    assert len(done.stderr.split()) <= 9
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    "environment",
    [
        {"MPLBACKEND": "nonsense"},
        {"MPLCONFIGDIR": "/dev/null/none", "HOME": "/dev/null"},
        {"PYTHONWARNINGS": "always"},
        {"COLUMNS": "0"},
        {"TERM": "dumb", "NO_COLOR": "1"},
    ],
    ids=repr,
)
@pytest.mark.slow
def test_odd_environments_change_nothing(
    environment: dict[str, str], tmp_path: Path
) -> None:
    figure = tmp_path / "shares.svg"
    process = tension("assess", DEMO / "side-pulls", "--plot", figure, **environment)
    out, err = process.communicate()
    assert process.returncode == 10, err
    assert err == ""
    assert out.startswith("UNEQUAL")
    assert figure.exists()


@pytest.mark.slow
def test_a_missing_temporary_folder_is_one_line(tmp_path: Path) -> None:
    process = tension("report", DEMO / "side-pulls", "-o", tmp_path / "out.pdf")
    process.communicate()
    assert process.returncode == 0
    code = (
        "import tempfile, sys\n"
        "def refuse(*a, **k): raise FileNotFoundError(2, 'No temporary folder')\n"
        "tempfile.TemporaryDirectory = refuse\n"
        "from tension.__main__ import main\n"
        "sys.argv = ['tension', 'report', sys.argv[1], '-o', 'none.pdf']\n"
        "main()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(DEMO / "side-pulls")],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 3
    assert done.stderr.startswith("tension: the system refuses (no temporary")
    assert len(done.stderr.splitlines()) == 1
    assert not (tmp_path / "none.pdf").exists()


@pytest.mark.parametrize(
    "words",
    [
        ("assess", "FOLDER"),
        ("assess", "FOLDER/visit.toml"),
        ("pluck", "FOLDER"),
        ("start", "FOLDER"),
        ("adjust", "FOLDER"),
        ("compare", "FOLDER"),
        ("springs", "FOLDER"),
        ("report", "FOLDER", "-o", "out.html"),
        ("seal", "FOLDER"),
        ("verify", "FOLDER"),
        ("trim", "FOLDER"),
    ],
    ids=lambda words: words[0],
)
def test_a_folder_that_may_not_be_read_is_one_line(
    words: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As the system answers who may not look into it."""
    folder = tmp_path / "closed"

    def refuse(path: Path, *_: object, **__: object) -> object:
        if str(path).startswith(str(folder)):
            raise PermissionError(13, "Permission denied", str(path))
        return stat(path)

    stat = Path.stat
    monkeypatch.setattr(Path, "stat", refuse)
    ran = run(*(word.replace("FOLDER", str(folder)) for word in words))
    assert ran.code == 3
    (line,) = ran.err.splitlines()
    assert line.startswith("tension: ")
    assert "permission denied" in line
    assert "Traceback" not in line


def test_an_error_of_a_file_is_not_blamed_on_the_output(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    @click.command("broken")
    def broken() -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(main._Program, "get_command", lambda *_: broken)
    result = CliRunner().invoke(main.command, ["assess"])
    assert result.exit_code == 3
    assert "output" not in result.stderr.replace("input/output error", "")


def test_an_error_of_the_output_is_named_so() -> None:
    class Full(io.StringIO):
        def write(self, text: str) -> int:
            del text
            raise OSError(28, "No space left on device")

    with pytest.raises(OutputError):
        VisibleStream(Full()).write("a")
