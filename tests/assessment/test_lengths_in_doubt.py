"""Bounds while lengths are not known: the same set under every metric."""

from dataclasses import replace

import numpy as np
import pytest

from tension.assessment.interval import Spread
from tension.catalogue.rules import Metric
from tension.measurement.rope_figures import LengthKnowledge
from tests.synthesis.measured_sets import RULE, assessed

NEAR = [5000.0, 4900.0, 5100.0, 4950.0]
FAR = [5000.0, 3200.0, 5300.0, 4900.0]


def spread(
    metric: Metric, lengths: LengthKnowledge, tensions: list[float] = NEAR
) -> Spread:
    rule = replace(RULE, metric=metric, limit=0.1)
    return assessed(tensions, rule=rule, lengths=lengths, is_absolute=False).spread


@pytest.mark.parametrize("tensions", [NEAR, FAR])
def test_above_the_lowest_follows_from_below_the_highest(tensions: list[float]) -> None:
    # (max - min)/min = 1/(1 - (max - min)/max) - 1, whatever the lengths are
    below = spread(Metric.BELOW_HIGHEST, LengthKnowledge.UNKNOWN, tensions)
    above = spread(Metric.ABOVE_LOWEST, LengthKnowledge.UNKNOWN, tensions)
    assert below.upper is not None
    assert above.upper is not None
    assert above.upper == pytest.approx(1 / (1 - below.upper) - 1, rel=2e-3)
    assert below.lower is not None
    assert above.lower == pytest.approx(1 / (1 - below.lower) - 1, rel=2e-3)
    assert (below.lower > 0.1) is (tensions is FAR)


@pytest.mark.parametrize("metric", Metric)
def test_doubt_about_lengths_only_widens(metric: Metric) -> None:
    known = spread(metric, LengthKnowledge.ONE_HEIGHT)
    doubted = spread(metric, LengthKnowledge.UNKNOWN)
    assert doubted.lower is not None
    assert doubted.upper is not None
    assert known.lower is not None
    assert known.upper is not None
    assert 0.0 <= doubted.lower <= known.lower
    assert doubted.upper >= known.upper
    assert np.isfinite(doubted.upper)
