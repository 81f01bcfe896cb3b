"""The blank form of acceptance after re-roping, to print and fill in by hand."""

from tension.catalogue.acceptance import AcceptanceItem, acceptance_items
from tension.cautions import ON_THE_CAR_TOP, WHAT_THE_RESULT_IS
from tension.report.document import (
    Blanks,
    Bullets,
    Document,
    Grid,
    Paragraph,
    Section,
    Weight,
)
from tension.report.evidence import Manner
from tension.report.numbers import written


def blank_acceptance(manner: Manner | None = None) -> Document:
    """Build the blank form.

    Parameters
    ----------
    manner : Manner, optional
        Words and units; European if left out.

    Returns
    -------
    Document
        Every item with room for an answer and a note, then the rules by source.
    """
    manner = manner or Manner()
    items = acceptance_items()
    rules = [(item, rule) for item in items for rule in item.rules]
    return Document(
        title=manner.say("Acceptance after [[re-roping]]"),
        subject="Answer each item: yes, no, not applicable, could not see.",
        first_page=(
            Blanks(labels=(manner.say("[[Lift]]"), "Date", "Name, qualification")),
            Grid(
                caption="",
                headers=("No.", "Item", "How", "Yes", "No", "N/a", "Not seen", "Note"),
                rows=tuple(_row(item, manner) for item in items),
                widths=(0.4, 3.6, 1.0, 0.45, 0.45, 0.45, 0.6, 1.6),
            ),
            *(
                Paragraph(text=manner.say(text), weight=Weight.SMALL)
                for text in (*ON_THE_CAR_TOP, *WHAT_THE_RESULT_IS)
            ),
            Blanks(labels=("Defects", "Date", "Signature")),
        ),
        sections=(
            Section(
                heading="Figures to write down",
                blocks=(
                    Bullets(
                        items=(
                            "Each new rope: two diameters at right angles at three "
                            "places; length of five lays.",
                            "Each clip: distance from the mouth of the socket.",
                            "Each spring: free, solid and working length.",
                            "Runby with the car level at the top: negative when the "
                            "counterweight lands before the car is level. Rope to "
                            "take out of each rope = falls × (runby wanted − runby "
                            "now). Landing 4 in early and 18 in wanted: 22 in at 1:1.",
                        )
                    ),
                ),
            ),
            Section(
                heading="Rules, source by source",
                blocks=(
                    Grid(
                        caption="Only the rule of your own code decides",
                        headers=("Item", "Rule", "Source", "Standing"),
                        rows=tuple(
                            (
                                item.name.replace("-", " "),
                                manner.say(rule.text),
                                rule.source or "–",
                                rule.standing.value,
                            )
                            for item, rule in rules
                        ),
                        widths=(0.9, 2.4, 2.0, 1.0),
                    ),
                ),
            ),
        ),
        footer="Acceptance form, blank",
    )


def _row(item: AcceptanceItem, manner: Manner) -> tuple[str, ...]:
    """One item with room to answer."""
    ways = ", ".join(way.value for way in item.ways)
    return (
        written(float(item.number)),
        manner.say(item.question),
        ways,
        "",
        "",
        "",
        "",
        "",
    )
