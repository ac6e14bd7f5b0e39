"""Tables whose rows are made when somebody asks for them: a page of a few candidates makes only
theirs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Any, overload

__all__ = ["Facts", "Rows"]

Row = dict[str, Any]


class Rows(Sequence[Row]):
    """A table in parts, one for each candidate (or one for all, under no name), each made once.

    >>> table = Rows({"Tarn": lambda: [{"candidate": "Tarn", "gear": 1}], "Keld": lambda: []})
    >>> table.of("Keld"), len(table), table[0]["gear"]
    ([], 1, 1)
    """

    def __init__(self, makers: Mapping[str, Callable[[], Iterable[Row]]]) -> None:
        self._makers = makers
        self._made: dict[str, list[Row]] = {}

    def of(self, candidate: str) -> list[Row]:
        """The rows of one candidate."""
        if candidate not in self._makers:
            return [row for row in self._all if row.get("candidate") == candidate]
        if candidate not in self._made:
            self._made[candidate] = list(self._makers[candidate]())
        return self._made[candidate]

    @cached_property
    def _all(self) -> tuple[Row, ...]:
        return tuple(row for name in self._makers for row in self.of(name))

    @overload
    def __getitem__(self, at: int) -> Row: ...

    @overload
    def __getitem__(self, at: slice) -> Sequence[Row]: ...

    def __getitem__(self, at: int | slice) -> Row | Sequence[Row]:
        return self._all[at]

    def __iter__(self) -> Iterator[Row]:
        return iter(self._all)

    def __len__(self) -> int:
        return len(self._all)


class Facts(Mapping[str, Mapping[str, Any]]):
    """Candidate -> every nominal quantity of its plan by name, made when it is asked for."""

    def __init__(self, makers: Mapping[str, Callable[[], Mapping[str, Any]]]) -> None:
        self._makers = makers
        self._made: dict[str, Mapping[str, Any]] = {}

    def __getitem__(self, candidate: str) -> Mapping[str, Any]:
        if candidate not in self._made:
            self._made[candidate] = self._makers[candidate]()
        return self._made[candidate]

    def __iter__(self) -> Iterator[str]:
        return iter(self._makers)

    def __len__(self) -> int:
        return len(self._makers)
