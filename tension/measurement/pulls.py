"""Side pulls of a set, under every case of what the ropes are fastened to.

The tension before a pull is that during it, less stiffness times elongation, so every
error of force, deflection, place and stiffness grows with the part that the pull made.
That part differs from rope to rope: an error that all ropes share is shared by their
newtons, and what differs of it by rope is in the covariance of the shares. Where the
record does not say what is at the hitch, each case is a hypothesis with tensions and a
covariance of its own, so that shares and verdict carry the doubt.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from tension.installation import Uncertainties
from tension.measurement.evidence import (
    Array,
    Evidence,
    covariance_of_own,
    read_only,
    single_hypothesis,
)
from tension.measurement.outcome import Premise, TensionHypothesis
from tension.measurement.pulled_rope import PulledRope, pull_rope, shared_deflection
from tension.measurement.readings import Method, PullReading, in_fixed_order
from tension.measurement.repeats import uncertainty_of_means
from tension.measurement.rope_figures import FreeLengths, Site
from tension.measurement.stretch import (
    QUANTILE_VARIANCE,
)
from tension.notes import Note, NoteKind, Refusal
from tension.quantity.estimate import Sharing, Source

_SCALE_FREEDOM = 8.0
"""Degrees of freedom of what is declared of scale and ruler: known to a quarter, half
of one over its square (JCGM 100, G.4.2, from memory). [1]"""

_LABEL = "the side pulls"

_LINEAR = 0.25
"""Range of ln T up to which one normal distribution stands for the cases. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Node:
    """All ropes under one stiffness of one case."""

    ropes: Sequence[PulledRope]
    place: int
    uncertainties: Uncertainties
    lengths: FreeLengths

    @property
    def _case(self) -> int:
        """Which case; each has as many stiffnesses as the first."""
        return self.place // len(self.ropes[0].cases[0].stiffnesses)

    @property
    def premise(self) -> Premise:
        return self.ropes[0].cases[self._case].premise

    @property
    def prior(self) -> float:
        case = self.ropes[0].cases[self._case]
        return case.weight / len(case.stiffnesses)

    def _stiffness(self, rope: PulledRope) -> float:
        return rope.stiffnesses[self.place]

    @property
    def logarithms(self) -> Array:
        """Mean of ln T of each rope; nan where no tension is left."""
        return np.array(
            [np.mean(np.log(r.tensions(self._stiffness(r)))) for r in self.ropes]
        )

    def misfit(self) -> tuple[float, int]:
        """How badly repeats agree, and how many repeats there are."""
        total, spare = 0.0, 0
        for rope in self.ropes:
            k = self._stiffness(rope)
            logs = np.log(rope.tensions(k))
            wide = np.array(rope.relative_uncertainties(k, self.uncertainties.scale))
            total += float((((logs - logs.mean()) / wide) ** 2).sum())
            spare += len(logs) - 1
        return total, spare

    def own(self) -> list[tuple[Source, ...]]:
        """Budget of each rope that it shares with none."""
        repeats, declared, shared = [], [], []
        for rope in self.ropes:
            k = self._stiffness(rope)
            by_force, _ = rope.growth(k)
            parts = rope.deflection_parts(k)
            groups = [pair.group for pair in rope.pairs]
            alone = np.array([groups.count(group) == 1 for group in groups])
            apart = np.hypot(by_force * self.uncertainties.scale, parts * alone)
            repeats.append([float(x) for x in np.log(rope.tensions(k))])
            declared.append(float(apart.mean()))
            shared.append(shared_deflection(list(rope.pairs), list(parts)))
        read = uncertainty_of_means(repeats, declared, declared_freedom=_SCALE_FREEDOM)
        return [
            self._own_of(rope, hypot(float(u), also))
            for rope, u, also in zip(self.ropes, read, shared, strict=True)
        ]

    def _own_of(self, rope: PulledRope, read: float) -> tuple[Source, ...]:
        """Budget of one rope, its readings given."""
        k = self._stiffness(rope)
        by_force = float(rope.growth(k)[0].mean())
        by_stretch = by_force - 1.0
        length = self.lengths.own_uncertainty / rope.free_length
        case = rope.cases[self._case]
        return (
            Source(name="pull readings", relative=read),
            Source(
                name="place and direction of the pull",
                relative=by_force * self.uncertainties.placement,
            ),
            Source(name="free length", relative=(by_force + by_stretch) * length),
            Source(
                name="spring of this rope",
                relative=abs(by_stretch) * case.own_uncertainty,
            ),
        )

    def common(self) -> list[tuple[str, Array]]:
        """Errors that all ropes share, as far as each moves each rope."""
        by_force, ruler, bending = [], [], []
        for rope in self.ropes:
            growth, by_deflection = rope.growth(self._stiffness(rope))
            depth = np.array([pair.deflection for pair in rope.pairs])
            by_force.append(float(growth.mean()) * self.uncertainties.scale)
            ruler.append(
                float((by_deflection / depth).mean())
                * self.uncertainties.deflection_common
            )
            bending.append(float((growth * rope.bending_widths).mean()))
        return [
            ("scale", np.array(by_force)),
            ("deflection of all pulls", np.array(ruler)),
            ("bending stiffness under the hook", np.array(bending)),
        ]

    def covariance(self) -> Array:
        """Of the logarithms, what is common to all newtons left out."""
        found = covariance_of_own(self.own())
        for _, moved in self.common():
            apart = moved - moved.mean()
            found = found + np.outer(apart, apart)
        return np.asarray(found)


def _evidence_of_pulled(
    pulled: Sequence[PulledRope],
    *,
    refusals: Mapping[int, Refusal],
    notes: Sequence[Note],
    site: Site,
) -> Evidence:
    """Put the ropes pulled together, with budget and covariance.

    A hypothesis for each stiffness under which no rope would be slack, weighed by how
    well repeats at other deflections agree, the best estimate first; one alone where
    all lie so close together that a normal distribution stands for them.
    """
    told = dict(refusals)
    ropes = list(pulled)
    nodes = _possible(ropes, site)
    while ropes and not nodes:
        # the rope that is slack under the most of the cases has no number
        slackest = min(ropes, key=_n_possible)
        told[slackest.number] = NoteKind.TOO_SLACK.refusal(rope=slackest.number)
        ropes.remove(slackest)
        nodes = _possible(ropes, site)
    if not ropes:
        return Evidence(
            method=Method.PULL,
            label=_LABEL,
            is_absolute=True,
            refusals=told,
            notes=tuple(notes),
        )
    return _weighed(nodes, site, told, notes)


def _weighed(
    nodes: Sequence[_Node],
    site: Site,
    refusals: Mapping[int, Refusal],
    notes: Sequence[Note],
) -> Evidence:
    """Cases under which no rope is slack, with their chances, the best first."""
    weights = _weights(nodes)
    best = _best(nodes, weights)
    order = [best, *(i for i in np.argsort(-weights, kind="stable") if i != best)]
    nodes, weights = [nodes[i] for i in order], weights[order]
    first, ropes = nodes[0], nodes[0].ropes
    logs = np.array([node.logarithms for node in nodes])
    away = logs - logs[0]
    between = [
        ("stretch by the pull", sqrt(w / QUANTILE_VARIANCE) * row)
        for w, row in zip(weights, away, strict=True)
    ]
    common = [*first.common(), *between]
    covariance = first.covariance() + sum(
        np.outer(row - row.mean(), row - row.mean()) for _, row in between
    )
    is_linear = len({n.premise for n in nodes}) == 1 and float(np.ptp(away)) <= _LINEAR
    cases = tuple(
        TensionHypothesis(
            weight=float(w),
            tensions=read_only(np.exp(row)),
            covariance=read_only(node.covariance()),
            premise=node.premise,
        )
        for node, w, row in zip(nodes, weights, logs, strict=True)
    )
    own = enumerate(first.own())
    return Evidence(
        method=Method.PULL,
        label=_LABEL,
        numbers=tuple(rope.number for rope in ropes),
        hypotheses=single_hypothesis(np.exp(logs[0])) if is_linear else cases,
        covariance=read_only(covariance),
        own_sources=tuple((*mine, _apart(common, i)) for i, mine in own),
        shared_sources=_shared(common, ropes, site.lengths),
        is_absolute=True,
        refusals=refusals,
        notes=tuple(notes),
    )


def _possible(ropes: Sequence[PulledRope], site: Site) -> list[_Node]:
    """Stiffnesses under which no rope would be slack."""
    if not ropes:
        return []
    nodes = [
        _Node(
            ropes=ropes,
            place=i,
            uncertainties=site.rope_set.uncertainties,
            lengths=site.lengths,
        )
        for i in range(len(ropes[0].stiffnesses))
    ]
    return [node for node in nodes if np.isfinite(node.logarithms).all()]


def _n_possible(rope: PulledRope) -> int:
    """Under how many stiffnesses a rope is not slack."""
    return sum(bool(np.isfinite(rope.tensions(k)).all()) for k in rope.stiffnesses)


def _weights(nodes: Sequence[_Node]) -> Array:
    """Chance of each, by what was taken before and by how well repeats agree."""
    misfits = np.array([node.misfit()[0] for node in nodes])
    spare = nodes[0].misfit()[1]
    # repeats that scatter more than said tell less
    scatter = max(1.0, float(misfits.min()) / spare) if spare else 1.0
    priors = np.array([node.prior for node in nodes])
    weights = priors * np.exp(-(misfits - misfits.min()) / (2 * scatter))
    return np.asarray(weights / weights.sum())


def _best(nodes: Sequence[_Node], weights: Array) -> int:
    """The middle stiffness of the likeliest premise."""
    premises = [node.premise for node in nodes]
    chances = {
        p: sum(w for w, q in zip(weights, premises, strict=True) if q is p)
        for p in premises
    }
    likeliest = max(chances, key=lambda p: chances[p])
    inside = [i for i, p in enumerate(premises) if p is likeliest]
    inside.sort(key=lambda i: float(nodes[i].logarithms.mean()))
    reached = np.cumsum(weights[inside]) / chances[likeliest]
    return inside[int(np.searchsorted(reached, 0.5 - 1e-9))]


def _apart(common: Sequence[tuple[str, Array]], index: int) -> Source:
    """What shared errors do to one rope otherwise than to the others."""
    parts = [float(row[index] - row.mean()) for _, row in common]
    return Source(name="shared errors, rope against rope", relative=hypot(*parts))


def _shared(
    common: Sequence[tuple[str, Array]],
    ropes: Sequence[PulledRope],
    lengths: FreeLengths,
) -> tuple[Source, ...]:
    """Budget common to all pulls of the set."""
    names = dict.fromkeys(name for name, _ in common)
    middle = float(np.median([rope.free_length for rope in ropes]))
    return (
        *(
            Source(
                name=name,
                relative=sqrt(
                    sum(
                        float(row.mean()) ** 2 for other, row in common if other == name
                    )
                ),
                sharing=Sharing.KIND,
            )
            for name in names
        ),
        Source(
            name="free length of the set",
            relative=lengths.shared_uncertainty / middle,
            sharing=Sharing.SET,
        ),
    )


def evidence_from_pulls(readings: Sequence[PullReading], site: Site) -> Evidence:
    """Turn side pulls of one series into the tension at the hitch of each rope.

    In newtons; several pulls of one rope are repeats. What stretching adds is taken
    off; where it is not known what the ropes are fastened to, every case of it is a
    hypothesis.
    """
    pulled: list[PulledRope] = []
    refusals: dict[int, Refusal] = {}
    notes: list[Note] = []
    for number in sorted({r.rope for r in readings}):
        own = in_fixed_order([r for r in readings if r.rope == number])
        found = pull_rope(number, own, site)
        if isinstance(found, Refusal):
            refusals[number] = found
            continue
        rope, told = found
        pulled.append(rope)
        notes += told
    if len({r.hold for r in readings}) > 1:
        notes.append(NoteKind.MIXED_PROTOCOLS.note())
    notes += _on_stretch(pulled)
    return _evidence_of_pulled(
        pulled,
        refusals=refusals,
        notes=notes,
        site=site,
    )


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
