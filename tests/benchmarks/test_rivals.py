"""The rivals are given sound they can hear; where it is easy they are right."""

import numpy as np
import pytest

from tests.benchmarks import rivals


def harmonic_tone(fundamental: float) -> np.ndarray:
    moments = np.arange(4 * rivals.RATE) / rivals.RATE
    tone = np.zeros(len(moments))
    for k in range(1, 9):
        tone += np.cos(2.0 * np.pi * k * fundamental * moments + k) / k
    return tone * np.exp(-moments / 3.0)


@pytest.mark.slow  # what others hear says nothing of the program
@pytest.mark.parametrize("name", sorted(rivals.available()))
def test_each_rival_hears_an_easy_tone(name: str) -> None:
    # half a period step of the cepstrum at 1000 Hz and 12.5 Hz is 0.6 %
    found = rivals.available()[name](harmonic_tone(12.5))
    assert found == pytest.approx(12.5, rel=0.02)


def test_a_rival_that_finds_nothing_is_gross() -> None:
    draws = [(harmonic_tone(12.5), 12.5), (harmonic_tone(20.0), 20.0)]
    row = rivals.rival_row(lambda _samples: float("nan"), draws)
    assert row[0] == "100.0 %"
    row = rivals.rival_row(lambda _samples: 12.5, draws)
    assert row[:3] == ("50.0 %", "0.0 %", "0.000 %")


def test_a_refusal_is_no_gross_error_and_is_told() -> None:
    # two refused of five; of three given one is gross, the rest 1 % off
    row = rivals.row_of(np.array([0.01, -0.01, 1.0]), 5, 2.0)
    assert row == ("33.3 %", "40.0 %", "1.000 %", "2.0")
