"""The report for scripts: everything, metric, every number's unit in its key."""

from __future__ import annotations

import json
import math
from typing import Any

from compare.answer.report import Tables
from compare.answer.visits import Dimension, Missing
from compare.figures import safe
from compare.vocabulary import CRITERIA, UNDO_STEPS
from compare.words import CAUTIONS, measure_line, missing_line

__all__ = ["as_json", "document"]


def document(tables: Tables, measure: list[Dimension], missing: list[Missing]) -> dict[str, Any]:
    """The report as plain data. Top keys: car, ranking, checks, work, seats, gears, routes, measure_next, cautions."""
    a = tables.assessment
    car = a.car
    return {
        "car": {
            "name": car.name,
            "file": car.file,
            "digest": car.digest,
            "catalogue": a.builds.catalogue.file,
            "catalogue_digest": a.builds.catalogue.digest,
            "parts": a.builds.parts.file if a.builds.parts else None,
            "parts_digest": a.builds.parts.digest if a.builds.parts else None,
            "draws": a.draws,
            "seed": a.seed,
            "weights": {c: round(float(w), 6) for c, w in zip(CRITERIA, a.engine.weights, strict=True)},
            "cruise_speed_kmh": _plain(car.values["cruise_speed"].nominal) if "cruise_speed" in car.values else None,
            "deepest_cut": UNDO_STEPS[a.engine.deepest],
            "profile": [{"section": s, "key": k, "typed": t} for s, k, t in car.shown],
        },
        "ranking": tables.ranking,
        "checks": [{k: v for k, v in row.items() if k not in ("shown", "question")} for row in tables.checks],
        "work": [{k: v for k, v in row.items() if k != "step"} for row in tables.work],
        "seats": tables.seats,
        "gears": tables.gears,
        "routes": [{"candidate": tables.candidate(at), **row} for at in range(len(tables.shown)) for row in tables.routes_of(at)],
        "other_shafts": [{"candidate": tables.candidate(at), **row} for at in range(len(tables.shown)) for row in tables.other_shafts_of(at)],
        "measure_next": [
            {
                "owner": d.owner,
                "column": d.column,
                "missing": d.missing,
                "weight": round(d.weight, 6),
                "candidate": d.candidate,
                "check": d.check,
                "share": round(d.share, 4),
                "half_width": _plain(d.half),
                "text": measure_line(d),
            }
            for d in measure
        ],
        "judged_over_range": [
            {
                "candidate": m.candidate,
                "column": m.column,
                "low": _plain(m.low),
                "high": _plain(m.high),
                "chance_goes_in": round(m.chance, 3),
                "goes_in_from": _plain(m.goes_from),
                "goes_in_to": _plain(m.goes_to),
                "text": missing_line(m),
            }
            for m in missing
        ],
        "warnings": [safe(w) for w in a.warnings],
        "cautions": list(CAUTIONS),
    }


def _plain(value: float) -> float | None:
    return None if math.isnan(value) or math.isinf(value) else round(value, 6)


def as_json(content: dict[str, Any]) -> str:
    """Text of the report; never NaN or Infinity, which are no JSON."""
    return json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
