"""What contradicts itself between the tables of a record."""

from collections.abc import Iterator

from tension.files.record_lines import TomlPath
from tension.files.visit import Visit
from tension.measurement.readings import PluckReading

_SHORTEST = 0.05

Contradiction = tuple[TomlPath, str, str]


def contradictions(visit: Visit) -> Iterator[Contradiction]:
    """Find what cannot both be right.

    Parameters
    ----------
    visit : Visit
        A record, as far as it could be read.

    Yields
    ------
    tuple of (tuple, str, str)
        Where in the file, where in words, and what is wrong with what to write.
    """
    yield from _heights(visit)
    yield from _lengths(visit)
    yield from _exclusions(visit)


def _heights(visit: Visit) -> Iterator[Contradiction]:
    """Sockets at one height, and yet a stagger."""
    rope_set = visit.rope_set
    if not rope_set.has_sockets_at_one_height:
        return
    staggered = [r for r in rope_set.ropes if r.stagger and r.stagger.value != 0]
    if staggered:
        rope = staggered[0]
        yield (
            ("set", "sockets"),
            "set, sockets",
            f"says one height, but rope {rope.number} has a stagger of "
            f"{rope.stagger.text if rope.stagger else ''}; keep one of them",
        )


def _lengths(visit: Visit) -> Iterator[Contradiction]:
    """A stagger that leaves no length."""
    for rope in visit.rope_set.ropes:
        for span in visit.rope_set.spans:
            if not (rope.stagger and span.free_length):
                continue
            if span.free_length.value + rope.stagger.value < _SHORTEST:
                yield (
                    ("rope",),
                    f"rope {rope.number}, stagger",
                    f"{rope.stagger.text} leaves nothing of the free length "
                    f'{span.free_length.text} of "{span.name}"; check both',
                )


def _exclusions(visit: Visit) -> Iterator[Contradiction]:
    """A recording left out that no reading names."""
    named = {r.recording for r in visit.readings if isinstance(r, PluckReading)}
    for i, exclusion in enumerate(visit.exclusions):
        if exclusion.recording and exclusion.recording not in named:
            yield (
                ("exclusion", i, "recording"),
                f"exclusion {i + 1}, recording",
                f'no reading names "{exclusion.recording}"; write it as there',
            )
