"""A page of text of some width, with colour or without."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

__all__ = ["PLAIN", "STYLES", "VERDICT_STYLES", "Page", "plain_characters", "points", "whole"]

STYLES = {
    "bolts in": "green",
    "goes in with work": "cyan",
    "measure first": "yellow",
    "ruled out": "red",
    "as the car is today": "dim",
}
VERDICT_STYLES = {"clear": "green", "tight": "yellow", "clash": "red", "unmeasured": "magenta"}
# For outputs that know only ASCII.
PLAIN = str.maketrans(
    {"–": "-", "—": "-", "…": "...", "≥": ">=", "≤": "<=", "±": "+/-", "·": ".", "°": " deg", "²": "2",
     "×": "x", "½": "1/2", "─": "-", "━": "-", "│": "|", "’": "'", "“": '"', "”": '"', "é": "e", "ö": "o",
     "ü": "u", "ä": "a", "√": "sqrt", "−": "-", "³": "3", "Ø": "dia ", "→": "->"}
)  # fmt: skip


def plain_characters(text: str) -> str:
    """The same text in ASCII.

    >>> plain_characters("≥ 3 mm ±1°")
    '>= 3 mm +/-1 deg'
    """
    return text.translate(PLAIN).encode("ascii", "replace").decode("ascii")


def whole(value: Any) -> str:
    """A number without decimals; a question mark where there is none.

    >>> whole(3172.4), whole(None)
    ('3172', '?')
    """
    return "?" if value is None or value != value else f"{value:.0f}"


def points(value: Any) -> str:
    """A value or a score, of 100 points: one decimal everywhere.

    >>> points(91.0), points(None)
    ('91.0', '?')
    """
    return "?" if value is None or value != value else f"{value:.1f}"


class Page:
    """Collects text, table by table."""

    def __init__(self, width: int, color: bool, terse: int = 0) -> None:
        self.out, self.terse = io.StringIO(), terse
        self.width = max(width, 40)
        self.console = Console(
            file=self.out, width=self.width, force_terminal=color, no_color=not color,
            color_system="standard" if color else None, highlight=False, emoji=False, markup=False,
            legacy_windows=False,
        )  # fmt: skip

    def say(self, text: str = "", style: str = "", indent: int = 0) -> None:
        content = Text(text, style=style)
        self.console.print(Padding(content, (0, 0, 0, indent)) if indent else content)

    def head(self, text: str) -> None:
        self.say()
        self.say(text, "bold")

    def part(self, text: str) -> None:
        """A head; on a terse page without the line above it."""
        if not self.terse:
            self.say()
        self.say(text, "bold")

    def line(self, mark: str, text: str) -> None:
        """An item; on a page that is terse twice, cut to one line."""
        room = self.width - len(mark) - 1
        self.item(mark, text[: room - 1] + "…" if self.terse > 1 and len(text) > room else text)

    @property
    def height(self) -> int:
        """How many lines the page has so far."""
        return self.out.getvalue().count("\n")

    def item(self, mark: str, text: str, style: str = "", indent: int = 0) -> None:
        grid = Table.grid(padding=(0, 1, 0, 0))
        grid.add_column(no_wrap=True)
        grid.add_column()
        grid.add_row(Text(mark, style=style), Text(text))
        self.console.print(Padding(grid, (0, 0, 0, indent)) if indent else grid)

    def raw(self, lines: Sequence[str]) -> None:
        for line in lines:
            self.console.print(Text(line), no_wrap=True, crop=True, soft_wrap=False)

    def table(
        self,
        columns: Sequence[tuple[str, str]],
        rows: Sequence[Sequence[Text | str]],
        cut: str = "",
    ) -> None:
        """Rows under heads. With `cut`, no cell folds and that column is cut to what is left."""
        cells = [[c if isinstance(c, Text) else Text(c) for c in row] for row in rows]
        if cut:
            self._shorten(columns, cells, cut)
        table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold")
        for name, justify in columns:
            fixed = bool(cut) or justify == "right"
            table.add_column(Text(name), justify=justify, overflow="fold", no_wrap=fixed)  # type: ignore[arg-type]
        for row in cells:
            table.add_row(*row)
        self.console.print(table)

    def _shorten(
        self, columns: Sequence[tuple[str, str]], cells: list[list[Text]], cut: str
    ) -> None:
        """Cut the texts of one column so that every row stays on its line."""
        widths = [
            max([len(n), *(r[i].cell_len for r in cells)]) for i, (n, _) in enumerate(columns)
        ]
        at = [name for name, _ in columns].index(cut)
        room = self.width - sum(w for i, w in enumerate(widths) if i != at) - len(columns)
        for row in cells:
            row[at].truncate(max(room, 8), overflow="ellipsis")

    def text(self) -> str:
        return "\n".join(line.rstrip() for line in self.out.getvalue().split("\n"))
