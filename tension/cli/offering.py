"""New sound files of a folder, offered one by one or as a round."""

import click

from tension.cli.adding import Place, run_add
from tension.cli.asking import BackError, EndedError, ask, ask_yes, is_terminal
from tension.errors import InvalidValueError
from tension.files.record import read_visit
from tension.files.visit import Visit
from tension.workflow.adding_recordings import repeat_of_rope, round_of_ropes
from tension.workflow.inputs import find_record
from tension.workflow.record_files import unnamed_files
from tension.workflow.standing import next_of_visit


def offer_new_files(place: Place) -> None:
    """Offer the new sound files of the folder, one by one or as a round.

    Raises
    ------
    click.UsageError
        If nobody can be asked.
    """
    record = find_record(place.path)
    visit = read_visit(record)
    new = unnamed_files(visit)
    if not new:
        click.echo("No new sound file. What can be added: tension add --help")
        return
    if not is_terminal():
        shown = ", ".join(new[:6])
        raise click.UsageError(f"New: {shown}. Say what they are: tension add --help")
    n_ropes = visit.rope_set.n_ropes
    folder = record.parent
    try:
        if len(new) == n_ropes and ask_yes(
            f'{len(new)} new sound files: one more round of "{visit.series[-1].name}"',
            skipped=False,
        ):
            run_add(place, round_of_ropes([folder / name for name in new]))
            return
        likely = _likely_ropes(place, visit)
        for name in new:
            rope = _rope_asked(name, n_ropes, likely)
            if rope:
                run_add(place, repeat_of_rope(rope, [folder / name]))
    except (BackError, EndedError):
        click.echo("No more was added.", err=True)


def _likely_ropes(place: Place, visit: Visit) -> list[int]:
    """Ropes that a new recording is likely of: missing, or to be measured again."""
    from tension.cli.assessing import tell_progress
    from tension.workflow.assess import assess_record

    missing = next_of_visit(visit).ropes
    if missing:
        return list(missing)
    assessed = assess_record(place.path, progress=tell_progress)
    return list(assessed.assessment.measure_again)


def _rope_asked(name: str, n_ropes: int, likely: list[int]) -> int:
    """Ask which rope a file is of; nought for none."""
    first = likely.pop(0) if likely else 0

    def read(line: str) -> int:
        plain = line.lower().removeprefix("rope").strip()
        if plain in {"y", "yes"} and first:
            return first
        if plain in {"n", "no", "0"}:
            return 0
        if plain.isdigit() and 1 <= int(plain) <= n_ropes:
            return int(plain)
        raise InvalidValueError(f"answer with a rope, 1 to {n_ropes}, or n for none")

    guess = f"rope {first} again? (Y, n or a rope)" if first else "which rope? (or n)"
    return ask(f"New {name}: {guess}", read, first)
