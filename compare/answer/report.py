"""The finished assessment as rows: what every report shows, made once.

Rows are plain dicts with the fixed keys of the JSON report; sentences are filled in here, with units as
the user prefers, from the templates that each rule carries.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from compare.answer.missing import missing_inputs
from compare.figures import figure
from compare.judge import seat
from compare.judge.engine import Assessment, Engine, Result
from compare.judge.rules import CLASH, TIGHT, UNMEASURED, AtLeast, AtMost, Own, Rule
from compare.topics.input_shaft import ROUTE_HOURS, ROUTE_MATERIAL, ROUTE_UNDO, ROUTES, WINDOW_CHECKS
from compare.vocabulary import CRITERIA, OUTCOMES, UNDO_STEPS, VERDICTS, car_terms_by_name, catalogue_terms

__all__ = ["Row", "Tables", "plain_name"]

Row = dict[str, Any]
KIND_UNIT = {
    "length": "mm", "position": "mm", "diameter": "mm diameter", "angle": "rad", "torque": "N·m", "mass": "kg", "speed": "km/h",
    "rpm": "rev/min", "money": "money", "count": "count", "counts": "count", "ratio": "ratio", "pair": "mm", "per_km": "turns/km",
}  # fmt: skip
DIAMETERS = ("journal_after", "pilot_size", "pilot_cut", "case_assumed", "slave_bore_made", "slave_bore_wanted", "disc_match", "register_fit")
RATIOS = ("axle_to_suit", "top_ratio")
COUNTS = ("driven_to_order", "parts_inside", "top_speed_gear", "best_pull_gear")


def plain_name(name: str) -> str:
    """A column or key in words: `shaft_stickout` -> `shaft stickout`, `crank_bore_depth` -> `crank bore depth`.

    >>> plain_name("car_mount_drop_most")
    'mount drop most'
    """
    return name.removeprefix("car_").replace("_", " ")


@dataclass
class Tables:
    """All rows of one assessment, in one system of units."""

    assessment: Assessment
    units: str = "metric"
    _units: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        a = self.assessment
        for name, term in {**catalogue_terms(), **car_terms_by_name()}.items():
            self._units[name] = KIND_UNIT.get(term.kind, "")
        self._units |= {f"car_mount_zone_{end}": "mm" for end in ("start", "end")}
        for rule in a.engine.book.rules.values():
            self._units[rule.name] = rule.unit
        self._units |= dict.fromkeys(DIAMETERS, "mm diameter") | dict.fromkeys(RATIOS, "ratio") | dict.fromkeys(COUNTS, "count")
        self._units |= {"engine_shift": "mm", "adapter_thickness": "mm", "total_cost": "money", "budget": "money"}

    def frame(self, table: str) -> Any:
        """One table (ranking, checks, work, seats, gears) as a pandas frame. Raises KeyError for another name."""
        import pandas

        if table not in ("ranking", "checks", "work", "seats", "gears"):
            raise KeyError(table)
        return pandas.DataFrame(getattr(self, table))

    # ---- the shown builds -----------------------------------------------------------------------------

    @cached_property
    def shown(self) -> list[int]:
        """The best build of every candidate, best first."""
        return [int(b) for b in self.assessment.order]

    @cached_property
    def result(self) -> Result:
        return self.assessment.nominal(self.shown)

    def value(self, name: str, at: int, result: Result | None = None) -> float:
        """The nominal value of any named quantity for an entry of `shown`; NaN when it has none."""
        result = result or self.result
        limits = self.assessment.engine.limits
        if name in limits:
            return limits[name]
        found = result.names.get(name)
        if found is None:
            return math.nan
        if hasattr(found, "works"):
            found = found.value
        array = np.asarray(found, dtype=float)
        if array.ndim != 2:
            return math.nan
        return float(np.broadcast_to(array, result.shape)[at, 0])

    def show(self, value: float, unit: str) -> str:
        return figure(value, unit, self.units)

    def sentence(self, template: str, at: int, rule: Rule) -> str:
        """Fill a rule's template with figures."""
        result = self.result

        def fill(match: re.Match[str]) -> str:
            name = match[1]
            if name == "short":
                works = np.broadcast_to(result.readings[rule.name].works, result.shape)[at, 0]
                return self.show(abs(float(works)), self._units.get(rule.name, rule.unit))
            if name == "route":
                route = self.value("route_taken", at)
                return "pilot" if math.isnan(route) else ROUTES[int(route)]
            if name.endswith("_extent"):
                extent = np.broadcast_to(result.tallies[name.removesuffix("_extent")].extent, result.shape)[at, 0]
                return self.show(float(extent), "mm")
            if name.endswith("_stretch"):
                return self._stretch(name.removesuffix("_stretch"), at)
            return self.show(self.value(name, at), self._units.get(name, ""))

        return re.sub(r"\{(\w+)\}", fill, template)

    def _stretch(self, side: str, at: int) -> str:
        """`x 640 to 710 mm`: where one side of the tunnel is short."""
        stretch = tunnel_stretch(self.result, at, side.removeprefix("tunnel_"), self.assessment.engine.limits["tunnel_tight"])
        if stretch is None:
            return "?"
        return f"x {self.show(stretch[0], 'mm')} to {self.show(stretch[1], 'mm')}"

    def candidate(self, at: int) -> str:
        return self.assessment.builds.candidate_name(self.shown[at])

    def build(self, at: int) -> str:
        return self.assessment.builds.name(self.shown[at])

    # ---- rows -----------------------------------------------------------------------------------------

    @cached_property
    def ranking(self) -> list[Row]:
        a = self.assessment
        rows: list[Row] = []
        for at, b in enumerate(self.shown):
            cuts = self.result.cuts[at, 0]
            step = self._deepest(at)
            dominator = a.dominated[at]
            rows.append(
                {
                    "rank": at + 1,
                    "candidate": self.candidate(at),
                    "build": self.build(at),
                    "outcome": OUTCOMES[a.outcome[b]],
                    "score": round(float(a.score[b]), 1),
                    "cruise_rpm": _known(self.value("cruise_rpm", at), 0),
                    "undo": UNDO_STEPS[step],
                    "cost": _known(float(a.total_cost[b]), 2),
                    "hours": _known(float(a.hours[b]), 1),
                    "why": self.why(at),
                    "cut_mm": round(float(cuts[step]), 2) if step else 0.0,
                    "score_low": round(float(a.band[b, 0]), 1),
                    "score_high": round(float(a.band[b, 1]), 1),
                    "chance_goes_in": round(float(a.outcome_share[b, 0] + a.outcome_share[b, 1]), 3),
                    "chance_first": round(float(a.chance_first[at]), 3),
                    "chance_first_any_weights": round(float(a.chance_first_any_weights[at]), 3),
                    "dominated_by": self.candidate(dominator) if dominator >= 0 else "",
                    "to_move_up": self.to_move_up(at),
                    "utility": {c: _known(float(a.utility[b, i]), 4) for i, c in enumerate(CRITERIA)},
                    "unmeasured": self.unmeasured(at),
                }
            )
        return rows

    def _deepest(self, at: int) -> int:
        """Index of the deepest undo step that the shown build's work needs."""
        return max((int(undo[at]) for _, _, helps, barred, _, undo, _, _ in self._work_columns if helps[at] or barred[at]), default=0)

    @cached_property
    def missing(self) -> list[dict[str, list[str]]]:
        return missing_inputs(self.assessment, self.shown)

    def unmeasured(self, at: int) -> list[str]:
        """The checks that stay open, each with what it lacks."""
        return [f"{check}: {', '.join(names) or 'unknown'}" for check, names in self.missing[at].items()]

    def _clashes(self, at: int) -> list[Rule]:
        checks = self.assessment.engine.checks
        return [r for i, r in enumerate(checks) if self.result.verdicts[i, at, 0] == CLASH and not self.result.resolved[i, at, 0]]

    def why(self, at: int) -> str:
        """One line: what rules it out, what to measure, or what it takes."""
        code = int(self.result.outcome[at, 0])
        if code == 3:
            reasons = [self.sentence(r.words.get("clash", r.question), at, r) for r in self._clashes(at)]
            gain = self.permitting.get(at)
            return "; ".join([*reasons[:2], *([gain] if gain else [])])
        if code == 2:
            decides = {r.title for r in self.assessment.engine.checks if r.decides}
            names = list(dict.fromkeys(n for c, miss in self.missing[at].items() if c in decides for n in miss))
            shown = ", ".join(plain_name(n) for n in names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
            return f"not known: {shown}"
        parts = [r["short"] for r in self.work_of(at)]
        shift = self.value("engine_shift", at)
        if shift > 0.05:
            parts.insert(0, f"engine {self.show(shift, 'mm')} forward")
        return "; ".join(parts) if parts else "nothing to cut, nothing to make"

    def to_move_up(self, at: int) -> str:
        """The one change that would lift it most: what blocks it, else the criterion that costs it most."""
        code = int(self.result.outcome[at, 0])
        if code >= 2:
            return self.why(at)
        utility = np.where(np.isnan(self.result.utility[at, 0]), 0.5, self.result.utility[at, 0])
        lost = self.assessment.engine.weights * (1.0 - utility)
        worst = int(lost.argmax())
        if lost[worst] < 0.005:
            return "nothing"
        return f"{CRITERIA[worst].replace('_', ' ')}: {100 * lost[worst]:.0f} of 100 points lost there"

    @cached_property
    def permitting(self) -> dict[int, str]:
        """For candidates ruled out: what the policy would have to permit, and what that gains."""
        a = self.assessment
        todo = [at for at in range(len(self.shown)) if self.result.outcome[at, 0] == 3 and self.result.barred[at, 0]]
        found: dict[int, str] = {}
        for step in range(a.engine.deepest + 1, len(UNDO_STEPS)) if todo else ():
            freer = replace(a.car, choices=a.car.choices | {"policy_deepest_cut": float(step)})
            result = a.nominal([self.shown[at] for at in todo], Engine(freer, a.engine.book))
            for i, at in enumerate(todo):
                if result.outcome[i, 0] < 3 and at not in found:
                    cut = float(result.cuts[i, 0, step])
                    found[at] = f"permitting a {UNDO_STEPS[step]} ({self.show(cut, 'mm')}) would let it in"
        return found

    def limit_words(self, rule: Rule) -> str:
        limits = self.assessment.engine.limits
        unit = self._units.get(rule.name, rule.unit)
        if isinstance(rule.limit, AtLeast | AtMost):
            clear, tight = limits[f"{rule.title}_clear"], limits[f"{rule.title}_tight"]
            sign = "≥" if isinstance(rule.limit, AtLeast) else "≤"
            if clear == tight:
                return f"{sign} {self.show(clear, unit)}"
            return f"clear {sign} {self.show(clear, unit)}, tight {sign} {self.show(tight, unit)}"
        assert isinstance(rule.limit, Own)
        words = re.sub(r"\{(\w+)\} mm", lambda m: self.show(limits[m[1]], "mm"), rule.limit.words)
        return re.sub(r"\{(\w+)\}", lambda m: f"{limits[m[1]]:g}", words)

    @cached_property
    def checks(self) -> list[Row]:
        return [row for at in range(len(self.shown)) for row in self.checks_of(at)]

    def checks_of(self, at: int) -> list[Row]:
        a, result = self.assessment, self.result
        rows = []
        for i, rule in enumerate(a.engine.checks):
            reading = result.readings[rule.name]
            code = int(result.verdicts[i, at, 0])
            applies = float(np.broadcast_to(np.asarray(reading.applies, dtype=float), result.shape)[at, 0])
            chance = float(a.chance_check[self.shown[at], i])
            value = float(np.broadcast_to(reading.value, result.shape)[at, 0])
            works = float(np.broadcast_to(reading.works, result.shape)[at, 0])
            rows.append(
                {
                    "candidate": self.candidate(at),
                    "build": self.build(at),
                    "check": rule.title,
                    "verdict": VERDICTS[code],
                    "value": _known(value, 4) if applies == 1 else None,
                    "unit": rule.unit,
                    "limit": self.limit_words(rule),
                    "margin": _known(works, 4) if applies == 1 else None,
                    "why": self._check_why(rule, at, code, applies),
                    "chance": _known(chance, 3),
                    "resolved": bool(result.resolved[i, at, 0]),
                    "shown": self.show(value, self._units.get(rule.name, rule.unit)) if applies == 1 else "–",
                    "question": rule.question,
                }
            )
        return rows

    def _check_why(self, rule: Rule, at: int, code: int, applies: float) -> str:
        if code == UNMEASURED:
            names = self.missing[at].get(rule.title, [])
            return "not known: " + (", ".join(plain_name(n) for n in names) or "an input")
        if applies == 0:
            return "does not arise"
        words = rule.words.get(VERDICTS[code]) or (rule.words.get("tight") if code == TIGHT else "")
        value = self.show(self.value(rule.name, at), self._units.get(rule.name, rule.unit))
        text = self.sentence(words, at, rule) if words else f"{rule.title.replace('_', ' ')} {value}"
        if code == CLASH and self.result.resolved[self.assessment.engine.checks.index(rule), at, 0]:
            text += "; put right by the work listed"
        return text

    @cached_property
    def work(self) -> list[Row]:
        return [{k: v for k, v in row.items() if k != "short"} for at in range(len(self.shown)) for row in self.work_of(at)]

    @cached_property
    def _work_columns(self) -> list[tuple[Rule, bool, list[bool], list[bool], list[float], list[float], list[float], list[float]]]:
        """Per operation that occurs: the rule, tool owned, then per shown build helps, barred, extent, undo, hours, cost."""
        columns = []
        shape = self.result.shape
        pick = lambda a: np.broadcast_to(a, shape)[:, 0].tolist()
        for one in self.result.tallies.values():
            helps, barred = pick(one.helps), pick(one.barred)
            if any(helps) or any(barred):
                columns.append((one.rule, one.owned, helps, barred, pick(one.extent), pick(one.undo), pick(one.hours), pick(one.cost)))
        return columns

    def work_of(self, at: int) -> list[Row]:
        """The operations that a build needs, deepest cut first."""
        rows = []
        candidate, build = self.candidate(at), self.build(at)
        for rule, owned, helps, barred, extents, undo, hours, cost in self._work_columns:
            if not (helps[at] or barred[at]):
                continue
            extent, step = extents[at], int(undo[at])
            size = f" {self.show(extent, 'mm diameter' if rule.name == 'turn_journal' else 'mm')}" if extent > 1e-7 else ""
            rows.append(
                {
                    "candidate": candidate,
                    "build": build,
                    "operation": rule.meaning,
                    "on": rule.on,
                    "undo": UNDO_STEPS[step],
                    "extent_mm": round(extent, 3),
                    "hours": round(hours[at], 2),
                    "cost": round(cost[at], 2),
                    "tool": rule.tool if owned or rule.tool == "sent out" else f"{rule.tool}, sent out",
                    "why": self.sentence(rule.words["why"], at, rule) + ("" if helps[at] else " (not permitted by your policy)"),
                    "permitted": helps[at],
                    "short": rule.meaning[0].lower() + rule.meaning[1:] + size,
                    "step": step,
                }
            )
        return sorted(rows, key=lambda r: -int(r["step"]))

    @cached_property
    def gears(self) -> list[Row]:
        rows = [row for at in range(len(self.shown)) for row in self.gears_of(at, self.result, self.candidate(at))]
        if self.assessment.baseline is not None:
            rows += self.gears_of(0, self.assessment.baseline, "present gearbox")
        return rows

    def gears_of(self, at: int, result: Result, candidate: str) -> list[Row]:
        names = result.names
        pick = lambda name: np.broadcast_to(np.asarray(names[name]), (*result.shape, 8))[at, 0]
        ratios, redline, rpm = pick("ratios"), pick("gear_redline_speed"), pick("gear_cruise_rpm")
        gradient, top = pick("gear_gradient"), pick("gear_top_speed")
        redline_rpm = float(np.asarray(names["engine_redline"])[0, 0])
        rows = []
        for gear in range(8):
            if math.isnan(ratios[gear]):
                continue
            after = ratios[gear + 1] / ratios[gear] * redline_rpm if gear < 7 and not math.isnan(ratios[gear + 1]) else math.nan
            rows.append(
                {
                    "candidate": candidate,
                    "gear": gear + 1,
                    "ratio": round(float(ratios[gear]), 4),
                    "speed_at_redline_kmh": _known(float(redline[gear]), 2),
                    "rpm_at_cruise": _known(float(rpm[gear]), 1),
                    "rpm_after_upshift": _known(float(after), 0),
                    "gradient_at_cruise_percent": _known(float(gradient[gear]), 2),
                    "top_speed_kmh": _known(float(top[gear]), 1),
                }
            )
        return rows

    @cached_property
    def seats(self) -> list[Row]:
        return [self.seat_of(at) for at in range(len(self.shown))]

    def seat_of(self, at: int) -> Row:
        result = self.result
        thickness, shift = float(result.seat.thickness[at, 0]), float(result.seat.shift[at, 0])
        step = self._deepest(at)
        window = result.names["thickness_window"]
        clear = result.names["thickness_window_clear"]
        pick = lambda a: float(np.broadcast_to(a, result.shape)[at, 0])
        low, high = pick(window.low), pick(window.high)
        return {
            "candidate": self.candidate(at),
            "build": self.build(at),
            "adapter_thickness_mm": _known(thickness, 4),
            "engine_shift_mm": _known(shift, 4),
            "undo": UNDO_STEPS[step],
            "cut_mm": round(float(result.cuts[at, 0, step]), 4) if step else 0.0,
            "thickness_window_mm": [_known(low, 4), _known(high, 4)],
            "thickness_window_clear_mm": [_known(pick(clear.low), 4), _known(pick(clear.high), 4)],
            "shift_window_mm": self._shift_window(at),
            "why": " ".join([self.window_words(at), *self.shift_words(at)]),
        }

    def window_words(self, at: int) -> str:
        """The window of adapter thickness in words, or which two checks exclude each other and by how much."""
        window = self.result.names["thickness_window"]
        pick = lambda a: np.broadcast_to(a, self.result.shape)[at, 0]
        low, high = float(pick(window.low)), float(pick(window.high))
        by = [WINDOW_CHECKS[int(pick(i))].replace("_", " ") for i in (window.low_by, window.high_by)]
        if math.isnan(low) and math.isnan(high):
            return "Adapter thickness: no position check is measured."
        if low > high + 1e-7:
            pair = f"{by[0]} and {by[1]}" if by[0] != by[1] else f"the two sides of {by[0]}"
            return f"No adapter thickness seats the shaft as it is: {pair} exclude each other by {self.show(low - high, 'mm')}."
        if math.isnan(low) or math.isnan(high):
            end = f"at least {self.show(low, 'mm')} ({by[0]})" if math.isnan(high) else f"at most {self.show(high, 'mm')} ({by[1]})"
            return f"Adapter thickness: {end}, as far as measured."
        if high < 0:
            return f"The shaft is too short even without an adapter, by {self.show(-high, 'mm')} ({by[1]})."
        text = f"Adapter of {self.show(max(low, 0.0), 'mm')} to {self.show(high, 'mm')} seats the shaft ({by[0]}, {by[1]})"
        clear = self.result.names["thickness_window_clear"]
        c_low, c_high = float(pick(clear.low)), float(pick(clear.high))
        if c_high >= max(c_low, 0.0):
            text += f"; comfortable from {self.show(max(c_low, 0.0), 'mm')} to {self.show(c_high, 'mm')}"
        thickness = float(self.result.seat.thickness[at, 0])
        if not math.isnan(thickness) and not (low - 1e-7 <= thickness <= high + 1e-7):
            text += f"; it has {self.show(thickness, 'mm')}"
        return text + "."

    def _most_shift(self, at: int) -> float:
        found = self.value("most_shift", at)
        return 0.0 if math.isnan(found) else found

    def _shift_window(self, at: int) -> list[float | None]:
        """Shifts that do no deeper or longer cut than the chosen one, at the chosen thickness."""
        result, most = self.result, self._most_shift(at)
        shift = float(result.seat.shift[at, 0])
        depth, thickness = self.value("depth_of_face", at), float(result.seat.thickness[at, 0])
        if math.isnan(depth + thickness):
            return [None, None]
        row = np.array([at])
        flat = seat.Harms([b for b in result.bounds if b.axis == "face"], result.shape)
        marks = [np.array([[0.0, most, shift]])]
        marks += [depth + thickness - b for b in flat.breaks(seat.FACE_LEVELS, row)]
        points = np.concatenate(marks, axis=1)[0]
        points = np.unique(np.clip(points[~np.isnan(points)], 0.0, most))
        middles = (points[1:] + points[:-1]) / 2.0
        harm = lambda p: [flat.harm(level, row, (depth + thickness - p)[None, :])[0] for level in seat.FACE_LEVELS]
        chosen = [h[0] for h in harm(np.array([shift]))]

        def no_worse(p: np.ndarray) -> np.ndarray:
            better = np.zeros(len(p), dtype=bool)
            worse = np.zeros(len(p), dtype=bool)
            for h, c in zip(harm(p), chosen, strict=True):
                worse |= (h > c + 1e-6) & ~better
                better |= (h < c - 1e-6) & ~worse
            return ~worse

        good, between = no_worse(points), no_worse(middles)
        start = int(np.abs(points - shift).argmin())
        low = high = start
        while low > 0 and between[low - 1] and good[low - 1]:
            low -= 1
        while high < len(points) - 1 and between[high] and good[high + 1]:
            high += 1
        return [round(float(points[low]), 4) + 0.0, round(float(points[high]), 4) + 0.0]

    def shift_words(self, at: int) -> list[str]:
        """Per place that today's engine position would cut: over which shift it stays whole."""
        result, most = self.result, self._most_shift(at)
        depth, thickness = self.value("depth_of_face", at), float(result.seat.thickness[at, 0])
        if math.isnan(depth + thickness):
            return []
        words = []
        for bound in (b for b in result.bounds if b.axis == "face" and b.level in seat.FACE_LEVELS):
            zero = np.zeros((1, 1))
            flat = seat.Harms([bound], result.shape)
            today = float(flat.harm(bound.level, np.array([at]), depth + thickness + zero)[0, 0])
            if not today > 1e-6:
                continue
            free = seat.windows(bound, depth, thickness, most, at, result.shape)
            start = f"{self.show(today, 'mm')} of {bound.level} ({bound.place}),"
            if free:
                spans = " or ".join(f"{self.show(lo, 'mm')} to {self.show(hi, 'mm')}" for lo, hi in free)
                words.append(f"{start} none from {spans} forward")
            else:
                left = float(flat.harm(bound.level, np.array([at]), depth + thickness - most + zero)[0, 0])
                words.append(f"{start} {self.show(left, 'mm')} of it still there at {self.show(most, 'mm')} forward")
        return [f"Engine where it is: {'; '.join(words)}."] if words else []

    # ---- pilot routes ---------------------------------------------------------------------------------

    def routes_of(self, at: int) -> list[Row]:
        """Every way to make the journal meet the crankshaft, the chosen one marked; other shafts from the parts last."""
        a, result = self.assessment, self.result
        routes = result.names["pilot_routes"]
        if math.isnan(self.value("route_taken", at)):
            return []
        shape = (*result.shape, len(ROUTES))
        pick = lambda f: np.broadcast_to(f, shape)[at, 0]
        rates, tools = a.engine.rates, a.car.tools
        owned = "lathe" in tools
        rows = []
        for i, name in enumerate(ROUTES):
            works, comfort = float(pick(routes.works)[i]), float(pick(routes.comfort)[i])
            journal, hold = float(pick(routes.journal)[i]), float(pick(routes.hold)[i])
            needs_hold = a.engine.limits["bush_hold_tight"] * journal
            if works < -1e-7:
                state = "does not go"
            elif hold < needs_hold - 1e-7:
                state = f"holds {self.show(needs_hold - hold, 'mm')} too little"
            elif ROUTE_UNDO[i] > a.engine.deepest:
                state = "not permitted"
            else:
                state = "goes" if comfort >= -1e-7 else "goes, tight"
            outside = ROUTE_UNDO[i] == 4 or (not owned and i)
            hours = float(ROUTE_HOURS[i])
            case = self.value("case_assumed", at)
            cut = float(pick(routes.cut)[i])
            rows.append(
                {
                    "route": name,
                    "chosen": bool(pick(routes.chosen[..., None])[0] == i),
                    "state": state,
                    "undo": UNDO_STEPS[int(ROUTE_UNDO[i])],
                    "hours": hours,
                    "cost": float(ROUTE_MATERIAL[i]) + hours * (rates["outside_rate"] if outside else rates["rate"]),
                    "done": "sent out" if outside else "own lathe" if i else "–",
                    "from_mm": _known(self.value("pilot_diameter", at), 3),
                    "to_mm": _known(journal, 3),
                    "bore_mm": _known(float(pick(routes.bore)[i]), 3),
                    "wall_or_clearance_mm": _known(float(pick(routes.wall)[i]), 3),
                    "cut_per_side_mm": _known(cut, 3),
                    "case": "" if i not in (3, 4) else "inside the case" if cut <= case + 1e-9 else "through the case",
                    "bush_length_mm": _known(float(pick(routes.length)[i]), 2),
                    "hold_mm": _known(hold, 2),
                    "end_gap_mm": _known(max(self.value("end_gap", at), 0.0) + self.value("tip_cut", at), 2),
                    "hub_front_mm": _known(self.value("hub_front_margin", at), 2),
                    "hub_rear_mm": _known(self.value("hub_rear_margin", at), 2),
                    "journal_length_mm": _known(self.value("journal_needed", at), 2),
                    "hub_front_new_mm": _known(self.value("hub_front_margin_new", at), 2),
                    "hub_rear_new_mm": _known(self.value("hub_rear_margin_new", at), 2),
                }
            )
        return [*rows, *self._tip_route(at, rows[0])]

    def _tip_route(self, at: int, like: Row) -> list[Row]:
        """Shortening the tip goes with any of the routes; shown where the tip would bottom."""
        cut = self.value("tip_cut", at)
        if not cut > 1e-7:
            return []
        one = self.result.tallies["shorten_tip"]
        pick = lambda a: float(np.broadcast_to(a, self.result.shape)[at, 0])
        return [
            like
            | {
                "route": "shorten the tip",
                "chosen": bool(pick(one.helps)),
                "state": f"needed besides, {self.show(cut, 'mm')} off",
                "undo": "donor cut",
                "hours": pick(one.hours),
                "cost": pick(one.cost),
                "done": "own lathe" if one.owned else "sent out",
                "wall_or_clearance_mm": None,
                "cut_per_side_mm": None,
                "bush_length_mm": None,
                "hold_mm": None,
                "case": "",
            }
        ]

    def other_shafts_of(self, at: int) -> list[Row]:
        """The same candidate with another input shaft, the best build of each."""
        a = self.assessment
        b = self.shown[at]
        kind = next((k for k in a.builds.part if "shaft" in k), None)
        if kind is None:
            return []
        mine = np.flatnonzero(a.builds.candidate == a.builds.candidate[b])
        rows = []
        for shaft in np.unique(a.builds.part[kind][mine]):
            if shaft == a.builds.part[kind][b]:
                continue
            others = mine[a.builds.part[kind][mine] == shaft]
            other = others[np.lexsort((-a.score[others], a.outcome[others]))[0]]
            one = Tables(a, self.units)
            one.__dict__["shown"] = [int(other)]
            name = "its own input shaft" if shaft < 0 else a.builds.parts.names[shaft]  # type: ignore[union-attr]
            rows.append(
                {
                    "shaft": name,
                    "outcome": OUTCOMES[a.outcome[other]],
                    "score": round(float(a.score[other]), 1),
                    "undo": UNDO_STEPS[one._deepest(0)],
                    "hours": _known(float(a.hours[other]), 1),
                    "cost": _known(float(a.total_cost[other]), 0),
                    "why": one.why(0),
                    "to_mm": _known(one.value("journal_after", 0), 3),
                    "end_gap_mm": _known(one.value("end_gap", 0), 2),
                    "hold_mm": _known(one.value("hold_after", 0), 2),
                    "hub_front_mm": _known(one.value("hub_front_margin", 0), 2),
                    "hub_rear_mm": _known(one.value("hub_rear_margin", 0), 2),
                }
            )
        return rows

    def changed_by_parts(self, at: int) -> list[Row]:
        """What each part of the build changed."""
        a, b = self.assessment, self.shown[at]
        rows: list[Row] = []
        catalogue, parts = a.builds.catalogue, a.builds.parts
        if parts is None:
            return rows
        row = int(a.builds.candidate[b])
        for name, column in a.builds.columns.items():
            owner = int(a.builds.owner[name][b])
            if owner >= 0:
                continue
            before = catalogue.columns[name].nominal[row] if name in catalogue.columns else math.nan
            unit = self._units.get(name, "")
            rows.append({"part": parts.names[-1 - owner], "column": name, "was": self.show(float(before), unit),
                         "is": self.show(float(column.nominal[b]), unit)})  # fmt: skip
        return rows


def tunnel_stretch(result: Result, at: int, side: str, tight: float) -> tuple[float, float] | None:
    """First and last x at which case or tail comes nearer to one side of the tunnel than `tight` [mm]; None if nowhere."""
    n = result.names
    pick = lambda name: float(np.broadcast_to(np.asarray(n[name]), result.shape)[at, 0])
    stations = np.asarray(n["tunnel_x"])[0, 0]
    section = np.asarray(n[f"tunnel_{side}"])[0, 0]
    face = pick("x_face")
    spans = []
    for box, front, rear in (("case", face, face + pick("case_length")), ("tail", face + pick("case_length"), face + pick("length"))):
        need = pick(f"{box}_{side}") + tight
        front, rear = max(front, stations[0]), min(rear, stations[-1])
        if not front < rear or math.isnan(need):
            continue
        xs = np.unique(np.concatenate([[front, rear], stations[(stations > front) & (stations < rear)]]))
        short = need - np.interp(xs, stations, section)
        for i in range(len(xs) - 1):
            a, b, da, db = xs[i], xs[i + 1], short[i], short[i + 1]
            if max(da, db) <= 1e-7:
                continue
            start = a if da > 0 else a + (b - a) * -da / (db - da)
            end = b if db > 0 else a + (b - a) * da / (da - db)
            spans.append((float(start), float(end)))
    return (min(s[0] for s in spans), max(s[1] for s in spans)) if spans else None


def _known(value: float, digits: int) -> float | None:
    if math.isnan(value) or math.isinf(value):
        return None
    return round(value, digits) + 0.0


