"""The list of `fleet` as a table, a document or CSV, and what could not be used."""

from itertools import islice

import click

from tension.cli.exits import tell
from tension.cli.text import output_width, printable, wrapped
from tension.documents.fleet import FleetHead, fleet_pieces
from tension.fleet.listing import (
    CONDITION,
    VERDICTS,
    Listing,
    counts_text,
    interval_text,
    json_lines,
    lift_text,
    spread_text,
)
from tension.fleet.spool import ListedRow
from tension.wording import say

_HEADINGS = ("Result", "Spread", "Within, 95 %", "Days", "[[Lift]]")
_WIDTHS = (14, 7, 16, 5)


def print_document(listing: Listing) -> None:
    """Print the envelope with the lines in it, one at a time."""
    head = FleetHead(
        top=listing.top,
        day=listing.day,
        order=listing.order,
        counts={name: listing.counts().get(name, 0) for name in VERDICTS},
    )
    for piece in fleet_pieces(head, json_lines(listing)):
        click.echo(piece, nl=False)


def print_table(listing: Listing, n_first: int) -> None:
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


def tell_unusable(listing: Listing) -> None:
    """Name on stderr what could not be used, with every reason, and count it."""
    n_told = 0
    for row in listing.spool.unusable():
        n_told += 1
        for line in row.reason.split("\n"):
            tell(line)
    if n_told:
        tell(say(counts_text(listing.counts())))
