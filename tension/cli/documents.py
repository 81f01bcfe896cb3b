"""What `report` and `acceptance` share: from options to a document or to lines."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from tension.cli.assessing import rule_choice
from tension.cli.next_text import echo_next_command
from tension.cli.text import output_width, printable, wrapped
from tension.documents.kept import acceptance_document
from tension.documents.shape import to_json
from tension.figures.sheet import Paper
from tension.quantity.units import UnitSystem
from tension.report.acceptance import acceptance_blocks, blank_acceptance
from tension.report.content import build_report
from tension.report.document import Block, Bullets, Grid, Paragraph
from tension.report.evidence import Manner
from tension.report.visible import visible
from tension.telling.cautions import WHAT_THE_RESULT_IS
from tension.wording import Terms
from tension.workflow.evidence import (
    accept_record,
    gather_evidence,
    require_report_name,
    write_document,
)
from tension.workflow.outputs import require_no_input
from tension.workflow.standing import NextKind, NextStep, standing_of

RUNBY_SKETCH = """\
  car level at the landing:        counterweight
                                   |  striker
                                   v
                                 ----- <- runby, + while there is space
                                 buffer
  Shortening the ropes adds to the runby, stretch takes from it. It is negative when the
  counterweight lands before the car is level: 4 in early is -4 in; for 18 in the
  ropes are shortened by 18 - (-4) = 22 in at 1:1, by 44 in at 2:1."""


def run_report(
    ctx: click.Context, path: Path, output: Path, options: Mapping[str, Any]
) -> None:
    """Write the report of a record."""
    del ctx
    require_report_name(output, overwrite=options["overwrite"])
    require_no_input(output, [path])
    evidence = gather_evidence(
        path,
        series=options["series"],
        choice=rule_choice(options),
        progress=_progress,
    )
    write_document(
        build_report(evidence, _manner(options)),
        output,
        paper=Paper(options["paper"]),
        overwrite=options["overwrite"],
    )
    click.echo(f"Written: {printable(str(output))}")
    kind = NextKind.VERIFY if standing_of(path).is_sealed else NextKind.SEAL
    echo_next_command(NextStep(kind=kind), path)


def run_acceptance(
    ctx: click.Context,
    path: Path | None,
    blank: Path | None,
    options: Mapping[str, Any],
) -> None:
    """Print the form of a record, or write the blank one.

    Raises
    ------
    click.UsageError
        If neither or both are given.
    """
    del ctx
    if (path is None) == (blank is None):
        raise click.UsageError("Give either a record, or --blank FILE.")
    manner = _manner(options)
    if blank is not None:
        write_document(
            blank_acceptance(manner),
            blank,
            paper=Paper(options["paper"]),
            overwrite=options["overwrite"],
        )
        click.echo(f"Written: {printable(str(blank))}")
        return
    accepted = accept_record(path or Path(), progress=_progress)
    if options["as_json"]:
        document = acceptance_document(accepted.acceptance, accepted.inputs)
        click.echo(to_json(document), nl=False)
        return
    click.echo(_lines(acceptance_blocks(accepted.acceptance, manner), manner))
    if any(
        f.label == "runby now" for r in accepted.acceptance.items for f in r.figures
    ):
        click.echo(f"\n{RUNBY_SKETCH}")


def _lines(blocks: Sequence[Block], manner: Manner) -> str:
    """The blocks of a form as plain lines."""
    width = output_width()
    lines: list[str] = []
    for block in blocks:
        match block:
            case Paragraph(text=text):
                lines.append(wrapped(visible(text), width))
            case Bullets(items=items):
                lines += [wrapped(visible(i), width, "  - ", "    ") for i in items]
            case Grid(caption=caption, headers=headers, rows=rows):
                lines += ["", caption]
                lines += [_row(headers, row, width) for row in rows]
            case _:
                pass
    lines += ["", *(wrapped(manner.say(t), width) for t in WHAT_THE_RESULT_IS)]
    return "\n".join(lines)


def _row(headers: Sequence[str], row: Sequence[str], width: int) -> str:
    """One row of a table as a heading and lines."""
    first = wrapped(visible(f"{row[0]} {row[1]}"), width, "", "  ")
    rest = [
        wrapped(visible(f"{header}: {part}".strip(": ")), width, "  ", "    ")
        for header, cell in zip(headers[2:], row[2:], strict=True)
        for part in cell.split("\n")
        if part not in {"", "–"}
    ]
    return "\n".join([first, *rest])


def _manner(options: Mapping[str, Any]) -> Manner:
    """Words and units of the options."""
    return Manner(terms=Terms(options["terms"]), units=UnitSystem(options["units"]))


def _progress(line: str) -> None:
    """Tell what is being done."""
    click.echo(printable(line), err=True)
