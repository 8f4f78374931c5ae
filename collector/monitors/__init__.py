"""Monitor descriptions: what a monitor says and how, as data.

A monitor is a TOML file, not code. ``load_description`` reads a built-in one by name or a
person's own by path; ``schema`` says what it holds, ``reading`` and ``columns`` check it.
"""

from __future__ import annotations

import difflib
import tomllib
from pathlib import Path
from typing import Final

from ..errors import DescriptionError
from .reading import description_from_tables
from .schema import Description

__all__ = ["BUILT_IN", "Description", "description_from_tables", "load_description"]

_FOLDER: Final = Path(__file__).parent

#: Names that need no path.
BUILT_IN: Final = (
    "bluetooth-battery", "demo-binary", "demo-ble", "demo-ble-opaque", "demo-modbus", "demo-text",
    "nmea", "nmea-battery", "sunspec-battery")


def load_description(name_or_path: str) -> Description:
    """A built-in description by its name, or one from a TOML file.

    Raises
    ------
    DescriptionError
        If there is none, the file cannot be read or is not TOML, or a key in it is wrong.
    """
    path = _FOLDER / f"{name_or_path}.toml" if name_or_path in BUILT_IN else Path(name_or_path)
    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise _unreadable(name_or_path, error) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise DescriptionError(str(path), f"not TOML: {error}", "mend that line") from None
    return description_from_tables(tables, str(path))


def _unreadable(name: str, error: OSError) -> DescriptionError:
    if not isinstance(error, FileNotFoundError):
        return DescriptionError(name, f"cannot be read ({error.strerror})",
                                "give the path of a TOML file")
    near = difflib.get_close_matches(name, BUILT_IN, n=1)
    known = f"built in: {', '.join(BUILT_IN)}; or give the path of a TOML file"
    return DescriptionError(name, "no such monitor description",
                            f"did you mean {near[0]}? {known}" if near else known)
