"""Share of the load each rope of a traction lift carries.

The front door: one function per stage and the types that pass between them, loaded
when first used. Everything is SI.

Examples
--------
The main job in a few lines::

    import tension

    assessed = tension.assess_record("recordings_demo/six-memos/visit.toml")
    print(assessed.assessment.verdict, assessed.assessment.reason)
    for rope in assessed.assessment.shares:
        print(rope.number, rope.share, rope.share_uncertainty)
"""

from importlib import import_module
from typing import TYPE_CHECKING

from tension.version import __version__

if TYPE_CHECKING:
    from tension.adjustment.comparison import Comparison
    from tension.adjustment.outcome import Plan
    from tension.adjustment.spring_check import SpringCheck
    from tension.assessment.decide import assess_set
    from tension.assessment.outcome import Assessment, RopeShare, Spread, Verdict
    from tension.catalogue.rules import Metric, Rule, find_rule
    from tension.diagnosis.diagnose import diagnose
    from tension.diagnosis.outcome import Diagnosis
    from tension.errors import FileFormatError, InvalidValueError, TensionError
    from tension.files.record import read_visit
    from tension.files.sound import read_recording
    from tension.files.visit import Visit
    from tension.history.outcome import History
    from tension.measurement.outcome import RopeMeasurement, SetMeasurement
    from tension.measurement.series import measure_series
    from tension.notes import Note, Refusal
    from tension.quantity.estimate import Estimate, Source
    from tension.quantity.units import Quantity, parse_quantity
    from tension.sound.hear import hear_set
    from tension.sound.hearing import RopeHearing, SetHearing
    from tension.sound.recording import Recording, Take
    from tension.workflow.adjustment import (
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
    from tension.workflow.evidence import accept_record, gather_evidence, write_document
    from tension.workflow.inputs import Given
    from tension.workflow.integrity import seal_record, verify
    from tension.workflow.pluck import hear_file
    from tension.workflow.trimming import trim_record

_DOORS = {
    "Comparison": "tension.adjustment.comparison",
    "Plan": "tension.adjustment.outcome",
    "SpringCheck": "tension.adjustment.spring_check",
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
    "read_visit": "tension.files.record",
    "read_recording": "tension.files.sound",
    "Visit": "tension.files.visit",
    "History": "tension.history.outcome",
    "RopeMeasurement": "tension.measurement.outcome",
    "SetMeasurement": "tension.measurement.outcome",
    "measure_series": "tension.measurement.series",
    "Note": "tension.notes",
    "Refusal": "tension.notes",
    "Estimate": "tension.quantity.estimate",
    "Source": "tension.quantity.estimate",
    "Quantity": "tension.quantity.units",
    "parse_quantity": "tension.quantity.units",
    "hear_set": "tension.sound.hear",
    "RopeHearing": "tension.sound.hearing",
    "SetHearing": "tension.sound.hearing",
    "Recording": "tension.sound.recording",
    "Take": "tension.sound.recording",
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
    "write_document": "tension.workflow.evidence",
    "Given": "tension.workflow.inputs",
    "seal_record": "tension.workflow.integrity",
    "verify": "tension.workflow.integrity",
    "hear_file": "tension.workflow.pluck",
    "trim_record": "tension.workflow.trimming",
}

__all__ = [
    "Assessed",
    "Assessment",
    "Comparison",
    "Diagnosis",
    "Estimate",
    "FileFormatError",
    "Given",
    "History",
    "InvalidValueError",
    "Metric",
    "Note",
    "Plan",
    "Quantity",
    "Recording",
    "Refusal",
    "RopeHearing",
    "RopeMeasurement",
    "RopeShare",
    "Rule",
    "RuleChoice",
    "SetHearing",
    "SetMeasurement",
    "Source",
    "Spread",
    "SpringCheck",
    "Take",
    "TensionError",
    "Verdict",
    "Visit",
    "__version__",
    "accept_record",
    "assess_record",
    "assess_recordings",
    "assess_set",
    "check_springs_of_record",
    "compare_record",
    "diagnose",
    "diagnose_records",
    "find_rule",
    "gather_evidence",
    "hear_file",
    "hear_set",
    "measure_series",
    "parse_quantity",
    "plan_record",
    "read_recording",
    "read_visit",
    "remember_records",
    "seal_record",
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
