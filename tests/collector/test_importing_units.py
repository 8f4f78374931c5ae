"""Units against published factors."""

from __future__ import annotations

import pytest

from collector.importing.headings import WORDINGS, meaning_of, take_apart
from collector.importing.units import UNITS, find_unit, to_log_unit
from collector.record import QUANTITIES


@pytest.mark.parametrize(("symbol", "log_unit", "figure", "value"), [
    ("mi", "m", 1, 1609.344), ("ft", "m", 1, 0.3048), ("nmi", "m", 1, 1852),
    ("mph", "m/s", 1, 0.44704), ("kn", "m/s", 1, 0.5144444444), ("km/h", "m/s", 1, 0.2777777778),
    ("°F", "°C", 32, 0), ("°F", "°C", 212, 100), ("K", "°C", 273.15, 0), ("As", "Ah", 3600, 1),
    ("min", "h", 60, 1),
])
def test_a_unit_converts_as_published(
        symbol: str, log_unit: str, figure: float, value: float) -> None:
    """Factors of NIST Special Publication 811 (2008), appendix B.8 (values from memory)."""
    unit = find_unit(symbol)
    assert unit is not None
    factor, offset = to_log_unit(unit, log_unit)

    assert figure * factor + offset == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize("symbol", ["MV", "MA", "MW", "furlong", ""])
def test_a_unit_no_small_vehicle_has_is_not_taken_for_another(symbol: str) -> None:
    """MV is a million volts, never a thousandth."""
    assert find_unit(symbol) is None


def test_every_symbol_has_one_meaning() -> None:
    """No symbol stands in two dimensions of the table."""
    symbols = [symbol for table in UNITS.values() for symbol in table]

    assert len(symbols) == len(set(symbols))


def test_every_single_quantity_can_be_named() -> None:
    """Each quantity of a log has wordings, and its own column name is read as itself."""
    for name in QUANTITIES:
        column = name.replace("{n}", "03" if name.startswith("cell") else "3")
        meaning = meaning_of(take_apart(column))

        assert meaning is not None, name
        assert meaning.quantity == name


def test_no_wording_is_written_twice() -> None:
    """Order does not count; only "t" may be a time or a temperature, told by its unit."""
    keys = [tuple(sorted(wording.split())) for wordings in WORDINGS.values()
            for wording in wordings if wording != "t"]

    assert len(keys) == len(set(keys))
