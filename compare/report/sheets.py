"""How a sheet of the workbook is made: styles made once, cells written once, text that stays text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from copy import copy
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.comments import Comment
from openpyxl.formatting.rule import CellIsRule
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Side
from openpyxl.utils import get_column_letter

from compare.figures import safe

__all__ = ["FONT", "Page", "Styles", "colour_words"]

FONT = "Liberation Sans"
INK, PAPER, RULE_LINE = "1F2A36", "E9EDF1", "B9C2CB"
# Pale fills that differ in lightness too, so that they read in grey; the word stands in every cell.
FILLS = {
    "clear": "DDEFE3", "tight": "F6E7B4", "clash": "E3A49A", "unmeasured": "D9D4E7",
    "bolts in": "DDEFE3", "goes in with work": "D8E8F3", "measure first": "D9D4E7", "ruled out": "E3A49A",
}  # fmt: skip
FORMATS = {
    "text": "@", "whole": "0", "one": "0.0", "two": "0.00", "three": "0.000", "percent": "0%", "mm": '0.0" mm"', "mm2": '0.00" mm"', "mm3": '0.000" mm"',
    "in": '0.00" in"', "in2": '0.000" in"', "in3": '0.0000" in"', "hours": '0.0" h"', "kmh": '0" km/h"', "mph": '0" mph"', "rpm": "0",
}  # fmt: skip
MOST_TEXT = 2000
LINE = 13.5


def _lines(text: str, width: float) -> int:
    """How many lines a text takes in a column, words kept whole."""
    room = max(int(width * 1.2), 4)
    lines, used = 1, 0
    for word in text.split():
        if used and used + 1 + len(word) > room:
            lines, used = lines + 1, len(word)
        else:
            used += len(word) + (1 if used else 0)
        lines += max(used - 1, 0) // room
        used = used % room if used > room else used
    return min(lines, 25)


class Styles:
    """Named styles of one workbook, and their ready-made style records, so that no cell makes its own."""

    def __init__(self, book: Workbook) -> None:
        thin = Side(style="thin", color=RULE_LINE)
        line = Border(bottom=thin)
        base = Font(name=FONT, size=10, color=INK)
        self._made: dict[str, Any] = {}
        probe: Any = book.create_sheet("probe")
        looks: dict[str, dict[str, Any]] = {
            "title": {"font": Font(name=FONT, size=16, bold=True, color=INK)},
            "lead": {"font": Font(name=FONT, size=10, italic=True, color=INK)},
            "head": {
                "font": Font(name=FONT, size=10, bold=True, color=INK), "fill": PatternFill("solid", fgColor=PAPER), "border": Border(bottom=Side(style="medium", color=INK)),
                "alignment": Alignment(wrap_text=True, vertical="bottom"),
            },
            "group": {"font": Font(name=FONT, size=11, bold=True, color=INK), "border": line},
            "tall": {
                "font": Font(name=FONT, size=10, bold=True, color=INK), "fill": PatternFill("solid", fgColor=PAPER), "border": Border(bottom=Side(style="medium", color=INK)),
                "alignment": Alignment(text_rotation=90, vertical="bottom"),
            },
            "wrap": {"font": base, "border": line, "alignment": Alignment(wrap_text=True, vertical="top"), "number_format": "@"},
            "input": {"font": Font(name=FONT, size=10, bold=True, color=INK), "fill": PatternFill("solid", fgColor="FFF6D6"), "border": Border(*(thin,) * 4), "number_format": "0.###"},
            "link": {"font": Font(name=FONT, size=10, underline="single", color="1F4E79"), "border": line},
        }  # fmt: skip
        for name, options in looks.items():
            self._add(book, probe, name, options)
        for name, number_format in FORMATS.items():
            alignment = Alignment(vertical="top", horizontal="left" if name == "text" else None)
            self._add(book, probe, name, {"font": base, "border": line, "number_format": number_format, "alignment": alignment})
        book.remove(probe)

    def _add(self, book: Workbook, probe: Any, name: str, options: dict[str, Any]) -> None:
        style = NamedStyle(name=f"gc {name}")
        for key, value in options.items():
            setattr(style, key, value)
        book.add_named_style(style)
        cell = probe.cell(1, 1)
        cell.style = style.name
        self._made[name] = copy(cell._style)
        quoted = copy(cell._style)
        quoted.quotePrefix = 1
        self._made[f"{name}'"] = quoted

    def record(self, name: str, quoted: bool = False) -> Any:
        return self._made[f"{name}'" if quoted else name]


class Page:
    """One sheet being filled, top to bottom."""

    def __init__(self, book: Workbook, styles: Styles, title: str, heading: str, lead: str = "", title_column: int = 1) -> None:
        self.sheet: Any = book.create_sheet(title)
        self.styles = styles
        self.row = 1
        self.columns = 1
        self.head_row = 0
        self.widths: list[float] = []
        self.sheet.sheet_view.showGridLines = False
        self.put(1, title_column, heading, "title")  # behind columns that every printed page repeats
        self.row = 2
        if lead:
            self.put(2, title_column, lead, "lead")
            self.row = 3
        self.row += 1

    def put(self, row: int, column: int, value: Any, style: str = "text") -> Any:
        """Write one cell. Text stays text, whatever it begins with; NaN becomes a question mark."""
        cell: Any = Cell(self.sheet, row=row, column=column)
        quoted = False
        if isinstance(value, str) and not value:
            pass
        elif value is None or (isinstance(value, float) and math.isnan(value)):
            cell._value, cell.data_type = "?", "s"
        elif isinstance(value, bool):
            cell._value, cell.data_type = ("yes" if value else "no"), "s"
        elif isinstance(value, int | float):
            cell._value, cell.data_type = (value if math.isfinite(value) else "no limit"), ("n" if math.isfinite(value) else "s")
        elif hasattr(value, "item"):
            return self.put(row, column, value.item(), style)
        else:
            text = safe(value, MOST_TEXT)
            quoted = text[:1] in ("=", "+", "-", "@", "#", "'")
            cell._value, cell.data_type = text, "s"
        cell._style = self.styles.record(style, quoted)
        self.sheet._cells[(row, column)] = cell
        self.columns = max(self.columns, column)
        return cell

    def formula(self, row: int, column: int, text: str, style: str) -> Any:
        """Write one formula of our own; nothing of a user's ever comes here."""
        cell: Any = Cell(self.sheet, row=row, column=column)
        cell._value, cell.data_type = text, "f"
        cell._style = self.styles.record(style)
        self.sheet._cells[(row, column)] = cell
        self.columns = max(self.columns, column)
        return cell

    def group(self, text: str) -> None:
        self.put(self.row, 1, text, "group")
        self.row += 1

    def heads(self, heads: Sequence[str], widths: Sequence[float], comments: dict[str, str] | None = None, filters: bool = True) -> None:
        """The head line of the sheet's table: frozen, filtered, repeated on every printed page."""
        for column, (head, width) in enumerate(zip(heads, widths, strict=True), start=1):
            cell = self.put(self.row, column, head, "head")
            letter = get_column_letter(column)
            self.sheet.column_dimensions[letter].width = width
            note = (comments or {}).get(head)
            if note:
                comment = Comment(safe(note, 800), "gearbox-compare")
                comment.width, comment.height = 300, 120
                cell.comment = comment
        self.widths = list(widths)
        self.sheet.row_dimensions[self.row].height = LINE * max(_lines(h, w) for h, w in zip(heads, widths, strict=True)) + 3 if heads else LINE
        self.head_row = self.row
        self.sheet.freeze_panes = f"{'C' if len(heads) > 4 else 'A'}{self.row + 1}"
        self.sheet.print_title_rows = f"{self.row}:{self.row}"
        self._filters = filters
        self.row += 1

    def line(self, values: Sequence[Any], styles: Sequence[str]) -> None:
        for column, (value, style) in enumerate(zip(values, styles, strict=True), start=1):
            self.put(self.row, column, value, style)
        self.fit([(value, self.widths[column]) for column, (value, style) in enumerate(zip(values, styles, strict=True)) if style == "wrap" and column < len(self.widths)])
        self.row += 1

    def fit(self, cells: Sequence[tuple[Any, float]]) -> None:
        """Make the row as high as its wrapped cells need; not every program does that by itself."""
        lines = max((_lines(str(value), width) for value, width in cells if isinstance(value, str)), default=1)
        if lines > 1:
            self.sheet.row_dimensions[self.row].height = LINE * lines + 2

    def close(self, landscape: bool = True, last_column: int = 0, pages_wide: int = 1) -> None:
        """Print set-up: landscape, fitted to the width, page numbers, table filter."""
        sheet = self.sheet
        last = get_column_letter(last_column or self.columns)
        if self.head_row and getattr(self, "_filters", False) and self.row - 1 > self.head_row:
            sheet.auto_filter.ref = f"A{self.head_row}:{get_column_letter(self.columns)}{self.row - 1}"
        sheet.page_setup.orientation = "landscape" if landscape else "portrait"
        sheet.page_setup.paperSize = sheet.PAPERSIZE_A4
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = pages_wide, 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.print_area = f"A1:{last}{max(self.row - 1, 1)}"
        sheet.page_margins.left = sheet.page_margins.right = 0.4
        sheet.page_margins.top, sheet.page_margins.bottom = 0.5, 0.6
        sheet.oddFooter.left.text = "For planning; measure the parts in hand before machining"
        sheet.oddFooter.right.text = "&A, page &P of &N"
        sheet.oddFooter.left.size = sheet.oddFooter.right.size = 8


def colour_words(page: Page, area: str, words: Sequence[str]) -> None:
    """Colour cells by the word that stands in them, by rule and not by cell."""
    for word in words:
        rule = CellIsRule(operator="equal", formula=[f'"{word}"'], fill=PatternFill("solid", bgColor=FILLS[word]))
        page.sheet.conditional_formatting.add(area, rule)
