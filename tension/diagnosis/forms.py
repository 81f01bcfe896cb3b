"""Mechanical models of the causes: how each would deviate in every condition.

Every model is linear in its unknowns, one per rope or one in all, with a normal prior;
what is not linear (slip, how fast a rope settles, which rope) is tried in some forms. A
shape is how a deviation goes over conditions for one unit of its cause, shape
(n_conditions,).
"""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import combinations, pairwise, product
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tension.diagnosis.outcome import Cause, Causes, Condition, Pattern
from tension.installation import Side
from tension.physics import FloatArray
from tension.physics.hitch_statics import added_load_shares
from tension.physics.sheave import (
    SheaveSystem,
    compliances_at,
    run_to,
    settled_ends,
    side_deviations,
)

_FAINT = 0.01  # a cause that moves no rope by so much in any series cannot be told [1]

_SMALL_RADIUS = 1e-4
"""Radius deviation for which shapes are worked out; without slip all are alike. [1]"""


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
    of_singles: float = 0.56  # Weight before looking of one cause, all together [1]
    of_pairs: float = 0.19  # of two causes at once, all together [1]
    of_none: float = 0.20  # of no cause [1]
    of_unknown: float = 0.05  # of a cause that no form is of [1]

    def weights(self, causes: Iterable[Cause]) -> dict[Causes, float]:
        """Share the weight before looking out: none, each cause, every two. [1]."""
        known = [cause for cause in causes if cause is not Cause.UNKNOWN]
        pairs = list(combinations(known, 2))
        return {
            (): self.of_none,
            **{(cause,): self.of_singles / len(known) for cause in known},
            (Cause.UNKNOWN,): self.of_unknown,
            **{pair: self.of_pairs / len(pairs) for pair in pairs},
        }


@dataclass(frozen=True, kw_only=True, slots=True)
class Form:
    """One way in which a cause may show, over all conditions asked for."""

    # Deviation for unit unknown, shape (n_conditions,) [N or N per its unit]
    shape: FloatArray
    # Covariance of the deviation, shape (n_conditions, n_conditions) [N^2]
    spread: FloatArray
    cause: Cause = Cause.UNKNOWN  # What is at work
    weight: float = 1.0  # Of this form among those of its cause, before looking [1]
    expected: float = 0.0  # Of the unknown
    # How the ropes deviate together, shape (n_ropes,); None if each for itself [1]
    direction: FloatArray | None = None
    rope: int | None = None  # Place of the one rope concerned, counted from 0

    def entries(
        self, rows: FloatArray, n_conditions: int | None = None
    ) -> tuple[FloatArray, FloatArray]:
        """Give expectation [N] and covariance [N^2] of combinations of the ropes.

        Of `rows`, shape (n_contrasts, n_ropes), in the first conditions or all;
        shapes (n_entries,) and (n_entries, n_entries), condition by condition.
        """
        level = (self.expected * self.shape)[:n_conditions]
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
    case = _Case(pattern=pattern, conditions=tuple(conditions), prior=prior)
    n, found = len(pattern.conditions), {}
    for cause, (make, sizes) in _FORMS.items():
        forms = []
        for form, size in product(make(case), sizes(case)):
            expected, spread = size * form.expected, size**2 * form.spread
            seen = np.hypot(expected * form.shape, np.sqrt(np.diag(spread)))
            if seen[:n].max() >= _FAINT * pattern.mean_tension:
                sized = replace(form, cause=cause, expected=expected, spread=spread)
                forms.append(sized)
        total = sum(form.weight for form in forms)
        if forms:
            found[cause] = tuple(replace(f, weight=f.weight / total) for f in forms)
    return found


@dataclass(frozen=True, kw_only=True, slots=True)
class _Case:
    """The conditions over which forms are made, and what many need."""

    pattern: Pattern
    conditions: tuple[Condition, ...]
    prior: Prior

    @property
    def begun(self) -> NDArray[np.intp]:
        """Place of the first condition of each epoch, shape (n_conditions,)."""
        epochs = [c.epoch for c in self.conditions]
        _, first, of = np.unique(epochs, return_index=True, return_inverse=True)
        return np.asarray(first[of])

    @property
    def before_turns(self) -> FloatArray:
        """Where what was there before the first series still shows, if at all. [1]."""
        is_turned = self.begun[: len(self.pattern.conditions)].max() > 0
        return np.where(is_turned & (self.begun == 0), 1.0, 0.0)

    @property
    def compliances(self) -> tuple[FloatArray, FloatArray]:
        """Of both sides. [m/N]."""
        places = [c.rope_passed for c in self.conditions]
        return compliances_at(places, self.pattern.system)

    @property
    def added_loads(self) -> tuple[FloatArray, FloatArray]:
        """Load of each condition, and the least of a series on the same side. [N]."""
        heaviest_first = sorted(self.pattern.conditions, key=lambda c: -c.load_tension)
        least = {c.side: c.load_tension for c in heaviest_first}
        lowest = [least.get(c.side, c.load_tension) for c in self.conditions]
        return np.array([c.load_tension for c in self.conditions]), np.array(lowest)

    def loose(self, shape: FloatArray) -> Form:
        """As the shape goes but for what slip leaves."""
        left = np.diag((self.prior.slip_leaves * shape) ** 2)
        return Form(shape=shape, spread=np.outer(shape, shape) + left)

    def of_one(self, form: Form, expected: float = 0.0) -> Iterator[Form]:
        """The same with one unknown, of one rope in turn."""
        n = len(self.pattern.numbers)
        one = replace(form, expected=expected, weight=1.0 / n)
        for rope, direction in enumerate(np.eye(n)):
            yield replace(one, rope=rope, direction=direction)


def _as_shape(shape: FloatArray, width: float = 1.0) -> Form:
    """As the shape goes, by so much of it. [1]."""
    return Form(shape=shape, spread=width**2 * np.outer(shape, shape))


# each yields forms of size one; the table below tells the sizes


def _length(case: _Case) -> Iterator[Form]:
    """Set too long or too short: the same newtons at every place once run in."""
    shape, begun, before = np.ones(len(case.conditions)), case.begun, case.before_turns
    if not case.pattern.has_sheave:
        shape = case.pattern.system.compliances[0] / case.compliances[0]
    spread = np.equal.outer(begun, begun) * np.outer(shape, shape)
    yield Form(shape=shape, spread=spread)  # at every setting of the nuts
    yield Form(shape=shape, spread=spread * np.outer(before, before))


def _deviations_at(
    conditions: Sequence[Condition],
    system: SheaveSystem,
    differences: ArrayLike,
    excess_length: float = 0.0,
) -> FloatArray:
    """Deviation of one rope on the side of each condition. [N].

    By what runs keep up in each, the differences of both sides [N], and by how much
    shorter it was set at its nuts [m].
    """
    on_car, on_counterweight = side_deviations(
        differences=differences,
        excess_lengths=excess_length,
        rope_passed=[c.rope_passed for c in conditions],
        system=system,
    )
    is_car = [c.side is Side.CAR for c in conditions]
    return np.where(is_car, on_car, on_counterweight)


def _groove_shape(
    conditions: Sequence[Condition], system: SheaveSystem, slip: float
) -> FloatArray:
    """Deviation by a radius difference, 1 where largest on the car side.

    A direction not recorded is the mean of both. Ropes slip at a difference of `slip`
    over the largest without slip; infinity for never. [1]
    """
    radius, travel = np.array([_SMALL_RADIUS]), system.travel
    free = settled_ends(radius_deviations=radius, system=system)[0].item()
    how: dict[str, Any] = {
        "radius_deviations": radius,
        "slip_difference": slip * abs(free),
    }
    top, far = settled_ends(system=system, **how)

    @cache
    def difference(passed: float, arrived: str) -> float:
        start, u = (0.0, top) if arrived == "down" else (travel, far)
        return run_to(u, start=start, end=passed, system=system, **how).item()

    car = replace(conditions[0], side=Side.CAR, arrived="")
    every = [*conditions, *(replace(car, rope_passed=end) for end in (0.0, travel))]
    found = []
    for way in ("up", "down"):
        settled = [difference(c.rope_passed, c.arrived or way) for c in every]
        found.append(_deviations_at(every, system, settled))
    largest = np.max(np.abs(np.array(found)[:, -2:]))
    return np.asarray(np.mean(found, axis=0)[:-2] / np.maximum(largest, 1e-12))


def _groove(case: _Case) -> Iterator[Form]:
    """Grooves of different radius: by place, side and direction of arrival."""
    pattern, prior = case.pattern, case.prior
    if not pattern.has_sheave or pattern.system.travel <= 0.0:
        return
    found = [_groove_shape(case.conditions, pattern.system, s) for s in prior.slips]
    # for nuts set to equal lengths; set so that ropes are equal where each epoch begun
    yield from map(case.loose, found)
    yield from (case.loose(shape - shape[case.begun]) for shape in found)


def _turned_shape(condition: Condition, system: SheaveSystem) -> float:
    """A deviation over that right after a nut was turned at one hitch. [1]."""
    if condition.turned_at is None:
        return 0.0
    car, other = compliances_at(condition.turned_at, system)
    is_car = condition.turned_side is Side.CAR
    own, u = float(car if is_car else other), np.zeros(1)
    run = partial(run_to, radius_deviations=np.zeros(1), system=system)
    if condition.round_trips is not None:
        u = np.array([1.0 / own if is_car else -1.0 / own])
        trips = [0.0, system.travel] * condition.round_trips
        way = [condition.turned_at, *trips, *trips[:1], condition.rope_passed]
        for start, end in pairwise(way):
            u = run(u, start=start, end=end)
    return float(_deviations_at([condition], system, u, 1.0)[0]) * own


def _not_run_in(case: _Case) -> Iterator[Form]:
    """Nuts turned a short while ago: the two sides are not alike yet."""
    pattern = case.pattern
    fresh = [c for c in pattern.conditions if c.round_trips is not None]
    if not (pattern.has_sheave and any(c.turned_at is not None for c in fresh)):
        return
    turned = np.array([_turned_shape(c, pattern.system) for c in case.conditions])
    for first in np.unique(case.begun[: len(pattern.conditions)]):
        shape = np.where(case.begun == first, turned, 0.0)
        if np.ptp(shape) > 0.0:
            yield case.loose(shape)


def _settling(case: _Case) -> Iterator[Form]:
    """Stretch that goes on, slower each time, since nuts were turned last."""
    prior, n_series = case.prior, len(case.pattern.conditions)
    if len({c.weeks for c in case.pattern.conditions}) < 2:
        return
    before = np.outer(case.before_turns, case.before_turns)
    weeks = np.array([c.weeks for c in case.conditions])
    for life, left in product(prior.settling_weeks, prior.still_to_settle):
        # a part is still to come at first, and falls to 1/e in each such time
        coming = left * np.exp(-weeks / life)
        shape = np.where(case.begun == 0, 1.0, coming[case.begun]) - coming
        largest = float(np.abs(shape[:n_series]).max())
        if largest < _FAINT:
            continue
        shape /= largest
        spread = np.outer(shape, shape)
        yield Form(shape=shape, spread=spread + before)
        slack = Form(shape=shape, spread=0.25 * spread + before)
        yield from case.of_one(slack, expected=-1.0)


def _stiffness(case: _Case) -> Iterator[Form]:
    """Ropes that take more or less of what is added, and creep more or less."""
    pattern, loads = case.pattern, case.added_loads
    creep = np.zeros(len(case.conditions))
    if pattern.has_sheave:
        creep = _deviations_at(case.conditions, pattern.system, 1.0)
        creep -= creep[case.begun]
        creep *= case.prior.counterweight_more * pattern.mean_tension
    for equal_at in (0.5, 1.0):  # of the least load
        shape = loads[0] - equal_at * loads[1]
        spread = np.outer(shape, shape) + np.outer(creep, creep)
        yield Form(shape=shape, spread=spread)
        yield from case.of_one(_as_shape(shape))


def _mass(case: _Case) -> Iterator[Form]:
    """Ropes of another mass: the same percent by pitch, nothing by pull."""
    shape = np.array([c.mean_tension * c.is_by_pitch for c in case.conditions])
    yield _as_shape(shape)
    yield from case.of_one(_as_shape(shape))


def _bound_spring(case: _Case) -> Iterator[Form]:
    """One spring that does not move: its rope takes more of what is added."""
    system, n_ropes = case.pattern.system, len(case.pattern.numbers)
    (loads, least), (expected, width) = case.added_loads, case.prior.bound
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
        yield from case.of_one(_as_shape(shape, width), expected)


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
        yield replace(_as_shape(shape), weight=0.5)
        if len(set(rows.tolist())) > 1:
            yield replace(_as_shape(shape), direction=against)


def _twist(case: _Case) -> Iterator[Form]:
    """One rope that is another after each run, and the same where none was between."""
    n, n_series = len(case.conditions), len(case.pattern.conditions)
    # between series that follow each other at one place of one visit the car may not
    # have run; what was not measured comes after a run
    keys = [(c.visit, c.epoch, c.rope_passed, c.arrived) for c in case.conditions]
    moved = [not 0 < i < n_series or keys[i] != keys[i - 1] for i in range(n)]
    stays = np.cumsum(moved)
    ways, stayed = [np.eye(n)], np.equal.outer(stays, stays).astype(float)
    if not np.array_equal(stayed, ways[0]):
        ways.append(stayed)
    for way in ways:
        yield from case.of_one(Form(shape=np.ones(n), spread=way))


def _touching(case: _Case) -> Iterator[Form]:
    """One rope that something holds within one span: too high there alone."""
    measured, conditions = case.pattern.conditions, case.conditions
    for span in dict.fromkeys(c.span for c in measured if c.is_by_span and c.span):
        here = [c.is_by_span and c.span == span for c in conditions]
        shape = np.where(here, [c.mean_tension for c in conditions], 0.0)
        for expected, width in case.prior.touches:
            yield from case.of_one(_as_shape(shape, width), expected)


def _unknown(case: _Case) -> Iterator[Form]:
    """Every rope in every series for itself."""
    n = len(case.conditions)
    yield Form(shape=np.ones(n), spread=np.eye(n))


def _in_newtons(case: _Case) -> tuple[float, ...]:
    """Sizes of a deviation. [N]."""
    return tuple(size * case.pattern.mean_tension for size in case.prior.sizes)


_Maker = Callable[[_Case], Iterator[Form]]
_FORMS: dict[Cause, tuple[_Maker, Callable[[_Case], tuple[float, ...]]]] = {
    Cause.LENGTH: (_length, _in_newtons),
    Cause.GROOVE: (_groove, _in_newtons),
    Cause.NOT_RUN_IN: (_not_run_in, _in_newtons),
    Cause.SETTLING: (_settling, _in_newtons),
    Cause.STIFFNESS: (_stiffness, lambda case: case.prior.stiffnesses),
    Cause.MASS: (_mass, lambda case: case.prior.masses),
    Cause.BOUND_SPRING: (_bound_spring, lambda _: (1.0,)),
    Cause.STAGGER: (_stagger, lambda case: case.prior.staggers),
    Cause.TWIST: (_twist, _in_newtons),
    Cause.TOUCHING: (_touching, lambda _: (1.0,)),
    Cause.UNKNOWN: (_unknown, _in_newtons),
}
