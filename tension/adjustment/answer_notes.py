"""What an answer says, as notes for a reader."""

from tension.adjustment.answer import Answer, AnswerKind
from tension.adjustment.fit import Exchange, StiffnessFit
from tension.adjustment.state import RunState, SetState
from tension.notes import Note, NoteKind, Refusal

_PLAIN = {
    AnswerKind.NO_TURNS: NoteKind.NO_TURNS,
    AnswerKind.TOO_SMALL: NoteKind.NOTHING_LEARNED,
    AnswerKind.SIGNS_REVERSED: NoteKind.SIGNS_REVERSED,
}

_WITH_STIFFNESS = {
    AnswerKind.LIKE_STANDING: NoteKind.ANSWERS_AS_STANDING,
    AnswerKind.FAR_MORE: NoteKind.ANSWERS_FAR_OFF,
    AnswerKind.FAR_LESS: NoteKind.ANSWERS_FAR_OFF,
    AnswerKind.LEARNED_AGAINST_RECORD: NoteKind.RECORD_DISAGREES,
}

_STOPS = {
    AnswerKind.SIGNS_REVERSED,
    AnswerKind.EXCHANGED,
    AnswerKind.LIKE_STANDING,
    AnswerKind.FAR_MORE,
    AnswerKind.FAR_LESS,
}


def notes_on_answer(
    answer: Answer, state: SetState, fit: StiffnessFit | None
) -> list[Note]:
    """Tell what an answer says."""
    notes = list(notes_on_state(state))
    main = _main_note(answer)
    if main is not None:
        notes.append(main)
    return [*notes, *_standing_out_notes(fit)] if fit is not None else notes


def notes_on_state(state: SetState) -> tuple[Note, ...]:
    """Tell that a set has not come to rest."""
    return tuple(each.as_note() for each in reasons_of_state(state))


def reasons_of_state(state: SetState) -> tuple[Refusal, ...]:
    """Tell why a set must run before anything is planned from it."""
    if state.is_at_rest:
        return ()
    kind = {
        RunState.NOT_RUN: NoteKind.CAR_NOT_RUN,
        RunState.TOO_FEW: NoteKind.CAR_RUN_TOO_LITTLE,
        RunState.NOT_RECORDED: NoteKind.RUN_NOT_RECORDED,
    }[state.state]
    first = kind.refusal(
        trips=state.wanted,
        run=state.round_trips,
        points=f"{100 * min(state.still_to_come, 1.0):.1f}",
    )
    if state.is_beyond_people:
        return first, NoteKind.MANY_TRIPS.refusal(trips=state.wanted)
    return (first,)


def doubts_of_answer(answer: Answer) -> tuple[Refusal, ...]:
    """Tell what of an answer must be settled before the next nut is turned."""
    note = _main_note(answer)
    if note is None or answer.kind not in _STOPS:
        return ()
    return (note.as_refusal(),)


def _main_note(answer: Answer) -> Note | None:
    """The note on what an answer says, if it needs one."""
    if answer.kind in _PLAIN:
        return _PLAIN[answer.kind].note()
    if answer.kind is AnswerKind.EXCHANGED and answer.exchanged is not None:
        return NoteKind.TURNS_EXCHANGED.note(what=_in_words(answer.exchanged))
    if answer.kind not in _WITH_STIFFNESS:
        return None
    found, told, standing = (
        f"{(value or 0.0) / 1000:.3g} N/mm"
        for value in (answer.found, answer.expected, answer.standing)
    )
    return _WITH_STIFFNESS[answer.kind].note(
        found=found, expected=told, standing=standing
    )


def _standing_out_notes(fit: StiffnessFit) -> list[Note]:
    """Name the ropes that answered far less or far more than the others."""
    notes = []
    for places, kind in (
        (fit.low, NoteKind.TURN_BOUND),
        (fit.high, NoteKind.TURN_STRONG),
    ):
        for place in places:
            ratio = fit.ratios[place]
            if ratio is not None:
                notes.append(
                    kind.note(
                        ropes=(place + 1,), rope=place + 1, ratio=round(100 * ratio)
                    )
                )
    return notes


def _in_words(exchange: Exchange) -> str:
    """Tell an exchange of ropes."""
    moved = [i + 1 for i, place in enumerate(exchange.places) if place != i]
    what = "turns" if exchange.is_of_turns else "readings as left"
    if len(moved) == 2:
        return f"the {what} of ropes {moved[0]} and {moved[1]} are exchanged"
    pairs = ", ".join(
        f"{place + 1} for {i + 1}" for i, place in enumerate(exchange.places)
    )
    return f"the {what} belong to other numbers ({pairs})"
