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
                "description": "Engine speed in top gear over road speed, with cruise and window",
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
    """Engine speed in top gear over road speed: the first few, ruled out or not, and today's."""
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
    shown = [r.candidate for r in ranked if r.keep or r.candidate in first]
    if not shown:
        return None
    most = 1.5 * cruise
    top = 500.0 * (int(max(tops[name] for name in shown) * 1.5 / 500.0) + 1)
    start = _speed_table(page, {name: tops[name] for name in shown}, cruise)
    lines = {"cruising speed": [cruise, cruise], "window, from": live.numbers["low"]}
    lines |= {"window, to": live.numbers["high"]}
    rows = _helping_lines(page, most, top, lines)
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
    chart.set_x_axis(_axis(f"road speed [{unit}]", round(most * factor)))
    chart.set_y_axis(
        _axis("rev/min", top) | {"major_gridlines": {"visible": True, "line": {"color": "#DDDDDD"}}}
    )
    return chart


def _axis(name: str, most: float) -> dict[str, Any]:
    return {"name": name, "name_font": FONT, "num_font": FONT, "min": 0, "max": most}


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


def _speed_table(page: Page, tops: dict[str, float], cruise: float) -> int:
    """Engine speeds at standstill and at one and a half times the cruising speed; the first row."""
    unit, factor = unit_of("km/h", page.book.units), factor_of("km/h", page.book.units)
    page.group("Engine speed in top gear")
    far = f"at {1.5 * cruise * factor:.0f} {unit}"
    heads = [Head("candidate", 26), Head(f"at 0 {unit}", 9, "rev/min"), Head(far, 9, "rev/min")]
    page.table(heads, [[safe(name, 24), 0.0, rpm * 1.5] for name, rpm in tops.items()])
    return page.row - len(tops)


def _helping_lines(page: Page, most: float, top: float, lines: dict[str, Any]) -> dict[str, int]:
    """What the chart needs beside the candidates; name -> row."""
    factor = factor_of("km/h", page.book.units)
    given: dict[str, list[float]] = {"speed": [0.0, most * factor], "from, to": [0.0, top]}
    for name, value in lines.items():
        if isinstance(value, list):
            given[name] = [v * factor for v in value]
        elif value == value:
            given[name] = [value, value]
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
