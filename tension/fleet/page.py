"""The list of a fleet as one page that sorts and filters without a network."""

import json
from collections.abc import Callable, Iterator, Mapping
from datetime import date
from itertools import islice
from pathlib import Path

from tension.fleet.rows import ListedRow
from tension.fleet.spool import Order
from tension.fleet.words import (
    CONDITION,
    ORDERS,
    VERDICTS,
    counts_text,
    interval_text,
    lift_text,
    rule_text,
    spread_text,
)
from tension.report.visible import visible
from tension.version import __version__
from tension.wording import Terms, say

_TEMPLATES = Path(__file__).with_name("templates")
N_PLAIN = 100
"""So many lines stand on the page without its script, and are shown at a time. [1]"""

Card = dict[str, str | float | int | None]


def page_parts(
    rows: Callable[[], Iterator[ListedRow]],
    counts: Mapping[str, int],
    *,
    top: str,
    day: date,
    order: Order,
    terms: Terms = Terms.EUROPE,
) -> Iterator[str]:
    """Make a page piece by piece, so that memory does not grow with the lifts.

    Returns
    -------
    iterator of str
        Parts of the file; texts of people are escaped.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    environment.filters["say"] = lambda text: say(text, terms)
    return environment.get_template("fleet.html.j2").generate(
        top=visible(top),
        day=day.isoformat(),
        order=order.value,
        orders=[(one.value, said) for one, said in ORDERS.items()],
        verdicts=[
            (name, *VERDICTS[name], counts[name])
            for name in VERDICTS
            if counts.get(name)
        ],
        counts=counts_text(counts),
        condition=CONDITION,
        n_all=sum(counts.values()),
        n_plain=N_PLAIN,
        plain=(_card(row, terms) for row in islice(rows(), N_PLAIN)),
        cards=(_script_text(_card(row, terms)) for row in rows()),
        shapes=_script_text({name: list(said) for name, said in VERDICTS.items()}),
        version=__version__,
    )


def _card(listed: ListedRow, terms: Terms) -> Card:
    """What the page shows of a line, and what it is sorted by."""
    row = listed.row
    again = ", ".join(map(str, row.measure_again))
    return {
        "verdict": row.verdict,
        "shape": VERDICTS[row.verdict][0],
        "word": VERDICTS[row.verdict][1],
        "lift": visible(lift_text(row)),
        "record": visible(row.record),
        "spread": spread_text(row),
        "interval": interval_text(row),
        "days": "" if listed.days_since is None else str(listed.days_since),
        "date": visible(row.date),
        "records": "" if listed.n_records == 1 else str(listed.n_records),
        "where": visible(", ".join(t for t in (row.side, row.position) if t)),
        "rule": visible(rule_text(row)),
        "reason": visible(say(row.reason, terms)),
        "next": visible(say(row.next_act, terms)),
        "again": again,
        "place": listed.place,
        "by_spread": row.spread_percent,
        "by_probability": row.probability_over_limit,
    }


def _script_text(value: object) -> str:
    """JSON that may stand in a script of a page."""
    text = json.dumps(value, ensure_ascii=True, allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
