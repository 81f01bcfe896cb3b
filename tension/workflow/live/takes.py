"""Recordings of a visit by ear: a file for each, and the record told once it is whole.

A file is written from the first block on. Once it is closed it never changes, so that a
pluck of it can be named by its number; then the record is told. A file that a killed
visit left behind is taken up by the next.
"""

import re
from collections import Counter
from collections.abc import Mapping
from concurrent.futures import Executor, Future, wait
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

from tension.errors import ExistingFileError, FileFormatError, reason_of
from tension.files.atomic import held_alone
from tension.files.evidence import has_seal, natural_key
from tension.files.record import append_tables, read_visit
from tension.files.sound import read_recording
from tension.files.toml_text import NewTable
from tension.files.visit import Visit
from tension.files.wav import GrowingWav
from tension.measurement.readings import Series
from tension.notes import NoteKind
from tension.sound.hear import hear_set
from tension.sound.hearing import (
    HearingPrior,
    Pluck,
    Recording,
    RopeHearing,
    RopeSpan,
    Take,
)
from tension.telling.lines import word
from tension.workflow import adding, inputs, listening
from tension.workflow.live.events import Answer, NotCounted, Surface, What

_OWN = re.compile(r"rope-(\d+)(?:-\d+)?\.wav")
_NOTHING = {NoteKind.TOO_SHORT.code, NoteKind.ALL_ZEROS.code, NoteKind.SILENT.code}
NEAR = 0.5  # what begins so near to a pluck of the ear is that pluck [s]


def hear_window(
    recording: Recording, onset: float, span: RopeSpan, prior: HearingPrior | None
) -> Answer:
    """Hear a pluck, with those before it in the recent part of a rope's recording.

    It begins at the onset in that part [s], which ends with the ring.
    """
    rope, heard = span.number, hear_rope(recording, span, prior)
    pluck, refusal = pluck_at(heard.plucks, onset), heard.refusal
    if pluck is None or not pluck.is_used:
        reason = pluck.reason if pluck is not None else NotCounted.NO_PLUCK
        return Answer(rope=rope, reason=reason)
    if refusal is not None:
        return Answer(rope=rope, reason=refusal.text, next_act=refusal.next_act)
    return Answer(rope=rope, fundamental_frequency=heard.fundamental_frequency)


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
    began: float  # in the stream of the microphone [s]
    held: ExitStack  # its file, and the lock on it
    onsets: list[float] = field(default_factory=list)  # where something began [s]
    # plucks that do not count, by where they began [s]; None for the whole
    excluded: dict[float | None, NotCounted] = field(default_factory=dict)
    is_closed: bool = False  # its file never changes any more
    plucks: tuple[Pluck, ...] = ()  # of the whole, once the record is told of it

    def close(self) -> None:
        """Close the file; it never changes from now on."""
        self.is_closed = True
        self.held.close()


@dataclass(kw_only=True, slots=True)
class TakeBook:
    """Makes recordings of one series; tells the record of them beside the recording."""

    record: Path
    series: Series  # one that the record lacks is begun with the visit
    order: tuple[int, ...]  # in which the ropes are taken
    spans: Mapping[int, RopeSpan]  # by rope; this and the prior as before listening
    prior: HearingPrior
    worker: Executor  # does one thing after the other beside the recording
    _works: list[Future[None]] = field(default_factory=list)

    @property
    def folder(self) -> Path:
        """Where the recordings go: named as the series, in letters, digits, dashes."""
        name = re.sub(r"[^0-9a-z]+", "-", self.series.name.casefold()).strip("-")
        return self.record.parent / (name or "series")

    def open_take(self, rope: int, sampling_rate: int, began: float = 0.0) -> OpenTake:
        """Begin a recording at a rate [Hz], under a name that is free.

        It begins there in the stream of the microphone [s].

        Raises
        ------
        FileFormatError
            If it cannot be written.
        """
        folder = self.folder
        try:
            folder.mkdir(exist_ok=True)
        except OSError as error:
            why = f"{folder}: cannot be made ({reason_of(error)})"
            raise FileFormatError(why) from error
        count, path, file = 1, folder / f"rope-{rope}.wav", None
        while file is None:
            try:
                file = GrowingWav(path, sampling_rate)
            except ExistingFileError:
                count += 1
                path = folder / f"rope-{rope}-{count}.wav"
        held = ExitStack()
        held.enter_context(held_alone(path))
        held.callback(file.close)
        name = f"{folder.name}/{path.name}"
        return OpenTake(rope=rope, name=name, file=file, began=began, held=held)

    def hear(self, rope: int, recording: Recording, onset: float) -> Future[Answer]:
        """Let the ear hear a pluck that begins there in part of a recording [s]."""
        span = self.spans[rope]
        return self.worker.submit(hear_window, recording, onset, span, self.prior)

    def close(self, take: OpenTake) -> None:
        """Close a recording and tell the record of it."""
        take.close()
        self._works.append(self.worker.submit(self.settle, take))

    def settle(self, take: OpenTake) -> None:
        """Hear a closed recording as a whole and tell the record of it.

        A file in which nothing began is taken away.
        """
        if take.onsets:
            take.plucks = self._tell(take.rope, take.name, take.excluded) or ()
        else:
            take.file.path.unlink(missing_ok=True)

    def leave_out(self, take: OpenTake, onset: float, reason: NotCounted) -> None:
        """Let a pluck of a recording, open or closed, not count; it began there [s]."""

        def exclude() -> None:  # the record is told of the take: one after the other
            pluck = pluck_at(take.plucks, onset)
            if pluck is not None:
                left_out = self._exclusion(take.rope, take.name, pluck.index, reason)
                append_tables(self.record, lambda _: [left_out])

        if take.is_closed:
            self._works.append(self.worker.submit(exclude))
        else:
            take.excluded[onset] = reason

    def look(self) -> None:
        """Raise what went wrong by now."""
        for one in self._works:
            if one.done():
                one.result()

    def finish(self) -> bool:
        """Wait until the record knows everything; whether it learned anything."""
        works, self._works = self._works, []
        wait(works)
        for one in works:
            one.result()
        return bool(works)

    def take_up(self, visit: Visit, surface: Surface) -> None:
        """Tell the record of recordings that a broken-off visit left behind."""
        named = inputs.recordings_of(visit)
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
                surface.tell(What.TAKEN_UP, recording=name, rope=rope, n_plucks=n)

    def count_plucks(self, visit: Visit) -> dict[int, int]:
        """Count the plucks that the record has of each rope and that count."""
        counts: Counter[int] = Counter()
        own = [one for one in inputs.plucks_of(visit) if one.series == self.series.name]
        for one in own:
            if listening.is_left_out(visit.exclusions, one):
                continue
            if len(one.ropes) > 1:
                n = one.plucks_each or 3
            else:
                left_out = listening.excluded_plucks(visit.exclusions, one)
                _, heard = self._hear(one.ropes[0], one.recording)
                n = sum(p.is_used and p.index not in left_out for p in heard)
            counts.update(dict.fromkeys(one.ropes, n))
        return counts

    def _hear(self, rope: int, name: str) -> tuple[Recording, tuple[Pluck, ...]]:
        """A recording as it is read, and its plucks."""
        recording = read_recording(self.record.parent / name, name=name)
        if recording.refusal is not None:
            return recording, ()
        return recording, hear_rope(recording, self.spans[rope], self.prior).plucks

    def _tell(
        self, rope: int, name: str, excluded: Mapping[float | None, NotCounted]
    ) -> tuple[Pluck, ...] | None:
        """Tell the record of a file; one that holds no sound at all is taken away."""
        recording, plucks = self._hear(rope, name)
        if recording.refusal is not None and recording.refusal.code in _NOTHING:
            (self.record.parent / name).unlink(missing_ok=True)
            return None
        left_out: dict[int | None, NotCounted] = {}
        for onset, why in excluded.items():
            pluck = None if onset is None else pluck_at(plucks, onset)
            if pluck is not None and pluck.is_used:
                left_out[pluck.index] = why
        if None in excluded:
            left_out = {None: excluded[None]}
        elif len(left_out) == sum(pluck.is_used for pluck in plucks):
            left_out = {None: next(iter(left_out.values()), NotCounted.NO_PLUCK)}
        tables = [
            adding.pluck(self.series.name, name, (rope,)),
            *(self._exclusion(rope, name, p, why) for p, why in left_out.items()),
        ]
        append_tables(
            self.record, lambda v: [] if name in inputs.recordings_of(v) else tables
        )
        return plucks

    def _exclusion(
        self, rope: int, name: str, pluck: int | None, reason: NotCounted
    ) -> NewTable:
        """What does not count."""
        return adding.table(
            "exclusion",
            series=self.series.name,
            rope=rope,
            recording=name,
            pluck=pluck,
            reason=word(reason),
        )


def open_book(
    path: Path,
    worker: Executor,
    series_name: str | None = None,
    order: tuple[int, ...] = (),
) -> TakeBook:
    """Find the record and what a visit by ear needs of it, before a device is open.

    The series is the last and the order that of the hitch, row by row, where they are
    not told; by number if that is not known.
    """
    record = inputs.find_record(path)
    inputs.require(
        not has_seal(record),
        f"{record}: this record is sealed, so nothing is added to it; begin another "
        "visit: tension start",
    )
    visit = read_visit(record)
    rope_set = visit.rope_set
    names = {one.name.casefold() for one in visit.series}
    if visit.series and (not series_name or series_name.casefold() in names):
        series = inputs.choose_series(visit, series_name)
    else:  # begun like the last
        places = [one.span for one in visit.series[-1:]]
        places += [one.name for one in rope_set.spans]
        inputs.require(
            places,
            f"{visit.path}: there is no [[span]] yet; say in it where the ropes are "
            "plucked",
        )
        series = Series(name=series_name or adding.FIRST_SERIES, span=places[0])
    span = next(one for one in rope_set.spans if one.name == series.span)
    for rope in order:
        inputs.require(
            rope in range(1, rope_set.n_ropes + 1),
            f"there is no rope {rope}; the set has ropes 1 to {rope_set.n_ropes}",
        )
    near = [one.rows for one in rope_set.hitches if one.at.side is span.side]
    hung = (rope for row in next(filter(None, near), ()) for rope in row)
    return TakeBook(
        record=record,
        series=series,
        order=order or tuple(hung) or tuple(range(1, rope_set.n_ropes + 1)),
        spans={one.number: one for one in listening.find_spans(rope_set, span)},
        prior=listening.find_prior(rope_set, visit.lift, span),
        worker=worker,
    )
