"""Side pulls of a set, under every case of what the ropes are fastened to.

The tension before a pull is that during it, less stiffness times elongation, so every
error of force, deflection, place and stiffness grows with the part that the pull made.
That part differs from rope to rope: an error that all ropes share is shared by their
newtons, and what differs of it by rope is in the covariance of the shares. Where the
record does not say what is at the hitch, each case is a hypothesis with tensions and a
covariance of its own, so that shares and verdict carry the doubt.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from math import hypot, sqrt

import numpy as np

from tension.installation import HitchEnd
from tension.measurement.combine import (
    Premise,
    SetEvidence,
    TensionHypothesis,
    covariance_of_own,
    read_only,
    single_hypothesis,
)
from tension.measurement.readings import Method, PullReading
from tension.measurement.repeats import (
    rope_by_rope,
    settle_repeats,
    uncertainty_of_means,
)
from tension.measurement.rope_figures import Site
from tension.measurement.stiffness import (
    QUANTILE_VARIANCE,
    StretchCase,
    find_stretch_cases,
)
from tension.notes import Note, NoteKind, Refusal
from tension.physics import FloatArray as Array
from tension.physics.own_weight import weight_to_hitch
from tension.physics.side_pull import PulledSpan, tension_from_side_pull
from tension.quantity.estimate import Sharing, Source, budget
from tension.quantity.units import exceeds

_SLACKEST = 0.02
"""Part of the tension during the pull that must be left of it before. [1]"""

_LARGEST_DEFLECTION = 0.01  # of the free length, up to which the formula holds [1]

_SCALE_FREEDOM = 8.0
"""Degrees of freedom of what is declared of scale and ruler: known to a quarter, half
of one over its square (JCGM 100, G.4.2, from memory). [1]"""

_LINEAR = 0.25
"""Range of ln T up to which one normal distribution stands for the cases. [1]"""


_Shared = Sequence[tuple[str, Array]]
"""Errors common to all ropes by name, and how far each moves each rope. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Pulls:
    """Pulls of one rope; arrays by pull, by stiffness and pull where two-dimensional.

    The stiffnesses are those of all cases, one case after the other.
    """

    number: int  # rope number
    free_length: float  # of the rope [m]
    cases: tuple[StretchCase, ...]  # how stiff it is
    deflections: Array  # of the pulled point [m]
    doubts: Array  # relative standard uncertainty of each deflection [1]
    groups: Array  # pulls of one group share one deflection and its error
    during: Array  # mean tension during each pull [N]
    elongations: Array  # how much each pull stretched the rope [m]
    weights: Array  # what own weight adds from the pulled point to the hitch [N]
    by_bending: Array  # relative uncertainty of the tension by bending [1]

    @property
    def made(self) -> Array:
        """What each pull added under each stiffness. [N]."""
        stiffnesses = [k for case in self.cases for k in case.stiffnesses]
        return np.outer(stiffnesses, self.elongations)

    @property
    def tensions(self) -> Array:
        """Before each pull under each stiffness; nan where slack. [N]."""
        found = self.during - self.made + self.weights
        return np.where(found > _SLACKEST * self.during, found, np.nan)

    @property
    def by_force(self) -> Array:
        """Relative change of each tension for one of its force [1]."""
        return self.during / self.tensions

    @property
    def by_deflection(self) -> Array:
        """Relative change of each tension for one of its deflection [1]."""
        return (self.during + 2 * self.made) / self.tensions

    def relative(self, scale: float) -> Array:
        """Relative uncertainty of each tension by scale [1] and deflection."""
        return np.hypot(self.by_force * scale, self.by_deflection * self.doubts)

    def shared_deflection(self, at: int) -> float:
        """Relative uncertainty of the mean by deflections that pulls share.

        Under one of the stiffnesses; repeats do not lessen an error that is in all.
        """
        parts = self.by_deflection[at] * self.doubts
        in_groups = [parts[self.groups == one] for one in np.unique(self.groups)]
        return hypot(
            *(float(one.sum()) / len(parts) for one in in_groups if len(one) > 1)
        )

    def agreeing(self) -> int | None:
        """Under which stiffness repeats agree best; None if one is always slack."""
        scatters = np.std(np.log(self.tensions), axis=1)
        if np.isnan(scatters).all():
            return None
        return int(np.argmax(scatters <= np.nanmin(scatters) + 1e-3))

    def only(self, used: Sequence[int]) -> "_Pulls":
        """Leave out pulls."""
        return replace(self, **{n: getattr(self, n)[list(used)] for n in _BY_PULL})


_BY_PULL = [field.name for field in fields(_Pulls) if field.type == Array]


def _pull_rope(
    number: int, readings: list[PullReading], site: Site
) -> tuple[_Pulls, Sequence[Note]] | Refusal:
    """What the pulls of one rope say, or why they say nothing."""
    length = site.lengths.lengths.get(number)
    if length is None:
        return NoteKind.NO_FREE_LENGTH.refusal(rope=number)
    if any(reading.at and not 0 < reading.at.value < length for reading in readings):
        return NoteKind.PULL_OUTSIDE.refusal(rope=number)
    if any(min(pair) <= 0 for reading in readings for pair in reading.pairs):
        return NoteKind.PULL_NOT_POSITIVE.refusal(rope=number)
    each = [_by_pull(one, i, site, length) for i, one in enumerate(readings)]
    pulls = _Pulls(
        number=number,
        free_length=length,
        cases=find_stretch_cases(site.rope_set, site.span, length),
        **{name: np.concatenate([one[name] for one in each]) for name in _BY_PULL},
    )
    at = pulls.agreeing()
    if at is None:
        return NoteKind.TOO_SLACK.refusal(rope=number)
    doubts = list(pulls.relative(site.rope_set.uncertainties.scale)[at])
    settled = settle_repeats(readings, list(np.log(pulls.tensions[at])), doubts)
    if settled.refusal is not None:
        return settled.refusal
    widest = float(pulls.deflections.max())
    notes = [*settled.notes]
    if exceeds(widest, _LARGEST_DEFLECTION * length):
        note = NoteKind.WIDE_PULL.note(
            ropes=(number,),
            rope=number,
            deflection=f"{1000 * widest:.0f}",
            most=f"{1000 * _LARGEST_DEFLECTION * length:.0f}",
        )
        notes.append(note)
    return pulls.only(settled.used), notes


def _by_pull(
    reading: PullReading, place: int, site: Site, length: float
) -> dict[str, Array]:
    """Tension during each pull of one reading, and how far it stretched the rope."""
    forces, deflections = np.array(reading.pairs).T
    below = reading.at.value if reading.at else length / 2
    is_lower = site.span.hitch_end is HitchEnd.LOWER
    from_hitch = below if is_lower else length - below
    density = site.density_or_usual
    known = site.rigidity_per_density
    likely, limp, stiff = (
        tension_from_side_pull(
            force=forces,
            deflection=deflections,
            span=PulledSpan(
                free_length=length,
                pull_point=from_hitch,
                flexural_rigidity=rigidity * density,
                ends=site.ends,
            ),
        )
        for rigidity in (known.likely, *known.ends[:2])
    )
    width = np.abs(np.log(limp.pulled_tension / stiff.pulled_tension)) / known.ends[2]
    n = len(forces)
    is_one = "deflections" not in reading.repeated
    doubt = site.rope_set.uncertainties.deflection
    doubt /= sqrt(len(reading.deflections)) if is_one else 1.0
    weight = weight_to_hitch(
        distance=from_hitch, hitch_end=site.span.hitch_end, linear_density=density
    )
    return {
        "deflections": deflections,
        "doubts": doubt / deflections,
        "groups": place + (np.zeros(n) if is_one else np.arange(n) / n),
        "during": likely.pulled_tension,
        "elongations": likely.elongation,
        "weights": np.full(n, weight),
        "by_bending": np.where(np.isfinite(width), width, 0.1),
    }


@dataclass(frozen=True, kw_only=True, slots=True)
class _Pulled:
    """All ropes, and everything by stiffness: of every case, one after the other."""

    ropes: Sequence[_Pulls]
    site: Site

    @property
    def cases(self) -> list[StretchCase]:
        """The case of each stiffness; those of the ropes differ by length alone."""
        return [case for case in self.ropes[0].cases for _ in case.stiffnesses]

    @property
    def logarithms(self) -> Array:
        """Mean of ln T, shape (n_stiffnesses, n_ropes); nan where a rope is slack."""
        return np.array([np.log(r.tensions).mean(axis=1) for r in self.ropes]).T

    def possible(self) -> list[int]:
        """Stiffnesses under which no rope would be slack."""
        return list(np.flatnonzero(np.isfinite(self.logarithms).all(axis=1)))

    def weights(self, nodes: Sequence[int]) -> Array:
        """Chance of each, by what was taken before and how well repeats agree."""
        misfits, spare = np.zeros(len(nodes)), 0
        for rope in self.ropes:
            logs = np.log(rope.tensions[nodes])
            wide = rope.relative(self.site.rope_set.uncertainties.scale)[nodes]
            away = (logs - logs.mean(axis=1, keepdims=True)) / wide
            misfits += (away**2).sum(axis=1)
            spare += logs.shape[1] - 1
        # repeats that scatter more than said tell less
        scatter = max(1.0, float(misfits.min()) / spare) if spare else 1.0
        cases = self.cases
        priors = [cases[i].weight / len(cases[i].stiffnesses) for i in nodes]
        weights = priors * np.exp(-(misfits - misfits.min()) / (2 * scatter))
        return np.asarray(weights / weights.sum())

    def own(self, node: int) -> list[tuple[Source, ...]]:
        """Budget of each rope that it shares with none, under one stiffness."""
        told = self.site.rope_set.uncertainties
        declared = []
        for rope in self.ropes:
            alone = np.array([(rope.groups == one).sum() == 1 for one in rope.groups])
            by_deflection = rope.by_deflection[node] * rope.doubts * alone
            apart = np.hypot(rope.by_force[node] * told.scale, by_deflection)
            declared.append(float(apart.mean()))
        read = uncertainty_of_means(
            [list(np.log(rope.tensions[node])) for rope in self.ropes],
            declared,
            declared_freedom=_SCALE_FREEDOM,
        )
        budgets = []
        for rope, by_reading in zip(self.ropes, read, strict=True):
            by_force = float(rope.by_force[node].mean())
            by_stretch = by_force - 1.0
            length = self.site.lengths.own_uncertainty / rope.free_length
            doubt = self.cases[node].own_uncertainty
            parts = {
                "pull readings": hypot(by_reading, rope.shared_deflection(node)),
                "place and direction of the pull": by_force * told.placement,
                "free length": (by_force + by_stretch) * length,
                "spring of this rope": abs(by_stretch) * doubt,
            }
            budgets.append(budget(parts))
        return budgets

    def common(self, node: int) -> _Shared:
        """Errors that all ropes share, as far as each moves each rope."""
        told, ropes = self.site.rope_set.uncertainties, self.ropes
        force = np.array([r.by_force[node].mean() for r in ropes])
        ruler = [(r.by_deflection[node] / r.deflections).mean() for r in ropes]
        bending = [(r.by_force[node] * r.by_bending).mean() for r in ropes]
        return [
            ("scale", force * told.scale),
            ("deflection of all pulls", np.array(ruler) * told.deflection_common),
            ("bending stiffness under the hook", np.array(bending)),
        ]

    def covariance(self, node: int) -> Array:
        """Of the logarithms, what is common to all newtons left out."""
        return covariance_of_own(self.own(node)) + _unlike(self.common(node))

    def evidence(self, nothing: SetEvidence) -> SetEvidence:
        """Cases under which no rope is slack, with their chances, the best first."""
        nodes = self.possible()
        weights, logs = self.weights(nodes), self.logarithms[nodes]
        premises = [self.cases[i].premise for i in nodes]
        best = _best(premises, logs, weights)
        order = [best, *(i for i in np.argsort(-weights, kind="stable") if i != best)]
        first, away = nodes[best], logs - logs[best]
        between = [
            ("stretch by the pull", sqrt(weights[i] / QUANTILE_VARIANCE) * away[i])
            for i in order
        ]
        common = [*self.common(first), *between]
        shared: dict[str, float] = {}
        for name, row in common:
            shared[name] = hypot(shared.get(name, 0.0), float(row.mean()))
        unlike = np.sqrt(np.diag(_unlike(common)))
        is_linear = len(set(premises)) == 1 and float(np.ptp(away)) <= _LINEAR
        hypotheses = single_hypothesis(np.exp(logs[best]))
        if not is_linear:
            hypotheses = tuple(
                TensionHypothesis(
                    weight=float(weights[i]),
                    tensions=read_only(np.exp(logs[i])),
                    covariance=read_only(self.covariance(nodes[i])),
                    premise=premises[i],
                )
                for i in order
            )
        middle = float(np.median([rope.free_length for rope in self.ropes]))
        return replace(
            nothing,
            numbers=tuple(rope.number for rope in self.ropes),
            hypotheses=hypotheses,
            covariance=read_only(self.covariance(first) + _unlike(between)),
            own_sources=tuple(
                (*own, *budget({"shared errors, rope against rope": apart}))
                for own, apart in zip(self.own(first), unlike, strict=True)
            ),
            shared_sources=(
                *budget(shared, Sharing.KIND),
                self.site.lengths.shared_source(1 / middle),
            ),
        )


def _unlike(common: _Shared) -> Array:
    """Covariance by what shared errors do to one rope otherwise than to the others."""
    apart = np.array([moved - moved.mean() for _, moved in common])
    return np.asarray(apart.T @ apart)


def evidence_from_pulls(readings: Sequence[PullReading], site: Site) -> SetEvidence:
    """Turn side pulls of one series into the tension at the hitch of each rope.

    In newtons; several pulls of one rope are repeats. What stretching adds is taken
    off. A hypothesis for each stiffness under which no rope would be slack, weighed by
    how well repeats at other deflections agree, the best estimate first; one alone
    where all lie so close together that a normal distribution stands for them.
    """
    ropes, refusals, notes = rope_by_rope(
        readings, lambda number, own: _pull_rope(number, own, site)
    )
    if len({reading.hold for reading in readings}) > 1:
        notes.append(NoteKind.MIXED_PROTOCOLS.note())
    notes += _on_stretch(ropes)
    pulled = _Pulled(ropes=ropes, site=site)
    while ropes and not pulled.possible():
        # the rope that is slack under the most of the cases has no number
        slackest = min(ropes, key=lambda r: np.isfinite(r.tensions).all(axis=1).sum())
        refusals[slackest.number] = NoteKind.TOO_SLACK.refusal(rope=slackest.number)
        ropes.remove(slackest)
    nothing = SetEvidence(
        method=Method.PULL,
        label="the side pulls",
        is_absolute=True,
        refusals=refusals,
        notes=tuple(notes),
    )
    return pulled.evidence(nothing) if ropes else nothing


def _best(premises: Sequence[Premise], logs: Array, weights: Array) -> int:
    """The middle stiffness of the likeliest premise."""
    chances: dict[Premise, float] = {}
    for premise, weight in zip(premises, weights, strict=True):
        chances[premise] = chances.get(premise, 0.0) + weight
    likeliest = max(chances, key=lambda premise: chances[premise])
    inside = [i for i, premise in enumerate(premises) if premise is likeliest]
    inside.sort(key=lambda i: float(logs[i].mean()))
    reached = np.cumsum(weights[inside]) / chances[likeliest]
    return inside[int(np.searchsorted(reached, 0.5 - 1e-9))]


def _on_stretch(ropes: Sequence[_Pulls]) -> list[Note]:
    """Say between what the tension lies where nothing is known of the hitch."""
    premises = {case.premise for one in ropes for case in one.cases}
    means = [one.tensions.mean(axis=1) for one in ropes]
    ends = [(np.nanmin(m), np.nanmax(m)) for m in means if np.isfinite(m).any()]
    if not ends or premises == {Premise.NOTHING}:
        return []
    is_told = premises == {Premise.RATE_UNKNOWN}  # that something gives way there
    kind = NoteKind.RATE_UNKNOWN if is_told else NoteKind.STRETCH_UNKNOWN
    low, high = np.mean(ends, axis=0)
    return [kind.note(least=f"{low:.0f}", most=f"{high:.0f}")]
