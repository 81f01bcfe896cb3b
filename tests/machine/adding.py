"""Records added to by random sequences of the adding command, in any order.

``python -m tests.machine.adding --sequences 500 --seed 1`` runs them, a pair at once.
"""

import argparse
import random
import tempfile
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from tension.adjustment.outcome import read_turns
from tension.files.record import Maker, read_visit
from tension.files.toml_text import Value
from tension.files.visit import Visit
from tension.installation import HitchPlace
from tension.measurement.readings import SpringReading
from tension.measurement.series import measure_series
from tension.quantity.units import Dimension, parse_quantity
from tension.workflow.adding import (
    add_to_record,
    exclusion,
    looked,
    run,
    table,
    turns,
)
from tension.workflow.adding_readings import (
    Sheet,
    free_lengths,
    readings,
    repeat_of_rope,
)
from tests.synthesis.made_results import length

N_ROPES = 4
SERIES = "as found"
RECORD = f"""format = 1
[lift]
name = "Granary Wharf, goods lift 2"
[set]
ropes = {N_ROPES}
diameter = "13 mm"
construction = "8x19 FC"
rope_length = "38 m"
[[span]]
name = "top"
[[hitch]]
at = "car"
thread = "M16"
spring_rate = "150 N/mm"
spring_free_length = "160 mm"
[[series]]
name = "{SERIES}"

# kept as it stands"""


@dataclass(frozen=True, kw_only=True)
class Added:
    """One addition, and a text that must stand in the record after it."""

    make: Maker
    mark: str


def draw_additions(draw: random.Random, folder: Path) -> list[Added]:
    """Additions that can be made in any order, each with a mark of its own."""
    added = [_lengths(draw), _turns(draw)]
    makers = (_spring, _pull, _returns, _recording, _exclusion, _answer, _finding)
    numbers = range(draw.randint(2, 7))
    added += [draw.choice(makers)(draw, number, folder) for number in numbers]
    return added


def _lengths(draw: random.Random) -> Added:
    texts = [f"{draw.randint(3000, 3999)} mm" for _ in range(N_ROPES)]
    sheet = {0: tuple(map(length, texts))}
    return Added(
        make=partial(free_lengths, sheet=sheet, span="top"),
        mark=texts[0],
    )


def _turns(draw: random.Random) -> Added:
    rope, quarters = draw.randint(1, N_ROPES), draw.randint(1, 12)
    text = f"{rope} {draw.choice(['in', 'out'])} {quarters}/4"
    made = read_turns(text)
    make = partial(turns, typed=made, series=SERIES, at=HitchPlace.CAR)
    return Added(make=make, mark=f"{quarters}/4")


def _readings(
    kind: str, what: str, sheet: Sheet, keys: Mapping[str, object], mark: str
) -> Added:
    make = partial(
        readings, kind=kind, what=what, sheet=sheet, keys=keys, series=SERIES
    )
    return Added(make=make, mark=mark)


def _spring(draw: random.Random, number: int, folder: Path) -> Added:
    del folder
    text = f"{draw.randint(120, 140)}.{number} mm"
    sheet = {draw.randint(1, N_ROPES): (length(text),)}
    return _readings("spring", "length", sheet, {"hitch": None}, text)


def _pull(draw: random.Random, number: int, folder: Path) -> Added:
    del folder
    text = f"{draw.randint(150, 180)}.{number} N"
    force = parse_quantity(text, Dimension.FORCE)
    sheet = {draw.randint(1, N_ROPES): (force,)}
    keys = {"deflection": "25 mm", "hold": "deflection"}
    return _readings("pull", "force", sheet, keys, text)


def _returns(draw: random.Random, number: int, folder: Path) -> Added:
    del folder
    text = f"0.{draw.randint(30, 40)}{number} s"
    elapsed = (parse_quantity(text, Dimension.TIME),)
    sheet = {draw.randint(1, N_ROPES): elapsed}
    return _readings("returns", "elapsed", sheet, {"count": 5}, text)


def _recording(draw: random.Random, number: int, folder: Path) -> Added:
    file = folder / f"New Recording {number}.wav"
    file.write_bytes(draw.randbytes(40))
    rope = draw.randint(1, N_ROPES)
    make = partial(repeat_of_rope, rope=rope, files=[file], series=SERIES)
    return Added(make=make, mark=file.name)


def _exclusion(draw: random.Random, number: int, folder: Path) -> Added:
    if number >= N_ROPES:
        return _finding(draw, number, folder)  # a rope is left out once
    reason = f"door slammed {number} {draw.random()}"
    rope = 1 + number
    make = partial(exclusion, what=str(rope), reason=reason, series=SERIES)
    return Added(make=make, mark=reason)


def _answer(draw: random.Random, number: int, folder: Path) -> Added:
    del folder
    answer = f"free of the guard {number} {draw.random()}"
    make = partial(looked, note="403", answer=answer, ropes=[1])
    return Added(make=make, mark=answer)


def _finding(draw: random.Random, number: int, folder: Path) -> Added:
    del folder
    place = f"{number} m above {draw.random()}"
    keys: dict[str, Value] = {
        "rope": draw.randint(1, N_ROPES),
        "kind": "rouge",
        "at": place,
        "seen": "yes",
    }
    found = table("finding", **keys)
    return Added(make=lambda _: [found], mark=place)


def add_all(record: Path, added: Sequence[Added], *, at_once: bool) -> None:
    """Add, one after the other or two at once; nothing of it is refused."""
    with ThreadPoolExecutor(2 if at_once else 1) as pool:
        list(pool.map(lambda one: add_to_record(record, one.make), added))


def check_sequence(seed: int, folder: Path) -> int:
    """Add in two orders, the second two at once: nothing lost, the same results."""
    draw = random.Random(seed)  # noqa: S311 - a test
    added = draw_additions(draw, folder)
    results = []
    for is_shuffled in (False, True):
        record = folder / "visit.toml"
        record.write_text(RECORD, encoding="utf-8")
        order = list(added)
        if is_shuffled:
            draw.shuffle(order)
        add_all(record, order, at_once=is_shuffled)
        add_to_record(record, partial(run, round_trips=3, series=SERIES))
        text = record.read_text(encoding="utf-8")
        assert text.startswith(RECORD)
        lost = [one.mark for one in added if one.mark not in text]
        assert not lost, f"seed {seed}: lost {lost}"
        results.append(_results(read_visit(record)))
    assert results[0] == results[1], f"seed {seed}: the order of addition shows"
    return len(added)


def _results(visit: Visit) -> object:
    """What the record says and gives, whatever the order of its lines."""
    (series,) = visit.series
    given = tuple(r for r in visit.readings if not isinstance(r, SpringReading))
    pulled = tuple(r for r in given if getattr(r, "recording", None) is None)
    measured = measure_series(
        rope_set=visit.rope_set,
        lift=visit.lift,
        series=series,
        readings=pulled,
        exclusions=visit.exclusions,
    )
    return (
        sorted(map(repr, visit.readings)),
        sorted(map(repr, visit.turns)),
        sorted(map(repr, visit.exclusions)),
        sorted(map(repr, visit.findings)),
        sorted(map(repr, visit.answers)),
        visit.rope_set,
        [rope.tension and f"{rope.tension.value:.9g}" for rope in measured.ropes],
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--sequences", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    n_added = 0
    for seed in range(given.seed, given.seed + given.sequences):
        with tempfile.TemporaryDirectory() as name:
            n_added += check_sequence(seed, Path(name))
    print(
        f"{given.sequences} sequences, seeds from {given.seed}, {n_added} additions, "
        "each in two orders, the second two at once: nothing lost, the same results"
    )


if __name__ == "__main__":
    main()
