"""Words of ``tension add`` for work done and things seen, from turns to corrections."""

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from tension.cli.add import adds
from tension.cli.add_options import RecordOptions, the_record
from tension.cli.declaring import WholeNumber, rope_order, taking
from tension.cli.options import hitch_option, series_option
from tension.installation import HitchPlace

if TYPE_CHECKING:
    from tension.files.additions import Maker
    from tension.files.toml_text import Value

_LISTS = frozenset({"diameters", "gauge", "photo"})


@click.command("turns")
@click.argument("text", nargs=-1, required=True, metavar="TURNS")
@click.option(
    "--run", "trips", type=WholeNumber(0, 1000), help="Round trips run since."
)
@click.option("--again", is_flag=True, help="The same turns were made once more.")
@hitch_option
@series_option
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
    from tension.cli.adding import typed
    from tension.workflow.adding import Where, turns

    return turns(
        typed(read_turns, " ".join(text)),
        Where(series=series or "", hitch=hitch),
        round_trips=trips,
        is_again=again,
    )


@click.command("run")
@click.argument("trips", type=WholeNumber(1, 1000))
@series_option
@adds
def run_command(trips: int, series: str | None) -> "Maker":
    """Add round trips that the car ran after the turns; several runs add up.

    \b
    tension add run 6
    """
    from tension.workflow.adding import run

    return run(trips, series or "")


@click.command("exclude")
@click.argument("what", metavar="ROPE|RECORDING")
@click.argument("why", metavar="REASON")
@click.option("--pluck", type=WholeNumber(1, 100), help="Only that pluck of it.")
@series_option
@adds
def exclude_command(
    what: str, why: str, pluck: int | None, series: str | None
) -> "Maker":
    """Leave out a rope of a series, or a recording, and say why; nothing is deleted.

    \b
    tension add exclude rope-4.m4a "door slammed"
    """
    from tension.workflow.adding import exclusion

    record = the_record(reason=why)
    return exclusion(what, why, pluck=pluck, by=record.by, series=series or "")


@click.command("looked")
@click.argument("note", metavar="NOTE")
@click.argument("answer", metavar="TEXT")
@click.option("--ropes", default="", metavar="NUMBERS", help="Which ropes; all.")
@adds
def looked_command(note: str, answer: str, ropes: str) -> "Maker":
    """Answer a note by its number: what was looked at, and what was seen.

    \b
    tension add looked 322 "rope 2 is free of the guard" --ropes 2 --by "R. Example"
    """
    from tension.workflow.adding import looked

    date = dt.datetime.now().astimezone().date().isoformat()
    return looked(note, answer, rope_order(ropes), by=the_record().by, date=date)


@click.command("finding")
@click.argument("rope", metavar="ROPE|all")
@click.argument("kind")
@click.argument("details", nargs=-1, metavar="[KEY=VALUE]...")
@adds
def finding_command(rope: str, kind: str, details: tuple[str, ...]) -> "Maker":
    """Add a finding; KEY=VALUE as docs/file-formats.md names the keys of a finding.

    \b
    tension add finding 3 rouge at="2 m above the car hitch"
    tension add finding 3 broken-wires broken=12 distribution=spread lay="84 mm"
    """
    from tension.workflow.adding import finding

    keys = _finding_keys(kind.lower(), details, by=the_record().by)
    return finding(_finding_rope(rope), kind.lower(), keys)


@click.command("correction")
@click.argument("text")
@taking(record=RecordOptions)
def correction_command(text: str, record: RecordOptions) -> None:
    """Put something right, in words, in a sealed record; what stands there stays.

    In a record without a seal a wrong reading is left out with tension add exclude,
    and the right one is added.

    \b
    tension add correction "rope 3 is rope 4" --by "R. Example" --reason "misread"
    """
    from tension.cli.adding import correct_in_words

    context = click.get_current_context()
    context.obj = record.after(context.obj)
    correct_in_words(text)


def _finding_rope(text: str) -> int | None:
    """Read the rope of a finding; None for the whole set."""
    plain = text.lower().removeprefix("rope").strip()
    if plain in {"all", "set"}:
        return None
    if plain.isdigit():
        return int(plain)
    raise click.BadParameter(f'write a rope number, or "all", not "{text}"')


def _finding_keys(kind: str, details: Sequence[str], by: str) -> dict[str, "Value"]:
    """Read the keys of a finding; it is seen if nothing else is said or measured."""
    from tension.condition.findings import KEYS_OF
    from tension.files.record import record_fields

    table = next(one for one in record_fields() if one.name == "finding")
    forms = {key.name: key.form for key in table.keys}
    keys: dict[str, Value] = {"by": by} if by else {}
    for detail in details:
        name, mark, text = detail.partition("=")
        name = name.strip().lower()
        if not mark or not text.strip():
            known = ", ".join(forms)
            raise click.UsageError(
                f'"{detail}" is no KEY=VALUE; the keys of a finding are {known}.'
            )
        keys[name] = _value(text.strip(), forms.get(name, "text"), name)
    measured = {name for of, names in KEYS_OF.items() if of == kind for name in names}
    if not keys.keys() & {"seen", *measured}:
        keys["seen"] = "yes"
    return keys


def _value(text: str, form: str, name: str) -> "Value":
    """A value in the form that its key has."""
    if form == "whole number" and text.isdigit():
        return int(text)
    if form == "true or false" and text.lower() in {"true", "yes", "false", "no"}:
        return text.lower() in {"true", "yes"}
    if name in _LISTS:
        return tuple(part.strip() for part in text.split(";" if ";" in text else ","))
    return text
