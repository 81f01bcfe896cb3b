"""What was added to a record, in words."""

from collections.abc import Callable, Iterator, Mapping, Sequence

from tension.files.toml_text import NewTable

Members = Sequence[Mapping[str, object]]


def added_text(tables: Sequence[NewTable]) -> Iterator[str]:
    """Say what was added, a line for what belongs together."""
    groups: dict[tuple[str, str], list[Mapping[str, object]]] = {}
    for table in tables:
        keys = dict(table.keys)
        groups.setdefault((table.name, str(keys.get("kind", ""))), []).append(keys)
    for (name, kind), members in groups.items():
        words = _WORDS.get((name, kind)) or _WORDS.get((name, ""))
        yield words(members) if words else f"{len(members)} of [[{name}]]"


def _plucks(members: Members) -> str:
    """Recordings with their ropes."""
    files = [f"rope {_ropes(one)} {one['recording']}" for one in members]
    shown = "; ".join(files[:3]) + (f"; to {files[-1]}" if len(files) > 3 else "")
    return f'recordings of "{members[0]["series"]}": {shown}'


def _ropes(keys: Mapping[str, object]) -> str:
    """Rope or ropes of a reading."""
    ropes = keys.get("ropes")
    if isinstance(ropes, tuple) and ropes:
        return " ".join(map(str, ropes))
    return str(keys.get("rope"))


def _of_ropes(what: str, members: Members) -> str:
    """Readings of some ropes."""
    ropes = ", ".join(str(one["rope"]) for one in members)
    return f'{what} of rope {ropes}, "{members[0]["series"]}"'


def _turns(members: Members) -> str:
    """Turns with their sign in words."""
    each = (
        f"rope {one['rope']} {'in' if str(one['turns'])[0] == '+' else 'out'} "
        f"{str(one['turns'])[1:].strip()}"
        for one in members
    )
    return f'turns after "{members[0]["after"]}", {", ".join(each)}'


def _rope(members: Members) -> str:
    """What is known of ropes now."""
    what = "thread left" if "take_up_left" in members[0] else "free length"
    return f"{what} of rope " + ", ".join(str(one["number"]) for one in members)


def _exclusion(members: Members) -> str:
    """What does not count any more, and why."""
    first = members[0]
    what = first["recording"] or f"rope {first['rope']}"
    return f"left out: {what}, {first['reason']}"


_WORDS: dict[tuple[str, str], Callable[[Members], str]] = {
    ("reading", "pluck"): _plucks,
    ("reading", "pull"): lambda m: _of_ropes("side pulls", m),
    ("reading", "returns"): lambda m: _of_ropes("wave returns", m),
    ("reading", "spring"): lambda m: _of_ropes("spring lengths", m),
    ("series", ""): lambda m: f'series "{m[0]["name"]}"',
    ("span", ""): lambda m: f'span "{m[0]["name"]}"',
    ("rope", ""): _rope,
    ("hitch", ""): lambda m: f"hitch {m[0]['at']}",
    ("turn", ""): _turns,
    ("run", ""): lambda m: f'{m[0]["round_trips"]} round trips after "{m[0]["after"]}"',
    ("exclusion", ""): _exclusion,
    ("answer", ""): lambda m: f"answer to note {m[0]['note']}: {m[0]['answer']}",
    ("finding", ""): lambda m: f"finding: {m[0]['kind']}, rope {m[0]['rope'] or 'all'}",
}
