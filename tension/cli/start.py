"""``tension start``: a record to fill in, or a blank sheet for the car top."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from tension.cli import asking, options
from tension.cli.output import printable, wrapped
from tension.errors import FileFormatError
from tension.installation import Buffer, Drive, HitchPlace, Roping, Side, rope_order
from tension.wording import say


@dataclass(frozen=True, kw_only=True, slots=True)
class VisitOptions:
    """What is known of lift and visit beside the ropes."""

    ropes: int | None = options.opt("How many ropes.", type=options.WholeNumber(1, 12))
    name: str | None = options.opt("Name of the lift.")
    drive: Drive | None = options.opt()
    roping: Roping | None = options.opt()
    at: HitchPlace | None = options.opt("Where the nuts are.", "--hitch")
    side: Side | None = options.opt("Side that is plucked or pulled.")
    position: str | None = options.opt('Car position, "top landing".')
    people: str | None = options.opt("Who stands on the car.")
    buffer: Buffer | None = options.opt("What sits between plate and nut.")
    terms: options.TradeWords


@dataclass(frozen=True, kw_only=True, slots=True)
class StartPlace:
    """Where the record goes, or the blank page instead."""

    to: Path | None = options.opt(
        "Where the record goes; the folder of the recordings if left out.",
        metavar="FOLDER",
    )
    sheet: options.File = options.opt(
        "Write one blank page (pdf, svg or png) for the car top instead."
    )
    paper: options.PaperSize


@options.command("start")
def command(
    *,
    paths: tuple[Path, ...] = options.arg("[PATH...]", nargs=-1),
    visit: VisitOptions,
    ropes: options.Ropes,
    rule: options.Rule,
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
    from tension.cli.start_questions import QUESTIONS
    from tension.telling.lines import TURNING_NUTS
    from tension.workflow.adding import begin_record, require_new
    from tension.workflow.inputs import name_in_record
    from tension.workflow.standing import standing_of_visit

    if place.sheet:
        _write_sheet(place.sheet, place.paper, visit, ropes)
        return
    first = paths[0] if paths else Path()
    folder = place.to or (first if first.is_dir() else first.parent)
    require_new(folder)
    recordings = _recordings(paths, folder)
    names = [name_in_record(path, folder) for path in recordings]
    n_ropes = _n_ropes(recordings, visit, ropes)
    order = _order(len(recordings), n_ropes, ropes.order)
    files = names, order, ropes.plucks_each
    known = _given(n_ropes, visit, ropes, rule)
    begin_record(folder, _said(known, ropes, rule), *files, dry_run=True)
    missing = asking.converse(QUESTIONS, known)
    begun = begin_record(folder, _said(known, ropes, rule), *files)
    click.echo(f"Wrote {printable(str(begun.path))}.")
    if not recordings:
        click.echo("It holds no reading yet.")
    for question in missing:
        if question.price:
            line = f"Missing: {question.name} ({question.price})"
            click.echo(wrapped(line, "", "  "))
    for caution in TURNING_NUTS:
        click.echo(wrapped(say(caution, visit.terms), "! ", "  "), err=True)
    echo_next_command(standing_of_visit(begun).step, folder)


def _write_sheet(
    sheet: Path, paper: str, visit: VisitOptions, ropes: options.Ropes
) -> None:
    """Write the blank page."""
    from tension.telling.page import Paper
    from tension.workflow.outputs import write_sheet

    write_sheet(
        sheet,
        n_ropes=_n_ropes((), visit, ropes),
        paper=Paper(paper),
        lift=visit.name or "",
        terms=visit.terms,
    )
    click.echo(f"Wrote {printable(str(sheet))}.")


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
    from tension.files.evidence import find_recordings
    from tension.workflow.inputs import folders_with_sound

    below = folders_with_sound(folder)
    if len(below) < 2:
        return find_recordings(below[0]) if below else ()
    names = [one.name for one in below]
    which, shown = "Which folder is the first round", ", ".join(names)
    with asking.answered(
        f"{which}? Name it: tension start {folder / names[0]} --to {folder}"
    ):
        asked = f"{which}: {shown} (Enter: {names[0]})"
        return find_recordings(
            folder / asking.ask(asked, asking.one_of(names), names[0])
        )


def _n_ropes(
    recordings: Sequence[Path], visit: VisitOptions, ropes: options.Ropes
) -> int:
    """How many ropes: given, counted, or asked."""
    from tension.cli.output import tell_work
    from tension.installation import MOST_ROPES
    from tension.workflow.inputs import note_on_number_left_out

    if visit.ropes or ropes.order:
        return visit.ropes or max(ropes.order)
    left_out = note_on_number_left_out([file.name for file in recordings])
    if left_out is not None:
        tell_work(f"{left_out.text} {left_out.next_act}")
    n_files = len(recordings)
    if 1 < n_files < 8:
        return n_files
    usual = n_files if 1 < n_files <= MOST_ROPES else 0
    shown = f" ({n_files} sound files; Enter: {n_files})" if usual else ""
    n_ropes = 0
    try:
        while not n_ropes:
            read = asking.number_to(MOST_ROPES)
            n_ropes = asking.ask(f"How many ropes{shown}", read, usual)
    except (asking.BackError, asking.EndedError):
        options.require(usual, "How many ropes? Give --ropes, such as --ropes 6.")
    return n_ropes or usual


def _order(n_files: int, n_ropes: int, order: tuple[int, ...]) -> tuple[int, ...]:
    """Order of the ropes in one memo or of the files of rounds: given, or asked."""
    from tension.files.record_tables import require_readable

    rounds, more = divmod(n_files, n_ropes)
    if order or n_files == n_ropes or (n_files != 1 and (more or not rounds)):
        return order
    usual = tuple(range(1, n_ropes + 1)) * max(rounds, 1)
    plain = " ".join(map(str, usual))

    def read(line: str) -> tuple[int, ...]:
        asked = rope_order(line)
        require_readable("reading.ropes", asked, n_ropes)
        return asked

    what = "Which rope each file is of" if n_files > 1 else "Order plucked in the memo"
    with asking.answered(
        "In which order were the ropes plucked in the memo? Give --order, such as "
        f'--order "{plain}".'
    ):
        return asking.ask(f"{what} (Enter: {plain})", read, usual)


def _given(
    n_ropes: int, visit: VisitOptions, ropes: options.Ropes, rule: options.Rule
) -> asking.Known:
    """What the options say, as answers to the questions."""
    from tension.cli.start_questions import QUESTIONS
    from tension.files.record_tables import ONE_HEIGHT

    said = {**options.said_of(visit), **options.said_of(ropes)}
    if chosen := options.said_of(rule):
        said["rule"] = chosen.get("rule_name", ""), chosen.get("limit", "")
    if ropes.free_lengths:
        options.require(
            len(ropes.free_lengths) in {1, n_ropes},
            f"--free-length was given {len(ropes.free_lengths)} times for {n_ropes} "
            "ropes; give it once, or once per rope in rope order.",
        )
        lengths = tuple(length.text for length in ropes.free_lengths)
        said["lengths"] = lengths, (), ONE_HEIGHT if ropes.same_height else ""
    answers = {q.key: said[q.key] for q in QUESTIONS if q.key in said}
    return asking.Known(n_ropes=n_ropes, same_height=ropes.same_height, answers=answers)


def _said(
    known: asking.Known, ropes: options.Ropes, rule: options.Rule
) -> dict[str, Any]:
    """What is known in the end, by keys of the record."""
    from tension.cli.start_questions import QUESTIONS, today
    from tension.files.record_tables import ONE_HEIGHT

    said: dict[str, Any] = {
        "set.ropes": known.n_ropes,
        "set.sockets": ONE_HEIGHT if known.same_height else "",
        "span.ends": ropes.ends,
        "rule.metric": rule.metric,
        "visit.date": today(),
        "visit.cautions_shown": today(),
    }
    for question in QUESTIONS:
        said |= question.said(known)
    return said
