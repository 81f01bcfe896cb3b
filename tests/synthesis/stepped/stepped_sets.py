"""Sets of ropes with known tension whose sound is stepped through time.

    synthetic = draw_stepped_set(RegimeName.PHONE, seed)              # -> SynthSet
    synthetic = draw_stepped_set(RegimeName.PHONE, seed, rods=True)   # on long rods

A second generator beside draw_set, with the same outside and another inside: finite
differences in place of finite elements, time steps in place of sums of modes; tension
that follows the stretch, so that pitch glides and planes exchange energy; ropes that
hear each other through the plate; air and internal friction in place of a drawn ratio
per mode; hands that take a ringing rope and pluck it again. Truth comes from the
eigenvalues of the discrete scheme at rest tension, so it is exact for what is stepped.
Seeds as in sets.py.
"""

import numpy as np
from numpy.typing import NDArray

from tests.synthesis.plucking import Pluck, Sensor
from tests.synthesis.regimes import REGIMES, Range, Regime, RegimeName
from tests.synthesis.ropes import RopeSpec, solid_rod_rigidity
from tests.synthesis.sets import (
    Recorder,
    RopeTruth,
    SynthRecording,
    SynthSet,
    draw_damping,
    draw_plucks,
    draw_recorder,
    draw_specs,
    log_within,
    within,
)
from tests.synthesis.stepped.grid import (
    STEP,
    Hitch,
    PlaneOfRope,
    Plate,
    common_cells,
    loss_through,
    true_frequencies,
)
from tests.synthesis.stepped.hands import Grip, Touch
from tests.synthesis.stepped.sounding import Listener, Session, make_recording
from tests.synthesis.stepped.stepping import Hoist

Array = NDArray[np.float64]
Generator = np.random.Generator

HIGHEST_TOLD = 800.0  # [Hz]
PLACE: Range = (0.08, 0.48)
FIRST_PLUCK: Range = (0.02, 3.0)  # [s]
GAP: Range = (0.6, 4.0)  # [s]
INSIDE_SHARE = 0.15  # of recordings begin while the rope rings
LONGEST = 12.0  # [s]


def _stiff_hitches(
    rng: Generator, diameter: float, specs: tuple[RopeSpec, ...]
) -> tuple[Hitch, ...]:
    """Short rods that lower a fundamental by 0.001 to 0.01 %, or a little more.

    No stiffer than the step can follow without making the socket heavier by half.
    """
    mass = log_within(rng, (0.5, 3.0)) * (diameter / 0.013) ** 2
    free = float(rng.uniform(0.03, 0.08))
    share = log_within(rng, (1e-5, 1e-4))
    return tuple(
        Hitch(
            rod_free=free,
            stiffness=min(
                spec.middle_tension / (share * spec.free_length), mass / STEP**2
            ),
            socket_mass=mass,
        )
        for spec in specs
    )


def _long_hitches(
    rng: Generator, diameter: float, specs: tuple[RopeSpec, ...]
) -> tuple[Hitch, ...]:
    """Rods that swing, of one free length per row: a pendulum held by its bending."""
    rows = [round(float(rng.uniform(0.05, 0.45)), 3) for _ in range(2)]
    mass = log_within(rng, (0.5, 3.0)) * (diameter / 0.013) ** 2
    bending = 3.0 * solid_rod_rigidity(diameter * float(rng.uniform(1.0, 1.5)))
    plate = log_within(rng, (3e3, 1e5))
    hitches = []
    for i, spec in enumerate(specs):
        free = rows[i % 2]
        torsion = 1.0 / (free / bending + 1.0 / plate)
        pendulum = spec.hitch_tension / free
        hitches.append(
            Hitch(
                rod_free=free, stiffness=pendulum + torsion / free**2, socket_mass=mass
            )
        )
    return tuple(hitches)


def draw_hoist(
    rng: Generator, regime: Regime, *, rods: bool = False
) -> tuple[float, tuple[RopeSpec, ...], Hoist]:
    """Diameter, ropes and the set on its plate, ready to be stepped."""
    n_ropes = int(rng.choice(regime.n_ropes))
    spread = within(rng, (0.0, 0.03)) if rods else None
    diameter, specs = draw_specs(rng, n_ropes, regime.free_length, spread)
    hitches = (_long_hitches if rods else _stiff_hitches)(rng, diameter, specs)
    fundamentals = [
        np.sqrt(spec.middle_tension / spec.linear_density) / (2.0 * spec.free_length)
        for spec in specs
    ]
    drawn = draw_damping(rng)
    loss = loss_through(
        (float(np.mean(fundamentals)), drawn.at_zero), (400.0, drawn.at_400)
    )
    cells = common_cells(specs)
    splits = [within(rng, regime.split) * float(rng.choice([-1.0, 1.0])) for _ in specs]
    planes = tuple(
        PlaneOfRope(spec=spec, hitch=hitch, cells=cells, length=length, loss=loss)
        for spec, hitch, split in zip(specs, hitches, splits, strict=True)
        for length in (spec.free_length, spec.free_length / (1.0 + split))
    )
    push = float(np.mean([spec.middle_tension / spec.free_length for spec in specs]))
    fall = 27.2e9 * diameter**2 / float(np.mean([spec.free_length for spec in specs]))
    axial = 1.0 / (1.0 / fall + 1.0 / log_within(rng, (50e3, 250e3)))
    plate = Plate(
        stiffness=push / log_within(rng, (2e-5, 1e-4)),
        mass=log_within(rng, (2.0, 10.0)),
    )
    hoist = Hoist(planes=planes, plate=plate, axial_stiffness=np.full(n_ropes, axial))
    return diameter, specs, hoist


def draw_moments(rng: Generator, regime: Regime) -> tuple[list[float], float]:
    """Releases and duration: free habits, an end that may cut the last ring."""
    first = log_within(rng, FIRST_PLUCK)
    if rng.random() < INSIDE_SHARE:
        first = -float(rng.uniform(0.1, 1.5))
    most = 3 if max(regime.n_plucks) < 3 else 5
    onsets = [first]
    for _ in range(int(rng.integers(0, most))):
        onsets.append(onsets[-1] + log_within(rng, GAP))
    onsets = [onset for onset in onsets if onset < LONGEST - 1.0]
    tail = log_within(rng, (0.4, 4.0))
    duration = max(within(rng, regime.duration), onsets[-1] + tail)
    duration = min(duration, LONGEST)
    return [round(onset, 4) for onset in onsets], round(duration, 1)


def _draw_grip(rng: Generator) -> Grip:
    """A hand that takes a ringing rope."""
    damping, pull = float(rng.uniform(0.03, 0.1)), float(rng.uniform(0.06, 0.2))
    return Grip(
        lasts=damping + pull + float(rng.uniform(0.03, 0.15)),
        damping=damping,
        pull=pull,
    )


def _draw_touches(
    rng: Generator, plucks: tuple[Pluck, ...], direction: float
) -> tuple[Touch, ...]:
    """Hands of one person: much the same direction every time."""
    return tuple(
        Touch(
            pluck=pluck,
            direction=direction * float(rng.uniform(0.8, 1.25)),
            grip=_draw_grip(rng),
        )
        for pluck in plucks
    )


def _draw_troubles(rng: Generator, regime: Regime) -> tuple[str, ...]:
    """Names of the disturbances of one recording."""
    shares = {
        "speech": regime.speech_share,
        "knock": regime.knock_share,
        "slam": regime.slam_share,
        "handling": regime.handling_share,
        "fan": regime.fan_share,
    }
    return tuple(name for name, share in shares.items() if rng.random() < share)


def draw_directions(rng: Generator) -> tuple[float, float]:
    """Of the pull and of the sensor, from the stronger plane. [rad]

    The weaker plane is heard at tan(pull) tan(sensor), up to 0.8, of the stronger.
    """
    pull = np.arctan(rng.uniform(0.05, 0.8)) * float(rng.choice([-1.0, 1.0]))
    return float(pull), float(np.arctan(rng.uniform(0.2, 1.0)))


def record_rope(
    rng: Generator,
    hoist: Hoist,
    rope: int,
    regime: Regime,
    recorder: Recorder,
    directions: tuple[float, float],
) -> SynthRecording:
    """Pluck one rope of a set before a recorder."""
    onsets, duration = draw_moments(rng, regime)
    spec = hoist.planes[2 * rope].spec
    plucks = draw_plucks(rng, spec, onsets, PLACE)
    session = Session(
        hoist=hoist,
        rope=rope,
        touches=_draw_touches(rng, plucks, directions[0]),
        duration=duration,
        listener=Listener(
            sensor=Sensor(regime.sensor),
            place=within(rng, regime.place),
            reach=0.12,
            direction=directions[1],
        ),
        signal_to_noise=within(rng, regime.signal_to_noise),
        hum_level=within(rng, regime.hum_level),
        neighbour_level=within(rng, regime.neighbour_level),
        troubles=_draw_troubles(rng, regime),
    )
    return SynthRecording(
        samples=make_recording(rng, session, recorder),
        sampling_rate=recorder.rate,
        ropes=(rope + 1,),
        plucks_each=len(onsets),
        onsets=tuple(onsets),
        signal_to_noise=session.signal_to_noise,
        hum_level=session.hum_level,
        neighbour_level=session.neighbour_level,
        troubles=session.troubles,
    )


def frequencies_of(hoist: Hoist, column: int) -> Array:
    """True frequencies of one rope in one plane, the others carried along. [Hz]"""
    stiffness, inertia = hoist.others(column)
    return true_frequencies(hoist.planes[column], stiffness, inertia, HIGHEST_TOLD)


def tell_truths(
    hoist: Hoist, directions: list[tuple[float, float]], *, rods: bool
) -> tuple[RopeTruth, ...]:
    """What is true of each rope; the first plane is the stronger."""
    specs = [plane.spec for plane in hoist.planes[::2]]
    mean = float(np.mean([spec.hitch_tension for spec in specs]))
    truths = []
    for i, (spec, (pull, sensor)) in enumerate(zip(specs, directions, strict=True)):
        strong, weak = (frequencies_of(hoist, 2 * i + p) for p in range(2))
        truths.append(
            RopeTruth(
                number=i + 1,
                free_length=spec.free_length,
                hitch_tension=spec.hitch_tension,
                middle_tension=spec.middle_tension,
                share=spec.hitch_tension / mean,
                fundamental_frequency=float(strong[0]),
                frequencies=strong,
                split=float(weak[0] / strong[0]) - 1.0,
                weak_level=abs(float(np.tan(pull) * np.tan(sensor))),
                rod_free=hoist.planes[2 * i].hitch.rod_free if rods else None,
            )
        )
    return tuple(truths)


def draw_stepped_set(
    regime: RegimeName | str, seed: int, *, rods: bool = False
) -> SynthSet:
    """Draw one set of one regime; the same regime and seed give the same set.

    With rods, an equal set (spread under 3 %) whose two rows hang on rods of different
    free length.
    """
    name = RegimeName(regime)
    table = REGIMES[name]
    rng = np.random.default_rng([seed, 20 + list(RegimeName).index(name), int(rods)])
    diameter, specs, hoist = draw_hoist(rng, table, rods=rods)
    directions = [draw_directions(rng) for _ in specs]
    recorder = draw_recorder(rng, table)
    return SynthSet(
        name=f"stepped {name.value}" + (" on rods" if rods else ""),
        seed=seed,
        diameter=diameter,
        linear_density=specs[0].linear_density,
        flexural_rigidity=specs[0].flexural_rigidity,
        ropes=tell_truths(hoist, directions, rods=rods),
        recordings=tuple(
            record_rope(rng, hoist, i, table, recorder, directions[i])
            for i in range(len(specs))
        ),
        low_cut=recorder.low_cut,
    )
