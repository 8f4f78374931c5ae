"""Give the tests what pip cannot: a browser and a message bus.

As root on Debian they are installed; elsewhere this says what is missing, and the tests that
need it are skipped with that reason. Run as ``python -m tests.machine``.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

#: Program looked for -> Debian package that brings it.
WANTED = {"chromium": "chromium", "dbus-daemon": "dbus-daemon"}


def missing() -> dict[str, str]:
    return {tool: package for tool, package in WANTED.items() if shutil.which(tool) is None}


def main() -> int:
    packages = missing()
    if packages and os.geteuid() == 0 and Path("/etc/debian_version").exists():
        print(f"installing {', '.join(packages.values())} ...", flush=True)
        environment = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
        quiet = {"env": environment, "stdout": subprocess.DEVNULL}
        subprocess.run(["apt-get", "update", "-qq"], check=False, **quiet)
        subprocess.run(["apt-get", "install", "-y", "-qq", "--no-install-recommends",
                        *packages.values()], check=False, **quiet)
    for tool in missing():
        print(f"{tool} is missing: the tests that need it are skipped")
    return 0


if __name__ == "__main__":
    sys.exit(main())
