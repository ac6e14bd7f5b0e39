"""Drawings as pictures on a sheet, where the report brings any."""

from __future__ import annotations

from typing import Any

from compare.answer.report import Report

__all__ = ["place_pictures"]


def place_pictures(sheet: Any, report: Report) -> None:
    """Put the report's pictures on a sheet; nothing where `report.extra` has none."""
    for picture in report.extra.get("pictures") or ():
        sheet.insert_image(
            picture["cell"],
            picture["name"],
            {"image_data": picture["data"], "description": picture["text"]},
        )
