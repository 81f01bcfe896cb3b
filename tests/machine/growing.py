"""A record that grows by legal and illegal edits, held against what always holds."""

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
)

from tension.assessment.decide import Verdict
from tension.errors import ExistingFileError, FileFormatError, TensionError
from tension.files.seal import Correction
from tension.workflow.assess import assess_record
from tension.workflow.integrity import (
    correct_record,
    seal_record,
    verify,
)
from tests.machine import record_text
from tests.machine.record_text import (
    HEAD,
    ILLEGAL,
    KINDS,
    PHOTO,
    SERIES,
    SETS,
    Key,
    Row,
)

ROPES = (1, 2, 3, 4)
DECIDED = (Verdict.EQUAL, Verdict.UNEQUAL)
HAIR = 2e-3
"""Within this the ends of an interval are found by simulation. [1]"""

ropes = st.sampled_from(ROPES)
kinds = st.sampled_from(KINDS)
places = st.integers(0, 10_000)


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome:
    """What one series of a record says."""

    verdict: Verdict
    spread: tuple[float | None, ...]
    shares: tuple[float | None, ...]
    inputs: tuple[str, ...]

    @property
    def width(self) -> float:
        """Of the interval; infinite where nothing bounds it."""
        _, lower, upper = self.spread
        return np.inf if lower is None or upper is None else upper - lower


def is_surer(before: Outcome, after: Outcome) -> bool:
    """Whether a result became one, and narrower too, or equal at all."""
    if before.verdict in DECIDED or after.verdict not in DECIDED:
        return False
    return after.verdict is Verdict.EQUAL or after.width < before.width - HAIR


class GrowingRecord(RuleBasedStateMachine):
    """One record in a folder of its own."""

    def __init__(self) -> None:
        super().__init__()
        self.place = TemporaryDirectory()
        self.folder = Path(self.place.name)
        self.record = self.folder / "visit.toml"
        (self.folder / PHOTO).parent.mkdir()
        (self.folder / PHOTO).write_bytes(b"photo of a tag")
        self.tensions: tuple[float, ...] = SETS[0]
        self.series = list(SERIES[:1])
        self.rows: list[Row] = []
        self.excluded: list[tuple[str, int]] = []
        self.left_out: list[Key] = []
        self.turns: list[str] = []
        self.known: dict[tuple[str, str], Outcome] = {}
        self.sealed: bytes | None = None
        self.missing_when_sealed: set[str] = set()

    def teardown(self) -> None:
        self.place.cleanup()

    def text(self, rows: list[Row] | None = None) -> str:
        rows = self.rows if rows is None else rows
        there = {row.key for row in rows}
        rest = [
            *(record_text.exclusion(*one) for one in self.excluded),
            *(record_text.exclusion(*one) for one in self.left_out if one in there),
            *self.turns,
        ]
        return record_text.record(self.series, rows, rest)

    def write(self, text: str) -> None:
        self.record.write_text(text, encoding="utf-8")

    def assessed(self, series: str, rows: list[Row] | None = None) -> Outcome:
        """Through the front door; the record is left as it is now."""
        text = self.text(rows)
        if (text, series) not in self.known:
            self.write(text)
            found = assess_record(self.folder, series=series)
            one = found.assessment
            self.known[text, series] = Outcome(
                verdict=one.verdict,
                spread=(one.spread.observed, one.spread.lower, one.spread.upper),
                shares=tuple(share.share for share in one.shares),
                inputs=tuple(Path(used.path).name for used in found.inputs),
            )
        self.write(self.text())
        return self.known[text, series]

    def add(self, kind: str, series: str, rope: int, tension: float) -> None:
        true = kind != "pluck" and tension == self.tensions[rope - 1]
        self.rows.append(record_text.reading(kind, series, rope, tension, is_true=true))

    def are_all_true(self, series: str) -> bool:
        return all(
            row.is_true or row.kind == "pluck"
            for row in self.rows
            if row.series == series
        )

    # legal edits

    @initialize(
        tensions=st.sampled_from(SETS), first=st.sets(kinds), is_sealed=st.booleans()
    )
    def begin(
        self, tensions: tuple[float, ...], first: set[str], *, is_sealed: bool
    ) -> None:
        self.tensions = tensions
        for kind in sorted(first):
            for rope in ROPES:
                self.add(kind, SERIES[0], rope, tensions[rope - 1])
        if is_sealed:
            self.seal()

    @precondition(lambda self: len(self.series) == 1)
    @rule(kind=kinds)
    def take_another_series(self, kind: str) -> None:
        self.series.append(SERIES[1])
        for rope in ROPES:
            self.add(kind, SERIES[1], rope, self.tensions[rope - 1])

    @rule(kind=kinds, rope=ropes)
    def repeat(self, kind: str, rope: int) -> None:
        self.add(kind, self.series[-1], rope, self.tensions[rope - 1])

    @rule(rope=ropes)
    def name_a_missing_file(self, rope: int) -> None:
        self.add("pluck", self.series[-1], rope, self.tensions[rope - 1])

    @rule(kind=kinds, rope=ropes, other=ropes)
    def contradict(self, kind: str, rope: int, other: int) -> None:
        series = self.series[-1]
        before = self.assessed(series)
        self.add(kind, series, rope, self.tensions[other - 1])
        after = self.assessed(series)
        assert (before.verdict, after.verdict) != (Verdict.UNEQUAL, Verdict.EQUAL)

    @precondition(lambda self: self.rows)
    @rule(place=places)
    def remove(self, place: int) -> None:
        index = place % len(self.rows)
        series = self.rows[index].series
        before, were_true = self.assessed(series), self.are_all_true(series)
        del self.rows[index]
        assert not (were_true and is_surer(before, self.assessed(series)))

    @rule(rope=ropes)
    def leave_out(self, rope: int) -> None:
        series = self.series[-1]
        before, are_true = self.assessed(series), self.are_all_true(series)
        if (series, rope) not in self.excluded:
            self.excluded.append((series, rope))
        after = self.assessed(series)
        assert after.verdict is not Verdict.EQUAL
        assert not (are_true and is_surer(before, after))

    @precondition(lambda self: any(row.name for row in self.rows))
    @rule(place=places)
    def leave_one_reading_out(self, place: int) -> None:
        named = [row for row in self.rows if row.name]
        row = named[place % len(named)]
        others = [one for one in self.rows if one.key != row.key]
        without = self.assessed(row.series, others)
        self.left_out.append(row.key)
        assert self.assessed(row.series) == without

    @precondition(lambda self: self.excluded)
    @rule(place=places)
    def count_again(self, place: int) -> None:
        del self.excluded[place % len(self.excluded)]

    @rule(rope=ropes)
    def turn(self, rope: int) -> None:
        before = self.assessed(self.series[-1])
        self.turns.append(record_text.turn(self.series[-1], rope))
        assert self.assessed(self.series[-1]) == before

    # seal, corrections

    def names_missing(self) -> set[str]:
        """Files named that are not there."""
        lines = "".join(row.text for row in self.rows).splitlines()
        return {line.split('"')[1] for line in lines if line.startswith("recording = ")}

    @rule()
    def seal(self) -> None:
        self.write(self.text())
        if self.sealed is not None:
            with pytest.raises(ExistingFileError) as told:
                seal_record(self.folder)
            assert len(str(told.value).splitlines()) == 1
            return
        seal_record(self.folder)
        self.sealed = self.record.read_bytes()
        self.missing_when_sealed = self.names_missing()

    @rule(words=st.sampled_from(["", "The tape was read again."]))
    def correct(self, words: str) -> None:
        self.write(self.text())
        now = self.record.read_bytes()
        said = Correction(by="R. Calder", reason="typing error", text=words)
        if self.sealed is None or (now == self.sealed and not words):
            with pytest.raises(FileFormatError) as told:
                correct_record(self.folder, said)
            assert len(told.value.lines) == 1
            return
        correct_record(self.folder, said)
        self.sealed = now
        self.missing_when_sealed |= self.names_missing()

    @precondition(lambda self: self.sealed == self.text().encode())
    @rule(place=places, index=places, flip=st.integers(1, 255))
    def change_a_byte(self, place: int, index: int, flip: int) -> None:
        self.write(self.text())
        path = sorted(p for p in self.folder.rglob("*") if p.is_file())
        changed = path[place % len(path)]
        content = changed.read_bytes()
        damaged = bytearray(content)
        damaged[index % len(content)] ^= flip
        changed.write_bytes(bytes(damaged))
        found = verify(self.folder)
        changed.write_bytes(content)
        told = {change.path for change in found.changes}
        assert changed.relative_to(self.folder).as_posix() in told

    @precondition(lambda self: self.sealed == self.text().encode())
    @rule()
    def lose_a_file(self) -> None:
        self.write(self.text())
        content = (self.folder / PHOTO).read_bytes()
        (self.folder / PHOTO).unlink()
        told = {change.path for change in verify(self.folder).changes}
        (self.folder / PHOTO).write_bytes(content)
        assert PHOTO in told

    # illegal edits

    @rule(mistakes=st.lists(st.sampled_from(ILLEGAL), min_size=1, max_size=4))
    def make_mistakes(self, mistakes: list[str]) -> None:
        illegal = "".join(dict.fromkeys(mistakes))
        before = self.files_beside()
        self.write(self.text() + illegal)
        words = Correction(by="R. Calder", reason="typing error", text="Again.")
        with pytest.raises(FileFormatError) as told:
            assess_record(self.folder)
        lines = told.value.lines
        assert len(lines) == len(set(mistakes))
        assert all("\n" not in line and ": line " in line for line in lines)
        with pytest.raises(TensionError):
            seal_record(self.folder)
        with pytest.raises(TensionError):
            correct_record(self.folder, words)
        assert self.files_beside() == before
        if self.sealed is not None:
            assert not verify(self.folder).is_same
        self.write(self.text())

    @rule(index=places, put=st.binary(max_size=3), taken=st.integers(0, 3))
    def damage(self, index: int, put: bytes, taken: int) -> None:
        content = self.text().encode()
        index = len(HEAD) // 2 + index % len(content)
        self.record.write_bytes(content[:index] + put + content[index + taken :])
        with suppress(TensionError):
            assess_record(self.folder)
        self.write(self.text())

    def files_beside(self) -> dict[str, bytes]:
        """Every file but the record."""
        return {
            path.name: path.read_bytes()
            for path in self.folder.rglob("*")
            if path.is_file() and path != self.record
        }

    # what always holds

    @invariant()
    def the_order_changes_nothing(self) -> None:
        places = np.random.default_rng(len(self.text())).permutation(len(self.rows))
        for moved in (self.rows[::-1], [self.rows[i] for i in places]):
            for series in self.series:
                assert self.assessed(series, moved) == self.assessed(series)

    @invariant()
    def nothing_rests_on_a_missing_file(self) -> None:
        there = [row for row in self.rows if row.kind != "pluck"]
        for series in self.series:
            found = self.assessed(series)
            assert found == self.assessed(series, there)
            assert found.inputs == ("visit.toml",)
            read = {row.rope for row in there if row.series == series}
            read -= {rope for name, rope in self.excluded if name == series}
            given = {
                n for n, s in zip(ROPES, found.shares, strict=True) if s is not None
            }
            assert given <= read
            assert found.verdict is not Verdict.EQUAL or given == set(ROPES)

    @invariant()
    def what_was_sealed_verifies(self) -> None:
        if self.sealed is None:
            return
        self.write(self.text())
        is_untouched = self.sealed == self.record.read_bytes()
        are_known = self.names_missing() <= self.missing_when_sealed
        assert verify(self.folder).is_same == (is_untouched and are_known)
