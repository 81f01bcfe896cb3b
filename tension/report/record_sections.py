"""Who, with what, on which ropes, under which condition, and what was read."""

from collections.abc import Iterable, Sequence

from tension.files.visit import Visit
from tension.installation import Hitch, Rope, RopeSet, Span
from tension.measurement.readings import (
    PluckReading,
    PullReading,
    Reading,
    ReturnsReading,
    SpringReading,
)
from tension.quantity.units import Dimension, Quantity
from tension.report.document import Block, Grid, Pairs, Paragraph, Section
from tension.report.evidence import Evidence
from tension.telling.numbers import typed_and_si, written
from tension.telling.results import NOT_RECORDED, series_words

_WHO = (
    "date",
    "measured_by",
    "qualification",
    "firm",
    "witness",
    "place",
    "lengths_read",
    "brake",
    "doors",
    "temperature",
    "note",
)
_LIFT = ("address", "car_number", "rated_load", "speed", "machine")
_ROPES = (
    "rope_maker",
    "rope_grade",
    "rope_installed",
    "rope_tag",
    "linear_density_from",
)
"""Particulars that a record should have; a missing one is told."""


def who_section(evidence: Evidence) -> Section:
    """Who measured, when, where, who witnessed, with which instruments."""
    visit = evidence.visit
    rows = _particulars(visit, _WHO)
    rows += [
        (_label(key), value)
        for key, value in visit.particulars
        if key not in {*_WHO, *_LIFT, *_ROPES} and value
    ]
    blocks: list[Block] = [Pairs(rows=tuple(rows))]
    if visit.instruments:
        blocks.append(
            Grid(
                caption="Instruments",
                headers=("What", "Name", "Serial", "Setting", "Last check", "Note"),
                rows=tuple(
                    (
                        one.what,
                        one.name or "–",
                        one.serial or "–",
                        one.setting or "–",
                        one.last_check or NOT_RECORDED,
                        one.note or "–",
                    )
                    for one in visit.instruments
                ),
            )
        )
    else:
        blocks.append(Paragraph(text="Instruments and their last check: not recorded."))
    return Section(heading="Who, when, with what", blocks=tuple(blocks))


def ropes_section(evidence: Evidence) -> Section:
    """The lift and its ropes, and where each value comes from."""
    visit = evidence.visit
    lift, rope_set = visit.lift, visit.rope_set
    rows = (
        ("Lift", lift.name or NOT_RECORDED),
        *_particulars(visit, _LIFT),
        ("Drive and roping", f"{lift.drive.value}, {lift.roping.value}"),
        ("Mass, car side", typed_and_si(lift.car_mass)),
        ("Mass, counterweight side", typed_and_si(lift.counterweight_mass)),
        ("Number of ropes", written(float(rope_set.n_ropes))),
        ("Nominal diameter", typed_and_si(rope_set.diameter)),
        ("Construction", rope_set.construction or NOT_RECORDED),
        ("Mass per length", _density_words(rope_set)),
        ("Rope length, hitch to hitch", typed_and_si(rope_set.rope_length)),
        ("Axial rigidity", typed_and_si(rope_set.axial_rigidity)),
        (
            "Sockets",
            "at one height" if rope_set.has_sockets_at_one_height else "not said",
        ),
        *_particulars(visit, _ROPES),
    )
    blocks: list[Block] = [Pairs(rows=rows)]
    blocks += _tables(rope_set)
    return Section(heading="Lift and ropes", blocks=tuple(blocks))


def _particulars(visit: Visit, keys: Sequence[str]) -> list[tuple[str, str]]:
    """Particulars as typed; those that are missing are told."""
    given = dict(visit.particulars)
    return [(_label(key), given.get(key) or NOT_RECORDED) for key in keys]


def _density_words(rope_set: RopeSet) -> str:
    """Mass per length with where it comes from."""
    if rope_set.linear_density is not None:
        return f"{typed_and_si(rope_set.linear_density)}, as typed in the record"
    if rope_set.diameter is not None and rope_set.construction:
        return "from table, by diameter and construction"
    return "not given: shares only, no newtons"


def _tables(rope_set: RopeSet) -> list[Block]:
    """Spans, hitches and what differs rope by rope."""
    blocks: list[Block] = []
    if rope_set.spans:
        blocks.append(
            Grid(
                caption="Free lengths",
                headers=("Span", "Side, position", "Free length", "From", "Ends"),
                rows=tuple(_span_row(span) for span in rope_set.spans),
                widths=(1.2, 1.3, 1.2, 0.7, 1.1),
            )
        )
    if rope_set.hitches:
        blocks.append(
            Grid(
                caption="Hitches",
                headers=("At", "Rows, facing the nuts", "Thread", "Buffer", "Spring"),
                rows=tuple(_hitch_row(hitch) for hitch in rope_set.hitches),
                widths=(0.8, 1.2, 0.7, 0.7, 2.0),
            )
        )
    told = [_rope_row(rope) for rope in rope_set.ropes if _differs(rope)]
    if told:
        blocks.append(
            Grid(
                caption="Rope by rope",
                headers=(
                    "Rope",
                    "Stagger",
                    "Free length read",
                    "Thread left",
                    "Groove",
                    "Mass per length",
                ),
                rows=tuple(told),
                widths=(0.5, 1.0, 1.7, 1.5, 0.6, 1.0),
            )
        )
    return blocks


def _span_row(span: Span) -> tuple[str, ...]:
    """One span."""
    return (
        span.name,
        f"{span.side.value} side, {span.position or 'position not recorded'}",
        typed_and_si(span.free_length),
        span.length_from.value,
        f"{span.ends.value}, hitch {span.hitch_end.value}",
    )


def _hitch_row(hitch: Hitch) -> tuple[str, ...]:
    """One hitch."""
    rows = "; ".join(" ".join(map(str, row)) for row in hitch.rows)
    parts = (
        ("rate", hitch.spring_rate),
        ("wire", hitch.spring_wire),
        ("coil", hitch.spring_coil),
        ("free", hitch.spring_free_length),
        ("solid", hitch.spring_solid_length),
        ("rod free", hitch.rod_free),
    )
    spring = ", ".join(f"{name} {typed_and_si(q)}" for name, q in parts if q)
    return (
        hitch.at.value,
        rows or "–",
        hitch.thread.name if hitch.thread else "–",
        hitch.buffer.value,
        spring or "–",
    )


def _differs(rope: Rope) -> bool:
    """Whether the record tells anything of this rope alone."""
    told = (
        rope.stagger,
        rope.take_up_left,
        rope.ease_left,
        rope.groove,
        rope.linear_density,
    )
    return bool(rope.free_lengths) or any(one is not None for one in told)


def _rope_row(rope: Rope) -> tuple[str, ...]:
    """One rope."""
    read = "; ".join(f"{span}: {typed_and_si(q)}" for span, q in rope.free_lengths)
    left = "; ".join(
        f"{name} {typed_and_si(q)}"
        for name, q in (("take up", rope.take_up_left), ("ease", rope.ease_left))
        if q
    )
    return (
        written(float(rope.number)),
        typed_and_si(rope.stagger),
        read or "–",
        left or "–",
        "–" if rope.groove is None else written(float(rope.groove)),
        typed_and_si(rope.linear_density) if rope.linear_density else "the set's",
    )


def readings_section(evidence: Evidence) -> Section:
    """Every reading as typed and in SI, series by series."""
    visit = evidence.visit
    blocks: list[Block] = []
    for series in visit.series:
        taken = series.taken or "time not recorded"
        blocks.append(
            Paragraph(
                text=f'Series "{series.name}", span "{series.span}", {taken}: '
                f"{series_words(series)}."
            )
        )
        rows = [
            row
            for reading in visit.readings
            if reading.series == series.name
            for row in _reading_rows(reading)
        ]
        if rows:
            blocks.append(
                Grid(
                    caption=f'Readings of "{series.name}"',
                    headers=("Rope", "Kind", "As typed", "In SI"),
                    rows=tuple(rows),
                    widths=(0.6, 0.7, 2.2, 1.8),
                )
            )
    if not blocks:
        blocks.append(Paragraph(text="No readings in this record."))
    return Section(heading="Readings", blocks=tuple(blocks))


def _reading_rows(reading: Reading) -> list[tuple[str, ...]]:
    """One reading, as typed and in SI."""
    match reading:
        case PluckReading():
            each = (
                f", {written(float(reading.plucks_each))} plucks each"
                if reading.plucks_each
                else ""
            )
            ropes = " ".join(map(str, reading.ropes))
            return [(ropes, "pluck", f"{reading.recording}{each}", "–")]
        case PullReading():
            typed = [
                f"force {_typed(reading.forces)}",
                f"deflection {_typed(reading.deflections)}",
                f"same {reading.hold.value} on all ropes",
            ]
            read = [
                f"force {_in_si(reading.forces)}",
                f"deflection {_in_si(reading.deflections)}",
            ]
            for name, one in (("at", reading.at), ("scale zero", reading.scale_zero)):
                if one is not None:
                    typed.append(f"{name} {one.text}")
                    read.append(f"{name} {_in_si((one,))}")
            return [(_number(reading.rope), "side pull", _joined(typed), _joined(read))]
        case ReturnsReading():
            typed = [f"{reading.count} returns in {_typed(reading.elapsed)}"]
            return [
                (
                    _number(reading.rope),
                    "returns",
                    _joined(typed),
                    _in_si(reading.elapsed),
                )
            ]
        case SpringReading():
            return [
                (
                    _number(reading.rope),
                    f"spring, {reading.hitch.value}",
                    _typed(reading.lengths),
                    _in_si(reading.lengths),
                )
            ]


def _number(rope: int) -> str:
    """A rope number."""
    return written(float(rope))


def _typed(readings: Iterable[Quantity]) -> str:
    """Readings as typed."""
    return ", ".join(one.text for one in readings)


def _in_si(readings: Iterable[Quantity]) -> str:
    """Readings in SI."""
    return ", ".join(written(one.value, one.dimension) for one in readings)


def _joined(parts: Iterable[str]) -> str:
    """Parts of a cell."""
    return "; ".join(parts)


def settings_rows(visit: Visit) -> tuple[tuple[str, str], ...]:
    """Write the uncertainties used, typed or the program's own."""
    used = visit.rope_set.uncertainties
    forms: tuple[tuple[str, float, Dimension], ...] = (
        ("free_length", used.free_length, Dimension.LENGTH),
        ("linear_density", used.linear_density, Dimension.FRACTION),
        ("scale", used.scale, Dimension.FRACTION),
        ("stopwatch", used.stopwatch, Dimension.TIME),
        ("spring_length", used.spring_length, Dimension.LENGTH),
        ("spring_rate", used.spring_rate, Dimension.FRACTION),
    )
    return tuple(
        (
            f"Uncertainty, {_label(name).lower()}",
            f"{written(value, dimension)} standard, {_origin(name, used.typed)}",
        )
        for name, value, dimension in forms
    )


def _origin(name: str, typed: Sequence[str]) -> str:
    """Whether the record gave an uncertainty."""
    return "typed in the record" if name in typed else "the program's own figure"


def _label(key: str) -> str:
    """A key of the record as a label."""
    return key.replace("_", " ").capitalize()
