"""The record, from disk to memory: every mistake of content at once, a line each."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path
from typing import TypeVar

from tension.condition.checks import Check, check_from_table
from tension.condition.confirmation import Allowance, allowance_from_table
from tension.condition.findings import Finding, finding_from_table
from tension.errors import FileFormatError
from tension.files import record_schema as schema
from tension.files import record_schema_others as others
from tension.files import record_tables as tables
from tension.files.attachments import (
    answer_from_table,
    instrument_from_table,
    trim_from_table,
)
from tension.files.record_lines import TomlPath, find_lines, line_of
from tension.files.record_links import contradictions
from tension.files.record_syntax import parse_toml, read_record_text
from tension.files.schema_types import Table
from tension.files.table_reader import MOST_ROPES, Known, TableReader, path_fault
from tension.files.visit import Visit
from tension.installation import Rope, RopeSet
from tension.measurement.readings import Reading
from tension.quantity.keys import Mistake, is_below

MOST_MISTAKES = 50
"""So many are told; a file with more is better begun anew."""

Read = TypeVar("Read")


@dataclass(frozen=True, kw_only=True, slots=True)
class _Told:
    """One mistake: where in the file, where in words, what."""

    path: TomlPath
    where: str
    text: str


def read_visit(path: Path) -> Visit:
    """Read a record.

    Parameters
    ----------
    path : Path
        The record, such as ``visit.toml``.

    Returns
    -------
    Visit
        Everything it says.

    Raises
    ------
    FileFormatError
        With the first mistake of syntax, or with every mistake of content, a line each.
    """
    return visit_from_text(read_record_text(path), path)


def visit_from_text(text: str, path: Path) -> Visit:
    """Read the text of a record.

    Parameters
    ----------
    text : str
        Its text.
    path : Path
        Where it lies; recordings are looked for beside and below.

    Returns
    -------
    Visit
        Everything it says.

    Raises
    ------
    FileFormatError
        As `read_visit` does.
    """
    document = parse_toml(text, str(path))
    record = _Record(document, path)
    visit = record.read()
    if record.told:
        raise FileFormatError(*_sentences(record.told, text, str(path)))
    return visit


def _sentences(told: Sequence[_Told], text: str, name: str) -> list[str]:
    """Each mistake with its line, in the order of the file."""
    lines = find_lines(text)
    placed = sorted(
        ((line_of(lines, one.path) or 0, one) for one in told), key=lambda pair: pair[0]
    )
    sentences = [
        f"{name}: "
        + (f"line {line}: " if line else "")
        + (f"{one.where}: " if one.where else "")
        + one.text
        for line, one in placed[:MOST_MISTAKES]
    ]
    if len(placed) > MOST_MISTAKES:
        sentences.append(f"{name}: and {len(placed) - MOST_MISTAKES} more")
    return sentences


class _Record:
    """A document on its way into a visit; what is wrong is gathered."""

    def __init__(self, document: Mapping[str, object], path: Path) -> None:
        self._document = document
        self._path = path
        self._known = Known(folder=path.parent)
        self.told: list[_Told] = []

    def read(self) -> Visit:
        """Read all tables; those that others refer to come first."""
        self._read_top()
        rope_set = self._read_set()
        series = self._unique(
            schema.SERIES,
            lambda reader: tables.read_series(reader, self._known),
            "name",
        )
        self._known = replace(self._known, series=tuple(one.name for one in series))
        readings = self._read_readings()
        visit = Visit(
            path=self._path,
            lift=self._one(schema.LIFT, tables.read_lift),
            rule=self._one(schema.RULE, tables.read_rule),
            rope_set=rope_set,
            particulars=self._one(schema.VISIT, tables.read_particulars),
            series=series,
            readings=readings,
            turns=self._many(schema.TURN, lambda r: tables.read_turn(r, self._known)),
            exclusions=self._many(
                schema.EXCLUSION, lambda r: tables.read_exclusion(r, self._known)
            ),
            findings=self._read_findings(),
            allowance=self._read_allowance(),
            checks=self._read_checks(),
            instruments=self._others(others.INSTRUMENT, instrument_from_table),
            answers=self._others(others.ANSWER, answer_from_table),
            trims=self._others(others.TRIM, trim_from_table),
        )
        for path, where, text in contradictions(visit):
            self.told.append(_Told(path=path, where=where, text=text))
        return visit

    def _read_top(self) -> None:
        """The format, and tables that a record does not have."""
        names = {table.name: table for table in schema.TABLES}
        for name in self._document:
            if name in names or name == "format":
                continue
            is_many = len(self.told) >= MOST_MISTAKES
            near = [] if is_many else get_close_matches(name, names, n=1)
            hint = (
                f"did you mean {_brackets(names[near[0]])}?" if near else "take it out"
            )
            owners = [t for t in schema.TABLES if name in t.key_names]
            if owners and not near:
                hint = f"it goes into {_brackets(owners[0])}"
            self._tell((name,), name[:40], f"unknown name; {hint}")
        version = self._document.get("format")
        if version is None:
            self._tell((), "format", "is missing; write format = 1 at the top")
        elif type(version) is not int or version != schema.FORMAT:
            self._tell(
                ("format",),
                "format",
                f"must be {schema.FORMAT}, not {version!r:.40}; a later one needs a "
                "later version of this program",
            )

    def _read_set(self) -> RopeSet:
        """The set with its spans, hitches and ropes."""
        if schema.SET.name not in self._document:
            self._tell((), "[set]", "is missing; write how many ropes, like ropes = 6")
            rope_set = RopeSet(n_ropes=0)
        else:
            rope_set = self._one(schema.SET, tables.read_set)
        self._known = replace(self._known, n_ropes=rope_set.n_ropes or None)
        spans = self._unique(schema.SPAN, tables.read_span, "name")
        self._known = replace(self._known, spans=tuple(span.name for span in spans))
        hitches = self._unique(
            schema.HITCH, lambda reader: tables.read_hitch(reader, self._known), "at"
        )
        self._known = replace(self._known, hitches=tuple(h.at for h in hitches))
        written = {rope.number: rope for rope in self._read_ropes()}
        return replace(
            rope_set,
            spans=spans,
            hitches=hitches,
            ropes=tuple(
                written.get(number, Rope(number=number))
                for number in range(1, rope_set.n_ropes + 1)
            ),
            uncertainties=self._one(schema.UNCERTAINTY, tables.read_uncertainties),
        )

    def _read_ropes(self) -> list[Rope]:
        """What differs from rope to rope; each number once."""
        ropes: list[Rope] = []
        for i, raw in self._tables(schema.ROPE):
            reader = TableReader(raw, schema.ROPE, self._known)
            reader.refuse_unknown()
            rope = tables.read_rope(reader)
            if rope and any(rope.number == other.number for other in ropes):
                reader.refuse("number", f"rope {rope.number} stands twice; keep one")
            elif rope:
                ropes.append(rope)
            where = f"rope {rope.number}" if rope else f"[[rope]] no. {i + 1}"
            self._take(("rope", i), where, reader.mistakes)
        return ropes

    def _read_readings(self) -> tuple[Reading, ...]:
        """All readings."""
        readings = []
        for i, raw in self._tables(schema.READING):
            reader = TableReader(raw, schema.READING, self._known)
            reading = tables.read_reading(reader, self._known)
            self._take(("reading", i), f"reading {i + 1}", reader.mistakes)
            if reading:
                readings.append(reading)
        return tuple(readings)

    def _read_findings(self) -> tuple[Finding, ...]:
        """What the condition room reads, and what it refers to."""
        n_ropes = self._known.n_ropes or MOST_ROPES
        found = self._others(
            others.FINDING, lambda raw: finding_from_table(raw, n_ropes)
        )
        for i, raw in self._tables(others.FINDING):
            self._check_references("finding", i, raw)
        return found

    def _read_checks(self) -> tuple[Check, ...]:
        """What the condition room reads, and what it refers to."""
        n_ropes = self._known.n_ropes or MOST_ROPES
        found = self._others(others.CHECK, lambda raw: check_from_table(raw, n_ropes))
        for i, raw in self._tables(others.CHECK):
            self._check_references("check", i, raw)
        return found

    def _check_references(self, name: str, i: int, raw: Mapping[str, object]) -> None:
        """Series named elsewhere must be there; photos must not lead outside."""
        series = raw.get("series")
        if isinstance(series, str) and series and series not in self._known.series:
            self._tell(
                (name, i, "series"), f"{name} {i + 1}, series", f'no series "{series}"'
            )
        photos = raw.get("photo", [])
        for photo in photos if isinstance(photos, list) else [photos]:
            if not isinstance(photo, str) or not is_below(photo):
                continue  # told by the condition room
            fault = path_fault(photo, self._known.folder)
            if fault:
                self._tell((name, i, "photo"), f"{name} {i + 1}, photo", fault)

    def _read_allowance(self) -> Allowance:
        """Which allowance table is open."""
        raw = self._table(others.ALLOWANCE)
        allowance, mistakes = allowance_from_table(raw)
        self._take((others.ALLOWANCE.name,), "allowance", mistakes)
        return allowance or Allowance()

    def _one(self, table: Table, read: Callable[[TableReader], Read]) -> Read:
        """A table in single brackets; an empty one if it is not there."""
        reader = TableReader(self._table(table), table, self._known)
        reader.refuse_unknown()
        found = read(reader)
        self._take((table.name,), table.name, reader.mistakes)
        return found

    def _many(
        self, table: Table, read: Callable[[TableReader], Read]
    ) -> tuple[Read, ...]:
        """Tables in double brackets."""
        found = []
        for i, raw in self._tables(table):
            reader = TableReader(raw, table, self._known)
            reader.refuse_unknown()
            found.append(read(reader))
            self._take((table.name, i), f"{table.name} {i + 1}", reader.mistakes)
        return tuple(found)

    def _unique(
        self, table: Table, read: Callable[[TableReader], Read], key: str
    ) -> tuple[Read, ...]:
        """Tables in double brackets that others name."""
        found = self._many(table, read)
        seen: set[object] = set()
        for (i, raw), one in zip(self._tables(table, tell=False), found, strict=True):
            name = getattr(one, key)
            if name in seen and key in raw:
                self._tell(
                    (table.name, i, key),
                    f"{table.name} {i + 1}, {key}",
                    f'"{name}" stands twice; give each its own',
                )
            seen.add(name)
        return found

    def _others(
        self,
        table: Table,
        read: Callable[[Mapping[str, object]], tuple[Read | None, Sequence[Mistake]]],
    ) -> tuple[Read, ...]:
        """Tables in double brackets that another module reads."""
        found = []
        for i, raw in self._tables(table):
            one, mistakes = read(raw)
            self._take((table.name, i), f"{table.name} {i + 1}", mistakes)
            if one is not None:
                found.append(one)
        return tuple(found)

    def _table(self, table: Table) -> Mapping[str, object]:
        """The content of a table in single brackets."""
        raw = self._document.get(table.name, {})
        if isinstance(raw, dict):
            return raw
        if isinstance(raw, list):
            text = f"there is only one; write it once, as {_brackets(table)}"
        else:
            text = f"is a table; write {_brackets(table)} on a line of its own"
        self._tell((table.name,), table.name, text)
        return {}

    def _tables(
        self, table: Table, *, tell: bool = True
    ) -> list[tuple[int, Mapping[str, object]]]:
        """The tables in double brackets, numbered."""
        raw = self._document.get(table.name, [])
        if isinstance(raw, list) and all(isinstance(one, dict) for one in raw):
            return list(enumerate(raw))
        where = (table.name,)
        text = f"write {_brackets(table)} in double brackets, once for each"
        if tell and not any(one.path == where for one in self.told):
            self._tell(where, table.name, text)
        return []

    def _take(self, path: TomlPath, where: str, mistakes: Iterable[Mistake]) -> None:
        """Gather the mistakes of one table."""
        for mistake in mistakes:
            self._tell(
                (*path, mistake.key), f"{where}, {mistake.key[:40]}", mistake.text
            )

    def _tell(self, path: TomlPath, where: str, text: str) -> None:
        """Gather one mistake."""
        self.told.append(_Told(path=path, where=where, text=text))


def _brackets(table: Table) -> str:
    """A table as it is written."""
    return f"[[{table.name}]]" if table.is_list else f"[{table.name}]"
