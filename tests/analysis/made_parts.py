"""Packs for the tests of parts: the invented flatbed's, with figures replaced."""

from __future__ import annotations

from typing import Any

from analysis.parts.pack import PackFigures, SeenPack, TypedPack, pack_figures
from analysis.parts.verdict import Check, Judged

_FLATBED: dict[str, Any] = {
    "cells": 16, "charge_end_v": 58.4, "lowest_v": 46.0, "capacity_ah": 105.0,
    "resistance_mohm": 16.0, "rms_10_s_a": 77.0, "rms_1_min_a": 75.0, "rms_10_min_a": 35.0,
    "mean_a": 22.0, "charge_max_a": 50.0, "low_cell_v": 2.70, "mass_kg": 48.0,
}
#: What an invented logbook saw of it.
SEEN = SeenPack(logs=3, highest_v=58.9, lowest_v=44.0, rms_10_s_a=90.0, rms_1_min_a=80.0,
                rms_10_min_a=20.0, mean_a=30.0, resistance_ohm=0.020,
                consumption_wh_per_km=120.0)


def flatbed_pack(seen: SeenPack | None = None, **replaced: Any) -> PackFigures:
    """The flatbed's pack as typed on 27 March; ``None`` takes a figure away."""
    return pack_figures(TypedPack(**(_FLATBED | replaced)), seen)


def asked(judged: Judged, words: str) -> Check:
    """The one check whose question holds these words."""
    [found] = [one for one in judged.checks if words in one.question]
    return found
