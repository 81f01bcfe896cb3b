"""How well each cause, alone or with another, accounts for a pattern, and what next.

Linear models with normal priors and normal noise: the likelihood with all unknowns
integrated out is one normal density. A cause that needs more unknowns spreads it over
more patterns and so pays for them. The next measurement is the one by which most
information is to be gained on the causes.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tension.diagnosis.conditions import (
    Condition,
    FloatArray,
    Pattern,
    at_place,
    contrasts,
)
from tension.diagnosis.forms import Form, Prior, forms_of
from tension.diagnosis.outcome import NONE, Cause, Causes, NextMeasurement, Step
from tension.installation import Side

_BEST = 2
"""Forms of a cause that are tried with all of another. [1]"""

_KEPT = 4
"""Forms of a cause that are tried with as many of another. [1]"""

_CHUNK = 256  # pairs weighed at once, for memory

_MOST_ACCOUNTS = 24  # accounts that a next measurement is weighed by
_DRAWS = 96  # readings drawn of a next measurement
_SEED = 0  # the draws are the same each time
_ADDED = 0.3
"""Load added for a test, over the mean tension. [1]"""

_WEEKS_LATER = 4.0  # when a later check would be [week]

Pair = tuple[int, int]
"""Places of two forms in the table, -1 for none."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Account:
    """One form of one hypothesis, or one form of each of its two causes."""

    forms: tuple[Form, ...]
    weight: float  # After looking [1]

    @property
    def causes(self) -> Causes:
        """The causes at work."""
        return tuple(form.cause for form in self.forms)


@dataclass(frozen=True, kw_only=True, slots=True)
class Model:
    """Normal densities of all conditions under any account."""

    pattern: Pattern
    conditions: tuple[Condition, ...]  # Those of the series, then those to foretell
    # Covariance of what is there under every hypothesis, noise of readings with it; for
    # the rest that of readings like them, shape (n_entries, n_entries) [N^2]
    base: FloatArray
    shared: FloatArray  # Part of it that is deviation and not noise [N^2]
    rows: FloatArray  # Combinations of the ropes, shape (n_contrasts, n_ropes) [1]
    observed: FloatArray  # What was measured, shape (n_observed,) [N]


def make_model(
    pattern: Pattern, prior: Prior, further: Sequence[Condition] = ()
) -> Model:
    """Put together what holds under every hypothesis; `further` is to be foretold."""
    conditions = (*pattern.conditions, *further)
    scale = pattern.mean_tension
    each = np.eye(len(pattern.numbers) - 1)
    epochs = np.array([c.epoch for c in conditions])
    alike = (epochs[:, None] == epochs[None, :]).astype(float)
    shared = np.kron((prior.left_over * scale) ** 2 * alike, each)
    loose = np.kron((prior.loose * scale) ** 2 * np.eye(len(conditions)), each)
    noise = loose + _reading_noise(pattern, len(conditions))
    rows = contrasts(len(pattern.numbers))
    return Model(
        pattern=pattern,
        conditions=conditions,
        base=shared + noise,
        shared=shared,
        rows=rows,
        observed=np.concatenate([rows @ one.tensions for one in pattern.series]),
    )


def _reading_noise(pattern: Pattern, n: int) -> FloatArray:
    """Covariance of the readings; of conditions to come, as the typical series."""
    rows = contrasts(len(pattern.numbers))
    size, count = len(rows), len(pattern.series)
    noise = np.zeros((n, size, n, size))
    for i, one in enumerate(pattern.series):
        noise[i, :, i, :] = rows @ one.tension_covariance @ rows.T
        here = (one.condition.span, one.condition.visit)
        for j, other in enumerate(pattern.series[:i]):
            if here == (other.condition.span, other.condition.visit):
                own = one.length_uncertainties * one.tensions
                same = own * other.length_uncertainties * other.tensions
                noise[i, :, j, :] = rows @ np.diag(same) @ rows.T
                noise[j, :, i, :] = noise[i, :, j, :].T
    variances = [float(np.trace(noise[i, :, i, :])) / size for i in range(count)]
    for i in range(count, n):
        noise[i, :, i, :] = np.median(variances) * np.eye(size)
    return noise.reshape(n * size, n * size)


def weigh(model: Model, prior: Prior) -> tuple[Account, ...]:
    """Weigh every hypothesis by its likelihood, all its forms told apart.

    Heaviest first; weights sum to one. Of two causes at once forms that both do badly
    are left out, which counts a little against two.
    """
    table = _Table.of(model, forms_of(model.pattern, model.conditions, prior))
    tried: list[Pair] = []
    before: list[float] = []
    for causes, weight in prior.weights(table.places).items():
        pairs = table.tried(causes)
        tried += pairs
        before += [weight * table.weights[a] * table.weights[b] for a, b in pairs]
    logs = table.score(tried) + np.log(before)
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    order = np.argsort(-weights, kind="stable")
    return tuple(
        Account(
            forms=tuple(table.forms[place] for place in tried[i] if place >= 0),
            weight=float(weights[i]),
        )
        for i in order
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Table:
    """Every form of every cause, over what was measured; the last row is none."""

    forms: tuple[Form, ...]
    places: dict[Cause, range]
    base: FloatArray
    observed: FloatArray
    levels: FloatArray  # (n_forms + 1, n)
    spreads: FloatArray  # (n_forms + 1, n, n)
    weights: list[float]  # before looking, of n_forms + 1
    alone: FloatArray  # logarithm of the density by each form alone, (n_forms,)

    @classmethod
    def of(cls, model: Model, forms: dict[Cause, tuple[Form, ...]]) -> "_Table":
        """Work out every form once."""
        flat = [form for each in forms.values() for form in each]
        ends = np.cumsum([len(each) for each in forms.values()]).tolist()
        n, n_series = len(model.observed), len(model.pattern.series)
        levels = np.zeros((len(flat) + 1, n))
        spreads = np.zeros((len(flat) + 1, n, n))
        for i, form in enumerate(flat):
            levels[i], spreads[i] = form.entries(model.rows, n_series)
        table = cls(
            forms=tuple(flat),
            places={
                cause: range(end - len(forms[cause]), end)
                for cause, end in zip(forms, ends, strict=True)
            },
            base=model.base[:n, :n],
            observed=model.observed,
            levels=levels,
            spreads=spreads,
            weights=[*(form.weight for form in flat), 1.0],
            alone=np.zeros(0),
        )
        return replace(table, alone=table.score([(i, -1) for i in range(len(flat))]))

    def score(self, pairs: Sequence[Pair]) -> FloatArray:
        """Logarithm of the density of what was measured, for each pair of forms."""
        least = float(np.linalg.eigvalsh(self.base)[0])
        found = []
        for i in range(0, len(pairs), _CHUNK):
            a, b = np.array(pairs[i : i + _CHUNK]).T
            covariances = self.base + self.spreads[a] + self.spreads[b]
            residuals = self.observed - self.levels[a] - self.levels[b]
            found.append(log_densities(residuals, covariances, least_variance=least))
        return np.concatenate(found)

    def tried(self, causes: Causes) -> list[Pair]:
        """The forms of a hypothesis that matter.

        Of two causes all forms of either with the few of the other that do best: a weak
        cause beside a strong one shows in many forms a little, and all of them count.
        """
        if not causes:
            return [(-1, -1)]
        if len(causes) == 1:
            return [(place, -1) for place in self.places.get(causes[0], ())]
        first, second = causes
        return [
            (a, b)
            for i, a in enumerate(self._ranked(first, beside=second))
            for j, b in enumerate(self._ranked(second, beside=first))
            if min(i, j) < _BEST or max(i, j) < _KEPT
        ]

    def _ranked(self, cause: Cause, *, beside: Cause) -> list[int]:
        """Forms of a cause, best first, beside the best form of another alone."""
        mine, others = self.places[cause], self.places[beside]
        partner = others[int(np.argmax(self.alone[others.start : others.stop]))]
        scores = self.score([(place, partner) for place in mine])
        return [mine[i] for i in np.argsort(-scores, kind="stable")]


def log_densities(
    residuals: FloatArray, covariances: FloatArray, *, least_variance: float
) -> FloatArray:
    """Compute natural logarithms of normal densities, shape (n_cases,). [1].

    Of residuals, what was found less what was expected, shape (n_cases, n_entries) [N],
    with their covariances, shape (n_cases, n_entries, n_entries) [N^2]. No variance of
    any combination of entries, scaled to length one, is less than the least. [N^2]
    The residual is whitened by the factor of the covariance with the residual as one
    more row, which spares a second decomposition.
    """
    n = residuals.shape[-1]
    wide = np.empty((len(residuals), n + 1, n + 1))
    wide[:, :n, :n] = covariances
    wide[:, n, :n] = wide[:, :n, n] = residuals
    wide[:, n, n] = 1.0 + 1.01 * (residuals**2).sum(axis=1) / least_variance
    factors = np.linalg.cholesky(wide)
    diagonal = np.diagonal(factors, axis1=-2, axis2=-1)[:, :n]
    whitened = factors[:, n, :n]
    squares = (whitened**2).sum(axis=1)
    return np.asarray(
        -0.5 * squares - np.log(diagonal).sum(axis=1) - 0.5 * n * np.log(2.0 * np.pi)
    )


def foretell(
    model: Model, forms: Sequence[Form]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Foretell the conditions that were not measured, under one account.

    Entries expected of a reading, shape (n_further,) [N]; their covariance, noise
    included [N^2]; the deviation of each rope in every condition that the account
    gives, noise left out, shape (n_conditions, n_ropes). [N]
    """
    n, rows = len(model.observed), model.rows
    whole = model.base.copy()
    signal = model.shared.copy()
    level = np.zeros(len(whole))
    for form in forms:
        expected, spread = form.entries(rows)
        whole += spread
        signal += spread
        level += expected
    gain = np.linalg.solve(whole[:n, :n], whole[:n, n:]).T
    away = model.observed - level[:n]
    told = level + signal[:, :n] @ np.linalg.solve(whole[:n, :n], away)
    return (
        level[n:] + gain @ away,
        whole[n:, n:] - gain @ whole[:n, n:],
        told.reshape(-1, len(rows)) @ rows,
    )


def weights_of(accounts: Sequence[Account]) -> dict[Causes, float]:
    """Sum the weights of all forms of each hypothesis, the heaviest first. [1]."""
    sums: dict[Causes, float] = {NONE: 0.0}
    for account in accounts:
        sums[account.causes] = sums.get(account.causes, 0.0) + account.weight
    return dict(sorted(sums.items(), key=lambda item: -item[1]))


def possible_steps(pattern: Pattern) -> tuple[tuple[Step, Condition], ...]:
    """List the measurements that could follow, those already taken left out."""
    conditions, travel = pattern.conditions, pattern.system.travel
    has_way, has_sheave = travel > 0.0, pattern.has_sheave
    car = [c for c in conditions if c.side is Side.CAR]
    base = replace((car or conditions)[-1], is_by_span=True)
    places = [c.rope_passed for c in conditions]
    mids = [c for c in conditions if 0.2 * travel < c.rope_passed < 0.8 * travel]
    ways = {c.arrived for c in mids}
    loads = [c.load_tension for c in car] or [base.load_tension]
    trips = base.round_trips

    def after(more: int) -> int | None:
        return None if trips is None else trips + more

    def moved(passed: float, arrived: str, side: Side = Side.CAR) -> Condition:
        there = at_place(base, side=side, rope_passed=passed, system=pattern.system)
        return replace(there, arrived=arrived, round_trips=after(1))

    end = moved(0.0, "up") if max(places) >= 0.8 * travel else moved(travel, "down")
    middle = moved(0.5 * travel, "up")
    there = (mids or [middle])[0].rope_passed
    other = moved(there, "down" if "up" in ways else "up")
    across = moved(0.5 * travel, "up", Side.COUNTERWEIGHT)
    load = (1.0 + _ADDED) * base.load_tension
    loaded = replace(base, mean_tension=load, load_tension=load)
    later = replace(base, weeks=base.weeks + _WEEKS_LATER)
    more_trips = replace(base, round_trips=after(3))
    is_new_end = all(abs(p - end.rope_passed) >= 0.15 * travel for p in places)
    is_one_side = all(c.side is Side.CAR for c in conditions)
    is_one_load = max(loads) < 1.1 * min(loads)
    is_all_pitch = all(c.is_by_pitch for c in conditions)
    steps = (
        (has_way and is_new_end, Step.OTHER_END, end),
        (has_way and not mids, Step.MIDDLE, middle),
        (has_sheave and len(ways) == 1, Step.OTHER_ARRIVAL, other),
        (has_sheave and is_one_side, Step.OTHER_SIDE, across),
        (is_one_load, Step.ADDED_LOAD, loaded),
        (True, Step.LATER, later),
        (has_sheave and trips is not None, Step.MORE_ROUND_TRIPS, more_trips),
        (is_all_pitch, Step.BY_PULL, replace(base, is_by_pitch=False)),
        (True, Step.AFTER_A_RUN, moved(base.rope_passed, base.arrived)),
    )
    return tuple((step, condition) for is_open, step, condition in steps if is_open)


def find_next(
    model: Model, accounts: Sequence[Account], steps: Sequence[tuple[Step, Condition]]
) -> NextMeasurement | None:
    """Find the measurement from which most is to be learned on the causes.

    The further conditions of `model` begin with those of `steps`; accounts stand the
    heaviest first. None if nothing could be measured.

    Notes
    -----
    Expected fall of the entropy of the hypotheses, by drawing readings from the
    heaviest accounts and weighing all of them anew. The draws are the same each time.
    """
    kept = accounts[:_MOST_ACCOUNTS]
    weights = np.array([account.weight for account in kept])
    weights /= weights.sum()
    names = [account.causes for account in kept]
    told = [foretell(model, account.forms)[:2] for account in kept]
    now = _entropy(weights, names)
    size = len(model.pattern.numbers) - 1
    best: NextMeasurement | None = None
    for i, (step, condition) in enumerate(steps):
        part = slice(i * size, (i + 1) * size)
        means = np.array([mean[part] for mean, _ in told])
        covariances = np.array([cov[part, part] for _, cov in told])
        gain = now - _open_after(weights, names, means, covariances)
        if best is None or gain > best.gain + 1e-9:
            best = NextMeasurement(
                step=step, condition=condition, gain=max(gain, 0.0), open_now=now
            )
    return best


def _open_after(
    weights: FloatArray,
    names: Sequence[Causes],
    means: FloatArray,
    covariances: FloatArray,
) -> float:
    """Entropy to be expected after a reading. [bit]."""
    random = np.random.default_rng(_SEED)
    factors = np.linalg.cholesky(covariances)
    least = float(np.linalg.eigvalsh(covariances).min())
    before = np.log(weights + 1e-300)
    # as many draws of each account as its weight asks for, one at least of the heavy
    counts = np.maximum(np.round(_DRAWS * weights), weights > 0.02).astype(int)
    summed = 0.0
    for k, count in enumerate(counts):
        for _ in range(count):
            drawn = means[k] + factors[k] @ random.standard_normal(len(means[k]))
            logs = before + log_densities(
                drawn - means, covariances, least_variance=least
            )
            after = np.exp(logs - logs.max())
            summed += weights[k] / count * _entropy(after / after.sum(), names)
    return float(summed / weights[counts > 0].sum())


def _entropy(weights: FloatArray, names: Sequence[Causes]) -> float:
    """Entropy of the hypotheses, their forms put together. [bit]."""
    sums: dict[Causes, float] = {}
    for name, weight in zip(names, weights, strict=True):
        sums[name] = sums.get(name, 0.0) + float(weight)
    found = np.array([s for s in sums.values() if s > 0.0])
    return float(-(found * np.log2(found)).sum())
