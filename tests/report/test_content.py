"""What a report says, before and after layout."""

import ast
import io
import re
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

import tension.report
from tension.assessment.decide import Verdict
from tension.catalogue.allowances import find_allowance_table
from tension.condition.chain import Chain, build_chain
from tension.condition.findings import Allowance
from tension.files.evidence import FileEvidence
from tension.files.seal import Change, ChangeKind, Correction, Seal, Verification
from tension.quantity.units import Dimension
from tension.report.content import Evidence, build_report
from tension.report.layouts import plain_document, report_html, report_pdf
from tension.telling.condition import blank_acceptance
from tension.telling.numbers import typed_and_si, written
from tension.telling.page import Document, Grid, Manner, Paper
from tension.wording import Terms
from tests.synthesis.made_evidence import made_evidence
from tests.synthesis.made_results import length, made_assessment


def words(document: Document, *, first_page: bool = False) -> str:
    """All words of a report, or of its first page."""
    plain = plain_document(document)
    part = plain["first_page"] if first_page else plain
    return re.sub(r"'svg': '.*?</svg>\\n'", "", str(part))


def section(document: Document, heading: str) -> str:
    """All words of one section."""
    found = plain_document(document)["sections"]
    assert isinstance(found, list)
    return str(next(s for s in found if s["heading"] == heading))


@pytest.fixture(scope="module")
def report() -> Document:
    return build_report(made_evidence())


def test_the_first_page_has_result_condition_rule_chain_and_signature(
    report: Document,
) -> None:
    page = words(report, first_page=True)
    for needed in (
        "UNEQUAL",
        "car side, top landing",
        "load not recorded",
        "house rule",
        "house rule of 2026, 1 (given by the user)",
        "Evidence: series",
        "Exceeds what the confirmed table allows: 1",
        "9 broken, mainly in one or two strands",
        "up to 10, reduced once to up to 5 (unequal tension)",
        "Ask: Unequal tension is shown by another rule than this table",
        "M. Adeyemi",
        "NOT SEALED",
        "Signature",
        "attaches to the report form of the authority",
        "made recordings and on strings that are no ropes",
    ):
        assert needed in page, needed


def test_every_reading_stands_as_typed_and_in_si(report: Document) -> None:
    readings = section(report, "Readings")
    for typed, si in (
        ("38 lbf, 37.5 lbf", "169.032 N, 166.808 N"),  # 4.4482216 N per lbf
        ("1 in", "25.4 mm"),
        ("4 ft 11 in", "1.4986 m"),
        ("5 returns in 0.354 s", "0.354 s"),
        ("112 mm", "112 mm"),
        ("as-found/rope-1.m4a", ""),
    ):
        assert typed in readings
        assert si in readings


def test_all_metrics_and_the_second_method_are_told(report: Document) -> None:
    results = section(report, "Results")
    for metric in ("below-highest", "above-lowest", "off-mean", "range-of-mean"):
        assert metric in results
    assert results.count("decides") == 2  # one per series
    assert "Second method: none" in results


def test_what_was_not_done_is_said(report: Document) -> None:
    told = section(report, "What was not done and what was left out")
    for needed in (
        "Counterweight side not measured",
        "Not measured at a second car position",
        "No second method",
        '"as left": load not recorded',
        "overtravel: could not be seen",
        "photos/rouge.jpg",
        "door slammed",
        "R. Calder",
    ):
        assert needed in told, needed


def test_as_found_stays_beside_as_left_and_the_turns(report: Document) -> None:
    assert "-1 1/4" in section(report, "As found and as left")
    assert "The state as found stays" in section(report, "Condition of the ropes")


def test_notes_stand_with_number_and_answer(report: Document) -> None:
    notes = section(report, "Notes and answers")
    assert "223" in notes
    assert "Phone moved away. (RC)" in notes


def test_files_trims_and_versions_are_listed(report: Document) -> None:
    files = section(report, "Files, seal and corrections")
    assert "0f" * 32 in files
    assert "7e" * 32 in files
    assert "guarantees nothing" in files
    assert "not sealed" in files
    program = section(report, "Program, settings, cautions")
    assert "0.1.0" in program
    assert "5 mm standard, the program's own figure" in program
    assert "stop switch to STOP" in program


def unconfirmed(evidence: Evidence) -> Chain:
    visit = evidence.visit
    return build_chain(
        visit.findings,
        rope_set=visit.rope_set,
        assessments=evidence.assessments,
        allowance=Allowance(table="a17-style"),
        table=find_allowance_table("a17-style"),
    )


def test_an_unconfirmed_table_prints_the_count_and_no_allowance() -> None:
    evidence = made_evidence()
    document = build_report(replace(evidence, chain=unconfirmed(evidence)))
    page = words(document, first_page=True)
    assert "Rope 4: 9 broken in one lay" in page
    assert "allowance not confirmed" in page
    assert "exceeds" not in page
    assert "the confirmed table" not in page


def test_cannot_tell_reduces_nothing_and_says_what_would_decide() -> None:
    evidence = made_evidence()
    visit = evidence.visit
    cannot = made_assessment(Verdict.CANNOT_TELL, measure_again=(3, 1))
    chain = build_chain(
        visit.findings,
        rope_set=visit.rope_set,
        assessments=(cannot,),
        allowance=visit.allowance,
        table=find_allowance_table("a17-style"),
    )
    text = words(build_report(replace(evidence, assessments=(cannot,), chain=chain)))
    assert "cannot tell: reduces nothing" in text
    assert "What would decide: measure rope 3 again" in text
    assert "reduced once" not in text


def test_a_changed_seal_a_correction_and_a_changed_rule_are_shown() -> None:
    evidence = made_evidence()
    seal = Seal(
        sealed="2026-11-20 18:02",
        software="tension 0.1.0",
        rule="gb50310-2002-4.9.5: off-mean, 5 %",
        record="visit.toml",
        record_text="",
        files=(FileEvidence(path="visit.toml", n_bytes=1, sha256="a3" * 32),),
        sha256="5e" * 32,
    )
    verification = Verification(
        changes=(
            Change(
                kind=ChangeKind.CHANGED,
                path="as-found/rope-1.m4a",
                text="as-found/rope-1.m4a: changed",
            ),
        ),
        seal=seal,
        corrections=(
            Correction(
                date="2026-11-21",
                by="R. Calder",
                reason="typing error",
                lines=('- limit = "5 %"', '+ limit = "8 %"'),
                rule="gb50310-2002-4.9.5: off-mean, 8 %, changed from 5 %",
            ),
        ),
    )
    files = section(
        build_report(replace(evidence, verification=verification)),
        "Files, seal and corrections",
    )
    for needed in (
        "CHANGED since it was sealed",
        "5e" * 32,
        "typing error",
        '+ limit = "8 %"',
        "off-mean, 8 %, changed from 5 %",
        "not authorship",
    ):
        assert needed in files, needed


def test_a_limit_changed_by_the_user_is_said_so() -> None:
    evidence = made_evidence()
    rule = replace(evidence.assessments[0].rule, limit=0.04, changed_from=0.05)
    one = made_assessment(Verdict.UNEQUAL, rule=rule)
    text = words(build_report(replace(evidence, assessments=(one,))), first_page=True)
    assert "5 % of the rule, changed to 4 % by the user" in text


def test_a_record_without_anything_is_a_report_too() -> None:
    evidence = made_evidence()
    empty = replace(
        evidence,
        visit=replace(
            evidence.visit,
            series=(),
            readings=(),
            findings=(),
            checks=(),
            turns=(),
            exclusions=(),
            instruments=(),
            answers=(),
            trims=(),
            particulars=(),
        ),
        assessments=(),
        acceptance=None,
        files=(),
    )
    chain = build_chain(
        (),
        rope_set=evidence.visit.rope_set,
        assessments=(),
        allowance=Allowance(),
        table=None,
    )
    document = build_report(replace(empty, chain=chain))
    assert "NO RESULT" in words(document, first_page=True)
    assert report_pdf(document).startswith(b"%PDF-")


def test_no_word_that_judges_people_or_releases_a_rope(report: Document) -> None:
    text = words(report).lower() + words(blank_acceptance()).lower()
    for word in ("dangerous", "certified", "passed", "failed"):
        assert word not in text
    assert not re.search(r"\bsafe\b", text)
    assert not re.search(r"\bpass\b", text)


def test_north_american_words_where_they_are_asked_for() -> None:
    evidence = made_evidence()
    text = words(build_report(evidence, Manner(terms=Terms.NORTH_AMERICA)))
    assert "elevator" in text
    assert "cotter pin" in text
    assert not re.search(r"\[\[[A-Za-z]", text)


@pytest.mark.parametrize(
    "paper", [Paper.A4, pytest.param(Paper.LETTER, marks=pytest.mark.slow)]
)
def test_the_pdf_is_tagged_named_numbered_and_the_same_each_time(
    report: Document, paper: Paper
) -> None:
    content = report_pdf(report, paper)
    assert content == report_pdf(build_report(made_evidence()), paper)
    assert len(content) < 2_000_000
    reader = PdfReader(io.BytesIO(content))
    size = reader.pages[0].mediabox
    expected = {Paper.A4: (595.276, 841.89), Paper.LETTER: (612.0, 792.0)}[paper]
    assert (float(size.width), float(size.height)) == pytest.approx(expected, abs=0.1)
    assert b"pdfuaid" in content  # the mark is only written after the maker's own check
    catalogue = reader.trailer["/Root"]
    assert "/StructTreeRoot" in catalogue
    assert not any(key in content for key in (b"/CreationDate", b"xmp:CreateDate"))
    for place, page in enumerate(reader.pages, start=1):
        text = page.extract_text()
        assert f"Page {place} of {len(reader.pages)}" in text
        assert "Record SHA-256 a3a3" in text


def test_the_first_page_is_one_page_on_both_papers(report: Document) -> None:
    for paper in Paper:
        pages = PdfReader(io.BytesIO(report_pdf(report, paper))).pages
        assert "Signature" in pages[0].extract_text()
        assert "Who, when, with what" in pages[1].extract_text()


def test_the_html_needs_nothing_from_elsewhere(report: Document) -> None:
    page = report_html(report)
    assert page == report_html(build_report(made_evidence()))
    assert not re.search(r'(src|href)\s*=\s*["\']?(https?:)?//', page)
    assert "<script" not in page
    assert 'scope="col"' in page
    assert 'role="img"' in page
    assert "a3a3" in page


def test_a_script_without_a_font_is_told_in_words() -> None:
    # a private character: no font has it
    evidence = made_evidence()
    visit = replace(evidence.visit, particulars=(("note", "\U000f1234"),))
    content = report_pdf(build_report(replace(evidence, visit=visit)))
    assert b"pdfuaid" not in content
    first = PdfReader(io.BytesIO(content)).pages[0].extract_text()
    assert "have no font on this computer" in first


def test_every_number_goes_through_one_function() -> None:
    # no other module of the room writes a number with a format of its own
    folder = Path(tension.report.__file__).parent
    for path in folder.glob("*.py"):
        text = path.read_text(encoding="utf-8")
        # numbers of characters, not of results; lines of the terminal alone
        if path.name in {"visible.py", "causes_text.py", "history_text.py"}:
            continue
        for node in ast.walk(ast.parse(text)):
            is_formatted = isinstance(node, ast.FormattedValue) and node.format_spec
            assert not is_formatted, f"{path.name}, line {getattr(node, 'lineno', 0)}"
        assert "round(" not in text, path.name
        if path.name != "numbers.py":
            assert "show_quantity" not in text, path.name
            assert "rounded_text" not in text, path.name


@pytest.mark.parametrize(
    ("value", "dimension", "uncertainty", "shown"),
    [
        (0.18234, Dimension.FRACTION, 0.0004, "18.2 %"),
        (0.18234, Dimension.FRACTION, 0.02, "18.2 %"),
        (2746.2, Dimension.FORCE, 137.0, "2750 N"),
        (None, Dimension.FORCE, None, "–"),
        (11.2987, Dimension.FREQUENCY, 0.012, "11.299 Hz"),
    ],
)
def test_numbers_are_rounded_to_what_is_known_of_them(
    value: float | None, dimension: Dimension, uncertainty: float | None, shown: str
) -> None:
    assert written(value, dimension, uncertainty=uncertainty) == shown


def test_what_was_typed_in_si_is_not_written_twice() -> None:
    for text in ("13 mm", "3.40 m", "+150 mm", "3,40 m"):
        assert typed_and_si(length(text)) == text
    assert typed_and_si(length("4 ft 11 in")) == "4 ft 11 in (1.499 m)"


def test_the_blank_form_has_every_item_and_room_for_answers() -> None:
    document = blank_acceptance()
    grid = next(b for b in document.first_page if isinstance(b, Grid))
    assert len(grid.rows) == 23
    content = report_pdf(document, Paper.LETTER)
    assert b"pdfuaid" in content
    first = PdfReader(io.BytesIO(content)).pages[0].extract_text()
    assert "23" in first
    assert "Signature" in first
