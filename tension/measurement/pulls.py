"""Side pulls: from force and deflection to the tension at the hitch."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, log, sqrt

import numpy as np

from tension.installation import HitchEnd, RopeSet, Span
from tension.measurement.contradictions import settle_readings
from tension.measurement.evidence import Evidence, read_only, single_hypothesis
from tension.measurement.lengths import FreeLengths
from tension.measurement.readings import Hold, Method, PullReading
from tension.measurement.repeats import uncertainty_of_means
from tension.measurement.rope_figures import TRIANGULAR, RopeFigures
from tension.measurement.single_readings import in_fixed_order, names_of
from tension.measurement.stretch import StretchStiffness, find_stretch_stiffness
from tension.notes import Note, NoteKind, Refusal
from tension.physics.own_weight import hitch_tension
from tension.physics.side_pull import PulledSpan, tension_from_side_pull
from tension.physics.taut_rope import EndCondition
from tension.quantity.comparison import exceeds
from tension.quantity.estimate import Sharing, Source

DEFLECTION_READING = 0.0005
"""Standard uncertainty of one deflection; the program's own figure. [m]"""

PLACEMENT = 0.01
"""Height and direction of the pull, relative, per rope; the program's own. [1]"""

_LARGEST_DEFLECTION = 0.01


@dataclass(frozen=True, kw_only=True, slots=True)
class _PullModel:
    """From force and deflection to the tension at the hitch of one rope."""

    span: Span
    free_length: float
    figures: RopeFigures
    stretch: StretchStiffness

    def tension(
        self, *, force: float, deflection: float, at: float, rigidity: float
    ) -> tuple[float, float]:
        """Tension at the hitch and elongation by the pull; nan if there is none."""
        density = self.figures.linear_density_or_usual
        is_lower = self.span.hitch_end is HitchEnd.LOWER
        from_hitch = at if is_lower else self.free_length - at
        found = tension_from_side_pull(
            force=force,
            deflection=deflection,
            span=PulledSpan(
                free_length=self.free_length,
                pull_point=from_hitch,
                flexural_rigidity=rigidity * density,
                ends=EndCondition.from_ends(self.span.ends),
            ),
            axial_stiffness=self.stretch.likely,
        )
        tension = float(found.tension)
        if not tension > 0:
            return float("nan"), float("nan")
        hitch = hitch_tension(
            tension=tension,
            linear_density=density,
            distance=from_hitch,
            hitch_end=self.span.hitch_end,
        )
        return float(hitch), float(found.elongation)

    def bending_width(self, force: float, deflection: float, at: float) -> float:
        """Relative uncertainty by what is not known of the bending stiffness."""
        q = self.figures.rigidity_per_density
        limp, _ = self.tension(
            force=force, deflection=deflection, at=at, rigidity=q.lowest
        )
        stiff, _ = self.tension(
            force=force, deflection=deflection, at=at, rigidity=q.highest
        )
        if not (limp > 0 and stiff > 0):
            return 0.1
        return abs(log(limp / stiff)) / TRIANGULAR


@dataclass(frozen=True, kw_only=True, slots=True)
class _Pulled:
    """The repeats of one rope, each turned into a tension at the hitch."""

    number: int
    model: _PullModel
    tensions: tuple[float, ...]
    reading_uncertainty: float
    elongation: float
    bending_width: float
    note: Note | None


def evidence_from_pulls(
    readings: Sequence[PullReading],
    *,
    rope_set: RopeSet,
    span: Span,
    lengths: FreeLengths,
    figures: RopeFigures,
) -> Evidence:
    """Turn side pulls into the tension at the hitch of each rope.

    Parameters
    ----------
    readings : sequence of PullReading
        Of one series; several of one rope are repeats.
    rope_set : RopeSet
        The ropes, with springs and stiffness as far as known.
    span : Span
        Where they were pulled.
    lengths : FreeLengths
        Free lengths there.
    figures : RopeFigures
        What is known of the rope.

    Returns
    -------
    Evidence
        In newtons. What stretching adds is taken off; where the stiffness is not known
        its bounds widen the newtons of all ropes alike, not the shares.
    """
    pulled: list[_Pulled] = []
    refusals: dict[int, Refusal] = {}
    notes: list[Note] = []
    for number in sorted({r.rope for r in readings}):
        own = in_fixed_order([r for r in readings if r.rope == number])
        if number not in lengths.lengths:
            refusals[number] = NoteKind.NO_FREE_LENGTH.refusal(rope=number)
            continue
        length = lengths.lengths[number]
        model = _PullModel(
            span=span,
            free_length=length,
            figures=figures,
            stretch=find_stretch_stiffness(rope_set, span, length),
        )
        found = _pull_one(number, own, model, rope_set.uncertainties.scale)
        if isinstance(found, Refusal):
            refusals[number] = found
            continue
        pulled.append(found)
        notes += [found.note] if found.note else []
        widest = max(d.value for r in own for d in r.deflections)
        if exceeds(widest, _LARGEST_DEFLECTION * length):
            notes.append(
                NoteKind.WIDE_PULL.note(
                    ropes=(number,),
                    rope=number,
                    deflection=f"{1000 * widest:.0f}",
                    most=f"{1000 * _LARGEST_DEFLECTION * length:.0f}",
                )
            )
    if len({r.hold for r in readings}) > 1:
        notes.append(NoteKind.MIXED_PROTOCOLS.note())
    if any(not one.model.stretch.is_known for one in pulled):
        notes.append(NoteKind.STRETCH_UNKNOWN.note())
    return _evidence(
        pulled,
        refusals=refusals,
        notes=notes,
        scale=rope_set.uncertainties.scale,
        lengths=lengths,
    )


def _pairs(reading: PullReading) -> list[tuple[float, float]]:
    """Force above zero reading and deflection of each repeat."""
    zero = reading.scale_zero.value if reading.scale_zero else 0.0
    forces = [force.value - zero for force in reading.forces]
    deflections = [deflection.value for deflection in reading.deflections]
    if len(forces) == len(deflections):
        return list(zip(forces, deflections, strict=True))
    if reading.hold is Hold.DEFLECTION or len(deflections) == 1:
        middle = float(np.mean(deflections))
        return [(force, middle) for force in forces]
    middle = float(np.mean(forces))
    return [(middle, deflection) for deflection in deflections]


def _pull_one(
    number: int, readings: Sequence[PullReading], model: _PullModel, scale: float
) -> _Pulled | Refusal:
    """Tension of one rope by each of its repeats."""
    tensions, elongations, relative, widths = [], [], [], []
    for reading in readings:
        at = reading.at.value if reading.at else model.free_length / 2
        if not 0 < at < model.free_length:
            return NoteKind.PULL_OUTSIDE.refusal(rope=number)
        for force, deflection in _pairs(reading):
            if force <= 0 or deflection <= 0:
                return NoteKind.PULL_NOT_POSITIVE.refusal(rope=number)
            tension, elongation = model.tension(
                force=force,
                deflection=deflection,
                at=at,
                rigidity=model.figures.rigidity_per_density.likely,
            )
            if not tension > 0:
                return NoteKind.TOO_SLACK.refusal(rope=number)
            tensions.append(tension)
            elongations.append(elongation)
            relative.append(hypot(scale, DEFLECTION_READING / deflection))
        widths.append(model.bending_width(*_pairs(reading)[0], at))
    texts = [text for reading in readings for text in names_of(reading)]
    settled = settle_readings(number, [log(t) for t in tensions], relative, texts)
    if settled.refusal is not None:
        return settled.refusal
    return _Pulled(
        number=number,
        model=model,
        tensions=tuple(tensions[i] for i in settled.used),
        reading_uncertainty=float(np.mean([relative[i] for i in settled.used])),
        elongation=float(np.mean([elongations[i] for i in settled.used])),
        bending_width=float(np.mean(widths)),
        note=settled.note,
    )


def _evidence(
    pulled: Sequence[_Pulled],
    *,
    refusals: dict[int, Refusal],
    notes: Sequence[Note],
    scale: float,
    lengths: FreeLengths,
) -> Evidence:
    """Means, budget and covariance of the ropes pulled."""
    means = [float(np.exp(np.mean(np.log(one.tensions)))) for one in pulled]
    reading = uncertainty_of_means(
        [[log(t) for t in one.tensions] for one in pulled],
        [one.reading_uncertainty for one in pulled],
    )
    own = [
        (
            Source(name="pull readings", relative=float(u)),
            Source(name="place and direction of the pull", relative=PLACEMENT),
            Source(
                name="free length",
                relative=lengths.own_uncertainty / one.model.free_length,
            ),
        )
        for one, u in zip(pulled, reading, strict=True)
    ]
    variances = [sum(source.relative**2 for source in budget) for budget in own]
    return Evidence(
        method=Method.PULL,
        label="the side pulls",
        numbers=tuple(one.number for one in pulled),
        hypotheses=single_hypothesis(means) if pulled else (),
        covariance=read_only(np.diag(variances) if pulled else np.empty((0, 0))),
        own_sources=tuple(own),
        shared_sources=_shared(pulled, means, scale, lengths) if pulled else (),
        is_absolute=True,
        refusals=refusals,
        notes=tuple(notes),
    )


def _shared(
    pulled: Sequence[_Pulled],
    means: Sequence[float],
    scale: float,
    lengths: FreeLengths,
) -> tuple[Source, ...]:
    """Budget common to all pulls of the set."""
    stretched = [
        (one.model.stretch.highest - one.model.stretch.lowest) * one.elongation / mean
        for one, mean in zip(pulled, means, strict=True)
    ]
    middle = float(np.median([one.model.free_length for one in pulled]))
    return (
        Source(name="scale", relative=scale, sharing=Sharing.KIND),
        Source(
            name="stretch by the pull",
            relative=float(np.median(stretched)) / sqrt(12),
            sharing=Sharing.KIND,
        ),
        Source(
            name="bending stiffness under the hook",
            relative=float(np.median([one.bending_width for one in pulled])),
            sharing=Sharing.KIND,
        ),
        Source(
            name="free length of the set",
            relative=lengths.shared_uncertainty / middle,
            sharing=Sharing.SET,
        ),
    )
