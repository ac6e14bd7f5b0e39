"""Charts that show what decides: points lost, money against undo, engine speed over road speed.

Their figures stand beside them, so that each chart can be checked.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from compare.answer.live import Live
from compare.figures import factor_of, safe, unit_of
from compare.report.workbook.book import DARK, Book, Head, Page
from compare.vocabulary import OUTCOMES, UNDO_STEPS

__all__ = ["write"]

MOST = 20  # candidates drawn
LINES = 6  # of them with a line of engine speed
SPAN = (0.5, 1.5)  # of the cruising speed, along that chart
COLOURS = (
    "#1F4E5F",
    "#D98E04",
    "#5B8C5A",
    "#A23E48",
    "#6C5B7B",
    "#3A86C8",
    "#8D6E63",
    "#7A9E9F",
    "#B5838D",
    "#444444",
    "#C2B280",
    "#556B2F",
)
FONT = {"name": "Arial", "size": 8}
WIDE, HIGH, LOW = 590, 430, 320
UNDO_COLOURS = ("#5B8C5A", "#7A9E9F", "#D98E04", "#A23E48", "#444444")
LINE_PIXELS = 18  # of a row at its usual height


def write(book: Book) -> None:
    """Write the sheet: three charts, and the tables that they are drawn from."""
    if not book.report.ranking:
        return
    names = [r["criterion"] for r in book.report.criteria]
    page = Page(book, "Charts", [26, *(11.0 for _ in range(len(names) + 1))])
    page.title(
        "Charts",
        f"What costs points, what it costs, and what the engine turns{_of_how_many(book)}. The "
        "figures stand below.",
    )
    start = page.row
    below = start + HIGH // LINE_PIXELS + 1
    page.row = below + LOW // LINE_PIXELS + 2
    page.sheet.set_h_pagebreaks([page.row])
    lost, money, speed = _lost(page, names), _money(page), _speed(page)
    sheet = page.sheet
    sheet.insert_chart(
        start,
        0,
        lost,
        {"description": "Points that each candidate loses, by criterion, the best first"},
    )
    beside = {
        "x_offset": WIDE,
        "description": "Money for each candidate, in the order of the undo scale",
    }
    if money is not None:
        sheet.insert_chart(start, 0, money, beside)
    if speed is not None:
        sheet.insert_chart(
            below,
            0,
            speed,
            {
                "description": "Engine speed in top gear over road speed, with cruise and window",
            },
        )


def _of_how_many(book: Book) -> str:
    """Says how many are drawn where not all are."""
    count = len(book.report.ranking)
    return f": the best {MOST} of {count}" if count > MOST else ""


def _rows(book: Book) -> list[dict[str, Any]]:
    return [dict(r) for r in book.report.ranking[:MOST]]


def _lost(page: Page, names: list[str]) -> Any:
    """Points lost by criterion, stacked, sorted by their sum; an unknown worth counts half."""
    book = page.book
    weight = {r["criterion"]: r["weight"] for r in book.report.criteria}
    rows = []
    for row in _rows(book):
        worth = {c: 0.5 if row["utility"][c] is None else row["utility"][c] for c in names}
        points = [100 * weight[c] * (1 - worth[c]) for c in names]
        rows.append((sum(points), row, points))
    rows.sort(key=lambda r: r[0])
    page.group("Points lost")
    heads = [
        Head("candidate", 26),
        *(Head(c.replace("_", " "), 9, "points") for c in names),
        Head("in all", 9, "points"),
    ]
    page.table(heads, [[_label(row), *points, total] for total, row, points in rows])
    first, last = page.row - len(rows), page.row - 1
    chart = book.file.add_chart({"type": "bar", "subtype": "stacked"})
    for at, name in enumerate(names, start=1):
        chart.add_series(
            {
                "name": name.replace("_", " "),
                "categories": [page.name, first, 0, last, 0],
                "values": [page.name, first, at, last, at],
                "fill": {"color": COLOURS[(at - 1) % len(COLOURS)]},
                "gap": 40,
            }
        )
    _dress(chart, "Points lost, of 100", WIDE, HIGH)
    _lying(chart, "points")
    page.row += 1
    return chart


def _label(row: dict[str, Any]) -> str:
    return safe(row["candidate"], 24) + (" (out)" if row["outcome"] == OUTCOMES[3] else "")


def _money(page: Page) -> Any:
    """Money, each candidate by name, in the order of the undo scale; the colour is the deepest
    step.
    """
    book = page.book
    page.group("Money and undo")
    steps = [Head(step, 9, "money") for step in UNDO_STEPS]
    rows = [r for r in _rows(book) if r["cost"] is not None]
    if not any(r["cost"] for r in rows):
        page.row -= 1
        return None
    rows.sort(key=lambda r: (UNDO_STEPS.index(r["undo"]), r["cost"]))
    page.widths = [26, *(11.0 for _ in range(max(len(steps), len(page.widths) - 1)))]
    top = page.heads([Head("candidate", 26), *steps])
    for row in rows:
        page.text(page.row, 0, _label(row), "cell")
        page.number(page.row, 1 + UNDO_STEPS.index(row["undo"]), row["cost"], "money")
        page.row += 1
    chart = book.file.add_chart({"type": "bar", "subtype": "stacked"})
    for at, step in enumerate(UNDO_STEPS, start=1):
        if any(r["undo"] == step for r in rows):
            chart.add_series(
                {
                    "name": step,
                    "categories": [page.name, top + 1, 0, page.row - 1, 0],
                    "values": [page.name, top + 1, at, page.row - 1, at],
                    "fill": {"color": UNDO_COLOURS[at - 1]},
                    "gap": 40,
                }
            )
    _dress(chart, "Money, by how hard it is to go back", WIDE, HIGH)
    _lying(chart, _currency(book))
    page.row += 1
    return chart


def _lying(chart: Any, label: str) -> None:
    """Axes of bars that lie: the first on top, the scale below."""
    chart.set_y_axis({"reverse": True, "num_font": FONT, "interval_unit": 1, "crossing": "max"})
    chart.set_x_axis(
        {
            "name": label,
            "name_font": FONT,
            "num_font": FONT,
            "min": 0,
            "num_format": "0",
            "major_gridlines": {"visible": True, "line": {"color": "#DDDDDD"}},
        }
    )


def _currency(book: Book) -> str:
    return safe(book.report.car["currency"] or "money", 20)


def _speed(page: Page) -> Any:
    """Engine speed in top gear over road speed: the first few, ruled out or not, and today's; those
    that turn alike share a line."""
    book, report = page.book, page.book.report
    live = report.live()
    cruise = report.car["cruise_speed_kmh"]
    tops = {row["candidate"]: row["rpm_at_cruise"] for row in report.gears}
    if live is None or not cruise:
        return None
    ranked = sorted(
        (r for r in live.rows if r.rank and tops.get(r.candidate)), key=lambda r: r.rank
    )
    first = {r.candidate for r in [r for r in ranked if not r.keep][:LINES]}
    shown: dict[float, list[str]] = {}
    for row in ranked:
        if row.keep or row.candidate in first:
            shown.setdefault(round(tops[row.candidate]), []).append(row.candidate)
    if not shown:
        return None
    least, most = (share * cruise for share in SPAN)
    low = 500.0 * int(min(*shown, *_window(live)) * SPAN[0] / 500.0)
    top = 500.0 * (int(max(shown) * SPAN[1] / 500.0) + 1)
    start = _speed_table(page, shown, cruise)
    lines = {"cruising speed": [cruise, cruise]} | dict(
        zip(("window, from", "window, to"), _window(live), strict=False)
    )
    rows = _helping_lines(page, (least, most), (low, top), lines)
    chart = book.file.add_chart({"type": "scatter", "subtype": "straight"})
    speed = rows["speed"]
    for at in range(len(shown)):
        of = [page.name, start + at, 0]
        _line(chart, page.name, of, (speed, start + at), COLOURS[at % len(COLOURS)])
    _line(chart, page.name, "cruising speed", (rows["cruising speed"], rows["from, to"]), "#000000")
    for name in (n for n in rows if n.startswith("window")):
        _line(chart, page.name, name, (speed, rows[name]), "#5B8C5A")
    _dress(chart, "Engine speed in top gear", 2 * WIDE, LOW)
    factor, unit = factor_of("km/h", book.units), unit_of("km/h", book.units)
    ends = 10 * math.floor(least * factor / 10), 10 * math.ceil(most * factor / 10)
    chart.set_x_axis(_axis(f"road speed [{unit}]", *ends) | {"major_unit": 10})
    grid = {"major_gridlines": {"visible": True, "line": {"color": "#DDDDDD"}}}
    chart.set_y_axis(_axis("rev/min", low, top) | grid)
    return chart


def _window(live: Live) -> list[float]:
    """The wished window of engine speed, as far as it is stated."""
    return [live.numbers[end] for end in ("low", "high") if live.numbers[end] == live.numbers[end]]


def _axis(name: str, least: float, most: float) -> dict[str, Any]:
    return {"name": name, "name_font": FONT, "num_font": FONT, "min": least, "max": most}


def _line(chart: Any, sheet: str, name: Any, at: tuple[int, int], colour: str) -> None:
    """A straight line between two points: the row of its x and the row of its y."""
    dash = "solid" if isinstance(name, list) else "dash" if colour == "#000000" else "square_dot"
    x, y = at
    chart.add_series(
        {
            "name": name,
            "categories": [sheet, x, 1, x, 2],
            "values": [sheet, y, 1, y, 2],
            "line": {"color": colour, "width": 1.75, "dash_type": dash},
        }
    )


def _speed_table(page: Page, tops: Mapping[float, list[str]], cruise: float) -> int:
    """Engine speeds at both ends of the chart; the first row."""
    unit, factor = unit_of("km/h", page.book.units), factor_of("km/h", page.book.units)
    page.group("Engine speed in top gear")
    ends = [f"at {share * cruise * factor:.0f} {unit}" for share in SPAN]
    heads = [Head("candidate", 26), *(Head(end, 9, "rev/min") for end in ends)]
    page.table(heads, [[_together(names), *(rpm * s for s in SPAN)] for rpm, names in tops.items()])
    return page.row - len(tops)


def _together(names: list[str]) -> str:
    """A few names, and how many more.

    >>> _together(["a"]), _together(["a", "b", "c", "d"])
    ('a', 'a, b and 2 more')
    """
    shown = [safe(name, 24) for name in names]
    return (
        ", ".join(shown) if len(shown) <= 3 else f"{', '.join(shown[:2])} and {len(shown) - 2} more"
    )


def _helping_lines(
    page: Page, speeds: tuple[float, float], rpms: tuple[float, float], lines: dict[str, Any]
) -> dict[str, int]:
    """What the chart needs beside the candidates; name -> row."""
    factor = factor_of("km/h", page.book.units)
    given: dict[str, list[float]] = {"speed": [v * factor for v in speeds], "from, to": list(rpms)}
    for name, value in lines.items():
        given[name] = [v * factor for v in value] if isinstance(value, list) else [value, value]
    rows = {}
    for name, values in given.items():
        page.text(page.row, 0, name, "cell")
        for at, value in enumerate(values, start=1):
            page.sheet.write_number(page.row, at, round(value, 1), page.book.style("cell", "0"))
        rows[name] = page.row
        page.row += 1
    return rows


def _dress(chart: Any, title: str, wide: int, high: int) -> None:
    chart.set_title({"name": title, "name_font": {"name": "Arial", "size": 12, "color": DARK}})
    chart.set_legend({"position": "bottom", "font": FONT})
    chart.set_size({"width": wide, "height": high})
