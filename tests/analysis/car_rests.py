"""Rests of two cars in service, every cell of them (data/cars_with_cells/SOURCE.md)."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.cells.features import cell_digest
from analysis.cells.story import Dated
from tests.analysis.made_logs import DATA, log


def car_rests(car: str) -> list[Dated]:
    """One digest for each rest of an excerpt."""
    table = pd.read_csv(DATA / "cars_with_cells" / f"{car}_rests.csv.gz")
    time_s = pd.to_datetime(table["time_local"]).to_numpy("datetime64[ns]").astype(float) / 1e9
    starts = np.flatnonzero(np.diff(time_s, prepend=-np.inf) > 3600)
    found = []
    for rows in np.split(np.arange(len(time_s)), starts[1:]):
        part = table.iloc[rows]
        columns = {name: part[name].to_numpy(float) for name in part if name.startswith("cell_")}
        telemetry = log(time_s[rows] - time_s[rows[0]],
                        current_a=-part["pack_current_a"].to_numpy(float), **columns)
        found.append(Dated(float(time_s[rows[0]]), cell_digest(telemetry)))
    return found
