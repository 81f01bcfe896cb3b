"""The drawing that explains the sign of a runby."""

import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from tension.figures.shares import draw_runby


def drawn(runby: float) -> tuple[list[str], list[float]]:
    """Texts, and the bottoms of car, counterweight and buffer."""
    figure = Figure()
    axes = figure.add_subplot()
    draw_runby(runby, axes)
    bottoms = [p.get_y() for p in axes.patches if isinstance(p, Rectangle)]
    return [text.get_text() for text in axes.texts], bottoms


@pytest.mark.parametrize(
    ("runby", "sign", "sentence"),
    [
        (0.45, "+", "space above the buffer"),
        (-0.1016, "−", "lands with the car so far below the landing"),
    ],
)
def test_the_sign_is_written_and_explained(
    runby: float, sign: str, sentence: str
) -> None:
    texts, _ = drawn(runby)
    assert sign in texts
    assert any(sentence in text for text in texts)
    assert any("shortening the ropes: runby +" in text for text in texts)


def test_early_landing_is_drawn_with_the_weight_down_and_the_car_low() -> None:
    car, weight, _ = drawn(0.45)[1]
    car_early, weight_early, _ = drawn(-0.1)[1]
    assert weight_early < weight
    assert car_early < car
