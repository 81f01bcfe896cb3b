"""The odds of a string: terms that only take, and name what takes most."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tension.sound import decision
from tension.sound.decision import FURTHEST, REASONS, Reason, Term
from tension.sound.statistics import Statistics

NAMES = [each.name for each in fields(Statistics)]
MADE = (
    Term("log_likelihood_ratio", 3.0, -1.0, 0.9),
    Term("explained", 0.8, -0.4, 1.1),
    Term("second", 2.0, 0.5, 0.7),
    Term("rising", 0.2, -0.5, 0.8),
    Term("rising", 4.0, 2.0, 0.6),
    Term("elsewhere", 1.0, 0.8, 1.2),
    Term("stretch", -4.0, -1.0, 0.5),
)
"""A table of the same form, with terms of both sides and two of one reason."""
TABLES = {"made": MADE, "set": decision.TERMS}


@contextmanager
def _table(terms: tuple[Term, ...]) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(decision, "TERMS", terms)
        yield


def _usual(terms: tuple[Term, ...]) -> Statistics:
    """Every statistic where none of the terms takes anything."""
    values = {}
    for name in NAMES:
        own = [term for term in terms if term.statistic == name]
        above = [term.edge for term in own if term.scale > 0.0]
        under = [term.edge for term in own if term.scale < 0.0]
        top = min(above, default=max(under, default=0.0) + 1.0)
        values[name] = 0.5 * (top + max(under, default=top - 1.0))
    return Statistics(**values)


def _at(usual: Statistics, term: Term, scales: float) -> Statistics:
    """One statistic so many scales beyond the edge of a term."""
    return replace(usual, **{term.statistic: term.edge + scales * term.scale})


def _odds(statistics: Statistics, terms: tuple[Term, ...]) -> tuple[float, Reason]:
    with _table(terms):
        return decision.rope_odds(statistics)


def test_the_table_names_statistics_and_only_takes() -> None:
    assert set(REASONS) == set(NAMES)
    for term in decision.TERMS:
        assert term.statistic in NAMES
        assert term.weight > 0.0
        assert term.scale != 0.0
    sides = [(term.statistic, term.scale > 0.0) for term in decision.TERMS]
    assert len(set(sides)) == len(sides)
    assert 0.5 < decision.LEAST_PROBABILITY < 1.0
    # what is usual in every respect is given
    assert decision.CONSTANT > decision.LEAST_ODDS


@pytest.mark.parametrize("table", TABLES)
def test_within_usual_ranges_nothing_is_said(table: str) -> None:
    terms = TABLES[table]
    usual = _usual(terms)
    for term in terms:
        beyond = (getattr(usual, term.statistic) - term.edge) / term.scale
        assert beyond <= 1e-9, "a statistic needs a usual range"
    assert _odds(usual, terms)[0] == pytest.approx(decision.CONSTANT)
    # a good sign never makes up for a bad one
    for term in terms:
        others = [o for o in terms if o.statistic == term.statistic and o != term]
        if not others:
            better = _at(usual, term, -50.0)
            assert _odds(better, terms)[0] == pytest.approx(decision.CONSTANT)


@given(st.integers(0, 10**6), st.floats(0.0, 6.0), st.floats(0.0, 6.0))
@settings(max_examples=60)
@pytest.mark.parametrize("table", TABLES)
def test_further_out_never_raises_the_odds(
    table: str, which: int, one: float, other: float
) -> None:
    terms = TABLES[table]
    if not terms:
        return
    term = terms[which % len(terms)]
    usual = _usual(terms)
    near, far = sorted((one, other))
    nearer = _odds(_at(usual, term, near), terms)[0]
    further = _odds(_at(usual, term, far), terms)[0]
    assert further <= nearer
    # in proportion, and no more than so many scales
    expected = decision.CONSTANT - term.weight * min(far, FURTHEST)
    assert further == pytest.approx(expected)


@pytest.mark.parametrize("table", TABLES)
def test_what_takes_most_is_the_reason(table: str) -> None:
    terms = TABLES[table]
    usual = _usual(terms)
    for term in terms:
        odds = _odds(_at(usual, term, 2.0), terms)
        assert odds[1] is REASONS[term.statistic]


def test_terms_of_one_reason_count_together() -> None:
    usual = _usual(MADE)
    # explained and second, both of several ropes, take 0.6 each; elsewhere takes 0.9
    both = replace(
        usual,
        explained=0.8 - 0.4 * 0.6 / 1.1,
        second=2.0 + 0.5 * 0.6 / 0.7,
        elsewhere=1.0 + 0.8 * 0.9 / 1.2,
    )
    odds = _odds(both, MADE)
    assert odds[1] is Reason.SEVERAL
    assert odds[0] == pytest.approx(decision.CONSTANT - 2.1)
    alone = replace(both, second=usual.second)
    assert _odds(alone, MADE)[1] is Reason.APART
