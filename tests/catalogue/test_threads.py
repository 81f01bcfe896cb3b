"""Coarse threads: the printed pitches."""

import pytest

from tension.catalogue import Standing
from tension.catalogue.threads import find_thread_pitch, thread_pitches
from tests.reference.tables import read_table

PRINTED = read_table("metric_threads.csv")


@pytest.mark.parametrize("row", PRINTED, ids=lambda row: row["size"])
def test_a_pitch_is_as_printed(row: dict[str, str]) -> None:
    found = find_thread_pitch(row["size"])
    assert found is not None
    assert found.pitch == pytest.approx(1e-3 * float(row["pitch_mm"]), rel=1e-12)
    assert found.standing is Standing.SEEN


def test_only_printed_pitches_are_said_to_be_seen() -> None:
    printed = {row["size"] for row in PRINTED}
    for row in thread_pitches():
        assert (row.standing is Standing.SEEN) == (row.size in printed)


def test_an_unknown_size_has_no_pitch() -> None:
    assert find_thread_pitch("M15") is None
