"""A visit by ear on made sound: recordings, record, keys, losses, breaks."""

from collections.abc import Callable, Iterator
from concurrent.futures import Future
from itertools import islice
from pathlib import Path

import numpy as np
import pytest

from tension.capture import LossKind
from tension.errors import CaptureError, FileFormatError
from tension.files.record import read_visit
from tension.files.sound import read_recording
from tension.files.wav import GrowingWav
from tension.measurement.readings import PluckReading
from tension.workflow.live import listen, takes
from tension.workflow.live.events import Act, Answer, NotCounted, What
from tension.workflow.live.takes import hear_window
from tests.capture.made_source import Made, noise
from tests.workflow.live_desk import (
    RATE,
    AtOnce,
    Choice,
    Desk,
    plucks_on_demand,
    visit,
    write_record,
)
from tests.workflow.quick_ear import use_quick_ear

ONCE = Choice(is_back=False)
ANSWERS = {What.HEARD, What.NOT_HEARD}
PAUSES = {What.PAUSED, What.GOING_ON, What.DOZING, What.AWAKE}


@pytest.fixture(autouse=True)
def _quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    """The way of a visit is tested here; the ear has its own tests."""
    use_quick_ear(monkeypatch)


def _run(
    record: Path, script: Iterator[Made], desk: Desk, choice: Choice = ONCE
) -> None:
    made = visit(record, script, desk, choice)
    made.assess = lambda *_, **__: _Assessed(record)  # type: ignore[assignment]
    made.run()


class _Assessed:
    """Stands for a result that asks for nothing more."""

    def __init__(self, record: Path) -> None:
        self.visit = read_visit(record)
        self.assessment = self
        self.measure_again: tuple[int, ...] = ()


def _pressing(
    desk: Desk, script: Iterator[Made], keys: dict[int, Act]
) -> Iterator[Made]:
    """Press keys after so many stretches."""
    for k, stretch in enumerate(script):
        if k in keys:
            desk.pressed.append(keys[k])
        yield stretch


def _readings(record: Path) -> list[tuple[int, str]]:
    return [
        (reading.ropes[0], reading.recording)
        for reading in read_visit(record).readings
        if isinstance(reading, PluckReading)
    ]


def _exclusions(record: Path) -> list[tuple[str, int | None, str]]:
    return [(e.recording, e.pluck, e.reason) for e in read_visit(record).exclusions]


def test_ropes_are_heard_there_and_back_into_the_record(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    _run(record, plucks_on_demand(desk), desk, Choice())
    assert _readings(record) == [
        (1, "as-found/rope-1.wav"),
        (2, "as-found/rope-2.wav"),
        (2, "as-found/rope-2-2.wav"),
        (1, "as-found/rope-1-2.wav"),
    ]
    assert _exclusions(record) == []
    assert [one["order"] for one in desk.places_of(What.BEGAN)] == ["1 2"]
    assert desk.ropes_of(What.DONE) == [1, 2, 2, 1]
    assert len(desk.places_of(What.HEARD)) == 12
    assert desk.places_of(What.NOT_HEARD) == []
    for _, name in _readings(record):
        assert read_recording(record.parent / name).refusal is None


def test_what_the_record_said_before_stays_as_it_was(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    before = record.read_bytes()
    _run(record, plucks_on_demand(desk), desk)
    assert record.read_bytes().startswith(before)


@pytest.mark.slow
def test_the_hitch_gives_the_order_unless_it_is_told(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v", n_ropes=4), Desk()
    with record.open("a") as file:
        file.write('\n[[hitch]]\nat = "car"\nrows = [[1, 3], [2, 4]]\n')
    _run(record, plucks_on_demand(desk), desk)
    assert desk.ropes_of(What.DONE) == [1, 3, 2, 4]
    other, desk = write_record(tmp_path / "w", n_ropes=4), Desk()
    _run(other, plucks_on_demand(desk), desk, Choice(order=(4, 2), is_back=False))
    assert desk.ropes_of(What.DONE) == [4, 2]


@pytest.mark.slow
def test_a_series_that_is_not_there_is_begun_like_the_last(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    _run(record, plucks_on_demand(desk), desk, Choice(series="as left"))
    series = read_visit(record).series
    assert [(one.name, one.span) for one in series] == [
        ("as found", "top, car side"),
        ("as left", "top, car side"),
    ]
    assert _readings(record)[0] == (1, "as-left/rope-1.wav")


def test_a_rope_not_heard_well_again_and_again_is_left_for_the_way_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    faint = Answer(rope=1, reason="Too faint.")
    monkeypatch.setattr(
        takes,
        "hear_window",
        lambda recording, onset, span, prior: (
            faint if span.number == 1 else hear_window(recording, onset, span, prior)
        ),
    )
    _run(record, plucks_on_demand(desk), desk, Choice(plucks=1, is_back=False))
    assert desk.ropes_of(What.LEFT_BY_ITSELF) == [1]
    assert desk.ropes_of(What.NOT_HEARD) == 3 * [1]
    assert [rope for rope, _ in _readings(record)] == [1, 2]


def test_a_sound_that_is_no_pluck_counts_for_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    sounds = iter(9 * [Answer(rope=1, reason=NotCounted.NO_PLUCK)])
    monkeypatch.setattr(
        takes,
        "hear_window",
        lambda *given: next(sounds, None) or hear_window(*given),
    )
    _run(record, plucks_on_demand(desk), desk, Choice(plucks=1, is_back=False))
    assert desk.ropes_of(What.LEFT_BY_ITSELF) == []
    assert desk.ropes_of(What.DONE) == [1, 2]


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    (record.parent / "as-found").write_text("mine")
    with pytest.raises(FileFormatError, match="as-found: cannot be made"):
        _run(record, plucks_on_demand(desk), desk)


def test_a_series_may_be_named_in_any_case(tmp_path: Path) -> None:
    record = write_record(tmp_path / "v")
    visit(record, iter(()), Desk(), Choice(series="As Found"))
    assert [one.name for one in read_visit(record).series] == ["as found"]


def test_undo_leaves_the_pluck_out_and_keeps_its_sound(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    # stretches of 0.1 s: the first pluck begins at 2 s; its answer is there at 6.5 s
    script = _pressing(desk, plucks_on_demand(desk), {50: Act.UNDO})
    _run(record, script, desk)
    assert desk.ropes_of(What.TAKEN_BACK, What.NOTHING_TAKEN_BACK) == [1]
    names = [name for rope, name in _readings(record) if rope == 1]
    assert names == ["as-found/rope-1.wav", "as-found/rope-1-2.wav"]
    assert _exclusions(record) == [(names[0], None, "taken back while measuring")]
    assert desk.ropes_of(What.HEARD).count(1) == 4


def test_undo_while_it_rings_leaves_that_pluck_out(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    script = _pressing(desk, plucks_on_demand(desk), {80: Act.UNDO})
    _run(record, script, desk)
    assert _exclusions(record) == [
        ("as-found/rope-1.wav", 2, "taken back while measuring")
    ]


def test_undo_while_it_is_heard_leaves_that_pluck_out_and_waits_for_nothing(
    tmp_path: Path,
) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    script = islice(plucks_on_demand(desk), 1000)
    made = visit(record, _pressing(desk, script, {70: Act.UNDO}), desk)
    made.assess = lambda *_, **__: _Assessed(record)  # type: ignore[assignment]
    made.book.worker = HearsTheFirstForEver()
    made.run()
    assert desk.ropes_of(What.TAKEN_BACK) == [1]
    assert _exclusions(record) == [
        ("as-found/rope-1.wav", None, "taken back while measuring")
    ]


class HearsTheFirstForEver(AtOnce):
    """A worker that never answers what is heard first."""

    n_heard = 0

    def submit(  # type: ignore[override]
        self, act: Callable[..., object], /, *given: object
    ) -> Future[object]:
        self.n_heard += act is hear_window
        is_first = act is hear_window and self.n_heard == 1
        return Future() if is_first else super().submit(act, *given)


def test_undo_reaches_back_to_the_rope_before(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()

    def pressing() -> Iterator[Made]:
        is_pressed = False
        for stretch in plucks_on_demand(desk):
            if desk.ropes_of(What.DONE) and not is_pressed:
                desk.pressed.append(Act.UNDO)
                is_pressed = True
            yield stretch

    _run(record, pressing(), desk)
    assert _exclusions(record) == [
        ("as-found/rope-1.wav", 3, "taken back while measuring")
    ]
    assert desk.ropes_of(What.DONE) == [1, 1, 2]


def test_undo_with_nothing_says_so(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    _run(record, _pressing(desk, plucks_on_demand(desk), {2: Act.UNDO}), desk)
    assert desk.ropes_of(What.TAKEN_BACK, What.NOTHING_TAKEN_BACK) == [None]
    assert _exclusions(record) == []


def test_repeat_begins_the_rope_anew(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    _run(record, _pressing(desk, plucks_on_demand(desk), {130: Act.REPEAT}), desk)
    assert _exclusions(record) == [
        ("as-found/rope-1.wav", None, "the rope was begun anew")
    ]
    assert _readings(record)[1] == (1, "as-found/rope-1-2.wav")


def test_repeat_leaves_out_what_was_not_heard_well_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    monkeypatch.setattr(
        takes,
        "hear_window",
        lambda recording, onset, span, prior: (
            hear_window(recording, onset, span, prior)
            if desk.places_of(What.NOT_HEARD)
            else Answer(rope=span.number, reason="Two ropes ring.")
        ),
    )
    _run(record, _pressing(desk, plucks_on_demand(desk), {100: Act.REPEAT}), desk)
    assert desk.places_of(What.NOT_HEARD)[0]["reason"] == "Two ropes ring."
    assert _exclusions(record) == [
        ("as-found/rope-1.wav", None, "the rope was begun anew")
    ]


def test_skip_goes_on_to_the_next_rope(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    _run(record, _pressing(desk, plucks_on_demand(desk), {5: Act.SKIP}), desk)
    assert desk.ropes_of(What.LEFT) == [1]
    assert desk.ropes_of(What.LEFT_BY_ITSELF) == []
    # it had just begun to ring: kept, and left out
    assert _exclusions(record) == [
        ("as-found/rope-1.wav", None, "taken back while measuring")
    ]
    assert [rope for rope, _ in _readings(record)] == [1, 2]


def test_nothing_is_recorded_while_paused(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    keys = {66: Act.PAUSE, 366: Act.PAUSE}
    _run(record, _pressing(desk, plucks_on_demand(desk), keys), desk)
    told = [what for what, _ in desk.told]
    assert [one for one in told if one in PAUSES] == [What.PAUSED, What.GOING_ON]
    seconds = sum(
        (record.parent / name).stat().st_size / 3 / RATE
        for rope, name in _readings(record)
        if rope == 1
    )
    assert seconds < 35.0  # of some 50 s


def test_the_end_key_gives_the_result_of_what_is_there(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    _run(record, _pressing(desk, plucks_on_demand(desk), {140: Act.END}), desk)
    assert desk.again == [()]
    assert [rope for rope, _ in _readings(record)] == [1]


@pytest.mark.slow
def test_a_long_wait_is_not_recorded_and_a_sound_ends_it(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()

    def waiting() -> Iterator[Made]:
        second = noise(1.0, RATE)
        for _ in range(300):
            yield second
        yield from plucks_on_demand(desk)

    _run(record, waiting(), desk)
    told = [what for what, _ in desk.told]
    assert [one for one in told if one in PAUSES] == [What.DOZING, What.AWAKE]
    sizes = [p.stat().st_size / 3 / RATE for p in record.parent.rglob("*.wav")]
    assert max(sizes) < listen.PATIENCE
    assert len(_readings(record)) == 2


def _with_hole(
    script: Iterator[Made], change: Callable[[int, Made], Made]
) -> Iterator[Made]:
    for k, stretch in enumerate(script):
        yield change(k, stretch)


def test_zeros_in_a_ring_take_it_back(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()

    def hole(k: int, stretch: Made) -> Made:
        return np.zeros_like(stretch) if k in {30, 31} else stretch

    _run(record, _with_hole(plucks_on_demand(desk), hole), desk)
    (lost,) = desk.places_of(What.LOST)
    assert lost["seconds"] == pytest.approx(0.2, abs=0.01)
    assert lost["kind"] is LossKind.ZEROS
    what, first = next(one for one in desk.told if one[0] in ANSWERS)
    assert (what, first["reason"]) == (What.NOT_HEARD, NotCounted.INPUT_LOST)
    # what begins anew after the hole is left out with it
    assert {why for _, _, why in _exclusions(record)} == {"input was lost in it"}


def test_a_loss_told_late_takes_back_a_pluck_that_counted(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    made = visit(record, plucks_on_demand(desk), desk, ONCE)
    made.assess = lambda *_, **__: _Assessed(record)  # type: ignore[assignment]
    take = made.source.take
    jumps: list[float] = []

    def jump(patience: float) -> object:
        # 0.5 s of the ring never came: the clock shows it up to two seconds later
        if made.source.clock > 105.0 and not jumps:  # type: ignore[attr-defined]
            jumps.append(0.5)
            made.source.clock += jumps[0]  # type: ignore[attr-defined]
        return take(patience)

    made.source.take = jump  # type: ignore[method-assign,assignment]
    made.run()
    reasons = [one["reason"] for one in desk.places_of(What.NOT_HEARD)]
    assert reasons == [NotCounted.INPUT_LOST]
    assert [why for _, _, why in _exclusions(record)] == ["input was lost in it"]


def test_an_input_of_zeros_is_told_once(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()

    def silent() -> Iterator[Made]:
        for _ in range(20):
            yield np.zeros(RATE)

    with pytest.raises(CaptureError):
        _run(record, silent(), desk)
    assert len(desk.ropes_of(What.SILENT)) == 1


def test_a_device_that_goes_keeps_what_was_heard(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()

    def breaking() -> Iterator[Made]:
        for k, stretch in enumerate(plucks_on_demand(desk)):
            if k == 110:
                return
            yield stretch

    with pytest.raises(CaptureError, match="at its end"):
        _run(record, breaking(), desk)
    assert _readings(record) == [(1, "as-found/rope-1.wav")]
    again = Desk()
    _run(record, plucks_on_demand(again), again)
    assert (again.asked[0].rope, again.asked[0].n_done) == (1, 2)
    assert [rope for rope, _ in _readings(record)] == [1, 1, 2]


def test_a_file_left_behind_is_taken_up(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    _run(record, plucks_on_demand(desk), desk)
    text = record.read_text()
    record.write_text(text[: text.rindex("[[reading]]")])  # as after a kill
    again = Desk()
    _run(record, plucks_on_demand(again), again)
    (taken,) = again.places_of(What.TAKEN_UP)
    assert (taken["rope"], taken["n_plucks"]) == (2, 3)
    assert again.asked == []
    assert [rope for rope, _ in _readings(record)] == [1, 2]


def test_two_at_once_do_not_take_each_others_files(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    made = visit(record, plucks_on_demand(desk), desk, ONCE)
    taken = made.book.open_take(1, RATE)
    with pytest.raises(FileFormatError, match="another command is writing"):
        visit(record, plucks_on_demand(Desk()), Desk(), ONCE)
    taken.close()


def test_a_full_disk_ends_it_and_keeps_the_rest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record, desk = write_record(tmp_path / "v"), Desk()
    append = GrowingWav.append

    def fill(self: GrowingWav, samples: np.ndarray) -> None:
        size = self.path.stat().st_size
        if self.path.name == "rope-2.wav" and size > 10 * 3 * RATE:
            raise FileFormatError(f"{self.path}: no space left on device")
        append(self, samples)

    monkeypatch.setattr(GrowingWav, "append", fill)
    with pytest.raises(FileFormatError, match="no space left"):
        _run(record, plucks_on_demand(desk), desk)
    assert [rope for rope, _ in _readings(record)] == [1, 2]


def test_a_sealed_record_is_refused_before_anything_is_heard(tmp_path: Path) -> None:
    from tension.files.evidence import seal_path

    record = write_record(tmp_path / "v")
    seal_path(record).write_text("")
    with pytest.raises(FileFormatError, match="sealed"):
        visit(record, plucks_on_demand(Desk()), Desk(), ONCE)


@pytest.mark.slow
def test_ropes_are_asked_for_again_until_it_is_decided(tmp_path: Path) -> None:
    record, desk = write_record(tmp_path / "v"), Desk(has_keys=True)
    made = visit(record, plucks_on_demand(desk), desk, ONCE)
    wanted = [(2,), ()]

    def assess(*_: object, **__: object) -> _Assessed:
        result = _Assessed(record)
        result.measure_again = wanted.pop(0)
        return result

    made.assess = assess  # type: ignore[assignment]
    made.run()
    assert desk.again == [(2,), ()]
    assert [rope for rope, _ in _readings(record)] == [1, 2, 2]


def test_a_side_pull_that_is_left_out_leaves_the_plucks_of_its_rope(
    tmp_path: Path,
) -> None:
    record = write_record(tmp_path / "v")
    reading = '[[reading]]\nseries = "as found"\n'
    record.write_text(
        record.read_text(encoding="utf-8")
        + f'{reading}kind = "pluck"\nrecording = "all.wav"\nropes = [1, 2]\n'
        + f'{reading}kind = "pull"\nrope = 1\nforce = "150 N"\ndeflection = "25 mm"\n'
        + '[[exclusion]]\nseries = "as found"\nrope = 1\nreason = "slipped"\n'
        + 'reading = "pull 150 N at 25 mm"\n',
        encoding="utf-8",
    )
    made = visit(record, iter(()), Desk(), ONCE)
    assert made.book.count_plucks(read_visit(record)) == {1: 3, 2: 3}
    assert (made.session.n_good(1), made.session.n_good(2)) == (3, 3)
