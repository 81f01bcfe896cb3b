"""Notes and refusals: what was found doubtful, and what to do about it.

Every kind of note has a number, so that it can be quoted, and a code, so that programs
can read it. A note holds its kind and what was found; its sentence and next act stand
in ``notes.en.json``, one pair a code, with ``{name}`` places for what was found and
``[[word]]`` places that `tension.wording` fills when it is shown.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from functools import cache
from pathlib import Path
from typing import ClassVar

from tension.wording import rope_list


@cache
def sentences() -> Mapping[str, tuple[str, str]]:
    """Give sentence and next act of every kind by code, with places to be filled."""
    table = Path(__file__).with_name("notes.en.json").read_text(encoding="utf-8")
    return {code: (text, act) for code, (text, act) in json.loads(table).items()}


class NoteKind(Enum):
    """Every kind of note: number and code.

    Numbers by room: 100 sound, 200 files, 300 measurement, 400 assessment,
    500 adjustment, 600 condition, 700 record, 800 causes and history.
    """

    # --- 100 sound ---
    NO_PLUCK = 101, "no-pluck"
    TOO_NOISY = 102, "too-noisy"
    AMBIGUOUS = 103, "ambiguous-numbering"
    COUNT_DIFFERS = 104, "pluck-count-differs"
    COUNT_UNCLEAR = 105, "pluck-count-unclear"
    ONLY_HUM = 106, "only-hum"
    ONLY_SPEECH = 107, "only-speech"
    ONLY_KNOCKS = 108, "only-knocks"
    HAMMER_BLOW = 109, "hammer-blow"
    HUM_FOUND = 112, "hum-found"
    HUM_COINCIDES = 113, "hum-coincides"
    GLIDE = 114, "glide"
    TOUCHING = 115, "touching"
    NODE_PLUCK = 116, "node-pluck"
    GATED = 118, "gated"
    SWAPPED = 120, "ropes-swapped"
    SET_RANKED = 121, "set-ranked"
    HITCH_SWINGS = 122, "hitch-swings"
    NOT_RECORDED = 123, "not-recorded"
    OVERDRIVEN_THROUGHOUT = 124, "overdriven-throughout"
    STEADY_TONES = 125, "steady-tones"
    MOVING_TONES = 126, "moving-tones"
    RINGS_SHORT = 127, "rings-short"
    DIES_SOON = 128, "dies-soon"
    NOTHING_LOW = 129, "nothing-low"
    PLUCKS_APART = 130, "plucks-apart"
    SET_CONFIRMS = 132, "set-confirms"
    SWELLS = 133, "swells"
    EXACT_MULTIPLES = 134, "exact-multiples"
    SEVERAL_SOUND = 135, "several-ropes"
    ONLY_BUMPS = 137, "only-bumps"
    ONLY_MUSIC = 138, "only-music"
    ONLY_RUMBLE = 139, "only-rumble"
    NOT_SOUND = 140, "not-sound"
    ENDS_EARLY = 141, "ends-early"
    GAIN_CONTROL = 143, "gain-control"
    CAR_ROCKS = 144, "car-rocks"
    OTHER_PLUCK = 145, "other-pluck"
    # --- 200 files ---
    FILE_MISSING = 201, "file-missing"
    FILE_IS_FOLDER = 202, "file-is-folder"
    FILE_EMPTY = 203, "file-empty"
    FILE_LOCKED = 204, "file-locked"
    FILE_IS_TEXT = 205, "file-is-text"
    FILE_IS_OTHER = 206, "file-is-other"
    FILE_DAMAGED = 207, "file-damaged"
    NO_SOUND_TRACK = 208, "no-sound-track"
    INDEX_LOST = 209, "index-lost"
    TOO_LONG = 210, "recording-too-long"
    TOO_SHORT = 211, "recording-too-short"
    ALL_ZEROS = 212, "all-zeros"
    SILENT = 213, "silent"
    ABSURD_RATE = 214, "absurd-rate"
    NO_NUMBERS = 215, "no-numbers"
    UNKNOWN_CODEC = 216, "unknown-codec"
    SAME_SOUND = 217, "same-sound"
    SAME_SOUND_AGAIN = 218, "same-sound-again"
    FILES_NOT_NAMED = 219, "files-not-named"
    CUT_OFF = 220, "cut-off"
    PARTS_LOST = 221, "parts-lost"
    CODEC_CUTS_LOWS = 222, "codec-cuts-lows"
    CLIPPED = 223, "clipped"
    ONE_CHANNEL = 224, "one-channel"
    CHANNELS_AVERAGED = 225, "channels-averaged"
    FORMAT_CHANGES = 226, "format-changes"
    NOT_NUMBERS = 227, "not-numbers"
    SAME_FILE_ELSEWHERE = 228, "same-file-elsewhere"
    SAME_SOUND_ELSEWHERE = 229, "same-sound-elsewhere"
    NUMBER_LEFT_OUT = 230, "number-left-out"
    LOG_TOO_LARGE = 240, "log-too-large"
    LOG_WITHOUT_TIME = 242, "log-without-time"
    LOG_WITHOUT_MOTION = 243, "log-without-motion"
    LOG_UNREADABLE = 244, "log-unreadable"
    LOG_WITHOUT_CLOCK = 245, "log-without-clock"
    LOG_TOO_SLOW = 246, "log-too-slow"
    LOG_MOSTLY_GAPS = 248, "log-mostly-gaps"
    LOG_ROWS_LOST = 250, "log-rows-lost"
    LOG_GAPS = 251, "log-gaps"
    LOG_OUT_OF_ORDER = 252, "log-out-of-order"
    LOG_TIME_UNIT = 253, "log-time-unit"
    LOG_WITHOUT_UNIT = 254, "log-without-unit"
    LOG_AXIS = 255, "log-axis"
    LOG_SLOW = 256, "log-slow"
    # --- 300 measurement ---
    NO_FREE_LENGTH = 301, "no-free-length"
    TOO_SLACK = 302, "too-slack"
    TOO_SHORT_FOR_NEWTONS = 303, "too-short-for-newtons"
    NOT_MEASURED = 304, "not-measured"
    KINDS_DISAGREE = 305, "kinds-disagree"
    ROPE_CONTRADICTS = 306, "rope-contradicts"
    WIDE_PULL = 307, "wide-pull"
    STRETCH_UNKNOWN = 308, "stretch-unknown"
    RATE_UNKNOWN = 336, "rate-unknown"
    MIXED_PROTOCOLS = 309, "mixed-protocols"
    PULL_OUTSIDE = 310, "pull-outside"
    PULL_NOT_POSITIVE = 311, "pull-not-positive"
    TOO_SHORT_FOR_STOPWATCH = 312, "too-short-for-stopwatch"
    RETURNS_NOT_POSITIVE = 313, "returns-not-positive"
    SPRING_RATE_UNKNOWN = 314, "spring-rate-unknown"
    SPRING_FREE_LENGTH = 315, "spring-free-length"
    SPRING_SOLID = 316, "spring-solid"
    SPRING_UNLOADED = 317, "spring-unloaded"
    LEFT_OUT = 318, "left-out"
    SERIES_NOT_MIXED = 319, "series-not-mixed"
    BELTS = 320, "belts"
    MASS_RATIO_NAMED = 321, "mass-ratio-named"
    MASS_RATIO = 322, "mass-ratio"
    STAGGER_PATTERN = 323, "stagger-pattern"
    LENGTH_PATTERN = 324, "length-pattern"
    MOVED_TOGETHER = 325, "moved-together"
    FROM_TABLE = 326, "from-table"
    SWAPPED_ROPES = 328, "swapped-ropes"
    READINGS_APART = 331, "readings-apart"
    READING_OUTVOTED = 332, "reading-outvoted"
    REPEAT_UNHEARD = 333, "repeat-unheard"
    ROUNDS_AS_ROPES = 334, "rounds-as-ropes"
    READING_LEFT_OUT = 335, "reading-left-out"
    SIDES_NOT_MIXED = 337, "sides-not-mixed"
    ROPES_WITHOUT_TABLE = 329, "ropes-without-table"
    DRUM_DRIVE = 330, "drum-drive"
    # --- 400 assessment ---
    TOO_FEW_ROPES = 401, "too-few-ropes"
    ONE_ROPE = 408, "one-rope"
    ROPES_MISSING = 402, "ropes-missing"
    LENGTH_QUESTION = 403, "length-question"
    LENGTH_NOT_DECISIVE = 404, "length-not-decisive"
    SPRINGS_QUESTION = 409, "springs-question"
    RIVALS_WIDEN = 405, "rivals-widen"
    OTHER_RULE_DIFFERS = 406, "other-rule-differs"
    NO_LENGTH_QUESTION = 407, "no-length-question"
    # --- 500 adjustment ---
    BEAM = 501, "rocking-beam"
    RUBBER = 502, "rubber-buffers"
    SPRING_UNKNOWN = 503, "spring-unknown"
    ROPE_UNKNOWN = 504, "rope-unknown"
    FALL_UNKNOWN = 505, "fall-unknown"
    ROPE_LENGTH_UNKNOWN = 506, "rope-length-unknown"
    THREAD_UNKNOWN = 507, "thread-unknown"
    NEWTONS_UNKNOWN = 508, "newtons-unknown"
    HITCH_UNKNOWN = 509, "hitch-unknown"
    MANY_TRIPS = 510, "many-round-trips"
    LEAVE_IT = 511, "set-equal"
    MEASURE_FIRST = 512, "measure-first"
    NO_SHARE = 513, "rope-without-number"
    RIVAL_NUMBERS = 514, "rope-with-rivals"
    LENGTHS_UNKNOWN = 515, "lengths-unknown"
    ROPE_IN_DOUBT = 516, "rope-in-doubt"
    FAR_BELOW = 517, "rope-far-below"
    RUN_NOT_RECORDED = 518, "run-not-recorded"
    LOAD_BY_NEWTONS = 519, "load-differs-by-newtons"
    LOAD_MOVED = 520, "load-moved"
    NOT_REACHED = 521, "goal-not-reached"
    FIRST_PART = 522, "first-part"
    STAGED = 523, "several-stages"
    OTHER_SIDE = 524, "other-side-not-measured"
    FAR_FROM_NUTS = 525, "measured-on-other-side"
    THREAD_NOT_TYPED = 526, "thread-left-unknown"
    SOLID_NOT_KNOWN = 527, "solid-length-unknown"
    GOAL_BY_PROGRAM = 528, "goal-by-program"
    MAYBE_EQUAL = 529, "maybe-equal"
    TURNED_SINCE = 530, "turned-since"
    SPAN_DIFFERS = 531, "span-differs"
    SIDE_DIFFERS = 532, "side-differs"
    LOAD_DIFFERS = 533, "load-differs"
    ROPES_DIFFER = 534, "ropes-differ"
    ARRIVED_DIFFERS = 535, "arrived-differs"
    CAR_NOT_RUN = 536, "not-run"
    CAR_RUN_TOO_LITTLE = 537, "few-round-trips"
    NO_TURNS = 538, "no-turns"
    LOAD_WORDED = 539, "load-worded-otherwise"
    TURN_BOUND = 541, "rope-answers-little"
    TURN_STRONG = 542, "rope-answers-much"
    TURNS_EXCHANGED = 543, "turns-exchanged"
    NOTHING_LEARNED = 544, "nothing-learned"
    SIGNS_REVERSED = 545, "signs-reversed"
    ANSWERS_AS_STANDING = 546, "answers-as-standing"
    ANSWERS_FAR_OFF = 547, "answers-far-off"
    RECORD_DISAGREES = 548, "record-disagrees"
    STEP_TOO_COARSE = 549, "step-too-coarse"
    FIRST_STAGE_ONLY = 566, "first-stage-only"
    THREAD_ASKED = 567, "thread-asked"
    LOOKED = 563, "looked"
    NUT_WORTH = 564, "nuts-needed"
    MORE_NUTS = 565, "more-nuts"
    NO_SPRING_LENGTHS = 551, "no-spring-lengths"
    SPRING_OUTLIER = 552, "spring-stands-out"
    LEVEL_SPRINGS = 553, "level-springs"
    SPRING_NEAR_SOLID = 554, "spring-near-solid"
    SPRING_SHORT = 555, "spring-under-solid"
    RATES_DISAGREE = 556, "rates-disagree"
    SPRING_NOT_PRESSED = 557, "spring-not-pressed"
    SPRING_SOLID_NOW = 558, "spring-solid-now"
    SPRINGS_REVERSED = 559, "springs-reversed"
    SPRINGS_ALL_OFF = 560, "springs-all-off"
    SPRINGS_DISAGREE = 561, "springs-disagree"
    SPRING_AT_PRELOAD = 562, "spring-at-preload"
    # --- 700 record ---
    ROPE_NEEDS_DATA_SHEET = 701, "rope-needs-data-sheet"
    ROPE_NOT_IN_TABLE = 702, "rope-not-in-table"
    ROPE_CORE_NOT_SAID = 703, "rope-core-not-said"
    ROPE_NOT_SAID = 704, "rope-not-said"
    # --- 800 causes and history ---
    RECORD_LEFT_OUT = 801, "record-left-out"
    RECORD_WITHOUT_DATE = 802, "record-without-date"
    SERIES_WITHOUT_PATTERN = 803, "series-without-number"
    SERIES_AMBIGUOUS = 804, "series-ambiguous"
    ROPES_NOT_IN_ALL = 805, "ropes-not-in-all"
    NO_PATTERN = 806, "no-pattern"
    LOADS_NOT_COMPARABLE = 807, "loads-not-comparable"
    PLACE_NOT_KNOWN = 808, "place-not-known"
    TRAVEL_ASSUMED = 809, "travel-assumed"
    SPRINGS_ASSUMED = 810, "springs-assumed"
    FORMS_OF_ONE_TO_ONE = 811, "forms-of-one-to-one"
    ARRIVAL_NOT_RECORDED = 812, "arrival-not-recorded"
    OLDEST_SERIES_LEFT_OUT = 813, "oldest-series-left-out"
    EARLIER_LIFE = 814, "earlier-life"
    ROUND_TRIPS_NOT_RECORDED = 815, "round-trips-not-recorded"
    FALL_BEYOND_ROPE = 816, "fall-beyond-rope"

    @property
    def number(self) -> int:
        """Number by which a note can be quoted."""
        return self.value[0]

    @property
    def code(self) -> str:
        """Stable name for programs."""
        return self.value[1]

    def note(self, *, ropes: tuple[int, ...] = (), **places: object) -> "Note":
        """Make a note of this kind."""
        return Note(kind=self, places=tuple(places.items()), ropes=ropes)

    def refusal(self, **places: object) -> "Refusal":
        """Make a refusal of this kind."""
        return Refusal(kind=self, places=tuple(places.items()))


@dataclass(frozen=True, kw_only=True, slots=True)
class Told:
    """A kind of note with what was found; its sentences are made when they are asked.

    Places hold what was found by the name of its place in the sentence, numbers of
    ropes as a tuple; one named `way` chooses among the sentences of a kind. No ropes
    are the whole set.
    """

    shown: ClassVar[tuple[str, ...]] = ("code", "text", "next_act", "ropes")

    kind: NoteKind
    places: tuple[tuple[str, object], ...] = ()
    ropes: tuple[int, ...] = ()

    @property
    def code(self) -> str:
        """Stable name of the kind."""
        return self.kind.code

    @property
    def text(self) -> str:
        """What was found, one sentence."""
        return self._filled(0)

    @property
    def next_act(self) -> str:
        """What to do about it; empty if nothing."""
        return self._filled(1)

    def _filled(self, which: int) -> str:
        """Sentence or next act of the kind, or of its way, with its places filled."""
        places = {"named": rope_list(self.ropes)} | {
            name: rope_list(value, ", ") if isinstance(value, tuple) else value
            for name, value in self.places
        }
        table, code = sentences(), self.kind.code
        found = table.get(f"{code}.{places.get('way')}") or table[code]
        return found[which].format(**places)

    def as_note(self, *ropes: int) -> "Note":
        """The same as a note on some ropes, or on the set."""
        return Note(kind=self.kind, places=self.places, ropes=ropes)

    def as_refusal(self) -> "Refusal":
        """The same as a reason why there is no number."""
        return Refusal(kind=self.kind, places=self.places)


@dataclass(frozen=True, kw_only=True, slots=True)
class Note(Told):
    """Something a reader of the result must know."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Refusal(Told):
    """Why there is no number, as a value: the other ropes stay."""

    shown: ClassVar[tuple[str, ...]] = ("code", "text", "next_act")
