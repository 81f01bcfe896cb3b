"""The blank page for the car top: everything on it, nothing over anything else."""

from itertools import combinations

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from tension.errors import InvalidValueError
from tension.figures.canvas import figure_bytes
from tension.figures.sheet import Paper, draw_sheet
from tension.wording import Terms


def drawn(
    n_ropes: int,
    paper: Paper = Paper.A4,
    *,
    lift: str = "",
    terms: Terms = Terms.EUROPE,
) -> Figure:
    figure = Figure()
    draw_sheet(figure, n_ropes=n_ropes, paper=paper, lift=lift, terms=terms)
    return figure


def words(figure: Figure) -> str:
    return " ".join(text.get_text() for text in figure.axes[0].texts)


@pytest.mark.parametrize("terms", list(Terms))
@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("n_ropes", [1, 2, 6, 7, 12])
def test_all_words_are_on_the_page_and_none_lies_over_another(
    n_ropes: int, paper: Paper, terms: Terms
) -> None:
    figure = drawn(n_ropes, paper, lift="W" * 90, terms=terms)
    figure.draw_without_rendering()
    boxes = [text.get_window_extent() for text in figure.axes[0].texts]
    page = figure.bbox
    for box in boxes:
        assert page.x0 < box.x0
        assert box.x1 < page.x1
        assert page.y0 < box.y0
        assert box.y1 < page.y1
    for one, other in combinations(boxes, 2):
        assert not one.overlaps(other), (one, other)


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("n_ropes", list(range(1, 13)))
def test_all_lines_stand_within_the_margins(n_ropes: int, paper: Paper) -> None:
    figure = drawn(n_ropes, paper)
    axes = figure.axes[0]
    ends = np.concatenate([np.asarray(line.get_xydata()) for line in axes.lines])
    bottom, right = axes.get_ylim()[0], axes.get_xlim()[1]
    assert ends.min() >= 9.5
    assert ends[:, 0].max() <= right - 9.5
    assert ends[:, 1].max() <= bottom - 9.5


@pytest.mark.parametrize("paper", list(Paper))
def test_rows_are_high_enough_to_write_in(paper: Paper) -> None:
    axes = drawn(12, paper).axes[0]
    lines = [np.asarray(line.get_xydata()) for line in axes.lines]
    flat = [ends for ends in lines if ends[0, 1] == ends[1, 1] and ends[0, 0] < 11]
    gaps = np.diff(sorted({ends[0, 1] for ends in flat}))
    # most of the lines from the left margin are the rows of the two tables
    assert np.median(gaps) >= 5.6 - 1e-6


@pytest.mark.parametrize("n_ropes", [2, 5, 12])
def test_every_rope_has_a_row_in_both_tables_and_a_circle(n_ropes: int) -> None:
    figure = drawn(n_ropes)
    texts = [text.get_text() for text in figure.axes[0].texts]
    for number in range(1, n_ropes + 1):
        assert texts.count(str(number)) == 2
    circles = [patch for patch in figure.axes[0].patches if isinstance(patch, Circle)]
    assert len(circles) == n_ropes
    for one, other in combinations(circles, 2):
        (x0, y0), (x1, y1) = one.center, other.center
        assert (x1 - x0) ** 2 + (y1 - y0) ** 2 > (2 * one.radius) ** 2


@pytest.mark.parametrize(
    "word",
    [
        "free length",
        "stagger",
        "take up",
        "ease",
        "groove",
        "round A 1 to 6",
        "round B 6 to 1",
        "AS FOUND",
        "AS LEFT",
        "TURNS",
        "spring",
        "car position",
        "arrived",
        "load in car",
        "people on car",
        "time",
        "side",
        "signature",
        "witness",
        "Never slacken a rope fully",
        "stop switch",
        "condemns no rope",
    ],
)
def test_the_page_asks_for_what_the_record_needs(word: str) -> None:
    shown = " ".join(words(drawn(6)).split())
    assert word in shown


def test_no_place_of_a_trade_word_is_left_open() -> None:
    for terms in Terms:
        assert "[[" not in words(drawn(4, terms=terms))
    assert "elevator" in words(drawn(4, terms=Terms.NORTH_AMERICA))


def test_the_page_is_as_large_as_the_paper() -> None:
    # ISO 216: 210 mm by 297 mm; US letter: 8.5 in by 11 in
    width, height = drawn(4).get_size_inches() * 25.4
    assert (width, height) == pytest.approx((210, 297), abs=0.01)
    assert tuple(drawn(4, Paper.LETTER).get_size_inches()) == pytest.approx((8.5, 11))


def test_the_page_is_black_and_white() -> None:
    figure = drawn(6)
    assert {line.get_color() for line in figure.axes[0].lines} == {"black"}
    assert {text.get_color() for text in figure.axes[0].texts} == {"black"}


def test_a_name_is_printed_as_typed() -> None:
    name = r"Lift $2$ \alpha {x}"
    assert name in words(drawn(2, lift=name))
    assert figure_bytes(drawn(2, lift=name), "pdf") == figure_bytes(
        drawn(2, lift=name), "pdf"
    )


@pytest.mark.parametrize("n_ropes", [0, 13])
def test_a_set_that_does_not_fit_is_refused(n_ropes: int) -> None:
    with pytest.raises(InvalidValueError, match=f"1 to 12 ropes, not {n_ropes}"):
        drawn(n_ropes)
