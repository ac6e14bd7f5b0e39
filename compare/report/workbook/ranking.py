"""Ranking: every candidate with its chances and bands, and every check; tables for the screen."""

from __future__ import annotations

from typing import Any

from compare.answer.report import plain_name
from compare.report.workbook.book import Book, Head, Page
from compare.report.workbook.decision import top_rpm
from compare.report.workbook.labels import chance, outcome_style, verdict_style

__all__ = ["write"]

HEADS = (
    Head("rank", 6, "count"),
    Head("candidate", 22),
    Head("build", 18),
    Head("outcome", 17, style=outcome_style),
    Head("fitted, chance", 11),
    Head("if ordered from these figures", 13),
    Head("bolts in, chance", 10),
    Head("first, chance", 8),
    Head("value", 8, ""),
    Head("5 %", 7, ""),
    Head("95 %", 7, ""),
    Head("score", 7, ""),
    Head("rev/min at cruise", 9, "rev/min"),
    Head("deepest cut", 12),
    Head("cut", 8, "mm"),
    Head("money", 8, "money"),
    Head("5 %", 8, "money"),
    Head("95 %", 8, "money"),
    Head("hours", 7, "h"),
    Head("why", 60),
)
CHECKS = (
    Head("candidate", 22),
    Head("build", 18),
    Head("check", 18),
    Head("kind", 7),
    Head("as found", 11, style=verdict_style),
    Head("with the plan", 11, style=verdict_style),
    Head("holds, fitted", 10),
    Head("what was found", 60),
    Head("limit", 40),
)


def write(book: Book) -> None:
    """Write both sheets."""
    page = Page(book, "Ranking", [h.width for h in HEADS])
    page.title(
        "Ranking",
        "Every candidate by its best build. Chances come from random draws within each number's "
        "doubt.",
    )
    page.table(HEADS, [_cells(book, row) for row in book.report.ranking], filtered=True)
    page.left_out(
        book.report.left_out, "candidates were not asked for", "run without --top to see them"
    )
    checks = Page(book, "Checks", [h.width for h in CHECKS])
    checks.title(
        "Checks", "What is not clear or tight only; a check that passes easily is left out."
    )
    rows = [r for r in book.report.checks if {r["verdict"], r["verdict_as_found"]} != {"clear"}]
    checks.table(CHECKS, [_check(row) for row in rows], filtered=True)
    checks.wide(
        f"{len(book.report.checks) - len(rows)} checks that are clear, as found and with the "
        f"plan, are not listed."
    )


def _cells(book: Book, row: dict[str, Any]) -> list[Any]:
    return [
        row["rank"],
        row["candidate"],
        row["build"],
        row["outcome"],
        chance(row),
        chance(row, "chance_with_these_figures"),
        chance(row, "chance_bolts_in"),
        chance(row, "chance_first"),
        row["value"],
        row["value_low"],
        row["value_high"],
        row["score"],
        top_rpm(book, row["candidate"]),
        row["undo"],
        row["cut_mm"],
        row["cost"],
        row["cost_low"],
        row["cost_high"],
        row["hours"],
        row["why"],
    ]


def _check(row: dict[str, Any]) -> list[Any]:
    return [
        row["candidate"],
        row["build"],
        plain_name(row["check"]),
        row["kind"],
        row["verdict_as_found"],
        row["verdict"],
        chance(row),
        row["why"],
        row["limit"],
    ]
