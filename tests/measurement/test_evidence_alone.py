"""What one kind of evidence says of its doubt, and when it has no numbers."""

import numpy as np
import pytest

from tension.measurement.combine import SetEvidence, read_only, single_hypothesis
from tension.measurement.readings import Method
from tension.quantity.estimate import Sharing, Source


def evidence(tensions: list[float], *shared: float) -> SetEvidence:
    return SetEvidence(
        method=Method.PULL,
        label="side pulls",
        numbers=tuple(range(1, len(tensions) + 1)),
        hypotheses=single_hypothesis(np.array(tensions)) if tensions else (),
        covariance=read_only(np.zeros((len(tensions), len(tensions)))),
        own_sources=tuple(() for _ in tensions),
        shared_sources=tuple(
            Source(name=f"source {i}", relative=one, sharing=Sharing.SET)
            for i, one in enumerate(shared)
        ),
        is_absolute=True,
        refusals={},
    )


def test_what_the_ropes_share_adds_by_squares() -> None:
    assert evidence([5000.0, 5100.0], 0.03, 0.04).shared_variance == pytest.approx(
        0.05**2, rel=1e-12
    )
    assert evidence([5000.0]).shared_variance == 0.0


def test_no_rope_has_no_tension() -> None:
    assert evidence([]).tensions.shape == (0,)
    assert list(evidence([5000.0, 5100.0]).tensions) == [5000.0, 5100.0]
