"""Spring lengths: from the working length of each shackle spring to its tension."""

from collections.abc import Sequence
from math import log

import numpy as np

from tension.installation import Buffer, Hitch, RopeSet
from tension.measurement.contradictions import Settled, settle_readings
from tension.measurement.evidence import Evidence, read_only, single_hypothesis
from tension.measurement.readings import Method, SpringReading
from tension.measurement.single_readings import in_fixed_order, names_of
from tension.measurement.stretch import spring_rate_of
from tension.notes import Note, NoteKind, Refusal
from tension.quantity.comparison import exceeds
from tension.quantity.estimate import Sharing, Source
from tension.quantity.units import Quantity


def evidence_from_springs(
    readings: Sequence[SpringReading], *, rope_set: RopeSet
) -> Evidence:
    """Turn working lengths of the springs at one hitch into tensions.

    Parameters
    ----------
    readings : sequence of SpringReading
        Of one series and one hitch; several of one rope are repeats.
    rope_set : RopeSet
        The ropes, with their hitches.

    Returns
    -------
    Evidence
        In newtons. Springs differ from each other by their rates and free lengths, so
        this tells less than a pluck, whatever the calliper.
    """
    place = readings[0].hitch
    hitch = next((h for h in rope_set.hitches if h.at is place), None)
    rate = spring_rate_of(hitch) if hitch is not None else None
    refusals: dict[int, Refusal] = {}
    numbers, tensions, own = [], [], []
    notes: list[Note] = []
    uncertainties = rope_set.uncertainties
    for number in sorted({r.rope for r in readings}):
        repeats = in_fixed_order([r for r in readings if r.rope == number])
        lengths = [q for reading in repeats for q in reading.lengths]
        settled = _settle(
            number,
            lengths,
            [name for reading in repeats for name in names_of(reading)],
            hitch=hitch,
            uncertainty=uncertainties.spring_length,
        )
        notes += [settled.note] if settled.note else []
        found: float | Refusal = settled.refusal or _compression(
            number, [lengths[i].value for i in settled.used], hitch, rate
        )
        if isinstance(found, Refusal) or rate is None:
            refusals[number] = (
                found
                if isinstance(found, Refusal)
                else NoteKind.SPRING_RATE_UNKNOWN.refusal(
                    rope=number, hitch=place.value
                )
            )
            continue
        numbers.append(number)
        tensions.append(rate * found)
        own.append(
            (
                # the free length of this spring is no better known than its working one
                Source(
                    name="spring length",
                    relative=uncertainties.spring_length * np.sqrt(2.0) / found,
                ),
                Source(name="spring rate", relative=uncertainties.spring_rate),
            )
        )
    variances = [sum(source.relative**2 for source in budget) for budget in own]
    return Evidence(
        method=Method.SPRING,
        label=f"the springs at the {place.value.replace('-', ' ')} [[hitch]]",
        numbers=tuple(numbers),
        hypotheses=single_hypothesis(tensions) if numbers else (),
        covariance=read_only(np.diag(variances) if numbers else np.empty((0, 0))),
        own_sources=tuple(own),
        shared_sources=(
            Source(
                name="spring rate of the set",
                relative=uncertainties.spring_rate,
                sharing=Sharing.KIND,
            ),
        ),
        is_absolute=True,
        refusals=refusals,
        notes=tuple(notes),
    )


def _settle(
    number: int,
    lengths: Sequence[Quantity],
    names: Sequence[str],
    *,
    hitch: Hitch | None,
    uncertainty: float,
) -> Settled:
    """Which readings of one spring count; all, where their tension is not known."""
    free = hitch.spring_free_length if hitch else None
    pressed = [free.value - q.value for q in lengths] if free else []
    if not pressed or min(pressed) <= 0:
        return Settled(used=tuple(range(len(lengths))))
    return settle_readings(
        number,
        [log(one) for one in pressed],
        [uncertainty / one for one in pressed],
        names,
    )


def _compression(
    number: int, lengths: Sequence[float], hitch: Hitch | None, rate: float | None
) -> float | Refusal:
    """How far one spring is pressed together, or why that tells nothing."""
    if hitch is None or rate is None or hitch.buffer is not Buffer.SPRING:
        name = hitch.at.value if hitch else "unknown"
        return NoteKind.SPRING_RATE_UNKNOWN.refusal(rope=number, hitch=name)
    if hitch.spring_free_length is None:
        return NoteKind.SPRING_FREE_LENGTH.refusal(rope=number)
    working = float(np.mean(lengths))
    solid = hitch.spring_solid_length
    if solid is not None and not exceeds(working, solid.value):
        return NoteKind.SPRING_SOLID.refusal(rope=number)
    compression = hitch.spring_free_length.value - working
    if not exceeds(hitch.spring_free_length.value, working):
        return NoteKind.SPRING_UNLOADED.refusal(rope=number)
    return compression
