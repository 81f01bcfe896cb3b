"""Recordings of a visit by ear: a file for each, and the record told once it is whole.

A file is written from the first block on. Once it is closed it never changes, so that a
pluck of it can be named by its number; then the record is told. A file that a killed
visit left behind is taken up by the next.
"""

import re
from collections import Counter
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from tension.errors import ExistingFileError, FileFormatError
from tension.files.atomic import held_alone
from tension.files.evidence import has_seal, natural_key
from tension.files.record import append_tables, read_visit
from tension.files.sound import read_recording
from tension.files.toml_text import NewTable, Value
from tension.files.visit import Visit
from tension.files.wav import GrowingWav
from tension.installation import Span
from tension.measurement.readings import PluckReading, Series
from tension.measurement.stiffness import HITCHES_OF_SIDE
from tension.notes import NoteKind
from tension.sound.hear import hear_set
from tension.sound.hearing import HearingPrior, Pluck, RopeHearing, RopeSpan
from tension.sound.recording import Recording, Take
from tension.workflow import adding
from tension.workflow.inputs import find_record, plucks_of, recordings_of
from tension.workflow.live.events import Answer, Reason

_OWN = re.compile(r"rope-(\d+)(?:-\d+)?\.wav")
_NOTHING = {
    kind.code for kind in (NoteKind.TOO_SHORT, NoteKind.ALL_ZEROS, NoteKind.SILENT)
}
NO_PLUCK = "no pluck was heard in it"
TAKEN_BACK = "taken back while measuring"
INPUT_LOST = "input was lost in it"
REPEATED = "the rope was begun anew"


NEAR = 0.5
"""What begins so near to a pluck of the ear is that pluck. [s]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class LiveChoice:
    """What a person says of a visit by ear.

    A series that the record lacks is begun; without a name it is the last one, without
    an order that of the hitch. So many good plucks are wanted of a rope at a time [1],
    and the ropes may be taken once more, in reverse.
    """

    series: str | None = None
    order: tuple[int, ...] = ()
    plucks: int = 3
    is_back: bool = True


def require_ready(path: Path, choice: LiveChoice) -> tuple[Path, Visit, Series, Span]:
    """Find the record, and what a visit by ear needs of it, before a device is opened.

    Raises
    ------
    FileFormatError
        If something is missing or names what is not there.
    """
    record = find_record(path)
    if has_seal(record):
        raise FileFormatError(
            f"{record}: this record is sealed, so nothing is added to it; begin "
            "another visit: tension start"
        )
    visit = read_visit(record)
    spans, n_ropes = visit.rope_set.spans, visit.rope_set.n_ropes
    name = choice.series
    if name is None and visit.series:
        name = visit.series[-1].name
    series = next((one for one in visit.series if one.name == name), None)
    if series is None:  # begun like the last
        if not spans:
            raise FileFormatError(
                f"{visit.path}: there is no [[span]] yet; say in it where the ropes "
                "are plucked"
            )
        last = visit.series[-1].span if visit.series else spans[0].name
        series = Series(name=name or "as found", span=last)
    span = next(one for one in spans if one.name == series.span)
    strange = [rope for rope in choice.order if not 1 <= rope <= n_ropes]
    if strange:
        raise FileFormatError(
            f"{record}: there is no rope {strange[0]}; the set has {n_ropes} ropes"
        )
    return record, visit, series, span


def hitch_order(visit: Visit, span: Span) -> tuple[int, ...]:
    """Tell the order in which ropes hang, row by row; by number if it is not known."""
    for hitch in visit.rope_set.hitches:
        if hitch.at in HITCHES_OF_SIDE[span.side] and hitch.rows:
            return tuple(rope for row in hitch.rows for rope in row)
    return tuple(range(1, visit.rope_set.n_ropes + 1))


def hear_window(
    recording: Recording, onset: float, span: RopeSpan, prior: HearingPrior | None
) -> Answer:
    """Hear a pluck, with those before it in the recent part of a rope's recording.

    It begins at the onset in that part [s], which ends with the ring.
    """
    rope, heard = span.number, hear_rope(recording, span, prior)
    pluck, refusal = pluck_at(heard.plucks, onset), heard.refusal
    if pluck is None or not pluck.is_used:
        reason = pluck.reason if pluck is not None else Reason.NO_PLUCK
        return Answer(rope=rope, is_good=False, reason=reason)
    if refusal is not None:
        said, act = refusal.text, refusal.next_act
        return Answer(rope=rope, is_good=False, reason=said, next_act=act)
    fundamental = heard.fundamental_frequency
    return Answer(rope=rope, is_good=True, fundamental_frequency=fundamental)


def hear_rope(
    recording: Recording, span: RopeSpan, prior: HearingPrior | None = None
) -> RopeHearing:
    """Hear a recording of one rope by itself, as `assess` would hear it."""
    take = Take(recording=recording, ropes=(span.number,))
    return hear_set([take], [span], prior).ropes[0]


def pluck_at(plucks: tuple[Pluck, ...], onset: float) -> Pluck | None:
    """Find the nearest pluck that begins about somewhere [s], if any is near."""
    near = [pluck for pluck in plucks if abs(pluck.start - onset) <= NEAR]
    return min(near, key=lambda pluck: abs(pluck.start - onset), default=None)


@dataclass(kw_only=True, slots=True)
class OpenTake:
    """A recording of one rope that is being written, named as below the record.

    It tells where something began [s], which plucks do not count, by where they began
    [s], and why, and why the whole does not, if it does not.
    """

    rope: int
    name: str
    file: GrowingWav
    onsets: list[float] = field(default_factory=list)
    excluded: dict[float, str] = field(default_factory=dict)
    whole_excluded: str = ""
    held: ExitStack = field(default_factory=ExitStack)

    def close(self) -> None:
        """Close the file; it never changes from now on."""
        self.file.close()
        self.held.close()


@dataclass(frozen=True, kw_only=True, slots=True)
class ClosedTake:
    """A recording of one rope that the record knows, and the plucks heard in it."""

    rope: int
    name: str
    plucks: tuple[Pluck, ...]

    @property
    def n_used(self) -> int:
        """Plucks that count [1]."""
        return sum(pluck.is_used for pluck in self.plucks)


class Worker(Protocol):
    """Runs one thing after the other beside the recording."""

    def submit(self, act: Callable[..., object], /, *given: object) -> Future[object]:
        """Run something, and tell when it is done."""


@dataclass(kw_only=True, slots=True)
class TakeBook:
    """Makes recordings of one series; tells the record of them beside the recording.

    It knows of the ropes, by number, what is expected before listening.
    """

    record: Path
    series: str
    spans: Mapping[int, RopeSpan]
    prior: HearingPrior
    worker: Worker
    _settled: dict[str, Future[object]] = field(default_factory=dict)
    _others: list[Future[object]] = field(default_factory=list)
    _is_new: bool = False

    @property
    def folder(self) -> Path:
        """Where the recordings go: named as the series, in letters, digits, dashes."""
        name = re.sub(r"[^0-9a-z]+", "-", self.series.casefold()).strip("-")
        return self.record.parent / (name or "series")

    def open_take(self, rope: int, sampling_rate: int) -> OpenTake:
        """Begin a recording at a rate [Hz], under a name that is free.

        Raises
        ------
        FileFormatError
            If it cannot be written.
        """
        try:
            self.folder.mkdir(exist_ok=True)
        except OSError as error:
            reason = (error.strerror or "the system refuses").lower()
            raise FileFormatError(
                f"{self.folder}: cannot be made ({reason})"
            ) from error
        count = 1
        while True:
            path = self.folder / f"rope-{rope}{f'-{count}' if count > 1 else ''}.wav"
            count += 1
            try:
                file = GrowingWav(path, sampling_rate)
            except ExistingFileError:
                continue
            name = f"{self.folder.name}/{path.name}"
            take = OpenTake(rope=rope, name=name, file=file)
            take.held.enter_context(held_alone(path))
            return take

    def close(self, take: OpenTake) -> None:
        """Close a recording and tell the record of it."""
        take.close()
        self._settled[take.name] = self.worker.submit(self.settle, take)
        self._is_new = True

    def settle(self, take: OpenTake) -> ClosedTake | None:
        """Hear a closed recording as a whole and tell the record of it.

        A file in which nothing began is taken away.

        Raises
        ------
        FileFormatError
            If the record cannot be written.
        """
        if not take.onsets:
            take.file.path.unlink(missing_ok=True)
            return None
        return self._tell(take.rope, take.name, take.excluded, take.whole_excluded)

    def leave_out(self, take: OpenTake, onset: float, reason: str) -> None:
        """Let a pluck of a closed recording not count; it began at the onset [s]."""
        settled = self._settled[take.name]

        def exclude() -> None:
            closed = settled.result()  # done before: one thing after the other
            plucks = closed.plucks if isinstance(closed, ClosedTake) else ()
            pluck = pluck_at(plucks, onset)
            if pluck is not None:
                left_out = self._exclusion(take.rope, take.name, pluck.index, reason)
                append_tables(self.record, lambda _: [left_out])

        self._others.append(self.worker.submit(exclude))
        self._is_new = True

    def look(self) -> None:
        """Raise what went wrong by now."""
        for one in (*self._settled.values(), *self._others):
            if one.done():
                one.result()
        self._others = [one for one in self._others if not one.done()]

    def finish(self) -> bool:
        """Wait until the record knows everything; whether it learned anything."""
        for one in (*self._settled.values(), *self._others):
            one.result()
        was_new, self._is_new = self._is_new, False
        return was_new

    def take_up(self, visit: Visit) -> list[ClosedTake]:
        """Tell the record of recordings that a broken-off visit left behind.

        Raises
        ------
        FileFormatError
            If one is being written by another command.
        """
        named = recordings_of(visit)
        found = []
        for path in sorted(self.folder.glob("rope-*.wav"), key=natural_key):
            own = _OWN.fullmatch(path.name)
            name = f"{self.folder.name}/{path.name}"
            if own is None or name in named or int(own.group(1)) not in self.spans:
                continue
            with held_alone(path, patience=0.0):
                closed = self._tell(int(own.group(1)), name, {}, "")
            if closed is not None:
                found.append(closed)
        return found

    def count_plucks(self, visit: Visit) -> dict[int, int]:
        """Count the plucks that the record has of each rope."""
        counts: Counter[int] = Counter()
        for one in plucks_of(visit):
            if one.series == self.series:
                counts.update(dict.fromkeys(one.ropes, self._count(visit, one)))
        return counts

    def _count(self, visit: Visit, reading: PluckReading) -> int:
        """Plucks of each rope in one reading that count."""
        own = [
            one
            for one in visit.exclusions
            if one.series == self.series
            and one.recording in {"", reading.recording}
            and one.rope in {None, *reading.ropes}
        ]
        if any(one.pluck is None for one in own):
            return 0
        if len(reading.ropes) > 1:
            return reading.plucks_each or 3
        left_out = {one.pluck for one in own}
        name = reading.recording
        recording = read_recording(self.record.parent / name, name=name)
        heard = self._hear(reading.ropes[0], recording)
        return sum(p.is_used and p.index not in left_out for p in heard)

    def _hear(self, rope: int, recording: Recording) -> tuple[Pluck, ...]:
        """The plucks of a recording."""
        if recording.refusal is not None:
            return ()
        return hear_rope(recording, self.spans[rope], self.prior).plucks

    def _tell(
        self, rope: int, name: str, excluded: Mapping[float, str], whole: str
    ) -> ClosedTake | None:
        """Tell the record of a file; one that holds no sound at all is taken away."""
        path = self.record.parent / name
        recording = read_recording(path, name=name)
        if recording.refusal is not None and recording.refusal.code in _NOTHING:
            path.unlink(missing_ok=True)
            return None
        plucks = self._hear(rope, recording)
        used = [pluck for pluck in plucks if pluck.is_used]
        near = [(pluck_at(plucks, onset), why) for onset, why in excluded.items()]
        gone = {p.index: why for p, why in near if p is not None and p.is_used}
        if not used:
            whole = whole or NO_PLUCK
        elif len(gone) == len(used):
            whole = whole or next(iter(gone.values()))
        left_out = [(None, whole)] if whole else list(gone.items())
        tables = [
            adding.reading(self.series, "pluck", rope, recording=name),
            *(self._exclusion(rope, name, p, why) for p, why in left_out),
        ]

        def unless_named(visit: Visit) -> list[NewTable]:
            return [] if name in recordings_of(visit) else tables

        append_tables(self.record, unless_named)
        return ClosedTake(rope=rope, name=name, plucks=plucks)

    def _exclusion(
        self, rope: int, name: str, pluck: int | None, reason: str
    ) -> NewTable:
        """What does not count."""
        of: dict[str, Value | None] = {"rope": rope, "recording": name, "pluck": pluck}
        return adding.table("exclusion", series=self.series, **of, reason=reason)
