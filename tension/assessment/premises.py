"""What a result rests on that the record does not say, and the question to ask.

The measurement may hold hypotheses under different premises, such as springs at the
hitch or none. The set is judged under all of them together; where that does not decide,
it is judged under each alone, to see whether the answer to one question would.
"""

from collections.abc import Sequence

from tension.assessment.bounds import Bounds, find_bounds
from tension.assessment.interval import SetSimulation
from tension.assessment.outcome import Verdict
from tension.catalogue.rules import Rule
from tension.measurement.outcome import Premise, SetMeasurement, TensionHypothesis
from tension.notes import Note, NoteKind
from tension.quantity.comparison import exceeds

_HAIR = 1e-6
"""Spread taken as being on the limit, which counts as equal. [1]"""


def simulate(
    measurement: SetMeasurement, hypotheses: Sequence[TensionHypothesis] = ()
) -> SetSimulation:
    """Simulate readings of a set under its hypotheses.

    Parameters
    ----------
    measurement : SetMeasurement
        What was measured.
    hypotheses : sequence of TensionHypothesis, optional
        Some of its hypotheses, their weights to sum to one; all if left out.
    """
    taken = hypotheses or measurement.hypotheses
    return SetSimulation(
        tensions=[h.tensions for h in taken],
        weights=[h.weight for h in taken],
        covariance=measurement.covariance,
        own_covariances=[h.covariance for h in taken],
    )


def verdict_of(bounds: Bounds, limit: float) -> Verdict:
    """Hold bounds against a limit.

    Parameters
    ----------
    bounds : Bounds
        Between which the true spread lies.
    limit : float
        Of the rule. [1]

    Returns
    -------
    Verdict
        Equal at or under the limit, unequal over it, else cannot tell.
    """
    if bounds.lower is not None and exceeds(bounds.lower, limit, hair=_HAIR):
        return Verdict.UNEQUAL
    if bounds.upper is not None and not exceeds(bounds.upper, limit, hair=_HAIR):
        return Verdict.EQUAL
    return Verdict.CANNOT_TELL


def springs_question(
    measurement: SetMeasurement, rule: Rule, verdict: Verdict
) -> Note | None:
    """Find whether the answer to "are there springs?" would settle the result.

    Returns
    -------
    Note or None
        The question with the result by each answer; None if neither would decide, or
        nothing is open.
    """
    if verdict is not Verdict.CANNOT_TELL:
        return None
    answers: dict[Premise, Verdict] = {}
    for premise in (Premise.SPRINGS, Premise.NO_SPRINGS):
        found = [h for h in measurement.hypotheses if h.premise is premise]
        if not found:
            return None
        whole = sum(h.weight for h in found)
        simulation = simulate(
            measurement,
            [
                TensionHypothesis(
                    weight=h.weight / whole,
                    tensions=h.tensions,
                    covariance=h.covariance,
                )
                for h in found
            ],
        )
        bounds = find_bounds(measurement, simulation, rule.metric)
        answers[premise] = verdict_of(bounds, rule.limit)
    if set(answers.values()) == {Verdict.CANNOT_TELL}:
        return None
    return NoteKind.SPRINGS_QUESTION.note(
        with_springs=answers[Premise.SPRINGS].words,
        without=answers[Premise.NO_SPRINGS].words,
    )
