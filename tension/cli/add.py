"""``tension add``: facts of hitch, lift and set, work done, things seen."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import click

from tension.cli import options
from tension.cli.add_readings import command
from tension.cli.adding import adds, correct_in_words, the_record, typed
from tension.errors import InvalidValueError
from tension.installation import Buffer, Drive, HitchPlace, Roping

if TYPE_CHECKING:
    from tension.files.record import Maker
    from tension.files.toml_text import Value

_LISTS = frozenset({"diameters", "gauge", "photo"})


@dataclass(frozen=True, kw_only=True, slots=True)
class HitchOptions:
    """What a hitch is like, as a record names it."""

    rows: options.Rows = options.opt('As seen facing the nuts, "1 3 5/2 4 6".')
    thread: str = options.opt('Of the rods, "M16".')
    buffer: Buffer | None = options.opt()
    spring_rate: options.Stiffness = options.opt('Of one spring, "150 N/mm".', "--rate")
    spring_free_length: options.Length = options.opt(
        "Length of a spring without load.", "--free"
    )
    spring_solid_length: options.Length = options.opt(
        "Length with its coils touching.", "--solid"
    )
    rod_free: options.Length = options.opt(
        "Length of the rods that is free to swing.", "--rod"
    )


@command.command("hitch", short_help="Where the nuts are: rows, thread, springs.")
@click.argument("at", type=options.Word(HitchPlace))
@options.taking(hitch=HitchOptions)
@adds
def hitch_command(at: HitchPlace, hitch: HitchOptions) -> "Maker":
    """Describe a hitch, or add what is not known of it yet.

    \b
    tension add hitch car --rows "1 3 5/2 4 6" --thread M16 --rate "150 N/mm"
    """
    from tension.files.new_record import NewHitch
    from tension.workflow.adding import hitch as describe_hitch

    return describe_hitch(NewHitch(at=at, **options.said_of(hitch)))


@dataclass(frozen=True, kw_only=True, slots=True)
class LiftFacts:
    """Keys of the lift, as a record names them."""

    name: str = options.opt("Name or number.")
    drive: Drive | None = options.opt()
    roping: Roping | None = options.opt()
    car_mass: options.Mass = options.opt("All that hangs on the car side.")
    counterweight_mass: options.Mass = options.opt(
        "All that hangs on the counterweight side."
    )
    travel: options.Length = options.opt(
        "Of the car; how many round trips a turn needs."
    )


@command.command(
    "lift", short_help="What the record lacks of the lift: travel, roping, masses."
)
@options.taking(lift=LiftFacts)
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

    diameter: options.Length = options.opt('Nominal, from the tag, "13 mm".')
    construction: str = options.opt('Such as "8x19 FC".')
    linear_density: options.LinearDensity = options.opt(
        'Mass per length off the data sheet, "0.575 kg/m".'
    )
    axial_rigidity: options.Force = options.opt('EA off the data sheet, "4.6 MN".')
    rope_length: options.Length = options.opt('From end to end, "38 m"; for a plan.')
    sockets: str = options.opt(
        "The sockets stand at one height.", flag_value="one height"
    )


@command.command(
    "set", short_help="What it lacks of the ropes: length, diameter, stiffness."
)
@options.taking(ropes=SetFacts)
@adds
def set_command(ropes: SetFacts) -> "Maker":
    """Add what the record lacks of the ropes; a key that stands there is refused.

    \b
    tension add set --rope-length "38 m"
    tension add set --diameter "13 mm" --construction "8x19 FC"
    """
    from tension.workflow.adding import facts

    return facts("set", _keys(ropes))


def _keys(facts: LiftFacts | SetFacts) -> list[tuple[str, "Value | None"]]:
    """The keys of a table as typed; None where nothing was said."""
    said = options.said_of(facts)
    return [(one.name, said.get(one.name)) for one in fields(facts)]


@command.command("turns", short_help="Turns of the nuts, as the plan prints them.")
@click.argument("text", nargs=-1, required=True, metavar="TURNS")
@click.option(
    "--run", "trips", type=options.WholeNumber(0, 1000), help="Round trips run since."
)
@click.option("--again", is_flag=True, help="The same turns were made once more.")
@options.hitch_option
@options.series_option
@adds
def turns_command(
    *,
    text: tuple[str, ...],
    trips: int | None,
    again: bool,
    hitch: HitchPlace | None,
    series: str | None,
) -> "Maker":
    """Add turns as the plan prints them; "in" is towards the plate.

    Round trips of the car are told afterwards, by tension add run.

    \b
    tension add turns "2 in 4 1/2, 5 out 4"
    """
    from tension.adjustment.turns import read_turns
    from tension.workflow.adding import turns

    with typed():
        made = read_turns(" ".join(text))
    return turns(made, series=series, at=hitch, round_trips=trips, is_again=again)


@command.command("run", short_help="Round trips of the car after the turns.")
@click.argument("trips", type=options.WholeNumber(1, 1000))
@options.series_option
@adds
def run_command(trips: int, series: str | None) -> "Maker":
    """Add round trips that the car ran after the turns; several runs add up.

    \b
    tension add run 6
    """
    from tension.workflow.adding import run

    return run(trips, series)


@command.command(
    "exclude", short_help="A rope or a recording that does not count, and why."
)
@click.argument("what", metavar="ROPE|RECORDING")
@click.argument("why", metavar="REASON")
@click.option(
    "--pluck", type=options.WholeNumber(1, 100), help="Only that pluck of it."
)
@options.series_option
@adds
def exclude_command(
    what: str, why: str, pluck: int | None, series: str | None
) -> "Maker":
    """Leave out a rope of a series, or a recording, and say why; nothing is deleted.

    \b
    tension add exclude rope-4.m4a "door slammed"
    """
    from tension.workflow.adding import exclusion

    record = the_record()
    by = the_record(reason=record.reason or why).by
    return exclusion(what, why, pluck=pluck, by=by, series=series)


@command.command("looked", short_help="What was seen where a note asked to look.")
@click.argument("note", metavar="NOTE")
@click.argument("answer", metavar="TEXT")
@options.ropes_option
@adds
def looked_command(note: str, answer: str, ropes: tuple[int, ...]) -> "Maker":
    """Answer a note by its number: what was looked at, and what was seen.

    \b
    tension add looked 322 "rope 2 is free of the guard" --ropes 2 --by "R. Example"
    """
    from tension.workflow.adding import looked

    date = dt.datetime.now().astimezone().date().isoformat()
    return looked(note, answer, ropes, by=the_record().by, date=date)


def _rope_or_all(text: str) -> int:
    """The rope of a finding; nought for the whole set."""
    plain = text.lower().removeprefix("rope").strip()
    if plain in {"all", "set"}:
        return 0
    if not plain.isdigit():
        raise InvalidValueError(f'write a rope number, or "all", not "{text}"')
    return int(plain)


@command.command("finding", short_help="A finding on the condition of a rope.")
@click.argument("rope", type=options.Text(_rope_or_all), metavar="ROPE|all")
@click.argument("kind")
@click.argument("details", nargs=-1, metavar="[KEY=VALUE]...")
@adds
def finding_command(rope: int, kind: str, details: tuple[str, ...]) -> "Maker":
    """Add a finding; KEY=VALUE as docs/file-formats.md names the keys of a finding.

    \b
    tension add finding 3 rouge at="2 m above the car hitch"
    tension add finding 3 broken-wires broken=12 distribution=spread lay="84 mm"
    """
    from tension.workflow.adding import finding

    keys = _finding_keys(kind.lower(), details, by=the_record().by)
    return finding(rope or None, kind.lower(), keys)


def _finding_keys(kind: str, details: Sequence[str], by: str) -> dict[str, "Value"]:
    """Read the keys of a finding; it is seen if nothing else is said or measured."""
    from tension.condition.findings import KEYS_OF
    from tension.files.record import key_types

    types = key_types("finding")
    keys: dict[str, Value] = {"by": by} if by else {}
    for detail in details:
        name, _, text = (part.strip() for part in detail.partition("="))
        known = ", ".join(types)
        options.require(
            text, f'"{detail}" is no KEY=VALUE; the keys of a finding are {known}.'
        )
        keys[name.lower()] = _value(text, types.get(name.lower(), set()), name.lower())
    measured = {name for of, names in KEYS_OF.items() if of == kind for name in names}
    if not keys.keys() & {"seen", *measured}:
        keys["seen"] = "yes"
    return keys


def _value(text: str, types: set[object], name: str) -> "Value":
    """A value of the type that its key has."""
    if int in types and text.isdigit():
        return int(text)
    if bool in types and text.lower() in {"true", "yes", "false", "no"}:
        return text.lower() in {"true", "yes"}
    if name in _LISTS:
        return tuple(part.strip() for part in text.split(";" if ";" in text else ","))
    return text


@command.command(
    "correction", short_help="Something put right, in words, in a sealed record."
)
@click.argument("text")
@adds
def correction_command(text: str) -> None:
    """Put something right, in words, in a sealed record; what stands there stays.

    In a record without a seal a wrong reading is left out with tension add exclude,
    and the right one is added.

    \b
    tension add correction "rope 3 is rope 4" --by "R. Example" --reason "misread"
    """
    correct_in_words(text)
