"""Conditions that may lower an allowance: what shows them, and whether they count.

The inspector decides by writing ``counts = true``. Unequal tension counts only through
an assessment that says unequal; cannot tell reduces nothing and says what would decide.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from tension.assessment.decide import Assessment, Verdict
from tension.catalogue.allowances import AllowanceTable
from tension.catalogue.rules import Rule
from tension.catalogue.standing import Standing
from tension.condition.findings import UNFAVOURABLE, Finding, FindingKind, Seen


class ConditionState(StrEnum):
    """Whether a condition counts, and why not."""

    COUNTED = "counted"
    NOT_COUNTED = "not-counted"
    NOT_SEEN = "not-seen"
    COULD_NOT_SEE = "could-not-see"
    OFFERED = "offered"
    CANNOT_TELL = "cannot-tell"
    NOT_SHOWN = "not-shown"


@dataclass(frozen=True, kw_only=True, slots=True)
class Unfavourable:
    """One condition of one rope, or of the set.

    What the inspector wrote, None for what is offered from an assessment; for unequal
    tension the assessment that shows it as found, and a later one of the same span that
    is equal: the state as found stays.
    """

    kind: FindingKind
    state: ConditionState
    rope: int | None = None
    finding: Finding | None = None
    assessment: Assessment | None = None
    equalised_since: Assessment | None = None


def find_unfavourable(
    findings: Sequence[Finding], assessments: Sequence[Assessment]
) -> tuple[Unfavourable, ...]:
    """Find every condition that may lower an allowance.

    Those written, then unequal tension offered from the first series if it is not
    written.
    """
    written = [
        _from_finding(finding, assessments)
        for finding in findings
        if finding.kind in UNFAVOURABLE
    ]
    if any(c.kind is FindingKind.UNEQUAL_TENSION for c in written) or not assessments:
        return tuple(written)
    first = assessments[0]
    state = {
        Verdict.UNEQUAL: ConditionState.OFFERED,
        Verdict.CANNOT_TELL: ConditionState.CANNOT_TELL,
    }.get(first.verdict)
    if state is None:
        return tuple(written)
    offered = Unfavourable(
        kind=FindingKind.UNEQUAL_TENSION,
        state=state,
        assessment=first,
        equalised_since=_equalised_since(first, assessments),
    )
    return (*written, offered)


def foreign_rules(
    conditions: Sequence[Unfavourable], table: AllowanceTable
) -> tuple[Rule, ...]:
    """Find the rules that showed unequal tension and are not of a table's code.

    Rules of other codes, the user's own, and published ones that were changed.
    """
    shown = (c.assessment.rule for c in conditions if c.assessment is not None)
    return tuple(
        rule
        for rule in dict.fromkeys(shown)
        if rule.changed_from is not None
        or rule.standing in {Standing.USER, Standing.PROGRAM}
        or _code(rule.source) != _code(table.source)
    )


def _code(source: str) -> str:
    """The code that a source begins with, such as "ASME A17" or "GB 50310"."""
    found = re.match(r"[A-Za-z/ ]*\d+", source)
    return found.group(0) if found else source


def find_assessment(
    series: str, assessments: Iterable[Assessment]
) -> Assessment | None:
    """Find the assessment of a series; the first one if none is named."""
    for assessment in assessments:
        if not series or assessment.measurement.series.name == series:
            return assessment
    return None


def _from_finding(finding: Finding, assessments: Sequence[Assessment]) -> Unfavourable:
    """One condition as written; unequal tension only as an assessment shows it."""
    shown = None
    state = ConditionState.COUNTED if finding.counts else ConditionState.NOT_COUNTED
    if finding.kind is FindingKind.UNEQUAL_TENSION:
        shown = find_assessment(finding.series, assessments)
        verdict = shown.verdict if shown else None
        if verdict is Verdict.CANNOT_TELL:
            state = ConditionState.CANNOT_TELL
        elif verdict is not Verdict.UNEQUAL:
            state = ConditionState.NOT_SHOWN
    if finding.seen is not Seen.YES:
        is_hidden = finding.seen is Seen.COULD_NOT_SEE
        state = ConditionState.COULD_NOT_SEE if is_hidden else ConditionState.NOT_SEEN
    return Unfavourable(
        kind=finding.kind,
        state=state,
        rope=finding.rope,
        finding=finding,
        assessment=shown,
        equalised_since=_equalised_since(shown, assessments),
    )


def _equalised_since(
    shown: Assessment | None, assessments: Sequence[Assessment]
) -> Assessment | None:
    """The last later series of the same span that is equal."""
    if shown is None:
        return None
    place = next(i for i, one in enumerate(assessments) if one is shown)
    span = shown.measurement.series.span
    equal = [
        one
        for one in assessments[place + 1 :]
        if one.verdict is Verdict.EQUAL and one.measurement.series.span == span
    ]
    return equal[-1] if equal else None
