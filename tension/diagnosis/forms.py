"""Mechanical models of the causes: how each would deviate in every condition.

Every model is linear in its unknowns, one per rope or one in all, with a normal prior;
what is not linear (slip, how fast a rope settles, which rope) is tried in some forms.
"""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from tension.diagnosis.conditions import (
    Condition,
    FloatArray,
    Pattern,
    deviations_at,
    groove_shape,
    turned_shape,
    where_adjusted,
)
from tension.diagnosis.outcome import NONE, Cause, Causes
from tension.installation import Side
from tension.physics.hitch_statics import added_load_shares
from tension.physics.sheave import compliances_at

_FAINT = 0.01
"""A cause that moves no rope by so much in any series cannot be told. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Prior:
    """What is expected before looking; standard deviations, chosen and not measured."""

    # Sizes of a deviation at its largest, each as likely, over the mean tension [1]
    sizes: tuple[float, ...] = (0.03, 0.08, 0.2)
    # What a careful adjustment leaves on each rope, the same at every place until nuts
    # are turned again, over the mean tension [1]
    left_over: float = 0.01
    # What no model here tells of one rope in one series, over the mean tension [1]
    loose: float = 0.004
    # Difference of the two sides at which ropes slip, over the largest without slip;
    # infinity for never [1]
    slips: tuple[float, ...] = (math.inf, 0.5, 0.15)
    # What slip unlike the one assumed moves a deviation, relative [1]
    slip_leaves: float = 0.25
    # Time in which what is still to settle falls to 1/e [week]
    settling_weeks: tuple[float, ...] = (3.0, 10.0, 30.0, 100.0)
    # Part of it still to come at the first series [1]
    still_to_settle: tuple[float, ...] = (1.0, 0.5)
    # Share of an added load against an even one [1]
    stiffnesses: tuple[float, ...] = (0.05, 0.15)
    # How much more hangs on the counterweight side, over the mean tension [1]
    counterweight_more: float = 0.2
    masses: tuple[float, ...] = (0.03, 0.08)  # Mass of a rope against the set [1]
    staggers: tuple[float, ...] = (0.03, 0.075)  # A length that was not read [m]
    # How much too high a touching rope reads: expected, standard deviation [1]
    touches: tuple[tuple[float, float], ...] = ((0.15, 0.10), (0.6, 0.35))
    # How far a spring is bound, 1 for wholly: expected, standard deviation [1]
    bound: tuple[float, float] = (0.7, 0.4)
    # Weight before looking of one cause in all, of two at once in all, of nothing and
    # of something else [1]
    of_singles: float = 0.56
    of_pairs: float = 0.19  # of two causes at once [1]
    of_none: float = 0.20  # of no cause [1]
    of_unknown: float = 0.05  # of a cause that no form is of [1]

    def weights(self, causes: Iterable[Cause]) -> dict[Causes, float]:
        """Share the weight before looking out: none, each cause, every two. [1]."""
        known = [cause for cause in causes if cause is not Cause.UNKNOWN]
        pairs = list(combinations(known, 2))
        return {
            NONE: self.of_none,
            **{(cause,): self.of_singles / len(known) for cause in known},
            (Cause.UNKNOWN,): self.of_unknown,
            **{pair: self.of_pairs / len(pairs) for pair in pairs},
        }


@dataclass(frozen=True, kw_only=True, slots=True)
class Form:
    """One way in which a cause may show, over all conditions asked for."""

    cause: Cause
    # Deviation for unit unknown, shape (n_conditions,) [N or N per its unit]
    shape: FloatArray
    # Covariance of the deviation, shape (n_conditions, n_conditions) [N^2]
    spread: FloatArray
    weight: float = 1.0  # Of this form among those of its cause, before looking [1]
    expected: float = 0.0  # Of the unknown
    # How the ropes deviate together, shape (n_ropes,); None if each for itself [1]
    direction: FloatArray | None = None
    rope: int | None = None  # Place of the one rope concerned, counted from 0

    @property
    def level(self) -> FloatArray:
        """Expected deviation along `direction`, shape (n_conditions,). [N]."""
        return self.expected * self.shape

    def largest(self, n_conditions: int) -> float:
        """Give the largest deviation to be expected in the first conditions. [N]."""
        seen = np.hypot(self.level, np.sqrt(np.diag(self.spread)))
        return float(seen[:n_conditions].max())

    def entries(
        self, rows: FloatArray, n_conditions: int | None = None
    ) -> tuple[FloatArray, FloatArray]:
        """Give expectation [N] and covariance [N^2] of combinations of the ropes.

        Of `rows`, shape (n_contrasts, n_ropes), in the first conditions or all;
        shapes (n_entries,) and (n_entries, n_entries), condition by condition.
        """
        level = self.level[:n_conditions]
        spread = self.spread[:n_conditions, :n_conditions]
        if self.direction is None:
            n = len(rows)
            return np.zeros(len(level) * n), np.asarray(np.kron(spread, np.eye(n)))
        along = rows @ self.direction
        covariance = np.kron(spread, np.outer(along, along))
        return np.asarray(np.kron(level, along)), np.asarray(covariance)


def forms_of(
    pattern: Pattern, conditions: Sequence[Condition], prior: Prior
) -> dict[Cause, tuple[Form, ...]]:
    """Work out every form of every cause that the pattern could show.

    Conditions are those of the series first, then any others to foretell. Weights of
    the forms of a cause sum to one; a cause that cannot be at work there, or that no
    series could show, is left out.
    """
    least = _FAINT * pattern.mean_tension
    found = {}
    for cause, make in _MAKERS.items():
        case = _Case(
            cause=cause, pattern=pattern, conditions=tuple(conditions), prior=prior
        )
        forms = [f for f in make(case) if f.largest(case.n_series) >= least]
        total = sum(form.weight for form in forms)
        if forms:
            found[cause] = tuple(replace(f, weight=f.weight / total) for f in forms)
    return found


@dataclass(frozen=True, kw_only=True, slots=True)
class _Case:
    """A cause, the conditions over which its forms are made, and what many need."""

    cause: Cause
    pattern: Pattern
    conditions: tuple[Condition, ...]
    prior: Prior

    @property
    def n_series(self) -> int:
        return len(self.pattern.series)

    @property
    def sizes(self) -> list[float]:
        """Sizes of a deviation. [N]."""
        return [size * self.pattern.mean_tension for size in self.prior.sizes]

    @property
    def epochs(self) -> FloatArray:
        return np.array([c.epoch for c in self.conditions])

    @property
    def compliances(self) -> tuple[FloatArray, FloatArray]:
        """Of both sides. [m/N]."""
        places = [c.rope_passed for c in self.conditions]
        return compliances_at(places, self.pattern.system)

    @property
    def added_loads(self) -> tuple[FloatArray, FloatArray]:
        """Load of each condition, and the least of a series on the same side. [N]."""
        of_side = {
            side: [c.load_tension for c in self.pattern.conditions if c.side is side]
            for side in Side
        }
        loads = np.array([c.load_tension for c in self.conditions])
        least = [
            min(of_side[c.side], default=0.0) or c.load_tension for c in self.conditions
        ]
        return loads, np.array(least)

    @property
    def before_the_first_turn(self) -> FloatArray:
        """Where what was there before the first series still shows, if at all. [1]."""
        epochs = self.epochs
        if epochs[: self.n_series].max() == epochs[0]:
            return np.zeros(len(epochs))
        return np.asarray(epochs == epochs[0]).astype(float)

    def form(
        self,
        shape: FloatArray,
        size: float,
        *,
        alike: FloatArray | None = None,
        loose: float = 0.0,
        known: FloatArray | float = 0.0,
    ) -> Form:
        """A form with one unknown per rope.

        As it is alike in the conditions, or as the shape goes but for a loose part [1];
        with what is known to deviate besides. [N^2]
        """
        if alike is None:
            alike = np.outer(shape, shape) + np.diag((loose * shape) ** 2)
        return Form(cause=self.cause, shape=shape, spread=size**2 * alike + known)

    def of_one(self, form: Form, expected: float = 0.0) -> Iterator[Form]:
        """The same with one unknown, of one rope in turn."""
        n_ropes = len(self.pattern.numbers)
        for rope, direction in enumerate(np.eye(n_ropes)):
            single = replace(form, expected=expected, rope=rope)
            yield replace(single, direction=direction, weight=1.0 / n_ropes)


def _length(case: _Case) -> Iterator[Form]:
    """Set too long or too short: the same newtons at every place once run in."""
    epochs = case.epochs
    shape = np.ones(len(epochs))
    if not case.pattern.has_sheave:
        shape = case.pattern.system.compliances[0] / case.compliances[0]
    alike = (epochs[:, None] == epochs[None, :]) * np.outer(shape, shape)
    ways = [alike]  # at every setting of the nuts, or until nuts were turned
    if case.before_the_first_turn.any():
        first = epochs == epochs[0]
        ways.append(alike * np.outer(first, first))
    for way in ways:
        for size in case.sizes:
            yield case.form(shape, size, alike=way)


def _groove(case: _Case) -> Iterator[Form]:
    """Grooves of different radius: by place, side and direction of arrival."""
    pattern, conditions, prior = case.pattern, case.conditions, case.prior
    if not pattern.has_sheave or pattern.system.travel <= 0.0:
        return
    found = [groove_shape(conditions, pattern.system, slip=s) for s in prior.slips]
    found += [where_adjusted(shape, conditions) for shape in found]
    for shape in found:
        for size in prior.sizes:
            shape_n = shape * pattern.mean_tension
            yield case.form(shape_n, size, loose=prior.slip_leaves)


def _not_run_in(case: _Case) -> Iterator[Form]:
    """Nuts turned a short while ago: the two sides are not alike yet."""
    pattern, prior = case.pattern, case.prior
    fresh = [c for c in pattern.conditions if c.round_trips is not None]
    if not (pattern.has_sheave and any(c.turned_at is not None for c in fresh)):
        return
    turned = np.array([turned_shape(c, pattern.system) for c in case.conditions])
    for epoch in sorted({c.epoch for c in pattern.conditions}):
        shape = np.where(case.epochs == epoch, turned, 0.0)
        if np.ptp(shape) > 0.0:
            shape *= pattern.mean_tension
            for size in prior.sizes:
                yield case.form(shape, size, loose=prior.slip_leaves)


def _settling(case: _Case) -> Iterator[Form]:
    """Stretch that goes on, slower each time, since nuts were turned last."""
    prior, n_series, scale = case.prior, case.n_series, case.pattern.mean_tension
    if len({c.weeks for c in case.pattern.conditions}) < 2:
        return
    before = case.before_the_first_turn
    weeks = np.array([c.weeks for c in case.conditions])
    begun = np.array(
        [weeks[:n_series][case.epochs[:n_series] == e].min() for e in case.epochs]
    )
    is_first = case.epochs == case.epochs[0]
    for life in prior.settling_weeks:
        for left in prior.still_to_settle:
            # a part is still to come at first, and falls to 1/e in each such time
            coming = left * np.exp(-weeks / life)
            came = np.where(is_first, 1.0, left * np.exp(-begun / life))
            shape = came - coming
            largest = float(np.abs(shape[:n_series]).max())
            if largest < _FAINT:
                continue
            shape *= scale / largest
            for size in prior.sizes:
                known = (size * scale) ** 2 * np.outer(before, before)
                yield case.form(shape, size, known=known)
                slack = case.form(shape, 0.5 * size, known=known)
                yield from case.of_one(slack, expected=-size)


def _stiffness(case: _Case) -> Iterator[Form]:
    """Ropes that take more or less of what is added, and creep more or less."""
    prior, pattern = case.prior, case.pattern
    creep = np.zeros(len(case.conditions))
    if pattern.has_sheave:
        kept_up = deviations_at(case.conditions, pattern.system, differences=1.0)
        creep = where_adjusted(kept_up, case.conditions)
        creep *= prior.counterweight_more * pattern.mean_tension
    loads, least = case.added_loads
    for equal_at in (0.5, 1.0):  # of the least load
        shape = loads - equal_at * least
        for size in prior.stiffnesses:
            yield case.form(shape, size, known=size**2 * np.outer(creep, creep))
            yield from case.of_one(case.form(shape, size))


def _mass(case: _Case) -> Iterator[Form]:
    """Ropes of another mass: the same percent by pitch, nothing by pull."""
    shape = np.array([c.mean_tension * c.is_by_pitch for c in case.conditions])
    if shape[: case.n_series].any():
        for size in case.prior.masses:
            yield case.form(shape, size)
            yield from case.of_one(case.form(shape, size))


def _bound_spring(case: _Case) -> Iterator[Form]:
    """One spring that does not move: its rope takes more of what is added."""
    system, n_ropes = case.pattern.system, len(case.pattern.numbers)
    expected, size = case.prior.bound
    loads, least = case.added_loads
    springs = (system.car_spring_compliance, system.counterweight_spring_compliance)
    for side, whole, spring in zip(Side, case.compliances, springs, strict=True):
        if spring <= 0.0:
            continue
        # over an even share, such that the others, which lose it, come out right once
        # the mean is taken off
        stiff = ([1.0 / (c - spring), *[1.0 / c] * (n_ropes - 1)] for c in whole)
        more = [n_ropes * added_load_shares(one)[0] - 1.0 for one in stiff]
        here = np.array([c.side is side for c in case.conditions])
        over_even = np.array(more) / (1.0 - 1.0 / n_ropes)
        shape = np.where(here, (loads - least) * over_even, 0.0)
        yield from case.of_one(case.form(shape, size), expected=expected)


def _stagger(case: _Case) -> Iterator[Form]:
    """Lengths that were taken for alike: too high by pitch, more so where short."""
    # ropes of two rows against each other; odd against even if not recorded
    rows = np.array(case.pattern.rows or [n % 2 for n in case.pattern.numbers])
    against = np.where(rows == rows.max(), 1.0, -1.0)
    for side in Side:
        guessed = [
            c.side is side and c.is_by_pitch and not c.are_lengths_read
            for c in case.conditions
        ]
        read = [-2.0 * c.mean_tension / c.free_length for c in case.conditions]
        shape = np.where(guessed, read, 0.0)
        if not shape[: case.n_series].any():
            continue
        for size in case.prior.staggers:
            each = case.form(shape, size)
            yield replace(each, weight=0.5)
            if len(set(rows.tolist())) > 1:
                yield replace(each, direction=against)


def _twist(case: _Case) -> Iterator[Form]:
    """One rope that is another after each run, and the same where none was between."""
    n = len(case.conditions)
    # between series that follow each other at one place of one visit the car may not
    # have run; what was not measured comes after a run
    keys = [(c.visit, c.epoch, c.rope_passed, c.arrived) for c in case.conditions]
    moved = [not 0 < i < case.n_series or keys[i] != keys[i - 1] for i in range(n)]
    stays = np.cumsum(moved)
    ways, stayed = [np.eye(n)], np.equal.outer(stays, stays).astype(float)
    if not np.array_equal(stayed, ways[0]):
        ways.append(stayed)
    for way in ways:
        for size in case.sizes:
            yield from case.of_one(case.form(np.ones(n), size, alike=way))


def _touching(case: _Case) -> Iterator[Form]:
    """One rope that something holds within one span: too high there alone."""
    measured, conditions = case.pattern.conditions, case.conditions
    for span in dict.fromkeys(c.span for c in measured if c.is_by_span and c.span):
        here = [c.is_by_span and c.span == span for c in conditions]
        shape = np.where(here, [c.mean_tension for c in conditions], 0.0)
        for expected, size in case.prior.touches:
            yield from case.of_one(case.form(shape, size), expected=expected)


def _unknown(case: _Case) -> Iterator[Form]:
    """Every rope in every series for itself."""
    n = len(case.conditions)
    for size in case.sizes:
        yield case.form(np.ones(n), size, alike=np.eye(n))


_MAKERS: dict[Cause, Callable[[_Case], Iterator[Form]]] = {
    Cause.LENGTH: _length,
    Cause.GROOVE: _groove,
    Cause.NOT_RUN_IN: _not_run_in,
    Cause.SETTLING: _settling,
    Cause.STIFFNESS: _stiffness,
    Cause.MASS: _mass,
    Cause.BOUND_SPRING: _bound_spring,
    Cause.STAGGER: _stagger,
    Cause.TWIST: _twist,
    Cause.TOUCHING: _touching,
    Cause.UNKNOWN: _unknown,
}
