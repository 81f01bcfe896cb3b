"""``tension verify``: what changed in a sealed record."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import record_argument


@click.command("verify")
@record_argument
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_context
def command(ctx: click.Context, /, path: Path, **options: Any) -> None:
    """Name every file of a sealed record that changed or is missing.

    Exit code 0 if all is as it was sealed and corrected, 13 if not. A changed record is
    shown line by line, its rule included. It proves sameness, not authorship.

    \b
    tension verify visit-2026-11-20
    """
    from tension.cli.integrity import run_verify

    run_verify(ctx, path, options)
