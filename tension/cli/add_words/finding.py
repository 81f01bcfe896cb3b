"""``tension add finding``: the condition of a rope."""

from typing import Any

import click

from tension.cli.options import with_record_options


@click.command("finding")
@click.argument("rope", metavar="ROPE|all")
@click.argument("kind")
@click.argument("details", nargs=-1, metavar="[KEY=VALUE]...")
@with_record_options
@click.pass_context
def command(
    ctx: click.Context,
    /,
    rope: str,
    kind: str,
    details: tuple[str, ...],
    **options: Any,
) -> None:
    """Add a finding; KEY=VALUE as docs/file-formats.md names the keys of a finding.

    \b
    tension add finding 3 rouge at="2 m above the car hitch"
    tension add finding 3 broken-wires broken=12 distribution=spread lay="84 mm"
    """
    from tension.cli.adding import place_of, run_add
    from tension.cli.finding_keys import finding_keys, finding_rope
    from tension.workflow.adding import finding

    keys = finding_keys(kind.lower(), details, by=options["by"])
    make = finding(finding_rope(rope), kind.lower(), keys)
    run_add(place_of(ctx, options), make)
