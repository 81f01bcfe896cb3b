"""``tension add``: what was read: recordings, pulls, returns, lengths."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tension.cli import adding, options
from tension.cli.adding import adds
from tension.installation import HitchPlace, Side
from tension.quantity.units import Dimension

if TYPE_CHECKING:
    from tension.files.record import Maker

command = adding.command  # begins with these words; `add` has the others


@command.command("rope", short_help="A rope once more: its new recording.")
@click.argument("rope", type=int)
@click.argument("files", nargs=-1, type=options.PATH, metavar="[FILE]...")
@options.series_option
@adds
def rope_command(rope: int, files: tuple[Path, ...], series: str | None) -> "Maker":
    """Add a recording of one rope; without FILE the only new one is taken.

    \b
    tension add rope 2 "New Recording 16.m4a"
    """
    from tension.workflow.adding_readings import repeat_of_rope

    return repeat_of_rope(rope, files, series)


@command.command("round", short_help="One more round of a series, or the first.")
@options.some_paths_argument
@options.taking(order=adding.OrderOptions)
@options.series_option
@adds
def round_command(
    paths: tuple[Path, ...], order: adding.OrderOptions, series: str | None
) -> "Maker":
    """Add one more round of a series that is there: a folder, files, or one memo.

    As many files as ropes are ropes 1 and up in the order of their numbers; of more
    files, or of one memo, --order says which rope each is of.

    \b
    tension add round round-b
    tension add round all.m4a --order "6 5 4 3 2 1" --plucks-each 3
    """
    from tension.workflow.adding_readings import round_of_ropes

    return round_of_ropes(order.files(paths), series)


@command.command("left", short_help="The set as left: a round after the turns.")
@options.some_paths_argument
@click.option(
    "--name", default="as left", show_default=True, help="Name of the new series."
)
@options.taking(order=adding.OrderOptions, said=adding.ConditionOptions)
@adds
def left_command(
    paths: tuple[Path, ...],
    name: str,
    order: adding.OrderOptions,
    said: adding.ConditionOptions,
) -> "Maker":
    """Add the round taken after the turns and the run, on the same span.

    \b
    tension add left as-left --same
    """
    from tension.workflow.adding_readings import new_series

    return new_series(name, order.files(paths), adding.conditions_of(said))


@dataclass(frozen=True, kw_only=True, slots=True)
class PlaceOptions:
    """Where the round was taken."""

    position: str = options.opt("Where the car stands.")
    name: str = options.opt("Name of the new series.")
    lengths: str = options.opt(
        'Free lengths there, "12.1 12.3 12.1 12.3 m"; one if all are alike.'
    )


@command.command("side", short_help="A round on the other side, or at another place.")
@click.argument("side", type=options.Word(Side))
@options.paths_argument
@options.taking(
    place=PlaceOptions, order=adding.OrderOptions, said=adding.ConditionOptions
)
@adds
def side_command(
    *,
    side: Side,
    paths: tuple[Path, ...],
    place: PlaceOptions,
    order: adding.OrderOptions,
    said: adding.ConditionOptions,
) -> "Maker":
    """Add a round on the other side of the sheave, or with the car elsewhere.

    \b
    tension add side counterweight cwt --position "mid travel"
        --lengths "12.1 12.3 12.1 12.3 m"
    """
    from tension.workflow.adding_readings import NewSpan, new_series

    lengths: tuple[str, ...] = ()
    if place.lengths:
        sheet = adding.read_lines([place.lengths], Dimension.LENGTH)
        lengths = tuple(length.text for length in sheet.in_order)
    name = ", ".join(part for part in (place.position, f"{side} side") if part)
    span = NewSpan(name=name, side=side, position=place.position, free_lengths=lengths)
    files = order.files(paths)
    return new_series(place.name or name, files, adding.conditions_of(said), span=span)


_lines_argument = click.argument("lines", nargs=-1, metavar="[LINE]...")


@dataclass(frozen=True, kw_only=True, slots=True)
class PullOptions:
    """What was held on all ropes, and where they were pulled."""

    deflection: options.Length = options.opt("Held the same on all ropes.")
    force: options.Force = options.opt("Held the same, where deflections are read.")
    at: options.Length = options.opt("From the lower node; mid-span if left out.")


@command.command("pulls", short_help="Side pulls off a paper sheet, a line a rope.")
@_lines_argument
@options.taking(pulled=PullOptions)
@options.series_option
@adds
def pulls_command(
    lines: tuple[str, ...], pulled: PullOptions, series: str | None
) -> "Maker":
    """Add side pulls, a LINE a rope: "2: 38, 37.5, 38 lbf"; none asks for them.

    What was held the same on all ropes is --deflection or --force.

    \b
    tension add pulls --deflection "1 in" "1: 38 37.5 lbf" "2: 35 35.5 lbf"
    """
    from tension.workflow.adding_readings import side_pulls

    held = [one for one in (pulled.deflection, pulled.force) if one]
    options.require(
        len(held) == 1,
        'Give what was held the same on all ropes: --deflection "25 mm" or --force.',
    )
    of = Dimension.FORCE if pulled.deflection else Dimension.LENGTH
    sheet = adding.sheet_typed(lines, 'Rope and readings, like "2: 38 37.5 lbf"', of)
    options.require(
        sheet.by_rope, 'Begin each line with its rope, like "2: 38 37.5 lbf".'
    )
    return side_pulls(sheet.by_rope, held[0], at=pulled.at, series=series)


@command.command("returns", short_help="Timed wave returns of one rope.")
@click.argument("rope", type=int)
@click.argument("count", type=options.WholeNumber(1, 1000))
@click.argument("elapsed", metavar="TIMES")
@options.series_option
@adds
def returns_command(rope: int, count: int, elapsed: str, series: str | None) -> "Maker":
    """Add timed wave returns of one rope: COUNT round trips of the wave, each time.

    \b
    tension add returns 3 5 "6.46 6.41 6.50 s"
    """
    from tension.workflow.adding_readings import returns

    times = adding.read_lines([elapsed], Dimension.TIME).in_order
    return returns(rope, count, times, series)


@command.command("springs", short_help="Lengths of the springs under load.")
@_lines_argument
@options.hitch_option
@options.series_option
@adds
def springs_command(
    lines: tuple[str, ...], hitch: HitchPlace | None, series: str | None
) -> "Maker":
    """Add spring lengths: one LINE for all ropes in order, or "2: 139.5 mm" a rope.

    \b
    tension add springs "139 142 139 139.5 137 139.5 mm"
    """
    from tension.workflow.adding_readings import springs

    sheet = adding.sheet_typed(lines, "Spring lengths in rope order", Dimension.LENGTH)
    return springs(sheet, series=series, at=hitch)


@command.command("lengths", short_help="Free lengths that the record lacks.")
@_lines_argument
@click.option("--span", default="", metavar="NAME", help="Which span; the last's.")
@adds
def lengths_command(lines: tuple[str, ...], span: str) -> "Maker":
    """Add free lengths: one LINE for all ropes in order, or "2: 3.55 m" a rope.

    \b
    tension add lengths "3.40 3.55 3.40 3.555 3.402 3.55 m"
    """
    from tension.workflow.adding_readings import free_lengths

    sheet = adding.sheet_typed(lines, "Free lengths in rope order", Dimension.LENGTH)
    return free_lengths(sheet, span)


@command.command("threads", short_help="Thread left on the rods.")
@click.argument("text", metavar="PAIRS")
@adds
def threads_command(text: str) -> "Maker":
    """Add the thread left, towards the plate / away from it, in rope order.

    \b
    tension add threads "22/14 26/11 21/15 24/13 25/12 22/14 mm"
    """
    from tension.workflow.adding_readings import thread_left
    from tension.workflow.typed_sheets import read_pairs

    with adding.typed():
        pairs = read_pairs(text)
    return thread_left(dict(enumerate(pairs, start=1)))
