"""The house rules that a machine can hold: arrows, sizes, where hardware and prints live."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
MODULES = sorted(p for package in ("collector", "analysis", "dashboard")
                 for p in (ROOT / package).rglob("*.py"))

#: What each package may import of the others.
ARROWS = {
    "collector": set(),
    "analysis": {"collector.record", "collector.errors"},
    "dashboard": {"analysis", "collector.record", "collector.errors"},
}
#: Modules that join the layers: files to arrays, commands, the dashboard's only state.
JOINTS = {
    "analysis/load.py": {"collector"},
    "analysis/load_logbook.py": {"collector"},
    "analysis/asking": {"collector"},
    "analysis/parts/listing.py": {"collector.monitors.table"},
    "analysis/commands": {"collector"},
    "dashboard/bench": {"collector"},
    "dashboard/store.py": {"collector"},
    "dashboard/workings.py": {"collector"},
    "dashboard/live.py": {"collector"},
    "dashboard/diary.py": {"collector"},
    "dashboard/parts_shelf.py": {"collector"},
    "dashboard/label_shelf.py": {"collector"},
    "dashboard/fresh_config.py": {"collector"},
    "dashboard/invented_book.py": {"collector"},
    "dashboard/rehearsal.py": {"collector"},
    "dashboard/sharing": {"collector"},
    "dashboard/commands": {"collector", "analysis"},
}
#: Libraries that only their leaf may import.
LEAVES = {
    "serial": ("collector/sources/serial_",),
    "pymodbus": ("collector/sources/modbus.py", "collector/simulator/modbus_voice.py"),
    "bleak": ("collector/sources/ble",),
    "dbus_fast": ("collector/simulator/bluez_peer.py",),
    "dash": ("dashboard/",),
    "plotly": ("dashboard/",),
    "filelock": ("collector/logbook.py",),
    "openpyxl": ("collector/importing/xlsx.py",),
}
#: The rooms of the analysis, each with the rooms it may look into.
ROOMS: dict[str, set[str]] = {
    "fitting": set(),
    "place": set(),
    "one_log": {"fitting", "place"},
    "cells": {"fitting", "one_log"},
    "incidents": {"cells", "one_log"},
    "season": {"fitting", "incidents", "one_log"},
    "ahead": {"fitting", "one_log", "season"},
    "drive": {"incidents", "one_log"},
    "parts": {"incidents", "one_log", "season"},
}
LINES_MAX = 450
FUNCTION_MAX = 80
CALLBACK_MAX = 12


def imported(path: Path) -> Iterator[str]:
    """Absolute names of the modules a file imports, relative ones resolved."""
    package = path.relative_to(ROOT).with_suffix("").parts[:-1]
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = list(package[: len(package) - node.level + 1]) if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            yield module
            yield from (f"{module}.{alias.name}" for alias in node.names)


def allowed(path: Path) -> set[str]:
    place = path.relative_to(ROOT).as_posix()
    joints = (names for prefix, names in JOINTS.items() if place.startswith(prefix))
    return ARROWS[place.split("/")[0]].union(*joints)


def is_within(name: str, roots: set[str]) -> bool:
    return any(name == root or name.startswith(f"{root}.") for root in roots)


@pytest.mark.parametrize("path", MODULES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_imports_run_one_way(path: Path) -> None:
    """The dashboard may look down to the analysis, the analysis to the record, nobody up."""
    own = path.relative_to(ROOT).parts[0]
    others = {"collector", "analysis", "dashboard"} - {own}
    reached = {name for name in imported(path) if is_within(name, others)}
    bare = {name for name in reached if "." in name or name in allowed(path)}

    assert [name for name in sorted(bare) if not is_within(name, allowed(path))] == []


@pytest.mark.parametrize("room", ROOMS)
def test_rooms_of_the_analysis_look_one_way(room: str) -> None:
    """A question of one log knows nothing of the season; the season nothing of what lies ahead."""
    reached = {name.split(".")[1] for path in (ROOT / "analysis" / room).rglob("*.py")
               for name in imported(path) if is_within(name, {"analysis"}) and "." in name}

    assert reached & {*ROOMS, "commands"} - {room} <= ROOMS[room]


@pytest.mark.parametrize("path", MODULES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_hardware_and_screen_libraries_stay_in_their_leaves(path: Path) -> None:
    """A library with a leaf of its own is imported nowhere else."""
    place = path.relative_to(ROOT).as_posix()
    top = {name.split(".")[0] for name in imported(path)}

    assert [lib for lib, homes in LEAVES.items()
            if lib in top and not place.startswith(homes)] == []


@pytest.mark.parametrize("path", MODULES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_modules_and_functions_stay_small(path: Path) -> None:
    """A module has one subject and a function one thought."""
    text = path.read_text(encoding="utf-8")
    functions = [node for node in ast.walk(ast.parse(text))
                 if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    long = [f"{f.name}: {f.end_lineno - f.lineno + 1}" for f in functions
            if f.end_lineno is not None and f.end_lineno - f.lineno >= FUNCTION_MAX]

    assert text.count("\n") <= LINES_MAX
    assert long == []


def test_figures_know_no_dash() -> None:
    """Figures are pure functions from data to a plotly figure."""
    offenders = [p.name for p in (ROOT / "dashboard" / "figures").rglob("*.py")
                 if any(name.split(".")[0] == "dash" for name in imported(p))]

    assert offenders == []


def test_no_module_is_a_drawer_for_leftovers() -> None:
    """Nothing is called utils, helpers, common, manager, base or core."""
    names = {p.stem for p in MODULES} | {p.parent.name for p in MODULES}

    assert names.isdisjoint({"utils", "util", "helpers", "common", "manager", "base", "core"})


def test_callbacks_parse_ask_draw_and_return() -> None:
    """No callback of a page is longer than 12 lines, head included."""
    long = [f"{path.name} {node.name}" for path in (ROOT / "dashboard").rglob("*.py")
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.FunctionDef) and node.end_lineno is not None
            and any("callback" in ast.unparse(mark) for mark in node.decorator_list)
            and node.end_lineno - node.lineno >= CALLBACK_MAX]

    assert long == []
