from dataclasses import replace

import numpy as np
import pytest

from tension.adjustment.fit import DrawnSets
from tension.adjustment.plan_basis import find_limits
from tension.adjustment.stiffness import (
    KnownFrom,
    LearnedStiffness,
    NutStiffness,
    Origin,
    Setting,
    solid_load_of,
    spring_lengths_of,
    stiffness_at_hitch,
)
from tension.catalogue.ropes import find_axial_rigidity, find_shear_modulus
from tension.installation import Buffer, Drive, HitchPlace, Rope, RopeSet
from tension.notes import NoteKind, Refusal
from tension.physics.hitch_statics import tension_changes
from tension.quantity.units import Dimension
from tests.oracles.all_steps import tensions_after
from tests.synthesis.measured_sets import SPAN, hitch, quantity, rope_set

FAR = HitchPlace.COUNTERWEIGHT


def found(
    ropes: RopeSet,
    *,
    drive: Drive = Drive.TRACTION,
    learned: LearnedStiffness | None = None,
) -> NutStiffness:
    setting = Setting(rope_set=ropes, drive=drive, learned=learned)
    result = stiffness_at_hitch(setting, ropes.hitches[0], SPAN)
    assert isinstance(result, NutStiffness)
    return result


def refused(ropes: RopeSet) -> Refusal:
    result = stiffness_at_hitch(Setting(rope_set=ropes), ropes.hitches[0], SPAN)
    assert isinstance(result, Refusal)
    return result


def test_springs_at_both_ends_one_end_or_none_by_arithmetic() -> None:
    # Compliances by hand in mm/N: spring 1/150, fall 4000/4.6e6, rope 38000/4.6e6.
    fall, whole, spring = 4000 / 4.6e6, 38000 / 4.6e6, 1 / 150
    bare = hitch(FAR, buffer=Buffer.NONE)
    both = found(rope_set(4))
    one = found(rope_set(4, hitches=(hitch(), bare)))
    none = found(rope_set(4, hitches=(hitch(buffer=Buffer.NONE), bare)))
    for stiffness, now, run in (
        (both, spring + fall, 2 * spring + whole),
        (one, spring + fall, spring + whole),
        (none, fall, whole),
    ):
        assert stiffness.now / 1000 == pytest.approx(np.full(4, 1 / now), rel=1e-9)
        expected = np.full(4, 1 / run)
        assert stiffness.after_running / 1000 == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("drive", [Drive.DRUM, Drive.HYDRAULIC])
def test_on_a_drum_or_jack_running_changes_nothing(drive: Drive) -> None:
    ropes = rope_set(4, rope_length=None)
    stiffness = found(ropes, drive=drive)
    assert np.array_equal(stiffness.now, stiffness.after_running)


def test_a_far_hitch_that_is_not_recorded_is_assumed_and_said_to_be() -> None:
    stiffness = found(rope_set(4, hitches=(hitch(),)))
    assert stiffness.is_assumed
    assumed = [o for o in stiffness.origins if o.known_from is KnownFrom.ASSUMED]
    assert [o.name for o in assumed] == ["spring at the far [[hitch]]"]
    both, one = (
        found(rope_set(4)),
        rope_set(4, hitches=(hitch(), hitch(FAR, buffer=Buffer.NONE))),
    )
    assert (
        both.after_running[0] < stiffness.after_running[0] < found(one).after_running[0]
    )
    assert not both.is_assumed


def test_every_number_of_the_stiffness_has_an_origin() -> None:
    names = {o.name for o in found(rope_set(4)).origins}
    assert {"spring rate", "axial rigidity", "free length of this fall"} <= names


def test_uncertainty_of_the_stiffness_agrees_with_draws() -> None:
    stiffness = found(rope_set(4))
    rng = np.random.default_rng(3)
    n = 40_000
    rate_here = 150e3 * np.exp(0.05 * rng.standard_normal(n))
    rate_far = 150e3 * np.exp(0.05 * rng.standard_normal(n))
    rigidity = 4.6e6 * np.exp(0.10 * rng.standard_normal(n))
    k = 1 / (1 / rate_here + 1 / rate_far + 38.0 / rigidity)
    # sampling 0.35 %, higher orders 0.2 %
    assert stiffness.common_uncertainty == pytest.approx(np.log(k).std(), rel=0.01)


def test_what_is_missing_is_named() -> None:
    bare = replace(rope_set(4), axial_rigidity=None)
    assert refused(bare).code == NoteKind.ROPE_UNKNOWN.code
    assert refused(rope_set(4, rope_length=None)).code == (
        NoteKind.ROPE_LENGTH_UNKNOWN.code
    )
    no_rate = rope_set(4, hitches=(hitch(rate=None),))
    assert refused(no_rate).code == NoteKind.SPRING_UNKNOWN.code
    rubber = rope_set(4, hitches=(hitch(buffer=Buffer.RUBBER),))
    assert refused(rubber).code == NoteKind.RUBBER.code
    beam = rope_set(4, hitches=(hitch(), hitch(FAR, buffer=Buffer.BEAM)))
    assert refused(beam).code == NoteKind.BEAM.code


def test_rubber_that_was_learned_gives_way_at_both_ends() -> None:
    learned = LearnedStiffness(
        hitch=HitchPlace.CAR,
        set_stiffness=46e3,
        set_uncertainty=0.05,
        stiffnesses=(46e3,) * 4,
        own_uncertainty=0.03,
        source="a test",
    )
    ropes = rope_set(4, hitches=(hitch(buffer=Buffer.RUBBER),))
    stiffness = found(ropes, learned=learned)
    extra = 0.5 * (1 / 46e3 - 38 / 4.6e6)
    assert stiffness.after_running == pytest.approx(np.full(4, 46e3), rel=1e-9)
    assert stiffness.now == pytest.approx(np.full(4, 1 / (4 / 4.6e6 + extra)), rel=1e-9)
    assert stiffness.origins[0].known_from is KnownFrom.LEARNED
    assert not stiffness.is_assumed


def test_a_spring_rate_from_its_wire_says_so() -> None:
    spring = replace(
        hitch(rate=None),
        spring_wire=quantity(0.012, Dimension.LENGTH, "12 mm"),
        spring_coil=quantity(0.060, Dimension.LENGTH, "60 mm"),
        spring_active_coils=8.0,
    )
    origins = found(rope_set(4, hitches=(spring, replace(spring, at=FAR)))).origins
    rate = next(o for o in origins if o.name == "spring rate")
    # 79300 * 12^4 / (8 * 60^3 * 8) N/mm by hand
    assert rate.value / 1000 == pytest.approx(79300 * 12**4 / (64 * 60**3), rel=1e-9)
    assert rate.known_from is KnownFrom.TABLE
    assert "12 mm" in rate.source


def test_axial_rigidity_of_a_class_by_arithmetic() -> None:
    # Area factor as published for EN 12385 classes; modulus from memory, said so.
    ropes = find_axial_rigidity(diameter=0.013, construction="8 x 19 Seale FC")
    assert ropes.value == pytest.approx(0.349 * 13**2 * 59e3, rel=1e-9)
    assert "from memory" in ropes.source
    unknown = find_axial_rigidity(diameter=0.013, construction="9x21 special")
    assert unknown.construction == ""
    assert unknown.relative_uncertainty > ropes.relative_uncertainty
    assert find_axial_rigidity(diameter=0.013, construction="8x19 IWRC").value > (
        ropes.value
    )


def test_spring_steels_are_found_in_any_case() -> None:
    music = find_shear_modulus("Music  Wire")
    assert music is not None
    assert music.value == 79.3e9
    assert find_shear_modulus("cheese") is None


# --- limits ---


def equal_pair() -> DrawnSets:
    """Two ropes of 5000 N, each known to 1 % against their mean."""
    return DrawnSets(
        tensions=np.array([5000.0, 5000.0]),
        covariance=2 * 0.01**2 * np.eye(2),
        stiffnesses=np.full(2, 50e3),
        common_uncertainty=0.0,
        own_uncertainty=0.0,
    )


def test_thread_left_is_counted_in_whole_steps() -> None:
    left = (
        Rope(
            number=1,
            take_up_left=quantity(0.0026, Dimension.LENGTH, "2.6 mm"),
            ease_left=quantity(0.0, Dimension.LENGTH, "0 mm"),
        ),
        Rope(number=2),
    )
    limits = find_limits(
        rope_set(2, ropes=left), hitch(buffer=Buffer.NONE), equal_pair(), step=0.0005
    )
    assert limits.highest_steps[0] == 5
    assert limits.lowest_steps[0] == 0
    # of the other nothing is told: 10 mm are safe without asking
    assert limits.highest_steps[1] == 20
    assert [note.ropes for note in limits.notes] == [(2,)]


def test_a_spring_goes_solid_at_rate_times_way() -> None:
    spring = hitch(rate=150e3, free_length=0.160, solid=0.120)
    limits = find_limits(rope_set(2), spring, equal_pair(), step=0.0005)
    assert limits.solid_load == pytest.approx(6000.0, rel=1e-9)
    assert limits.highest == pytest.approx(np.full(2, 6000.0), rel=1e-9)
    # 60 % of 5000 N and two standard uncertainties of a reading
    assert limits.lowest == pytest.approx(np.full(2, 3100.0), rel=1e-9)


# --- what is known of the parts ---


def learned(stiffness: float, width: float = 0.05) -> LearnedStiffness:
    return LearnedStiffness(
        hitch=HitchPlace.CAR,
        set_stiffness=stiffness,
        set_uncertainty=width,
        stiffnesses=(stiffness, 1.1 * stiffness, stiffness, 0.9 * stiffness),
        own_uncertainty=0.03,
        source="a test",
    )


K_NOW, K_RUN = 1 / (1 / 150e3 + 4 / 4.6e6), 1 / (2 / 150e3 + 38 / 4.6e6)


@pytest.mark.parametrize(
    ("over", "taken"), [(1.2, 1.2), (1.49, 1.49), (1.6, 1.5), (0.68, 0.68), (0.6, 0.67)]
)
def test_what_is_learned_moves_a_standing_car_by_half_as_much_at_most(
    over: float, taken: float
) -> None:
    stiffness = found(rope_set(4), learned=learned(over * K_RUN))
    each = np.array([1.0, 1.1, 1.0, 0.9])
    assert stiffness.after_running == pytest.approx(over * K_RUN * each)
    assert stiffness.now == pytest.approx(taken * K_NOW * each)
    assert stiffness.common_uncertainty == 0.05
    assert stiffness.own_uncertainty == 0.03
    # and leaves 15 % open of it
    assert stiffness.now_uncertainty == pytest.approx((0.05**2 + 0.15**2) ** 0.5)


@pytest.mark.parametrize(("width", "is_assumed"), [(0.25, False), (0.251, True)])
def test_what_was_learned_is_as_good_as_assumed_from_a_quarter_in_doubt(
    *, width: float, is_assumed: bool
) -> None:
    stiffness = found(rope_set(4), learned=learned(K_RUN, width))
    assert stiffness.is_assumed is is_assumed


def test_rubber_learned_stiffer_than_the_rope_gives_nothing() -> None:
    ropes = rope_set(4, hitches=(hitch(buffer=Buffer.RUBBER),))
    stiffness = found(ropes, learned=learned(200e3))
    assert stiffness.now[0] == pytest.approx(4.6e6 / 4)


def test_fixed_hitches_follow_what_was_learned_of_the_rope() -> None:
    bare = (hitch(buffer=Buffer.NONE), hitch(FAR, buffer=Buffer.NONE))
    stiffness = found(rope_set(4, hitches=bare), learned=learned(1.1 * 4.6e6 / 38))
    assert stiffness.now[0] == pytest.approx(1.1 * 4.6e6 / 4)


@pytest.mark.parametrize(("of_rope", "is_assumed"), [(0.56, False), (0.57, True)])
def test_a_stiffness_in_doubt_by_a_quarter_counts_as_assumed(
    *, of_rope: float, is_assumed: bool
) -> None:
    # both springs alike: their doubts add up by their squares
    ropes = rope_set(4)
    rate = replace(ropes.uncertainties, spring_rate=of_rope)
    stiffness = found(replace(ropes, uncertainties=rate))
    springs, rope = K_RUN / 150e3, K_RUN * 38 / 4.6e6
    by_hand = np.hypot(springs * 2**0.5 * of_rope, rope * 0.10)
    assert stiffness.common_uncertainty == pytest.approx(by_hand)
    assert stiffness.own_uncertainty == pytest.approx(springs * 2**0.5 * of_rope)
    assert bool(by_hand > 0.25) is is_assumed
    assert stiffness.is_assumed is is_assumed


@pytest.mark.parametrize(("rate", "is_assumed"), [(165e3, True), (171e3, False)])
def test_a_far_spring_assumed_matters_from_a_tenth_of_the_stiffness(
    *, rate: float, is_assumed: bool
) -> None:
    stiffness = found(rope_set(4, hitches=(hitch(rate=rate),)))
    k = 1 / (1.5 / rate + 38 / 4.6e6)
    assert stiffness.after_running[0] == pytest.approx(k)
    # from none to one like it, equally likely: half of it, and 1/sqrt(12) of its whole
    by_hand = k / rate * 12**-0.5
    assert (by_hand > 0.10) is is_assumed
    assert stiffness.is_assumed is is_assumed


def test_the_fall_at_the_other_hitch_is_what_the_one_measured_leaves() -> None:
    ropes = rope_set(4, hitches=(hitch(), hitch(FAR)))
    other = stiffness_at_hitch(Setting(rope_set=ropes), ropes.hitches[1], SPAN)
    assert isinstance(other, NutStiffness)
    assert other.now[0] == pytest.approx(1 / (1 / 150e3 + 34 / 4.6e6))
    assert other.after_running[0] == pytest.approx(K_RUN)
    # a twentieth at least, whatever was typed
    long = replace(SPAN, free_length=quantity(37.5, Dimension.LENGTH))
    short = stiffness_at_hitch(Setting(rope_set=ropes), ropes.hitches[1], long)
    assert isinstance(short, NutStiffness)
    assert short.now[0] == pytest.approx(1 / (1 / 150e3 + 0.05 * 38 / 4.6e6))


def test_a_fall_is_the_mean_of_the_lengths_of_its_ropes() -> None:
    length = Dimension.LENGTH
    lengths = tuple(
        Rope(
            number=i + 1,
            free_lengths=(
                (SPAN.name, quantity(value, length)),
                ("another", quantity(9.0, length)),
            ),
        )
        for i, value in enumerate((3.0, 6.0))
    )
    ropes = rope_set(2, ropes=lengths)
    bare = replace(SPAN, free_length=None)
    mean = stiffness_at_hitch(Setting(rope_set=ropes), ropes.hitches[0], bare)
    assert isinstance(mean, NutStiffness)
    assert mean.now[0] == pytest.approx(1 / (1 / 150e3 + 4.5 / 4.6e6))
    none = stiffness_at_hitch(Setting(rope_set=rope_set(2)), hitch(), bare)
    assert isinstance(none, Refusal)
    assert none.code == NoteKind.FALL_UNKNOWN.code


@pytest.mark.parametrize("rubber", [True, False])
def test_buffers_far_away_give_way_only_where_they_are_springs(*, rubber: bool) -> None:
    far = hitch(FAR, buffer=Buffer.RUBBER if rubber else Buffer.NONE)
    stiffness = found(rope_set(4, hitches=(hitch(), far)))
    springs = 1.5 if rubber else 1.0
    assert stiffness.after_running[0] == pytest.approx(
        1 / (springs / 150e3 + 38 / 4.6e6)
    )
    here = hitch(buffer=Buffer.NONE)
    bare = found(rope_set(4, hitches=(here, far)))
    assert bare.after_running[0] == pytest.approx(4.6e6 / 38)


def test_effects_of_one_nut_by_solving_for_the_hitch() -> None:
    stiffness = found(rope_set(4), learned=learned(K_RUN))
    for nut in range(4):
        one = 0.001 * np.eye(4)[nut]
        for k in (stiffness.now, stiffness.after_running):
            by_solving = tensions_after(np.zeros(4), k, one)
            assert tension_changes(one, k) == pytest.approx(by_solving)


def test_a_rope_of_the_table_is_assumed_where_its_class_is_not_in_it() -> None:
    bare = replace(
        rope_set(4), axial_rigidity=None, diameter=quantity(0.013, Dimension.LENGTH)
    )
    for construction, known in (
        ("8x19 Seale FC", KnownFrom.TABLE),
        ("9x21 special", KnownFrom.ASSUMED),
    ):
        origins = found(replace(bare, construction=construction)).origins
        (origin,) = [o for o in origins if o.name == "axial rigidity"]
        assert origin.known_from is known


def test_a_solid_length_of_the_wire_is_two_coils_longer() -> None:
    wire = quantity(0.012, Dimension.LENGTH, "12 mm")
    spring = replace(hitch(solid=None), spring_wire=wire, spring_active_coils=6.0)
    free, solid = spring_lengths_of(spring)
    assert free is not None
    assert solid is not None
    assert solid.value == pytest.approx(8 * 0.012)
    assert solid.known_from is KnownFrom.ASSUMED
    load, origins = solid_load_of(spring, rope_set(4))
    assert load == pytest.approx(150e3 * (0.160 - 0.096))
    assert origins == (free, solid)
    for less in (
        replace(spring, spring_wire=None),
        replace(spring, spring_active_coils=None),
    ):
        assert spring_lengths_of(less)[1] is None
        assert solid_load_of(less, rope_set(4)) == (np.inf, ())
    typed = replace(spring, spring_solid_length=quantity(0.100, Dimension.LENGTH))
    assert spring_lengths_of(typed)[1] == Origin.typed(
        "spring solid length", quantity(0.100, Dimension.LENGTH)
    )
    without = replace(typed, spring_free_length=None)
    assert solid_load_of(without, rope_set(4)) == (np.inf, ())
