"""Additions in any order, a few; `python -m tests.machine.adding` makes more."""

from pathlib import Path

import pytest

from tests.machine.adding import check_sequence


@pytest.mark.parametrize("seed", range(10))
def test_nothing_is_lost_and_order_changes_nothing(seed: int, tmp_path: Path) -> None:
    assert check_sequence(seed, tmp_path) >= 4
