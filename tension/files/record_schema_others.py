"""Tables of a record that other modules read: their keys, for the page that tells them.

A test holds the names to those modules.
"""

from tension.files.schema_types import NEEDED, Form, Key, Table
from tension.quantity.units import Dimension

_LENGTH = Dimension.LENGTH


def _key(name: str, form: Form, meaning: str, default: str = "not recorded") -> Key:
    """A key without a dimension."""
    return Key(name=name, form=form, meaning=meaning, default=default)


def _measured(
    name: str, dimension: Dimension, meaning: str, form: Form = Form.QUANTITY
) -> Key:
    """A text with a unit."""
    return Key(
        name=name,
        form=form,
        meaning=meaning,
        default="not recorded",
        dimension=dimension,
    )


ALLOWANCE = Table(
    name="allowance",
    is_list=False,
    meaning="which table of broken wires and diameters is open, and who says so; "
    "without table, edition, page, confirmed_by and date nothing is compared",
    keys=(
        _key("table", Form.TEXT, "a table of the catalogue, or of the file"),
        _key("edition", Form.TEXT, "edition that the inspector has open"),
        _key("page", Form.TEXT, "page or clause"),
        _key("confirmed_by", Form.TEXT, "who has it open"),
        _key("date", Form.DATE, "when"),
        _key(
            "file", Form.PATH, "tables of your own beside the record", "the catalogue"
        ),
        _key("rope_class", Form.TEXT, 'such as "8x19"', "from the construction"),
        _key(
            "monthly_inspection",
            Form.FLAG,
            "whether a competent person inspects the ropes every month",
            "false",
        ),
    ),
)
FINDING = Table(
    name="finding",
    is_list=True,
    meaning="condition: what was looked for at one place of one rope",
    keys=(
        _key("rope", Form.WHOLE, "rope number", "the whole set"),
        _key(
            "kind",
            Form.WORD,
            "rouge, corrosion, crown-wear, diameter, broken-wires, lay-length, kink, "
            "birdcage, strand-out, flattened, groove, crossed, unequal-tension, other",
            NEEDED,
        ),
        _key("at", Form.TEXT, "place on the rope", "empty"),
        _key("seen", Form.WORD, "yes, no or could-not-see", "yes if measured"),
        _key("counts", Form.FLAG, "counts as an unfavourable condition", "false"),
        _key("photo", Form.PATHS, "beside or below the record", "none"),
        _key("note", Form.TEXT, "anything", "empty"),
        _key("by", Form.TEXT, "who found it", "empty"),
        _measured(
            "diameters", _LENGTH, "diameter: two at right angles", Form.QUANTITIES
        ),
        _key(
            "gauge",
            Form.WORDS,
            "diameter: how far the rope enters the gauge, twice: stays-out, first-step "
            "or whole-groove",
        ),
        _key("gauge_size", Form.TEXT, "diameter: what stands on the gauge", "empty"),
        _key("broken", Form.WHOLE, "broken-wires: number in the worst lay"),
        _key(
            "distribution",
            Form.WORD,
            "broken-wires: spread, one-or-two-strands, side-by-side or valley",
        ),
        _measured(
            "lay", _LENGTH, "broken-wires, lay-length: length of the lay or lays"
        ),
        _key("lays", Form.WHOLE, "lay-length: how many lays were measured", "1"),
        _measured("baseline", _LENGTH, "lay-length: one lay when the rope was new"),
        _key("groove", Form.WHOLE, "groove: number of the groove"),
        _measured("seating", _LENGTH, "groove: how much lower the rope lies"),
        _key("other_rope", Form.WHOLE, "crossed: the rope it crosses"),
        _key(
            "series",
            Form.TEXT,
            "unequal-tension: the series that shows it",
            "the first",
        ),
    ),
)
CHECK = Table(
    name="check",
    is_list=True,
    meaning="one item of the acceptance after re-roping",
    keys=(
        _key(
            "item",
            Form.WORD,
            "right-rope, whole-set, new-diameter, new-lay, twist, not-crossed, "
            "groove-seating, wedge-sockets, clips, tail, nuts-and-pins, thread-left, "
            "springs, anti-rotation, tension, runby, runby-later, overtravel, "
            "two-ropes, compensation, cleanliness, tag-and-record, traction-and-brake",
            NEEDED,
        ),
        _key(
            "answer",
            Form.WORD,
            "yes, no, not-applicable or could-not-see",
            "needed unless figures are given",
        ),
        _key("rope", Form.WHOLE, "rope number", "the whole set"),
        _key("note", Form.TEXT, "anything", "empty"),
        _key("photo", Form.PATHS, "beside or below the record", "none"),
        _key("by", Form.TEXT, "who looked", "empty"),
        _key("tag_text", Form.TEXT, "right-rope: text of the rope tag", "empty"),
        _measured("tag_diameter", _LENGTH, "right-rope: on the tag"),
        _measured("tag_strength", Dimension.FORCE, "right-rope: on the tag"),
        _measured("plate_diameter", _LENGTH, "right-rope: on the data plate"),
        _measured("plate_strength", Dimension.FORCE, "right-rope: on the data plate"),
        _key("plate_ropes", Form.WHOLE, "right-rope: number on the data plate"),
        _measured(
            "diameters",
            _LENGTH,
            "new-diameter: two at right angles at each of up to three places",
            Form.QUANTITIES,
        ),
        _key(
            "core", Form.WORD, "new-diameter: fibre or steel", "from the construction"
        ),
        _measured(
            "length",
            _LENGTH,
            "new-lay, groove-seating, tail, thread-left, springs (at 125 % load)",
        ),
        _key("lays", Form.WHOLE, "new-lay: how many were measured together"),
        _key("hitch_order", Form.WHOLES, "not-crossed: ropes from left to right"),
        _key("grooves", Form.WHOLES, "not-crossed: groove of each in that order"),
        _measured(
            "distances",
            _LENGTH,
            "clips: from the mouth of the socket to each clip",
            Form.QUANTITIES,
        ),
        _key("rule", Form.TEXT, "clips: which of the rules your code has", "empty"),
        _key("count", Form.WHOLE, "nuts-and-pins: sets of two nuts and a split pin"),
        _measured("free_length", _LENGTH, "springs: without load, else the hitch's"),
        _measured("solid_length", _LENGTH, "springs: coils touching, else the hitch's"),
        _key("series", Form.TEXT, "tension: the series that answers", "the last"),
        _measured("now", _LENGTH, "runby: found; negative if it would land before"),
        _measured("wanted", _LENGTH, "runby: wanted"),
        _measured("least", _LENGTH, "runby, runby-later: the least allowed"),
        _measured("most", _LENGTH, "runby: the most allowed"),
        _measured("stretch", Dimension.FRACTION, "runby-later: stretch still to come"),
        _measured("rope_length", _LENGTH, "runby-later: else that of the set"),
    ),
)
INSTRUMENT = Table(
    name="instrument",
    is_list=True,
    meaning="what was measured with",
    keys=(
        _key("what", Form.TEXT, "such as spring scale, phone, tape, stopwatch", NEEDED),
        _key("name", Form.TEXT, "model", "empty"),
        _key("serial", Form.TEXT, "serial number", "empty"),
        _key("setting", Form.TEXT, "recorder setting", "empty"),
        _key(
            "last_check", Form.TEXT, "when and how it was checked; or a date", "empty"
        ),
        _key("note", Form.TEXT, "anything", "empty"),
    ),
)
ANSWER = Table(
    name="answer",
    is_list=True,
    meaning="what a person answered to a note of the program",
    keys=(
        _key("note", Form.TEXT, "number or code of the note", NEEDED),
        _key("answer", Form.TEXT, "the answer", NEEDED),
        _key("by", Form.TEXT, "who", "empty"),
        _key("date", Form.TEXT, "when; or a date", "empty"),
        _key("ropes", Form.WHOLES, "rope numbers concerned", "the whole set"),
    ),
)
TRIM = Table(
    name="trim",
    is_list=True,
    meaning="written by the program: a recording of which only the plucks are kept",
    keys=(
        _key("recording", Form.PATH, "as the readings name it", NEEDED),
        _key("trimmed", Form.PATH, "the file that is read in its place", NEEDED),
        _key("bytes", Form.WHOLE, "size of the original", "0"),
        _key("sha256", Form.TEXT, "checksum of the original", NEEDED),
        _key("kept", Form.TEXT, "windows kept, in seconds from the start", "empty"),
        _key("silenced", Form.TEXT, "what was done with the rest", "empty"),
        _key("original", Form.TEXT, "kept or deleted", "empty"),
        _key("by", Form.TEXT, "who", "empty"),
        _key("date", Form.TEXT, "when; or a date", "empty"),
    ),
)
