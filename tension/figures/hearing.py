"""What was heard: the wave with its plucks, the spectrum with the comb, the decay."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from tension.figures.canvas import LINE_STYLES, frame
from tension.sound.hearing import Pluck, Recording, RopeHearing, SetHearing

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_POINTS = 4000  # points of a wave that are drawn
LEAST_GAP = 0.02
"""Plucks closer than this part of the recording are drawn without their number. [1]"""


def draw_hearing(recording: Recording, hearing: SetHearing, figure: "Figure") -> None:
    """Draw the wave with its plucks, the spectrum with the comb, and the decay."""
    wave, spectrum, decay = figure.subplots(3, 1)
    draw_wave(recording, hearing, wave)
    draw_spectrum(recording, hearing, spectrum)
    draw_decay(hearing, decay)


def draw_wave(recording: Recording, hearing: SetHearing, axes: "Axes") -> None:
    """Draw the envelope of the wave with the plucks, used and not.

    Parameters
    ----------
    recording : Recording
        The sound.
    hearing : SetHearing
        What was heard in it.
    axes : Axes
        Where to draw.

    Examples
    --------
    On the Axes of a figure of your own::

        draw_wave(heard.recording, heard.hearing, axes)
    """
    # lowest and highest sample per block, few enough to draw
    samples, rate = recording.samples, max(recording.sampling_rate, 1e-9)
    block = max(len(samples) // MOST_POINTS, 1)
    n_blocks = len(samples) // block
    blocks = samples[: n_blocks * block].reshape(n_blocks, block)
    times = (np.arange(n_blocks) + 0.5) * block / rate
    low, high = blocks.min(axis=1), blocks.max(axis=1)
    axes.fill_between(times, low, high, color="0.6", linewidth=0)
    plucks = _plucks(recording, hearing)
    duration = recording.duration
    has_room = _with_room([pluck.start for pluck in plucks], duration)
    for pluck, is_named in zip(plucks, has_room, strict=True):
        style = "-" if pluck.is_used else ":"
        axes.axvline(pluck.start, color="black", linestyle=style, linewidth=1)
        if not is_named:
            continue
        axes.annotate(
            str(pluck.index),
            (pluck.start, 0.97),
            xycoords=("data", "axes fraction"),
            xytext=(2, 0),
            textcoords="offset points",
            va="top",
            fontsize=7,
        )
    axes.set_xlim(0, max(duration, 1e-9))
    axes.margins(y=0.15)
    n_used = sum(pluck.is_used for pluck in plucks)
    frame(
        axes,
        x="Time / s",
        y="Wave / full scale",
        title=f"Plucks used (solid, {n_used}) and not used (dotted, "
        f"{len(plucks) - n_used})",
    )


def draw_spectrum(recording: Recording, hearing: SetHearing, axes: "Axes") -> None:
    """Draw the spectrum of the ring with the comb that was fitted and the hum.

    Parameters
    ----------
    recording : Recording
        The sound.
    hearing : SetHearing
        What was heard in it.
    axes : Axes
        Where to draw.

    Examples
    --------
    On the Axes of a figure of your own::

        draw_spectrum(heard.recording, heard.hearing, axes)
    """
    used = [p for p in _plucks(recording, hearing) if p.is_used]
    pluck = max(used, key=lambda p: p.signal_to_noise, default=None)
    samples, rate = recording.samples, recording.sampling_rate
    if pluck is not None:
        samples = samples[max(int(pluck.start * rate), 0) : int(pluck.end * rate)]
    if len(samples) < 16:
        frame(axes, title="No sound to draw a spectrum of", size="large")
        return
    # padded to show lines between the bins
    n_padded, window = 4 * len(samples), np.hanning(len(samples))
    spectrum = np.abs(np.fft.rfft(samples * window, n_padded)) / window.sum()
    frequencies = np.fft.rfftfreq(n_padded, 1.0 / rate)
    levels = 20.0 * np.log10(spectrum + 1e-12)
    _draw_hum(hearing, axes)
    axes.plot(frequencies, levels, color="0.4", linewidth=0.7)
    own = [r for r in hearing.ropes if pluck is None or pluck in r.plucks]
    rope = next((r for r in own if r.partials), None)
    comb = sorted(p.frequency for p in rope.partials if p.is_used) if rope else []
    # nearly all of the comb lies below
    top = min(1.25 * comb[int(0.95 * (len(comb) - 1))] if comb else 300.0, rate / 2)
    shown = levels[frequencies <= top]
    highest, floor = float(shown.max()), float(np.percentile(shown, 2))
    space = 0.3 * (highest - floor)
    axes.set_ylim(floor - space, highest + 0.5 * space)
    axes.set_xlim(0, top)
    title = "Spectrum: hum (dashed)"
    if rope is not None:
        _mark_comb(rope, axes, top)
        title = (
            f"Spectrum of pluck {pluck.index if pluck else ''}, rope {rope.number}: "
            "partials used (▲), not used (△), hum (dashed)"
        )
    frame(axes, x="Frequency / Hz", y="Level / dB", title=title)


def draw_decay(hearing: SetHearing, axes: "Axes") -> None:
    """Draw the lines with their decays: partials fall, hum does not.

    Parameters
    ----------
    hearing : SetHearing
        What was heard in a recording.
    axes : Axes
        Where to draw.

    Examples
    --------
    On the Axes of a figure of your own::

        draw_decay(heard.hearing, axes)
    """
    longest = 0.0
    for rope, style in zip(hearing.ropes, LINE_STYLES):  # noqa: B905
        known = [p for p in rope.partials if np.isfinite(p.decay_time)]
        if not known:
            continue
        known.sort(key=lambda p: p.frequency)
        times = [p.decay_time for p in known]
        longest = max(longest, *times)
        axes.plot(
            [p.frequency for p in known],
            times,
            color="black",
            linestyle=style,
            linewidth=0.6,
            marker="^",
            markersize=4,
            label=f"rope {rope.number}",
        )
    _draw_hum(hearing, axes)
    axes.set_ylim(0.0, 1.15 * longest if longest else 1.0)
    frame(
        axes,
        x="Frequency / Hz",
        y="Decay time / s",
        title="Time in which each partial (▲) falls to 1/e; hum (dashed) does not",
    )
    if len(axes.get_legend_handles_labels()[0]) > 1:
        axes.legend(fontsize=7)


def _draw_hum(hearing: SetHearing, axes: "Axes") -> None:
    """Draw the lines of the hum."""
    for line in dict.fromkeys(h for r in hearing.ropes for h in r.hum):
        axes.axvline(line.frequency, color="0.7", linestyle="--", linewidth=0.8)


def _plucks(recording: Recording, hearing: SetHearing) -> list[Pluck]:
    """All plucks of one recording, in time order."""
    found = [pluck for rope in hearing.ropes for pluck in rope.plucks]
    own = {(p.start, p.index): p for p in found if p.recording == recording.name}
    return [own[key] for key in sorted(own)]


def _mark_comb(rope: RopeHearing, axes: "Axes", top: float) -> None:
    """Mark the partials of one rope, with mode numbers where there is room."""
    partials = sorted(rope.partials, key=lambda p: p.frequency)
    shown = [partial for partial in partials if partial.frequency <= top]
    has_room = _with_room([partial.frequency for partial in shown], top)
    for partial, is_named in zip(shown, has_room, strict=True):
        number = str(partial.mode_number) if is_named else " "
        axes.annotate(
            f"{'▲' if partial.is_used else '△'}\n{number}",
            (partial.frequency, 0.02),
            xycoords=("data", "axes fraction"),
            ha="center",
            fontsize=7,
        )


def _with_room(places: Sequence[float], width: float) -> list[bool]:
    """Whether there is room for a number at places along an axis, in order."""
    last, has_room = -width, []
    for place in places:
        has_room.append(place - last > LEAST_GAP * width)
        last = place if has_room[-1] else last
    return has_room
