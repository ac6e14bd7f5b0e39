"""What-if: weights, speed, axle, tyre and budget beside the ranking, was and is.

The formulas follow `answer.anew`, which gives the value stored beside each. Plain functions only.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from xlsxwriter.utility import xl_rowcol_to_cell

from compare.answer.anew import Anew, work_out
from compare.answer.live import Live
from compare.figures import digits_of, factor_of, figure, number, unit_of
from compare.report.workbook.book import LINE, NOT_KNOWN, Book, Head, Page, fitting
from compare.report.workbook.labels import outcome_style
from compare.report.workbook.sums import NAME_WIDTH, Sums

__all__ = ["NAME", "write", "write_sums"]

NAME = "What-if"
SHOWN = 30  # rows of the ranking on the page
MOST_WEIGHT = 1000.0
INPUTS = (
    Head("change the yellow cells", 30),
    Head("was", 8, ""),
    Head("is", 9, ""),
    Head("what counts", 32),
)
RANKED = (
    Head("is", 5, "count"),
    Head("was", 5, "count"),
    Head("candidate", NAME_WIDTH),
    Head("value was", 7, ""),
    Head("value is", 7, ""),
    Head("rev/min is", 8, ""),
    Head("outcome is", 16),
)
WIDTHS = (*(h.width for h in INPUTS), 1.5, *(h.width for h in RANKED))
NOTE = (
    "Outcome, value and order follow at once. Weights are taken relative to each other. A cell "
    "that cannot be used "
    "says so, and the value sent counts. For other changes send the file back, or run the "
    "program again."
)


def cell(row: int, column: int, sheet: str = "") -> str:
    """A fixed reference."""
    name = xl_rowcol_to_cell(row, column, row_abs=True, col_abs=True)
    return f"'{sheet}'!{name}" if sheet else name


@dataclass
class Inputs:
    """Where the inputs stand: role -> the formula of the value that counts, and what was sent."""

    used: dict[str, str] = field(default_factory=dict)
    weights: dict[str, str] = field(default_factory=dict)


def write(book: Book) -> None:
    """Write the page."""
    live = book.report.live()
    if live is None:
        return
    page = Page(book, NAME, WIDTHS, one_page=True)
    page.title("What if?", NOTE)
    weights = {r["criterion"]: r["weight"] for r in book.report.criteria}
    now = work_out(live, {}, weights)
    inputs, top = Inputs(), page.row
    page.heads(INPUTS)
    for row in live.inputs:
        _input(page, row, live, inputs)
    _gearing(page, live)
    page.row += 1
    page.heads(
        (
            Head("weight, points of 100", 30),
            Head("was", 8, ""),
            Head("is", 9, ""),
            Head("what counts", 32),
        )
    )
    first = page.row
    for name in live.criteria:
        _weight(page, name, weights[name], inputs)
    _all_zero(page, first)
    if live.stuck:
        names = ", ".join(name.replace("_", " ") for name in live.stuck)
        verb = "stays" if len(live.stuck) == 1 else "stay"
        what = "must" if len(live.stuck) == 1 else "musts"
        page.sheet.merge_range(page.row + 1, 0, page.row + 1, 3, "", book.style("wrap"))
        page.sheet.set_row(page.row + 1, 2 * LINE + 3)
        page.text(
            page.row + 1,
            0,
            f"Your {what} {names} {verb} as computed with the speed and the budget that were sent: "
            "for another, change the car's file and run the program again.",
            "wrap",
        )
    sums = Sums(live, now, inputs.used, inputs.weights, (first, page.row - 2), book)
    _ranking(page, live, now, sums, top)
    page.sheet.protect("", {"format_columns": True, "format_rows": True})
    book.pages["sums"] = sums  # type: ignore[assignment]


def write_sums(book: Book) -> None:
    """Write the sheet of sums, where What-if was written."""
    sums = book.pages.get("sums")
    if sums is not None:
        sums.write()  # type: ignore[attr-defined]


def _shown(value: float, unit: str, units: str) -> float:
    return number(value, unit, units) if unit != "money" else round(value, 2)


def _input(page: Page, row: Mapping[str, Any], live: Live, inputs: Inputs) -> None:
    """One input: what was, the cell to change, its status; what counts is kept as a formula."""
    book, at, unit = page.book, page.row, row["unit"]
    units = book.units
    page.text(at, 0, book.label(row["label"], unit), "cell")
    value, role = row["value"], row["role"]
    money = role == "money"
    if value is None and not money:
        page.text(at, 1, NOT_KNOWN, "unknown")
        page.text(at, 2, "", "cell")
        page.text(at, 3, "not known: write it into the car's file first", "cell")
        inputs.used[role] = "1"
        page.row += 1
        return
    shape = book.shape(unit)
    sent = live.numbers["assumed"] if value is None else value
    shown = "" if value is None else _shown(value, unit, units)
    if shown == "":
        page.text(at, 1, "none", "unknown")
        page.sheet.write_blank(at, 2, None, book.style("entry", shape))
    else:
        page.sheet.write_number(at, 1, shown, book.style("cell", shape))
        page.sheet.write_number(at, 2, shown, book.style("entry", shape))
    factor = factor_of(unit, units)
    low, high = _limits(row, factor, digits_of(unit, units))
    counts = f"{figure(sent, unit, units)} counts"
    blank = f"no budget: {live.numbers['assumed']:g} counts" if money else f"blank: {counts}"
    span = f"{low:g} to {high:g} {unit_of(unit, units)}".strip()
    c = cell(at, 2)
    status = (
        f'IF(TRIM({c})="","{blank}",IF(NOT(ISNUMBER({c})),"not a number: {counts}",IF({c}<0,'
        f'"below zero: {counts}",'
        f'IF({c}=0,"zero: {counts}",IF(OR({c}<{low!r},{c}>{high!r}),"outside {span}: {counts}",'
        f'"counts")))))'
    )
    page.formula(at, 3, "=" + status, blank if shown == "" else "counts", "General")
    state, away = cell(at, 3, NAME), cell(at, 2, NAME)
    none = repr(live.numbers["assumed"]) if money else repr(sent)
    same = (
        f"IF({away}={shown!r},{sent!r},{away}/{factor!r})" if shown != "" else f"{away}/{factor!r}"
    )
    blank_counts = f'IF(TRIM({away})="",{none},{sent!r})'
    inputs.used[role] = f'=IF({state}="counts",{same},{blank_counts})'
    page.row += 1


def _limits(row: Mapping[str, Any], factor: float, digits: int) -> tuple[float, float]:
    """The possible range in shown units, rounded inward."""
    step = 10.0**-digits
    low = math.ceil(round(row["low"] * factor / step, 6)) * step
    high = math.floor(round(row["high"] * factor / step, 6)) * step
    return round(max(low, step if row["role"] == "money" else low), digits), round(high, digits)


def _gearing(page: Page, live: Live) -> None:
    """Axle over tyre against the car's, and whether that was worked out."""
    page.text(page.row, 0, "axle over tyre, against the car's", "cell")
    ends = {n.scale for row in live.rows for n in (row.nodes[0], row.nodes[-1])}
    low, high = min(ends), max(ends)
    g = f"'{Sums.NAME}'!{Sums.GEARING}"
    page.sheet.write_number(page.row, 1, 1.0, page.book.style("cell", "0.000_ "))
    page.formula(page.row, 2, f"={g}", 1.0, "0.000_ ")
    page.formula(
        page.row,
        3,
        f"=IF(OR({g}<{low!r},{g}>{high!r}),\"beyond {low:g} to {high:g} times the car's: its end "
        f'counts","")',
        "",
        "General",
    )
    page.row += 1


def _weight(page: Page, name: str, weight: float, inputs: Inputs) -> None:
    at, points = page.row, round(100 * weight, 2)
    page.text(at, 0, name.removeprefix("mark_").replace("_", " "), "cell")
    page.sheet.write_number(at, 1, points, page.book.style("cell", "0.##_ "))
    page.sheet.write_number(at, 2, points, page.book.style("entry", "0.##_ "))
    c, counts = cell(at, 2), f"{points:g} counts"
    page.formula(
        at,
        3,
        f'=IF(TRIM({c})="","blank: {counts}",IF(NOT(ISNUMBER({c})),"not a number: {counts}",'
        f'IF({c}<0,"below zero: {counts}",'
        f'IF({c}>{MOST_WEIGHT!r},"above {MOST_WEIGHT:g}: {counts}",IF({c}=0,"does not count",'
        f'"counts")))))',
        "counts" if points else "does not count",
        "General",
    )
    state, away = cell(at, 3, NAME), cell(at, 2, NAME)
    inputs.weights[name] = (
        f'=IF(OR({state}="counts",{state}="does not count"),IF({away}={points!r},'
        f"{100 * weight!r},{away}),{100 * weight!r})"
    )
    page.row += 1


def _all_zero(page: Page, first: int) -> None:
    span = f"{cell(first, 3)}:{cell(page.row - 1, 3)}"
    count = page.row - first
    page.formula(
        page.row,
        3,
        f'=IF(COUNTIF({span},"does not count")={count},"every weight is zero: those sent count",'
        f'"")',
        "",
        "General",
        "text",
    )
    page.row += 1


def _ranking(page: Page, live: Live, now: list[Anew], sums: Sums, top: int) -> None:
    """The best rows in their new order, each with where it stood."""
    left = len(INPUTS) + 1
    page.row = top
    page.heads(RANKED, left)
    ordered = sorted((i for i, one in enumerate(now) if one.rank), key=lambda i: now[i].rank)
    shown = ordered[:SHOWN]
    for k, at in enumerate(shown, start=1):
        row, one, sent = page.row, now[at], live.rows[at]
        find = partial(sums.found, k)
        page.formula(row, left, f"={k}", float(k), "0_ ")
        page.formula(row, left + 1, f"={find('was rank')}", float(sent.rank), "0_ ")
        page.formula(
            row, left + 2, f"={find('candidate')}", fitting(one.candidate, NAME_WIDTH), "General"
        )
        page.formula(row, left + 3, f"={find('was value')}", sent.value, "0.0_ ")
        page.formula(row, left + 4, f"={find('value')}", one.value, "0.0_ ")
        page.formula(row, left + 5, f"={find('rpm')}", one.rpm, "0_ ")
        page.formula(row, left + 6, f"={find('outcome')}", one.outcome, "General", "cell")
        page.row += 1
    last = page.row - 1
    column = xl_rowcol_to_cell(0, left + 6)[:-1]
    for outcome in live.outcomes:
        style = outcome_style(outcome)
        colour = {"good": "#DFF0DC", "fair": "#FFF2CC", "poor": "#F6DAD6"}[style]
        page.sheet.conditional_format(
            top + 1,
            left + 6,
            last,
            left + 6,
            {
                "type": "formula",
                "criteria": f'=${column}{top + 2}="{outcome}"',
                "format": page.book.file.add_format({"bg_color": colour}),
            },
        )
    rest = len(ordered) - len(shown)
    notes = [f"{rest} more stand on the hidden sheet {Sums.NAME}."] if rest else []
    if live.left_out:
        verb = "is" if live.left_out == 1 else "are"
        notes.append(
            f"{live.left_out} more {verb} not worked out anew: change the car's file and rank."
        )
    for text in notes:
        page.text(page.row, left, text, "text")
        page.row += 1
