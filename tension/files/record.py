"""What people write, from disk to memory, every mistake at once; tables added to it."""

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from typing import Any

from tension import installation
from tension.adjustment.outcome import Turn
from tension.catalogue import Standing, allowances
from tension.catalogue.rules import Metric, Rule, changed, find_rule
from tension.condition.findings import Seen
from tension.errors import FileFormatError
from tension.files.atomic import held_alone, write_atomically
from tension.files.evidence import has_seal
from tension.files.record_links import known_from
from tension.files.record_tables import READING_OF, TABLES
from tension.files.table_model import (
    Contradictions,
    Length,
    Table,
    Whole,
    either,
    form,
    tables,
)
from tension.files.toml_reading import (
    LARGEST_RECORD,
    mistakes,
    parse_toml,
    read_record_text,
    read_tables,
)
from tension.files.toml_text import NewTable, toml_value, with_tables
from tension.files.visit import RECORD_NAME, Visit
from tension.measurement.readings import Reading, names_that_are_none
from tension.shown import barred_rows

_COMMENT_COLUMN = 42  # column at which the comments of a new record begin
_ONCE = ("lift", "visit", "rule", "set", "span", "series")


def read_visit(path: Path | str) -> Visit:
    """Read everything that a record says.

    Parameters
    ----------
    path : Path or str
        The record, such as ``visit.toml``.

    Raises
    ------
    FileFormatError
        With the first mistake of syntax, or with every mistake of content, a line each.

    Examples
    --------
    >>> read_visit("recordings_demo/side-pulls/visit.toml").rope_set.n_ropes
    6
    """
    path = Path(path)
    return visit_from_text(read_record_text(path), path)


def visit_from_text(text: str, path: Path) -> Visit:
    """Read the text of a record; recordings are looked for beside and below its path.

    Raises
    ------
    FileFormatError
        As `read_visit` does.
    """
    document, root, source = parse_toml(text, str(path)), TABLES[""], (str(path), text)
    known = known_from(document, path.parent)
    visit = _visit(read_tables(document, root, source, known), path)
    unnamed = names_that_are_none(visit.readings, visit.exclusions)
    if wrong := [(("exclusion", i, "reading"), fault) for i, fault in unnamed]:
        raise FileFormatError(*mistakes(wrong, document, root, source))
    return visit


def _visit(told: Table, path: Path) -> Visit:
    """The visit of the tables of a record."""
    plain: dict[str, Any] = {
        f"{kind}s": tuple(one.make() for one in getattr(told, kind))
        for kind in ("exclusion", "check", "instrument", "answer", "photo", "trim")
    }
    figures = tuple(one.make() for one in told.allowance.figure)
    return Visit(
        path=path,
        lift=told.lift.make(),
        rule=_rule(told.rule),
        rope_set=_rope_set(told),
        particulars=tuple((name, str(value)) for name, value in told.visit if value),
        series=tuple(one.make() for one in told.series),
        readings=tuple(map(_reading, told.reading)),
        turns=tuple(_turns_with_runs(told)),
        findings=tuple(  # a measured one was seen, if nothing else is said
            one.make(seen=one.seen or (Seen.NO if one.broken == 0 else Seen.YES))
            for one in told.finding
        ),
        allowance=told.allowance.make(figures=figures),
        **plain,
    )


def _rope_set(told: Table) -> installation.RopeSet:
    """The set with its ropes, spans and hitches."""
    known = {name: value.value for name, value in told.uncertainty if value}
    ropes = {keys["number"]: keys for keys in _joined(told.rope, "number")}
    for keys in ropes.values():
        keys["free_lengths"] = tuple(dict(keys["free_lengths"]).items())
    made: installation.RopeSet = told.set.make(
        has_sockets_at_one_height=bool(told.set.sockets.strip()),
        spans=tuple(installation.Span(**keys) for keys in _joined(told.span, "name")),
        hitches=tuple(installation.Hitch(**keys) for keys in _joined(told.hitch, "at")),
        ropes=tuple(
            installation.Rope(**ropes.get(number, {"number": number}))
            for number in range(1, told.set.n_ropes + 1)
        ),
        uncertainties=installation.Uncertainties(typed=tuple(known), **known),
    )
    return made


def _joined(tables: Iterable[Table], naming: str) -> Iterable[dict[str, Any]]:
    """Join tables of one name in the order met: a later one completes an earlier."""
    found: dict[object, dict[str, Any]] = {}
    for table in tables:
        keys = dict(table)
        earlier = found.setdefault(keys[naming], keys)
        told = {name: keys[name] for name in table.model_fields_set}
        if "free_lengths" in told:
            told["free_lengths"] = dict(earlier["free_lengths"]) | told["free_lengths"]
        earlier |= told
    return found.values()


def _rule(told: Table) -> Rule:
    """The published rule, changed as written; or the user's own."""
    rule = find_rule(told.use or None)
    limit, goal = (one and one.value for one in (told.limit, told.goal))
    if told.use:
        rule = changed(rule, limit=limit, metric=told.metric)
    elif limit:
        rule = Rule(
            name="given by the user",
            metric=told.metric or rule.metric,
            limit=limit,
            source=told.source or "the user's own limit; no code was named",
            edition="",
            standing=Standing.USER,
        )
    return replace(rule, goal=goal)


def _reading(told: Table) -> Reading:
    """A reading, of the fields of its kind."""
    rope, at = told.rope or 0, told.hitch or installation.HitchPlace.CAR
    ropes = told.ropes or (rope,)
    made: Reading = told.make(READING_OF[told.kind], rope=rope, ropes=ropes, hitch=at)
    return made


def _turns_with_runs(told: Table) -> Iterator[Turn]:
    """Turns, each with the round trips that followed it.

    Those without round trips of their own have the sum of the runs after their series,
    in whatever order the tables stand.
    """
    trips: Counter[str] = Counter()
    for run in told.run:
        trips[run.after] += run.round_trips
    for turn in told.turn:
        own = turn.round_trips_after
        ran = trips.get(turn.after) if own is None else own
        yield turn.make(round_trips_after=ran)


@dataclass(frozen=True, kw_only=True, slots=True)
class Addition:
    """What was added, or would be."""

    tables: tuple[NewTable, ...]
    visit: Visit  # what the record says with them


Maker = Callable[[Visit], Sequence[NewTable]]
"""Makes the tables from what the record says at that moment; raises what it refuses."""


def append_tables(
    record: Path,
    make: Maker,
    *,
    dry_run: bool = False,
    correct: Callable[[Path], object] | None = None,
) -> Addition:
    """Add tables to a record, or none of them: at its end, or where they stand once.

    The record is held while it is read, the tables are made from what it says then and
    the whole is checked; the bytes that stood there stay as they are. A kill or a full
    disk leaves the record as it was. A sealed record is corrected when they are added.

    Raises
    ------
    FileFormatError
        If the record is sealed and nobody corrects it, cannot be read, or would not be
        right any more with the tables.
    """
    with held_alone(record):
        is_sealed = has_seal(record)
        if is_sealed and correct is None:
            raise FileFormatError(
                f"{record}: this record is sealed, so an addition is a correction; "
                "give --by and --reason"
            )
        text, before = read_record_text(record), record.read_bytes()
        tables = tuple(make(visit_from_text(text, record)))
        longer = with_tables(text, tables)
        visit = _read_anew(longer, record, f"nothing was added to {record}")
        if tables and not dry_run:
            mark = before[: len(before) - len(text.encode("utf-8"))]
            _replace(record, before, mark + longer.encode("utf-8"))
            if is_sealed and correct:
                correct(record)
    return Addition(tables=tables, visit=visit)


def _read_anew(text: str, record: Path, instead: str) -> Visit:
    """Read a record as it would be; a mistake has no line yet."""
    try:
        return visit_from_text(text, record)
    except FileFormatError as error:
        place = re.compile(rf"^{re.escape(str(record))}: (?:line \d+: )?")
        told = (place.sub(f"{instead}: ", line) for line in error.lines)
        raise FileFormatError(*told) from error


def _replace(record: Path, before: bytes, after: bytes) -> None:
    """Replace what a record held, unless another program wrote to it."""
    if len(after) > LARGEST_RECORD:
        raise FileFormatError(
            f"{record}: would become larger than {LARGEST_RECORD // 1000} kB and "
            "could not be read any more; begin a new record"
        )
    if record.read_bytes() != before:
        raise FileFormatError(
            f"{record}: was saved by another program meanwhile; nothing was added, "
            "run it again"
        )
    write_atomically(record.resolve(), after, overwrite=True)


def write_new_record(
    told: Mapping[str, Any], folder: Path, *, dry_run: bool = False
) -> Visit:
    """Write a new record of what is told into a folder; an old one is never touched.

    Keys stand by the name of their table, lists of them under "hitches", "ropes" and
    "readings". In a dry run all is checked, and nothing is written; what the record
    says is given.

    Raises
    ------
    ExistingFileError
        If the folder holds a record already.
    FileFormatError
        If the folder is missing or cannot be written to, or the tables contradict each
        other.
    """
    text, path = record_text(told), folder / RECORD_NAME
    visit = _read_anew(text, path, f"{path}: not written")
    if not dry_run:
        write_atomically(path, text, overwrite=False)
    return visit


def record_text(told: Mapping[str, Any]) -> str:
    """Return the text of a new record; what is not known stands in it as an example.

    Raises
    ------
    InvalidValueError
        If a text holds what cannot be written down.
    """
    from jinja2 import Environment, StrictUndefined

    environment = Environment(
        autoescape=False,  # noqa: S701 - a text, each value written as TOML
        undefined=StrictUndefined,
        trim_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["keys"] = _lines
    once = {name: told.get(name, {}) for name in _ONCE}
    hitches = told.get("hitches") or [{}]
    numbers = list(range(1, once["set"]["ropes"] + 1))
    template = files("tension.files").joinpath("new_record.txt").read_text("utf-8")
    return environment.from_string(template).render(
        **once,
        hitches=hitches,
        ropes=told.get("ropes", ()),
        readings=told.get("readings", ()),
        metrics=" | ".join(Metric),
        ends=" | ".join(installation.Ends),
        rows=[row for row in (numbers[::2], numbers[1::2]) if row],
        there_and_back=[*numbers, *reversed(numbers)],
        example={"hitch": hitches[0].get("at", installation.HitchPlace.CAR)},
    )


def _lines(table: str, known: Mapping[str, Any], *, is_example: bool = False) -> str:
    """Lines of a table: what is known, examples of the rest in comments.

    A row is its key; what stands there in a comment while it is not known, the key
    being left out where that is empty; what it means. Of an example all is a comment.
    """
    lines = []
    for key, example, meaning in barred_rows(table, 3):
        value = known.get(key)
        written = toml_value(value) if value else ""
        if written or example:
            mark = "" if written and not is_example else "#"
            line = f"{mark}{key} = {written or example}"
            lines.append(f"{line:<{_COMMENT_COLUMN}}  # {meaning}" if meaning else line)
    return "\n".join(lines) + "\n"


def _breaks(row: Table) -> Contradictions:
    """The allowance is a number or a part."""
    yield from either(row, "breaks", "fraction_of_wires")
    if (row.adjacent_from is None) != (row.adjacent_to is None):
        yield "adjacent_from", "goes with adjacent_to; write both"


_TABLES = tables(
    "allowance_keys.txt",
    {
        "table": form(allowances.AllowanceTable, is_needed=True),
        "table.breaks": form(allowances.BreakRow, against=_breaks),
        "table.diameter": form(
            allowances.DiameterRow,
            against=lambda row: either(row, "least", "most_loss"),
        ),
    },
    {"whole number": Whole, "length, if any": Length | None},
)


def read_allowance_tables(
    text: str, name: str
) -> tuple[allowances.AllowanceTable, ...]:
    """Read a person's own tables, all with the standing "given by the user".

    Raises
    ------
    FileFormatError
        With every mistake, a line each.
    """
    told: Any = read_tables(parse_toml(text, name), _TABLES[""], (name, text))
    own = {"standing": Standing.USER}
    return tuple(
        table.make(
            breaks=tuple(row.make(**own) for row in table.breaks),
            diameters=tuple(
                row.make(size_to=row.size_to or row.size, **own)
                for row in table.diameter
            ),
            **own,
        )
        for table in told.table
    )
