"""A rope from another reel has a mass of its own."""

from dataclasses import replace

import numpy as np
import pytest

from tension.installation import Lift, Rope, Uncertainties
from tension.measurement.readings import ReturnsReading
from tension.measurement.series import measure_series
from tension.quantity.units import Dimension
from tests.measurement.sets import (
    DENSITY,
    SERIES,
    TENSIONS,
    hearing,
    ideal_fundamentals,
    pull,
    quantity,
    rope_set,
)

LEVEL = np.full(4, 3.4)
HEAVIER = 1.1
ROPES = rope_set(one_height=True)
OTHER = replace(
    ROPES,
    ropes=tuple(
        Rope(
            number=n,
            linear_density=quantity(HEAVIER * DENSITY, Dimension.LINEAR_DENSITY)
            if n == 3
            else None,
        )
        for n in range(1, 5)
    ),
)
PITCHES = ideal_fundamentals(TENSIONS, LEVEL) / np.sqrt([1.0, 1.0, HEAVIER, 1.0])


def tensions(ropes: object = OTHER, **more: object) -> list[float]:
    """Tension of each rope."""
    found = measure_series(
        rope_set=ropes,  # type: ignore[arg-type]
        lift=Lift(),
        series=SERIES,
        **({"readings": []} | more),  # type: ignore[arg-type]
    )
    return [rope.tension.value for rope in found.ropes if rope.tension]


def test_its_tension_goes_with_its_own_mass() -> None:
    plain = tensions(ROPES, hearing=hearing(PITCHES))
    own = tensions(hearing=hearing(PITCHES))
    assert np.array(own) / plain == pytest.approx([1.0, 1.0, HEAVIER, 1.0], rel=1e-9)
    truth = TENSIONS / TENSIONS.mean()
    # own weight of 3.4 m and bending differ a little between rope and rope
    assert np.array(own) / np.mean(own) == pytest.approx(truth, rel=2e-3)


def test_waves_weigh_it_likewise() -> None:
    waves = [
        ReturnsReading(
            series=SERIES.name,
            rope=n,
            count=20,
            elapsed=(quantity(20.0 / pitch * 60.0 / 3.4, Dimension.TIME),),
        )
        for n, pitch in enumerate(PITCHES, start=1)
    ]
    long = rope_set(one_height=True, length=60.0)  # by a stopwatch only long falls
    plain = tensions(long, readings=waves)
    own = tensions(replace(long, ropes=OTHER.ropes), readings=waves)
    assert np.array(own) / plain == pytest.approx([1.0, 1.0, HEAVIER, 1.0], rel=1e-9)


def test_a_side_pull_knows_no_mass() -> None:
    pulls = [pull(n, [147.0, 148.0]) for n in (1, 2, 3, 4)]
    assert tensions(readings=pulls) == tensions(ROPES, readings=pulls)


def test_what_is_not_known_of_two_masses_does_not_cancel() -> None:
    exact = replace(OTHER, uncertainties=Uncertainties(linear_density=0.0))
    for ropes, expected in ((OTHER, 0.05 * np.sqrt(2.0)), (exact, 0.0)):
        found = measure_series(
            rope_set=ropes,
            lift=Lift(),
            series=SERIES,
            readings=[],
            hearing=hearing(PITCHES),
        )
        of_mass = [
            source.relative
            for rope in found.ropes
            if rope.tension
            for source in rope.tension.sources
            if source.name == "mass of this rope"
        ]
        assert of_mass == pytest.approx([expected], abs=1e-12)
