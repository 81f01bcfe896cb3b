"""Budgets by named source, combined over those that are asked for."""

import pytest

from tension.quantity.estimate import Estimate, Sharing, Source


def test_independent_sources_combine_as_squares() -> None:
    measured = Estimate(
        value=-200.0,
        sources=(
            Source(name="length", relative=0.03),
            Source(name="mass", relative=0.04, sharing=Sharing.SET),
        ),
    )
    assert measured.relative_uncertainty() == pytest.approx(0.05, rel=1e-12)
    assert measured.relative_uncertainty([Sharing.OWN]) == pytest.approx(0.03)
    assert measured.relative_uncertainty([Sharing.KIND]) == 0.0
    assert measured.standard_uncertainty == pytest.approx(10.0, rel=1e-12)
