"""Words of ``tension add`` for recordings: a rope once more, a round, left, a side."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tension.cli.add import adds
from tension.cli.add_options import ConditionOptions, OrderOptions
from tension.cli.declaring import PATH, Word, opt, rope_order, taking
from tension.cli.options import paths_argument, series_option, some_paths_argument
from tension.installation import Side

if TYPE_CHECKING:
    from tension.files.additions import Maker


@click.command("rope")
@click.argument("rope", type=int)
@click.argument("files", nargs=-1, type=PATH, metavar="[FILE]...")
@series_option
@adds
def rope_command(rope: int, files: tuple[Path, ...], series: str | None) -> "Maker":
    """Add a recording of one rope; without FILE the only new one is taken.

    \b
    tension add rope 2 "New Recording 16.m4a"
    """
    from tension.workflow.adding_recordings import repeat_of_rope

    return repeat_of_rope(rope, files, series or "")


@click.command("round")
@some_paths_argument
@taking(order=OrderOptions)
@series_option
@adds
def round_command(
    paths: tuple[Path, ...], order: OrderOptions, series: str | None
) -> "Maker":
    """Add one more round of a series that is there: a folder, files, or one memo.

    As many files as ropes are ropes 1 and up in the order of their numbers; of more
    files, or of one memo, --order says which rope each is of.

    \b
    tension add round round-b
    tension add round all.m4a --order "6 5 4 3 2 1" --plucks-each 3
    """
    from tension.workflow.adding_recordings import round_of_ropes

    return round_of_ropes(
        paths,
        order=rope_order(order.order),
        plucks_each=order.plucks_each,
        series=series or "",
    )


@click.command("left")
@some_paths_argument
@click.option(
    "--name", default="as left", show_default=True, help="Name of the new series."
)
@taking(order=OrderOptions, said=ConditionOptions)
@adds
def left_command(
    paths: tuple[Path, ...], name: str, order: OrderOptions, said: ConditionOptions
) -> "Maker":
    """Add the round taken after the turns and the run, on the same span.

    \b
    tension add left as-left --same
    """
    from tension.cli.adding import conditions_of
    from tension.workflow.adding_recordings import new_series

    return new_series(
        name,
        paths,
        conditions_of(said),
        order=rope_order(order.order),
        plucks_each=order.plucks_each,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class PlaceOptions:
    """Where the round was taken."""

    position: str = opt(
        "--position", default="", metavar="TEXT", help="Where the car stands."
    )
    name: str = opt("--name", default="", help="Name of the new series.")
    lengths: str = opt(
        "--lengths",
        default="",
        metavar="TEXT",
        help='Free lengths there, "12.1 12.3 12.1 12.3 m"; one if all are alike.',
    )


@click.command("side")
@click.argument("side", type=Word(Side))
@paths_argument
@taking(place=PlaceOptions, order=OrderOptions, said=ConditionOptions)
@adds
def side_command(
    *,
    side: Side,
    paths: tuple[Path, ...],
    place: PlaceOptions,
    order: OrderOptions,
    said: ConditionOptions,
) -> "Maker":
    """Add a round on the other side of the sheave, or with the car elsewhere.

    \b
    tension add side counterweight cwt --position "mid travel"
        --lengths "12.1 12.3 12.1 12.3 m"
    """
    from tension.cli.adding import conditions_of, read_lines
    from tension.quantity.units import Dimension
    from tension.workflow.adding_recordings import NewSpan, new_series

    lengths: tuple[str, ...] = ()
    if place.lengths:
        sheet = read_lines([place.lengths], Dimension.LENGTH)
        lengths = tuple(length.text for length in sheet.in_order)
    name = ", ".join(part for part in (place.position, f"{side} side") if part)
    return new_series(
        place.name or name,
        paths,
        conditions_of(said),
        order=rope_order(order.order),
        plucks_each=order.plucks_each,
        span=NewSpan(
            name=name, side=side, position=place.position, free_lengths=lengths
        ),
    )
