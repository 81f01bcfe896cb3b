import io

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.container import ErrorbarContainer
from matplotlib.figure import Figure

from tension.adjustment.comparison import Comparison, compare_series
from tension.adjustment.outcome import Plan, Strategy
from tension.adjustment.plan import plan_turns
from tension.adjustment.plan_basis import PlanRequest
from tension.adjustment.springs import SpringCheck, check_springs
from tension.figures.adjustment import (
    draw_as_found_as_left,
    draw_plan,
    draw_spring_loads,
)
from tension.installation import HitchPlace
from tension.measurement.readings import SpringReading
from tension.quantity.units import Dimension, UnitSystem
from tests.synthesis.measured_sets import assessed, hitch, quantity, rope_set

FOUR = [5300.0, 4850.0, 5150.0, 4700.0]
LEFT = [5020.0, 4990.0, 5010.0, 4980.0]


def drawn(figure: Figure) -> bytes:
    stream = io.BytesIO()
    figure.savefig(stream, format="png")
    return stream.getvalue()


def new_axes() -> tuple[Figure, Axes]:
    figure = Figure(layout="constrained")
    return figure, figure.add_subplot()


def error_bars(axes: Axes) -> list[ErrorbarContainer]:
    return [c for c in axes.containers if isinstance(c, ErrorbarContainer)]


def comparison() -> Comparison:
    outcome = compare_series(
        assessed(FOUR),
        assessed(LEFT),
        turns=(),
        request=PlanRequest(rope_set=rope_set(4)),
    )
    assert isinstance(outcome, Comparison)
    return outcome


def is_grey(figure: Figure) -> bool:
    from matplotlib.image import imread

    picture = imread(io.BytesIO(drawn(figure)))[..., :3]
    return bool(np.ptp(picture, axis=-1).max() < 0.02)


def test_both_series_stand_with_their_intervals() -> None:
    figure, axes = new_axes()
    draw_as_found_as_left(comparison(), axes)
    heights = [container.lines[0].get_ydata() for container in error_bars(axes)]
    assert np.allclose(heights[0], 100 * np.array(FOUR) / 5000)
    assert np.allclose(heights[1], 100 * np.array(LEFT) / 5000)
    assert axes.get_ylabel() == "Share / % of the mean"
    assert "as found: UNEQUAL, as left: EQUAL" in axes.get_title(loc="left")
    markers = {container.lines[0].get_marker() for container in error_bars(axes)}
    assert markers == {"o", "s"}
    assert is_grey(figure)


def test_nuts_stand_in_their_rows_with_words() -> None:
    outcome = plan_turns(
        assessed(FOUR),
        PlanRequest(
            rope_set=rope_set(4, hitches=(hitch(rows=((1, 3), (4, 2))),)),
            strategy=Strategy.KEEP_HEIGHT,
        ),
    )
    assert isinstance(outcome, Plan)
    figure, axes = new_axes()
    draw_plan(outcome, axes)
    texts = {text.get_text(): text.get_position() for text in axes.texts}
    assert "OUT 2 turns\n4.0 mm" in texts
    assert "IN 2 turns\n4.0 mm" in texts
    assert len(axes.patches) == 4
    by_number = {
        text.get_text(): text.get_position()
        for text in axes.texts
        if text.get_fontweight() == "bold"
    }
    assert by_number["1"][1] == by_number["3"][1] > by_number["4"][1]
    assert by_number["1"][0] < by_number["3"][0]
    filled = [patch.get_facecolor()[0] for patch in axes.patches]
    assert sorted(filled) == [0.0, 0.0, 1.0, 1.0]
    assert is_grey(figure)


@pytest.mark.parametrize("units", list(UnitSystem))
def test_spring_loads_stand_over_compression(units: UnitSystem) -> None:
    forces = np.array([5300.0, 4850.0, 5150.0, 4700.0, 5600.0, 4200.0])
    readings = tuple(
        SpringReading(
            series="as found",
            rope=i + 1,
            hitch=HitchPlace.CAR,
            lengths=(quantity(0.160 - force / 150e3, Dimension.LENGTH),),
        )
        for i, force in enumerate(forces)
    )
    check = check_springs(
        assessed(forces), readings, rope_set=rope_set(6), place=HitchPlace.CAR
    )
    assert isinstance(check, SpringCheck)
    figure, axes = new_axes()
    draw_spring_loads(check, axes, units)
    lines = [container.lines[0] for container in error_bars(axes)]
    across = [float(np.asarray(line.get_xdata())[0]) for line in lines]
    up = [float(np.asarray(line.get_ydata())[0]) for line in lines]
    inch, pound = (0.0254, 4.4482216) if units is UnitSystem.US else (1e-3, 1.0)
    assert np.allclose(across, forces / 150e3 / inch)
    assert np.allclose(up, forces / pound, rtol=1e-6)
    assert axes.get_xlabel().startswith("Compression")
    legend = axes.get_legend()
    assert legend is not None
    labels = [text.get_text() for text in legend.get_texts()]
    assert labels == ["slope of the set", "rate, typed"]
    assert is_grey(figure)
