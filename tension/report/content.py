"""From evidence to a report as typed parts, before any layout."""

from tension.report.acceptance import acceptance_section
from tension.report.document import Document, Section
from tension.report.evidence import Evidence, Manner
from tension.report.findings_sections import (
    condition_section,
    not_done_section,
    photos_section,
)
from tension.report.first_page import first_page
from tension.report.proof_sections import (
    files_section,
    notes_section,
    program_section,
)
from tension.report.record_sections import (
    readings_section,
    ropes_section,
    who_section,
)
from tension.report.result_sections import (
    changes_section,
    results_section,
    springs_section,
)
from tension.report.visible import shortened
from tension.telling.results import rule_in_short


def build_report(evidence: Evidence, manner: Manner | None = None) -> Document:
    """Build the report of a record; European words and SI if no others are asked."""
    manner = manner or Manner()
    given = dict(evidence.visit.particulars)
    name = evidence.visit.lift.name or manner.say("[[lift]] not named")
    date = given.get("date") or "date not recorded"
    measured_by = given.get("measured_by") or "not recorded"
    sections: tuple[Section | None, ...] = (
        who_section(evidence),
        ropes_section(evidence),
        readings_section(evidence),
        results_section(evidence, manner),
        changes_section(evidence, manner),
        springs_section(evidence, manner),
        condition_section(evidence, manner),
        acceptance_section(evidence, manner),
        photos_section(evidence),
        not_done_section(evidence),
        notes_section(evidence, manner),
        files_section(evidence),
        program_section(evidence, manner),
    )
    return Document(
        title="Record of rope tension",
        subject=(
            f"{shortened(name, 60)}, {shortened(date, 40)}; "
            f"measured by: {shortened(measured_by, 40)}"
        ),
        first_page=first_page(evidence, manner),
        sections=tuple(section for section in sections if section is not None),
        footer=_footer(evidence),
    )


def _footer(evidence: Evidence) -> str:
    """Which record this is, and what in this print is not the record's."""
    words = f"Record SHA-256 {evidence.record_sha256 or 'none: no record file'}"
    if evidence.foreign_rule is not None:
        rule = shortened(rule_in_short(evidence.foreign_rule), 90, " …")
        words += f" · NOT THE RECORD'S RULE, printed with {rule}"
    return words
