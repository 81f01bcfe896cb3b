"""``tension devices``: which microphones there are, and whether one hears."""

from typing import Any

import click


@click.command("devices")
@click.option("--device", metavar="NAME", help="Look at this one: name or number.")
@click.option("--list", "is_list", is_flag=True, help="List only, open none.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_context
def command(ctx: click.Context, /, **options: Any) -> None:
    """List the microphones and look for five seconds at what one gives.

    The look tells level, hum of the mains, input that was lost, and an input that is
    exactly zero with what that usually is. Nothing is recorded.
    """
    from tension.cli.exits import ExitCode
    from tension.cli.looking import devices_text, look
    from tension.documents.heard import devices_document
    from tension.documents.shape import to_json

    devices, chosen, check = look(options["device"], is_list=options["is_list"])
    if options["as_json"]:
        document = devices_document(devices, chosen, check)
        click.echo(to_json(document), nl=False)
    else:
        click.echo(devices_text(devices, chosen, check), nl=False)
    is_deaf = check is not None and check.is_silent
    ctx.exit(ExitCode.UNUSABLE_INPUT if is_deaf else ExitCode.DONE)
