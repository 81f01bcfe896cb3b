"""Every table and key of a record: form, range, default, meaning.

The reader takes names, dimensions and ranges from here, and a test holds
docs/file-formats.md to it. A new key is one line here and one where its table is built.
"""

from collections.abc import Mapping

from tension.files.record_schema_others import (
    ALLOWANCE,
    ANSWER,
    CHECK,
    FINDING,
    INSTRUMENT,
    TRIM,
)
from tension.files.schema_types import NEEDED, Form, Key, Table
from tension.quantity.units import Dimension

FORMAT = 1
"""The version of the format that is read and written."""


def _text(name: str, meaning: str, default: str = "empty") -> Key:
    """A free text."""
    return Key(name=name, form=Form.TEXT, meaning=meaning, default=default)


def _word(name: str, meaning: str, default: str) -> Key:
    """One of several words."""
    return Key(name=name, form=Form.WORD, meaning=meaning, default=default)


def _whole(name: str, meaning: str, default: str = "not known") -> Key:
    """A whole number."""
    return Key(name=name, form=Form.WHOLE, meaning=meaning, default=default)


def _quantity(
    name: str,
    dimension: Dimension,
    bounds: tuple[float, float],
    meaning: str,
    default: str = "not known",
) -> Key:
    """A text with a unit."""
    return Key(
        name=name,
        form=Form.QUANTITY,
        meaning=meaning,
        default=default,
        dimension=dimension,
        least=bounds[0],
        most=bounds[1],
    )


def _quantities(
    name: str, dimension: Dimension, bounds: tuple[float, float], meaning: str
) -> Key:
    """One text with a unit, or a list of repeats."""
    return Key(
        name=name,
        form=Form.QUANTITIES,
        meaning=meaning,
        default=NEEDED,
        dimension=dimension,
        least=bounds[0],
        most=bounds[1],
    )


_LENGTH, _FORCE, _MASS = Dimension.LENGTH, Dimension.FORCE, Dimension.MASS
_FRACTION, _STIFFNESS = Dimension.FRACTION, Dimension.STIFFNESS
_FREE_LENGTHS = (0.05, 1000.0)
_SPRING_LENGTHS = (0.005, 2.0)
_THREAD_LENGTHS = (0.0, 2.0)

TOP = Table(
    name="",
    is_list=False,
    meaning="top of the file",
    keys=(_whole("format", "version of this format: 1", NEEDED),),
)
LIFT = Table(
    name="lift",
    is_list=False,
    meaning="the installation",
    keys=(
        _text("name", "name or number, address"),
        _word("drive", "traction, drum or hydraulic", "traction"),
        _word("roping", "1:1, 2:1, 4:1 or 1:2 (roped jack)", "1:1"),
        _quantity(
            "car_mass",
            _MASS,
            (10.0, 2e5),
            "all that hangs on the car side; checks the sum of the tensions",
        ),
        _quantity(
            "counterweight_mass",
            _MASS,
            (10.0, 2e5),
            "all that hangs on the counterweight side",
        ),
    ),
)
VISIT = Table(
    name="visit",
    is_list=False,
    meaning="who, when and where",
    keys=(
        Key(
            name="date",
            form=Form.DATE,
            meaning="day of the visit, year-month-day, without quotes",
            default="not recorded",
        ),
        _text("measured_by", "who measured"),
        _text("qualification", "licence or qualification of that person"),
        _text("witness", "who saw it"),
        _text("place", "where: machine room, car top, pit"),
        _text("firm", "firm of the person who measured"),
        _text("address", "site"),
        _text("car_number", "number of the car or of the lift on the plate"),
        _text("rated_load", "as on the plate"),
        _text("speed", "as on the plate"),
        _text("machine", "where the machine is"),
        _text("rope_maker", "who made the ropes"),
        _text("rope_grade", "grade as on the tag or certificate"),
        _text("rope_installed", "month and year"),
        _text("rope_tag", "text of the tag as read"),
        _text("linear_density_from", "tag, certificate, data sheet, table, assumed"),
        _text("lengths_read", "how the free lengths were read"),
        _text("brake", "whether the brake was set"),
        _text("doors", "open or closed"),
        _text("temperature", "if taken"),
        _text("note", "anything a reader must know"),
    ),
)
RULE = Table(
    name="rule",
    is_list=False,
    meaning="what decides; left out: 10 % below-highest, the program's own figure",
    keys=(
        _text("use", "a rule of the catalogue (rules.md)", "the program's own"),
        _word(
            "metric",
            "below-highest (max - min)/max, above-lowest (max - min)/min, off-mean "
            "max|T - mean|/mean, range-of-mean (max - min)/mean",
            "that of the rule",
        ),
        _quantity(
            "limit",
            _FRACTION,
            (1e-4, 0.99),
            "equal at or under it; beside `use` the rule counts as changed by the user",
            "that of the rule",
        ),
        _text("source", "where a rule of your own is written down; not beside `use`"),
        _quantity(
            "goal",
            _FRACTION,
            (1e-4, 0.99),
            "what a plan of turns aims at; never decides the result",
            "none",
        ),
    ),
)
SET = Table(
    name="set",
    is_list=False,
    meaning="the ropes of the set",
    keys=(
        _whole(
            "ropes", "how many, 1 to 12; one rope is read but gives no result", NEEDED
        ),
        _quantity("diameter", _LENGTH, (0.003, 0.06), "nominal diameter"),
        _text(
            "construction",
            'such as "8x19 FC"; with the diameter it gives the linear density from a '
            'table; "coated": shares only, unless a data sheet gives the linear '
            "density",
        ),
        _quantity(
            "linear_density",
            Dimension.LINEAR_DENSITY,
            (0.01, 20.0),
            "mass per length of one rope",
            "from diameter and construction; else shares only",
        ),
        _quantity("rope_length", _LENGTH, (0.5, 5000.0), "hitch to hitch"),
        _quantity(
            "axial_rigidity",
            _FORCE,
            (1e4, 1e9),
            "EA of one rope: force over relative stretch",
            "from diameter and construction",
        ),
        _text(
            "sockets",
            '"one height" if all sockets of the hitch stand level',
            "not said: lengths per rope are needed",
        ),
    ),
)
UNCERTAINTY = Table(
    name="uncertainty",
    is_list=False,
    meaning="standard uncertainties of what a person reads",
    keys=(
        _quantity(
            "free_length", _LENGTH, (0.0, 1.0), "of each rope's free length", "5 mm"
        ),
        _quantity(
            "linear_density", _FRACTION, (0.0, 0.5), "shared by the whole set", "5 %"
        ),
        _quantity("scale", _FRACTION, (0.0, 0.5), "one reading of the scale", "2 %"),
        _quantity(
            "stopwatch", Dimension.TIME, (0.0, 5.0), "of one start and stop", "0.12 s"
        ),
        _quantity(
            "spring_length", _LENGTH, (0.0, 0.1), "of one spring length", "0.5 mm"
        ),
        _quantity(
            "spring_rate", _FRACTION, (0.0, 1.0), "between springs of a hitch", "5 %"
        ),
    ),
)
SPAN = Table(
    name="span",
    is_list=True,
    meaning="a stretch of rope that is plucked or pulled",
    keys=(
        _text("name", "the series name it", NEEDED),
        _word("side", "car or counterweight", "car"),
        _text("position", "where the car stands"),
        _quantity(
            "free_length",
            _LENGTH,
            _FREE_LENGTHS,
            "lower node to where the rope leaves the sheave, of a rope without stagger",
            "not known: lengths per rope are needed",
        ),
        _word(
            "length_from",
            "node at the hitch end: socket, or clip where the tail is tied to the live "
            "rope above the socket",
            "socket",
        ),
        _word("ends", "socket-sheave, socket-socket or sheave-sheave", "socket-sheave"),
        _word("hitch_end", "lower or upper: where the nuts are", "lower"),
    ),
)
HITCH = Table(
    name="hitch",
    is_list=True,
    meaning="where the nuts are; for plans of turns and springs",
    keys=(
        _word(
            "at", "car, counterweight, dead-end-car or dead-end-counterweight", NEEDED
        ),
        Key(
            name="rows",
            form=Form.ROWS,
            meaning="rope numbers row by row as seen facing the nuts; each rope once",
            default="one row",
        ),
        _text("thread", 'of the rods: "M16", "M16 left", "M16x1.5", "5/8-11"'),
        _word("buffer", "spring, rubber, none or beam", "spring"),
        _quantity("spring_rate", _STIFFNESS, (1e3, 1e8), "of one spring"),
        _quantity("spring_wire", _LENGTH, (0.001, 0.08), "diameter of the wire"),
        _quantity("spring_coil", _LENGTH, (0.005, 0.5), "mean diameter of the coil"),
        Key(
            name="spring_active_coils",
            form=Form.NUMBER,
            meaning="active coils, without the dead ends; no quotes",
        ),
        _text("spring_material", "such as music wire, chrome-vanadium", "spring steel"),
        _quantity("spring_free_length", _LENGTH, _SPRING_LENGTHS, "without load"),
        _quantity("spring_solid_length", _LENGTH, _SPRING_LENGTHS, "coils touching"),
        _quantity(
            "rod_free", _LENGTH, (0.0, 5.0), "length of the rod that is free to swing"
        ),
    ),
)
ROPE = Table(
    name="rope",
    is_list=True,
    meaning="only what differs from rope to rope",
    keys=(
        _whole("number", "painted on the rope or the rod", NEEDED),
        _quantity(
            "stagger",
            _LENGTH,
            (-10.0, 10.0),
            "how much longer its free length is than the span's; may be negative",
            "0, or not known",
        ),
        Key(
            name="free_lengths",
            form=Form.LENGTHS,
            meaning='free length read on this rope, by span: { "top" = "3.55 m" }',
            default="the span's with the stagger",
            dimension=_LENGTH,
            least=_FREE_LENGTHS[0],
            most=_FREE_LENGTHS[1],
        ),
        _quantity("take_up_left", _LENGTH, _THREAD_LENGTHS, "thread left to the plate"),
        _quantity("ease_left", _LENGTH, _THREAD_LENGTHS, "thread left away from it"),
        _whole("groove", "of the sheave"),
    ),
)
SERIES = Table(
    name="series",
    is_list=True,
    meaning="one round over the set: same span, load, people",
    keys=(
        _text("name", "the readings name it", NEEDED),
        _text("span", "name of the span", "the only span"),
        _word("arrived", "direction the car came from: up or down", "not recorded"),
        _text("taken", 'date, time, offset: "2026-11-20 10:12 +00:00"', "not recorded"),
        _text("load", "in the car", "not recorded"),
        _text("people", "who stands on the car", "not recorded"),
        _word("fall", "live or dead, with 2:1 roping", "not recorded"),
        _word("neighbours", "free or damped while a rope rings", "not recorded"),
    ),
)
_SERIES_NAME = _text("series", "name of the series", "the only series")
_ROPE_NUMBER = _whole("rope", "rope number", NEEDED)
READING = Table(
    name="reading",
    is_list=True,
    meaning="one reading; two of one kind and rope in a series are repeats",
    keys=(
        _SERIES_NAME,
        _word("kind", "pluck, pull, returns or spring", NEEDED),
        _ROPE_NUMBER,
        Key(
            name="recording",
            form=Form.PATH,
            meaning="pluck: sound file beside or below the record",
            default="needed for a pluck",
        ),
        Key(
            name="ropes",
            form=Form.WHOLES,
            meaning="pluck: several ropes in one recording, in the order plucked",
            default="the one rope",
        ),
        _whole("plucks_each", "pluck: how many plucks each rope got"),
        _quantities("force", _FORCE, (1e-3, 1e5), "pull: reading of the scale"),
        _quantities("deflection", _LENGTH, (1e-4, 2.0), "pull: sideways"),
        _word("hold", "pull: held the same on all: deflection or force", "deflection"),
        _quantity(
            "at", _LENGTH, _FREE_LENGTHS, "pull: from the lower node", "mid-span"
        ),
        _quantity("scale_zero", _FORCE, (-1e4, 1e4), "pull: scale without load", "0 N"),
        _whole("count", "returns: round trips of the wave counted", NEEDED),
        _quantities(
            "elapsed", Dimension.TIME, (1e-3, 1e4), "returns: time of the count"
        ),
        _word("hitch", "spring: at which hitch", NEEDED),
        _quantities("length", _LENGTH, _SPRING_LENGTHS, "spring: working length"),
    ),
)
KEYS_OF_READING: Mapping[str, tuple[str, ...]] = {
    "pluck": ("rope", "recording", "ropes", "plucks_each"),
    "pull": ("rope", "force", "deflection", "hold", "at", "scale_zero"),
    "returns": ("rope", "count", "elapsed"),
    "spring": ("rope", "hitch", "length"),
}
"""Keys that belong to one kind of reading, beside series and kind."""

TURN = Table(
    name="turn",
    is_list=True,
    meaning="a nut that was turned",
    keys=(
        _text("after", "the series after which it was made", "the only series"),
        _word("hitch", "at which hitch", "the only hitch"),
        _ROPE_NUMBER,
        _quantity(
            "turns",
            Dimension.TURNS,
            (-200.0, 200.0),
            'positive: nut towards the plate, tension up; such as "-1 1/4"',
            NEEDED,
        ),
        _whole(
            "round_trips_after",
            "round trips the car ran before measuring again",
            "not recorded: nothing is learned from the turn",
        ),
    ),
)
EXCLUSION = Table(
    name="exclusion",
    is_list=True,
    meaning="a reading left out, and why; never taken out of the record",
    keys=(
        _SERIES_NAME,
        _whole("rope", "rope left out", "not told: then the recording is"),
        Key(
            name="recording",
            form=Form.PATH,
            meaning="recording left out, as a reading names it",
            default="every one of the rope",
        ),
        _whole("pluck", "pluck of the recording, counted from 1", "all"),
        _text("reason", "why", NEEDED),
        _text("by", "who decided"),
    ),
)
OWN_TABLES = (
    LIFT,
    VISIT,
    RULE,
    SET,
    UNCERTAINTY,
    SPAN,
    HITCH,
    ROPE,
    SERIES,
    READING,
    TURN,
    EXCLUSION,
)
TABLES = (*OWN_TABLES, ALLOWANCE, FINDING, CHECK, INSTRUMENT, ANSWER, TRIM)
"""All tables, in the order of a record; those of the reader itself first."""


def record_fields() -> tuple[Table, ...]:
    """Give every table of a record with its keys.

    Returns
    -------
    tuple of Table
        The top of the file first, then in the order of a record.
    """
    return (TOP, *TABLES)
