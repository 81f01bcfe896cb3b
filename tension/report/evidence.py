"""Everything a report is made from."""

from dataclasses import dataclass

from tension.adjustment.comparison import Comparison
from tension.adjustment.springs import SpringCheck
from tension.assessment.decide import Assessment
from tension.catalogue.rules import Rule
from tension.condition.acceptance import Acceptance
from tension.condition.chain import Chain
from tension.files.evidence import FileEvidence
from tension.files.verification import Verification
from tension.files.visit import Visit
from tension.notes import Note, Refusal
from tension.sound.hearing import SetHearing


@dataclass(frozen=True, kw_only=True, slots=True)
class ShownPhoto:
    """One photo, made small enough to print, or why it cannot be shown.

    The caption tells what it shows and who says so; no checksum means no file.
    """

    file: str
    caption: str
    sha256: str = ""
    jpeg: bytes = b""
    why_not: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Evidence:
    """What a report is made from; nothing in it was formatted yet.

    Assessments are of every series that could be assessed, in order of time: by the
    rule that decides in this print, and by the record's own, which findings and
    acceptance follow; the first page answers one of them, counted from 0. What was
    heard is told series by series. Files are the record first, then every file it
    names; the missing ones are not there. The record is verified if it is sealed.
    Versions are of what the result depends on; times, when each file was written.
    """

    visit: Visit
    assessments: tuple[Assessment, ...]
    recorded: tuple[Assessment, ...]
    main: int
    chain: Chain
    acceptance: Acceptance | None = None
    comparison: Comparison | Refusal | None = None
    files: tuple[FileEvidence, ...] = ()
    missing: tuple[str, ...] = ()
    verification: Verification | None = None
    versions: tuple[tuple[str, str], ...] = ()
    hearings: tuple[SetHearing | None, ...] = ()
    springs: SpringCheck | None = None
    times: tuple[tuple[str, str], ...] = ()
    photos: tuple[ShownPhoto, ...] = ()
    date_doubts: tuple[str, ...] = ()

    @property
    def foreign_rule(self) -> Rule | None:
        """The rule that decides in this print, if it is not the record's."""
        if not self.assessments:
            return None
        rule = self.assessments[self.main].rule
        return None if rule == self.recorded[self.main].rule else rule

    @property
    def notes(self) -> tuple[tuple[str, Note], ...]:
        """Every note with the series it belongs to."""
        return tuple(
            (one.measurement.series.name, note)
            for one in self.assessments
            for note in one.notes
        )
