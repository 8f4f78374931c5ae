"""Attributes that Dash takes by name only through a mapping: ``aria-*`` and ``data-*``."""

from __future__ import annotations

from typing import Any


def aria(**named: str) -> dict[str, Any]:
    """``aria(label="Pages")`` gives ``{"aria-label": "Pages"}``."""
    return {f"aria-{name}": text for name, text in named.items()}


def data(**named: str) -> dict[str, Any]:
    """``data(stem="a")`` gives ``{"data-stem": "a"}``."""
    return {f"data-{name}": text for name, text in named.items()}
