"""A plan of turns on paper: a page a stage, with boxes to tick."""

import json

from tension.adjustment.outcome import Direction, NutTurn, Plan
from tension.figures.sheet import Paper
from tension.quantity.units import UnitSystem
from tension.report.document import Plain
from tension.report.layouts import TYPST_PAPER, compiled
from tension.report.pictures import inner_svg
from tension.report.visible import readable_marks
from tension.telling.cautions import SHORT
from tension.telling.lines import TextKind, TextLine
from tension.telling.plans import (
    AT_EACH_NUT,
    detail_lines,
    nut_text,
    promise_lines,
    rotation_text,
    stage_boxes,
    stage_ending,
    turns_of_stage,
)
from tension.wording import Terms, say


def plan_pdf(
    plan: Plan,
    *,
    subject: str,
    footer: str,
    units: UnitSystem = UnitSystem.SI,
    terms: Terms = Terms.EUROPE,
    paper: Paper = Paper.A4,
) -> bytes:
    """Lay a plan out for the car top, its subject on top and its footer on every page.

    Raises
    ------
    PdfMakerMissingError
        If the package that makes it is not installed.
    """
    plain = plan_as_plain(plan, subject=subject, footer=footer, units=units)
    told = say(json.dumps(plain, ensure_ascii=False), terms)
    inputs = {"plan": readable_marks(told), "paper": TYPST_PAPER[paper]}
    return compiled("plan.typ", inputs)


def plan_as_plain(plan: Plan, *, subject: str, footer: str, units: UnitSystem) -> Plain:
    """Put a plan into plain parts for the page."""
    work, promise, *pressing = promise_lines(plan)
    rotation = rotation_text(plan.hitch)
    return {
        "title": "Plan of turns",
        "subject": subject,
        "footer": footer,
        "work": work.text,
        "promise": promise.text,
        "pressing": [line.text for line in pressing],
        "cautions": list(SHORT),
        "manner": [AT_EACH_NUT, rotation],
        "rotation": rotation,
        "stages": [_stage(plan, i + 1, units) for i in range(len(plan.stages))],
        "rest": _sections(detail_lines(plan, units)),
    }


def _stage(plan: Plan, number: int, units: UnitSystem) -> Plain:
    """One stage: its grid as a picture and the boxes to tick."""
    return {
        "heading": f"Stage {number} of {len(plan.stages)}",
        "svg": _grid(plan, number, units),
        "alt": _in_words(turns_of_stage(plan, number), units),
        "boxes": [line.text for line in stage_boxes(plan, number, units)],
        "after": stage_ending(plan, number),
    }


def _grid(plan: Plan, number: int, units: UnitSystem) -> str:
    """Draw the nuts in their rows with what this stage asks."""
    from matplotlib.figure import Figure

    from tension.figures.adjustment import draw_plan
    from tension.figures.canvas import figure_bytes

    figure = Figure(figsize=(7.0, 3.2), layout="constrained")
    draw_plan(plan, figure.add_subplot(), units, number)
    return inner_svg(figure_bytes(figure, "svg"))


def _in_words(turn_of: dict[int, NutTurn], units: UnitSystem) -> str:
    """What the picture shows."""
    made = [turn for turn in turn_of.values() if turn.direction is not Direction.LEAVE]
    return "Nuts as seen facing them. " + ". ".join(nut_text(t, units) for t in made)


def _sections(lines: tuple[TextLine, ...]) -> list[Plain]:
    """Headings with what stands under each."""
    sections: list[Plain] = []
    items: list[str] = []
    for line in lines:
        if line.kind is TextKind.HEADING:
            items = []
            sections.append({"heading": line.text, "items": items})
        else:
            items.append(line.text)
    return sections
