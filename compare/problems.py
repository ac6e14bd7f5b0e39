"""Mistakes in a user's input: one problem is data, its text is made here and nowhere else."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

__all__ = ["CellError", "InputError", "Problem", "did_you_mean", "visible"]


def visible(text: object, most: int = 80) -> str:
    """Show any text in one line: what cannot be printed becomes visible, what is long is cut.

    >>> visible("red\\x1b[31m")
    'red\\\\x1b[31m'
    >>> visible("a" * 90, most=6)
    'aaaaa…'
    """
    shown = "".join(
        c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in str(text)
    )
    return shown if len(shown) <= most else shown[: most - 1] + "…"


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """The nearest known word, or "" when none is near.

    >>> did_you_mean("shaft_stickuot", ["shaft_stickout", "length"])
    'shaft_stickout'
    """
    near = get_close_matches(word.casefold(), list(known), n=1, cutoff=0.6)
    return near[0] if near else ""


@dataclass(frozen=True)
class Problem:
    """One thing wrong in one place.

    `where` holds what is known of the place, outermost first: line, row name, column or key.
    `found` says what is wrong with what was found (it quotes it); `fix` says what to type instead.
    """

    file: str
    found: str
    fix: str
    line: int | None = None
    row: str = ""
    column: str = ""
    key: str = ""

    def place(self) -> str:
        parts = []
        if self.line is not None:
            parts.append(f"line {self.line}")
        if self.row:
            parts.append(visible(self.row, 40))
        if self.column:
            parts.append(f"column {visible(self.column, 40)}")
        if self.key:
            parts.append(f"key {visible(self.key, 60)}")
        return ", ".join(parts) or "the file"

    def text(self) -> str:
        return f"  {self.place()}: {self.found}\n      {self.fix}"


class CellError(ValueError):
    """What is wrong with one cell's text; the reader adds the place and makes a Problem of it."""

    def __init__(self, found: str, fix: str) -> None:
        super().__init__(found)
        self.found = found
        self.fix = fix


class InputError(Exception):
    """The user's input cannot be used. Holds every problem that was found, not only the first."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(self.text())

    def text(self) -> str:
        """All problems, grouped by file, in the order of the lines."""
        by_file: dict[str, list[Problem]] = {}
        for problem in self.problems:
            by_file.setdefault(problem.file, []).append(problem)
        blocks = []
        for file, found in by_file.items():
            count = "1 problem" if len(found) == 1 else f"{len(found)} problems"
            ordered = sorted(found, key=lambda p: p.line or 0)
            lines = "\n".join(p.text() for p in ordered)
            blocks.append(f"{visible(file, 200)}: {count}. Nothing was written.\n{lines}")
        return "\n".join(blocks)
