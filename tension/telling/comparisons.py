"""As found and as left, and the check of the springs, in words and as a table."""

from collections.abc import Sequence

from tension.adjustment.comparison import Comparison
from tension.adjustment.outcome import Turn
from tension.adjustment.springs import SpringCheck, SpringLoad, are_level
from tension.adjustment.stiffness import Origin
from tension.installation import Hitch, Rope
from tension.quantity.showing import force_text, small_length
from tension.quantity.units import Dimension, UnitSystem, show_quantity
from tension.telling.numbers import (
    count_text,
    load_text,
    turns_text,
    typed_and_si,
    written,
)
from tension.telling.plans import SaidLines, said_lines
from tension.wording import Terms

SPRING_HEADERS = ("Spring", "Length", "By length", "Otherwise", "Way left", "")
"""Columns: rope number, working length, both loads, margin at 125 % load, in words."""


def comparison_lines(
    comparison: Comparison, units: UnitSystem, terms: Terms = Terms.EUROPE
) -> SaidLines:
    """Write what the turns have changed and what is learned from it."""
    learned = comparison.answer.learned
    stiffnesses = [
        show_quantity(k, Dimension.STIFFNESS, units, digits=3).split(" ")[0]
        for k in (learned.stiffnesses if learned else ())
    ]
    words: dict[str, object] = {
        "found": comparison,
        "stiffnesses": stiffnesses,
        "signed_turns": signed_turns,
        "units": units,
    }
    return said_lines("comparison", terms, words)


def signed_turns(turns: float) -> str:
    """Write turns [turns] as made on a nut, with their sign."""
    return f"{'+' if turns > 0 else '-'}{turns_text(turns)}"


def spring_rows(check: SpringCheck, units: UnitSystem) -> tuple[tuple[str, ...], ...]:
    """Write each spring as a row of a table; "-" where nothing is known."""
    return tuple(
        (
            str(spring.rope),
            small_length(spring.length, units),
            load_text(spring.by_length, spring.by_length_uncertainty, units),
            load_text(spring.by_reading, spring.by_reading_uncertainty, units),
            "-" if spring.margin is None else f"{100 * spring.margin:.0f} %",
            _oddity(spring),
        )
        for spring in check.springs
    )


def _oddity(spring: SpringLoad) -> str:
    """What is odd about one spring."""
    if spring.is_free or spring.is_solid:
        return "NOT PRESSED" if spring.is_free else "SOLID"
    return "STANDS OUT" if spring.stands_out else ""


def spring_lines(
    check: SpringCheck, units: UnitSystem, terms: Terms = Terms.EUROPE
) -> SaidLines:
    """Write what stands under the table: slope, where numbers come from, notes."""
    slope, rated, preload = check.slope, check.rated_tension, check.preload
    words: dict[str, object] = {
        "is_level": are_level(check),
        "slope": slope
        and show_quantity(
            slope.rate, Dimension.STIFFNESS, units, uncertainty=slope.uncertainty
        ),
        "even_share": rated and force_text(rated, units),
        "origins": [
            *check.origins,
            *([Origin.typed("spring preload", preload)] if preload else ()),
        ],
        "notes": check.notes,
        "units": units,
    }
    return said_lines("springs_told", terms, words)


def thread_cells(
    rope: Rope, hitches: Sequence[Hitch], turns: Sequence[Turn]
) -> tuple[str, ...]:
    """Write the thread left on the rods of one rope, as read and after the turns."""
    pitches = {h.at: h.thread.pitch for h in hitches if h.thread}
    turned = [t for t in turns if t.rope == rope.number and t.hitch in pitches]
    drawn = sum(t.turns.value * pitches[t.hitch] for t in turned)
    left = [
        None if read is None else read.value + sign * drawn
        for read, sign in ((rope.take_up_left, -1.0), (rope.ease_left, 1.0))
    ]
    return (
        count_text(rope.number),
        typed_and_si(rope.take_up_left),
        typed_and_si(rope.ease_left),
        written(sum(t.turns.value for t in turned), Dimension.TURNS),
        *(written(one, Dimension.LENGTH, uncertainty=0.5e-3) for one in left),
    )
