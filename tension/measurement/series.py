"""One series measured: every kind of reading it holds, combined."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from tension.installation import Drive, Lift, RopeSet, Side, Span
from tension.measurement.combine import SetEvidence, combine
from tension.measurement.outcome import SetMeasurement
from tension.measurement.plausibility import notes_on_plausibility
from tension.measurement.pulls import evidence_from_pulls
from tension.measurement.readings import (
    Exclusion,
    Method,
    PluckReading,
    PullReading,
    Reading,
    ReturnsReading,
    Series,
    SpringReading,
    plucks_left_out,
    side_measured,
    without_left_out,
)
from tension.measurement.rope_figures import Site
from tension.measurement.stiffness import evidence_from_springs
from tension.measurement.waves import evidence_from_plucks, evidence_from_returns
from tension.notes import Note, NoteKind
from tension.quantity.units import Dimension, Quantity
from tension.sound.hearing import SetHearing

_WITHOUT_TABLE = ("coated", "jacket", "plastic", "aramid", "compact", "swaged")
"""Words of constructions whose mass and stiffness stand in no table of steel ropes."""


def measure_series(
    *,
    rope_set: RopeSet,
    lift: Lift,
    series: Series,
    readings: Sequence[Reading],
    exclusions: Sequence[Exclusion] = (),
    hearing: SetHearing | None = None,
) -> SetMeasurement:
    """Measure a set from all readings of one series.

    Parameters
    ----------
    rope_set : RopeSet
        The ropes.
    lift : Lift
        What hangs on them.
    series : Series
        Which series; readings of other series are not mixed in.
    readings : sequence of Reading
        All readings of the record.
    exclusions : sequence of Exclusion
        What the record leaves out, and why.
    hearing : SetHearing, optional
        What was heard in the recordings of this series.

    Returns
    -------
    SetMeasurement
        Tension or relative tension of each rope, or why there is none.

    Examples
    --------
    >>> from tension.files.record import read_visit
    >>> visit = read_visit("recordings_demo/side-pulls/visit.toml")
    >>> found = measure_series(
    ...     rope_set=visit.rope_set,
    ...     lift=visit.lift,
    ...     series=visit.series[0],
    ...     readings=visit.readings,
    ... )
    >>> found.is_absolute
    True
    """
    span = next((s for s in rope_set.spans if s.name == series.span), None)
    site = Site.of(rope_set, span) if span else None
    exclusions = [e for e in exclusions if e.series == series.name]
    left_out = {e.rope: e.reason for e in exclusions if e.rope and e.is_whole_rope}
    own = [
        r
        for r in without_left_out(readings, exclusions)
        if r.series == series.name
        and (isinstance(r, PluckReading) or r.rope not in left_out)
    ]
    side = side_measured(series, span, own)
    of_plucks, refused = plucks_left_out(own, exclusions), NoteKind.LEFT_OUT.refusal
    told = {n: refused(rope=n, reason=reason) for n, reason in left_out.items()}
    unheard = {n: refused(rope=n, reason=reason) for n, reason in of_plucks.items()}
    kinds = [
        kind.without({**told, **unheard} if kind.method is Method.PLUCK else told)
        for kind in _evidence(own, rope_set, site, hearing, side)
    ]
    site = site if site and site.span.side is side else None
    measured = combine(kinds, n_ropes=rope_set.n_ropes, series=series, site=site)
    if span and side and site is None:
        measured = replace(measured, span=_span_across(span, side, rope_set, lift))
    is_belt = any(w in rope_set.construction.lower() for w in ("belt", "flat"))
    told_besides = (
        *_told_besides(measured, hearing, exclusions, readings),
        *_beyond_round_steel(rope_set, lift),
    )
    plausible = tuple(
        notes_on_plausibility(
            measured, rope_set=rope_set, lift=lift, readings=own, hearing=hearing
        )
    )
    notes = dict.fromkeys([*measured.notes, *told_besides, *plausible])
    return replace(
        measured,
        notes=tuple(notes),
        doubts=tuple(n for n in plausible if n.kind is NoteKind.STAGGER_PATTERN),
        refusal=NoteKind.BELTS.refusal() if is_belt else None,
    )


def _span_across(span: Span, side: Side, rope_set: RopeSet, lift: Lift) -> Span:
    """Describe the fall of the other side, the car where it stands for a span.

    Its length is what the span leaves of the ropes, as far as both are known.
    """
    rope, fall, left = rope_set.rope_length, span.free_length, None
    if rope is not None and fall is not None:
        value = rope.value / lift.roping.n_falls - fall.value
        source = f"what {fall.text} leaves of the rope of {rope.text}"
        left = Quantity(value=value, dimension=Dimension.LENGTH, text=source)
    return Span(
        name=f"{side.value} side, beside {span.name}",
        side=side,
        position=span.position,
        free_length=left if left is not None and left.value > 0 else None,
    )


def _evidence(
    readings: Sequence[Reading],
    rope_set: RopeSet,
    site: Site | None,
    hearing: SetHearing | None,
    side: Side | None,
) -> Iterator[SetEvidence]:
    """What each kind of reading says; of the other side, why it says nothing here."""
    if site is not None:
        pulls = [r for r in readings if isinstance(r, PullReading)]
        returns = [r for r in readings if isinstance(r, ReturnsReading)]
        if hearing is not None:
            yield evidence_from_plucks(hearing, site)
        if pulls:
            yield evidence_from_pulls(pulls, site)
        if returns:
            yield evidence_from_returns(returns, site)
    springs = [r for r in readings if isinstance(r, SpringReading)]
    hitches = {hitch.at: hitch for hitch in rope_set.hitches}
    for place in sorted({r.hitch for r in springs}):
        told = evidence_from_springs(
            [r for r in springs if r.hitch is place],
            hitches.get(place),
            rope_set.uncertainties,
        )
        if side is not None and place.side is not side:
            named = place.value.replace("-", " ")
            kind = NoteKind.SIDES_NOT_MIXED
            reason = kind.refusal(side=side.value, place=named)
            told = replace(told.without(dict.fromkeys(told.numbers, reason)), notes=())
        yield told


def _told_besides(
    measured: SetMeasurement,
    hearing: SetHearing | None,
    exclusions: Sequence[Exclusion],
    readings: Sequence[Reading],
) -> Iterator[Note]:
    """What a reader must know besides what the readings say of each other."""
    left_out = {e.rope: e.reason for e in exclusions if e.rope and e.is_whole_rope}
    for rope in hearing.ropes if hearing is not None else ():
        # what was doubtful in the sound of a rope, where there is something to do
        if rope.number not in left_out:
            for note in rope.notes:
                if note.next_act:
                    yield replace(note, ropes=note.ropes or (rope.number,))
    for number, reason in left_out.items():
        yield NoteKind.LEFT_OUT.note(ropes=(number,), rope=number, reason=reason)
    for one in exclusions:
        if one.reading and one.rope is not None:
            yield NoteKind.READING_LEFT_OUT.note(
                ropes=(one.rope,), rope=one.rope, reading=one.reading, reason=one.reason
            )
    # ropes without a number here that another series measured are never mixed in
    own = measured.series.name
    for other in dict.fromkeys(r.series for r in readings if r.series != own):
        ropes = {rope for r in readings if r.series == other for rope in r.ropes}
        found = tuple(sorted(ropes & set(measured.missing)))
        if found and measured.given:
            yield NoteKind.SERIES_NOT_MIXED.note(ropes=found, other=other, series=own)


def _beyond_round_steel(rope_set: RopeSet, lift: Lift) -> Iterator[Note]:
    """Say which assumption fails for other ropes and other drives."""
    words = rope_set.construction.lower()
    if any(word in words for word in _WITHOUT_TABLE):
        kind = NoteKind.ROPES_WITHOUT_TABLE
        yield kind.note(construction=rope_set.construction)
    if lift.drive is Drive.DRUM:
        yield NoteKind.DRUM_DRIVE.note()
