"""What `start` asks, in order; the conversation, and its summary to correct."""

import contextlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import click

from tension.cli.asking import BackError, EndedError, ask
from tension.cli.start_answers import (
    Known,
    Reader,
    member_of,
    number_of,
    published_rules,
    read_date,
    read_lengths,
    read_pairs,
    read_rope_type,
    read_rows,
    read_rule,
    read_spring,
    read_thread,
    word_of,
    words,
)
from tension.cli.text import output_width, printable, wrapped
from tension.errors import InvalidValueError
from tension.installation import Buffer, Drive, HitchPlace, Roping, Side
from tension.quantity.units import Dimension, Quantity


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """One question of the conversation.

    Attributes
    ----------
    key : str
        The field of `Known` that the answer goes to.
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
    read: Reader
    price: str = ""
    is_wanted: Callable[[Known], bool] = lambda _: True

    @property
    def asked(self) -> str:
        """The question with what Enter costs."""
        return f"{self.text} (Enter: {self.price})" if self.price else self.text

    def answer(self, known: Known) -> object:
        """Give the answer; None if there is none."""
        return getattr(known, self.key)

    def settle(self, known: Known, answer: object) -> None:
        """Keep an answer; None if it was skipped."""
        setattr(known, self.key, answer)
        known.settled.add(self.key)

    def unsettle(self, known: Known) -> None:
        """Forget the answer, so that it is asked anew."""
        setattr(known, self.key, None)
        known.settled.discard(self.key)


def _row(
    key: str,
    text: str,
    read: Reader,
    price: str = "",
    *,
    label: str = "",
    wanted: Callable[[Known], bool] = lambda _: True,
) -> Question:
    """A question; its label is its key if no other is given."""
    label = label or key.replace("_", " ")
    return Question(
        key=key, label=label, text=text, read=read, price=price, is_wanted=wanted
    )


def _has_hitch(known: Known) -> bool:
    """Whether it is known where the nuts are."""
    return known.hitch is not None


def _has_spring(known: Known) -> bool:
    """Whether springs sit under the nuts, as far as it is known."""
    return _has_hitch(known) and known.buffer in {None, Buffer.SPRING}


def _has_rope_length(known: Known) -> bool:
    """Whether round trips can be worked out."""
    return _has_hitch(known) and known.rope_length is not None


_RULES = "; ".join(f"{i} {name}" for i, name in enumerate(published_rules(), start=1))

QUESTIONS: tuple[Question, ...] = (
    _row("name", "Name of the lift", words, "no name in the report", label="lift"),
    _row("date", "Date, year-month-day (Enter: today)", read_date),
    _row("measured_by", "Who measures", words, "nobody is named"),
    _row("drive", f"Drive: {', '.join(Drive)} (Enter: traction)", member_of(Drive)),
    _row("roping", f"Roping: {', '.join(Roping)} (Enter: 1:1)", member_of(Roping)),
    _row(
        "car_mass",
        "All that hangs on the car side, like 1840 kg",
        number_of(Dimension.MASS, "car_mass", 10.0, 2e5),
        "the sum of the tensions is not checked",
    ),
    _row(
        "rule",
        f"Rule: {_RULES}; or a limit like 8 % (Enter: 10 % below the highest)",
        read_rule,
    ),
    _row(
        "rope_type",
        "Rope, diameter and construction, like 13 mm 8x19 FC",
        read_rope_type,
        "shares only, no newtons, no plan",
        label="rope",
    ),
    _row(
        "linear_density",
        "Mass per length off the data sheet, like 0.575 kg/m (Enter: from a table)",
        number_of(Dimension.LINEAR_DENSITY, "linear_density", 0.01, 20.0),
    ),
    _row(
        "axial_rigidity",
        "Stiffness EA off the data sheet, like 4.6 MN (Enter: from a table)",
        number_of(Dimension.FORCE, "axial_rigidity", 1e4, 1e9),
    ),
    _row("side", f"Side: {', '.join(Side)} (Enter: car)", member_of(Side)),
    _row(
        "position",
        "Where the car stands, like top landing (Enter skips)",
        words,
        label="landing",
    ),
    _row(
        "lengths",
        "Free length of each rope in one line, like 3.40 3.55 3.40 m; or of rope 1 "
        "and how much longer the others are, like 3.40 m +150 0 mm; or one",
        read_lengths,
        "no lengths, no result",
        label="free lengths",
    ),
    _row("people", "Who is on the car (Enter skips)", words),
    _row("load", "Load in the car, like empty (Enter skips)", words),
    _row(
        "arrived",
        "The car came up or down (Enter skips)",
        word_of("up", "down"),
        label="car came",
    ),
    _row(
        "neighbours",
        "The other ropes were free or damped (Enter skips)",
        word_of("free", "damped"),
    ),
    _row(
        "hitch",
        f"Nuts at: {', '.join(HitchPlace)}",
        member_of(HitchPlace),
        "no plan of turns",
        label="nuts at",
    ),
    _row(
        "rows",
        "Rows as seen facing the nuts, like 1 3 5 / 2 4 6 (Enter: one row)",
        read_rows,
        wanted=_has_hitch,
    ),
    _row(
        "thread",
        "Thread of the rods, like M16",
        read_thread,
        "no thread, no plan",
        wanted=_has_hitch,
    ),
    _row(
        "buffer",
        f"Between plate and nut: {', '.join(Buffer)} (Enter: spring)",
        member_of(Buffer),
        wanted=_has_hitch,
    ),
    _row(
        "spring",
        "Spring: rate, free length, solid length, like 150 N/mm 160 96 mm",
        read_spring,
        "no rate: which way to turn, not how far",
        wanted=_has_spring,
    ),
    _row(
        "far_spring",
        "Springs at the other end too: same, none",
        word_of("same", "none"),
        "either is allowed for",
        label="far springs",
        wanted=_has_hitch,
    ),
    _row(
        "rope_length",
        "Rope from end to end, like 38 m",
        number_of(Dimension.LENGTH, "rope length", 0.5, 5000.0),
        "no rope length, no plan",
        wanted=_has_hitch,
    ),
    _row(
        "travel",
        "Travel of the car, like 30 m",
        number_of(Dimension.LENGTH, "travel", 0.5, 2000.0),
        "worked out from the rope, perhaps more round trips than it needs",
        wanted=_has_rope_length,
    ),
    _row(
        "rod_free",
        "Length of the rods free to swing, like 150 mm (Enter: not known)",
        number_of(Dimension.LENGTH, "rod", 0.0, 5.0),
        label="rods",
        wanted=_has_hitch,
    ),
    _row(
        "thread_left",
        "Thread left on each rod, to the plate / away, like 22/14 26/11 mm",
        read_pairs,
        "the plan may ask for more thread than there is",
        wanted=_has_hitch,
    ),
)


def converse(known: Known) -> list[Question]:
    """Ask for what is not known yet, and let the answers be corrected.

    Parameters
    ----------
    known : Known
        What is known; answers are added to it.
    """
    own = [question for question in QUESTIONS if question.answer(known) is None]
    with contextlib.suppress(EndedError):
        _ask_all(own, known)
    for question in own:
        if question.is_wanted(known):
            known.settled.add(question.key)
    with contextlib.suppress(EndedError):
        click.echo("", err=True)
        _correct(own, known)
    return [q for q in own if q.answer(known) is None and q.is_wanted(known)]


def _ask_all(own: Sequence[Question], known: Known) -> None:
    """Ask every question that serves something and has not been asked."""
    asked: list[int] = []
    place = 0
    while place < len(own):
        question = own[place]
        if question.key in known.settled or not question.is_wanted(known):
            place += 1
            continue
        try:
            question.settle(known, _answer(question, known))
        except BackError:
            if asked:
                place = asked.pop()
                own[place].unsettle(known)
            else:
                click.echo("  This is the first question.", err=True)
            continue
        asked.append(place)
        place += 1


def _answer(question: Question, known: Known) -> object:
    """Ask one question; None if it is skipped."""
    return ask(question.asked, lambda line: question.read(line, known), None)


def _correct(own: Sequence[Question], known: Known) -> None:
    """Show the answers and ask anew for those that are wrong."""
    while True:
        shown = _show(own, known)
        if not shown:
            return

        def read(line: str, most: int = len(shown)) -> int:
            if line.isdigit() and 1 <= int(line) <= most:
                return int(line)
            raise InvalidValueError(f"a number from 1 to {most}, or Enter")

        try:
            number = ask("Enter writes it; a number corrects that answer", read, 0)
            if not number:
                return
            question = shown[number - 1]
            answer = _answer(question, known)
        except BackError:
            continue
        question.settle(known, answer)
        _ask_all(own, known)


def _show(own: Sequence[Question], known: Known) -> list[Question]:
    """Show what was answered, numbered; the questions in that order."""
    shown = [q for q in own if q.key in known.settled and q.is_wanted(known)]
    width = output_width()
    for number, question in enumerate(shown, start=1):
        text = ", ".join(_words(question.answer(known))) or "-"
        line = f"{number:>2} {question.label}: {printable(text)}"
        click.echo(wrapped(line, width, "", "   "), err=True)
    return shown


def _words(answer: object) -> Iterator[str]:
    """An answer in words, part by part."""
    if isinstance(answer, Quantity):
        yield answer.text
    elif isinstance(answer, tuple) and all(isinstance(a, str) for a in answer):
        yield " / ".join(part for part in answer if part)
    elif isinstance(answer, tuple):
        yield from (
            words for part in answer for words in [" ".join(_words(part))] if words
        )
    elif answer is True:
        yield "all at one height"
    elif answer is not None and answer is not False:
        yield str(answer)
