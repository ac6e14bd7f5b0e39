"""Every combination of axle, tyre and speed, the best of each marked."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from rich.text import Text

from compare.answer.report import Row
from compare.figures import figure, safe
from compare.report.terminal.page import STYLES, Page, points, whole

__all__ = ["what_if_report"]


def what_if_report(
    rows: Sequence[Row], *, width: int = 80, color: bool = False, units: str = "metric"
) -> str:
    """A table for each combination, today's gearbox with that axle, tyre and speed among the rows."""
    page = Page(width, color)
    for same, some in groupby(rows, key=_same):
        axle, tyre, circumference, cruise = same
        rolls = figure(circumference, "mm tape", units)
        size = f"tyre {safe(tyre, 24)}, {rolls} round" if tyre else f"tyre {rolls} round"
        page.say(f"Axle {whole_ratio(axle)}, {size}, at {figure(cruise, 'km/h', units)}", "bold")
        page.table(
            [("", "left"), ("candidate", "left"), ("outcome", "left"), ("rpm", "right"), ("holds %", "right"),
             ("value", "right")],
            [_cells(r) for r in some],
            cut="candidate",
        )  # fmt: skip
        page.say()
    page.say(
        "> the best of its combination. Nominal values, nothing drawn; holds: the climb that top gear holds."
    )
    return page.text()


def _same(row: Row) -> tuple[float, str, float, float]:
    """What the rows of one combination share."""
    nothing = lambda value: float("nan") if value is None else value
    return (
        nothing(row["axle"]),
        row["tyre"],
        nothing(row["circumference_mm"]),
        nothing(row["cruise_kmh"]),
    )


def _cells(r: Row) -> list[Text | str]:
    build = r["build"] if r["build"] not in ("", "as sold") else ""
    return [
        ">" if r["best"] else " ", safe(r["candidate"], 40) + (f" + {safe(build, 40)}" if build else ""),
        Text(r["outcome"], style=STYLES.get(r["outcome"], "dim")), whole(r["cruise_rpm"]),
        "?" if r["pull_percent"] is None else f"{r['pull_percent']:.1f}", points(r["value"]),
    ]  # fmt: skip


def whole_ratio(value: float) -> str:
    """A ratio with three decimals.

    >>> whole_ratio(4.1)
    '4.100'
    """
    return "?" if value != value else f"{value:.3f}"
