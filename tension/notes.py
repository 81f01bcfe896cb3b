"""Notes and refusals: what was found doubtful, one plain sentence, and the next act.

Every kind of note has a number, so that it can be quoted, and a code, so that programs
can read it. Texts may hold ``{name}`` places filled when the note is made, and
``[[word]]`` places filled by `tension.wording` when it is shown.
"""

from dataclasses import dataclass
from enum import Enum


@dataclass(frozen=True, kw_only=True, slots=True)
class Note:
    """Something a reader of the result must know.

    Attributes
    ----------
    code : str
        Stable name of the kind of note.
    text : str
        What was found, one sentence.
    next_act : str
        What to do about it; empty if nothing.
    ropes : tuple of int
        Rope numbers concerned; empty if the whole set.
    """

    code: str
    text: str
    next_act: str
    ropes: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Refusal:
    """Why there is no number, as a value: the other ropes stay.

    Attributes
    ----------
    code : str
        Stable name of the reason.
    text : str
        The reason, one sentence.
    next_act : str
        What to do next.
    """

    code: str
    text: str
    next_act: str


class NoteKind(Enum):
    """Every kind of note: number, code, text, next act.

    Numbers by room: 100 sound, 200 files, 300 measurement, 400 assessment,
    500 adjustment, 600 condition, 700 record, 800 causes and history.
    """

    # --- 100 sound ---
    NO_PLUCK = (
        101,
        "no-pluck",
        "No pluck was found in {recording}.",
        "Pull the rope aside by hand, let go, and let it ring for five seconds.",
    )
    TOO_NOISY = (
        102,
        "too-noisy",
        "Rope {rope} does not stand out of the noise.",
        "Wait for quiet, hold the phone close to the rope, and pluck again.",
    )
    AMBIGUOUS = (
        103,
        "ambiguous-numbering",
        "The partials of rope {rope} can be counted in more than one way: {rivals}.",
        "Pluck rope {rope} again nearer its end, at a quarter of the span.",
    )
    COUNT_DIFFERS = (
        104,
        "pluck-count-differs",
        "{recording} holds {found} plucks where {expected} were announced: {times}.",
        "Compare the times with what was done; leave out what was no pluck.",
    )
    COUNT_UNCLEAR = (
        105,
        "pluck-count-unclear",
        "{recording} holds {found} plucks where {expected} were announced, and they "
        "can be shared out in more than one way: {times}.",
        "Say plucks_each if it was not said, or cut the memo into one file per rope; "
        "next time wait ten seconds between ropes.",
    )
    ONLY_HUM = (
        106,
        "only-hum",
        "{recording} holds hum at {lines} and no rope.",
        "Isolate the machine as for any work, wait for quiet, and pluck again.",
    )
    ONLY_SPEECH = (
        107,
        "only-speech",
        "{recording} holds talk or other sounds that come and go, and no rope that "
        "rings on.",
        "Pluck again, and be silent for five seconds after each pluck.",
    )
    ONLY_KNOCKS = (
        108,
        "only-knocks",
        "{recording} holds short knocks and no rope that rings on.",
        "Pull the rope aside by hand and let go; do not knock.",
    )
    HAMMER_BLOW = (
        109,
        "hammer-blow",
        "What rings in rope {rope} lies high and is the same on other ropes: a blow "
        "of metal rings the rope lengthwise and the [[hitch plate]], whatever the "
        "tension.",
        "Use a finger or a strap, not a hammer.",
    )
    HUM_FOUND = (
        112,
        "hum-found",
        "Hum at {lines} was told apart in the recording of rope {rope}.",
        "",
    )
    HUM_COINCIDES = (
        113,
        "hum-coincides",
        "Hum coincides with {count} of the partials of rope {rope}; they carry no "
        "weight.",
        "Isolate the machine as for any work, wait, and pluck again.",
    )
    GLIDE = (
        114,
        "glide",
        "The pitch of rope {rope} glides down by {percent:.1f} % after the pluck; the "
        "frequency given is the one it settles to.",
        "Pluck more gently.",
    )
    TOUCHING = (
        115,
        "touching",
        "Rope {rope} may be touching something: its pitch changes as the swing dies.",
        "Look along the span of rope {rope}, then pluck again.",
    )
    NODE_PLUCK = (
        116,
        "node-pluck",
        "Every {order}th partial of rope {rope} is missing: pluck or microphone sat at "
        "one {order}th of the span.",
        "Pluck at a different height, a quarter of the span from the end.",
    )
    GATED = (
        118,
        "gated",
        "{recording} falls to digital silence while the rope rings: the recorder gates "
        "quiet sound, as for speech.",
        "Switch noise suppression off, or use a recorder for music, and record again.",
    )
    SWAPPED = (
        120,
        "ropes-swapped",
        "Ropes {first} and {second} seem swapped between two rounds: as a set the "
        "rounds agree, as a list they do not.",
        "Check the order in which the ropes were plucked.",
    )
    SET_RANKED = (
        121,
        "set-ranked",
        "The partials of rope {rope} can be counted as {own:.2f} Hz or {other:.2f} Hz; "
        "the other ropes decided for {own:.2f} Hz.",
        "Pluck rope {rope} again nearer its end if this matters.",
    )
    HITCH_SWINGS = (
        122,
        "hitch-swings",
        "Partials of rope {rope} near {frequency:.0f} Hz are shifted, as by a socket "
        "that swings on its [[rod]]; they carry little weight.",
        "Give the free length of the [[rods]], or hold the socket while it rings.",
    )
    NOT_RECORDED = (
        123,
        "not-recorded",
        "There is no recording of rope {rope}.",
        "Record rope {rope}.",
    )
    OVERDRIVEN_THROUGHOUT = (
        124,
        "overdriven-throughout",
        "{recording} is overdriven from end to end.",
        "Hold the microphone farther away or lower the recording level, and pluck "
        "again.",
    )
    STEADY_TONES = (
        125,
        "steady-tones",
        "{recording} holds steady tones at {lines} and no rope that begins to ring: a "
        "machine is running.",
        "Isolate the machine as for any work, wait for quiet, and pluck again.",
    )
    MOVING_TONES = (
        126,
        "moving-tones",
        "{recording} holds tones that rise and fall all the time: a drive or a car is "
        "still moving.",
        "Stop the car, wait 30 s, and pluck again.",
    )
    RINGS_SHORT = (
        127,
        "rings-short",
        "In {recording} nothing rings for a second before the next sound comes.",
        "Let each pluck ring for five seconds, in quiet.",
    )
    DIES_SOON = (
        128,
        "dies-soon",
        "What begins to ring in {recording} has died within a second: a slam, or a "
        "hand or guard that stays on the rope.",
        "Take the hand off at once, see that nothing touches the rope, pluck again.",
    )
    NOTHING_LOW = (
        129,
        "nothing-low",
        "{recording} holds nothing under 200 Hz: it was made for speech.",
        "Set the recorder to music, high quality or WAV, and record again.",
    )
    PLUCKS_APART = (
        130,
        "plucks-apart",
        "The plucks given to rope {rope} are not of one pitch; apart from the others: "
        "{times}.",
        "Check the order of the ropes and their painted numbers; measure rope {rope} "
        "again.",
    )
    SET_CONFIRMS = (
        132,
        "set-confirms",
        "Few partials of rope {rope} stand out; they are counted as they are because "
        "pitch and stiffness agree with the other ropes.",
        "Pluck rope {rope} again, closer to the microphone, if this matters.",
    )
    SWELLS = (
        133,
        "swells",
        "What sounds in {recording} swells and breaks off, as a pluck played backwards "
        "does; a rope is loudest when it is let go and then dies away.",
        "Give the recording as it was made, not turned round, or pluck again.",
    )
    EXACT_MULTIPLES = (
        134,
        "exact-multiples",
        "The tones in {recording} are exact multiples of {spacing:.2f} Hz, as of a "
        "motor, a ratchet or clicks; the stiffness of a rope spreads its upper tones.",
        "Wait until the motor or the clicking has stopped, and pluck again.",
    )
    SEVERAL_SOUND = (
        135,
        "several-ropes",
        "Of what is heard in the recording of rope {rope} only {percent:.0f} % are "
        "partials of one string, of {frequency:.2f} Hz: several ropes were plucked at "
        "once, or something else rings along.",
        "Rest a gloved hand on the neighbours, without pushing, pluck one rope, and "
        "let it ring alone.",
    )
    ONLY_BUMPS = (
        137,
        "only-bumps",
        "{recording} holds dull bumps and rubbing, as of a hand on the phone or steps "
        "on the car top, and no rope that rings on.",
        "Fix the phone or lay it down, stand still, and pluck again.",
    )
    ONLY_MUSIC = (
        138,
        "only-music",
        "{recording} holds tones that start and stop, as of music, a gong or a signal, "
        "and no rope that rings on.",
        "Wait until it is over, or check that this is the right file; pluck again.",
    )
    ONLY_RUMBLE = (
        139,
        "only-rumble",
        "{recording} holds a rush that swells and fades, as of wind or of another car "
        "passing, and no rope that rings on.",
        "Wait until it is over, and pluck again.",
    )
    NOT_SOUND = (
        140,
        "not-sound",
        "The samples of {recording} do not swing about zero: these are the bytes of "
        "something else, or of a broken input, and no sound.",
        "Check that this is the right file, or record again with another input.",
    )
    ENDS_EARLY = (
        141,
        "ends-early",
        "{recording} ends {seconds:.1f} s after the pluck.",
        "Let the rope ring for five seconds before the recorder is stopped.",
    )
    GAIN_CONTROL = (
        143,
        "gain-control",
        "The recorder of {recording} turned its level down when a rope was plucked, "
        "and up again: what rings seems to die more slowly than it does.",
        "Switch the automatic level of the recorder off if it can be; the pitch is "
        "hardly moved by it.",
    )
    CAR_ROCKS = (
        144,
        "car-rocks",
        "The pitch of rope {rope} wavers by {percent:.1f} %, about {rate:.1f} times a "
        "second and all partials together: the car is still moving.",
        "Wait 30 s until the car hangs still, stand still, and pluck again.",
    )
    # --- 200 files ---
    FILE_MISSING = (
        201,
        "file-missing",
        "{recording} is not there.",
        "Check the name and the folder; names are read exactly, capitals included.",
    )
    FILE_IS_FOLDER = (
        202,
        "file-is-folder",
        "{recording} is a folder, not a sound file.",
        "Name the sound file itself.",
    )
    FILE_EMPTY = (
        203,
        "file-empty",
        "{recording} is empty (0 bytes).",
        "Copy it again from the phone and wait until the copy is finished.",
    )
    FILE_LOCKED = (
        204,
        "file-locked",
        "{recording} cannot be opened: {reason}.",
        "Check that it is an ordinary file that you may read, then run again.",
    )
    FILE_IS_TEXT = (
        205,
        "file-is-text",
        "{recording} holds text, not sound.",
        "Name the recording itself; a log of an acceleration sensor ends in .csv.",
    )
    FILE_IS_OTHER = (
        206,
        "file-is-other",
        "{recording} is {kind}, not a sound file.",
        "Name the recording itself.",
    )
    FILE_DAMAGED = (
        207,
        "file-damaged",
        "{recording} is damaged or no sound file: no sound could be read from it.",
        "Copy the file again from the phone, or record again.",
    )
    NO_SOUND_TRACK = (
        208,
        "no-sound-track",
        "{recording} has no sound track.",
        "Record again with the sound recorder, or with the camera's sound switched on.",
    )
    INDEX_LOST = (
        209,
        "index-lost",
        "{recording} was cut off: its index, which is written last, is lost.",
        "Copy the file again, or record again and stop the recorder before moving on.",
    )
    TOO_LONG = (
        210,
        "recording-too-long",
        "{recording} lasts {length}; of such a recording at most {limit} are read.",
        "Cut out the part with the plucks, or record again.",
    )
    TOO_SHORT = (
        211,
        "recording-too-short",
        "{recording} holds only {seconds:.2f} s of sound.",
        "Record again: let each pluck ring for five seconds.",
    )
    ALL_ZEROS = (
        212,
        "all-zeros",
        "{recording} holds nothing but zeros: the microphone was off.",
        "Allow the recorder the microphone (its permission), lift mute, choose the "
        "right input, and record again.",
    )
    SILENT = (
        213,
        "silent",
        "{recording} is silent.",
        "Check mute, input and level of the recorder, and record again close to the "
        "rope.",
    )
    ABSURD_RATE = (
        214,
        "absurd-rate",
        "{recording} says it has {rate:.0f} samples per second; from {lowest:.0f} to "
        "{highest:.0f} can be used.",
        "Export the recording again at 48000 samples per second, or record again.",
    )
    NO_NUMBERS = (
        215,
        "no-numbers",
        "{recording} holds no valid samples (not a number, or infinite).",
        "Export the recording again as 16 bit WAV, or record again.",
    )
    UNKNOWN_CODEC = (
        216,
        "unknown-codec",
        "{recording} is coded in a way that cannot be read here ({codec}).",
        "Save it as WAV or m4a on the phone, or record again with another recorder.",
    )
    SAME_SOUND = (
        217,
        "same-sound",
        "{ropes} were given one and the same sound: {recordings}.",
        "Find which rope was plucked in it, and give the others their own recordings.",
    )
    SAME_SOUND_AGAIN = (
        218,
        "same-sound-again",
        "{recordings} hold one and the same sound, as saved twice; it counts once.",
        "Take one of them out of the record if the rope was plucked once.",
    )
    FILES_NOT_NAMED = (
        219,
        "files-not-named",
        "Sound files that no reading of the record names lie beside the others: "
        "{names}.",
        "Add a reading for each, or move it to another folder.",
    )
    CUT_OFF = (
        220,
        "cut-off",
        "{recording} is cut off: {seconds:.1f} s of it could be read and are used.",
        "Copy the file again if a pluck is missing.",
    )
    PARTS_LOST = (
        221,
        "parts-lost",
        "{seconds:.1f} s of {recording} could not be read; silence stands there, so "
        "that times do not shift.",
        "Copy the file again, or repeat the plucks concerned.",
    )
    CODEC_CUTS_LOWS = (
        222,
        "codec-cuts-lows",
        "{recording} was coded for speech ({codec}): sound under about 60 Hz is "
        "weakened or lost, the upper partials remain.",
        "Set the recorder to music, high quality or WAV, and send the file itself, "
        "not a voice message.",
    )
    CLIPPED = (
        223,
        "clipped",
        "{recording} is overdriven for {seconds:.2f} s.",
        "Hold the microphone a little farther away, or lower the recording level.",
    )
    ONE_CHANNEL = (
        224,
        "one-channel",
        "Only channel {channel} of {recording} is used: {reason}.",
        "",
    )
    CHANNELS_AVERAGED = (
        225,
        "channels-averaged",
        "The mean of {n_channels} channels of {recording} is used.",
        "",
    )
    FORMAT_CHANGES = (
        226,
        "format-changes",
        "The sampling rate or the channels of {recording} change after {seconds:.1f} "
        "s; only what stands before is used.",
        "Record again if a pluck is missing.",
    )
    NOT_NUMBERS = (
        227,
        "not-numbers",
        "{n_samples} samples of {recording} are not a number; silence stands there.",
        "Export the recording again if a pluck is concerned.",
    )
    SAME_FILE_ELSEWHERE = (
        228,
        "same-file-elsewhere",
        'One file stands in two series: {recording} in "{series}" and {other} in '
        '"{other_series}"; it can be of one of them at most.',
        "Find in which of them it was recorded; leave it out of the other, with an "
        "exclusion in the record that says why.",
    )
    SAME_SOUND_ELSEWHERE = (
        229,
        "same-sound-elsewhere",
        'One sound, saved anew, stands in two series: {recording} in "{series}" and '
        '{other} in "{other_series}"; it can be of one of them at most.',
        "Find in which of them it was recorded; leave it out of the other, with an "
        "exclusion in the record that says why.",
    )
    LOG_TOO_LARGE = (
        240,
        "log-too-large",
        "{recording} is larger than {limit:.0f} MB or has more than {rows} rows.",
        "Cut out the rows with the plucks, with the header line above them.",
    )
    LOG_WITHOUT_HEADER = (
        241,
        "log-without-header",
        "{recording} has no line that names its columns.",
        'Write one above the numbers, such as "time (s), x (m/s2), y (m/s2)".',
    )
    LOG_WITHOUT_TIME = (
        242,
        "log-without-time",
        "{recording} has no column of times among: {columns}.",
        'Name one of the columns "time (s)" or "time (ms)".',
    )
    LOG_WITHOUT_MOTION = (
        243,
        "log-without-motion",
        "{recording} has no column of acceleration or rotation rate with a direction "
        "among: {columns}.",
        "Export the x, y and z columns; a column of the magnitude alone will not do.",
    )
    LOG_UNREADABLE = (
        244,
        "log-unreadable",
        "{recording}: {n_bad} of {n_rows} rows cannot be read, the first is line "
        "{line}.",
        "Export the log again; one row per time, numbers only, the same columns in "
        "each.",
    )
    LOG_WITHOUT_CLOCK = (
        245,
        "log-without-clock",
        "The times of {recording} do not go forward.",
        "Export the log again with the time of each row.",
    )
    LOG_TOO_SLOW = (
        246,
        "log-too-slow",
        "{recording} has only {rate:.1f} rows per second; at least {least:.0f} are "
        "needed.",
        "Set the logger to its fastest rate and record again.",
    )
    LOG_MOSTLY_GAPS = (
        248,
        "log-mostly-gaps",
        "{recording} is mostly gaps: {seconds:.0f} s of {length:.0f} s, the first at "
        "{first:.2f} s.",
        "Cut out the rows with the plucks, with the header line above them, or record "
        "again.",
    )
    LOG_UNIT_UNKNOWN = (
        247,
        "log-unit-not-known",
        'The unit "{unit}" is not one of: {known}.',
        "Give one of these, or none: frequencies do not depend on it.",
    )
    LOG_ROWS_LOST = (
        250,
        "log-rows-lost",
        "{n_bad} rows of {recording} cannot be read and are left out: line {lines}.",
        "Look at these lines if a pluck is concerned.",
    )
    LOG_GAPS = (
        251,
        "log-gaps",
        "{recording} has {n_gaps} gaps, {seconds:.2f} s together, the first at "
        "{first:.2f} s; silence stands there.",
        "Close other programs on the phone and record again if a pluck is concerned.",
    )
    LOG_OUT_OF_ORDER = (
        252,
        "log-out-of-order",
        "{n_rows} rows of {recording} were out of order or twice and were put right.",
        "",
    )
    LOG_TIME_UNIT = (
        253,
        "log-time-unit",
        "The times of {recording} have no unit; they were taken as {unit}.",
        'Name the unit in the header, such as "time (ms)", if this is wrong.',
    )
    LOG_WITHOUT_UNIT = (
        254,
        "log-without-unit",
        "The columns {columns} of {recording} name no unit; frequencies do not depend "
        "on it.",
        "",
    )
    LOG_AXIS = (
        255,
        "log-axis",
        "{columns} of {recording} were combined along the direction of the strongest "
        "motion ({share:.0f} % of it).",
        "",
    )
    LOG_SLOW = (
        256,
        "log-slow",
        "{recording} has {rate:.0f} rows per second: nothing above {highest:.0f} Hz "
        "can be heard in it.",
        "Set the logger to its fastest rate.",
    )
    # --- 300 measurement ---
    NO_FREE_LENGTH = (
        301,
        "no-free-length",
        "Rope {rope} has no free length.",
        "Give its free length at this span, or its stagger.",
    )
    TOO_SLACK = (
        302,
        "too-slack",
        "What was read of rope {rope} is not explained by any tension.",
        "Look whether it is slack or touches something, then measure it again.",
    )
    TOO_SHORT_FOR_NEWTONS = (
        303,
        "too-short-for-newtons",
        "The free length is {length:.2f} m; below 1.5 m bending hides the newtons, "
        "so shares are given only.",
        "For newtons measure where the free length is 3 m or more.",
    )
    NOT_MEASURED = (
        304,
        "not-measured",
        "Rope {rope} was not measured in this series.",
        "Measure rope {rope} in the same position, side and load.",
    )
    KINDS_DISAGREE = (
        305,
        "kinds-disagree",
        "By {one} a rope carries {first} N on average, by {other} {second} N: more "
        "apart than their uncertainties allow.",
        "Check the lengths, the linear density, the scale and the spring rate.",
    )
    ROPE_CONTRADICTS = (
        306,
        "rope-contradicts",
        "Rope {rope} carries {first} % of the mean by {one} but {second} % by {other}.",
        "Look at rope {rope}: a touching rope, a bound spring, a wrong length or a "
        "wrong number; then measure it again both ways.",
    )
    WIDE_PULL = (
        307,
        "wide-pull",
        "Rope {rope} was pulled {deflection} mm aside, more than a hundredth of its "
        "free length ({most} mm): the pull itself raises the tension.",
        "Pull less, and by the same amount on every rope.",
    )
    STRETCH_UNKNOWN = (
        308,
        "stretch-unknown",
        "Nothing tells whether there are springs at the [[hitch]]: a pull stretches a "
        "rope without springs far more, so a rope carries {least} to {most} N on "
        "average; shares, bounds and result allow for both.",
        "Are there springs at the [[hitch]]? In the hitch table of the record write "
        'buffer = "spring" and spring_rate, or buffer = "none"; or pull each rope to '
        "two deflections.",
    )
    RATE_UNKNOWN = (
        336,
        "rate-unknown",
        "What gives way at the [[hitch]] is of no known rate, so what the pull adds is "
        "known only roughly: a rope carries {least} to {most} N on average; shares, "
        "bounds and result allow for it.",
        "Give the spring rate, or wire, coil and active coils; or pull each rope to "
        "two deflections.",
    )
    MIXED_PROTOCOLS = (
        309,
        "mixed-protocols",
        "Some ropes were pulled to the same deflection, others with the same force.",
        "Use one way on all ropes, so that its errors are common.",
    )
    PULL_OUTSIDE = (
        310,
        "pull-outside",
        "Rope {rope} is said to be pulled outside its free length.",
        "Give the distance from the lower node, within the free length.",
    )
    PULL_NOT_POSITIVE = (
        311,
        "pull-not-positive",
        "A force of rope {rope}, less what the scale reads without load, or a "
        "deflection is not above zero.",
        "Read the scale again, and its zero.",
    )
    TOO_SHORT_FOR_STOPWATCH = (
        312,
        "too-short-for-stopwatch",
        "{elapsed} s on rope {rope} is too short for a stopwatch: reaction time alone "
        "makes {relative} % of tension for one timing.",
        "Count more returns, use a longer fall, or pluck and record instead.",
    )
    RETURNS_NOT_POSITIVE = (
        313,
        "returns-not-positive",
        "A count or a time of rope {rope} is not above zero.",
        "Time five full round trips or more, and write down their number.",
    )
    SPRING_RATE_UNKNOWN = (
        314,
        "spring-rate-unknown",
        "The spring rate at the {hitch} [[hitch]] is not known, so the spring of rope "
        "{rope} tells no tension.",
        "Give the spring rate, or wire, coil and active coils.",
    )
    SPRING_FREE_LENGTH = (
        315,
        "spring-free-length",
        "The length of the spring of rope {rope} without load is not known.",
        "Give the free length of the springs.",
    )
    SPRING_SOLID = (
        316,
        "spring-solid",
        "The spring of rope {rope} is pressed solid, so its length tells no tension.",
        "Pluck the rope or pull it aside instead, and look why the spring is solid.",
    )
    SPRING_UNLOADED = (
        317,
        "spring-unloaded",
        "The spring of rope {rope} is not shorter than its free length.",
        "Read it again; look whether the rope is slack or the spring another one.",
    )
    LEFT_OUT = (
        318,
        "left-out",
        "Rope {rope} is left out by the record: {reason}.",
        "Measure rope {rope} again for a complete set.",
    )
    SERIES_NOT_MIXED = (
        319,
        "series-not-mixed",
        'These ropes were measured in "{other}", not in "{series}"; series are never '
        "mixed, for position, side and load decide the tension.",
        'Measure them in the condition of "{series}".',
    )
    BELTS = (
        320,
        "belts",
        "Coated belts are checked by the belt maker's method; this program is for "
        "round steel ropes, and gives no result.",
        "Ask the maker of the belts for the method.",
    )
    MASS_RATIO_NAMED = (
        321,
        "mass-ratio-named",
        "The tensions add up to {found} kN, the mass on the {side} side makes "
        "{expected} kN: {ratio} times it, as by {meaning}.",
        "Check the count of the partials, the roping and the mass.",
    )
    MASS_RATIO = (
        322,
        "mass-ratio",
        "The tensions add up to {found} kN, the mass on the {side} side makes "
        "{expected} kN: {ratio} times it.",
        "Check the free length, the linear density and the mass.",
    )
    STAGGER_PATTERN = (
        323,
        "stagger-pattern",
        "Ropes {named} all read about {difference} % higher than the others, as if "
        "their sockets stood in another row.",
        "Look whether the sockets stand at one height, then give each rope its free "
        "length.",
    )
    LENGTH_PATTERN = (
        324,
        "length-pattern",
        "The tensions follow the free lengths entered, by {difference} % from the "
        "shortest to the longest.",
        "Check the stagger: sign, row, and which rope it was written beside.",
    )
    MOVED_TOGETHER = (
        325,
        "moved-together",
        "All ropes moved together by {move} % of tension from the first {method} to "
        "the last: somebody stepped on or off, or the car settled.",
        "The shares can still be used; keep the load as it is while measuring.",
    )
    FROM_TABLE = (
        326,
        "from-table",
        "The linear density, {density} kg/m, is from a table ({source}) for "
        "{diameter} mm {construction}.",
        "The newtons are about right; a tag or certificate would make them better.",
    )
    SWAPPED_ROPES = (
        328,
        "swapped-ropes",
        "Ropes {one} and {other} read in the last round what the other read in the "
        "first: their numbers seem changed over.",
        "Check the numbers painted on the ropes, then measure both again.",
    )
    READINGS_APART = (
        331,
        "readings-apart",
        "Readings of rope {rope} contradict each other: {readings}, {apart} % of "
        "tension apart; nothing rests on any of them.",
        "Measure rope {rope} again; leave out the reading that is wrong, with an "
        "exclusion in the record that says why.",
    )
    READING_OUTVOTED = (
        332,
        "reading-outvoted",
        "Of {count} readings of rope {rope} {agreeing} agree: {readings}; of another "
        "tension, and not used: {odd}.",
        "Find out what was read there; leave it out, with an exclusion in the record "
        "that says why.",
    )
    REPEAT_UNHEARD = (
        333,
        "repeat-unheard",
        "One recording of rope {rope}, {recording}, gives no number and is not used: "
        "{reason}",
        "{next_act}",
    )
    ROUNDS_AS_ROPES = (
        334,
        "rounds-as-ropes",
        "The {count} files sound like {rounds} rounds over {n_ropes} ropes, not like "
        "{count} ropes.",
        'Say which rope each file is of: --order "{order}" if it is so, --order '
        '"{plain}" if they are {count} ropes.',
    )
    READING_LEFT_OUT = (
        335,
        "reading-left-out",
        "One reading of rope {rope}, {reading}, is left out by the record: {reason}.",
        "",
    )
    ROPES_WITHOUT_TABLE = (
        329,
        "ropes-without-table",
        "{construction}: a jacket, a plastic fill or other fibres change mass and "
        "bending stiffness in a way that no table gives; the shares hold for ropes of "
        "one type, newtons from sound only with the maker's mass per length.",
        "Check that all ropes are of one reel; give the mass from the data sheet.",
    )
    DRUM_DRIVE = (
        330,
        "drum-drive",
        "On a drum every rope is wound by itself: no sheave evens the set out, and the "
        "shares hold at this car position only.",
        "Measure at a second car position before anything is turned.",
    )
    # --- 400 assessment ---
    TOO_FEW_ROPES = (
        401,
        "too-few-ropes",
        "Ropes with a number: {n_given} of {n_ropes}; two are needed to compare.",
        "Measure the others in the same position, side and load.",
    )
    ONE_ROPE = (
        408,
        "one-rope",
        "The set has one rope; there is nothing to compare it with.",
        "Its tension, if shown, holds for it alone; give the number of ropes if there "
        "are more.",
    )
    ROPES_MISSING = (
        402,
        "ropes-missing",
        "There is no number for {ropes_named}, so equal cannot be said of the set.",
        "Measure {ropes_named} in the same position and load.",
    )
    LENGTH_QUESTION = (
        403,
        "length-question",
        "One free length was given and nothing was said of the sockets; {stagger} mm "
        "between sockets in a row is usual and could change the answer.",
        "Are all sockets at one height? Then say so (--same-height, or sockets = "
        '"one height" in the record); else give each rope its length (--free-length '
        "once per rope, or free_lengths in the record).",
    )
    LENGTH_NOT_DECISIVE = (
        404,
        "length-not-decisive",
        "One free length was given and nothing was said of the sockets; {stagger} mm "
        "on any rope could not change the answer, and the bounds allow for it.",
        "For better shares give each rope its length, or say that the sockets are at "
        "one height.",
    )
    SPRINGS_QUESTION = (
        409,
        "springs-question",
        "Nothing was said of springs at the [[hitch]]: {with_springs} with springs, "
        "{without} without.",
        "Are there springs at the [[hitch]]? In the hitch table of the record write "
        'buffer = "spring" and spring_rate, or buffer = "none".',
    )
    RIVALS_WIDEN = (
        405,
        "rivals-widen",
        "The partials of {ropes_named} can be numbered in another way; the bounds "
        "allow for the chance of it.",
        "Pluck nearer one end, at a quarter to a third of the span, and record again.",
    )
    OTHER_RULE_DIFFERS = (
        406,
        "other-rule-differs",
        "Another common rule would answer differently: {others}.",
        "Say with every figure which rule it is of.",
    )
    NO_LENGTH_QUESTION = (
        407,
        "no-length-question",
        "No free length was given and nothing was said of the sockets; between sockets "
        "at different heights the same sound means different tensions.",
        "Are all sockets at one height? Then say so (--same-height, or sockets = "
        '"one height" in the record); else give each rope its length (--free-length '
        "once per rope, or free_lengths in the record).",
    )
    # --- 500 adjustment ---
    BEAM = (
        501,
        "rocking-beam",
        "The ropes hang on a rocking beam, which makes them equal by itself: unequal "
        "ropes mean that the beam sticks or lies at its stop.",
        "Look at the pins and stops of the beam; there is no plan of turns for it.",
    )
    RUBBER = (
        502,
        "rubber-buffers",
        "Rubber buffers have no known rate, so the turns cannot be worked out.",
        "Take the order and direction; turn a quarter, write it down, run the car "
        "three round trips, measure again: the rate is learned from that.",
    )
    SPRING_UNKNOWN = (
        503,
        "spring-unknown",
        "The record does not tell the rate of the springs, so the turns cannot be "
        "worked out.",
        "Add spring_rate, or spring_wire, spring_coil and spring_active_coils, to the "
        "hitch table of the record; or turn a quarter, write it down, run and measure "
        "again.",
    )
    ROPE_UNKNOWN = (
        504,
        "rope-unknown",
        "Neither axial_rigidity nor diameter is in the record, so it is not known how "
        "far the rope stretches.",
        "Add the diameter and construction to the [set] table.",
    )
    FALL_UNKNOWN = (
        505,
        "fall-unknown",
        'The free length of the span "{span}" is not in the record, so it is not known '
        "how far this fall stretches.",
        "Add free_length to the span table of the record.",
    )
    ROPE_LENGTH_UNKNOWN = (
        506,
        "rope-length-unknown",
        "The length of the rope is not in the record, so it is not known what is left "
        "of a turn once the car has run.",
        "Add rope_length, [[hitch]] to [[hitch]], to the [set] table.",
    )
    THREAD_UNKNOWN = (
        507,
        "thread-unknown",
        "The record does not tell the thread of the rods, so turns cannot be told.",
        'Read the thread and add thread, such as "M16", to the hitch table.',
    )
    NEWTONS_UNKNOWN = (
        508,
        "newtons-unknown",
        "Only shares are known, no newtons, so it is not known what a turn changes.",
        "Add linear_density, or diameter and construction, to the [set] table, or "
        "car_mass to the [lift] table.",
    )
    HITCH_UNKNOWN = (
        509,
        "hitch-unknown",
        "The record has no table for the {place} [[hitch]].",
        'Add a hitch table with at = "{place}", thread and springs.',
    )
    MANY_TRIPS = (
        510,
        "many-round-trips",
        "{trips} round trips are more than people make in one go: with this rope, "
        "these springs and this travel a turn spreads slowly.",
        "Leave the [[lift]] in service until it has made as many, then measure; what "
        "is read sooner says nothing of the set as it will stay.",
    )
    LEAVE_IT = (
        511,
        "set-equal",
        "The set is equal by the rule named: there is nothing to turn.",
        "Leave the nuts as they are.",
    )
    MEASURE_FIRST = (
        512,
        "measure-first",
        "The readings are too uncertain for a plan: {reason}.",
        "Measure again first: {ropes}.",
    )
    NO_SHARE = (
        513,
        "rope-without-number",
        "Rope {rope} has no number: {reason}",
        "Measure that rope; no nut is turned while a rope is unknown.",
    )
    RIVAL_NUMBERS = (
        514,
        "rope-with-rivals",
        "What was heard of rope {rope} can be read in more than one way.",
        "Measure that rope again, or check it with a side pull, before a nut is "
        "turned.",
    )
    LENGTHS_UNKNOWN = (
        515,
        "lengths-unknown",
        "It is not known whether the sockets stand at one height; 150 mm on one rope "
        "is as much as many nuts are turned for.",
        'Say sockets = "one height", or give the length of each rope.',
    )
    ROPE_IN_DOUBT = (
        516,
        "rope-in-doubt",
        "{reason}",
        "Settle that first; no nut is turned while a rope is in doubt.",
    )
    FAR_BELOW = (
        517,
        "rope-far-below",
        "Rope {rope} carries {share:.0f} % of an even share.",
        "Look before you turn: wedge seated, groove, spring whole, rod free. Where all "
        "is in order, say so in the record: an answer table with note = "
        '"rope-far-below", ropes = [{rope}] and what was seen.',
    )
    RUN_NOT_RECORDED = (
        518,
        "run-not-recorded",
        "The record does not say whether the car has run since the nuts were turned; "
        "if it has not, the shares still move against each other by about {points} "
        "points.",
        "If it has run, write round_trips_after in the turns; if not, run {trips} "
        "round trips with stops, measure again as a new series, and write "
        "round_trips_before = {trips} in it.",
    )
    LOAD_BY_NEWTONS = (
        519,
        "load-differs-by-newtons",
        "The mean tension as left is {ratio} times that as found, though the load is "
        'told as "{before}" and "{after}": another load, another place, or a length '
        "that is wrong.",
        "Check load, landing and free length of both series; measure again with the "
        "load of the first.",
    )
    LOAD_MOVED = (
        520,
        "load-moved",
        "The mean tension differs by {percent} % between the two series: somebody "
        "stepped on or off, or the place is not quite the same.",
        "Keep the same people and load for both series.",
    )
    NOT_REACHED = (
        521,
        "goal-not-reached",
        "With these steps and readings the spread may still be {upper} afterwards, "
        "over the goal of {goal}.",
        "Make the plan, run, measure again; more readings of each rope narrow it.",
    )
    FIRST_PART = (
        522,
        "first-part",
        "The stiffness rests on an assumption: the turns are {part:.0f} % of what "
        "would make the set equal.",
        "Write down turns and round trips; the next plan learns from them.",
    )
    STAGED = (
        523,
        "several-stages",
        "In one go a rope would leave 60 to 140 % of its share, or a nut go over "
        "10 mm: the plan has {stages} stages with a run between them.",
        "",
    )
    OTHER_SIDE = (
        524,
        "other-side-not-measured",
        "The {side} side was not measured.",
        "Measure it where it can be reached before the set is called equal throughout.",
    )
    FAR_FROM_NUTS = (
        525,
        "measured-on-other-side",
        "The ropes were measured on the {side} side, the nuts are on the other.",
        "Measure again only after the car has run {trips} round trips.",
    )
    THREAD_NOT_TYPED = (
        526,
        "thread-left-unknown",
        "The record does not tell how much thread is left.",
        "Look at each rod before turning: full engagement and room for the pin remain.",
    )
    SOLID_NOT_KNOWN = (
        527,
        "solid-length-unknown",
        "The record does not tell when the springs go solid.",
        "Look that no coils touch before and after each nut.",
    )
    GOAL_BY_PROGRAM = (
        528,
        "goal-by-program",
        "No goal was named; the plan aims at half the limit, {goal}, the program's own "
        "figure.",
        "",
    )
    MAYBE_EQUAL = (
        529,
        "maybe-equal",
        "It cannot be told yet that the set is unequal.",
        "Measuring again ({again}) may save the turning.",
    )
    TURNED_SINCE = (
        530,
        "turned-since",
        "Nuts were turned after this reading (rope {ropes}): what it says is no longer "
        "so.",
        "Run {trips} round trips beyond those written, come back to the mark, and "
        "measure again as a new series; then plan.",
    )
    SPAN_DIFFERS = (
        531,
        "span-differs",
        'The two series were taken on different spans ("{before}" and "{after}"); they '
        "cannot be held against each other.",
        "Measure again on the span of the first.",
    )
    SIDE_DIFFERS = (
        532,
        "side-differs",
        "The two series were taken on different sides ({before} and {after}); they "
        "cannot be held against each other.",
        "Measure again on the side of the first.",
    )
    LOAD_DIFFERS = (
        533,
        "load-differs",
        'The load differs between the two series ("{before}" and "{after}"); they '
        "cannot be held against each other.",
        "Measure again with the load of the first.",
    )
    ROPES_DIFFER = (
        534,
        "ropes-differ",
        "The two series do not give the same ropes; only ropes {ropes} are in both.",
        "Measure the missing ropes.",
    )
    ARRIVED_DIFFERS = (
        535,
        "arrived-differs",
        'The car came from different directions ("{before}" and "{after}"), which the '
        "grooves may answer for.",
        "Come back to the mark from the same direction and measure again.",
    )
    CAR_NOT_RUN = (
        536,
        "not-run",
        "The car has not run since the nuts were turned: when it runs, the shares "
        "still move against each other by about {points} points.",
        "Run {trips} round trips with stops, come back to the mark from the same "
        "direction, measure again as a new series, and write round_trips_before = "
        "{trips} in it.",
    )
    CAR_RUN_TOO_LITTLE = (
        537,
        "few-round-trips",
        "The car has run {run} round trip(s) since the nuts were turned: when it runs "
        "on, the shares still move against each other by about {points} points.",
        "Run {trips} more round trips with stops, come back to the mark from the same "
        "direction, measure again as a new series, and write round_trips_before = "
        "{trips} in it.",
    )
    NO_TURNS = (
        538,
        "no-turns",
        "The record has no turns between the two series.",
        "",
    )
    LOAD_WORDED = (
        539,
        "load-worded-otherwise",
        'The load is worded differently ("{before}" and "{after}"), and the mean '
        "tension is the same.",
        "",
    )
    TURN_BOUND = (
        541,
        "rope-answers-little",
        "Rope {rope} changed by {ratio:.0f} % of what its nut should have brought, as "
        "the other ropes answered.",
        "Look for a bound rod or spring, or a rod that turned with the nut.",
    )
    TURN_STRONG = (
        542,
        "rope-answers-much",
        "Rope {rope} changed by {ratio:.0f} % of what its nut should have brought, as "
        "the other ropes answered.",
        "Check the turns written down, and whether its spring is solid or of another "
        "kind.",
    )
    TURNS_EXCHANGED = (
        543,
        "turns-exchanged",
        "The change fits much better if {what}.",
        "Check the numbers painted at the [[hitch]] against those at the reading.",
    )
    NOTHING_LEARNED = (
        544,
        "nothing-learned",
        "The turns were too small against the readings to learn a stiffness.",
        "",
    )
    SIGNS_REVERSED = (
        545,
        "signs-reversed",
        "The set changed as if every nut had been turned the other way: the signs look "
        "reversed.",
        "Check at one nut which way it went; + is towards the plate, which takes the "
        "rope up. Then correct the turns, or answer this note.",
    )
    ANSWERS_AS_STANDING = (
        546,
        "answers-as-standing",
        "The set answered with {found}, where {expected} is expected once the car has "
        "run and {standing} while it stands: it has not run as far as is written.",
        "Nothing is learned from it. Run as many round trips again and measure as a "
        "new series; if the answer stays, thread or spring rate is not as typed.",
    )
    ANSWERS_FAR_OFF = (
        547,
        "answers-far-off",
        "The set answered with {found}, where {expected} is expected once the car has "
        "run and {standing} while it stands: no run explains that.",
        "Nothing is learned from it. Check turns, thread, spring rate, rope length and "
        "load as typed; then correct the record, or answer this note.",
    )
    RECORD_DISAGREES = (
        548,
        "record-disagrees",
        "The set answered with {found}, where the record lets expect {expected}.",
        "The answer is taken; check thread, spring rate and rope length as typed.",
    )
    STEP_TOO_COARSE = (
        549,
        "step-too-coarse",
        "Even one step (1/{steps} of a turn) takes a rope below 60 or over 140 % of "
        "its share while the car stands.",
        "In this order, as little as the nut can be moved; run and measure after each "
        "nut.",
    )
    FIRST_STAGE_ONLY = (
        561,
        "first-stage-only",
        "The way to the end has more stages than can be told from one reading; this is "
        "the first.",
        "Make it, run, measure again and plan again.",
    )
    THREAD_ASKED = (
        562,
        "thread-asked",
        "Rope {rope} wants {wanted} in all, and the record does not tell its thread "
        "left: no more than 10 mm is planned.",
        "Measure the thread left at that rod, write {way}, and plan again.",
    )
    LOOKED = (
        563,
        "looked",
        "Looked at before turning: {words}",
        "",
    )
    NUT_WORTH = (
        564,
        "nuts-needed",
        "{nuts} nuts bring the upper bound to {upper}; one nut fewer leaves {more}.",
        "",
    )
    MORE_NUTS = (
        565,
        "more-nuts",
        "All {nuts} nuts that are known to be off would bring the upper bound from "
        "{upper} to {less}, which is not worth opening them.",
        "",
    )
    NO_SPRING_LENGTHS = (
        551,
        "no-spring-lengths",
        "The series holds no spring lengths for the {place} [[hitch]].",
        'Add readings of kind = "spring" with the length of each spring.',
    )
    SPRING_OUTLIER = (
        552,
        "spring-stands-out",
        "Spring {rope} does not lie on the line of the set: by its length the rope "
        "carries {by_length}, by the reading {by_reading}.",
        "Look for a wrong, bound or broken spring, and a rod that rubs in the plate.",
    )
    LEVEL_SPRINGS = (
        553,
        "level-springs",
        "Level springs do not mean level tension: rates and free lengths differ from "
        "spring to spring, and friction holds some back.",
        "Judge the set by sound or side pull.",
    )
    SPRING_NEAR_SOLID = (
        554,
        "spring-near-solid",
        "Spring {rope} would touch coil on coil at 125 % of rated load.",
        "Have the spring checked against the maker's data.",
    )
    SPRING_SHORT = (
        555,
        "spring-under-solid",
        "Spring {rope} reads {length}, under its solid length of {solid}.",
        "Check the reading and the solid length.",
    )
    RATES_DISAGREE = (
        556,
        "rates-disagree",
        "The slope of the set gives {slope}, the record {rate}.",
        "Check wire, coil and number of active coils, or the linear density.",
    )
    SPRING_NOT_PRESSED = (
        557,
        "spring-not-pressed",
        "Spring {rope} reads {length}, not shorter than its length without load of "
        "{free}: it tells no load.",
        "Read both again; look whether the rope is slack or the spring another one.",
    )
    SPRING_SOLID_NOW = (
        558,
        "spring-solid-now",
        "Spring {rope} reads {length}: its coils touch, the solid length being "
        "{solid}; its length tells no load.",
        "Look why; measure the rope by sound or side pull.",
    )
    SPRINGS_REVERSED = (
        559,
        "springs-reversed",
        "Spring {one} is {longer} longer than spring {other}, yet its rope carries "
        "more: {first} against {second}.",
        "Check which spring belongs to which rope, and read both again; look for a "
        "bound or broken spring.",
    )
    SPRINGS_ALL_OFF = (
        560,
        "springs-all-off",
        "All springs say {by_length} a rope by their lengths, the readings "
        "{by_reading}: more apart than both allow.",
        "Check the rate, the length without load, the linear density and the scale.",
    )
    SPRINGS_DISAGREE = (
        561,
        "springs-disagree",
        "By their lengths springs {one} and {other} part the load as {by_length}, by "
        "the readings as {by_reading}; which of them is wrong cannot be told.",
        "Read both again; look for another make of spring, a bound or a broken one.",
    )
    SPRING_AT_PRELOAD = (
        562,
        "spring-at-preload",
        "Spring {rope} reads {length}, its length held together of {free}: it carries "
        "its preload of {preload} at most.",
        "Measure the rope by sound or side pull.",
    )
    # --- 600 condition ---
    # --- 700 record ---
    ROPE_NEEDS_DATA_SHEET = (
        701,
        "rope-needs-data-sheet",
        'The tables of stranded steel ropes do not hold for "{construction}".',
        "Write linear_density from its data sheet; without it there are shares only.",
    )
    ROPE_NOT_IN_TABLE = (
        702,
        "rope-not-in-table",
        'The table of rope classes does not hold "{construction}".',
        "Write linear_density from its data sheet; without it there are shares only.",
    )
    ROPE_CORE_NOT_SAID = (
        703,
        "rope-core-not-said",
        'The core is not told by "{construction}", and the mass depends on it.',
        "Write {size} FC for a fibre core, {size} IWRC for a steel core.",
    )
    ROPE_NOT_SAID = (
        704,
        "rope-not-said",
        "The construction of the ropes is not recorded.",
        "Write construction, like 8x19 FC, or linear_density from the data sheet.",
    )

    # --- 800 causes and history ---
    RECORD_LEFT_OUT = (
        801,
        "record-left-out",
        "{record} is left out: {reason}.",
        "Mend it and ask again; the other records stand.",
    )
    RECORD_WITHOUT_DATE = (
        802,
        "record-without-date",
        "{record} is left out, for it tells no day.",
        "Write date under [visit].",
    )
    SERIES_WITHOUT_PATTERN = (
        803,
        "series-without-number",
        'The series "{series}" of {day} gives fewer than two ropes a number and is '
        "left out.",
        "See what 'tension assess' says of it.",
    )
    SERIES_AMBIGUOUS = (
        804,
        "series-ambiguous",
        'Partials in the series "{series}" of {day} can be counted in more than one '
        "way; it is left out.",
        "See what 'tension assess' says of it, and pluck those ropes again.",
    )
    ROPES_NOT_IN_ALL = (
        805,
        "ropes-not-in-all",
        "{which} lack a number in some series and are left out of the pattern.",
        "Measure them again where they lack one.",
    )
    NO_PATTERN = (
        806,
        "no-pattern",
        "No two ropes have a number in every series, so there is no pattern.",
        "Measure the whole set at one place at least, and see 'tension assess'.",
    )
    LOADS_NOT_COMPARABLE = (
        807,
        "loads-not-comparable",
        "Some series give newtons and some shares alone, so how the load changes "
        "cannot be seen.",
        "Write linear_density, or diameter and construction, under [set].",
    )
    PLACE_NOT_KNOWN = (
        808,
        "place-not-known",
        'Where the car stood in the series "{series}" of {day} is not known; it is '
        "left out.",
        "Write free_length under its [[span]].",
    )
    TRAVEL_ASSUMED = (
        809,
        "travel-assumed",
        "The record does not tell the length of the ropes; a travel of {travel:.0f} m "
        "is assumed.",
        "Write rope_length under [set].",
    )
    SPRINGS_ASSUMED = (
        810,
        "springs-assumed",
        "Springs or ropes are not all described ({what}); usual ones are assumed.",
        "Add a [[hitch]] for each end with buffer and spring_rate, and the diameter.",
    )
    FORMS_OF_ONE_TO_ONE = (
        811,
        "forms-of-one-to-one",
        "Roping is {roping}; how deviations change with the place of the car is "
        "worked out as for 1:1 and is less sure.",
        "",
    )
    ARRIVAL_NOT_RECORDED = (
        812,
        "arrival-not-recorded",
        "From where the car came is not recorded in {count} of {all} series; it tells "
        "grooves from other causes.",
        'Write arrived = "up" or "down" in each series.',
    )
    OLDEST_SERIES_LEFT_OUT = (
        813,
        "oldest-series-left-out",
        "The oldest {count} series are left out; {most} are held against each other.",
        "",
    )
    EARLIER_LIFE = (
        814,
        "earlier-life",
        "{count} records from before the [[re-roping]] are left out.",
        "",
    )
    ROUND_TRIPS_NOT_RECORDED = (
        815,
        "round-trips-not-recorded",
        "Nuts were turned, and how many round trips the car had run by the series "
        "after it is not recorded; the set is taken as run in.",
        "Write round_trips_after in each turn, or round_trips_before in the series.",
    )

    @property
    def number(self) -> int:
        """Number by which a note can be quoted."""
        return self.value[0]

    @property
    def code(self) -> str:
        """Stable name for programs."""
        return self.value[1]

    def note(self, *, ropes: tuple[int, ...] = (), **places: object) -> Note:
        """Make a note of this kind."""
        _, code, text, next_act = self.value
        return Note(
            code=code,
            text=text.format(**places),
            next_act=next_act.format(**places),
            ropes=ropes,
        )

    def refusal(self, **places: object) -> Refusal:
        """Make a refusal of this kind."""
        _, code, text, next_act = self.value
        return Refusal(
            code=code,
            text=text.format(**places),
            next_act=next_act.format(**places),
        )
