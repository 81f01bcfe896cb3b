"""Lines of text of a plan, for a phone, a terminal or a printed page.

Texts hold ``[[word]]`` places for `tension.wording`; nobody has wrapped them yet.
"""

from dataclasses import dataclass
from enum import StrEnum

from tension.catalogue.threads import Thread
from tension.installation import HitchPlace
from tension.notes import Note, Refusal
from tension.quantity.units import Dimension, UnitSystem, show_quantity

_INCH = 0.0254  # [m]


class TextKind(StrEnum):
    """How a line is to be set."""

    HEADING = "heading"
    SENTENCE = "sentence"
    ITEM = "item"
    BOX = "box"
    CAUTION = "caution"
    PICTURE = "picture"


@dataclass(frozen=True, kw_only=True, slots=True)
class TextLine:
    """One line or paragraph.

    Attributes
    ----------
    kind : TextKind
        A picture keeps its blanks and is not wrapped; a box is ticked when done.
    text : str
        The words, with places for the words of the trade.
    """

    kind: TextKind
    text: str


def heading(text: str) -> TextLine:
    """Make a heading."""
    return TextLine(kind=TextKind.HEADING, text=text)


def sentence(text: str) -> TextLine:
    """Make a paragraph."""
    return TextLine(kind=TextKind.SENTENCE, text=text)


def item(text: str) -> TextLine:
    """Make an item of a list."""
    return TextLine(kind=TextKind.ITEM, text=text)


def box(text: str) -> TextLine:
    """Make a line with a box to tick."""
    return TextLine(kind=TextKind.BOX, text=text)


def caution(text: str) -> TextLine:
    """Make a caution."""
    return TextLine(kind=TextKind.CAUTION, text=text)


def picture(text: str) -> TextLine:
    """Make a line that keeps its blanks."""
    return TextLine(kind=TextKind.PICTURE, text=text)


def reason_lines(reasons: tuple[Refusal | Note, ...]) -> list[TextLine]:
    """Write reasons or notes with what to do about each."""
    return [item(f"{each.text} {each.next_act}".strip()) for each in reasons]


def small_length(value: float, units: UnitSystem) -> str:
    """Write a travel or a spring length.

    Parameters
    ----------
    value : float
        The length. [m]
    units : UnitSystem
        Millimetres or inches.

    Returns
    -------
    str
        To a tenth of a millimetre or a hundredth of an inch.
    """
    if units is UnitSystem.US:
        return f"{value / _INCH:.2f} in"
    return f"{1000.0 * value:.1f} mm"


def force_text(value: float, units: UnitSystem) -> str:
    """Write a tension or a spring load.

    Parameters
    ----------
    value : float
        The force. [N]
    units : UnitSystem
        Newtons or pounds.
    """
    return show_quantity(value, Dimension.FORCE, units, digits=3)


def percent_text(value: float) -> str:
    """Write a share or a spread.

    Parameters
    ----------
    value : float
        As a fraction. [1]
    """
    return f"{100.0 * value:.1f} %"


def turns_text(turns: float) -> str:
    """Write how far a nut is turned, whichever way.

    Parameters
    ----------
    turns : float
        Turns. [turns]

    Returns
    -------
    str
        In eighths, such as "1 1/4 turns".
    """
    return show_quantity(abs(turns), Dimension.TURNS).removeprefix("+")


def rotation_text(place: HitchPlace, thread: Thread) -> str:
    """Tell which rotation brings a nut towards the plate at a hitch.

    Parameters
    ----------
    place : HitchPlace
        Where the nuts are: below the plate, or on top of it at a dead end.
    thread : Thread
        A left-hand thread turns the other way.
    """
    is_above = place in {HitchPlace.DEAD_END_CAR, HitchPlace.DEAD_END_COUNTERWEIGHT}
    look = "down" if is_above else "up"
    hand = "left" if thread.is_left_handed else "right"
    towards, away = "clockwise", "[[anticlockwise]]"
    if thread.is_left_handed:
        towards, away = away, towards
    return (
        f"Looking {look} at the nuts, {hand}-hand thread {thread.name}: towards the "
        f"plate is {towards}, away from it {away}."
    )


def hitch_text(place: HitchPlace) -> str:
    """Name a hitch."""
    return {
        HitchPlace.CAR: "car [[hitch]]",
        HitchPlace.COUNTERWEIGHT: "counterweight [[hitch]]",
        HitchPlace.DEAD_END_CAR: "dead-end [[hitch]], car side",
        HitchPlace.DEAD_END_COUNTERWEIGHT: "dead-end [[hitch]], counterweight side",
    }[place]
