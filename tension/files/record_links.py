"""What contradicts itself between the tables of a record; what stands twice."""

from collections.abc import Iterator, Mapping
from math import inf
from typing import Any

from tension.errors import InvalidValueError
from tension.files.mistakes import Told
from tension.files.record_references import NAMING_KEYS, tables_of
from tension.files.written import listed
from tension.quantity.units import Dimension, parse_quantity

MOST_SERIES = 100
MOST_REPEATS = 50
MOST_IN_ORDER = 200
_SHORTEST = 0.05


def contradictions(document: Mapping[str, Any]) -> Iterator[Told]:
    """Find what cannot both be right, whatever else is wrong.

    Parameters
    ----------
    document : mapping of str to object
        A record as the TOML parser gives it.

    Yields
    ------
    tuple of (tuple, str)
        Place of the key, and what is wrong with what to write.
    """
    yield from _named_twice(document)
    yield from _staggers(document)
    yield from _exclusions(document)
    yield from _too_many(document)


def _named_twice(document: Mapping[str, Any]) -> Iterator[Told]:
    """What other tables name stands once."""
    for table, key in NAMING_KEYS.items():
        seen: set[str | int] = set()
        for i, written in enumerate(tables_of(document, table)):
            name = written.get(key)
            if not isinstance(name, str | int):
                continue
            if name in seen:
                shown = f'"{name}"' if isinstance(name, str) else f"{table} {name}"
                yield (table, i, key), f"{shown} stands twice; give each its own"
            seen.add(name)


def _staggers(document: Mapping[str, Any]) -> Iterator[Told]:
    """A stagger with sockets at one height, or one that leaves no length."""
    has_one_height = any(one.get("sockets") for one in tables_of(document, "set"))
    lengths = [
        (_length(one.get("free_length")), one) for one in tables_of(document, "span")
    ]
    known = [pair for pair in lengths if pair[0] >= _SHORTEST]
    least, span = min(known, key=lambda pair: pair[0], default=(inf, {}))
    for i, rope in enumerate(tables_of(document, "rope")):
        stagger = _length(rope.get("stagger"))
        if stagger and has_one_height:
            yield (
                ("set", "sockets"),
                f"says one height, but rope {rope.get('number')} has a stagger of "
                f"{rope['stagger']}; keep one of them",
            )
        if least + stagger < _SHORTEST:
            yield (
                ("rope", i, "stagger"),
                f"{rope['stagger']} leaves nothing of the free length "
                f'{span["free_length"]} of "{span.get("name")}"; check both',
            )


def _length(text: object) -> float:
    """A length; nought if there is none, or it cannot be read: told elsewhere."""
    try:
        return parse_quantity(str(text or "0 m"), Dimension.LENGTH).value
    except InvalidValueError:
        return 0.0


def _too_many(document: Mapping[str, Any]) -> Iterator[Told]:
    """More readings of one kind and rope in a series than anybody takes, or series."""
    every = tables_of(document, "series")
    if len(every) > MOST_SERIES:
        yield ("series", MOST_SERIES), f"at most {MOST_SERIES}; keep a record per visit"
    counts: dict[tuple[str, str, str], int] = {}
    for i, reading in enumerate(tables_of(document, "reading")):
        order = listed(reading.get("ropes", []))
        if len(order) > MOST_IN_ORDER:
            yield ("reading", i, "ropes"), f"at most {MOST_IN_ORDER} in one recording"
        repeats = max(
            len(listed(reading.get(key, "")))
            for key in ("force", "deflection", "elapsed", "length")
        )
        for rope in dict.fromkeys(map(str, (reading.get("rope"), *order))):
            place = (str(reading.get("series")), str(reading.get("kind")), rope)
            before = counts.get(place, 0)
            counts[place] = before + repeats
            if before <= MOST_REPEATS < counts[place]:
                yield (
                    ("reading", i),
                    f"rope {rope} has more than {MOST_REPEATS} readings of one kind in "
                    "a series; leave some out of the record",
                )


def _exclusions(document: Mapping[str, Any]) -> Iterator[Told]:
    """A recording left out that no reading names."""
    named = {str(one.get("recording")) for one in tables_of(document, "reading")}
    for i, exclusion in enumerate(tables_of(document, "exclusion")):
        recording = exclusion.get("recording")
        if isinstance(recording, str) and recording not in named:
            yield (
                ("exclusion", i, "recording"),
                f'no reading names "{recording}"; write it as there',
            )
