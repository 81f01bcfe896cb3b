"""Lines that were taken out of a text and put in, in a bearable time."""

import difflib

MOST_COMPARED = 10_000_000
"""Beyond so many pairs of lines all count as replaced: comparing takes too long. [1]"""


def changed_lines(old: str, new: str) -> tuple[str, ...]:
    """Tell which lines of a text were taken out and put in.

    Returns
    -------
    tuple of str
        Lines that start with "- " or "+ ", without line ends.
    """
    compared = compared_lines(old.splitlines(), new.splitlines())
    return tuple(line for line in compared if not line.startswith("  "))


def compared_lines(old: list[str], new: list[str]) -> list[str]:
    """Mark the lines of a text as kept, taken out or put in."""
    shorter = min(len(old), len(new))
    head = next((i for i in range(shorter) if old[i] != new[i]), shorter)
    rest = shorter - head
    tail = next((i for i in range(rest) if old[-1 - i] != new[-1 - i]), rest)
    before, after = old[head : len(old) - tail], new[head : len(new) - tail]
    lines = [f"  {line}" for line in old[:head]]
    if len(before) * len(after) > MOST_COMPARED:
        lines += [f"- {line}" for line in before] + [f"+ {line}" for line in after]
    else:
        lines += _matched(before, after)
    return lines + [f"  {line}" for line in old[len(old) - tail :]]


def _matched(old: list[str], new: list[str]) -> list[str]:
    """Lines kept, taken out and put in, as few as can be."""
    matcher = difflib.SequenceMatcher(a=old, b=new, autojunk=False)
    lines: list[str] = []
    for tag, old_from, old_to, new_from, new_to in matcher.get_opcodes():
        if tag == "equal":
            lines += [f"  {line}" for line in old[old_from:old_to]]
            continue
        lines += [f"- {line}" for line in old[old_from:old_to]]
        lines += [f"+ {line}" for line in new[new_from:new_to]]
    return lines
