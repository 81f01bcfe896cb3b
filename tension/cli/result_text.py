"""A result in words: the answer first, then why, for what condition, and the table."""

from collections.abc import Sequence

from tension.assessment.outcome import Assessment, RopeShare, Spread, Verdict
from tension.catalogue.rules import Metric, Rule
from tension.cli.text import large, table, wrapped
from tension.measurement.outcome import RopeMeasurement
from tension.notes import Note, NoteKind
from tension.quantity.units import Dimension, UnitSystem, show_quantity
from tension.wording import Terms, say

_LARGE = {
    Verdict.EQUAL: "EQUAL",
    Verdict.UNEQUAL: "UNEQUAL",
    Verdict.CANNOT_TELL: "CANNOT TELL",
    Verdict.NO_RESULT: "NO RESULT",
}

METRIC_WORDS = {
    Metric.BELOW_HIGHEST: "lowest below highest",
    Metric.ABOVE_LOWEST: "highest above lowest",
    Metric.OFF_MEAN: "furthest from the mean",
    Metric.RANGE_OF_MEAN: "highest less lowest, of the mean",
}

_NUMBER_OF = {kind.code: kind.number for kind in NoteKind}


def result_text(
    assessment: Assessment, *, width: int, units: UnitSystem, terms: Terms
) -> str:
    """Write a whole result.

    Parameters
    ----------
    assessment : Assessment
        The result.
    width : int
        Columns there are.
    units : UnitSystem
        Units shown.
    terms : Terms
        Words of the trade.

    Returns
    -------
    str
        Lines ended by newlines.
    """
    parts = [
        large(_LARGE[assessment.verdict], width),
        wrapped(say(assessment.reason, terms), width),
        wrapped(f"Holds for: {condition_text(assessment)}.", width),
        wrapped(f"Rule: {rule_text(assessment.rule)}", width),
        "",
        _ropes_table(assessment, width=width, units=units),
        "",
        *_spread_lines(assessment, width),
    ]
    if assessment.measure_again:
        again = ", then ".join(f"rope {n}" for n in assessment.measure_again[:3])
        parts.append(wrapped(f"Measure again first: {again}.", width))
    parts += notes_lines(assessment.notes, width=width, terms=terms)
    return "\n".join(parts) + "\n"


def condition_text(assessment: Assessment) -> str:
    """Say for what condition a result holds.

    Parameters
    ----------
    assessment : Assessment
        The result.

    Returns
    -------
    str
        Side, position, direction of arrival, load and people; what was not recorded
        is said to be so.
    """
    series, span = assessment.measurement.series, assessment.measurement.span
    place = (
        f"{span.side.value} side, {span.position or 'position not recorded'}"
        if span
        else "springs at the hitch"
    )
    parts = [
        place,
        f"arrived {series.arrived}" if series.arrived else "",
        f"load {series.load}" if series.load else "load not recorded",
        f"people {series.people}" if series.people else "people not recorded",
        f"{series.fall} fall" if series.fall else "",
        f"neighbours {series.neighbours}" if series.neighbours else "",
    ]
    return ", ".join(part for part in parts if part)


def rule_text(rule: Rule) -> str:
    """Say which rule decides, with where it comes from.

    Parameters
    ----------
    rule : Rule
        The rule.

    Returns
    -------
    str
        Metric, limit, source, edition, standing and any change by the user.
    """
    limit = _percent(rule.limit)
    measure = f"{limit} by {rule.metric.value} ({METRIC_WORDS[rule.metric]})"
    if rule.changed_from is not None:
        measure = (
            f"{_percent(rule.changed_from)} of the rule, changed to {limit} by the "
            f"user; {rule.metric.value} ({METRIC_WORDS[rule.metric]})"
        )
    source = ", ".join(part for part in (rule.source, rule.edition) if part)
    return f"{rule.name}: {measure}. {source} [{rule.standing.value}]."


def notes_lines(notes: Sequence[Note], *, width: int, terms: Terms) -> list[str]:
    """Write notes with their numbers, ready to be quoted.

    Parameters
    ----------
    notes : sequence of Note
        The notes.
    width : int
        Columns there are.
    terms : Terms
        Words of the trade.

    Returns
    -------
    list of str
        A heading and a paragraph per note; empty without notes.
    """
    if not notes:
        return []
    lines = ["", "Notes"]
    for note in notes:
        where = f" (rope {_numbers(note.ropes)})" if note.ropes else ""
        sentence = say(f"{note.text} {note.next_act}".strip(), terms)
        lines.append(
            wrapped(f"{_NUMBER_OF.get(note.code, 0)}{where}: {sentence}", width, "  ")
        )
    return lines


def _ropes_table(assessment: Assessment, *, width: int, units: UnitSystem) -> str:
    """Write one line per rope."""
    shares = [s.share for s in assessment.shares if s.share is not None]
    extremes = (max(shares), min(shares)) if len(shares) > 1 else (None, None)
    has_tension = any(s.tension is not None for s in assessment.shares)
    has_fundamental = any(r.fundamental for r in assessment.measurement.ropes)
    headers = ["Rope", "Share", "±", "", ""]
    if has_tension:
        headers.append("About")
    if has_fundamental:
        headers.append("Heard")
    rows = []
    for measured, share in zip(
        assessment.measurement.ropes, assessment.shares, strict=True
    ):
        row = [str(measured.number), *_share_cells(measured, share, extremes)]
        if has_tension:
            row.append(_tension_cell(share, units))
        if has_fundamental:
            row.append(_fundamental_cell(measured))
        rows.append(row)
    return table(headers, rows, width, left=(3, 4))


def _share_cells(
    measured: RopeMeasurement,
    share: RopeShare,
    extremes: tuple[float | None, float | None],
) -> list[str]:
    """Share, uncertainty, a bar, and a word for the highest and the lowest."""
    if share.share is None:
        reason = measured.refusal.code if measured.refusal else "not measured"
        return ["-", "", "no number", reason]
    word = {extremes[0]: "highest", extremes[1]: "lowest"}.get(share.share, "")
    uncertainty = (
        f"{100 * share.share_uncertainty:.1f}" if share.share_uncertainty else ""
    )
    return [f"{100 * share.share:.1f} %", uncertainty, _bar(share.share), word]


def _bar(share: float) -> str:
    """Draw a share as a mark on a line from 70 to 130 %, the even share midway."""
    cells = ["."] * 21
    cells[10] = "|"
    place = round((share - 1.0) / 0.03) + 10
    if place < 0:
        cells[0] = "<"
    elif place > 20:
        cells[20] = ">"
    else:
        cells[place] = "o"
    return "".join(cells)


def _tension_cell(share: RopeShare, units: UnitSystem) -> str:
    """Tension to three digits, said to be about."""
    if share.tension is None:
        return ""
    rounded = float(f"{share.tension:.3g}")
    return show_quantity(rounded, Dimension.FORCE, units, digits=3)


def _fundamental_cell(measured: RopeMeasurement) -> str:
    """Fundamental frequency."""
    if measured.fundamental is None:
        return ""
    return f"{measured.fundamental.value:.2f} Hz"


def _spread_lines(assessment: Assessment, width: int) -> list[str]:
    """The deciding metric and the others."""
    if assessment.spread.observed is None:
        return []
    lines = [
        wrapped(f"{_spread_text(assessment.spread)}: decides.", width, hanging="  ")
    ]
    lines += [
        wrapped(f"{_spread_text(spread)}: printed only.", width, hanging="  ")
        for spread in assessment.other_spreads
        if spread.observed is not None
    ]
    return lines


def _spread_text(spread: Spread) -> str:
    """One metric with its interval."""
    words = METRIC_WORDS[spread.metric]
    if spread.observed is None:
        return f"{words}: none"
    text = f"{spread.metric.value} {_percent(spread.observed)}"
    if spread.lower is not None and spread.upper is not None:
        return f"{text}, between {_percent(spread.lower)} and {_percent(spread.upper)}"
    if spread.lower is not None:
        return f"{text}, at least {_percent(spread.lower)}"
    if spread.upper is not None:
        return f"{text}, at most {_percent(spread.upper)}"
    return f"{text}, not bounded"


def _percent(fraction: float) -> str:
    """Percent with one decimal at most."""
    text = f"{100 * fraction:.1f}".removesuffix(".0")
    return f"{text} %"


def _numbers(ropes: Sequence[int]) -> str:
    """Rope numbers in a list."""
    return ", ".join(map(str, ropes))
