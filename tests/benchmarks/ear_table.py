"""Set, show and try the table of the ear's two checks.

    python -m tests.benchmarks.ear_table collect --seed 4 --out rows.json
    python -m tests.benchmarks.ear_table fit rows.json       # the table of decision
    python -m tests.benchmarks.ear_table show rows.json      # what each row costs

`fit` is a logistic regression of "the first choice is right" whose terms can only take
from the odds, beyond the usual range of a statistic; terms that take nothing are left
out. `show` judges the table as it stands: given, wrong, refused though right; what each
term refuses of right and of wrong first choices; what a change of 30 % does; and the
same with each source left out of the fit in turn.
"""

import argparse
import json
from dataclasses import asdict, dataclass, fields
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from tension.sound.decision import (
    CONSTANT,
    FURTHEST,
    LEAST_ODDS,
    LEAST_PROBABILITY,
    TERMS,
    Term,
)
from tension.sound.statistics import Statistics
from tests.benchmarks.ear_material import ALMOST, Row, collect

Array = NDArray[np.float64]

NAMES = [each.name for each in fields(Statistics)]
USUAL, FAR = 0.2, 0.01
"""Quantiles of the right first choices: edge of a term, and one scale beyond it."""
SIDES = {
    "log_likelihood_ratio": "low",
    "margin": "low",
    "explained": "low",
    "fastest": "both",
    "rising": "both",
    "stretch": "both",
    "peak": "high",
    "second": "high",
    "elsewhere": "high",
    "steady": "high",
}
"""Which side of its usual range may speak against a string: none is too clean."""
PENALTY = 2.0
"""On the sum of the weights."""
LEAST_WEIGHT = 0.1
WEIGHS = 3.0
"""Of a kind of `ALMOST` in the fit: two ropes or a machine a phone may well record. At
1, 2, 3 and 5 real strings are given 92.7, 92.3, 92.0 and 90.7 %, these kinds 5.7, 5.1,
4.0 and 3.4 %, all else that is no rope 5.6, 5.1, 4.7 and 4.5 % (seed 9, scale 0.6)."""
NO_ROPE = "no rope"


@dataclass(frozen=True, kw_only=True)
class Material:
    """Rows as arrays."""

    values: Array
    right: NDArray[np.bool_]
    probability: Array
    material: NDArray[np.str_]
    source: NDArray[np.str_]

    @classmethod
    def of(cls, rows: list[Row]) -> "Material":
        """Collect; a recording without a candidate is refused in any case."""
        nothing = (np.nan,) * len(NAMES)
        return cls(
            values=np.array([row.statistics or nothing for row in rows], dtype=float),
            right=np.array([row.right for row in rows]),
            probability=np.array([row.probability for row in rows]),
            material=np.array([row.material for row in rows]),
            source=np.array([row.source for row in rows]),
        )

    @property
    def known(self) -> NDArray[np.bool_]:
        """Rows that have a first choice."""
        found: NDArray[np.bool_] = np.isfinite(self.values[:, 0])
        return found


@dataclass(frozen=True, kw_only=True)
class Table:
    """A constant and its terms."""

    constant: float
    terms: tuple[Term, ...]

    def odds(self, values: Array) -> Array:
        """Log-odds of rows; -inf without a first choice."""
        total = np.full(len(values), self.constant)
        for term in self.terms:
            total -= term.weight * away(values, term)
        return np.where(np.isnan(total), -np.inf, total)


def away(values: Array, term: Term) -> Array:
    """Scales beyond the edge of a term."""
    column = values[:, NAMES.index(term.statistic)]
    found: Array = np.clip((column - term.edge) / term.scale, 0.0, FURTHEST)
    return found


def fit(material: Material, chosen: NDArray[np.bool_]) -> Table:
    """Set the table on some of the rows."""
    chosen = chosen & material.known
    usual = material.values[chosen & material.right]
    terms = []
    for k, name in enumerate(NAMES):
        sides = {"low": (USUAL, FAR), "high": (1.0 - USUAL, 1.0 - FAR)}
        for side, (near, far) in sides.items():
            if SIDES[name] not in {side, "both"}:
                continue
            edge, end = np.quantile(usual[:, k], [near, far])
            if abs(end - edge) > 1e-6:
                terms.append(Term(name, float(edge), float(end - edge), 0.0))
    taken = np.stack([away(material.values[chosen], term) for term in terms], axis=1)
    right = material.right[chosen].astype(float)
    counts = np.where(np.isin(material.source[chosen], ALMOST), WEIGHS, 1.0)

    def loss(weights: Array) -> tuple[float, Array]:
        odds = weights[0] - taken @ weights[1:]
        value = np.logaddexp(0.0, -odds) * right + np.logaddexp(0.0, odds) * (1 - right)
        slope = counts * (1.0 / (1.0 + np.exp(-odds)) - right)
        gradient = np.r_[slope.sum(), PENALTY - taken.T @ slope]
        return float(counts @ value + PENALTY * weights[1:].sum()), gradient

    start = np.r_[3.0, np.full(len(terms), 0.3)]
    bounds = [(None, None), *[(0.0, None)] * len(terms)]
    found = minimize(
        loss,
        start,
        jac=True,
        method="L-BFGS-B",
        bounds=bounds,
        options={"maxiter": 5000, "maxfun": 20000},
    ).x
    kept = [
        term._replace(weight=float(weight))
        for term, weight in zip(terms, found[1:], strict=True)
        if weight > LEAST_WEIGHT
    ]
    return Table(constant=float(found[0]), terms=tuple(kept))


def given(
    material: Material, odds: Array, least: float = LEAST_ODDS
) -> NDArray[np.bool_]:
    """Rows that pass both checks."""
    passed: NDArray[np.bool_] = (odds >= least) & (
        material.probability >= LEAST_PROBABILITY
    )
    return passed


def left_out_odds(material: Material) -> Array:
    """Odds of each row by a table set without its source."""
    odds = np.empty(len(material.right))
    for source in sorted(set(material.source.tolist())):
        out = material.source == source
        odds[out] = fit(material, ~out).odds(material.values[out])
    return odds


def share(part: NDArray[np.bool_], of: NDArray[np.bool_]) -> str:
    """In per cent, of so many."""
    return f"{100.0 * float(np.mean(part[of])):.2f}" if np.any(of) else "-"


def summary(material: Material, odds: Array, least: float) -> str:
    """One row of a table: what is given, wrong, and refused though right."""
    passed = given(material, odds, least)
    cells = []
    for name in sorted(set(material.material.tolist())):
        of = material.material == name
        if name == NO_ROPE:
            cells.append(f"{share(passed, of)} % of {name}")
            continue
        wrong = share(~material.right, of & passed)
        refused = share(~passed & material.right, of)
        cells.append(
            f"{name}: given {share(passed, of)}, wrong {wrong}, right refused {refused}"
        )
    return "; ".join(cells)


def print_table(table: Table) -> None:
    """As decision.py has it."""
    print(f"CONSTANT = {table.constant:.2f}")
    print("TERMS: tuple[Term, ...] = (")
    for term in table.terms:
        print(
            f'    Term("{term.statistic}", {term.edge:.3g}, {term.scale:.3g}, '
            f"{term.weight:.2f}),"
        )
    print(")")


def print_curve(material: Material, odds: Array) -> None:
    """Given against wrong, for a choice of the least odds."""
    for least in np.arange(-3.0, 3.1, 0.5):
        print(f"  {least:+.1f}  {summary(material, odds, float(least))}")


def print_costs(material: Material, table: Table) -> None:
    """What each term refuses, and what a change of 30 % does."""
    odds = table.odds(material.values)
    passed = given(material, odds)
    print("\n| term | weight | refuses right | refuses wrong | -30 % | +30 % |")
    print("|---|---|---|---|---|---|")
    for term in table.terms:
        without = odds + term.weight * np.nan_to_num(away(material.values, term))
        gained = given(material, without) & ~passed
        changes = []
        for factor in (0.7, 1.3):
            moved = odds + (1.0 - factor) * term.weight * np.nan_to_num(
                away(material.values, term)
            )
            after = given(material, moved)
            more = after.astype(int) - passed.astype(int)
            right = int(more[material.right].sum())
            changes.append(f"right {right:+d}, wrong {int(more.sum()) - right:+d}")
        side = "above" if term.scale > 0 else "under"
        print(
            f"| {term.statistic} {side} {term.edge:.3g} | {term.weight:.2f} "
            f"| {int(np.sum(gained & material.right))} "
            f"| {int(np.sum(gained & ~material.right))} "
            f"| {changes[0]} | {changes[1]} |"
        )


def main() -> None:
    """Run one of the three."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.ear_table")
    commands = parser.add_subparsers(dest="command", required=True)
    collecting = commands.add_parser("collect")
    collecting.add_argument("--seed", type=int, default=4)
    collecting.add_argument("--scale", type=float, default=1.0)
    collecting.add_argument("--processes", type=int, default=2)
    collecting.add_argument("--out", type=Path, required=True)
    for name in ("fit", "show"):
        commands.add_parser(name).add_argument("rows", type=Path)
    options = parser.parse_args()
    if options.command == "collect":
        rows = collect(options.seed, options.scale, options.processes)
        options.out.write_text(json.dumps([asdict(row) for row in rows]))
        return
    rows = [Row(**each) for each in json.loads(options.rows.read_text())]
    material = Material.of(rows)
    table = Table(constant=CONSTANT, terms=TERMS)
    if options.command == "fit":
        table = fit(material, material.known)
        print_table(table)
    print("\nthe table, on what it is set on:")
    print_curve(material, table.odds(material.values))
    print("\neach source left out of the fit in turn:")
    print_curve(material, left_out_odds(material))
    print_costs(material, table)


if __name__ == "__main__":
    main()
