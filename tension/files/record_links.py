"""What contradicts itself between the tables of a record; what stands twice."""

from collections.abc import Iterator, Mapping
from math import inf
from typing import Any

from tension.condition.rope_class import contradicts, lay_fault, strands_of
from tension.errors import InvalidValueError
from tension.files.mistakes import Told
from tension.files.record_references import COMPLETED, NAMING_KEYS, tables_of
from tension.files.written import listed
from tension.quantity.units import Dimension, Quantity, parse_quantity

MOST_SERIES = 100
MOST_REPEATS = 50
MOST_IN_ORDER = 200
_SHORTEST = 0.05


def contradictions(document: Mapping[str, Any]) -> Iterator[Told]:
    """Find what cannot both be right, whatever else is wrong.

    Yields
    ------
    tuple of (tuple, str)
        Place of the key, and what is wrong with what to write.
    """
    yield from _named_twice(document)
    yield from _staggers(document)
    yield from _exclusions(document)
    yield from _masses(document)
    yield from _construction(document)
    yield from _lays(document)
    yield from _too_many(document)


def _named_twice(document: Mapping[str, Any]) -> Iterator[Told]:
    """What other tables name stands once; or completed later, each key once."""
    has_one_span = (
        len({str(one.get("name")) for one in tables_of(document, "span")}) < 2
    )
    for table, key in NAMING_KEYS.items():
        seen: dict[str | int, set[str]] = {}
        for i, written in enumerate(tables_of(document, table)):
            name = written.get(key)
            if not isinstance(name, str | int):
                continue
            shown = f'"{name}"' if isinstance(name, str) else f"{table} {name}"
            given = _given_keys(written, key, has_one_span=has_one_span)
            twice = sorted(given & seen.get(name, set()))
            if name in seen and (table not in COMPLETED or not given):
                yield (table, i, key), f"{shown} stands twice; give each its own"
            for other in twice if table in COMPLETED else ():
                yield (
                    (table, i, key),
                    f"{shown} stands twice and has {other} twice; keep one, or give "
                    "each its own",
                )
            seen[name] = seen.get(name, set()) | given


def _given_keys(
    written: Mapping[str, Any], naming: str, *, has_one_span: bool
) -> set[str]:
    """Keys of a table, its name aside; free lengths span by span."""
    keys = set(written) - {naming}
    if has_one_span and "free_lengths" in keys:
        keys = (keys - {"free_lengths"}) | {"stagger"}  # two ways to tell one length
    lengths = written.get("free_lengths")
    if "free_lengths" in keys and isinstance(lengths, dict):
        keys.remove("free_lengths")
        keys |= {f'free_lengths of "{span}"' for span in lengths}
    return keys


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


def _masses(document: Mapping[str, Any]) -> Iterator[Told]:
    """A mass of one rope, and none of the set to compare it with."""
    keys = ("linear_density", "construction")
    if any(one.get(key) for one in tables_of(document, "set") for key in keys):
        return
    for i, rope in enumerate(tables_of(document, "rope")):
        if "linear_density" in rope:
            yield (
                ("rope", i, "linear_density"),
                "needs that of the set beside it; write linear_density into [set]",
            )


def _construction(document: Mapping[str, Any]) -> Iterator[Told]:
    """A class, or wires side by side, that the construction cannot have."""
    construction = next(
        (str(one.get("construction", "")) for one in tables_of(document, "set")), ""
    )
    for one in tables_of(document, "allowance"):
        rope_class = one.get("rope_class")
        if isinstance(rope_class, str) and contradicts(rope_class, construction):
            yield (
                ("allowance", "rope_class"),
                f'is "{rope_class}", but the construction of [set] is '
                f'"{construction}"; one of them is wrong',
            )
    strands = strands_of(construction)
    for i, finding in enumerate(tables_of(document, "finding")):
        adjacent = finding.get("adjacent")
        if type(adjacent) is int and strands and adjacent > strands.most_outer:
            yield (
                ("finding", i, "adjacent"),
                f"is {adjacent}, but a strand of {strands.n_wires} wires has at most "
                f"{strands.most_outer} at its surface; broken is the key for all in "
                "the lay",
            )


def _lays(document: Mapping[str, Any]) -> Iterator[Told]:
    """A length that is called a lay and can be none of these ropes."""
    diameter = next(
        (_typed(one.get("diameter")) for one in tables_of(document, "set")), None
    )
    for i, one in enumerate(tables_of(document, "finding")):
        lays = one.get("lays")
        for name, count in (("lay", lays), ("baseline", 1)):
            fault = lay_fault(_typed(one.get(name)), diameter, _whole(count))
            if fault:
                yield ("finding", i, name), fault
    for i, one in enumerate(tables_of(document, "check")):
        if one.get("item") == "new-lay":
            fault = lay_fault(
                _typed(one.get("length")), diameter, _whole(one.get("lays"))
            )
            if fault:
                yield ("check", i, "length"), fault


def _whole(count: object) -> int:
    """A number of lays; one where it is left out or wrong."""
    return count if type(count) is int and count > 0 else 1


def _typed(text: object) -> Quantity | None:
    """A length; none if it is not there or cannot be read: told elsewhere."""
    try:
        return parse_quantity(text, Dimension.LENGTH) if isinstance(text, str) else None
    except InvalidValueError:
        return None
