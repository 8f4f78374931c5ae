"""Before and after: width, coverage and power of the paired comparison.

Simulated pairs: a true change of -10 %, each side scatters by 6 %. The bound of the half width is
that of a known scatter, ``1.96 s sqrt(2 / n)``. Aims: 8 pairs, coverage 93 to 97 %, power 0.8.

``python -m tests.benchmarks.accuracy_compare [SEED]``
"""

from __future__ import annotations

import math
import sys

import numpy as np

from analysis.ahead.compare import change_of_pairs
from analysis.estimate import Estimate
from tests.benchmarks.accuracy_cells import Row

TRIALS = 4000
CHANGE, SCATTER = math.log(0.9), 0.06


def found(pairs: int, likeness: float, seed: int) -> list[Estimate]:
    """Changes found, with a correlation between the two days of a pair."""
    rng = np.random.default_rng([seed, pairs])
    sd = SCATTER * math.sqrt(2 * (1 - likeness))
    answers = [change_of_pairs(rng.normal(CHANGE, sd, pairs)) for _ in range(TRIALS)]
    return [a for a in answers if isinstance(a, Estimate)]


def rows(seed: int) -> list[Row]:
    """Half widths against the bound; then the power against its aim."""
    told = []
    for pairs, likeness in ((5, 0.0), (5, 0.5), (8, 0.0), (8, 0.5), (12, 0.0), (20, 0.0)):
        answers = found(pairs, likeness, seed)
        bound = 90 * 1.96 * SCATTER * math.sqrt(2 * (1 - likeness) / pairs)
        width = float(np.mean([a.half_width for a in answers]))
        held = float(np.mean([a.low <= 100 * math.expm1(CHANGE) <= a.high for a in answers]))
        power = float(np.mean([a.high < 0 for a in answers]))
        name = f"{pairs} pairs, likeness {likeness:.1f}"
        told += [Row(f"{name}, half width [%]", bound, width, width / bound, held, seed),
                 Row(f"{name}, found [share]", 0.8, power, power / 0.8, held, seed)]
    return told


def main(seed: int = 1) -> None:
    """Print the table."""
    for row in rows(seed):
        print(f"{row.estimator:<40} goal {row.bound:5.2f}  reached {row.achieved:5.2f}  "
              f"ratio {row.ratio:4.2f}  holds {row.coverage:5.3f}  seed {row.seed}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]))
