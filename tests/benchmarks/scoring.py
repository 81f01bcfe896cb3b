"""How answers about sets of ropes are held against the truth; plain numbers only.

Shares are compared over the ropes that were given a number: both the truth and the
answer are divided by the mean of those ropes.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LIMIT = 0.10
GROSS = 0.05
CLEAR = 0.03
BINS = ((0.0, 0.03), (0.03, 0.07), (0.07, 0.13), (0.13, 1.0))


@dataclass(frozen=True, kw_only=True)
class RopeAnswer:
    """Truth and answer for one rope.

    Attributes
    ----------
    number : int
        Rope number.
    true_tension, true_frequency : float
        [N, Hz]
    tension, tension_uncertainty : float or None
        Answer. [N]
    share, share_uncertainty : float or None
        Answer, over the mean of the ropes given. [1]
    frequency, frequency_uncertainty : float or None
        Answer. [Hz]
    refused : str or None
        Code of the reason.
    """

    number: int
    true_tension: float
    true_frequency: float
    tension: float | None = None
    tension_uncertainty: float | None = None
    share: float | None = None
    share_uncertainty: float | None = None
    frequency: float | None = None
    frequency_uncertainty: float | None = None
    refused: str | None = None


@dataclass(frozen=True, kw_only=True)
class SetAnswer:
    """Truth and answer for one set.

    Attributes
    ----------
    seed : int
        That made the set.
    ropes : tuple of RopeAnswer
        All ropes.
    verdict : str
        equal, unequal, cannot-tell, no-result; empty if only heard.
    lower, upper : float or None
        Interval of the spread, below-highest. [1]
    seconds : float
        Time the program took. [s]
    sound_seconds : float
        Length of all its recordings. [s]
    """

    seed: int
    ropes: tuple[RopeAnswer, ...]
    verdict: str = ""
    lower: float | None = None
    upper: float | None = None
    seconds: float = 0.0
    sound_seconds: float = 0.0

    @property
    def true_spread(self) -> float:
        """(highest - lowest) / highest of all ropes, the refused ones too. [1]"""
        tensions = [rope.true_tension for rope in self.ropes]
        return 1.0 - min(tensions) / max(tensions)

    @property
    def given(self) -> tuple[RopeAnswer, ...]:
        """Ropes that have a number."""
        return tuple(rope for rope in self.ropes if rope.share is not None)

    @property
    def is_complete(self) -> bool:
        """Whether every rope has a number."""
        return len(self.given) == len(self.ropes)


@dataclass(frozen=True, kw_only=True)
class Count:
    """So many of so many.

    Attributes
    ----------
    hits, trials : int
        hits of trials.
    """

    hits: int
    trials: int

    @property
    def share(self) -> float:
        """hits / trials; nan of nothing. [1]"""
        return self.hits / self.trials if self.trials else float("nan")

    def __str__(self) -> str:
        if not self.trials:
            return "none"
        return f"{100 * self.share:.2f} % ({self.hits} of {self.trials})"


def count(flags: Iterable[bool]) -> Count:
    """Count the true ones."""
    listed = list(flags)
    return Count(hits=sum(listed), trials=len(listed))


def share_errors(answer: SetAnswer) -> Array:
    """Answered over true share, less one, of the ropes given. [1]"""
    given = answer.given
    if not given:
        return np.empty(0)
    shares = np.array([rope.share for rope in given], dtype=float)
    truth = np.array([rope.true_tension for rope in given])
    errors: Array = (shares / shares.mean()) / (truth / truth.mean()) - 1.0
    return errors


def gross_errors(answer: SetAnswer) -> list[bool]:
    """For each rope given: is its ratio to the set's median off by over 5 %?

    Of a single rope given there is no ratio; it counts by its tension, if it has one.
    """
    given = answer.given
    shares = np.array([rope.share for rope in given], dtype=float)
    truth = np.array([rope.true_tension for rope in given])
    if len(given) == 1:
        tension = given[0].tension
        return [tension is not None and abs(tension / truth[0] - 1.0) > 0.2]
    if not len(given):
        return []
    ratio = (shares / np.median(shares)) / (truth / np.median(truth))
    return [bool(wrong) for wrong in np.abs(ratio - 1.0) > GROSS]


def is_wrong(answer: SetAnswer, limit: float = LIMIT, margin: float = 0.0) -> bool:
    """Equal said of an unequal set, or unequal of an equal one, beyond a margin."""
    if answer.verdict == "equal":
        return answer.true_spread > limit + margin
    return answer.verdict == "unequal" and answer.true_spread < limit - margin


def coverage(answers: Sequence[SetAnswer], low: float, high: float) -> Count:
    """How often the interval of a complete set holds a true spread between bounds."""
    return count(
        answer.lower <= answer.true_spread <= answer.upper
        for answer in answers
        if answer.is_complete
        and low <= answer.true_spread < high
        and answer.lower is not None
        and answer.upper is not None
    )


def unbounded(answers: Sequence[SetAnswer]) -> Count:
    """Complete sets whose spread got no interval."""
    return count(
        answer.lower is None or answer.upper is None
        for answer in answers
        if answer.is_complete
    )


def cannot_tell(answers: Sequence[SetAnswer], limit: float = LIMIT) -> Count:
    """No answer on complete sets whose true spread is over 3 points from the limit."""
    return count(
        answer.verdict in {"cannot-tell", "no-result"}
        for answer in answers
        if answer.is_complete and abs(answer.true_spread - limit) > CLEAR
    )


def median_share_error(answers: Sequence[SetAnswer]) -> float:
    """Median of the absolute relative error of a share. [1]"""
    errors = [np.abs(share_errors(answer)) for answer in answers]
    joined = np.concatenate(errors) if errors else np.empty(0)
    return float(np.median(joined)) if len(joined) else float("nan")


def median_tension_error(answers: Sequence[SetAnswer]) -> float:
    """Median of the absolute relative error in newtons. [1]"""
    errors = [
        abs(rope.tension / rope.true_tension - 1.0)
        for answer in answers
        for rope in answer.ropes
        if rope.tension is not None
    ]
    return float(np.median(errors)) if errors else float("nan")


def tensions_within(answers: Sequence[SetAnswer]) -> Count:
    """Tensions within two stated standard uncertainties."""
    return count(
        abs(rope.tension - rope.true_tension) <= 2.0 * rope.tension_uncertainty
        for answer in answers
        for rope in answer.ropes
        if rope.tension is not None and rope.tension_uncertainty is not None
    )


def within_two_by_thirds(answers: Sequence[SetAnswer]) -> tuple[Count, ...]:
    """Shares within two standard uncertainties, in thirds of the stated uncertainty.

    The least uncertain third comes first.
    """
    errors, stated = [], []
    for answer in answers:
        for rope, error in zip(answer.given, share_errors(answer), strict=True):
            if rope.share and rope.share_uncertainty:
                errors.append(abs(float(error)))
                stated.append(rope.share_uncertainty / rope.share)
    order = np.argsort(stated, kind="stable")
    held = np.array(errors)[order] <= 2.0 * np.array(stated)[order]
    return tuple(count(bool(x) for x in part) for part in np.array_split(held, 3))


def refusals(answers: Sequence[SetAnswer]) -> tuple[tuple[str, int], ...]:
    """Codes of refused ropes and how often, the most frequent first."""
    totals: dict[str, int] = {}
    for answer in answers:
        for rope in answer.ropes:
            if rope.share is None:
                code = rope.refused or "no code"
                totals[code] = totals.get(code, 0) + 1
    return tuple(sorted(totals.items(), key=lambda item: -item[1]))


def score_lines(answers: Sequence[SetAnswer]) -> tuple[tuple[str, str], ...]:
    """The table of one regime: what, and the figure."""
    every = [rope for answer in answers for rope in answer.ropes]
    lines = [
        ("sets, ropes", f"{len(answers)}, {len(every)}"),
        ("ropes given a number", str(count(r.share is not None for r in every))),
        (
            "gross errors among those given",
            str(count(wrong for a in answers for wrong in gross_errors(a))),
        ),
        ("sets with a gross error", str(count(any(gross_errors(a)) for a in answers))),
        ("median error of a share", f"{100 * median_share_error(answers):.3f} %"),
    ]
    lines += [
        (
            f"share within 2 u, {name} third of u",
            str(held),
        )
        for name, held in zip(
            ("least", "middle", "largest"), within_two_by_thirds(answers), strict=True
        )
    ]
    if any(answer.verdict for answer in answers):
        lines += [
            (
                f"interval holds a spread of {100 * low:.0f}-{100 * high:.0f} %",
                str(coverage(answers, low, high)),
            )
            for low, high in BINS
        ]
        lines += [
            ("complete sets without an interval", str(unbounded(answers))),
            (
                "equal or unequal said wrongly",
                str(count(is_wrong(answer) for answer in answers)),
            ),
            (
                "cannot tell, complete and over 3 points away",
                str(cannot_tell(answers)),
            ),
            ("newtons, median error", f"{100 * median_tension_error(answers):.2f} %"),
            ("newtons within 2 u", str(tensions_within(answers))),
        ]
    heard = sum(answer.sound_seconds for answer in answers)
    spent = sum(answer.seconds for answer in answers)
    if spent:
        lines.append(("times faster than real time", f"{heard / spent:.0f}"))
    codes = ", ".join(f"{code} {n}" for code, n in refusals(answers))
    lines.append(("refused, by code", codes or "none"))
    return tuple(lines)
