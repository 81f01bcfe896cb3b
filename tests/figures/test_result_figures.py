"""Figures of a result: readable in grey, with many plucks, without a length."""

from itertools import pairwise
from pathlib import Path

import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tension.figures.hearing import draw_decay, draw_spectrum, draw_wave
from tension.figures.shares import draw_shares
from tension.workflow.assess import assess_record, assess_recordings
from tension.workflow.listening import HeardFile, hear_file

DEMO = Path(__file__).resolve().parents[2] / "recordings_demo"


@pytest.fixture(scope="module")
def memo() -> HeardFile:
    """A memo of six ropes there and back, with 36 plucks."""
    order = (1, 2, 3, 4, 5, 6, 6, 5, 4, 3, 2, 1)
    return hear_file(DEMO / "one-memo" / "all-ropes.m4a", order=order, plucks_each=3)


def axes_of(figure: Figure) -> Axes:
    """The only axes of a new figure."""
    return figure.add_subplot()


@pytest.mark.slow
def test_decays_are_told_apart_by_their_lines_and_few(memo: HeardFile) -> None:
    axes = axes_of(Figure())
    draw_decay(memo.hearing, axes)
    # hum is drawn across; the partials of a rope are joined
    lines = [line for line in axes.get_lines() if line.get_marker() == "^"]
    assert 2 <= len(lines) <= 4
    assert len({line.get_linestyle() for line in lines}) == len(lines)
    assert {line.get_color() for line in lines} == {"black"}


def test_the_numbers_of_plucks_do_not_lie_over_each_other(memo: HeardFile) -> None:
    figure = Figure(figsize=(8.0, 3.0), layout="constrained")
    axes = axes_of(figure)
    draw_wave(memo.recording, memo.hearing, axes)
    figure.draw_without_rendering()
    boxes = [text.get_window_extent() for text in axes.texts]
    assert len(boxes) > 10
    for one, other in pairwise(boxes):
        assert one.x1 <= other.x0 + 1


def test_the_spectrum_shows_the_comb_and_not_the_emptiness(memo: HeardFile) -> None:
    axes = axes_of(Figure())
    draw_spectrum(memo.recording, memo.hearing, axes)
    low, high = axes.get_ylim()
    assert 30 < high - low < 120
    assert axes.get_xlim()[1] < 1000
    marked = [text for text in axes.texts if "▲" in text.get_text()]
    assert len(marked) >= 5
    assert all(text.get_position()[0] <= axes.get_xlim()[1] for text in marked)


def test_shares_have_no_bars_while_the_lengths_are_not_known() -> None:
    assessed = assess_recordings([DEMO / "six-memos" / "as-found"])
    axes = axes_of(Figure())
    draw_shares(assessed.assessment, axes)
    assert "lengths not known" in axes.get_title(loc="left")
    assert not axes.collections  # where error bars would be


def test_no_line_goes_through_the_value_of_a_share() -> None:
    assessed = assess_record(DEMO / "six-memos" / "visit.toml")
    figure = Figure(figsize=(6.8, 1.75), layout="constrained")
    axes = axes_of(figure)
    draw_shares(assessed.assessment, axes)
    figure.draw_without_rendering()
    edge = axes.transData.transform((0.0, 105.0))[1]
    struck = [one for one in axes.texts if one.get_window_extent().y0 < edge]
    struck = [one for one in struck if one.get_window_extent().y1 > edge]
    assert struck, "a share of 101 to 102 % stands at the edge of 5 % off the mean"
    assert all(one.get_path_effects() for one in struck)
