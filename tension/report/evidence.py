"""Everything a report is made from."""

from dataclasses import dataclass, field

from tension.adjustment.comparison import Comparison
from tension.adjustment.springs import SpringCheck
from tension.assessment.outcome import Assessment
from tension.catalogue.rules import Rule
from tension.condition.acceptance import Acceptance
from tension.condition.chain import Chain
from tension.files.evidence import FileEvidence
from tension.files.verification import Verification
from tension.files.visit import Visit
from tension.notes import Refusal
from tension.quantity.showing import UnitSystem
from tension.sound.hearing import SetHearing
from tension.wording import Terms, say


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

    Attributes
    ----------
    assessments, recorded : tuple of Assessment
        Every series that could be assessed, in order of time: by the rule that decides
        in this print, and by the record's own, which findings and acceptance follow.
    main : int
        Which of them the first page answers, counted from 0.
    acceptance : Acceptance or None
        The form after re-roping, if the record has any of it.
    comparison : Comparison or Refusal or None
        As found against as left; why not; None with one series.
    files : tuple of FileEvidence
        The record first, then every file it names, with checksums.
    missing : tuple of str
        Files that the record names and that are not there.
    verification : Verification or None
        Whether the sealed files are the same; None if the record is not sealed.
    versions, times : tuple of (str, str)
        Packages that the result depends on; when each file was last written.
    hearings : tuple of SetHearing or None
        What was heard, series by series.
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
    def record_sha256(self) -> str:
        """Checksum of the record; empty without one."""
        return self.files[0].sha256 if self.files else ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Manner:
    """In whose words a report is written, and in which units beside what was typed."""

    terms: Terms = Terms.EUROPE
    units: UnitSystem = field(default=UnitSystem.SI)

    def say(self, text: str) -> str:
        """Fill the places for trade words in a text of the program, of no person."""
        return say(text, self.terms)
