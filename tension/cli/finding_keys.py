"""Keys of a finding from a command line: KEY=VALUE, each as a record writes it."""

from collections.abc import Sequence

import click

from tension.condition.findings import KEYS_OF
from tension.files.record import record_fields
from tension.files.toml_text import Value

_LISTS = frozenset({"diameters", "gauge", "photo"})


def finding_rope(text: str) -> int | None:
    """Read the rope of a finding.

    Returns
    -------
    int or None
        The rope; None for the whole set.

    Raises
    ------
    click.BadParameter
        If it is neither.
    """
    plain = text.lower().removeprefix("rope").strip()
    if plain in {"all", "set"}:
        return None
    if plain.isdigit():
        return int(plain)
    raise click.BadParameter(f'write a rope number, or "all", not "{text}"')


def finding_keys(kind: str, details: Sequence[str], by: str) -> dict[str, Value]:
    """Read the keys of a finding.

    Parameters
    ----------
    kind : str
        What was looked for; it counts as seen if nothing else is said or measured.
    details : sequence of str
        Such as "broken=12".
    by : str
        Who found it; empty if not told.

    Raises
    ------
    click.UsageError
        If one is no KEY=VALUE.
    """
    table = next(one for one in record_fields() if one.name == "finding")
    forms = {key.name: key.form for key in table.keys}
    keys: dict[str, Value] = {"by": by} if by else {}
    for detail in details:
        name, mark, text = detail.partition("=")
        name = name.strip().lower()
        if not mark or not text.strip():
            known = ", ".join(forms)
            raise click.UsageError(
                f'"{detail}" is no KEY=VALUE; the keys of a finding are {known}.'
            )
        keys[name] = _value(text.strip(), forms.get(name, "text"), name)
    measured = {name for of, names in KEYS_OF.items() if of == kind for name in names}
    if not keys.keys() & {"seen", *measured}:
        keys["seen"] = "yes"
    return keys


def _value(text: str, form: str, name: str) -> Value:
    """A value in the form that its key has."""
    if form == "whole number" and text.isdigit():
        return int(text)
    if form == "true or false" and text.lower() in {"true", "yes", "false", "no"}:
        return text.lower() in {"true", "yes"}
    if name in _LISTS:
        return tuple(part.strip() for part in text.split(";" if ";" in text else ","))
    return text
