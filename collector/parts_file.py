"""The parts list of a logbook: ``parts.toml``."""

from __future__ import annotations

from typing import Final

PARTS_NAME: Final = "parts.toml"
#: What a new list begins with.
NEW_PARTS: Final = "# Parts of the vehicle, as their labels say. Edit freely.\n"
