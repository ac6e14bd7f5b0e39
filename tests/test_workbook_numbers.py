"""Every number on every sheet against the JSON report of the same run, cell by cell.

What a cell shows is rounded; it may differ from the JSON by half of its last digit, in inches by half
a sixty-fourth or half a thousandth. A sheet or a column that is not named here makes the test fail.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace

import openpyxl
import pytest
import random_cars
from test_workbook import CAR, DEMO, PARTS

from compare.answer.changes import input_rows
from compare.answer.compare import compare
from compare.answer.complete import in_depth
from compare.answer.report import KEEP, make_report
from compare.figures import figure
from compare.read.car import load_car
from compare.read.catalogue import load_catalogue, load_parts
from compare.report.as_json import as_json, document, plain, tables_of
from compare.report.workbook import write_workbook

INCH, MILE = 25.4, 1.609344
OTHERS = {"N·m": 0.7375621, "kg": 2.2046226, "turns/km": MILE}
# One with a part, one that moves the engine, one not measured, one that is cut, two that are ruled out.
SOME = ("Tarn 5B short tail", "Garth 5", "Bainbridge 5", "Cotter 5", "Stainmoor 5", "Wray 5 iron case")


class Run:
    """A workbook and the JSON of the same run; rows: tables with their sentences in its units."""

    def __init__(self, report, units, place):
        self.report, self.units = report, units
        self.json = json.loads(as_json(document(report)))
        self.rows = {**self.json, **plain(tables_of(report) | dict(report.extra), units)}
        path = place / f"{units}.xlsx"
        write_workbook(path, report, units=units)
        self.book = openpyxl.load_workbook(path, data_only=True)
        self.dump = json.dumps(plain(self.rows, units), ensure_ascii=False)

    def table(self, name, head="candidate"):
        """Heads of the sheet's table, and its rows up to the first that is no row of it."""
        every = [[c.value for c in row] for row in self.book[name].iter_rows()]
        top = next(i for i, r in enumerate(every) if head in r)
        heads = [h for h in every[top] if h is not None]
        body = []
        for row in every[top + 1 :]:
            if all(v in (None, "") for v in row) or (len(heads) > 1 and all(v is None for v in row[1:])):
                break
            body.append(row[: len(heads)])
        return heads, body


# ---- how a cell may show a value ----------------------------------------------------------------


def shows(run, unit, least=0.0):
    """A number with a unit; blank where there is none, or none above `least`."""

    def check(cell, value, row):
        own = row.get("shown_unit") or row.get("unit") or "" if unit == "own" else unit
        if value is None or isinstance(value, str):
            assert cell in ("", None, "not known", "no limit", value)
            return
        if cell in ("", None):
            assert abs(value) <= least, value
            return
        inch = run.units == "inch"
        factor = 1 / INCH if own.startswith("mm") and inch else 1 / MILE if own == "km/h" and inch else 1.0
        half = {"mm tape": 1 / 128 if inch else 0.05, "mm": 0.0005 if inch else 0.05,
                "mm diameter": 0.0005 if inch else 0.005, "km/h": 0.5, "h": 0.05, "deg": 0.05,
                "ratio": 0.0005, "points": 0.05, "%": 0.05, "": 0.005, "share": 0.005}.get(own, 0.5)  # fmt: skip
        if own in OTHERS and inch:
            factor = OTHERS[own]
        assert cell == pytest.approx(value * factor, abs=half * 1.001 + 1e-9), (cell, value, own)

    return check


def says(cell, value, row):
    if value is None:
        assert cell in ("", None, "not known")
    elif isinstance(value, float) and not isinstance(cell, str):
        assert cell == pytest.approx(value)
    else:
        text = str(value).replace("\n", " ")
        assert (cell or "") == text or cell == {True: "yes", False: "no"}.get(value, text), (cell, value)


def named(cell, value, row):
    says(cell, None if value is None else re.sub("^car_", "", str(value)).replace("_", " "), row)


def none_or(number, above=False):
    """What `number` asks for, or a dash: above the last gear there is none to change into, and
    what is not known of the last gear at cruise is not known, not impossible.
    """

    def check(cell, value, row):
        if cell == "–":
            assert value is None and row["last"] is above
        else:
            number(cell, value, row)

    return check


def chance(cell, value, row):
    if row.get("candidate") == KEEP:
        assert cell in ("", None)
        return
    if value is None:
        assert cell == "not known"
        return
    found = re.fullmatch(r"([<>]?) ?(\d+)(?: ± (\d+))? %", cell)
    assert found, cell
    if found[1]:
        assert value > 0.99 if found[1] == ">" else value < 0.01
    else:
        assert int(found[2]) == pytest.approx(100 * value, abs=0.51)
        if found[3] is not None:
            assert int(found[3]) == math.ceil(200 * row["chance_error"] - 1e-9)


def columns(run):
    """Sheet -> (JSON table, which rows, head -> (key, how))."""
    number = lambda unit, least=0.0: shows(run, unit, least)
    length = "in" if run.units == "inch" else "mm"
    speed = "mph" if run.units == "inch" else "km/h"
    who = {"candidate": ("candidate", says), "build": ("build", says)}
    return {
        "Ranking": ("ranking", lambda r: True, {
            "rank": ("rank", number("count")), **who, "outcome": ("outcome", says),
            "fitted, chance": ("chance_fitted", chance),
            "if ordered from these figures": ("chance_with_these_figures", chance),
            "bolts in, chance": ("chance_bolts_in", chance), "first, chance": ("chance_first", chance),
            "value": ("value", number("points")), "5 %": ("value_low", number("points")),
            "95 %": ("value_high", number("points")), "score": ("score", number("points")),
            "at cruise [rev/min]": ("cruise_rpm", number("rev/min")), "deepest cut": ("undo", says),
            "cut": ("cut_mm", number("own")), "money": ("cost", number("money")),
            "5 % 2": ("cost_low", number("money")), "95 % 2": ("cost_high", number("money")),
            "hours [h]": ("hours", number("h")), "why": ("why", says),
        }),
        "Checks": ("checks", lambda r: {r["verdict"], r["verdict_as_found"]} != {"clear"}, {
            **who, "check": ("check", named), "kind": ("kind", says),
            "as found": ("verdict_as_found", says), "with the plan": ("verdict", says),
            "holds, fitted": ("chance_fitted", chance), "what was found": ("why", says), "limit": ("limit", says),
        }),
        "Gears": ("gears", lambda r: True, {
            "candidate": ("candidate", says), "gear": ("gear", number("count")), "ratio": ("ratio", number("ratio")),
            f"speed at redline [{speed}]": ("speed_at_redline_kmh", number("km/h")),
            "at cruising speed [rev/min]": ("rpm_at_cruise", number("rev/min")),
            "after changing up [rev/min]": ("rpm_after_upshift", none_or(number("rev/min"), above=True)),
            "gradient held at cruise [%]": ("gradient_at_cruise_percent", none_or(number("%"))),
            f"speed it reaches on the level [{speed}]": ("top_speed_kmh", number("km/h")),
        }),
        "Cuts and orders": ("work", lambda r: True, {
            **who, "what is done": ("operation", says), "on": ("on", says), "undo": ("undo", says),
            "extent": ("extent_mm", number("own")), "hours [h]": ("hours", number("h")),
            "money": ("cost", number("money")), "tool": ("tool", says), "how, and why": ("why", says),
        }),
        "Plan": ("plan", lambda r: r["unit"], {
            **who, "figure of": ("decision", lambda c, v, r: named(c, v.split(":")[0], r)), "on": ("on", says),
            "made before the parts meet": ("blind", says), "figure": ("figure", number("own")),
            "from": ("tolerance_low", number("own")), "to": ("tolerance_high", number("own")),
        }),
        "Seats": ("seats", lambda r: True, {
            **who, f"adapter, planned [{length}]": ("planned_adapter_thickness_mm", number("mm")),
            f"from [{length}]": (("adapter_thickness_tolerance_mm", 0), number("mm")),
            f"to [{length}]": (("adapter_thickness_tolerance_mm", 1), number("mm")),
            f"engine forward, planned [{length}]": ("planned_engine_shift_mm", number("mm tape")),
            f"from [{length}] 2": (("engine_shift_tolerance_mm", 0), number("mm tape")),
            f"to [{length}] 2": (("engine_shift_tolerance_mm", 1), number("mm tape")),
            "how it comes about": ("why", says),
        }),
        "Ways out": ("ways_out", lambda r: True, {
            "candidate": ("candidate", says), "change": ("change", number("count")), "of": ("of", says),
            "what is changed": ("dimension", named), "from": ("from", number("own")), "to": ("to", number("own")),
            "undo": ("undo", says), "money": ("cost", number("money")),
            "chance then": ("chance_then", lambda c, v, r: None if v is None and c in ("", None) else chance(c, v, {})),
            "in words": ("text", says),
        }),
        "Buy by": ("accept", lambda r: True, {
            "candidate": ("candidate", says), "dimension": ("dimension", named),
            "buy from": ("buy_low", number("own")), "buy to": ("buy_high", number("own")),
            "walk away below": ("walk_low", number("own")), "walk away above": ("walk_high", number("own")),
            "in words": ("text", says),
        }),
        "Gates": ("gates", lambda r: True, {
            "candidate": ("candidate", says), "before": ("before", named), "measure": ("measure", named),
            "from": ("low", number("own")), "to": ("high", number("own")), "in words": ("text", says),
        }),
        "Windows": ("windows", lambda r: True, {
            "candidate": ("candidate", says), "of": ("of", says), "dimension": ("dimension", named),
            "is": ("value", number("own")), "goes in from": ("low", number("own")), "to": ("high", number("own")),
            "ended below by": ("ended_low_by", named), "ended above by": ("ended_high_by", named),
            "with the plan, from": ("plan_low", number("own")), "to 2": ("plan_high", number("own")),
            "doubts to the edge": ("doubts_to_edge", number("")),
        }),
    }  # fmt: skip


def value_of(row, key):
    return row[key[0]][key[1]] if isinstance(key, tuple) else row.get(key)


def listing(run, name):
    """A table for the screen, every cell of it."""
    table, wanted, known = columns(run)[name]
    rows = [r for r in run.rows[table] if wanted(r)]
    heads, body = run.table(name)
    seen, own = {}, []
    for head in heads:
        seen[head] = seen.get(head, 0) + 1
        own.append(head if seen[head] == 1 else f"{head} {seen[head]}")
    assert set(own) == set(known), (name, set(own) ^ set(known))
    assert len(body) == len(rows), name
    for cells, row in zip(body, rows, strict=True):
        for head, cell in zip(own, cells, strict=True):
            key, how = known[head]
            try:
                how(cell, value_of(row, key), row)
            except AssertionError as error:
                raise AssertionError(f"{name}, {row.get('candidate')}, {head}: {error}") from None


def decision(run):
    """The headline as the JSON has it, and each row of the ranking that the page has room for."""
    heads, body = run.table("Decision")
    assert [h.split(" [")[0] for h in heads] == [
        "rank", "candidate", "outcome", "goes in", "value", "at cruise", "deepest cut", "money", "hours",
        "what it takes, or why not",
    ]  # fmt: skip
    texts = {c.value for row in run.book["Decision"].iter_rows() for c in row}
    assert "decision" not in run.rows or run.rows["decision"]["text"] in texts
    number = lambda unit: shows(run, unit)
    for cells, row in zip(body, run.rows["ranking"], strict=False):
        number("count")(cells[0], row["rank"], row)
        assert cells[1].startswith(row["candidate"][:20])
        assert cells[2] == row["outcome"] or cells[2] == f"just: {row['outcome']}"
        chance(cells[3], row["chance_fitted"], row)
        number("points")(cells[4], row["value"], row)
        number("rev/min")(cells[5], row["cruise_rpm"], row)
        assert (row["undo"] in cells[6]) if row["cut_mm"] else not cells[6]
        number("money")(cells[7], row["cost"], row)
        number("h")(cells[8], row["hours"], row)
        says(cells[9], row["why"], row)
    rest = len(run.rows["ranking"]) - len(body)
    assert not rest or any(str(t).startswith(f"{rest} more in the ranking") for t in texts)


def charts(run):
    """Points lost, money and engine speeds, worked out anew from the JSON."""
    rows = {r["candidate"]: r for r in run.rows["ranking"]}
    weights = run.json["car"]["weights"]
    cells = [[c.value for c in row] for row in run.book["Charts"].iter_rows()]
    by_name = {}
    for row in cells:
        if isinstance(row[0], str):
            by_name.setdefault(row[0].removesuffix(" (out)"), []).append([v for v in row[1:] if v is not None])
    for name, row in list(rows.items())[:20]:
        lost = [100 * w * (1 - (0.5 if row["utility"][c] is None else row["utility"][c])) for c, w in weights.items()]
        first = by_name[name[:23]] if name[:23] in by_name else by_name[name]
        assert first[0] == pytest.approx([*lost, sum(lost)], abs=0.051), name
        if row["cost"] is not None and len(first) > 1 and len(first[1]) == 1:
            assert first[1][0] == pytest.approx(row["cost"], abs=0.501)
    top = {g["candidate"]: g["rpm_at_cruise"] for g in run.rows["gears"]}
    at = next((i for i, r in enumerate(cells) if r[0] == "Engine speed in top gear"), None)
    if at is not None:
        end = next(i for i in range(at, len(cells)) if cells[i][0] == "speed")
        for row in cells[at + 2 : end]:
            rpm = top[row[0].split(", ")[0].split(" and ")[0]]
            assert row[1:3] == pytest.approx([0.5 * rpm, 1.5 * rpm], abs=1.5)
        cruise = run.json["car"]["cruise_speed_kmh"] / (MILE if run.units == "inch" else 1)
        assert cells[end][1:3] == pytest.approx([0.5 * cruise, 1.5 * cruise], abs=0.06)


def what_if(run):
    """As sent: inputs, weights, and the ranking beside them."""
    page = [[c.value for c in row] for row in run.book["What-if"].iter_rows()]
    inputs = {r[0]: r[1] for r in page if r[0] is not None}
    weights = run.json["car"]["weights"]
    for name, weight in weights.items():
        assert inputs[name.replace("_", " ")] == pytest.approx(100 * weight, abs=0.0051)
    speed = next(v for k, v in inputs.items() if k.startswith("cruising speed"))
    if run.json["car"]["cruise_speed_kmh"]:
        shows(run, "km/h")(speed, run.json["car"]["cruise_speed_kmh"], {})
    rows = {r["candidate"]: r for r in run.rows["ranking"]}
    body = [r[5:12] for r in page if isinstance(r[5], int | float)]
    assert len(body) == min(len(rows), 30)
    for is_, was, name, value_was, value_is, rpm, outcome in body:
        row = next(r for n, r in rows.items() if n.startswith(name.rstrip("…")))
        assert is_ == was == row["rank"] and outcome == row["outcome"]
        assert value_was == pytest.approx(row["value"], abs=0.0051) == pytest.approx(value_is, abs=0.0051)
        if row["cruise_rpm"] is not None:
            assert rpm == pytest.approx(row["cruise_rpm"], abs=0.51)


def sums(run):
    """The rows behind What-if hold rank and value as they were sent; the rest is What-if's own."""
    heads, body = run.table("What-if sums")
    rows = {r["candidate"]: r for r in run.rows["ranking"]}
    for cells in body:
        one = dict(zip(heads, cells, strict=True))
        row = next((r for n, r in rows.items() if n.startswith(one["candidate"].rstrip("…"))), None)
        if row is not None and one["rank"] not in ("", None):
            assert one["rank"] == one["was rank"] == row["rank"]
            assert one["was value"] == pytest.approx(row["value"], abs=0.0051)


def typed(run, name):
    """What was typed, as the JSON has it."""
    inputs = run.json["inputs"][name.lower()]
    if name == "Car":
        found = {
            f"{r[0].value}.{r[1].value}": r[2].value
            for r in run.book["Car"].iter_rows(min_row=4)
            if r[2].value not in (None, "not known")
        }
    else:
        heads, body = run.table(name, "name" if name == "Catalogue" else "part")
        keys = [re.sub(r"[\s-]+", "_", h.split("[")[0].strip().lower()) for h in heads]
        found = {
            row[0]: {k: v for k, v in zip(keys, row, strict=True) if v not in (None, "")} for row in body
        }
        assert set(found) == set(inputs)
        found = {(n, k): v for n, row in found.items() for k, v in row.items()}
        inputs = {(n, k): v for n, row in inputs.items() for k, v in row.items()}
    assert set(found) == {k for k, v in inputs.items() if v}
    for key, cell in found.items():
        same = cell == inputs[key] or (not isinstance(cell, str) and float(inputs[key]) == cell)
        assert same, (key, cell, inputs[key])


def readings(run):
    heads, body = run.table("Readings", "file")
    rows = {(r["file"], str(r["line"]), r["owner"], r["column"]): r for r in run.json["readings"]}
    for cells in body:
        row = rows[tuple(str(v) for v in cells[:4])]
        says(cells[heads.index("you typed")], row["typed"], row)
        number = re.match(r"-?[\d ]+(?:\.\d+)?", str(cells[heads.index("I read")]))
        if number and row["value"] is not None and not isinstance(row["value"], str):
            assert float(number[0].replace(" ", "")) == pytest.approx(row["value"], rel=1e-3, abs=0.006)


def method(run):
    """Weights, and every limit in force with what it is as a rule."""
    cells = [[c.value for c in row] for row in run.book["Method"].iter_rows()]
    by_name = {r[0]: r for r in cells if isinstance(r[0], str)}
    for row in run.json["criteria"]:
        assert by_name[row["criterion"].replace("_", " ")][1] == pytest.approx(100 * row["weight"], abs=0.051)
    for row in run.json["limits"]:
        factor = 1 / INCH if run.units == "inch" and row["unit"] == "mm" else 1.0
        found = by_name[row["limit"].replace("_", " ")]
        for at, key in ((1, "value"), (3, "default")):
            assert float(found[at]) == pytest.approx(row[key] * factor, rel=0.006), row["limit"]


def texts(run, name):
    """Sheets of sentences: every number in them stands in the JSON, or in what was typed."""
    numbers = set(re.findall(r"\d+(?:\.\d+)?", run.dump))
    numbers |= {f"{100 * float(n):.0f}" for n in numbers if float(n) <= 1}
    numbers |= {str(math.ceil(200 * float(e) - 1e-9)) for e in re.findall(r'"chance_error": ([\d.]+)', run.dump)}
    numbers |= {str(n) for n in range(100)}  # counts: of lines, checks, minutes, names
    for row in run.rows["to_measure"]:
        now = "" if row["now"] is None else figure(row["now"], row["shown_unit"], run.units)
        numbers |= set(re.findall(r"\d+(?:\.\d+)?", f"{row['meaning']} {row['measure']} {now}"))
    for row in run.book[name].iter_rows():
        for cell in (c for c in row if isinstance(c.value, str)):
            bare = re.sub(r"Scale [\d.]+ : [\d.]+", "", cell.value)
            missing = [n for n in re.findall(r"\d+(?:\.\d+)?", bare) if n not in numbers]
            assert not missing, (name, cell.coordinate, cell.value, missing)


def every_sheet(run):
    known = {name: lambda n=name: listing(run, n) for name in columns(run)}
    known |= {n: lambda n=n: typed(run, n) for n in ("Catalogue", "Parts", "Car")}
    known |= {n: lambda n=n: texts(run, n) for n in ("What is not clear", "Measuring list", "Drawings")}
    known |= {
        "Decision": lambda: decision(run), "Charts": lambda: charts(run), "What-if": lambda: what_if(run),
        "What-if sums": lambda: sums(run), "Readings": lambda: readings(run), "Method": lambda: method(run),
        "Sent": lambda: None,
    }  # fmt: skip
    for name in run.book.sheetnames:
        known[name]()


@pytest.fixture(scope="module")
def demo():
    a = compare(load_catalogue(DEMO), load_car(CAR), load_parts(PARTS), draws=64, only=SOME)
    return in_depth(a)


@pytest.mark.parametrize("units", ["metric", "inch"])
def test_every_number_of_the_demo_is_the_json_s(demo, units, tmp_path):
    run = Run(demo, units, tmp_path)
    every_sheet(run)
    assert {"Windows", "Gates", "Buy by", "Ways out", "Parts", "Readings"} <= set(run.book.sheetnames)


@pytest.mark.parametrize("number", [1, 2, 3])
def test_every_number_of_random_cars_is_the_json_s(number, tmp_path):
    catalogue = random_cars.catalogue(tmp_path / "c.csv", number, 4)
    a = compare(catalogue, random_cars.car(number), None, draws=32)
    report = replace(make_report(a), extra={"inputs": input_rows(a)})
    for units in ("metric", "inch"):
        every_sheet(Run(report, units, tmp_path))


def test_a_number_that_is_off_by_a_digit_is_found(demo, tmp_path):
    """The test itself: a cell changed by one in its last digit, on each listing."""
    run = Run(demo, "metric", tmp_path)
    for name in columns(run):
        for row in run.book[name].iter_rows(min_row=4):
            cell = next((c for c in row if isinstance(c.value, float) and math.isfinite(c.value)), None)
            if cell is not None:
                cell.value, was = cell.value + 1.0, cell.value
                with pytest.raises(AssertionError):
                    listing(run, name)
                cell.value = was
                break
