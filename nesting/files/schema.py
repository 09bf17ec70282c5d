"""What the schemas of all files share: strict kinds of value, and a first complaint turned into one FileError."""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import MISSING, fields
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Annotated, Any, TypeVar, cast, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainValidator,
    ValidationError,
    ValidationInfo,
    create_model,
)

from ..errors import Faults, FileError, ModelError
from ..model import GRADES, units
from .limits import DEFAULT
from .source import printable


class Table(BaseModel):
    """A set of keys in a file: any key it does not know is refused."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


Schema = TypeVar("Schema", bound=Table)


def validate(schema: type[Schema], data: object, file: str | Path, place: str = "", currency: str = "") -> Schema:
    """Check data from a file against its schema.

    Parameters
    ----------
    schema : subclass of Table
    data : object
        What the JSON or TOML reader gave.
    file : str or Path
    place : str
        Where in the file the data lies; empty for all of it.
    currency : str
        What signs of money in the file must mean (ISO 4217); empty where that is not known.

    Raises
    ------
    FileError
        For every fault, unknown keys before all others.
    """
    try:
        return schema.model_validate(data, context={"currency": currency})
    except ValidationError as error:
        told = error.errors(include_url=False)
        unknown = [fault for fault in told if fault["type"] == "extra_forbidden"]
        # a mistyped key is also a missing one: the mistake is told once
        mistyped = {fault["loc"][:-1] for fault in unknown}
        others = [
            fault
            for fault in told
            if fault not in unknown and not (fault["type"] == "missing" and fault["loc"][:-1] in mistyped)
        ]
        faults = Faults()
        for fault in [*unknown, *others][: DEFAULT.most_faults]:
            faults.found.append(
                FileError(file, spot(file, place, *fault["loc"]), _fault_value(fault), _mend(schema, fault))
            )
        faults.tell()
        raise


def spot(file: str | Path, place: str, *steps: str | int) -> str:
    """Words for a place in a file: ``setting 2 > power_percent`` in TOML, ``hides[0].zones[1]`` in JSON.

    Readings, which people type into JSON, are counted as in TOML: ``reading 2 > mm``.
    """
    typed = str(file).endswith((".toml", ".csv")) or bool(re.search(r"\breading \d+$", place))
    for step in steps:
        if isinstance(step, int) and place.split(".")[-1] == "readings":
            place, typed = f"{place.removesuffix('s')} {step + 1}", True
        elif isinstance(step, int):
            place += f" {step + 1}" if typed else f"[{step}]"
        else:
            name = printable(step[:60]) or '""'
            place = f"{place}{' > ' if typed else '.'}{name}" if place else name
    return place or "file"


@contextmanager
def at(file: str | Path, place: str, keys: Mapping[str, tuple[str | int, ...]] | None = None) -> Iterator[None]:
    """Turn a ModelError raised inside into a FileError; ``keys`` says which key holds a thing when its name differs."""
    try:
        yield
    except ModelError as error:
        thing = error.thing.split(" of ")[0]
        raise FileError(file, spot(file, place, *(keys or {}).get(thing, (thing,))), error.value, error.mend) from None


def among(names: Iterable[str], value: str, what: str) -> str:
    """A mend that lists the names there are, the nearest first when one is near."""
    names = [printable(name) for name in names]
    near = difflib.get_close_matches(value[:200], names, 1)
    listed = ", ".join(names[:20]) + (", ..." if len(names) > 20 else "")
    if not names:
        return f"there are no {what}"
    return f"did you mean {near[0]}? {what}: {listed}" if near else f"is none of the {what}: {listed}"


def shown(value: object) -> str:
    """A value from a file as it stands there; a long list or a table by its size only."""
    if isinstance(value, dict):
        return f"a table of {len(value)}"
    if isinstance(value, (list, tuple)) and (len(value) > 4 or any(isinstance(v, (list, dict, str)) for v in value)):
        return f"a list of {len(value)}"
    try:
        return printable(json.dumps(value, ensure_ascii=False, default=str))
    except (TypeError, ValueError):
        return f"a {type(value).__name__} too long to show"


def tidy(text: str) -> str:
    """Text on one line with single spaces, alike in every file so names meet; ValueError on control characters."""
    text = " ".join(text.split())
    if not text.isprintable():
        raise ValueError("give plain text without control characters")
    return text


def check_format(data: object, name: str, file: str | Path, place: str) -> None:
    """Make sure of the format and version before anything else is believed: a newer one may hold any key."""
    if not isinstance(data, dict):
        raise FileError(file, spot(file, place), shown(data), f'give a table that holds "format": "{name}"')
    where = spot(file, place, "format")
    if "format" not in data:
        raise FileError(file, where, "missing", f'add "format": "{name}"')
    if data["format"] != name:
        raise FileError(file, where, shown(data["format"]), f"give a file of the format {name}")
    where, version = spot(file, place, "version"), data.get("version", "missing")
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise FileError(file, where, shown(version), "give the whole number 1")
    if version > 1:
        raise FileError(file, where, shown(version), "a newer program wrote this file: update this one to read it")


def like(kind: type) -> Callable[[type[Schema]], type[Schema]]:
    """Give a schema a key for every field of a dataclass of the model, where it has none of that name itself.

    The fields of the dataclass are numbers, text and money, lengths and thicknesses by their names; those with a
    default may be left out of the file.
    """
    kinds = {"float": Number, "int": Whole, "str": Name, "Decimal": Money}

    def kind_of(name: str, type_name: str) -> Any:
        if type_name == "float" and name.endswith("_mm"):
            return ThicknessMm if name in ("thickness_mm", "thinnest_mm", "thickest_mm") else LengthMm
        return kinds[type_name]

    def with_fields(schema: type[Schema]) -> type[Schema]:
        own = schema.model_fields
        keys: dict[str, Any] = {
            entry.name: (kind_of(entry.name, str(entry.type)), ... if entry.default is MISSING else entry.default)
            for entry in fields(kind)
            if entry.name not in own
        }
        # the keys that are like the model's come first, as they stand in files
        keys |= {name: (entry.annotation, entry) for name, entry in own.items()}
        made = create_model(schema.__name__, __base__=Table, __module__=schema.__module__, **keys)
        return cast(type[Schema], made)

    return with_fields


def one_of(names: Sequence[str]) -> PlainValidator:
    """What a key must be one of."""
    quoted = [f"'{name}'" for name in names]
    expected = " or ".join(filter(None, (", ".join(quoted[:-1]), quoted[-1])))

    def known(value: object) -> str:
        if not isinstance(value, str) or value not in names:
            raise ValueError(f"give {expected}")
        return value

    return PlainValidator(known)


def _named(text: str) -> str:
    if not text:
        raise ValueError("give a name")
    return text


def _safe(text: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9_-][A-Za-z0-9._-]{0,99}", text):
        raise ValueError(
            "files are named after it: use letters a to z, digits, dash, underscore and dot, not a dot first"
        )
    if text.startswith("-"):
        raise ValueError("files are named after it, and commands take a dash first for an option: begin with a letter")
    if re.fullmatch(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", text):
        raise ValueError("files are named after it, and some systems keep this name for a device: give another")
    return text


def _colour(text: str) -> str:
    if not re.fullmatch(r"#[0-9A-Fa-f]{6}", text):
        raise ValueError("give a colour as #rrggbb, such as #0072B2")
    return text


def _money(value: object, info: ValidationInfo) -> Decimal:
    mend = 'give an amount such as 12.50 or "12.50"'
    if isinstance(value, str):
        return cast(Decimal, _typed(value, lambda text: units.money(text, (info.context or {}).get("currency", ""))))
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ValueError(mend)
    try:
        amount = Decimal(repr(value))
    except (InvalidOperation, ValueError):
        raise ValueError(mend) from None
    if not amount.is_finite() or abs(amount) >= 10**12:
        raise ValueError(mend)
    return amount


def _typed(value: object, parse: Callable[[str], object]) -> object:
    """A value as a person writes it; what is not text is left to the checks that follow."""
    if not isinstance(value, str):
        return value
    try:
        return parse(value)
    except ModelError as error:
        raise ValueError(error.mend) from None


def _typed_as(parse: Callable[[str], object]) -> BeforeValidator:
    return BeforeValidator(lambda value: _typed(value, parse))


def _thickness(pair: list[float]) -> tuple[float, float]:
    if not 0 < pair[0] < pair[1] <= DEFAULT.thickest_mm:
        top = f"{DEFAULT.thickest_mm:g}"
        raise ValueError(f"give [least, greatest] in mm, the least above 0 and the greatest at most {top}")
    return pair[0], pair[1]


_GREATEST = DEFAULT.greatest_number
Number = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-_GREATEST, le=_GREATEST)]
LengthMm = Annotated[Number, _typed_as(units.length_mm)]
"""A number of mm, or text such as ``20 in``."""
ThicknessMm = Annotated[Number, _typed_as(units.thickness_mm)]
"""A number of mm, or text such as ``4.5 oz``."""
NominalMm = Annotated[Number, _typed_as(units.nominal_mm)]
"""The same, or a range of which the middle is taken: ``3-4 oz``."""
Whole = Annotated[int, Field(strict=True, ge=-(2**63), le=2**63)]
"""As other programs hold whole numbers."""
Count = Annotated[int, Field(strict=True, ge=1, le=DEFAULT.most_rows)]
Truth = Annotated[bool, Field(strict=True)]
Text = Annotated[str, Field(strict=True, max_length=DEFAULT.text_letters), AfterValidator(tidy)]
Name = Annotated[str, Field(strict=True, max_length=DEFAULT.name_letters), AfterValidator(tidy), AfterValidator(_named)]
SafeName = Annotated[str, Field(strict=True), AfterValidator(_safe)]
Colour = Annotated[str, Field(strict=True), AfterValidator(_colour)]
Money = Annotated[Decimal, PlainValidator(_money)]
Grade = Annotated[str, one_of(GRADES)]
DirectionKind = Annotated[str, one_of(("free", "along", "across", "fixed"))]
Thickness = Annotated[
    list[ThicknessMm],
    Field(min_length=2, max_length=2),
    _typed_as(lambda text: list(units.thickness_range_mm(text))),
    AfterValidator(_thickness),
]
"""Least and greatest, mm, or text such as ``4-5 oz``."""
Tannage = Annotated[str, Field(strict=True, max_length=DEFAULT.name_letters), _typed_as(units.tannage)]
"""One of the tannages as people write them, or empty."""


class AskingTable(Table):
    """What is asked of leather; empty where any will do."""

    leather: Text = ""
    colour: Text = ""
    finish: Text = ""
    tannage: Tannage = ""


def _fault_value(fault: Mapping[str, Any]) -> str:
    plain = {"missing": "missing", "extra_forbidden": "unknown key"}
    return plain.get(fault["type"]) or shown(fault["input"])


_MENDS = {
    "missing": "add it: it is required",
    "string_type": "give text in quotes",
    "string_unicode": "give plain text",
    "string_too_long": "give at most {max_length} letters",
    "float_type": "give a number",
    "int_type": "give a whole number",
    "bool_type": "give true or false",
    "finite_number": "give a finite number",
    "int_parsing_size": "give a smaller whole number",
    "greater_than": "give a number more than {gt:g}",
    "greater_than_equal": "give a number of {ge:g} or more",
    "less_than_equal": "give a number of {le:g} or less",
    "literal_error": "give {expected}",
    "list_type": "give a list in [ ]",
    "dict_type": "give a table of keys and values",
    "model_type": "give a table of keys and values",
    "too_short": "give at least {min_length}, not {actual_length}",
    "too_long": "give at most {max_length}, not {actual_length}",
}


def _mend(schema: type[Table], fault: Mapping[str, Any]) -> str:
    context = fault.get("ctx", {})
    if fault["type"] == "extra_forbidden":
        *steps, key = fault["loc"]
        return among(_keys(schema, steps), str(key), "known keys")
    if fault["type"] == "value_error":
        return str(context["error"])
    mend = _MENDS.get(fault["type"])
    return mend.format(**context) if mend else fault["msg"].lower()


def _keys(schema: type[Table], steps: list[str | int]) -> list[str]:
    """Keys known at a place of a schema; a step that is no key is an index or a name of someone's choosing."""
    for step in steps:
        if step in schema.model_fields:
            schema = _table_in(schema.model_fields[step].annotation) or schema
    return [entry.alias or name for name, entry in schema.model_fields.items()]


def _table_in(annotation: object) -> type[Table] | None:
    if isinstance(annotation, type) and issubclass(annotation, Table):
        return annotation
    return next(filter(None, map(_table_in, get_args(annotation))), None)
