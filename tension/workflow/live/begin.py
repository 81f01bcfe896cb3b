"""How a visit by ear begins, or goes on: series, order, what the record has already."""

from dataclasses import dataclass
from pathlib import Path

from tension.capture.blocks import Source
from tension.errors import FileFormatError
from tension.files.additions import append_tables
from tension.files.evidence import has_seal
from tension.files.record import read_visit
from tension.files.visit import Visit
from tension.installation import Span
from tension.measurement.readings import Series
from tension.measurement.stiffness import HITCHES_OF_SIDE
from tension.workflow.adding import table
from tension.workflow.inputs import find_record
from tension.workflow.listening import find_prior, find_spans
from tension.workflow.live.events import Surface, TakenUp
from tension.workflow.live.listen import LiveVisit
from tension.workflow.live.session import begin_session
from tension.workflow.live.takes import Ears, Keeper, TakeBook, Worker


@dataclass(frozen=True, kw_only=True, slots=True)
class LiveChoice:
    """What a person says of a visit by ear.

    Attributes
    ----------
    series : str or None
        Name of the series; the last one if None. One that the record lacks is begun.
    order : tuple of int
        Ropes in the order in which they are taken; empty for that of the hitch.
    plucks : int
        Good plucks wanted of a rope at a time. [1]
    is_back : bool
        Whether the ropes are taken once more, in reverse.
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
    series = _series(visit, choice.series)
    span = next(one for one in visit.rope_set.spans if one.name == series.span)
    n_ropes = visit.rope_set.n_ropes
    strange = [rope for rope in choice.order if not 1 <= rope <= n_ropes]
    if strange:
        raise FileFormatError(
            f"{record}: there is no rope {strange[0]}; the set has {n_ropes} ropes"
        )
    return record, visit, series, span


def _series(visit: Visit, name: str | None) -> Series:
    """The series that is meant, or one to be begun like the last."""
    if name is None and visit.series:
        return visit.series[-1]
    for series in visit.series:
        if series.name == name:
            return series
    if not visit.rope_set.spans:
        raise FileFormatError(
            f"{visit.path}: there is no [[span]] yet; say in it where the ropes are "
            "plucked"
        )
    last = visit.series[-1].span if visit.series else visit.rope_set.spans[0].name
    return Series(name=name or "as found", span=last)


def _hitch_order(visit: Visit, span: Span) -> tuple[int, ...]:
    """Tell the order in which ropes hang, row by row; by number if it is not known."""
    for hitch in visit.rope_set.hitches:
        if hitch.at in HITCHES_OF_SIDE[span.side] and hitch.rows:
            return tuple(rope for row in hitch.rows for rope in row)
    return tuple(range(1, visit.rope_set.n_ropes + 1))


def prepare(
    path: Path, choice: LiveChoice, *, source: Source, surface: Surface, worker: Worker
) -> LiveVisit:
    """Make a visit by ear ready, where it stopped if it was broken off.

    Raises
    ------
    FileFormatError
        If the record cannot be used or written.
    """
    record, visit, series, span = require_ready(path, choice)
    if series not in visit.series:
        begun = table("series", name=series.name, span=series.span)
        visit = append_tables(record, lambda _: [begun]).visit
    spans = {one.number: one for one in find_spans(visit, span)}
    ears = Ears(spans=spans, prior=find_prior(visit, span))
    book = TakeBook(record=record, series=series.name, ears=ears)
    for taken in book.take_up(visit):
        event = TakenUp(recording=taken.name, rope=taken.rope, n_plucks=taken.n_used)
        surface.show(event)
    has = book.count_plucks(read_visit(record))
    session = begin_session(
        choice.order or _hitch_order(visit, span),
        plucks=choice.plucks,
        is_back=choice.is_back,
        has=has,
    )
    keeper = Keeper(book=book, worker=worker)
    return LiveVisit(keeper=keeper, session=session, source=source, surface=surface)
