"""What `assess` and `demo` share: from options to a result, and the result shown."""

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from tension.assessment.outcome import Assessment, Verdict
from tension.catalogue.rules import Metric
from tension.cli.exits import EXIT_OF_VERDICT
from tension.cli.next_text import echo_next_command
from tension.cli.result_text import result_text
from tension.cli.text import output_width, printable
from tension.documents.assessed import assessment_csv, assessment_document
from tension.documents.shape import to_json
from tension.errors import InvalidValueError
from tension.installation import Ends
from tension.quantity.units import UnitSystem
from tension.telling.results import reason_text
from tension.wording import Terms, say
from tension.workflow.assess import (
    Assessed,
    RuleChoice,
    assess_record,
    assess_recordings,
)
from tension.workflow.figures import require_drawable, write_shares_figure
from tension.workflow.inputs import (
    Given,
    in_rope_order,
    is_record,
    ropes_of_files,
)
from tension.workflow.outputs import require_no_input
from tension.workflow.standing import next_after_assessment

_ROPE_OPTIONS = {
    "free_lengths": "--free-length",
    "linear_density": "--linear-density",
    "rope_type": "--rope",
    "ends": "--ends",
    "same_height": "--same-height",
    "order": "--order",
    "plucks_each": "--plucks-each",
}


def run_assess(paths: Sequence[Path], options: Mapping[str, Any]) -> Assessed:
    """Assess what the paths and options say.

    Raises
    ------
    click.UsageError
        If options contradict each other or the paths.
    """
    _require_one_form(options)
    if options.get("plot"):
        require_drawable(options["plot"], overwrite=options["overwrite"])
        require_no_input(options["plot"], paths)
    choice = rule_choice(options)
    records = [path for path in paths if is_record(path)]
    if records:
        if len(paths) > 1:
            raise click.UsageError(
                "Give one record at a time; a record names its own sound files."
            )
        _require_no_rope_options(options)
        return assess_record(
            paths[0], series=options["series"], choice=choice, progress=tell_progress
        )
    if options["series"]:
        raise click.UsageError("--series goes with a record; sound files are one.")
    return assess_recordings(
        _told_order(paths, options),
        given=given_from_options(options),
        choice=choice,
        progress=tell_progress,
    )


def rule_choice(options: Mapping[str, Any]) -> RuleChoice:
    """Turn the rule options into a choice.

    Raises
    ------
    click.BadParameter
        If the catalogue has no such rule or the limit makes no sense.
    """
    from tension.catalogue.rules import find_rule

    limit = options["limit"]
    if limit is not None and not 0 < limit.value < 1:
        raise click.BadParameter(
            f"a limit lies between 0 % and 100 %, got {limit.text}; "
            'write it like "10 %"',
            param_hint="--limit",
        )
    if options["rule_name"]:
        try:
            find_rule(options["rule_name"])
        except InvalidValueError as error:
            raise click.BadParameter(str(error), param_hint="--rule") from error
    return RuleChoice(
        name=options["rule_name"],
        limit=limit.value if limit else None,
        metric=Metric(options["metric"]) if options["metric"] else None,
    )


def given_from_options(options: Mapping[str, Any]) -> Given:
    """Turn the rope options into what is known of the ropes.

    Raises
    ------
    click.BadParameter
        If a text is not what its option wants.
    """
    from tension.quantity.units import Dimension, parse_quantity
    from tension.workflow.inputs import split_rope_type

    diameter, construction = None, ""
    if options["rope_type"]:
        try:
            size, construction = split_rope_type(options["rope_type"])
            diameter = parse_quantity(size, Dimension.LENGTH)
        except InvalidValueError as error:
            raise click.BadParameter(str(error), param_hint="--rope") from error
    return Given(
        free_lengths=options["free_lengths"],
        linear_density=options["linear_density"],
        diameter=diameter,
        construction=construction,
        ends=Ends(options["ends"]) if options["ends"] else Ends.SOCKET_SHEAVE,
        has_sockets_at_one_height=options["same_height"],
        order=rope_order(options["order"]),
        plucks_each=options["plucks_each"],
    )


def show_assessed(
    ctx: click.Context,
    name: str,
    assessed: Assessed,
    options: Mapping[str, Any],
    paths: Sequence[Path] = (),
) -> None:
    """Print a result in the form asked for and leave with its exit code.

    Parameters
    ----------
    ctx : click.Context
        The running command.
    name : str
        Its name, for the document.
    assessed : Assessed
        The result.
    options : mapping
        The options of the command.
    paths : sequence of Path, optional
        As given; with them the text ends with the next command.
    """
    _require_one_form(options)
    assessment = assessed.assessment
    if options["as_json"]:
        document = assessment_document(name, assessment, assessed.inputs)
        click.echo(to_json(document), nl=False)
    elif options["as_csv"]:
        click.echo(assessment_csv(assessment), nl=False)
    else:
        text = result_text(
            assessment,
            width=output_width(),
            units=UnitSystem(options["units"]),
            terms=Terms(options["terms"]),
        )
        click.echo(text, nl=False)
        if paths and all(path.exists() for path in paths):
            step = next_after_assessment(assessed.visit, assessment)
            echo_next_command(step, *paths)
    if options.get("plot"):
        write_shares_figure(assessment, options["plot"], overwrite=options["overwrite"])
    if assessment.verdict is Verdict.NO_RESULT:
        _tell_no_result(assessment, Terms(options["terms"]))
    ctx.exit(EXIT_OF_VERDICT[assessment.verdict])


def _tell_no_result(assessment: Assessment, terms: Terms) -> None:
    """Say on stderr why there is no result: the set, then each refused rope."""
    act = assessment.reason_note.next_act if assessment.reason_note else ""
    reason = f"no result: {reason_text(assessment)} {act}"
    lines = [reason.strip()]
    if assessment.measurement.refusal is None:
        for rope in assessment.measurement.ropes:
            if rope.refusal is not None:
                said = f"{rope.refusal.text} {rope.refusal.next_act}".strip()
                is_named = f"rope {rope.number} " in said.lower()
                lines.append(said if is_named else f"rope {rope.number}: {said}")
    for line in lines:
        click.echo(f"tension: {printable(say(line, terms))}", err=True)


def _require_one_form(options: Mapping[str, Any]) -> None:
    """Refuse two forms of output at once."""
    if options["as_json"] and options["as_csv"]:
        raise click.UsageError("Give --json or --csv, not both.")


def _require_no_rope_options(options: Mapping[str, Any]) -> None:
    """Refuse options that a record answers itself."""
    used = [name for key, name in _ROPE_OPTIONS.items() if options[key]]
    if used:
        raise click.UsageError(
            f"{used[0]} goes with sound files; with a record, write it in the record."
        )


def _told_order(paths: Sequence[Path], options: Mapping[str, Any]) -> tuple[Path, ...]:
    """Put files in rope order and tell which file is which rope."""
    files = in_rope_order(paths)
    if len(files) == 1 and not options["order"]:
        click.echo(
            f"{printable(str(files[0]))}: taken as one rope; if several ropes were "
            'plucked in it, say in which order: --order "1 2 3 3 2 1"',
            err=True,
        )
    elif len(files) > 1:
        ropes = ropes_of_files(len(files), rope_order(options["order"]))
        for numbers, file in zip(ropes, files, strict=True):
            word = "rope" if len(numbers) == 1 else "ropes"
            told = " ".join(map(str, numbers))
            click.echo(f"{word} {told}: {printable(str(file))}", err=True)
    return files


def rope_order(text: str | None) -> tuple[int, ...]:
    """Read rope numbers parted by spaces or commas."""
    if not text:
        return ()
    try:
        numbers = tuple(int(part) for part in text.replace(",", " ").split())
    except ValueError:
        numbers = ()
    if not numbers or min(numbers) < 1:
        raise click.BadParameter(
            f'write rope numbers parted by spaces, like "1 2 3 3 2 1", got "{text}"',
            param_hint="--order",
        )
    return numbers


def rope_rows(text: str | None) -> tuple[tuple[int, ...], ...]:
    """Read rows of rope numbers, such as "1 3 5 / 2 4 6"."""
    parts = [part for part in (text or "").split("/") if part.strip()]
    return tuple(rope_order(part.replace("[", " ").replace("]", " ")) for part in parts)


def tell_progress(line: str) -> None:
    """Tell on a terminal what is being read."""
    if sys.stderr.isatty():
        click.echo(printable(line), err=True)
