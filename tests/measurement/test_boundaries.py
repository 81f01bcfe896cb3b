"""Where a figure turns what is said of a set: just inside and just outside of it."""

from dataclasses import replace
from math import exp, hypot, log, sqrt

import numpy as np
import pytest
from scipy.stats import linregress, norm, t

from tension.catalogue.ropes import find_axial_rigidity
from tension.installation import Buffer, Hitch, HitchPlace, Lift, Rope, RopeSet, Side
from tension.measurement import stiffness
from tension.measurement.combine import Premise, SetMeasurement, TensionHypothesis
from tension.measurement.readings import (
    Hold,
    PullReading,
    Reading,
    ReturnsReading,
    SpringReading,
)
from tension.measurement.repeats import (
    agree,
    coverage_widening,
    settle_readings,
    uncertainty_of_means,
)
from tension.measurement.rope_figures import (
    LengthKnowledge,
    RigidityRange,
    axial_rigidity_of,
)
from tension.measurement.series import (
    _fits_rounds,
    _fitted,
    _notes_on_plausibility,
    measure_series,
)
from tension.measurement.stiffness import find_spring_rate, find_stretch_cases
from tension.notes import Note, NoteKind
from tension.quantity.units import Dimension
from tests.measurement.sets import (
    GRAVITY,
    SERIES,
    find_rope_figures,
    hearing,
    ideal_fundamentals,
    measured,
    pull,
    quantity,
    rigidity_from_partials,
    rope_set,
    span,
    spring_hitch,
)
from tests.noted import codes
from tests.synthesis import measured_sets


def said(
    found: SetMeasurement, *, lift: Lift | None = None, ropes: RopeSet | None = None
) -> dict[str, Note]:
    """What is said of a measurement, by code."""
    every = _notes_on_plausibility(
        found,
        side=Side.CAR,
        rope_set=ropes or rope_set(len(found.ropes)),
        lift=lift or Lift(),
        readings=(),
        hearing=None,
    )
    return {note.code: note for note in every}


def taken(
    tensions: list[float] | np.ndarray,
    lengths: LengthKnowledge = LengthKnowledge.ONE_HEIGHT,
    free_lengths: list[float] | None = None,
    relative: float = 1e-6,
) -> SetMeasurement:
    """Tensions as measured, without a span."""
    found = measured_sets.measured(tensions, relative=relative, lengths=lengths)
    return replace(found, free_lengths=tuple(free_lengths or [3.4] * len(tensions)))


# the set shares 5 % of its linear density, beside the 15 % of data plates
@pytest.mark.parametrize(
    ("ratio", "code"),
    [
        (1.199, None),
        (1.201, "mass-ratio"),
        (0.801, None),
        (0.799, "mass-ratio"),
        (2.0 * 1.119, "mass-ratio-named"),
        (4.0 * 1.121, "mass-ratio"),
        (2.0 * 0.881, "mass-ratio-named"),
        (2.0 * 0.879, "mass-ratio"),
        (4.0 * 0.881, "mass-ratio-named"),
        (0.25 * 1.119, "mass-ratio-named"),
        (0.25 * 1.125, "mass-ratio"),
    ],
)
def test_a_sum_is_held_against_the_mass(ratio: float, code: str | None) -> None:
    mass = 4 * 5000.0 / GRAVITY / ratio
    lift = Lift(car_mass=quantity(mass, Dimension.MASS))
    notes = said(taken([5000.0] * 4), lift=lift)
    assert list(notes) == ([] if code is None else [code])
    if code is not None:
        assert f"{ratio:.2f} times" in notes[code].text
        assert "20 kN" in notes[code].text


def test_no_mass_is_held_against_no_sum() -> None:
    for mass in (None, 0.0):
        given = None if mass is None else quantity(mass, Dimension.MASS)
        assert said(taken([5000.0] * 4), lift=Lift(car_mass=given)) == {}
    shares = replace(taken([5000.0] * 4), is_absolute=False)
    lift = Lift(car_mass=quantity(100.0, Dimension.MASS))
    assert said(shares, lift=lift) == {}


def test_a_slope_and_its_width_are_those_of_a_regression() -> None:
    rng = np.random.default_rng(12)
    for n in (3, 4, 7):
        by = rng.normal(0, 1, n)
        logs = 8.5 + 0.05 * by + rng.normal(0, 0.02, n)
        slope, width = _fitted(taken(np.exp(logs)), by)
        wanted = linregress(by, logs)
        assert slope == pytest.approx(wanted.slope, rel=1e-9)
        assert width == pytest.approx(wanted.stderr, rel=1e-9)
        # readings that are no better than this are so by luck
        wide = taken(np.exp(logs), relative=0.5)
        spread = float(((by - by.mean()) ** 2).sum())
        assert _fitted(wide, by)[1] == pytest.approx(0.5 / sqrt(spread), rel=1e-9)


def rows_apart(by: float, noise: float = 1e-4, n: int = 4) -> SetMeasurement:
    """Odd ropes tighter than even ones, by a difference of logarithms."""
    away = np.array([by / 2 * (-1) ** i + noise * (-1) ** (i // 2) for i in range(n)])
    return taken(5000.0 * np.exp(away))


@pytest.mark.parametrize(
    ("by", "is_told"),
    [
        (0.0299, False),
        (0.0301, True),
        (-0.0301, True),
        # a stagger of 0.3 m on 3.4 m makes twice the logarithm of 3.4/3.1
        (2 * log(3.4 / 3.1) - 1e-3, True),
        (2 * log(3.4 / 3.1) + 1e-3, False),
    ],
)
def test_rows_of_sockets_are_told_from_three_per_cent_on(
    by: float,
    is_told: bool,  # noqa: FBT001
) -> None:
    notes = said(rows_apart(by))
    assert list(notes) == (["stagger-pattern"] if is_told else [])
    if is_told:
        note = notes["stagger-pattern"]
        assert note.ropes == ((1, 3) if by > 0 else (2, 4))
        assert f"{100 * abs(by):.0f} %" in note.text


@pytest.mark.parametrize("n", [4, 5, 6, 8])
def test_rows_must_stand_out_by_students_t(n: int) -> None:
    # two-sided 97 % where that is more than 3; the width is by what is left
    wanted = {2: 5.64, 3: 3.90, 4: 3.30}.get(n - 2, 3.0)
    assert wanted == pytest.approx(max(3.0, t.ppf(0.985, n - 2)), rel=0.01)
    for times, is_told in ((0.99, False), (1.01, True)):
        noise = 0.02
        _, width = _fitted(rows_apart(0.0, noise, n), np.arange(n) % 2 == 0.0)
        slope, _ = _fitted(rows_apart(0.0, noise, n), np.arange(n) % 2 == 0.0)
        found = rows_apart(times * wanted * width - slope, noise, n)
        assert ("stagger-pattern" in said(found)) is is_told


def test_a_row_is_of_two_ropes_at_least() -> None:
    assert said(taken([5300.0, 5000.0, 5001.0])) == {}
    rows = replace(spring_hitch(), rows=((1,), (2, 3, 4)))
    one = rope_set(4, hitches=(rows,))
    assert said(taken([5300.0, 5000.0, 5000.0, 5000.0]), ropes=one) == {}


def follows(slope: float, ratio: float, n: int = 4) -> SetMeasurement:
    """Tensions that go with a power of the lengths, which differ by a ratio."""
    lengths = 3.4 * np.exp(np.linspace(0, log(ratio), n))
    noise = 1e-5 * (-1.0) ** np.arange(n)
    tensions = 5000.0 * lengths**slope * np.exp(noise)
    return taken(tensions, LengthKnowledge.PER_ROPE, list(lengths))


@pytest.mark.parametrize(
    ("slope", "ratio", "is_told"),
    [
        (2.0, exp(0.0149), False),  # 3 % is explained or nothing is said
        (2.0, exp(0.0151), True),
        (-2.0, exp(0.0151), True),
        (0.99, 1.1, False),
        (1.01, 1.1, True),
        (5.4, 1.1, True),
        (5.6, 1.1, False),
    ],
)
def test_tensions_that_go_with_the_lengths_are_told(
    slope: float,
    ratio: float,
    is_told: bool,  # noqa: FBT001
) -> None:
    notes = said(follows(slope, ratio))
    assert list(notes) == (["length-pattern"] if is_told else [])
    if is_told:
        told = 100 * abs(slope) * log(ratio)
        assert f"{told:.0f} %" in notes["length-pattern"].text


def test_lengths_say_nothing_of_three_ropes_nor_where_they_are_alike() -> None:
    assert said(follows(2.0, 1.1, 3)) == {}
    assert said(follows(2.0, 1.0)) == {}
    lost = follows(2.0, 1.1)
    assert (
        said(replace(lost, free_lengths=(float("nan"), *lost.free_lengths[1:]))) == {}
    )
    # and must stand out three widths from what is left
    rng = np.random.default_rng(3)
    loose = follows(2.0, 1.02, 8)
    tensions = loose.hypotheses[0].tensions * np.exp(rng.normal(0, 0.03, 8))
    hypothesis = TensionHypothesis(weight=1.0, tensions=tensions)
    assert said(replace(loose, hypotheses=(hypothesis,))) == {}


def forces(*pairs: tuple[float, float]) -> list[Reading]:
    """Two rounds of pulls of every rope, as forces over 147 N."""
    return [pull(i + 1, [147.0 * a, 147.0 * b]) for i, (a, b) in enumerate(pairs)]


def of_rounds(readings: list[Reading], n: int = 4) -> dict[str, Note]:
    """What is said of rounds."""
    found = _notes_on_plausibility(
        taken([5000.0] * n),
        side=Side.CAR,
        rope_set=rope_set(n),
        lift=Lift(),
        readings=readings,
        hearing=None,
    )
    return {note.code: note for note in found}


@pytest.mark.parametrize(
    ("moves", "is_told"),
    [
        ([0.0199] * 3, False),
        ([0.0201] * 3, True),
        ([-0.0201] * 3, True),
        ([0.0201] * 2, False),  # of two ropes nothing is said
        ([0.03, 0.06, 0.03, 0.06], True),  # 4.5 % by 0.87 % three times
        ([0.0, 0.09, 0.0, 0.09], False),  # by 2.6 % three times
        # three times the width of the mean, sqrt(4/3) d/2: 4.5 % and d = 2.598 %
        ([0.045 - 0.0259, 0.045 + 0.0259] * 2, True),
        ([0.045 - 0.0261, 0.045 + 0.0261] * 2, False),
    ],
)
def test_ropes_that_move_alike_between_rounds_are_told(
    moves: list[float],
    is_told: bool,  # noqa: FBT001
) -> None:
    found = of_rounds(forces(*[(1.0, exp(move)) for move in moves]), len(moves))
    assert ("moved-together" in found) is is_told
    if is_told:
        assert f"{100 * np.mean(moves):+.1f} %" in found["moved-together"].text


def test_each_kind_that_moved_between_rounds_is_told() -> None:
    timed = [returns(n, [6.0, 6.0 * exp(-0.02)]) for n in (1, 2, 3)]
    found = _notes_on_plausibility(
        taken([5000.0] * 3),
        side=Side.CAR,
        rope_set=rope_set(3),
        lift=Lift(),
        readings=[*forces(*[(1.0, exp(0.03))] * 3), *timed],
        hearing=None,
    )
    assert [dict(note.places)["method"] for note in found] == ["pull", "returns"]


@pytest.mark.parametrize(
    ("one", "other", "is_told"),
    [
        ((1.0, 1.031), (1.031, 1.0), True),
        ((1.0, 1.030), (1.030, 1.0), False),  # 2.96 % is within a round
        ((1.0, 1.06), (1.06 * exp(0.0149), 1.0), True),
        ((1.0, 1.06), (1.06 * exp(0.0151), 1.0), False),
        ((1.0, 1.06), (1.06, exp(-0.0151)), False),
        ((1.0, 1.06), (1.0, 1.06), False),
    ],
)
def test_ropes_changed_over_are_told_by_both_rounds(
    one: tuple[float, float],
    other: tuple[float, float],
    is_told: bool,  # noqa: FBT001
) -> None:
    found = of_rounds(forces((1.0, 1.0), one, other, (1.0, 1.0)))
    assert ("swapped-ropes" in found) is is_told
    if is_told:
        assert found["swapped-ropes"].ropes == (2, 3)
    # a third that moved leaves open who was where
    three = of_rounds(forces((1.0, 1.05), one, other, (1.0, 1.0)))
    assert "swapped-ropes" not in three


@pytest.mark.parametrize(
    ("within", "between", "fits"),
    [(0.0079, 0.0401, True), (0.0081, 0.05, False), (0.001, 0.0399, False)],
)
def test_rounds_are_files_that_agree_of_ropes_that_do_not(
    within: float,
    between: float,
    fits: bool,  # noqa: FBT001
) -> None:
    means = np.array([0.0, between / 2, between])
    logs = np.concatenate([means - within / 2, means + within / 2])
    assert _fits_rounds(logs, np.array([0, 1, 2, 0, 1, 2])) is fits


@pytest.mark.parametrize(
    ("apart", "uncertainty", "agrees"),
    [
        (0.0199, 1e-4, True),  # 2 % anyway
        (0.02, 1e-4, True),
        (0.0201, 1e-4, False),
        (0.0424, 0.01, True),  # three times 1 % and 1 %
        (0.0425, 0.01, False),
        (-0.0424, 0.01, True),
    ],
)
def test_readings_agree_within_three_deviations_or_two_per_cent(
    apart: float,
    uncertainty: float,
    agrees: bool,  # noqa: FBT001
) -> None:
    assert agree(0.0, apart, uncertainty, uncertainty) is agrees


def test_a_rope_that_scatters_just_nine_times_as_much_is_pooled() -> None:
    # squares of 18 declared variances, by two degrees; five more are declared
    wide = 0.125
    found = uncertainty_of_means([[-3 * wide, 0.0, 3 * wide], [0.0]], [wide] * 2)
    by_hand = wide * sqrt(23 / 7 / 3) * coverage_widening(7.0)
    assert found[0] == pytest.approx(by_hand)


def test_readings_apart_are_told_by_how_much() -> None:
    settled = settle_readings(2, [0.0, log(2.0)], [0.001, 0.001], ["one", "other"])
    assert settled.refusal is not None
    assert "100 %" in settled.refusal.text
    two_of_three = settle_readings(2, [0.0, 0.001, 0.2], [0.001] * 3, ["a", "b", "c"])
    assert two_of_three.used == (0, 1)
    assert two_of_three.notes
    half = settle_readings(2, [0.0, 0.001, 0.2, 0.201], [0.001] * 4, list("abcd"))
    assert half.used == ()


def test_the_widening_is_the_series_of_students_t_to_the_third_order() -> None:
    def left(n: float) -> float:
        exact = float(t.ppf(0.975, n) / norm.ppf(0.975))
        return (coverage_widening(n) - exact) * n**3

    # what is left falls with the fourth power: its third order is nothing
    assert 2 * left(200.0) - left(100.0) == pytest.approx(0.0, abs=3e-3)


def test_means_of_repeats_pool_their_scatter_with_what_is_declared() -> None:
    logs = [[0.00, 0.02], [0.01, 0.01, 0.04], [0.0]]
    declared = [0.01, 0.02, 0.03]
    squares = [0.02**2 / 2 / 0.01**2, (0.01**2 + 0.01**2 + 0.02**2) / 0.02**2, 0.0]
    freedom = 1 + 2 + 0
    variance = (5.0 + sum(squares)) / (5.0 + freedom)
    widening = coverage_widening(5.0 + freedom)
    wanted = [
        u * sqrt(variance / n) * widening
        for u, n in zip(declared, (2, 3, 1), strict=True)
    ]
    assert uncertainty_of_means(logs, declared) == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize(("scatter", "is_alone"), [(2.99, False), (3.01, True)])
def test_a_rope_of_nine_times_the_variance_stands_alone(
    scatter: float,
    is_alone: bool,  # noqa: FBT001
) -> None:
    # the others show what is declared exactly: 5 of 5 and 1 of 1
    usual, wide = 0.01 * sqrt(2), 0.01 * scatter * sqrt(2)
    found = uncertainty_of_means([[0.0, usual], [0.0, wide]], [0.01, 0.01])
    alone = 0.01 * scatter / sqrt(2) * coverage_widening(3.0)
    assert bool(found[1] == pytest.approx(alone, rel=1e-9)) is is_alone
    assert bool(found[0] == pytest.approx(found[1], rel=1e-9)) is not is_alone


@pytest.mark.parametrize(("length", "has_newtons"), [(1.5, True), (1.499, False)])
def test_newtons_are_told_from_a_metre_and_a_half_on(
    length: float,
    has_newtons: bool,  # noqa: FBT001
) -> None:
    fundamentals = ideal_fundamentals(np.full(3, 5000.0), np.full(3, length))
    found = measured_from(fundamentals, length)
    assert found.is_absolute is has_newtons
    assert ("too-short-for-newtons" in codes(found)) is not has_newtons
    timed = measured(
        rope_set(2, length=length, one_height=True),
        [returns(n, [8.0], 100) for n in (1, 2)],
    )
    assert not timed.given or timed.is_absolute is has_newtons


def measured_from(fundamentals: np.ndarray, length: float) -> SetMeasurement:
    """A set measured by its plucks alone."""
    return measure_series(
        rope_set=rope_set(len(fundamentals), length=length, one_height=True),
        lift=Lift(),
        series=SERIES,
        readings=[],
        hearing=hearing(fundamentals),
    )


def returns(rope: int, elapsed: list[float], count: int = 5) -> ReturnsReading:
    return ReturnsReading(
        series="as found",
        rope=rope,
        count=count,
        elapsed=tuple(quantity(e, Dimension.TIME) for e in elapsed),
    )


@pytest.mark.parametrize(
    ("relative", "n", "is_refused"),
    [
        (0.0999, 1, False),  # a tenth of the tension by one
        (0.1001, 1, True),
        (0.1999, 4, False),  # a fifth of it by each of four
        (0.2001, 4, True),
        (0.1999, 3, True),
    ],
)
def test_a_stopwatch_must_tell_a_tenth(
    relative: float,
    n: int,
    is_refused: bool,  # noqa: FBT001
) -> None:
    ropes = rope_set(2, length=60.0, one_height=True)
    elapsed = 2 * ropes.uncertainties.stopwatch / relative
    # as many returns as 5000 N and 60 m would make in that time
    speed = sqrt(5000.0 / 0.58)
    readings = [returns(i, [elapsed] * n, 1) for i in (1, 2)]
    fitting = replace(ropes, spans=(span(speed * elapsed / 2),))
    found = measured(fitting, readings)
    told = [r.refusal.code for r in found.ropes if r.refusal]
    assert told == (["too-short-for-stopwatch"] * 2 if is_refused else [])
    if is_refused:
        refusal = found.ropes[0].refusal
        assert refusal is not None
        assert f"{100 * relative:.0f} %" in refusal.text


@pytest.mark.parametrize(
    ("elapsed", "count"), [([0.0], 5), ([6.0, -1.0], 5), ([6.0], 0)]
)
def test_times_and_counts_are_above_nothing(elapsed: list[float], count: int) -> None:
    ropes = rope_set(1, length=60.0, one_height=True)
    found = measured(ropes, [returns(1, elapsed, count)])
    assert [r.refusal.code for r in found.ropes if r.refusal] == [
        "returns-not-positive"
    ]


@pytest.mark.parametrize(
    ("force", "deflection"), [(0.0, 0.025), (147.0, 0.0), (-1.0, 0.025)]
)
def test_a_pull_of_nothing_is_refused(force: float, deflection: float) -> None:
    found = measured(rope_set(1, one_height=True), [pull(1, [force], [deflection])])
    assert [r.refusal.code for r in found.ropes if r.refusal] == ["pull-not-positive"]


@pytest.mark.parametrize(
    ("at", "is_refused"), [(0.0, True), (3.4, True), (3.39, False)]
)
def test_a_pull_lies_between_the_ends(at: float, is_refused: bool) -> None:  # noqa: FBT001
    found = measured(rope_set(1, one_height=True), [pull(1, [147.0], at=at)])
    assert ("pull-outside" in [r.refusal.code for r in found.ropes if r.refusal]) is (
        is_refused
    )


@pytest.mark.parametrize(("deflection", "is_told"), [(0.034, False), (0.03449, True)])
def test_a_pull_wider_than_a_hundredth_of_the_length_is_told(
    deflection: float,
    is_told: bool,  # noqa: FBT001
) -> None:
    ropes = rope_set(1, one_height=True, hitches=(spring_hitch(),))
    found = measured(ropes, [pull(1, [250.0], [deflection])])
    wide = [n for n in found.notes if n.code == "wide-pull"]
    wide += [n for n in found.ropes[0].notes if n.code == "wide-pull"]
    assert bool(wide) is is_told
    if is_told:
        assert wide[0].text.count("34 mm") == 2


@pytest.mark.parametrize(
    ("hold", "n_forces", "n_deflections", "repeated", "names"),
    [
        (Hold.DEFLECTION, 2, 1, "forces", ["1 N at 10 mm", "2 N at 10 mm"]),
        (Hold.FORCE, 1, 2, "deflections", ["of 1 N at 10 mm", "of 1 N at 20 mm"]),
        (Hold.FORCE, 2, 1, "forces", ["1 N at 10 mm", "2 N at 10 mm"]),
        (Hold.DEFLECTION, 2, 3, "forces", ["1 N", "2 N"]),
        (Hold.FORCE, 3, 2, "deflections", ["at 10 mm", "at 20 mm"]),
        (Hold.FORCE, 2, 2, "forces deflections", ["1 N at 10 mm", "2 N at 20 mm"]),
    ],
)
def test_a_pull_is_named_by_what_was_repeated(
    hold: Hold,
    n_forces: int,
    n_deflections: int,
    repeated: str,
    names: list[str],
) -> None:
    reading = PullReading(
        series="as found",
        rope=1,
        forces=tuple(
            replace(quantity(i + 1.0, Dimension.FORCE), text=f"{i + 1} N")
            for i in range(n_forces)
        ),
        deflections=tuple(
            replace(quantity((i + 1) / 100), text=f"{10 * (i + 1)} mm")
            for i in range(n_deflections)
        ),
        hold=hold,
    )
    assert reading.repeated == tuple(repeated.split())
    assert list(reading.names) == [f"pull {name}" for name in names]
    force = [1.0, 2.0, 3.0][:n_forces]
    aside = [0.01, 0.02, 0.03][:n_deflections]
    if "forces" not in repeated:
        force = [sum(force) / len(force)] * n_deflections
    if "deflections" not in repeated:
        aside = [sum(aside) / len(aside)] * n_forces
    assert np.array(reading.pairs) == pytest.approx(np.array([force, aside]).T)


def test_a_stagger_as_long_as_the_rope_is_without_bound() -> None:
    found = taken([5000.0] * 3, free_lengths=[3.4, 0.5, float("nan")])
    assert found.effect_of_stagger(0.1) == pytest.approx(2 * log(0.5 / 0.4))
    assert found.effect_of_stagger(0.5) == float("inf")
    assert np.isfinite(found.effect_of_stagger(0.4999))
    assert taken([1.0], free_lengths=[float("nan")]).effect_of_stagger(0.1) == float(
        "inf"
    )


def test_figures_of_a_rope_of_which_nothing_is_told() -> None:
    bare = replace(rope_set(density=None), diameter=None, construction="")
    found = find_rope_figures(bare)
    assert found.linear_density is None
    assert found.notes == ()
    # 3500 kg/m3 over the square of 13 mm; 196 GPa, loose of 6 mm to bonded of 20 mm
    assert found.density_or_usual == pytest.approx(3500.0 * 0.013**2)
    known = find_rope_figures(rope_set(density=None)).rigidity_per_density
    wide = found.rigidity_per_density
    assert wide.lowest == pytest.approx(known.lowest * (0.006 / 0.013) ** 2)
    assert wide.highest == pytest.approx(known.highest * (0.020 / 0.013) ** 2)
    assert wide.likely == pytest.approx(sqrt(wide.lowest * wide.highest))
    (note,) = find_rope_figures(rope_set(density=None)).notes
    assert "13 mm" in note.text


def test_a_range_of_stiffness_is_so_many_deviations_wide() -> None:
    bounds = RigidityRange(lowest=1.0, likely=3.0, highest=9.0)
    # a triangle is as wide as the root of 24 of its deviations
    assert bounds.ends == pytest.approx((1.0, 9.0, sqrt(24.0)))
    heard = rigidity_from_partials(4.0, 0.25, bounds)
    assert heard.ends == pytest.approx((3.0, 5.0, 2.0))
    assert rigidity_from_partials(4.0, 1e-5, bounds).ends == pytest.approx(
        (3.996, 4.004, 2.0)
    )
    assert rigidity_from_partials(0.0, 0.5, bounds).likely == 0.0
    assert rigidity_from_partials(-1.0, 0.5, bounds) is bounds
    assert rigidity_from_partials(4.0, 1.0, bounds) is bounds
    assert rigidity_from_partials(4.0, 0.999, bounds) is not bounds
    unsure = replace(bounds, likely=4.0, relative_uncertainty=1.5)
    assert unsure.ends[0] == 0.0


QUANTILES = norm.ppf([0.5, 0.3, 0.7, 0.1, 0.9])


def of_one_kind(
    held: float, crept: float, by_rope: float, by_spring: float
) -> np.ndarray:
    """Five stiffnesses between a rope that is held and one that creeps."""
    mean = held - (held - crept) / 3
    width = hypot((held - crept) / sqrt(18.0), by_rope, mean * by_spring)
    return np.asarray(np.maximum(mean + width * QUANTILES, 0.05 * mean))


def test_springs_of_a_known_rate_make_five_stiffnesses() -> None:
    ropes = rope_set(hitches=(spring_hitch(),))
    (case,) = find_stretch_cases(ropes, span(3.0), 3.0)
    # 4.6 MN typed, 10 %; 38 m of rope, the far spring taken for the same
    held = 1 / (3.0 / 4.6e6 + 1 / 150e3)
    crept = 1 / (38.0 / 4.6e6 + 2 / 150e3)
    mean = held - (held - crept) / 3
    by_rope = held * (held * 3.0 / 4.6e6) * 0.10
    wanted = of_one_kind(held, crept, by_rope, mean / 150e3 * 0.15)
    assert case.stiffnesses == pytest.approx(wanted, rel=1e-9)
    assert case.premise is Premise.NOTHING
    assert case.weight == 1.0
    spring = ropes.uncertainties.spring_rate
    assert case.own_uncertainty == pytest.approx(mean / 150e3 * spring)


def test_no_stiffness_is_taken_under_a_twentieth_of_the_likely_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    known = find_spring_rate(spring_hitch())
    assert known is not None
    loose = replace(known, relative_uncertainty=2.0)
    monkeypatch.setattr(stiffness, "find_spring_rate", lambda _: loose)
    ropes = rope_set(hitches=(spring_hitch(),))
    (case,) = find_stretch_cases(ropes, span(3.0), 3.0)
    assert min(case.stiffnesses) == pytest.approx(0.05 * case.stiffnesses[0])


def test_a_rope_of_unknown_length_is_forty_metres_and_no_shorter_than_its_fall() -> (
    None
):
    ropes = replace(rope_set(hitches=(spring_hitch(),)), rope_length=None)
    for fall, whole in ((3.0, 40.0), (45.0, 45.0)):
        (case,) = find_stretch_cases(ropes, span(fall), fall)
        held = 1 / (fall / 4.6e6 + 1 / 150e3)
        crept = 1 / (whole / 4.6e6 + 2 / 150e3)
        assert case.stiffnesses[0] == pytest.approx(held - (held - crept) / 3)


def test_another_spring_at_the_far_hitch_counts_where_it_is_told() -> None:
    far = replace(spring_hitch(300e3), at=HitchPlace.COUNTERWEIGHT)
    ropes = rope_set(hitches=(spring_hitch(), far))
    (case,) = find_stretch_cases(ropes, span(3.0), 3.0)
    held = 1 / (3.0 / 4.6e6 + 1 / 150e3)
    crept = 1 / (38.0 / 4.6e6 + 1 / 150e3 + 1 / 300e3)
    assert case.stiffnesses[0] == pytest.approx(held - (held - crept) / 3)


def usual(low: float, high: float) -> np.ndarray:
    """Stiffnesses of 3 m of rope on springs of a usual rate, even by logarithm."""
    parts = np.array([0.5, 0.3, 0.7, 0.1, 0.9])
    rates = low * (high / low) ** parts
    return np.asarray(1 / (3.0 / 4.6e6 + 1 / rates))


def test_nothing_told_of_the_hitch_leaves_two_cases() -> None:
    ropes = rope_set()
    springs, none = find_stretch_cases(ropes, span(3.0), 3.0)
    assert springs.stiffnesses == pytest.approx(usual(30e3, 500e3), rel=1e-9)
    assert (springs.premise, none.premise) == (Premise.SPRINGS, Premise.NO_SPRINGS)
    assert (springs.weight, none.weight) == pytest.approx((0.6, 0.4))
    held, crept = 4.6e6 / 3.0, 4.6e6 / 38.0
    wanted = of_one_kind(held, crept, 0.10 * held, 0.0)
    assert none.stiffnesses == pytest.approx(wanted, rel=1e-9)
    assert none.own_uncertainty == 0.0
    assert springs.own_uncertainty == ropes.uncertainties.spring_rate


@pytest.mark.parametrize(
    ("buffer", "between"),
    [
        (Buffer.SPRING, (30e3, 500e3)),
        (Buffer.RUBBER, (100e3, 5e6)),
        (Buffer.BEAM, (100e3, 5e6)),
    ],
)
def test_a_buffer_of_unknown_rate_has_a_usual_one(
    buffer: Buffer, between: tuple[float, float]
) -> None:
    ropes = rope_set(hitches=(Hitch(at=HitchPlace.CAR, buffer=buffer),))
    (case,) = find_stretch_cases(ropes, span(3.0), 3.0)
    assert case.stiffnesses == pytest.approx(usual(*between), rel=1e-9)
    assert case.premise is Premise.RATE_UNKNOWN
    assert case.weight == 1.0


def test_a_typed_rate_may_be_that_of_another_spring() -> None:
    found = find_spring_rate(spring_hitch())
    assert found is not None
    assert found.relative_uncertainty == 0.15


def test_a_spring_length_is_moved_by_a_preload() -> None:
    preloaded = replace(
        spring_hitch(), spring_preload=quantity(1800.0, Dimension.FORCE)
    )
    ropes = rope_set(hitches=(preloaded,))
    reading = SpringReading(
        series="as found",
        rope=1,
        hitch=HitchPlace.CAR,
        lengths=(quantity(0.124), quantity(0.124)),
    )
    found = measured(ropes, [reading])
    # 1800 N and 36 mm of 150 N/mm: three quarters of the load have a length
    assert found.hypotheses[0].tensions == pytest.approx([7200.0])
    told = ropes.uncertainties
    by_length = 0.75 * sqrt(2.0) * told.spring_length / 0.036
    wanted = hypot(by_length, 0.75 * told.spring_rate)
    assert sqrt(found.covariance[0, 0]) == pytest.approx(wanted, rel=1e-9)


def test_a_measurement_is_told_in_a_line_and_in_rows() -> None:
    found = taken([5000.4, 4900.0, 5100.0], relative=0.01)
    lost = replace(
        found.ropes[1], tension=None, refusal=NoteKind.TOO_SLACK.refusal(rope=2)
    )
    found = replace(found, ropes=(found.ropes[0], lost, found.ropes[2]))
    assert found.summary() == "2 of 3 ropes, N: 1: 5000, 3: 5100"
    assert found.given == (1, 3)
    assert found.missing == (2,)
    shares = replace(found, is_absolute=False)
    assert shares.summary() == "2 of 3 ropes, relative: 1: 5000, 3: 5100"
    first, second, _ = found.to_rows()
    assert first["relative_uncertainty"] == pytest.approx(hypot(0.01, 0.05))
    assert second["tension"] is None
    assert second["relative_uncertainty"] is None
    assert second["reason"] == NoteKind.TOO_SLACK.refusal(rope=2).text
    assert first["methods"] == "pluck"


@pytest.mark.parametrize(("times", "is_slack"), [(2.01, False), (1.99, True)])
def test_a_rope_carries_at_the_hitch_half_of_what_is_heard_at_least(
    times: float,
    is_slack: bool,  # noqa: FBT001
) -> None:
    # in the middle so many times what hangs below it, of which the hitch has one less;
    # so heavy a rope sounds as one of (1/4)(1 + 1/pi^2)/times^2 less tension
    squared = times * GRAVITY * 30.0 / 2
    heard = squared * (1 - (1 + 1 / np.pi**2) / 4 / times**2)
    fundamentals = np.full(2, sqrt(heard) / 60.0)
    ropes = rope_set(2, length=30.0, one_height=True, diameter=5e-5)
    found = measure_series(
        rope_set=ropes,
        lift=Lift(),
        series=SERIES,
        readings=[],
        hearing=hearing(fundamentals),
    )
    told = [r.refusal.code for r in found.ropes if r.refusal]
    assert told == (["too-slack"] * 2 if is_slack else [])


@pytest.mark.parametrize("density", [None, 0.62])
def test_masses_of_a_rope_of_its_own_do_not_cancel(density: float | None) -> None:
    fundamentals = ideal_fundamentals(np.full(2, 5000.0), np.full(2, 3.4))
    ropes = rope_set(2, one_height=True)
    if density is not None:
        own = Rope(number=2, linear_density=quantity(density, Dimension.LINEAR_DENSITY))
        ropes = replace(ropes, ropes=(own,))
    found = measure_series(
        rope_set=ropes,
        lift=Lift(),
        series=SERIES,
        readings=[],
        hearing=hearing(fundamentals),
    )
    first, second = found.hypotheses[0].tensions
    assert second / first == pytest.approx((density or 0.58) / 0.58)
    apart = found.covariance[1, 1] - found.covariance[0, 0]
    wanted = 0.0 if density is None else 2 * ropes.uncertainties.linear_density**2
    assert apart == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("n", [3, 5, 7])
def test_a_rope_that_stands_alone_is_known_by_its_own_repeats(n: int) -> None:
    # repeats as far apart as four times what is declared, about their mean
    away = np.resize([1.0, -1.0], n - 1).tolist()
    row = 0.04 * np.array([*away, 0.0])
    scatter = float(row.std(ddof=1))
    found = uncertainty_of_means([[0.0, 0.01 * sqrt(2)], row.tolist()], [0.01, 0.01])
    widening = coverage_widening(max(n - 1, 3.0))
    assert found[1] == pytest.approx(scatter / sqrt(n) * widening, rel=1e-9)


def test_axial_rigidity_is_as_typed_else_of_the_table() -> None:
    ropes = rope_set()
    typed = axial_rigidity_of(ropes)
    assert typed is not None
    assert (typed.value, typed.relative_uncertainty) == (4.6e6, 0.10)
    assert typed.is_typed
    by_table = axial_rigidity_of(replace(ropes, axial_rigidity=None))
    assert by_table == find_axial_rigidity(diameter=0.013, construction="8x19 FC")
    assert not by_table.is_typed
    bare = replace(ropes, axial_rigidity=None, diameter=None)
    assert axial_rigidity_of(bare) is None
    # a pull takes a usual rope then, turns of nuts ask for the diameter
    usual = replace(bare, diameter=quantity(0.013))
    assert find_stretch_cases(bare, span(3.0), 3.0) == find_stretch_cases(
        usual, span(3.0), 3.0
    )


def test_a_stagger_as_long_as_the_shortest_rope_says_nothing() -> None:
    found = taken([5e3, 5e3], free_lengths=[0.25, 0.5])
    assert found.effect_of_stagger(0.25) == np.inf
    assert found.effect_of_stagger(0.125) == pytest.approx(2 * log(2.0))
