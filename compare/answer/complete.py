"""What is worked out beside the comparison, for the pages that show it: decision, worth of
measuring, ways out.

The terminal's first page takes the decision, the visits and the ways out; `detail` and papers take
all of it
for one candidate; the JSON report takes all of it for all.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from compare.answer.accept import accept
from compare.answer.changes import input_rows
from compare.answer.compare import Assessment
from compare.answer.gates import gates
from compare.answer.inspection import as_it_stands
from compare.answer.later import Rows
from compare.answer.money import money_rows
from compare.answer.orders import order_rows
from compare.answer.places import places
from compare.answer.report import Report, Row, make_report, shown_builds
from compare.answer.stages import stage_row
from compare.answer.suspicious import suspicious_rows
from compare.answer.typed import number_now
from compare.answer.visits import Measurement, Measures, contenders, what_to_measure
from compare.answer.ways_out import ways_out
from compare.answer.why import Decision, decide
from compare.answer.windows import windows
from compare.judge.outcome import RULED_OUT
from compare.said import Told

__all__ = ["first_page", "in_depth"]

MOST_WAYS = 6  # candidates whose ways out are looked for on the first page


def first_page(a: Assessment, top: int = 0) -> Report:
    """The Report with the decision, what to measure, and ways out of what is ruled out."""
    report = make_report(a, top)
    shown = shown_builds(a, top)
    out = [b for b in shown if a.outcome[b] == RULED_OUT][:MOST_WAYS]
    readings = Rows({"": lambda: [r for r in _readings(a) if not as_it_stands(r)]})
    ways = {"ways_out": ways_out(a, out, most=1), "ways_sought": _sought(a, out)}
    return replace(report, extra=_decided(a) | ways | {"readings": readings})


def in_depth(
    a: Assessment,
    top: int = 0,
    progress: Callable[[str], None] | None = None,
    leave: Sequence[str] = (),
    of: Sequence[str] = (),
) -> Report:
    """The Report with everything: windows, limits to accept, gates, orders and money too.

    leave: names of parts that the page asked for does not show. of: the candidates that are shown,
    judged beside all others.

    Limits to accept are worked out for what may still be bought: builds that may come first, or all
    where no more than three are shown. progress is told the name of each part as it begins.
    """
    report = make_report(a, top, of)
    shown = shown_builds(a, top, of)
    may = set(contenders(a).tolist()) if len(shown) > 3 else set(shown)
    out = [b for b in shown if a.outcome[b] == RULED_OUT]
    parts: dict[str, Callable[[], Any]] = {
        "ways_out": lambda: ways_out(a, out),
        "windows": lambda: windows(a, shown),
        "accept": lambda: accept(a, [b for b in shown if b in may]),
        "gates": lambda: gates(a, shown),
        "orders": lambda: order_rows(a, shown),
        "money": lambda: money_rows(a, shown),
        "places": lambda: [p.row() for p in places(a)],
    }
    extra = _decided(a)
    for name, make in parts.items():
        if name in leave:
            continue
        if progress is not None:
            progress(name)
        extra[name] = make()
    extra |= {"ways_sought": _sought(a, out), "readings": _readings(a)}
    return replace(report, extra=extra)


def _readings(a: Assessment) -> list[Row]:
    """The ledger of all files: what was typed, and what was read."""
    tables = (a.builds.catalogue, a.builds.parts)
    return [*(r for t in tables if t is not None for r in t.readings), *a.car.readings]


def _sought(a: Assessment, builds: list[int]) -> list[str]:
    """For whom ways out were looked for: who has none then, has none."""
    return [a.builds.candidate_name(b) for b in builds]


def _decided(a: Assessment) -> dict[str, Any]:
    """Decision, visits and measurements as rows; their sentences are made on the page."""
    measures = what_to_measure(a)
    found = decide(a, measures)
    return {
        "decision": _decision_row(found),
        "visits": [_said(v.row(), v.said) for v in measures.worthwhile],
        "measuring": [_measuring_row(a, m) for m in measures.measuring],
        "measuring_all": _everything(measures),
        "stage": stage_row(a, measures),
        "inputs": input_rows(a),
        "suspicious": suspicious_rows(a.builds.catalogue, a.car),
    }


def _measuring_row(a: Assessment, measure: Measurement) -> Row:
    d = measure.dimension
    return measure.row() | {"now": number_now(a, d.of, d.column), "text": measure.said}


def _everything(measures: Measures) -> Row:
    knowing = measures.everything
    return {
        "worth": round(knowing.worth, 2),
        "worth_error": round(knowing.error, 2),
        "text": measures.said,
    }


def _decision_row(found: Decision) -> Row:
    told = [r.row() | {"text": Told(tell=r.text)} for r in found.because]
    jobs = lambda some: [_said(j.row(), j.said) for j in some]
    return found.row() | {
        "text": Told(tell=found.text), "because": told, "cut": jobs(found.cut), "make": jobs(found.make),
        "measure_before_paying": [_said(v.row(), v.said) for v in found.measure],
    }  # fmt: skip


def _said(row: Row, said: Any) -> Row:
    return row | {"text": said}
