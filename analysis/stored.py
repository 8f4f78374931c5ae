"""Frozen results as plain JSON and back, by their annotations.

Read data are built into the annotated classes only; nothing in a file can name a class or a
function, so a logbook from a stranger is as safe to open as a table.
"""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any

Build = Callable[[Any], Any]


def as_plain(value: Any) -> Any:
    """A frozen result as lists, dictionaries, numbers and texts."""
    if dataclasses.is_dataclass(value):
        return {f.name: as_plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {name: as_plain(each) for name, each in value.items()}
    return [as_plain(each) for each in value] if isinstance(value, tuple) else value


def from_plain(form: Any, plain: Any) -> Any:
    """Rebuild what ``as_plain`` took apart.

    Raises
    ------
    ValueError, TypeError, KeyError
        If the data do not have the form.
    """
    return _builder(form)(plain)


@lru_cache(maxsize=256)
def _builder(form: Any) -> Build:
    origin, arguments = typing.get_origin(form), typing.get_args(form)
    if dataclasses.is_dataclass(form):
        return _class_builder(form)
    if origin is tuple:
        if len(arguments) == 2 and arguments[1] is ...:
            each = _builder(arguments[0])
            return lambda plain: tuple(map(each, plain))
        builders = tuple(map(_builder, arguments))
        return lambda plain: tuple(b(p) for b, p in zip(builders, plain, strict=True))
    if origin in (Mapping, dict):
        inner = _builder(arguments[1])
        return lambda plain: {name: inner(value) for name, value in plain.items()}
    if origin in (typing.Union, types.UnionType):
        return _union_builder(arguments)
    return _as_it_is


def _as_it_is(plain: Any) -> Any:
    return plain


def _class_builder(form: Any) -> Build:
    hints = typing.get_type_hints(form)
    builders = {f.name: _builder(hints[f.name]) for f in dataclasses.fields(form)}

    def build(plain: Any) -> Any:
        return form(**{name: builder(plain[name]) for name, builder in builders.items()})

    return build


def _union_builder(arguments: tuple[Any, ...]) -> Build:
    """One of several classes, told apart by their fields; ``None`` and plain values stay."""
    classes = [form for form in arguments if dataclasses.is_dataclass(form)]
    forms = {frozenset(f.name for f in dataclasses.fields(form)): _class_builder(form)
             for form in classes}
    others = [_builder(form) for form in arguments if form not in (*classes, type(None))]

    def build(plain: Any) -> Any:
        if plain is None:
            return None
        if isinstance(plain, dict) and frozenset(plain) in forms:
            return forms[frozenset(plain)](plain)
        return others[0](plain) if others else plain

    return build
