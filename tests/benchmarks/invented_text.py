"""Invented monitors that send lines of text."""

from __future__ import annotations

import json

import numpy as np

from tests.benchmarks.invented_checks import rule_of
from tests.benchmarks.invented_drives import Drive, Trace
from tests.benchmarks.invented_figures import Sent, Truth

#: Digits behind the point of everything that is no figure to be found.
_DECOY_DIGITS = {"d0": 0, "d1": 1, "d3": 1, "d4": 0, "d5": 3, "d6": 3, "d7": 1}


def text_monitor(rng: np.random.Generator, trip: Drive, display_sign: int) -> Sent:
    """Values by position, by key or as JSON, some in thousandths."""
    form = str(rng.choice(["comma", "key=value", "json"]))
    scales = {"voltage_v": float(rng.choice([1, 1, 0.001])), "soc_pct": 1.0, "temp_1_c": 1.0,
              "current_a": float(rng.choice([1, 1, 0.001]))}
    digits = {"voltage_v": int(rng.choice([1, 2])), "current_a": int(rng.choice([1, 2])),
              "soc_pct": int(rng.choice([0, 0, 1])), "temp_1_c": int(rng.choice([0, 1]))}
    wire_sign = 1 if rng.random() < 0.7 else -1
    source = {"voltage_v": trip.voltage_v, "current_a": wire_sign * trip.current_a,
              "soc_pct": trip.soc_pct, "d0": np.arange(len(trip.time_s)) % 1000.0,
              "d1": np.full(len(trip.time_s), 51.2), "temp_1_c": trip.temp_c[:, 0],
              "d3": trip.charge_left_ah, "d4": trip.current_a * trip.voltage_v,
              "d5": trip.cells_v.min(axis=1), "d6": trip.cells_v.max(axis=1),
              "d7": trip.temp_c[:, 1]}
    places = _DECOY_DIGITS | {name: 0 if scales[name] < 1 else digits[name] for name in scales}
    names = [list(source)[k] for k in rng.permutation(len(source))]
    texts = {name: [f"{value / scales.get(name, 1):.{places[name]}f}" for value in source[name]]
             for name in names}
    keys = {name: f"{chr(97 + int(rng.integers(26)))}{k}" for k, name in enumerate(names)}
    cells = _cell_texts(rng, trip.cells_v) if rng.random() < 0.5 else None
    start = str(rng.choice(["", "$", ":"])) if form != "json" else ""
    rule = str(rng.choice(["", "xor8", "sum8", "CRC-16/MODBUS"])) if form != "json" else ""
    wire = [_line(form, start, rule, {keys[name]: texts[name][k] for name in names},
                  cells[0][k] if cells else []) for k in range(len(trip.time_s))]
    truth = {}
    for name, scale in scales.items():
        turn = wire_sign * display_sign if name == "current_a" else 1
        place = str(names.index(name)) if form == "comma" else keys[name]
        truth[name] = Truth(place, "text", turn * scale, 0.0,
                            turn * scale * np.array([float(text) for text in texts[name]]))
    return Sent(f"text {form}, check {rule or 'none'}", wire, trip.time_s, truth,
                cells[1] if cells else None)


def _cell_texts(rng: np.random.Generator, cells_v: Trace) -> tuple[list[list[str]], Trace]:
    """Each cell as volts or as millivolts, and what that says."""
    if rng.random() < 0.5:
        texts = [[f"{volts:.3f}" for volts in row] for row in cells_v]
        return texts, np.round(cells_v, 3)
    millivolts = np.round(1000 * cells_v)
    return [[f"{mv:.0f}" for mv in row] for row in millivolts], millivolts / 1000


def _line(form: str, start: str, rule: str, tokens: dict[str, str], cells: list[str]) -> bytes:
    numbered = {f"cell{k}": text for k, text in enumerate(cells, start=1)}
    figures: dict[str, object] = {key: float(text) for key, text in tokens.items()}
    text = {"comma": ",".join([*tokens.values(), *cells]),
            "key=value": " ".join(f"{k}={v}" for k, v in (tokens | numbered).items()),
            "json": json.dumps(figures | (
                {"cells": [float(text) for text in cells]} if cells else {}))}[form]
    if rule:
        width, compute = rule_of(rule)
        text += f"*{compute(text.encode()):0{2 * width}X}"
    return f"{start}{text}\r\n".encode()
