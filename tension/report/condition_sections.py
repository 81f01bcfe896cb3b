"""Findings, the chain in full, and acceptance after re-roping."""

from fractions import Fraction

from tension.catalogue.acceptance import AcceptanceItem, AcceptanceRule
from tension.condition.acceptance import Acceptance, Defect, ItemResult
from tension.condition.acceptance_items import Figure
from tension.condition.chain import Chain
from tension.condition.checks import Check
from tension.condition.findings import Finding
from tension.quantity.units import Dimension
from tension.report.chain_words import CLOSING, chain_lines
from tension.report.comparison_words import DISTRIBUTION_WORDS, KIND_WORDS
from tension.report.document import (
    Block,
    Bullets,
    Grid,
    Paragraph,
    Section,
    Weight,
)
from tension.report.evidence import Evidence, Manner
from tension.report.numbers import typed_and_si, written, written_apart
from tension.report.pictures import runby_picture
from tension.report.words import VERDICT_WORDS, spread_words


def condition_section(evidence: Evidence, manner: Manner) -> Section:
    """Findings as written and the chain in full."""
    chain = evidence.chain
    lines = chain_lines(chain)
    blocks: list[Block] = []
    if lines:
        blocks.append(Bullets(items=tuple(manner.say(line) for line in lines)))
        blocks.append(Paragraph(text=CLOSING))
    else:
        blocks.append(Paragraph(text="No finding in this record."))
    table, allowance = chain.table, chain.allowance
    if table is not None and allowance.is_confirmed and table.note:
        blocks.append(Paragraph(text=f"The table also says: {table.note}"))
    if chain.findings:
        blocks.append(_findings_grid(chain))
    return Section(heading="Condition of the ropes", blocks=tuple(blocks))


def _findings_grid(chain: Chain) -> Grid:
    """Every finding as written."""
    return Grid(
        caption="Findings as written",
        headers=("Rope", "What", "Where", "Seen", "Read", "Note, by, photo"),
        rows=tuple(
            (
                "set" if finding.rope is None else written(float(finding.rope)),
                KIND_WORDS[finding.kind],
                finding.at or "–",
                finding.seen.value + (", counts" if finding.counts else ""),
                _read(finding) or "–",
                _remarks(finding),
            )
            for finding in chain.findings
        ),
        widths=(0.5, 1.0, 1.2, 0.9, 1.9, 1.8),
    )


def _read(finding: Finding) -> str:
    """What was read or counted."""
    lays = f" over {_count(finding.lays)} lays" if finding.lays else ""
    how = finding.distribution
    parts = (
        f"{_count(finding.broken)} broken" if finding.broken is not None else "",
        DISTRIBUTION_WORDS[how] if how is not None else "",
        f"lay {typed_and_si(finding.lay)}{lays}" if finding.lay else "",
        f"baseline {typed_and_si(finding.baseline)}" if finding.baseline else "",
        *(typed_and_si(reading) for reading in finding.diameters),
        *(f"gauge {entry.value}" for entry in finding.gauge),
        f"gauge marked {finding.gauge_size}" if finding.gauge_size else "",
        f"groove {_count(finding.groove)}" if finding.groove else "",
        f"lower by {typed_and_si(finding.seating)}" if finding.seating else "",
        f"crosses rope {_count(finding.other_rope)}" if finding.other_rope else "",
        f'series "{finding.series}"' if finding.series else "",
    )
    return "; ".join(part for part in parts if part)


def _count(number: int | None) -> str:
    """A whole number."""
    return written(None if number is None else float(number))


def _remarks(entry: Finding | Check) -> str:
    """Note, name and photos of a finding or a check."""
    parts = [entry.note, f"by {entry.by}" if entry.by else "", *entry.photos]
    return "; ".join(part for part in parts if part) or "–"


def acceptance_section(evidence: Evidence, manner: Manner) -> Section | None:
    """The form after re-roping with its defects list.

    Returns
    -------
    Section or None
        None if the record has nothing of it.
    """
    acceptance = evidence.acceptance
    if acceptance is None:
        return None
    return Section(
        heading=manner.say("Acceptance after [[re-roping]]"),
        blocks=acceptance_blocks(acceptance, manner),
    )


def acceptance_blocks(acceptance: Acceptance, manner: Manner) -> tuple[Block, ...]:
    """Write the form: defects first, then item by item."""
    defects = tuple(defect_line(defect, manner) for defect in acceptance.defects)
    blocks: list[Block] = [Paragraph(text="Defects", weight=Weight.STRONG)]
    blocks.append(Bullets(items=defects) if defects else Paragraph(text="None listed."))
    unseen = ", ".join(_item_name(r.item) for r in acceptance.unseen_items)
    if unseen:
        blocks.append(Paragraph(text=f"Could not be seen: {unseen}."))
    unanswered = ", ".join(_item_name(r.item) for r in acceptance.open_items)
    if unanswered:
        blocks.append(Paragraph(text=f"Not answered: {unanswered}."))
    answered = [result for result in acceptance.items if result.is_answered]
    if answered:
        blocks.append(
            Grid(
                caption="Items",
                headers=(
                    "No.",
                    "Item",
                    "Answer",
                    "Read and computed",
                    "Note, by, photo",
                ),
                rows=tuple(_item_row(result, manner) for result in answered),
                widths=(0.4, 1.7, 1.1, 2.2, 1.4),
            )
        )
    picture = runby_picture(acceptance)
    if picture is not None:
        blocks.append(picture)
    rules = [(result.item, rule) for result in answered for rule in result.item.rules]
    if rules:
        blocks.append(_rules_grid(rules, answered, manner))
    return tuple(blocks)


def defect_line(defect: Defect, manner: Manner) -> str:
    """Write one defect."""
    where = "" if defect.rope is None else f", rope {written(float(defect.rope))}"
    head = f"{_item_name(defect.item)}{where}: "
    if defect.figure is not None:
        return head + figure_words(defect.figure, manner)
    if defect.assessment is not None:
        one = defect.assessment
        return (
            f'{head}series "{one.measurement.series.name}" '
            f"{VERDICT_WORDS[one.verdict]}, {spread_words(one.spread)}"
        )
    note = defect.check.note if defect.check else ""
    question = manner.say(defect.item.question)
    return f"{head}answered no. {question}{f' Note: {note}' if note else ''}"


def figure_words(figure: Figure, manner: Manner) -> str:
    """Write one computed figure with its bound."""
    value, bounds = _value(figure, figure.value, manner)[0], []
    for name, bound in (("at least", figure.least), ("at most", figure.most)):
        if bound is not None:
            value, shown = _value(figure, bound, manner)
            bounds.append(f"{name} {shown}")
    words = f"{figure.label} {value}"
    if bounds:
        kept = "within" if figure.is_met else "OUTSIDE"
        by = f" by {figure.rule}" if figure.rule else ""
        words += f" ({kept} {', '.join(bounds)}{by})"
    return f"{words}; {figure.note}" if figure.note else words


def _value(figure: Figure, bound: Fraction, manner: Manner) -> tuple[str, str]:
    """The value of a figure and a bound, told apart in writing where they differ."""
    return written_apart(
        figure.value,
        bound,
        figure.dimension,
        resolution=figure.resolution,
        units=manner.units if figure.dimension is Dimension.LENGTH else Manner().units,
        unit=figure.unit,
    )


def _item_name(item: AcceptanceItem) -> str:
    """An item by number and name."""
    return f"{written(float(item.number))} {item.name.replace('-', ' ')}"


def _item_row(result: ItemResult, manner: Manner) -> tuple[str, ...]:
    """One item of the form."""
    answers = [
        f"{_rope_prefix(check.rope)}{check.answer.value}"
        for check in result.checks
        if check.answer is not None
    ]
    if result.assessment is not None:
        answers.append(VERDICT_WORDS[result.assessment.verdict])
    computed = [
        f"{_rope_prefix(check.rope)}read {read}"
        for check in result.checks
        if (read := _readings(check))
    ]
    computed += [
        f"{_rope_prefix(figure.rope)}{figure_words(figure, manner)}"
        for figure in result.figures
    ]
    computed += [
        f"{_rope_prefix(check.rope)}tag: {check.tag_text}"
        for check in result.checks
        if check.tag_text
    ]
    remarks = [r for r in map(_remarks, result.checks) if r != "–"]
    return (
        written(float(result.item.number)),
        manner.say(result.item.question),
        "\n".join(answers) or "–",
        "\n".join(computed) or "–",
        "\n".join(remarks) or "–",
    )


def _readings(check: Check) -> str:
    """What was read for an item, as typed and in SI."""
    singles = (
        ("tag diameter", check.tag_diameter),
        ("plate diameter", check.plate_diameter),
        ("tag strength", check.tag_strength),
        ("plate strength", check.plate_strength),
        ("length", check.length),
        ("free", check.free_length),
        ("solid", check.solid_length),
        ("now", check.now),
        ("wanted", check.wanted),
        ("least", check.least),
        ("most", check.most),
        ("stretch", check.stretch),
        ("rope length", check.rope_length),
    )
    parts = [f"{name} {typed_and_si(one)}" for name, one in singles if one]
    parts += [typed_and_si(one) for one in (*check.diameters, *check.distances)]
    counts = (
        ("lays", check.lays),
        ("ropes on the plate", check.plate_ropes),
        ("rod ends", check.count),
    )
    parts += [f"{name} {_count(n)}" for name, n in counts if n is not None]
    if check.hitch_order:
        parts.append(f"hitch order {' '.join(map(str, check.hitch_order))}")
        parts.append(f"grooves {' '.join(map(str, check.grooves))}")
    return "; ".join(parts)


def _rope_prefix(rope: int | None) -> str:
    """Which rope, where it is one."""
    return "" if rope is None else f"rope {written(float(rope))}: "


def _rules_grid(
    rules: list[tuple[AcceptanceItem, AcceptanceRule]],
    answered: list[ItemResult],
    manner: Manner,
) -> Grid:
    """Rules of the items answered, source by source."""
    named = {(r.item.name, rule.name) for r in answered for rule in r.rules}
    return Grid(
        caption="Rules, source by source; only the one that was named decides",
        headers=("Item", "Rule", "Source", "Standing", ""),
        rows=tuple(
            (
                item.name.replace("-", " "),
                manner.say(rule.text),
                rule.source or "–",
                rule.standing.value,
                "named" if (item.name, rule.name) in named else "",
            )
            for item, rule in rules
        ),
        widths=(0.9, 2.4, 1.8, 0.9, 0.6),
    )
