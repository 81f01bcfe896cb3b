"""Plans and forms as plain text."""

from collections.abc import Sequence

from tension.adjustment.outcome import (
    InfeasiblePlan,
    NoPlan,
    NoPlanKind,
    Plan,
    PlanOutcome,
    Strategy,
)
from tension.cli.options import Form
from tension.cli.output import ExitCode, output_width, table, wrapped
from tension.cli.screen import lines_text
from tension.condition.acceptance import Acceptance
from tension.condition.acceptance_figures import FigureKind
from tension.report.visible import visible
from tension.telling.acceptance import acceptance_blocks
from tension.telling.cautions import WHAT_THE_RESULT_IS
from tension.telling.lines import told
from tension.telling.numbers import turns_text
from tension.telling.page import Block, Bullets, Grid, Manner, Paragraph
from tension.telling.plans import outcome_lines
from tension.telling.results import reason_text
from tension.wording import percent_text, say
from tension.workflow.adjustment import Planned, strategies_of


def plan_text(planned: Planned, form: Form) -> str:
    """Write why, the plan, and what other strategies give."""
    outcome = planned.outcome
    parts = [
        wrapped(say(reason_text(planned.assessed.assessment), form.terms)),
        "",
        lines_text(
            outcome_lines(outcome, form.units, output_width()), form.terms
        ).lstrip("\n"),
    ]
    if isinstance(outcome, Plan | InfeasiblePlan):
        rows = [_strategy_row(*each) for each in strategies_of(planned)]
        headers = [
            *("--strategy", "nuts", "turns", "stages"),
            *("spread under", "chance equal"),
        ]
        parts += ["", table(headers, rows, left=[0])]
    return "\n".join(parts)


def _strategy_row(strategy: Strategy, outcome: PlanOutcome) -> list[str]:
    """What one strategy gives."""
    if not isinstance(outcome, Plan):
        return [strategy.value, "", "", "", "", "none"]
    return [
        strategy.value,
        str(outcome.n_nuts),
        turns_text(outcome.turns_in_all).rsplit(" ", 1)[0],
        str(len(outcome.stages)),
        percent_text(outcome.forecast.upper),
        f"{100 * outcome.forecast.chance_equal:.0f} %",
    ]


def exit_of_plan(outcome: PlanOutcome) -> ExitCode:
    """Done for a plan, directions or an equal set; 12 where no nut is to be turned."""
    if isinstance(outcome, InfeasiblePlan):
        return ExitCode.NO_FEASIBLE_PLAN
    if not isinstance(outcome, NoPlan) or outcome.kind is NoPlanKind.LEAVE_IT:
        return ExitCode.DONE
    if outcome.kind is NoPlanKind.NO_RESULT:
        return ExitCode.UNUSABLE_INPUT
    return ExitCode.NO_FEASIBLE_PLAN


def acceptance_text(acceptance: Acceptance, manner: Manner) -> str:
    """Write the form of a record, with the sketch of the runby where it is needed."""
    lines = _block_lines(acceptance_blocks(acceptance, manner))
    lines += ["", *(wrapped(manner.say(text)) for text in WHAT_THE_RESULT_IS)]
    figures = [figure for item in acceptance.items for figure in item.figures]
    if any(figure.kind is FigureKind.RUNBY for figure in figures):
        lines += ["", "  " + told("outcome_text.runby")]
    return "\n".join(lines)


def _block_lines(blocks: Sequence[Block]) -> list[str]:
    """The blocks of a form as plain lines."""
    lines: list[str] = []
    for block in blocks:
        match block:
            case Paragraph(text=text):
                lines.append(wrapped(visible(text)))
            case Bullets(items=items):
                lines += [wrapped(visible(item), "  - ", "    ") for item in items]
            case Grid(caption=caption, headers=headers, rows=rows):
                lines += ["", caption, *(_row(headers, row) for row in rows)]
            case _:
                pass
    return lines


def _row(headers: Sequence[str], row: Sequence[str]) -> str:
    """One row of a table as a heading and lines."""
    rest = [
        wrapped(visible(f"{header}: {part}".strip(": ")), "  ", "    ")
        for header, cell in zip(headers[2:], row[2:], strict=True)
        for part in cell.split("\n")
        if part not in {"", "–"}
    ]
    return "\n".join([wrapped(visible(f"{row[0]} {row[1]}"), "", "  "), *rest])
