"""A parts list: the tables of a TOML file, read into the parts they describe.

One table ``[pack]``, any number of ``[[breaker]]``, ``[[fuse]]``, ``[[cable]]``, ``[[coil]]``,
``[[precharge]]``, ``[[charger]]``, ``[[converter]]``, ``[[gauge]]``, ``[[cutoff]]`` and
``[[frame_leakage]]``, and for the comparison ``[lead_acid]`` and ``[vehicle]``. The keys of a table
are the fields of its dataclass.
"""

from __future__ import annotations

import math
import types
from collections.abc import Mapping
from dataclasses import MISSING, Field, dataclass, fields
from typing import Any, Final, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from collector.errors import DescriptionError
from collector.monitors.table import Table

from .breaker import Breaker
from .cable import Cable
from .charger import Charger
from .coil import Coil
from .conductor import Conductor, parse_size
from .conversion import Vehicle
from .converter import Converter
from .cutoff import Cutoff
from .frame_leakage import FrameLeakage
from .fuse import Fuse
from .gauge import Gauge
from .lead_acid import LeadBank
from .pack import TypedPack
from .precharge import Precharge

Form = TypeVar("Form")
Part = (Breaker | Fuse | Cable | Coil | Precharge | Charger | Converter | Gauge | Cutoff
        | FrameLeakage)

#: Name of the tables of each kind, in the order in which they are judged.
KINDS: Final[Mapping[str, type[Part]]] = {
    "breaker": Breaker, "fuse": Fuse, "coil": Coil, "cable": Cable, "precharge": Precharge,
    "charger": Charger, "converter": Converter, "gauge": Gauge, "cutoff": Cutoff,
    "frame_leakage": FrameLeakage,
}
#: Name of the tables that stand once.
SINGLES: Final[Mapping[str, type[TypedPack | LeadBank | Vehicle]]] = {
    "pack": TypedPack, "lead_acid": LeadBank, "vehicle": Vehicle,
}
#: Ends of the keys that may be zero or less: temperatures, a pole that lies on the frame.
_ANY_SIGN: Final = ("_c", "_to_frame_v")


@dataclass(frozen=True, slots=True)
class PartsList:
    """What a person typed."""

    pack: TypedPack
    parts: tuple[Part, ...]
    lead_acid: LeadBank | None
    vehicle: Vehicle
    #: True for invented data; every answer then says so.
    invented: bool


def read_parts_list(tables: Mapping[str, Any], where: str) -> PartsList:
    """A parts list from the tables of its file.

    Raises
    ------
    DescriptionError
        If a key is missing, unknown, or has a value that is not allowed; it names file, table,
        key, and what is allowed.
    """
    root = Table(tables, where)
    pack = _read(root.table("pack"), TypedPack)
    parts = tuple(_read(table, form) for kind, form in KINDS.items()
                  for table in root.tables(kind))
    lead_table = root.table("lead_acid")
    lead = _read(lead_table, LeadBank) if "lead_acid" in root else None
    vehicle = _read(root.table("vehicle"), Vehicle)
    invented = bool(_flag(root, "invented"))
    root.finish()
    if not parts and lead is None:
        raise DescriptionError(where, "no part is described", f"write [[{']], [['.join(KINDS)}]]")
    _check_cables(parts, where)
    return PartsList(pack, parts, lead, vehicle, invented)


def check_part(kind: str, table: Mapping[str, Any], where: str) -> None:
    """Raises as ``read_parts_list`` if one table of a kind, or of a single name, is not right."""
    _read(Table(table, where), KINDS[kind] if kind in KINDS else SINGLES[kind])


def cables_of(parts: tuple[Part, ...]) -> dict[str, Cable]:
    """The cables of a list by name."""
    return {part.name: part for part in parts if isinstance(part, Cable)}


def _check_cables(parts: tuple[Part, ...], where: str) -> None:
    """Each cable has a name of its own, and what protects one names one that is there."""
    known = cables_of(parts)
    named = [part.name for part in parts if isinstance(part, Cable)]
    for name in known:
        if named.count(name) > 1:
            raise DescriptionError(f"{where}, cable {name}, name", "two cables have it",
                                   "give each a name of its own")
    for part in parts:
        if isinstance(part, Breaker | Fuse) and part.protects and part.protects not in known:
            names = ", ".join(map(repr, known)) or "none is described"
            raise DescriptionError(f"{where}, {part.name}, protects",
                                   f"no cable {part.protects!r}", f"cables: {names}")


def _read(table: Table, form: type[Form]) -> Form:
    """A table as a dataclass: its fields are the keys, their annotations the kinds."""
    hints = get_type_hints(form)
    values = {field.name: _value(table, field, hints[field.name])
              for field in fields(form)}  # type: ignore[arg-type]
    table.finish()
    try:
        return form(**values)
    except ValueError as error:
        raise DescriptionError(table.where, "the keys do not go together", str(error)) from None


def _value(table: Table, field: Field[Any], hint: Any) -> Any:
    """One key; every key is asked for, so that ``finish`` can list those that are known."""
    key, kind = field.name, _kind(hint)
    default = field.default if field.default_factory is MISSING else field.default_factory()
    if default is MISSING and key not in table:
        return _required(table, key, kind)
    found = _READERS[kind](table, key) if kind in _READERS else _one_of(table, key, kind)
    return found if key in table else default


def _required(table: Table, key: str, kind: Any) -> Any:
    """Raises as ``Table`` words a key that is missing."""
    if kind is float:
        return table.number(key)
    return table.integer(key) if kind is int else table.text(key)


def _kind(hint: Any) -> Any:
    """The kind without ``| None``."""
    if get_origin(hint) in (Union, types.UnionType):
        return next(kind for kind in get_args(hint) if kind is not type(None))
    return hint


def _one_of(table: Table, key: str, kind: Any) -> Any:
    if get_origin(kind) is not Literal:
        raise TypeError(f"no reader for {kind}")
    known, found = get_args(kind), table.as_tables().get(key)
    # For a number the likeliest spelling would be bad advice: 200 for 100.
    if key in table and isinstance(found, int | float) and found not in known:
        raise table.error(key, repr(found), f"allowed: {', '.join(map(str, known))}")
    return table.choice(key, known, None)


def _number(table: Table, key: str) -> float:
    """Above zero, but for some; a percentage is at most 100."""
    value = float(table.number(key, 1.0, above=None if key.endswith(_ANY_SIGN) else 0.0))
    if key.endswith("_pct") and value > 100:
        raise table.error(key, f"{value:g}", "at most 100 is allowed")
    return value


def _flag(table: Table, key: str) -> bool | None:
    found = table.as_tables().get(key)
    if key in table and not isinstance(found, bool):
        raise table.error(key, repr(found), "true or false is needed")
    return bool(table.choice(key, (True, False), False))


def _size(table: Table, key: str) -> Conductor:
    try:
        return parse_size(table.text(key))
    except ValueError as error:
        raise table.error(key, "not a size", str(error)) from None


def _percent_at_c(table: Table, key: str) -> dict[float, float]:
    found = {}
    for celsius, percent in table.items(key).items():
        try:
            at_c = float(celsius)
        except ValueError:
            at_c = math.nan
        is_number = isinstance(percent, int | float) and not isinstance(percent, bool)
        if not math.isfinite(at_c) or not is_number or not 0 < percent <= 200:
            raise table.error(key, f"{celsius!r} = {percent!r}",
                              "write degrees = percent, such as { 40 = 100, 60 = 85 }")
        found[at_c] = float(percent)
    return found


_READERS: Final[Mapping[Any, Any]] = {
    float: _number,
    int: lambda table, key: table.integer(key, 1, low=1),
    str: lambda table, key: table.text(key, ""),
    bool: _flag,
    Conductor: _size,
    Mapping[float, float]: _percent_at_c,
}
