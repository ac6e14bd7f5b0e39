"""What every sheet is written with: styles, cells that are data, heights that fit.

Texts go through `safe` and `write_string`; a number goes rounded to the digits it deserves; what
is not known is written so. Every formula carries the value that the program computed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.utility import xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet

from compare.answer.report import Report
from compare.figures import digits_of, in_fractions, number, safe, unit_of
from compare.said import Said, fill

__all__ = ["LINE", "NOT_KNOWN", "Book", "Head", "Page", "fitting", "lines_of", "words"]

NOT_KNOWN = "not known"
FONT, SIZE = "Arial", 9
INDENT = 1.0  # characters by which a head over numbers is set in
LINE = 11.0  # points a line of text takes at that size
ACROSS = 85  # per cent: letters of 7.7 points
MOST_TEXT = 2000  # a cell holds more, a reader does not
DARK, PALE, INPUT, LINES = "#1F4E5F", "#E8EEF1", "#FFF4C2", "#B8C4CA"
STYLES: dict[str, dict[str, Any]] = {
    "text": {},
    "wrap": {"text_wrap": True},
    "title": {"bold": True, "font_size": 15, "font_color": DARK},
    "note": {"font_color": "#555555", "text_wrap": True},
    "group": {"bold": True, "font_color": DARK, "font_size": 11},
    "head": {
        "bold": True,
        "bg_color": DARK,
        "font_color": "#FFFFFF",
        "text_wrap": True,
        "border": 1,
        "border_color": LINES,
    },
    "head right": {
        "bold": True,
        "bg_color": DARK,
        "font_color": "#FFFFFF",
        "text_wrap": True,
        "border": 1,
        "border_color": LINES,
        "align": "right",
        "indent": 1,
    },
    "cell": {"text_wrap": True, "border": 1, "border_color": LINES},
    "cell right": {"border": 1, "border_color": LINES, "align": "right"},
    "unknown": {
        "font_color": "#8A6D00",
        "italic": True,
        "border": 1,
        "border_color": LINES,
        "align": "right",
    },
    "unknown left": {"font_color": "#8A6D00", "italic": True, "border": 1, "border_color": LINES},
    "big": {"bold": True, "text_wrap": True, "font_size": 11},
    "good": {"text_wrap": True, "border": 1, "border_color": LINES, "bg_color": "#DFF0DC"},
    "fair": {"text_wrap": True, "border": 1, "border_color": LINES, "bg_color": "#FFF2CC"},
    "poor": {"text_wrap": True, "border": 1, "border_color": LINES, "bg_color": "#F6DAD6"},
    "plain": {"text_wrap": True, "border": 1, "border_color": LINES, "bg_color": PALE},
    "box": {
        "border": 2,
        "border_color": "#444444",
        "bg_color": INPUT,
        "locked": False,
        "align": "left",
    },
    "entry": {"border": 1, "border_color": LINES, "locked": False, "bg_color": INPUT},
    "entry left": {
        "border": 1,
        "border_color": LINES,
        "locked": False,
        "bg_color": INPUT,
        "text_wrap": True,
        "align": "left",
    },
}


@dataclass(frozen=True)
class Head:
    """A column: its label, width in characters, and the unit of its numbers, if it has any.

    style: chooses a style from a row's value, for labels. right: over numbers that bring their own
    units.
    """

    label: str
    width: float
    unit: str | None = None
    style: Callable[[Any], str] | None = None
    right: bool = False


QUOTED = "=+-@"  # a text that begins so stays a text when somebody edits its cell
# Letters of a sans serif, in thousandths of its size: as Helvetica's published metrics have them.
_LETTERS = {
    222: "ijl'",
    278: " ftI.,:;/!|\\[]",
    333: "r()-`",
    500: "cksvxyzJ",
    556: "",
    667: "ABEKPSVXY&",
    722: "CDHNRUw",
    778: "GOQ",
    833: "mM",
    889: "%",
    944: "W",
    1015: "@",
}
_WIDTHS = {letter: wide for wide, letters in _LETTERS.items() for letter in letters}
_SPARE = 1.03  # fonts differ


def width_of(text: str, size: float = SIZE) -> float:
    """How wide a text is, in points, a little on the wide side; what is not known counts as wide.

    >>> round(width_of("mm", 10.0) / width_of("ii", 10.0), 2)
    3.75
    """
    each = lambda c: _WIDTHS.get(c, 556 if c < "\u2000" else 1000)
    return _SPARE * size * sum(map(each, text)) / 1000.0


def lines_of(text: str, width: float, size: float = SIZE, bold: bool = False) -> int:
    """How many lines a text takes in a cell `width` characters wide.

    >>> lines_of("short", 20), lines_of("word " * 20, 20) > 4
    (1, True)
    """
    room = (7.0 * width + 5.0) * 0.75 - 6.0
    count = 0
    for part in text.split("\n"):
        count += 1
        used = 0.0
        for word in part.split(" "):
            wide = width_of(word, size) * (1.08 if bold else 1.0)
            space = width_of(" ", size) if used else 0.0
            if used and used + space + wide > room:
                count, used, space = count + 1, 0.0, 0.0
            while wide > room:
                count, wide = count + 1, wide - room
            used += space + wide
    return count


def fitting(text: str, width: float) -> str:
    """A text cut so that it takes one line of a cell `width` characters wide.

    >>> fitting("Tarn 5A", 20), lines_of(fitting("m" * 50, 20), 20)
    ('Tarn 5A', 1)
    """
    text = safe(text)
    if lines_of(text, width) == 1:
        return text
    most = next(n for n in range(len(text), 0, -1) if lines_of(text[:n] + "…", width) == 1)
    return text[:most] + "…"


def words(value: Any, units: str, most: int = MOST_TEXT) -> str:
    """Anything that a row may hold, as text: sentences are filled, lists joined, nothing is "not
    known"."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return NOT_KNOWN
    if isinstance(value, Said):
        value = fill(value, units)
    if isinstance(value, bool):
        value = "yes" if value else "no"
    if isinstance(value, list | tuple):
        value = ", ".join(words(v, units) for v in value)
    if isinstance(value, dict) and "text" in value:
        value = words(value["text"], units)
    elif isinstance(value, dict):
        value = ", ".join(f"{k} {words(v, units)}" for k, v in value.items())
    return safe(value, most)


@dataclass
class Book:
    """One workbook being written: the report, its units, styles made once."""

    path: str
    report: Report
    units: str = "metric"
    readings: Sequence[dict[str, Any]] | None = None
    file: xlsxwriter.Workbook = field(init=False)
    _made: dict[tuple[str, str], Format] = field(init=False, default_factory=dict)
    sent: list[tuple[str, str, str, str, str]] = field(default_factory=list)
    pages: dict[str, Page] = field(default_factory=dict)

    def __post_init__(self) -> None:
        options = {
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        }
        self.file = xlsxwriter.Workbook(self.path, options)
        self.file.formats[0].set_font_name(FONT)
        self.file.formats[0].set_font_size(SIZE)
        self.file.set_calc_mode("auto")

    def style(self, name: str, shape: str = "", text: str = "") -> Format:
        """A named style with a number's shape; for a text that looks like a formula, one that keeps it a text."""
        quoted = text[:1] in QUOTED and bool(text)
        key = (name, QUOTED if quoted else shape)
        if key not in self._made:
            given = {"font_name": FONT, "font_size": SIZE, "valign": "top"} | STYLES[name]
            if shape:
                given |= {"num_format": shape}
            if quoted:
                given |= {"quote_prefix": True}
            self._made[key] = self.file.add_format(given)
        return self._made[key]

    def shape(self, unit: str, named: bool = False) -> str:
        """The number format of a unit: as many digits as it deserves; with its name where asked."""
        digits = digits_of(unit, self.units)
        number = "0" if not digits else "0." + "0" * digits
        if in_fractions(unit, self.units):
            number = "# ??/??"
        shown = unit_of(unit, self.units)
        apart = "" if shown == "°" else " "
        return f'{number}"{apart}{shown}"_ ' if named and shown else number + "_ "

    def label(self, text: str, unit: str) -> str:
        shown = unit_of(unit, self.units)
        return f"{text} [{shown}]" if shown else text


@dataclass
class Page:
    """One sheet and the row that comes next."""

    book: Book
    name: str
    widths: Sequence[float]
    landscape: bool = True
    one_page: bool = False
    sheet: Worksheet = field(init=False)
    row: int = 0

    def __post_init__(self) -> None:
        self.sheet = self.book.file.add_worksheet(self.name)
        self.book.pages[self.name] = self
        sheet = self.sheet
        for at, width in enumerate(self.widths):
            sheet.set_column(at, at, width)
        sheet.set_default_row(LINE + 2.5)
        sheet.hide_gridlines(2)
        sheet.set_paper(9)
        sheet.set_margins(0.4, 0.4, 0.4, 0.5)
        if self.landscape:
            sheet.set_landscape()
        sheet.fit_to_pages(1, 1 if self.one_page else 0)
        name = self.name.replace("&", "&&")
        sheet.set_footer(f"&L&8{name} · made by gearbox-compare&R&8page &P of &N")

    def across(self, names: int) -> None:
        """Print it in readable letters, as many pages wide as it needs; names: the last column that
        stands on each of them.
        """
        self.sheet.set_print_scale(ACROSS)
        self.sheet.repeat_columns(0, names)
        self.sheet.print_across()

    # ---- cells ------------------------------------------------------------

    def text(self, row: int, column: int, value: Any, style: str = "text") -> str:
        """Write a text that stays a text; gives it back."""
        shown = words(value, self.book.units)
        self.sheet.write_string(row, column, shown, self.book.style(style, text=shown))
        return shown

    def number(
        self,
        row: int,
        column: int,
        value: float | None,
        unit: str,
        style: str = "cell",
        named: bool = False,
    ) -> None:
        """Write a number in the workbook's units, or that it is not known; named: with its unit."""
        if value is None or not math.isfinite(value):
            endless = value is not None and math.isinf(value)
            self.text(row, column, "no limit" if endless else NOT_KNOWN, "unknown")
            return
        shown = number(value, unit, self.book.units)
        self.sheet.write_number(
            row, column, shown, self.book.style(style, self.book.shape(unit, named))
        )

    def formula(
        self,
        row: int,
        column: int,
        formula: str,
        value: float | str,
        shape: str = "0.0",
        style: str = "cell",
    ) -> str:
        """Write a formula with its computed value; gives the cell's name, fixed."""
        if isinstance(value, float) and not math.isfinite(value):
            value = "?"
        self.sheet.write_formula(row, column, formula, self.book.style(style, shape), value)
        return xl_rowcol_to_cell(row, column, row_abs=True, col_abs=True)

    # ---- blocks ------------------------------------------------------------

    def wide(self, value: Any, style: str = "note", size: float = SIZE) -> None:
        """One text over the whole width, as high as it needs to be."""
        text = words(value, self.book.units)
        last = len(self.widths) - 1
        room = sum(self.widths) + 0.7 * last
        if last:
            self.sheet.merge_range(self.row, 0, self.row, last, "", self.book.style(style))
        self.sheet.write_string(self.row, 0, text, self.book.style(style))
        bold = bool(STYLES[style].get("bold"))
        high = lines_of(text, room, size, bold) * LINE * size / SIZE + 3
        self.sheet.set_row(self.row, high)
        self.row += 1

    def title(self, text: str, note: str = "") -> None:
        """What the sheet is, and how to read it."""
        self.sheet.set_row(self.row, 22)
        self.sheet.write_string(self.row, 0, text, self.book.style("title"))
        self.row += 1
        if note:
            self.wide(note)

    def group(self, text: str) -> None:
        self.sheet.set_row(self.row, 18)
        self.sheet.write_string(self.row, 0, text, self.book.style("group"))
        self.row += 1

    def heads(self, heads: Sequence[Head], first: int = 0) -> int:
        """Write heads over their columns; gives the row."""
        high = 1
        for at, head in enumerate(heads, start=first):
            label = self.book.label(head.label, head.unit) if head.unit is not None else head.label
            over_numbers = head.unit is not None or head.right
            self.text(self.row, at, label, "head right" if over_numbers else "head")
            room = self.widths[at] - (
                INDENT if over_numbers else 0.0
            )  # a head over numbers is set in
            high = max(high, lines_of(label, room, bold=True))
        self.sheet.set_row(self.row, high * LINE + 3)
        self.row += 1
        return self.row - 1

    def table(
        self, heads: Sequence[Head], rows: Sequence[Sequence[Any]], *, filtered: bool = False
    ) -> None:
        """Heads and rows; each row as high as its longest text."""
        top = self.heads(heads)
        for cells in rows:
            high = 1
            for at, (head, value) in enumerate(zip(heads, cells, strict=True)):
                high = max(high, self._cell(at, head, value))
            self.sheet.set_row(self.row, high * LINE + 2)
            self.row += 1
        if filtered and rows:
            self.sheet.autofilter(top, 0, self.row - 1, len(heads) - 1)
        if filtered:
            self.sheet.freeze_panes(top + 1, 1)
            self.sheet.repeat_rows(top)

    def _cell(self, at: int, head: Head, value: Any) -> int:
        if isinstance(value, tuple):  # a number with a unit of its own
            self.number(self.row, at, value[0], value[1], named=True)
            return 1
        if head.unit is not None and (value is None or isinstance(value, int | float)):
            self.number(self.row, at, value, head.unit)
            return 1
        style = "unknown left" if value is None else "cell"
        if head.style:
            style = head.style(value)
        elif head.unit is not None and value:
            style = "cell right"
        return lines_of(self.text(self.row, at, value, style), self.widths[at])

    def left_out(self, count: int, what: str, where: str) -> None:
        """Say what a page has no room for, and where it stands."""
        if count > 0:
            self.wide(f"{count} more {what}: {where}.")
