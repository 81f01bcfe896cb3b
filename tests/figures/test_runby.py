"""The drawing that explains the sign of a runby."""

import re

import pytest

from tension.condition.acceptance import accept_set
from tension.condition.checks import Check, CheckItem
from tension.installation import Lift, RopeSet
from tension.telling.condition import runby_picture
from tests.synthesis.made_results import length


def drawn(now: str) -> str:
    check = Check(item=CheckItem.RUNBY, now=length(now))
    found = accept_set([check], lift=Lift(name=""), rope_set=RopeSet(n_ropes=4))
    picture = runby_picture(found)
    assert picture is not None
    return picture.svg


@pytest.mark.parametrize(
    ("now", "sign", "sentence", "amount"),
    [
        ("450 mm", "+", "space above the buffer", "450 mm"),
        ("0 mm", "+", "space above the buffer", "0 mm"),
        ("-4 in", "−", "lands with the car so far below the landing", "-101.6 mm"),
    ],
)
def test_the_sign_is_written_and_explained(
    now: str, sign: str, sentence: str, amount: str
) -> None:
    svg = drawn(now)
    assert f">{sign}</text>" in svg
    assert f">runby now {amount}</text>" in svg
    assert sentence in svg
    assert "shortening the ropes: runby +" in svg


def test_early_landing_is_drawn_with_the_weight_on_its_buffer_and_the_car_low() -> None:
    # the way down that both hang lower: the weight's 53 below 106 reaches 192
    found = [re.search(r"translate\(0 (\d+)\)", drawn(now)) for now in ("1 m", "-1 m")]
    lower, early = (int(one[1]) for one in found if one)
    assert lower == 0
    assert 106 + 53 + early == 192
