"""A group whose commands are loaded when they are used, and a near one suggested."""

import importlib
from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any

import click


class LazyGroup(click.Group):
    """A group that imports a command only when it is called.

    Parameters
    ----------
    *args, **attributes
        Of `click.Group`.
    loaded : mapping of str to (str, str)
        What each command is for, and "module:name" of where it is, in the order listed.
    heading : str
        Over the list.
    unknown : str
        What is said of a word that is none of them: with two places, for the word and
        for the suggestion.
    """

    def __init__(
        self,
        *args: Any,
        loaded: Mapping[str, tuple[str, str]],
        heading: str,
        unknown: str,
        **attributes: Any,
    ) -> None:
        super().__init__(*args, **attributes)
        self._loaded, self._heading, self._unknown = loaded, heading, unknown

    def list_commands(self, ctx: click.Context) -> list[str]:
        """List the commands in the order a job goes."""
        del ctx
        return list(self._loaded)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command."""
        del ctx
        entry = self._loaded.get(cmd_name.lower())
        if entry is None:
            return None
        module, _, name = entry[1].partition(":")
        command: click.Command = getattr(importlib.import_module(module), name)
        return command

    def format_commands(
        self, ctx: click.Context, formatter: click.HelpFormatter
    ) -> None:
        """Write the list of commands without importing them."""
        del ctx
        with formatter.section(self._heading):
            formatter.write_dl([(name, of[0]) for name, of in self._loaded.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Suggest the nearest command for a misspelt one."""
        if args and args[0].lower() not in self._loaded:
            near = get_close_matches(args[0].lower(), self._loaded, n=1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            ctx.fail(self._unknown.format(args[0], hint))
        return super().resolve_command(ctx, args)
