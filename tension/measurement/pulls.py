"""Side pulls: from force and deflection to the tension at the hitch.

What the pull itself adds depends on what the rope is fastened to. Where the record does
not say that, the tensions are worked out for every case, and each case is a hypothesis
with tensions and a covariance of its own, so that shares and verdict carry the doubt.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from tension.installation import HitchEnd, RopeSet, Span
from tension.measurement.evidence import Evidence
from tension.measurement.outcome import Premise
from tension.measurement.pull_cases import PulledRope, evidence_of_pulled
from tension.measurement.pull_readings import PulledPair, pairs_of
from tension.measurement.readings import PullReading, in_fixed_order
from tension.measurement.repeats import settle_readings
from tension.measurement.rope_figures import TRIANGULAR, FreeLengths, RopeFigures
from tension.measurement.stretch import StretchCase, find_stretch_cases
from tension.notes import Note, NoteKind, Refusal
from tension.physics.own_weight import hitch_tension
from tension.physics.side_pull import PulledSpan, PullOutcome, tension_from_side_pull
from tension.physics.taut_rope import EndCondition
from tension.quantity.comparison import exceeds

_LARGEST_DEFLECTION = 0.01


@dataclass(frozen=True, kw_only=True, slots=True)
class _PullModel:
    """From force and deflection to tension during the pull, of one rope."""

    span: Span
    free_length: float
    figures: RopeFigures

    def from_hitch(self, at: float) -> float:
        """Distance from the hitch of a place measured from the lower node. [m]."""
        is_lower = self.span.hitch_end is HitchEnd.LOWER
        return at if is_lower else self.free_length - at

    def pulled(self, pair: PulledPair, rigidity: float) -> PullOutcome:
        """Tension during the pull and elongation; rigidity is EI/m. [m^4/s^2]."""
        return tension_from_side_pull(
            force=pair.force,
            deflection=pair.deflection,
            span=PulledSpan(
                free_length=self.free_length,
                pull_point=self.from_hitch(pair.at),
                flexural_rigidity=rigidity * self.figures.linear_density_or_usual,
                ends=EndCondition.from_ends(self.span.ends),
            ),
            axial_stiffness=None,
        )

    def weight_below(self, at: float) -> float:
        """What own weight makes between the pull and the hitch. [N]."""
        reference = 1e6
        found = hitch_tension(
            tension=reference,
            linear_density=self.figures.linear_density_or_usual,
            distance=self.from_hitch(at),
            hitch_end=self.span.hitch_end,
        )
        return float(found) - reference

    def bending_width(self, pair: PulledPair) -> float:
        """Relative uncertainty by what is not known of the bending stiffness."""
        q = self.figures.rigidity_per_density
        limp, stiff = (
            float(self.pulled(pair, rigidity).pulled_tension)
            for rigidity in (q.lowest, q.highest)
        )
        if not (limp > 0 and stiff > 0):
            return 0.1
        return abs(log(limp / stiff)) / TRIANGULAR


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
        In newtons. What stretching adds is taken off; where it is not known what the
        ropes are fastened to, every case of it is a hypothesis.
    """
    pulled: list[PulledRope] = []
    refusals: dict[int, Refusal] = {}
    notes: list[Note] = []
    for number in sorted({r.rope for r in readings}):
        own = in_fixed_order([r for r in readings if r.rope == number])
        found = _pull_one(number, own, rope_set, span, lengths, figures)
        if isinstance(found, Refusal):
            refusals[number] = found
            continue
        rope, told = found
        pulled.append(rope)
        notes += told
    if len({r.hold for r in readings}) > 1:
        notes.append(NoteKind.MIXED_PROTOCOLS.note())
    notes += _on_stretch(pulled)
    return evidence_of_pulled(
        pulled,
        refusals=refusals,
        notes=notes,
        uncertainties=rope_set.uncertainties,
        lengths=lengths,
    )


def _pull_one(
    number: int,
    readings: list[PullReading],
    rope_set: RopeSet,
    span: Span,
    lengths: FreeLengths,
    figures: RopeFigures,
) -> tuple[PulledRope, list[Note]] | Refusal:
    """What the pulls of one rope say, or why they say nothing."""
    length = lengths.lengths.get(number)
    if length is None:
        return NoteKind.NO_FREE_LENGTH.refusal(rope=number)
    pairs = pairs_of(
        readings, free_length=length, uncertainty=rope_set.uncertainties.deflection
    )
    if any(not 0 < pair.at < length for pair in pairs):
        return NoteKind.PULL_OUTSIDE.refusal(rope=number)
    if any(pair.force <= 0 or pair.deflection <= 0 for pair in pairs):
        return NoteKind.PULL_NOT_POSITIVE.refusal(rope=number)
    model = _PullModel(span=span, free_length=length, figures=figures)
    cases = find_stretch_cases(rope_set, span, length)
    rope = _pulled_rope(number, pairs, model, cases)
    middle = rope.middle_stiffness()
    if middle is None:
        return NoteKind.TOO_SLACK.refusal(rope=number)
    settled = settle_readings(
        number,
        [log(t) for t in rope.tensions(middle)],
        rope.relative_uncertainties(middle, rope_set.uncertainties.scale),
        [pair.text for pair in pairs],
    )
    if settled.refusal is not None:
        return settled.refusal
    notes = [settled.note] if settled.note else []
    return rope.only(settled.used), notes + _on_width(number, pairs, length)


def _pulled_rope(
    number: int,
    pairs: tuple[PulledPair, ...],
    model: _PullModel,
    cases: tuple[StretchCase, ...],
) -> PulledRope:
    """Tension during each pull, and how far it stretched the rope."""
    likely = model.figures.rigidity_per_density.likely
    found = [model.pulled(pair, likely) for pair in pairs]
    places = {pair.at: model.weight_below(pair.at) for pair in pairs}
    return PulledRope(
        number=number,
        free_length=model.free_length,
        pairs=pairs,
        pulled_tensions=np.array([float(one.pulled_tension) for one in found]),
        elongations=np.array([float(one.elongation) for one in found]),
        weights=np.array([places[pair.at] for pair in pairs]),
        bending_widths=np.array([model.bending_width(pair) for pair in pairs]),
        cases=cases,
    )


def _on_width(number: int, pairs: tuple[PulledPair, ...], length: float) -> list[Note]:
    """Say that a rope was pulled far."""
    widest = max(pair.deflection for pair in pairs)
    if not exceeds(widest, _LARGEST_DEFLECTION * length):
        return []
    note = NoteKind.WIDE_PULL.note(
        ropes=(number,),
        rope=number,
        deflection=f"{1000 * widest:.0f}",
        most=f"{1000 * _LARGEST_DEFLECTION * length:.0f}",
    )
    return [note]


def _on_stretch(pulled: Sequence[PulledRope]) -> list[Note]:
    """Say between what the tension lies where nothing is known of the hitch."""
    ends = [one.between() for one in pulled]
    found = [pair for pair in ends if pair is not None]
    premises = {case.premise for one in pulled for case in one.cases}
    if not found or premises == {Premise.NOTHING}:
        return []
    kind = (
        NoteKind.RATE_UNKNOWN
        if premises == {Premise.RATE_UNKNOWN}
        else NoteKind.STRETCH_UNKNOWN
    )
    low, high = (float(np.mean([pair[i] for pair in found])) for i in (0, 1))
    return [kind.note(least=f"{low:.0f}", most=f"{high:.0f}")]
