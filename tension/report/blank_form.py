"""The blank form of acceptance after re-roping, to print and fill in by hand."""

from collections.abc import Iterator

from tension.catalogue.acceptance import AcceptanceItem, acceptance_items
from tension.report.document import (
    Blanks,
    Block,
    Document,
    Grid,
    Paragraph,
    Section,
    Weight,
)
from tension.report.evidence import Manner
from tension.telling.cautions import ON_THE_CAR_TOP, WHAT_THE_RESULT_IS
from tension.telling.numbers import written

ROOM = "\n"
"""An empty cell high enough to write in."""
N_ROWS = 8
"""Ropes that one form has room for; more take a second one. [1]"""
PHOTOS = (
    "Rope tag",
    "Data plate",
    "Hitch, car side",
    "Hitch, counterweight side",
    "Springs and pins",
    "Grooves with straightedge",
    "",
    "",
)


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
                blocks=tuple(_figures(manner)),
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


def _figures(manner: Manner) -> Iterator[Block]:
    """Room for everything that is measured, rope by rope."""
    ropes = [written(float(number)) for number in range(1, N_ROWS + 1)]
    for caption, headers in (
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
    ):
        yield Grid(
            caption=caption,
            headers=("Rope", *headers),
            rows=tuple((rope, *(ROOM,) * len(headers)) for rope in ropes),
            widths=(0.4, *(1.0,) * len(headers)),
        )
    yield Paragraph(
        text="Runby with the car level at the top: negative when the counterweight "
        "lands before the car is level. Rope to take out of each rope = falls × (runby "
        "wanted − runby now). Landing 4 in early and 18 in wanted: 22 in at 1:1."
    )
    yield Blanks(labels=("Runby now", "Runby wanted", "Least and most"))
    yield Grid(
        caption=manner.say("Photos"),
        headers=("What", "File or number", "By"),
        rows=tuple((what, ROOM, ROOM) for what in PHOTOS),
        widths=(2.0, 2.0, 1.0),
    )
