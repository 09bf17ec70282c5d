"""workshop.toml: the machine, its settings, margins, prices."""

from __future__ import annotations

from dataclasses import asdict
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import AfterValidator, Field

from ..errors import Faults, FileError, ModelError
from ..model import (
    BED_STOPS,
    DEFAULT_COLOURS,
    FEEDS,
    PER,
    SETTING_OPERATIONS,
    UNITS,
    ExtraCost,
    Machine,
    Margins,
    Prices,
    Setting,
    Workshop,
    contradiction,
)
from ..model.workshop import ASKED, FIRST_BEDS_MM, FIRST_W
from .labels import KINDS, is_label
from .limits import DEFAULT
from .schema import Colour, LengthMm, Money, Name, Number, Table, Text, ThicknessMm, at, like, one_of, spot, validate
from .source import read_toml
from .svg import hex_colour

_DEFAULT = Workshop(Machine("laser", 1, 1, 1))


@like(Margins)
class MarginsTable(Table):
    pass


@like(Setting)
class SettingTable(Table):
    if TYPE_CHECKING:
        name: str
    thinnest_mm: ThicknessMm | None = None
    thickest_mm: ThicknessMm | None = None
    operation: Annotated[str, one_of(SETTING_OPERATIONS)] = "cut"
    leather: Text = ""


@like(Machine)
class _Machine(Table):
    name: Name = _DEFAULT.machine.name
    bed_width_mm: LengthMm | None = None
    bed_height_mm: LengthMm | None = None
    rated_w: Number = FIRST_W
    bed_stop: Annotated[str, one_of(BED_STOPS)] = _DEFAULT.machine.bed_stop
    feed_through: Annotated[str, one_of(FEEDS)] = _DEFAULT.machine.feed_through


@like(Prices)
class _Prices(Table):
    pass


class _Cost(Table):
    name: Name
    amount: Money
    per: Annotated[str, one_of(PER)] = "piece"
    product: Text = ""


class _Offcuts(Table):
    smallest_mm: LengthMm = _DEFAULT.smallest_offcut_mm


class _Thickness(Table):
    confidence: Number = _DEFAULT.confidence
    spread_mm: ThicknessMm = _DEFAULT.thickness_spread_mm


class _Engraving(Table):
    depth: Annotated[str, one_of(("shallow", "deep"))] = _DEFAULT.engraving_depth


class _Colours(Table):
    engrave: Colour = DEFAULT_COLOURS["engrave"]
    stitch: Colour = DEFAULT_COLOURS["stitch"]
    cutout: Colour = DEFAULT_COLOURS["cutout"]
    outline: Colour = DEFAULT_COLOURS["outline"]
    guide: Colour = DEFAULT_COLOURS["guide"]


def _label(text: str) -> str:
    if not is_label(text):
        raise ValueError(f"give {', '.join(KINDS)}, zone A to zone E, or notes")
    return text


class _Workshop(Table):
    units: Annotated[str, one_of(UNITS)] = _DEFAULT.units
    machine: _Machine
    margins: MarginsTable = MarginsTable()
    prices: _Prices = _Prices()
    offcuts: _Offcuts = _Offcuts()
    thickness: _Thickness = _Thickness()
    engraving: _Engraving = _Engraving()
    colours: _Colours = _Colours()
    drawings: dict[Name, Annotated[Name, AfterValidator(_label)]] = Field(default_factory=dict)
    cost: list[_Cost] = Field(default_factory=list, max_length=DEFAULT.most_entries)
    setting: list[SettingTable] = Field(default_factory=list, max_length=DEFAULT.most_entries)


class _Kept(_Workshop):
    """The same in a layout, where every key has its value, and what was not told is told apart."""

    untold: list[Annotated[str, one_of(tuple(ASKED))]] = Field(default_factory=list, max_length=len(ASKED))


def read_workshop(path: Path) -> Workshop:
    """Read workshop.toml.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Workshop
        Lengths in mm, money as Decimal; what the file leaves out has the defaults of the model, and is ``untold`` where
        it is asked about.

    Raises
    ------
    FileError
        For every fault found.
    """
    return workshop_from_dict(read_toml(path), path, "")


def workshop_from_dict(data: object, file: str | Path, place: str) -> Workshop:
    """The workshop that is in the tables of workshop.toml (also kept in layout.json).

    Raises
    ------
    FileError
        For every fault found, with its place below ``place``.
    """
    kept = isinstance(data, dict) and "untold" in data
    table = validate(_Kept if kept else _Workshop, data, file, place, _currency(data))
    faults = Faults()
    untold = frozenset(key for key, name in ASKED.items() if key not in getattr(table, name).model_fields_set)
    if isinstance(table, _Kept):
        untold = frozenset(table.untold)
    first = dict(zip(("bed_width_mm", "bed_height_mm"), FIRST_BEDS_MM[UNITS.index(table.units)]))
    told = {key: value for key, value in table.machine if value is not None}
    machine, margins, prices = _DEFAULT.machine, _DEFAULT.margins, _DEFAULT.prices
    with faults.gathered(), at(file, spot(file, place, "machine")):
        machine = Machine(**(first | told))
    with faults.gathered(), at(file, spot(file, place, "margins")):
        margins = Margins(**dict(table.margins))
    with faults.gathered(), at(file, spot(file, place, "prices")):
        prices = Prices(**dict(table.prices))
        _known_currency(prices.currency)
    settings: dict[str, Setting] = {}
    for index, row in enumerate(table.setting):
        where = spot(file, place, "setting", index)
        with faults.gathered():
            if row.name in settings:
                raise FileError(file, spot(file, where, "name"), row.name, "give each setting a name of its own")
            settings[row.name] = setting_from_table(row, file, where)
    extras = []
    for index, cost in enumerate(table.cost):
        with faults.gathered(), at(file, spot(file, place, "cost", index)):
            extras.append(ExtraCost(**dict(cost)))
    faults.tell()
    _agree(tuple(settings.values()), machine.rated_w, file, place)
    keys = {
        "smallest_offcut_mm": ("offcuts", "smallest_mm"),
        "confidence": ("thickness", "confidence"),
        "thickness_spread_mm": ("thickness", "spread_mm"),
    }
    with at(file, place, keys):
        return Workshop(
            machine,
            tuple(row for row in settings.values() if row.operation == "cut"),
            margins,
            prices,
            smallest_offcut_mm=table.offcuts.smallest_mm,
            confidence=table.thickness.confidence,
            thickness_spread_mm=table.thickness.spread_mm,
            colours=dict(table.colours),
            engraving_depth=table.engraving.depth,
            units=table.units,
            drawings={hex_colour(name) or name.casefold(): label for name, label in table.drawings.items()},
            engravings=tuple(row for row in settings.values() if row.operation != "cut"),
            extras=tuple(extras),
            untold=untold,
        )


def _known_currency(code: str) -> None:
    from babel.numbers import is_currency

    if not is_currency(code):
        raise ModelError("currency", code, "is no currency: give a code of ISO 4217 such as EUR or USD")


def _currency(data: object) -> str:
    """What a workshop counts in, before its other keys are read: signs of money must mean it."""
    prices = data.get("prices") if isinstance(data, dict) else None
    currency = prices.get("currency", _DEFAULT.prices.currency) if isinstance(prices, dict) else ""
    from babel.numbers import is_currency

    # signs are compared with no currency where that is the fault to tell
    return currency if isinstance(currency, str) and is_currency(currency) else ""


def _agree(settings: tuple[Setting, ...], rated_w: float, file: str | Path, place: str) -> None:
    """Refuse a book in which thicker leather needs less energy: one of the two rows is a slip."""
    found = contradiction(settings)
    if found:
        thin, thick = found
        number = settings.index(thick)
        raise FileError(
            file,
            spot(file, place, "setting", number),
            f"{thick.line_energy_j_mm(rated_w):.3g} J/mm at {thick.thickness_mm:g} mm",
            f"thicker leather cannot need less energy than the {thin.line_energy_j_mm(rated_w):.3g} J/mm of setting "
            f"{thin.name} at {thin.thickness_mm:g} mm: test both again and mend or delete the wrong one",
        )


def setting_from_table(row: Table, file: str | Path, place: str) -> Setting:
    """One setting from its checked keys."""
    with at(file, place):
        return Setting(**dict(row))


def workshop_to_dict(workshop: Workshop) -> dict[str, Any]:
    """The tables of a workshop in a layout, that `workshop_from_dict` reads back to an equal one; money as text."""
    return {
        **({"units": workshop.units} if workshop.units != _DEFAULT.units else {}),
        "machine": asdict(workshop.machine),
        "margins": asdict(workshop.margins),
        "prices": {
            key: str(value) if isinstance(value, Decimal) else value for key, value in asdict(workshop.prices).items()
        },
        "offcuts": {"smallest_mm": workshop.smallest_offcut_mm},
        "thickness": {"confidence": workshop.confidence, "spread_mm": workshop.thickness_spread_mm},
        "engraving": {"depth": workshop.engraving_depth},
        "colours": dict(workshop.colours),
        **({"drawings": dict(workshop.drawings)} if workshop.drawings else {}),
        **({"cost": [asdict(row) | {"amount": str(row.amount)} for row in workshop.extras]} if workshop.extras else {}),
        "setting": [asdict(setting) for setting in (*workshop.settings, *workshop.engravings)],
        **({"untold": sorted(workshop.untold)} if workshop.untold else {}),
    }
