"""The fault catalogue of a Modbus unit, on a real line against a real server.

After each fault the figures go on, every row is of one moment, and the log tells what a person has
to know.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from collector.monitors import Description, description_from_tables, load_description
from collector.simulator.faults import FLAP_S, KINDS, MORE_KINDS, Fault
from collector.simulator.stage import open_stage
from tests.collector.listening import kinds, rows
from tests.collector.played_faults import BEGUN_S, FIGURES, heard_of, is_true, shown
from tests.collector.played_faults import heard_of_figure_faults as heard_wrong

pytestmark = [pytest.mark.slow,
              pytest.mark.skipif(os.name == "nt", reason="needs pseudo-terminals")]

BEAT_S = 0.05
COUNT = 20
#: How long each fault lasts [s], and the events it leads to.
CATALOGUE: dict[str, tuple[float, list[str]]] = {
    "unplug": (0.5, ["link lost", "link back"]),
    "flap": (3 * FLAP_S, ["link lost", "link back"]),
    "swap": (0.5, ["link lost", "link back", "changed"]),
    "garbage": (0.0, []), "torn": (0.0, []), "wrong-check": (0.0, []), "twice": (0.0, []),
    "stale": (0.5, []),
    "pause": (1.6, ["silent"]),
    "missing": (0.4, []), "cells": (1.0, ["odd", "odd"]), "unit": (0.6, ["changed", "changed"]),
    "late": (0.0, []), "busy": (0.0, []), "other-unit": (0.0, []),
}
#: A battery of the standard models tells no cells one by one.
WITHOUT_CELLS = {"cells": []}


def quick(name: str) -> Description:
    """A built-in monitor, asked more often and called silent sooner."""
    tables = load_description(name).as_tables()
    modbus = tables["modbus"] | {"every_s": BEAT_S, "timeout_s": 0.15}
    transport = tables["transport"] | {"silence_s": 1.0}
    return description_from_tables(tables | {"modbus": modbus, "transport": transport}, name)


def test_the_catalogue_is_whole() -> None:
    """Every fault a unit can have is in the table."""
    assert {*KINDS, *MORE_KINDS["modbus"]} == {*CATALOGUE, *FIGURES}


@pytest.mark.parametrize("name", ["demo-modbus", "sunspec-battery"])
@pytest.mark.parametrize("fault", CATALOGUE)
def test_a_fault_costs_only_itself(name: str, fault: str, tmp_path: Path) -> None:
    """Figures of one moment, none of another unit or an earlier request; told where it matters."""
    lasting_s, expected = CATALOGUE[fault]
    count = COUNT + round(lasting_s / BEAT_S)
    monitor = quick(name)
    if name == "sunspec-battery":
        expected = WITHOUT_CELLS.get(fault, expected)
    with open_stage(monitor, shown(0), link=tmp_path / "port", tcp_port=None) as (stage, listen):
        samples = heard_of(stage, monitor, listen.rpartition(" ")[2],
                           Fault(BEGUN_S, fault, lasting_s), count=count, beat_s=BEAT_S,
                           expected=expected)
    times = max(1, kinds(samples).count("link lost")) if fault == "flap" else 1

    assert kinds(samples) == expected * times
    assert all(is_true(row, count, fault) for row in rows(samples))
    assert len(rows(samples)) > 3


@pytest.mark.parametrize("name", ["demo-modbus", "sunspec-battery"])
def test_wrong_figures_come_as_they_were_told(name: str, tmp_path: Path) -> None:
    """Nothing is mended, left out or called another pack."""
    monitor = quick(name)
    with open_stage(monitor, shown(0), link=tmp_path / "port", tcp_port=None) as (stage, listen):
        samples, untold = heard_wrong(stage, monitor, listen.rpartition(" ")[2], BEAT_S)

    assert kinds(samples) == []
    assert untold == []
