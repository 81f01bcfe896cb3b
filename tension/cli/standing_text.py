"""Where a visit stands, in a few lines."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tension.cli.text import output_width, printable, wrapped

if TYPE_CHECKING:
    from tension.workflow.standing import Standing


def tell_standing() -> bool:
    """Tell where the visit of this folder stands, if it holds a record."""
    from tension.workflow.inputs import is_record

    if not is_record(Path()):
        return False
    from tension.cli.next_text import echo_next_command
    from tension.workflow.standing import standing_of

    standing = standing_of(Path())
    given = dict(standing.visit.particulars)
    title = ", ".join(
        part for part in (standing.visit.lift.name, given.get("date")) if part
    )
    width = output_width()
    click.echo(wrapped(printable(title or "No name, no date"), width))
    for is_done, what in _steps(standing):
        mark = "[x]" if is_done else "[ ]"
        click.echo(wrapped(f"{mark} {printable(what)}", width, "", "    "))
    for sound in standing.sound:
        many = f"{len(sound.names)} new sound files in {sound.folder or 'this folder'}"
        one = f"new sound file: {sound.names[0]}"
        what = one if len(sound.names) == 1 else many
        click.echo(wrapped(f" +  {printable(what)}", width, "", "    "))
    echo_next_command(standing.step, Path())
    return True


def _steps(standing: "Standing") -> Iterator[tuple[bool, str]]:
    """What is done, and what is not."""
    n_ropes = standing.visit.rope_set.n_ropes
    for one in standing.rounds:
        read = f'"{one.name}" {len(one.ropes)} of {n_ropes} ropes'
        yield len(one.ropes) == n_ropes, f"measured: {read}"
    if not standing.rounds:
        yield False, "measured"
    yield (
        bool(standing.turned),
        "planned: tension adjust works it out; it is not kept",
    )
    turned = ", ".join(map(str, standing.turned))
    yield bool(standing.turned), f"turned: rope {turned}" if turned else "turned"
    trips = f"run: {standing.round_trips} round trips"
    yield standing.is_run, trips if standing.is_run else "run"
    yield standing.is_left, "left: measured after the turns"
    yield standing.is_sealed, "sealed"
