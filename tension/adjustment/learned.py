"""What earlier turns on a set have shown of its stiffness."""

from dataclasses import dataclass

from tension.installation import HitchPlace


@dataclass(frozen=True, kw_only=True, slots=True)
class LearnedStiffness:
    """Stiffness of a set once the car has run, learned from turns and their effect.

    Attributes
    ----------
    hitch : HitchPlace
        Where the nuts were turned.
    set_stiffness : float
        Of the set as a whole. [N/m]
    set_uncertainty : float
        Its relative standard uncertainty. [1]
    stiffnesses : tuple of float
        Of each rope, in order of number. [N/m]
    own_uncertainty : float
        Relative standard uncertainty of one rope against the set. [1]
    source : str
        Which turns between which series.
    """

    hitch: HitchPlace
    set_stiffness: float
    set_uncertainty: float
    stiffnesses: tuple[float, ...]
    own_uncertainty: float
    source: str
