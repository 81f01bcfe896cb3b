"""Tables of a record: what each becomes, and what cannot stand together in it."""

from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, cast, get_origin

from pydantic import (
    AfterValidator,
    BeforeValidator,
    PlainValidator,
    TypeAdapter,
    ValidationError,
)

from tension import installation
from tension.adjustment.outcome import Turn
from tension.catalogue.rules import Metric, find_rule
from tension.catalogue.threads import parse_thread
from tension.condition import checks, findings
from tension.condition.checks import find_acceptance_item
from tension.condition.findings import Distribution, FigureOf, FindingKind, Seen
from tension.errors import InvalidValueError
from tension.files import record_links as links
from tension.files import visit
from tension.files.table_model import (
    Contradictions,
    Day,
    Measured,
    NeededText,
    Table,
    TextOrDay,
    Whole,
    form,
    keys_of,
    not_one_of,
    shown,
    tables,
    types_in,
)
from tension.files.toml_text import Value
from tension.installation import Arrived, Fall, Neighbours, rope_rows
from tension.measurement import readings
from tension.measurement.readings import Method
from tension.quantity.units import Dimension, Quantity

FORMAT = 1  # the version of the format that is read and written
ONE_HEIGHT = "one height"


def _format(value: object) -> int:
    """The version of the format."""
    if type(value) is int and value == FORMAT:
        return value
    raise InvalidValueError(
        f"must be {FORMAT}, not {shown(value)}; a later one needs a later version of "
        "this program"
    )


def _rule_name(name: str) -> str:
    """A rule of the catalogue."""
    find_rule(name or None)
    return name


def _one_height(text: str) -> str:
    """The words for sockets at one height, or nothing."""
    if text.strip().lower() not in {"", ONE_HEIGHT}:
        raise InvalidValueError(
            f'must be "{ONE_HEIGHT}" or left out; lengths per rope go into [[rope]]'
        )
    return text


class _TurnsMade(Measured):
    """Marks turns as plans print them, with a sign, or as a bare number."""

    def read(self, value: object) -> Quantity:
        """Read turns such as "IN 1/4", "OUT 2 1/2", "-1 1/4" or 0.25.

        Raises
        ------
        InvalidValueError
            If it is no number of turns, or says the way twice.
        """
        if type(value) in {int, float}:
            value = str(value)
        text = value.strip() if isinstance(value, str) else ""
        way, _, amount = text.partition(" ")
        sign = {"in": "", "out": "-"}.get(way.lower())
        if sign is None:
            return super().read(value)
        if amount.lstrip()[:1] in {"+", "-", "\u2212"}:
            raise InvalidValueError(
                f"has both {way} and a sign, {value}; write one of them"
            )
        return replace(super().read(f"{sign}{amount}"), text=text)


def _rule(one: Table) -> Contradictions:
    """A rule is of the catalogue, or spelt out."""
    if one.use:
        if one.source:
            yield "source", "goes with a rule of your own; take out use or source"
    elif (one.metric or one.source) and not one.limit:
        yield "limit", 'is missing; write the percentage, like limit = "10 %"'


def _spring(one: Table) -> Contradictions:
    """Two loads and two lengths make one rate; a spring pushes back."""
    loads, lengths = one.spring_loads, one.spring_lengths
    if not loads and not lengths:
        return
    for name, value in (("spring_loads", loads), ("spring_lengths", lengths)):
        if len(value) != 2:
            yield name, "write two, one for each load, in the same order"
            return
    more, longer = (second.value - first.value for first, second in (loads, lengths))
    if one.spring_rate:
        yield "spring_loads", "tell the rate again; take out these or spring_rate"
    elif more * longer >= 0.0:
        fault = "a spring is shorter under the larger load; check both readings"
        yield "spring_lengths", fault


def _reading(one: Table) -> Contradictions:
    """A pluck is of one rope, or of several in the order plucked."""
    if one.kind is Method.PLUCK and bool(one.rope) == bool(one.ropes):
        key = "ropes" if "ropes" in one.written else "rope"
        yield key, "write either rope or ropes (in the order plucked)"


def _exclusion(one: Table) -> Contradictions:
    """It must be clear what is left out."""
    if not (one.rope or one.recording):
        yield "rope", "is missing; write which rope or recording is left out"
    if one.pluck and not one.recording:
        yield "recording", "is missing; write in which recording the pluck is"
    if one.reading and one.recording:
        yield "reading", "is of one made by hand; leave out either it or recording"


def _figure(one: Table) -> Contradictions:
    """One way of writing each figure."""
    keys: tuple[str, ...] = ("breaks", "fraction_of_wires")
    if one.what is FigureOf.DIAMETER:
        keys = ("least", "least_fraction", "most_loss")
    given = [name for name in keys if name in one.written]
    if not given and "least_with_rouge" not in one.written:
        yield keys[0], f"is missing; write {' or '.join(keys)} as the book has it"
    for name in given[1:]:
        yield name, f"stands beside {given[0]}; keep the one that the book has"


def _allowance(one: Table) -> Contradictions:
    """Each figure is typed once."""
    for kind, times in Counter(figure.what for figure in one.figure).items():
        if times > 1:
            yield "figure", f'has "{kind}" twice; keep the one that the book has'


def _finding(one: Table) -> Contradictions:
    """What contradicts itself or cannot be compared later."""
    if one.seen is None and not one.written & {*findings.KEYS_OF[one.kind]}:
        yield "seen", "is missing; write yes, no or could-not-see"
    if one.counts and one.kind not in findings.UNFAVOURABLE:
        allowed = ", ".join(sorted(findings.UNFAVOURABLE))
        yield "counts", f"goes with {allowed}, not {one.kind}"
    elif one.counts and one.seen in {Seen.NO, Seen.COULD_NOT_SEE}:
        yield "counts", f'needs seen = "yes"; what is "{one.seen}" counts for nothing'
    if one.kind is FindingKind.BROKEN_WIRES:
        yield from _broken_wires(one)
    if one.kind is FindingKind.DIAMETER and one.seen in {None, Seen.YES}:
        yield from _diameter(one)


def _broken_wires(one: Table) -> Contradictions:
    """A count belongs to one rope, one lay and one distribution."""
    if one.rope is None:
        yield "rope", "is missing; broken wires are counted per rope"
    if one.seen is Seen.COULD_NOT_SEE:
        return
    if one.broken is None:
        yield "broken", "is missing; write the number in the worst lay"
    elif one.broken and one.distribution is None:
        yield "distribution", f"is missing; write one of {', '.join(Distribution)}"
    for name in ("in_one_strand", "adjacent"):
        part, broken = getattr(one, name), one.broken
        if part and broken is not None and part > broken:
            yield name, f"is {part}, more than the {broken} broken in the lay"
    if one.broken and one.seen is Seen.NO:
        yield "seen", f"is no, but {one.broken} broken wires are counted"


def _diameter(one: Table) -> Contradictions:
    """A diameter is two readings at right angles, or a gauge tried both ways."""
    if one.rope is None:
        yield "rope", "is missing; a diameter is read on one rope"
    if one.diameters and len(one.diameters) != 2:
        yield "diameters", "must be two readings at right angles"
    if one.gauge and len(one.gauge) != 2:
        yield "gauge", "must be tried in two directions at right angles"
    if not (one.diameters or one.gauge):
        yield (
            "diameters",
            'is missing; write two readings at right angles, like ["12.6 mm", '
            '"12.7 mm"], or what the gauge did',
        )


def _check(one: Table) -> Contradictions:
    """An item is answered or measured, and what is measured fits together."""
    if not one.written & {"answer", *checks.KEYS_OF.get(one.item, ())}:
        yield "answer", f"is missing; write one of {', '.join(checks.CheckAnswer)}"
    if len(one.diameters) % 2:
        yield "diameters", "must be two readings at right angles per place"
    if len(one.hitch_order) != len(one.grooves):
        yield "grooves", "must name one groove for each rope of hitch_order"
    rules = [rule.name for rule in find_acceptance_item(one.item).rules]
    if one.rule and one.rule not in rules:
        yield "rule", not_one_of(rules, one.rule)


_BREAKS = (
    "breaks",
    "fraction_of_wires",
    "in_strand",
    "in_strand_worn",
    "fraction_of_strand",
)
_OF_DIAMETER = ("least", "least_with_rouge", "least_fraction", "most_loss")
READING_OF: Mapping[Method, type[readings.Reading]] = {
    Method.PLUCK: readings.PluckReading,
    Method.PULL: readings.PullReading,
    Method.RETURNS: readings.ReturnsReading,
    Method.SPRING: readings.SpringReading,
}
"""What a reading of each kind becomes."""

_WORDS: Mapping[str, Any] = {
    **links.REFERENCES,
    "format": Annotated[int, PlainValidator(_format)],
    "whole number": Whole,
    "whole number, if any": Whole | None,
    "date": Day | None,
    "text or date": TextOrDay,
    "number of a note": Annotated[
        NeededText,
        BeforeValidator(lambda value: str(value) if type(value) is int else value),
    ],
    "kind of reading": Method,
    "arrived": Arrived | None,
    "fall": Fall | None,
    "neighbours": Neighbours | None,
    "seen": Seen | None,
    "rule": Annotated[str, AfterValidator(_rule_name)],
    "metric": Metric | None,
    "one height": Annotated[str, AfterValidator(_one_height)],
    "thread": Annotated[
        str, AfterValidator(lambda text: parse_thread(text) if text else None)
    ],
    "turns made": Annotated[Quantity, _TurnsMade(Dimension.TURNS, -200.0, 200.0)],
}
"""How values are read of which the type of their field does not tell it."""

_FORMS = {
    "": form(against=links.contradictions),
    "lift": form(installation.Lift),
    "rule": form(against=_rule),
    "set": form(installation.RopeSet, is_needed=True),
    "span": form(installation.Span),
    "hitch": form(installation.Hitch, against=_spring),
    "rope": form(installation.Rope),
    "series": form(readings.Series),
    "reading": form(
        *READING_OF.values(),
        kind_key="kind",
        kinds={
            Method.PLUCK: ("rope", "recording", "ropes", "plucks_each"),
            Method.PULL: ("rope", "force", "deflection", "hold", "at", "scale_zero"),
            Method.RETURNS: ("rope", "count", "elapsed"),
            Method.SPRING: ("rope", "hitch", "length"),
        },
        needed={
            Method.PLUCK: ("recording",),
            Method.PULL: ("rope", "force", "deflection"),
            Method.RETURNS: ("rope", "count", "elapsed"),
            Method.SPRING: ("rope", "length"),
        },
        against=_reading,
    ),
    "turn": form(Turn),
    "exclusion": form(readings.Exclusion, against=_exclusion),
    "allowance": form(findings.Allowance, against=_allowance),
    "allowance.figure": form(
        findings.TypedFigure,
        kind_key="what",
        kinds={**dict.fromkeys(FigureOf, _BREAKS), FigureOf.DIAMETER: _OF_DIAMETER},
        against=_figure,
    ),
    "finding": form(
        findings.Finding, kind_key="kind", kinds=findings.KEYS_OF, against=_finding
    ),
    "check": form(checks.Check, kind_key="item", kinds=checks.KEYS_OF, against=_check),
    "instrument": form(visit.Instrument),
    "answer": form(visit.NoteAnswer),
    "photo": form(visit.Photo),
    "trim": form(visit.Trim),
}
"""What each table becomes; what its keys say stands in ``record_keys.txt``."""

TABLES = tables("record_keys.txt", _FORMS, _WORDS)
"""The models of a record; the one without a name is the top of the file."""


def types_of_key(place: str) -> Iterator[Any]:
    """Give every type and mark by which a record reads a key like "lift.travel"."""
    table, _, key = place.partition(".")
    return types_in(keys_of(TABLES[table])[key].rebuild_annotation())


def typed_value(place: str, text: str) -> Value:
    """Turn what a person typed into what stands behind a key like "set.diameter".

    Values of a list are parted by ";" or commas, rows of ropes by "/". A key that the
    record does not know has a text.

    Raises
    ------
    InvalidValueError
        If it is no row of ropes.
    """
    try:
        types = [*types_of_key(place)]
    except KeyError:
        return text
    if tuple[tuple[int, ...], ...] in types:
        return [list(row) for row in rope_rows(text)]
    if bool in types and text.lower() in {"true", "yes", "false", "no"}:
        return text.lower() in {"true", "yes"}
    if any(isinstance(one, type) and issubclass(one, StrEnum) for one in types):
        text = text.lower()
    if any(get_origin(one) is tuple for one in types):
        return [part.strip() for part in text.split(";" if ";" in text else ",")]
    with suppress(ValueError, StopIteration):
        number = next(one for one in (int, float) if one in types)
        return cast("Value", number(text))
    return text


def require_readable(place: str, value: object, n_ropes: int) -> None:
    """Refuse what the record of so many ropes would refuse behind a key.

    Raises
    ------
    InvalidValueError
        In the words of the record.
    """
    known = links.Known(folder=Path(), n_ropes=n_ropes)
    try:
        TypeAdapter(next(types_of_key(place))).validate_python(value, context=known)
    except ValidationError as error:
        found = error.errors()[0]
        told = found.get("ctx", {}).get("error", found["msg"])
        raise InvalidValueError(str(told)) from None
