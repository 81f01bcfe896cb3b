"""What ``fleet`` prints: progress, the list, and what could not be used."""

from collections.abc import Mapping
from datetime import date
from itertools import islice
from pathlib import Path
from typing import Any

import click

from tension.cli.assessing import rule_choice
from tension.cli.exits import ExitCode
from tension.cli.text import output_width, printable, wrapped
from tension.documents.fleet import FleetHead, fleet_pieces
from tension.fleet.kept import RowCache, usual_folder
from tension.fleet.listing import (
    Listing,
    csv_lines,
    json_lines,
    require_writable,
    write_list,
)
from tension.fleet.rows import FAULT, ListedRow
from tension.fleet.run import Job, assess_fleet
from tension.fleet.spool import Order
from tension.fleet.tree import open_tree
from tension.fleet.words import (
    CONDITION,
    VERDICTS,
    counts_text,
    interval_text,
    lift_text,
    spread_text,
)
from tension.fleet.workers import DaskCluster, LocalProcesses, Workers, n_cores
from tension.wording import Terms, say

_HEADINGS = ("Result", "Spread", "Within, 95 %", "Days", "[[Lift]]")
_WIDTHS = (14, 7, 16, 5)


def run_fleet(
    ctx: click.Context, top: str, day: date | None, options: Mapping[str, Any]
) -> None:
    """List a fleet and leave with the exit code.

    Raises
    ------
    click.UsageError
        If options contradict each other.
    """
    _require_sense(options)
    for path in options["outputs"]:
        require_writable(path, overwrite=options["overwrite"])
    job = Job(
        tree=open_tree(top),
        choice=rule_choice(options),
        cache=_cache(options),
        is_every_byte_read=options["read_all"],
    )
    with assess_fleet(job, _workers(options), _tell) as spool:
        listing = Listing(
            spool=spool,
            order=Order(options["order"]),
            day=day or date.today(),
            is_every_record=options["every_record"],
            top=top,
            terms=Terms(options["terms"]),
        )
        for path in options["outputs"]:
            write_list(listing, path, overwrite=options["overwrite"])
        _print_list(listing, options)
        _tell_unusable(listing)
        has_fault = bool(listing.counts().get(FAULT))
    ctx.exit(ExitCode.CRASH if has_fault else ExitCode.DONE)


def _require_sense(options: Mapping[str, Any]) -> None:
    """Refuse options that contradict each other."""
    if options["as_json"] and options["as_csv"]:
        raise click.UsageError("Give --json or --csv, not both.")
    if options["cache"] and options["no_cache"]:
        raise click.UsageError("Give --cache or --no-cache, not both.")
    if options["workers"] and options["scheduler"]:
        raise click.UsageError(
            "--workers is for this machine; with --scheduler the cluster has its own."
        )


def _cache(options: Mapping[str, Any]) -> RowCache | None:
    """Where lines are kept, if they are."""
    if options["no_cache"]:
        return None
    folder: Path = options["cache"] or usual_folder()
    return RowCache(folder=folder.absolute())


def _workers(options: Mapping[str, Any]) -> Workers:
    """Where the work is done."""
    if options["scheduler"]:
        return DaskCluster(scheduler=options["scheduler"])
    return LocalProcesses(n_workers=options["workers"] or n_cores())


def _print_list(listing: Listing, options: Mapping[str, Any]) -> None:
    """Print the list in the form asked for."""
    if options["as_csv"]:
        for line in csv_lines(listing):
            click.echo(line, nl=False)
    elif options["as_json"]:
        _print_document(listing)
    else:
        _print_table(listing, options["first"])


def _print_document(listing: Listing) -> None:
    """Print the envelope with the lines in it, one at a time."""
    head = FleetHead(
        top=listing.top,
        day=listing.day,
        order=listing.order,
        counts={name: listing.counts().get(name, 0) for name in VERDICTS},
    )
    for piece in fleet_pieces(head, json_lines(listing)):
        click.echo(piece, nl=False)


def _print_table(listing: Listing, n_first: int) -> None:
    """Print the first lines in columns, then what they hold for."""
    width, terms, counts = output_width(), listing.terms, listing.counts()
    click.echo(wrapped(say(counts_text(counts), terms), width))
    if n_first:
        click.echo()
        click.echo(_columns([say(heading, terms) for heading in _HEADINGS]))
        for listed in islice(listing.rows(), n_first):
            click.echo(_columns(_cells(listed)))
    n_more = sum(counts.values()) - n_first
    if n_more > 0:
        click.echo(f"and {n_more} more; --first {n_first + n_more} prints them, ")
        click.echo("--output FILE writes them all")
    click.echo()
    click.echo(wrapped(say(CONDITION, terms), width))


def _cells(listed: ListedRow) -> list[str]:
    """A line as cells."""
    row = listed.row
    shape, word = VERDICTS[row.verdict]
    days = "" if listed.days_since is None else str(listed.days_since)
    name = lift_text(row)
    many = f", newest of {listed.n_records}" if listed.n_records > 1 else ""
    where = "" if name == row.record else f" ({row.record}{many})"
    said = [f"{shape} {word}", spread_text(row), interval_text(row), days]
    return [*said, printable(name + where)]


def _columns(cells: list[str]) -> str:
    """Cells in columns of fixed width, so that no line waits for another."""
    result, spread, interval, days, lift = cells
    first, second, third, fourth = _WIDTHS
    return (
        f"{result:<{first}}  {spread:>{second}}  {interval:>{third}}  "
        f"{days:>{fourth}}  {lift}"
    ).rstrip()


def _tell_unusable(listing: Listing) -> None:
    """Name on stderr what could not be used, with every reason, and count it."""
    n_told = 0
    for row in listing.spool.unusable():
        n_told += 1
        for line in row.reason.split("\n"):
            click.echo(f"tension: {printable(line)}", err=True)
    if n_told:
        click.echo(f"tension: {say(counts_text(listing.counts()))}", err=True)


def _tell(line: str) -> None:
    """Tell how far the run is."""
    click.echo(f"tension: {printable(line)}", err=True)
