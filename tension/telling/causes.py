"""What a pattern of deviations suggests and what a history shows, in words."""

from tension.diagnosis.diagnose import SPEAKS
from tension.diagnosis.outcome import Conclusion, Diagnosis, Pattern, Suspect
from tension.history import Track
from tension.quantity.showing import POUND_FORCE
from tension.quantity.units import UnitSystem
from tension.telling.lines import told, word
from tension.wording import rope_list

SPEAKING = {Conclusion.SUGGESTS, Conclusion.TWO_CAUSES, Conclusion.UNKNOWN_PATTERN}
"""Conclusions that say what to do."""


def conclusion_line(diagnosis: Diagnosis) -> str:
    """Write the conclusion in one or two sentences."""
    first, key = diagnosis.suspects[0], diagnosis.conclusion.value
    if diagnosis.conclusion is Conclusion.NOTHING_CONCLUDED:
        is_one = diagnosis.pattern.n_series_of_one_setting < 2
        key = "one-series" if is_one else "left-open"
        if is_one and first.weight >= SPEAKS and first.causes:
            key = "one-series-likeliest"
    named, weight = hypothesis_text(first), weight_text(first)
    return told(f"causes.{key}", named=named, weight=weight)


def hypothesis_text(suspect: Suspect) -> str:
    """Name a hypothesis and its ropes, such as "a bound spring or rod, rope 3"."""
    text = " and ".join(map(word, suspect.causes)) or told("causes.none")
    return f"{text}, {rope_list(suspect.ropes)}" if suspect.ropes else text


def weight_text(suspect: Suspect) -> str:
    """Write a weight, never as certainty."""
    if suspect.weight > 0.99:
        return "over 99 %"
    return f"{100.0 * suspect.weight:.0f} %"


def deviation_unit(pattern: Pattern, units: UnitSystem) -> tuple[float, str]:
    """Give the unit of deviations [N] and its name.

    A percent of the mean where only shares are known.
    """
    if not pattern.is_absolute:
        return pattern.mean_tension / 100.0, "%"
    return (POUND_FORCE, "lbf") if units is UnitSystem.US else (1.0, "N")


def deviation_text(
    value: float, pattern: Pattern, units: UnitSystem, uncertainty: float | None = None
) -> str:
    """Write a deviation on the scale of the pattern [N], such as "+250 ± 40 N".

    The uncertainty is a standard one. [N]
    """
    unit, name = deviation_unit(pattern, units)
    step, digits = {"%": (0.1, 1), "lbf": (1.0, 0), "N": (10.0, 0)}[name]
    shown = f"{step * round(value / unit / step):+.{digits}f}"
    if uncertainty is not None:
        shown += f" ± {max(step * round(uncertainty / unit / step), step):.{digits}f}"
    return f"{shown} {name}"


def track_title(track: Track) -> str:
    """Name a life, side and position."""
    parts = [f"{track.side.value} side", track.position, track.load]
    begun = track.life.begun
    if begun is not None:
        parts.append(f"ropes of {begun.isoformat()[:7]}")
    elif track.life.number > 0:
        parts.append("after a [[re-roping]]")
    return ", ".join(part for part in parts if part)
