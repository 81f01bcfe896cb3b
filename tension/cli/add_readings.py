"""Words of ``tension add`` for numbers read: pulls, returns, springs, lengths, rods."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from tension.cli.add import adds
from tension.cli.declaring import FORCE, LENGTH, opt, taking
from tension.cli.options import hitch_option, series_option
from tension.installation import HitchPlace
from tension.quantity.units import Dimension, Quantity

if TYPE_CHECKING:
    from tension.files.additions import Maker

_lines_argument = click.argument("lines", nargs=-1, metavar="[LINE]...")


@dataclass(frozen=True, kw_only=True, slots=True)
class PullOptions:
    """What was held on all ropes, and where they were pulled."""

    deflection: Quantity | None = opt(
        "--deflection", type=LENGTH, help="Held the same on all ropes."
    )
    force: Quantity | None = opt(
        "--force", type=FORCE, help="Held the same, where deflections are read."
    )
    at: Quantity | None = opt(
        "--at", type=LENGTH, help="From the lower node; mid-span if left out."
    )


@click.command("pulls")
@_lines_argument
@taking(pulled=PullOptions)
@series_option
@adds
def pulls_command(
    lines: tuple[str, ...], pulled: PullOptions, series: str | None
) -> "Maker":
    """Add side pulls, a LINE a rope: "2: 38, 37.5, 38 lbf"; none asks for them.

    What was held the same on all ropes is --deflection or --force.

    \b
    tension add pulls --deflection "1 in" "1: 38 37.5 lbf" "2: 35 35.5 lbf"
    """
    from tension.cli.adding import side_pulls_typed
    from tension.workflow.adding_numbers import side_pulls

    sheet = side_pulls_typed(lines, pulled.deflection, pulled.force, pulled.at)
    return side_pulls(sheet, series or "")


@click.command("returns")
@click.argument("rope", type=int)
@click.argument("count", type=click.IntRange(1, 1000))
@click.argument("elapsed", metavar="TIMES")
@series_option
@adds
def returns_command(rope: int, count: int, elapsed: str, series: str | None) -> "Maker":
    """Add timed wave returns of one rope: COUNT round trips of the wave, each time.

    \b
    tension add returns 3 5 "6.46 6.41 6.50 s"
    """
    from tension.cli.adding import read_lines
    from tension.workflow.adding_numbers import returns

    times = read_lines([elapsed], Dimension.TIME).in_order
    return returns(rope, count, times, series or "")


@click.command("springs")
@_lines_argument
@hitch_option
@series_option
@adds
def springs_command(
    lines: tuple[str, ...], hitch: HitchPlace | None, series: str | None
) -> "Maker":
    """Add spring lengths: one LINE for all ropes in order, or "2: 139.5 mm" a rope.

    \b
    tension add springs "139 142 139 139.5 137 139.5 mm"
    """
    from tension.cli.adding import lines_or_asked, read_lines
    from tension.workflow.adding import Where
    from tension.workflow.adding_numbers import springs

    typed = lines_or_asked(lines, "Spring lengths in rope order (Enter ends)")
    sheet = read_lines(typed, Dimension.LENGTH)
    where = Where(series=series or "", hitch=hitch)
    return springs(sheet.by_rope or sheet.in_order, where)


@click.command("lengths")
@_lines_argument
@click.option("--span", default="", metavar="NAME", help="Which span; the last's.")
@adds
def lengths_command(lines: tuple[str, ...], span: str) -> "Maker":
    """Add free lengths: one LINE for all ropes in order, or "2: 3.55 m" a rope.

    \b
    tension add lengths "3.40 3.55 3.40 3.555 3.402 3.55 m"
    """
    from tension.cli.adding import lines_or_asked, read_lines
    from tension.workflow.adding_numbers import free_lengths

    typed = lines_or_asked(lines, "Free lengths in rope order (Enter ends)")
    sheet = read_lines(typed, Dimension.LENGTH)
    return free_lengths(sheet.by_rope or sheet.in_order, span)


@click.command("threads")
@click.argument("text", metavar="PAIRS")
@adds
def threads_command(text: str) -> "Maker":
    """Add the thread left, towards the plate / away from it, in rope order.

    \b
    tension add threads "22/14 26/11 21/15 24/13 25/12 22/14 mm"
    """
    from tension.cli.adding import typed
    from tension.workflow.adding_numbers import thread_left
    from tension.workflow.typed_sheet import read_pairs

    pairs = typed(read_pairs, text)
    return thread_left(dict(enumerate(pairs, start=1)))
