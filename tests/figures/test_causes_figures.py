"""What is drawn of causes and of visits over time, read back."""

import datetime as dt

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from tension.assessment.decide import RopeShare, Verdict
from tension.assessment.interval import Spread
from tension.catalogue.rules import Metric
from tension.diagnosis.diagnose import diagnose
from tension.diagnosis.outcome import Diagnosis
from tension.figures.shares import draw_causes, draw_pattern, draw_track
from tension.history import Life, Point, Role, Track
from tension.installation import Side
from tension.quantity.units import UnitSystem
from tension.wording import Terms
from tests.diagnosis.lifts import MEAN, condition, pattern


def xs(line: Line2D) -> list[float]:
    """Where a line or marker lies across."""
    return [float(x) for x in np.ravel(np.asarray(line.get_xdata(), dtype=float))]


def ys(line: Line2D) -> list[float]:
    """How high a line or marker lies."""
    return [float(y) for y in np.ravel(np.asarray(line.get_ydata(), dtype=float))]


DEVIATIONS = np.array([0.08, -0.05, 0.02, -0.05])


@pytest.fixture(scope="module")
def diagnosis() -> Diagnosis:
    taken = [
        (condition(0.0), DEVIATIONS),
        (condition(30.0, arrived="down"), 0.5 * DEVIATIONS),
        (condition(15.0, side=Side.COUNTERWEIGHT), -0.5 * DEVIATIONS),
    ]
    return diagnose(pattern(taken))


def test_a_rope_is_drawn_where_it_was_measured(diagnosis: Diagnosis) -> None:
    axes = Figure().add_subplot()
    draw_pattern(diagnosis, 2, axes, names=["first", "second"])
    marked = [line for line in axes.lines if line.get_marker() in {"^", "v"}]
    places = [(xs(line)[0], ys(line)[0]) for line in marked]
    known = [(0.0, -0.05), (30.0, -0.025), (15.0, 0.025)]
    for (x, y), (place, deviation) in zip(places, known, strict=True):
        assert x == pytest.approx(place)
        assert y == pytest.approx(MEAN * deviation)
    assert [line.get_marker() for line in marked] == ["^", "v", "^"]
    assert marked[2].get_markerfacecolor() == "white"
    assert axes.get_title(loc="left") == "Rope 2"


def test_models_are_drawn_through_the_travel(diagnosis: Diagnosis) -> None:
    axes = Figure().add_subplot()
    draw_pattern(diagnosis, 1, axes, names=["first", "second"])
    labels = axes.get_legend_handles_labels()[1]
    assert labels == ["first", "second"]
    curves = [line for line in axes.lines if len(xs(line)) > 2]
    assert {line.get_linestyle() for line in curves} >= {"-", "--"}
    assert all(xs(line)[-1] == pytest.approx(30.0) for line in curves)


def test_axes_carry_their_units(diagnosis: Diagnosis) -> None:
    for units, words in (
        (UnitSystem.SI, ("/ m", "/ N")),
        (UnitSystem.US, ("/ ft", "/ lbf")),
    ):
        figure = Figure()
        draw_causes(diagnosis, figure, units=units, terms=Terms.EUROPE)
        assert figure.get_supxlabel().endswith(words[0])
        assert figure.get_supylabel().endswith(words[1])


def point(weeks: float, role: Role, epoch: int, deviations: list[float]) -> Point:
    return Point(
        day=dt.date(2026, 1, 5) + dt.timedelta(weeks=weeks),
        record="visit.toml",
        series="a",
        role=role,
        epoch=epoch,
        side=Side.CAR,
        position="top",
        load="",
        shares=tuple(
            RopeShare(
                number=i + 1,
                share=1.0 + d,
                share_uncertainty=0.01,
                tension=None,
                tension_uncertainty=None,
            )
            for i, d in enumerate(deviations)
        ),
        spread=Spread(
            metric=Metric.BELOW_HIGHEST, observed=None, lower=None, upper=None
        ),
        verdict=Verdict.EQUAL,
        life=0,
    )


def test_as_found_and_as_left_differ_by_their_fill_and_settings_by_their_line() -> None:
    track = Track(
        life=Life(number=0, begun=None, visits=(0,)),
        side=Side.CAR,
        position="top",
        load="",
        points=(
            point(0, Role.FOUND, 0, [0.1, -0.1]),
            point(0, Role.LEFT, 1, [0.0, 0.0]),
            point(9, Role.ONLY, 1, [0.05, -0.05]),
        ),
        trends=(),
        returned=(),
        next_check=None,
    )
    axes = Figure().add_subplot()
    draw_track(track, "top", axes)
    marked = [line for line in axes.lines if line.get_marker() == "o"]
    assert [m.get_markerfacecolor() for m in marked[:3]] == ["white", "black", "0.7"]
    assert [ys(m)[0] for m in marked[:3]] == pytest.approx([10.0, 0.0, 5.0])
    joined = [line for line in axes.lines if len(xs(line)) == 2]
    drawn = [ys(line) for line in joined if line.get_marker() != "o"]
    assert [0.0, pytest.approx(5.0)] in drawn
    assert [pytest.approx(10.0), 0.0] not in drawn
    assert axes.get_ylabel() == "Deviation / % of the mean"
    assert {text.get_text() for text in axes.texts} == {"1", "2"}
    dates = [label.get_text() for label in axes.get_xticklabels()]
    assert dates == ["2026-01-05", "2026-03-09"]
