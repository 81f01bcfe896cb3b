"""Turns of nuts as a person wrote them down or types them."""

import re
from dataclasses import dataclass

from tension.errors import InvalidValueError
from tension.installation import HitchPlace
from tension.quantity.units import Dimension, Quantity, parse_quantity

_PARTING = re.compile(
    r"\s*[;\n]\s*|,(?=\s)|,(?=\s*[0-9]+\s*:?\s*(?:in\b|out\b|[+\u2212-]))",
    re.IGNORECASE,
)

_ONE = re.compile(
    r"(?:ropes?\s*)?(?P<rope>[0-9]+)\s*[:.]?\s*"
    r"(?P<way>in|out|[+\u2212-]|towards(?: the plate)?|away(?: from the plate)?)\s*"
    r"(?P<amount>[0-9][0-9 .,/½¼¾⅛⅜⅝⅞-]*|[½¼¾⅛⅜⅝⅞])\s*(?:turns?)?",
    re.IGNORECASE,
)

_LEFT = re.compile(r"(?:ropes?\s*)?[0-9]+\s*[:.]?\s*(?:leave|left|0|-)", re.IGNORECASE)

_AWAY = frozenset({"out", "-", "\u2212"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Turn:
    """A turn of one nut."""

    after: str  # the series after which it was made
    hitch: HitchPlace  # which hitch
    rope: int  # rope number
    turns: Quantity  # positive: nut towards the plate, tension up [turns]
    # round trips the car ran afterwards; None if not recorded: nothing is learned
    round_trips_after: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class TypedTurn:
    """What was done at one nut."""

    rope: int  # rope number
    text: str  # as a record has it: "+4 1/2" is towards the plate
    turns: float  # positive: nut towards the plate [turns]


def read_turns(text: str) -> tuple[TypedTurn, ...]:
    """Read turns as a plan prints them: "2 in 4 1/2, 5 out 4", in the order typed.

    Rope, which way, how many turns; "in" is towards the plate. A rope that is left
    alone may be said to be: "4 leave".

    Raises
    ------
    InvalidValueError
        If a part is no turn, or a rope is named twice.

    Examples
    --------
    >>> [(turn.rope, turn.text) for turn in read_turns("2 in 4 1/2, 5 out 4")]
    [(2, '+4 1/2'), (5, '-4')]
    """
    turns: list[TypedTurn] = []
    for part in _PARTING.split(text):
        plain = part.strip().rstrip(".")
        if not plain or _LEFT.fullmatch(plain):
            continue
        turn = _read_turn(plain)
        if any(turn.rope == other.rope for other in turns):
            raise InvalidValueError(
                f"rope {turn.rope} is named twice; give what was turned in all"
            )
        turns.append(turn)
    if not turns:
        raise InvalidValueError(
            "no turn is named; write them like: 2 in 4 1/2, 5 out 4"
        )
    return tuple(turns)


def _read_turn(text: str) -> TypedTurn:
    """Read the turns of one nut."""
    found = _ONE.fullmatch(text)
    if found is None:
        raise InvalidValueError(
            f'"{text[:40]}" is no turn; write rope, in or out, and how many turns, '
            "like: 2 in 4 1/2, 5 out 4"
        )
    way = found["way"].lower()
    sign = "-" if way in _AWAY or way.startswith("away") else "+"
    amount = " ".join(found["amount"].split()).rstrip(" ,.-")
    quantity = parse_quantity(sign + amount, Dimension.TURNS)
    if quantity.value == 0:
        raise InvalidValueError(f"rope {found['rope']}: no turn; leave that rope out")
    return TypedTurn(rope=int(found["rope"]), text=quantity.text, turns=quantity.value)
