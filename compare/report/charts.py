"""The workbook's charts and the Layout sheet: points are numbers on the sheet, axes chosen with the chart's size."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from openpyxl import Workbook
from openpyxl.chart import BarChart, Reference, ScatterChart, Series
from openpyxl.chart.layout import Layout as PlotLayout
from openpyxl.chart.layout import ManualLayout
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.drawing.line import LineProperties
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from compare.answer.report import Tables
from compare.figures import number, safe, unit_of
from compare.report.drawing import Layout, layout_of
from compare.report.sheets import Page, Styles
from compare.vocabulary import CRITERIA, UNDO_STEPS

__all__ = ["add_gear_chart", "add_ranking_charts", "layout_series", "write_layout"]

COLOURS = ("1B5E8A", "B4541A", "3F7D4E", "6E6E6E", "7B4B94", "9A7B1E", "2E8C8C", "A23B52")
DASHES = ("solid", "dash", "sysDot", "lgDashDot")
LAYOUTS = 4


def _axes(chart: Any, x: str, y: str) -> None:
    chart.x_axis.title, chart.y_axis.title = x, y
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.x_axis.tickLblPos = chart.y_axis.tickLblPos = "low"


def _scatter(title: str, x: str, y: str, width: float, height: float) -> Any:
    chart: Any = ScatterChart()
    chart.scatterStyle = "lineMarker"
    chart.title, chart.width, chart.height = title, width, height
    chart.legend.position = "b"
    _axes(chart, x, y)
    return chart


def _line(chart: Any, page: Page, columns: tuple[int, int], rows: tuple[int, int], name: str, colour: str, dash: Any = "solid", width: int = 19050, marker: str = "none") -> None:
    xs = Reference(page.sheet, min_col=columns[0], min_row=rows[0], max_row=rows[1])
    ys = Reference(page.sheet, min_col=columns[1], min_row=rows[0], max_row=rows[1])
    series: Any = Series(ys, xs, title=safe(name, 40))
    series.smooth = False
    series.marker.symbol = marker
    if marker != "none":
        series.marker.size = 8
        series.marker.graphicalProperties = GraphicalProperties(solidFill=colour)
    series.graphicalProperties = GraphicalProperties(ln=LineProperties(solidFill=colour, prstDash=dash, w=width) if width else LineProperties(noFill=True))
    chart.series.append(series)


def add_gear_chart(page: Page, tables: Tables) -> None:
    """Engine speed over road speed: the best three against the present gearbox, each gear a line to redline."""
    speed = unit_of("km/h", tables.units)
    wanted = [tables.candidate(at) for at in range(min(3, len(tables.shown)))]
    if tables.assessment.baseline is not None:
        wanted.append("present gearbox")
    redline = tables.assessment.car.values.get("engine_redline")
    if redline is None:
        return
    chart = _scatter("Engine speed over road speed", f"road speed [{speed}]", "engine speed [rev/min]", 20, 12)
    start_column = 24
    row = 4
    drawn = 0
    for which, name in enumerate(wanted):
        rows = [g for g in tables.gears if g["candidate"] == name and g["speed_at_redline_kmh"] is not None]
        if not rows:
            continue
        first = row
        page.put(row, start_column, name, "text")
        for g in rows:
            top = number(g["speed_at_redline_kmh"], "km/h", tables.units)
            for x, y in ((0.0, 0.0), (top, redline.nominal)):
                page.put(row, start_column + 1, x, "one")
                page.put(row, start_column + 2, y, "whole")
                row += 1
        _line(chart, page, (start_column + 1, start_column + 2), (first, row - 1), name, COLOURS[which], DASHES[which % 4])
        drawn += 1
        row += 1
    if drawn:
        chart.y_axis.scaling.min, chart.x_axis.scaling.min = 0, 0
        chart.y_axis.scaling.max = math.ceil(redline.nominal / 500.0) * 500
        page.sheet.add_chart(chart, "J6")
        for column in range(start_column, start_column + 3):
            page.sheet.column_dimensions[get_column_letter(column)].width = 12


def add_ranking_charts(page: Page, tables: Tables) -> None:
    """Points won per criterion for the best ten; cost against the undo scale."""
    if not tables.ranking:
        return
    best = tables.ranking[:10]
    weights = tables.assessment.engine.weights
    column, row = 30, 4
    page.put(row, column, "points by criterion", "head")
    for i, criterion in enumerate(CRITERIA):
        page.put(row, column + 1 + i, criterion.replace("_", " "), "head")
    for n, r in enumerate(best, start=1):
        page.put(row + n, column, r["candidate"], "text")
        for i, criterion in enumerate(CRITERIA):
            utility = r["utility"][criterion]
            page.put(row + n, column + 1 + i, 100.0 * float(weights[i]) * (0.5 if utility is None else utility), "one")
    chart: Any = BarChart()
    chart.type, chart.grouping, chart.overlap = "bar", "stacked", 100
    chart.title, chart.width, chart.height = "Points by criterion", 25, 11
    _axes(chart, "", "points of 100")
    chart.x_axis.scaling.orientation = "maxMin"
    chart.y_axis.scaling.min, chart.y_axis.scaling.max = 0, 100
    chart.y_axis.crosses = "max"  # the bars run from the top down; keep the scale below them
    chart.add_data(Reference(page.sheet, min_col=column + 1, max_col=column + len(CRITERIA), min_row=row, max_row=row + len(best)), titles_from_data=True)
    chart.set_categories(Reference(page.sheet, min_col=column, min_row=row + 1, max_row=row + len(best)))
    for i, series in enumerate(chart.series):
        series.graphicalProperties = GraphicalProperties(solidFill=COLOURS[i])
        series.graphicalProperties.line.solidFill = "FFFFFF"
    chart.legend.position = "b"
    anchor = page.row + 1
    page.sheet.add_chart(chart, f"A{anchor}")

    costed = [r for r in tables.ranking if r["cost"] is not None][:40]
    if costed:
        start = row + len(best) + 3
        scatter = _scatter("Cost against how hard it is to undo", "0 " + ", ".join(f"{s}" if not i else f"{i} {s}" for i, s in enumerate(UNDO_STEPS)), "cost", 15, 11)
        groups = (("bolts in", "circle"), ("goes in with work", "square"), ("measure first", "diamond"), ("ruled out", "x"))
        at = start
        for which, (outcome, marker) in enumerate(groups):
            mine = [r for r in costed if r["outcome"] == outcome]
            if not mine:
                continue
            begin = at
            for r in mine:
                page.put(at, column, r["candidate"], "text")
                page.put(at, column + 1, UNDO_STEPS.index(r["undo"]), "whole")
                page.put(at, column + 2, r["cost"], "whole")
                at += 1
            _line(scatter, page, (column + 1, column + 2), (begin, at - 1), outcome, COLOURS[which], width=0, marker=marker)
        scatter.x_axis.scaling.min, scatter.x_axis.scaling.max, scatter.x_axis.majorUnit = -0.5, 4.5, 1
        scatter.x_axis.number_format = "0"
        scatter.y_axis.scaling.min = 0
        page.sheet.add_chart(scatter, f"L{anchor}")
    page.row = anchor + 24
    page.sheet.row_breaks.append(Break(id=anchor - 1))


def _box(x0: float, x1: float, low: float, high: float) -> list[tuple[float, float]]:
    return [(x0, low), (x1, low), (x1, high), (x0, high), (x0, low)]


def layout_series(layout: Layout, view: str) -> list[tuple[str, list[tuple[float, float]]]]:
    """Named outlines in mm of one view, `side` or `plan`: what the chart draws, and what a test compares."""
    up, down = ("top", "bottom") if view == "side" else ("left", "right")
    series = [
        ("case", _box(layout.x_face, layout.case_end, -layout.case[down], layout.case[up])),
        ("tail", _box(layout.case_end, layout.tail_end, -layout.tail[down], layout.tail[up])),
    ]
    tunnel = [(x, y) for x, y in zip(layout.tunnel_x, layout.tunnel[up], strict=True)]
    if view == "side":
        start, end = layout.opening
        if tunnel and not any(math.isnan(v) for v in (start, end, *(y for _, y in tunnel))):
            at = lambda x: float(np.interp(x, layout.tunnel_x, layout.tunnel[up]))
            before = [p for p in tunnel if p[0] < start]
            after = [p for p in tunnel if p[0] > end]
            if before and tunnel[-1][0] > start:
                before = [*before, (start, at(start))]
            if after and tunnel[0][0] < end:
                after = [(end, at(end)), *after]
            series += [("tunnel", before), ("tunnel behind the opening", after)]
        else:
            series.append(("tunnel", tunnel))
        cross_start, cross_end, top = layout.crossmember
        series.append(("crossmember", _box(cross_start, cross_end, -top - 40.0, -top)))
        if layout.lip > 0:
            series.append(("lip", _box(cross_start, cross_start + layout.lip, -top - 40.0, -top)))
        pad, drop, length = layout.pad
        series.append(("mount pad", [(pad - length / 2, -drop), (pad + length / 2, -drop)]))
        middle = (layout.lever[0] + layout.lever[1]) / 2
        foot = layout.tail[up] if middle > layout.case_end else layout.case[up]
        series.append(("lever", [(middle, foot), (middle, foot + 90.0)]))
    else:
        series += [("tunnel left", tunnel), ("tunnel right", [(x, -y) for x, y in zip(layout.tunnel_x, layout.tunnel["right"], strict=True)])]
        series.append(("opening", [(layout.opening[0], 0.0), (layout.opening[1], 0.0)]))
    return [(name, points) for name, points in series if len(points) > 1 and not any(math.isnan(v) for p in points for v in p)]


SERIES_COLOUR = {
    "case": "1B5E8A", "tail": "4C8FB8", "tunnel": "6E6E6E", "tunnel behind the opening": "6E6E6E", "tunnel left": "6E6E6E", "tunnel right": "6E6E6E",
    "crossmember": "7A2E1F", "lip": "D08A3E", "mount pad": "3F7D4E", "lever": "111111", "opening": "111111", "touching": "D00000",
}  # fmt: skip


def clashes(layout: Layout, view: str = "side") -> list[tuple[float, float]]:
    """Points [mm] where housing and crossmember overlap, or the tunnel is touched or too near, for marking."""
    points = []
    if view == "side":
        start, end, top = layout.crossmember
        for x0, x1, bottom in ((layout.x_face, layout.case_end, layout.case["bottom"]), (layout.case_end, layout.tail_end, layout.tail["bottom"])):
            low, high = max(x0, start), min(x1, end)
            if low < high and bottom > top:
                points += [(low, -(bottom + top) / 2), (high, -(bottom + top) / 2)]
    for side, sign in (("top", 1.0),) if view == "side" else (("left", 1.0), ("right", -1.0)):
        if not layout.tunnel_x or math.isnan(layout.tunnel[side][0]):
            continue
        ends = [x for x in (layout.case_end, layout.tail_end) if layout.tunnel_x[0] < x < layout.tunnel_x[-1]]
        for x in sorted({*layout.tunnel_x, *ends}):
            if layout.too_near(side, x):
                points.append((x, sign * layout.room(side, x)))
    return points


def write_layout(book: Workbook, styles: Styles, tables: Tables) -> None:
    """Side and plan view of the best candidates, as charts to scale."""
    unit = unit_of("mm", tables.units)
    page = Page(book, styles, "Layout", "Layout", "To scale: length and height share one scale. x rearward from the block's rear face; the axis of the crankshaft is at zero.")
    column = 30
    anchor = 4
    drawn = 0
    for at in range(len(tables.shown)):
        if drawn == LAYOUTS:
            break
        layout = layout_of(tables, at)
        if math.isnan(layout.x_face + layout.tail_end + layout.case_end):
            continue
        for view in ("side", "plan"):
            data = layout_series(layout, view)
            if clashes(layout, view):
                data.append(("touching", clashes(layout, view)))
            if not data:
                continue
            chart, column = _layout_chart(page, data, f"{tables.candidate(at)}, {view}", unit, tables.units, column)
            page.sheet.add_chart(chart, f"{'A' if view == 'side' else 'L'}{anchor}")
        anchor += 24
        drawn += 1
    if not drawn:
        page.put(4, 1, "No candidate's place is known: bellhousing depth, case length and length are needed.", "text")
    for c in range(1, 22):
        page.sheet.column_dimensions[get_column_letter(c)].width = 8.5
    page.row = anchor
    page.close(last_column=21)
    for n in range(1, (drawn + 1) // 2):
        page.sheet.row_breaks.append(Break(id=3 + 48 * n))


def _layout_chart(page: Page, data: Sequence[tuple[str, list[tuple[float, float]]]], title: str, unit: str, units: str, column: int) -> tuple[Any, int]:
    chart = _scatter(safe(title, 60), f"x [{unit}]", f"[{unit}]", 17, 10.5)
    row = 4
    scale = 1.0 if units == "metric" else 1 / 25.4
    for name, points in data:
        page.put(row, column, name, "text")
        first = row
        for x, y in points:
            page.put(row, column + 1, round(x * scale, 4), "two")
            page.put(row, column + 2, round(y * scale, 4), "two")
            row += 1
        dot = name == "touching"
        _line(chart, page, (column + 1, column + 2), (first, row - 1), name, SERIES_COLOUR[name], width=0 if dot else 19050, marker="x" if dot else "none")
    xs = [x * scale for _, points in data for x, _ in points]
    ys = [y * scale for _, points in data for _, y in points]
    # One scale for both axes: the plot is 15 by 6 cm inside its frame.
    step = 100.0 if units == "metric" else 5.0
    low_x, high_x = math.floor(min(*xs, 0.0) / step) * step, math.ceil(max(xs) / step) * step
    low_y, high_y = math.floor(min(ys) / step) * step, math.ceil(max(ys) / step) * step
    span = max(high_y - low_y, (high_x - low_x) * 6.0 / 15.0)
    high_x = low_x + span * 15.0 / 6.0
    chart.x_axis.scaling.min, chart.x_axis.scaling.max = low_x, high_x
    chart.y_axis.scaling.min, chart.y_axis.scaling.max = low_y, low_y + span
    chart.x_axis.majorUnit, chart.y_axis.majorUnit = 2 * step, step
    chart.x_axis.number_format = chart.y_axis.number_format = "0"
    chart.layout = PlotLayout(manualLayout=ManualLayout(layoutTarget="inner", xMode="edge", yMode="edge", x=0.09, y=0.13, w=15 / 17, h=6 / 10.5))
    return chart, column + 4
