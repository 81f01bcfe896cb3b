"""A visit by ear from the first pluck to the result, block by block."""

import contextlib
import math
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import asdict, dataclass, field, replace
from itertools import chain

from tension.capture import Block, Hum, Loss, LossWatch, Microphone, peak_level
from tension.errors import TensionError
from tension.files.record import append_tables, read_visit
from tension.workflow.adding import table
from tension.workflow.assess import Assessed, assess_record
from tension.workflow.inputs import plucks_of
from tension.workflow.listening import MOST_ROUNDS
from tension.workflow.live import events
from tension.workflow.live.events import Act, NotCounted, Session, Surface, What
from tension.workflow.live.takes import OpenTake, TakeBook
from tension.workflow.live.watching import RecentSound

RING = 4.0  # a ring is listened to for so long, or until the next one [s]
PATIENCE = 120.0  # without a sound, nothing is recorded until there is one [s]
TICK = 0.05  # between two looks at keys and answers [s]
METER = 0.1  # between two looks at the level [s]
SILENCE = 3.0  # exact zeros for so long are told [s]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Rung:
    """A pluck that is being heard, or that counts."""

    take: OpenTake
    onset: float
    answer: Future[events.Answer]


@dataclass(kw_only=True, slots=True)
class LiveVisit:
    """Listens rope by rope and keeps the record; sound, terminal and time are given."""

    book: TakeBook
    session: Session
    source: Microphone
    surface: Surface
    losses: LossWatch
    sound: RecentSound  # of what is recorded, or of the silence while it dozes
    assess: Callable[..., Assessed] = assess_record
    result: Assessed | None = None
    _take: OpenTake | None = None
    _step: int | None = None
    _is_ringing: bool = False  # the last onset of the take, not given to the ear yet
    _waiting: list[_Rung] = field(default_factory=list)
    _good: list[_Rung] = field(default_factory=list)
    _pause: What | None = None  # nothing is recorded: PAUSED, or DOZING
    # of the level: the last look, the peak since then, and the last hum
    _metered: float = 0.0
    _peak: float = float("-inf")
    _hum: Hum | None = None

    def run(self) -> Assessed:
        """Listen until every rope is heard, or somebody ends it."""
        self.surface.tell(
            What.BEGAN,
            device=self.source.name,
            sampling_rate=self.source.sampling_rate,
            order=" ".join(dict.fromkeys(map(str, self.session.ropes))),
        )
        self._pass_over_queued()
        try:
            while True:
                self._go_on()
                while not self._is_over:
                    self._look()
                result = self._conclude()
                if self._is_over:
                    return result
        except BaseException:
            with contextlib.suppress(TensionError, OSError):
                self._close()  # the record is told what it can be told
                self.book.finish()
            raise

    @property
    def _is_busy(self) -> bool:
        """Whether something rings or is being heard."""
        return self._is_ringing or bool(self._waiting)

    @property
    def _is_over(self) -> bool:
        """Whether nothing is left to be heard."""
        return self.session.step is None and not self._is_busy

    def _look(self) -> None:
        """One look at sound, keys and answers."""
        if (block := self.source.take(TICK)) is not None:
            self._see(block)
        for act in self.surface.acts():
            self._act(act)
        while self._waiting and self._waiting[0].answer.done():
            self._take_in(self._waiting.pop(0))
        self.book.look()
        self._go_on()

    # sound

    def _see(self, block: Block) -> None:
        """Keep a block, and see what begins or was lost in it."""
        if self._take is not None:
            self._take.file.append(block.samples)
        losses = self.losses.see(block)
        if self._take is not None or self._pause is What.DOZING:
            for onset in self.sound.see(block):
                self._begin_ring(onset)
        self._tell_lost(losses)
        zeros, silence = self.losses.n_zeros, SILENCE * self.source.sampling_rate
        if zeros - block.samples.size < silence <= zeros:
            self.surface.tell(What.SILENT)
        self._end_ring()
        self._doze()
        self._show_level(block)

    def _begin_ring(self, onset: float) -> None:
        """Something begins; it ends the ring before it."""
        if self._take is None:
            self._go_on_recording(What.AWAKE)
            return
        self._end_ring(onset)
        self._take.onsets.append(onset)
        self._is_ringing = True

    def _end_ring(self, another: float = math.inf) -> None:
        """Give a ring to the ear, if there is one and it is over or another begins."""
        take = self._take
        if take is None or not self._is_ringing:
            return
        onset = take.onsets[-1]
        end = min(onset + RING, another)
        if self.sound.end < end:
            return
        self._is_ringing = False
        recording, start = self.sound.part(take.name, take.onsets, end)
        answer = self.book.hear(take.rope, recording, onset - start)
        self._waiting.append(_Rung(take=take, onset=onset, answer=answer))

    def _is_lost(self, one: _Rung) -> bool:
        """Whether a loss fell into a pluck, as far as is known."""
        start = one.take.began + one.onset
        return self.losses.is_lost(start, start + RING)

    def _tell_lost(self, losses: Sequence[Loss]) -> None:
        """Tell what was lost; a pluck that it fell into does not count."""
        for loss in losses:
            self.surface.tell(What.LOST, seconds=loss.seconds, kind=loss.kind)
        good = self._good[-1] if self._good else None
        if losses and good and good.take is self._take and self._is_lost(good):
            # heard well before the loss was known
            rope = self._take_back(NotCounted.INPUT_LOST)
            self._show(events.Answer(rope=rope, reason=NotCounted.INPUT_LOST))
            self.surface.ask(self.session, is_new=False)

    def _show_level(self, block: Block) -> None:
        """Show level, and hum while nothing rings, unless just shown."""
        self._peak = max(self._peak, peak_level(block.values))
        if block.moment - self._metered < METER:
            return
        if not self._is_busy and int(block.moment) != int(self._metered):
            self._hum = self.sound.find_hum()
        self.surface.meter(self._peak, self._hum, is_ringing=self._is_busy)
        self._metered, self._peak = block.moment, float("-inf")

    # answers and steps

    def _take_in(self, one: _Rung) -> None:
        """Count a pluck, or not."""
        answer = one.answer.result()
        if self._is_lost(one):
            answer = events.Answer(rope=answer.rope, reason=NotCounted.INPUT_LOST)
            one.take.excluded[one.onset] = NotCounted.INPUT_LOST
        self._show(answer)
        before = self.session
        if answer.fundamental_frequency is not None:
            self._good.append(one)
            self.session = before.with_good(answer.rope)
        elif answer.reason is not NotCounted.NO_PLUCK:
            self.session = before.with_bad()
        else:
            return
        if self.session.passed != before.passed:
            self.surface.tell(What.LEFT_BY_ITSELF, rope=answer.rope)
        elif self.session.step == self._step:
            self.surface.ask(self.session, is_new=False)

    def _show(self, answer: events.Answer) -> None:
        """Tell what was heard."""
        is_good = answer.fundamental_frequency is not None
        self.surface.tell(What.HEARD if is_good else What.NOT_HEARD, **asdict(answer))

    def _go_on(self) -> None:
        """Close and open recordings as the session wants, between two rings."""
        if self._is_busy or self._pause is not None:
            return
        step, take = self.session.step, self._take
        if take is not None:
            if step == self._step and not take.excluded:
                return
            if step != self._step and self.session.n_good(take.rope):
                self.surface.tell(What.DONE, rope=take.rope)
            self._close()
        if (rope := self.session.rope) is not None:
            is_new, self._step = step != self._step, step
            rate = self.source.sampling_rate
            self._take = self.book.open_take(rope, rate, self.losses.n_frames / rate)
            self.sound = RecentSound(rate)
            self.surface.ask(self.session, is_new=is_new)

    def _close(self) -> None:
        """Close the recording; what came of it is told to the record."""
        take, self._take = self._take, None
        if take is not None:
            self.book.close(take)

    def _doze(self) -> None:
        """Stop recording when nothing sounds for long."""
        take = self._take
        if take is None or self._is_busy:
            return
        last = take.onsets[-1] if take.onsets else 0.0
        if self.sound.end - last >= PATIENCE:
            self.sound = RecentSound(self.source.sampling_rate)
            self._stop_recording(What.DOZING)

    def _stop_recording(self, why: What) -> None:
        """Record nothing until a key, or after long silence a sound."""
        self._close()
        self._pause = why
        self.surface.tell(why)

    def _go_on_recording(self, why: What) -> None:
        """Record again."""
        self._pause = self._step = None
        self.surface.tell(why)

    # keys

    def _act(self, act: Act) -> None:
        """Do what a key asks for."""
        if self._pause is What.DOZING:
            self._go_on_recording(What.AWAKE)
        match act:
            case Act.UNDO:
                self._undo()
            case Act.REPEAT:
                self._repeat()
            case Act.SKIP:
                if (rope := self.session.rope) is not None:
                    self._discard(NotCounted.UNDONE)
                    self.session = self.session.skipped()
                    self.surface.tell(What.LEFT, rope=rope)
            case Act.PAUSE if self._pause is None:
                self._discard(NotCounted.UNDONE)
                self._stop_recording(What.PAUSED)
            case Act.PAUSE:
                self._go_on_recording(What.GOING_ON)
            case Act.END:
                self._discard(NotCounted.UNDONE)
                self.session = replace(self.session, is_ended=True)

    def _undo(self) -> None:
        """Take back what rings, what is being heard, or the last good pluck."""
        if self._discard(NotCounted.UNDONE) and self._take is not None:
            self.surface.tell(What.TAKEN_BACK, rope=self._take.rope)
        elif self._good:
            self.surface.tell(What.TAKEN_BACK, rope=self._take_back(NotCounted.UNDONE))
        else:
            self.surface.tell(What.NOTHING_TAKEN_BACK)

    def _discard(self, reason: NotCounted) -> bool:
        """Leave out what rings and what is being heard; whether there was any."""
        n_open = len(self._waiting) + self._is_ringing
        if self._take is None or not n_open:
            return False
        self._take.excluded |= dict.fromkeys(self._take.onsets[-n_open:], reason)
        self._waiting.clear()
        self._is_ringing = False
        return True

    def _take_back(self, reason: NotCounted) -> int:
        """Let the last good pluck not count; its rope."""
        good = self._good.pop()
        self.book.leave_out(good.take, good.onset, reason)
        self.session = self.session.undone()
        return good.take.rope

    def _repeat(self) -> None:
        """Begin the rope anew."""
        take = self._take
        if take is None:
            return
        self._discard(NotCounted.REPEATED)
        own = [good for good in self._good if good.take.rope == take.rope]
        for good in own[max(len(own) - self.session.n_done, 0) :]:
            self._good.remove(good)
            self.book.leave_out(good.take, good.onset, NotCounted.REPEATED)
        take.excluded[None] = NotCounted.REPEATED
        self.session = self.session.repeated()
        self.surface.tell(What.TAKEN_BACK, rope=take.rope)

    # the end

    def _conclude(self) -> Assessed:
        """Show the result, and ask again for the ropes that it lacks."""
        book = self.book
        if book.finish() or self.result is None:
            self.result = self.assess(book.record, series=book.series.name)
        again: tuple[int, ...] = ()
        if self.surface.has_keys and not self.session.is_ended:
            named = plucks_of(self.result.visit)
            own = [one.ropes for one in named if one.series == book.series.name]
            counts = Counter(chain.from_iterable(own))
            wanted = self.result.assessment.measure_again
            again = tuple(rope for rope in wanted if counts[rope] < MOST_ROUNDS - 1)
        self.surface.result(self.result, again)
        if again:
            self._pass_over_queued()
            self._step = None
            self.session = self.session.again(again)
        return self.result

    def _pass_over_queued(self) -> None:
        """Leave out what came in while nobody was asked for anything."""
        while (block := self.source.take(0.0)) is not None:
            self.losses.see(block)


def prepare(
    book: TakeBook,
    *,
    plucks: int = 3,
    is_back: bool = True,
    source: Microphone,
    surface: Surface,
) -> LiveVisit:
    """Make a visit by ear ready, where it stopped if it was broken off.

    So many good plucks are wanted of a rope at a time [1]; the ropes are taken once
    more, in reverse, unless they are not.
    """
    series = book.series
    begun = table("series", name=series.name, span=series.span)
    visit = append_tables(
        book.record, lambda visit: [] if series in visit.series else [begun]
    ).visit
    book.take_up(visit, surface)
    has = book.count_plucks(read_visit(book.record))
    return LiveVisit(
        book=book,
        session=events.begin_session(
            book.order, plucks=plucks, is_back=is_back, has=has
        ),
        source=source,
        surface=surface,
        losses=LossWatch(sampling_rate=source.sampling_rate),
        sound=RecentSound(source.sampling_rate),
    )
