"""``tension trim``: keep only the windows around the plucks."""

from pathlib import Path
from typing import Any

import click


@click.command("trim")
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--by", default="", metavar="NAME", help="Who trims.")
@click.option(
    "--delete-originals",
    is_flag=True,
    help="Delete originals whose checksums stand in the record, of earlier trims too.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_context
def command(ctx: click.Context, /, path: Path, **options: Any) -> None:
    """Write recordings that hold only the windows around the plucks.

    Each window begins 1 s before its pluck, for the hum, and ends 8 s after it. The
    original's checksum is taken first, the record says what was kept, and the result on
    what is left must be the same, or nothing is changed. Broken off, it goes on where
    it stopped when it is run again. This reduces speech and guarantees nothing: what
    was said within a window is still there. Originals stay unless you ask.

    \b
    tension trim visit-2026-11-20
    tension trim visit-2026-11-20 --delete-originals --by "R. Calder"
    """
    from tension.cli.integrity import run_trim

    run_trim(ctx, path, options)
