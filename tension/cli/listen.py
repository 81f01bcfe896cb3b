"""``tension listen``: rope by rope through a microphone, into the record."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import with_form_options


@click.command("listen")
@click.argument("path", type=click.Path(path_type=Path), metavar="PATH")
@click.option(
    "--series",
    metavar="NAME",
    help="Where the readings go; the last series if left out, a new one is begun.",
)
@click.option("--device", metavar="NAME", help="Name or number, see tension devices.")
@click.option(
    "--order",
    metavar="NUMBERS",
    help="Ropes in the order taken; row by row of the hitch if left out.",
)
@click.option(
    "--plucks",
    type=click.IntRange(1, 20),
    default=3,
    show_default=True,
    help="Good plucks of a rope before the next.",
)
@click.option("--once", is_flag=True, help="Take each rope once, not there and back.")
@with_form_options
@click.pass_context
def command(ctx: click.Context, /, path: Path, **options: Any) -> None:
    """Hear the ropes live: it says which to pluck and whether it was heard.

    PATH is a record or the folder that holds one; make it with 'tension start'. Each
    rope is recorded to a WAV file beside the record while it rings, the record is told
    as it goes, and the result is that of 'tension assess'. Broken off, the same command
    goes on where it stopped. Nothing leaves this computer.

    \b
    tension listen visit-2026-11-20
    tension listen visit-2026-11-20 --series "as left" --device "USB"
    """
    from tension.cli.live import run_listen, show_heard

    assessed, screen = run_listen(ctx, path, options)
    show_heard(ctx, assessed, screen, options)
