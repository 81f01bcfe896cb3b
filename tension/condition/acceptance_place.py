"""What an item of acceptance is computed from; each rope goes by its own rule."""

from collections.abc import Sequence
from dataclasses import dataclass

from tension.catalogue.acceptance import AcceptanceItem, AcceptanceRule
from tension.condition.checks import Check
from tension.installation import Lift, RopeSet

NO_RULE_OF_ITS_OWN = "not judged: others go by different rules, none is named here"


@dataclass(frozen=True, kw_only=True, slots=True)
class Place:
    """What an item is computed from, beside its checks.

    Attributes
    ----------
    item : AcceptanceItem
        The item.
    named : tuple of AcceptanceRule
        The rules that were named at it.
    lift : Lift
        For the roping.
    rope_set : RopeSet
        The ropes.
    """

    item: AcceptanceItem
    named: tuple[AcceptanceRule, ...]
    lift: Lift
    rope_set: RopeSet

    def rule_of(self, check: Check) -> AcceptanceRule | None:
        """Find the rule named with a check; else the one named for all, if it is one.

        Returns
        -------
        AcceptanceRule or None
            None if none is named, or several and none with this one.
        """
        if check.rule:
            return self.item.find_rule(check.rule)
        return self.named[0] if len(self.named) == 1 else None

    def note_of(self, check: Check) -> str:
        """Say why a check is not judged though rules are named.

        Returns
        -------
        str
            The reason; empty if it is judged, or no rule is named.
        """
        is_left = len(self.named) > 1 and not check.rule
        return NO_RULE_OF_ITS_OWN if is_left else ""


def named_rules(
    item: AcceptanceItem, checks: Sequence[Check]
) -> tuple[AcceptanceRule, ...]:
    """Find the rules that were named at an item, in the order of the form."""
    names = {check.rule for check in checks}
    return tuple(rule for rule in item.rules if rule.name in names)
