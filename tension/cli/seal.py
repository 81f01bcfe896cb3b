"""``tension seal``: checksums of a record and of all it names; corrections."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import record_argument


@click.command("seal")
@record_argument
@click.option("--correct", is_flag=True, help="Add a correction to a sealed record.")
@click.option("--by", default="", metavar="NAME", help="Who corrects.")
@click.option("--reason", default="", metavar="TEXT", help="Why.")
@click.option("--text", default="", metavar="TEXT", help="What is put right, in words.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_context
def command(ctx: click.Context, /, path: Path, **options: Any) -> None:
    """Write sizes and SHA-256 of a record and of all it names beside it.

    The seal proves sameness, not authorship: whoever can write the files can seal them
    anew, so write its checksum down elsewhere. Corrections are added to a file of the
    record's own beside it, dated, named and with a reason, each tied to the one before.

    \b
    tension seal visit-2026-11-20
    tension seal visit-2026-11-20 --correct --by "R. Calder" --reason "typing error"
    """
    from tension.cli.integrity import run_seal

    run_seal(ctx, path, options)
