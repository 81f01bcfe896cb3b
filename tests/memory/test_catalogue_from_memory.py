"""Values from memory: said to be so, and proving nothing."""

import pytest

from tension.catalogue import Standing
from tension.catalogue.rules import Metric, find_rule
from tension.catalogue.threads import find_thread_pitch

# Remembered from ASME B1.1, coarse inch threads, millimetres per turn.
INCH_THREADS = [("1/2", 1.954), ("5/8", 2.309), ("3/4", 2.540), ("7/8", 2.822)]


@pytest.mark.parametrize(("size", "pitch"), INCH_THREADS)
def test_remembered_inch_threads_agree(size: str, pitch: float) -> None:
    found = find_thread_pitch(size)
    assert found is not None
    assert 1e3 * found.pitch == pytest.approx(pitch, abs=0.0005)
    assert found.standing is Standing.MEMORY


# Remembered, texts not seen: ASME A17.1 8.6.4.1.3, GB/T 10060, mine friction hoists.
RULES = [
    ("a17.1-8.6.4.1.3", Metric.BELOW_HIGHEST, 0.10),
    ("gbt10060-mean", Metric.OFF_MEAN, 0.05),
    ("mine-friction-hoists", Metric.OFF_MEAN, 0.10),
]


@pytest.mark.parametrize(("name", "metric", "limit"), RULES)
def test_remembered_rules_say_that_they_are(
    name: str, metric: Metric, limit: float
) -> None:
    rule = find_rule(name)
    assert (rule.metric, rule.limit) == (metric, limit)
    assert rule.standing is Standing.MEMORY
