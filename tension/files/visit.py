"""The record in memory: one rope set on one day."""

from dataclasses import dataclass, field
from pathlib import Path

from tension.adjustment.turns import Turn
from tension.catalogue.rules import Rule
from tension.condition.checks import Check
from tension.condition.confirmation import Allowance
from tension.condition.findings import Finding
from tension.files.attachments import Instrument, NoteAnswer, Photo, Trim
from tension.installation import Lift, RopeSet
from tension.measurement.readings import Exclusion, Reading, Series

__all__ = ["Lift", "Visit"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Visit:
    """Everything a record says.

    Attributes
    ----------
    path : Path or None
        The record file; None if put together from the command line.
    lift : Lift
        The lift.
    rule : Rule
        The rule to assess by.
    rope_set : RopeSet
        What hangs in the hoistway.
    particulars : tuple of (str, str)
        Date, measured_by, qualification, witness, place, note and the like, as typed.
    series : tuple of Series
        In order of time.
    readings : tuple of Reading
        In order of time.
    turns : tuple of Turn
        In order of time.
    exclusions : tuple of Exclusion
        What is left out and why.
    findings : tuple of Finding
        Condition of the ropes.
    allowance : Allowance
        Which allowance table is used, and whether somebody confirms it.
    checks : tuple of Check
        Items answered when the set is accepted after re-roping.
    instruments : tuple of Instrument
        What was measured with.
    answers : tuple of NoteAnswer
        What a person answered to notes.
    photos : tuple of Photo
        Photos of the visit, those of findings and checks left out.
    trims : tuple of Trim
        Recordings of which only the windows around the plucks are kept.
    """

    path: Path | None
    lift: Lift
    rule: Rule
    rope_set: RopeSet
    particulars: tuple[tuple[str, str], ...] = ()
    series: tuple[Series, ...] = ()
    readings: tuple[Reading, ...] = ()
    turns: tuple[Turn, ...] = ()
    exclusions: tuple[Exclusion, ...] = ()
    findings: tuple[Finding, ...] = field(default_factory=tuple)
    allowance: Allowance = field(default_factory=Allowance)
    checks: tuple[Check, ...] = ()
    instruments: tuple[Instrument, ...] = ()
    answers: tuple[NoteAnswer, ...] = ()
    photos: tuple[Photo, ...] = ()
    trims: tuple[Trim, ...] = ()
