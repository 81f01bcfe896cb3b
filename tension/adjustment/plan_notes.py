"""What a reader of a plan must know, as notes."""

from tension.adjustment.choose import Choice
from tension.adjustment.doubts import notes_to_tell
from tension.adjustment.origins import is_car_side
from tension.adjustment.outcome import NutTurn, Plan
from tension.adjustment.plan_basis import PlanBasis
from tension.adjustment.run_in import MOST_TRIPS
from tension.adjustment.state import ANSWERABLE
from tension.assessment.outcome import Verdict
from tension.installation import Drive, Side
from tension.notes import Note, NoteKind, Refusal
from tension.wording import percent_text

_SEEN = 0.001
"""Differences of a bound that are worth a word. [1]"""


def notes_of_plan(
    basis: PlanBasis,
    plan: Plan,
    choice: Choice,
    *,
    is_whole: bool,
    asked: tuple[NutTurn, ...],
) -> tuple[Note, ...]:
    """Tell what a reader of the plan must know, the most pressing first.

    Parameters
    ----------
    basis : PlanBasis
        What the plan was computed from.
    plan : Plan
        The plan.
    choice : Choice
        What more or fewer nuts would bring.
    is_whole : bool
        Whether the stages lead all the way.
    asked : tuple of NutTurn
        Nuts that want more than is safe before the thread left is told.
    """
    notes: list[Note] = []
    most = max((stage.round_trips for stage in plan.stages), default=0)
    if most > MOST_TRIPS:
        notes.append(NoteKind.MANY_TRIPS.note(trips=most))
    if not is_whole:
        notes.append(NoteKind.FIRST_STAGE_ONLY.note())
    notes.extend(ask_for_thread(turn).as_note(turn.rope) for turn in asked)
    notes.extend(
        NoteKind.LOOKED.note(ropes=looked.ropes, words=looked.words)
        for looked in basis.request.looked
        if looked.code in ANSWERABLE
    )
    notes.extend(notes_to_tell(basis.assessment))
    if basis.assessment.verdict is Verdict.CANNOT_TELL:
        again = basis.assessment.measure_again or (1,)
        notes.append(
            NoteKind.MAYBE_EQUAL.note(again="rope " + ", ".join(map(str, again[:3])))
        )
    notes.extend(_on_reach(basis, plan))
    notes.extend(_on_nuts(plan, choice) if is_whole else ())
    if len(plan.stages) > 1:
        notes.append(NoteKind.STAGED.note(stages=len(plan.stages)))
    notes.extend(basis.limits.notes)
    notes.extend(_side_notes(basis, plan))
    return tuple(notes)


def ask_for_thread(turn: NutTurn) -> Refusal:
    """Ask for the thread left at a rod whose nut wants to go far."""
    return NoteKind.THREAD_ASKED.refusal(
        rope=turn.rope,
        way="take_up_left" if turn.travel > 0 else "ease_left",
        wanted=f"{abs(1000 * turn.travel):.0f} mm",
    )


def _on_reach(basis: PlanBasis, plan: Plan) -> list[Note]:
    """Whether the goal is named and reached."""
    notes = []
    goal = percent_text(plan.goal)
    if basis.assessment.rule.goal is None:
        notes.append(NoteKind.GOAL_BY_PROGRAM.note(goal=goal))
    if plan.part < 1.0:
        notes.append(NoteKind.FIRST_PART.note(part=100 * plan.part))
    elif plan.forecast.upper > plan.goal:
        upper = percent_text(plan.forecast.upper)
        notes.append(NoteKind.NOT_REACHED.note(upper=upper, goal=goal))
    return notes


def _on_nuts(plan: Plan, choice: Choice) -> list[Note]:
    """Why so many nuts and no more."""
    notes = []
    upper = percent_text(choice.upper)
    if choice.upper_with_fewer is not None and plan.n_nuts:
        fewer = percent_text(choice.upper_with_fewer)
        notes.append(NoteKind.NUT_WORTH.note(nuts=plan.n_nuts, upper=upper, more=fewer))
    gain = choice.upper - choice.upper_with_all
    if choice.n_with_all > plan.n_nuts and gain > _SEEN:
        notes.append(
            NoteKind.MORE_NUTS.note(
                nuts=choice.n_with_all,
                upper=upper,
                less=percent_text(choice.upper_with_all),
            )
        )
    return notes


def _side_notes(basis: PlanBasis, plan: Plan) -> list[Note]:
    """Which side was measured, and which not."""
    span = basis.assessment.measurement.span
    if span is None or basis.request.drive is not Drive.TRACTION:
        return []
    measured_car = span.side is Side.CAR
    notes = []
    if is_car_side(basis.hitch.at) is not measured_car:
        trips = plan.stages[-1].round_trips
        notes.append(NoteKind.FAR_FROM_NUTS.note(side=span.side.value, trips=trips))
    other = Side.COUNTERWEIGHT if measured_car else Side.CAR
    return [*notes, NoteKind.OTHER_SIDE.note(side=other.value)]
