"""Real refusals, also where the tests run as root, whom no permission stops."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

_NOBODY: Final = 65534


@contextmanager
def without_privileges() -> Iterator[None]:
    """Act as a person without rights for a moment; an ordinary user stays who they are."""
    if os.name == "nt" or os.geteuid() != 0:
        yield
        return
    groups = os.getgroups()
    os.setgroups([])
    os.setegid(_NOBODY)
    os.seteuid(_NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)
        os.setegid(os.getgid())
        os.setgroups(groups)
