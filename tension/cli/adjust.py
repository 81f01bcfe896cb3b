"""``tension adjust``: which nut, which way, how far, in what order."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from tension.cli import options, output
from tension.installation import HitchPlace
from tension.wording import percent_text

if TYPE_CHECKING:
    from tension.workflow.adjustment import Planned

_EXIT_OF = {
    "plan": output.ExitCode.DONE,
    "directions-only": output.ExitCode.DONE,
    "leave-it": output.ExitCode.DONE,
    "no-result": output.ExitCode.UNUSABLE_INPUT,
}
"""By the name of the outcome; there is no plan by any other."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Aim:
    """Which series is planned from, where, and what for."""

    series: options.Series
    hitch: HitchPlace | None = options.opt(
        "Where the nuts are turned; next to the span measured if left out."
    )
    strategy: str = options.opt(
        "What to aim at besides equal ropes.",
        type=click.Choice(["keep-height", "take-up-only", "ease-only", "fewest-nuts"]),
        default="fewest-nuts",
    )


@dataclass(frozen=True, kw_only=True)
class PlanFiles(options.Drawing):
    """What is drawn and laid out."""

    plot: options.File = options.opt("Draw the nuts in their rows as svg, png or pdf.")
    pdf: options.File = options.opt(
        "Write the plan for the car top: a page a stage, with boxes to tick."
    )
    paper: options.PaperSize
    overwrite: bool = options.opt("Let --plot or --pdf replace a file.")


@options.command("adjust")
def command(
    path: options.RecordPath,
    aim: Aim,
    rule: options.Rule,
    form: options.Form,
    files: PlanFiles,
) -> output.ExitCode:
    """Plan the turns of all nuts at once, for a record or the folder that holds one.

    The plan promises an upper bound of the spread first, then tells stage by stage in
    working order: nut towards the plate or away, how many turns, how much thread, and
    how many round trips to run. No plan is made from a set that has not run since its
    nuts were turned. Turns whose round trips are in the record are learned from.

    Exit code 12: no feasible plan, or no nut is to be turned now; 0 if the set is equal
    and is left alone.

    \b
    tension adjust visit-2026-11-20
    tension adjust visit-2026-11-20 --pdf plan.pdf
    tension adjust visit-2026-11-20 --strategy keep-height --units us
    """
    from tension.adjustment.outcome import Plan, Strategy
    from tension.cli.record_text import echo_next_command
    from tension.documents.commands import plan_document
    from tension.figures.adjustment import draw_stages
    from tension.telling.page import Paper
    from tension.workflow import outputs
    from tension.workflow.adjustment import AdjustmentChoice, plan_record
    from tension.workflow.standing import next_after_plan

    files.require_drawable([path])
    if files.pdf:
        outputs.require_output(files.pdf, "plan", [path], overwrite=files.overwrite)
    choice = AdjustmentChoice(
        hitch=aim.hitch, strategy=Strategy(aim.strategy), rule=rule.choice()
    )
    planned = plan_record(
        path, series=aim.series, choice=choice, progress=output.tell_progress
    )
    outcome = planned.outcome
    if form.json:
        output.echo_document(plan_document(planned, outcome, planned.inputs))
    else:
        click.echo(_text(planned, form))
        echo_next_command(next_after_plan(planned), path)
    if isinstance(outcome, Plan):
        size = (7.5, 4.5 * len(outcome.stages))
        files.draw(lambda figure: draw_stages(outcome, figure, form.units), size)
        if files.pdf:
            outputs.write_plan_page(
                planned,
                files.pdf,
                units=form.units,
                terms=form.terms,
                paper=Paper(files.paper),
                overwrite=files.overwrite,
            )
    elif files.plot or files.pdf:
        output.tell("there is no plan to draw.")
    return _EXIT_OF.get(outcome.name, output.ExitCode.NO_FEASIBLE_PLAN)


def _text(planned: "Planned", form: options.Form) -> str:
    """Write why, the plan, and what other strategies give."""
    from tension.cli.screen import screen, signed_lines
    from tension.telling import numbers, plans, results

    outcome = planned.outcome
    lines = plans.outcome_lines(outcome, form.units, form.terms, output.output_width())
    return screen(
        "plan",
        form.terms,
        assessment=planned.assessed.assessment,
        lines=signed_lines(lines),
        others=planned.strategies if outcome.name in {"plan", "infeasible"} else (),
        results=results,
        turns_text=numbers.turns_text,
        percent_text=percent_text,
    )
