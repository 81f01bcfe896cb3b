"""Words of ``tension add`` for numbers read: pulls, returns, springs, lengths, rods."""

from dataclasses import dataclass

import click

from tension.cli.add_options import RecordOptions
from tension.cli.declaring import FORCE, LENGTH, opt, taking
from tension.cli.options import hitch_option, series_option
from tension.installation import HitchPlace
from tension.quantity.units import Dimension, Quantity

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
@taking(record=RecordOptions)
def pulls_command(
    lines: tuple[str, ...],
    pulled: PullOptions,
    series: str | None,
    record: RecordOptions,
) -> None:
    """Add side pulls, a LINE a rope: "2: 38, 37.5, 38 lbf"; none asks for them.

    What was held the same on all ropes is --deflection or --force.

    \b
    tension add pulls --deflection "1 in" "1: 38 37.5 lbf" "2: 35 35.5 lbf"
    """
    from tension.cli.adding import run_add, side_pulls_typed
    from tension.workflow.adding_numbers import side_pulls

    sheet = side_pulls_typed(lines, pulled.deflection, pulled.force, pulled.at)
    run_add(record, side_pulls(sheet, series or ""))


@click.command("returns")
@click.argument("rope", type=int)
@click.argument("count", type=click.IntRange(1, 1000))
@click.argument("elapsed", metavar="TIMES")
@series_option
@taking(record=RecordOptions)
def returns_command(
    rope: int, count: int, elapsed: str, series: str | None, record: RecordOptions
) -> None:
    """Add timed wave returns of one rope: COUNT round trips of the wave, each time.

    \b
    tension add returns 3 5 "6.46 6.41 6.50 s"
    """
    from tension.cli.adding import read_lines, run_add
    from tension.workflow.adding_numbers import returns

    times = read_lines([elapsed], Dimension.TIME).in_order
    run_add(record, returns(rope, count, times, series or ""))


@click.command("springs")
@_lines_argument
@hitch_option
@series_option
@taking(record=RecordOptions)
def springs_command(
    lines: tuple[str, ...],
    hitch: HitchPlace | None,
    series: str | None,
    record: RecordOptions,
) -> None:
    """Add spring lengths: one LINE for all ropes in order, or "2: 139.5 mm" a rope.

    \b
    tension add springs "139 142 139 139.5 137 139.5 mm"
    """
    from tension.cli.adding import lines_or_asked, read_lines, run_add
    from tension.workflow.adding import Where
    from tension.workflow.adding_numbers import springs

    typed = lines_or_asked(lines, "Spring lengths in rope order (Enter ends)")
    sheet = read_lines(typed, Dimension.LENGTH)
    where = Where(series=series or "", hitch=hitch)
    run_add(record, springs(sheet.by_rope or sheet.in_order, where))


@click.command("lengths")
@_lines_argument
@click.option("--span", default="", metavar="NAME", help="Which span; the last's.")
@taking(record=RecordOptions)
def lengths_command(lines: tuple[str, ...], span: str, record: RecordOptions) -> None:
    """Add free lengths: one LINE for all ropes in order, or "2: 3.55 m" a rope.

    \b
    tension add lengths "3.40 3.55 3.40 3.555 3.402 3.55 m"
    """
    from tension.cli.adding import lines_or_asked, read_lines, run_add
    from tension.workflow.adding_numbers import free_lengths

    typed = lines_or_asked(lines, "Free lengths in rope order (Enter ends)")
    sheet = read_lines(typed, Dimension.LENGTH)
    run_add(record, free_lengths(sheet.by_rope or sheet.in_order, span))


@click.command("threads")
@click.argument("text", metavar="PAIRS")
@taking(record=RecordOptions)
def threads_command(text: str, record: RecordOptions) -> None:
    """Add the thread left, towards the plate / away from it, in rope order.

    \b
    tension add threads "22/14 26/11 21/15 24/13 25/12 22/14 mm"
    """
    from tension.cli.adding import run_add, typed
    from tension.workflow.adding_numbers import thread_left
    from tension.workflow.typed_sheet import read_pairs

    pairs = typed(read_pairs, text)
    run_add(record, thread_left(dict(enumerate(pairs, start=1))))
