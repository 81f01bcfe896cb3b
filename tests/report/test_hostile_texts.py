"""Sixty hostile texts through PDF and HTML: none runs, is lost or breaks out."""

import io
import re
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from pypdf import PdfReader

from tension.measurement.readings import Exclusion
from tension.report import content
from tension.report.content import build_report
from tension.report.layouts import report_html, report_pdf
from tension.report.visible import readable_marks, visible
from tension.telling.page import Paper, Picture
from tests.report.hostile_texts import HOSTILE
from tests.synthesis.made_evidence import made_evidence

pytestmark = pytest.mark.slow

PICTURE = Picture(
    svg='<svg xmlns="http://www.w3.org/2000/svg" width="340" height="100">'
    '<path d="M0 0h340v100h-340z" fill="#ddd"/></svg>',
    alt="a stand-in",
    height=50.0,
)


class _Reader(HTMLParser):
    """Text and tags of a page."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.attributes: list[str] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [name for name, _ in attrs]

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def tables_of_every_page(page: _Reader) -> int:
    """Tables, without that of all series and that of what exceeds a table confirmed.

    A name without a letter confirms none.
    """
    captions = " ".join(page.texts)
    some = ("All series", "Exceeds what the confirmed table allows")
    return page.tags.count("table") - sum(map(captions.count, some))


def squeezed(text: str) -> str:
    """A text without spaces and line ends, as layouts may change those."""
    return re.sub(r"\s+", "", text)


def test_there_are_sixty_of_them() -> None:
    assert len(HOSTILE) == len(set(HOSTILE)) == 60


@pytest.mark.parametrize("number", range(60))
def test_html_shows_a_hostile_text_whole_and_as_text(number: int) -> None:
    text = HOSTILE[number]
    page = report_html(build_report(made_evidence(text)))
    reader = _Reader()
    reader.feed(page)
    reader.close()
    plain = _Reader()
    plain.feed(report_html(build_report(made_evidence("ordinary"))))
    plain.close()
    assert set(reader.tags) == set(plain.tags)
    assert set(reader.attributes) == set(plain.attributes)
    # the one of all series stands on the first page only where there is room
    tables, others = map(tables_of_every_page, (reader, plain))
    assert tables == others
    assert reader.tags.count("h2") == plain.tags.count("h2")
    shown = squeezed("\n".join(reader.texts))
    # particulars, instruments, notes of findings: at least six full places
    assert shown.count(squeezed(visible(text))) >= 6


def _undrawn(_: object, height: float = PICTURE.height) -> Picture:
    return replace(PICTURE, height=height)


@pytest.fixture(autouse=True)
def one_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw nothing anew: no text of a person comes into a figure."""
    for name in ("shares_picture", "runby_picture"):
        monkeypatch.setattr(content, name, _undrawn)


@pytest.mark.parametrize("number", range(60))
def test_pdf_shows_a_hostile_text_whole_and_as_text(number: int) -> None:
    text = HOSTILE[number]
    paper = Paper.LETTER if number % 2 else Paper.A4
    content = report_pdf(build_report(made_evidence(text)), paper)
    assert content.startswith(b"%PDF-")
    reader = PdfReader(io.BytesIO(content))
    n_pages = len(reader.pages)
    first = reader.pages[0].extract_text()
    assert "UNEQUAL" in first
    if any(character.isalnum() for character in text):  # else it confirms no table
        assert "Exceedswhattheconfirmedtableallows:1" in squeezed(first), (
            "a long text must not hide the outcome"
        )
    assert "Signature" in first, "the first page must hold all that belongs on it"
    assert "Who, when, with what" not in first
    for place in {0, n_pages // 2, n_pages - 1}:
        page = reader.pages[place].extract_text()
        assert f"Page {place + 1} of {n_pages}" in page
        assert "a3a3a3a3" in page
    assert_nothing_is_lost(text, paper)


def assert_nothing_is_lost(text: str, paper: Paper) -> None:
    """Every letter of a text is there at least as often as it must be.

    Scripts without a font on this computer cannot be read back.
    """
    evidence = made_evidence()
    visit = replace(
        evidence.visit,
        particulars=(("note", text), ("witness", text)),
        exclusions=(Exclusion(series="as found", reason=text, by=text),),
    )
    content = report_pdf(build_report(replace(evidence, visit=visit)), paper)
    pages = PdfReader(io.BytesIO(content)).pages
    whole = Counter("".join(page.extract_text() for page in pages))
    for letter, count in Counter(readable_marks(visible(text))).items():
        if letter.isascii() and not letter.isspace():
            assert whole[letter] >= 4 * count, letter


@pytest.mark.parametrize("text", [t for t in HOSTILE if len(t) < 300])
def test_what_is_made_visible_holds_nothing_that_hides(text: str) -> None:
    shown = visible(text)
    assert not re.search(
        r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", shown
    )
    assert visible(shown) == shown
