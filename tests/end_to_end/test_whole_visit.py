"""A whole visit by commands alone, typed on a terminal."""

from pathlib import Path

import pytest

from tension.workflow.adjustment import compare_record, plan_record
from tension.workflow.assess import assess_record
from tests.end_to_end.pseudo_terminal import type_to
from tests.end_to_end.whole_visit import (
    CONVERSATION,
    DEMO,
    EXIT_CODES,
    KEYS_A_SECOND,
    PAGE,
    VISIT,
    bare_visit,
    page,
    type_visit,
)


def test_a_visit_takes_few_commands_and_little_typing() -> None:
    assert len(VISIT) <= 15
    assert sum(one.n_keys for one in VISIT) / KEYS_A_SECOND <= 120.0


@pytest.mark.slow
def test_a_visit_typed_on_a_terminal_gives_the_results_of_the_demo(
    tmp_path: Path,
) -> None:
    bare_visit(tmp_path)
    ran = type_visit(tmp_path)
    assert tuple(code for code, _ in ran) == EXIT_CODES
    assert page([screen for _, screen in ran]) == PAGE.read_text(encoding="utf-8"), (
        "run: python -m tests.end_to_end.whole_visit"
    )
    for series in ("as found", "as left"):
        typed = assess_record(tmp_path, series=series).assessment
        demo = assess_record(DEMO, series=series).assessment
        assert typed.shares == demo.shares
        assert typed.spread == demo.spread
        assert typed.verdict == demo.verdict
        assert typed.reason == demo.reason
    plans = [plan_record(one, series="as found").outcome for one in (tmp_path, DEMO)]
    # nuts were turned since: both ask for the series that was measured after
    assert plans[0] == plans[1]
    typed_changes, demo_changes = (
        compare_record(folder).outcome for folder in (tmp_path, DEMO)
    )
    assert getattr(typed_changes, "changes", 0) == getattr(demo_changes, "changes", 1)


@pytest.mark.slow  # the quick tests of start do it without a terminal
def test_the_conversation_goes_back_and_its_summary_is_corrected(
    tmp_path: Path,
) -> None:
    bare_visit(tmp_path)
    again = ("back", "Granary Wharf, goods lift 3", *CONVERSATION[2:-1])
    code, screen = type_to(
        ["start"],
        ["", "Granary Wharf", *again, "1", "Granary Wharf, goods lift 2", "99", ""],
        tmp_path,
        columns=50,
    )
    assert code == 0
    assert "a number from 1 to" in screen
    text = (tmp_path / "visit.toml").read_text(encoding="utf-8")
    assert '\nname = "Granary Wharf, goods lift 2"' in text
    assert max(map(len, screen.splitlines())) <= 110  # the answer follows a question
