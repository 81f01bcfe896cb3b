"""Tables that people write: what stands in them and how each value is read.

A file is described table by table, a row a key; types and defaults are those of the
dataclasses that the tables become. pydantic reads by it, and the page of formats is
written from it. Imported only where something is read.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import MISSING, dataclass, field, fields
from datetime import date, datetime
from difflib import get_close_matches
from enum import Enum
from importlib.resources import files
from math import inf
from types import NoneType
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Self, get_args, get_origin
from typing import get_type_hints as hints_of

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    ModelWrapValidatorHandler,
    Strict,
    ValidationError,
    create_model,
    model_validator,
)
from pydantic.fields import FieldInfo
from pydantic_core import core_schema

from tension.errors import InvalidValueError
from tension.quantity.units import Dimension, Quantity, parse_quantity, show_quantity
from tension.shown import barred_rows

Kinds = Mapping[Any, tuple[str, ...]]
Contradictions = Iterator[tuple[str | tuple[str | int, ...], str]]
"""A key of a table, or a path within it, and what cannot be right there."""


@dataclass(frozen=True, slots=True)
class Measured:
    """Marks a text with its unit."""

    dimension: Dimension
    least: float = -inf  # between what it must lie, both included [SI]
    most: float = inf

    def __get_pydantic_core_schema__(
        self, _source: object, _handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Tell pydantic how it is read."""
        return core_schema.no_info_plain_validator_function(self.read)

    def read(self, value: object) -> Quantity:
        """Read one text with its unit.

        Raises
        ------
        InvalidValueError
            If it is no such quantity, or out of range.
        """
        if not isinstance(value, str):
            is_number = type(value) in {int, float}
            hint = f'; write "{value} ..." with its unit' if is_number else ""
            raise InvalidValueError(
                f"must be a text with its unit in quotes, not {shown(value)}{hint}"
            )
        quantity = parse_quantity(value, self.dimension)
        slack = 1e-9 * min(max(abs(self.least), abs(self.most)), 1e12)
        if self.least - slack <= quantity.value <= self.most + slack:
            return quantity
        raise InvalidValueError(
            f"must be from {self.range}, not {value}; check number and unit"
        )

    @property
    def range(self) -> str:
        """Between what it must lie, in words."""
        ends = (show_quantity(end, self.dimension) for end in (self.least, self.most))
        return " to ".join(ends)


def listed(value: object) -> tuple[object, ...]:
    """Take one value or a list of them."""
    return tuple(value) if isinstance(value, list) else (value,)


def _one_at_least(value: object) -> tuple[object, ...]:
    """One value, or a list that is not empty."""
    if value == []:
        raise InvalidValueError("is an empty list; write one reading at least")
    return listed(value)


def _day(value: object) -> date:
    """A date, as TOML writes it or as text."""
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    try:
        return date.fromisoformat(value if isinstance(value, str) else "")
    except ValueError:
        raise InvalidValueError(
            f"must be a date like 2026-11-20, not {shown(value)}"
        ) from None


def _day_as_text(value: object) -> object:
    """A date or time as TOML writes it, as text; all else as it is."""
    return value.isoformat() if isinstance(value, date) else value


def _not_empty(text: str) -> str:
    """A text that says something."""
    if not text.strip():
        raise InvalidValueError("must not be empty")
    return text


NeededText = Annotated[str, AfterValidator(_not_empty)]
Whole = Annotated[int, Strict(), Field(ge=1)]
WholeOrNone = Annotated[int, Strict(), Field(ge=0)]
Day = Annotated[date, BeforeValidator(_day)]
TextOrDay = Annotated[str, BeforeValidator(_day_as_text)]
Length = Annotated[Quantity, Measured(Dimension.LENGTH)]
_OneOrMore = BeforeValidator(_one_at_least)

_READ_AS: Mapping[object, Any] = {
    int: Whole,
    float: Annotated[float, Strict(), Field(allow_inf_nan=False)],
    bool: Annotated[bool, Strict()],
    date: Day,
    tuple[int, ...]: tuple[Whole, ...],
}
"""How the types of dataclasses are read; lists of others are one or a list of them."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TableForm:
    """What a table becomes, and what cannot stand together in it."""

    # dataclasses whose fields give types and defaults; what has no default must be
    # written, if nothing is said to hold where it is left out
    becomes: tuple[type, ...] = ()
    kind_key: str = ""  # the key under whose words the others depend
    kinds: Kinds = field(default_factory=dict)  # by its words: keys of some kinds only
    needed: Kinds = field(default_factory=dict)  # by its words: keys that a kind needs
    # finds what else cannot stand together in it, or in the tables that it holds
    against: Callable[["Table"], Contradictions] = lambda _: iter(())
    is_needed: bool = False  # whether the table must be there


def form(*becomes: type, **more: Any) -> TableForm:  # noqa: ANN401 - fields of a form
    """Tell what a table becomes and what else holds of it."""
    return TableForm(becomes=becomes, **more)


class Table(BaseModel):
    """A table that a person writes."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    form: ClassVar[TableForm] = TableForm()
    meaning: ClassVar[str] = ""

    if TYPE_CHECKING:

        def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - its keys
            """Give a key; the models are made as the program runs."""

    def make(self, kind: Any = None, **other: object) -> Any:  # noqa: ANN401 - by form
        """Make what the table becomes, its fields by the keys of their names."""
        kind, known = kind or self.form.becomes[0], {**dict(self), **other}
        names = [one.name for one in fields(kind) if one.name in known]
        return kind(**{name: known[name] for name in names})

    @property
    def written(self) -> set[str]:
        """Names of the keys that stand in it."""
        own = type(self).model_fields
        return {own[name].alias or name for name in self.model_fields_set}

    @model_validator(mode="wrap")
    @classmethod
    def _agreeing(cls, written: object, read: ModelWrapValidatorHandler[Self]) -> Self:
        """Read it; beside what is wrong tell keys that cannot stand together."""
        against = [*cls._misplaced(written)] if isinstance(written, dict) else []
        wrong: list[Any] = []
        table = None
        try:
            table = read(written)
        except ValidationError as error:
            wrong += error.errors(include_url=False)
        else:
            against += cls.form.against(table)
        for place, text in against:
            path = place if isinstance(place, tuple) else (place,)
            told = {"error": InvalidValueError(text)}
            wrong.append(
                {"type": "value_error", "loc": path, "input": written, "ctx": told}
            )
        if wrong or table is None:
            raise ValidationError.from_exception_data(cls.__name__, wrong)
        return table

    @classmethod
    def _misplaced(cls, written: Mapping[str, Any]) -> Contradictions:
        """Keys that belong to another kind, or that this kind needs."""
        form = cls.form
        kind = written.get(form.kind_key)
        if not isinstance(kind, str) or kind not in {*form.kinds, *form.needed}:
            return
        own = form.kinds.get(kind, ())
        for name in written:
            others = [k for k, names in form.kinds.items() if name in {*names} - {*own}]
            if others:
                words = (f'{form.kind_key} = "{other}"' for other in others)
                yield name, f"goes with {' or '.join(words)}"
        for name in form.needed.get(kind, ()):
            if name not in written:
                yield name, missing(keys_of(cls)[name])


def tables(
    name: str, forms: Mapping[str, TableForm], words: Mapping[str, Any]
) -> dict[str, type[Table]]:
    """Make the models of a file by its description, inner tables first.

    Its head tells how the description is written. The forms go by the name of the
    table, the top of the file has none; the words tell types that fields do not tell.
    """
    description = files("tension.files").joinpath(name).read_text("utf-8")
    made: dict[str, type[Table]] = {}
    headers: dict[str, str] = {}
    for part in reversed(("\n" + description).split("\n[")[1:]):
        header, meaning, *rows = part.strip().split("\n")
        name = header.strip("[]")
        headers[name] = header
        own_form = forms.get(name, TableForm())
        keys = _keys("\n".join(rows), own_form, words)
        for inner in reversed(made):
            outer, _, own = inner.rpartition(".")
            if outer == name:
                keys[own] = _holding(made[inner], headers[inner])
        made[name] = create_model(name or "top", __base__=Table, **keys)
        made[name].form, made[name].meaning = own_form, meaning
    return made


def _holding(table: type[Table], header: str) -> tuple[Any, Any]:
    """Type and default of a key that holds a table, or several in double brackets."""
    alias = header.strip("[]")
    if header.startswith("["):
        several = tuple[table, ...]  # type: ignore[valid-type]
        needed = Field(..., alias=alias, min_length=1)
        return several, needed if table.form.is_needed else ()
    if table.form.is_needed:
        return table, Field(..., alias=alias)
    return table, Field({}, validate_default=True)  # one without keys


def _keys(rows: str, form: TableForm, words: Mapping[str, Any]) -> dict[str, Any]:
    """Type and default of every key of a table."""
    known = {one.name: one for kind in form.becomes for one in fields(kind)}
    hints = {n: hint for kind in form.becomes for n, hint in hints_of(kind).items()}
    keys: dict[str, Any] = {}
    for written, amount, left_out, meaning in barred_rows(rows, 4):
        alias, _, name = written.rstrip(")").partition(" (")
        name = name or alias
        kind = words.get(amount) or _read_as(hints.get(name, str), amount)
        default = known[name].default if name in known else MISSING
        if default is MISSING and (left_out or name not in known):
            default = _nothing(kind, left_out)
        is_needed = default is MISSING
        keys[name] = (
            NeededText if is_needed and kind is str else kind,
            Field(
                ... if is_needed else default,
                alias=alias,
                description=meaning or ", ".join(kind),
                json_schema_extra={"left_out": left_out, "written": amount},
            ),
        )
    return keys


def _read_as(hint: Any, amount: str) -> Any:  # noqa: ANN401 - a type, of any form
    """The type by which the value of a field is read."""
    parts = [part for part in get_args(hint) if part is not NoneType]
    is_optional = len(parts) < len(get_args(hint))
    kind = parts[0] if is_optional else hint
    if amount.startswith("number"):
        least, most = map(float, amount.split(", ")[1:])
        kind = Annotated[_READ_AS[float], Field(ge=least, le=most)]
    elif amount and amount != "from 0":
        name, *ends = amount.split(", ")
        is_optional = is_optional or hint is str
        one = Annotated[Quantity, Measured(Dimension(name), *map(float, ends))]
        is_list = get_origin(kind) is tuple
        kind = Annotated[tuple[one, ...], _OneOrMore] if is_list else one
    elif amount:
        kind = WholeOrNone
    elif kind in _READ_AS:
        kind = _READ_AS[kind]
    elif get_origin(kind) is tuple:
        kind = Annotated[kind, BeforeValidator(listed)]
    return kind | None if is_optional else kind


def _nothing(kind: Any, left_out: str) -> Any:  # noqa: ANN401 - as above
    """What holds where a key of a type may be left out; MISSING if it may not."""
    bare = get_args(kind)[0] if get_origin(kind) is Annotated else kind
    if NoneType in get_args(bare):
        return None
    if isinstance(bare, type) and issubclass(bare, Enum):
        words = {member.value: member for member in bare}
        return words.get(left_out) if left_out else MISSING
    if bare is int:
        return 0 if left_out else MISSING
    return (get_origin(bare) or bare)()


def either(table: Table, one: str, other: str) -> Contradictions:
    """Tell where both of two keys stand in a table, or neither."""
    if (one in table.written) == (other in table.written):
        yield one, f"write either {one} or {other}"


def missing(field: FieldInfo) -> str:
    """Say that a key must be written."""
    if table_in(field):
        return f"is missing; write {in_brackets(field.alias or '', field)}"
    return f"is missing; write it ({field.description})"


def keys_of(table: type[BaseModel]) -> dict[str, FieldInfo]:
    """Give the keys of a table as they are written."""
    return {field.alias or name: field for name, field in table.model_fields.items()}


def types_in(annotation: object) -> Iterator[Any]:
    """Give every type and mark within a type, such as those of ``X | None``."""
    yield annotation
    for part in get_args(annotation):
        yield from types_in(part)


def table_in(field: FieldInfo) -> type[Table] | None:
    """Find the table that a key holds, if it holds one."""
    found = (t for t in types_in(field.annotation) if isinstance(t, type))
    return next((t for t in found if issubclass(t, Table)), None)


def in_brackets(name: str, field: FieldInfo) -> str:
    """Write a table as its header: in double brackets if it may stand several times."""
    return f"[[{name}]]" if get_origin(field.annotation) is tuple else f"[{name}]"


def not_one_of(words: Iterable[str], value: object) -> str:
    """Say that a value is none of some words."""
    known = [str(word) for word in words]
    near = get_close_matches(value, known, n=1) if isinstance(value, str) else []
    hint = f'; did you mean "{near[0]}"?' if near else ""
    return f"must be one of {', '.join(known)}, not {shown(value)}{hint}"


def shown(value: object) -> str:
    """Show a value as a person would have typed it, in at most 60 letters."""
    text = f'"{value}"' if isinstance(value, str) else str(value)
    if isinstance(value, bool):
        text = text.lower()
    return cut(text)


def cut(text: str) -> str:
    """Show at most 60 letters of a text."""
    return text if len(text) <= 60 else text[:57] + "..."
