"""One way to count the partials of a rope."""

from dataclasses import dataclass

from tension.sound.strings.string_fit import StringFit


@dataclass(frozen=True, kw_only=True, slots=True)
class Candidate:
    """One way to count the partials of one rope, fitted.

    Attributes
    ----------
    fit : StringFit
        The string.
    log_likelihood : float
        From its own recording. [1]
    node_order : int
        Every so-many-th partial is missing; 0 if none is.
    """

    fit: StringFit
    log_likelihood: float
    node_order: int = 0
