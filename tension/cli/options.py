"""Options that several commands share: each declared once, and what it says, typed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tension.catalogue.rules import Metric, find_rule
from tension.cli.declaring import (
    DAY,
    FILE,
    LENGTH,
    LINEAR_DENSITY,
    PATH,
    PERCENTAGE,
    Opt,
    WholeNumber,
    Word,
    opt,
    opt_of,
    rope_order,
)
from tension.errors import InvalidValueError
from tension.installation import Ends, HitchPlace
from tension.quantity.units import Dimension, Quantity, UnitSystem, parse_quantity
from tension.wording import Terms

if TYPE_CHECKING:
    from tension.workflow.assess import RuleChoice
    from tension.workflow.causes import LiftChoice
    from tension.workflow.inputs import Given

paths_argument = click.argument(
    "paths", nargs=-1, required=True, type=PATH, metavar="PATH..."
)
some_paths_argument = click.argument("paths", nargs=-1, type=PATH, metavar="[PATH]...")
record_argument = click.argument("path", type=PATH, default=".", metavar="[PATH]")

SERIES = opt("--series", metavar="NAME", help="Which series; the last if left out.")
JSON = opt("--json", is_flag=True, help="Print JSON.")
CSV = opt("--csv", is_flag=True, help="Print one CSV row per rope.")
TERMS = opt(
    "--terms",
    type=Word(Terms),
    default=Terms.EUROPE.value,
    show_default=True,
    help="Words of the trade.",
)
PLUCKS_EACH = opt(
    "--plucks-each",
    type=WholeNumber(1, 20),
    help="How many plucks each rope got, in one memo.",
)
PAPER = opt(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Size of the paper.",
)


def hitch_opt(what: str) -> Any:
    """Declare at which hitch something is."""
    return opt("--hitch", type=Word(HitchPlace), help=what)


def units_opt(what: str) -> Any:
    """Declare the units shown."""
    return opt(
        "--units",
        type=Word(UnitSystem),
        default=UnitSystem.SI.value,
        show_default=True,
        help=f"Units shown; {what}.",
    )


series_option = Opt.named(SERIES, "series")
json_option = Opt.named(JSON, "as_json")
hitch_option = Opt.named(
    hitch_opt("At which hitch; the one beside the span if left out."), "hitch"
)


@dataclass(frozen=True, kw_only=True, slots=True)
class RopeOptions:
    """What a set of ropes is, as far as it is known without a record."""

    free_lengths: tuple[Quantity, ...] = opt(
        "--free-length",
        type=LENGTH,
        multiple=True,
        help='Free length, "3.4 m": once, or once per rope.',
    )
    linear_density: Quantity | None = opt(
        "--linear-density",
        type=LINEAR_DENSITY,
        help='Mass per length of one rope, "0.575 kg/m".',
    )
    rope_type: str | None = opt(
        "--rope", metavar="TEXT", help='Diameter and construction, "13 mm 8x19 FC".'
    )
    ends: Ends | None = opt(
        "--ends", type=Word(Ends), help="What holds the two ends of the free length."
    )
    same_height: bool = opt(
        "--same-height", is_flag=True, help="The sockets stand at one height."
    )
    order: str | None = opt(
        "--order",
        metavar="NUMBERS",
        help='Ropes in the order plucked, in one memo or file by file, "1 2 3 3 2 1".',
    )
    plucks_each: int | None = PLUCKS_EACH

    def given(self) -> "Given":
        """Turn the options into what is known of the ropes.

        Raises
        ------
        click.BadParameter
            If a text is not what its option wants.
        """
        from tension.workflow.inputs import Given

        size, construction = self.rope()
        return Given(
            free_lengths=self.free_lengths,
            linear_density=self.linear_density,
            diameter=parse_quantity(size, Dimension.LENGTH) if size else None,
            construction=construction,
            ends=self.ends or Ends.SOCKET_SHEAVE,
            has_sockets_at_one_height=self.same_height,
            order=rope_order(self.order),
            plucks_each=self.plucks_each,
        )

    def rope(self) -> tuple[str, str]:
        """Give diameter and construction as typed; empty if not told.

        Raises
        ------
        click.BadParameter
            If there is no diameter with a unit.
        """
        from tension.workflow.inputs import split_rope_type

        if not self.rope_type:
            return "", ""
        try:
            size, construction = split_rope_type(self.rope_type)
            parse_quantity(size, Dimension.LENGTH)
        except InvalidValueError as error:
            raise click.BadParameter(str(error), param_hint="--rope") from error
        return size, construction

    def require_none(self) -> None:
        """Refuse options that a record answers itself.

        Raises
        ------
        click.UsageError
            If one is given.
        """
        for name, option in opt_of(RopeOptions).items():
            if getattr(self, name):
                raise click.UsageError(
                    f"{option.flags[0]} goes with sound files; with a record, write it "
                    "in the record."
                )


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleOptions:
    """Which rule decides."""

    rule_name: str | None = opt(
        "--rule",
        metavar="NAME",
        help="A rule of the catalogue; docs/rules.md lists them.",
    )
    limit: Quantity | None = opt(
        "--limit", type=PERCENTAGE, help='Limit of the rule, "10 %".'
    )
    metric: Metric | None = opt(
        "--metric", type=Word(Metric), help="What the percentage is of."
    )

    def choice(self) -> "RuleChoice":
        """Turn the options into a choice.

        Raises
        ------
        click.BadParameter
            If the catalogue has no such rule or the limit makes no sense.
        """
        from tension.workflow.assess import RuleChoice

        limit = self.limit
        if limit is not None and not 0 < limit.value < 1:
            raise click.BadParameter(
                f"a limit lies between 0 % and 100 %, got {limit.text}; "
                'write it like "10 %"',
                param_hint="--limit",
            )
        if self.rule_name:
            try:
                find_rule(self.rule_name)
            except InvalidValueError as error:
                raise click.BadParameter(str(error), param_hint="--rule") from error
        return RuleChoice(
            name=self.rule_name,
            limit=limit.value if limit else None,
            metric=self.metric,
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class FormOptions:
    """How the result is shown."""

    units: UnitSystem = units_opt("what was typed is echoed as typed")
    terms: Terms = TERMS
    json: bool = JSON


@dataclass(frozen=True, kw_only=True, slots=True)
class TableOptions(FormOptions):
    """How a table of ropes is shown."""

    csv: bool = CSV

    def require_one_form(self) -> None:
        """Refuse two forms of output at once.

        Raises
        ------
        click.UsageError
            If both are asked for.
        """
        if self.json and self.csv:
            raise click.UsageError("Give --json or --csv, not both.")


@dataclass(frozen=True, kw_only=True, slots=True)
class DocumentOptions:
    """How a document is laid out."""

    paper: str = PAPER
    units: UnitSystem = units_opt("readings stand as typed and in SI")
    terms: Terms = TERMS


@dataclass(frozen=True, kw_only=True, slots=True)
class Drawing:
    """A figure asked for, or none; each command says what is drawn."""

    plot: Path | None
    overwrite: bool

    def require_drawable(self, inputs: Sequence[Path]) -> None:
        """Refuse a figure that cannot be written before any work is done."""
        from tension.workflow.outputs import require_drawable, require_no_input

        if self.plot:
            require_drawable(self.plot, overwrite=self.overwrite)
            require_no_input(self.plot, inputs)

    def require_drawable_beside_records(self, paths: Sequence[Path]) -> None:
        """Refuse likewise; folders of records are looked through only if need be."""
        from tension.workflow.causes import find_records

        is_there = self.plot is not None and self.plot.exists()
        self.require_drawable([])
        if is_there:
            self.require_drawable([r for path in paths for r in find_records(path)])


def drawing_of(what: str) -> type[Drawing]:
    """Declare the options of a figure; what is drawn stands in the help."""

    @dataclass(frozen=True, kw_only=True, slots=True)
    class Drawn(Drawing):
        plot: Path | None = opt("--plot", type=FILE, metavar="FILE", help=what)
        overwrite: bool = opt(
            "--overwrite", is_flag=True, help="Let --plot replace a file."
        )

    return Drawn


@dataclass(frozen=True, kw_only=True, slots=True)
class LiftOptions:
    """Which lift, and when it was re-roped."""

    lift: str | None = opt(
        "--lift", metavar="NAME", help="Which lift, where the records are of several."
    )
    re_roped: tuple[datetime, ...] = opt(
        "--re-roped",
        type=DAY,
        multiple=True,
        metavar="DAY",
        help="A day of re-roping that no record tells, 2025-03-14.",
    )

    def choice(self, rule: "RuleChoice | None" = None) -> "LiftChoice":
        """Turn the options into a choice, days in order."""
        from tension.workflow.assess import RuleChoice
        from tension.workflow.causes import LiftChoice

        days = tuple(sorted(day.date() for day in self.re_roped))
        return LiftChoice(lift=self.lift, re_roped=days, rule=rule or RuleChoice())
