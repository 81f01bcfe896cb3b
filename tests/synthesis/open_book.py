"""Figures typed as a table of the catalogue holds them."""

from tension.catalogue.allowances import AllowanceTable, RowDistribution
from tension.condition.findings import FigureOf, TypedFigure


def figures_of(
    table: AllowanceTable,
    rope_class: str,
    *,
    nominal: float | None = None,
    is_monthly: bool = False,
) -> tuple[TypedFigure, ...]:
    """Every figure of a table for one class and one size."""
    figures = []
    for what in FigureOf:
        if what is FigureOf.DIAMETER:
            continue
        row = table.break_row(rope_class, RowDistribution(what.value))
        if row is None:
            continue
        breaks = row.breaks
        if is_monthly and row.breaks_if_monthly is not None:
            breaks = row.breaks_if_monthly
        figures.append(
            TypedFigure(
                what=what,
                breaks=breaks,
                fraction_of_wires=row.fraction_of_wires,
                in_strand=row.in_strand,
                in_strand_worn=row.in_strand_worn,
                fraction_of_strand=row.fraction_of_strand,
            )
        )
    size = None if nominal is None else table.diameter_row(nominal)
    if size is not None:
        figures.append(
            TypedFigure(
                what=FigureOf.DIAMETER,
                least=size.least,
                least_with_rouge=size.least_with_rouge,
                most_loss=size.most_loss,
            )
        )
    elif table.least_fraction is not None:
        figures.append(
            TypedFigure(what=FigureOf.DIAMETER, least_fraction=table.least_fraction)
        )
    return tuple(figures)
