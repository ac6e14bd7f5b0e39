"""The table of other axles, tyres and speeds as a workbook of one sheet."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import xlsxwriter

from compare.figures import figure, safe, unit_of

__all__ = ["write_combinations"]

# key of a row -> its unit; what is not here is a text
UNITS = {
    "circumference_mm": "mm tape",
    "cruise_kmh": "km/h",
    "pull_percent": "%",
    "axle": "ratio",
    "value": "points",
}


def write_combinations(
    path: str | Path, rows: Sequence[dict[str, Any]], car: str, units: str = "metric"
) -> None:
    """Write rows of `answer.what_if.combinations`: one column a key."""
    from compare.figures import number

    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False})
    sheet = book.add_worksheet("What-if")
    style = lambda **more: book.add_format(
        {"font_name": "Arial", "font_size": 9, "text_wrap": True, "valign": "top"} | more
    )
    text, head = style(), style(bold=True, bg_color="#1F4E5F", font_color="#FFFFFF")
    sheet.write_string(
        0, 0, safe(f"What if: {car}", 200), style(bold=True, font_size=14, text_wrap=False)
    )
    keys = list(rows[0]) if rows else []
    for at, key in enumerate(keys):
        shown = unit_of(UNITS.get(key, ""), units)
        label = re.sub("_(kmh|mm|percent)$", "", key).replace("_", " ")
        sheet.write_string(2, at, f"{label} [{shown}]" if shown else label, head)
        sheet.set_column(at, at, max(12, *(min(30, len(str(r[key])) + 2) for r in rows)))
    for down, row in enumerate(rows, start=3):
        for at, key in enumerate(keys):
            value = row[key]
            if isinstance(value, bool):
                sheet.write_string(down, at, "yes" if value else "", text)
            elif isinstance(value, int | float) and figure(value, "") != "?":
                sheet.write_number(
                    down,
                    at,
                    number(value, UNITS.get(key, ""), units) if key in UNITS else value,
                    text,
                )
            else:
                sheet.write_string(
                    down,
                    at,
                    "not known" if value is None or value != value else safe(value, 500),
                    text,
                )
    sheet.freeze_panes(3, 0)
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(2)
    book.close()
