"""Charts that show what decides: points lost, money against undo, engine speed over road speed.

Their figures stand beside them, so that each chart can be checked.
"""

from __future__ import annotations

from typing import Any

from compare.figures import factor_of, safe, unit_of
from compare.report.workbook.book import DARK, Book, Head, Page
from compare.vocabulary import OUTCOMES, UNDO_STEPS

__all__ = ["write"]

MOST = 20  # candidates drawn
LINES = 6  # of them with a line of engine speed
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
WIDE, HIGH, LOW = 590, 470, 260
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
        "What costs points, what it costs, and what the engine turns. The figures stand below.",
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
                "description": "Engine speed in top gear over road speed, with the cruising speed and the wished window",
            },
        )


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
        *(Head(c.replace("_", " "), 9, "") for c in names),
        Head("in all", 9, ""),
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
    """Money, each candidate by name, in the order of the undo scale; the colour is the deepest step."""
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
    """Engine speed in top gear over road speed, for the first few, today's and the ruled out alike."""
    book, report = page.book, page.book.report
    live = report.live()
    cruise = report.car["cruise_speed_kmh"]
    if live is None or not cruise:
        return None
    shown = [r for r in live.rows if r.rank and r.rpm.values and r.gear == r.gear]
    shown = sorted(
        [r for r in shown if r.keep] + [r for r in shown if not r.keep][:LINES],
        key=lambda r: r.rank,
    )
    tops = {row["candidate"]: row["rpm_at_cruise"] for row in report.gears}
    shown = [r for r in shown if tops.get(r.candidate)]
    if not shown:
        return None
    unit, factor = unit_of("km/h", book.units), factor_of("km/h", book.units)
    page.group("Engine speed in top gear")
    most = 1.5 * cruise
    page.table(
        [
            Head("candidate", 26),
            Head(f"at 0 {unit}", 9, "rev/min"),
            Head(f"at {most * factor:.0f} {unit}", 9, "rev/min"),
        ],
        [[safe(r.candidate, 24), 0.0, tops[r.candidate] * 1.5] for r in shown],
    )
    first = page.row - len(shown)
    low, high = live.numbers["low"], live.numbers["high"]
    top = 500.0 * (int(max(tops[r.candidate] for r in shown) * 1.5 / 500.0) + 1)
    lines = [
        ("speed", [0.0, most * factor]),
        ("cruising speed", [cruise * factor, cruise * factor]),
        ("from, to", [0.0, top]),
    ]
    lines += [
        (label, [v, v]) for label, v in (("window, from", low), ("window, to", high)) if v == v
    ]
    for label, values in lines:
        page.text(page.row, 0, label, "cell")
        for at, value in enumerate(values, start=1):
            page.sheet.write_number(page.row, at, round(value, 1), book.style("cell", "0"))
        page.row += 1
    base = first + len(shown)
    chart = book.file.add_chart({"type": "scatter", "subtype": "straight"})
    line = lambda name, x, y, colour, dash="solid": chart.add_series(
        {
            "name": name,
            "categories": [page.name, x, 1, x, 2],
            "values": [page.name, y, 1, y, 2],
            "line": {"color": colour, "width": 1.75, "dash_type": dash},
        }
    )
    for at, _row in enumerate(shown):
        line([page.name, first + at, 0], base, first + at, COLOURS[at % len(COLOURS)])
    line("cruising speed", base + 1, base + 2, "#000000", "dash")
    for at in range(len(lines) - 3):
        line(lines[3 + at][0], base, base + 3 + at, "#5B8C5A", "square_dot")
    _dress(chart, "Engine speed in top gear", 2 * WIDE, LOW)
    chart.set_x_axis(
        {
            "name": f"road speed [{unit}]",
            "name_font": FONT,
            "num_font": FONT,
            "min": 0,
            "max": round(most * factor),
        }
    )
    chart.set_y_axis(
        {
            "name": "rev/min",
            "name_font": FONT,
            "num_font": FONT,
            "min": 0,
            "max": top,
            "major_gridlines": {"visible": True, "line": {"color": "#DDDDDD"}},
        }
    )
    return chart


def _dress(chart: Any, title: str, wide: int, high: int) -> None:
    chart.set_title({"name": title, "name_font": {"name": "Arial", "size": 12, "color": DARK}})
    chart.set_legend({"position": "bottom", "font": FONT})
    chart.set_size({"width": wide, "height": high})
