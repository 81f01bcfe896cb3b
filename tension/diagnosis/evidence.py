"""How well each cause, alone or with another, accounts for a pattern.

Linear models with normal priors and normal noise: the likelihood with all unknowns
integrated out is one normal density. A cause that needs more unknowns spreads it over
more patterns and so pays for them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from tension.diagnosis.conditions import Condition, FloatArray, Pattern, contrasts
from tension.diagnosis.forms import Form, Prior, forms_of
from tension.diagnosis.outcome import NONE, Cause, Causes

_BEST = 2
"""Forms of a cause that are tried with all of another. [1]"""

_KEPT = 4
"""Forms of a cause that are tried with as many of another. [1]"""

_CHUNK = 256


@dataclass(frozen=True, kw_only=True, slots=True)
class Account:
    """One form of one hypothesis, or one form of each of its two causes.

    `weight` is its weight after looking. [1]
    """

    forms: tuple[Form, ...]
    weight: float

    @property
    def causes(self) -> Causes:
        """The causes at work."""
        return tuple(form.cause for form in self.forms)


@dataclass(frozen=True, kw_only=True, slots=True)
class Model:
    """Normal densities of all conditions under any account.

    Attributes
    ----------
    conditions : tuple of Condition
        Those of the series, then those to foretell.
    base : ndarray, shape (n_entries, n_entries)
        Covariance of what is there under every hypothesis; noise of readings is in it
        for the series, what readings like them would have for the rest. [N^2]
    shared : ndarray, shape (n_entries, n_entries)
        Part of `base` that is deviation and not noise. [N^2]
    """

    pattern: Pattern
    conditions: tuple[Condition, ...]
    base: FloatArray
    shared: FloatArray

    @property
    def n_contrasts(self) -> int:
        """Entries of one series."""
        return len(self.pattern.numbers) - 1

    @property
    def n_observed(self) -> int:
        """Entries of the series measured."""
        return len(self.pattern.series) * self.n_contrasts

    @property
    def observed(self) -> FloatArray:
        """What was measured, shape (n_observed,). [N]."""
        rows = contrasts(len(self.pattern.numbers))
        return np.concatenate([rows @ one.tensions for one in self.pattern.series])

    def level_of(self, form: Form) -> FloatArray:
        """Expected entries under a form, shape (n_entries,). [N]."""
        if form.direction is None:
            return np.zeros(len(form.shape) * self.n_contrasts)
        rows = contrasts(len(self.pattern.numbers))
        return np.asarray(np.kron(form.level, rows @ form.direction))

    def spread_of(self, form: Form) -> FloatArray:
        """Covariance by a form, shape (n_entries, n_entries). [N^2]."""
        if form.direction is None:
            return np.asarray(np.kron(form.spread, np.eye(self.n_contrasts)))
        rows = contrasts(len(self.pattern.numbers))
        along = rows @ form.direction
        return np.asarray(np.kron(form.spread, np.outer(along, along)))


def make_model(
    pattern: Pattern, prior: Prior, further: Sequence[Condition] = ()
) -> Model:
    """Put together what holds under every hypothesis; `further` is to be foretold."""
    conditions = (*pattern.conditions, *further)
    scale = pattern.mean_tension
    size = len(pattern.numbers) - 1
    epochs = np.array([c.epoch for c in conditions])
    alike = (epochs[:, None] == epochs[None, :]).astype(float)
    shared = np.kron((prior.left_over * scale) ** 2 * alike, np.eye(size))
    noise = np.kron(
        (prior.loose * scale) ** 2 * np.eye(len(conditions)), np.eye(size)
    ) + _reading_noise(pattern, conditions)
    return Model(
        pattern=pattern, conditions=conditions, base=shared + noise, shared=shared
    )


def _reading_noise(pattern: Pattern, conditions: Sequence[Condition]) -> FloatArray:
    """Covariance of the readings; of conditions to come, as the typical series."""
    rows = contrasts(len(pattern.numbers))
    size, n, count = len(rows), len(conditions), len(pattern.series)
    noise = np.zeros((n, size, n, size))
    for i, one in enumerate(pattern.series):
        scaled = one.covariance * np.outer(one.tensions, one.tensions)
        noise[i, :, i, :] = rows @ scaled @ rows.T
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

    Returns
    -------
    tuple of Account
        Heaviest first; weights sum to one. Of two causes at once forms that both do
        badly are left out, which counts a little against two.
    """
    forms = forms_of(model.pattern, model.conditions, prior)
    scorer = _Scorer.of(model, forms)
    singles = [cause for cause in forms if cause is not Cause.UNKNOWN]
    entries: list[tuple[tuple[Form, ...], float]] = [
        ((), np.log(prior.of_none) + float(scorer.score([(-1, -1)])[0]))
    ]
    alone: dict[Cause, FloatArray] = {}
    for cause, each in forms.items():
        is_known = cause is not Cause.UNKNOWN
        before = prior.of_singles / len(singles) if is_known else prior.of_unknown
        places = scorer.places[cause]
        alone[cause] = scorer.score([(place, -1) for place in places])
        entries += [
            ((form,), float(s) + np.log(before * form.weight))
            for form, s in zip(each, alone[cause], strict=True)
        ]
    pairs = list(combinations(singles, 2))
    for first, second in pairs:
        together = _tried_together(scorer, alone, first, second)
        before = prior.of_pairs / len(pairs)
        for (a, b), s in zip(together, scorer.score(together), strict=True):
            pair = (scorer.forms[a], scorer.forms[b])
            weight = before * pair[0].weight * pair[1].weight
            entries.append((pair, float(s) + np.log(weight)))
    logs = np.array([score for _, score in entries])
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    order = np.argsort(-weights, kind="stable")
    return tuple(Account(forms=entries[i][0], weight=float(weights[i])) for i in order)


def _tried_together(
    scorer: "_Scorer", alone: dict[Cause, FloatArray], first: Cause, second: Cause
) -> list[tuple[int, int]]:
    """The forms of two causes that matter together.

    All forms of either with the few of the other that do best: a weak cause beside a
    strong one shows in many forms a little, and all of them count.
    """
    ranked: list[list[int]] = []
    for mine, other in ((first, second), (second, first)):
        partner = scorer.places[other][int(np.argmax(alone[other]))]
        places = scorer.places[mine]
        scores = scorer.score([(place, partner) for place in places])
        ranked.append([places[i] for i in np.argsort(-scores, kind="stable")])
    return [
        (a, b)
        for i, a in enumerate(ranked[0])
        for j, b in enumerate(ranked[1])
        if min(i, j) < _BEST or max(i, j) < _KEPT
    ]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Scorer:
    """Logarithms of the densities of what was measured, forms known by their places."""

    forms: tuple[Form, ...]
    places: dict[Cause, range]
    base: FloatArray
    observed: FloatArray
    spreads: FloatArray  # (n_forms + 1, n, n); the last is nought
    levels: FloatArray  # (n_forms + 1, n)
    least_variance: float

    @classmethod
    def of(cls, model: Model, forms: dict[Cause, tuple[Form, ...]]) -> "_Scorer":
        """Work out every form once, over what was measured."""
        flat: list[Form] = []
        places = {}
        for cause, each in forms.items():
            places[cause] = range(len(flat), len(flat) + len(each))
            flat += each
        n, k = model.n_observed, len(model.pattern.series)
        spreads = np.zeros((len(flat) + 1, n, n))
        levels = np.zeros((len(flat) + 1, n))
        for i, form in enumerate(flat):
            seen = replace(form, spread=form.spread[:k, :k], shape=form.shape[:k])
            spreads[i] = model.spread_of(seen)
            levels[i] = model.level_of(seen)
        return cls(
            forms=tuple(flat),
            places=places,
            base=model.base[:n, :n],
            observed=model.observed,
            spreads=spreads,
            levels=levels,
            least_variance=float(np.linalg.eigvalsh(model.base[:n, :n])[0]),
        )

    def score(self, accounts: Sequence[tuple[int, int]]) -> FloatArray:
        """One logarithm per pair of places, -1 for none."""
        found = []
        for i in range(0, len(accounts), _CHUNK):
            a, b = np.array(accounts[i : i + _CHUNK]).T
            covariances = self.base + self.spreads[a] + self.spreads[b]
            residuals = self.observed - self.levels[a] - self.levels[b]
            least = self.least_variance
            found.append(log_densities(residuals, covariances, least_variance=least))
        return np.concatenate(found)


def log_densities(
    residuals: FloatArray, covariances: FloatArray, *, least_variance: float
) -> FloatArray:
    """Compute logarithms of normal densities.

    Parameters
    ----------
    residuals : ndarray, shape (n_cases, n_entries)
        What was found less what was expected. [N]
    covariances : ndarray, shape (n_cases, n_entries, n_entries)
        Symmetric, positive. [N^2]
    least_variance : float
        No variance of any combination of entries, scaled to length one, is less. [N^2]

    Returns
    -------
    ndarray, shape (n_cases,)
        Natural logarithms of the densities. [1]

    Notes
    -----
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

    Returns
    -------
    expected : ndarray, shape (n_further,)
        Entries expected of a reading. [N]
    covariance : ndarray, shape (n_further, n_further)
        Of a reading, noise included. [N^2]
    deviations : ndarray, shape (n_conditions, n_ropes)
        Deviation of each rope that the account gives, noise left out. [N]
    """
    n = model.n_observed
    whole = model.base.copy()
    signal = model.shared.copy()
    level = np.zeros(len(whole))
    for form in forms:
        spread = model.spread_of(form)
        whole += spread
        signal += spread
        level += model.level_of(form)
    gain = np.linalg.solve(whole[:n, :n], whole[:n, n:]).T
    away = model.observed - level[:n]
    expected = level[n:] + gain @ away
    covariance = whole[n:, n:] - gain @ whole[:n, n:]
    told = level + signal[:, :n] @ np.linalg.solve(whole[:n, :n], away)
    rows = contrasts(len(model.pattern.numbers))
    deviations = told.reshape(-1, model.n_contrasts) @ rows
    return expected, covariance, deviations


def weights_of(accounts: Sequence[Account]) -> dict[Causes, float]:
    """Sum the weights of all forms of each hypothesis, the heaviest first. [1]."""
    sums: dict[Causes, float] = {NONE: 0.0}
    for account in accounts:
        sums[account.causes] = sums.get(account.causes, 0.0) + account.weight
    return dict(sorted(sums.items(), key=lambda item: -item[1]))
