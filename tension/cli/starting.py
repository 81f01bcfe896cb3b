"""From the options and answers of `start` to a new record or a blank sheet."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from tension.adjustment.origins import opposite_hitch
from tension.cli.asking import BackError, EndedError, ask, one_of
from tension.cli.assessing import rope_order, rule_choice
from tension.cli.conversation import converse
from tension.cli.next_text import echo_next_command
from tension.cli.start_questions import Question
from tension.cli.start_readers import Lengths, order_of_memo, today
from tension.cli.text import output_width, printable, wrapped
from tension.errors import FileFormatError, InvalidValueError
from tension.files.natural_order import find_recordings
from tension.files.new_record import NewHitch
from tension.installation import Buffer, Drive, Ends, HitchPlace, Roping, Side
from tension.telling.cautions import TURNING_NUTS
from tension.wording import Terms, say
from tension.workflow.figures import require_drawable, write_sheet
from tension.workflow.inputs import MOST_ROPES, in_rope_order, split_rope_type
from tension.workflow.record_files import folders_with_sound
from tension.workflow.standing import standing_of
from tension.workflow.start import Answers, require_no_record, start_record


def run_start(paths: Sequence[Path], options: Mapping[str, Any]) -> None:
    """Make a record or a sheet, asking for what was not given."""
    if options["sheet"]:
        _write_sheet(options)
        return
    require_no_record(_record_folder(paths, options))
    rule_choice(options)
    recordings, folder = _recordings(paths, options)
    known = _given(options)
    known["ropes"] = _n_ropes(recordings, options)
    known["order"] = _order(recordings, known)
    missing = converse(known)
    record = start_record(_answers(known), recordings, folder)
    click.echo(f"Wrote {printable(str(record))}.")
    _tell_missing(missing, n_recordings=len(recordings))
    terms = Terms(options["terms"])
    for line in TURNING_NUTS:
        click.echo(wrapped(say(line, terms), output_width(), "! ", "  "), err=True)
    echo_next_command(standing_of(record).step, folder)


def _write_sheet(options: Mapping[str, Any]) -> None:
    """Write the blank page."""
    n_ropes = _n_ropes((), options)
    require_drawable(options["sheet"], overwrite=False)
    write_sheet(
        options["sheet"],
        n_ropes=n_ropes,
        paper=options["paper"],
        lift=options["name"] or "",
        terms=Terms(options["terms"]),
    )
    click.echo(f"Wrote {printable(str(options['sheet']))}.")


def _tell_missing(missing: Sequence[Question], *, n_recordings: int) -> None:
    """Say what the record lacks, and what that costs."""
    width = output_width()
    if not n_recordings:
        click.echo("It holds no reading yet.")
    for question in missing:
        if question.price:
            line = f"Missing: {question.label} ({question.price})"
            click.echo(wrapped(line, width, "", "  "))


def _record_folder(paths: Sequence[Path], options: Mapping[str, Any]) -> Path:
    """Where the record goes."""
    if options["to"]:
        return Path(options["to"])
    if not paths:
        return Path()
    return paths[0] if paths[0].is_dir() else paths[0].parent


def _recordings(
    paths: Sequence[Path], options: Mapping[str, Any]
) -> tuple[tuple[Path, ...], Path]:
    """Find the recordings, and the folder that the record goes to."""
    folder = _record_folder(paths, options)
    missing = [path for path in paths if not path.exists()]
    if missing:
        raise FileFormatError(f"{missing[0]}: there is no such file; check the name")
    if len(paths) > 1 or (paths and not paths[0].is_dir()):
        return in_rope_order(paths), folder
    place = paths[0] if paths else folder
    if not place.is_dir():
        return (), folder
    return find_recordings(place) or _first_round(place), folder


def _first_round(folder: Path) -> tuple[Path, ...]:
    """The recordings of the folder below that holds the first round, if any does."""
    below = folders_with_sound(folder)
    if len(below) < 2:
        return find_recordings(below[0]) if below else ()
    names = [one.name for one in below]
    try:
        question = f"Which folder is the first round: {', '.join(names)}"
        chosen = ask(f"{question} (Enter: {names[0]})", one_of(names), names[0])
    except (BackError, EndedError):
        raise click.UsageError(
            f"Which folder is the first round? Name it: tension start "
            f"{folder / names[0]} --to {folder}"
        ) from None
    return find_recordings(folder / chosen)


def _given(options: Mapping[str, Any]) -> dict[str, Any]:
    """What the options say, under the keys of the questions."""
    known = {
        key: options[key]
        for key in ("name", "position", "people", "linear_density", "order")
        if options[key]
    }
    for key, kind in (
        ("drive", Drive),
        ("roping", Roping),
        ("hitch", HitchPlace),
        ("side", Side),
        ("buffer", Buffer),
        ("ends", Ends),
    ):
        if options[key]:
            known[key] = kind(options[key])
    known |= {key: options[key] for key in ("same_height", "plucks_each", "metric")}
    if options["free_lengths"]:
        known["lengths"] = Lengths(
            free=tuple(length.text for length in options["free_lengths"]),
            is_one_height=options["same_height"],
        )
    if options["rope_type"]:
        try:
            known["rope_type"] = split_rope_type(options["rope_type"])
        except InvalidValueError as error:
            raise click.BadParameter(str(error), param_hint="--rope") from error
    limit = options["limit"]
    if options["rule_name"] or limit or options["metric"]:
        known["rule"] = (options["rule_name"] or "", limit.text if limit else "")
    return known


def _n_ropes(recordings: Sequence[Path], options: Mapping[str, Any]) -> int:
    """How many ropes: given, counted, or asked."""
    order = rope_order(options["order"])
    if options["ropes"]:
        return int(options["ropes"])
    if order:
        return max(order)
    n_files = len(recordings)
    if 1 < n_files < 8:
        return n_files

    def read(line: str) -> int:
        if line.isdigit() and 1 <= int(line) <= MOST_ROPES:
            return int(line)
        raise InvalidValueError(f"a number from 1 to {MOST_ROPES}")

    is_counted = 1 < n_files <= MOST_ROPES
    shown = f" ({n_files} sound files; Enter: {n_files})" if is_counted else ""
    try:
        while True:
            n_ropes = ask(f"How many ropes{shown}", read, n_files if is_counted else 0)
            if n_ropes:
                return n_ropes
    except (BackError, EndedError):
        if is_counted:
            return n_files
        raise click.UsageError(
            "How many ropes? Give --ropes, such as --ropes 6."
        ) from None


def _order(recordings: Sequence[Path], known: Mapping[str, Any]) -> str | None:
    """Order of the ropes in one memo or of many files: given, or asked."""
    n_ropes, n_files = known["ropes"], len(recordings)
    order = rope_order(known.get("order"))
    rounds = n_files // n_ropes if n_files % n_ropes == 0 else 0
    if n_files > 1 and rounds < 2 and n_files not in {len(order), n_ropes}:
        numbers = list(range(1, n_ropes + 1)) * n_files
        raise click.UsageError(
            f"{n_files} sound files and {n_ropes} ropes: say which rope each file is "
            f'of, such as --order "{" ".join(map(str, numbers[:n_files]))}".'
        )
    if order or n_files == n_ropes or not recordings:
        return known.get("order")
    plain = " ".join(
        str(n) for _ in range(max(rounds, 1)) for n in range(1, n_ropes + 1)
    )
    what = "Which rope each file is of" if n_files > 1 else "Order plucked in the memo"
    try:
        question = f"{what} (Enter: {plain})"
        return ask(question, lambda line: order_of_memo(line, n_ropes), plain)
    except (BackError, EndedError):
        raise click.UsageError(
            "In which order were the ropes plucked in the memo? "
            f'Give --order, such as --order "{plain}".'
        ) from None


def _answers(known: Mapping[str, Any]) -> Answers:
    """Turn options and answers into what the record is made of."""
    diameter, construction = known.get("rope_type") or ("", "")
    lengths = known.get("lengths") or Lengths(is_one_height=known["same_height"])
    rule, limit = known.get("rule") or ("", "")
    texts: dict[str, Any] = {
        key: known[key].text
        for key in ("linear_density", "axial_rigidity", "car_mass", "rope_length")
        if known.get(key)
    }
    words: dict[str, Any] = {
        key: known.get(key) or ""
        for key in (
            *("name", "measured_by", "position", "people", "load"),
            *("arrived", "neighbours"),
        )
    }
    return Answers(
        n_ropes=known["ropes"],
        drive=known.get("drive"),
        roping=known.get("roping"),
        date=known.get("date") or today(),
        hitches=_hitches(known),
        side=known.get("side"),
        ends=known.get("ends"),
        free_lengths=lengths.free,
        staggers=lengths.staggers,
        has_sockets_at_one_height=lengths.is_one_height,
        diameter=diameter,
        construction=construction,
        rule=rule,
        limit=limit,
        metric=known.get("metric"),
        order=rope_order(known["order"]),
        plucks_each=known.get("plucks_each"),
        thread_left=known.get("thread_left") or (),
        cautions_shown=today(),
        **texts,
        **words,
    )


def _hitches(known: Mapping[str, Any]) -> tuple[NewHitch, ...]:
    """The hitch that is worked at, and the far one if something is known of it."""
    at, buffer = known.get("hitch"), known.get("buffer")
    if at is None and buffer is None:
        return ()
    at = at or HitchPlace.CAR
    spring = known.get("spring") or {}
    rod, far = known.get("rod_free"), known.get("far_spring")
    shape: dict[str, Any] = {
        "rows": known.get("rows") or (),
        "thread": known.get("thread") or "",
    }
    near = NewHitch(
        at=at, buffer=buffer, rod_free=rod.text if rod else "", **shape, **spring
    )
    if far == "same":
        return near, NewHitch(at=opposite_hitch(at), buffer=buffer, **shape, **spring)
    if far == "none":
        return near, NewHitch(at=opposite_hitch(at), buffer=Buffer.NONE)
    return (near,)
