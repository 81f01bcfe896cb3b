"""Order and direction alone, where it cannot be told how far."""

import numpy as np

from tension.adjustment.order import trade_order
from tension.adjustment.outcome import Direction, DirectionsOnly, RopeDirection
from tension.assessment.outcome import Assessment
from tension.installation import Hitch
from tension.notes import Refusal


def directions_of(
    assessment: Assessment, hitch: Hitch, reasons: tuple[Refusal, ...]
) -> DirectionsOnly:
    """Tell which nuts go which way, by the order of the trade.

    Returns
    -------
    DirectionsOnly
        The slackest rope first; ropes within twice their uncertainty are left.
    """
    shares = np.array([s.share for s in assessment.shares], dtype=float)
    wide = np.array([2.0 * (s.share_uncertainty or 0.0) for s in assessment.shares])
    off = shares - shares.mean()
    pull = np.where(np.abs(off) > wide, -off, 0.0)
    order = trade_order(shares, pull)
    rest = [i for i in range(len(shares)) if i not in order]
    rows = tuple(
        RopeDirection(
            rope=assessment.shares[i].number,
            direction=_way(float(pull[i])),
            share=float(shares[i] / shares.mean()),
        )
        for i in (*order, *rest)
    )
    return DirectionsOnly(hitch=hitch, reasons=reasons, rows=rows, notes=())


def _way(pull: float) -> Direction:
    """Which way a rope wants to go."""
    if pull == 0.0:
        return Direction.LEAVE
    return Direction.TAKE_UP if pull > 0.0 else Direction.EASE
