"""What changed between an earlier report and this one: the inputs that were changed, and what
followed.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from typing import Any

from compare import __version__
from compare.answer.compare import Assessment
from compare.answer.log import Taken
from compare.answer.report import KEEP
from compare.figures import figure, safe
from compare.judge.outcome import percent
from compare.read.catalogue import Table
from compare.read.sheet import split_head

__all__ = ["NOTHING", "changes_between", "followed", "input_rows"]

Inputs = Mapping[str, Any]
NOTHING = "Nothing changed."
NO_EFFECT = "No label, seat, cut or cost changed by it."
SAME_MM = 0.05  # differences below are ties everywhere
CHANCE, MONEY, RPM = (
    0.02,
    0.5,
    5.0,
)  # smaller differences of a chance, of money, of rev/min are not told
TABLES = ("catalogue", "parts")
SET_ASIDE = ("sold", "rejected")


# ---- what was typed ------------------------------------------------------------------------------


def input_rows(a: Assessment) -> dict[str, Any]:
    """Everything that was typed, as the JSON has it: car keys, cells by row and column, the log's
    lines.
    """
    car = a.car
    keys = {f"{section}.{key}": typed for section, key, typed in car.shown}
    return {
        "car": keys,
        "catalogue": _cells(a.builds.catalogue),
        "parts": _cells(a.builds.parts) if a.builds.parts else {},
        "log": [_line(entry) for entry in a.measured],
        "run": {"program": __version__, "judged": "draws" if a.draws else "nominal values only"},
    }


def _cells(table: Table) -> dict[str, dict[str, str]]:
    heads = [split_head(head)[0] for head in table.head]
    return {
        name: {h: c.strip() for h, c in zip(heads, cells, strict=False) if c.strip()}
        for name, cells in zip(table.names, table.rows, strict=True)
    }


def _line(entry: Any) -> dict[str, str]:
    typed = entry.typed if isinstance(entry, Taken) else f"{entry.value:g}"
    return {
        "of": entry.of,
        "dimension": entry.dimension,
        "value": typed,
        "on": entry.on,
        "by": entry.by,
    }


def _input_changes(old: Inputs, new: Inputs) -> list[str]:
    """A sentence for each owner whose inputs were changed: name, from, to."""
    sentences = _one("car", old.get("car", {}), new.get("car", {}))
    for table in TABLES:
        before, after = old.get(table, {}), new.get(table, {})
        for name in [*after, *(n for n in before if n not in after)]:
            if name in before and name in after:
                sentences += _one(name, before[name], after[name])
            elif table == "parts":
                sentences.append(f"Part {_name(name)} is {'new' if name in after else 'gone'}.")
    sentences += _log_changes(old.get("log", []), new.get("log", []))
    return sentences + _one("this run", old.get("run", {}), new.get("run", {}))


def _one(owner: str, before: Mapping[str, str], after: Mapping[str, str]) -> list[str]:
    keys = [*after, *(k for k in before if k not in after)]
    told = [
        f"{safe(key, 40)} {_typed(before.get(key))} → {_typed(after.get(key))}"
        for key in keys
        if before.get(key) != after.get(key)
    ]
    return [f"{_name(owner)}: {', '.join(told)}."] if told else []


def _typed(text: str | None) -> str:
    return safe(text, 60) if text else "not given"


def _log_changes(
    before: Sequence[Mapping[str, str]], after: Sequence[Mapping[str, str]]
) -> list[str]:
    """Lines that were added to the log, and lines that are there no more."""
    was = {(r["of"], r["dimension"]): r["value"] for r in before}
    told, left = [], [dict(r) for r in before]
    for row in after:
        if dict(row) in left:
            left.remove(dict(row))
            continue
        key = row["of"], row["dimension"]
        from_ = f" (before in the log: {safe(was[key], 40)})" if key in was else ""
        by = f", by {safe(row['by'], 40)}" if row.get("by") else ""
        told.append(
            f"Log: {_name(key[0])} {safe(key[1], 40)} = {safe(row['value'], 60)}{from_}{by}."
        )
    gone = [
        f"Log: the line {_name(r['of'])} {safe(r['dimension'], 40)} = {safe(r['value'], 60)} is gone."
        for r in left
    ]
    return told + gone


# ---- what followed -------------------------------------------------------------------------------


def changes_between(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[str]:
    """Sentences: inputs first, then what followed from them; one that says so when nothing changed.

    The same inputs under another seed or with more draws are the same: what differs then is chance.
    """
    inputs = _input_changes(old.get("inputs", {}), new["inputs"])
    there = bool(old.get("inputs"))
    if there and not inputs and _names(old) == _names(new):
        return [NOTHING]
    before = {str(r.get("candidate")): r for r in old["ranking"] if isinstance(r, dict)}
    after = {str(r["candidate"]): r for r in new["ranking"]}
    sentences, told = _come_and_gone(old, new, before, after)
    inputs = [line for line in inputs if line not in told]
    sentences += _rows(old, new, before, after)
    if there and not sentences:
        return [*inputs, NO_EFFECT]
    return [*inputs, *sentences] or [NOTHING]


def followed(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[str]:
    """What followed, inputs aside: who is first now, who came and went, what changed in the others."""
    before = {str(r["candidate"]): r for r in old["ranking"]}
    after = {str(r["candidate"]): r for r in new["ranking"]}
    first = [min(rows, key=lambda n: rows[n]["rank"], default="") for rows in (before, after)]
    told = (
        [f"{_name(first[1])} is first now, not {_name(first[0])}."] if first[0] != first[1] else []
    )
    for name, row in after.items():
        if name not in before:
            cost = "not known" if row["cost"] is None else f"{row['cost']:.0f}"
            told.append(f"{_name(name)} is new: {row['outcome']}, rank {row['rank']}, cost {cost}.")
    told += [f"{_name(name)} is gone." for name in before if name not in after]
    return told + _rows(old, new, before, after)


def _names(report: Mapping[str, Any]) -> set[str]:
    return {str(r.get("candidate")) for r in report["ranking"] if isinstance(r, dict)}


def _come_and_gone(
    old: Mapping[str, Any],
    new: Mapping[str, Any],
    before: Mapping[str, Any],
    after: Mapping[str, Any],
) -> tuple[list[str], list[str]]:
    """(a sentence for each candidate that is new or gone, the sentences on inputs that it holds
    already).
    """
    sentences, told = [], []
    for name, row in after.items():
        if name not in before:
            sentences.append(f"{_name(name)} is new: {row['outcome']}, rank {row['rank']}.")
    typed = new["inputs"]["catalogue"]
    earlier = old.get("inputs", {}).get("catalogue", {})
    for name in before:
        if name in after:
            continue
        status = typed.get(name, {}).get("status", "")
        if status in SET_ASIDE:
            told += _one(name, earlier.get(name, {}), typed[name])
            rest = _one(name, {k: v for k, v in earlier.get(name, {}).items() if k != "status"},
                        {k: v for k, v in typed[name].items() if k != "status"})  # fmt: skip
            was = earlier.get(name, {}).get("status")
            sentences.append(f"{_name(name)}: status {_typed(was)} → {status}, no longer ranked.")
            sentences += rest
        else:
            sentences.append(f"{_name(name)} is gone.")
    return sentences, told


def _rows(
    old: Mapping[str, Any],
    new: Mapping[str, Any],
    before: Mapping[str, Any],
    after: Mapping[str, Any],
) -> list[str]:
    """A sentence for each candidate in which something changed, changed labels first."""
    verdicts = _verdicts(old), _verdicts(new)
    seats = _seats(old), _seats(new)
    moved = _moved(list(before), list(after))
    found = []
    for name, row in after.items():
        was = before.get(name)
        if was is None:
            continue
        label = was.get("outcome") != row["outcome"]
        parts = [f"{safe(was.get('outcome'), 40)} → {row['outcome']}"] if label else []
        if name in moved and was.get("rank") != row["rank"]:
            parts.append(f"rank {safe(was.get('rank'), 10)} → {row['rank']}")
        parts += _figures(was, row)
        parts += _seat(seats[0].get(name), seats[1].get(name))
        why = [
            f"{check.replace('_', ' ')} {safe(verdicts[0][name, check], 20)} → {verdict}"
            for (who, check), verdict in verdicts[1].items()
            if who == name and verdicts[0].get((name, check), verdict) != verdict
        ]
        if parts or why:
            reason = f" ({'; '.join(why)})" if why else ""
            found.append((not label, f"{_name(name)}: {', '.join(parts) or 'same place'}{reason}."))
    return [text for _, text in sorted(found, key=lambda f: f[0])]


def _figures(was: Mapping[str, Any], row: Mapping[str, Any]) -> list[str]:
    """Build, chance, cut, money and engine speed, where they changed."""
    parts = []
    if was.get("build") != row.get("build"):
        parts.append(f"{safe(was.get('build'), 60)} → {safe(row.get('build'), 60)}")
    old, now = _number(was.get("chance_fitted")), _number(row.get("chance_fitted"))
    if old is not None and now is not None and abs(old - now) >= CHANCE:
        parts.append(f"chance to go in {percent(old, math.nan)} → {percent(now, math.nan)}")
    cuts = [(str(r.get("undo")), _number(r.get("cut_mm")) or 0.0) for r in (was, row)]
    if cuts[0][0] != cuts[1][0] or abs(cuts[0][1] - cuts[1][1]) >= SAME_MM:
        parts.append(f"cut {_cut(*cuts[0])} → {_cut(*cuts[1])}")
    for key, least, words in (
        ("cost", MONEY, "cost {} → {}"),
        ("cruise_rpm", RPM, "{} → {} rev/min"),
    ):
        old, now = _number(was.get(key)), _number(row.get(key))
        if (old is None) != (now is None) or (
            old is not None and now is not None and abs(old - now) >= least
        ):
            parts.append(words.format(*("?" if n is None else f"{n:.0f}" for n in (old, now))))
    return parts


def _cut(undo: str, extent: float) -> str:
    return "nothing" if not extent else f"{safe(undo, 20)} {figure(extent, 'mm')}"


def _seat(was: Mapping[str, Any] | None, now: Mapping[str, Any] | None) -> list[str]:
    """Where the gearbox is planned to sit, where that changed."""
    if was is None or now is None:
        return []
    parts = []
    for key, words in (
        ("planned_adapter_thickness_mm", "plate"),
        ("planned_engine_shift_mm", "engine forward"),
    ):
        pair = _number(was.get(key)), _number(now.get(key))
        changed = (pair[0] is None) != (pair[1] is None)
        if changed or (
            pair[0] is not None and pair[1] is not None and abs(pair[0] - pair[1]) >= SAME_MM
        ):
            parts.append(f"seat: {words} {figure(pair[0], 'mm')} → {figure(pair[1], 'mm')}")
    return parts


def _seats(report: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    return {str(r.get("candidate")): r for r in report.get("seats", ()) if isinstance(r, dict)}


def _moved(before: Sequence[str], after: Sequence[str]) -> set[str]:
    """The fewest names whose moving explains the new order; who only made way has not moved.

    >>> _moved(["A", "B", "C", "D"], ["D", "A", "B", "C"]), _moved(["A", "B", "C"], ["B", "C"])
    ({'D'}, set())
    """
    place = {name: at for at, name in enumerate(before)}
    common = [name for name in after if name in place]
    tails: list[int] = []  # least last place of a rising run of each length
    ends: list[str] = []
    previous: dict[str, str | None] = {}
    for name in common:
        at = bisect_left(tails, place[name])
        previous[name] = ends[at - 1] if at else None
        tails[at : at + 1] = [place[name]]
        ends[at : at + 1] = [name]
    kept, name_ = set(), ends[-1] if ends else None
    while name_ is not None:
        kept.add(name_)
        name_ = previous[name_]
    return set(common) - kept


def _name(name: str) -> str:
    return "Today's gearbox" if name == KEEP else safe(name, 60)


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _verdicts(report: Mapping[str, Any]) -> dict[tuple[str, str], str]:
    return {
        (str(r.get("candidate")), str(r.get("check"))): str(r.get("verdict"))
        for r in report["checks"]
        if isinstance(r, dict)
    }
