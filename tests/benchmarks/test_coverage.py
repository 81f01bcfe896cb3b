"""The coverage benchmark runs, judges by its own arithmetic, and prints its tables."""

import numpy as np
import pytest

from tension.catalogue.rules import Metric
from tests.benchmarks.coverage import Row, draw_set, main, simulate, true_spread


def test_truth_is_judged_by_plain_arithmetic() -> None:
    tensions = np.array([950.0, 1000.0, 1050.0])
    # 100/1050, 100/950, 50/1000, 100/1000
    wanted = [100 / 1050, 100 / 950, 0.05, 0.10]
    assert [true_spread(tensions, m) for m in Metric] == pytest.approx(wanted)


def test_sets_are_drawn_alike_from_one_seed() -> None:
    first, second = (draw_set(np.random.default_rng(5)) for _ in range(2))
    assert first.readings == pytest.approx(second.readings, rel=1e-15)
    assert first.kind == second.kind


@pytest.mark.slow
def test_a_small_run_covers_and_is_hardly_ever_wrong() -> None:
    rows: list[Row] = simulate(60, 3)
    assert len(rows) == 60 * len(Metric)
    # 60 sets at 95 %: four standard errors are 11 points
    assert np.mean([row.covers for row in rows]) > 0.84
    assert np.mean([row.is_wrong for row in rows]) < 0.05


def test_the_tables_are_markdown(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--sets", "12", "--seed", "2"]) == 0
    printed = capsys.readouterr().out
    assert "### By metric" in printed
    assert printed.count("|---|") >= 5
    assert "12 simulated sets, 0 of them left out" in printed
