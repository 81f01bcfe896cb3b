"""What earlier turns on a set have shown of its stiffness."""

from dataclasses import dataclass

from tension.installation import HitchPlace


@dataclass(frozen=True, kw_only=True, slots=True)
class LearnedStiffness:
    """Stiffness of a set once the car has run, learned from turns and their effect."""

    hitch: HitchPlace  # where the nuts were turned
    set_stiffness: float  # of the set as a whole [N/m]
    set_uncertainty: float  # its relative standard uncertainty [1]
    stiffnesses: tuple[float, ...]  # of each rope, in order of number [N/m]
    # relative standard uncertainty of one rope against the set [1]
    own_uncertainty: float
    source: str  # which turns between which series
