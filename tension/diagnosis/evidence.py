"""How well each cause, alone or with another, accounts for a pattern, and what next.

Linear models with normal priors and normal noise: the likelihood with all unknowns
integrated out is one normal density. A cause that needs more unknowns spreads it over
more patterns and so pays for them. The next measurement is the one by which most
information is to be gained on the causes.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tension.diagnosis.forms import Form, Prior, forms_of
from tension.diagnosis.outcome import (
    Cause,
    Causes,
    Condition,
    NextMeasurement,
    Pattern,
    Step,
)
from tension.installation import Side
from tension.physics import FloatArray

_BEST = 2  # forms of a cause that are tried with all of another [1]
_KEPT = 4  # forms of a cause that are tried with as many of another [1]
_CHUNK = 256  # pairs weighed at once, for memory

_MOST_ACCOUNTS = 24  # accounts that a next measurement is weighed by
_DRAWS = 96  # readings drawn of a next measurement
_SEED = 0  # the draws are the same each time
_ADDED = 0.3  # load added for a test, over the mean tension [1]
_WEEKS_LATER = 4.0  # when a later check would be [week]

Pair = tuple[int, int]
"""Places of two forms in a list, -1 for none."""


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


def contrasts(n_ropes: int) -> FloatArray:
    """Build combinations of two ropes or more that leave their mean out.

    Orthonormal rows, each summing to zero (Helmert), shape (n_ropes - 1, n_ropes).
    """
    k = np.arange(float(n_ropes))
    rows = np.tril(np.ones((n_ropes, n_ropes)), -1) - np.diag(k)
    return np.asarray(rows[1:] / np.sqrt(k * (k + 1.0))[1:, None])


def make_model(
    pattern: Pattern, prior: Prior, further: Sequence[Condition] = ()
) -> Model:
    """Put together what holds under every hypothesis; `further` is to be foretold.

    What is yet to be read is taken to be as noisy as the typical series.
    """
    conditions = (*pattern.conditions, *further)
    scale, rows = pattern.mean_tension, contrasts(len(pattern.numbers))
    epochs = np.array([c.epoch for c in conditions])
    left_over = (prior.left_over * scale) ** 2 * np.equal.outer(epochs, epochs)
    shared = np.kron(left_over, np.eye(len(rows)))
    loose = (prior.loose * scale) ** 2 * np.eye(len(shared))
    n, size, of_lengths = len(conditions), len(rows), pattern.length_uncertainties
    own = rows @ pattern.covariances @ rows.T
    typical = np.median(np.trace(own, axis1=1, axis2=2)) / size
    noise = np.kron(np.eye(n), typical * np.eye(size)).reshape(n, size, n, size)
    where = [(c.span, c.visit) for c in pattern.conditions]
    for i, j in np.ndindex(len(where), len(where)):
        if where[i] == where[j]:
            same = rows @ np.diag(of_lengths[i] * of_lengths[j]) @ rows.T
            noise[i, :, j, :] = own[i] if i == j else same
    return Model(
        pattern=pattern,
        conditions=conditions,
        base=shared + (loose + noise.reshape(shared.shape)),
        shared=shared,
        rows=rows,
        observed=(pattern.tensions @ rows.T).ravel(),
    )


def weigh(model: Model, prior: Prior) -> tuple[Account, ...]:
    """Weigh every hypothesis by its likelihood, all its forms told apart.

    Heaviest first; weights sum to one. Of two causes all forms of either are tried with
    the few of the other that do best: a weak cause beside a strong one shows in many
    forms a little, and all of them count. Forms that both do badly are left out, which
    counts a little against two.
    """
    of_causes = forms_of(model.pattern, model.conditions, prior)
    forms = [form for each in of_causes.values() for form in each]
    score = _scorer(model, forms)
    places: dict[Cause | None, list[int]] = {None: [-1]}
    for place, form in enumerate(forms):
        places.setdefault(form.cause, []).append(place)
    best = {
        cause: own[int(np.argmax(score([(place, -1) for place in own])))]
        for cause, own in places.items()
    }

    def ranked(cause: Cause | None, beside: Cause | None) -> list[int]:
        """Forms of a cause, best first, beside the best form of another alone."""
        mine = places[cause]
        scores = score([(place, best[beside]) for place in mine])
        return [mine[i] for i in np.argsort(-scores, kind="stable")]

    weights = [*(form.weight for form in forms), 1.0]
    tried: list[Pair] = []
    before: list[float] = []
    for causes, weight in prior.weights(of_causes).items():
        first, second = (*causes, None, None)[:2]
        pairs = [
            (a, b)
            for i, a in enumerate(ranked(first, second))
            for j, b in enumerate(ranked(second, first))
            if min(i, j) < _BEST or max(i, j) < _KEPT
        ]
        tried += pairs
        before += [weight * weights[a] * weights[b] for a, b in pairs]
    logs = score(tried) + np.log(before)
    after = np.exp(logs - logs.max())
    after /= after.sum()
    return tuple(
        Account(
            forms=tuple(forms[place] for place in tried[i] if place >= 0),
            weight=float(after[i]),
        )
        for i in np.argsort(-after, kind="stable")
    )


def _scorer(
    model: Model, forms: Sequence[Form]
) -> Callable[[Sequence[Pair]], FloatArray]:
    """Logarithm of the density of what was measured, for each pair of forms."""
    n, n_series = len(model.observed), len(model.pattern.conditions)
    base = model.base[:n, :n]
    least = float(np.linalg.eigvalsh(base)[0])
    levels, spreads = np.zeros((len(forms) + 1, n)), np.zeros((len(forms) + 1, n, n))
    for i, form in enumerate(forms):  # the last row is none
        levels[i], spreads[i] = form.entries(model.rows, n_series)

    def score(pairs: Sequence[Pair]) -> FloatArray:
        found = []
        for i in range(0, len(pairs), _CHUNK):
            a, b = np.array(pairs[i : i + _CHUNK]).T
            covariances = base + spreads[a] + spreads[b]
            residuals = model.observed - levels[a] - levels[b]
            found.append(log_densities(residuals, covariances, least_variance=least))
        return np.concatenate(found)

    return score


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
    squares = (factors[:, n, :n] ** 2).sum(axis=1)
    diagonal = np.diagonal(factors, axis1=-2, axis2=-1)[:, :n]
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
    spread, level = np.zeros_like(model.base), np.zeros(len(model.base))
    for form in forms:
        expected, of_form = form.entries(rows)
        spread += of_form
        level += expected
    whole, signal = model.base + spread, model.shared + spread
    away = np.linalg.solve(whole[:n, :n], model.observed - level[:n])
    gain = np.linalg.solve(whole[:n, :n], whole[:n, n:])
    told = level + signal[:, :n] @ away
    return (
        level[n:] + whole[n:, :n] @ away,
        whole[n:, n:] - whole[n:, :n] @ gain,
        told.reshape(-1, len(rows)) @ rows,
    )


def weights_of(accounts: Sequence[Account]) -> dict[Causes, float]:
    """Sum the weights of all forms of each hypothesis, the heaviest first. [1]."""
    sums: dict[Causes, float] = {}
    for account in accounts:
        sums[account.causes] = sums.get(account.causes, 0.0) + account.weight
    return dict(sorted(sums.items(), key=lambda item: -item[1]))


def possible_steps(pattern: Pattern) -> tuple[tuple[Step, Condition], ...]:
    """List the measurements that could follow, those already taken left out."""
    conditions, system = pattern.conditions, pattern.system
    travel, has_sheave = system.travel, pattern.has_sheave
    has_way = travel > 0.0
    car = [c for c in conditions if c.side is Side.CAR]
    base = replace((car or conditions)[-1], is_by_span=True)
    places = [c.rope_passed for c in conditions]
    mids = [c for c in conditions if 0.2 * travel < c.rope_passed < 0.8 * travel]
    ways = {c.arrived for c in mids}
    loads = [c.load_tension for c in car or [base]]
    trips = base.round_trips

    def after(more: int) -> Condition:
        return base if trips is None else replace(base, round_trips=trips + more)

    def moved(passed: float, arrived: str, side: Side = Side.CAR) -> Condition:
        return replace(after(1).at(passed, system, side), arrived=arrived)

    end = moved(0.0, "up") if max(places) >= 0.8 * travel else moved(travel, "down")
    middle = moved(0.5 * travel, "up")
    there = (mids or [middle])[0].rope_passed
    other = moved(there, "down" if "up" in ways else "up")
    across = moved(0.5 * travel, "up", Side.COUNTERWEIGHT)
    load = (1.0 + _ADDED) * base.load_tension
    loaded = replace(base, mean_tension=load, load_tension=load)
    is_new_end = all(abs(p - end.rope_passed) >= 0.15 * travel for p in places)
    is_all_pitch = all(c.is_by_pitch for c in conditions)
    steps = (
        (has_way and is_new_end, Step.OTHER_END, end),
        (has_way and not mids, Step.MIDDLE, middle),
        (has_sheave and len(ways) == 1, Step.OTHER_ARRIVAL, other),
        (has_sheave and len(car) == len(conditions), Step.OTHER_SIDE, across),
        (max(loads) < 1.1 * min(loads), Step.ADDED_LOAD, loaded),
        (True, Step.LATER, replace(base, weeks=base.weeks + _WEEKS_LATER)),
        (has_sheave and trips is not None, Step.MORE_ROUND_TRIPS, after(3)),
        (is_all_pitch, Step.BY_PULL, replace(base, is_by_pitch=False)),
        (True, Step.AFTER_A_RUN, moved(base.rope_passed, base.arrived)),
    )
    return tuple((step, condition) for is_open, step, condition in steps if is_open)


def find_next(
    model: Model, accounts: Sequence[Account], steps: Sequence[tuple[Step, Condition]]
) -> NextMeasurement:
    """Find the measurement from which most is to be learned on the causes.

    The further conditions of `model` begin with those of `steps`; accounts stand the
    heaviest first.

    Notes
    -----
    Expected fall of the entropy of the hypotheses, by drawing readings from the
    heaviest accounts and weighing all of them anew. The draws are the same each time.
    """
    kept = accounts[:_MOST_ACCOUNTS]
    weights = np.array([account.weight for account in kept])
    weights /= weights.sum()
    names = list(dict.fromkeys(account.causes for account in kept))
    hypothesis = np.array([names.index(account.causes) for account in kept])
    is_of = (hypothesis[:, None] == np.arange(len(names))).astype(float)
    told = [foretell(model, account.forms)[:2] for account in kept]
    now = float(_entropies(weights @ is_of))
    size, gains = len(model.rows), []
    for start in range(0, size * len(steps), size):
        part = slice(start, start + size)
        means = np.array([mean[part] for mean, _ in told])
        covariances = np.array([covariance[part, part] for _, covariance in told])
        gains.append(now - _open_after(weights, is_of, means, covariances))
    first = largest(np.array(gains))
    step, condition = steps[first]
    return NextMeasurement(
        step=step, condition=condition, gain=max(gains[first], 0.0), open_now=now
    )


def largest(values: FloatArray) -> int:
    """Find the place of the largest; of those alike to the last digits the first."""
    hair = 1e-9 * float(np.abs(values).max())
    return int(np.argmax(values >= values.max() - hair))


def _open_after(
    weights: FloatArray, is_of: FloatArray, means: FloatArray, covariances: FloatArray
) -> float:
    """Entropy of the hypotheses to be expected after a reading. [bit]."""
    random = np.random.default_rng(_SEED)
    factors, inverses = np.linalg.cholesky(covariances), np.linalg.inv(covariances)
    before = np.log(weights + 1e-300) - 0.5 * np.linalg.slogdet(covariances)[1]
    # as many draws of each account as its weight asks for, one at least of the heavy
    counts = np.maximum(np.round(_DRAWS * weights), weights > 0.02).astype(int)
    summed = 0.0
    for k in np.flatnonzero(counts):
        drawn = random.standard_normal((counts[k], means.shape[1])) @ factors[k].T
        away = (means[k] + drawn)[:, None] - means
        logs = before - 0.5 * np.einsum("dai,aij,daj->da", away, inverses, away)
        after = np.exp(logs - logs.max(axis=1, keepdims=True))
        after /= after.sum(axis=1, keepdims=True)
        summed += weights[k] * float(_entropies(after @ is_of).mean())
    return summed / float(weights[counts > 0].sum())


def _entropies(weights: FloatArray) -> FloatArray:
    """Entropy of each row of weights. [bit]."""
    logs = np.log2(weights, out=np.zeros_like(weights), where=weights > 0.0)
    return np.asarray(-(weights * logs).sum(axis=-1))
