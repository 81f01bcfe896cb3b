"""One pluck heard, as `assess` would hear it: the same ear, on the recent part."""

from dataclasses import dataclass

from tension.sound.hear import hear_set
from tension.sound.hearing import HearingPrior, Pluck, RopeHearing, RopeSpan
from tension.sound.recording import Recording, Take
from tension.workflow.live.events import Answer, Reason

NEAR = 0.5
"""What begins so near to a pluck of the ear is that pluck. [s]"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Window:
    """A pluck that waits to be heard.

    Attributes
    ----------
    rope : int
        Rope number.
    recording : Recording
        The rope's recent part, up to the end of the ring.
    onset : float
        Where it begins in that part. [s]
    """

    rope: int
    recording: Recording
    onset: float


def hear_window(
    window: Window, span: RopeSpan, prior: HearingPrior | None = None
) -> Answer:
    """Hear a pluck, with those of the same rope before it.

    Parameters
    ----------
    window : Window
        The pluck.
    span : RopeSpan
        What is known of the rope.
    prior : HearingPrior, optional
        What is expected before listening.
    """
    heard = hear_rope(window.recording, span, prior)
    pluck = pluck_at(heard.plucks, window.onset)
    fundamental = heard.fundamental_frequency
    if pluck is None or not pluck.is_used:
        reason = pluck.reason if pluck is not None else Reason.NO_PLUCK
        return Answer(rope=window.rope, is_good=False, reason=reason)
    if heard.refusal is not None:
        return Answer(
            rope=window.rope,
            is_good=False,
            reason=heard.refusal.text,
            next_act=heard.refusal.next_act,
        )
    return Answer(rope=window.rope, is_good=True, fundamental_frequency=fundamental)


def hear_rope(
    recording: Recording, span: RopeSpan, prior: HearingPrior | None = None
) -> RopeHearing:
    """Hear a recording of one rope by itself.

    Parameters
    ----------
    recording : Recording
        The sound.
    span : RopeSpan
        What is known of the rope.
    prior : HearingPrior, optional
        What is expected before listening.
    """
    take = Take(recording=recording, ropes=(span.number,))
    return hear_set([take], [span], prior).ropes[0]


def pluck_at(plucks: tuple[Pluck, ...], onset: float) -> Pluck | None:
    """Find the pluck that begins about somewhere.

    Parameters
    ----------
    plucks : tuple of Pluck
        As the ear found them.
    onset : float
        From the start of the recording. [s]

    Returns
    -------
    Pluck or None
        The nearest; None if none is near.
    """
    near = [pluck for pluck in plucks if abs(pluck.start - onset) <= NEAR]
    return min(near, key=lambda pluck: abs(pluck.start - onset), default=None)
