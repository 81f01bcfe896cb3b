"""The rule in words: once, with all its figures."""

from dataclasses import replace
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from tension.assessment.decide import Verdict
from tension.catalogue.rules import changed, find_rule
from tension.cli.options import Form
from tension.cli.result_text import result_text
from tension.notes import NoteKind
from tension.quantity.units import Dimension, UnitSystem, parse_quantity
from tension.telling.results import rule_text, told_notes
from tension.wording import Terms, limit_text
from tests.cli.running import DEMO, run
from tests.synthesis.made_results import made_assessment

FORM = Form(units=UnitSystem.SI, terms=Terms.EUROPE, json=False)


@given(st.decimals("0.0001", "99.9999", places=4))
def test_a_limit_is_printed_with_all_the_figures_typed(percent: Decimal) -> None:
    typed = f"{percent.normalize():f} %"
    limit = parse_quantity(typed, Dimension.FRACTION).value
    assert limit_text(limit) == typed
    assert f"at most {typed}" in rule_text(changed(find_rule(), limit=limit))


@given(st.integers(1, 99))
def test_a_limit_typed_as_the_rule_has_it_changes_nothing(percent: int) -> None:
    rule = changed(find_rule("gb50310-2002-4.9.5"), limit=percent / 100)
    typed = parse_quantity(f"{percent} %", Dimension.FRACTION).value
    assert changed(rule, limit=typed) == rule


def test_every_surface_says_the_limit_alike() -> None:
    shown = run("assess", DEMO / "six-memos", "--limit", "5.04 %")
    assert "at most 5.04 % (5 % of the rule, changed to 5.04 % by the user)" in (
        " ".join(shown.out.split())
    )
    assert "limit 5.04 %" in " ".join(shown.out.split())
    planned = run("adjust", DEMO / "six-memos", "--limit", "7.25 %")
    assert "7.25 %" in planned.out
    assert "7.2 %" not in planned.out


def test_why_a_rope_has_no_number_is_told_first_and_once() -> None:
    why = NoteKind.NO_PLUCK.note(recording="rope-3.m4a", ropes=(3,))
    other = NoteKind.HUM_FOUND.note(rope=1, lines="50 Hz", ropes=(1,))
    shares = (1.09, 0.91, None, 1.0)
    found = made_assessment(Verdict.UNEQUAL, shares=shares, notes=(other, why))
    assert told_notes(found) == [why, other]
    assert told_notes(replace(found, notes=(other,))) == [why, other]
    text = result_text(found, FORM)
    (row,) = [line for line in text.splitlines() if line.startswith("   3 ")]
    assert "101 no-pluck" in row
    assert "101 (rope 3): No pluck was found" in text
