"""Statistics of a chosen string: how it explains what is heard, and how that rings."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tension.sound.decision.falling import falls_of, peak_of
from tension.sound.decision.strangers import elsewhere_of, second_string
from tension.sound.lines.spectra import Lines
from tension.sound.plucks.ring import Ring
from tension.sound.strings.string_fit import StringFit, explained_share

UNCHANGED = 0.03
"""Fall of a tone that keeps its level. [1/s]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Statistics:
    """What a chosen string shows; each is a plain number.

    Attributes
    ----------
    evidence : float
        ln of the log-likelihood ratio against stray lines only. [1]
    margin : float
        Log-likelihood over that of the next rival, over the first. [1]
    explained : float
        Share of the strength of all lines that are partials of it. [1]
    fastest : float
        Fall that a fifth of the partials exceed. [1/s]
    rising : float
        Fall that a fifth of the partials are under. [1/s]
    stretch : float
        ln of the relative rise of the highest partial by stiffness. [1]
    peak : float
        Part of the ring after which the partials together are loudest. [1]
    second : float
        ln of the evidence of another string among the lines that are none of its
        partials. [1]
    elsewhere : float
        ln of the log-likelihood by which a string of another pitch is likelier than it
        in one of those parts, the largest. [1]
    steady : float
        Share of the partials that keep their level. [1]
    """

    evidence: float
    margin: float
    explained: float
    fastest: float
    rising: float
    stretch: float
    peak: float
    second: float
    elsewhere: float
    steady: float


def describe(
    rings: Sequence[Ring],
    whole: Sequence[NDArray[np.float32]],
    lines: Lines,
    fit: StringFit,
    log_likelihood: float,
    next_log_likelihood: float,
) -> Statistics:
    """Describe a chosen string.

    Parameters
    ----------
    rings : sequence of Ring
        Those listened to.
    whole : sequence of ndarray, shape (n_samples,)
        Recordings of this rope alone. [1]
    lines : Lines
        Of the rings.
    fit : StringFit
        The string chosen.
    log_likelihood, next_log_likelihood : float
        Of it, and of the best candidate of another pitch. [1]
    """
    frequencies = lines.frequencies[fit.lines]
    falls = falls_of(rings, frequencies)
    highest = float(fit.modes.max())
    return Statistics(
        evidence=float(np.log(max(log_likelihood, 1.0))),
        margin=float((log_likelihood - next_log_likelihood) / max(log_likelihood, 1.0)),
        explained=explained_share(lines, fit),
        fastest=float(np.quantile(falls, 0.8)),
        rising=float(np.quantile(falls, 0.2)),
        stretch=float(np.log(0.5 * fit.inharmonicity * highest**2 + 1e-5)),
        peak=peak_of(rings, frequencies),
        second=second_string(lines, fit),
        elsewhere=elsewhere_of(whole, rings[0].sampling_rate, fit),
        steady=float(np.mean(np.abs(falls) < UNCHANGED)),
    )
