"""Cautions for work that can hurt someone, short, the same words on every surface."""

SHORT = (
    "Only authorised [[lift]] personnel; local code, the maker's instructions and "
    "the authority having jurisdiction decide.",
    "Car on inspection, stop switch to STOP and proved; machine isolated and locked "
    "out before a hand goes near ropes, rods or sheaves.",
)

ON_THE_CAR_TOP = (
    *SHORT,
    "Nothing stays on a rope when the car moves; clear the ropes and count the tools "
    "before a run.",
)

TURNING_NUTS = (
    *ON_THE_CAR_TOP,
    "Never slacken a rope fully, never take the last nut off.",
    "Per rope: pin out, lock nut back, hold rod and socket on their flats, turn, "
    "lock nut home before the car moves, new [[split pin]] before service.",
)

WHAT_THE_RESULT_IS = (
    "The result is equal, unequal or cannot tell against a named rule, at this "
    "position and side. It condemns no rope and releases none.",
)

SHOWN_ON_MADE_RECORDINGS = (
    "Accuracy was shown on made recordings and on strings that are no ropes: no "
    "[[lift]] rope of known load has been measured with this program yet."
)

ATTACHES = (
    "This record attaches to the report form of the authority or of the inspector; it "
    "does not take its place."
)
