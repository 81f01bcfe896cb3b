"""Acceptance after re-roping: the form as filled in, and blank to fill in by hand."""

from collections.abc import Iterable, Iterator
from fractions import Fraction

from tension.catalogue.acceptance import (
    AcceptanceItem,
    AcceptanceRule,
    acceptance_items,
)
from tension.condition.acceptance import Acceptance, Defect, ItemResult
from tension.condition.acceptance_items import Figure
from tension.condition.checks import Check
from tension.quantity.units import Dimension
from tension.report.document import (
    Blanks,
    Block,
    Document,
    Paragraph,
    Section,
    bulleted,
    listed,
    small,
    strong,
)
from tension.report.evidence import Evidence, Manner
from tension.report.findings_sections import remarks
from tension.report.pictures import runby_picture
from tension.telling.cautions import ON_THE_CAR_TOP, WHAT_THE_RESULT_IS
from tension.telling.numbers import count_text, typed_and_si, written_apart
from tension.telling.results import spread_words

_ROOM = "\n"
"""An empty cell high enough to write in."""
N_ROWS = 8
"""Ropes that one form has room for; more take a second one. [1]"""
_PHOTOS = (
    "Rope tag",
    "Data plate",
    "Hitch, car side",
    "Hitch, counterweight side",
    "Springs and pins",
    "Grooves with straightedge",
    "",
    "",
)
_TO_WRITE_DOWN = (
    (
        "New rope: two diameters at right angles at three places; length of lays",
        ("1st place", "2nd place", "3rd place", "Length", "of lays"),
    ),
    (
        "Clips: distance of each from the mouth of the socket; tail",
        ("1st clip", "2nd clip", "3rd clip", "Tail", "Way round"),
    ),
    (
        "Springs: lengths; thread left",
        ("Free", "Solid", "Now", "At 125 %", "Thread left"),
    ),
)


def acceptance_section(evidence: Evidence, manner: Manner) -> Section | None:
    """The form after re-roping with its defects list; None without any of it."""
    acceptance = evidence.acceptance
    if acceptance is None:
        return None
    return Section(
        heading=manner.say("Acceptance after [[re-roping]]"),
        blocks=acceptance_blocks(acceptance, manner),
    )


def acceptance_blocks(acceptance: Acceptance, manner: Manner) -> tuple[Block, ...]:
    """Write the form: defects first, then item by item."""
    answered = [result for result in acceptance.items if result.is_answered]
    picture = runby_picture(acceptance)
    named = {(r.item.name, rule.name) for r in answered for rule in r.rules}
    return (
        strong("Defects"),
        *bulleted(
            (defect_line(defect, manner) for defect in acceptance.defects),
            otherwise="None listed.",
        ),
        *_items_named("Could not be seen", acceptance.unseen_items),
        *_items_named("Not answered", acceptance.open_items),
        *listed(
            "Items",
            ("No.", "Item", "Answer", "Read and computed", "Note, by, photo"),
            (_item_row(result, manner) for result in answered),
            widths=(0.4, 1.7, 1.1, 2.2, 1.4),
        ),
        *([picture] if picture is not None else []),
        *listed(
            "Rules, source by source; only the one that was named decides",
            ("Item", "Rule", "Source", "Standing", ""),
            (
                (
                    *_rule_cells(item, rule, manner),
                    "named" if (item.name, rule.name) in named else "",
                )
                for item, rule in _rules_of(result.item for result in answered)
            ),
            widths=(0.9, 2.4, 1.8, 0.9, 0.6),
        ),
    )


def _items_named(words: str, results: Iterable[ItemResult]) -> list[Block]:
    """Items by name in one sentence, if there are any."""
    names = ", ".join(_item_name(result.item) for result in results)
    return [Paragraph(text=f"{words}: {names}.")] if names else []


def _rules_of(
    items: Iterable[AcceptanceItem],
) -> Iterator[tuple[AcceptanceItem, AcceptanceRule]]:
    """Rules of some items, source by source."""
    return ((item, rule) for item in items for rule in item.rules)


def _rule_cells(
    item: AcceptanceItem, rule: AcceptanceRule, manner: Manner
) -> tuple[str, ...]:
    """Item, rule, source, standing."""
    return (
        item.name.replace("-", " "),
        manner.say(rule.text),
        rule.source or "–",
        rule.standing.value,
    )


def defect_line(defect: Defect, manner: Manner) -> str:
    """Write one defect."""
    where = "" if defect.rope is None else f", rope {count_text(defect.rope)}"
    head = f"{_item_name(defect.item)}{where}: "
    if defect.figure is not None:
        return head + figure_words(defect.figure, manner)
    if defect.assessment is not None:
        one = defect.assessment
        return (
            f'{head}series "{one.measurement.series.name}" '
            f"{one.verdict.banner}, {spread_words(one.spread)}"
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
    return f"{count_text(item.number)} {item.name.replace('-', ' ')}"


def _item_row(result: ItemResult, manner: Manner) -> tuple[str, ...]:
    """One item of the form."""
    answers = [
        f"{_rope_prefix(check.rope)}{check.answer.value}"
        for check in result.checks
        if check.answer is not None
    ]
    if result.assessment is not None:
        answers.append(result.assessment.verdict.banner)
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
    remarked = [r for r in map(remarks, result.checks) if r != "–"]
    return (
        count_text(result.item.number),
        manner.say(result.item.question),
        "\n".join(answers) or "–",
        "\n".join(computed) or "–",
        "\n".join(remarked) or "–",
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
    parts += [f"{name} {count_text(n)}" for name, n in counts if n is not None]
    if check.hitch_order:
        parts.append(f"hitch order {' '.join(map(str, check.hitch_order))}")
        parts.append(f"grooves {' '.join(map(str, check.grooves))}")
    return "; ".join(parts)


def _rope_prefix(rope: int | None) -> str:
    """Which rope, where it is one."""
    return "" if rope is None else f"rope {count_text(rope)}: "


def blank_acceptance(manner: Manner | None = None) -> Document:
    """Build the blank form; European words if no others are asked for."""
    manner = manner or Manner()
    items = acceptance_items()
    return Document(
        title=manner.say("Acceptance after [[re-roping]]"),
        subject="Answer each item: yes, no, not applicable, could not see.",
        first_page=(
            Blanks(labels=(manner.say("[[Lift]]"), "Date", "Name, qualification")),
            *listed(
                "",
                ("No.", "Item", "How", "Yes", "No", "N/a", "Not seen", "Note"),
                (
                    (
                        count_text(item.number),
                        manner.say(item.question),
                        ", ".join(way.value for way in item.ways),
                        *("",) * 5,
                    )
                    for item in items
                ),
                widths=(0.4, 3.6, 1.0, 0.45, 0.45, 0.45, 0.6, 1.6),
            ),
            *(small(manner.say(t)) for t in (*ON_THE_CAR_TOP, *WHAT_THE_RESULT_IS)),
            Blanks(labels=("Defects", "Date", "Signature")),
        ),
        sections=(
            Section(
                heading="Figures to write down", blocks=tuple(_to_write_down(manner))
            ),
            Section(
                heading="Rules, source by source",
                blocks=tuple(
                    listed(
                        "Only the rule of your own code decides",
                        ("Item", "Rule", "Source", "Standing"),
                        (_rule_cells(*one, manner) for one in _rules_of(items)),
                        widths=(0.9, 2.4, 2.0, 1.0),
                    )
                ),
            ),
        ),
        footer="Acceptance form, blank",
    )


def _to_write_down(manner: Manner) -> Iterator[Block]:
    """Room for everything that is measured, rope by rope."""
    for caption, headings in _TO_WRITE_DOWN:
        yield from listed(
            caption,
            ("Rope", *headings),
            (
                (count_text(rope), *(_ROOM,) * len(headings))
                for rope in range(1, N_ROWS + 1)
            ),
            widths=(0.4, *(1.0,) * len(headings)),
        )
    yield Paragraph(
        text="Runby with the car level at the top: negative when the counterweight "
        "lands before the car is level. Rope to take out of each rope = falls × (runby "
        "wanted − runby now). Landing 4 in early and 18 in wanted: 22 in at 1:1."
    )
    yield Blanks(labels=("Runby now", "Runby wanted", "Least and most"))
    yield from listed(
        manner.say("Photos"),
        ("What", "File or number", "By"),
        ((what, _ROOM, _ROOM) for what in _PHOTOS),
        widths=(2.0, 2.0, 1.0),
    )
