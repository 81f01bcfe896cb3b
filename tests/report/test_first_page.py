"""What one page holds: enough for whoever must judge by it alone."""

import datetime as dt
import io
import re
from dataclasses import replace

import pytest
from pypdf import PdfReader

from tension.assessment.decide import Verdict
from tension.catalogue.allowances import find_allowance_table
from tension.catalogue.rules import find_rule
from tension.condition.chain import build_chain
from tension.condition.findings import Distribution, Finding, FindingKind, Seen
from tension.files.evidence import FileEvidence
from tension.files.seal import Change, ChangeKind, Correction, Seal, Verification
from tension.report import layouts
from tension.report.content import Evidence, build_report
from tension.report.layouts import first_that_fits, report_pdf
from tension.telling.page import (
    Banner,
    Blanks,
    Block,
    Bullets,
    Document,
    Grid,
    Pairs,
    Paper,
    Paragraph,
    Picture,
    Weight,
)
from tension.workflow.integrity import date_doubts
from tests.report.test_content import words
from tests.synthesis.made_evidence import made_evidence
from tests.synthesis.made_results import made_assessment


def with_findings(evidence: Evidence, findings: list[Finding]) -> Evidence:
    """The same record with other findings on twelve ropes."""
    rope_set = replace(evidence.visit.rope_set, n_ropes=12)
    visit = replace(evidence.visit, findings=tuple(findings), rope_set=rope_set)
    chain = build_chain(
        findings,
        rope_set=rope_set,
        assessments=evidence.recorded,
        allowance=visit.allowance,
        table=find_allowance_table("a17-style"),
    )
    return replace(evidence, visit=visit, chain=chain)


def broken(rope: int, count: int, place: str) -> Finding:
    return Finding(
        rope=rope,
        kind=FindingKind.BROKEN_WIRES,
        at=place,
        seen=Seen.YES,
        broken=count,
        distribution=Distribution.SPREAD,
    )


LONG = "long " * 60


def page(evidence: Evidence) -> str:
    """All words of the first page."""
    return words(build_report(evidence), first_page=True)


@pytest.mark.parametrize(
    ("n_over", "text"),
    [
        (13, ""),
        *(
            pytest.param(n_over, text, marks=pytest.mark.slow)
            for n_over in (0, 1, 6, 12, 13, 40)
            for text in ("", LONG)
            if (n_over, text) != (13, "")
        ),
    ],
)
def test_every_exceedance_is_on_the_first_page_or_their_number_and_the_worst(
    n_over: int, text: str
) -> None:
    findings = [
        broken(1 + n % 12, 33 + n, f"{text or 'place'} {n}") for n in range(n_over)
    ]
    findings += [broken(1 + n, 3, "") for n in range(12)]
    evidence = with_findings(made_evidence(text), findings)
    first = page(evidence)
    counts = [int(n) for n in re.findall(r"'(\d+) broken, ", first)]
    assert sorted(counts) == list(range(33 + max(n_over - 12, 0), 33 + n_over))
    assert (f"table allows: {n_over}" in first) is (n_over > 0)
    assert ("12 worst" in first) is (n_over > 12)
    for paper in Paper:
        pages = PdfReader(io.BytesIO(report_pdf(build_report(evidence), paper))).pages
        assert "Signature" in pages[0].extract_text()
        assert "Who, when, with what" in pages[1].extract_text()


@pytest.mark.parametrize("n_over", [0, 12])
def test_the_picture_of_the_shares_stays_where_it_fits(n_over: int) -> None:
    findings = [broken(1 + n % 12, 33 + n, f"place {n}") for n in range(n_over)]
    findings += [broken(1 + n, 3, "") for n in range(12)]
    document = build_report(with_findings(made_evidence(), findings))
    (picture,) = [b for b in document.first_page if isinstance(b, Picture)]
    assert picture.height >= 34.0
    for paper in Paper:
        first = PdfReader(io.BytesIO(report_pdf(document, paper))).pages[0]
        assert "Signature" in first.extract_text()


PARTS: tuple[Block, ...] = (
    Paragraph(text="two words and " * 9),
    Paragraph(text="strong " * 40, weight=Weight.STRONG),
    Paragraph(text="small " * 90, weight=Weight.SMALL),
    Bullets(items=("one", "an item that goes on " * 9)),
    Pairs(rows=(("Label", "value " * 40), ("Other", "value"))),
    Banner(words="UNEQUAL", below="below " * 30),
    Blanks(labels=("Name", "Date", "Signature")),
    Paragraph(text="長い" * 80 + "\ue000"),
)


@pytest.mark.parametrize("part", PARTS, ids=lambda part: type(part).__name__)
def test_what_is_said_to_fit_fits_and_one_part_more_does_not(part: Block) -> None:
    grid = Grid(caption="c", headers=("a", "b"), rows=(("1", "2"),), widths=(1.0, 2.0))
    picture = Picture(svg="", alt="", height=20.0)
    pages = [(picture, grid, *(part for _ in range(n))) for n in range(80, 0, -1)]
    chosen = first_that_fits(pages, "t", "s")
    assert 2 < len(chosen) < 82
    assert [fit_on_one_page(chosen, paper) for paper in Paper] == [True, True]
    assert not all(fit_on_one_page((*chosen, part), paper) for paper in Paper)


def fit_on_one_page(blocks: tuple[Block, ...], paper: Paper) -> bool:
    """Whether a document of these parts alone has one page."""
    document = Document(
        title="t", subject="s", first_page=blocks, sections=(), footer="f"
    )
    return len(PdfReader(io.BytesIO(report_pdf(document, paper))).pages) == 1


def test_what_fits_nowhere_is_given_with_the_least(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pages = [tuple([Paragraph(text="a")] * n) for n in (300, 200)]
    assert first_that_fits(pages, "t", "s") == pages[1]
    # without what lays out, the HTML holds everything
    monkeypatch.setattr(layouts, "find_spec", lambda _: None)
    assert first_that_fits(pages, "t", "s") == pages[0]


def by_another_rule(limit: float) -> Evidence:
    """The record's unequal set, printed with another limit."""
    evidence = made_evidence()
    own = evidence.recorded[0].rule
    rule = replace(own, limit=limit, changed_from=own.limit)
    printed = made_assessment(Verdict.EQUAL, rule=rule)
    return replace(evidence, assessments=(printed, evidence.assessments[1]))


@pytest.mark.slow
def test_another_rule_than_the_records_stands_on_page_one_and_on_every_page() -> None:
    evidence = by_another_rule(0.35)
    document = build_report(evidence)
    first = page(evidence)
    assert "EQUAL (not by the record)" in first
    assert "NOT THE RECORD'S RULE" in first
    assert "(house rule, 10 % below-highest) the set is UNEQUAL" in first
    assert "NOT THE RECORD'S RULE" in document.footer
    assert "changed to 35 %" in document.footer
    pages = PdfReader(io.BytesIO(report_pdf(document))).pages
    assert all("NOT THE RECORD'S RULE" in one.extract_text() for one in pages)
    plain = build_report(made_evidence())
    assert "NOT THE RECORD" not in words(plain) + plain.footer


def test_the_chain_follows_the_record_whatever_is_printed() -> None:
    first = page(by_another_rule(0.35))
    assert "Unequal tension on the set: counted by the inspector" in first
    assert "reduced once to up to 5 (unequal tension)" in first


SEAL = Seal(
    sealed="2026-11-20 18:02:11 +00:00",
    software="tension 0.1.0",
    rule="gb50310-2002-4.9.5: off-mean, 5 %",
    record="visit.toml",
    record_text="",
    files=(FileEvidence(path="visit.toml", n_bytes=1, sha256="a3" * 32),),
    sha256="5e" * 32,
)
SAME = Verification(seal=SEAL)
CHANGED = replace(
    SAME,
    changes=(
        Change(kind=ChangeKind.CHANGED, path="as-found/rope-1.m4a", text="changed"),
    ),
)


@pytest.mark.parametrize(
    ("verification", "says"),
    [
        (None, "NOT SEALED"),
        (SAME, "sealed 2026-11-20 18:02:11 +00:00; the same since, SHA-256 5e5e"),
        (CHANGED, "CHANGED since it was sealed 2026-11-20"),
        (replace(CHANGED, seal=None), "CHANGED since it was sealed: 1 differs: "),
    ],
)
def test_the_state_of_the_seal_is_on_the_first_page(
    verification: Verification | None, says: str
) -> None:
    assert says in page(replace(made_evidence(), verification=verification))


def test_corrections_of_rule_and_readings_are_on_the_first_page() -> None:
    rule = Correction(
        date="2026-11-21", by="R. Calder", reason="misread", rule="house: 8 %"
    )
    reading = Correction(
        date="2026-11-22",
        by="M. Adeyemi",
        reason="typing error",
        rule="house: 8 %",
        lines=('- force = "166 N"', '+ force = "165 N"', "  rope = 2"),
    )
    sealed = replace(SAME, corrections=(rule, reading))
    first = page(replace(made_evidence(), verification=sealed))
    assert "RULE changed to house: 8 % on 2026-11-21 by R. Calder (misread)" in first
    assert "2 lines of the record on 2026-11-22 by M. Adeyemi (typing error)" in first


def test_who_where_and_what_was_ordered_are_on_the_first_page() -> None:
    evidence = made_evidence()
    given = (
        *evidence.visit.particulars,
        ("address", "2 Granary Wharf"),
        ("car_number", "GL-2"),
        ("order", "new ropes"),
        ("order_date", "2026-11-21"),
    )
    first = page(replace(evidence, visit=replace(evidence.visit, particulars=given)))
    for told in (
        "Granary Wharf, goods lift 2; GL-2",
        "2 Granary Wharf",
        "2026-11-20; by R. Calder, lift inspector 4471",
        "M. Adeyemi",
        "new ropes; dated 2026-11-21",
    ):
        assert told in first, told


def test_address_and_order_stand_whole_where_there_is_room_and_end_at_a_word() -> None:
    order = "The six ropes are to be equalised and the record of it sent to the owner"
    given = (
        ("address", "Warehouse flats, 2 Granary Wharf, Quay Street, Invented Town"),
    )
    evidence = made_evidence()
    visit = replace(evidence.visit, particulars=(*given, ("order", order)))
    roomy = page(replace(evidence, visit=visit))
    assert given[0][1] in roomy
    assert f"{order}; dated" in roomy
    visit = replace(visit, particulars=(("order", " ".join([order] * 3)),))
    longer = page(replace(evidence, visit=visit))
    assert "to the owner The six ropes …; dated" in longer


def test_without_a_result_every_rope_to_be_measured_is_named() -> None:
    evidence = made_evidence()
    none = made_assessment(Verdict.NO_RESULT, measure_again=(1, 2, 3))
    first = page(replace(evidence, assessments=(none,), recorded=(none,)))
    assert "To be measured: ropes 1, 2, 3" in first


def test_an_allowance_halved_by_another_code_is_asked_for_on_the_first_page() -> None:
    evidence = made_evidence()
    shown = made_assessment(Verdict.UNEQUAL, rule=find_rule("gb50310-2002-4.9.5"))
    chain = build_chain(
        evidence.visit.findings,
        rope_set=evidence.visit.rope_set,
        assessments=(shown,),
        allowance=evidence.visit.allowance,
        table=find_allowance_table("a17-style"),
    )
    first = page(replace(evidence, chain=chain))
    assert first.count("(gb50310-2002-4.9.5): ask whether") == 1


def doubts(today: str = "2026-11-29", **edit: object) -> str:
    """What is said of the dates of a record."""
    visit = made_evidence().visit
    taken = edit.pop("taken", ("2026-11-20 10:12", "2026-11-20 11:40"))
    day = edit.pop("day", "2026-11-20")
    assert isinstance(taken, tuple)
    series = tuple(
        replace(one, taken=when) for one, when in zip(visit.series, taken, strict=True)
    )
    visit = replace(visit, series=series, particulars=(("date", str(day)),))
    sealed = Verification(**edit) if edit else None  # type: ignore[arg-type]
    told = date_doubts(visit, sealed, today=dt.date.fromisoformat(today))
    return " ".join(told)


@pytest.mark.parametrize(
    ("edit", "says"),
    [
        ({}, ""),
        ({"day": "2031-01-01"}, "the visit is dated 2031-01-01, which lies in the fut"),
        ({"taken": ("1999-01-01", "")}, '"as found" is dated 1999-01-01, before the v'),
        ({"taken": ("2027-01-01", "")}, '"as found" is dated 2027-01-01, after the vi'),
        ({"seal": SEAL}, ""),
        ({"seal": SEAL, "day": "2026-11-25"}, "the seal is dated 2026-11-20, before"),
        (
            {"taken": ("2026-11-20 10:12", "2026-11-20 09:40")},
            '"as left" stands after "as found" and was taken before it',
        ),
        (
            {
                "seal": SEAL,
                "corrections": (Correction(date="2026-10-01", by="a", reason="b"),),
            },
            "correction 1 is dated 2026-10-01, before what it corrects",
        ),
        ({"today": "2026-11-10"}, "the allowance is dated 2026-11-20, which lies"),
        ({"taken": ("half past ten", "later")}, ""),
    ],
)
def test_dates_that_cannot_be_are_told(edit: dict[str, object], says: str) -> None:
    told = doubts(**edit)  # type: ignore[arg-type]
    assert says in told
    assert bool(told) is bool(says)


def test_doubtful_dates_are_on_the_first_page() -> None:
    evidence = replace(made_evidence(), date_doubts=("the visit is dated 2031-01-01.",))
    assert "Dates: the visit is dated 2031-01-01." in page(evidence)
