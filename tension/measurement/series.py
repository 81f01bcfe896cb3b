"""One series measured: every kind of reading it holds, combined, and whether it can be.

A measurement is held against the mass that hangs, the stagger of sockets, the rounds.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import log, sqrt

import numpy as np
from numpy.typing import NDArray

from tension.installation import Drive, Lift, RopeSet, Side, Span
from tension.measurement.combine import SetEvidence, SetMeasurement, combine
from tension.measurement.pulls import evidence_from_pulls
from tension.measurement.readings import (
    Exclusion,
    Method,
    PullReading,
    Reading,
    ReturnsReading,
    Series,
    SpringReading,
    plucks_left_out,
    side_measured,
    without_left_out,
)
from tension.measurement.rope_figures import LengthKnowledge, Site
from tension.measurement.stiffness import evidence_from_springs
from tension.measurement.waves import evidence_from_plucks, evidence_from_returns
from tension.notes import Note, NoteKind
from tension.physics import FloatArray as Array
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.quantity.estimate import Sharing
from tension.quantity.units import Dimension, Quantity
from tension.sound.hearing import SetHearing

_WITHOUT_TABLE = ("coated", "jacket", "plastic", "aramid", "compact", "swaged")
"""Words of constructions whose mass and stiffness stand in no table of steel ropes."""


_MASS_ALLOWANCE = 0.15
"""How far data-plate masses and what hangs beside them may be off; common practice."""

_NEAR = 0.12
"""How near a ratio must be to one with a meaning to be named for it. [1]"""

# ratio of the sum to the mass that hangs, and what it means [1]
_MEANINGS = (
    (4.0, "at-twice"),
    (2.25, "two-for-three"),
    (2.0, "half-mass"),
    (1 / 2, "double-mass"),
    (1 / 2.25, "three-for-two"),
    (1 / 4, "at-half"),
)

_PATTERN = 0.03  # least difference that is a pattern of staggers [1]
_SIGNIFICANT = 3.0  # standard uncertainties from which it is one [1]

_STUDENT = {2: 5.64, 3: 3.90, 4: 3.30}
"""Student's t, two-sided 97 %, where few degrees of freedom want more than that. [1]"""

_SAME_ROPE = 0.008
"""Files of one rope differ by no more in tension, mostly; the program's own figure."""

_OTHER_ROPE = 0.04
"""Ropes that differ by less say nothing of rounds: each order fits them. [1]"""

_FEWEST_IN_ROUND = 3
"""Two ropes in two rounds look like sockets in two rows. [1]"""

_WIDEST_STAGGER = 0.3
"""Rows of sockets stand no further apart; twice what is common, no source. [m]"""


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
    kept = without_left_out(readings, exclusions)
    own = [reading for reading in kept if reading.series == series.name]
    side, unheard = side_measured(series, span, own), plucks_left_out(own, exclusions)
    kinds = []
    for kind in _evidence(own, rope_set, site, hearing, side):
        why = left_out | unheard if kind.method is Method.PLUCK else left_out
        refusal = NoteKind.LEFT_OUT.refusal
        kinds.append(kind.without({n: refusal(rope=n, reason=why[n]) for n in why}))
    site = site if site and site.span.side is side else None
    measured = combine(kinds, n_ropes=rope_set.n_ropes, series=series, site=site)
    if span and side and site is None:
        measured = replace(measured, span=_span_across(span, side, rope_set, lift))
    is_belt = any(w in rope_set.construction.lower() for w in ("belt", "flat"))
    told_besides = _told_besides(measured, hearing, exclusions, readings)
    plausible = tuple(
        _notes_on_plausibility(
            measured,
            side=side,
            rope_set=rope_set,
            lift=lift,
            readings=own,
            hearing=hearing,
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
            reason = NoteKind.SIDES_NOT_MIXED.refusal(side=side.value, place=named)
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


def _notes_on_plausibility(
    measured: SetMeasurement,
    *,
    side: Side | None,
    rope_set: RopeSet,
    lift: Lift,
    readings: Sequence[Reading],
    hearing: SetHearing | None,
) -> Iterator[Note]:
    """Hold a measurement against everything else that is known; nothing is repaired.

    First which assumption fails for other ropes and other drives.
    """
    if any(word in rope_set.construction.lower() for word in _WITHOUT_TABLE):
        yield NoteKind.ROPES_WITHOUT_TABLE.note(construction=rope_set.construction)
    if lift.drive is Drive.DRUM:
        yield NoteKind.DRUM_DRIVE.note()
    yield from _on_mass(measured, lift, side)
    if measured.lengths is LengthKnowledge.PER_ROPE:
        yield from _on_lengths(measured)
    elif measured.lengths is not LengthKnowledge.NOT_NEEDED:
        yield from _on_stagger(measured, rope_set)
    yield from _on_rounds(_repeats(readings, hearing))


def _on_mass(measured: SetMeasurement, lift: Lift, side: Side | None) -> Iterator[Note]:
    """Hold the sum of the tensions against the mass that hangs on that side.

    Ropes without a number are taken at the mean of the others.
    """
    mass = lift.car_mass if side is Side.CAR else lift.counterweight_mass
    tensions = [r.tension for r in measured.ropes if r.tension is not None]
    if not (side and mass and mass.value and measured.is_absolute and tensions):
        return
    expected = mass.value * STANDARD_GRAVITY / lift.roping.n_falls
    found = float(np.mean([t.value for t in tensions])) * len(measured.ropes)
    shared = tensions[0].relative_uncertainty((Sharing.KIND, Sharing.SET))
    ratio = found / expected
    if abs(ratio - 1) <= _MASS_ALLOWANCE + shared:
        return
    nearest, way = min(_MEANINGS, key=lambda row: abs(log(ratio / row[0])))
    is_near = abs(ratio / nearest - 1) < _NEAR
    kind = NoteKind.MASS_RATIO_NAMED if is_near else NoteKind.MASS_RATIO
    yield kind.note(
        found=f"{found / 1000:.3g}",
        expected=f"{expected / 1000:.3g}",
        ratio=f"{ratio:.2f}",
        way=way,
        side=side.value,
    )


def _fitted(measured: SetMeasurement, by: Array) -> tuple[float, float]:
    """Slope of ln(tension) by something of each rope, and its uncertainty."""
    logs = np.log(measured.hypotheses[0].tensions)
    away, logs = by - by.mean(), logs - logs.mean()
    spread = float((away**2).sum())
    slope = float((away * logs).sum()) / spread
    rest = float(((logs - slope * away) ** 2).sum()) / (len(logs) - 2)
    noise = float(np.diag(measured.covariance).mean())
    return slope, sqrt(max(rest, noise) / spread)


def _on_stagger(measured: SetMeasurement, rope_set: RopeSet) -> Iterator[Note]:
    """Tell a pattern of tension that follows the rows of the sockets.

    Where they explain the tensions far better than chance and by more than 3 %, and by
    no more than the widest stagger would.
    """
    side = measured.span.side if measured.span else Side.CAR
    rows = [
        h.rows[0] for h in rope_set.hitches if h.at.side is side if len(h.rows) == 2
    ]
    # odd numbers where no rows are recorded
    upper = np.array([n in rows[0] if rows else n % 2 == 1 for n in measured.given])
    if not 2 <= upper.sum() <= len(upper) - 2:
        return
    difference, width = _fitted(measured, upper.astype(float))
    significant = _STUDENT.get(len(upper) - 2, _SIGNIFICANT)
    most = measured.effect_of_stagger(_WIDEST_STAGGER)
    if not max(_PATTERN, significant * width) <= abs(difference) <= most:
        return
    high = upper if difference > 0 else ~upper
    numbers = tuple(int(number) for number in np.array(measured.given)[high])
    yield NoteKind.STAGGER_PATTERN.note(
        ropes=numbers,
        named=", ".join(str(n) for n in numbers),
        difference=f"{100 * abs(difference):.0f}",
    )


def _on_lengths(measured: SetMeasurement) -> Iterator[Note]:
    """Tensions that go with the lengths entered, as by a stagger of the wrong sign."""
    logs = np.log(measured.free_lengths)
    if len(logs) < 4 or not np.ptp(logs) > 0:
        return
    slope, width = _fitted(measured, logs)
    explained = abs(slope) * float(np.ptp(logs))
    is_clear = explained >= _PATTERN and abs(slope) >= _SIGNIFICANT * width
    if is_clear and 1.0 < abs(slope) < 5.5:
        yield NoteKind.LENGTH_PATTERN.note(difference=f"{100 * explained:.0f}")


def doubt_rounds(measured: SetMeasurement) -> SetMeasurement:
    """Doubt files that sound like rounds over fewer ropes than there are files.

    For files of which nobody said how many ropes they are of, a rope each. The same
    unless every two files that would be of one rope agree within repeatability, and the
    ropes there would then be do not.
    """
    n = len(measured.ropes)
    for n_ropes, order in [] if measured.missing else _orders(n):
        if _fits_rounds(np.log(measured.hypotheses[0].tensions), np.array(order)):
            note = NoteKind.ROUNDS_AS_ROPES.note(
                count=n,
                rounds=n // n_ropes,
                n_ropes=n_ropes,
                order=" ".join(str(rope + 1) for rope in order),
                plain=" ".join(str(rope + 1) for rope in range(n)),
            )
            notes, doubts = (*measured.notes, note), (note, *measured.doubts)
            return replace(measured, notes=notes, doubts=doubts)
    return measured


def _orders(n: int) -> Iterator[tuple[int, list[int]]]:
    """Of how many ropes files may be rounds, and of which rope each then is."""
    for n_ropes in range(_FEWEST_IN_ROUND, n // 2 + 1):
        if n % n_ropes == 0:
            one, rounds = list(range(n_ropes)), range(n // n_ropes)
            yield n_ropes, one * len(rounds)
            yield n_ropes, [rope for k in rounds for rope in one[:: 1 - 2 * (k % 2)]]
            yield n_ropes, [rope for rope in one for _ in rounds]


def _fits_rounds(logs: Array, order: NDArray[np.int_]) -> bool:
    """Whether files of one rope agree far better than files of different ones."""
    groups = [logs[order == rope] for rope in range(int(order.max()) + 1)]
    within = max(float(np.ptp(group)) for group in groups)
    means = [float(group.mean()) for group in groups]
    return within <= _SAME_ROPE and float(np.ptp(means)) >= _OTHER_ROPE


_Repeats = dict[Method, dict[int, list[float]]]
"""Repeats of each rope in order of time, as tensions up to a common factor."""


def _on_rounds(repeats: _Repeats) -> Iterator[Note]:
    """Tell ropes that moved from the first round to the last.

    Three or more alike by over 2 %; and two that look as if changed over, where the
    rounds disagree on exactly two ropes, by more than 3 %, and agree once these two are
    changed over.
    """
    for method, ropes in repeats.items():
        moves = {n: log(values[-1] / values[0]) for n, values in ropes.items()}
        if len(moves) >= 3:
            each = list(moves.values())
            mean = float(np.mean(each))
            width = max(float(np.std(each, ddof=1)), 1e-4) / sqrt(len(each))
            if abs(mean) > max(0.02, _SIGNIFICANT * width):
                kind, move = NoteKind.MOVED_TOGETHER, f"{100 * mean:+.1f}"
                yield kind.note(method=method.value, move=move)
        apart = sorted(n for n, move in moves.items() if abs(move) > _PATTERN)
        if len(apart) == 2:
            one, other = apart
            crossed = (
                log(ropes[one][-1] / ropes[other][0]),
                log(ropes[other][-1] / ropes[one][0]),
            )
            if max(abs(c) for c in crossed) < _PATTERN / 2:
                kind = NoteKind.SWAPPED_ROPES
                yield kind.note(ropes=(one, other), one=one, other=other)


def _repeats(readings: Sequence[Reading], hearing: SetHearing | None) -> _Repeats:
    """Repeats of every kind that shows them, of ropes with two or more."""
    found: _Repeats = {}
    for heard in hearing.ropes if hearing is not None else ():
        found.setdefault(Method.PLUCK, {})[heard.number] = [
            p.fundamental_frequency**2 for p in heard.plucks if p.is_used
        ]
    for reading in readings:
        if isinstance(reading, PullReading) and len(reading.deflections) == 1:
            method, values = Method.PULL, [force for force, _ in reading.pairs]
        elif isinstance(reading, ReturnsReading):
            method = Method.RETURNS
            times = [one.value for one in reading.elapsed]
            values = [(reading.count / time) ** 2 for time in times if time > 0]
        else:
            continue
        found.setdefault(method, {}).setdefault(reading.rope, []).extend(values)
    return {
        method: {
            number: own
            for number, own in ropes.items()
            if len(own) >= 2 and all(value > 0 for value in own)
        }
        for method, ropes in found.items()
    }
