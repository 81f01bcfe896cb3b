"""What one row allows, and what of a count it is held against, in exact numbers."""

from dataclasses import dataclass
from fractions import Fraction

from tension.catalogue.allowances import BreakRow
from tension.condition.confirmation import TypedFigure
from tension.condition.findings import Distribution, Finding
from tension.condition.rope_class import Strands
from tension.quantity.comparison import as_typed
from tension.quantity.units import Quantity


@dataclass(frozen=True, kw_only=True, slots=True)
class BreakLimits:
    """Broken wires that a row allows.

    Attributes
    ----------
    lay, strand : Fraction or None
        In one lay of the rope, and of them in one strand. [1]
    """

    lay: Fraction | None
    strand: Fraction | None = None

    def times(self, factor: Fraction) -> "BreakLimits":
        """Multiply both.

        Parameters
        ----------
        factor : Fraction
            The factor. [1]
        """
        return BreakLimits(
            lay=None if self.lay is None else self.lay * factor,
            strand=None if self.strand is None else self.strand * factor,
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class BreakCount:
    """What of a finding is held against a row.

    Attributes
    ----------
    lay : int
        Broken in the lay, or side by side where the row is of those. [1]
    strand_least, strand_most : int
        Between what the most broken wires in any one strand lie. [1]
    adjacent : int or None
        Side by side in one strand; None if not written down. [1]
    """

    lay: int
    strand_least: int
    strand_most: int
    adjacent: int | None


def count_of(
    finding: Finding, row: BreakRow | None, strands: Strands | None
) -> BreakCount:
    """Tell what of a finding is held against a row.

    Parameters
    ----------
    finding : Finding
        The finding.
    row : BreakRow or None
        The row.
    strands : Strands or None
        Strands of the rope, if known.

    Returns
    -------
    BreakCount
        Counts; what was not written down lies between bounds.
    """
    broken = finding.broken or 0
    if finding.distribution is Distribution.SIDE_BY_SIDE:
        least = finding.adjacent or (broken if row and row.is_of_adjacent else 1)
    else:
        n_strands = strands.n_strands if strands else 12
        among = (
            2 if finding.distribution is Distribution.ONE_OR_TWO_STRANDS else n_strands
        )
        least = -(-broken // among)
    strand = finding.in_one_strand
    is_of_adjacent = row is not None and row.is_of_adjacent
    adjacent = finding.adjacent
    return BreakCount(
        lay=broken if adjacent is None or not is_of_adjacent else adjacent,
        strand_least=least if strand is None else strand,
        strand_most=broken if strand is None else strand,
        adjacent=adjacent,
    )


def held_limits(
    row: BreakRow | None, strands: Strands | None, *, is_monthly: bool, is_worn: bool
) -> BreakLimits | None:
    """Give what a row of this program's copy allows.

    Parameters
    ----------
    row : BreakRow or None
        The row.
    strands : Strands or None
        Strands and wires of the rope, for parts of them.
    is_monthly : bool
        Whether the ropes are inspected every month.
    is_worn : bool
        Whether wires are badly rusted or worn.

    Returns
    -------
    BreakLimits or None
        None without a row, or where the wires are not known.
    """
    if row is None:
        return None
    breaks = row.breaks
    if is_monthly and row.breaks_if_monthly is not None:
        breaks = row.breaks_if_monthly
    worn = row.in_strand if row.in_strand_worn is None else row.in_strand_worn
    return _limits(
        (breaks, row.fraction_of_wires),
        (worn if is_worn else row.in_strand, row.fraction_of_strand),
        strands,
        has_filler_counted=row.has_filler_counted,
    )


def typed_limits(
    figure: TypedFigure | None,
    row: BreakRow | None,
    strands: Strands | None,
    *,
    is_worn: bool,
) -> BreakLimits | None:
    """Give what the figure that was typed allows.

    Parameters
    ----------
    figure : TypedFigure or None
        The figure.
    row : BreakRow or None
        The row of this program's copy, for how parts of the wires are counted.
    strands : Strands or None
        Strands and wires of the rope.
    is_worn : bool
        Whether wires are badly rusted or worn.

    Returns
    -------
    BreakLimits or None
        None if it was not typed, or where the wires are not known.
    """
    if figure is None:
        return None
    in_strand = figure.in_strand
    has_worn = row is not None and row.in_strand_worn is not None
    if is_worn and (has_worn or figure.in_strand_worn is not None):
        in_strand = figure.in_strand_worn
    return _limits(
        (figure.breaks, figure.fraction_of_wires),
        (in_strand, figure.fraction_of_strand),
        strands,
        has_filler_counted=row is not None and row.has_filler_counted,
    )


def _limits(
    lay: tuple[int | None, Quantity | None],
    strand: tuple[int | None, Quantity | None],
    strands: Strands | None,
    *,
    has_filler_counted: bool,
) -> BreakLimits | None:
    """Numbers as they are, parts of the wires worked out."""
    n_wires = n_strands = None
    if strands is not None and strands.n_filler is not None:
        n_strands = strands.n_strands
        n_wires = strands.n_wires - (0 if has_filler_counted else strands.n_filler)
    of_lay = _number(lay, n_wires and n_strands and n_wires * n_strands)
    if of_lay is None:
        return None
    return BreakLimits(lay=of_lay, strand=_number(strand, n_wires))


def _number(
    written: tuple[int | None, Quantity | None], of_how_many: int | None
) -> Fraction | None:
    """A number as it is, else a part of so many."""
    number, part = written
    if number is not None:
        return Fraction(number)
    if part is None or of_how_many is None:
        return None
    return as_typed(part) * of_how_many
