"""report, acceptance, seal, verify and trim as a person would type them."""

import os
import re
import shutil
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from tension.files import atomic
from tension.files.record import read_visit
from tension.files.visit import named_files
from tests.cli.running import DEMO, run

CONDITION = """
[[check]]
item = "runby"
now = "-4 in"
wanted = "18 in"
least = "6 in"

[[check]]
item = "clips"
rope = 1
distances = ["52 mm", "156 mm"]
rule = "exam-4d-8d"

[[check]]
item = "overtravel"
answer = "could-not-see"

[[finding]]
rope = 4
kind = "broken-wires"
at = "at the socket"
broken = 9
distribution = "one-or-two-strands"
"""


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    """A copy of the demo's side pulls, with checks and a finding."""
    shutil.copytree(DEMO / "side-pulls", tmp_path / "visit")
    record = tmp_path / "visit" / "visit.toml"
    text = record.read_text(encoding="utf-8")
    record.write_text(text + CONDITION, encoding="utf-8")
    return tmp_path / "visit"


@pytest.fixture
def memos(tmp_path: Path) -> Path:
    """A copy of the demo's six memos."""
    shutil.copytree(DEMO / "six-memos", tmp_path / "memos")
    return tmp_path / "memos"


def test_a_report_is_written_as_pdf_and_html(visit: Path, tmp_path: Path) -> None:
    for name in ("evidence.pdf", "evidence.html"):
        ran = run("report", visit, "-o", tmp_path / name)
        assert ran.code == 0, ran.err
        assert f"Written: {tmp_path / name}" in ran.out
    first = PdfReader(tmp_path / "evidence.pdf").pages[0].extract_text()
    assert "Granary Wharf" in first
    assert "allowance not confirmed" in " ".join(first.split())
    page = (tmp_path / "evidence.html").read_text(encoding="utf-8")
    assert "made recordings and on strings that are no ropes" in page


def test_the_same_record_gives_the_same_report_again(
    visit: Path, tmp_path: Path
) -> None:
    for name in ("one.pdf", "two.pdf"):
        assert run("report", visit, "-o", tmp_path / name).code == 0
    one, two = ((tmp_path / n).read_bytes() for n in ("one.pdf", "two.pdf"))
    assert one == two


def test_a_report_is_not_written_over_another_unless_asked(
    visit: Path, tmp_path: Path
) -> None:
    target = tmp_path / "evidence.pdf"
    target.write_bytes(b"mine")
    ran = run("report", visit, "-o", target)
    assert ran.code == 3
    assert "--overwrite" in ran.err
    assert target.read_bytes() == b"mine"
    assert run("report", visit, "-o", target, "--overwrite").code == 0
    assert target.read_bytes().startswith(b"%PDF-")


def test_a_report_needs_a_name_that_tells_its_form(visit: Path, tmp_path: Path) -> None:
    ran = run("report", visit, "-o", tmp_path / "evidence.doc")
    assert ran.code == 3
    assert ".pdf or .html" in ran.err


@pytest.mark.parametrize("name", ["evidence.pdf", "evidence.html", "form.pdf"])
@pytest.mark.parametrize("existing", [b"", b"the old one"])
def test_a_full_disk_leaves_the_old_report_whole(
    visit: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    existing: bytes,
) -> None:
    target = tmp_path / name
    if existing:
        target.write_bytes(existing)
    before = sorted(path.name for path in tmp_path.iterdir())

    def fill_up(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fill_up)
    words: tuple[str | Path, ...] = ("acceptance", "--blank", target)
    if name.startswith("evidence"):
        words = ("report", visit, "-o", target)
    ran = run(*words, "--overwrite")
    assert ran.code == 3
    assert "nothing was changed" in ran.err
    assert sorted(path.name for path in tmp_path.iterdir()) == before
    if existing:
        assert target.read_bytes() == existing


def test_acceptance_lists_the_defects_and_explains_the_sign(visit: Path) -> None:
    ran = run("acceptance", visit)
    assert ran.code == 0, ran.err
    text = " ".join(ran.out.split())
    assert (
        "9 clips, rope 1: clip 2 from the socket 12.0 d (OUTSIDE at most 8.0 d by "
        "exam-4d-8d)" in text
    )
    assert "16 runby: runby now -101.6 mm (OUTSIDE at least 152.4 mm)" in text
    assert "runby wanted 558.8 mm" in text  # 22 in
    assert "Could not be seen: 18 overtravel" in text
    assert "4 in early is -4 in" in text


def test_acceptance_as_json_has_defects_and_figures(visit: Path) -> None:
    document = run("acceptance", visit, "--json").document
    assert document["command"] == "acceptance"
    assert {d["item"] for d in document["defects"]} >= {"clips", "runby"}
    runby = next(i for i in document["items"] if i["name"] == "runby")
    taken = next(f for f in runby["figures"] if "take out" in f["label"])
    assert taken["value"] == pytest.approx(22 * 0.0254)
    assert document["could_not_see"] == ["overtravel"]


def test_acceptance_needs_a_record_or_the_blank_form() -> None:
    assert run("acceptance").code == 2


def test_a_sealed_record_is_verified_and_a_change_is_thirteen(visit: Path) -> None:
    sealed = run("seal", visit, "--json")
    assert sealed.code == 0
    ran = run("verify", visit)
    assert ran.code == 0
    assert sealed.document["sha256"] in ran.out
    assert "not authorship" in " ".join(ran.out.split())
    record = visit / "visit.toml"
    text = record.read_text(encoding="utf-8")
    record.write_text(text.replace("broken = 9", "broken = 4"), encoding="utf-8")
    ran = run("verify", visit)
    assert ran.code == 13
    assert "- broken = 9" in ran.out
    assert "+ broken = 4" in ran.out
    document = run("verify", visit, "--json").document
    assert document["same"] is False
    assert [c["path"] for c in document["changes"]] == ["visit.toml"]


def test_a_correction_is_named_reasoned_and_accepted(visit: Path) -> None:
    assert run("seal", visit).code == 0
    record = visit / "visit.toml"
    text = record.read_text(encoding="utf-8")
    record.write_text(text.replace("broken = 9", "broken = 8"), encoding="utf-8")
    assert run("seal", visit, "--correct", "--reason", "miscounted").code == 3
    ran = run("seal", visit, "--correct", "--by", "R. Calder", "--reason", "miscounted")
    assert ran.code == 0, ran.err
    ran = run("verify", visit)
    assert ran.code == 0
    assert "by R. Calder: miscounted" in ran.out


def test_a_reason_is_told_as_it_was_typed(visit: Path) -> None:
    run("seal", visit)
    why = ("--text", "words", "--reason", "a | b\\n, {{ c }}\nd")
    ran = run("seal", visit, "--correct", "--by", "R. Calder", *why)
    assert ", by R. Calder: a | b\\n, {{ c }} d." in " ".join(ran.out.split())


def test_words_of_a_correction_go_with_correct(visit: Path) -> None:
    assert run("seal", visit, "--by", "R. Calder").code == 2


def test_a_record_that_can_no_longer_be_read_is_a_change(visit: Path) -> None:
    assert run("seal", visit).code == 0
    (visit / "visit.toml").write_bytes(b"\xff\xfe not a record")
    assert run("verify", visit).code == 13


def test_verify_without_a_seal_and_seal_twice_are_told(visit: Path) -> None:
    ran = run("verify", visit)
    assert ran.code == 3
    assert "tension seal" in ran.err
    assert run("seal", visit).code == 0
    assert run("seal", visit).code == 3


def test_reports_and_assessments_do_not_disturb_a_seal(
    memos: Path, tmp_path: Path
) -> None:
    assert run("seal", memos).code == 0
    assert run("assess", memos).code == 10
    ran = run("report", memos, "-o", tmp_path / "evidence.html")
    assert ran.code == 0
    assert run("verify", memos).code == 0
    page = (tmp_path / "evidence.html").read_text(encoding="utf-8")
    assert "Everything is as it was sealed" in page


@pytest.mark.slow
def test_every_changed_byte_of_the_sealed_demo_is_found(memos: Path) -> None:
    from tension.workflow.integrity import verify

    assert run("seal", memos).code == 0
    record = memos / "visit.toml"
    names = named_files(read_visit(record))
    files = {
        name: (memos / name).read_bytes()
        for name in ("visit.toml", "visit.seal.toml", *names)
    }
    places = np.cumsum([len(content) for content in files.values()])
    generator = np.random.default_rng(5)
    for place in generator.integers(0, places[-1], size=1000):
        which = int(np.searchsorted(places, place, side="right"))
        name = list(files)[which]
        index = int(place - (places[which - 1] if which else 0))
        content = bytearray(files[name])
        content[index] ^= int(generator.integers(1, 256))
        (memos / name).write_bytes(bytes(content))
        changes = verify(record).changes
        assert name in {change.path for change in changes}, (name, index)
        (memos / name).write_bytes(files[name])
    assert run("verify", memos).code == 0


def test_trimming_says_what_it_cannot_promise(memos: Path) -> None:
    ran = run("trim", memos, "--json")
    assert ran.code == 0, ran.err
    assert "guarantees nothing" in ran.document["claim"]
    names = [one["recording"] for one in ran.document["left_whole"]]
    names += [one["recording"] for one in ran.document["trimmed"]]
    assert len(names) == 6


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("report", "nowhere", "-o", "x.pdf"), "no such file"),
        (("seal", "nowhere"), "no such file"),
        (("trim", "nowhere"), "no such file"),
        (("acceptance", "nowhere"), "no such file"),
    ],
)
def test_a_record_that_is_not_there_is_told(
    words: tuple[str, ...],
    told: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    ran = run(*words)
    assert ran.code == 3
    assert told in ran.err
    assert list(tmp_path.iterdir()) == []


def test_an_allowance_table_of_ones_own_is_read_and_its_mistakes_told(
    visit: Path, tmp_path: Path
) -> None:
    record = visit / "visit.toml"
    text = record.read_text(encoding="utf-8")
    own = """[allowance]
file = "own.toml"
table = "house"
edition = "3"
page = "1"
confirmed_by = "R. Calder"
date = 2026-11-20
rope_class = "8x19"

[[allowance.figure]]
what = "one-or-two-strands"
breaks = 8

"""
    record.write_text(text.replace("[set]", own + "[set]", 1), encoding="utf-8")
    table = """format = 1
[[table]]
name = "house"
source = "house rule"
edition = "3"
[[table.breaks]]
rope_class = "8x*"
distribution = "one-or-two-strands"
breaks = {breaks}
"""
    (visit / "own.toml").write_text(table.format(breaks="8"), encoding="utf-8")
    assert run("report", visit, "-o", tmp_path / "a.html").code == 0
    page = (tmp_path / "a.html").read_text(encoding="utf-8")
    assert re.search(r"the figure typed allows up to 8: exceeds the allowance", page)
    (visit / "own.toml").write_text(table.format(breaks='"8"'), encoding="utf-8")
    ran = run("report", visit, "-o", tmp_path / "b.html")
    assert ran.code == 3
    assert (
        "own.toml: line 9: table 1, breaks 1, breaks: must be a whole number" in ran.err
    )


def test_a_kill_between_writing_and_naming_leaves_no_half_report(
    visit: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(atomic, "_give_name", stop)
    assert run("report", visit, "-o", tmp_path / "a.pdf").code != 0
    assert not (tmp_path / "a.pdf").exists()
    assert not list(tmp_path.glob("*.part"))


def test_a_report_with_another_rule_says_so_and_findings_follow_the_record(
    visit: Path, tmp_path: Path
) -> None:
    own, other = tmp_path / "own.html", tmp_path / "other.html"
    assert run("report", visit, "-o", own).code == 0
    assert run("report", visit, "-o", other, "--limit", "60 %").code == 0
    plain, changed = (p.read_text(encoding="utf-8") for p in (own, other))
    assert "NOT THE RECORD" not in plain
    assert "EQUAL (not by the record)" in changed
    assert changed.count("NOT THE RECORD") >= 3  # page one, its style sheet, the foot
    condition = re.compile(r"<h2>Condition of the ropes</h2>.*?</section>", re.DOTALL)
    assert condition.findall(plain) == condition.findall(changed) != []
    acceptance = re.compile(r"<h2>Acceptance after.*?</section>", re.DOTALL)
    one, two = (
        re.sub(r"<path.*?/>", "", acceptance.findall(p)[0]) for p in (plain, changed)
    )
    assert one == two


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        (("date = 2026-11-20", "date = 2131-01-01"), "lies in the future"),
        (('taken = "2026-11-20', 'taken = "1999-11-20'), "before the visit"),
    ],
)
def test_dates_that_cannot_be_are_told_when_sealing_and_in_the_report(
    visit: Path, tmp_path: Path, edit: tuple[str, str], told: str
) -> None:
    record = visit / "visit.toml"
    text = record.read_text(encoding="utf-8")
    assert edit[0] in text
    record.write_text(text.replace(*edit), encoding="utf-8")
    ran = run("seal", visit)
    assert ran.code == 0
    assert told in " ".join(ran.out.split())
    assert run("report", visit, "-o", tmp_path / "a.html").code == 0
    page = (tmp_path / "a.html").read_text(encoding="utf-8")
    assert told in page.partition('class="rest"')[0]


def test_a_table_confirmed_on_a_day_to_come_confirms_nothing(
    visit: Path, tmp_path: Path
) -> None:
    record = visit / "visit.toml"
    text = record.read_text(encoding="utf-8")
    allowance = """[allowance]
table = "tsg-t7001-5.1"
edition = "2023"
page = "12"
confirmed_by = "R. Calder"
date = 2131-01-01

[[allowance.figure]]
what = "one-or-two-strands"
breaks = 10

"""
    record.write_text(text.replace("[set]", allowance + "[set]", 1), encoding="utf-8")
    assert run("report", visit, "-o", tmp_path / "a.html").code == 0
    page = (tmp_path / "a.html").read_text(encoding="utf-8")
    assert "Not confirmed (2131-01-01 lies in the future); nothing is compared" in page
    record.write_text(
        record.read_text(encoding="utf-8").replace("2131", "2026"), "utf-8"
    )
    assert run("report", visit, "-o", tmp_path / "b.html").code == 0
    assert "allows up to 10: within" in (tmp_path / "b.html").read_text("utf-8")
