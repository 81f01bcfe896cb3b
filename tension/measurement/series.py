"""One series measured: every kind of reading it holds, combined."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from tension.installation import Drive, Lift, RopeSet, Span
from tension.measurement.combine import combine
from tension.measurement.evidence import Evidence, without_ropes
from tension.measurement.outcome import SetMeasurement
from tension.measurement.plausibility import notes_on_plausibility
from tension.measurement.plucks import evidence_from_plucks
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
    without_left_out,
)
from tension.measurement.returns import evidence_from_returns
from tension.measurement.rope_figures import (
    FreeLengths,
    Site,
    find_free_lengths,
    find_rope_figures,
    with_own_masses,
)
from tension.measurement.springs import evidence_from_springs
from tension.notes import Note, NoteKind
from tension.sound.hearing import SetHearing

_WITHOUT_TABLE = ("coated", "jacket", "plastic", "aramid", "compact", "swaged")
"""Words of constructions whose mass and stiffness stand in no table of steel ropes."""

_DOUBTS = frozenset({NoteKind.STAGGER_PATTERN.code, NoteKind.ROUNDS_AS_ROPES.code})
"""Notes that stand before any verdict on the set."""


def measure_series(
    *,
    rope_set: RopeSet,
    lift: Lift,
    series: Series,
    readings: Sequence[Reading],
    exclusions: Sequence[Exclusion] = (),
    hearing: SetHearing | None = None,
    are_ropes_counted: bool = False,
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
    are_ropes_counted : bool, optional
        Whether nobody said how many ropes there are, and the files were counted.

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
    left_out = _left_out(exclusions, series)
    exclusions = [e for e in exclusions if e.series == series.name]
    own = [
        r
        for r in without_left_out(readings, exclusions)
        if r.series == series.name
        and not (not isinstance(r, PluckReading) and r.rope in left_out)
    ]
    lengths = find_free_lengths(rope_set, span) if span else None
    kinds = _evidence(
        own, rope_set=rope_set, span=span, lengths=lengths, hearing=hearing
    )
    not_heard = {**left_out, **plucks_left_out(own, exclusions)}
    kinds = [
        _without(kind, not_heard if kind.method is Method.PLUCK else left_out)
        for kind in kinds
    ]
    measured = combine(
        kinds, rope_set=rope_set, span=span, series=series, lengths=lengths
    )
    notes = (
        *measured.notes,
        *_of_ropes_heard(hearing, left_out),
        *_of_exclusions(exclusions, left_out),
        *_elsewhere(measured, readings, series),
        *_beyond_round_steel(rope_set, lift),
        *notes_on_plausibility(
            measured,
            rope_set=rope_set,
            lift=lift,
            readings=own,
            hearing=hearing,
            are_ropes_counted=are_ropes_counted,
        ),
    )
    return replace(
        measured,
        notes=tuple(dict.fromkeys(notes)),
        doubts=tuple(note for note in notes if note.code in _DOUBTS),
        refusal=NoteKind.BELTS.refusal() if _is_belt(rope_set) else measured.refusal,
    )


def _without(kind: Evidence, left_out: Mapping[int, str]) -> Evidence:
    """One kind of evidence without the ropes that the record leaves out of it."""
    refusals = {
        rope: NoteKind.LEFT_OUT.refusal(rope=rope, reason=reason)
        for rope, reason in left_out.items()
    }
    return without_ropes(kind, refusals)


def _of_exclusions(
    exclusions: Sequence[Exclusion], left_out: Mapping[int, str]
) -> Iterator[Note]:
    """What the record leaves out of this series, and why."""
    for rope, reason in left_out.items():
        yield NoteKind.LEFT_OUT.note(ropes=(rope,), rope=rope, reason=reason)
    for one in exclusions:
        if one.reading and one.rope is not None:
            yield NoteKind.READING_LEFT_OUT.note(
                ropes=(one.rope,),
                rope=one.rope,
                reading=one.reading,
                reason=one.reason,
            )


def _of_ropes_heard(
    hearing: SetHearing | None, left_out: Mapping[int, str]
) -> Iterator[Note]:
    """What was doubtful in the sound of a rope, where there is something to do."""
    for rope in hearing.ropes if hearing is not None else ():
        if rope.number not in left_out:
            for note in rope.notes:
                if note.next_act:
                    yield replace(note, ropes=note.ropes or (rope.number,))


def _is_belt(rope_set: RopeSet) -> bool:
    """Whether the construction names a flat belt."""
    words = rope_set.construction.lower()
    return "belt" in words or "flat" in words


def _beyond_round_steel(rope_set: RopeSet, lift: Lift) -> tuple[Note, ...]:
    """Say which assumption fails for other ropes and other drives."""
    notes = []
    words = rope_set.construction.lower()
    if any(word in words for word in _WITHOUT_TABLE):
        kind = NoteKind.ROPES_WITHOUT_TABLE
        notes.append(kind.note(construction=rope_set.construction))
    if lift.drive is Drive.DRUM:
        notes.append(NoteKind.DRUM_DRIVE.note())
    return tuple(notes)


def _left_out(exclusions: Sequence[Exclusion], series: Series) -> dict[int, str]:
    """Ropes that the record leaves out of this series altogether, and why."""
    return {
        e.rope: e.reason
        for e in exclusions
        if e.series == series.name
        and e.rope is not None
        and not e.recording
        and e.pluck is None
        and not e.reading
    }


def _evidence(
    readings: Sequence[Reading],
    *,
    rope_set: RopeSet,
    span: Span | None,
    lengths: FreeLengths | None,
    hearing: SetHearing | None,
) -> list[Evidence]:
    """What each kind of reading says."""
    figures = find_rope_figures(rope_set)
    kinds: list[Evidence] = []
    if span is not None and lengths is not None:
        site = Site(rope_set=rope_set, span=span, lengths=lengths, figures=figures)
        pulls = [r for r in readings if isinstance(r, PullReading)]
        returns = [r for r in readings if isinstance(r, ReturnsReading)]
        if hearing is not None:
            kinds.append(evidence_from_plucks(hearing, site))
        if pulls:
            kinds.append(evidence_from_pulls(pulls, site))
        if returns:
            kinds.append(evidence_from_returns(returns, site))
    springs = [r for r in readings if isinstance(r, SpringReading)]
    kinds.extend(
        evidence_from_springs(
            [r for r in springs if r.hitch is place], rope_set=rope_set
        )
        for place in sorted({r.hitch for r in springs})
    )
    return [with_own_masses(kind, rope_set, figures) for kind in kinds]


def _elsewhere(
    measured: SetMeasurement, readings: Sequence[Reading], series: Series
) -> tuple[Note, ...]:
    """Ropes without a number here that another series measured: never mixed in."""
    missing = {r.number for r in measured.ropes if r.tension is None}
    notes = []
    for other in dict.fromkeys(r.series for r in readings if r.series != series.name):
        ropes: set[int] = set()
        for reading in readings:
            if reading.series == other:
                ropes |= (
                    set(reading.ropes)
                    if isinstance(reading, PluckReading)
                    else {reading.rope}
                )
        found = tuple(sorted(ropes & missing))
        if found and measured.given:
            notes.append(
                NoteKind.SERIES_NOT_MIXED.note(
                    ropes=found, other=other, series=series.name
                )
            )
    return tuple(notes)
