"""Most tests of a report are about its words: a picture of each size is drawn once."""

from collections.abc import Callable, Iterator

import pytest

from tension.figures import canvas, shares

_draw = canvas.drawn_svg
_drawn: dict[tuple[float, float], str] = {}


def _drawn_once(draw: Callable[..., None], size: tuple[float, float]) -> str:
    """The first picture of this size, whatever it shows."""
    if size not in _drawn:
        _drawn[size] = _draw(draw, size)
    return _drawn[size]


@pytest.fixture(scope="module", autouse=True)
def _one_picture_of_a_size() -> Iterator[None]:
    """What pictures show is held by the tests of figures."""
    with pytest.MonkeyPatch.context() as changed:
        changed.setattr(shares, "drawn_svg", _drawn_once)
        yield
