"""How well every estimator does, beside its bound or aim: ``python -m tests.benchmarks accuracy``.

Each ``accuracy_<subject>.py`` says in its first lines what is simulated and what is aimed at, and
offers ``rows(seed)``. Figures depend on the seed and not on the machine.
"""

from __future__ import annotations

import importlib
from pathlib import Path

from tests.benchmarks.accuracy_cells import print_rows

SEED = 1


def main(seed: int = SEED) -> None:
    print(f"{'estimator [unit]':58} {'bound':>8} {'achieved':>9} {'ratio':>6} {'coverage':>9} seed")
    for path in sorted(Path(__file__).parent.glob("accuracy_*.py")):
        module = importlib.import_module(f"tests.benchmarks.{path.stem}")
        print(f"-- {(module.__doc__ or path.stem).splitlines()[0]}", flush=True)
        print_rows(module.rows(seed))


if __name__ == "__main__":
    main()
