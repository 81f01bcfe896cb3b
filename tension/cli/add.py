"""``tension add``: readings, facts of hitch, lift and set, work done, things seen."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from tension.cli import adding, options
from tension.cli.adding import the_record, word
from tension.errors import InvalidValueError
from tension.installation import Buffer, Drive, HitchPlace, Roping, Side
from tension.quantity.units import Dimension

if TYPE_CHECKING:
    from tension.files.record import Maker
    from tension.files.toml_text import Value

command = adding.command
_LISTS = frozenset({"diameters", "gauge", "photo"})
_Lines = Annotated[tuple[str, ...], options.arg("[LINE]...", nargs=-1)]
_Rope = Annotated[int, options.arg()]
_Count = Annotated[int, options.arg(type=options.WholeNumber(1, 1000))]
_Hitch = Annotated[
    HitchPlace | None,
    options.opt("At which hitch; the one beside the span if left out.", "--hitch"),
]


@word("rope", "A rope once more: its new recording.")
def rope_command(
    rope: _Rope,
    series: options.Series,
    files: tuple[Path, ...] = options.arg("[FILE]...", nargs=-1),
) -> "Maker":
    """Add a recording of one rope; without FILE the only new one is taken.

    \b
    tension add rope 2 "New Recording 16.m4a"
    """
    from tension.workflow.adding_readings import repeat_of_rope

    return repeat_of_rope(rope, files, series)


@word("round", "One more round of a series, or the first.")
def round_command(
    paths: options.SomePaths, order: adding.OrderOptions, series: options.Series
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


@word("left", "The set as left: a round after the turns.")
def left_command(
    *,
    paths: options.SomePaths,
    name: str = options.opt("Name of the new series.", default="as left"),
    order: adding.OrderOptions,
    said: adding.ConditionOptions,
) -> "Maker":
    """Add the round taken after the turns and the run, on the same span.

    \b
    tension add left as-left --same
    """
    from tension.workflow.adding_readings import new_series

    new, is_same = adding.series_of(name, said)
    return new_series(new, order.files(paths), is_same=is_same)


@dataclass(frozen=True, kw_only=True, slots=True)
class PlaceOptions:
    """Where the round was taken."""

    position: str = options.opt("Where the car stands.")
    name: str = options.opt("Name of the new series.")
    lengths: str = options.opt(
        'Free lengths there, "12.1 12.3 12.1 12.3 m"; one if all are alike.'
    )


@word("side", "A round on the other side, or at another place.")
def side_command(
    side: Annotated[Side, options.arg()],
    paths: options.Paths,
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

    typed = place.lengths and adding.read_in_order(place.lengths, Dimension.LENGTH)
    lengths = [length.text for length in typed or ()]
    span = NewSpan(side=side, position=place.position, free_lengths=lengths)
    new, is_same = adding.series_of(place.name or span.name, said)
    return new_series(new, order.files(paths), is_same=is_same, span=span)


@word("pulls", "Side pulls off a paper sheet, a line a rope.")
def pulls_command(
    *,
    lines: _Lines,
    deflection: options.Length = options.opt("Held the same on all ropes."),
    force: options.Force = options.opt("Held the same, where deflections are read."),
    at: options.Length = options.opt("From the lower node; mid-span if left out."),
    series: options.Series,
) -> "Maker":
    """Add side pulls, a LINE a rope: "2: 38, 37.5, 38 lbf"; none asks for them.

    What was held the same on all ropes is --deflection or --force.

    \b
    tension add pulls --deflection "1 in" "1: 38 37.5 lbf" "2: 35 35.5 lbf"
    """
    from tension.workflow.adding_readings import readings

    give = 'Give what was held the same on all ropes: --deflection "25 mm" or --force.'
    options.require((deflection is None) != (force is None), give)
    of = Dimension.FORCE if deflection else Dimension.LENGTH
    sheet = adding.sheet_typed(lines, 'Rope and readings, like "2: 38 37.5 lbf"', of)
    begin = 'Begin each line with its rope, like "2: 38 37.5 lbf".'
    options.require(sheet.by_rope, begin)
    keys = {
        "force": force and force.text,
        "deflection": deflection and deflection.text,
        "hold": "deflection" if deflection else "force",
        "at": at and at.text,
    }
    what = "force" if deflection else "deflection"
    return readings("pull", what, sheet, keys, series)


@word("returns", "Timed wave returns of one rope.")
def returns_command(
    rope: _Rope,
    count: _Count,
    series: options.Series,
    elapsed: str = options.arg("TIMES"),
) -> "Maker":
    """Add timed wave returns of one rope: COUNT round trips of the wave, each time.

    \b
    tension add returns 3 5 "6.46 6.41 6.50 s"
    """
    from tension.workflow.adding_readings import readings
    from tension.workflow.typed_sheets import Sheet

    sheet = Sheet(by_rope={rope: adding.read_in_order(elapsed, Dimension.TIME)})
    return readings("returns", "elapsed", sheet, {"count": count}, series)


@word("springs", "Lengths of the springs under load.")
def springs_command(lines: _Lines, hitch: _Hitch, series: options.Series) -> "Maker":
    """Add spring lengths: one LINE for all ropes in order, or "2: 139.5 mm" a rope.

    \b
    tension add springs "139 142 139 139.5 137 139.5 mm"
    """
    from tension.workflow.adding_readings import readings

    sheet = adding.sheet_typed(lines, "Spring lengths in rope order", Dimension.LENGTH)
    return readings("spring", "length", sheet, {"hitch": hitch}, series)


@word("lengths", "Free lengths that the record lacks.")
def lengths_command(
    lines: _Lines, span: str = options.opt("Which span; the last's.", metavar="NAME")
) -> "Maker":
    """Add free lengths: one LINE for all ropes in order, or "2: 3.55 m" a rope.

    \b
    tension add lengths "3.40 3.55 3.40 3.555 3.402 3.55 m"
    """
    from tension.workflow.adding_readings import free_lengths

    sheet = adding.sheet_typed(lines, "Free lengths in rope order", Dimension.LENGTH)
    return free_lengths(sheet, span)


@word("threads", "Thread left on the rods.")
def threads_command(text: str = options.arg("PAIRS")) -> "Maker":
    """Add the thread left, towards the plate / away from it, in rope order.

    \b
    tension add threads "22/14 26/11 21/15 24/13 25/12 22/14 mm"
    """
    from tension.workflow.adding import tables_of
    from tension.workflow.typed_sheets import read_pairs

    pairs = adding.with_unit(lambda unit: read_pairs(text, unit), Dimension.LENGTH)
    ropes = (
        {"number": rope, "take_up_left": into.text, "ease_left": out.text}
        for rope, (into, out) in enumerate(pairs, start=1)
    )
    return tables_of("rope", *ropes)


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


@word("hitch", "Where the nuts are: rows, thread, springs.")
def hitch_command(hitch: HitchOptions, at: HitchPlace = options.arg()) -> "Maker":
    """Describe a hitch, or add what is not known of it yet.

    \b
    tension add hitch car --rows "1 3 5/2 4 6" --thread M16 --rate "150 N/mm"
    """
    return _facts("hitch", hitch, at=at)


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


@word("lift", "What the record lacks of the lift: travel, roping, masses.")
def lift_command(lift: LiftFacts) -> "Maker":
    """Add what the record lacks of the lift; a key that stands there is refused.

    \b
    tension add lift --travel "24 m" --roping 2:1
    """
    return _facts("lift", lift)


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


@word("set", "What it lacks of the ropes: length, diameter, stiffness.")
def set_command(ropes: SetFacts) -> "Maker":
    """Add what the record lacks of the ropes; a key that stands there is refused.

    \b
    tension add set --rope-length "38 m"
    tension add set --diameter "13 mm" --construction "8x19 FC"
    """
    return _facts("set", ropes)


def _facts(of: str, group: object, **more: "Value") -> "Maker":
    """What is added of a table, whose keys are the fields of a group of options."""
    from tension.workflow.adding import facts

    own = options.opt_of(type(group)).items()
    flags = [option.flags_of(name)[0] for name, option in own]
    return facts(of, {**more, **options.said_of(group)}, flags)


@word("turns", "Turns of the nuts, as the plan prints them.")
def turns_command(
    *,
    text: tuple[str, ...] = options.arg("TURNS", nargs=-1, required=True),
    trips: int | None = options.opt(
        "Round trips run since.", "--run", type=options.WholeNumber(0, 1000)
    ),
    again: bool = options.opt("The same turns were made once more."),
    hitch: _Hitch,
    series: options.Series,
) -> "Maker":
    """Add turns as the plan prints them; "in" is towards the plate.

    Round trips of the car are told afterwards, by tension add run.

    \b
    tension add turns "2 in 4 1/2, 5 out 4"
    """
    from tension.adjustment.outcome import read_turns
    from tension.workflow.adding import turns

    made = read_turns(" ".join(text))
    return turns(made, series=series, at=hitch, round_trips=trips, is_again=again)


@word("run", "Round trips of the car after the turns.")
def run_command(trips: _Count, series: options.Series) -> "Maker":
    """Add round trips that the car ran after the turns; several runs add up.

    \b
    tension add run 6
    """
    from tension.workflow.adding import run

    return run(trips, series)


@word("exclude", "A rope or a recording that does not count, and why.")
def exclude_command(
    *,
    what: str = options.arg("ROPE|RECORDING"),
    why: str = options.arg("REASON"),
    pluck: int | None = options.opt(
        "Only that pluck of it.", type=options.WholeNumber(1, 100)
    ),
    series: options.Series,
) -> "Maker":
    """Leave out a rope of a series, or a recording, and say why; nothing is deleted.

    \b
    tension add exclude rope-4.m4a "door slammed"
    """
    from tension.workflow.adding import exclusion

    by = the_record(reason=the_record().reason or why).by
    return exclusion(what, why, pluck=pluck, by=by, series=series)


@word("looked", "What was seen where a note asked to look.")
def looked_command(
    note: str = options.arg("NOTE"),
    answer: str = options.arg("TEXT"),
    ropes: options.Order = options.opt("Which ropes; all."),
) -> "Maker":
    """Answer a note by its number: what was looked at, and what was seen.

    \b
    tension add looked 322 "rope 2 is free of the guard" --ropes 2 --by "R. Example"
    """
    from tension.workflow.adding import looked

    date = dt.datetime.now().astimezone().date().isoformat()
    return looked(note, answer, ropes, by=the_record().by, date=date)


def _rope_or_all(text: str) -> int | None:
    """The rope of a finding; None for the whole set."""
    plain = text.lower().removeprefix("rope").strip()
    if plain in {"all", "set"}:
        return None
    if not plain.isdigit():
        raise InvalidValueError(f'write a rope number, or "all", not "{text}"')
    return int(plain)


@word("finding", "A finding on the condition of a rope.")
def finding_command(
    rope: int | None = options.arg("ROPE|all", type=options.Text(_rope_or_all)),
    kind: str = options.arg(),
    details: tuple[str, ...] = options.arg("[KEY=VALUE]...", nargs=-1),
) -> "Maker":
    """Add a finding; KEY=VALUE as docs/file-formats.md names the keys of a finding.

    \b
    tension add finding 3 rouge at="2 m above the car hitch"
    tension add finding 3 broken-wires broken=12 distribution=spread lay="84 mm"
    """
    from tension.workflow.adding import tables_of

    keys = _finding_keys(kind.lower(), details, by=the_record().by)
    return tables_of("finding", {"rope": rope, "kind": kind.lower(), **keys})


def _finding_keys(kind: str, details: Sequence[str], by: str) -> dict[str, "Value"]:
    """Read the keys of a finding; it is seen if nothing else is said or measured."""
    from tension.condition.findings import KEYS_OF
    from tension.files.record import key_types

    types = key_types("finding")
    keys: dict[str, Value] = {"by": by} if by else {}
    for detail in details:
        name, _, text = (part.strip() for part in detail.partition("="))
        known = f"the keys of a finding are {', '.join(types)}."
        options.require(text, f'"{detail}" is no KEY=VALUE; {known}')
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


@word("correction", "Something put right, in words, in a sealed record.")
def correction_command(text: str = options.arg()) -> None:
    """Put something right, in words, in a sealed record; what stands there stays.

    In a record without a seal a wrong reading is left out with tension add exclude,
    and the right one is added.

    \b
    tension add correction "rope 3 is rope 4" --by "R. Example" --reason "misread"
    """
    adding.correct_in_words(text)
