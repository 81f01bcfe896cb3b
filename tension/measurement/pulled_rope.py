"""Side pulls of one rope: which force goes with which deflection, what each tells."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, log, sqrt

import numpy as np

from tension.installation import HitchEnd, Span
from tension.measurement.evidence import Array
from tension.measurement.readings import Hold, PullReading, names_of
from tension.measurement.repeats import settle_readings
from tension.measurement.rope_figures import TRIANGULAR, RopeFigures, Site
from tension.measurement.stretch import StretchCase, find_stretch_cases
from tension.notes import Note, NoteKind, Refusal
from tension.physics.own_weight import hitch_tension
from tension.physics.side_pull import PulledSpan, PullOutcome, tension_from_side_pull
from tension.physics.taut_rope import EndCondition
from tension.quantity.comparison import exceeds

_SLACKEST = 0.02
"""Part of the tension during the pull that must be left of it before. [1]"""

_LARGEST_DEFLECTION = 0.01


@dataclass(frozen=True, kw_only=True, slots=True)
class PulledPair:
    """One force with its deflection."""

    force: float  # above what the scale reads without load [N]
    deflection: float  # of the pulled point [m]
    at: float  # distance of the pull from the lower node [m]
    deflection_uncertainty: float  # standard uncertainty of the deflection [m]
    group: int  # pairs of one group share one deflection and its error
    text: str  # as typed


def pairs_of(
    readings: list[PullReading],
    *,
    free_length: float,
    uncertainty: float,
) -> tuple[PulledPair, ...]:
    """Pair the forces and deflections of one rope.

    Free length and uncertainty of one deflection in metres [m]; pulled in the middle
    where no place is told. As many forces as deflections are pairs, each with an error
    of its own. One deflection for several forces, or the mean of several, is one error
    in all.
    """
    pairs: list[PulledPair] = []
    for reading in readings:
        at = reading.at.value if reading.at else free_length / 2
        pairs += _of_one(reading, at, uncertainty, len(pairs))
    return tuple(pairs)


def _of_one(
    reading: PullReading, at: float, uncertainty: float, first: int
) -> list[PulledPair]:
    """Pairs of one entry of the record, with groups from a number on."""
    zero = reading.scale_zero.value if reading.scale_zero else 0.0
    forces = [force.value - zero for force in reading.forces]
    deflections = [one.value for one in reading.deflections]
    names = names_of(reading)
    if len(forces) == len(deflections):
        return [
            PulledPair(
                force=force,
                deflection=deflection,
                at=at,
                deflection_uncertainty=uncertainty,
                group=first + i,
                text=names[i],
            )
            for i, (force, deflection) in enumerate(
                zip(forces, deflections, strict=True)
            )
        ]
    if reading.hold is Hold.DEFLECTION or len(deflections) == 1:
        middle = float(np.mean(deflections))
        return [
            PulledPair(
                force=force,
                deflection=middle,
                at=at,
                deflection_uncertainty=uncertainty / sqrt(len(deflections)),
                group=first,
                text=name,
            )
            for force, name in zip(forces, names, strict=True)
        ]
    middle = float(np.mean(forces))
    return [
        PulledPair(
            force=middle,
            deflection=deflection,
            at=at,
            deflection_uncertainty=uncertainty,
            group=first + i,
            text=names[i],
        )
        for i, deflection in enumerate(deflections)
    ]


def shared_deflection(pairs: list[PulledPair], relative: list[float]) -> float:
    """Relative uncertainty [1] of the mean of one rope by deflections that pairs share.

    `relative` is that of each tension by its deflection [1]; repeats do not lessen an
    error that is in all of them.
    """
    total = 0.0
    for group in {pair.group for pair in pairs}:
        inside = [u for p, u in zip(pairs, relative, strict=True) if p.group == group]
        if len(inside) > 1:
            total = hypot(total, sum(inside) / len(pairs))
    return total


@dataclass(frozen=True, kw_only=True, slots=True)
class PulledRope:
    """The pulls of one rope, before what they added is taken off."""

    number: int  # rope number
    free_length: float  # its free length [m]
    pairs: tuple[PulledPair, ...]  # forces and deflections
    pulled_tensions: Array  # mean tension during each pull [N], shape (n_pairs,)
    elongations: Array  # how much each pull stretched the rope [m], shape (n_pairs,)
    # what own weight adds from the pulled point to the hitch [N], shape (n_pairs,)
    weights: Array
    # relative uncertainty of the tension by bending [1], shape (n_pairs,)
    bending_widths: Array
    cases: tuple[StretchCase, ...]  # how stiff it is

    @property
    def stiffnesses(self) -> tuple[float, ...]:
        """Of all cases, one after the other. [N/m]."""
        return tuple(k for case in self.cases for k in case.stiffnesses)

    def tensions(self, stiffness: float) -> Array:
        """Tension [N] before each pull under a stiffness [N/m]; nan where slack."""
        before = self.pulled_tensions - stiffness * self.elongations
        found = before + self.weights
        slack = ~(found > _SLACKEST * self.pulled_tensions)
        return np.where(slack, np.nan, found)

    def growth(self, stiffness: float) -> tuple[Array, Array]:
        """How errors of force and of deflection grow on the way to the tension [1].

        Relative change of each tension for one of each, without its sign, under a
        stiffness against stretching [N/m].
        """
        made = stiffness * self.elongations
        tensions = self.tensions(stiffness)
        return (
            self.pulled_tensions / tensions,
            (self.pulled_tensions + 2 * made) / tensions,
        )

    def deflection_parts(self, stiffness: float) -> Array:
        """Relative uncertainty of each tension by its deflection.

        Under a stiffness [N/m].
        """
        _, by_deflection = self.growth(stiffness)
        relative = [p.deflection_uncertainty / p.deflection for p in self.pairs]
        return np.asarray(by_deflection * np.array(relative))

    def relative_uncertainties(self, stiffness: float, scale: float) -> list[float]:
        """Relative uncertainty of each tension by scale [1] and deflection.

        Under a stiffness [N/m].
        """
        by_force, _ = self.growth(stiffness)
        whole = np.hypot(by_force * scale, self.deflection_parts(stiffness))
        return [float(u) for u in whole]

    def middle_stiffness(self) -> float | None:
        """Stiffness [N/m] under which repeats agree best; None if all is slack."""
        possible = [k for k in self.stiffnesses if np.isfinite(self.tensions(k)).all()]
        if not possible:
            return None
        scatters = [float(np.std(np.log(self.tensions(k)))) for k in possible]
        least = min(scatters)
        return next(
            k for k, s in zip(possible, scatters, strict=True) if s <= least + 1e-3
        )

    def between(self) -> tuple[float, float] | None:
        """Least and largest tension [N] of all cases; None if none leaves any."""
        means = [float(np.mean(self.tensions(k))) for k in self.stiffnesses]
        possible = [mean for mean in means if mean > 0]
        return (min(possible), max(possible)) if possible else None

    def only(self, used: Sequence[int]) -> "PulledRope":
        """Leave out pairs."""
        keep = list(used)
        return replace(
            self,
            pairs=tuple(self.pairs[i] for i in keep),
            pulled_tensions=self.pulled_tensions[keep],
            elongations=self.elongations[keep],
            weights=self.weights[keep],
            bending_widths=self.bending_widths[keep],
        )


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


def pull_rope(
    number: int, readings: list[PullReading], site: Site
) -> tuple[PulledRope, list[Note]] | Refusal:
    """What the pulls of one rope say, or why they say nothing."""
    length = site.lengths.lengths.get(number)
    if length is None:
        return NoteKind.NO_FREE_LENGTH.refusal(rope=number)
    uncertainties = site.rope_set.uncertainties
    pairs = pairs_of(readings, free_length=length, uncertainty=uncertainties.deflection)
    if any(not 0 < pair.at < length for pair in pairs):
        return NoteKind.PULL_OUTSIDE.refusal(rope=number)
    if any(pair.force <= 0 or pair.deflection <= 0 for pair in pairs):
        return NoteKind.PULL_NOT_POSITIVE.refusal(rope=number)
    model = _PullModel(span=site.span, free_length=length, figures=site.figures)
    cases = find_stretch_cases(site.rope_set, site.span, length)
    rope = _pulled_rope(number, pairs, model, cases)
    middle = rope.middle_stiffness()
    if middle is None:
        return NoteKind.TOO_SLACK.refusal(rope=number)
    settled = settle_readings(
        number,
        [log(t) for t in rope.tensions(middle)],
        rope.relative_uncertainties(middle, uncertainties.scale),
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
