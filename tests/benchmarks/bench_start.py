"""Start of the command: ``packhand --help`` against a bare Python.

Aim: at most three times the bare interpreter.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RUNS = 30


def fastest_ms(*words: str) -> float:
    """The fastest of many runs, the one least disturbed by the rest of the machine."""
    def once() -> float:
        started = time.perf_counter()
        subprocess.run([sys.executable, *words], cwd=ROOT, check=True, capture_output=True)
        return (time.perf_counter() - started) * 1000
    return min(once() for _ in range(RUNS))


def main() -> None:
    bare = fastest_ms("-c", "pass")
    overview = fastest_ms("-m", "packhand", "--help")
    command = fastest_ms("-m", "packhand", "record", "--help")
    print(f"python -c pass           {bare:6.1f} ms")
    print(f"packhand --help          {overview:6.1f} ms   {overview / bare:.1f} x (aim 3)")
    print(f"packhand record --help   {command:6.1f} ms   {command / bare:.1f} x")
