"""Print every benchmark's figures beside their yardsticks.

``python -m tests.benchmarks [NAME ...]``; all of them without a name.

Each ``bench_<name>.py`` holds one subject and a ``main()`` that prints; nothing is asserted,
because a figure depends on the machine.
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path


def main(wanted: list[str]) -> int:
    names = sorted(path.stem for path in Path(__file__).parent.glob("bench_*.py"))
    for name in names:
        if wanted and name.removeprefix("bench_") not in wanted:
            continue
        module = importlib.import_module(f"tests.benchmarks.{name}")
        print(f"\n== {(module.__doc__ or name).splitlines()[0]}", flush=True)
        module.main()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
