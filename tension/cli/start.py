"""``tension start``: a record to fill in, or a blank sheet for the car top."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tension.cli.declaring import FILE, PATH, WholeNumber, Word, opt, rope_order, taking
from tension.cli.options import PAPER, TERMS, RopeOptions, RuleOptions
from tension.cli.text import output_width, printable, wrapped
from tension.errors import FileFormatError, InvalidValueError
from tension.installation import Buffer, Drive, HitchPlace, Roping, Side
from tension.quantity.units import Quantity
from tension.wording import Terms, say

if TYPE_CHECKING:
    from tension.cli.start_answers import Known
    from tension.cli.start_questions import Question
    from tension.files.new_record import NewHitch
    from tension.workflow.start import Answers


@dataclass(frozen=True, kw_only=True, slots=True)
class VisitOptions:
    """What is known of lift and visit beside the ropes."""

    ropes: int | None = opt("--ropes", type=WholeNumber(1, 12), help="How many ropes.")
    name: str | None = opt("--name", metavar="TEXT", help="Name of the lift.")
    drive: Drive | None = opt("--drive", type=Word(Drive))
    roping: Roping | None = opt("--roping", type=Word(Roping))
    hitch: HitchPlace | None = opt(
        "--hitch", type=Word(HitchPlace), help="Where the nuts are."
    )
    side: Side | None = opt(
        "--side", type=Word(Side), help="Side that is plucked or pulled."
    )
    position: str | None = opt(
        "--position", metavar="TEXT", help='Car position, "top landing".'
    )
    people: str | None = opt("--people", metavar="TEXT", help="Who stands on the car.")
    buffer: Buffer | None = opt(
        "--buffer", type=Word(Buffer), help="What sits between plate and nut."
    )
    terms: Terms = TERMS


@dataclass(frozen=True, kw_only=True, slots=True)
class StartPlace:
    """Where the record goes, or the blank page instead."""

    to: Path | None = opt(
        "--to",
        type=PATH,
        metavar="FOLDER",
        help="Where the record goes; the folder of the recordings if left out.",
    )
    sheet: Path | None = opt(
        "--sheet",
        type=FILE,
        metavar="FILE",
        help="Write one blank page (pdf, svg or png) for the car top instead.",
    )
    paper: str = PAPER

    def folder(self, paths: Sequence[Path]) -> Path:
        """Give the folder that the record goes to."""
        if self.to:
            return self.to
        if not paths:
            return Path()
        return paths[0] if paths[0].is_dir() else paths[0].parent


@click.command("start")
@click.argument("paths", nargs=-1, type=PATH, metavar="[PATH...]")
@taking(visit=VisitOptions, ropes=RopeOptions, rule=RuleOptions, place=StartPlace)
def command(
    paths: tuple[Path, ...],
    visit: VisitOptions,
    ropes: RopeOptions,
    rule: RuleOptions,
    place: StartPlace,
) -> None:
    """Make a record (visit.toml) by a conversation; it overwrites nothing.

    PATH is a folder of recordings, or the recordings in rope order; this folder if left
    out. What is not given is asked for; answers may come by a pipe. Enter skips,
    "back" goes to the last answer, "done" or the end of the input ends the questions:
    what was answered is written, what is missing is told.

    \b
    tension start memos --ropes 6 --same-height --free-length "3.4 m"
    tension start --sheet sheet.pdf --ropes 6
    """
    from tension.cli.record_text import echo_next_command
    from tension.cli.start_questions import converse
    from tension.telling.cautions import TURNING_NUTS
    from tension.workflow.standing import standing_of
    from tension.workflow.start import names_below, require_no_record, start_record

    if place.sheet:
        _write_sheet(place.sheet, place.paper, visit, ropes)
        return
    folder = place.folder(paths)
    require_no_record(folder)
    rule.choice()
    recordings = _recordings(paths, folder)
    names_below(recordings, folder)
    n_ropes = _n_ropes(recordings, visit, ropes)
    known = _given(n_ropes, visit, ropes, rule)
    known.order = _order(recordings, n_ropes, known.order)
    missing = converse(known)
    record = start_record(_answers(known), recordings, folder)
    click.echo(f"Wrote {printable(str(record))}.")
    _tell_missing(missing, n_recordings=len(recordings))
    for line in TURNING_NUTS:
        caution = wrapped(say(line, visit.terms), output_width(), "! ", "  ")
        click.echo(caution, err=True)
    echo_next_command(standing_of(record).step, folder)


def _write_sheet(
    sheet: Path, paper: str, visit: VisitOptions, ropes: RopeOptions
) -> None:
    """Write the blank page."""
    from tension.workflow.outputs import require_drawable, write_sheet

    n_ropes = _n_ropes((), visit, ropes)
    require_drawable(sheet, overwrite=False)
    write_sheet(
        sheet, n_ropes=n_ropes, paper=paper, lift=visit.name or "", terms=visit.terms
    )
    click.echo(f"Wrote {printable(str(sheet))}.")


def _tell_missing(missing: Sequence["Question"], *, n_recordings: int) -> None:
    """Say what the record lacks, and what that costs."""
    width = output_width()
    if not n_recordings:
        click.echo("It holds no reading yet.")
    for question in missing:
        if question.price:
            line = f"Missing: {question.label} ({question.price})"
            click.echo(wrapped(line, width, "", "  "))


def _recordings(paths: Sequence[Path], folder: Path) -> tuple[Path, ...]:
    """Find the recordings."""
    from tension.files.evidence import find_recordings
    from tension.workflow.inputs import in_rope_order

    missing = [path for path in paths if not path.exists()]
    if missing:
        raise FileFormatError(f"{missing[0]}: there is no such file; check the name")
    if len(paths) > 1 or (paths and not paths[0].is_dir()):
        return in_rope_order(paths)
    place = paths[0] if paths else folder
    if not place.is_dir():
        return ()
    return find_recordings(place) or _first_round(place)


def _first_round(folder: Path) -> tuple[Path, ...]:
    """The recordings of the folder below that holds the first round, if any does."""
    from tension.cli.asking import ask_or_refuse, one_of
    from tension.files.evidence import find_recordings
    from tension.workflow.record_files import folders_with_sound

    below = folders_with_sound(folder)
    if len(below) < 2:
        return find_recordings(below[0]) if below else ()
    names = [one.name for one in below]
    chosen = ask_or_refuse(
        f"Which folder is the first round: {', '.join(names)} (Enter: {names[0]})",
        one_of(names),
        names[0],
        f"Which folder is the first round? Name it: tension start {folder / names[0]} "
        f"--to {folder}",
    )
    return find_recordings(folder / chosen)


def _n_ropes(
    recordings: Sequence[Path], visit: VisitOptions, ropes: RopeOptions
) -> int:
    """How many ropes: given, counted, or asked."""
    from tension.cli.asking import BackError, EndedError, ask, ask_or_refuse
    from tension.workflow.inputs import MOST_ROPES

    order = rope_order(ropes.order)
    if visit.ropes:
        return visit.ropes
    if order:
        return max(order)
    n_files = len(recordings)
    if 1 < n_files < 8:
        return n_files

    def read(line: str) -> int:
        if line.isdigit() and 1 <= int(line) <= MOST_ROPES:
            return int(line)
        raise InvalidValueError(f"a number from 1 to {MOST_ROPES}")

    if 1 < n_files <= MOST_ROPES:
        shown = f"How many ropes ({n_files} sound files; Enter: {n_files})"
        try:
            return ask(shown, read, n_files)
        except (BackError, EndedError):
            return n_files
    usage = "How many ropes? Give --ropes, such as --ropes 6."
    n_ropes = 0
    while not n_ropes:
        n_ropes = ask_or_refuse("How many ropes", read, 0, usage)
    return n_ropes


def _order(
    recordings: Sequence[Path], n_ropes: int, order: tuple[int, ...]
) -> tuple[int, ...]:
    """Order of the ropes in one memo or of many files: given, or asked."""
    from tension.cli.asking import ask_or_refuse
    from tension.cli.start_answers import order_of_memo

    n_files = len(recordings)
    rounds = n_files // n_ropes if n_files % n_ropes == 0 else 0
    if n_files > 1 and rounds < 2 and n_files not in {len(order), n_ropes}:
        numbers = list(range(1, n_ropes + 1)) * n_files
        raise click.UsageError(
            f"{n_files} sound files and {n_ropes} ropes: say which rope each file is "
            f'of, such as --order "{" ".join(map(str, numbers[:n_files]))}".'
        )
    if order or n_files == n_ropes or not recordings:
        return order
    usual = tuple(range(1, n_ropes + 1)) * max(rounds, 1)
    plain = " ".join(map(str, usual))
    what = "Which rope each file is of" if n_files > 1 else "Order plucked in the memo"
    return ask_or_refuse(
        f"{what} (Enter: {plain})",
        lambda line: order_of_memo(line, n_ropes),
        usual,
        "In which order were the ropes plucked in the memo? Give --order, such as "
        f'--order "{plain}".',
    )


def _given(
    n_ropes: int, visit: VisitOptions, ropes: RopeOptions, rule: RuleOptions
) -> "Known":
    """What the options say."""
    from tension.cli.start_answers import Known, Lengths

    lengths, limit = ropes.free_lengths, rule.limit
    is_ruled = bool(rule.rule_name or limit or rule.metric)
    return Known(
        ropes=n_ropes,
        order=rope_order(ropes.order),
        same_height=ropes.same_height,
        plucks_each=ropes.plucks_each,
        metric=rule.metric,
        ends=ropes.ends,
        name=visit.name or None,
        drive=visit.drive,
        roping=visit.roping,
        hitch=visit.hitch,
        side=visit.side,
        position=visit.position or None,
        people=visit.people or None,
        buffer=visit.buffer,
        linear_density=ropes.linear_density,
        rope_type=ropes.rope() if ropes.rope_type else None,
        lengths=Lengths(
            free=tuple(length.text for length in lengths),
            is_one_height=ropes.same_height,
        )
        if lengths
        else None,
        rule=(rule.rule_name or "", limit.text if limit else "") if is_ruled else None,
    )


def _answers(known: "Known") -> "Answers":
    """Turn options and answers into what the record is made of."""
    from tension.cli.start_answers import Lengths, today
    from tension.workflow.start import Answers

    diameter, construction = known.rope_type or ("", "")
    lengths = known.lengths or Lengths(is_one_height=known.same_height)
    rule, limit = known.rule or ("", "")
    return Answers(
        n_ropes=known.ropes,
        name=known.name or "",
        drive=known.drive,
        roping=known.roping,
        date=known.date or today(),
        measured_by=known.measured_by or "",
        car_mass=_text(known.car_mass),
        hitches=_hitches(known),
        rope_length=_text(known.rope_length),
        travel=_text(known.travel),
        side=known.side,
        position=known.position or "",
        ends=known.ends,
        free_lengths=lengths.free,
        staggers=lengths.staggers,
        has_sockets_at_one_height=lengths.is_one_height,
        people=known.people or "",
        load=known.load or "",
        arrived=known.arrived or "",
        neighbours=known.neighbours or "",
        diameter=diameter,
        construction=construction,
        linear_density=_text(known.linear_density),
        axial_rigidity=_text(known.axial_rigidity),
        rule=rule,
        limit=limit,
        metric=known.metric,
        order=known.order,
        plucks_each=known.plucks_each,
        thread_left=known.thread_left or (),
        cautions_shown=today(),
    )


def _text(quantity: Quantity | None) -> str:
    """What was typed; nothing if nothing was."""
    return quantity.text if quantity else ""


def _hitches(known: "Known") -> tuple["NewHitch", ...]:
    """The hitch that is worked at, and the far one if something is known of it."""
    from tension.adjustment.stiffness import opposite_hitch
    from tension.cli.start_answers import Spring
    from tension.files.new_record import NewHitch

    if known.hitch is None and known.buffer is None:
        return ()
    at, spring = known.hitch or HitchPlace.CAR, known.spring or Spring()
    near = NewHitch(
        at=at,
        rows=known.rows or (),
        thread=known.thread or "",
        buffer=known.buffer,
        spring_rate=spring.rate,
        spring_free_length=spring.free,
        spring_solid_length=spring.solid,
        rod_free=_text(known.rod_free),
    )
    if known.far_spring == "same":
        return near, replace(near, at=opposite_hitch(at), rod_free="")
    if known.far_spring == "none":
        return near, NewHitch(at=opposite_hitch(at), buffer=Buffer.NONE)
    return (near,)
