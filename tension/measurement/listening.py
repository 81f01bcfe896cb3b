"""What is known of a span before listening, and the rounds in which a set is heard."""

import itertools
import math
from collections.abc import Sequence

from tension.errors import FileFormatError
from tension.installation import Ends, Lift, RopeSet, Span
from tension.measurement.rope_figures import find_free_lengths
from tension.measurement.rounds import HeardRound, merge_rounds
from tension.measurement.stiffness import HITCHES_OF_SIDE
from tension.physics.own_weight import STANDARD_GRAVITY
from tension.sound.hear import hear_set
from tension.sound.hearing import HearingPrior, RopeSpan, SetHearing
from tension.sound.recording import Recording, Take

_CLAMPED_ENDS = {Ends.SOCKET_SHEAVE: 1, Ends.SOCKET_SOCKET: 2, Ends.SHEAVE_SHEAVE: 0}


def find_spans(rope_set: RopeSet, span: Span) -> tuple[RopeSpan, ...]:
    """Tell what is known of each rope's span before listening."""
    lengths = find_free_lengths(rope_set, span)
    here = HITCHES_OF_SIDE[span.side]
    rods = [h.rod_free.value for h in rope_set.hitches if h.at in here and h.rod_free]
    return tuple(
        RopeSpan(
            number=number,
            free_length=lengths.lengths.get(number),
            rod_free=rods[0] if rods else None,
            n_clamped_ends=_CLAMPED_ENDS[span.ends],
        )
        for number in range(1, rope_set.n_ropes + 1)
    )


def find_prior(rope_set: RopeSet, lift: Lift, span: Span) -> HearingPrior:
    """Expect the wave speed that the mass on that side would give, if it is known."""
    mass = lift.car_mass if span.side.value == "car" else lift.counterweight_mass
    density = rope_set.linear_density
    if mass is None or density is None:
        return HearingPrior()
    n_parts = rope_set.n_ropes * lift.roping.n_falls
    tension = mass.value * STANDARD_GRAVITY / n_parts
    return HearingPrior(wave_speed=math.sqrt(tension / density.value))


def duration_of(recording: Recording) -> float:
    """Tell how long a recording lasts; nought for one that could not be read. [s]."""
    return len(recording.samples) / (recording.sampling_rate or 1.0)


def hear_rounds(
    takes: Sequence[Take],
    spans: Sequence[RopeSpan],
    prior: HearingPrior,
    longest: float,
) -> SetHearing:
    """Hear every recording of a rope for itself, amid one recording of each other rope.

    Recordings of one rope that contradict each other refuse it.

    Raises
    ------
    FileFormatError
        If several rounds are longer together than what is heard in a bearable time [s].
    """
    rounds: list[list[Take]] = [[]]
    for take in takes:  # each rope once at most in a round
        free = next((own for own in rounds if not _has_any(own, take)), None)
        if free is None:
            rounds.append(free := [])
        free.append(take)
    filled = [list(own) for own in rounds]
    for full, take in itertools.product(filled, takes):
        if take.recording.refusal is None and not _has_any(full, take):
            full.append(take)
    seconds = sum(duration_of(take.recording) for own in filled for take in own)
    if len(rounds) > 1 and seconds > longest:
        raise FileFormatError(
            f"with {len(rounds)} recordings of one rope the whole set is heard "
            f"{len(rounds)} times, more than {longest / 60:.0f} min of sound; cut out "
            "the parts with the plucks, or leave some recordings out with an exclusion"
        )
    heard = [hear_set(full, spans, prior) for full in filled]
    names = [
        {n: take.recording.name for take in own for n in take.ropes} for own in rounds
    ]
    both = zip(heard, names, strict=True)
    return merge_rounds([HeardRound(hearing=h, recordings=n) for h, n in both])


def _has_any(own: Sequence[Take], take: Take) -> bool:
    """Whether a rope of a recording is in a round."""
    return any(set(take.ropes) & set(other.ropes) for other in own)
