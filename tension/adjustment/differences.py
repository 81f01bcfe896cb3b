"""What differs between two series beside the nuts: place, load, newtons, ropes."""

import numpy as np

from tension.adjustment.simulation import own_uncertainties
from tension.assessment.outcome import Assessment
from tension.measurement.outcome import SetMeasurement
from tension.notes import Note, NoteKind, Refusal
from tension.quantity.estimate import Sharing
from tension.wording import rope_list

_FILLING = frozenset({"the", "a", "car", "cabin", "cage", "cab", "lift", "elevator"})
"""Words that say nothing of the load."""

_NOTED, _REFUSED = 0.03, 0.08
"""Differences of the mean tension that are told, and that stop a comparison. [1]"""

_CLEAR = 3.0
"""Standard uncertainties from which a difference counts."""


def find_difference(as_found: Assessment, as_left: Assessment) -> Refusal | None:
    """Find what keeps two series from being held against each other.

    Returns
    -------
    Refusal or None
        The first thing that differs; None if they can be held against each other.
    """
    before, after = as_found.measurement, as_left.measurement
    for measurement in (before, after):
        if measurement.refusal is not None:
            return measurement.refusal
    sides = [m.span.side.value for m in (before, after) if m.span is not None]
    if len(set(sides)) > 1:
        return NoteKind.SIDE_DIFFERS.refusal(before=sides[0], after=sides[1])
    if before.series.span != after.series.span:
        return NoteKind.SPAN_DIFFERS.refusal(
            before=before.series.span, after=after.series.span
        )
    if before.given != after.given or len(before.given) < len(before.ropes):
        both = sorted(set(before.given) & set(after.given))
        return NoteKind.ROPES_DIFFER.refusal(
            both=rope_list(both) if both else "no rope"
        )
    return _find_other_load(before, after)


def _find_other_load(before: SetMeasurement, after: SetMeasurement) -> Refusal | None:
    """Find another load: by the newtons if they are known, else by the words."""
    ratio = mean_ratio(before, after)
    if ratio is None:
        if _is_worded_alike(before, after):
            return None
        return NoteKind.LOAD_DIFFERS.refusal(
            before=_load_text(before), after=_load_text(after)
        )
    if abs(ratio[0] - 1.0) > max(_REFUSED, _CLEAR * ratio[1]):
        return NoteKind.LOAD_BY_NEWTONS.refusal(
            ratio=f"{ratio[0]:.2f}", before=_load_text(before), after=_load_text(after)
        )
    return None


def notes_on_conditions(as_found: Assessment, as_left: Assessment) -> list[Note]:
    """Tell what differs without forbidding the comparison."""
    before, after = as_found.measurement, as_left.measurement
    notes = []
    if _plain(before.series.arrived) != _plain(after.series.arrived):
        notes.append(
            NoteKind.ARRIVED_DIFFERS.note(
                before=before.series.arrived, after=after.series.arrived
            )
        )
    ratio = mean_ratio(before, after)
    if ratio is None:
        return notes
    off = abs(ratio[0] - 1.0)
    if off > max(_NOTED, _CLEAR * ratio[1]):
        notes.append(NoteKind.LOAD_MOVED.note(percent=f"{100 * off:.0f}"))
    elif not _is_worded_alike(before, after):
        notes.append(
            NoteKind.LOAD_WORDED.note(
                before=_load_text(before), after=_load_text(after)
            )
        )
    return notes


def mean_ratio(
    before: SetMeasurement, after: SetMeasurement
) -> tuple[float, float] | None:
    """Hold the mean tensions of two series against each other.

    Returns
    -------
    tuple of (float, float) or None
        Mean after over mean before and its standard uncertainty, what both series share
        left out; None where either knows no newtons. [1]
    """
    means, variance, both = [], 0.0, (before, after)
    for each in both:
        given = [rope.tension for rope in each.ropes if rope.tension is not None]
        if not each.is_absolute or not given:
            return None
        means.append(float(np.mean([estimate.value for estimate in given])))
        own = own_uncertainties(each.covariance)
        variance += float(np.mean(own**2)) / len(given)
    kinds = [{kind for rope in each.ropes for kind in rope.methods} for each in both]
    if kinds[0] != kinds[1]:  # then what a kind shares does not cancel
        variance += max(
            rope.tension.relative_uncertainty((Sharing.SET, Sharing.KIND)) ** 2
            for each in both
            for rope in each.ropes
            if rope.tension is not None
        )
    return means[1] / means[0], float(np.sqrt(variance))


def _is_worded_alike(before: SetMeasurement, after: SetMeasurement) -> bool:
    """Whether load and people are told in words that mean the same."""
    return _plain(before.series.load) == _plain(after.series.load) and _plain(
        before.series.people
    ) == _plain(after.series.people)


def _plain(text: str) -> str:
    """What a condition says, without filling words."""
    words = text.lower().replace(",", " ").replace(".", " ").split()
    return " ".join(word for word in words if word not in _FILLING)


def _load_text(measurement: SetMeasurement) -> str:
    """Load and people as typed."""
    parts = [measurement.series.load or "load not recorded"]
    if measurement.series.people:
        parts.append(f"people: {measurement.series.people}")
    return ", ".join(parts)
