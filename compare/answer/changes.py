"""What changed between an earlier report and this one, and why, in sentences."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from compare.answer.report import KEEP
from compare.figures import safe
from compare.judge.outcome import percent

__all__ = ["changes_between", "told"]

Content = Mapping[str, Any]  # a report as plain data, or what of it is compared: ranking and checks


def changes_between(old: Content, new: Content) -> list[str]:
    """Sentences, most important first; one that says so when nothing changed."""
    files = [
        old.get("car", {}).get(k) == new["car"].get(k)
        for k in ("digest", "catalogue_digest", "parts_digest")
    ]
    same = " The files are the same." if all(files) else " The files differ, the ranking does not."
    return told(old, new) or ["Nothing changed." + same]


def told(old: Content, new: Content) -> list[str]:
    """What changed for the candidates: who is first, labels first, those that only move up or down
    counted; nothing where all is as it was."""
    before = {str(r.get("candidate")): r for r in old["ranking"] if isinstance(r, dict)}
    after = {str(r["candidate"]): r for r in new["ranking"]}
    first = [min(rows, key=lambda n: _place(rows[n]), default="") for rows in (before, after)]
    sentences = [f"{_name(first[1])} is first now, not {_name(first[0])}."] if first[0] != first[1] else []
    sentences += [
        f"{_name(name)} is new: {row['outcome']}, rank {row['rank']}, cost {_whole(row['cost'])}."
        for name, row in after.items()
        if name not in before
    ]
    sentences += [f"{_name(name)} is gone." for name in before if name not in after]
    verdicts = _verdicts(old), _verdicts(new)
    labels: list[str] = []
    others: list[str] = []
    moved = 0
    for name in (n for n in after if n in before):
        parts, why = _parts(before[name], after[name]), _why(name, *verdicts)
        if parts and not why and len(parts) == 1 and parts[0].startswith("rank "):
            moved += 1
        elif parts or why:
            reason = f" ({'; '.join(why)})" if why else ""
            sentence = f"{_name(name)}: {', '.join(parts) or 'same place'}{reason}."
            turned = before[name].get("outcome") != after[name]["outcome"]
            (labels if turned else others).append(sentence)
    found = [*sentences, *labels, *others]
    if moved:
        who = "One other only moves" if moved == 1 else f"{moved} others only move"
        found.append(f"{who} up or down.")
    return found


def _parts(was: Content, row: Content) -> list[str]:
    """What changed in a candidate's row: label, rank, chance, cost, engine speed."""
    parts = []
    if was.get("outcome") != row["outcome"]:
        parts.append(f"{safe(was.get('outcome'), 40)} → {row['outcome']}")
    if was.get("rank") != row["rank"]:
        parts.append(f"rank {safe(was.get('rank'), 10)} → {row['rank']}")
    for key, least, template, shown in (
        ("chance_fitted", 0.02, "chance to go in {} → {}", _percent),
        ("cost", 0.5, "cost {} → {}", _whole),
        ("cruise_rpm", 5.0, "{} → {} rev/min", _whole),
    ):
        old, new = _number(was.get(key)), _number(row.get(key))
        if old is not None and new is not None and abs(old - new) >= least:
            parts.append(template.format(shown(old), shown(new)))
    return parts


def _why(name: str, before: Mapping[tuple[str, str], str], after: Mapping[tuple[str, str], str]) -> list[str]:
    """The checks whose verdict turned."""
    return [
        f"{check.replace('_', ' ')} {safe(before[name, check], 20)} → {verdict}"
        for (who, check), verdict in after.items()
        if who == name and (name, check) in before and before[name, check] != verdict
    ]


def _place(row: Content) -> float:
    found = _number(row.get("rank"))
    return math.inf if found is None else found


def _whole(value: Any) -> str:
    found = _number(value)
    return "not known" if found is None else f"{found:.0f}"


def _percent(share: float) -> str:
    return percent(share, math.nan)


def _name(name: str) -> str:
    return "Today's gearbox" if name == KEEP else safe(name, 60)


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _verdicts(report: Mapping[str, Any]) -> dict[tuple[str, str], str]:
    return {(str(r.get("candidate")), str(r.get("check"))): str(r.get("verdict")) for r in report["checks"] if isinstance(r, dict)}
