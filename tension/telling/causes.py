"""What a pattern of deviations suggests, in words."""

from math import isfinite

from tension.diagnosis.diagnose import SPEAKS
from tension.diagnosis.outcome import (
    Cause,
    Causes,
    Conclusion,
    Diagnosis,
    NextMeasurement,
    Suspect,
    Telltale,
)
from tension.quantity.unit_table import POUND_FORCE
from tension.quantity.units import Dimension, UnitSystem, show_quantity
from tension.telling.lines import (
    TextLine,
    heading,
    items,
    reason_lines,
    sentence,
    told,
    word,
)
from tension.wording import percent_text, rope_list

_SPEAKS = {
    Conclusion.SUGGESTS,
    Conclusion.TWO_CAUSES,
    Conclusion.UNKNOWN_PATTERN,
}
"""Conclusions that say what to do."""


def causes_text(causes: Causes) -> str:
    """Name what is at work: nothing, one cause or two."""
    return " and ".join(map(word, causes)) or told("causes.none")


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
    text = causes_text(suspect.causes)
    return f"{text}, {rope_list(suspect.ropes)}" if suspect.ropes else text


def weight_text(suspect: Suspect) -> str:
    """Write a weight, never as certainty."""
    if suspect.weight > 0.99:
        return "over 99 %"
    return f"{100.0 * suspect.weight:.0f} %"


def diagnosis_lines(diagnosis: Diagnosis, units: UnitSystem) -> tuple[TextLine, ...]:
    """Write what a pattern suggests."""
    lines = [sentence(conclusion_line(diagnosis))]
    numbers = [telltale_text(t, diagnosis, units) for t in diagnosis.telltales]
    if numbers:
        lines += [heading("THE NUMBERS THAT TELL"), *items(numbers)]
    if diagnosis.conclusion in _SPEAKS:
        acts = [word(cause, "act") for cause in diagnosis.suspects[0].causes]
        lines += [heading("WHAT TO DO"), *items(acts)]
    if diagnosis.next_measurement is not None:
        lines.append(heading("MEASURE NEXT"))
        lines.append(sentence(next_text(diagnosis.next_measurement)))
    lines += reason_lines(diagnosis.notes, "TO KNOW")
    return (*lines, heading("LIMITS"), sentence(told("causes.limits")))


def next_text(after: NextMeasurement) -> str:
    """Write the one further measurement that would settle most."""
    what = word(after.step).format(arrived=after.condition.arrived)
    if after.open_now < 0.3:
        return told("causes.little-open", what=what)
    part = min(after.gain / after.open_now, 1.0)
    return told("causes.next", what=what, part=f"{100.0 * part:.0f} %")


def telltale_text(tale: Telltale, diagnosis: Diagnosis, units: UnitSystem) -> str:
    """Write the number that tells for one cause."""
    name = word(tale.cause)
    places = {
        "name": f"{name[0].upper()}{name[1:]}",
        "rope": tale.rope,
        "where": tale.where,
        "elsewhere": tale.elsewhere,
    }

    def size(value: float, uncertainty: float | None = None) -> str:
        return deviation_text(value, diagnosis, units, uncertainty)

    match tale.cause:
        case Cause.LENGTH:
            key = "off-mean"
            places["size"] = size(tale.value, tale.uncertainty)
            places["apart"] = size(tale.against).lstrip("+")
        case Cause.STIFFNESS | Cause.BOUND_SPRING:
            key = "takes"
            places["value"] = percent_text(tale.value)
            places["uncertainty"] = percent_text(tale.uncertainty)
            places["against"] = percent_text(tale.against)
        case Cause.MASS:
            key = "reads-twice" if isfinite(tale.against) else "reads"
            places["value"] = f"{100 * tale.value:+.1f}"
            places["uncertainty"] = percent_text(tale.uncertainty)
            places["against"] = f"{100 * tale.against:+.1f}"
        case Cause.STAGGER:
            key = "stagger"
            places["against"] = f"{tale.against:.0f}"
            places["length"] = show_quantity(
                tale.value, Dimension.LENGTH, units, uncertainty=tale.uncertainty
            )
        case _:
            key = "changes"
            places["value"], places["against"] = size(tale.value), size(tale.against)
            places["change"] = size(tale.value - tale.against, tale.uncertainty)
    return told(f"causes.{key}", **places)


def deviation_text(
    value: float,
    diagnosis: Diagnosis,
    units: UnitSystem,
    uncertainty: float | None = None,
) -> str:
    """Write a deviation on the scale of the pattern [N], such as "+250 ± 40 N".

    In percent of the mean where only shares are known; the uncertainty is a standard
    one. [N]
    """
    if diagnosis.pattern.is_absolute:
        unit = POUND_FORCE if units is UnitSystem.US else 1.0
        step, name = (1.0, "lbf") if units is UnitSystem.US else (10.0, "N")
    else:
        unit, step, name = diagnosis.pattern.mean_tension / 100.0, 0.1, "%"
    digits = 1 if step < 1 else 0
    shown = f"{step * round(value / unit / step):+.{digits}f}"
    if uncertainty is not None:
        shown += f" ± {max(step * round(uncertainty / unit / step), step):.{digits}f}"
    return f"{shown} {name}"
