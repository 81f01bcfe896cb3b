"""What the programs of General MIDI sound like: strings, and what is no rope.

Program numbers and names of the open General MIDI level 1 list, from memory. Several
strings at once (honky-tonk, twelve strings, sections), harmonics, distorted and
synthesised ones are left out: they have no reference.
"""

import re
from enum import StrEnum


class Family(StrEnum):
    """What sounds."""

    STRING = "string"
    MUTED = "muted string"
    BOWED = "bowed string"
    BLOWN = "blown tone"
    SUNG = "sung tone"
    BAR = "bar or bell"
    DRUM = "drum"
    PLATE = "plate"
    EFFECT = "effect"
    SPEECH = "speech"


STRINGS = {
    0: "piano",
    1: "piano",
    6: "harpsichord",
    7: "clavinet",
    15: "dulcimer",
    24: "guitar-nylon",
    25: "guitar-acoustic",
    26: "guitar-jazz",
    27: "guitar-electric",
    32: "bass-acoustic",
    33: "bass-electric",
    34: "bass-picked",
    35: "bass-fretless",
    36: "bass-slap",
    37: "bass-popped",
    46: "harp",
    104: "sitar",
    105: "banjo",
    106: "shamisen",
    107: "koto",
}
OTHERS = {
    Family.MUTED: (28,),
    Family.BAR: (*range(8, 15), 108, 112, 113, 114),
    Family.BLOWN: (*range(16, 24), *range(56, 80), 109, 111),
    Family.BOWED: (*range(40, 45), 48, 49, 110),
    Family.SUNG: (52, 53, 54),
    Family.DRUM: (47, 115, 116, 117, 118),
    Family.PLATE: (119,),
    Family.EFFECT: (*range(120, 128),),
}
BY_NAME = {
    "ukulele": "ukulele",
    "mandolin": "mandolin",
    "hawaiian": "guitar-steel",
    "taisho": "koto-taisho",
}
ONE_STRING = {"bass-picked", "bass-popped", "bass-slap", "bass-electric"}
"""Ways of plucking the strings of one electric bass, where a collection has them."""
LEFT_OUT = re.compile(r"12|chorus|detuned|coupled|octave|funk|feedback|synth", re.I)
PLATES = re.compile(r"cym|crash|ride|hat|china|splash|gong|bell|triang", re.I)
DRUM_BANKS = (120, 128)


def string_named(preset: str, bank: int, program: int) -> str | None:
    """Instrument of a preset that is one plucked or struck string a note."""
    for word, instrument in BY_NAME.items():
        if word in preset.lower():
            return instrument
    if bank == 0 and not LEFT_OUT.search(preset):
        return STRINGS.get(program)
    return None


def family_of(bank: int, program: int, sample: str) -> Family | None:
    """What a preset or sample is that is no string; None if it is not wanted."""
    if bank in DRUM_BANKS:
        return Family.PLATE if PLATES.search(sample) else Family.DRUM
    if bank != 0:
        return None
    for family, programs in OTHERS.items():
        if program in programs:
            return family
    return None
