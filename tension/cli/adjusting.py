"""What `adjust`, `compare` and `springs` share: options to lines and exit codes."""

import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from tension.adjustment.outcome import (
    InfeasiblePlan,
    NoPlan,
    NoPlanKind,
    Plan,
    PlanOutcome,
    Strategy,
)
from tension.adjustment.spring_check import SpringCheck
from tension.cli.assessing import rule_choice
from tension.cli.exits import ExitCode
from tension.cli.next_text import echo_next_command
from tension.cli.text import output_width, printable, table, wrapped
from tension.documents.planned import (
    PlanAnswer,
    comparison_document,
    plan_document,
    springs_document,
)
from tension.documents.shape import to_json
from tension.figures.sheet import Paper
from tension.installation import HitchPlace
from tension.notes import Refusal
from tension.quantity.units import UnitSystem
from tension.telling.comparisons import (
    SPRING_HEADERS,
    comparison_lines,
    spring_heading,
    spring_lines,
    spring_rows,
)
from tension.telling.lines import TextKind, TextLine
from tension.telling.numbers import turns_text
from tension.telling.plans import outcome_lines
from tension.telling.results import reason_text
from tension.wording import Terms, percent_text, say
from tension.workflow.adjustment import (
    AdjustmentChoice,
    Planned,
    check_springs_of_record,
    compare_record,
    plan_record,
    strategies_of,
)
from tension.workflow.adjustment_figures import (
    require_plan_name,
    write_comparison_figure,
    write_plan_figure,
    write_plan_page,
    write_springs_figure,
)
from tension.workflow.figures import require_drawable
from tension.workflow.outputs import require_no_input
from tension.workflow.standing import NextKind, NextStep, next_after_plan


def run_adjust(ctx: click.Context, path: Path, options: Mapping[str, Any]) -> None:
    """Plan, print and leave with the exit code."""
    _check_plot(path, options)
    if options["pdf"]:
        require_plan_name(options["pdf"], overwrite=options["overwrite"])
        require_no_input(options["pdf"], [path])
    planned = plan_record(
        path,
        series=options["series"],
        choice=_choice(options),
        progress=_progress,
    )
    units, terms, width = _form(options)
    every = strategies_of(planned)
    if options["as_json"]:
        answer = PlanAnswer(
            assessment=planned.assessed.assessment,
            outcome=planned.outcome,
            others=every,
            learned=planned.learned,
            state=planned.state,
        )
        click.echo(to_json(plan_document(answer, planned.inputs)), nl=False)
    else:
        assessment = planned.assessed.assessment
        click.echo(wrapped(say(reason_text(assessment), terms), width))
        click.echo()
        _echo_lines(outcome_lines(planned.outcome, units, width), width, terms)
        if isinstance(planned.outcome, (Plan, InfeasiblePlan)):
            click.echo()
            click.echo(_strategies_table(every, width))
        assessed = planned.assessed
        name = assessed.series.name
        step = next_after_plan(assessed.visit, name, planned.outcome)
        echo_next_command(step, path)
    _write_plan_files(planned, options)
    ctx.exit(exit_of_outcome(planned.outcome))


def _write_plan_files(planned: Planned, options: Mapping[str, Any]) -> None:
    """Draw the plan and lay it out, where that was asked for."""
    if not (options["plot"] or options["pdf"]):
        return
    if not isinstance(planned.outcome, Plan):
        click.echo("tension: there is no plan to draw.", err=True)
        return
    units, terms, _ = _form(options)
    if options["plot"]:
        write_plan_figure(
            planned.outcome,
            options["plot"],
            units=units,
            overwrite=options["overwrite"],
        )
    if options["pdf"]:
        write_plan_page(
            planned,
            options["pdf"],
            units=units,
            terms=terms,
            paper=Paper(options["paper"]),
            overwrite=options["overwrite"],
        )


def exit_of_outcome(outcome: PlanOutcome) -> ExitCode:
    """Tell the exit code of an answer.

    Returns
    -------
    ExitCode
        Done for a plan, directions, or an equal set; 12 where no nut is to be turned
        now; 3 where the series has no result.
    """
    if isinstance(outcome, InfeasiblePlan):
        return ExitCode.NO_FEASIBLE_PLAN
    if isinstance(outcome, NoPlan):
        if outcome.kind is NoPlanKind.LEAVE_IT:
            return ExitCode.DONE
        if outcome.kind is NoPlanKind.NO_RESULT:
            return ExitCode.UNUSABLE_INPUT
        return ExitCode.NO_FEASIBLE_PLAN
    return ExitCode.DONE


def run_compare(ctx: click.Context, path: Path, options: Mapping[str, Any]) -> None:
    """Compare, print and leave with the exit code."""
    _check_plot(path, options)
    compared = compare_record(
        path,
        before=options["before"],
        after=options["after"],
        choice=_choice(options),
        progress=_progress,
    )
    units, terms, width = _form(options)
    outcome = compared.outcome
    if options["as_json"]:
        click.echo(to_json(comparison_document(outcome, compared.inputs)), nl=False)
    elif not isinstance(outcome, Refusal):
        _echo_lines(comparison_lines(outcome, units), width, terms)
        echo_next_command(NextStep(kind=NextKind.REPORT), path)
    if isinstance(outcome, Refusal):
        _refuse(ctx, outcome, terms, width)
        return
    if options["plot"]:
        write_comparison_figure(
            outcome, options["plot"], overwrite=options["overwrite"]
        )
    ctx.exit(ExitCode.DONE)


def run_springs(ctx: click.Context, path: Path, options: Mapping[str, Any]) -> None:
    """Check the springs, print and leave with the exit code."""
    _check_plot(path, options)
    checked = check_springs_of_record(
        path,
        series=options["series"],
        choice=_choice(options),
        rated_load=options["rated_load"],
        progress=_progress,
    )
    units, terms, width = _form(options)
    outcome = checked.outcome
    if options["as_json"]:
        click.echo(to_json(springs_document(outcome, checked.inputs)), nl=False)
    elif not isinstance(outcome, Refusal):
        _echo_springs(outcome, units, terms, width)
    if isinstance(outcome, Refusal):
        _refuse(ctx, outcome, terms, width)
        return
    if options["plot"]:
        write_springs_figure(
            outcome, options["plot"], units=units, overwrite=options["overwrite"]
        )
    ctx.exit(ExitCode.CONTRADICTION if outcome.is_contradicted else ExitCode.DONE)


def _echo_springs(
    check: SpringCheck, units: UnitSystem, terms: Terms, width: int
) -> None:
    """Print the table of the springs and what it rests on."""
    _echo_lines([spring_heading(check)], width, terms)
    click.echo(table(SPRING_HEADERS, spring_rows(check, units), width, left=[5]))
    _echo_lines(spring_lines(check, units), width, terms)


def _check_plot(path: Path, options: Mapping[str, Any]) -> None:
    """Refuse a figure that cannot be written before any work is done."""
    if options["plot"]:
        require_drawable(options["plot"], overwrite=options["overwrite"])
        require_no_input(options["plot"], [path])


def _choice(options: Mapping[str, Any]) -> AdjustmentChoice:
    """Turn the options into a choice."""
    hitch, strategy = options["hitch"], options.get("strategy")
    return AdjustmentChoice(
        hitch=HitchPlace(hitch) if hitch else None,
        strategy=Strategy(strategy) if strategy else Strategy.FEWEST_NUTS,
        rule=rule_choice(options),
    )


def _form(options: Mapping[str, Any]) -> tuple[UnitSystem, Terms, int]:
    """Units, words and width to print with."""
    return UnitSystem(options["units"]), Terms(options["terms"]), output_width()


def _echo_lines(lines: Sequence[TextLine], width: int, terms: Terms) -> None:
    """Print lines of text as each is to be set."""
    setters: dict[TextKind, Callable[[str], str]] = {
        TextKind.HEADING: lambda text: "\n" + wrapped(text, width),
        TextKind.SENTENCE: lambda text: wrapped(text, width),
        TextKind.ITEM: lambda text: wrapped(text, width, "", "  "),
        TextKind.BOX: lambda text: wrapped(text, width, "[ ] ", "    "),
        TextKind.CAUTION: lambda text: wrapped(text, width, "! ", "  "),
        TextKind.PICTURE: lambda text: text,
    }
    printed = "\n".join(setters[line.kind](say(line.text, terms)) for line in lines)
    click.echo(printed.lstrip("\n"))


def _strategies_table(every: Sequence[tuple[Strategy, PlanOutcome]], width: int) -> str:
    """Print one line for each strategy."""
    rows = []
    for strategy, outcome in every:
        if isinstance(outcome, Plan):
            rows.append(
                [
                    strategy.value,
                    str(outcome.n_nuts),
                    turns_text(outcome.turns_in_all).rsplit(" ", 1)[0],
                    str(len(outcome.stages)),
                    percent_text(outcome.forecast.upper),
                    f"{100 * outcome.forecast.chance_equal:.0f} %",
                ]
            )
        else:
            rows.append([strategy.value, "", "", "", "", "none"])
    headers = ["--strategy", "nuts", "turns", "stages", "spread under", "chance equal"]
    return table(headers, rows, width, left=[0])


def _refuse(ctx: click.Context, refusal: Refusal, terms: Terms, width: int) -> None:
    """Tell why there is no answer, and what to do."""
    text = say(f"tension: {refusal.text} {refusal.next_act}".strip(), terms)
    click.echo(wrapped(text, width), err=True)
    ctx.exit(ExitCode.UNUSABLE_INPUT)


def _progress(line: str) -> None:
    """Tell on a terminal what is being read."""
    if sys.stderr.isatty():
        click.echo(printable(line), err=True)
