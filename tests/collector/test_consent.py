"""Leave to write to a Bluetooth monitor: asked for once, kept, and only for what was shown."""

from __future__ import annotations

from pathlib import Path

import pytest

from collector.consent import CONSENT_NAME, with_consent
from collector.errors import LogbookError
from collector.monitors import Description, description_from_tables, load_description


def may_write(description: Description) -> bool:
    peripheral = description.transport.peripheral
    return peripheral is not None and peripheral.may_write


def test_leave_is_given_once_for_a_logbook(tmp_path: Path) -> None:
    """Not before, then for good, and not in another logbook."""
    monitor = load_description("demo-ble-opaque")

    assert not may_write(with_consent(monitor, tmp_path / "a", is_given=False))
    assert may_write(with_consent(monitor, tmp_path / "a", is_given=True))
    assert may_write(with_consent(monitor, tmp_path / "a", is_given=False))
    assert not may_write(with_consent(monitor, tmp_path / "b", is_given=False))


def test_leave_is_kept_as_one_readable_line(tmp_path: Path) -> None:
    """Time, characteristic and bytes; given twice it is kept once."""
    monitor = load_description("demo-ble-opaque")
    for _ in range(2):
        with_consent(monitor, tmp_path, is_given=True)

    time, uuid, octets = (tmp_path / CONSENT_NAME).read_text().rstrip("\n").split(" ", 2)
    assert time.endswith("Z")
    assert (uuid, octets) == ("3c9a1f62-58d2-4b07-9d1e-6b2f70c4a911", "51 0c 03")


def test_leave_does_not_cover_other_bytes(tmp_path: Path) -> None:
    """A description that was changed has to ask again."""
    monitor = load_description("demo-ble-opaque")
    with_consent(monitor, tmp_path, is_given=True)
    tables = monitor.as_tables()
    changed = description_from_tables(
        tables | {"ask": tables["ask"] | {"send_hex": "51 0C 04"}}, "changed")

    assert not may_write(with_consent(changed, tmp_path, is_given=False))


def test_leave_for_one_of_several_requests_is_not_enough(tmp_path: Path) -> None:
    """Each request that would be written is shown and allowed."""
    tables = load_description("demo-ble-opaque").as_tables()
    with_consent(description_from_tables(tables, "one"), tmp_path, is_given=True)
    two = description_from_tables(tables | {
        "ask": tables["ask"] | {"send_hex": ["51 0C 03", "51 0C 04"]}}, "two")

    assert not may_write(with_consent(two, tmp_path, is_given=False))
    assert may_write(with_consent(two, tmp_path, is_given=True))
    assert len((tmp_path / CONSENT_NAME).read_text().splitlines()) == 2


def test_a_description_cannot_give_itself_leave() -> None:
    """There is no key for it."""
    tables = load_description("demo-ble-opaque").as_tables()

    with pytest.raises(Exception, match="unknown key"):
        description_from_tables(tables | {"ble": tables["ble"] | {"may_write": 1}}, "greedy")


@pytest.mark.parametrize("name", ["demo-text", "demo-modbus", "demo-ble"])
def test_monitors_that_need_no_leave_get_none(name: str, tmp_path: Path) -> None:
    """Nothing is kept for a monitor that nothing is written to."""
    monitor = load_description(name)

    assert with_consent(monitor, tmp_path, is_given=True) is monitor
    assert not (tmp_path / CONSENT_NAME).exists()


def test_a_logbook_that_cannot_keep_it_is_told(tmp_path: Path) -> None:
    """Leave that cannot be kept is not given."""
    (tmp_path / "book").write_text("a file")

    with pytest.raises(LogbookError, match="a file, not a folder"):
        with_consent(load_description("demo-ble-opaque"), tmp_path / "book", is_given=True)
