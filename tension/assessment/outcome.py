"""Outcome of assessing one series against a rule."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from tension.catalogue.rules import Metric, Rule
from tension.measurement.outcome import SetMeasurement
from tension.notes import Note
from tension.shown import Shown


class Verdict(StrEnum):
    """The four answers."""

    EQUAL = "equal"
    UNEQUAL = "unequal"
    CANNOT_TELL = "cannot-tell"
    NO_RESULT = "no-result"

    @property
    def words(self) -> str:
        """The answer as it is said."""
        return self.value.replace("-", " ")

    @property
    def banner(self) -> str:
        """The answer as it stands over a result."""
        return self.words.upper()


class Reason(StrEnum):
    """Why the answer is what it is; `tension.telling` says it in a sentence."""

    ALL_WITHIN = "all-within"
    APART = "apart"
    LOOK_FIRST = "look-first"
    LENGTHS_UNKNOWN = "lengths-unknown"
    ROPES_MISSING = "ropes-missing"
    SPRINGS_OPEN = "springs-open"
    REPEAT_DECIDES = "repeat-decides"
    REFUSED = "refused"


@dataclass(frozen=True, kw_only=True, slots=True)
class Spread:
    """One metric of spread with its 95 % interval."""

    metric: Metric  # which
    observed: float | None = None  # from the readings; None if no result [1]
    # the true spread lies between them at 95 %; None where not bounded [1]
    lower: float | None = None
    upper: float | None = None
    # only for the metric of the rule [1]
    probability_over_limit: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeShare:
    """Share of one rope."""

    number: int  # rope number
    share: float | None = None  # tension over the mean of the ropes given [1]
    share_uncertainty: float | None = None  # standard uncertainty of the share [1]
    tension: float | None = None  # at the hitch; None without linear density [N]
    # standard uncertainty, shared sources included [N]
    tension_uncertainty: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class Assessment(Shown):
    """Result of one series against one rule."""

    measurement: SetMeasurement  # what it rests on
    rule: Rule  # the rule that decides
    verdict: Verdict  # the answer
    reason: Reason  # why
    is_complete: bool  # whether every rope has a number
    spread: Spread  # by the metric of the rule
    other_spreads: tuple[Spread, ...]  # by the other metrics
    shares: tuple[RopeShare, ...]  # all ropes of the set, in order of number
    # rope numbers, the most useful first; empty when decided
    measure_again: tuple[int, ...]
    # everything a reader must know, those of the measurement included
    notes: tuple[Note, ...]
    # what the reason rests on, with its next act; None where the verdict speaks for
    # itself
    reason_note: Note | None = None

    def summary(self) -> str:
        """Say verdict, spread and limit."""
        spread = self.spread
        told = [self.verdict.words]
        if spread.observed is not None:
            ends = (spread.lower, spread.upper)
            low, high = ("?" if e is None else f"{100 * e:.1f}" for e in ends)
            told.append(f"{100 * spread.observed:.1f} % ({low} to {high} %)")
        told.append(f"{self.rule.metric.value} at most {100 * self.rule.limit:g} %")
        told.append(f"{len(self.measurement.given)} of {len(self.shares)} ropes")
        return ", ".join(told)

    def to_rows(self) -> list[dict[str, Any]]:
        """Turn it into one row per rope, all SI."""
        return [
            {
                "rope": share.number,
                "share": share.share,
                "share_uncertainty": share.share_uncertainty,
                "tension": share.tension,
                "tension_uncertainty": share.tension_uncertainty,
                "frequency": rope.fundamental.value if rope.fundamental else None,
                "reason": rope.refusal.text if rope.refusal else "",
            }
            for share, rope in zip(self.shares, self.measurement.ropes, strict=True)
        ]
