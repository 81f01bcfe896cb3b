"""A visit by ear without microphone and terminal: made sound, scripted keys."""

from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

import numpy as np

from tension.workflow.live.events import Act, Event, Meter, Prompt, Told, What
from tension.workflow.live.listen import LiveVisit, prepare
from tension.workflow.live.takes import open_book
from tests.capture.made_source import Made, MadeSource, noise, pluck

RATE = 22_050
Kind = TypeVar("Kind")
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
    shown: list[Event] = field(default_factory=list)
    pressed: list[Act] = field(default_factory=list)

    def show(self, event: Event) -> None:
        if not isinstance(event, Meter):
            self.shown.append(event)

    def acts(self) -> tuple[Act, ...]:
        now, self.pressed = tuple(self.pressed), []
        return now

    @property
    def prompt(self) -> Prompt | None:
        """What is asked for now."""
        return next((e for e in reversed(self.shown) if isinstance(e, Prompt)), None)

    def all_of(self, kind: type[Kind]) -> list[Kind]:
        """Everything shown of one kind."""
        return [event for event in self.shown if isinstance(event, kind)]

    def ropes_of(self, *what: What) -> list[object]:
        """The ropes of which one of some things was told."""
        told = [one for one in self.all_of(Told) if one.what in what]
        return [one.places.get("rope") for one in told]


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
        prompt = desk.prompt
        assert prompt is not None
        rung = pluck(FUNDAMENTALS[prompt.rope], ring + rest, RATE)
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
