"""The report for scripts: everything, metric, every number's unit in its key or beside it."""

from __future__ import annotations

import json
import math
from typing import Any

from compare.answer.later import Rows
from compare.answer.report import Report
from compare.figures import safe
from compare.report.drawing.measuring import letter_of
from compare.said import Said, fill
from compare.words import CAUTIONS

__all__ = ["as_json", "document", "plain", "tables_of"]

TABLES = ("ranking", "checks", "plan", "work", "seats", "gears", "routes", "builds")


def document(report: Report) -> dict[str, Any]:
    """The report as plain data."""
    whole = {"car": report.car} | tables_of(report)
    whole |= {
        "baseline": report.baseline,
        "waiting": list(report.waiting),
        "not_judged": list(report.not_judged),
        "deciding": {c: [list(pair) for pair in pairs] for c, pairs in report.deciding.items()},
        "assumed": list(report.assumed),
        "criteria": list(report.criteria),
        "limits": list(report.limits),
        "to_measure": list(report.to_measure),
        "warnings": [safe(w) for w in report.warnings],
        "cautions": list(CAUTIONS),
        "left_out": report.left_out,
    }
    found = plain(whole | dict(report.extra))
    assert isinstance(found, dict)
    for row in found.get("stage", {}).get("next", ()):
        row["letter"] = letter_of(row["of"], row["dimension"]) or None
    return found


def tables_of(report: Report) -> dict[str, Any]:
    """The tables of the report by name."""
    return {name: list(getattr(report, name)) for name in TABLES}


def plain(value: Any, units: str = "metric") -> Any:
    """Sentences as text, tuples as lists, numbers that JSON knows."""
    if isinstance(value, Said):
        return fill(value, units)
    if isinstance(value, dict):
        return {str(k): plain(v, units) for k, v in value.items()}
    if isinstance(value, list | tuple | Rows):
        return [plain(v, units) for v in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def as_json(content: dict[str, Any], ascii_only: bool = False) -> str:
    """Text of the report; never NaN or Infinity, which are no JSON."""
    return json.dumps(content, ensure_ascii=ascii_only, indent=1, allow_nan=False) + "\n"
