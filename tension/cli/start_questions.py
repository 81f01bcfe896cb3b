"""What `start` asks, in order: each question, and what skipping it costs."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from tension.cli.asking import Units, one_of
from tension.cli.start_readers import (
    Answers,
    published_rules,
    read_date,
    read_lengths,
    read_one,
    read_pairs,
    read_rope_type,
    read_rows,
    read_rule,
    read_spring,
    read_thread,
)
from tension.installation import Buffer, Drive, HitchPlace, Roping, Side
from tension.quantity.units import Dimension


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """One question of the conversation.

    Attributes
    ----------
    key : str
        Under which the answer is kept.
    label : str
        In the summary.
    text : str
        As asked; what Enter means stands in it.
    read : callable
        From the line, and what is known, to the answer.
    price : str
        What is missing without it; empty if nothing is.
    is_wanted : callable
        Whether it serves anything after what is known.
    """

    key: str
    label: str
    text: str
    read: Callable[[str, Answers], Any]
    price: str = ""
    is_wanted: Callable[[Answers], bool] = lambda _: True

    @property
    def asked(self) -> str:
        """The question with what Enter costs."""
        return f"{self.text} (Enter: {self.price})" if self.price else self.text


def questions(units: Units) -> Iterator[Question]:
    """Give every question in order."""
    yield from _about_the_visit(units)
    yield from _about_the_ropes(units)
    yield from _about_the_place(units)
    yield from _about_the_nuts(units)


def _about_the_visit(units: Units) -> Iterator[Question]:
    """Who, when, which lift, which rule."""
    yield _plain("name", "lift", "Name of the lift", "no name in the report")
    yield Question(
        key="date",
        label="date",
        text="Date, year-month-day (Enter: today)",
        read=read_date,
    )
    yield _plain("measured_by", "measured by", "Who measures", "nobody is named")
    yield _choice("drive", "drive", Drive, "Enter: traction")
    yield _choice("roping", "roping", Roping, "Enter: 1:1")
    yield _measured(
        units,
        ("car_mass", Dimension.MASS),
        "All that hangs on the car side, like 1840 kg",
        "the sum of the tensions is not checked",
    )
    rules = "; ".join(
        f"{i} {name}" for i, name in enumerate(published_rules(), start=1)
    )
    yield Question(
        key="rule",
        label="rule",
        text=f"Rule: {rules}; or a limit like 8 % (Enter: 10 % below the highest)",
        read=read_rule,
    )


def _about_the_ropes(units: Units) -> Iterator[Question]:
    """What hangs there."""
    yield Question(
        key="rope_type",
        label="rope",
        text="Rope, diameter and construction, like 13 mm 8x19 FC",
        read=read_rope_type,
        price="shares only, no newtons, no plan",
    )
    yield _measured(
        units,
        ("linear_density", Dimension.LINEAR_DENSITY),
        "Mass per length off the data sheet, like 0.575 kg/m (Enter: from a table)",
    )
    yield _measured(
        units,
        ("axial_rigidity", Dimension.FORCE),
        "Stiffness EA off the data sheet, like 4.6 MN (Enter: from a table)",
    )


def _about_the_place(units: Units) -> Iterator[Question]:
    """Which fall is measured, under what."""
    yield _choice("side", "side", Side, "Enter: car")
    yield _plain("position", "landing", "Where the car stands, like top landing")
    yield Question(
        key="lengths",
        label="free lengths",
        text=(
            "Free length of each rope in one line, like 3.40 3.55 3.40 m; or of rope 1 "
            "and how much longer the others are, like 3.40 m +150 0 mm; or one"
        ),
        read=lambda line, known: read_lengths(line, known, units),
        price="no lengths, no result",
    )
    yield _plain("people", "people", "Who is on the car")
    yield _plain("load", "load", "Load in the car, like empty")
    yield _word("arrived", "car came", ["up", "down"], "The car came")
    yield _word("neighbours", "neighbours", ["free", "damped"], "The other ropes were")


def _about_the_nuts(units: Units) -> Iterator[Question]:
    """What a plan of turns needs."""
    yield _choice(
        "hitch",
        "nuts at",
        HitchPlace,
        price="no plan of turns",
    )
    yield _of_hitch(
        "rows",
        "rows",
        "Rows as seen facing the nuts, like 1 3 5 / 2 4 6 (Enter: one row)",
        read_rows,
    )
    yield _of_hitch(
        "thread",
        "thread",
        "Thread of the rods, like M16",
        read_thread,
        "no thread, no plan",
    )
    yield _of_hitch(
        "buffer",
        "buffer",
        f"Between plate and nut: {', '.join(Buffer)} (Enter: spring)",
        lambda line, _: Buffer(one_of(list(Buffer))(line)),
    )
    yield Question(
        key="spring",
        label="spring",
        text="Spring: rate, free length, solid length, like 150 N/mm 160 96 mm",
        read=lambda line, _: read_spring(line, units),
        price="no rate: which way to turn, not how far",
        is_wanted=lambda known: (
            _has_hitch(known) and known.get("buffer") in {None, Buffer.SPRING}
        ),
    )
    yield _of_hitch(
        "far_spring",
        "far springs",
        "Springs at the other end too: same, none",
        lambda line, _: one_of(["same", "none"])(line),
        "either is allowed for",
    )
    yield _of_hitch(
        "rope_length",
        "rope length",
        "Rope from end to end, like 38 m",
        lambda line, _: read_one(line, Dimension.LENGTH, units, "rope length"),
        "no rope length, no plan",
    )
    yield _of_hitch(
        "rod_free",
        "rods",
        "Length of the rods free to swing, like 150 mm (Enter: not known)",
        lambda line, _: read_one(line, Dimension.LENGTH, units, "rod"),
    )
    yield _of_hitch(
        "thread_left",
        "thread left",
        "Thread left on each rod, to the plate / away, like 22/14 26/11 mm",
        read_pairs,
        "the plan may ask for more thread than there is",
    )


def _plain(key: str, label: str, text: str, price: str = "") -> Question:
    """A question for words of one's own."""
    skip = "" if price else " (Enter skips)"
    return Question(
        key=key, label=label, text=text + skip, read=lambda line, _: line, price=price
    )


def _word(key: str, label: str, words: list[str], text: str) -> Question:
    """A question for one of a few words."""
    return Question(
        key=key,
        label=label,
        text=f"{text} {' or '.join(words)} (Enter skips)",
        read=lambda line, _: one_of(words)(line),
    )


def _choice(
    key: str, label: str, kind: Any, skip: str = "", *, price: str = ""
) -> Question:
    """A question for one of the words of the record."""
    words = [member.value for member in kind]
    enter = f" ({skip})" if skip else ""
    return Question(
        key=key,
        label=label,
        text=f"{label.capitalize()}: {', '.join(words)}{enter}",
        read=lambda line, _: kind(one_of(words)(line)),
        price=price,
    )


def _of_hitch(
    key: str,
    label: str,
    text: str,
    read: Callable[[str, Answers], Any],
    price: str = "",
) -> Question:
    """A question that a hitch raises."""
    return Question(
        key=key, label=label, text=text, read=read, price=price, is_wanted=_has_hitch
    )


def _has_hitch(known: Answers) -> bool:
    """Whether it is known where the nuts are."""
    return known.get("hitch") is not None


def _measured(
    units: Units, what: tuple[str, Dimension], text: str, price: str = ""
) -> Question:
    """A question for one number with its unit."""
    key, dimension = what
    return Question(
        key=key,
        label=key.replace("_", " "),
        text=text,
        read=lambda line, _: read_one(line, dimension, units, key),
        price=price,
    )
