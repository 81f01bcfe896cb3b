"""The blank page for the car top: everything on it, nothing over anything else."""

import io
import re
from itertools import combinations, pairwise
from xml.etree import ElementTree as ET

import pytest
from pypdf import PageObject, PdfReader

from tension.errors import InvalidValueError
from tension.report.layouts import blank_sheet
from tension.telling.page import Paper
from tension.wording import Terms

MILLIMETRE = 72 / 25.4


def sheet(
    n_ropes: int,
    paper: Paper = Paper.A4,
    *,
    lift: str = "",
    terms: Terms = Terms.EUROPE,
    kind: str = "pdf",
) -> bytes:
    return blank_sheet(kind, n_ropes=n_ropes, paper=paper, lift=lift, terms=terms)


def only_page(content: bytes) -> PageObject:
    reader = PdfReader(io.BytesIO(content))
    assert len(reader.pages) == 1
    return reader.pages[0]


def words(content: bytes) -> str:
    return " ".join(only_page(content).extract_text().split())


def placed(content: bytes) -> list[tuple[str, float, float]]:
    """Every piece of text with its place from the left and the lower edge [mm]."""
    found: list[tuple[str, float, float]] = []

    def see(text: str, cm: list[float], tm: list[float], *_: object) -> None:
        if text.strip():
            x = cm[0] * tm[4] + cm[2] * tm[5] + cm[4]
            y = cm[1] * tm[4] + cm[3] * tm[5] + cm[5]
            found.append((text.strip(), x / MILLIMETRE, y / MILLIMETRE))

    only_page(content).extract_text(visitor_text=see)
    return found


@pytest.mark.parametrize("terms", list(Terms))
@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("n_ropes", [1, 2, 6, 7, 12])
def test_all_words_are_on_the_one_page_within_its_margins(
    n_ropes: int, paper: Paper, terms: Terms
) -> None:
    content = sheet(n_ropes, paper, lift="W" * 90, terms=terms)
    height, width = ((297, 210), (279.4, 215.9))[paper is Paper.LETTER]
    texts = placed(content)
    assert len(texts) > 40
    for text, x, y in texts:
        assert 9.5 < x < width - 9.5, text
        assert 9.5 < y < height - 9.5, text
    for (one, x0, y0), (other, x1, y1) in combinations(texts, 2):
        # on one line, or a line's height apart
        assert abs(y0 - y1) < 0.1 or abs(y0 - y1) > 0.9 or abs(x0 - x1) > 5, (
            one,
            other,
        )
    assert "witness" in words(content)


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("n_ropes", [2, 8, 12])
def test_rows_are_high_enough_to_write_in(n_ropes: int, paper: Paper) -> None:
    texts = placed(sheet(n_ropes, paper))
    for first, second in pairwise(range(1, n_ropes + 1)):
        upper, lower = (
            [y for text, x, y in texts if text == str(number) and x < 25]
            for number in (first, second)
        )
        assert len(upper) == len(lower) == 2  # a row of each table
        gaps = [one - other for one, other in zip(upper, lower, strict=True)]
        assert min(gaps) >= 5.6
        assert max(gaps) <= 11.1


def circles(content: bytes) -> list[tuple[float, float, float]]:
    """Left edge, upper edge and diameter of every circle. [pt]."""
    drawing = ET.fromstring(content)  # noqa: S314 - our own drawing
    parents = {child: parent for parent in drawing.iter() for child in parent}
    found = []
    for one in drawing.iter("{http://www.w3.org/2000/svg}path"):
        if one.get("stroke-width") == "0.8":
            x = y = 0.0
            place: ET.Element | None = one
            while place is not None:
                moved = re.match(r"translate\(([^)]*)\)", place.get("transform", ""))
                across, *down = moved[1].split() if moved else ("0",)
                x, y = x + float(across), y + float(down[0] if down else 0)
                place = parents.get(place)
            size = re.match(r"M 0 0m 0 ([0-9.]+)c", one.get("d", ""))
            assert size is not None
            found.append((x, y, 2 * float(size[1])))
    return found


@pytest.mark.parametrize("n_ropes", [1, 2, 5, 12])
def test_every_rope_has_a_circle_that_touches_no_other(n_ropes: int) -> None:
    drawn = circles(sheet(n_ropes, kind="svg"))
    assert len(drawn) == n_ropes
    for (x0, y0, size), (x1, y1, _) in combinations(drawn, 2):
        assert (x1 - x0) ** 2 + (y1 - y0) ** 2 > size**2
    assert all(x + size < (210 - 9.5) * MILLIMETRE for x, _, size in drawn)


@pytest.mark.parametrize(
    "word",
    [
        *("free length", "stagger", "take up", "ease", "groove"),
        *("round A 1 to 6", "round B 6 to 1", "AS FOUND", "AS LEFT", "TURNS"),
        *("spring", "car position", "arrived", "load in car", "people on car"),
        *("time", "side", "signature", "witness"),
        *("Never slacken a rope fully", "stop switch", "condemns no rope"),
    ],
)
def test_the_page_asks_for_what_the_record_needs(word: str) -> None:
    assert word in words(sheet(6))


def test_no_place_of_a_trade_word_is_left_open() -> None:
    for terms in Terms:
        assert "[[" not in words(sheet(4, terms=terms))
    assert "elevator" in words(sheet(4, terms=Terms.NORTH_AMERICA))


def test_the_page_is_as_large_as_the_paper() -> None:
    # ISO 216: 210 mm by 297 mm; US letter: 8.5 in by 11 in
    a4, letter = (only_page(sheet(4, paper)).mediabox for paper in Paper)
    assert (a4.width, a4.height) == pytest.approx((595.276, 841.89), abs=0.01)
    assert (letter.width, letter.height) == pytest.approx((612, 792))


def test_the_page_is_black_and_white() -> None:
    drawing = sheet(6, kind="svg").decode()
    assert set(re.findall(r'(?:fill|stroke)="(.*?)"', drawing)) <= {
        *("none", "#000000", "#ffffff"),
    }


def test_a_name_is_printed_as_typed_and_alike_each_time() -> None:
    name = r"Lift $2$ \alpha {x} #v"
    assert name in words(sheet(2, lift=name))
    assert sheet(2, lift=name) == sheet(2, lift=name)


def test_the_page_is_drawn_as_a_picture_too() -> None:
    assert sheet(3, kind="png").startswith(b"\x89PNG")
    assert sheet(3, kind="svg").startswith(b"<svg")


@pytest.mark.parametrize("n_ropes", [0, 13])
def test_a_set_that_does_not_fit_is_refused(n_ropes: int) -> None:
    with pytest.raises(InvalidValueError, match=f"1 to 12 ropes, not {n_ropes}"):
        sheet(n_ropes)
