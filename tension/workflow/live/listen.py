"""A visit by ear from the first pluck to the result, block by block."""

import contextlib
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from tension.capture.blocks import Block, Source
from tension.capture.levels import Hum, find_hum, peak_level
from tension.capture.losses import SETTLES, Loss, LossKind, LossWatch
from tension.capture.onsets import OnsetWatch
from tension.errors import TensionError
from tension.workflow.assess import Assessed, assess_record
from tension.workflow.live.ear import Window, hear_window
from tension.workflow.live.events import (
    Act,
    Answer,
    Began,
    Left,
    Lost,
    Meter,
    Paused,
    Prompt,
    Reason,
    Result,
    RopeDone,
    SilentInput,
    Surface,
    TakenBack,
)
from tension.workflow.live.recent import RecentSound
from tension.workflow.live.session import Session
from tension.workflow.live.takes import (
    INPUT_LOST,
    REPEATED,
    TAKEN_BACK,
    ClosedTake,
    OpenTake,
    TakeBook,
)
from tension.workflow.rounds import MOST_ROUNDS

RING = 4.0
"""A ring is listened to for so long, or until the next one. [s]"""
HEARD = 4
"""Plucks of a rope that are heard together while it is on, the last ones. [1]"""
LEAD = 1.5
"""Heard before the first of them. [s]"""
PATIENCE = 120.0
"""Without a sound for so long, nothing is recorded until there is one. [s]"""
TICK = 0.05
"""Between two looks at keys and answers. [s]"""
METER = 0.1
"""Between two looks at the level. [s]"""
SILENCE = 3.0
"""Exact zeros for so long are told. [s]"""


class Worker(Protocol):
    """Runs one thing after the other beside the recording."""

    def submit(self, act: Callable[..., object], /, *given: object) -> Future[object]:
        """Run something, and tell when it is done."""


@dataclass(kw_only=True, slots=True)
class _Waiting:
    """A pluck that is being heard."""

    take: OpenTake
    onset: float
    answer: Future[object]
    is_discarded: bool = False


@dataclass(kw_only=True, slots=True)
class _Good:
    """A pluck that counts."""

    take: OpenTake
    onset: float


@dataclass(kw_only=True, slots=True)
class LiveVisit:
    """Listens rope by rope and keeps the record; sound, terminal and time are given.

    Attributes
    ----------
    book : TakeBook
        Makes recordings and tells the record.
    session : Session
        Where the visit stands.
    source : Source
        Where blocks come from.
    surface : Surface
        Where it is shown.
    worker : Worker
        Hears plucks beside the recording.
    assess : callable
        From the record and the name of the series to the result.
    """

    book: TakeBook
    session: Session
    source: Source
    surface: Surface
    worker: Worker
    assess: Callable[[Path, str], Assessed] = field(
        default=lambda record, series: assess_record(record, series=series)
    )
    result: Assessed | None = None
    _take: OpenTake | None = None
    _step: object = None
    _ring: float | None = None
    _waiting: list[_Waiting] = field(default_factory=list)
    _good: list[_Good] = field(default_factory=list)
    _settling: dict[str, Future[object]] = field(default_factory=dict)
    _lost: list[tuple[float, float]] = field(default_factory=list)
    _is_dozing: bool = False
    _is_silence_told: bool = False
    _metered: float = 0.0
    _peak: float = float("-inf")
    _hum: Hum | None = None
    _recent: RecentSound = field(init=False)
    _onsets: OnsetWatch = field(init=False)
    _losses: LossWatch = field(init=False)

    def __post_init__(self) -> None:
        """Make what watches the blocks."""
        rate = self.source.sampling_rate
        self._recent = RecentSound(rate)
        self._onsets = OnsetWatch(self._recent.sampling_rate)
        self._losses = LossWatch(sampling_rate=rate)

    def run(self) -> Assessed:
        """Listen until every rope is heard, or somebody ends it.

        Returns
        -------
        Assessed
            The last result.

        Raises
        ------
        TensionError
            If the device is gone or a file cannot be written; what was heard is kept.
        """
        order = dict.fromkeys(step.rope for step in self.session.steps)
        self.surface.show(
            Began(
                device=self.source.name,
                sampling_rate=self.source.sampling_rate,
                order=tuple(order),
            )
        )
        try:
            while self.result is None or not self._is_over:
                self._go_on()
                while not self._is_over:
                    self._look()
                self._conclude()
        except BaseException:
            self._keep()
            raise
        return self.result

    @property
    def _is_over(self) -> bool:
        """Whether nothing is left to be heard."""
        is_busy = self._ring is not None or bool(self._waiting)
        return self.session.step is None and not is_busy

    def _look(self) -> None:
        """One look at sound, keys and answers."""
        block = self.source.take(TICK)
        if block is not None:
            self._see(block)
        for act in self.surface.acts():
            self._act(act)
        self._collect()
        self._go_on()

    # sound

    def _see(self, block: Block) -> None:
        """Keep a block, and see what begins or was lost in it."""
        values = block.values
        losses = self._losses.see(block)
        self._tell_silence()
        self._peak = max(self._peak, peak_level(values))
        if self._take is not None:
            self._take.file.append(block.samples)
        if self._take is not None or self._is_dozing:
            ready = self._recent.push(values)
            for onset in self._onsets.push(ready):
                self._begin_ring(onset)
            self._note(losses, block)
        ring = self._ring
        if ring is not None and self._recent.end >= ring + RING:
            self._end_ring(ring + RING)
        self._doze()
        self._show_meter(block)

    def _begin_ring(self, onset: float) -> None:
        """Something begins; it ends the ring before it."""
        if self._take is None:
            self._wake()
            return
        if self._ring is not None:
            self._end_ring(onset)
        self._take.onsets.append(onset)
        self._ring = onset

    def _end_ring(self, end: float) -> None:
        """Give a ring to the ear."""
        take, onset = self._take, self._ring
        self._ring = None
        if take is None or onset is None:
            return
        first = take.onsets[-HEARD:][0]
        start = max(first - LEAD, 0.0, self._recent.start)
        span = self.book.ears.spans[take.rope]
        window = Window(
            rope=take.rope,
            recording=self._recent.recording(take.name, start, end),
            onset=onset - start,
            is_broken=self._is_lost(onset, end),
        )
        answer = self.worker.submit(hear_window, window, span, self.book.ears.prior)
        self._waiting.append(_Waiting(take=take, onset=onset, answer=answer))

    def _note(self, losses: Sequence[Loss], block: Block) -> None:
        """Tell what was lost; a pluck that it fell into does not count."""
        rate = self.source.sampling_rate
        for loss in losses:
            self.surface.show(Lost(seconds=loss.seconds, kind=loss.kind))
            if self._take is None:
                continue
            ago = (self._losses.n_frames - loss.frame) / rate
            place = self._take.file.duration - ago
            # the clock tells only once nothing more came late
            early = SETTLES + 0.5 if loss.kind is LossKind.CLOCK else 0.1
            late = place + (loss.seconds if loss.kind is LossKind.ZEROS else 0.0)
            self._lost.append((place - early, late + 0.1))
            self._take_back_lost()
        del block

    def _is_lost(self, start: float, end: float) -> bool:
        """Whether input was lost in a stretch of the recording."""
        return any(low < end and high > start for low, high in self._lost)

    def _take_back_lost(self) -> None:
        """Take back the last pluck if it was heard before its loss was known."""
        if not self._good or self._good[-1].take is not self._take:
            return
        good = self._good[-1]
        if self._is_lost(good.onset, good.onset + RING):
            self._take_back(INPUT_LOST)
            self.surface.show(
                Answer(rope=good.take.rope, is_good=False, reason=Reason.INPUT_LOST)
            )

    def _tell_silence(self) -> None:
        """Tell once that the input is exactly zero."""
        seconds = self._losses.seconds_of_zeros
        if seconds < SILENCE:
            self._is_silence_told = self._is_silence_told and seconds > 0.0
        elif not self._is_silence_told:
            self._is_silence_told = True
            self.surface.show(SilentInput(seconds=seconds))

    def _show_meter(self, block: Block) -> None:
        """Show level and hum some times a second."""
        if block.moment - self._metered < METER:
            return
        is_ringing = self._ring is not None or bool(self._waiting)
        if not is_ringing and int(block.moment) != int(self._metered):
            last = self._recent.last(2.0)
            self._hum = find_hum(last, self._recent.sampling_rate)
        self._metered = block.moment
        self.surface.show(Meter(peak=self._peak, hum=self._hum, is_ringing=is_ringing))
        self._peak = float("-inf")

    # answers and steps

    def _collect(self) -> None:
        """Take answers in, in the order of the plucks."""
        while self._waiting and self._waiting[0].answer.done():
            one = self._waiting.pop(0)
            answer = one.answer.result()
            if not one.is_discarded and isinstance(answer, Answer):
                self._take_in(one, answer)
        for name, settled in list(self._settling.items()):
            if settled.done():
                settled.result()
                if not any(good.take.name == name for good in self._good):
                    del self._settling[name]

    def _take_in(self, one: _Waiting, answer: Answer) -> None:
        """Count a pluck, or not."""
        if answer.is_good and self._is_lost(one.onset, one.onset + RING):
            answer = Answer(rope=answer.rope, is_good=False, reason=Reason.INPUT_LOST)
        if answer.reason is Reason.INPUT_LOST:
            one.take.excluded[one.onset] = INPUT_LOST
        before = self.session
        if answer.is_good:
            self._good.append(_Good(take=one.take, onset=one.onset))
            self.session = before.with_good(answer.rope)
        elif answer.reason is not Reason.NO_PLUCK:
            self.session = before.with_bad()
        self.surface.show(answer)
        if not answer.is_good and self.session.passed != before.passed:
            self.surface.show(Left(rope=answer.rope, by_itself=True))
        elif answer.reason is not Reason.NO_PLUCK and self.session.step == self._step:
            self._prompt(is_new=False)

    def _go_on(self) -> None:
        """Close and open recordings as the session wants, between two rings."""
        if self._ring is not None or self._waiting or self._is_dozing:
            return
        step = self.session.step
        take = self._take
        is_same = take is not None and step == self._step
        if is_same and take is not None and not (take.excluded or take.whole_excluded):
            return
        if take is not None:
            if step != self._step and take.rope in self.session.heard:
                self.surface.show(RopeDone(rope=take.rope))
            self._close()
        if step is not None and not self.session.is_paused:
            is_new = step != self._step
            self._open(step.rope)
            self._step = step
            self._prompt(is_new=is_new)

    def _prompt(self, *, is_new: bool) -> None:
        """Ask for a pluck."""
        step = self.session.step
        if step is not None:
            self.surface.show(
                Prompt(
                    rope=step.rope,
                    n_good=self.session.n_done,
                    n_wanted=self.session.plucks,
                    is_new=is_new,
                )
            )

    def _open(self, rope: int) -> None:
        """Begin a recording."""
        self._take = self.book.open_take(rope, self.source.sampling_rate)
        self._recent.begin()
        self._onsets.forget()
        self._lost.clear()

    def _close(self) -> None:
        """End a recording; the record is told beside the next."""
        take, self._take = self._take, None
        self._ring = None
        if take is not None:
            take.close()
            settled = self.worker.submit(self.book.settle, take)
            self._settling[take.name] = settled

    def _doze(self) -> None:
        """Stop recording when nothing sounds for long."""
        take = self._take
        if take is None or self._ring is not None or self._waiting:
            return
        last = take.onsets[-1] if take.onsets else 0.0
        if self._recent.end - last < PATIENCE:
            return
        self._close()
        self._is_dozing = True
        self._recent.begin()
        self._onsets.forget()
        self.surface.show(Paused(is_paused=True, by_itself=True))

    def _wake(self) -> None:
        """Record again."""
        self._is_dozing = False
        self._step = None
        self.surface.show(Paused(is_paused=False, by_itself=True))

    # keys

    def _act(self, act: Act) -> None:
        """Do what a key asks for."""
        if self._is_dozing:
            self._wake()
        if act is Act.UNDO:
            self._undo()
        elif act is Act.REPEAT:
            self._repeat()
        elif act is Act.SKIP:
            self._skip()
        elif act is Act.PAUSE:
            self._pause()
        else:
            self._discard(TAKEN_BACK)
            self.session = self.session.ended()

    def _undo(self) -> None:
        """Take back what rings, what is being heard, or the last good pluck."""
        if self._discard(TAKEN_BACK) and self._take is not None:
            self.surface.show(TakenBack(rope=self._take.rope))
            self._prompt(is_new=False)
        elif self._good:
            rope = self._good[-1].take.rope
            self._take_back(TAKEN_BACK)
            self.surface.show(TakenBack(rope=rope))
        else:
            self.surface.show(TakenBack(rope=None))

    def _discard(self, reason: str) -> bool:
        """Leave out what rings and what is being heard; whether there was any."""
        take = self._take
        has_any = False
        if take is not None and self._ring is not None:
            take.excluded[self._ring] = reason
            self._ring = None
            has_any = True
        for one in self._waiting:
            if not one.is_discarded:
                one.take.excluded[one.onset] = reason
                one.is_discarded = has_any = True
        return has_any

    def _take_back(self, reason: str) -> None:
        """Let the last good pluck not count."""
        good = self._good.pop()
        self.session = self.session.undone()
        self._leave_out(good, reason)

    def _leave_out(self, good: _Good, reason: str) -> None:
        """Leave out a pluck of a recording, open or closed."""
        if good.take is self._take:
            good.take.excluded[good.onset] = reason
            return
        settled = self._settling.get(good.take.name)

        def exclude() -> None:
            closed = settled.result() if settled is not None else None
            if isinstance(closed, ClosedTake):
                self.book.exclude(closed, good.onset, reason)

        self._settling[f"{good.take.name} {good.onset}"] = self.worker.submit(exclude)

    def _repeat(self) -> None:
        """Begin the rope anew."""
        if self._take is None:
            return
        self._discard(REPEATED)
        own = [good for good in self._good if good.take.rope == self._take.rope]
        for good in own[len(own) - self.session.n_done :]:
            self._good.remove(good)
            self._leave_out(good, REPEATED)
        self._take.whole_excluded = REPEATED
        self.session = self.session.repeated()
        self.surface.show(TakenBack(rope=self._take.rope))

    def _skip(self) -> None:
        """Leave the rope for now."""
        step = self.session.step
        if step is None:
            return
        self._discard(TAKEN_BACK)
        self.session = self.session.skipped()
        self.surface.show(Left(rope=step.rope, by_itself=False))

    def _pause(self) -> None:
        """Stop recording, or go on."""
        is_paused = not self.session.is_paused
        if is_paused:
            self._discard(TAKEN_BACK)
            self._close()
        self._step = None
        self.session = self.session.paused(is_paused=is_paused)
        self.surface.show(Paused(is_paused=is_paused))

    # the end

    def _conclude(self) -> None:
        """Show the result, and ask again for the ropes that it lacks."""
        self._go_on()
        for settled in self._settling.values():
            settled.result()
        if self.result is not None and not self._settling:
            return
        self._settling.clear()
        self._good.clear()
        self.result = self.assess(self.book.record, self.book.series)
        again = self._again() if self.surface.has_keys else ()
        is_ended = self.session.is_ended
        self.surface.show(Result(assessed=self.result, again=() if is_ended else again))
        if again and not is_ended:
            while (block := self.source.take(0.0)) is not None:
                self._losses.see(block)
            self._step = None
            self.session = self.session.again(again)

    def _again(self) -> tuple[int, ...]:
        """Ropes that may be taken again."""
        assert self.result is not None
        counts = dict.fromkeys(self.book.ears.spans, 0)
        for reading in self.result.visit.readings:
            if reading.series == self.book.series:
                for rope in getattr(reading, "ropes", ()):
                    counts[rope] += 1
        wanted = self.result.assessment.measure_again
        return tuple(rope for rope in wanted if counts[rope] < MOST_ROUNDS - 1)

    def _keep(self) -> None:
        """Tell the record what it can be told, whatever happened."""
        take, self._take = self._take, None
        if take is None:
            return
        take.close()
        with contextlib.suppress(TensionError, OSError):
            self.book.settle(take)
