"""Tables that people write, as pydantic models: their base and the types of their keys.

Imported only where something is read.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from difflib import get_close_matches
from enum import Enum
from math import inf
from typing import Annotated, Any, ClassVar, TypeVar, get_args, get_origin

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    Strict,
)
from pydantic.fields import FieldInfo
from pydantic_core import core_schema

from tension.errors import InvalidValueError
from tension.quantity.units import Dimension, Quantity, parse_quantity, show_quantity

Kinds = Mapping[Any, tuple[str, ...]]
Kind = TypeVar("Kind")


class Form(Enum):
    """How a value is written, where its type does not tell; for the page of formats."""

    WHOLE = "whole number"
    WHOLES = "list of whole numbers"
    NUMBER = "number"
    DATE = "date"
    FLAG = "true or false"
    PATH = "path"
    PATHS = "path, or a list of them"
    ROWS = "list of lists of rope numbers"
    LENGTHS = "table of span names and lengths"


@dataclass(frozen=True, kw_only=True, slots=True)
class Measured:
    """Marks a text with its unit, or with a tuple type one text or a list of them.

    Attributes
    ----------
    dimension : Dimension
        What it must measure.
    least, most : float
        Between what it must lie, both included. [SI]
    """

    dimension: Dimension
    least: float = -inf
    most: float = inf

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Tell pydantic how it is read."""
        one = core_schema.no_info_plain_validator_function(self.read)
        if get_origin(source) is not tuple:
            return one
        many = core_schema.tuple_schema([one], variadic_item_index=0)
        return core_schema.no_info_before_validator_function(_one_at_least, many)

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
        least = show_quantity(self.least, self.dimension)
        most = show_quantity(self.most, self.dimension)
        raise InvalidValueError(
            f"must be from {least} to {most}, not {value}; check number and unit"
        )


def listed(value: object) -> tuple[object, ...]:
    """Take one value or a list of them."""
    return tuple(value) if isinstance(value, list) else (value,)


def _one_at_least(value: object) -> tuple[object, ...]:
    """One value, or a list that is not empty."""
    if value == []:
        raise InvalidValueError("is an empty list; write one reading at least")
    return listed(value)


def _whole_list(value: object) -> tuple[object, ...]:
    """A list of whole numbers from 1 up."""
    if isinstance(value, list) and all(type(v) is int and v >= 1 for v in value):
        return tuple(value)
    raise InvalidValueError(
        f"must be a list of whole numbers from 1 up, not {shown(value)}"
    )


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
Whole = Annotated[int, Strict(), Field(ge=1), Form.WHOLE]
WholeOrNone = Annotated[int, Strict(), Field(ge=0), Form.WHOLE]
"""A whole number from 0 up."""
Wholes = Annotated[tuple[int, ...], BeforeValidator(_whole_list), Form.WHOLES]
Number = Annotated[float, Strict(), Field(allow_inf_nan=False), Form.NUMBER]
Flag = Annotated[bool, Strict(), Form.FLAG]
Day = Annotated[date, BeforeValidator(_day), Form.DATE]
TextOrDay = Annotated[str, BeforeValidator(_day_as_text)]
Fraction = Annotated[Quantity, Measured(dimension=Dimension.FRACTION)]
Length = Annotated[Quantity, Measured(dimension=Dimension.LENGTH)]
Lengths = Annotated[tuple[Quantity, ...], Measured(dimension=Dimension.LENGTH)]
Force = Annotated[Quantity, Measured(dimension=Dimension.FORCE)]


def key(meaning: str, default: Any = None, *, left_out: str = "", **more: Any) -> Any:  # noqa: ANN401 - as pydantic's own Field
    """Describe one key; with ``...`` for its default it must be written.

    Parameters
    ----------
    meaning : str
        What it says, for the page of file formats.
    default : object
        What holds where it is left out.
    left_out : str
        The same in words, where the default does not say it.
    **more : object
        As pydantic's ``Field`` takes them, such as ``alias``: the key as written.
    """
    return Field(
        default, description=meaning, json_schema_extra={"left_out": left_out}, **more
    )


class Table(BaseModel):
    """A table that a person writes.

    Its keys may depend on the word under one of them: what belongs to one kind only
    stands in ``kinds``, what that kind needs in ``needed``.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    kind_key: ClassVar[str] = ""
    kinds: ClassVar[Kinds] = {}
    needed: ClassVar[Kinds] = {}

    def make(self, kind: type[Kind]) -> Kind:
        """Make what the table describes: its keys are the fields of the kind."""
        return kind(**dict(self))

    @classmethod
    def contradictions(cls, written: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Find what cannot stand together; each key by itself may be right."""
        kind = written.get(cls.kind_key)
        if isinstance(kind, str) and kind in {*cls.kinds, *cls.needed}:
            for name in written.keys() - {*cls.kinds.get(kind, ())}:
                others = [k for k, names in cls.kinds.items() if name in names]
                words = " or ".join(f'{cls.kind_key} = "{other}"' for other in others)
                if words:
                    yield name, f"goes with {words}"
            for name in cls.needed.get(kind, ()):
                if name not in written:
                    yield name, missing(keys_of(cls)[name])
        yield from cls._contradictions(written)

    @classmethod
    def _contradictions(
        cls,
        written: Mapping[str, Any],  # noqa: ARG003
    ) -> Iterator[tuple[str, str]]:
        """What else cannot stand together in this table; nothing by default."""
        yield from ()


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
    return text if len(text) <= 60 else text[:57] + "..."
