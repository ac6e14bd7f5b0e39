"""Mistakes in a user's input: one problem is data, its text is made here and nowhere else."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

__all__ = ["MEANT", "CellError", "InputError", "Problem", "did_you_mean", "visible"]


def visible(text: object, most: int = 80) -> str:
    """Show any text in one line: what cannot be printed becomes visible, what is long is cut.

    >>> visible("red\\x1b[31m")
    'red\\\\x1b[31m'
    >>> visible("a" * 90, most=6)
    'aaaaa…'
    """
    shown = str(text)
    if not (shown.isascii() and shown.isprintable()):
        shown = "".join(
            c if c.isprintable() else c.encode("unicode_escape", "surrogatepass").decode("ascii")
            for c in shown
        )
    return shown if len(shown) <= most else shown[: most - 1] + "…"


# Other words for what is meant, that no likeness of letters leads to.
MEANT = {"weight": "mass", "tire": "tyre"}


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """The nearest known word, or "" when none is near.

    >>> did_you_mean("shaft_stickuot", ["shaft_stickout", "length"])
    'shaft_stickout'
    >>> did_you_mean("weight", ["case_right", "mass"])
    'mass'
    """
    words = {w.casefold(): w for w in known}
    meant = MEANT.get(word.casefold(), "")
    if meant in words:
        return words[meant]
    near = get_close_matches(word.casefold(), words, n=1, cutoff=0.6)
    return words[near[0]] if near else ""


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
    options: tuple[str, ...] = ()
    mend: str = ""

    def kind(self) -> str:
        """What problems of one sort share:

        the column or key, and the sentence without what it quotes and counts.
        """
        return self.column + self.key + re.sub(r'"[^"]*"|[0-9]+', "", self.found)

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
    """What is wrong with one cell's text; the reader adds the place and makes a Problem of it.

    `options` are texts that the fix offers and that can be typed as they stand; `mend` is the one
    that alone can be meant, which `check --fix` types; `readings` are the values between which the
    cell leaves the choice, for a reader that knows the neighbours.
    """

    def __init__(
        self,
        found: str,
        fix: str,
        options: Iterable[str] = (),
        readings: Iterable[Any] = (),
        mend: str = "",
    ) -> None:
        super().__init__(found)
        self.found = found
        self.fix = fix
        self.options = tuple(options)
        self.readings = tuple(readings)
        self.mend = mend


MOST_OF_A_KIND = 20
MOST_KINDS = 200


class InputError(Exception):
    """The user's input cannot be used. Holds every problem that was found, not only the first.

    `readings` gives the rows of the reading ledger of the files that have the problems, one per
    cell.
    """

    def __init__(
        self,
        problems: Iterable[Problem],
        readings: Callable[[], Iterable[dict[str, Any]]] | None = None,
    ) -> None:
        self.problems = tuple(problems)
        self._readings = readings
        super().__init__(self.text())

    @property
    def readings(self) -> list[dict[str, Any]]:
        return list(self.each_reading())

    def each_reading(self) -> Iterable[dict[str, Any]]:
        return self._readings() if self._readings else ()

    def text(self, end: str = " Nothing was written.") -> str:
        """The problems, grouped by file, in the order of the lines;

        at most 20 of a kind, then their count.
        """
        by_file: dict[str, list[Problem]] = {}
        for problem in self.problems:
            by_file.setdefault(problem.file, []).append(problem)
        blocks = []
        for file, found in by_file.items():
            count = "1 problem" if len(found) == 1 else f"{len(found)} problems"
            lines = "\n".join(_some_of_each_kind(sorted(found, key=lambda p: p.line or 0)))
            blocks.append(f"{visible(file, 200)}: {count}.{end}\n{lines}")
        return "\n".join(blocks)


def _some_of_each_kind(problems: Sequence[Problem]) -> list[str]:
    seen: dict[str, int] = {}
    lines = []
    for problem in problems:
        kind = problem.kind()
        seen[kind] = seen.get(kind, 0) + 1
        if seen[kind] <= MOST_OF_A_KIND and len(seen) <= MOST_KINDS:
            lines.append(problem.text())
    hidden = len(problems) - len(lines)
    if hidden:
        lines.append(
            f"  and {hidden} more of the same kinds; check FILE --json - lists all of them."
        )
    return lines
