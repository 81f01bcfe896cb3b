"""Where a rising probability passes a level: how it is looked for, look by look."""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.stats import norm

from tension.assessment import interval
from tension.assessment.interval import _crossing


class Rising:
    """A probability by its normal quantile, which remembers where it was asked."""

    def __init__(self, quantile: Callable[[float], float]) -> None:
        self.quantile = quantile
        self.looks: list[float] = []

    def __call__(self, spread: float) -> float:
        self.looks.append(spread)
        return float(norm.cdf(self.quantile(spread)))


@pytest.mark.parametrize("level", [0.025, 0.5, 0.975])
def test_a_straight_line_is_found_by_the_first_secant(level: float) -> None:
    wanted = 0.3 + 0.1 * norm.ppf(level)
    rising = Rising(lambda s: (s - 0.3) / 0.1)
    found = _crossing(rising, (wanted - 0.15, wanted + 0.1), level=level)
    assert found == pytest.approx(wanted, rel=1e-9)
    assert rising.looks == pytest.approx([wanted + 0.1, wanted - 0.15, wanted])


def test_the_level_is_that_of_either_side_where_none_is_given() -> None:
    found = _crossing(Rising(lambda s: s - 5.0), (2.0, 4.0))
    assert found == pytest.approx(5.0 - 1.959964, abs=1e-6)


def test_steps_double_upwards_to_a_hundred_and_no_further() -> None:
    highs = [1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0]
    beyond = Rising(lambda s: -1.0 if s < 130.0 else 1.0)
    assert _crossing(beyond, (0.0, 1.0), level=0.5) == np.inf
    assert beyond.looks == highs
    last = Rising(lambda s: -1.0 if s < 120.0 else 1.0)
    assert _crossing(last, (0.0, 1.0), level=0.5) == pytest.approx(120.0, abs=0.13)
    assert last.looks[:9] == [*highs, 64.0]
    at_once = Rising(lambda s: -1.0 if s < 100.5 else 1.0)
    assert _crossing(at_once, (99.0, 100.0), level=0.5) < 101.0


def test_steps_double_downwards_to_nothing() -> None:
    near = Rising(lambda s: -1.0 if s < 0.25 else 1.0)
    found = _crossing(near, (0.9, 1.0), level=0.5)
    assert near.looks[:5] == pytest.approx([1.0, 0.9, 0.8, 0.6, 0.2])
    assert found == pytest.approx(0.25, abs=1e-3)
    never = Rising(lambda s: 0.01 * s)
    assert _crossing(never, (0.9, 1.0), level=0.5) == 0.0
    assert never.looks == pytest.approx([1.0, 0.9, 0.8, 0.6, 0.2, 0.0])


def test_a_bracket_of_nothing_is_a_millionth_wide() -> None:
    rising = Rising(lambda s: 1e4 * (s - 0.3) - 0.05)
    found = _crossing(rising, (0.3, 0.3), level=0.5)
    assert found == pytest.approx(0.300005, abs=1e-9)
    assert rising.looks[:4] == pytest.approx(
        [0.3, 0.300001, 0.300003, 0.300007], abs=1e-12
    )


@pytest.mark.parametrize(
    ("values", "looks"),
    [
        # the end that stays counts half from the second time on
        ({0.0: -1.0, 1.0: 3.0, 0.25: 1.0, 0.125: 0.5, 0.0625: 0.0}, 3),
        ({0.0: -3.0, 1.0: 1.0, 0.75: -1.0, 0.875: -0.5, 0.9375: 0.0}, 3),
        # and counts whole again after the other side
        ({0.0: -1.0, 1.0: 1.0, 0.5: 1.0, 0.25: -1.0, 0.375: 0.0}, 3),
        # no nearer to an end than a fiftieth
        ({0.0: -0.006, 1.0: 3.0, 0.02: 0.0}, 1),
        ({0.0: -3.0, 1.0: 0.006, 0.98: 0.0}, 1),
        # near enough is within five thousandths of a standard deviation
        ({0.0: -1.0, 1.0: 1.0, 0.5: 0.0049}, 1),
        ({0.0: -1.0, 1.0: 1.0, 0.5: -0.0049}, 1),
        ({0.0: -1.0, 1.0: 1.0, 0.5: 0.0051, 0.49: 0.0}, 2),
        ({0.0: -1.0, 1.0: 1.0, 0.5: -0.0051, 0.51: 0.0}, 2),
    ],
)
def test_the_secant_goes_where_it_does_on_paper(
    values: dict[float, float], looks: int
) -> None:
    places = np.array(list(values))

    def quantile(spread: float) -> float:
        nearest = float(places[np.abs(places - spread).argmin()])
        assert nearest == pytest.approx(spread, abs=1e-9)
        return values[nearest]

    rising = Rising(quantile)
    found = _crossing(rising, (0.0, 1.0), level=0.5)
    assert found == pytest.approx(list(values)[-1], abs=1e-9)
    assert len(rising.looks) == 2 + looks


def test_a_jump_is_enclosed_to_two_thousandths_of_the_bracket() -> None:
    for place in (0.1234, 0.5, 0.8766):
        rising = Rising(lambda s, at=place: -1.0 if s < at else 1.0)  # type: ignore[misc]
        found = _crossing(rising, (0.0, 1.0), level=0.5)
        inside = [s for s in rising.looks if s >= place]
        outside = [s for s in rising.looks if s < place]
        assert max(outside) < found < min(inside)
        assert min(inside) - max(outside) < 2e-3


def test_a_jump_that_never_narrows_is_left_after_twelve_looks() -> None:
    # all but at the lower end, with a weight that keeps the secant there
    rising = Rising(lambda s: -1e-2 if s <= 0.0 else 3.0)
    _crossing(rising, (0.0, 1.0), level=0.5)
    assert len(rising.looks) <= 2 + 12
    slow = Rising(lambda s: -3.0 if s < 0.999 else 0.0051)
    _crossing(slow, (0.0, 1.0), level=0.5)
    assert len(slow.looks) <= 2 + 12


@pytest.mark.parametrize(
    ("probability", "clipped"),
    [(0.0, 1e-4), (5e-5, 1e-4), (2e-4, 2e-4), (0.9998, 0.9998), (1.0, 1 - 1e-4)],
)
def test_a_score_is_a_normal_quantile_kept_finite(
    probability: float, clipped: float
) -> None:
    assert interval._score(probability) == pytest.approx(norm.ppf(clipped), rel=1e-9)
