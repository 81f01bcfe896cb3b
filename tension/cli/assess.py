"""``tension assess``: the main job."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import (
    with_form_options,
    with_rope_options,
    with_rule_options,
)


@click.command("assess")
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path), metavar="[PATH]...")
@click.option("--series", metavar="NAME", help="Which series; the last if left out.")
@with_rope_options
@with_rule_options
@with_form_options
@click.option("--csv", "as_csv", is_flag=True, help="Print one CSV row per rope.")
@click.option(
    "--plot",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Draw shares, intervals and limit as svg, png or pdf.",
)
@click.option("--overwrite", is_flag=True, help="Let --plot replace a file.")
@click.pass_context
def command(ctx: click.Context, /, paths: tuple[Path, ...], **options: Any) -> None:
    """Say equal, unequal or cannot tell, with each rope's share of the load.

    PATH is a record (visit.toml), a folder that holds one, a folder of sound files, or
    the sound files in rope order; this folder if left out. Nothing is written unless
    --plot asks for it.

    \b
    tension assess visit-2026-11-20
    tension assess memos --free-length "3.4 m" --same-height
    tension assess r1.m4a r2.m4a r3.m4a --free-length "3.40 m"
        --free-length "3.55 m" --free-length "3.40 m"
    """
    from tension.cli.assessing import run_assess, show_assessed

    paths = paths or (Path(),)
    assessed = run_assess(paths, options)
    show_assessed(ctx, "assess", assessed, options, paths)
