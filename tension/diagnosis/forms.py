"""Mechanical models of the causes: how each would deviate in every condition.

Every model is linear in its unknowns, one per rope or one in all, with a normal prior;
what is not linear (slip, how fast a rope settles, which rope) is tried in some forms.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tension.diagnosis.conditions import (
    MANY_TRIPS,
    Condition,
    FloatArray,
    Pattern,
    without_a_run,
)
from tension.diagnosis.outcome import Cause
from tension.diagnosis.shapes import (
    bound_share,
    creep_shape,
    groove_shape,
    settled_shape,
    turned_shape,
    where_adjusted,
)
from tension.installation import Side
from tension.physics.sheave import compliances_at

_FAINT = 0.01
"""A cause that moves no rope by so much in any series cannot be told. [1]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Prior:
    """What is expected before looking; standard deviations, chosen and not measured.

    Attributes
    ----------
    sizes : tuple of float
        Sizes of a deviation at its largest, each as likely as the others, over the
        mean tension. [1]
    left_over : float
        What a careful adjustment leaves on each rope, the same at every place until
        nuts are turned again, over the mean tension. [1]
    loose : float
        What no model here tells of one rope in one series, over the mean tension. [1]
    slips : tuple of float
        Difference of the two sides at which ropes slip, over the largest without slip;
        infinity for never. [1]
    slip_leaves : float
        What slip unlike the one assumed moves a deviation, relative. [1]
    settling_weeks : tuple of float
        Time in which what is still to settle falls to 1/e. [week]
    still_to_settle : tuple of float
        Part of it still to come at the first series. [1]
    stiffnesses : tuple of float
        Share of an added load against an even one. [1]
    counterweight_more : float
        How much more hangs on the counterweight side, over the mean tension. [1]
    masses : tuple of float
        Mass of a rope against the set. [1]
    staggers : tuple of float
        A length that was not read. [m]
    touches : tuple of (float, float)
        How much too high a touching rope reads: expected, standard deviation. [1]
    bound : tuple of float
        How far a spring is bound, 1 for wholly: expected, standard deviation. [1]
    of_singles, of_pairs, of_none, of_unknown : float
        Weight before looking of one cause in all, of two at once in all, of nothing
        and of something else. [1]
    """

    sizes: tuple[float, ...] = (0.03, 0.08, 0.2)
    left_over: float = 0.01
    loose: float = 0.004
    slips: tuple[float, ...] = (math.inf, 0.5, 0.15)
    slip_leaves: float = 0.25
    settling_weeks: tuple[float, ...] = (3.0, 10.0, 30.0, 100.0)
    still_to_settle: tuple[float, ...] = (1.0, 0.5)
    stiffnesses: tuple[float, ...] = (0.05, 0.15)
    counterweight_more: float = 0.2
    masses: tuple[float, ...] = (0.03, 0.08)
    staggers: tuple[float, ...] = (0.03, 0.075)
    touches: tuple[tuple[float, float], ...] = ((0.15, 0.10), (0.6, 0.35))
    bound: tuple[float, float] = (0.7, 0.4)
    of_singles: float = 0.56
    of_pairs: float = 0.19
    of_none: float = 0.20
    of_unknown: float = 0.05


@dataclass(frozen=True, kw_only=True, slots=True)
class Form:
    """One way in which a cause may show, over all conditions asked for.

    Attributes
    ----------
    shape : ndarray, shape (n_conditions,)
        Deviation for unit unknown. [N, or N per unit of the unknown]
    spread : ndarray, shape (n_conditions, n_conditions)
        Covariance of the deviation over conditions. [N^2]
    weight : float
        Of this form among those of its cause, before looking. [1]
    expected : float
        Of the unknown.
    direction : ndarray, shape (n_ropes,), or None
        How the ropes deviate together; None if each for itself. [1]
    rope : int or None
        Place of the one rope concerned, counted from 0.
    """

    cause: Cause
    shape: FloatArray
    spread: FloatArray
    weight: float = 1.0
    expected: float = 0.0
    direction: FloatArray | None = None
    rope: int | None = None

    @property
    def level(self) -> FloatArray:
        """Expected deviation along `direction`, shape (n_conditions,). [N]."""
        return self.expected * self.shape


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
    case = _Case(pattern=pattern, conditions=tuple(conditions), prior=prior)
    n = len(pattern.series)
    least = _FAINT * pattern.mean_tension
    found = {
        cause: _weighed([form for form in make(case) if _could_show(form, n, least)])
        for cause, make in _MAKERS.items()
    }
    return {cause: forms for cause, forms in found.items() if forms}


def _could_show(form: Form, n_series: int, least: float) -> bool:
    """Whether a form would be seen in any of the series measured."""
    seen = np.hypot(form.level, np.sqrt(np.diag(form.spread)))[:n_series]
    return bool(seen.max() >= least)


def _weighed(forms: Sequence[Form]) -> tuple[Form, ...]:
    """Let the weights of the forms of a cause sum to one."""
    total = sum(form.weight for form in forms)
    return tuple(replace(form, weight=form.weight / total) for form in forms)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Case:
    """The conditions over which forms are made, and what many of them need."""

    pattern: Pattern
    conditions: tuple[Condition, ...]
    prior: Prior

    @property
    def n_series(self) -> int:
        return len(self.pattern.series)

    @property
    def n_ropes(self) -> int:
        return len(self.pattern.numbers)

    @property
    def sizes(self) -> list[float]:
        """Sizes of a deviation. [N]."""
        return [size * self.pattern.mean_tension for size in self.prior.sizes]

    @property
    def epochs(self) -> FloatArray:
        return np.array([c.epoch for c in self.conditions])

    @property
    def places(self) -> list[float]:
        return [c.rope_passed for c in self.conditions]

    def means_where(self, holds: Sequence[bool]) -> FloatArray:
        """Mean tension of the conditions for which something holds, else 0. [N]."""
        return np.where(holds, [c.mean_tension for c in self.conditions], 0.0)

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

    def of_each(
        self,
        cause: Cause,
        shape: FloatArray,
        size: float,
        *,
        weight: float = 1.0,
        loose: float = 0.0,
    ) -> Form:
        """A form with one unknown per rope."""
        spread = np.outer(shape, shape) + np.diag((loose * shape) ** 2)
        return Form(cause=cause, shape=shape, spread=size**2 * spread, weight=weight)

    def of_one(
        self,
        cause: Cause,
        shape: FloatArray,
        size: float,
        *,
        weight: float = 1.0,
        expected: float = 0.0,
    ) -> Iterator[Form]:
        """Forms with one unknown, of one rope in turn."""
        for rope, direction in enumerate(np.eye(self.n_ropes)):
            yield Form(
                cause=cause,
                shape=shape,
                spread=size**2 * np.outer(shape, shape),
                weight=weight / self.n_ropes,
                expected=expected,
                direction=direction,
                rope=rope,
            )


def _length(case: _Case) -> Iterator[Form]:
    """Set too long or too short: the same newtons at every place once run in."""
    epochs = case.epochs
    shape = np.ones(len(epochs))
    if not case.pattern.has_sheave:
        system = case.pattern.system
        shape = system.car_compliance / compliances_at(case.places, system)[0]
    alike = (epochs[:, None] == epochs[None, :]) * np.outer(shape, shape)
    ways = [alike]  # at every setting of the nuts, or until nuts were turned
    if case.before_the_first_turn.any():
        first = epochs == epochs[0]
        ways.append(alike * np.outer(first, first))
    for way in ways:
        for size in case.sizes:
            yield Form(cause=Cause.LENGTH, shape=shape, spread=size**2 * way)


def _groove(case: _Case) -> Iterator[Form]:
    """Grooves of different radius: by place, side and direction of arrival."""
    pattern, conditions, prior = case.pattern, case.conditions, case.prior
    if not pattern.has_sheave or pattern.system.travel <= 0.0:
        return
    shapes = [groove_shape(conditions, pattern.system, slip=s) for s in prior.slips]
    shapes += [where_adjusted(shape, conditions) for shape in shapes]
    for shape in shapes:
        shape_n = shape * pattern.mean_tension
        for size in prior.sizes:
            yield case.of_each(Cause.GROOVE, shape_n, size, loose=prior.slip_leaves)


def _not_run_in(case: _Case) -> Iterator[Form]:
    """Nuts turned a short while ago: the two sides are not alike yet."""
    pattern, prior = case.pattern, case.prior
    fresh = [
        c.turned_at is not None and c.round_trips < MANY_TRIPS
        for c in case.conditions[: case.n_series]
    ]
    if not (any(fresh) and pattern.has_sheave):
        return
    for epoch in sorted({c.epoch for c in pattern.conditions}):
        shape = np.array(
            [
                turned_shape(c, pattern.system) if c.epoch == epoch else 0.0
                for c in case.conditions
            ]
        )
        if np.ptp(shape) <= 0.0:
            continue
        shape *= pattern.mean_tension
        for size in prior.sizes:
            yield case.of_each(Cause.NOT_RUN_IN, shape, size, loose=prior.slip_leaves)


def _settling(case: _Case) -> Iterator[Form]:
    """Stretch that goes on, slower each time, since nuts were turned last."""
    prior, n_series, scale = case.prior, case.n_series, case.pattern.mean_tension
    if len({c.weeks for c in case.pattern.conditions}) < 2:
        return
    before = case.before_the_first_turn
    for life in prior.settling_weeks:
        for left in prior.still_to_settle:
            shape = settled_shape(
                case.conditions, life=life, left=left, n_series=n_series
            )
            largest = float(np.abs(shape[:n_series]).max())
            if largest < _FAINT:
                continue
            shape *= scale / largest
            for size in prior.sizes:
                known = (size * scale) ** 2 * np.outer(before, before)
                forms = [
                    case.of_each(Cause.SETTLING, shape, size, weight=0.5),
                    *case.of_one(
                        Cause.SETTLING, shape, 0.5 * size, weight=0.5, expected=-size
                    ),
                ]
                for form in forms:
                    yield replace(form, spread=form.spread + known)


def _stiffness(case: _Case) -> Iterator[Form]:
    """Ropes that take more or less of what is added, and creep more or less."""
    prior, pattern = case.prior, case.pattern
    creep = np.zeros(len(case.conditions))
    if pattern.has_sheave:
        creep = creep_shape(case.conditions, pattern.system)
        creep *= prior.counterweight_more * pattern.mean_tension
    loads, least = case.added_loads
    for equal_at in (0.5, 1.0):  # of the least load
        shape = loads - equal_at * least
        for size in prior.stiffnesses:
            each = case.of_each(Cause.STIFFNESS, shape, size, weight=0.5)
            yield replace(each, spread=each.spread + size**2 * np.outer(creep, creep))
            yield from case.of_one(Cause.STIFFNESS, shape, size, weight=0.5)


def _mass(case: _Case) -> Iterator[Form]:
    """Ropes of another mass: the same percent by pitch, nothing by pull."""
    shape = case.means_where([c.is_by_pitch for c in case.conditions])
    if not shape[: case.n_series].any():
        return
    for size in case.prior.masses:
        yield case.of_each(Cause.MASS, shape, size, weight=0.5)
        yield from case.of_one(Cause.MASS, shape, size, weight=0.5)


def _bound_spring(case: _Case) -> Iterator[Form]:
    """One spring that does not move: its rope takes more of what is added."""
    system = case.pattern.system
    expected, size = case.prior.bound
    loads, least = case.added_loads
    springs = (system.car_spring_compliance, system.counterweight_spring_compliance)
    both = compliances_at(case.places, system)
    for side, whole, spring in zip(Side, both, springs, strict=True):
        if spring <= 0.0:
            continue
        more = [
            bound_share(compliance=c, spring=spring, n_ropes=case.n_ropes)
            for c in whole
        ]
        here = np.array([c.side is side for c in case.conditions])
        shape = np.where(here, (loads - least) * np.array(more), 0.0)
        yield from case.of_one(Cause.BOUND_SPRING, shape, size, expected=expected)


def _stagger(case: _Case) -> Iterator[Form]:
    """Lengths that were taken for alike: too high by pitch, more so where short."""
    # ropes of two rows against each other; odd against even if not recorded
    rows = np.array(case.pattern.rows or [n % 2 for n in case.pattern.numbers])
    for side in Side:
        shape = np.array(
            [
                -2.0 * c.mean_tension / c.free_length
                if c.side is side and c.is_by_pitch and not c.are_lengths_read
                else 0.0
                for c in case.conditions
            ]
        )
        if not shape[: case.n_series].any():
            continue
        for size in case.prior.staggers:
            yield case.of_each(Cause.STAGGER, shape, size, weight=0.5)
            if len(set(rows.tolist())) > 1:
                yield Form(
                    cause=Cause.STAGGER,
                    shape=shape,
                    spread=size**2 * np.outer(shape, shape),
                    direction=np.where(rows == rows.max(), 1.0, -1.0),
                )


def _twist(case: _Case) -> Iterator[Form]:
    """One rope that is another after each run, and the same where none was between."""
    n = len(case.conditions)
    ways, stayed = [np.eye(n)], without_a_run(case.conditions, n_series=case.n_series)
    if not np.array_equal(stayed, ways[0]):
        ways.append(stayed)
    for way in ways:
        for size in case.sizes:
            yield from (
                replace(form, spread=size**2 * way)
                for form in case.of_one(Cause.TWIST, np.ones(n), size)
            )


def _touching(case: _Case) -> Iterator[Form]:
    """One rope that something holds within one span: too high there alone."""
    spans = [c.span for c in case.pattern.conditions if c.is_by_span and c.span]
    for span in dict.fromkeys(spans):
        here = [c.span == span and c.is_by_span for c in case.conditions]
        shape = case.means_where(here)
        for expected, size in case.prior.touches:
            yield from case.of_one(Cause.TOUCHING, shape, size, expected=expected)


def _unknown(case: _Case) -> Iterator[Form]:
    """Every rope in every series for itself."""
    n = len(case.conditions)
    for size in case.sizes:
        yield Form(cause=Cause.UNKNOWN, shape=np.ones(n), spread=size**2 * np.eye(n))


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
