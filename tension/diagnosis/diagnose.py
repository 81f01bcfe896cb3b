"""From a pattern to what it suggests."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from tension.diagnosis.conditions import Condition, Pattern, at_place
from tension.diagnosis.evidence import (
    Account,
    Model,
    foretell,
    make_model,
    weigh,
    weights_of,
)
from tension.diagnosis.forms import Prior
from tension.diagnosis.gain import find_next, possible_steps
from tension.diagnosis.outcome import (
    NONE,
    Cause,
    Causes,
    Conclusion,
    Curve,
    Diagnosis,
    Suspect,
    Telltale,
)
from tension.diagnosis.telltales import find_telltale
from tension.installation import Side
from tension.notes import Note

SPEAKS = 0.85
"""Weight from which a cause is named; tests/benchmarks/causes.py tells what it lets
pass. [1]"""

_PLACES = 9


def diagnose(
    pattern: Pattern, *, prior: Prior | None = None, notes: Sequence[Note] = ()
) -> Diagnosis:
    """Hold a pattern against every cause, alone and two at once.

    Parameters
    ----------
    pattern : Pattern
        Series of one set.
    prior : Prior, optional
        What is expected before looking; the program's own if left out.
    notes : sequence of Note
        What is doubtful in the series.

    Returns
    -------
    Diagnosis
        Weights, the number that tells, the next measurement. One series of a setting of
        the nuts never gives a conclusion.

    Examples
    --------
    With the weights of a prior of one's own::

        tension.diagnose(pattern, prior=prior)
    """
    chosen = prior or Prior()
    steps = possible_steps(pattern)
    grid = _grid(pattern)
    model = make_model(pattern, chosen, (*(c for _, c in steps), *grid))
    accounts = weigh(model, chosen)
    best = {account.causes: account for account in reversed(accounts)}
    suspects = tuple(
        Suspect(causes=causes, weight=weight, ropes=_ropes(best.get(causes), pattern))
        for causes, weight in weights_of(accounts).items()
    )
    return Diagnosis(
        pattern=pattern,
        conclusion=_conclude(suspects, pattern),
        suspects=suspects,
        telltales=_telltales(suspects, best, pattern),
        next_measurement=find_next(model, accounts, steps),
        curves=tuple(
            curve
            for suspect in _to_draw(suspects)
            for curve in _curves(suspect, best[suspect.causes], model, grid)
        ),
        notes=tuple(notes),
    )


def _ropes(best: Account | None, pattern: Pattern) -> tuple[int, ...]:
    """Ropes that the likeliest form of a hypothesis singles out."""
    forms = best.forms if best else ()
    found = {pattern.numbers[form.rope] for form in forms if form.rope is not None}
    return tuple(sorted(found))


def _conclude(suspects: Sequence[Suspect], pattern: Pattern) -> Conclusion:
    """Tell how far the weights say something."""
    first = suspects[0]
    of_two = sum(s.weight for s in suspects if len(s.causes) == 2)
    if pattern.n_series_of_one_setting < 2:  # nuts put any cause right at one place
        return Conclusion.NOTHING_CONCLUDED
    if of_two >= SPEAKS:
        return Conclusion.TWO_CAUSES
    if first.weight < SPEAKS:
        return Conclusion.NOTHING_CONCLUDED
    if first.causes == NONE:
        return Conclusion.NOTHING_TO_EXPLAIN
    if first.causes == (Cause.UNKNOWN,):
        return Conclusion.UNKNOWN_PATTERN
    return Conclusion.SUGGESTS


def _telltales(
    suspects: Sequence[Suspect], best: Mapping[Causes, Account], pattern: Pattern
) -> tuple[Telltale, ...]:
    """The numbers for the causes of the suspects that are named."""
    found: dict[Cause, Telltale] = {}
    for suspect in suspects[:3]:
        if suspect.weight < 0.05:
            continue
        for form in best[suspect.causes].forms:
            told = find_telltale(form, pattern)
            if told is not None:
                found.setdefault(form.cause, told)
    return tuple(found.values())


def _to_draw(suspects: Sequence[Suspect]) -> list[Suspect]:
    """The first hypothesis, and the first other one of one cause, for contrast."""
    known = [s for s in suspects if s.causes and s.causes != (Cause.UNKNOWN,)]
    first = known[:1]
    others = [s for s in known[1:] if len(s.causes) == 1]
    return [*first, *others[:1]]


def _grid(pattern: Pattern) -> tuple[Condition, ...]:
    """Places along the travel on the car side, up and down, as in the last series."""
    base = pattern.conditions[-1]
    travel = pattern.system.travel
    places = np.linspace(0.0, travel, _PLACES) if travel > 0 else np.zeros(1)
    return tuple(
        replace(
            at_place(
                base, side=Side.CAR, rope_passed=float(place), system=pattern.system
            ),
            arrived=arrived,
        )
        for arrived in ("up", "down")
        for place in places
    )


def _curves(
    suspect: Suspect, best: Account, model: Model, grid: Sequence[Condition]
) -> Iterator[Curve]:
    """Deviations along the travel by the likeliest form of a hypothesis."""
    told = foretell(model, best.forms)[2][-len(grid) :]
    places = np.array([c.rope_passed for c in grid])
    for arrived in ("up", "down"):
        mask = np.array([c.arrived == arrived for c in grid])
        yield Curve(
            suspect=suspect,
            arrived=arrived,
            rope_passed=places[mask],
            deviations=told[mask],
        )
