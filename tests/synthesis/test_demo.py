"""The demo shipped is the demo told of: its files, its truth, its statics."""

import hashlib
import tomllib
from pathlib import Path

import numpy as np
import pytest

from tests.synthesis import demo_lift as lift
from tests.synthesis.make_demo import readme
from tests.synthesis.ropes import GRAVITY

DEMO = Path(__file__).resolve().parents[2] / "recordings_demo"


def test_the_readme_is_what_the_maker_writes() -> None:
    assert (DEMO / "README.md").read_text(encoding="utf-8") == readme(DEMO)


def test_every_file_has_its_hash_in_the_readme() -> None:
    text = (DEMO / "README.md").read_text(encoding="utf-8")
    files = [path for path in DEMO.rglob("*.*") if path.name != "README.md"]
    assert len(files) == 23
    for path in files:
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        assert f"{digest}  {path.relative_to(DEMO).as_posix()}" in text


def test_every_recording_of_a_record_is_there() -> None:
    for record in DEMO.glob("*/visit.toml"):
        readings = tomllib.loads(record.read_text(encoding="utf-8"))["reading"]
        for reading in readings:
            if "recording" in reading:
                assert (record.parent / reading["recording"]).is_file()


@pytest.mark.parametrize("ropes", [lift.as_found(), lift.as_left()])
def test_the_tensions_carry_the_car(ropes: lift.DemoRopes) -> None:
    assert ropes.tensions.sum() == pytest.approx(1840.0 * GRAVITY, rel=1e-9)


def test_turns_move_tension_through_both_springs_and_the_rope() -> None:
    # springs alone and rope alone in series: 2/146e3 + 38/4.4e6 m/N = 2.2335e-5
    change = lift.as_left().tensions - lift.as_found().tensions
    # rope 2: 4.5 turns of 2 mm less the mean of -0.25/6 turns
    expected = (4.5 + 0.25 / 6.0) * 2.0e-3 / 2.2335e-5
    assert change[1] == pytest.approx(expected, rel=1e-4)


def test_the_set_is_unequal_by_one_slack_and_one_tight_rope() -> None:
    shares = lift.as_found().tensions / lift.as_found().tensions.mean()
    assert np.argmin(shares) == 1
    assert np.argmax(shares) == 4
    assert np.all(np.abs(np.delete(shares, [1, 4]) - 1.0) < 0.02)


def test_the_demo_is_small() -> None:
    size = sum(path.stat().st_size for path in DEMO.rglob("*") if path.is_file())
    assert size < 1.25e6
