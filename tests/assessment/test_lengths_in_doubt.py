"""Bounds while lengths are not known: the same set under every metric."""

from dataclasses import replace

import numpy as np
import pytest

from tension.assessment.outcome import Spread
from tension.catalogue.rules import Metric
from tension.measurement.outcome import LengthKnowledge
from tests.synthesis.measured_sets import RULE, assessed

NEAR = [5000.0, 4900.0, 5100.0, 4950.0]


def spread(metric: Metric, lengths: LengthKnowledge) -> Spread:
    rule = replace(RULE, metric=metric, limit=0.1)
    return assessed(NEAR, rule=rule, lengths=lengths, is_absolute=False).spread


def test_above_the_lowest_follows_from_below_the_highest() -> None:
    # (max - min)/min = 1/(1 - (max - min)/max) - 1, whatever the lengths are
    below = spread(Metric.BELOW_HIGHEST, LengthKnowledge.UNKNOWN)
    above = spread(Metric.ABOVE_LOWEST, LengthKnowledge.UNKNOWN)
    assert below.upper is not None
    assert above.upper is not None
    assert above.upper == pytest.approx(1 / (1 - below.upper) - 1, rel=2e-3)


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
