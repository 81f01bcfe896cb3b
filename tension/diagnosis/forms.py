"""Mechanical models of the causes: how each would deviate in every condition.

Every model is linear in its unknowns, one per rope or one in all, with a normal prior;
what is not linear (slip, how fast a rope settles, which rope) is tried in some forms.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tension.diagnosis.causes import Cause, Prior
from tension.diagnosis.conditions import (
    MANY_TRIPS,
    Condition,
    FloatArray,
    Pattern,
)
from tension.diagnosis.form import Form
from tension.diagnosis.shapes import (
    bound_share,
    creep_shape,
    groove_shape,
    settled_shape,
    turned_shape,
    where_adjusted,
)
from tension.installation import Side
from tension.physics.two_sides import compliances_at

_FAINT = 0.01
"""A cause that moves no rope by so much in any series cannot be told. [1]"""


def forms_of(
    pattern: Pattern, conditions: Sequence[Condition], prior: Prior
) -> dict[Cause, tuple[Form, ...]]:
    """Work out every form of every cause that the pattern could show.

    Parameters
    ----------
    pattern : Pattern
        The set and its series.
    conditions : sequence of Condition
        Those of the series first, then any others to foretell.
    prior : Prior
        What is expected before looking.

    Returns
    -------
    dict of Cause to tuple of Form
        Weights of the forms of a cause sum to one; a cause that cannot be at work
        there, or that no condition could show, is left out.
    """
    builder = _Builder(pattern=pattern, conditions=tuple(conditions), prior=prior)
    makers = {
        Cause.LENGTH: builder.of_length,
        Cause.GROOVE: builder.of_groove,
        Cause.NOT_RUN_IN: builder.of_not_run_in,
        Cause.SETTLING: builder.of_settling,
        Cause.STIFFNESS: builder.of_stiffness,
        Cause.MASS: builder.of_mass,
        Cause.BOUND_SPRING: builder.of_bound_spring,
        Cause.STAGGER: builder.of_stagger,
        Cause.TWIST: builder.of_twist,
        Cause.TOUCHING: builder.of_touching,
        Cause.UNKNOWN: builder.of_unknown,
    }
    n = len(pattern.series)
    least = _FAINT * pattern.mean_tension
    found = {
        cause: _weighed(tuple(form for form in make() if _could_show(form, n, least)))
        for cause, make in makers.items()
    }
    return {cause: forms for cause, forms in found.items() if forms}


def _could_show(form: Form, n_series: int, least: float) -> bool:
    """Whether a form would be seen in any of the series measured."""
    seen = np.hypot(form.level, np.sqrt(np.diag(form.spread)))[:n_series]
    return bool(seen.max() >= least)


def _weighed(forms: tuple[Form, ...]) -> tuple[Form, ...]:
    """Let the weights of the forms of a cause sum to one."""
    total = sum(form.weight for form in forms)
    return tuple(replace(form, weight=form.weight / total) for form in forms)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Builder:
    """Makes the forms over one list of conditions."""

    pattern: Pattern
    conditions: tuple[Condition, ...]
    prior: Prior

    @property
    def n_ropes(self) -> int:
        return len(self.pattern.numbers)

    @property
    def scale(self) -> float:
        return self.pattern.mean_tension

    @property
    def means(self) -> FloatArray:
        return np.array([c.mean_tension for c in self.conditions])

    def _each(
        self,
        cause: Cause,
        shape: FloatArray,
        size: float,
        *,
        label: str,
        weight: float = 1.0,
        loose: float = 0.0,
    ) -> Form:
        """A form with one unknown per rope."""
        spread = np.outer(shape, shape) + np.diag((loose * shape) ** 2)
        return Form(
            cause=cause,
            label=label,
            weight=weight,
            level=np.zeros_like(shape),
            spread=size**2 * spread,
            direction=None,
            rope=None,
            shape=shape,
        )

    def _one(
        self,
        cause: Cause,
        shape: FloatArray,
        expected: float,
        size: float,
        *,
        label: str,
        weight: float,
    ) -> Iterator[Form]:
        """Forms with one unknown, of one rope in turn."""
        for rope in range(self.n_ropes):
            direction = np.zeros(self.n_ropes)
            direction[rope] = 1.0
            yield Form(
                cause=cause,
                label=label,
                weight=weight / self.n_ropes,
                level=expected * shape,
                spread=size**2 * np.outer(shape, shape),
                direction=direction,
                rope=rope,
                shape=shape,
            )

    def of_length(self) -> Iterator[Form]:
        """Set too long or too short: the same newtons at every place once run in."""
        epochs = np.array([c.epoch for c in self.conditions])
        shape = np.ones(len(epochs))
        if not self.pattern.has_sheave:
            system = self.pattern.system
            car, _ = compliances_at([c.rope_passed for c in self.conditions], system)
            shape = system.car_compliance / car
        alike = (epochs[:, None] == epochs[None, :]) * np.outer(shape, shape)
        ways = {"at every setting of the nuts": alike}
        if self._before_the_first_turn().any():
            first = epochs == epochs[0]
            ways["until nuts were turned"] = alike * np.outer(first, first)
        for label, spread in ways.items():
            for size in self.prior.sizes:
                yield Form(
                    cause=Cause.LENGTH,
                    label=label,
                    weight=1.0,
                    level=np.zeros_like(shape),
                    spread=(size * self.scale) ** 2 * spread,
                    direction=None,
                    rope=None,
                    shape=shape,
                )

    def of_groove(self) -> Iterator[Form]:
        """Grooves of different radius: by place, side and direction of arrival."""
        if not self.pattern.has_sheave or self.pattern.system.travel <= 0.0:
            return
        system, conditions = self.pattern.system, self.conditions
        slips = [
            (s, groove_shape(conditions, system, slip=s)) for s in self.prior.slips
        ]
        slips += [(s, where_adjusted(shape, conditions)) for s, shape in slips]
        for slip, shape in slips:
            for size in self.prior.sizes:
                yield self._each(
                    Cause.GROOVE,
                    shape * self.scale,
                    size,
                    label="no slip" if np.isinf(slip) else f"slips at {slip:g}",
                    loose=self.prior.slip_leaves,
                )

    def of_not_run_in(self) -> Iterator[Form]:
        """Nuts turned a short while ago: the two sides are not alike yet."""
        fresh = [
            c.turned_at is not None and c.round_trips < MANY_TRIPS
            for c in self.conditions
        ]
        if not (any(fresh[: len(self.pattern.series)]) and self.pattern.has_sheave):
            return
        for epoch in sorted({c.epoch for c in self.pattern.conditions}):
            shape = np.array(
                [
                    turned_shape(c, self.pattern.system) if c.epoch == epoch else 0.0
                    for c in self.conditions
                ]
            )
            if np.ptp(shape) <= 0.0:
                continue
            for size in self.prior.sizes:
                yield self._each(
                    Cause.NOT_RUN_IN,
                    shape * self.scale,
                    size,
                    label=f"epoch {epoch}",
                    loose=self.prior.slip_leaves,
                )

    def of_settling(self) -> Iterator[Form]:
        """Stretch that goes on, slower each time, since nuts were turned last."""
        n_series = len(self.pattern.series)
        if len({c.weeks for c in self.pattern.conditions}) < 2:
            return
        before = self._before_the_first_turn()
        for life in self.prior.settling_weeks:
            for left in self.prior.still_to_settle:
                shape = settled_shape(
                    self.conditions, life=life, left=left, n_series=n_series
                )
                largest = float(np.abs(shape[:n_series]).max())
                if largest < _FAINT:
                    continue
                shape *= self.scale / largest
                label = f"{life:g} weeks"
                for size in self.prior.sizes:
                    known = (size * self.scale) ** 2 * np.outer(before, before)
                    forms = [
                        self._each(
                            Cause.SETTLING, shape, size, label=label, weight=0.5
                        ),
                        *self._one(
                            Cause.SETTLING,
                            shape,
                            -size,
                            0.5 * size,
                            label=label,
                            weight=0.5,
                        ),
                    ]
                    for form in forms:
                        yield replace(form, spread=form.spread + known)

    def _before_the_first_turn(self) -> FloatArray:
        """Where what had stretched before the first series still shows, if at all."""
        epochs = np.array([c.epoch for c in self.conditions])
        if epochs[: len(self.pattern.series)].max() == epochs[0]:
            return np.zeros(len(epochs))
        return np.asarray(epochs == epochs[0]).astype(float)

    @property
    def loads(self) -> FloatArray:
        return np.array([c.load_tension for c in self.conditions])

    def _lightest(self) -> FloatArray:
        """Mean tension of the least loaded series of the same side. [N]."""
        least = {
            side: min(
                (c.load_tension for c in self.pattern.conditions if c.side is side),
                default=0.0,
            )
            for side in Side
        }
        return np.array([least[c.side] or c.load_tension for c in self.conditions])

    def of_stiffness(self) -> Iterator[Form]:
        """Ropes that take more or less of what is added, and creep more or less."""
        creep = np.zeros(len(self.conditions))
        if self.pattern.has_sheave:
            creep = creep_shape(self.conditions, self.pattern.system)
            creep *= self.prior.counterweight_more * self.scale
        for equal_at in (0.5, 1.0):
            shape = self.loads - equal_at * self._lightest()
            for size in self.prior.stiffnesses:
                label = f"equal at {equal_at:g} of the least load"
                each = self._each(Cause.STIFFNESS, shape, size, label=label, weight=0.5)
                yield replace(
                    each, spread=each.spread + size**2 * np.outer(creep, creep)
                )
                yield from self._one(
                    Cause.STIFFNESS, shape, 0.0, size, label=label, weight=0.5
                )

    def of_mass(self) -> Iterator[Form]:
        """Ropes of another mass: the same percent by pitch, nothing by pull."""
        shape = self.means * np.array([c.is_by_pitch for c in self.conditions], float)
        if not shape[: len(self.pattern.series)].any():
            return
        for size in self.prior.masses:
            yield self._each(Cause.MASS, shape, size, label="by pitch", weight=0.5)
            yield from self._one(
                Cause.MASS, shape, 0.0, size, label="by pitch", weight=0.5
            )

    def of_bound_spring(self) -> Iterator[Form]:
        """One spring that does not move: its rope takes more of what is added."""
        system = self.pattern.system
        places = [c.rope_passed for c in self.conditions]
        added = self.loads - self._lightest()
        for side in Side:
            whole = compliances_at(places, system)[0 if side is Side.CAR else 1]
            spring = (
                system.car_spring_compliance
                if side is Side.CAR
                else system.counterweight_spring_compliance
            )
            if spring <= 0.0:
                continue
            more = np.array(
                [
                    bound_share(compliance=c, spring=spring, n_ropes=self.n_ropes)
                    for c in whole
                ]
            )
            here = np.array([c.side is side for c in self.conditions])
            shape = np.where(here, added * more, 0.0)
            yield from self._one(
                Cause.BOUND_SPRING,
                shape,
                *self.prior.bound,
                label=f"{side.value} side",
                weight=1.0,
            )

    def of_stagger(self) -> Iterator[Form]:
        """Lengths that were taken for alike: too high by pitch, more so where short."""
        for side in Side:
            shape = np.array(
                [
                    -2.0 * c.mean_tension / c.free_length
                    if c.side is side and c.is_by_pitch and not c.are_lengths_read
                    else 0.0
                    for c in self.conditions
                ]
            )
            if not shape[: len(self.pattern.series)].any():
                continue
            for size in self.prior.staggers:
                yield self._each(
                    Cause.STAGGER, shape, size, label=side.value, weight=0.5
                )
                for direction in self._row_directions():
                    yield Form(
                        cause=Cause.STAGGER,
                        label=f"{side.value}, by rows",
                        weight=1.0,
                        level=np.zeros_like(shape),
                        spread=size**2 * np.outer(shape, shape),
                        direction=direction,
                        rope=None,
                        shape=shape,
                    )

    def _row_directions(self) -> Iterator[FloatArray]:
        """Ropes of two rows against each other; odd against even if not recorded."""
        rows = np.array(self.pattern.rows or [n % 2 for n in self.pattern.numbers])
        if len(set(rows.tolist())) > 1:
            yield np.where(rows == rows.max(), 1.0, -1.0)

    def of_twist(self) -> Iterator[Form]:
        """One rope that is another after each run."""
        n = len(self.conditions)
        for size in self.prior.sizes:
            for rope in range(self.n_ropes):
                direction = np.zeros(self.n_ropes)
                direction[rope] = 1.0
                yield Form(
                    cause=Cause.TWIST,
                    label="after each run",
                    weight=1.0,
                    level=np.zeros(n),
                    spread=(size * self.scale) ** 2 * np.eye(n),
                    direction=direction,
                    rope=rope,
                    shape=np.ones(n),
                )

    def of_touching(self) -> Iterator[Form]:
        """One rope that something holds within one span: too high there alone."""
        spans = dict.fromkeys(
            c.span for c in self.pattern.conditions if c.is_by_span and c.span
        )
        for span in spans:
            shape = np.array(
                [
                    c.mean_tension if c.span == span and c.is_by_span else 0.0
                    for c in self.conditions
                ]
            )
            for expected, size in self.prior.touches:
                yield from self._one(
                    Cause.TOUCHING, shape, expected, size, label=span, weight=1.0
                )

    def of_unknown(self) -> Iterator[Form]:
        """Every rope in every series for itself."""
        n = len(self.conditions)
        for size in self.prior.sizes:
            yield Form(
                cause=Cause.UNKNOWN,
                label="no pattern known here",
                weight=1.0,
                level=np.zeros(n),
                spread=(size * self.scale) ** 2 * np.eye(n),
                direction=None,
                rope=None,
                shape=np.ones(n),
            )
