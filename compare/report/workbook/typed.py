"""Catalogue, Parts and Car as they were typed, to be corrected and sent back; the readings."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from compare.answer.inspection import as_it_stands, read_as
from compare.figures import safe
from compare.report.workbook.book import LINE, NOT_KNOWN, Book, Head, Page, lines_of
from compare.vocabulary import PART_COLUMNS, catalogue_terms

__all__ = ["NAMES", "write_car", "write_catalogue", "write_parts", "write_readings"]

NAMES = ("Catalogue", "Parts", "Car")
MOST_HEAD = 30
SPARE = 20  # empty rows into which a friend may type another gearbox
PLAIN = re.compile(r"-?(?:0|[1-9]\d{0,8})(?:\.\d{1,9})?")
NOTE = (
    "As typed; yellow cells may be changed and come back. A number without a unit has the unit "
    "of its head; "
    "give another with the number (24 1/8 in). Empty: not there; ?: not known."
)


def _entry(page: Page, row: int, column: int, typed: str, style: str = "entry") -> None:
    """A cell that may be changed: a number where nothing is lost by it."""
    shown = page.book.style(style)
    if not typed:
        page.sheet.write_blank(row, column, None, shown)
    elif PLAIN.fullmatch(typed) and repr(float(typed)).removesuffix(".0") == typed:
        page.sheet.write_number(row, column, float(typed), shown)
    else:
        text = safe(typed, 32_000)
        page.sheet.write_string(row, column, text, page.book.style(style, text=text))


def _head_width(head: str) -> float:
    """Characters that a head takes, so that no word of it breaks; a long one breaks all the same."""
    wide = next((n for n in range(11, MOST_HEAD) if _lines(head, n) <= head.count(" ") + 1), 0)
    return float(wide or MOST_HEAD)


def _lines(head: str, width: float) -> int:
    """Each word on a line of its own, broken where it is too long."""
    return sum(lines_of(word, width, bold=True) for word in safe(head, 200).split(" "))


def _table(book: Book, name: str, title: str, rows: Sequence[dict[str, Any]], key: str) -> None:
    heads = list(dict.fromkeys(h for row in rows for h in row if h != "line")) or [key]
    terms = {t.name: t for t in PART_COLUMNS} | catalogue_terms()
    widths = [
        max(_head_width(h), min(26.0, 1.0 + max(len(str(r.get(h, ""))) for r in rows or [{}])))
        for h in heads
    ]
    page = Page(book, name, widths)
    page.sheet.set_row(0, 22)
    page.sheet.write_string(0, 0, title, book.style("title"))
    page.sheet.write_string(1, 0, NOTE, book.style("text"))
    page.sheet.set_row(2, 40)
    for at, head in enumerate(heads):
        page.sheet.write_string(2, at, safe(head, 200), book.style("head"))
        term = terms.get(head.split("[")[0].strip().replace(" ", "_").lower())
        if term is not None:
            unit = f" [{term.unit}]" if term.unit else ""
            page.sheet.write_comment(
                2, at, f"{term.meaning}{unit}. {term.measure}".strip(), {"author": ""}
            )
        book.sent.append((name, str(at), "head", head, ""))
    for down, row in enumerate(rows, start=3):
        for at, head in enumerate(heads):
            typed = row.get(head, "") or ""
            _entry(page, down, at, typed)
            book.sent.append((name, str(row["line"]), "row", head, typed))
    for down in range(3 + len(rows), 3 + len(rows) + SPARE):
        for at in range(len(heads)):
            page.sheet.write_blank(down, at, None, book.style("entry"))
    page.sheet.freeze_panes(3, 1)
    page.sheet.repeat_rows(2)
    page.across(0)
    # In print title and note, which would be cut off on all pages but the first, are the header.
    page.sheet.print_area(2, 0, 2 + len(rows) + SPARE, len(heads) - 1)
    page.sheet.set_margins(0.4, 0.4, 0.8, 0.5)
    page.sheet.set_header(f"&L&14{title}&10 as typed: empty is not there, ? is not known")


def write_catalogue(book: Book) -> None:
    """Write the catalogue as typed."""
    _table(book, NAMES[0], "Catalogue", book.report.catalogue, "name")


def write_parts(book: Book) -> None:
    """Write the parts as typed, where there are any."""
    if book.report.parts:
        _table(book, NAMES[1], "Parts", book.report.parts, "part")


def write_car(book: Book) -> None:
    """Write the profile key by key: those that are there first in each section."""
    page = Page(book, NAMES[2], [16, 22, 40, 9, 70], landscape=False)
    page.sheet.set_row(0, 22)
    page.sheet.write_string(0, 0, "Car", book.style("title"))
    page.sheet.write_string(1, 0, NOTE, book.style("text"))
    for at, label in enumerate(("section", "key", "value", "unit", "meaning")):
        page.sheet.write_string(2, at, label, book.style("head"))
    page.row = 3
    for row in book.report.car_table:
        typed = row["typed"]
        page.text(page.row, 0, row["section"], "cell")
        page.text(page.row, 1, row["key"], "cell")
        _entry(page, page.row, 2, NOT_KNOWN if typed is None else typed, "entry left")
        page.text(page.row, 3, row["unit"], "cell")
        meaning = row["meaning"] + (
            f" (where it is not given: {row['default']})"
            if row["default"] not in (None, "")
            else ""
        )
        page.text(page.row, 4, meaning, "cell")
        book.sent.append(
            (NAMES[2], f"{row['section']}.{row['key']}", "value", row["unit"], typed or "")
        )
        high = max(lines_of(safe(typed or ""), 40), lines_of(safe(meaning), 70))
        page.sheet.set_row(page.row, high * LINE + 2)
        page.row += 1
    page.sheet.freeze_panes(3, 2)
    page.sheet.repeat_rows(2)


def write_readings(book: Book) -> None:
    """Write the reading ledger, where there is one."""
    rows = book.readings if book.readings is not None else book.report.extra.get("readings")
    rows = [r for r in rows or () if not as_it_stands(r)]
    if not rows:
        return
    heads = (
        Head("file", 20),
        Head("line", 7),
        Head("owner", 22),
        Head("column", 22),
        Head("you typed", 26),
        Head("I read", 26),
    )
    page = Page(book, "Readings", [h.width for h in heads])
    page.title("Readings", "What was typed, and what was read.")
    read = lambda r: None if r.get("value") is None else read_as(r)
    page.table(
        heads,
        [
            [
                r.get("file"),
                str(r.get("line", "")),
                r.get("owner"),
                r.get("column"),
                r.get("typed"),
                read(r),
            ]
            for r in rows
        ],
        filtered=True,
    )
