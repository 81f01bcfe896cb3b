"""What the result was drawn from, one by one: plucks, springs, thread, photos."""

from math import isfinite

from tension.files.visit import Visit
from tension.quantity.units import Dimension
from tension.report.document import Block, Bullets, Grid, Paragraph, Photo, Section
from tension.report.evidence import Evidence, Manner, ShownPhoto
from tension.sound.hearing import Pluck, SetHearing
from tension.telling.comparisons import SPRING_HEADERS, spring_lines, spring_rows
from tension.telling.numbers import typed_and_si, written


def plucks_grid(hearing: SetHearing | None) -> Grid | None:
    """Every pluck of a series with what was heard of it alone.

    Parameters
    ----------
    hearing : SetHearing or None
        What was heard; None without recordings.

    Returns
    -------
    Grid or None
        One row per pluck; None without any.
    """
    ropes = hearing.ropes if hearing else ()
    rows = [
        _pluck_row(number, pluck)
        for number, rope in enumerate(ropes, start=1)
        for pluck in dict.fromkeys(rope.plucks)
    ]
    if not rows:
        return None
    return Grid(
        caption="Plucks, each heard by itself",
        headers=("Rope", "Recording", "No.", "At", "Pitch", "Over the noise", "Used"),
        rows=tuple(rows),
        widths=(0.5, 1.9, 0.4, 0.8, 1.0, 0.9, 1.8),
        right=(2, 3, 4, 5),
    )


def _pluck_row(rope: int, pluck: Pluck) -> tuple[str, ...]:
    """One pluck; what was not determined is a dash."""
    pitch, noise = pluck.fundamental_frequency, pluck.signal_to_noise
    return (
        written(float(rope)),
        pluck.recording,
        written(float(pluck.index)),
        written(pluck.start, Dimension.TIME, uncertainty=0.05),
        written(
            pitch if isfinite(pitch) else None, Dimension.FREQUENCY, uncertainty=0.003
        ),
        written(noise if isfinite(noise) else None, uncertainty=0.5, unit="dB"),
        "yes" if pluck.is_used else f"no: {pluck.reason or 'not told'}",
    )


def springs_section(evidence: Evidence, manner: Manner) -> Section | None:
    """Spring lengths against the other evidence, a result of their own.

    Returns
    -------
    Section or None
        None without spring lengths.
    """
    if evidence.springs is None:
        return None
    lines = [
        manner.say(line.text) for line in spring_lines(evidence.springs, manner.units)
    ]
    return Section(
        heading="Spring lengths",
        blocks=(
            Paragraph(
                text="What the springs say by their lengths, beside what the other "
                "evidence says without them."
            ),
            Grid(
                caption="",
                headers=SPRING_HEADERS,
                rows=spring_rows(evidence.springs, manner.units),
                right=(0, 1, 2, 3, 4),
            ),
            Bullets(items=tuple(line for line in lines if line.strip())),
        ),
    )


def thread_grid(visit: Visit) -> Grid | None:
    """Thread left on each rod, as written and after the turns that were made.

    Returns
    -------
    Grid or None
        None where no thread was read.
    """
    threads = {h.at: h.thread.pitch for h in visit.rope_set.hitches if h.thread}
    rows = []
    for rope in visit.rope_set.ropes:
        if rope.take_up_left is None and rope.ease_left is None:
            continue
        turned = [
            t for t in visit.turns if t.rope == rope.number and t.hitch in threads
        ]
        drawn = sum(t.turns.value * threads[t.hitch] for t in turned)
        left = [
            None if read is None else read.value + sign * drawn
            for read, sign in ((rope.take_up_left, -1.0), (rope.ease_left, 1.0))
        ]
        rows.append(
            (
                written(float(rope.number)),
                typed_and_si(rope.take_up_left),
                typed_and_si(rope.ease_left),
                written(sum(t.turns.value for t in turned), Dimension.TURNS),
                *(written(one, Dimension.LENGTH, uncertainty=0.5e-3) for one in left),
            )
        )
    if not rows:
        return None
    return Grid(
        caption="Thread left: as read, and as left by the turns written and the pitch",
        headers=(
            "Rope",
            "Take up",
            "Ease",
            "Turns",
            "Take up, as left",
            "Ease, as left",
        ),
        rows=tuple(rows),
        right=(1, 2, 3, 4, 5),
    )


def photos_section(evidence: Evidence) -> Section | None:
    """Every photo as a picture with caption and checksum.

    Returns
    -------
    Section or None
        None without photos.
    """
    if not evidence.photos:
        return None
    return Section(
        heading="Photos",
        blocks=(
            Paragraph(
                text="Made smaller to be printed, without place and time of the "
                "camera; the checksum is of the file as it was received."
            ),
            *(_photo(number, one) for number, one in enumerate(evidence.photos, 1)),
        ),
    )


def _photo(number: int, photo: ShownPhoto) -> Block:
    """One photo, or why it is not shown."""
    caption = (
        f"{written(float(number))}: {photo.caption or 'not said what it shows'}. "
        f"{photo.file}, SHA-256 {photo.sha256 or 'none'}"
    )
    if not photo.jpeg:
        return Paragraph(text=f"{caption}. Not shown: {photo.why_not}.")
    return Photo(jpeg=photo.jpeg, alt=photo.caption or photo.file, caption=caption)
