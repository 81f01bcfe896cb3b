"""``tension add correction``: something put right in words."""

from typing import Any

import click

from tension.cli.options import with_record_options


@click.command("correction")
@click.argument("text")
@with_record_options
@click.pass_context
def command(ctx: click.Context, /, text: str, **options: Any) -> None:
    """Put something right, in words, in a sealed record; what stands there stays.

    In a record without a seal a wrong reading is left out with tension add exclude,
    and the right one is added.

    \b
    tension add correction "rope 3 is rope 4" --by "R. Example" --reason "misread"
    """
    from tension.cli.adding import correct_in_words, place_of

    correct_in_words(place_of(ctx, options), text)
