"""Measuring list: what to measure, where, with what, and boxes to write the result in; one page.

The boxes come back: `answer.take_in` makes entries for the measured log of them.
"""

from __future__ import annotations

from typing import Any

from compare.answer.report import plain_name
from compare.answer.typed import unit_of_term
from compare.figures import figure, unit_of
from compare.report.workbook.book import LINE, Book, Head, Page, lines_of, words
from compare.vocabulary import car_terms_by_name, catalogue_terms

__all__ = ["BOXES", "NAME", "write"]

NAME = "Measuring list"
HEADS = (
    Head("where", 17),
    Head("of", 19),
    Head("what", 18),
    Head("how", 43),
    Head("worth", 12),
    Head("known now", 12),
    Head("measured", 14),
    Head("with what", 14),
)
ROOM = 490.0
BOXES = {"by": "measured by", "on": "on (year-month-day)"}


def write(book: Book) -> None:
    """Write the sheet."""
    page = Page(book, NAME, [h.width for h in HEADS], one_page=True)
    page.title(
        "Measuring list",
        "Write into the yellow boxes and send the file back. Give the unit with the number "
        "where it is not the one shown; "
        "± says how sure you are; leave a box empty where you could not measure.",
    )
    _who(page)
    rows = _rows(book)
    used, shown = 110.0, []
    for row in rows:
        used += max(_high(book, row), 1.5) * LINE + 4.0
        if used > ROOM:
            break
        shown.append(row)
    if not shown:
        page.wide("Nothing that decides waits for a measurement.", "wrap")
    else:
        page.heads(HEADS)
    for row in shown:
        _line(page, row)
    page.left_out(
        len(rows) - len(shown),
        "dimensions are not known",
        "the empty cells of the sheets Catalogue and Car",
    )
    page.sheet.protect(
        "", {"format_columns": True, "format_rows": True, "select_locked_cells": True}
    )


def _who(page: Page) -> None:
    for key, label in BOXES.items():
        page.text(page.row, 0, label, "text")
        page.sheet.set_row(page.row, 16)
        page.sheet.write_blank(page.row, 1, None, page.book.style("box"))
        page.book.sent.append((NAME, f"B{page.row + 1}", "who", key, ""))
        page.row += 1
    page.row += 1


def _rows(book: Book) -> list[dict[str, Any]]:
    """The engine's list by worth; before there is one, what decides, then what is not known."""
    given = book.report.extra.get("measuring") or ()
    terms = {"car": car_terms_by_name()}
    rows = []
    for row in given:
        term = terms.get(row["of"], catalogue_terms()).get(row["dimension"])
        about = (
            {
                "meaning": term.meaning,
                "measure": term.measure,
                "unit": term.unit,
                "shown_unit": unit_of_term(term),
            }
            if term
            else {}
        )
        rows.append(
            {"meaning": "", "measure": "", "unit": "", "shown_unit": "", "now": None} | about | row
        )
    said = {(row["of"], row["dimension"]) for row in rows}
    rest = (row for row in book.report.to_measure if (row["of"], row["dimension"]) not in said)
    return [*rows, *map(dict, rest)]


def _cells(book: Book, row: dict[str, Any]) -> list[str]:
    units = book.units
    how = row["meaning"] + (f". {row['measure']}" if row["measure"] else "")
    minutes = f", {row['minutes']:.0f} min" if row.get("minutes") else ""
    if row.get("worth"):
        worth = figure(row["worth"], "money", units)
    elif row.get("decides_figure_of"):
        worth = f"moves {plain_name(row['decides_figure_of'])}"
    else:
        worth = "decides" if row.get("decides") else "opens a check"
    now = "not known" if row["now"] is None else figure(row["now"], row["shown_unit"], units)
    shown = unit_of(row["unit"], units)
    unit = f" [{shown}]" if shown else ""
    return [
        words(c, units)
        for c in (
            f"{row['visit'] or 'anywhere'}{minutes}",
            row["of"],
            plain_name(row["dimension"]) + unit,
            how,
            worth,
            now,
        )
    ]


def _named(row: dict[str, Any]) -> str:
    """What the log calls a dimension: a key of the car by its section."""
    term = car_terms_by_name().get(row["dimension"]) if row["of"] == "car" else None
    return f"{term.section}.{term.key}" if term else str(row["dimension"])


def _high(book: Book, row: dict[str, Any]) -> int:
    return max(lines_of(c, h.width) for c, h in zip(_cells(book, row), HEADS, strict=False))


def _line(page: Page, row: dict[str, Any]) -> None:
    book, at = page.book, page.row
    for column, text in enumerate(_cells(book, row)):
        page.text(at, column, text, "cell")
    shown = unit_of(row["unit"], book.units)
    unit = shown if shown != unit_of(row["unit"]) else ""
    for column, what in ((6, "value"), (7, "with")):
        page.sheet.write_blank(at, column, None, book.style("box"))
        cell = f"{'ABCDEFGH'[column]}{at + 1}"
        book.sent.append((NAME, cell, what, f"{row['of']}\t{_named(row)}", unit))
    page.sheet.set_row(at, max(_high(book, row), 1.5) * LINE + 4.0)
    page.row += 1
