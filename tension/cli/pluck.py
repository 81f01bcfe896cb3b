"""``tension pluck``: what was heard in each sound file."""

from pathlib import Path
from typing import Any

import click

from tension.cli.options import LENGTH, paths_argument, with_form_options


@click.command("pluck")
@paths_argument
@click.option("--free-length", type=LENGTH, help='Free length, "3.4 m", if known.')
@click.option(
    "--order",
    metavar="NUMBERS",
    help='Ropes in the order plucked in one memo, "1 2 3 3 2 1".',
)
@click.option("--plucks-each", type=click.IntRange(1, 20), help="Plucks per rope.")
@with_form_options
@click.option(
    "--plot",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Draw the wave with its plucks and the spectrum with the comb (one file).",
)
@click.option("--overwrite", is_flag=True, help="Let --plot replace a file.")
@click.pass_context
def command(ctx: click.Context, /, paths: tuple[Path, ...], **options: Any) -> None:
    """Tell what was heard: plucks used and not, hum, partials, fundamental, rivals.

    Each file is heard by itself, as one rope unless --order names several. PATH is a
    sound file or a folder of sound files.
    """
    from tension.cli.exits import ExitCode
    from tension.cli.hearing_text import hearing_text
    from tension.cli.plucking import run_pluck, tell_unheard
    from tension.cli.text import output_width
    from tension.documents.heard import hearing_document
    from tension.documents.shape import to_json
    from tension.wording import Terms

    heard = run_pluck(paths, options)
    if options["as_json"]:
        document = hearing_document(
            [file for one in heard for file in one.evidence],
            [(one.recording, one.hearing) for one in heard],
        )
        click.echo(to_json(document), nl=False)
    else:
        for one in heard:
            text = hearing_text(
                one, width=output_width(), terms=Terms(options["terms"])
            )
            click.echo(text, nl=False)
    is_heard = any(h.hearing.given for h in heard)
    if not is_heard:
        tell_unheard(heard, Terms(options["terms"]))
    ctx.exit(ExitCode.DONE if is_heard else ExitCode.UNUSABLE_INPUT)
