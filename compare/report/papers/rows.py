"""The rows of papers, from the finished Report."""

from __future__ import annotations

from typing import Any

from compare.answer.report import Report
from compare.report.as_json import plain, tables_of
from compare.words import CAUTIONS, NOT_JUDGED

__all__ = ["rows_of"]


def rows_of(report: Report, candidate: str, units: str = "metric") -> dict[str, Any]:
    """What `write_papers` reads, for one candidate: sentences filled in the units asked for."""
    row = next(r for r in report.ranking if r["candidate"] == candidate)
    rows = plain(tables_of(report) | dict(report.extra), units)
    assert isinstance(rows, dict)
    return rows | {
        "candidate": candidate,
        "build": row["build"],
        "car": report.car,
        "currency": report.car["currency"],
        "units": units,
        "facts": dict(report.facts[candidate]),
        "baseline": plain(report.baseline, units),
        "not_judged": [text[:1].upper() + text[1:] for text in NOT_JUDGED.split(", ")],
        "cautions": list(CAUTIONS),
    }
