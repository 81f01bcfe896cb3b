"""``tension add``: what was read and done goes into the record, or is refused."""

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from tension.cli import asking
from tension.cli.main import command
from tension.files.record import read_visit
from tension.workflow.integrity import seal_record, verify
from tests.cli.running import DEMO, MEMOS, Ran, run

RECORD = """format = 1
[set]
ropes = 6
diameter = "13 mm"
construction = "8x19 FC"
[[span]]
name = "top"
position = "top landing"
[[hitch]]
at = "car"
thread = "M16"
spring_rate = "150 N/mm"
spring_free_length = "160 mm"
[[rope]]
number = 2
take_up_left = "26 mm"
[[series]]
name = "as found"
span = "top"
load = "empty"
[[reading]]
series = "as found"
kind = "pluck"
ropes = [1, 2, 3, 4, 5, 6]
recording = "all.m4a"
"""


@pytest.fixture
def visit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that one is in, with a record."""
    (tmp_path / "visit.toml").write_text(RECORD, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def _on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(asking, "is_terminal", lambda: True)


def test_a_hitch_of_which_nothing_new_is_said_asks_what_to_say(visit: Path) -> None:
    before = (visit / "visit.toml").read_text()
    ran = run("add", "hitch", "car")
    assert ran.code == 3
    assert "nothing is added; say --rows" in ran.err
    assert (visit / "visit.toml").read_text() == before


def answer(words: list[str], *lines: str) -> Ran:
    """Type a command, and answer what it asks."""
    result = CliRunner().invoke(
        command, words, input="".join(f"{line}\n" for line in lines)
    )
    return Ran(code=result.exit_code, out=result.stdout, err=result.stderr)


WORDS = [
    (["springs", "139 142 139 139.5 137 139.5 mm"], 'length = "139.5 mm"'),
    (["springs", "2: 142 mm", "rope 4 139 mm"], 'length = "142 mm"'),
    (["lengths", "3.40 3.55 3.40 3.555 3.402 3.55 m"], '{ "top" = "3.555 m" }'),
    (["threads", "22/14 21/11 21/15 24/13 25/12 22/14 mm"], None),
    (["pulls", "--deflection", "1 in", "1: 38 37,5 lbf"], 'force = ["38 lbf"'),
    (["pulls", "--force", "150 N", "1: 25 mm"], 'hold = "force"'),
    (["returns", "3", "5", "6.46 6.41 s"], 'elapsed = ["6.46 s", "6.41 s"]'),
    (["TURNS", "2 IN 4 1/2, 5 out 4"], 'turns = "+4 1/2"'),
    (["turns", "2", "in", "1/4", "--run", "3"], "round_trips_after = 3"),
    (["exclude", "rope 4", "door slammed"], 'reason = "door slammed"'),
    (["exclude", "all.m4a", "wind", "--pluck", "2"], "pluck = 2"),
    (["looked", "403", "level", "--ropes", "1 2 1"], "ropes = [1, 2]"),
    (["finding", "3", "Rouge", "at=2 m above"], 'seen = "yes"'),
    (["finding", "3", "broken-wires", "broken=3", "distribution=spread"], "broken = 3"),
    (["hitch", "counterweight", "--rows", "1 3 5/2 4 6"], "[[1, 3, 5], [2, 4, 6]]"),
    (["hitch", "car", "--solid", "96 mm"], 'spring_solid_length = "96 mm"'),
    (
        ["hitch", "counterweight", "--spring-active-coils", "8.5"],
        "spring_active_coils = 8.5",
    ),
    (
        [
            *("hitch", "counterweight", "--spring-loads", "2 kN; 6 kN"),
            *("--spring-lengths", "147 mm; 127 mm"),
        ],
        'spring_loads = ["2 kN", "6 kN"]',
    ),
    (["lift", "--drive", "TRACTION"], 'drive = "traction"'),
    (["lift", "--travel", "24 m", "--roping", "2:1"], 'roping = "2:1"\ntravel = "24'),
]


@pytest.mark.parametrize(("words", "line"), WORDS)
def test_a_dry_run_shows_what_would_be_added_and_the_rest_adds_it(
    visit: Path, words: list[str], line: str | None
) -> None:
    if line is None:
        words = [*words]
        (visit / "visit.toml").write_text(
            RECORD.replace('take_up_left = "26 mm"', "groove = 2"), encoding="utf-8"
        )
    record = visit / "visit.toml"
    before = record.read_text(encoding="utf-8")
    shown = run("add", *words, "--dry-run")
    assert shown.code == 0, shown.err
    assert (line or 'take_up_left = "22 mm"') in shown.out
    assert record.read_text(encoding="utf-8") == before
    ran = run("add", *words)
    assert ran.code == 0
    assert "Next command: tension " in ran.out
    assert record.read_text(encoding="utf-8") == f"{before}\n{shown.out}"
    read_visit(record)


REFUSED = [
    (["springs", "139 142 mm"], "2 numbers for 6 ropes"),
    (["springs", "2: 161 mm"], "longer than the spring without load"),
    (["springs", "139 142 139 139 137 139"], "no unit"),
    (["rope", "2", "none.m4a"], "no such file"),
    (["rope", "2"], "no new sound file"),
    (["rope", "2", "visit.toml"], "nothing was added: visit.toml holds text"),
    (["turns", "2 in 14"], "26 mm of thread were left"),
    (["turns", "2 sideways 4"], "is no turn"),
    (["turns", "7 in 1"], "rope: must be 1 to 6, not 7"),
    (["run", "3"], "no nut was turned"),
    (["run", "three"], "'three' is not a valid whole number"),
    (["left", "--same"], "no 6 new sound files"),
    (["left", "."], "--same"),
    (["pulls", "1: 38 lbf"], "what was held"),
    (["pulls", "--deflection", "1 in", "1: 38 390 lbf"], "too far apart"),
    (["pulls", "--deflection", "1 in", "9: 38 lbf"], "rope: must be 1 to 6, not 9"),
    (["looked", "403", "level", "--ropes", "1 9"], "there is no rope 9"),
    (["pulls", "--deflection", "1 in", "38 lbf"], "Begin each line"),
    (["returns", "3", "5", "3: 6.46 s"], "names a rope; write the numbers alone"),
    (["exclude", "none.m4a", "wind"], "give a rope number, or a recording such as"),
    (["lift", "--travel", ""], "--travel: an empty text says nothing"),
    (
        ["side", "counterweight", "as-found", "--same", "--lengths", "3.4 3.5 m"],
        "2 free lengths for 6 ropes; give one, or one each",
    ),
    (["looked", "99999", "level"], "there is no note"),
    (["finding", "3", "rogue"], 'did you mean "rouge"'),
    (["finding", "3", "rouge", "where"], "no KEY=VALUE"),
    (["threads", "22/14 26/11 21/15 24/13 25/12 22/14 mm"], "has take_up_left twice"),
    (["hitch", "car", "--thread", "M20"], "has thread twice"),
    (["correction", "rope 3 is rope 4"], "--by NAME"),
    (["set", "--diameter", "16 mm"], "diameter is written twice"),
    (["set"], "nothing was said of the set"),
    (["set", "--rope-length", "9000 m"], "rope_length"),
    (["springz", "139 mm"], "Did you mean 'springs'"),
]


@pytest.mark.parametrize(("words", "said"), REFUSED)
def test_what_contradicts_the_record_is_refused_and_nothing_written(
    visit: Path, words: list[str], said: str
) -> None:
    ran = run("add", *words)
    assert ran.code in {2, 3}
    assert said in " ".join(ran.err.split())
    assert (visit / "visit.toml").read_text(encoding="utf-8") == RECORD


def test_a_file_in_the_record_or_its_copy_is_not_added_again(visit: Path) -> None:
    shutil.copy(MEMOS / "rope-1.m4a", visit / "all.m4a")
    shutil.copy(MEMOS / "rope-1.m4a", visit / "copy.m4a")
    assert "in the record already" in run("add", "rope", "2", "all.m4a").err
    assert "the same file as all.m4a" in run("add", "rope", "2", "copy.m4a").err


def test_the_same_turns_are_asked_about_and_the_run_told_afterwards(
    visit: Path,
) -> None:
    assert "tension add run 6" in run("add", "turns", "2 in 2").out
    assert "once more" in run("add", "turns", "2 in 2").err
    assert run("add", "turns", "2 in 2", "--again").code == 0
    assert "tension add left FOLDER" in run("add", "run", "3").out
    turns = read_visit(visit / "visit.toml").turns
    assert [turn.round_trips_after for turn in turns] == [3, 3]
    assert "measure first" in run("add", "turns", "2 in 1/4").err


def test_rounds_come_from_a_folder_with_the_order_of_the_files(visit: Path) -> None:
    shutil.copytree(DEMO / "before-and-after" / "as-left", visit / "round b")
    ran = run("add", "round", "round b", "--order", "6 5 4 3 2 1")
    assert ran.code == 0
    readings = read_visit(visit / "visit.toml").readings
    assert getattr(readings[1], "ropes", ()) == (6,)
    assert run("add", "round", "round b").code == 3


def test_another_side_brings_its_span_and_lengths(visit: Path) -> None:
    shutil.copytree(DEMO / "before-and-after" / "as-left", visit / "cwt")
    lengths = "12.1 12.3 12.1 12.3 12.1 12.3 m"
    ran = run(
        "add", "side", "counterweight", "cwt", "--lengths", lengths, "--load", "empty"
    )
    assert ran.code == 0, ran.err
    read = read_visit(visit / "visit.toml")
    assert read.series[1].span == "counterweight side"
    assert dict(read.rope_set.ropes[1].free_lengths)["counterweight side"].value == 12.3


def test_an_addition_to_a_sealed_record_is_a_correction(visit: Path) -> None:
    shutil.copy(MEMOS / "rope-1.m4a", visit / "all.m4a")
    seal_record(visit)
    ran = run("add", "springs", "2: 142 mm")
    assert ran.code == 3
    assert "--by and --reason" in ran.err
    ran = run("add", "springs", "2: 142 mm", "--by", "R. Example", "--reason", "late")
    assert ran.code == 0
    ran = run("add", "correction", "late", "--by", "R. Example", "--reason", "late")
    assert ran.code == 0, ran.err
    verification = verify(visit)
    assert verification.is_same
    assert len(verification.corrections) == 2


@pytest.mark.usefixtures("_on_a_terminal")
def test_a_missing_unit_is_asked_once(visit: Path) -> None:
    ran = answer(["add", "springs", "2: 142", "3: 139"], "kg", "139 mm", "MM")
    assert ran.code == 0, ran.err
    assert ran.err.count("of what") == 3
    text = (visit / "visit.toml").read_text(encoding="utf-8")
    assert 'length = "142 MM"' in text
    assert 'length = "139 MM"' in text


@pytest.mark.usefixtures("_on_a_terminal")
def test_the_unit_of_threads_and_times_is_asked_too(visit: Path) -> None:
    record = visit / "visit.toml"
    record.write_text(RECORD.replace("number = 2\ntake_up_left", "number = 1\nstagger"))
    pairs = "22/14 26/11 21/15 24/13 25/12 22/14"
    assert answer(["add", "threads", pairs], "mm").code == 0
    assert answer(["add", "returns", "3", "5", "6.46 6.41"], "s").code == 0
    text = record.read_text(encoding="utf-8")
    assert 'ease_left = "11 mm"' in text
    assert 'elapsed = ["6.46 s", "6.41 s"]' in text


@pytest.mark.usefixtures("_on_a_terminal")
def test_what_was_said_of_a_series_stands_beside_what_is_asked(visit: Path) -> None:
    shutil.copytree(DEMO / "before-and-after" / "as-left", visit / "left")
    words = ["add", "left", "left", "--neighbours", "damped", "--taken", "noon"]
    ran = answer(words, "n", "two", "", "down")
    assert ran.code == 0, ran.err
    series = read_visit(visit / "visit.toml").series[-1]
    said = (series.arrived, series.people, series.load, series.neighbours, series.taken)
    assert said == ("down", "two", "", "damped", "noon")


@pytest.mark.usefixtures("_on_a_terminal")
def test_a_sheet_is_typed_line_by_line(visit: Path) -> None:
    lines = ("1: 38 37.5 lbf", "2: 35 35", "")
    ran = answer(["add", "pulls", "--deflection", "1 in"], *lines)
    assert ran.code == 0, ran.err
    text = (visit / "visit.toml").read_text(encoding="utf-8")
    assert 'force = ["35 lbf", "35 lbf"]' in text


@pytest.mark.usefixtures("_on_a_terminal")
def test_new_files_are_offered(visit: Path) -> None:
    record = visit / "visit.toml"
    record.write_text(
        RECORD.replace("ropes = [1, 2, 3, 4, 5, 6]", "ropes = [1, 3, 4, 5, 6]"),
        encoding="utf-8",
    )
    shutil.copy(MEMOS / "rope-2.m4a", visit / "New Recording 16.m4a")
    shutil.copy(MEMOS / "rope-3.m4a", visit / "New Recording 17.m4a")
    ran = answer(["add"], "", "n")
    assert ran.code == 0, ran.err
    assert "New New Recording 16.m4a: rope 2 again" in " ".join(ran.err.split())
    readings = read_visit(record).readings
    assert [getattr(r, "recording", "") for r in readings[1:]] == [
        "New Recording 16.m4a"
    ]


def test_without_a_terminal_new_files_are_named(visit: Path) -> None:
    shutil.copy(MEMOS / "rope-2.m4a", visit / "New Recording 16.m4a")
    ran = run("add")
    assert ran.code == 2
    assert "New Recording 16.m4a" in ran.err


def test_a_folder_with_a_record_tells_where_the_visit_stands(visit: Path) -> None:
    shutil.copy(MEMOS / "rope-2.m4a", visit / "New Recording 16.m4a")
    ran = run()
    assert ran.code == 0
    assert '[x] measured: "as found" 6 of 6 ropes' in ran.out
    assert "[ ] turned" in ran.out
    assert "New Recording 16.m4a" in ran.out
    assert ran.out.rstrip().endswith("Next command: tension assess")
    run("add", "turns", "2 in 2")
    assert "[x] turned: rope 2" in run().out
    assert "Next command: tension add run 6" in run().out


def test_a_folder_without_a_record_tells_the_commands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    ran = run()
    assert ran.code == 2
    assert "Commands:" in ran.out


def test_a_folder_elsewhere_is_named_before_or_after_the_word(
    visit: Path,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    monkeypatch.chdir(tmp_path_factory.mktemp("elsewhere"))
    assert run("add", "springs", "2: 142 mm", "--in", visit).code == 0
    ran = run("add", "--in", visit, "springs", "3: 139 mm")
    assert ran.code == 0
    assert f"tension assess {visit}" in ran.out
    assert len(read_visit(visit / "visit.toml").readings) == 3


def test_no_next_command_names_a_file_that_is_not_there(tmp_path: Path) -> None:
    ran = run("assess", tmp_path / "rope-9.m4a")
    assert ran.code == 3
    assert "is not there" in ran.err
    assert "Next command" not in ran.out


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_facts_go_under_the_heading_that_is_there_and_every_line_stays(
    visit: Path, end: str
) -> None:
    record = visit / "visit.toml"
    before = ("\ufeff" + RECORD.replace("\n", end)).encode("utf-8")
    record.write_bytes(before)
    ran = run("add", "set", "--rope-length", "38 m", "--axial-rigidity", "4.6 MN")
    assert ran.code == 0, ran.err
    assert "Added: set: rope_length 38 m, axial_rigidity 4.6 MN" in ran.out
    lines = f'rope_length = "38 m"{end}axial_rigidity = "4.6 MN"{end}'.encode()
    head, heading, rest = before.partition(f"[set]{end}".encode())
    assert record.read_bytes() == head + heading + lines + rest
    rope_set = read_visit(record).rope_set
    assert rope_set.rope_length is not None
    assert rope_set.rope_length.value == 38.0


def test_facts_of_a_sealed_record_are_a_correction(visit: Path) -> None:
    shutil.copy(MEMOS / "rope-1.m4a", visit / "all.m4a")
    seal_record(visit)
    words = ["add", "lift", "--travel", "24 m"]
    assert "--by and --reason" in run(*words).err
    ran = run(*words, "--by", "R. Example", "--reason", "late")
    assert ran.code == 0, ran.err
    assert verify(visit).is_same
