"""The reading ledger:

one row per cell that holds something, what was typed and what it was read as.
"""

from __future__ import annotations

import math
from typing import Any

from compare.kinds import KINDS
from compare.read.cells import Value

__all__ = ["ASKED", "READ", "UNKNOWN", "entry", "kept_unit"]

READ, UNKNOWN, ASKED = "read", "unknown", "asked"


def kept_unit(kind: str) -> str:
    """The unit in which a kind of quantity is kept: mm, N·m, kg, rad, km/h, rev/min, money ...

    >>> kept_unit("angle"), kept_unit("money"), kept_unit("ratio")
    ('rad', 'money', '')
    """
    return KINDS[kind].kept_unit


def entry(
    file: str,
    line: int | None,
    owner: str,
    column: str,
    typed: str,
    kind: str,
    value: Value | str | float | None,
    state: str,
) -> dict[str, Any]:
    """One row of the ledger; numbers in internal units, None where nothing is known or stated."""
    number: Any = None
    half: float | None = None
    high: float | None = None
    if isinstance(value, Value):
        number, half, high = _known(value.nominal), _known(value.half), _known(value.high)
    elif state == READ:
        number = value
    file, owner, column, typed = (_writable(t) for t in (file, owner, column, typed))
    if isinstance(number, str):
        number = _writable(number)
    return {
        "file": file, "line": line, "owner": owner, "column": column, "typed": typed,
        "value": number,
        "unit": kept_unit(kind), "half_width": half, "high": high, "state": state,
    }  # fmt: skip


def _writable(text: str) -> str:
    """Text that every output can take: halves of characters become visible."""
    return text if text.isascii() else text.encode("utf-8", "backslashreplace").decode("utf-8")


def _known(number: float) -> float | None:
    return None if math.isnan(number) else float(number)
