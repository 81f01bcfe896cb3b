"""``tension fleet``: one line a lift from a tree of records."""

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tension.cli.declaring import DAY, FILE, WholeNumber, opt, taking
from tension.cli.options import JSON, TERMS, RuleOptions
from tension.wording import Terms

if TYPE_CHECKING:
    from tension.fleet.kept import RowCache
    from tension.fleet.listing import Listing
    from tension.fleet.workers import Workers


@dataclass(frozen=True, kw_only=True, slots=True)
class ListOptions:
    """Which lines, in what order."""

    outputs: tuple[Path, ...] = opt(
        "-o",
        "--output",
        multiple=True,
        type=FILE,
        metavar="FILE",
        help="Write the whole list as .csv, .jsonl, .parquet or .html; may be "
        "repeated.",
    )
    order: str = opt(
        "--sort",
        type=click.Choice(["spread", "cannot-tell", "days-since", "record"]),
        default="spread",
        show_default=True,
        help="What comes first.",
    )
    as_of: datetime | None = opt(
        "--as-of",
        type=DAY,
        metavar="DATE",
        help="The day from which days are counted; today if left out.",
    )
    every_record: bool = opt(
        "--every-record",
        is_flag=True,
        help="A line for older records of a lift too, not for its newest alone.",
    )
    first: int = opt(
        "--first",
        type=WholeNumber(min=0),
        default=50,
        show_default=True,
        help="So many lines are printed; files hold them all.",
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkOptions:
    """Where the work is done, and what is kept of it."""

    workers: int | None = opt(
        "--workers",
        type=WholeNumber(1, 512),
        metavar="N",
        help="Processes of this machine; one a core if left out.",
    )
    scheduler: str | None = opt(
        "--scheduler",
        metavar="ADDRESS",
        help="Work on a Dask cluster instead, tcp://10.0.0.5:8786.",
    )
    cache: Path | None = opt(
        "--cache",
        type=click.Path(path_type=Path, file_okay=False),
        metavar="FOLDER",
        help="Where lines are kept for the next run; safe to delete.",
    )
    no_cache: bool = opt(
        "--no-cache", is_flag=True, help="Compute all anew and keep nothing."
    )
    read_all: bool = opt(
        "--read-all",
        is_flag=True,
        help="Read every byte, also of records that bear the same marks as before.",
    )

    def require_sense(self) -> None:
        """Refuse options that contradict each other.

        Raises
        ------
        click.UsageError
            If two do.
        """
        if self.cache and self.no_cache:
            raise click.UsageError("Give --cache or --no-cache, not both.")
        if self.workers and self.scheduler:
            raise click.UsageError(
                "--workers is for this machine; with --scheduler the cluster has its "
                "own."
            )

    def kept(self) -> "RowCache | None":
        """Give where lines are kept, if they are."""
        from tension.fleet.kept import RowCache, usual_folder

        if self.no_cache:
            return None
        return RowCache(folder=(self.cache or usual_folder()).absolute())

    def place(self) -> "Workers":
        """Give where the work is done."""
        from tension.fleet.workers import DaskCluster, LocalProcesses, n_cores

        if self.scheduler:
            return DaskCluster(scheduler=self.scheduler)
        return LocalProcesses(n_workers=self.workers or n_cores())


@dataclass(frozen=True, kw_only=True, slots=True)
class ListForm:
    """How the list is printed."""

    terms: Terms = TERMS
    json: bool = JSON
    csv: bool = opt("--csv", is_flag=True, help="Print CSV.")
    overwrite: bool = opt(
        "--overwrite", is_flag=True, help="Let --output replace files."
    )


@click.command("fleet")
@click.argument("top", metavar="FOLDER")
@taking(listed=ListOptions, rule=RuleOptions, work=WorkOptions, form=ListForm)
def command(
    top: str, listed: ListOptions, rule: RuleOptions, work: WorkOptions, form: ListForm
) -> None:
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
    \f

    Raises
    ------
    click.UsageError
        If options contradict each other.
    """
    from tension.cli.exits import ExitCode, leave, tell
    from tension.fleet.listing import Listing, require_writable
    from tension.fleet.run import Job, assess_fleet
    from tension.fleet.spool import FAULT, Order
    from tension.fleet.tree import open_tree

    if form.json and form.csv:
        raise click.UsageError("Give --json or --csv, not both.")
    work.require_sense()
    for path in listed.outputs:
        require_writable(path, overwrite=form.overwrite)
    job = Job(
        tree=open_tree(top),
        choice=rule.choice(),
        cache=work.kept(),
        is_every_byte_read=work.read_all,
    )
    with assess_fleet(job, work.place(), tell) as spool:
        listing = Listing(
            spool=spool,
            order=Order(listed.order),
            day=listed.as_of.date() if listed.as_of else date.today(),
            is_every_record=listed.every_record,
            top=top,
            terms=form.terms,
        )
        _give(listing, listed, form)
        has_fault = bool(listing.counts().get(FAULT))
    leave(ExitCode.CRASH if has_fault else ExitCode.DONE)


def _give(listing: "Listing", listed: ListOptions, form: ListForm) -> None:
    """Write the list and print it, and tell what could not be used."""
    from tension.cli.fleet_text import print_document, print_table, tell_unusable
    from tension.fleet.listing import csv_lines, write_list

    for path in listed.outputs:
        write_list(listing, path, overwrite=form.overwrite)
    if form.csv:
        for line in csv_lines(listing):
            click.echo(line, nl=False)
    elif form.json:
        print_document(listing)
    else:
        print_table(listing, listed.first)
    tell_unusable(listing)
