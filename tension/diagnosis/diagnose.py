"""From a pattern to what it suggests, and the numbers that tell."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import chain

import numpy as np

from tension.diagnosis import evidence
from tension.diagnosis.forms import Form, Prior
from tension.diagnosis.outcome import (
    Cause,
    Causes,
    Conclusion,
    Curve,
    Diagnosis,
    Pattern,
    Suspect,
    Telltale,
)
from tension.installation import Side
from tension.notes import Note
from tension.physics import FloatArray

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
    base, system = pattern.conditions[-1], pattern.system
    places = np.linspace(0.0, system.travel, _PLACES if system.travel > 0 else 1)
    there = [base.at(place, system) for place in places.tolist()]
    # along the travel on the car side, up and down, as in the last series
    grid = [replace(c, arrived=way) for way in ("up", "down") for c in there]
    model = evidence.make_model(pattern, chosen, (*(c for _, c in steps), *grid))
    accounts = evidence.weigh(model, chosen)
    best = {account.causes: account.forms for account in reversed(accounts)}
    suspects = []
    for causes, weight in evidence.weights_of(accounts).items():
        of = {form.rope for form in best[causes]}
        ropes = tuple(n for i, n in enumerate(pattern.numbers) if i in of)
        suspects.append(Suspect(causes=causes, weight=weight, ropes=ropes))
    return Diagnosis(
        pattern=pattern,
        conclusion=_conclude(suspects, pattern),
        suspects=tuple(suspects),
        telltales=_telltales(suspects, best, pattern),
        next_measurement=evidence.find_next(model, accounts, steps),
        curves=tuple(_curves(suspects, best, model, places)),
        notes=tuple(notes),
    )


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
        (): Conclusion.NOTHING_TO_EXPLAIN,
        (Cause.UNKNOWN,): Conclusion.UNKNOWN_PATTERN,
    }
    return of_causes.get(first.causes, Conclusion.SUGGESTS)


def _curves(
    suspects: Sequence[Suspect],
    best: Mapping[Causes, Sequence[Form]],
    model: evidence.Model,
    places: FloatArray,
) -> Iterator[Curve]:
    """Curves of the first hypothesis, and of the first other one of one cause."""
    known = [s for s in suspects if s.causes and s.causes != (Cause.UNKNOWN,)]
    others = [s for s in known[1:] if len(s.causes) == 1]
    for suspect in (*known[:1], *others[:1]):
        told = evidence.foretell(model, best[suspect.causes])[2][-2 * len(places) :]
        both = told.reshape(2, len(places), -1)
        yield Curve(suspect=suspect, rope_passed=places, deviations=both)


_Read = tuple[FloatArray, FloatArray, FloatArray, FloatArray, str, str]
"""Of every rope how much a cause shows on it, the number that tells, its standard
uncertainty and what it is read against; the conditions of both."""


def _telltales(
    suspects: Sequence[Suspect], best: Mapping[Causes, Sequence[Form]], pattern: Pattern
) -> tuple[Telltale, ...]:
    """The numbers for the causes of the suspects that are named."""
    found: dict[Cause, Telltale] = {}
    named = [best[s.causes] for s in suspects[:3] if s.weight >= 0.05]
    for form in chain(*named):
        read = _READERS.get(form.cause, _between_extremes)(form, pattern)
        if read is None:
            continue
        sizes, values, uncertainties, against, where, elsewhere = read
        rope = evidence.largest(sizes) if form.rope is None else form.rope
        told = Telltale(
            cause=form.cause,
            rope=pattern.numbers[rope],
            value=float(values[rope]),
            uncertainty=float(uncertainties[rope]),
            against=float(against[rope]),
            where=where,
            elsewhere=elsewhere,
        )
        found.setdefault(form.cause, told)
    return tuple(found.values())


def _of_length(_form: Form, pattern: Pattern) -> _Read:
    """How far ropes lie off, and how far that changes from place to place."""
    deviations = pattern.deviations
    means = [deviations[own].mean(axis=0) for own in pattern.settings]
    widest = max(range(len(means)), key=lambda i: float(np.abs(means[i]).max()))
    series = pattern.settings[widest]
    wide = np.sqrt((pattern.uncertainties[series] ** 2).sum(axis=0)) / len(series)
    change = np.ptp(deviations[series], axis=0)
    size = np.abs(means[widest])
    return size, means[widest], wide, change, f"{len(series)} series", ""


def _between_extremes(form: Form, pattern: Pattern) -> _Read:
    """Deviations where the form is largest, against where it is least or opposite."""
    deviations, wide = pattern.deviations, pattern.uncertainties
    shape = form.shape[: len(pattern.conditions)]
    if form.cause is Cause.TWIST:
        shape = deviations[:, form.rope]
    among = max(pattern.settings, key=lambda own: float(np.ptp(shape[own])))
    high, low = max(among, key=shape.__getitem__), min(among, key=shape.__getitem__)
    size = np.abs(deviations[high] - deviations[low])
    names = pattern.conditions[high].name, pattern.conditions[low].name
    width = np.hypot(wide[high], wide[low])
    return size, deviations[high], width, deviations[low], *names


def _of_added_load(_form: Form, pattern: Pattern) -> _Read | None:
    """Shares of the added load that ropes take, against an even one."""
    conditions, n_ropes = pattern.conditions, len(pattern.numbers)
    loads = np.array([c.load_tension for c in conditions])
    of_sides = [
        [i for i, c in enumerate(conditions) if c.side is side] for side in Side
    ]
    among = max(of_sides, key=lambda own: np.ptp(loads[own]) if own else 0.0)
    heavy, light = max(among, key=loads.__getitem__), min(among, key=loads.__getitem__)
    if loads[heavy] <= loads[light]:
        return None
    added = pattern.tensions[heavy] - pattern.tensions[light]
    even, whole = np.full(n_ropes, 1.0 / n_ropes), abs(float(added.sum()))
    shares = added / added.sum() if whole > 0.0 else even
    wide = pattern.uncertainties
    width = np.hypot(wide[heavy], wide[light]) / max(whole, 1e-9)
    names = conditions[heavy].name, conditions[light].name
    return np.abs(shares - even), shares, width, even, *names


def _of_mass(_form: Form, pattern: Pattern) -> _Read:
    """Deviations by pitch as a fraction of the mean, the same at every load."""
    by_pitch = np.array([c.is_by_pitch for c in pattern.conditions])
    means = np.array([[c.mean_tension] for c in pattern.conditions])
    relative, wide = pattern.deviations / means, pattern.uncertainties / means
    n, n_others = int(by_pitch.sum()), int((~by_pitch).sum())
    own, other = relative[by_pitch].mean(axis=0), np.full(relative.shape[1], np.nan)
    elsewhere = ""
    if n_others:
        other = relative[~by_pitch].mean(axis=0)
        elsewhere = f"{n_others} series by pull or spring"
    width = np.sqrt((wide[by_pitch] ** 2).sum(axis=0)) / n
    return np.abs(own), own, width, other, f"{n} series by pitch", elsewhere


def _of_stagger(form: Form, pattern: Pattern) -> _Read:
    """Lengths that would explain the deviations, least squares over the series.

    Against the rope that lies furthest the other way.
    """
    shape = form.shape[: len(pattern.conditions)]
    square = float(shape @ shape)
    lengths = shape @ pattern.deviations / square
    wide = np.sqrt((shape[:, None] ** 2 * pattern.uncertainties**2).sum(axis=0))
    size = np.abs(lengths)
    other = evidence.largest(-lengths * np.sign(lengths[evidence.largest(size)]))
    width = np.hypot(wide, wide[other]) / square
    numbers = np.full(len(lengths), pattern.numbers[other])
    return size, lengths - lengths[other], width, numbers, "", ""


_READERS: dict[Cause, Callable[[Form, Pattern], _Read | None]] = {
    Cause.LENGTH: _of_length,
    Cause.STIFFNESS: _of_added_load,
    Cause.BOUND_SPRING: _of_added_load,
    Cause.MASS: _of_mass,
    Cause.STAGGER: _of_stagger,
    Cause.UNKNOWN: lambda *_: None,
}
"""How the number that tells is read; of the others it is `_between_extremes`."""
