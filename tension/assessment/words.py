"""The reason of a result, one sentence in plain words."""

from collections.abc import Sequence

from tension.assessment.bounds import Bounds
from tension.assessment.outcome import RopeShare
from tension.catalogue.rules import Metric, Rule

METRIC_PHRASES = {
    Metric.BELOW_HIGHEST: "lowest below highest",
    Metric.ABOVE_LOWEST: "highest above lowest",
    Metric.OFF_MEAN: "furthest from the mean",
    Metric.RANGE_OF_MEAN: "highest less lowest, of the mean",
}
"""What each metric compares, in words."""


def percent(fraction: float) -> str:
    """Write a fraction as a percentage with one decimal.

    Parameters
    ----------
    fraction : float
        The fraction. [1]

    Returns
    -------
    str
        Such as "4.1 %".
    """
    return f"{100 * fraction:.1f} %"


def limit_text(limit: float) -> str:
    """Write a limit with all the figures it was typed with.

    Parameters
    ----------
    limit : float
        The limit. [1]

    Returns
    -------
    str
        Such as "10 %" or "5.04 %".
    """
    return f"{100 * limit:.10g} %"


def rule_text(rule: Rule) -> str:
    """Say which rule decides, with where it comes from.

    Returns
    -------
    str
        Metric, limit, source, edition, standing and any change by the user.
    """
    limit = f"at most {limit_text(rule.limit)}"
    if rule.changed_from is not None:
        limit += (
            f" ({limit_text(rule.changed_from)} of the rule, changed to "
            f"{limit_text(rule.limit)} by the user)"
        )
    source = ", ".join(part for part in (rule.source, rule.edition) if part)
    is_said = rule.standing.value in f"{rule.name} {rule.source}"
    standing = "" if is_said else f" ({rule.standing.value})"
    measure = f"{rule.metric.value} ({METRIC_PHRASES[rule.metric]})"
    return f"{measure} {limit}. {rule.name}: {source}{standing}."


def rule_in_short(rule: Rule) -> str:
    """Say which rule decides where there is room for a few words.

    Returns
    -------
    str
        Name, limit and metric; a limit changed by the user is said to be so.
    """
    was = "" if rule.changed_from is None else f"{limit_text(rule.changed_from)} "
    limit = f"{was}{'changed to ' if was else ''}{limit_text(rule.limit)}"
    return f"{rule.name}, {limit} {rule.metric.value}"


def rope_list(numbers: Sequence[int]) -> str:
    """Name ropes in a sentence.

    Returns
    -------
    str
        Such as "rope 3" or "ropes 2, 3 and 5".
    """
    texts = [str(number) for number in numbers]
    if len(texts) == 1:
        return f"rope {texts[0]}"
    return f"ropes {', '.join(texts[:-1])} and {texts[-1]}"


def share_of(shares: Sequence[RopeShare]) -> str:
    """Say what shares are of.

    Returns
    -------
    str
        "% of the mean", or of the ropes read, if some have no number.
    """
    missing = [share.number for share in shares if share.share is None]
    if not missing:
        return "% of the mean"
    return f"% of the mean of the ropes read, without {rope_list(missing)}"


def spread_sentence(rule: Rule, bounds: Bounds, highest: int, lowest: int) -> str:
    """Say how far the ropes are apart, by the metric of the rule.

    Parameters
    ----------
    rule : Rule
        The rule that decides.
    bounds : Bounds
        The spread.
    highest, lowest : int
        Numbers of the ropes with the highest and the lowest tension.
    """
    observed = percent(bounds.observed)
    if rule.metric is Metric.BELOW_HIGHEST:
        return f"lowest (rope {lowest}) is {observed} below highest (rope {highest})"
    if rule.metric is Metric.ABOVE_LOWEST:
        return f"highest (rope {highest}) is {observed} above lowest (rope {lowest})"
    if rule.metric is Metric.OFF_MEAN:
        return (
            f"the rope furthest from the mean is {observed} off it, "
            f"highest rope {highest}, lowest rope {lowest}"
        )
    return (
        f"highest (rope {highest}) and lowest (rope {lowest}) "
        f"differ by {observed} of the mean"
    )


def could_be(bounds: Bounds) -> str:
    """Say between what the true spread may lie."""
    if bounds.lower is None or (bounds.upper is None and bounds.lower < 5e-4):
        return "it could be anything"
    if bounds.upper is None:
        return f"it could be {percent(bounds.lower)} or any more"
    lower = f"{100 * bounds.lower:.1f}"
    return f"it could be {lower} to {percent(bounds.upper)}"
