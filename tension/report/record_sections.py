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
from tension.report.document import (
    Block,
    Pairs,
    Paragraph,
    Section,
    joined,
    listed,
)
from tension.report.evidence import Evidence
from tension.telling.numbers import count_text, typed_and_si, written
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
    instruments = listed(
        "Instruments",
        ("What", "Name", "Serial", "Setting", "Last check", "Note"),
        (
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
        otherwise="Instruments and their last check: not recorded.",
    )
    return Section(
        heading="Who, when, with what",
        blocks=(Pairs(rows=tuple(rows)), *instruments),
    )


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
    return Section(
        heading="Lift and ropes", blocks=(Pairs(rows=rows), *_tables(rope_set))
    )


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
    return [
        *listed(
            "Free lengths",
            ("Span", "Side, position", "Free length", "From", "Ends"),
            map(_span_row, rope_set.spans),
            widths=(1.2, 1.3, 1.2, 0.7, 1.1),
        ),
        *listed(
            "Hitches",
            ("At", "Rows, facing the nuts", "Thread", "Buffer", "Spring"),
            map(_hitch_row, rope_set.hitches),
            widths=(0.8, 1.2, 0.7, 0.7, 2.0),
        ),
        *listed(
            "Rope by rope",
            (
                "Rope",
                "Stagger",
                "Free length read",
                "Thread left",
                "Groove",
                "Mass per length",
            ),
            (_rope_row(rope) for rope in rope_set.ropes if _differs(rope)),
            widths=(0.5, 1.0, 1.7, 1.5, 0.6, 1.0),
        ),
    ]


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
    spring = (f"{name} {typed_and_si(q)}" for name, q in parts if q)
    return (
        hitch.at.value,
        rows or "–",
        hitch.thread.name if hitch.thread else "–",
        hitch.buffer.value,
        joined(*spring, by=", "),
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
    left = (("take up", rope.take_up_left), ("ease", rope.ease_left))
    return (
        written(float(rope.number)),
        typed_and_si(rope.stagger),
        joined(*(f"{span}: {typed_and_si(q)}" for span, q in rope.free_lengths)),
        joined(*(f"{name} {typed_and_si(q)}" for name, q in left if q)),
        count_text(rope.groove),
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
        blocks += listed(
            f'Readings of "{series.name}"',
            ("Rope", "Kind", "As typed", "In SI"),
            (_reading_row(r) for r in visit.readings if r.series == series.name),
            widths=(0.6, 0.7, 2.2, 1.8),
        )
    if not blocks:
        blocks.append(Paragraph(text="No readings in this record."))
    return Section(heading="Readings", blocks=tuple(blocks))


def _reading_row(reading: Reading) -> tuple[str, ...]:
    """One reading, as typed and in SI."""
    if isinstance(reading, PluckReading):
        n_each = reading.plucks_each
        each = f", {count_text(n_each)} plucks each" if n_each else ""
        ropes = " ".join(map(str, reading.ropes))
        return (ropes, "pluck", f"{reading.recording}{each}", "–")
    kind, typed, read = _measured(reading)
    return (count_text(reading.rope), kind, typed, read)


def _measured(
    reading: PullReading | ReturnsReading | SpringReading,
) -> tuple[str, str, str]:
    """Kind of a reading of one rope, as typed and in SI."""
    match reading:
        case PullReading():
            named = (
                ("force", reading.forces),
                ("deflection", reading.deflections),
            )
            single = (("at", reading.at), ("scale zero", reading.scale_zero))
            more = [(name, (one,)) for name, one in single if one is not None]
            hold = f"same {reading.hold.value} on all ropes"
            typed = [f"{name} {_typed(many)}" for name, many in (*named, *more)]
            read = [f"{name} {_in_si(many)}" for name, many in (*named, *more)]
            return "side pull", joined(*typed[:2], hold, *typed[2:]), joined(*read)
        case ReturnsReading():
            typed_text = f"{reading.count} returns in {_typed(reading.elapsed)}"
            return "returns", typed_text, _in_si(reading.elapsed)
        case SpringReading():
            kind = f"spring, {reading.hitch.value}"
            return kind, _typed(reading.lengths), _in_si(reading.lengths)


def _typed(readings: Iterable[Quantity]) -> str:
    """Readings as typed."""
    return ", ".join(one.text for one in readings)


def _in_si(readings: Iterable[Quantity]) -> str:
    """Readings in SI."""
    return ", ".join(written(one.value, one.dimension) for one in readings)


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
    own, typed = "the program's own figure", "typed in the record"
    return tuple(
        (
            f"Uncertainty, {_label(name).lower()}",
            f"{written(value, dimension)} standard, "
            f"{typed if name in used.typed else own}",
        )
        for name, value, dimension in forms
    )


def _label(key: str) -> str:
    """A key of the record as a label."""
    return key.replace("_", " ").capitalize()
