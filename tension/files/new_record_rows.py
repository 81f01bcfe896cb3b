"""Rows of a new record: every key with its example and its meaning."""

from tension.catalogue.rules import Metric
from tension.installation import Ends

LIFT = """
    name     | "Lift 2"   | name or number, address
    drive    | "traction" | traction | drum | hydraulic
    roping   | "1:1"      | 1:1 | 2:1 | 4:1 | 1:2 (roped jack)
    car_mass | "1840 kg"  | all that hangs on that side; checks the sum
    travel   | "30 m"     | of the car; how many round trips a turn needs
"""

VISIT = """
    date           | 2026-11-20 | year-month-day
    measured_by    | "name"     | name, firm
    qualification  | "number"   | licence or certificate number
    witness        | "name"     | who saw it
    note           | "text"     | anything a reader must know
    cautions_shown |            | whole, when this record began
"""

RULE = "use | {} | a published rule, by its name here"

RULE_CHANGED = f"""
    metric | "below-highest" | {" | ".join(Metric)}
    limit  | "10 %"          | equal at or under it
"""

SET = """
    ropes          |              | how many
    diameter       | "13 mm"      | nominal, from the tag
    construction   | "8x19 FC"  | with the diameter gives newtons; "coated": shares only
    linear_density | "0.575 kg/m" | if known better, from certificate or data sheet
    axial_rigidity |              | EA off the data sheet
    rope_length    | "38 m"       | hitch to hitch; for a plan of turns
    sockets        | "one height" | only if all stand level; else lengths per rope below
"""

SPAN = f"""
    name        |                 | the series below name it
    side        | "car"           | car | counterweight
    position    | "top landing"   | car position
    free_length | "3.40 m"        | lower node to where the rope leaves the sheave
    length_from | "socket"        | or "clip", where the tail is tied to the live rope
    ends        | "socket-sheave" | {" | ".join(Ends)}
    hitch_end   | "lower"         | lower | upper: where the nuts are
"""

HITCH = """
    at     | "car" | car | counterweight | dead-end-car | dead-end-counterweight
    rows   | {} | as seen facing the nuts
    thread | "M16" | "M16 left", "5/8-11"
    buffer | "spring" | spring | rubber | none | beam
    spring_rate | "150 N/mm" |
    spring_free_length  | "160 mm" |
    spring_solid_length | "96 mm" | coils touching
    rod_free | | of the rods, free to swing
"""

ROPE = """
    number       | |
    free_lengths | |
    stagger      | {} | longer than the span's free length
    take_up_left | {} | thread left to the plate
    ease_left    | {} |
"""

ROPE_EXAMPLE = """
    number       | 1         | painted on the rope or the rod
    stagger      | "+150 mm" | +: longer than the span's free length
    free_lengths |           | instead of stagger
    take_up_left | "22 mm"   | thread left towards the plate
    ease_left    | "30 mm"   | thread left away from it
    groove       | 1         | of the sheave
"""

SERIES = """
    name       | | readings below name it
    span       | |
    arrived    | "up" | direction the car came from: up | down
    taken      | "2026-11-20 10:12 +00:00" | date, time, offset from UTC
    load       | "empty" | in the car
    people     | "two on the car top" | who stands on the car
    neighbours | | free | damped
"""

PLUCK = """
    series    | |
    kind      | |
    rope      | |
    recording | | beside or below this file
"""

MEMO = """
    series      | |
    kind        | |
    recording   | | one recording of several ropes
    ropes       | | in the order plucked
    plucks_each | 3 |
"""

EXAMPLES = (
    (
        "[[reading]]",
        "Side pull with a spring scale, square to the row.",
        """
        series     | "as found" |
        kind       | "pull" |
        rope       | 1 |
        force      | ["166 N", "165 N"] | one text or a list
        deflection | "25 mm" |
        hold       | "deflection" | the same on all ropes: deflection | force
        at         | "1.5 m" | from the lower node; mid-span if left out
        """,
    ),
    (
        "[[reading]]",
        "Timed wave returns, for long falls.",
        """
        series  | "as found" |
        kind    | "returns" |
        rope    | 1 |
        count   | 5 | round trips of the wave
        elapsed | ["6.46 s", "6.41 s"] |
        """,
    ),
    (
        "[[reading]]",
        "Working length of a spring at the hitch.",
        """
        series | "as found" |
        kind   | "spring" |
        rope   | 1 |
        hitch  | | described above
        length | "112 mm" |
        """,
    ),
    (
        "[[turn]]",
        "A turn of a nut; + is towards the plate, tension up.",
        """
        after | "as found" | the series after which it was made
        hitch | | described above
        rope  | 1 |
        turns | "-1 1/4" |
        round_trips_after | 3 | of the car, before the next series
        """,
    ),
    (
        "[[exclusion]]",
        "A reading that does not count, and why; nothing is deleted.",
        """
        series | "as found" |
        rope   | 1 |
        reason | "door slammed" |
        """,
    ),
)
"""Tables that stand as examples in every new record."""
