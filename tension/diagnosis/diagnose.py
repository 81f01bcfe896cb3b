"""From a pattern to what it suggests, and the numbers that tell."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import permutations

import numpy as np

from tension.diagnosis import evidence
from tension.diagnosis.conditions import Condition, FloatArray, Pattern, at_place
from tension.diagnosis.forms import Form, Prior
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
from tension.installation import Side
from tension.notes import Note

SPEAKS = 0.85
"""Weight from which a cause is named; tests/benchmarks/causes.py tells what it lets
pass. [1]"""

_PLACES = 9  # places over the travel at which a cause is looked at


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
    steps = evidence.possible_steps(pattern)
    grid = _grid(pattern)
    model = evidence.make_model(pattern, chosen, (*(c for _, c in steps), *grid))
    accounts = evidence.weigh(model, chosen)
    best = {account.causes: account.forms for account in reversed(accounts)}
    suspects = tuple(
        Suspect(
            causes=causes, weight=weight, ropes=_ropes(best.get(causes, ()), pattern)
        )
        for causes, weight in evidence.weights_of(accounts).items()
    )
    return Diagnosis(
        pattern=pattern,
        conclusion=_conclude(suspects, pattern),
        suspects=suspects,
        telltales=_telltales(suspects, best, pattern),
        next_measurement=evidence.find_next(model, accounts, steps),
        curves=tuple(_curves(suspects, best, model, grid)),
        notes=tuple(notes),
    )


def _ropes(forms: Sequence[Form], pattern: Pattern) -> tuple[int, ...]:
    """Ropes that the likeliest form of a hypothesis singles out."""
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
    of_causes = {
        NONE: Conclusion.NOTHING_TO_EXPLAIN,
        (Cause.UNKNOWN,): Conclusion.UNKNOWN_PATTERN,
    }
    return of_causes.get(first.causes, Conclusion.SUGGESTS)


def _telltales(
    suspects: Sequence[Suspect],
    best: Mapping[Causes, Sequence[Form]],
    pattern: Pattern,
) -> tuple[Telltale, ...]:
    """The numbers for the causes of the suspects that are named."""
    found: dict[Cause, Telltale] = {}
    for suspect in suspects[:3]:
        for form in best[suspect.causes] if suspect.weight >= 0.05 else ():
            maker = _MAKERS.get(form.cause)
            told = maker(form, pattern) if maker else None
            if told is not None:
                found.setdefault(form.cause, told)
    return tuple(found.values())


def _grid(pattern: Pattern) -> tuple[Condition, ...]:
    """Places along the travel on the car side, up and down, as in the last series."""
    base, system = pattern.conditions[-1], pattern.system
    places = np.linspace(0.0, system.travel, _PLACES if system.travel > 0 else 1)
    there = [
        at_place(base, side=Side.CAR, rope_passed=float(place), system=system)
        for place in places
    ]
    return tuple(replace(c, arrived=way) for way in ("up", "down") for c in there)


def _curves(
    suspects: Sequence[Suspect],
    best: Mapping[Causes, Sequence[Form]],
    model: evidence.Model,
    grid: Sequence[Condition],
) -> Iterator[Curve]:
    """Curves of the first hypothesis, and of the first other one of one cause."""
    known = [s for s in suspects if s.causes and s.causes != (Cause.UNKNOWN,)]
    others = [s for s in known[1:] if len(s.causes) == 1]
    places = np.array([c.rope_passed for c in grid[: len(grid) // 2]])
    for suspect in (*known[:1], *others[:1]):
        told = evidence.foretell(model, best[suspect.causes])[2][-len(grid) :]
        yield Curve(
            suspect=suspect,
            rope_passed=places,
            deviations=told.reshape(2, len(places), -1),
        )


def _of_length(form: Form, pattern: Pattern) -> Telltale:
    """How far a rope lies off, and how far that changes from place to place."""
    deviations = pattern.deviations
    widest = max(
        pattern.settings,
        key=lambda own: float(np.abs(deviations[own].mean(axis=0)).max()),
    )
    rope = _rope(form, np.abs(deviations[widest].mean(axis=0)))
    own, wide = deviations[widest, rope], pattern.uncertainties[widest, rope]
    return Telltale(
        cause=form.cause,
        rope=pattern.numbers[rope],
        value=float(own.mean()),
        uncertainty=np.sqrt((wide**2).sum()) / len(widest),
        against=np.ptp(own),
        where=f"{len(widest)} series",
    )


def _between_extremes(form: Form, pattern: Pattern) -> Telltale:
    """Deviation where the form is largest, against where it is least or opposite."""
    deviations, wide = pattern.deviations, pattern.uncertainties
    shape = form.shape[: len(pattern.series)]
    if form.cause is Cause.TWIST:
        shape = deviations[:, _rope(form, np.ptp(deviations, axis=0))]
    among = max(pattern.settings, key=lambda own: float(np.ptp(shape[own])))
    high, low = max(among, key=shape.__getitem__), min(among, key=shape.__getitem__)
    rope = _rope(form, np.abs(deviations[high] - deviations[low]))
    return Telltale(
        cause=form.cause,
        rope=pattern.numbers[rope],
        value=deviations[high, rope],
        uncertainty=np.hypot(wide[high, rope], wide[low, rope]),
        against=deviations[low, rope],
        where=pattern.conditions[high].name,
        elsewhere=pattern.conditions[low].name,
    )


def _of_added_load(form: Form, pattern: Pattern) -> Telltale | None:
    """Share of the added load that a rope takes, against an even one."""
    conditions, even = pattern.conditions, 1.0 / len(pattern.numbers)
    loads = [c.load_tension for c in conditions]
    heavy, light = max(  # the two of one side of which the load differs most
        (
            (i, j)
            for i, j in permutations(range(len(loads)), 2)
            if conditions[i].side is conditions[j].side
        ),
        key=lambda two: loads[two[0]] - loads[two[1]],
        default=(0, 0),
    )
    if loads[heavy] <= loads[light]:
        return None
    added = pattern.series[heavy].tensions - pattern.series[light].tensions
    shares = added / added.sum() if abs(added.sum()) > 0 else np.full_like(added, even)
    rope = _rope(form, np.abs(shares - even))
    wide = pattern.uncertainties[:, rope]
    return Telltale(
        cause=form.cause,
        rope=pattern.numbers[rope],
        value=shares[rope],
        uncertainty=np.hypot(wide[heavy], wide[light]) / max(abs(added.sum()), 1e-9),
        against=even,
        where=conditions[heavy].name,
        elsewhere=conditions[light].name,
    )


def _of_mass(form: Form, pattern: Pattern) -> Telltale:
    """Deviation by pitch as a fraction of the mean, the same at every load."""
    by_pitch = np.array([c.is_by_pitch for c in pattern.conditions])
    means = np.array([c.mean_tension for c in pattern.conditions])
    relative = pattern.deviations / means[:, None]
    rope = _rope(form, np.abs(relative[by_pitch].mean(axis=0)))
    own, other = relative[by_pitch, rope], relative[~by_pitch, rope]
    wide = (pattern.uncertainties / means[:, None])[by_pitch, rope]
    return Telltale(
        cause=form.cause,
        rope=pattern.numbers[rope],
        value=float(own.mean()),
        uncertainty=np.sqrt((wide**2).sum()) / len(own),
        against=other.mean() if len(other) else np.nan,
        where=f"{len(own)} series by pitch",
        elsewhere=f"{len(other)} series by pull or spring" if len(other) else "",
    )


def _of_stagger(form: Form, pattern: Pattern) -> Telltale:
    """Length that would explain the deviations, least squares over the series."""
    shape = form.shape[: len(pattern.series)]
    lengths = shape @ pattern.deviations / float(shape @ shape)
    wide = np.sqrt((shape[:, None] ** 2 * pattern.uncertainties**2).sum(axis=0))
    rope = _largest(np.abs(lengths))
    other = _largest(-lengths * np.sign(lengths[rope]))
    return Telltale(
        cause=form.cause,
        rope=pattern.numbers[rope],
        value=lengths[rope] - lengths[other],
        uncertainty=np.hypot(wide[rope], wide[other]) / float(shape @ shape),
        against=float(pattern.numbers[other]),
    )


def _rope(form: Form, sizes: FloatArray) -> int:
    """The rope of the form, or the one on which it shows most."""
    return form.rope if form.rope is not None else _largest(sizes)


def _largest(values: FloatArray) -> int:
    """Place of the largest; of those alike but for the last digits the first."""
    hair = 1e-9 * float(np.abs(values).max())
    return int(np.argmax(values >= values.max() - hair))


_MAKERS: dict[Cause, Callable[[Form, Pattern], Telltale | None]] = {
    Cause.LENGTH: _of_length,
    Cause.GROOVE: _between_extremes,
    Cause.NOT_RUN_IN: _between_extremes,
    Cause.SETTLING: _between_extremes,
    Cause.TWIST: _between_extremes,
    Cause.TOUCHING: _between_extremes,
    Cause.STIFFNESS: _of_added_load,
    Cause.BOUND_SPRING: _of_added_load,
    Cause.MASS: _of_mass,
    Cause.STAGGER: _of_stagger,
}
