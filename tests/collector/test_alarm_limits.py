"""Limits as a person writes them into the logbook."""

import re
import tomllib
from pathlib import Path

import pytest

from collector.alarm_limits import RULES, Limit, limits_of
from collector.errors import LogbookError
from collector.logbook import Logbook

BOOK = """
[[pack]]
name = "main"
[pack.alarms]
out_a = [{limit = 100, for_s = 60}, {limit = 200, for_s = 2, band = 20}]
cell_low_v = 2.9
cold_charging_c = 0

[[pack]]
name = "spare"
"""


def test_a_limit_is_a_number_or_a_table_or_several() -> None:
    """What is not said comes from the rule's usual delay and band."""
    limits = limits_of(tomllib.loads(BOOK), "main", "logbook.toml")

    assert limits == (Limit("out_a", 100, 60, 5), Limit("out_a", 200, 2, 20),
                      Limit("cell_low_v", 2.9, 5, 0.05), Limit("cold_charging_c", 0, 3, 1))
    assert limits[1].words == "amps out above 200 A for 2 s"


@pytest.mark.parametrize(("pack", "count"), [("spare", 0), ("main", 4), ("", 0)])
def test_limits_belong_to_a_pack(pack: str, count: int) -> None:
    """With several packs and no name none is guessed."""
    assert len(limits_of(tomllib.loads(BOOK), pack, "x")) == count


def test_the_only_pack_needs_no_name() -> None:
    """Nor does a log of a pack that the logbook does not know, if it knows one alone."""
    config = {"pack": [{"name": "main", "alarms": {"soc_low_pct": 15}}]}

    assert limits_of(config, "", "x") == limits_of(config, "main", "x") != ()


@pytest.mark.parametrize(("limits", "message"), [
    ({"amps": 5}, "x, alarms.amps: no such alarm — known: out_a, in_a"),
    ({"out_a": "100"}, "x, alarms.out_a: '100' is no limit — a number, or {limit = 100"),
    ({"out_a": True}, "True is no limit"),
    ({"out_a": float("nan")}, "nan is no limit"),
    ({"out_a": {"for_s": 3}}, "is no limit"),
    ({"out_a": {"limit": 3, "delay": 3}}, "is no limit"),
    ({"out_a": [100, {"limit": "x"}]}, "{'limit': 'x'} is no limit"),
])
def test_what_is_no_limit_is_told(limits: dict[str, object], message: str) -> None:
    """With the file, the key and what is allowed."""
    with pytest.raises(LogbookError) as told:
        limits_of({"pack": [{"alarms": limits}]}, "", "x")

    assert message in str(told.value)


def test_every_rule_says_what_to_do() -> None:
    """An alarm without an action teaches people to ignore alarms."""
    assert all(rule.action and rule.for_s > 0 and rule.band > 0 for rule in RULES.values())


def test_the_examples_of_a_new_logbook_are_limits(tmp_path: Path) -> None:
    """Taken out of their comments they are read as they stand."""
    text = (Logbook.create(tmp_path).root / "logbook.toml").read_text()
    _, heading, examples = text.partition("# [[pack]]")
    config = tomllib.loads(re.sub(r"(?m)^# ", "", heading + examples))

    assert [limit.words for limit in limits_of(config, "main", "x")] == [
        "amps out above 100 A for 60 s", "lowest cell below 2.9 V for 5 s",
        "coldest sensor while charging below 0 °C for 3 s"]
