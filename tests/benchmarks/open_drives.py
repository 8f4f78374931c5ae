"""Recorded drives as the figures of sign, count and resistance need them.

Those of ``tests/data/real_drives`` (their source stands there), or of a folder that holds more of
the same set, with the same headings.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import pandas as pd

from analysis.telemetry import Telemetry
from tests.analysis.made_logs import DATA, START

FOLDER: Final = DATA / "real_drives"
#: Rows a second; and what makes a pack of 390 V one of 52 V.
HERTZ: Final = 10
TO_52_V: Final = 1 / 7.5


def open_drives(folder: Path = FOLDER) -> list[Telemetry]:
    """Amps and volts of each drive at 10 Hz; discharge is negative."""
    tables = (pd.read_csv(path, sep=";", encoding="utf-8")
              for path in sorted(folder.glob("drive_*.csv.gz")))
    return [Telemetry(START, table["Time [s]"].to_numpy(float),
                      {"current_a": table["Battery Current [A]"].to_numpy(float),
                       "voltage_v": table["Battery Voltage [V]"].to_numpy(float)})
            for table in tables]
