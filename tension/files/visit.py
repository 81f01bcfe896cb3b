"""The record in memory: one rope set on one day."""

from dataclasses import dataclass, field
from pathlib import Path

from tension.adjustment.turns import Turn
from tension.catalogue.rules import Rule
from tension.condition.findings import Finding
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
