"""Sentences that several parts of a report share."""

from collections.abc import Sequence

from tension.assessment.outcome import Assessment, Spread, Verdict
from tension.measurement.readings import Series
from tension.quantity.units import Dimension
from tension.report.numbers import written

VERDICT_WORDS = {
    Verdict.EQUAL: "EQUAL",
    Verdict.UNEQUAL: "UNEQUAL",
    Verdict.CANNOT_TELL: "CANNOT TELL",
    Verdict.NO_RESULT: "NO RESULT",
}
HALF_PERCENT = 0.005
"""To what a limit is known: as it was written. [1]"""

NOT_RECORDED = "not recorded"


def rope_words(ropes: Sequence[int]) -> str:
    """Name ropes.

    Returns
    -------
    str
        Such as "rope 3" or "ropes 2, 3, 5".
    """
    word = "rope" if len(ropes) == 1 else "ropes"
    return f"{word} {', '.join(map(str, ropes))}" if ropes else "the set"


def spread_words(spread: Spread) -> str:
    """Write a spread with its interval."""
    interval = interval_words(spread)
    bounded = spread.lower is not None or spread.upper is not None
    return (
        f"{spread.metric.value} {best_words(spread)}, "
        f"{interval}{' at 95 %' if bounded else ''}"
    )


def best_words(spread: Spread) -> str:
    """Write the best estimate of a spread."""
    return percent(spread.observed)


def interval_words(spread: Spread) -> str:
    """Write between what a true spread lies at 95 %.

    Returns
    -------
    str
        Such as "between 14.2 % and 21.9 %".
    """
    if spread.lower is not None and spread.upper is not None:
        return f"between {percent(spread.lower)} and {percent(spread.upper)}"
    if spread.lower is not None:
        return f"at least {percent(spread.lower)}"
    if spread.upper is not None:
        return f"at most {percent(spread.upper)}"
    return "not bounded"


def percent(fraction: float | None) -> str:
    """Write a fraction as percent with one decimal.

    Parameters
    ----------
    fraction : float or None
        The fraction. [1]

    Returns
    -------
    str
        Such as "18.2 %".
    """
    return written(fraction, Dimension.FRACTION, uncertainty=HALF_PERCENT)


def condition_words(assessment: Assessment, *, is_place_known: bool = True) -> str:
    """Say for what condition a result holds.

    Parameters
    ----------
    assessment : Assessment
        The result.
    is_place_known : bool, optional
        Whether anybody said where the span is.

    Returns
    -------
    str
        Side, position, arrival, load, people; what was not recorded is said so.
    """
    span = assessment.measurement.span
    if span is None:
        place = "springs at the hitch"
    elif is_place_known:
        place = f"{span.side.value} side, {span.position or 'position not recorded'}"
    else:
        place = "side and position not recorded"
    return f"{place}, {series_words(assessment.measurement.series)}"


def series_words(series: Series) -> str:
    """Say under what condition a series was taken."""
    parts = [
        f"arrived {series.arrived}" if series.arrived else "arrival not recorded",
        f"load {series.load}" if series.load else "load not recorded",
        f"people {series.people}" if series.people else "people not recorded",
        f"{series.fall} fall" if series.fall else "",
        f"neighbours {series.neighbours}"
        if series.neighbours
        else "neighbours not recorded",
    ]
    return ", ".join(part for part in parts if part)
