"""Recordings of a visit by ear: a file for each, and the record told once it is whole.

A file is written from the first block on. Once it is closed it never changes, so that a
pluck of it can be named by its number; then the record is told. A file that a killed
visit left behind is taken up by the next.
"""

import re
from collections import Counter
from collections.abc import Callable, Mapping
from concurrent.futures import Executor, Future
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

from tension.errors import ExistingFileError, FileFormatError
from tension.files.atomic import held_alone
from tension.files.evidence import has_seal, natural_key
from tension.files.record import append_tables, read_visit
from tension.files.sound import read_recording
from tension.files.toml_text import NewTable
from tension.files.visit import Visit
from tension.files.wav import GrowingWav
from tension.installation import Span
from tension.measurement.readings import PluckReading, Series
from tension.notes import NoteKind
from tension.sound.hear import hear_set
from tension.sound.hearing import HearingPrior, Pluck, RopeHearing, RopeSpan
from tension.sound.recording import Recording, Take
from tension.workflow import adding
from tension.workflow.inputs import find_record, plucks_of, recordings_of, require
from tension.workflow.listening import excluded_plucks, is_left_out
from tension.workflow.live.events import Answer, Reason, Told, What

_OWN = re.compile(r"rope-(\d+)(?:-\d+)?\.wav")
_NOTHING = {
    kind.code for kind in (NoteKind.TOO_SHORT, NoteKind.ALL_ZEROS, NoteKind.SILENT)
}
_IN_RECORD = {
    Reason.NO_PLUCK: "no pluck was heard in it",
    Reason.INPUT_LOST: "input was lost in it",
    Reason.UNDONE: "taken back while measuring",
    Reason.REPEATED: "the rope was begun anew",
}
NEAR = 0.5  # what begins so near to a pluck of the ear is that pluck [s]


@dataclass(frozen=True, kw_only=True, slots=True)
class Ready:
    """A record, and what a visit by ear needs of it."""

    record: Path
    visit: Visit
    series: Series  # one that the record lacks is begun
    span: Span
    order: tuple[int, ...]  # in which the ropes are taken


def require_ready(
    path: Path, series_name: str | None = None, order: tuple[int, ...] = ()
) -> Ready:
    """Find the record and what a visit by ear needs of it, before a device is open.

    The series is the last and the order that of the hitch where they are not told.
    """
    record = find_record(path)
    require(
        not has_seal(record),
        f"{record}: this record is sealed, so nothing is added to it; begin another "
        "visit: tension start",
    )
    visit = read_visit(record)
    spans, n_ropes = visit.rope_set.spans, visit.rope_set.n_ropes
    last = visit.series[-1] if visit.series else None
    name = series_name or (last.name if last else "as found")
    series = next((one for one in visit.series if one.name == name), None)
    if series is None:  # begun like the last
        require(
            spans,
            f"{visit.path}: there is no [[span]] yet; say in it where the ropes are "
            "plucked",
        )
        series = Series(name=name, span=last.span if last else spans[0].name)
    span = next(one for one in spans if one.name == series.span)
    for rope in order:
        none = f"{record}: there is no rope {rope}; the set has {n_ropes} ropes"
        require(1 <= rope <= n_ropes, none)
    order = order or _hitch_order(visit, span)
    return Ready(record=record, visit=visit, series=series, span=span, order=order)


def _hitch_order(visit: Visit, span: Span) -> tuple[int, ...]:
    """The order in which ropes hang, row by row; by number if it is not known."""
    for hitch in visit.rope_set.hitches:
        if hitch.at.side is span.side and hitch.rows:
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
    """A recording of one rope that is being written."""

    rope: int
    name: str  # below the record
    file: GrowingWav
    onsets: list[float] = field(default_factory=list)  # where something began [s]
    # plucks that do not count, by where they began [s]; None for the whole
    excluded: dict[float | None, Reason] = field(default_factory=dict)
    is_closed: bool = False  # its file never changes any more
    plucks: tuple[Pluck, ...] = ()  # of the whole, once the record is told of it
    held: ExitStack = field(default_factory=ExitStack)

    def close(self) -> None:
        """Close the file; it never changes from now on."""
        self.is_closed = True
        self.file.close()
        self.held.close()


@dataclass(kw_only=True, slots=True)
class TakeBook:
    """Makes recordings of one series; tells the record of them beside the recording."""

    record: Path
    series: str
    spans: Mapping[int, RopeSpan]  # by rope; this and the prior as before listening
    prior: HearingPrior
    worker: Executor  # does one thing after the other beside the recording
    _works: list[Future[object]] = field(default_factory=list)
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
        count, path, file = 1, self.folder / f"rope-{rope}.wav", None
        while file is None:
            try:
                file = GrowingWav(path, sampling_rate)
            except ExistingFileError:
                count += 1
                path = self.folder / f"rope-{rope}-{count}.wav"
        take = OpenTake(rope=rope, name=f"{self.folder.name}/{path.name}", file=file)
        take.held.enter_context(held_alone(path))
        return take

    def hear(self, rope: int, recording: Recording, onset: float) -> Future[Answer]:
        """Let the ear hear a pluck that begins there in part of a recording [s]."""
        span = self.spans[rope]
        return self.worker.submit(hear_window, recording, onset, span, self.prior)

    def close(self, take: OpenTake) -> None:
        """Close a recording and tell the record of it."""
        take.close()
        self._submit(self.settle, take)

    def _submit(self, act: Callable[..., object], /, *given: object) -> None:
        """Let the worker tell the record something."""
        self._works.append(self.worker.submit(act, *given))
        self._is_new = True

    def settle(self, take: OpenTake) -> None:
        """Hear a closed recording as a whole and tell the record of it.

        A file in which nothing began is taken away.
        """
        if take.onsets:
            take.plucks = self._tell(take.rope, take.name, take.excluded) or ()
        else:
            take.file.path.unlink(missing_ok=True)

    def leave_out(self, take: OpenTake, onset: float, reason: Reason) -> None:
        """Let a pluck of a recording, open or closed, not count; it began there [s]."""
        if not take.is_closed:
            take.excluded[onset] = reason
            return

        def exclude() -> None:  # the record is told of the take: one after the other
            pluck = pluck_at(take.plucks, onset)
            if pluck is not None:
                left_out = self._exclusion(take.rope, take.name, pluck.index, reason)
                append_tables(self.record, lambda _: [left_out])

        self._submit(exclude)

    def look(self) -> None:
        """Raise what went wrong by now."""
        for one in [one for one in self._works if one.done()]:
            one.result()
            self._works.remove(one)

    def finish(self) -> bool:
        """Wait until the record knows everything; whether it learned anything."""
        for one in self._works:
            one.result()
        was_new, self._is_new = self._is_new, False
        return was_new

    def take_up(self, visit: Visit) -> list[Told]:
        """Tell the record of recordings that a broken-off visit left behind."""
        named = recordings_of(visit)
        found = []
        for path in sorted(self.folder.glob("rope-*.wav"), key=natural_key):
            own = _OWN.fullmatch(path.name)
            name = f"{self.folder.name}/{path.name}"
            if own is None or name in named or int(own[1]) not in self.spans:
                continue
            rope = int(own[1])
            with held_alone(path, patience=0.0):
                plucks = self._tell(rope, name, {})
            if plucks is not None:
                n = sum(pluck.is_used for pluck in plucks)
                up = What.TAKEN_UP
                found.append(Told.of(up, recording=name, rope=rope, n_plucks=n))
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
        if is_left_out(visit.exclusions, reading):
            return 0
        if len(reading.ropes) > 1:
            return reading.plucks_each or 3
        left_out = excluded_plucks(visit.exclusions, reading)
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
        self, rope: int, name: str, excluded: Mapping[float | None, Reason]
    ) -> tuple[Pluck, ...] | None:
        """Tell the record of a file; one that holds no sound at all is taken away."""
        path = self.record.parent / name
        recording = read_recording(path, name=name)
        if recording.refusal is not None and recording.refusal.code in _NOTHING:
            path.unlink(missing_ok=True)
            return None
        plucks = self._hear(rope, recording)
        n_used = sum(pluck.is_used for pluck in plucks)
        left_out: dict[int | None, Reason] = {}
        for onset, why in excluded.items():
            pluck = None if onset is None else pluck_at(plucks, onset)
            if pluck is not None and pluck.is_used:
                left_out[pluck.index] = why
        if None in excluded:
            left_out = {None: excluded[None]}
        elif not n_used:
            left_out = {None: Reason.NO_PLUCK}
        elif len(left_out) == n_used:
            left_out = {None: next(iter(left_out.values()))}
        tables = [
            adding.pluck(self.series, name, (rope,)),
            *(self._exclusion(rope, name, p, why) for p, why in left_out.items()),
        ]

        def unless_named(visit: Visit) -> list[NewTable]:
            return [] if name in recordings_of(visit) else tables

        append_tables(self.record, unless_named)
        return plucks

    def _exclusion(
        self, rope: int, name: str, pluck: int | None, reason: Reason
    ) -> NewTable:
        """What does not count."""
        return adding.table(
            "exclusion",
            series=self.series,
            rope=rope,
            recording=name,
            pluck=pluck,
            reason=_IN_RECORD[reason],
        )
