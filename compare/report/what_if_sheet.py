"""The What-if sheet: the only one with formulas. Inputs change, rpm, pull, utilities, outcome, score and rank follow.

Plain functions only, so that older spreadsheet programs follow too; beside each formula column stands the
value as computed here. Undo, shaft work, fit and clutch do not depend on the inputs and stay as computed; driveline,
money and the outcome of the other checks follow axle and tyre in steps that are looked up.
"""

from __future__ import annotations

import math
from functools import partial
from typing import Any

import numpy as np
from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from compare.answer.report import Tables
from compare.judge.draws import build_arrays, car_arrays
from compare.judge.engine import Result
from compare.judge.rules import CLASH, UNMEASURED
from compare.judge.value import DEFAULT_WEIGHTS, UNKNOWN
from compare.report.sheets import Page, Styles, colour_words
from compare.topics.road_load import GRAVITY
from compare.vocabulary import CRITERIA, OUTCOMES

__all__ = ["LIVE_CHECKS", "MOST_ROWS", "outcome_of_the_rest", "steps_over_gearing", "write_what_if"]

MOST_ROWS = 200
# The checks that the formulas judge anew; every other verdict stays as it was.
GEARING_SPAN = (0.5, 2.0, 61)
LIVE_CHECKS = ("cruise_rpm", "top_gear_pull", "start_gradient", "budget")
INPUTS = (
    ("cruising speed [km/h]", "cruise_speed"),
    ("axle ratio", "axle_ratio"),
    ("rolling circumference [mm]", "rolling_circumference"),
    ("budget (empty: none)", "policy_budget"),
)
CONSTANTS = (
    ("window, low [rev/min]", "cruise_rpm_low"),
    ("window, high [rev/min]", "cruise_rpm_high"),
    ("slowest pull [rev/min]", "engine_slowest_pull"),
    ("redline [rev/min]", "engine_redline"),
    ("mass [kg]", "car_mass"),
    ("rolling resistance", "car_rolling_resistance"),
    ("drag coefficient × area [m²]", ""),
    ("air density [kg/m³]", "air_density"),
    ("driveline efficiency", "car_driveline_efficiency"),
    ("least pull, tight [%]", "top_gear_pull_tight"),
    ("least start, tight [%]", "start_gradient_tight"),
    ("over the budget, tight [%]", "budget_over"),
)


def _of_car(tables: Tables, name: str) -> float:
    names = tables.result.names
    if name in tables.assessment.engine.limits:
        return tables.assessment.engine.limits[name]
    return float(np.asarray(names[name], dtype=float).ravel()[0])


def outcome_of_the_rest(tables: Tables, result: Result) -> np.ndarray:
    """The outcome that each row would have if the live checks were all clear, nominal draw, `(rows,)`."""
    engine = tables.assessment.engine
    kept = np.array([r.name not in LIVE_CHECKS for r in engine.checks])
    verdicts, resolved = result.verdicts[:, :, 0], result.resolved[:, :, 0]
    clash = ((verdicts == CLASH) & ~resolved)[kept].any(axis=0)
    unknown = (verdicts[engine.decides] == UNMEASURED).any(axis=0)
    worked = np.zeros(result.shape[0], dtype=bool)
    for one in result.tallies.values():
        worked |= np.broadcast_to(one.helps | one.barred, result.shape)[:, 0]
    return np.where(clash, 3, np.where(unknown, 2, np.where(worked, 1, 0)))


def _at_gearing(tables: Tables, builds: list[int], scale: np.ndarray) -> np.ndarray:
    """(driveline utility, outcome of the rest, money) `(rows, 3)` with the axle ratio scaled, one row per build and scale."""
    a = tables.assessment
    names = car_arrays(a.car, 1, a.seed) | build_arrays(a.builds, np.array(builds), 1, a.seed)
    names["axle_ratio"] = names["axle_ratio"] * scale[:, None]
    result = a.engine.run(names, (len(builds), 1))
    driveline = np.broadcast_to(result.utility, (*result.shape, len(CRITERIA)))[:, 0, CRITERIA.index("driveline")]
    return np.stack([np.nan_to_num(driveline, nan=UNKNOWN), outcome_of_the_rest(tables, result), np.nan_to_num(result.total_cost[:, 0], nan=-1.0)], axis=1)


def steps_over_gearing(tables: Tables, count: int) -> list[list[tuple[float, ...]]]:
    """Per candidate, how driveline, outcome and money step as axle over tyre changes: (scale from which, the three).

    Top speed, propeller shaft, speedometer and start all depend on axle ratio / circumference alone, and these three
    only in steps. The steps are found on a grid and narrowed by halving.
    """
    grid = np.linspace(*GEARING_SPAN)
    builds = tables.shown[:count]
    rows = _at_gearing(tables, [b for b in builds for _ in grid], np.tile(grid, count)).reshape(count, len(grid), 3)
    changes = [(c, k) for c in range(count) for k in range(len(grid) - 1) if not np.allclose(rows[c, k], rows[c, k + 1])]
    low = np.array([grid[k] for _, k in changes])
    high = np.array([grid[k + 1] for _, k in changes])
    if changes:
        before = np.array([rows[c, k] for c, k in changes])
        for _ in range(24):
            middle = (low + high) / 2.0
            same = np.isclose(_at_gearing(tables, [builds[c] for c, _ in changes], middle), before).all(axis=1)
            low, high = np.where(same, middle, low), np.where(same, high, middle)
    found: list[list[tuple[float, ...]]] = [[(0.0, *map(float, rows[c, 0]))] for c in range(count)]
    for (c, k), at in zip(changes, high, strict=True):
        found[c].append((float(at), *map(float, rows[c, k + 1])))
    return found


def write_what_if(book: Workbook, styles: Styles, tables: Tables) -> None:
    """Write the sheet for the best candidates, at most MOST_ROWS."""
    page = Page(book, styles, "What-if", "What if?", "Change the yellow cells: weights, cruising speed, axle, tyre, budget. "
                "Outcome, score and rank follow; fit, cuts and shaft work do not hang on these. For other changes run the program again.", title_column=3)  # fmt: skip
    sheet = page.sheet
    count = min(len(tables.shown), MOST_ROWS)
    if not count:
        page.close()
        return
    widths = [6, 26, 18, 8, 9] + [9] * 40
    for i, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(i)].width = width

    # Inputs, left; constants, right of them.
    page.group("Inputs")
    where: dict[str, str] = {}
    top = page.row
    for i, (label, name) in enumerate(INPUTS):
        page.put(top + i, 2, label, "text")
        value = _of_car(tables, name)
        page.put(top + i, 3, value if math.isfinite(value) else "", "input")
        where[name] = f"$C${top + i}"
    for i, (label, name) in enumerate(CONSTANTS):
        row, column = top + i % 4, 5 + 5 * (i // 4)
        page.put(row, column, label, "text")
        value = _of_car(tables, name) if name else _of_car(tables, "car_drag_coefficient") * _of_car(tables, "car_frontal_area")
        page.put(row, column + 3, value, "three")
        where[name or "drag_area"] = f"${get_column_letter(column + 3)}${row}"
    _validate(sheet, f"C{top}:C{top + 2}", "decimal", 0.0, 10000.0, "A number above zero.")
    _validate(sheet, f"C{top + 3}", "decimal", 0.0, 1e7, "An amount of money, or empty.")
    page.put(top + 4, 2, "axle over tyre, against the car's", "text")
    gearing = _of_car(tables, "axle_ratio") / _of_car(tables, "rolling_circumference")
    if math.isfinite(gearing):
        page.formula(top + 4, 3, f"={where['axle_ratio']}/{where['rolling_circumference']}/{gearing!r}", "three")
    else:
        page.put(top + 4, 3, 1.0, "three")
    where["gearing"] = f"$C${top + 4}"
    page.row = top + len(INPUTS) + 2

    curve_rpm = np.asarray(tables.result.names["engine_curve_rpm"], dtype=float).ravel()
    curve_torque = np.asarray(tables.result.names["engine_curve_torque"], dtype=float).ravel()
    has_curve = not np.isnan(curve_rpm).any()
    # The ranking that re-sorts itself.
    page.group("The ranking, live")
    for column, head in enumerate(("rank", "candidate", "outcome", "score", "rpm"), start=1):
        page.put(page.row, column, head, "head")
    sorted_top = page.row + 1
    base_row = sorted_top + count + 2
    weights_row, head_row, first = base_row + 1, base_row + 2, base_row + 3
    last = first + count - 1

    # Column plan of the base table.
    plan = ["rank", "candidate", "outcome", "score", "rpm", "pull %", "start %"]
    column_of = {name: i for i, name in enumerate(plan, start=1)}
    column_of |= {c: len(plan) + 1 + i for i, c in enumerate(CRITERIA)}
    extra = ["key", "code", "rest code", "top ratio", "first ratio", "money", "torque"]
    column_of |= {e: len(plan) + len(CRITERIA) + 1 + i for i, e in enumerate(extra)}
    assert len(column_of) == len(plan) + len(CRITERIA) + len(extra)  # one name, one column
    computed = ["rank, computed", "outcome, computed", "score, computed", "rpm, computed", "pull %, computed", "start %, computed", "cruise, computed", "pull, computed", "cost, computed"]
    column_of |= {e: len(plan) + len(CRITERIA) + len(extra) + 1 + i for i, e in enumerate(computed)}
    sheet.column_dimensions[get_column_letter(column_of["outcome, computed"])].width = 18
    letter = {name: get_column_letter(i) for name, i in column_of.items()}
    utilities = (letter[CRITERIA[0]], letter[CRITERIA[-1]])

    page.row = base_row
    page.put(base_row, 1, "How it comes about", "group")
    page.put(weights_row, 2, "weights", "text")
    for criterion in CRITERIA:
        page.put(weights_row, column_of[criterion], round(float(tables.assessment.engine.car.weights.get(criterion, DEFAULT_WEIGHTS[criterion])), 6), "input")
    _validate(sheet, f"{utilities[0]}{weights_row}:{utilities[1]}{weights_row}", "decimal", 0.0, 1e6, "A weight of zero or more.")
    for name, column in column_of.items():
        page.put(head_row, column, name.replace("_", " "), "head")
    curve_column = max(column_of.values()) + 2
    if has_curve:
        page.put(head_row, curve_column, "rev/min", "head")
        page.put(head_row, curve_column + 1, "torque N·m", "head")
        for i, (rpm, torque) in enumerate(zip(curve_rpm, curve_torque, strict=True)):
            page.put(first + i, curve_column, float(rpm), "whole")
            page.put(first + i, curve_column + 1, float(torque), "one")
    rpms = _area(curve_column, first, len(curve_rpm))
    torques = _area(curve_column + 1, first, len(curve_rpm))

    steps = steps_over_gearing(tables, count)
    deep = max(len(s) for s in steps)
    step_column = curve_column + 3
    for group, title in enumerate(("from", "driveline", "outcome", "money")):
        for k in range(deep):
            page.put(head_row, step_column + group * deep + k, f"{title} {k + 1}", "head")
    codes = ",".join(f'"{o}"' for o in OUTCOMES)
    result, a = tables.result, tables.assessment
    wheel = f"{where['axle_ratio']}*{where['car_driveline_efficiency']}*2*PI()/({where['rolling_circumference']}/1000)"
    drag = f"0.5*{where['air_density']}*{where['drag_area']}*({where['cruise_speed']}/3.6)^2"
    crr, mass = where["car_rolling_resistance"], where["car_mass"]

    def held(force: str) -> str:
        return f"100*TAN(ASIN(MAX(-0.999,MIN(0.999,({force})/({mass}*{GRAVITY}*SQRT(1+{crr}^2)))))-ATAN({crr}))"

    for i in range(count):
        row = first + i
        at_cell = partial(_at, letter, row)
        utility = result.utility[i, 0]
        page.put(row, column_of["candidate"], tables.candidate(i), "text")
        for k in range(deep):
            segment = steps[i][k] if k < len(steps[i]) else (1e9, 0.0, 0.0, 0.0)
            for group, value in enumerate(segment):
                page.put(row, step_column + group * deep + k, value if value >= 0 else "?", "three")
        areas = [_row_area(row, step_column + group * deep, deep) for group in range(4)]
        stepped = [f"=INDEX({areas[g]},1,MATCH({where['gearing']},{areas[0]},1))" for g in range(4)]
        page.formula(row, column_of["rest code"], stepped[2], "whole")
        page.put(row, column_of["top ratio"], tables.value("top_ratio", i), "three")
        first_ratio = float(np.broadcast_to(result.names["ratios"], (*result.shape, 8))[i, 0, 0])
        page.put(row, column_of["first ratio"], first_ratio, "three")
        page.formula(row, column_of["money"], stepped[3], "whole")
        # Live formulas.
        page.formula(row, column_of["rpm"], f'=IFERROR({where["cruise_speed"]}*1000000/60/{where["rolling_circumference"]}*{where["axle_ratio"]}*{at_cell("top ratio")},"?")', "whole")
        if has_curve:
            n = len(curve_rpm)
            page.formula(
                row, column_of["torque"],
                f'=IFERROR(IF({at_cell("rpm")}<=INDEX({rpms},1),INDEX({torques},1),IF({at_cell("rpm")}>INDEX({rpms},{n}),0,IF({at_cell("rpm")}=INDEX({rpms},{n}),INDEX({torques},{n}),'
                f'INDEX({torques},MATCH({at_cell("rpm")},{rpms},1))+(INDEX({torques},MATCH({at_cell("rpm")},{rpms},1)+1)-INDEX({torques},MATCH({at_cell("rpm")},{rpms},1)))'
                f'*({at_cell("rpm")}-INDEX({rpms},MATCH({at_cell("rpm")},{rpms},1)))/(INDEX({rpms},MATCH({at_cell("rpm")},{rpms},1)+1)-INDEX({rpms},MATCH({at_cell("rpm")},{rpms},1)))))),"?")',
                "one",
            )  # fmt: skip
            page.formula(row, column_of["pull %"], f'=IFERROR({held(at_cell("torque") + "*" + at_cell("top ratio") + "*" + wheel + "-" + drag)},"?")', "two")
            page.formula(row, column_of["start %"], f'=IFERROR({held("MAX(" + torques + ")*" + at_cell("first ratio") + "*" + wheel)},"?")', "one")
        else:
            for name in ("torque", "pull %", "start %"):
                page.put(row, column_of[name], None, "text")
        low, high = where["cruise_rpm_low"], where["cruise_rpm_high"]
        live = {
            "cruise": f"=IFERROR(MAX(0,MIN(1,1-100*MAX({low}/{at_cell('rpm')}-1,{at_cell('rpm')}/{high}-1,0)/25)),0.5)",
            "pull": f"=IFERROR(MAX(0,MIN(1,{at_cell('pull %')}/4)),0.5)",
            "cost": f"=IFERROR(IF({where['policy_budget']}=\"\",0.5^({at_cell('money')}/1500),MAX(0,MIN(1,1-{at_cell('money')}/(1.25*{where['policy_budget']})))),0.5)",
        }
        for k, criterion in enumerate(CRITERIA):
            if criterion == "driveline":
                page.formula(row, column_of[criterion], stepped[1], "two")
            elif criterion in live:
                page.formula(row, column_of[criterion], live[criterion], "two")
            else:
                page.put(row, column_of[criterion], 0.5 if math.isnan(utility[k]) else float(utility[k]), "two")
        page.formula(
            row, column_of["code"],
            f"=IF(OR(IFERROR({at_cell('rpm')}<{where['engine_slowest_pull']},FALSE),IFERROR({at_cell('rpm')}>{where['engine_redline']},FALSE),"
            f"IF(ISNUMBER({at_cell('pull %')}),{at_cell('pull %')}<{where['top_gear_pull_tight']},FALSE),IF(ISNUMBER({at_cell('start %')}),{at_cell('start %')}<{where['start_gradient_tight']},FALSE),"
            f"IF(AND(ISNUMBER({where['policy_budget']}),ISNUMBER({at_cell('money')})),{at_cell('money')}>{where['policy_budget']}*(1+{where['budget_over']}/100),FALSE)),3,{at_cell('rest code')})",
            "whole",
        )  # fmt: skip
        page.formula(row, column_of["score"], f"=100*SUMPRODUCT(${utilities[0]}${weights_row}:${utilities[1]}${weights_row},{utilities[0]}{row}:{utilities[1]}{row})/SUM(${utilities[0]}${weights_row}:${utilities[1]}${weights_row})", "one")
        page.formula(row, column_of["key"], f"=ROUND((3-{at_cell('code')})*1000+{at_cell('score')},9)", "three")
        keys = f"${letter['key']}${first}:${letter['key']}${last}"
        page.formula(row, column_of["rank"], f"=RANK({at_cell('key')},{keys})+COUNTIF(${letter['key']}${first}:{letter['key']}{row},{at_cell('key')})-1", "whole")
        page.formula(row, column_of["outcome"], f"=CHOOSE({at_cell('code')}+1,{codes})", "text")
        # As computed.
        ranking: dict[str, Any] = tables.ranking[i]
        for name, value, style in (
            ("rank, computed", ranking["rank"], "whole"),
            ("outcome, computed", ranking["outcome"], "text"),
            ("score, computed", float(a.score[tables.shown[i]]), "one"),
            ("rpm, computed", tables.value("cruise_rpm", i), "whole"),
            ("pull %, computed", tables.value("top_gear_pull", i), "two"),
            ("start %, computed", tables.value("start_gradient", i), "one"),
            ("cruise, computed", float(utility[CRITERIA.index("cruise")]), "two"),
            ("pull, computed", float(utility[CRITERIA.index("pull")]), "two"),
            ("cost, computed", float(utility[CRITERIA.index("cost")]), "two"),
        ):
            page.put(row, column_of[name], value, style)
        # The sorted row.
        at = sorted_top + i
        found = f"MATCH($A{at},${letter['rank']}${first}:${letter['rank']}${last},0)"
        page.put(at, 1, i + 1, "whole")
        for column, name, style in ((2, "candidate", "text"), (3, "outcome", "text"), (4, "score", "one"), (5, "rpm", "whole")):
            page.formula(at, column, f"=INDEX(${letter[name]}${first}:${letter[name]}${last},{found})", style)
    colour_words(page, f"C{sorted_top}:C{last}", OUTCOMES)
    page.row = max(last, first + len(curve_rpm) - 1) + 1
    sheet.freeze_panes = "C4"
    sheet.print_title_cols = "A:B"
    page.close(last_column=column_of["cost, computed"], pages_wide=2)


def _at(letter: dict[str, str], row: int, name: str) -> str:
    return f"{letter[name]}{row}"


def _area(column: int, first: int, count: int) -> str:
    letter = get_column_letter(column)
    return f"${letter}${first}:${letter}${first + count - 1}"


def _row_area(row: int, column: int, count: int) -> str:
    return f"${get_column_letter(column)}{row}:${get_column_letter(column + count - 1)}{row}"


def _validate(sheet: Any, area: str, kind: Any, low: float, high: float, words: str) -> None:
    rule = DataValidation(type=kind, operator="between", formula1=str(low), formula2=str(high), allow_blank=True)
    rule.error, rule.errorTitle, rule.prompt, rule.promptTitle = words, "Not possible", words, "Input"
    rule.showErrorMessage = rule.showInputMessage = True
    sheet.add_data_validation(rule)
    rule.add(area)
