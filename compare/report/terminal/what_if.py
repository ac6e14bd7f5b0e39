"""Every combination of axle, tyre and speed, the best of each marked."""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text

from compare.answer.report import Row
from compare.figures import figure, safe
from compare.report.terminal.page import STYLES, Page, whole

__all__ = ["what_if_report"]


def what_if_report(
    rows: Sequence[Row], *, width: int = 80, color: bool = False, units: str = "metric"
) -> str:
    """The table as text."""
    page = Page(width, color)
    body: list[list[Text | str]] = []
    for r in rows:
        body.append(
            [
                ">" if r["best"] else " ", whole_ratio(r["axle"]), safe(r["tyre"], 16),
                figure(r["cruise_kmh"], "km/h", units), safe(r["candidate"], 26), whole(r["cruise_rpm"]),
                "?" if r["pull_percent"] is None else f"{r['pull_percent']:.1f}",
                Text(r["outcome"], style=STYLES[r["outcome"]]), whole(r["value"]),
            ]
        )  # fmt: skip
    page.table(
        [("", "left"), ("axle", "right"), ("tyre", "left"), ("cruise", "right"), ("candidate", "left"),
         ("rpm", "right"), ("pull %", "right"), ("outcome", "left"), ("value", "right")],
        body,
    )  # fmt: skip
    page.say("> the best of its combination; tyre as the profile says, unless given.")
    return page.text()


def whole_ratio(value: float) -> str:
    """A ratio with three decimals.

    >>> whole_ratio(4.1)
    '4.100'
    """
    return "?" if value != value else f"{value:.3f}"
