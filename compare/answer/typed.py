"""Inputs as rows for pages: the tables as they were typed, the car key by key, limits, what to
measure.
"""

from __future__ import annotations

import math
from typing import Any

from compare.answer.compare import Assessment
from compare.judge.draws import car_arrays
from compare.judge.rules import Rulebook
from compare.read.catalogue import Table
from compare.vocabulary import (
    BY_TAPE,
    CAR_KEYS,
    CATALOGUE_COLUMNS,
    VISIT_OF_GROUP,
    VISIT_OF_KEY,
    VISIT_OF_SECTION,
    Term,
    by_tape,
    car_terms_by_name,
    catalogue_terms,
)

__all__ = [
    "car_table", "limit_rows", "log_rows", "measure_rows", "number_now", "typed_rows", "unit_of_term", "units_by_name",
]  # fmt: skip

Row = dict[str, Any]
CAR = "car"
KIND_UNIT = {
    "length": "mm", "position": "mm", "diameter": "mm diameter", "angle": "rad", "torque": "N·m",
    "mass": "kg", "speed": "km/h", "rpm": "rev/min", "money": "money", "count": "count",
    "counts": "count", "ratio": "ratio", "pair": "mm", "per_km": "turns/km",
}  # fmt: skip


def unit_of_term(term: Term) -> str:
    """The unit of a column or key on pages: a length by a tape is told from one by a micrometer.

    >>> unit_of_term(catalogue_terms()["length"]), unit_of_term(catalogue_terms()["spline_end"])
    ('mm tape', 'mm')
    """
    unit = KIND_UNIT.get(term.kind, "")
    return "mm tape" if unit == "mm" and (term.tool in BY_TAPE or term.kind == "pair") else unit


MACHINED = ("lathe", "mill")  # what is cut there is measured to a thousandth, whatever feeds it


def units_by_name(book: Rulebook) -> dict[str, str]:
    """The unit on pages of everything that a sentence may name, limits included.

    What is worked out from a number that a tape gave is no better than that.
    """
    tape = by_tape()
    terms = {**catalogue_terms(), **car_terms_by_name()}
    units = {name: unit_of_term(term) for name, term in terms.items()}
    units |= {f"car_mount_zone_{end}": "mm tape" for end in ("start", "end")}
    for rule in book.rules.values():
        in_mm = rule.unit == "mm" and rule.tool not in MACHINED
        units[rule.name] = "mm tape" if in_mm and book.feeds(rule.name) & tape else rule.unit
    units |= {"engine_shift": "mm tape", "adapter_thickness": "mm"}
    units |= {"total_cost": "money", "budget": "money", "total_hours": "h"}
    for name, limit in book.limits.items():
        used = {units[r.name] for r in book.rules.values() if name in r.inputs and r.unit == "mm"}
        units[name] = limit.unit
        if limit.unit == "mm" and 0 < abs(limit.default) < 1:
            units[name] = "mm diameter"  # of hundredths, whatever it limits
        elif limit.unit == "mm" and used == {"mm tape"}:
            units[name] = "mm tape"
    return units


def typed_rows(table: Table) -> list[Row]:
    """One row per line: head as typed -> cell as typed; `line` says where it stood."""
    return [
        {"line": line} | dict(zip(table.head, cells, strict=False))
        for line, cells in zip(table.lines, table.rows, strict=True)
    ]


def car_table(a: Assessment) -> list[Row]:
    """Every key of a profile, section by section: typed (None where it is not there), unit,
    meaning.
    """
    typed = {(s, k): t for s, k, t in a.car.shown}
    terms = {(t.section, t.key): t for t in CAR_KEYS}
    terms |= {("gearbox", t.name): t for t in CATALOGUE_COLUMNS}
    rows = []
    for (section, key), term in terms.items():
        value = typed.pop((section, key), None)
        if section == "gearbox" and value is None:
            continue
        rows.append(
            {
                "section": section,
                "key": key,
                "name": term.name,
                "typed": value,
                "unit": term.unit,
                "meaning": term.meaning,
                "default": term.default,
            }
        )
    meanings = {r.name: r.meaning for r in a.engine.book.criteria}
    meanings |= {name: limit.why for name, limit in a.engine.book.limits.items()}
    for (section, key), value in typed.items():
        rows.append(
            {
                "section": section,
                "key": key,
                "name": f"{section}_{key}",
                "typed": value,
                "unit": "",
                "meaning": meanings.get(key, ""),
                "default": None,
            }
        )
    order = list(dict.fromkeys(r["section"] for r in rows))
    return sorted(rows, key=lambda r: (order.index(r["section"]), r["typed"] is None))


def limit_rows(a: Assessment) -> list[Row]:
    """The limits in force with their source."""
    return [
        {
            "limit": name,
            "value": float(a.engine.limits[name]),
            "default": limit.default,
            "unit": limit.unit,
            "source": limit.why,
        }
        for name, limit in a.engine.book.limits.items()
    ]


def log_rows(a: Assessment) -> list[Row]:
    """The log's rows that were counted, values in internal units with the unit they have on pages."""
    terms = {f"{t.section}.{t.key}": t for t in CAR_KEYS} | catalogue_terms()
    rows, units = [], units_by_name(a.engine.book)
    for e in a.measured:
        term = terms.get(e.dimension.removeprefix("gearbox.") if e.of == "car" else e.dimension)
        chosen = (
            term.choices[int(e.value)]
            if term and term.choices and e.value < len(term.choices)
            else ""
        )
        unit = unit_of_term(term) if term else units.get(e.dimension, "mm")
        rows.append(
            {"on": e.on, "by": e.by, "of": e.of, "dimension": e.dimension, "value": e.value, "half": e.half,
             "unit": unit, "chosen": chosen, "line": e.line, "typed": getattr(e, "typed", "")}
        )  # fmt: skip
    return rows


def number_now(a: Assessment, owner: str, name: str) -> float | None:
    """The number that the files have for a dimension, a candidate's, a part's or the car's, in
    internal units; None where there is none.
    """
    found = math.nan
    if owner == CAR:
        given = car_arrays(a.car)
        found = float(given[name][0, 0]) if name in given else math.nan
    for table in (a.builds.catalogue, a.builds.parts) if owner != CAR else ():
        if table is not None and owner in table.names and name in table.columns:
            found = float(table.columns[name].nominal[table.names.index(owner)])
    return None if math.isnan(found) else found


def measure_rows(
    a: Assessment, deciding: dict[str, list[tuple[str, str]]], unmeasured: list[tuple[str, str]]
) -> list[Row]:
    """What to measure where nothing has been said of its worth: what decides first, then what is
    not known.

    deciding: candidate -> (owner, name); unmeasured: (owner, name) that leave some check
    unmeasured.
    """
    counted: dict[tuple[str, str], int] = {}
    for names in deciding.values():
        for one in names:
            counted[one] = counted.get(one, 0) + 1
    for one in unmeasured:
        counted.setdefault(one, 0)
    rows = []
    for (owner, name), count in sorted(counted.items(), key=lambda item: -item[1]):
        term = (car_terms_by_name() if owner == CAR else catalogue_terms()).get(name)
        if term is None:
            continue
        where = (
            VISIT_OF_GROUP.get(term.group, "")
            if owner != CAR
            else VISIT_OF_KEY.get(name, VISIT_OF_SECTION.get(term.section, ""))
        )
        rows.append(
            {
                "of": owner,
                "dimension": name,
                "visit": where,
                "decides": count,
                "unit": term.unit,
                "shown_unit": unit_of_term(term),
                "meaning": term.meaning,
                "measure": term.measure,
                "tool": term.tool,
                "now": number_now(a, owner, name),
            }
        )
    return rows
