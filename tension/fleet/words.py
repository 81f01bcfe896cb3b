"""What a list of a fleet says to people, once for the terminal and the page."""

from collections.abc import Mapping

from tension.fleet.rows import FAULT, UNUSABLE, LiftRow
from tension.fleet.spool import Order

VERDICTS: Mapping[str, tuple[str, str]] = {
    "unequal": ("≠", "UNEQUAL"),
    "cannot-tell": ("?", "CANNOT TELL"),
    "no-result": ("–", "NO RESULT"),
    "equal": ("=", "EQUAL"),
    UNUSABLE: ("!", "NOT USABLE"),
    FAULT: ("!", "PROGRAM FAILED"),
}
"""Shape and word of each result, in the order in which they are counted."""

ORDERS: Mapping[Order, str] = {
    Order.SPREAD: "greatest spread first",
    Order.CANNOT_TELL: "cannot tell first",
    Order.DAYS_SINCE: "longest since first",
    Order.RECORD: "as in the folder",
}

CONDITION = (
    "Each line holds at its own position and side, on the day of its record. Equal or "
    "unequal is said against the rule named; it is no word on what may run."
)


def counts_text(counts: Mapping[str, int]) -> str:
    """Tell how many lifts got which result."""
    n_lifts = sum(n for name, n in counts.items() if name not in {UNUSABLE, FAULT})
    said = [
        f"{counts[name]} {word.lower()}"
        for name, (_, word) in VERDICTS.items()
        if counts.get(name) and name not in {UNUSABLE, FAULT}
    ]
    noun = "[[lift]]" if n_lifts == 1 else "[[lifts]]"
    text = f"{n_lifts} {noun}" + (f": {', '.join(said)}" if said else "")
    n_lost = counts.get(UNUSABLE, 0) + counts.get(FAULT, 0)
    if not n_lost:
        return f"{text}."
    places = "1 folder or record" if n_lost == 1 else f"{n_lost} folders or records"
    return f"{text}; {places} could not be used."


def spread_text(row: LiftRow) -> str:
    """Write the best estimate of a spread, in percent; empty without a number."""
    return "" if row.spread_percent is None else f"{row.spread_percent:.1f} %"


def interval_text(row: LiftRow) -> str:
    """Write between what a true spread lies at 95 %; empty where it is not bounded."""
    lower, upper = row.lower_percent, row.upper_percent
    if lower is None and upper is None:
        return ""
    if lower is None:
        return f"at most {upper:.1f} %"
    if upper is None:
        return f"at least {lower:.1f} %"
    return f"{lower:.1f} to {upper:.1f} %"


def lift_text(row: LiftRow) -> str:
    """Name a lift; by its record if it has no name."""
    named = [" ".join(t.split()) for t in (row.lift, row.address, row.car_number)]
    return ", ".join(text for text in named if text) or row.record


def rule_text(row: LiftRow) -> str:
    """Name the rule of a line with its limit; empty if there is none."""
    if row.limit_percent is None:
        return ""
    return f"{row.metric} {row.limit_percent:g} %, {row.rule}".rstrip(", ")
