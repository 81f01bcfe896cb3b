"""A visit by ear without microphone and terminal: made sound, scripted keys."""

from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from tension.capture import Hum
from tension.workflow.assess import Assessed
from tension.workflow.live.events import Act, Session, What
from tension.workflow.live.listen import LiveVisit, prepare
from tension.workflow.live.takes import open_book
from tests.capture.made_source import Made, MadeSource, noise, pluck

RATE = 22_050
RECORD = """format = 1

[lift]
drive = "traction"
roping = "1:1"

[rule]
use = "gb50310-2002-4.9.5"

[set]
ropes = {n_ropes}
diameter = "13 mm"
linear_density = "0.575 kg/m"
sockets = "one height"

[[span]]
name = "top, car side"
side = "car"
free_length = "3.40 m"
ends = "socket-sheave"

[[series]]
name = "as found"
span = "top, car side"
"""


def write_record(folder: Path, n_ropes: int = 2) -> Path:
    """A record with a series and no readings."""
    folder.mkdir(exist_ok=True)
    record = folder / "visit.toml"
    record.write_text(RECORD.format(n_ropes=n_ropes), encoding="utf-8")
    return record


class AtOnce(Executor):
    """A worker that has done everything when it is asked."""

    def submit(  # type: ignore[override]
        self, act: Callable[..., object], /, *given: object
    ) -> Future[object]:
        done: Future[object] = Future()
        try:
            done.set_result(act(*given))
        except BaseException as error:  # noqa: BLE001 - as a worker hands it on
            done.set_exception(error)
        return done


@dataclass(kw_only=True)
class Desk:
    """Shows nothing, remembers everything, and presses the keys of a script."""

    has_keys: bool = False
    told: list[tuple[What, dict[str, Any]]] = field(default_factory=list)
    asked: list[Session] = field(default_factory=list)
    again: list[tuple[int, ...]] = field(default_factory=list)
    pressed: list[Act] = field(default_factory=list)

    def acts(self) -> tuple[Act, ...]:
        now, self.pressed = tuple(self.pressed), []
        return now

    def tell(self, what: What, **places: object) -> None:
        self.told.append((what, places))

    def ask(self, session: Session, *, is_new: bool) -> None:
        del is_new
        self.asked.append(session)

    def meter(self, peak: float, hum: Hum | None, *, is_ringing: bool) -> None:
        pass

    def result(self, assessed: Assessed, again: tuple[int, ...]) -> None:
        del assessed
        self.again.append(again)

    @property
    def rope(self) -> int:
        """Which rope is asked for now."""
        rope = self.asked[-1].rope
        assert rope is not None
        return rope

    def places_of(self, *what: What) -> list[dict[str, Any]]:
        """What stood in the lines of which one of some things was told."""
        return [places for one, places in self.told if one in what]

    def ropes_of(self, *what: What) -> list[object]:
        """The ropes of which one of some things was told."""
        return [places.get("rope") for places in self.places_of(*what)]


FUNDAMENTALS = {1: 10.9, 2: 10.4, 3: 11.3, 4: 10.7}
PART = 0.1


def plucks_on_demand(
    desk: Desk, *, ring: float = 4.0, rest: float = 2.0, seed: int = 3
) -> Iterator[Made]:
    """Pluck the rope that is asked for, again and again, in a quiet room."""
    n = 0
    yield noise(2.0, RATE, seed=seed)
    while True:
        n += 1
        rung = pluck(FUNDAMENTALS[desk.rope], ring + rest, RATE)
        rung += noise(ring + rest, RATE, seed=seed + n)[: rung.size]
        yield from np.array_split(rung, round((ring + rest) / PART))


@dataclass(frozen=True, kw_only=True)
class Choice:
    """What a person says of a visit by ear."""

    series: str | None = None
    order: tuple[int, ...] = ()
    plucks: int = 3
    is_back: bool = True


def visit(
    record: Path, script: Iterator[Made], desk: Desk, choice: Choice | None = None
) -> LiveVisit:
    """A visit on made sound."""
    chosen = choice or Choice()
    return prepare(
        open_book(record, AtOnce(), chosen.series, chosen.order),
        plucks=chosen.plucks,
        is_back=chosen.is_back,
        source=MadeSource(script=script, sampling_rate=RATE),
        surface=desk,
    )
