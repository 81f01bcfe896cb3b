"""Everything a report is made from."""

from dataclasses import dataclass, field

from tension.adjustment.comparison import Comparison
from tension.assessment.outcome import Assessment
from tension.condition.acceptance import Acceptance
from tension.condition.chain import Chain
from tension.files.evidence import FileEvidence
from tension.files.verification import Verification
from tension.files.visit import Visit
from tension.notes import Refusal
from tension.quantity.showing import UnitSystem
from tension.wording import Terms, say


@dataclass(frozen=True, kw_only=True, slots=True)
class Evidence:
    """What a report is made from; nothing in it was formatted yet.

    Attributes
    ----------
    visit : Visit
        The record.
    assessments : tuple of Assessment
        Every series that could be assessed, in order of time.
    main : int
        Which of them the first page answers, counted from 0.
    chain : Chain
        Findings and what the confirmed table says of them.
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
    versions : tuple of (str, str)
        Program and packages that the result depends on.
    """

    visit: Visit
    assessments: tuple[Assessment, ...]
    main: int
    chain: Chain
    acceptance: Acceptance | None = None
    comparison: Comparison | Refusal | None = None
    files: tuple[FileEvidence, ...] = ()
    missing: tuple[str, ...] = ()
    verification: Verification | None = None
    versions: tuple[tuple[str, str], ...] = ()

    @property
    def record_sha256(self) -> str:
        """Checksum of the record; empty without one."""
        return self.files[0].sha256 if self.files else ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Manner:
    """In whose words and in which units a report is written.

    Attributes
    ----------
    terms : Terms
        Words of the trade.
    units : UnitSystem
        Units shown beside what was typed.
    """

    terms: Terms = Terms.EUROPE
    units: UnitSystem = field(default=UnitSystem.SI)

    def say(self, text: str) -> str:
        """Fill the places for trade words in a text of the program.

        Parameters
        ----------
        text : str
            A text of the program, never one of a person.

        Returns
        -------
        str
            The text.
        """
        return say(text, self.terms)
