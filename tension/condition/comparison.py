"""A count of broken wires held against the table that the inspector confirms."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from tension.catalogue.allowances import (
    AllowanceTable,
    BreakRow,
    RowDistribution,
    When,
)
from tension.condition.confirmation import Allowance
from tension.condition.findings import (
    Distribution,
    Finding,
    Seen,
)
from tension.condition.unfavourable import ConditionState, Unfavourable
from tension.installation import RopeSet

SMALLEST_ORDINARY = 0.00795
"""Under 8 mm, the least diameter of lift ropes in EN 81-20, ropes are special. [m]"""

_MAKERS_WORDS = ("coated", "aramid", "jacket", "plastic", "belt")


class Outcome(StrEnum):
    """What comes of holding a finding against a table."""

    EXCEEDS = "exceeds the allowance"
    WITHIN = "within the allowance"
    NOT_CONFIRMED = "allowance not confirmed"
    NO_ROW = "the table has no row for it"
    NO_CLASS = "the class of the rope is not known"
    NO_SIZE = "the nominal diameter is not known"
    ROUGE_NOT_HELD = "with rouge the table has other figures, which are not held here"
    MAKERS_CRITERIA = "the rope maker's criteria decide, no table"
    COULD_NOT_SEE = "could not be seen"


COMPARED = frozenset({Outcome.EXCEEDS, Outcome.WITHIN})
"""Outcomes that rest on a table and a count."""


@dataclass(frozen=True, kw_only=True, slots=True)
class BreakComparison:
    """Broken wires of one rope in its worst measured lay, against the table.

    Attributes
    ----------
    finding : Finding
        The count.
    outcome : Outcome
        What comes of it.
    full_allowance : float or None
        As the table says; None until confirmed. [1]
    allowance : float or None
        As applied. [1]
    when : When
        From where on it is exceeded.
    is_reduced : bool
        Whether it was reduced, once.
    reduced_by : tuple of Unfavourable
        The conditions that count for this rope and that the table names.
    row : BreakRow or None
        The row used.
    """

    finding: Finding
    outcome: Outcome
    full_allowance: float | None = None
    allowance: float | None = None
    when: When = When.OVER
    is_reduced: bool = False
    reduced_by: tuple[Unfavourable, ...] = ()
    row: BreakRow | None = None


def rope_class_of(construction: str) -> str:
    """Read the class off a construction.

    Parameters
    ----------
    construction : str
        Such as "8x19 FC".

    Returns
    -------
    str
        Such as "8x19"; empty if it cannot be read off.

    Examples
    --------
    >>> rope_class_of("8 x 19 Seale, fibre core")
    '8x19'
    """
    found = re.match(r"\s*(\d{1,2})\s*[xX×]\s*(\d{1,3})\b", construction)
    return f"{int(found.group(1))}x{int(found.group(2))}" if found else ""


def needs_makers_criteria(rope_set: RopeSet) -> bool:
    """Tell whether no table of steel ropes applies.

    Parameters
    ----------
    rope_set : RopeSet
        The ropes.

    Returns
    -------
    bool
        True for coated and aramid ropes and for small high-tensile ones under 8 mm.
    """
    construction = rope_set.construction.lower()
    if any(word in construction for word in _MAKERS_WORDS):
        return True
    diameter = rope_set.diameter
    return diameter is not None and diameter.value < SMALLEST_ORDINARY


def compare_breaks(
    finding: Finding,
    *,
    table: AllowanceTable | None,
    allowance: Allowance,
    rope_set: RopeSet,
    conditions: Sequence[Unfavourable],
) -> BreakComparison:
    """Hold a count of broken wires against the confirmed table.

    Parameters
    ----------
    finding : Finding
        The count, in one lay of one rope.
    table : AllowanceTable or None
        The table named; None if there is none.
    allowance : Allowance
        Whether it is confirmed, and the class if it is written.
    rope_set : RopeSet
        The ropes.
    conditions : sequence of Unfavourable
        Every condition found.

    Returns
    -------
    BreakComparison
        The outcome with every step to it.
    """
    early = early_outcome(finding, table, allowance, rope_set)
    if early is not None or table is None:
        return BreakComparison(finding=finding, outcome=early or Outcome.NOT_CONFIRMED)
    broken = finding.broken or 0
    rope_class = allowance.rope_class or rope_class_of(rope_set.construction)
    if not rope_class:
        return BreakComparison(finding=finding, outcome=Outcome.NO_CLASS)
    distribution = RowDistribution((finding.distribution or Distribution.SPREAD).value)
    row = table.break_row(rope_class, distribution)
    if row is None:
        return BreakComparison(finding=finding, outcome=Outcome.NO_ROW)
    full = _full_allowance(row, rope_class, allowance)
    if full is None:
        return BreakComparison(finding=finding, outcome=Outcome.NO_CLASS, row=row)
    comparison = _reduce(
        BreakComparison(
            finding=finding,
            outcome=Outcome.WITHIN,
            full_allowance=full,
            allowance=full,
            when=row.when,
            row=row,
        ),
        table,
        conditions,
    )
    is_exceeded = _exceeds(broken, comparison.allowance or 0.0, row.when)
    return replace(
        comparison, outcome=Outcome.EXCEEDS if is_exceeded else Outcome.WITHIN
    )


def early_outcome(
    finding: Finding,
    table: AllowanceTable | None,
    allowance: Allowance,
    rope_set: RopeSet,
) -> Outcome | None:
    """Say why nothing is compared at all.

    Parameters
    ----------
    finding : Finding
        A count or a diameter.
    table : AllowanceTable or None
        The table named; None if there is none.
    allowance : Allowance
        Whether it is confirmed.
    rope_set : RopeSet
        The ropes.

    Returns
    -------
    Outcome or None
        The reason; None if it can be compared.
    """
    if finding.seen is Seen.COULD_NOT_SEE:
        return Outcome.COULD_NOT_SEE
    if needs_makers_criteria(rope_set):
        return Outcome.MAKERS_CRITERIA
    if table is None or not allowance.is_confirmed:
        return Outcome.NOT_CONFIRMED
    return None


def _full_allowance(
    row: BreakRow, rope_class: str, allowance: Allowance
) -> float | None:
    """The allowance of a row before any reduction."""
    if row.fraction_of_wires is not None:
        parts = re.fullmatch(r"(\d+)x(\d+)", rope_class)
        if parts is None:
            return None
        return row.fraction_of_wires * int(parts.group(1)) * int(parts.group(2))
    if allowance.is_inspected_monthly and row.breaks_if_monthly is not None:
        return float(row.breaks_if_monthly)
    return None if row.breaks is None else float(row.breaks)


def _reduce(
    comparison: BreakComparison,
    table: AllowanceTable,
    conditions: Sequence[Unfavourable],
) -> BreakComparison:
    """Reduce once if any condition counts; never valley breaks."""
    finding, full = comparison.finding, comparison.full_allowance
    rope = finding.rope
    if rope is None or full is None or table.reduction is None:
        return comparison
    if finding.distribution is Distribution.VALLEY:
        return comparison
    counted = tuple(
        condition
        for condition in conditions
        if condition.state is ConditionState.COUNTED
        and condition.concerns(rope)
        and condition.kind.value in table.reduced_for
    )
    if not counted:
        return comparison
    return replace(
        comparison,
        allowance=full * table.reduction.value,
        is_reduced=True,
        reduced_by=counted,
    )


def _exceeds(broken: int, allowance: float, when: When) -> bool:
    """Whether a whole count exceeds an allowance; a hair forgives binary rounding."""
    hair = 1e-9 * max(allowance, 1.0)
    if when is When.REACHES:
        return broken >= allowance - hair
    return broken > allowance + hair
