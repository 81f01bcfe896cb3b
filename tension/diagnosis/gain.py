"""Which further measurement would settle most, by expected gain of information."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tension.diagnosis.conditions import (
    MANY_TRIPS,
    Condition,
    FloatArray,
    Pattern,
    at_place,
)
from tension.diagnosis.evidence import Account, Model, foretell, log_densities
from tension.diagnosis.outcome import Causes, NextMeasurement, Step
from tension.installation import Side

_MOST_ACCOUNTS = 24
_DRAWS = 96
_SEED = 0
_ADDED = 0.3
"""Load added for a test, over the mean tension. [1]"""

_WEEKS_LATER = 4.0


def possible_steps(pattern: Pattern) -> tuple[tuple[Step, Condition], ...]:
    """List the measurements that could follow, those already taken left out."""
    car = [c for c in pattern.conditions if c.side is Side.CAR]
    base = (car or list(pattern.conditions))[-1]
    base = replace(base, is_by_span=True)
    system, travel = pattern.system, pattern.system.travel
    places = [c.rope_passed for c in pattern.conditions]
    far = travel if max(places) < 0.8 * travel else 0.0
    way = {0.0: "up", travel: "down"}

    def moved(passed: float, arrived: str, side: Side = Side.CAR) -> Condition:
        there = at_place(base, side=side, rope_passed=passed, system=system)
        trips = base.round_trips
        trips = trips if trips >= MANY_TRIPS else trips + 1
        return replace(there, arrived=arrived, round_trips=trips)

    middle = 0.5 * travel
    mids = [
        c for c in pattern.conditions if 0.2 * travel < c.rope_passed < 0.8 * travel
    ]
    missing = "down" if any(c.arrived == "up" for c in mids) else "up"
    steps = []
    if not any(abs(p - far) < 0.15 * travel for p in places):
        steps.append((Step.OTHER_END, moved(far, way[far])))
    if not mids:
        steps.append((Step.MIDDLE, moved(middle, "up")))
    elif len({c.arrived for c in mids}) < 2:
        steps.append((Step.OTHER_ARRIVAL, moved(mids[0].rope_passed, missing)))
    if not any(c.side is Side.COUNTERWEIGHT for c in pattern.conditions):
        steps.append((Step.OTHER_SIDE, moved(middle, "up", Side.COUNTERWEIGHT)))
    loads = [c.load_tension for c in car] or [base.load_tension]
    if max(loads) < 1.1 * min(loads):
        more = (1.0 + _ADDED) * base.load_tension
        steps.append(
            (Step.ADDED_LOAD, replace(base, mean_tension=more, load_tension=more))
        )
    steps.append((Step.LATER, replace(base, weeks=base.weeks + _WEEKS_LATER)))
    if base.round_trips < MANY_TRIPS:
        trips = base.round_trips + 3
        steps.append((Step.MORE_ROUND_TRIPS, replace(base, round_trips=trips)))
    if all(c.is_by_pitch for c in pattern.conditions):
        steps.append((Step.BY_PULL, replace(base, is_by_pitch=False)))
    steps.append((Step.AFTER_A_RUN, moved(base.rope_passed, base.arrived)))
    pointless = _pointless_steps(pattern)
    return tuple(step for step in steps if step[0] not in pointless)


def _pointless_steps(pattern: Pattern) -> set[Step]:
    """Steps that need a sheave or a way to go, where there is none."""
    pointless = set()
    if not pattern.has_sheave:
        pointless |= {Step.OTHER_SIDE, Step.OTHER_ARRIVAL, Step.MORE_ROUND_TRIPS}
    if not pattern.system.travel:
        pointless |= {Step.OTHER_END, Step.MIDDLE, Step.OTHER_ARRIVAL}
    return pointless


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
    kept = list(accounts[:_MOST_ACCOUNTS])
    weights = np.array([account.weight for account in kept])
    weights /= weights.sum()
    names = [account.causes for account in kept]
    told = [foretell(model, account.forms)[:2] for account in kept]
    now = _entropy(weights, names)
    size = model.n_contrasts
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
    # as many draws of each account as its weight asks for, one at least of the heavy
    counts = np.maximum(np.round(_DRAWS * weights), weights > 0.02).astype(int)
    total, summed = 0.0, 0.0
    for k, count in enumerate(counts):
        for _ in range(count):
            drawn = means[k] + factors[k] @ random.standard_normal(len(means[k]))
            logs = log_densities(drawn - means, covariances, least_variance=least)
            logs = logs + np.log(weights + 1e-300)
            after = np.exp(logs - logs.max())
            share = weights[k] / count
            summed += share * _entropy(after / after.sum(), names)
            total += share
    return summed / total


def _entropy(weights: FloatArray, names: Sequence[Causes]) -> float:
    """Entropy of the hypotheses, their forms put together. [bit]."""
    sums: dict[Causes, float] = {}
    for name, weight in zip(names, weights, strict=True):
        sums[name] = sums.get(name, 0.0) + float(weight)
    found = np.array([s for s in sums.values() if s > 0.0])
    return float(-(found * np.log2(found)).sum())
