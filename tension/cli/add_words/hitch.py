"""``tension add hitch``: where the nuts are."""

from typing import Any

import click

from tension.cli.options import LENGTH, STIFFNESS, with_record_options
from tension.installation import Buffer, HitchPlace


@click.command("hitch")
@click.argument(
    "at", type=click.Choice([h.value for h in HitchPlace], case_sensitive=False)
)
@click.option("--rows", metavar="TEXT", help='As seen facing the nuts, "1 3 5/2 4 6".')
@click.option("--thread", default="", metavar="TEXT", help='Of the rods, "M16".')
@click.option(
    "--buffer", type=click.Choice([b.value for b in Buffer], case_sensitive=False)
)
@click.option("--rate", type=STIFFNESS, help='Of one spring, "150 N/mm".')
@click.option("--free", type=LENGTH, help="Length of a spring without load.")
@click.option("--solid", type=LENGTH, help="Length with its coils touching.")
@click.option("--rod", type=LENGTH, help="Length of the rods that is free to swing.")
@with_record_options
@click.pass_context
def command(ctx: click.Context, /, at: str, **options: Any) -> None:
    """Describe a hitch, or add what is not known of it yet.

    \b
    tension add hitch car --rows "1 3 5/2 4 6" --thread M16 --rate "150 N/mm"
    """
    from tension.cli.adding import place_of, run_add
    from tension.cli.assessing import rope_rows
    from tension.files.new_record import NewHitch
    from tension.workflow.adding_numbers import hitch

    texts = {
        name: options[key].text if options[key] else ""
        for name, key in (
            ("spring_rate", "rate"),
            ("spring_free_length", "free"),
            ("spring_solid_length", "solid"),
            ("rod_free", "rod"),
        )
    }
    make = hitch(
        NewHitch(
            at=HitchPlace(at),
            rows=rope_rows(options["rows"]),
            thread=options["thread"],
            buffer=Buffer(options["buffer"]) if options["buffer"] else None,
            **texts,
        )
    )
    run_add(place_of(ctx, options), make)
