"""Findings and acceptance in words: what exceeds, the form as filled in and blank.

The sentences stand in ``telling/pages``: ``condition``, ``findings``, ``acceptance``.
"""

from collections.abc import Callable
from dataclasses import fields
from fractions import Fraction

from tension.catalogue.ropes import LEAST_LAY, MOST_LAY, LayFault
from tension.condition.acceptance import Acceptance, Figure, FigureKind, ItemResult
from tension.condition.chain import Chain, Compared, DiameterComparison
from tension.condition.checks import Check, acceptance_items
from tension.condition.comparison import BreakComparison, Outcome
from tension.condition.findings import Finding
from tension.quantity.showing import rounded_text
from tension.quantity.units import Dimension, Quantity, show_quantity
from tension.telling import numbers, page, results
from tension.telling.lines import ON_THE_CAR_TOP, WHAT_THE_RESULT_IS, joined, told, word
from tension.telling.page import Manner, written_page

_DECIMALS = 5
"""To what a mean of two calliper readings is written: hundredths of a millimetre."""
N_ROWS = 8
"""Ropes that one form has room for; more take a second one. [1]"""
_SHORT = {
    "plate_ropes": "ropes on the plate",
    "count": "rod ends",
    "free_length": "free",
    "solid_length": "solid",
}
"""What is read for an item, where it is called otherwise than the record does."""


def chain_lines(
    chain: Chain, manner: Manner, cut: Callable[[str, int], str] | None = None
) -> tuple[page.Paragraph, ...]:
    """Write the chain: conditions, the table, then rope by rope.

    What exceeds the allowance is strong, what weighs little small. A function may cut
    what people typed to so many characters. [1]
    """
    by_sight = chain.table.by_sight if chain.table else ()
    words = finding_words(cut) | {"chain": chain, "by_sight": by_sight}
    blocks, _ = written_page("condition", manner.terms, words)
    return tuple(block for block in blocks if isinstance(block, page.Paragraph))


def finding_words(cut: Callable[[str, int], str] | None = None) -> dict[str, object]:
    """Give what the sentences of findings and of the form name."""
    return {
        "cut": cut or (lambda text, _: text),
        "copy": lambda one: _fine(float(one.held)),
        "lay_text": lambda change: _fine(change.lay, 0.5e-3),
        "lay_fault_text": lay_fault_text,
        "mean_and_bound": lambda one: numbers.written_apart(
            one.mean,
            one.mean if one.least is None else one.least,
            Dimension.LENGTH,
            decimals=_DECIMALS,
        ),
        "figure_words": figure_words,
        "item_cells": _item_cells,
        "results": results,
    }


def exceedances(chain: Chain) -> list[Compared]:
    """Give what exceeds the allowance, rope by rope."""
    every = (one for rope in chain.ropes for one in rope.compared)
    return [one for one in every if one.outcome is Outcome.EXCEEDS]


def excess(one: Compared) -> float:
    """Tell how far it exceeds, found over allowed; one of a gauge. [1]."""
    if isinstance(one, BreakComparison) and one.allowed is not None:
        return (one.finding.broken or 0) / max(float(one.allowed.lay), 0.5)
    if isinstance(one, DiameterComparison) and one.least is not None:
        return float(one.least / one.mean) if one.mean else 2.0
    return 1.0


def _fine(length: float, uncertainty: float = 10.0**-_DECIMALS) -> str:
    """A length [m] that was read with a calliper or a rule."""
    return numbers.written(length, Dimension.LENGTH, uncertainty=uncertainty)


def lay_fault_text(fault: LayFault) -> str:
    """Say why a length can be no lay of a rope."""
    what = "one lay" if fault.lays == 1 else f"each of {fault.lays} lays"
    return told(
        "condition.not-a-lay",
        length=fault.length.text,
        what=what,
        diameters=rounded_text(fault.diameters, digits=2),
        least=LEAST_LAY,
        most=MOST_LAY,
    )


def remarks(entry: Finding | Check) -> str:
    """Note, name and photos of a finding or a check; a dash without any."""
    return joined(entry.note, f"by {entry.by}" if entry.by else "", *entry.photos)


def acceptance_blocks(acceptance: Acceptance, manner: Manner) -> tuple[page.Block, ...]:
    """Write the form: defects first, then item by item."""
    words = {"acceptance": acceptance, "manner": manner, "pictures": ()}
    return written_page("acceptance", manner.terms, finding_words() | words)[0]


def runby_picture(acceptance: Acceptance) -> page.Picture | None:
    """Draw what the sign of a runby means, not to scale; None if none was measured.

    Not negative: car level at the top landing, counterweight above its buffer.
    Negative: counterweight on its buffer, car still below the landing by so much.
    """
    figures = (figure for result in acceptance.items for figure in result.figures)
    runby = next((float(f.value) for f in figures if f.kind is FigureKind.RUNBY), None)
    if runby is None:
        return None
    is_early = runby < 0
    lower = 33 if is_early else 0
    drawing = page.PAGES.joinpath("runby.en.svg").read_text(encoding="utf-8")
    svg = drawing.format(
        lower=lower,
        car=48 + lower,
        weight=106 + lower,
        arrow="119 96" if is_early else "245 159",
        sign="−" if is_early else "+",
        runby=show_quantity(runby, Dimension.LENGTH),
        below=told("condition.lands-early" if is_early else "condition.has-space"),
    )
    return page.Picture(svg=svg, alt=told("condition.runby-drawn"), height=60.0)


def figure_words(figure: Figure, manner: Manner) -> str:
    """Write one computed figure with its bound."""
    value, bounds = _value(figure, figure.value, manner)[0], []
    for name, bound in (("at least", figure.least), ("at most", figure.most)):
        if bound is not None:
            value, shown = _value(figure, bound, manner)
            bounds.append(f"{name} {shown}")
    words = f"{figure_label(figure)} {value}"
    if bounds:
        kept = "within" if figure.is_met else "OUTSIDE"
        by = f" by {figure.rule}" if figure.rule else ""
        words += f" ({kept} {', '.join(bounds)}{by})"
    return "; ".join(filter(None, (words, figure_note(figure))))


def figure_label(figure: Figure) -> str:
    """Say what a figure is."""
    stretch = "" if figure.stretch is None else figure.stretch.text
    label = word(figure.kind)
    return label.format(clip=figure.clip, before=figure.clip - 1, stretch=stretch)


def figure_note(figure: Figure) -> str:
    """Say what a reader must know of a figure; empty if nothing."""
    if figure.is_unjudged:
        return told("condition.not-judged")
    sign = "negative" if figure.value < 0 else "positive" if figure.value else "zero"
    return word(figure.kind, sign, "") or word(figure.kind, "note", "")


def _value(figure: Figure, bound: Fraction, manner: Manner) -> tuple[str, str]:
    """The value of a figure and a bound, told apart in writing where they differ."""
    kind = figure.kind
    return numbers.written_apart(
        figure.value,
        bound,
        kind.dimension,
        decimals=kind.decimals,
        units=manner.units if kind.dimension is Dimension.LENGTH else Manner().units,
        unit=kind.unit,
    )


def _item_cells(result: ItemResult, manner: Manner) -> tuple[str, ...]:
    """One item of the form: answers, what was read, remarks; one below the other."""
    checks = [(_of_rope(check.rope), check) for check in result.checks]
    answers = [f"{of}{c.answer.value}" for of, c in checks if c.answer is not None]
    if result.assessment is not None:
        answers.append(result.assessment.verdict.banner)
    read = [f"{of}read {one}" for of, c in checks if (one := _readings(c))]
    read += [f"{_of_rope(f.rope)}{figure_words(f, manner)}" for f in result.figures]
    read += [f"{of}tag: {check.tag_text}" for of, check in checks if check.tag_text]
    remarked = [one for _, check in checks if (one := remarks(check)) != "–"]
    return (
        joined(*answers, by="\n"),
        joined(*read, by="\n"),
        joined(*remarked, by="\n"),
    )


def _of_rope(rope: int | None) -> str:
    """Which rope, where it is one."""
    return "" if rope is None else f"rope {numbers.count_text(rope)}: "


def _readings(check: Check) -> str:
    """What was read for an item, as typed and in SI."""
    keys = [field.name for field in fields(check) if field.name != "rope"]
    read = [
        (_SHORT.get(key) or key.replace("_", " "), getattr(check, key)) for key in keys
    ]
    parts = [
        numbers.named(
            [(name, one) for name, one in read if isinstance(one, Quantity)], ""
        ),
        *map(numbers.typed_and_si, (*check.diameters, *check.distances)),
        *(
            f"{name} {numbers.count_text(one)}"
            for name, one in read
            if isinstance(one, int)
        ),
    ]
    if check.hitch_order:
        parts.append(f"hitch order {' '.join(map(str, check.hitch_order))}")
        parts.append(f"grooves {' '.join(map(str, check.grooves))}")
    return "; ".join(part for part in parts if part)


def blank_acceptance(manner: Manner | None = None) -> page.Document:
    """Build the blank form; European words if no others are asked for."""
    manner = manner or Manner()
    words = {
        "items": acceptance_items(),
        "manner": manner,
        "cautions": (*ON_THE_CAR_TOP, *WHAT_THE_RESULT_IS),
        "n_rows": N_ROWS,
        "room": "\n",  # an empty cell high enough to write in
        "empty": "",
    }
    first_page, sections = written_page("blank_acceptance", manner.terms, words)
    return page.Document(
        title=manner.say(told("condition.title")),
        subject=told("condition.subject"),
        first_page=first_page,
        sections=sections,
        footer=told("condition.footer"),
    )
