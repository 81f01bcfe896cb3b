"""Share of the load each rope of a traction lift carries.

The front door: one function per stage and the types that pass between them, loaded
when first used. Everything is SI.

Examples
--------
From numbers; docs/python.md goes on from here:

>>> import tension
>>> found = tension.assess_frequencies(
...     [9.98, 9.71, 10.02, 9.55],
...     free_lengths=5.0,
...     ropes=tension.AboutRopes(diameter="13 mm", construction="8x19 FC"),
... )
>>> found.verdict.value
'cannot-tell'
>>> [round(row["share"], 2) for row in found.to_rows()]
[1.03, 0.98, 1.04, 0.95]

From a record, with ``tension.assess_record("visit.toml")``: its ``assessment`` is such
a result, beside all that it rests on.
"""

from importlib import import_module
from typing import TYPE_CHECKING

from tension.version import __version__

if TYPE_CHECKING:
    from tension.adjustment.comparison import Comparison
    from tension.adjustment.outcome import Plan, Strategy
    from tension.adjustment.plan import plan_turns
    from tension.adjustment.plan_basis import PlanRequest
    from tension.adjustment.springs import SpringCheck
    from tension.assessment.decide import assess_set
    from tension.assessment.outcome import Assessment, RopeShare, Spread, Verdict
    from tension.catalogue.rules import Metric, Rule, find_rule
    from tension.catalogue.threads import parse_thread
    from tension.diagnosis.diagnose import diagnose
    from tension.diagnosis.outcome import Diagnosis
    from tension.errors import FileFormatError, InvalidValueError, TensionError
    from tension.figures.adjustment import (
        draw_as_found_as_left,
        draw_plan,
        draw_spring_loads,
    )
    from tension.figures.hearing import draw_decay, draw_spectrum, draw_wave
    from tension.figures.shares import draw_shares
    from tension.files.evidence import FileEvidence
    from tension.files.record import read_visit
    from tension.files.sound_stream import DecodedSound
    from tension.files.visit import Visit
    from tension.history import History
    from tension.installation import (
        Buffer,
        Drive,
        Ends,
        Hitch,
        HitchEnd,
        HitchPlace,
        Lift,
        Rope,
        RopeSet,
        Roping,
        Side,
        Span,
        Uncertainties,
    )
    from tension.measurement.outcome import RopeMeasurement, SetMeasurement
    from tension.measurement.readings import (
        Hold,
        Method,
        PluckReading,
        PullReading,
        ReturnsReading,
        Series,
        SpringReading,
    )
    from tension.measurement.series import measure_series
    from tension.notes import Note, Refusal
    from tension.physics.hitch_statics import (
        stiffness_in_series,
        tension_changes,
    )
    from tension.physics.own_weight import tension_from_returns
    from tension.physics.side_pull import (
        PulledSpan,
        tension_from_side_pull,
    )
    from tension.physics.springs import (
        spring_rate_from_two_loads,
        spring_rate_from_wire,
    )
    from tension.physics.taut_rope import (
        EndCondition,
        natural_frequency_from_tension,
        tension_from_frequency,
    )
    from tension.quantity.estimate import Estimate, Source
    from tension.quantity.units import Dimension, Quantity, parse_quantity
    from tension.sound.hear import hear_set
    from tension.sound.hearing import RopeHearing, RopeSpan, SetHearing
    from tension.sound.recording import Recording, Take
    from tension.telling.results import reason_text
    from tension.workflow.adjustment import (
        AdjustmentChoice,
        check_springs_of_record,
        compare_record,
        plan_record,
    )
    from tension.workflow.assess import (
        Assessed,
        RuleChoice,
        assess_record,
        assess_recordings,
    )
    from tension.workflow.causes import diagnose_records, remember_records
    from tension.workflow.evidence import accept_record, gather_evidence
    from tension.workflow.inputs import Given
    from tension.workflow.integrity import seal_record, verify
    from tension.workflow.listening import hear_file, read_recording
    from tension.workflow.numbers import (
        AboutRopes,
        assess_frequencies,
        assess_pulls,
        frequencies_from_tensions,
    )
    from tension.workflow.outputs import write_document
    from tension.workflow.trimming import trim_record

_DOORS = {
    "Comparison": "tension.adjustment.comparison",
    "Plan": "tension.adjustment.outcome",
    "Strategy": "tension.adjustment.outcome",
    "plan_turns": "tension.adjustment.plan",
    "PlanRequest": "tension.adjustment.plan_basis",
    "SpringCheck": "tension.adjustment.springs",
    "assess_set": "tension.assessment.decide",
    "Assessment": "tension.assessment.outcome",
    "RopeShare": "tension.assessment.outcome",
    "Spread": "tension.assessment.outcome",
    "Verdict": "tension.assessment.outcome",
    "Metric": "tension.catalogue.rules",
    "Rule": "tension.catalogue.rules",
    "find_rule": "tension.catalogue.rules",
    "diagnose": "tension.diagnosis.diagnose",
    "Diagnosis": "tension.diagnosis.outcome",
    "FileFormatError": "tension.errors",
    "InvalidValueError": "tension.errors",
    "TensionError": "tension.errors",
    "draw_as_found_as_left": "tension.figures.adjustment",
    "draw_plan": "tension.figures.adjustment",
    "draw_spring_loads": "tension.figures.adjustment",
    "draw_decay": "tension.figures.hearing",
    "draw_spectrum": "tension.figures.hearing",
    "draw_wave": "tension.figures.hearing",
    "draw_shares": "tension.figures.shares",
    "DecodedSound": "tension.files.sound_stream",
    "FileEvidence": "tension.files.evidence",
    "reason_text": "tension.telling.results",
    "read_visit": "tension.files.record",
    "Visit": "tension.files.visit",
    "History": "tension.history",
    "Buffer": "tension.installation",
    "Drive": "tension.installation",
    "Ends": "tension.installation",
    "Hitch": "tension.installation",
    "HitchEnd": "tension.installation",
    "HitchPlace": "tension.installation",
    "Lift": "tension.installation",
    "Rope": "tension.installation",
    "RopeSet": "tension.installation",
    "Roping": "tension.installation",
    "Side": "tension.installation",
    "Span": "tension.installation",
    "Uncertainties": "tension.installation",
    "parse_thread": "tension.catalogue.threads",
    "RopeMeasurement": "tension.measurement.outcome",
    "SetMeasurement": "tension.measurement.outcome",
    "Hold": "tension.measurement.readings",
    "Method": "tension.measurement.readings",
    "PluckReading": "tension.measurement.readings",
    "PullReading": "tension.measurement.readings",
    "ReturnsReading": "tension.measurement.readings",
    "Series": "tension.measurement.readings",
    "SpringReading": "tension.measurement.readings",
    "measure_series": "tension.measurement.series",
    "Note": "tension.notes",
    "Refusal": "tension.notes",
    "stiffness_in_series": "tension.physics.hitch_statics",
    "tension_changes": "tension.physics.hitch_statics",
    "PulledSpan": "tension.physics.side_pull",
    "tension_from_side_pull": "tension.physics.side_pull",
    "spring_rate_from_two_loads": "tension.physics.springs",
    "spring_rate_from_wire": "tension.physics.springs",
    "natural_frequency_from_tension": "tension.physics.taut_rope",
    "tension_from_frequency": "tension.physics.taut_rope",
    "tension_from_returns": "tension.physics.own_weight",
    "EndCondition": "tension.physics.taut_rope",
    "Estimate": "tension.quantity.estimate",
    "Source": "tension.quantity.estimate",
    "Dimension": "tension.quantity.units",
    "Quantity": "tension.quantity.units",
    "parse_quantity": "tension.quantity.units",
    "hear_set": "tension.sound.hear",
    "RopeHearing": "tension.sound.hearing",
    "RopeSpan": "tension.sound.hearing",
    "SetHearing": "tension.sound.hearing",
    "Recording": "tension.sound.recording",
    "Take": "tension.sound.recording",
    "AdjustmentChoice": "tension.workflow.adjustment",
    "check_springs_of_record": "tension.workflow.adjustment",
    "compare_record": "tension.workflow.adjustment",
    "plan_record": "tension.workflow.adjustment",
    "Assessed": "tension.workflow.assess",
    "RuleChoice": "tension.workflow.assess",
    "assess_record": "tension.workflow.assess",
    "assess_recordings": "tension.workflow.assess",
    "diagnose_records": "tension.workflow.causes",
    "remember_records": "tension.workflow.causes",
    "accept_record": "tension.workflow.evidence",
    "gather_evidence": "tension.workflow.evidence",
    "write_document": "tension.workflow.outputs",
    "Given": "tension.workflow.inputs",
    "seal_record": "tension.workflow.integrity",
    "verify": "tension.workflow.integrity",
    "AboutRopes": "tension.workflow.numbers",
    "assess_frequencies": "tension.workflow.numbers",
    "assess_pulls": "tension.workflow.numbers",
    "frequencies_from_tensions": "tension.workflow.numbers",
    "hear_file": "tension.workflow.listening",
    "read_recording": "tension.workflow.listening",
    "trim_record": "tension.workflow.trimming",
}

__all__ = [
    "AboutRopes",
    "AdjustmentChoice",
    "Assessed",
    "Assessment",
    "Buffer",
    "Comparison",
    "DecodedSound",
    "Diagnosis",
    "Dimension",
    "Drive",
    "EndCondition",
    "Ends",
    "Estimate",
    "FileEvidence",
    "FileFormatError",
    "Given",
    "History",
    "Hitch",
    "HitchEnd",
    "HitchPlace",
    "Hold",
    "InvalidValueError",
    "Lift",
    "Method",
    "Metric",
    "Note",
    "Plan",
    "PlanRequest",
    "PluckReading",
    "PullReading",
    "PulledSpan",
    "Quantity",
    "Recording",
    "Refusal",
    "ReturnsReading",
    "Rope",
    "RopeHearing",
    "RopeMeasurement",
    "RopeSet",
    "RopeShare",
    "RopeSpan",
    "Roping",
    "Rule",
    "RuleChoice",
    "Series",
    "SetHearing",
    "SetMeasurement",
    "Side",
    "Source",
    "Span",
    "Spread",
    "SpringCheck",
    "SpringReading",
    "Strategy",
    "Take",
    "TensionError",
    "Uncertainties",
    "Verdict",
    "Visit",
    "__version__",
    "accept_record",
    "assess_frequencies",
    "assess_pulls",
    "assess_record",
    "assess_recordings",
    "assess_set",
    "check_springs_of_record",
    "compare_record",
    "diagnose",
    "diagnose_records",
    "draw_as_found_as_left",
    "draw_decay",
    "draw_plan",
    "draw_shares",
    "draw_spectrum",
    "draw_spring_loads",
    "draw_wave",
    "find_rule",
    "frequencies_from_tensions",
    "gather_evidence",
    "hear_file",
    "hear_set",
    "measure_series",
    "natural_frequency_from_tension",
    "parse_quantity",
    "parse_thread",
    "plan_record",
    "plan_turns",
    "read_recording",
    "read_visit",
    "reason_text",
    "remember_records",
    "seal_record",
    "spring_rate_from_two_loads",
    "spring_rate_from_wire",
    "stiffness_in_series",
    "tension_changes",
    "tension_from_frequency",
    "tension_from_returns",
    "tension_from_side_pull",
    "trim_record",
    "verify",
    "write_document",
]


def __getattr__(name: str) -> object:
    """Load a public name when it is first asked for."""
    if name not in _DOORS:
        message = f"module 'tension' has no attribute {name!r}"
        raise AttributeError(message)
    return getattr(import_module(_DOORS[name]), name)


def __dir__() -> list[str]:
    """List the public names without loading them."""
    return sorted(__all__)
