"""What changed between an earlier report and this one, and why, in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from compare.figures import safe

__all__ = ["changes_between"]


def changes_between(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[str]:
    """Sentences, most important first; one that says so when nothing changed."""
    before = {str(r.get("candidate")): r for r in old["ranking"] if isinstance(r, dict)}
    after = {str(r["candidate"]): r for r in new["ranking"]}
    sentences = []
    for name in after:
        if name not in before:
            sentences.append(f"{_name(name)} is new: {after[name]['outcome']}, rank {after[name]['rank']}.")
    for name in before:
        if name not in after:
            sentences.append(f"{_name(name)} is gone.")
    verdicts_before, verdicts_after = _verdicts(old), _verdicts(new)
    changed = []
    for name, row in after.items():
        was = before.get(name)
        if was is None:
            continue
        parts = []
        if was.get("outcome") != row["outcome"]:
            parts.append(f"{safe(was.get('outcome'), 40)} → {row['outcome']}")
        if was.get("rank") != row["rank"]:
            parts.append(f"rank {safe(was.get('rank'), 10)} → {row['rank']}")
        old_chance, new_chance = _number(was.get("chance_fitted")), _number(row["chance_fitted"])
        if old_chance is not None and new_chance is not None and abs(old_chance - new_chance) >= 0.02:
            parts.append(f"chance to go in {100 * old_chance:.0f} % → {100 * new_chance:.0f} %")
        old_cost, new_cost = _number(was.get("cost")), _number(row["cost"])
        if old_cost is not None and new_cost is not None and abs(old_cost - new_cost) >= 0.5:
            parts.append(f"cost {old_cost:.0f} → {new_cost:.0f}")
        old_rpm, new_rpm = _number(was.get("cruise_rpm")), _number(row.get("cruise_rpm"))
        if old_rpm is not None and new_rpm is not None and abs(old_rpm - new_rpm) >= 5.0:
            parts.append(f"{old_rpm:.0f} → {new_rpm:.0f} rev/min")
        why = [
            f"{check.replace('_', ' ')} {safe(verdicts_before[name, check], 20)} → {verdict}"
            for (who, check), verdict in verdicts_after.items()
            if who == name and (name, check) in verdicts_before and verdicts_before[name, check] != verdict
        ]
        if parts or why:
            reason = f" ({'; '.join(why)})" if why else ""
            changed.append((was.get("outcome") != row["outcome"], f"{_name(name)}: {', '.join(parts) or 'same place'}{reason}."))
    sentences += [text for _, text in sorted(changed, key=lambda c: not c[0])]
    digests = {k: (old.get("car", {}).get(k), new["car"].get(k)) for k in ("digest", "catalogue_digest", "parts_digest")}
    same = all(a == b for a, b in digests.values())
    return sentences or ["Nothing changed." + (" The files are the same." if same else " The files differ, the ranking does not.")]


def _name(name: str) -> str:
    return safe(name, 60)


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _verdicts(report: Mapping[str, Any]) -> dict[tuple[str, str], str]:
    return {(str(r.get("candidate")), str(r.get("check"))): str(r.get("verdict")) for r in report["checks"] if isinstance(r, dict)}
