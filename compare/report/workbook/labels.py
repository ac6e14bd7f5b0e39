"""How labels, verdicts and chances look on every sheet."""

from __future__ import annotations

import math
from typing import Any

from compare.answer.report import Report
from compare.judge.outcome import percent
from compare.vocabulary import OUTCOMES, VERDICTS

__all__ = ["JUST", "chance", "outcome_style", "row_name", "top_rpm", "verdict_style"]

JUST = "just: "  # a label that stands less than two errors from its threshold
_OUTCOME = dict(zip(OUTCOMES, ("good", "good", "fair", "poor"), strict=True))
_VERDICT = dict(zip(VERDICTS, ("good", "fair", "poor", "fair"), strict=True))


def outcome_style(outcome: Any) -> str:
    """The style of a label; today's gearbox stands apart."""
    return _OUTCOME.get(str(outcome).removeprefix(JUST), "plain")


def verdict_style(verdict: Any) -> str:
    """The style of a check's verdict."""
    return _VERDICT.get(str(verdict), "plain")


def chance(row: dict[str, Any], name: str = "chance_fitted") -> str | None:
    """A chance as it is printed, the fitted one with its error; None where it is not known, "" for
    today's."""
    if row.get("outcome", OUTCOMES[0]) not in OUTCOMES:
        return ""
    value = row.get(name)
    if value is None:
        return None
    error = row.get("chance_error") if name == "chance_fitted" else None
    return percent(value, math.nan if error is None else error)


def row_name(row: dict[str, Any]) -> str:
    """The candidate, with its parts where it takes any."""
    build = row.get("build") or ""
    return row["candidate"] if build in ("", "as sold") else f"{row['candidate']} ({build})"


def top_rpm(report: Report, candidate: str) -> float | None:
    """Engine speed at cruise in the highest gear."""
    gears = report.of("gears", candidate)
    return gears[-1]["rpm_at_cruise"] if gears else None
