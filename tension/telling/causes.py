"""What a pattern of deviations suggests, in words."""

from math import isfinite

from tension.diagnosis.outcome import (
    Cause,
    Causes,
    Conclusion,
    Diagnosis,
    NextMeasurement,
    Step,
    Suspect,
    Telltale,
)
from tension.quantity.units import Dimension, UnitSystem, show_quantity
from tension.telling.lines import TextLine, heading, items, reason_lines, sentence
from tension.wording import percent_text, rope_list

CAUSE_NAMES: dict[Cause, str] = {
    Cause.LENGTH: "ropes set too long or too short",
    Cause.GROOVE: "grooves of different radius",
    Cause.NOT_RUN_IN: "a set not run in since nuts were turned",
    Cause.SETTLING: "rope that stretches on and goes slack again",
    Cause.STIFFNESS: "ropes or springs of different stiffness",
    Cause.MASS: "ropes of different mass",
    Cause.BOUND_SPRING: "a bound spring or rod",
    Cause.STAGGER: "free lengths that are not alike, taken for alike",
    Cause.TWIST: "a rope that turns about itself",
    Cause.TOUCHING: "a rope that touches something",
    Cause.UNKNOWN: "a pattern that no cause here explains",
}

ACTS: dict[Cause, str] = {
    Cause.LENGTH: "Adjust: the same newtons everywhere are what nuts can put right.",
    Cause.GROOVE: "Measure groove depths and rope diameters, straightedge over the "
    "crowns. Nuts cannot put right what changes with the place of the car.",
    Cause.NOT_RUN_IN: "Run the car at least three full round trips, come back to the "
    "same [[landing]] from the same direction, and measure again before any nut is "
    "turned.",
    Cause.SETTLING: "[[Equalise]] again and measure again in some weeks: what settles "
    "gets slower each time. If it does not, look at the whole set.",
    Cause.STIFFNESS: "Compare the certificates of the ropes and the types, wires and "
    "free lengths of the [[springs]].",
    Cause.MASS: "Compare diameters and [[rope labels]]; measure those ropes by side "
    "pull. Do not turn nuts for it.",
    Cause.BOUND_SPRING: "See that rod and [[spring]] move freely, and that the "
    "[[spring]] gets shorter under load.",
    Cause.STAGGER: "Measure the free length of each rope and write it in the record. "
    "Do not turn nuts for it.",
    Cause.TWIST: "Look at the painted line on the rope, the anti-rotation wire and the "
    "[[split pin]]; report it. Undoing twist is the maker's method.",
    Cause.TOUCHING: "Look along the span for a guard, slot or neighbour that the rope "
    "meets, and measure again. Do not turn nuts for it.",
    Cause.UNKNOWN: "Measure the whole set once more at one place, and look at every "
    "rope and rod.",
}

LIMITS = (
    "A pattern suggests, it does not prove. Shown on simulated visits only: no cause "
    "was confirmed on a [[lift]] yet."
)


_SPEAKS = {
    Conclusion.SUGGESTS,
    Conclusion.TWO_CAUSES,
    Conclusion.UNKNOWN_PATTERN,
}
"""Conclusions that say what to do."""


def causes_text(causes: Causes) -> str:
    """Name what is at work.

    Parameters
    ----------
    causes : Causes
        None, one or two.
    """
    if not causes:
        return "nothing beyond readings and a careful adjustment"
    return " and ".join(CAUSE_NAMES[cause] for cause in causes)


def conclusion_line(diagnosis: Diagnosis) -> str:
    """Write the conclusion in one or two sentences."""
    first = diagnosis.suspects[0]
    weight = f"weight {weight_text(first)}"
    named = hypothesis_text(first)
    match diagnosis.conclusion:
        case Conclusion.SUGGESTS:
            return f"The pattern suggests: {named} ({weight})."
        case Conclusion.TWO_CAUSES:
            return f"The pattern suggests two causes at once: {named} ({weight})."
        case Conclusion.NOTHING_TO_EXPLAIN:
            return (
                "Nothing to explain: the ropes differ by no more than readings and a "
                f"careful adjustment leave ({weight})."
            )
        case Conclusion.UNKNOWN_PATTERN:
            return f"The ropes differ in a way that no cause here explains ({weight})."
        case Conclusion.NOTHING_CONCLUDED:
            few = diagnosis.pattern.n_series_of_one_setting < 2
            why = (
                "one series of a setting of the nuts cannot tell causes apart"
                if few
                else "the readings leave several causes possible"
            )
            return f"Nothing can be concluded yet: {why}."


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
    told = [telltale_text(t, diagnosis, units) for t in diagnosis.telltales]
    if told:
        lines += [heading("THE NUMBERS THAT TELL"), *items(told)]
    if diagnosis.conclusion in _SPEAKS:
        acts = [ACTS[cause] for cause in diagnosis.suspects[0].causes]
        lines += [heading("WHAT TO DO"), *items(acts)]
    if diagnosis.next_measurement is not None:
        lines.append(heading("MEASURE NEXT"))
        lines.append(sentence(next_text(diagnosis.next_measurement)))
    lines += reason_lines(diagnosis.notes, "TO KNOW")
    return (*lines, heading("LIMITS"), sentence(LIMITS))


_STEPS: dict[Step, str] = {
    Step.OTHER_END: "all ropes with the car at the other end of its travel",
    Step.MIDDLE: "all ropes with the car at mid travel",
    Step.OTHER_ARRIVAL: "all ropes at the same place in mid travel, the car having "
    "come from the other direction (arrived {arrived})",
    Step.OTHER_SIDE: "all ropes on the counterweight side at mid travel",
    Step.ADDED_LOAD: "all ropes at the same place with a known load in the car, before "
    "the car moves",
    Step.LATER: "all ropes again in four weeks, at the same place and load, no nut "
    "being turned until then",
    Step.MORE_ROUND_TRIPS: "all ropes again at the same place after three more round "
    "trips",
    Step.BY_PULL: "all ropes at the same place by side pull, which needs neither mass "
    "nor pitch",
    Step.AFTER_A_RUN: "all ropes again at the same place after one run of the car",
}


def next_text(after: NextMeasurement) -> str:
    """Write the one further measurement that would settle most."""
    what = _STEPS[after.step].format(arrived=after.condition.arrived)
    if after.open_now < 0.3:
        return f"Little is open; to be surer yet, measure {what}."
    part = min(after.gain / after.open_now, 1.0)
    return (
        f"Measure {what}. Of what could be measured this settles most: about "
        f"{100.0 * part:.0f} % of what is open, to be expected."
    )


def telltale_text(told: Telltale, diagnosis: Diagnosis, units: UnitSystem) -> str:
    """Write the number that tells for one cause."""
    name = CAUSE_NAMES[told.cause]
    rope = f"rope {told.rope}"

    def size(value: float, uncertainty: float | None = None) -> str:
        return deviation_text(value, diagnosis, units, uncertainty)

    match told.cause:
        case Cause.LENGTH:
            apart = size(told.against).lstrip("+")
            text = (
                f"{rope} lies {size(told.value, told.uncertainty)} off the mean in "
                f"{told.where}, which differ by {apart} at most"
            )
        case Cause.STIFFNESS | Cause.BOUND_SPRING:
            text = (
                f"{rope} takes {percent_text(told.value)} ± "
                f"{percent_text(told.uncertainty)} of the load added from "
                f"{told.elsewhere} to {told.where}, where "
                f"{percent_text(told.against)} is even"
            )
        case Cause.MASS:
            text = (
                f"{rope} reads {100 * told.value:+.1f} ± "
                f"{percent_text(told.uncertainty)} by pitch in {told.where}"
            )
            if isfinite(told.against):
                text += f", {100 * told.against:+.1f} % in {told.elsewhere}"
        case Cause.STAGGER:
            length = show_quantity(
                told.value, Dimension.LENGTH, units, uncertainty=told.uncertainty
            )
            text = (
                f"a free length {length} longer on {rope} than on rope "
                f"{told.against:.0f} would explain it"
            )
        case _:
            text = (
                f"{rope} lies {size(told.value)} off the mean in {told.where} and "
                f"{size(told.against)} in {told.elsewhere}: a change of "
                f"{size(told.value - told.against, told.uncertainty)}"
            )
    return f"{name[0].upper()}{name[1:]}: {text}."


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
        unit = 4.4482216152605 if units is UnitSystem.US else 1.0
        step, name = (1.0, "lbf") if units is UnitSystem.US else (10.0, "N")
    else:
        unit, step, name = diagnosis.pattern.mean_tension / 100.0, 0.1, "%"
    digits = 1 if step < 1 else 0
    shown = f"{step * round(value / unit / step):+.{digits}f}"
    if uncertainty is not None:
        shown += f" ± {max(step * round(uncertainty / unit / step), step):.{digits}f}"
    return f"{shown} {name}"
