"""What to measure again: the rope whose repeat would most likely settle the answer."""

from collections.abc import Iterator
from dataclasses import replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from tension.assessment.interval import OUTER, SetSimulation
from tension.catalogue.rules import Rule
from tension.measurement.outcome import SetMeasurement, TensionHypothesis

Array = NDArray[np.float64]

_N_DRAWS = 1000
_HEAVIEST = 5
_NODES = tuple(NormalDist().inv_cdf(p) for p in (0.1, 0.3, 0.5, 0.7, 0.9))
_SAME_NUMBERING = 0.02


def rank_repeats(measurement: SetMeasurement, rule: Rule) -> tuple[int, ...]:
    """Rank the ropes by how much a repeat would help to decide.

    Ropes without a number come first, then the most useful; those whose repeat would
    not help are left out, but one is always named. A repeat of one rope halves the
    variance of its reading, moves it as repeats do, and settles how its partials are
    numbered; the decision is then made anew.

    Parameters
    ----------
    measurement : SetMeasurement
        A measurement that did not decide, of two ropes or more.
    rule : Rule
        The rule that decides.
    """
    given = measurement.given
    missing = tuple(r.number for r in measurement.ropes if r.number not in given)
    hypotheses = measurement.hypotheses[:_HEAVIEST]
    if any(h.covariance is not None for h in hypotheses):
        # cases that no repeat settles: the covariance holds all of them
        hypotheses = (replace(hypotheses[0], weight=1.0),)
    now = _doubt([(1.0, hypotheses, measurement.covariance)], rule)
    scores = [
        _doubt(list(_after_repeat(measurement, hypotheses, index)), rule)
        for index in range(len(given))
    ]
    order = sorted(range(len(given)), key=lambda i: (scores[i], given[i]))
    useful = [given[i] for i in order if scores[i] < 0.98 * now]
    if not missing and not useful:
        useful = [given[order[0]]]
    return missing + tuple(useful)


Outcome = tuple[float, tuple[TensionHypothesis, ...], Array]


def _after_repeat(
    measurement: SetMeasurement, hypotheses: tuple[TensionHypothesis, ...], index: int
) -> Iterator[Outcome]:
    """Possible states of knowledge after one rope has been measured again."""
    scale = np.ones(len(measurement.given))
    scale[index] = np.sqrt(0.5)
    covariance = measurement.covariance * np.outer(scale, scale)
    step = float(np.sqrt(covariance[index, index]))
    for group in _grouped(hypotheses, index):
        weight = sum(h.weight for h in group)
        for node in _NODES:
            factor = np.ones(len(scale))
            factor[index] = np.exp(step * node)
            yield (
                weight / len(_NODES),
                tuple(
                    TensionHypothesis(
                        weight=h.weight / weight, tensions=h.tensions * factor
                    )
                    for h in group
                ),
                covariance,
            )


def _grouped(
    hypotheses: tuple[TensionHypothesis, ...], index: int
) -> list[tuple[TensionHypothesis, ...]]:
    """Group the hypotheses by the numbering of one rope."""
    groups: list[list[TensionHypothesis]] = []
    for hypothesis in hypotheses:
        for group in groups:
            ratio = hypothesis.tensions[index] / group[0].tensions[index]
            if abs(ratio - 1) < _SAME_NUMBERING:
                group.append(hypothesis)
                break
        else:
            groups.append([hypothesis])
    return [tuple(group) for group in groups]


def _doubt(outcomes: list[Outcome], rule: Rule) -> float:
    """Chance that nothing is decided, plus a little for how far from it."""
    total = 0.0
    for weight, hypotheses, covariance in outcomes:
        over = SetSimulation(
            tensions=[h.tensions for h in hypotheses],
            weights=[h.weight for h in hypotheses],
            covariance=covariance,
            n_draws=_N_DRAWS,
        ).probability_over(rule.limit, rule.metric)
        nearest = min(over, 1 - over)
        total += weight * (nearest + (1.0 if nearest >= OUTER else 0.0))
    return total
