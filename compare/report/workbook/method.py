"""Method: criteria, limits with their sources, what is not judged, cautions, digests."""

from __future__ import annotations

from compare.figures import factor_of, unit_of
from compare.report.workbook.book import Book, Head, Page, words
from compare.words import CAUTIONS, draws_words

__all__ = ["write"]

LIMITS = (
    Head("limit", 30),
    Head("value", 10),
    Head("unit", 9),
    Head("as a rule", 10),
    Head("source", 70),
)
CRITERIA = (
    Head("criterion", 30),
    Head("points of 100", 10, ""),
    Head("", 9),
    Head("", 10),
    Head("what it is worth", 70),
)


def _limit(value: float, unit: str, units: str) -> str:
    """A limit's number with all its digits; a length in the workbook's units."""
    return f"{value * factor_of(unit, units):.3g}" if unit == "mm" else f"{value:g}"


def write(book: Book) -> None:
    """Write the sheet."""
    page = Page(book, "Method", [h.width for h in LIMITS], landscape=False)
    report = book.report
    page.title("Method")
    page.group("Criteria")
    page.table(
        CRITERIA,
        [
            [r["criterion"].replace("_", " "), 100 * r["weight"], "", "", r["meaning"]]
            for r in report.criteria
        ],
    )
    page.row += 1
    page.group("Cautions")
    for text in CAUTIONS:
        page.wide(text, "wrap")
    page.row += 1
    page.group("Limits in force")
    own = [r for r in report.limits if r["value"] != r["default"]]
    page.table(
        LIMITS,
        [
            [
                r["limit"].replace("_", " "),
                _limit(r["value"], r["unit"], book.units),
                unit_of(r["unit"], book.units),
                _limit(r["default"], r["unit"], book.units),
                r["source"],
            ]
            for r in (*own, *(r for r in report.limits if r not in own))
        ],
    )
    page.row += 1
    page.group("Where it comes from")
    car = report.car
    for label, value in (
        ("car", f"{car['file']}, {car['digest']}"),
        ("catalogue", f"{car['catalogue']}, {car['catalogue_digest']}"),
        ("parts", f"{car['parts']}, {car['parts_digest']}" if car["parts"] else "none"),
        ("draws", f"{draws_words(car)}, seed {car['seed']}"),
    ):
        page.wide(f"{label}: {words(value, book.units)}", "wrap")
