"""Whether what was measured can be: the mass that hangs, the stagger, the rounds."""

from collections.abc import Sequence
from math import inf, isfinite, log, log1p, sqrt

import numpy as np
from numpy.typing import NDArray

from tension.installation import HitchPlace, Lift, RopeSet, Side
from tension.measurement.outcome import LengthKnowledge, SetMeasurement
from tension.measurement.readings import (
    Method,
    PullReading,
    Reading,
    ReturnsReading,
    SpringReading,
)
from tension.measurement.stretch import HITCHES_OF_SIDE
from tension.notes import Note, NoteKind
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.quantity.estimate import Sharing
from tension.sound.hearing import SetHearing

Array = NDArray[np.float64]

_MASS_ALLOWANCE = 0.15
"""How far data-plate masses and what hangs beside them may be off; common practice."""

_NEAR = 0.12
"""How near a ratio must be to one with a meaning to be named for it. [1]"""

_MEANINGS = (
    (4.0, "each fundamental taken at twice its place"),
    (2.25, "two partials taken for three"),
    (2.0, "another roping ratio than the record says, or a mass that is half"),
    (1 / 2, "another roping ratio than the record says, or a mass that is double"),
    (1 / 2.25, "three partials taken for two"),
    (1 / 4, "each fundamental taken at half its place"),
)

_PATTERN = 0.03
_SIGNIFICANT = 3.0

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


def notes_on_plausibility(
    measured: SetMeasurement,
    *,
    rope_set: RopeSet,
    lift: Lift,
    readings: Sequence[Reading],
    hearing: SetHearing | None,
    are_ropes_counted: bool = False,
) -> tuple[Note, ...]:
    """Hold a measurement against everything else that is known; nothing is repaired.

    `are_ropes_counted` where nobody said how many ropes there are, and the files were
    counted.
    """
    notes = [
        note_on_rounds_as_ropes(measured) if are_ropes_counted else None,
        note_on_mass(measured, lift=lift, readings=readings),
        note_on_stagger(measured, rope_set=rope_set),
        note_on_rounds(readings, hearing),
        note_on_swapped_ropes(readings, hearing),
    ]
    return tuple(note for note in notes if note is not None)


def note_on_mass(
    measured: SetMeasurement, *, lift: Lift, readings: Sequence[Reading]
) -> Note | None:
    """Hold the sum of the tensions against the mass that hangs on that side.

    The readings tell the side where there is no span. None if they agree, or nothing
    can be compared; ropes without a number are taken at the mean of the others.
    """
    side = _side(measured, readings)
    if side is None or not measured.is_absolute or not measured.given:
        return None
    mass = lift.car_mass if side is Side.CAR else lift.counterweight_mass
    if mass is None or mass.value <= 0:
        return None
    expected = mass.value * STANDARD_GRAVITY / lift.roping.n_falls
    tensions = [r.tension for r in measured.ropes if r.tension is not None]
    found = float(np.mean([t.value for t in tensions])) * len(measured.ropes)
    shared = tensions[0].relative_uncertainty((Sharing.KIND, Sharing.SET))
    ratio = found / expected
    if abs(ratio - 1) <= _MASS_ALLOWANCE + shared:
        return None
    nearest, text = min(_MEANINGS, key=lambda row: abs(log(ratio / row[0])))
    meaning = text if abs(ratio / nearest - 1) < _NEAR else ""
    kind = NoteKind.MASS_RATIO_NAMED if meaning else NoteKind.MASS_RATIO
    return kind.note(
        found=f"{found / 1000:.3g}",
        expected=f"{expected / 1000:.3g}",
        ratio=f"{ratio:.2f}",
        meaning=meaning,
        side=side.value,
    )


def _side(measured: SetMeasurement, readings: Sequence[Reading]) -> Side | None:
    """Side of the sheave that was measured."""
    if measured.span is not None:
        return measured.span.side
    places: set[HitchPlace] = {
        r.hitch for r in readings if isinstance(r, SpringReading)
    }
    sides = {s for s, hitches in HITCHES_OF_SIDE.items() if places & set(hitches)}
    return sides.pop() if len(sides) == 1 else None


def note_on_stagger(measured: SetMeasurement, *, rope_set: RopeSet) -> Note | None:
    """Tell a pattern of tension that follows the stagger of the sockets.

    None unless the rows, or the lengths, explain the tensions far better than chance
    and by more than 3 %.
    """
    if len(measured.given) < 4 or measured.lengths is LengthKnowledge.NOT_NEEDED:
        return None
    tensions = measured.hypotheses[0].tensions
    logs = np.log(tensions / tensions.mean())
    if measured.lengths is LengthKnowledge.PER_ROPE:
        return _note_on_lengths(measured, logs)
    rows = _rows(measured, rope_set)
    upper = np.array([number in rows for number in measured.given])
    if not 2 <= upper.sum() <= len(upper) - 2:
        return None
    difference = float(logs[upper].mean() - logs[~upper].mean())
    within = np.concatenate(
        [logs[upper] - logs[upper].mean(), logs[~upper] - logs[~upper].mean()]
    )
    noise = float(np.diag(measured.covariance).mean())
    scatter = sqrt(max(float((within**2).sum()) / (len(logs) - 2), noise, 1e-12))
    width = scatter * sqrt(1 / upper.sum() + 1 / (~upper).sum())
    significant = max(_SIGNIFICANT, _STUDENT.get(len(logs) - 2, 0.0))
    if abs(difference) < max(_PATTERN, significant * width):
        return None
    if abs(difference) > _largest_effect(measured):
        return None
    high = upper if difference > 0 else ~upper
    numbers = tuple(
        n for n, is_high in zip(measured.given, high, strict=True) if is_high
    )
    return NoteKind.STAGGER_PATTERN.note(
        ropes=numbers,
        named=", ".join(str(n) for n in numbers),
        difference=f"{100 * abs(difference):.0f}",
    )


def _largest_effect(measured: SetMeasurement) -> float:
    """What the widest stagger makes of ln(tension); unbounded without a length."""
    lengths = [length for length in measured.free_lengths if isfinite(length)]
    if not lengths or min(lengths) <= _WIDEST_STAGGER:
        return inf
    return -2 * log1p(-_WIDEST_STAGGER / min(lengths))


def _rows(measured: SetMeasurement, rope_set: RopeSet) -> set[int]:
    """Numbers of one row of the hitch; odd numbers where no rows are recorded."""
    side = measured.span.side if measured.span else Side.CAR
    for hitch in rope_set.hitches:
        if hitch.at in HITCHES_OF_SIDE[side] and len(hitch.rows) == 2:
            return set(hitch.rows[0])
    return {number for number in measured.given if number % 2}


def _note_on_lengths(measured: SetMeasurement, logs: Array) -> Note | None:
    """Tensions that go with the lengths entered, as by a stagger of the wrong sign."""
    lengths = np.array(measured.free_lengths)
    if not all(isfinite(length) for length in lengths):
        return None
    places = np.log(lengths) - float(np.log(lengths).mean())
    spread = float((places**2).sum())
    if spread < 1e-6:
        return None
    slope = float((places * logs).sum()) / spread
    rest = logs - slope * places
    noise = float(np.diag(measured.covariance).mean())
    scatter = sqrt(max(float((rest**2).sum()) / (len(logs) - 2), noise, 1e-12))
    explained = abs(slope) * float(np.ptp(places))
    if explained < _PATTERN or abs(slope) < _SIGNIFICANT * scatter / sqrt(spread):
        return None
    if not 1.0 < abs(slope) < 5.5:
        return None
    return NoteKind.LENGTH_PATTERN.note(difference=f"{100 * explained:.0f}")


def note_on_rounds_as_ropes(measured: SetMeasurement) -> Note | None:
    """Tell files that sound like rounds over fewer ropes than there are files.

    Of files of which nobody said how many ropes they are of, a rope each. None unless
    every two files that would be of one rope agree within repeatability, and the ropes
    there would then be do not.
    """
    n = len(measured.ropes)
    if len(measured.given) < n:
        return None
    logs = np.log(measured.hypotheses[0].tensions)
    for n_ropes in range(_FEWEST_IN_ROUND, n // 2 + 1):
        if n % n_ropes:
            continue
        one = list(range(n_ropes))
        n_rounds = n // n_ropes
        turned = [rope for k in range(n_rounds) for rope in one[:: 1 - 2 * (k % 2)]]
        in_a_row = [rope for rope in one for _ in range(n_rounds)]
        for order in (one * n_rounds, turned, in_a_row):
            if _fits_rounds(logs, np.array(order)):
                return NoteKind.ROUNDS_AS_ROPES.note(
                    count=n,
                    rounds=n_rounds,
                    n_ropes=n_ropes,
                    order=" ".join(str(rope + 1) for rope in order),
                    plain=" ".join(str(rope + 1) for rope in range(n)),
                )
    return None


def _fits_rounds(logs: Array, order: NDArray[np.int_]) -> bool:
    """Whether files of one rope agree far better than files of different ones."""
    groups = [logs[order == rope] for rope in range(int(order.max()) + 1)]
    within = max(float(np.ptp(group)) for group in groups)
    means = [float(group.mean()) for group in groups]
    return within <= _SAME_ROPE and float(np.ptp(means)) >= _OTHER_ROPE


def note_on_rounds(
    readings: Sequence[Reading], hearing: SetHearing | None
) -> Note | None:
    """Tell that three ropes or more moved alike by over 2 % between the rounds."""
    for method, repeats in _repeats(readings, hearing).items():
        if len(repeats) < 3:
            continue
        moves = [log(values[-1] / values[0]) for values in repeats.values()]
        mean = float(np.mean(moves))
        width = max(float(np.std(moves, ddof=1)), 1e-4) / sqrt(len(moves))
        if abs(mean) > max(0.02, _SIGNIFICANT * width):
            return NoteKind.MOVED_TOGETHER.note(
                method=method.value, move=f"{100 * mean:+.1f}"
            )
    return None


def note_on_swapped_ropes(
    readings: Sequence[Reading], hearing: SetHearing | None
) -> Note | None:
    """Tell two ropes that look as if changed over between rounds.

    None unless first and last round disagree on exactly two ropes, by more than 3 %,
    and agree once these two are changed over.
    """
    for repeats in _repeats(readings, hearing).values():
        apart = [
            n
            for n, values in sorted(repeats.items())
            if abs(log(values[-1] / values[0])) > _PATTERN
        ]
        if len(apart) != 2:
            continue
        one, other = apart
        crossed = (
            log(repeats[one][-1] / repeats[other][0]),
            log(repeats[other][-1] / repeats[one][0]),
        )
        if max(abs(c) for c in crossed) < _PATTERN / 2:
            return NoteKind.SWAPPED_ROPES.note(ropes=(one, other), one=one, other=other)
    return None


def _repeats(
    readings: Sequence[Reading], hearing: SetHearing | None
) -> dict[Method, dict[int, list[float]]]:
    """Repeats of each rope in order of time, as tensions up to a common factor."""
    found: dict[Method, dict[int, list[float]]] = {}
    for heard in hearing.ropes if hearing is not None else ():
        found.setdefault(Method.PLUCK, {})[heard.number] = [
            p.fundamental_frequency**2 for p in heard.plucks if p.is_used
        ]
    for reading in readings:
        if isinstance(reading, PullReading) and len(reading.deflections) == 1:
            zero = reading.scale_zero.value if reading.scale_zero else 0.0
            values = [force.value - zero for force in reading.forces]
            found.setdefault(Method.PULL, {}).setdefault(reading.rope, []).extend(
                values
            )
        elif isinstance(reading, ReturnsReading):
            values = [
                (reading.count / e.value) ** 2 for e in reading.elapsed if e.value > 0
            ]
            found.setdefault(Method.RETURNS, {}).setdefault(reading.rope, []).extend(
                values
            )
    return {
        method: {
            number: values
            for number, values in ropes.items()
            if len(values) >= 2 and all(value > 0 for value in values)
        }
        for method, ropes in found.items()
    }
