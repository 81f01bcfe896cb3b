"""Rules of equal tension: the printed figures, changes, misspelt names."""

import pytest

from tension.catalogue import Standing
from tension.catalogue.rules import Metric, changed, find_rule, rule_names
from tension.errors import InvalidValueError
from tests.reference.tables import read_table


@pytest.mark.parametrize(
    "row", read_table("equal_tension_rules.csv"), ids=lambda row: row["name"]
)
def test_a_rule_is_as_printed(row: dict[str, str]) -> None:
    rule = find_rule(row["name"])
    assert rule.limit == float(row["percent"]) / 100
    assert rule.metric is Metric(row["metric"])
    assert rule.standing is Standing.SEEN
    assert rule.source
    assert rule.edition


def test_only_printed_rules_are_said_to_be_seen() -> None:
    printed = {row["name"] for row in read_table("equal_tension_rules.csv")}
    for name in rule_names():
        is_seen = find_rule(name).standing is Standing.SEEN
        assert is_seen == (name in printed), name


def test_without_a_name_the_programs_own_rule_decides() -> None:
    rule = find_rule()
    assert (rule.metric, rule.limit) == (Metric.BELOW_HIGHEST, 0.10)
    assert rule.source == "the program's own figure; no code was named"
    assert rule.standing is Standing.PROGRAM
    assert find_rule("") == rule
    assert find_rule("program-default") == rule


def test_a_misspelt_name_is_told_with_the_nearest() -> None:
    with pytest.raises(InvalidValueError, match='did you mean "gb50310'):
        find_rule("gb50310-2002-495")
    with pytest.raises(InvalidValueError, match="there are program-default, "):
        find_rule("?")


def test_a_changed_limit_keeps_the_rule_and_what_it_was() -> None:
    rule = changed(find_rule("gb50310-2002-4.9.5"), limit=0.04)
    assert (rule.name, rule.limit) == ("gb50310-2002-4.9.5", 0.04)
    assert rule.changed_from == 0.05
    assert changed(rule, limit=0.03).changed_from == 0.05


def test_the_same_limit_is_no_change() -> None:
    rule = find_rule("gb50310-2002-4.9.5")
    assert changed(rule, limit=0.05) == rule
    assert changed(rule, metric=Metric.OFF_MEAN) == rule
    assert changed(rule) == rule


def test_another_metric_is_another_rule() -> None:
    rule = changed(find_rule("gb50310-2002-4.9.5"), metric=Metric.ABOVE_LOWEST)
    assert rule.standing is Standing.USER
    assert rule.changed_from is None
    assert "gb50310-2002-4.9.5" in rule.source


def test_a_limit_without_a_code_is_the_users_own() -> None:
    rule = changed(find_rule(), limit=0.08)
    assert rule.standing is Standing.USER
    assert rule.source == "the user's own limit; no code was named"


@pytest.mark.parametrize("limit", [0.0, -0.1, 1.0, 10.0, float("nan")])
def test_a_limit_that_is_no_percentage_is_refused(limit: float) -> None:
    with pytest.raises(InvalidValueError, match="between 0 % and 100 %"):
        changed(find_rule(), limit=limit)
