"""``tension fleet``: one line a lift from a tree of records."""

from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import click

from tension.cli import options
from tension.cli.output import ExitCode, printable, tell, wrapped
from tension.wording import say

if TYPE_CHECKING:
    from tension.fleet.listing import Listing


@dataclass(frozen=True, kw_only=True, slots=True)
class ListOptions:
    """Which lines, in what order."""

    outputs: Annotated[tuple[Path, ...], options.FILE] = options.opt(
        "Write the whole list as .csv, .jsonl, .parquet or .html; may be repeated.",
        "-o",
        "--output",
        multiple=True,
    )
    order: str = options.opt(
        "What comes first.",
        "--sort",
        type=click.Choice(["spread", "cannot-tell", "days-since", "record"]),
        default="spread",
    )
    as_of: options.Day = options.opt(
        "The day from which days are counted; today if left out."
    )
    every_record: bool = options.opt(
        "A line for older records of a lift too, not for its newest alone."
    )
    first: int = options.opt(
        "So many lines are printed; files hold them all.",
        type=options.WholeNumber(min=0),
        default=50,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkOptions:
    """Where the work is done, and what is kept of it."""

    workers: int | None = options.opt(
        "Processes of this machine; one a core if left out.",
        type=options.WholeNumber(1, 512),
        metavar="N",
    )
    scheduler: str | None = options.opt(
        "Work on a Dask cluster instead, tcp://10.0.0.5:8786.", metavar="ADDRESS"
    )
    cache: Path | None = options.opt(
        "Where lines are kept for the next run; safe to delete.",
        type=click.Path(path_type=Path, file_okay=False),
        metavar="FOLDER",
    )
    no_cache: bool = options.opt("Compute all anew and keep nothing.")
    read_all: bool = options.opt(
        "Read every byte, also of records that bear the same marks as before."
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class ListForm:
    """How the list is printed."""

    terms: options.TradeWords
    json: options.Json
    csv: bool = options.opt("Print CSV.")
    overwrite: bool = options.opt("Let --output replace files.")


@options.command("fleet")
def command(
    listed: ListOptions,
    rule: options.Rule,
    work: WorkOptions,
    form: ListForm,
    top: str = options.arg("FOLDER"),
) -> ExitCode:
    """List every lift of a folder tree, the worst first.

    FOLDER holds records (visit.toml) at any depth, or is an address that fsspec reads,
    s3://bucket/lifts. The newest record of each lift answers, in the numbers of
    'tension assess'. What cannot be used is named with its reason and stops nothing.
    Unchanged records are not computed again; interrupted, run it again and it goes on.

    Exit code 0, with the count of what could not be used; 1 if the program failed over
    a record, which is a bug.

    \b
    tension fleet lifts -o lifts.html -o lifts.csv
    tension fleet lifts --sort days-since --limit "8 %"
    tension fleet /mnt/lifts --scheduler tcp://10.0.0.5:8786 --cache /mnt/kept
    """
    from tension.fleet import run
    from tension.fleet.listing import FAULT, Listing, Order, require_writable
    from tension.fleet.tree import open_tree

    options.require_one_form(json=form.json, csv=form.csv)
    options.require(
        not (work.cache and work.no_cache), "Give --cache or --no-cache, not both."
    )
    options.require(
        not (work.workers and work.scheduler),
        "--workers is for this machine; with --scheduler the cluster has its own.",
    )
    for path in listed.outputs:
        require_writable(path, overwrite=form.overwrite)
    cache = work.cache or run.usual_folder()
    job = run.Job(
        tree=open_tree(top),
        choice=rule.choice(),
        cache=None if work.no_cache else cache.absolute(),
        is_every_byte_read=work.read_all,
    )
    workers = partial(run.local_workers, work.workers)
    if work.scheduler:
        workers = partial(run.dask_cluster, work.scheduler)
    with run.assess_fleet(job, workers, tell) as spool:
        listing = Listing(
            spool=spool,
            order=Order(listed.order),
            day=listed.as_of or date.today(),
            is_every_record=listed.every_record,
            top=top,
            terms=form.terms,
        )
        _give(listing, listed, form)
        has_fault = bool(listing.counts[FAULT])
    return ExitCode.CRASH if has_fault else ExitCode.DONE


def _give(listing: "Listing", listed: ListOptions, form: ListForm) -> None:
    """Write the list and print it line by line, and tell what could not be used."""
    from tension.fleet import listing as forms

    for path in listed.outputs:
        forms.write_list(listing, path, overwrite=form.overwrite)
    if form.csv or form.json:
        for piece in (forms.csv_lines if form.csv else forms.json_pieces)(listing):
            click.echo(piece, nl=False)
    else:
        _print_table(listing, listed.first)
    row = None
    for row in listing.spool.unusable():
        for line in row["reason"].split("\n"):
            tell(line)
    if row:
        tell(say(forms.counts_text(listing.counts)))


def _print_table(listing: "Listing", n_first: int) -> None:
    """Print the first lines in columns, then what they hold for."""
    from itertools import islice

    from tension.fleet.listing import card, counts_text
    from tension.telling.lines import told

    terms, counts = listing.terms, listing.counts
    # columns of fixed width, so that no line waits for another
    line = "{:<14}  {:>7}  {:>16}  {:>5}  {}"
    click.echo(wrapped(say(counts_text(counts), terms)))
    if n_first:
        lift = say("[[Lift]]", terms)
        click.echo("\n" + line.format("Result", "Spread", "Within, 95 %", "Days", lift))
    for row in islice(listing.rows(), n_first):
        one = card(row, terms)
        many = f", newest of {one['records']}" if one["records"] else ""
        where = "" if one["lift"] == one["record"] else f" ({one['record']}{many})"
        result, lift = f"{one['shape']} {one['word']}", printable(one["lift"] + where)
        cells = line.format(result, one["spread"], one["interval"], one["days"], lift)
        click.echo(cells.rstrip())
    n_more = sum(counts.values()) - n_first
    if n_more > 0:
        click.echo(f"and {n_more} more; --first {n_first + n_more} prints them, ")
        click.echo("--output FILE writes them all")
    click.echo("\n" + wrapped(say(told("fleet.condition"), terms)))
