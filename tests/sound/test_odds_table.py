"""What the table gives and refuses of stored first choices: a change of it is seen.

    python -m tests.sound.test_odds_table --write ROWS.json

chooses the rows that are stored beside this file out of those that
`python -m tests.benchmarks.ear_table collect` has written, and counts them anew.
"""

import argparse
import json
from collections.abc import Sequence
from dataclasses import asdict, fields
from functools import cache
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from tension.sound import decision
from tension.sound.decision import Term
from tension.sound.statistics import Statistics
from tests.benchmarks.ear_material import Row

STORED = Path(__file__).with_name("odds_rows.json")
MOST_ROWS = 600
NEAR = 1.5
"""Log-odds from the decision within which all rows are kept, the nearest first."""
LEAST_BEYOND = 12
"""Rows kept in which each term takes something."""
DIGITS = 5
TOLERANCE = 0.05
"""Of the summed log-odds: rows are stored to five digits. [1]"""
CHANGE = 0.3
"""Of a weight, and of an edge in scales. [1]"""
COUNTED = ("given", "wrong", "right refused")
NAMES = [each.name for each in fields(Statistics)]

Counts = dict[str, dict[str, int]]


def _statistics(row: Row) -> Statistics:
    return Statistics(**dict(zip(NAMES, row.statistics, strict=True)))


def _odds(rows: Sequence[Row], terms: tuple[Term, ...] | None = None) -> list[float]:
    """Log-odds of each row, by the table or by one that was changed."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(decision, "TERMS", decision.TERMS if terms is None else terms)
        return [decision.rope_odds(_statistics(row))[0] for row in rows]


def _given(row: Row, odds: float) -> bool:
    return odds >= decision.LEAST_ODDS and row.probability >= decision.LEAST_PROBABILITY


def count(rows: Sequence[Row], odds: Sequence[float]) -> Counts:
    """Rows given, given though wrong, and refused though right, of each material."""
    found: Counts = {}
    for row, one in zip(rows, odds, strict=True):
        of = found.setdefault(
            row.material, {"given": 0, "wrong": 0, "right refused": 0}
        )
        is_given = _given(row, one)
        of["given"] += is_given
        of["wrong"] += is_given and not row.right
        of["right refused"] += row.right and not is_given
    return found


def _takes(row: Row, term: Term) -> bool:
    return (row.statistics[NAMES.index(term.statistic)] - term.edge) / term.scale > 0.0


def choose(rows: Sequence[Row], seed: int = 1) -> list[Row]:
    """Those near the decision, some in which each term takes, and others by chance."""
    known = [row for row in rows if row.statistics]
    order = np.random.default_rng(seed).permutation(len(known)).tolist()
    chosen: dict[int, None] = {}
    for term in decision.TERMS:
        beyond = [k for k in order if _takes(known[k], term)]
        chosen.update(dict.fromkeys(beyond[:LEAST_BEYOND]))
    away = np.abs(np.array(_odds(known)) - decision.LEAST_ODDS)
    near = [k for k in np.argsort(away, kind="stable").tolist() if away[k] < NEAR]
    chosen.update(dict.fromkeys([*near[: MOST_ROWS // 2], *order]))
    return [known[k] for k in sorted(list(chosen)[:MOST_ROWS])]


def store(rows: Sequence[Row], path: Path) -> None:
    """Write some of the rows with what the table makes of them."""
    chosen = [
        Row(
            material=row.material,
            source=row.source,
            right=row.right,
            probability=round(row.probability, DIGITS),
            statistics=tuple(float(f"{one:.{DIGITS}g}") for one in row.statistics),
        )
        for row in choose(rows)
    ]
    odds = _odds(chosen)
    lines = ",\n".join(json.dumps(asdict(row)) for row in chosen)
    head = {
        "names": NAMES,
        "log_odds": round(sum(odds), 3),
        "counts": count(chosen, odds),
    }
    text = json.dumps(head, indent=1)[:-2]
    path.write_text(f'{text},\n "rows": [\n{lines}\n]}}\n', encoding="utf-8")


@cache
def _stored() -> tuple[list[Row], Counts, float]:
    if not STORED.exists():
        pytest.skip("no rows are stored yet")
    stored = json.loads(STORED.read_text(encoding="utf-8"))
    assert stored["names"] == NAMES, "a statistic came or went: collect and write anew"
    rows = [
        Row(**{**each, "statistics": tuple(each["statistics"])})
        for each in stored["rows"]
    ]
    return rows, stored["counts"], stored["log_odds"]


def test_the_table_gives_and_refuses_what_it_did() -> None:
    rows, counts, total = _stored()
    assert len(rows) <= MOST_ROWS
    odds = _odds(rows)
    assert count(rows, odds) == counts
    assert sum(odds) == pytest.approx(total, abs=TOLERANCE)


def _changes(terms: tuple[Term, ...]) -> list[tuple[Term, ...]]:
    """The table with the weight or the edge of one of its terms moved."""
    changed = []
    for k, (what, sign) in product(range(len(terms)), product(range(2), (-1.0, 1.0))):
        term = terms[k]
        moved = (
            term._replace(weight=term.weight * (1.0 + sign * CHANGE))
            if what == 0
            else term._replace(edge=term.edge + sign * CHANGE * term.scale)
        )
        changed.append((*terms[:k], moved, *terms[k + 1 :]))
    return changed


def test_every_change_of_a_term_is_noticed() -> None:
    rows, counts, total = _stored()
    changed = _changes(decision.TERMS)
    assert changed
    unseen = []
    for terms in changed:
        odds = _odds(rows, terms)
        is_seen = count(rows, odds) != counts or abs(sum(odds) - total) > TOLERANCE
        if not is_seen:
            unseen.append(set(terms) - set(decision.TERMS))
    assert unseen == []


def test_a_row_is_counted_by_both_checks() -> None:
    usual = Row(
        material="real",
        source="one",
        right=True,
        probability=1.0,
        statistics=(0.0,) * len(NAMES),
    )
    least = decision.LEAST_ODDS
    doubtful = Row(**{**asdict(usual), "probability": 0.5})
    wrong = Row(**{**asdict(usual), "right": False})
    rows = [usual, doubtful, wrong, usual]
    assert count(rows, [least + 1.0, least + 1.0, least + 1.0, least - 1.0]) == {
        "real": {"given": 2, "wrong": 1, "right refused": 2}
    }


def main() -> None:
    """Choose and store."""
    parser = argparse.ArgumentParser(prog="python -m tests.sound.test_odds_table")
    parser.add_argument("--write", type=Path, required=True, metavar="ROWS.json")
    collected = json.loads(parser.parse_args().write.read_text(encoding="utf-8"))
    rows = [Row(**{**row, "statistics": tuple(row["statistics"])}) for row in collected]
    store(rows, STORED)
    test_every_change_of_a_term_is_noticed()
    print(json.dumps(_stored()[1], indent=1))


if __name__ == "__main__":
    main()
