"""The finished comparison as one frozen Report of facts: rows with fixed keys, sentences as
templates.

Every page is made from it and from nothing else. Sentences are Said (template, values): prose,
units and
rounding come on the page.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, partial
from typing import Any

import numpy as np

from compare.answer.compare import Assessment
from compare.answer.later import Facts, Rows
from compare.answer.live import Live, live
from compare.answer.order_of_work import places_of_work
from compare.answer.typed import (
    car_table,
    limit_rows,
    log_rows,
    measure_rows,
    typed_rows,
    units_by_name,
)
from compare.answer.unknowns import asked_by_checks
from compare.judge import outcome as labels
from compare.judge.builds import named_rows
from compare.judge.engine import Item, Result
from compare.judge.rules import CLASH, SAME, TIGHT, UNMEASURED, AtLeast, AtMost, Own, Rule
from compare.said import Said, fill, joined
from compare.vocabulary import (
    CRUISE_SPEED_OF_ENGINE,
    GEAR_FACTS,
    KEEP,
    OUTCOMES,
    THICKNESS_WINDOWS,
    UNDO_STEPS,
    VERDICTS,
)

__all__ = ["KEEP", "Report", "Row", "make_report", "plain_name", "shown_builds"]

Row = dict[str, Any]
FRAMES = ("ranking", "checks", "plan", "work", "seats", "gears", "routes", "builds")
FEW = 3  # more deciding unknowns than this and a chance is no number


def plain_name(name: str) -> str:
    """A column or key in words: `shaft_stickout` -> `shaft stickout`.

    >>> plain_name("car_mount_drop_most")
    'mount drop most'
    """
    return name.removeprefix("car_").replace("_", " ")


@dataclass(frozen=True)
class Report:
    """Everything that pages show. Rows are plain dicts with the keys of the JSON report.

    facts: candidate -> every nominal quantity of its plan by name; units: name -> internal unit.
    deciding: candidate -> (owner, name) of the unknown numbers that decide. live: what What-if
    works
    with, made when it is asked for.
    """

    car: Row
    ranking: tuple[Row, ...]
    checks: Sequence[Row]
    plan: Sequence[Row]
    work: Sequence[Row]
    seats: Sequence[Row]
    gears: Sequence[Row]
    routes: Sequence[Row]
    builds: Sequence[Row]
    baseline: Row | None
    waiting: tuple[Row, ...]
    not_judged: tuple[Row, ...]
    assumed: tuple[Said, ...]
    deciding: Mapping[str, list[tuple[str, str]]]
    facts: Mapping[str, Mapping[str, Any]]
    units: Mapping[str, str]
    criteria: tuple[Row, ...]
    warnings: tuple[str, ...]
    left_out: int = 0
    car_table: Sequence[Row] = ()
    catalogue: Sequence[Row] = ()
    parts: Sequence[Row] = ()
    limits: Sequence[Row] = ()
    to_measure: Sequence[Row] = ()
    measured: Sequence[Row] = ()
    live: Callable[[], Live | None] = lambda: None
    extra: Mapping[str, Any] = field(default_factory=dict)

    def frame(self, table: str) -> Any:
        """One table as a pandas frame, sentences filled in metric. Raises KeyError for another
        name.
        """
        import pandas

        if table not in FRAMES:
            raise KeyError(table)
        rows = [
            {k: fill(v) if isinstance(v, Said) else v for k, v in r.items()}
            for r in getattr(self, table)
        ]
        return pandas.DataFrame(rows)

    def of(self, table: str, candidate: str) -> list[Row]:
        """The rows of one candidate in one table."""
        rows = getattr(self, table)
        if isinstance(rows, Rows):
            return rows.of(candidate)
        return [row for row in rows if row.get("candidate") == candidate]


def known(value: float, digits: int = 4) -> float | None:
    """A number for a row: rounded, None where it is not known or endless."""
    value = float(value)
    return None if math.isnan(value) or math.isinf(value) else round(value, digits) + 0.0


MOST_AFTERWARDS = 3  # checks that are measured again after one piece of work
NOTHING = 0.005  # what is off by less has no figure to measure


@dataclass
class Maker:
    """Makes the rows of the best builds, from one assessment."""

    a: Assessment
    shown: list[int]
    plan: Result = field(init=False)
    found: Result = field(init=False)
    fitted: Result = field(init=False)
    units: dict[str, str] = field(init=False)
    asked: dict[int, dict[str, list[tuple[str, str]]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.plan = self.a.run(self.shown, "plan")
        self.found = self.a.run(self.shown, "found")
        self.fitted = self.a.run(self.shown, "fitted")
        self.units = units_by_name(self.a.engine.book)
        self.errors = labels.standard_error(np.nan_to_num(self.a.chance), self.a.tally.draws)

    def candidate(self, at: int) -> str:
        return self.a.builds.candidate_name(self.shown[at])

    def build(self, at: int) -> str:
        return self.a.builds.name(self.shown[at])

    def head(self, at: int) -> Row:
        return {"candidate": self.candidate(at), "build": self.build(at)}

    # ---- sentences -------------------------------------------------------------------------------

    def say(
        self, template: str, at: int, result: Result, own: Mapping[str, Any] | None = None
    ) -> Said:
        """A rule's template with its values, nominal, for an entry of `shown`."""
        values: dict[str, Any] = dict(own or {})
        for name in re.findall(r"\{(\w+)\}", template):
            if name in values:
                continue
            limits = self.a.engine.limits
            number = float(limits[name]) if name in limits else result.value(name, at)
            values[name] = self.text_of(name, number) or (number, self.units.get(name, ""))
        return Said(template, values)

    def text_of(self, name: str, number: float) -> str:
        """The option's name of a choice; nothing for a number."""
        rule = self.a.engine.book.rules.get(name)
        if rule is None or rule.sort != "choice" or math.isnan(number):
            return ""
        return rule.options[int(number)].name

    def check_said(self, rule: Rule, at: int, result: Result, code: int, applies: float) -> Said:
        if code == UNMEASURED:
            return Said("not known: {names}", {"names": self.lacking_words(rule, at)})
        if applies == 0:
            return Said("does not arise")
        words = rule.words.get(VERDICTS[code]) or (rule.words.get("tight") if code == TIGHT else "")
        reading = result.readings[rule.name]
        works = float(result.pick(reading.works)[at, 0])
        own = {"short": (abs(works), self.units[rule.name])}
        eased = self.a.engine.today.get(rule.name, 0.0)
        if code == TIGHT and eased and works - eased < -SAME:
            words = (
                f"{plain_name(rule.title)} {{{rule.name}}}: beyond its limit, no worse than today's"
            )
        return self.say(words or f"{plain_name(rule.title)} {{{rule.name}}}", at, result, own)

    def lacking(self, rule: Rule, at: int) -> list[tuple[str, str]]:
        """(owner, name) of the unknown numbers that a check hangs on, those that can be drawn
        first.
        """
        build = self.shown[at]
        if build not in self.asked:
            self.asked[build] = asked_by_checks(self.a, build, anew=True)
        return self.asked[build][rule.name]

    def lacking_words(self, rule: Rule, at: int) -> str:
        names = list(dict.fromkeys(plain_name(n) for _, n in self.lacking(rule, at)))
        more = f" and {len(names) - 5} more" if len(names) > 5 else ""
        return ", ".join(names[:5]) + more if names else "an input"

    # ---- checks ----------------------------------------------------------------------------------

    def check_rows(self, at: int) -> list[Row]:
        a, build = self.a, self.shown[at]
        rows = []
        for number, rule in enumerate(a.engine.checks):
            code = int(self.plan.verdicts[number, at, 0])
            found = int(self.found.verdicts[number, at, 0])
            if a.unmeasured[build, number]:
                code = found = UNMEASURED
            applies, value, works = self.read(rule, at, self.plan)
            found_applies, found_value, _ = self.read(rule, at, self.found)
            open_ = self.fitted.verdicts[number, at, 0] == UNMEASURED or not a.draws
            chance = lambda shares, n=number, o=open_: (
                None if o else known(1.0 - shares[build, n], 3)
            )
            rows.append(
                self.head(at)
                | {
                    "check": rule.title,
                    "kind": rule.kind,
                    "verdict_as_found": VERDICTS[found],
                    "verdict": VERDICTS[code],
                    "value_as_found": known(found_value) if found_applies == 1 else None,
                    "value": known(value) if applies == 1 else None,
                    "unit": plain_unit(rule.unit),
                    "shown_unit": self.units[rule.name],
                    "limit": self.limit_said(rule),
                    "margin": known(works) if applies == 1 else None,
                    "chance_with_these_figures": chance(a.drawn.clash_plan),
                    "chance_fitted": chance(a.drawn.clash_fitted),
                    "why": self.check_said(rule, at, self.plan, code, applies),
                    "question": rule.question,
                    "decides": bool(a.engine.decides[number]),
                }
            )
        return rows

    def read(self, rule: Rule, at: int, result: Result) -> tuple[float, float, float]:
        """(applies, value, margin to working) of a check, nominal."""
        reading = result.readings[rule.name]
        pick = lambda array: float(result.pick(array)[at, 0])
        return pick(reading.applies), pick(reading.value), pick(reading.works)

    def limit_said(self, rule: Rule) -> Said:
        limits, unit = self.a.engine.limits, self.units[rule.name]
        if isinstance(rule.limit, AtLeast | AtMost):
            clear, tight = (
                float(limits[f"{rule.title}_clear"]),
                float(limits[f"{rule.title}_tight"]),
            )
            sign = "≥" if isinstance(rule.limit, AtLeast) else "≤"
            values: dict[str, Any] = {"clear": (clear, unit), "tight": (tight, unit)}
            if clear == tight:
                return Said(f"{sign} {{clear}}", values)
            return Said(f"clear {sign} {{clear}}, tight {sign} {{tight}}", values)
        assert isinstance(rule.limit, Own)
        template, values = rule.limit.words, {}
        for name in re.findall(r"\{(\w+)\}", template):
            number, in_mm = float(limits[name]), self.a.engine.book.limits[name].unit == "mm"
            values[name] = (number, self.units[name]) if in_mm else f"{number:g}"
        return Said(re.sub(r"\{(\w+)\} mm", r"{\1}", template), values)

    # ---- what is done ----------------------------------------------------------------------------

    def items(self, at: int) -> list[tuple[str, Item]]:
        """What the plan does and is not made yet, nominal, deepest cut first."""
        left = [(k, i) for k, i in self.plan.items.items() if self.plan.pick(i.left)[at, 0]]
        return sorted(left, key=lambda item: -float(self.plan.pick(item[1].undo)[at, 0]))

    def operation(self, item: Item) -> str:
        return item.option.operation if item.option else item.rule.meaning

    def work_rows(self, at: int) -> list[Row]:
        rows = []
        items = self.items(at)
        places = places_of_work(items, self.a.engine.book, self.plan, at)
        for key, item in items:
            pick = lambda array: float(self.plan.pick(array)[at, 0])
            step, figure_ = int(pick(item.undo)), pick(item.figure)
            words = item.option.words if item.option else item.rule.words["why"]
            unit = self.units[item.rule.name]
            rows.append(
                self.head(at)
                | {
                    "decision": key,
                    "operation": self.operation(item),
                    "on": (item.option.on or item.rule.on) if item.option else item.rule.on,
                    "when": places[key][0],
                    "sequence": places[key][1],
                    "halves": dict(item.rule.halves) or None,
                    "undo": UNDO_STEPS[step],
                    "extent_mm": round(pick(item.extent), 3),
                    "shown_unit": self.extent_unit(item),
                    "hours": round(pick(item.hours), 2),
                    "cost": known(pick(item.cost), 2),
                    "tool": item.tool
                    if item.owned or item.tool == "sent out"
                    else f"{item.tool}, sent out",
                    "owned": item.owned,
                    "fitting": item.rule.fitting,
                    "why": self.say(words, at, self.plan, {"figure": (figure_, unit)}),
                    "afterwards": self.afterwards(item.rule, at),
                }
            )
        return rows

    def afterwards(self, rule: Rule, at: int) -> Said | None:
        """What is measured again once it is done, and what it then has to be; None where nothing
        is.
        """
        template, values = [], {}
        for check in self.a.engine.book.judging(rule.name):
            applies, value, _ = self.read(check, at, self.plan)
            number = self.a.engine.checks.index(check)
            if (
                check.kind == "wish"
                or not applies
                or not check.unit
                or self.a.unmeasured[self.shown[at], number]
            ):
                continue
            if math.isnan(value) or abs(value) < NOTHING:
                continue
            template.append(f"{plain_name(check.title)} {{{check.name}}}")
            values[check.name] = (value, self.units[check.name])
        if not template:
            return None
        return Said(", ".join(template[:MOST_AFTERWARDS]), values)

    def plan_rows(self, at: int) -> list[Row]:
        """Every figure of the plan that is not nothing done, the seat first."""
        a, build = self.a, self.shown[at]
        seat = a.figures.seat
        assert seat is not None
        rows = []
        if not math.isnan(seat.thickness[build, 0]):
            low, high = seat.thickness_low[build, 0], seat.thickness_high[build, 0]
            rows.append(
                self.seat_row(at, "adapter_thickness", seat.thickness[build, 0], low, high, None)
            )
        shift = float(seat.shift[build, 0])
        if shift > 0:
            low, high = seat.shift_low[build, 0], seat.shift_high[build, 0]
            rows.append(self.seat_row(at, "engine_shift", shift, low, high, 0.0))
        for key, item in self.items(at):
            pick = lambda array: float(self.plan.pick(array)[at, 0])
            value = pick(item.figure)
            rule = item.rule
            rows.append(
                self.head(at)
                | {
                    "decision": key,
                    "on": rule.on,
                    "blind": rule.blind,
                    "figure": known(math.degrees(value) if rule.unit == "rad" else value),
                    "unit": plain_unit("deg" if rule.unit == "rad" else rule.unit),
                    "shown_unit": "deg" if rule.unit == "rad" else self.units[rule.name],
                    "nothing_done": 0.0,
                    "undo": UNDO_STEPS[int(pick(item.undo))],
                    "hours": round(pick(item.hours), 2),
                    "cost": known(pick(item.cost), 2),
                    "tool": item.tool,
                    "tolerance_low": None,
                    "tolerance_high": None,
                }
            )
        return rows

    def seat_row(
        self, at: int, name: str, figure_: float, low: float, high: float, nothing: float | None
    ) -> Row:
        return self.head(at) | {
            "decision": name, "on": "engine" if name == "engine_shift" else "bellhousing", "blind": True,
            "figure": known(figure_), "unit": "mm", "shown_unit": self.units[name], "nothing_done": nothing, "undo": UNDO_STEPS[0],
            "hours": 0.0, "cost": 0.0, "tool": "hand tools", "tolerance_low": known(low),
            "tolerance_high": known(high),
        }  # fmt: skip

    # ---- ranking ---------------------------------------------------------------------------------

    def rank_row(self, at: int) -> Row:
        a, build = self.a, self.shown[at]
        deciding = a.deciding.get(build, [])
        open_ = not a.draws or len(deciding) > FEW
        chance = lambda value: None if open_ else known(value, 4)
        cuts = self.plan.cuts[at, 0]
        step = int(a.plan_step[build])
        first, place = a.chance_first, int(np.flatnonzero(a.order == build)[0])
        return (
            {"rank": at + 1}
            | self.head(at)
            | {
                "outcome": OUTCOMES[a.outcome[build]],
                "firm": bool(a.firm[build]),
                "score": round(float(a.score[build]), 1),
                "value": known(a.value[build], 2),
                "value_low": known(a.value_low[build], 2),
                "value_high": known(a.value_high[build], 2),
                "cruise_rpm": self.fact(CRUISE_SPEED_OF_ENGINE, at, 0),
                "undo": UNDO_STEPS[step],
                "cut_mm": round(float(cuts[step]), 2) if step else 0.0,
                "shown_unit": self.cut_unit(at, step),
                "cost": known(a.cost[build], 2),
                "hours": known(a.hours[build], 1),
                "why": self.why(at),
                "chance_fitted": chance(a.chance[build]),
                "chance_with_these_figures": chance(a.chance_plan[build]),
                "draws": int(a.tally.draws[build]),
                "chance_error": None if not a.draws else known(self.errors[build], 4),
                "chance_bolts_in": chance(a.tally.bolts_in[build] / a.tally.draws[build])
                if a.draws
                else None,
                "undo_shares": self.undo_shares(build) if a.draws else None,
                **self.bands(build),
                "chance_first": known(first[place], 4) if a.draws else None,
                "utility": {
                    c: known(u)
                    for c, u in zip(a.engine.criteria, self.plan.utility[at, 0], strict=True)
                },
                "unmeasured": [
                    f"{r.title}: {self.lacking_words(r, at)}"
                    for n, r in enumerate(a.engine.checks)
                    if a.unmeasured[build, n]
                ],
                "lacking": self.lacking_rows(at),
                "likely": self.likely(at),
            }
        )

    def cut_unit(self, at: int, step: int) -> str:
        """The unit on pages of what is cut at a step: by a tape only where all of it is."""
        done = [i for _, i in self.items(at) if int(self.plan.pick(i.undo)[at, 0]) == step]
        units = {self.extent_unit(i) for i in done if float(self.plan.pick(i.extent)[at, 0]) > 0}
        return "mm tape" if units == {"mm tape"} else "mm"

    def lacking_rows(self, at: int) -> list[Row]:
        """Checks that are unmeasured, those that hang on the same numbers together."""
        a, build = self.a, self.shown[at]
        together: dict[tuple[str, ...], list[str]] = {}
        for number, rule in enumerate(a.engine.checks):
            if a.unmeasured[build, number]:
                names = dict.fromkeys(plain_name(n) for _, n in self.lacking(rule, at))
                together.setdefault(tuple(names), []).append(rule.title)
        return [{"names": list(names), "checks": checks} for names, checks in together.items()]

    def fact(self, name: str, at: int, digits: int = 4) -> float | None:
        return known(self.plan.value(name, at), digits)

    def undo_shares(self, build: int) -> list[float] | None:
        goes = self.a.drawn.goes_fitted[build] == 1
        if not goes.any():
            return None
        counts = np.bincount(self.a.drawn.step[build][goes], minlength=len(UNDO_STEPS))
        return [round(float(c), 4) for c in counts / goes.sum()]

    def bands(self, build: int) -> Row:
        """5 to 95 % of hours and money of the plan."""
        row: Row = {}
        for name in ("hours", "cost"):
            drawn = getattr(self.a.drawn, name)[build]
            sound = bool(self.a.draws) and not np.isnan(drawn).any()
            low, high = np.quantile(drawn, (0.05, 0.95)) if sound else (math.nan, math.nan)
            row |= {f"{name}_low": known(low, 2), f"{name}_high": known(high, 2)}
        return row

    def why(self, at: int) -> Said:
        """One line: what rules it out, what to measure, or what it takes."""
        a, build = self.a, self.shown[at]
        code = int(a.outcome[build])
        if code >= labels.MEASURE:
            return self.why_not(at, code)
        parts: list[Said | str] = []
        shift = self.plan.value("engine_shift", at)
        if shift > 0.05:
            parts.append(
                Said("engine {shift} forward", {"shift": (shift, self.units["engine_shift"])})
            )
        parts += [self.short(item, at) for _, item in self.items(at) if not item.rule.fitting]
        parts = parts or [Said("nothing to cut, nothing to make")]
        likely = self.likely(at)
        if likely:
            more = f" and {len(likely) - 4} more" if len(likely) > 4 else ""
            names = {"names": ", ".join(likely[:4]) + more}
            parts.append(Said("not known, so reckoned with what is likely: {names}", names))
        return joined(parts)

    def likely(self, at: int) -> list[str]:
        """Numbers of the gearbox that nobody gave, on which fit or road checks hang: drawn over what is likely."""
        a, build = self.a, self.shown[at]
        if a.outcome[build] >= labels.MEASURE:
            return []
        names: dict[str, None] = {}
        for number, rule in enumerate(a.engine.checks):
            if a.unmeasured[build, number] and rule.kind != "wish":
                owned = (n for owner, n in self.lacking(rule, at) if owner != "car")
                names |= dict.fromkeys(plain_name(n) for n in owned)
        return list(names)

    def short(self, item: Item, at: int) -> Said:
        text = self.operation(item)
        text = text[0].lower() + text[1:]
        extent = float(self.plan.pick(item.extent)[at, 0])
        if extent <= 0 or float(self.plan.pick(item.undo)[at, 0]) == 0:
            return Said(text)
        return Said(text + " {extent}", {"extent": (extent, self.extent_unit(item))})

    def extent_unit(self, item: Item) -> str:
        """The unit on pages of how much is cut."""
        unit = self.units[item.rule.name]
        return unit if unit.startswith("mm") else "mm"

    def why_not(self, at: int, code: int) -> Said:
        a, build = self.a, self.shown[at]
        deciding = a.deciding.get(build, [])
        clashes = self.clashes(at)
        if code == labels.MEASURE and deciding:
            names = list(dict.fromkeys(plain_name(n) for _, n in deciding))
            more = f" and {len(names) - 4} more" if len(names) > 4 else ""
            return Said("not known: {names}", {"names": ", ".join(names[:4]) + more})
        if code == labels.RULED_OUT and clashes:
            return self.check_said(clashes[0], at, self.plan, CLASH, 1.0)
        worst = self.doubtful(at)
        if not worst:
            return Said("not known whether it goes in")
        return joined([self.doubt_said(rule, at) for rule in worst])

    def clashes(self, at: int) -> list[Rule]:
        engine = self.a.engine
        return [
            r for n, r in enumerate(engine.checks)
            if self.fitted.verdicts[n, at, 0] == CLASH and engine.decides[n]
        ]  # fmt: skip

    def doubtful(self, at: int) -> list[Rule]:
        """The two checks that clash in most draws, fitted."""
        a, build = self.a, self.shown[at]
        shares = np.where(a.engine.decides, a.drawn.clash_fitted[build], 0.0)
        return [a.engine.checks[n] for n in np.argsort(-shares)[:2] if shares[n] > 0.01]

    def doubt_said(self, rule: Rule, at: int) -> Said:
        number = self.a.engine.checks.index(rule)
        share = float(self.a.drawn.clash_fitted[self.shown[at], number])
        values = {"check": plain_name(rule.title), "share": f"{100 * share:.0f} %"}
        return Said("{check} fails in {share} of the draws", values)

    # ---- seats and gears -------------------------------------------------------------------------

    def seat(self, at: int) -> Row:
        from compare.answer.seat_words import shift_window, window_said

        a, build, fitted = self.a, self.shown[at], self.fitted
        step = int(fitted.deepest[at, 0])
        pick = lambda array: float(fitted.pick(array)[at, 0])
        names = fitted.names
        window, clear = (names[n] for n in THICKNESS_WINDOWS)
        planned = a.figures.seat
        assert planned is not None
        thickness = planned.thickness[build, 0]
        if math.isnan(thickness):
            thickness = self.plan.value("adapter_thickness", at)
        return self.head(at) | {
            "adapter_thickness_mm": known(fitted.value("adapter_thickness", at)),
            "engine_shift_mm": known(fitted.value("engine_shift", at)),
            "planned_adapter_thickness_mm": known(thickness),
            "planned_engine_shift_mm": known(planned.shift[build, 0]),
            "adapter_thickness_tolerance_mm": [
                known(planned.thickness_low[build, 0]), known(planned.thickness_high[build, 0])
            ],
            "engine_shift_tolerance_mm": [
                known(planned.shift_low[build, 0]), known(planned.shift_high[build, 0])
            ],
            "undo": UNDO_STEPS[step],
            "cut_mm": round(float(fitted.cuts[at, 0, step]), 4) if step else 0.0,
            "thickness_window_mm": [known(pick(window.low)), known(pick(window.high))],
            "thickness_window_clear_mm": [known(pick(clear.low)), known(pick(clear.high))],
            "shift_window_mm": shift_window(fitted, at),
            "why": window_said(fitted, at),
        }  # fmt: skip

    def gear_rows(self, at: int, result: Result, candidate: str) -> list[Row]:
        names = result.names
        wide = lambda name: np.broadcast_to(np.asarray(names[name]), (*result.shape, 8))[at, 0]
        ratios = wide("ratios")
        shown = {key: wide(name) for key, name in GEAR_FACTS.items()}
        redline_rpm = float(np.asarray(names["engine_redline"])[0, 0])
        rows = []
        for gear in np.flatnonzero(~np.isnan(ratios)).tolist():
            last = gear == 7 or math.isnan(ratios[gear + 1])
            after = math.nan if last else ratios[gear + 1] / ratios[gear] * redline_rpm
            rows.append(
                {"candidate": candidate, "gear": gear + 1, "ratio": round(float(ratios[gear]), 4)}
                | {key: known(values[gear], 2) for key, values in shown.items()}
                | {"rpm_after_upshift": known(after, 0), "last": last}
            )
        return rows

    def route_rows(self, at: int) -> list[Row]:
        """Every option of every choice, with the share of draws in which it works."""
        rows = []
        for rule in self.a.engine.book.of("choice"):
            ask = self.plan.names[f"ask {rule.name}"]
            works = np.broadcast_to(ask.works, (*self.plan.shape, len(rule.options)))[at, 0]
            taken = self.plan.value(rule.name, at)
            shares = self.a.figures.shares.get(rule.name)
            for index, option in enumerate(rule.options):
                share = None if shares is None else known(shares[self.shown[at], index], 4)
                rows.append(
                    self.head(at)
                    | {
                        "choice": rule.name,
                        "about": rule.meaning,
                        "option": option.name,
                        "chosen": taken == index,
                        "margin": known(works[index]),
                        "share": share,
                        "undo": option.undo,
                    }
                )
        return rows

    def facts(self, at: int) -> dict[str, Any]:
        """Every quantity of the plan with one number, nominal; stations and pieces as lists."""
        found: dict[str, Any] = {}
        for name, array in self.plan.names.items():
            if name.startswith("ask "):
                continue
            if isinstance(array, np.ndarray) and array.ndim == 3 and array.shape[:1] == (1,):
                found[name] = [known(v) for v in array[0, 0]]
                continue
            value = self.plan.value(name, at)
            if not math.isnan(value):
                found[name] = value
        return found


def plain_unit(unit: str) -> str:
    """The unit of a row: a diameter is in mm.

    >>> plain_unit("mm diameter")
    'mm'
    """
    return unit.removesuffix(" diameter")


# ---- the whole report ----------------------------------------------------------------------------


def shown_builds(a: Assessment, top: int = 0, of: Sequence[str] = ()) -> list[int]:
    """The builds that pages show, best first: the best of each candidate, `top` of them, all for 0.

    of: those of the candidates named alone, or of all. Raises InputError for a name that is not there.
    """
    order = [int(b) for b in a.order]
    if of:
        rows = named_rows(a.builds.catalogue, of)
        order = [b for b in order if int(a.builds.candidate[b]) in rows]
    return order[:top] if top else order


def make_report(a: Assessment, top: int = 0, of: Sequence[str] = ()) -> Report:
    """All facts of an assessment. top: how many candidates to show, 0 for all; of: only these."""
    shown = shown_builds(a, top, of)
    maker = Maker(a, shown)
    every = range(len(shown))
    baseline = baseline_row(a)
    ranking = [maker.rank_row(at) for at in every]
    by_name: Callable[[Any], dict[str, Callable[[], Any]]] = lambda make: {
        maker.candidate(at): partial(make, at) for at in every
    }
    gears = by_name(lambda at: maker.gear_rows(at, maker.plan, maker.candidate(at)))
    if a.today is not None:
        gears[KEEP] = lambda: maker_of_today(maker)
        ranking.append(keep_row(a, len(a.order)))
        ranking.sort(key=lambda r: -(r["value"] if r["value"] is not None else -1e9))
    places = _places(a)
    for row in ranking:
        row["rank"] = places[row["candidate"]]
    table = lambda make: Rows(by_name(make))
    whole = lambda make: Rows({"": make})
    return Report(
        car=car_row(a),
        ranking=tuple(ranking),
        checks=table(maker.check_rows),
        plan=table(maker.plan_rows),
        work=table(maker.work_rows),
        seats=table(lambda at: [maker.seat(at)]),
        gears=Rows(gears),
        routes=table(maker.route_rows),
        builds=whole(lambda: build_rows(a)),
        baseline=baseline,
        waiting=tuple(waiting_rows(a, maker)),
        not_judged=tuple(not_judged_rows(a)),
        assumed=tuple(assumed(a)),
        deciding={
            a.builds.candidate_name(b): names for b, names in a.deciding.items() if b in shown
        },
        facts=Facts(by_name(maker.facts)),
        units=maker.units,
        criteria=tuple(criterion_rows(a)),
        warnings=tuple(a.warnings),
        left_out=len(a.order) - len(shown),
        car_table=whole(lambda: car_table(a)),
        catalogue=whole(lambda: typed_rows(a.builds.catalogue)),
        parts=whole(lambda: typed_rows(a.builds.parts) if a.builds.parts else ()),
        limits=whole(lambda: limit_rows(a)),
        to_measure=whole(lambda: to_measure(a, maker)),
        measured=whole(lambda: log_rows(a)),
        live=cache(lambda: live(a, {row["candidate"]: row for row in ranking}, KEEP)),
    )


def _places(a: Assessment) -> dict[str, int]:
    """Rank of every candidate, today's gearbox among them; of equals it is the last."""
    rows = [(a.builds.candidate_name(int(b)), known(a.value[b], 2)) for b in a.order]
    rows += [(KEEP, known(a.keep_value, 2))] if a.today is not None else []
    worth = lambda row: -(row[1] if row[1] is not None else -1e9)
    return {name: at for at, (name, _) in enumerate(sorted(rows, key=worth), start=1)}


def maker_of_today(maker: Maker) -> list[Row]:
    assert maker.a.today is not None
    return maker.gear_rows(0, maker.a.today.result, KEEP)


def car_row(a: Assessment) -> Row:
    car, catalogue, parts = a.car, a.builds.catalogue, a.builds.parts
    texts = car.texts
    return {
        "name": car.name,
        "file": car.file,
        "digest": car.digest,
        "catalogue": catalogue.file,
        "catalogue_digest": catalogue.digest,
        "parts": parts.file if parts else None,
        "parts_digest": parts.digest if parts else None,
        "candidates": len(a.order),
        "builds": len(a.builds),
        "draws": a.draws,
        "most_draws": int(a.tally.draws.max(initial=0)),
        "seed": a.seed,
        "weights": {
            c: round(float(w), 6) for c, w in zip(a.engine.criteria, a.engine.weights, strict=True)
        },
        "sure_enough": a.engine.sure_enough,
        "money_per_point": known(a.engine.money_per_point, 4),
        "cruise_speed_kmh": known(car.values["cruise_speed"].nominal)
        if "cruise_speed" in car.values
        else None,
        "deepest_cut": UNDO_STEPS[a.engine.deepest],
        "budget": known(a.engine.budget, 2),
        "currency": texts.get("policy_currency", ""),
        "profile": [{"section": s, "key": k, "typed": t} for s, k, t in car.shown],
    }


def keep_row(a: Assessment, rank: int) -> Row:
    """Today's gearbox as a row of the ranking: nothing done, nothing paid."""
    assert a.today is not None
    blank = dict.fromkeys(
        ("chance_fitted", "chance_with_these_figures", "chance_error", "chance_bolts_in", "undo_shares",
         "hours_low", "hours_high", "cost_low", "cost_high"),
    )  # fmt: skip
    result = a.today.result
    return {
        "rank": rank + 1, "candidate": KEEP, "build": "", "outcome": "as the car is today", "firm": True,
        "score": round(a.keep_value, 1), "value": known(a.keep_value, 2), "value_low": known(a.keep_value, 2),
        "value_high": known(a.keep_value, 2), "cruise_rpm": known(result.value(CRUISE_SPEED_OF_ENGINE, 0), 0),
        "undo": UNDO_STEPS[0], "cut_mm": 0.0, "shown_unit": "mm", "cost": 0.0, "hours": 0.0, "why": Said("nothing to do"),
        "chance_first": known(a.chance_first[-1], 4) if a.draws else None, "utility": {
            c: known(u) for c, u in zip(a.engine.criteria, result.utility[0, 0], strict=True)},
        "unmeasured": [], "lacking": [], "likely": [], **blank,
    }  # fmt: skip


def baseline_row(a: Assessment) -> Row | None:
    """Today's gearbox as found: whether it passes, and each check with what feeds it."""
    if a.today is None:
        return None
    result, checks = a.today.result, []
    units = units_by_name(a.engine.book)
    for number, rule in enumerate(a.engine.checks):
        reading = result.readings[rule.name]
        applies = float(result.pick(reading.applies)[0, 0])
        code = int(result.verdicts[number, 0, 0])
        judged = rule.name in a.engine.today
        fed = sorted(n for n in a.engine.book.feeds(rule.name) if not n.startswith("present_"))
        present = a.car.present.keys() | a.car.present_choices.keys()
        mine = [f"gearbox {plain_name(n)}" if n in present else plain_name(n) for n in fed]
        checks.append(
            {
                "check": rule.title,
                "verdict": VERDICTS[CLASH if judged else code],
                "value": known(float(result.pick(reading.value)[0, 0])) if applies == 1 else None,
                "unit": plain_unit(rule.unit),
                "shown_unit": units[rule.name],
                "fed_by": mine,
                "as_today": judged,
            }
        )
    failing = {rule.title for rule in a.engine.checks if rule.name in a.today.failing}
    return {
        "passes": a.today.passes,
        "failing": sorted(failing),
        "checks": checks,
        "kept": known(a.gauge_kept, 4),
    }


def build_rows(a: Assessment) -> tuple[Row, ...]:
    """Every build of every candidate, for comparing plates, tails and shafts."""
    return tuple(
        {
            "candidate": a.builds.candidate_name(b),
            "build": a.builds.name(b),
            "outcome": OUTCOMES[a.outcome[b]],
            "chance_fitted": known(a.chance[b], 4) if a.draws else None,
            "value": known(a.value[b], 2),
            "score": round(float(a.score[b]), 1),
            "cost": known(a.cost[b], 2),
            "hours": known(a.hours[b], 1),
            "undo": UNDO_STEPS[int(a.plan_step[b])],
        }
        for b in range(len(a.builds))
    )


def waiting_rows(a: Assessment, maker: Maker) -> list[Row]:
    """The car's own unknown numbers that hold labels back: said once for all."""
    counts: dict[str, int] = {}
    for build in maker.shown:
        for owner, name in a.deciding.get(build, []):
            if owner == "car":
                counts[name] = counts.get(name, 0) + 1
    hopeful = sum(int(a.outcome[b]) != labels.RULED_OUT for b in maker.shown)
    return [{"name": n, "candidates": c, "all": c >= hopeful} for n, c in counts.items()]


def to_measure(a: Assessment, maker: Maker) -> list[Row]:
    """What decides and is not known, then what leaves a check unmeasured."""
    named = {a.builds.candidate_name(b): n for b, n in a.deciding.items() if b in maker.shown}
    lacking = [
        one
        for at, build in enumerate(maker.shown)
        for number, rule in enumerate(a.engine.checks)
        if a.unmeasured[build, number] and a.outcome[build] != labels.RULED_OUT
        for one in maker.lacking(rule, at)
    ]
    return measure_rows(a, named, lacking)


def not_judged_rows(a: Assessment) -> list[Row]:
    """Road checks that the car's missing numbers leave unjudged."""
    rows = []
    for rule in a.engine.checks:
        owed = a.engine.owed(rule)
        if owed:
            lacking = [plain_name(k).replace("present ", "today's ") for k in owed]
            rows.append({"check": rule.title, "lacking": lacking})
    return rows


def assumed(a: Assessment) -> list[Said]:
    """What the profile does not say and was assumed, in plain words."""
    values, said = a.car.values, []
    if not a.car.tools:
        said.append(Said("no tools stated: all machining is sent out"))
    if "workshop_rate" not in values:
        said.append(Said("your own hour counts {rate}", {"rate": (10.0, "money")}))
    if "policy_resale" not in values or (
        values["policy_resale"].half == 0.0
        and "policy" not in {s for s, k, _ in a.car.shown if k == "resale"}
    ):
        said.append(Said("a gearbox that does not go in fetches half its price"))
    if not math.isfinite(
        values["policy_budget"].nominal if "policy_budget" in values else math.inf
    ):
        said.append(
            Said("no budget stated: {budget} counted", {"budget": (a.engine.budget, "money")})
        )
    if "driveshaft_greatest_speed" not in values:
        said.append(Said("propeller shaft judged at redline in top gear"))
    return said


def criterion_rows(a: Assessment) -> list[Row]:
    meanings = {r.name: r.meaning for r in a.engine.book.criteria}
    return [
        {
            "criterion": c,
            "weight": round(float(w), 6),
            "meaning": meanings.get(c, "your own mark, 0 to 10"),
        }
        for c, w in zip(a.engine.criteria, a.engine.weights, strict=True)
    ]
