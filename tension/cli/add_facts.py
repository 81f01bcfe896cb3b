"""Words of ``tension add`` for what a record lacks of hitch, lift and set."""

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import click

from tension.cli.add import adds
from tension.cli.declaring import (
    FORCE,
    LENGTH,
    LINEAR_DENSITY,
    STIFFNESS,
    QuantityText,
    Word,
    opt,
    rope_rows,
    taking,
)
from tension.installation import Buffer, Drive, HitchPlace, Roping
from tension.quantity.units import Dimension, Quantity

if TYPE_CHECKING:
    from tension.files.additions import Maker
    from tension.files.toml_text import Value

_MASS = QuantityText(Dimension.MASS, "kg or lb")


@dataclass(frozen=True, kw_only=True, slots=True)
class HitchOptions:
    """What a hitch is like."""

    rows: str | None = opt(
        "--rows", metavar="TEXT", help='As seen facing the nuts, "1 3 5/2 4 6".'
    )
    thread: str = opt(
        "--thread", default="", metavar="TEXT", help='Of the rods, "M16".'
    )
    buffer: Buffer | None = opt("--buffer", type=Word(Buffer))
    rate: Quantity | None = opt(
        "--rate", type=STIFFNESS, help='Of one spring, "150 N/mm".'
    )
    free: Quantity | None = opt(
        "--free", type=LENGTH, help="Length of a spring without load."
    )
    solid: Quantity | None = opt(
        "--solid", type=LENGTH, help="Length with its coils touching."
    )
    rod: Quantity | None = opt(
        "--rod", type=LENGTH, help="Length of the rods that is free to swing."
    )


@click.command("hitch")
@click.argument("at", type=Word(HitchPlace))
@taking(hitch=HitchOptions)
@adds
def hitch_command(at: HitchPlace, hitch: HitchOptions) -> "Maker":
    """Describe a hitch, or add what is not known of it yet.

    \b
    tension add hitch car --rows "1 3 5/2 4 6" --thread M16 --rate "150 N/mm"
    """
    from tension.cli.adding import text_of
    from tension.files.new_record import NewHitch
    from tension.workflow.adding import hitch as describe_hitch

    new = NewHitch(
        at=at,
        rows=rope_rows(hitch.rows),
        thread=hitch.thread,
        buffer=hitch.buffer,
        spring_rate=text_of(hitch.rate),
        spring_free_length=text_of(hitch.free),
        spring_solid_length=text_of(hitch.solid),
        rod_free=text_of(hitch.rod),
    )
    return describe_hitch(new)


@dataclass(frozen=True, kw_only=True, slots=True)
class LiftFacts:
    """Keys of the lift, as a record names them."""

    name: str = opt("--name", default="", metavar="TEXT", help="Name or number.")
    drive: Drive | None = opt("--drive", type=Word(Drive))
    roping: Roping | None = opt("--roping", type=Word(Roping))
    car_mass: Quantity | None = opt(
        "--car-mass", type=_MASS, help="All that hangs on the car side."
    )
    counterweight_mass: Quantity | None = opt(
        "--counterweight-mass",
        type=_MASS,
        help="All that hangs on the counterweight side.",
    )
    travel: Quantity | None = opt(
        "--travel", type=LENGTH, help="Of the car; how many round trips a turn needs."
    )


@click.command("lift")
@taking(lift=LiftFacts)
@adds
def lift_command(lift: LiftFacts) -> "Maker":
    """Add what the record lacks of the lift; a key that stands there is refused.

    \b
    tension add lift --travel "24 m" --roping 2:1
    """
    from tension.workflow.adding import facts

    return facts("lift", _keys(lift))


@dataclass(frozen=True, kw_only=True, slots=True)
class SetFacts:
    """Keys of the set, as a record names them."""

    diameter: Quantity | None = opt(
        "--diameter", type=LENGTH, help='Nominal, from the tag, "13 mm".'
    )
    construction: str = opt(
        "--construction", default="", metavar="TEXT", help='Such as "8x19 FC".'
    )
    linear_density: Quantity | None = opt(
        "--linear-density",
        type=LINEAR_DENSITY,
        help='Mass per length off the data sheet, "0.575 kg/m".',
    )
    axial_rigidity: Quantity | None = opt(
        "--axial-rigidity", type=FORCE, help='EA off the data sheet, "4.6 MN".'
    )
    rope_length: Quantity | None = opt(
        "--rope-length", type=LENGTH, help='From end to end, "38 m"; for a plan.'
    )
    sockets: bool = opt(
        "--sockets", is_flag=True, help="The sockets stand at one height."
    )


@click.command("set")
@taking(ropes=SetFacts)
@adds
def set_command(ropes: SetFacts) -> "Maker":
    """Add what the record lacks of the ropes; a key that stands there is refused.

    \b
    tension add set --rope-length "38 m"
    tension add set --diameter "13 mm" --construction "8x19 FC"
    """
    from tension.workflow.adding import facts

    return facts("set", _keys(ropes))


def _keys(said: LiftFacts | SetFacts) -> list[tuple[str, "Value | None"]]:
    """The keys of a table as typed; empty where nothing was said."""
    keys: list[tuple[str, Value | None]] = []
    for one in fields(said):
        value = getattr(said, one.name)
        if isinstance(value, Quantity):
            value = value.text
        elif isinstance(value, bool):
            value = "one height" if value else ""
        keys.append((one.name, value))
    return keys
