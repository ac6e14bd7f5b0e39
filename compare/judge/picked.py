"""Some rows of anything that a run gives: arrays, tuples, dictionaries and records of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np

__all__ = ["Before", "picked"]

Array = np.ndarray


def picked(thing: Any, rows: Array, count: int) -> Any:
    """The same with only some rows; what is shared by all `count` rows stays as it is.

    >>> picked({"a": np.array([[1.0], [2.0]]), "b": np.array([[7.0]])}, np.array([1, 1]), 2)
    {'a': array([[2.],
           [2.]]), 'b': array([[7.]])}
    """
    if isinstance(thing, np.ndarray):
        return thing[rows] if thing.ndim >= 2 and 1 < count == thing.shape[0] else thing
    if isinstance(thing, tuple | list):
        parts = [picked(t, rows, count) for t in thing]
        return type(thing)(*parts) if hasattr(thing, "_fields") else type(thing)(parts)
    if isinstance(thing, Mapping):
        return {k: picked(v, rows, count) for k, v in thing.items()}
    if is_dataclass(thing) and not isinstance(thing, type):
        inner = {f.name: getattr(thing, f.name) for f in fields(thing) if f.init}
        kept = (np.ndarray, tuple, list, Mapping)
        some = {k: v for k, v in inner.items() if isinstance(v, kept) or is_dataclass(v)}
        return replace(thing, **{k: picked(v, rows, count) for k, v in some.items()})
    return thing


class Before:
    """What an earlier run gave, by name, for some of its rows; picked where it is asked for."""

    def __init__(self, names: Mapping[str, Any], rows: Array, count: int) -> None:
        self.names, self.rows, self.count = names, rows, count
        self._found: dict[str, Any] = {}

    def __getitem__(self, name: str) -> Any:
        if name not in self._found:
            self._found[name] = picked(self.names[name], self.rows, self.count)
        return self._found[name]

    def of(self, rows: Array) -> Before:
        """The same for some of these rows."""
        return Before(self.names, self.rows[rows], self.count)
