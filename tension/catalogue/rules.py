"""Rules of equal tension: metric, limit, source, edition, standing."""

from dataclasses import dataclass, replace
from difflib import get_close_matches
from enum import StrEnum
from functools import cache

from tension.catalogue import Standing, published, read_row
from tension.errors import InvalidValueError
from tension.quantity.units import is_same

DEFAULT_RULE = "program-default"


class Metric(StrEnum):
    """What the percentage is of."""

    BELOW_HIGHEST = "below-highest"
    ABOVE_LOWEST = "above-lowest"
    OFF_MEAN = "off-mean"
    RANGE_OF_MEAN = "range-of-mean"


@dataclass(frozen=True, kw_only=True, slots=True)
class Rule:
    """A rule of equal tension."""

    name: str  # key in the catalogue, or what the user calls it
    metric: Metric  # what the percentage is of
    limit: float  # equal at or under it [1]
    # where it is published, with edition or year
    source: str
    edition: str
    standing: Standing  # how it is known
    changed_from: float | None = None  # the published limit that the user changed [1]
    goal: float | None = None  # what a plan aims at; never decides the verdict [1]


@cache
def _rules() -> dict[str, Rule]:
    """All rules by name, read once."""
    rows = published("rules.toml")["rule"]
    return {row["name"]: read_row(Rule, row) for row in rows}


def rule_names() -> tuple[str, ...]:
    """List the rules of the catalogue."""
    return tuple(_rules())


def find_rule(name: str | None = None) -> Rule:
    """Find a rule by its name in the catalogue; the program's own if none is given.

    Parameters
    ----------
    name : str, optional
        Such as "gb50310-2002-4.9.5".

    Raises
    ------
    InvalidValueError
        If there is no such rule; the message names the nearest.

    Examples
    --------
    >>> find_rule("gb50310-2002-4.9.5").limit
    0.05
    """
    rules = _rules()
    wanted = name or DEFAULT_RULE
    if wanted in rules:
        return rules[wanted]
    near = get_close_matches(wanted, rules, n=1, cutoff=0.5)
    hint = f'did you mean "{near[0]}"?' if near else f"there are {', '.join(rules)}"
    raise InvalidValueError(f'there is no rule "{wanted}" in the catalogue; {hint}')


def changed(
    rule: Rule, *, limit: float | None = None, metric: Metric | None = None
) -> Rule:
    """Change the limit [1] or the metric of a rule, keeping what it was.

    With another metric it is no longer that rule, and is said to be the user's.

    Raises
    ------
    InvalidValueError
        If the limit is not between 0 and 1.
    """
    if limit is not None and not 0.0 < limit < 1.0:
        raise InvalidValueError(
            f"a limit lies between 0 % and 100 %, got {100 * limit:g} %"
        )
    if metric not in {None, rule.metric}:
        source = f"the user's own metric in place of {rule.name}"
    elif limit is None or is_same(limit, rule.limit):
        return rule
    elif rule.name == DEFAULT_RULE:
        source = "the user's own limit; no code was named"
    else:
        return replace(rule, limit=limit, changed_from=rule.changed_from or rule.limit)
    return replace(
        rule,
        name="given by the user",
        metric=metric or rule.metric,
        limit=rule.limit if limit is None else limit,
        source=source,
        edition="",
        standing=Standing.USER,
        changed_from=None,
    )
