"""Findings in words: condition shown, allowance, count, comparison, what exceeds.

The sentences stand in ``telling/pages/condition.en.j2`` and ``findings.en.j2``.
"""

from collections.abc import Callable

from tension.catalogue.ropes import LEAST_LAY, MOST_LAY, LayFault
from tension.condition.chain import Chain, Compared, DiameterComparison
from tension.condition.checks import Check
from tension.condition.comparison import BreakComparison, Outcome
from tension.condition.findings import Finding
from tension.quantity.showing import rounded_text
from tension.quantity.units import Dimension
from tension.telling import numbers, results
from tension.telling.lines import joined, told
from tension.telling.page import Manner, Paragraph, written_page

_DECIMALS = 5
"""To what a mean of two calliper readings is written: hundredths of a millimetre."""


def chain_lines(
    chain: Chain, manner: Manner, cut: Callable[[str, int], str] | None = None
) -> tuple[Paragraph, ...]:
    """Write the chain: conditions, the table, then rope by rope.

    What exceeds the allowance is strong, what weighs little small. A function may cut
    what people typed to so many characters. [1]
    """
    by_sight = chain.table.by_sight if chain.table else ()
    words = finding_words(cut) | {"chain": chain, "by_sight": by_sight}
    blocks, _ = written_page("condition", manner.terms, words)
    return tuple(block for block in blocks if isinstance(block, Paragraph))


def finding_words(cut: Callable[[str, int], str] | None = None) -> dict[str, object]:
    """Give what the sentences of findings name."""
    return {
        "cut": cut or (lambda text, _: text),
        "copy": lambda one: _fine(float(one.held)),
        "lay_text": lambda change: _fine(change.lay, 0.5e-3),
        "lay_fault_text": lay_fault_text,
        "mean_and_bound": _mean_and_bound,
        "results": results,
    }


def exceedances(chain: Chain) -> list[Compared]:
    """Give what exceeds the allowance, rope by rope."""
    every = (one for rope in chain.ropes for one in rope.compared)
    return [one for one in every if one.outcome is Outcome.EXCEEDS]


def excess(one: Compared) -> float:
    """Tell how far it exceeds, found over allowed; one of a gauge. [1]."""
    if isinstance(one, BreakComparison) and one.allowed is not None:
        return (one.finding.broken or 0) / max(float(one.allowed.lay), 0.5)
    if isinstance(one, DiameterComparison) and one.least is not None:
        return float(one.least / one.mean) if one.mean else 2.0
    return 1.0


def _fine(length: float, uncertainty: float = 10.0**-_DECIMALS) -> str:
    """A length [m] that was read with a calliper or a rule."""
    return numbers.written(length, Dimension.LENGTH, uncertainty=uncertainty)


def _mean_and_bound(comparison: DiameterComparison) -> tuple[str, str]:
    """Mean and least diameter, told apart in writing."""
    least = comparison.mean if comparison.least is None else comparison.least
    return numbers.written_apart(
        comparison.mean, least, Dimension.LENGTH, decimals=_DECIMALS
    )


def lay_fault_text(fault: LayFault) -> str:
    """Say why a length can be no lay of a rope."""
    what = "one lay" if fault.lays == 1 else f"each of {fault.lays} lays"
    return told(
        "condition.not-a-lay",
        length=fault.length.text,
        what=what,
        diameters=rounded_text(fault.diameters, digits=2),
        least=LEAST_LAY,
        most=MOST_LAY,
    )


def remarks(entry: Finding | Check) -> str:
    """Note, name and photos of a finding or a check; a dash without any."""
    return joined(entry.note, f"by {entry.by}" if entry.by else "", *entry.photos)
