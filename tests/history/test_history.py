"""Visits over time: lives, trends, what came back, the next check."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from tension.assessment.decide import RopeShare, Verdict
from tension.assessment.interval import Spread
from tension.catalogue.rules import Metric, find_rule
from tension.history import (
    Life,
    Point,
    Role,
    SetOnADay,
    find_lives,
    find_next_check,
    find_returned,
    find_trends,
    make_history,
    month_of,
)
from tension.installation import RopeSet, Side
from tension.quantity.units import Dimension, parse_quantity

START = dt.date(2025, 6, 2)
LIFE = Life(number=0, begun=None, visits=(0,))
RULE = find_rule(None)
WIDE, NARROW = (parse_quantity(text, Dimension.LENGTH) for text in ("13 mm", "12 mm"))


def point(
    weeks: float,
    deviations: list[float],
    *,
    epoch: int = 0,
    width: float = 0.005,
    verdict: Verdict = Verdict.EQUAL,
    role: Role = Role.ONLY,
    load: str = "empty",
    position: str = "top landing",
) -> Point:
    return Point(
        day=START + dt.timedelta(weeks=weeks),
        record="visit.toml",
        series="as found",
        role=role,
        epoch=epoch,
        side=Side.CAR,
        position=position,
        load=load,
        shares=tuple(
            RopeShare(
                number=i + 1,
                share=1.0 + d,
                share_uncertainty=width,
                tension=None,
                tension_uncertainty=None,
            )
            for i, d in enumerate(deviations)
        ),
        spread=Spread(
            metric=Metric.BELOW_HIGHEST, observed=0.0, lower=None, upper=None
        ),
        verdict=verdict,
        life=0,
    )


def test_a_slope_is_that_of_a_straight_line_with_its_textbook_uncertainty() -> None:
    points = [point(w, [0.002 * w, -0.002 * w]) for w in (0.0, 10.0, 20.0)]
    trends = find_trends(points)
    assert [t.slope for t in trends] == pytest.approx([0.002, -0.002], rel=1e-9)
    # u / sqrt(sum (t - mean)^2), points without scatter
    assert trends[0].uncertainty == pytest.approx(0.005 / np.sqrt(200.0), rel=1e-9)
    assert all(t.is_seen for t in trends)


def test_turning_nuts_begins_anew_and_the_slope_stays() -> None:
    one = [point(w, [0.002 * w, -0.002 * w], epoch=0) for w in (0.0, 10.0)]
    two = [
        point(w, [0.002 * (w - 10), 0.002 * (10 - w)], epoch=1) for w in (10.0, 20.0)
    ]
    trends = find_trends([*one, *two])
    assert trends[0].slope == pytest.approx(0.002, rel=1e-9)
    assert trends[0].uncertainty == pytest.approx(0.005 / 10.0, rel=1e-9)


def test_scatter_widens_a_slope_and_never_narrows_it() -> None:
    wild = [0.0, 0.03, -0.03, 0.0]
    points = [point(10.0 * i, [d, -d]) for i, d in enumerate(wild)]
    calm = [point(10.0 * i, [0.0, 0.0]) for i in range(4)]
    assert find_trends(points)[0].uncertainty > 2 * find_trends(calm)[0].uncertainty
    assert find_trends(calm)[0].uncertainty == pytest.approx(0.005 / np.sqrt(500.0))


def test_slopes_cover_the_truth_as_often_as_they_say() -> None:
    random = np.random.default_rng(5)
    held = 0
    for _ in range(600):
        points = [
            point(w, list(0.001 * w * np.array([1, -1]) + random.normal(0, 0.005, 2)))
            for w in (0.0, 8.0, 20.0)
        ]
        trend = find_trends(points)[0]
        held += abs(trend.slope - 0.001) <= 1.96 * trend.uncertainty
    # one degree of freedom widens: at least 95 %, less three binomial deviations
    assert held / 600 > 0.95 - 3 * np.sqrt(0.95 * 0.05 / 600)


def test_one_day_gives_no_trend() -> None:
    assert find_trends([point(0.0, [0.01, -0.01]), point(0.0, [0.0, 0.0])]) == ()
    left = [point(0.0, [0.1, -0.1]), point(20.0, [0.0, 0.0], epoch=1)]
    assert find_trends(left) == ()


def test_a_set_that_comes_back_is_told_with_its_weeks() -> None:
    points = [
        point(0.0, [0.1, -0.1], verdict=Verdict.UNEQUAL, role=Role.FOUND),
        point(0.0, [0.0, 0.0], epoch=1, role=Role.LEFT),
        point(6.0, [0.01, -0.01], epoch=1),
        point(15.0, [0.08, -0.08], epoch=1, verdict=Verdict.UNEQUAL),
        point(30.0, [0.12, -0.12], epoch=1, verdict=Verdict.UNEQUAL),
    ]
    (found,) = find_returned(points)
    assert (found.weeks, found.still_equal_weeks) == (15.0, 6.0)
    assert found.left == START


def test_what_was_never_left_equal_does_not_return() -> None:
    points = [point(w, [0.1, -0.1], verdict=Verdict.UNEQUAL) for w in (0.0, 9.0)]
    assert find_returned(points) == ()


def test_the_next_check_is_where_the_line_meets_the_limit() -> None:
    # 0.2 points a week on either of two ropes: (h - l)/h = 10 % after 26.3 weeks
    points = [point(w, [0.002 * w, -0.002 * w], width=1e-5) for w in (0.0, 5.0, 10.0)]
    check = find_next_check(points, find_trends(points), RULE)
    assert check is not None
    assert check.likely is not None
    weeks = (check.likely - START).days / 7.0
    assert weeks == pytest.approx(0.1 / (0.002 * 1.9), abs=1.0)
    assert check.earliest is not None
    assert check.latest is not None
    assert check.earliest <= check.likely <= check.latest
    assert not check.is_over_now


def test_a_wider_reading_asks_for_an_earlier_check() -> None:
    def earliest(width: float) -> dt.date:
        weeks = (0.0, 5.0, 10.0)
        points = [point(w, [0.001 * w, -0.001 * w], width=width) for w in weeks]
        check = find_next_check(points, find_trends(points), RULE)
        assert check is not None
        assert check.earliest is not None
        return check.earliest

    assert earliest(0.008) < earliest(0.002)


def test_without_a_trend_there_is_no_day() -> None:
    points = [point(0.0, [0.01, -0.01])]
    assert find_next_check(points, find_trends(points), RULE) is None


def test_places_and_loads_stand_apart_and_a_load_not_written_joins() -> None:
    points = [
        point(0.0, [0.0, 0.0]),
        point(5.0, [0.0, 0.0], load=""),
        point(5.0, [0.0, 0.0], load="half load"),
        point(5.0, [0.0, 0.0], position="Middle"),
    ]
    history = make_history(lift="", rule=RULE, lives=[LIFE], points=points)
    sizes = [(t.position, t.load, len(t.points)) for t in history.tracks]
    assert ("top landing", "empty", 1) in sizes or ("top landing", "empty", 2) in sizes
    assert len(history.tracks) >= 3
    one_load = [points[0], points[1]]
    joined = make_history(lift="", rule=RULE, lives=[LIFE], points=one_load)
    assert [len(t.points) for t in joined.tracks] == [2]


def test_a_rope_without_a_number_leaves_the_others() -> None:
    gap = point(10.0, [0.0, 0.0, 0.0])
    shares = (
        replace(gap.shares[0], share=None, share_uncertainty=None),
        *gap.shares[1:],
    )
    points = [point(0.0, [0.0, 0.0, 0.0]), replace(gap, shares=shares)]
    trends = find_trends(points)
    assert [t.number for t in trends] == [2, 3]
    assert find_next_check(points, trends, RULE) is None


@pytest.mark.parametrize(
    ("text", "month"),
    [
        ("2025-03", dt.date(2025, 3, 1)),
        ("03/2025", dt.date(2025, 3, 1)),
        ("March 2025", dt.date(2025, 3, 1)),
        ("Sept. 2024", dt.date(2024, 9, 1)),
        ("ma 2025", None),
        ("13/2025", None),
        ("new", None),
    ],
)
def test_months_are_read_as_people_write_them(text: str, month: dt.date | None) -> None:
    assert month_of(text) == month


def set_on(day: str, **more: object) -> SetOnADay:
    installed = str(more.pop("installed", ""))
    ropes = RopeSet(**({"n_ropes": 6} | more))  # type: ignore[arg-type]
    return SetOnADay(day=dt.date.fromisoformat(day), ropes=ropes, installed=installed)


def test_another_month_of_installation_begins_a_life() -> None:
    lives = find_lives(
        [
            set_on("2024-01-10", installed="2019-04"),
            set_on("2024-09-10", installed="April 2019"),
            set_on("2025-06-01", installed="05/2025"),
            set_on("2025-08-01"),
        ]
    )
    assert [life.visits for life in lives] == [(0, 1), (2, 3)]
    assert lives[1].begun == dt.date(2025, 5, 1)
    assert [life.number for life in lives] == [0, 1]


def test_a_day_told_or_another_set_begins_a_life() -> None:
    sets = [set_on("2024-01-10"), set_on("2024-09-10"), set_on("2025-06-01")]
    told = find_lives(sets, [dt.date(2024, 9, 10)])
    assert [life.visits for life in told] == [(0,), (1, 2)]
    other = [*sets[:2], set_on("2025-06-01", n_ropes=5)]
    assert [life.visits for life in find_lives(other)] == [(0, 1), (2,)]
    kinds = [
        set_on("2024-01-10", construction="8x19 FC", diameter=WIDE),
        set_on("2024-09-10", construction="8x19  fc", diameter=WIDE),
        set_on("2025-06-01", construction="8x19 FC", diameter=NARROW),
    ]
    assert [life.visits for life in find_lives(kinds)] == [(0, 1), (2,)]
