"""Acceptance after re-roping: items answered, figures computed, defects listed."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from tension.assessment.outcome import Assessment, Verdict
from tension.catalogue.acceptance import (
    AcceptanceItem,
    AcceptanceRule,
    acceptance_items,
)
from tension.condition.acceptance_figures import Figure, compute_item, named_rules
from tension.condition.checks import Check, CheckAnswer, CheckItem
from tension.condition.unfavourable import find_assessment
from tension.installation import Lift, RopeSet


@dataclass(frozen=True, kw_only=True, slots=True)
class ItemResult:
    """One item with what was answered and computed, of the set or rope by rope.

    The rules are those that the person named, each rope judged by its own; for tension
    an assessment answers.
    """

    item: AcceptanceItem
    checks: tuple[Check, ...]
    figures: tuple[Figure, ...] = ()
    rules: tuple[AcceptanceRule, ...] = ()
    assessment: Assessment | None = None

    @property
    def is_answered(self) -> bool:
        """Whether anything was answered, computed or measured."""
        return (
            bool(self.figures)
            or self.assessment is not None
            or any(check.answer is not None for check in self.checks)
        )

    @property
    def could_not_see(self) -> tuple[Check, ...]:
        """Answers that say that it could not be seen."""
        return tuple(
            check for check in self.checks if check.answer is CheckAnswer.COULD_NOT_SEE
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Defect:
    """One line of the defects list, of a rope or of the set.

    A check answered "no", a figure outside its bound or an assessment "unequal" makes
    it a defect.
    """

    item: AcceptanceItem
    rope: int | None = None
    check: Check | None = None
    figure: Figure | None = None
    assessment: Assessment | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Acceptance:
    """The form filled in: every item in the order of the form, and the defects."""

    items: tuple[ItemResult, ...]
    defects: tuple[Defect, ...]

    @property
    def open_items(self) -> tuple[ItemResult, ...]:
        """Items without any answer."""
        return tuple(result for result in self.items if not result.is_answered)

    @property
    def unseen_items(self) -> tuple[ItemResult, ...]:
        """Items of which something could not be seen."""
        return tuple(result for result in self.items if result.could_not_see)


def accept_set(
    checks: Sequence[Check],
    *,
    lift: Lift,
    rope_set: RopeSet,
    assessments: Sequence[Assessment] = (),
) -> Acceptance:
    """Work through the form; assessments are of every series, in order of time."""
    results = []
    for item in acceptance_items():
        own = tuple(check for check in checks if check.item.value == item.name)
        assessment = None
        if item.name == CheckItem.TENSION.value:
            wanted = next((check.series for check in own if check.series), "")
            assessment = find_assessment(wanted, reversed(assessments))
        result = ItemResult(
            item=item,
            checks=own,
            figures=compute_item(item, own, lift=lift, rope_set=rope_set),
            rules=named_rules(item, own),
            assessment=assessment,
        )
        results.append(result)
    return Acceptance(
        items=tuple(results),
        defects=tuple(defect for result in results for defect in _defects(result)),
    )


def _defects(result: ItemResult) -> Iterator[Defect]:
    """What makes an item a defect."""
    for check in result.checks:
        if check.answer is CheckAnswer.NO:
            yield Defect(item=result.item, rope=check.rope, check=check)
    for figure in result.figures:
        if figure.is_met is False:
            yield Defect(item=result.item, rope=figure.rope, figure=figure)
    assessment = result.assessment
    if assessment is not None and assessment.verdict is Verdict.UNEQUAL:
        yield Defect(item=result.item, assessment=assessment)
