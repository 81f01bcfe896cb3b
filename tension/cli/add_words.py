"""The words of ``tension add``: readings, facts of hitch, lift and set, work, findings.

Imported when a word is called, not for the list of words.
"""

from collections.abc import Sequence
from dataclasses import dataclass, make_dataclass
from pathlib import Path
from typing import Annotated, Any, cast

import click

from tension.adjustment.outcome import read_turns
from tension.cli import asking, options
from tension.cli.adding import the_record, word
from tension.cli.output import printable
from tension.cli.record_text import conditions_in_words, echo_next_command
from tension.cli.start_questions import QUESTIONS, today
from tension.condition.findings import KEYS_OF
from tension.files.record import Maker, read_visit
from tension.files.record_tables import ONE_HEIGHT, TABLES, typed_value
from tension.files.seal import Correction
from tension.files.table_model import keys_of
from tension.files.toml_text import Value
from tension.installation import HitchPlace, Side
from tension.quantity.units import Dimension
from tension.workflow import adding, adding_readings
from tension.workflow.adding_readings import RoundFiles, Sheet, read_sheet, readings
from tension.workflow.inputs import find_record
from tension.workflow.integrity import correct_record
from tension.workflow.standing import standing_of

_Lines = Annotated[tuple[str, ...], options.arg("[LINE]...", nargs=-1)]
_Rope = Annotated[int, options.arg()]
_Count = Annotated[int, options.arg(type=options.WholeNumber(1, 1000))]
_Hitch = Annotated[
    HitchPlace | None,
    options.opt("At which hitch; the one beside the span if left out.", "--hitch"),
]


def _sheet(lines: Sequence[str], dimension: Dimension, question: str = "") -> Sheet:
    """Read the lines of the command or of a pipe, or ask for them one by one."""
    found = [line for line in lines if list(lines) != ["-"]]
    if not found and question:
        try:
            while line := asking.ask_line(f"{question} (Enter ends)"):
                found.append(line)
        except (asking.BackError, asking.EndedError):
            pass
        options.require(found, "Nothing was typed, so nothing is added.")
    return asking.with_unit(lambda text: read_sheet(text, dimension), "\n".join(found))


def _in_order(line: str, dimension: Dimension) -> Sheet:
    """Read the numbers of one line, which names no rope."""
    sheet = _sheet([line], dimension)
    options.require(0 in sheet, f'"{line}" names a rope; write the numbers alone.')
    return sheet


def _options_of(table: str, *left_out: str, **flags: str) -> type:
    """Make options for the keys of a table, explained as on the page of the record."""
    own: list[tuple[str, Any, Any]] = []
    for name, key in keys_of(TABLES[table]).items():
        if name not in left_out:
            # a list of the record is typed as one text
            said = f"{key.description}.".replace('["', '"').replace('"]', '"')
            said = said.replace('", "', ", ").replace("; no quotes", "")
            extra = cast("dict[str, str]", key.json_schema_extra)
            only = {"metavar": (extra["written"].split(",")[0] or "text").upper()}
            if name == "sockets":
                only = {"flag_value": ONE_HEIGHT}
            flag = [flags[name]] if name in flags else []
            one = options.opt(said[0].upper() + said[1:], *flag, **only)
            own.append((name, str | None, one))
    return make_dataclass(table, own, frozen=True, kw_only=True)


def _said_of(table: str, group: object) -> dict[str, Value]:
    """What was said by options for keys of a table, as a record has it."""
    said: dict[str, Value] = {}
    for name, option in options.opt_of(type(group)).items():
        text = getattr(group, name)
        empty = f"{option.flags_of(name)[0]}: an empty text says nothing; leave it out."
        options.require(text != "", empty)
        if text is not None:
            said[name] = typed_value(f"{table}.{name}", text)
    return said


# recordings


@dataclass(frozen=True, kw_only=True, slots=True)
class OrderOptions:
    """Which rope each file is of."""

    order: options.Order = options.opt('Ropes in the order plucked, "6 5 4 3 2 1".')
    plucks_each: options.PlucksEach

    def files(self, paths: Sequence[Path]) -> RoundFiles:
        """Recordings of a round as they were given."""
        return RoundFiles(paths=paths, order=self.order, plucks_each=self.plucks_each)


_Same = Annotated[bool, options.opt("Load, people, arrival as before.", "--same")]
_CONDITIONS = _options_of("series", "name", "span")


@word()
def rope_command(
    rope: _Rope,
    series: options.Series,
    files: tuple[Path, ...] = options.arg("[FILE]...", nargs=-1),
) -> Maker:
    """Add a recording of one rope; without FILE the only new one is taken.

    \b
    tension add rope 2 "New Recording 16.m4a"
    """
    return lambda visit: adding_readings.repeat_of_rope(visit, rope, files, series)


@word()
def round_command(
    paths: options.SomePaths, order: OrderOptions, series: options.Series
) -> Maker:
    """Add one more round of a series that is there: a folder, files, or one memo.

    As many files as ropes are ropes 1 and up in the order of their numbers; of more
    files, or of one memo, --order says which rope each is of.

    \b
    tension add round round-b
    tension add round all.m4a --order "6 5 4 3 2 1" --plucks-each 3
    """
    files = order.files(paths)
    return lambda visit: adding_readings.round_of_ropes(visit, files, series)


@word(said=_CONDITIONS)
def left_command(
    *,
    paths: options.SomePaths,
    name: str = options.opt("Name of the new series.", default="as left"),
    order: OrderOptions,
    same: _Same,
    said: object,
) -> Maker:
    """Add the round taken after the turns and the run, on the same span.

    \b
    tension add left as-left --same
    """
    files, told = order.files(paths), _conditions(said, is_same=same)
    return lambda visit: adding_readings.new_series(visit, name, told, files)


@dataclass(frozen=True, kw_only=True, slots=True)
class PlaceOptions:
    """Where the round was taken."""

    position: str = options.opt("Where the car stands.")
    name: str = options.opt("Name of the new series.")
    lengths: str = options.opt(
        'Free lengths there, "12.1 12.3 12.1 12.3 m"; one if all are alike.'
    )


@word(said=_CONDITIONS)
def side_command(
    *,
    side: Annotated[Side, options.arg()],
    paths: options.Paths,
    place: PlaceOptions,
    order: OrderOptions,
    same: _Same,
    said: object,
) -> Maker:
    """Add a round on the other side of the sheave, or with the car elsewhere.

    \b
    tension add side counterweight cwt --position "mid travel"
        --lengths "12.1 12.3 12.1 12.3 m"
    """
    typed = _in_order(place.lengths, Dimension.LENGTH) if place.lengths else {}
    span = adding.span_name(place.position, side)
    keys = {"name": span, "side": side.value, "position": place.position}
    told = {**_conditions(said, is_same=same), "span": span}
    name, files = place.name or span, order.files(paths)
    return lambda visit: [
        *adding_readings.new_span(visit, keys, typed),
        *adding_readings.new_series(visit, name, told, files),
    ]


def _conditions(told: object, *, is_same: bool) -> dict[str, Value]:
    """Tell under what a series was read: as was said, as before, or as is asked.

    It is never assumed.
    """
    said = _said_of("series", told)
    visit = read_visit(find_record(the_record().path))
    if not visit.series:
        return said
    last, asked = visit.series[-1], ("arrived", "load", "people")
    if not is_same and not said.keys() & {*asked}:
        question = f"As before ({conditions_in_words(last, visit)})"
        options.require(
            asking.is_terminal(),
            f"{question}? Say --same, or what differs: --load, --people, --arrived.",
        )
        with asking.answered("Without an answer nothing is added."):
            is_same = asking.ask_yes(question, skipped=True)
            known = asking.Known(n_ropes=visit.rope_set.n_ropes)
            for one in QUESTIONS if not is_same else ():
                if one.key in asked:
                    said[one.key] = one.ask(known) or ""
    kept = (*asked, "fall", "neighbours") if is_same else ()
    return {**{key: getattr(last, key) for key in kept}, **said}


# numbers


@word()
def pulls_command(
    *,
    lines: _Lines,
    deflection: options.Length = options.opt("Held the same on all ropes."),
    force: options.Force = options.opt("Held the same, where deflections are read."),
    at: options.Length = options.opt("From the lower node; mid-span if left out."),
    series: options.Series,
) -> Maker:
    """Add side pulls, a LINE a rope: "2: 38, 37.5, 38 lbf"; none asks for them.

    What was held the same on all ropes is --deflection or --force.

    \b
    tension add pulls --deflection "1 in" "1: 38 37.5 lbf" "2: 35 35.5 lbf"
    """
    give = 'Give what was held the same on all ropes: --deflection "25 mm" or --force.'
    options.require((deflection is None) != (force is None), give)
    held, what, of = "deflection", "force", Dimension.FORCE
    if force:
        held, what, of = "force", "deflection", Dimension.LENGTH
    sheet = _sheet(lines, of, 'Rope and readings, like "2: 38 37.5 lbf"')
    begin = 'Begin each line with its rope, like "2: 38 37.5 lbf".'
    options.require(0 not in sheet, begin)
    keys = {
        "force": force and force.text,
        "deflection": deflection and deflection.text,
        "hold": held,
        "at": at and at.text,
    }
    return lambda visit: readings(visit, "pull", what, sheet, keys, series)


@word()
def returns_command(
    rope: _Rope,
    count: _Count,
    series: options.Series,
    elapsed: str = options.arg("TIMES"),
) -> Maker:
    """Add timed wave returns of one rope: COUNT round trips of the wave, each time.

    \b
    tension add returns 3 5 "6.46 6.41 6.50 s"
    """
    sheet = {rope: _in_order(elapsed, Dimension.TIME)[0]}
    keys = {"count": count}
    return lambda visit: readings(visit, "returns", "elapsed", sheet, keys, series)


@word()
def springs_command(lines: _Lines, hitch: _Hitch, series: options.Series) -> Maker:
    """Add spring lengths: one LINE for all ropes in order, or "2: 139.5 mm" a rope.

    \b
    tension add springs "139 142 139 139.5 137 139.5 mm"
    """
    sheet = _sheet(lines, Dimension.LENGTH, "Spring lengths in rope order")
    keys = {"hitch": hitch}
    return lambda visit: readings(visit, "spring", "length", sheet, keys, series)


@word()
def lengths_command(
    lines: _Lines, span: str = options.opt("Which span; the last's.", metavar="NAME")
) -> Maker:
    """Add free lengths: one LINE for all ropes in order, or "2: 3.55 m" a rope.

    \b
    tension add lengths "3.40 3.55 3.40 3.555 3.402 3.55 m"
    """
    sheet = _sheet(lines, Dimension.LENGTH, "Free lengths in rope order")
    return lambda visit: adding_readings.free_lengths(visit, sheet, span)


@word()
def threads_command(text: str = options.arg("PAIRS")) -> Maker:
    """Add the thread left, towards the plate / away from it, in rope order.

    \b
    tension add threads "22/14 26/11 21/15 24/13 25/12 22/14 mm"
    """
    pairs = asking.with_unit(adding_readings.read_pairs, text)
    ropes = [
        adding.table("rope", number=rope, take_up_left=into.text, ease_left=out.text)
        for rope, (into, out) in enumerate(pairs, start=1)
    ]
    return lambda _: ropes


def _facts(of: str, group: object, **more: Value) -> Maker:
    """What is added of a table, whose keys are the fields of a group of options."""
    flags = [one.flags_of(name)[0] for name, one in options.opt_of(type(group)).items()]
    said = {**more, **_said_of(of, group)}
    return lambda visit: adding.facts(visit, of, said, flags)


@word(
    facts=_options_of(
        "hitch",
        "at",
        spring_rate="--rate",
        spring_free_length="--free",
        spring_solid_length="--solid",
        rod_free="--rod",
    )
)
def hitch_command(facts: object, at: HitchPlace = options.arg()) -> Maker:
    """Describe a hitch, or add what is not known of it yet.

    \b
    tension add hitch car --rows "1 3 5/2 4 6" --thread M16 --rate "150 N/mm"
    """
    return _facts("hitch", facts, at=at)


@word(facts=_options_of("lift"))
def lift_command(facts: object) -> Maker:
    """Add what the record lacks of the lift; a key that stands there is refused.

    \b
    tension add lift --travel "24 m" --roping 2:1
    """
    return _facts("lift", facts)


@word(facts=_options_of("set", "ropes"))
def set_command(facts: object) -> Maker:
    """Add what the record lacks of the ropes; a key that stands there is refused.

    \b
    tension add set --rope-length "38 m"
    tension add set --diameter "13 mm" --construction "8x19 FC"
    """
    return _facts("set", facts)


@word()
def turns_command(
    *,
    text: tuple[str, ...] = options.arg("TURNS", nargs=-1, required=True),
    trips: int | None = options.opt(
        "Round trips run since.", "--run", type=options.WholeNumber(0, 1000)
    ),
    again: bool = options.opt("The same turns were made once more."),
    hitch: _Hitch,
    series: options.Series,
) -> Maker:
    """Add turns as the plan prints them; "in" is towards the plate.

    Round trips of the car are told afterwards, by tension add run.

    \b
    tension add turns "2 in 4 1/2, 5 out 4"
    """
    made = read_turns(" ".join(text))
    return lambda visit: adding.turns(
        visit, made, series=series, at=hitch, round_trips=trips, is_again=again
    )


@word()
def run_command(trips: _Count, series: options.Series) -> Maker:
    """Add round trips that the car ran after the turns; several runs add up.

    \b
    tension add run 6
    """
    return lambda visit: adding.run(visit, trips, series)


@word()
def exclude_command(
    *,
    what: str = options.arg("ROPE|RECORDING"),
    why: str = options.arg("REASON"),
    pluck: int | None = options.opt(
        "Only that pluck of it.", type=options.WholeNumber(1, 100)
    ),
    series: options.Series,
) -> Maker:
    """Leave out a rope of a series, or a recording, and say why; nothing is deleted.

    \b
    tension add exclude rope-4.m4a "door slammed"
    """
    by = the_record(reason=the_record().reason or why).by
    return lambda visit: adding.exclusion(
        visit, what, why, pluck=pluck, by=by, series=series
    )


@word()
def looked_command(
    note: str = options.arg("NOTE"),
    answer: str = options.arg("TEXT"),
    ropes: options.Order = options.opt("Which ropes; all."),
) -> Maker:
    """Answer a note by its number: what was looked at, and what was seen.

    \b
    tension add looked 322 "rope 2 is free of the guard" --ropes 2 --by "R. Example"
    """
    by, date = the_record().by, today().isoformat()
    return lambda visit: adding.looked(visit, note, answer, ropes, by=by, date=date)


@word()
def finding_command(
    rope: str = options.arg("ROPE|all"),
    kind: str = options.arg(),
    details: tuple[str, ...] = options.arg("[KEY=VALUE]...", nargs=-1),
) -> Maker:
    """Add a finding; KEY=VALUE as docs/file-formats.md names the keys of a finding.

    \b
    tension add finding 3 rouge at="2 m above the car hitch"
    tension add finding 3 broken-wires broken=12 distribution=spread lay="84 mm"
    """
    keys: dict[str, Value] = {"kind": kind.lower(), "by": the_record().by}
    number = rope.lower().removeprefix("rope").strip()
    if number not in {"all", "set"}:
        keys = {"rope": typed_value("finding.rope", number), **keys}
    for detail in details:
        name, _, text = (part.strip() for part in detail.partition("="))
        known = f"the keys of a finding are {', '.join(keys_of(TABLES['finding']))}."
        options.require(text, f'"{detail}" is no KEY=VALUE; {known}')
        keys[name.lower()] = typed_value(f"finding.{name.lower()}", text)
    measured = [own for of, own in KEYS_OF.items() if of == keys["kind"]]
    if not keys.keys() & {"seen", *(measured[0] if measured else ())}:
        keys["seen"] = "yes"  # if nothing else is said or measured
    return lambda _: [adding.table("finding", **keys)]


@word()
def correction_command(text: str = options.arg()) -> None:
    """Put something right, in words, in a sealed record; what stands there stays.

    In a record without a seal a wrong reading is left out with tension add exclude,
    and the right one is added.

    \b
    tension add correction "rope 3 is rope 4" --by "R. Example" --reason "misread"
    """
    place = the_record()
    is_told = place.by.strip() and place.reason.strip()
    options.require(is_told, "A correction needs --by NAME and --reason TEXT.")
    if place.dry_run:
        click.echo(f"Would be corrected, by {place.by}: {printable(text)}")
        return
    words = Correction(by=place.by, reason=place.reason, text=text)
    correction = correct_record(place.path, words)
    click.echo(f"Corrected, {correction.date}, by {printable(correction.by)}.")
    echo_next_command(standing_of(place.path).step, place.path)
