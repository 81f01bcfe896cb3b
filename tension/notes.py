"""Notes and refusals: what was found doubtful, in one plain sentence, with the next act.

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
    500 adjustment, 600 condition, 700 record.
    """

    # --- 100 sound ---
    NO_PLUCK = (
        101,
        "no-pluck",
        "No pluck was found in {recording}.",
        "Pull the rope aside by hand, let go, and let it ring for five seconds.",
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
        "{recording} lasts {length}; at most {limit:.0f} h are read.",
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
    # --- 300 measurement ---
    # --- 400 assessment ---
    TOO_FEW_ROPES = (
        401,
        "too-few-ropes",
        "Only {n_given} of {n_ropes} ropes have a number; two are the least to compare.",
        "Measure the others in the same position, side and load.",
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
        "Are all sockets at one height? Then say so; else give each rope its length.",
    )
    LENGTH_NOT_DECISIVE = (
        404,
        "length-not-decisive",
        "One free length was given and nothing was said of the sockets; {stagger} mm "
        "on any rope could not change the answer, and the bounds allow for it.",
        "For better shares give each rope its length, or say that the sockets are at "
        "one height.",
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
    # --- 500 adjustment ---
    # --- 600 condition ---
    # --- 700 record ---

    @property
    def number(self) -> int:
        """Number by which a note can be quoted."""
        return self.value[0]

    @property
    def code(self) -> str:
        """Stable name for programs."""
        return self.value[1]

    def note(self, *, ropes: tuple[int, ...] = (), **places: object) -> Note:
        """Make a note of this kind.

        Parameters
        ----------
        ropes : tuple of int
            Rope numbers concerned.
        **places : object
            What fills the places of the text.

        Returns
        -------
        Note
            The note, its sentences filled in.
        """
        _, code, text, next_act = self.value
        return Note(
            code=code,
            text=text.format(**places),
            next_act=next_act.format(**places),
            ropes=ropes,
        )

    def refusal(self, **places: object) -> Refusal:
        """Make a refusal of this kind.

        Parameters
        ----------
        **places : object
            What fills the places of the text.

        Returns
        -------
        Refusal
            The reason, its sentences filled in.
        """
        _, code, text, next_act = self.value
        return Refusal(
            code=code,
            text=text.format(**places),
            next_act=next_act.format(**places),
        )
