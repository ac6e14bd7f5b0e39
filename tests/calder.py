"""The Calder tourer of 1954, an invented open car, and a gearbox for it: what the builds by hand start from.

Flange 18 behind the block, bell 170 deep, stick-out 176: reach = 18 − (170 − 176) = 24 with no plate.
The bore (24) is narrower than the shoulder (28), there is no mouth: the shoulder stops at the flange.
Hub from 26 − 4 − 1 = 21 (worn) to 26 + 24 + 1 = 51 (released) behind the flange; on the shaft 45 to 75.
"""

from __future__ import annotations

import math
from typing import Any

from compare.answer.compare import compare
from compare.read.car import read_car
from compare.read.catalogue import catalogue_table, parts_table
from compare.read.sheet import read_sheet
from compare.vocabulary import UNDO_STEPS, VERDICTS

CAR: dict[str, dict[str, Any]] = {
    "car": {"name": "Calder tourer, 1954", "source": "measured", "mass": 1100, "frontal_area": 2.0,
            "drag_coefficient": 0.6},
    "engine": {"torque_curve": [[1000, 90], [2400, 120], [4000, 105], [5000, 80]], "redline": 5000,
               "slowest_pull": 1200},
    "tyre": {"rolling_circumference": 2010},
    "axle": {"ratio": 4.3},
    "cruise": {"speed": 100, "rpm_low": 2500, "rpm_high": 3400},
    "gearbox": {
        "ratio_1": 3.6, "ratio_2": 2.2, "ratio_3": 1.4, "ratio_4": 1.0, "bellhousing": "car",
        "shaft_stickout": 176, "pilot_diameter": 13.96, "pilot_length": 30, "spline_teeth": 10,
        "spline_diameter": 28, "spline_start": 42, "spline_end": 82, "collar_length": 90,
        "collar_diameter": 38, "length": 720, "case_length": 310, "case_left": 90, "case_right": 90,
        "case_top": 100, "case_bottom": 110, "tail_left": 60, "tail_right": 60, "tail_top": 75,
        "tail_bottom": 80, "mount_position": 650, "mount_drop": 96, "mount_tilt": 0,
        "shifter_position": 680, "shifter_offset": 0, "shifter_room": 80, "turret_width": 70,
        "release_type": "fork", "release_side": "left", "output_type": "slip yoke", "slip_travel": 72,
        "output_spline_teeth": 16, "output_spline_diameter": 25.4, "torque_rating": 150,
        "register_diameter": 150, "speedo_drive": "cable", "speedo_driver_teeth": 6,
        "speedo_driven_teeth": "14",
    },
    "crank": {"flange_position": 18, "bore_diameter": 24, "bore_depth": 40, "bush_bore": 14.0,
              "bush_length": 20, "bush_recess": 3},
    "clutch": {"friction_face": 26, "hub_front": -4, "hub_rear": 24, "wear_travel": 1, "release_float": 1,
               "spline_teeth": 10, "spline_diameter": 28, "release_travel": 8, "release_travel_max": 12,
               "pedal_travel": 140, "pedal_ratio": 5, "master_bore": 19.05, "slave_bore": 20.64,
               "fork_ratio": 2, "free_play": 1, "finger_height": 44, "bearing_bore": 38.2,
               "bolt_heads": 8, "disc_thickness": 8, "blocked_side": "right"},
    "bellhousing": {"depth": 170, "register_diameter": 150},
    "engine_mounts": {"shift_bolted": 0, "shift_slotted": 0, "fan_gap": 40, "fan_gap_least": 15,
                      "pivot_x": -350, "slides": 1},
    "mount": {"zone": [780, 860], "drop_least": 85, "drop_most": 112, "tilt": 0},
    "crossmember": {"start": 500, "end": 570, "top": 125, "lip_depth": 10},
    "tunnel": {"removable": True, "stations": [
        {"x": 0, "left": 240, "right": 240, "top": 250}, {"x": 480, "left": 150, "right": 150, "top": 170},
        {"x": 900, "left": 110, "right": 110, "top": 130}]},
    "opening": {"start": 790, "end": 930, "left": 70, "right": 70},
    "lever": {"crank_most": 40},
    "driveshaft": {"pinion_x": 2050, "pinion_drop": 48, "pinion_offset": 0, "pinion_tilt": 3,
                   "engine_tilt": 3, "tube_diameter": 63.5, "tube_wall": 1.8, "plunge_bump": 15,
                   "plunge_droop": 20, "pinion_arm": 200, "greatest_speed": 130,
                   "yoke_spline_teeth": 16, "yoke_spline_diameter": 25.4, "longest_piece": 1500},
    "speedometer": {"turns_per_km": 900},
    "workshop": {"rate": 8, "outside_rate": 50, "tools": ["lathe", "grinder", "welder"]},
    "policy": {"deepest_cut": "body cut", "budget": 2000, "currency": "crowns"},
}  # fmt: skip
GEARBOX: dict[str, Any] = {
    "name": "Cray 5", "family": "Cray", "price": 400, "source": "measured", "ratio_1": 3.4, "ratio_2": 2.0,
    "ratio_3": 1.35, "ratio_4": 1.0, "ratio_5": 0.8, "torque_rating": 180, "bellhousing": "own",
    "bellhousing_depth": 170, "adapter": "none", "shaft_stickout": 176, "pilot_diameter": 13.96,
    "pilot_length": 30, "spline_teeth": 10, "spline_diameter": 28, "spline_start": 42, "spline_end": 82,
    "case_depth": 0.8, "collar_length": 90, "collar_diameter": 38, "length": 720, "case_length": 310,
    "case_left": 90, "case_right": 90, "case_top": 100, "case_bottom": 112, "tail_left": 60,
    "tail_right": 60, "tail_top": 75, "tail_bottom": 84, "bell_left": 160, "bell_right": 160,
    "bell_top": 165, "bell_bottom": 150, "mount_position": 650, "mount_drop": 96, "mount_tilt": 0,
    "mount_pad_length": 60, "mount_pad_stock": 8, "shifter_position": 680, "shifter_offset": 0,
    "shifter_room": 80, "turret_width": 70, "release_type": "fork", "release_side": "left",
    "output_type": "slip yoke", "slip_travel": 72, "output_spline_teeth": 16,
    "output_spline_diameter": 25.4, "speedo_drive": "cable", "speedo_driver_teeth": 6,
    "speedo_driven_teeth": "12..20", "register_diameter": 150,
}  # fmt: skip


def toml(value: Any) -> str:
    """One value as TOML."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return f'"{value}"' if isinstance(value, str) else repr(value)


def car_text(changes: dict[str, Any]) -> str:
    """The car with keys changed (`crank.bush_recess`), None leaving one out; a section by its
    name.
    """
    sections = {name: dict(keys) for name, keys in CAR.items()}
    for place, value in changes.items():
        section, _, key = place.partition(".")
        if not key:
            sections[section] = value
        elif value is None:
            sections.get(section, {}).pop(key, None)
        else:
            sections.setdefault(section, {})[key] = value
    return "\n".join(
        f"[{name}]\n" + "\n".join(f"{k} = {toml(v)}" for k, v in keys.items())
        for name, keys in sections.items()
    )


class Built:
    """One build, judged: its plan (nominal), with the same of as found and fitted."""

    def __init__(self, assessment: Any) -> None:
        self.a = assessment
        self.rows = [int(assessment.order[0])]
        self.ways = {way: assessment.run(self.rows, way) for way in ("plan", "found", "fitted")}
        self.titles = [r.title for r in assessment.engine.checks]

    def verdict(self, check: str, way: str = "plan") -> str:
        at = self.titles.index(check)
        if self.a.unmeasured[self.rows[0], at] and way == "plan":
            return "unmeasured"
        return VERDICTS[int(self.ways[way].verdicts[at, 0, 0])]

    def reading(self, check: str, way: str = "plan") -> float:
        rule = self.a.engine.checks[self.titles.index(check)]
        return float(self.ways[way].pick(self.ways[way].readings[rule.name].value)[0, 0])

    def value(self, name: str, way: str = "plan") -> float:
        return self.ways[way].value(name, 0)

    def done(self, way: str = "plan") -> set[str]:
        """What is done beyond fitting: decisions, and `choice:option`."""
        result = self.ways[way]
        return {
            key for key, item in result.items.items()
            if bool(result.pick(item.done)[0, 0]) and not item.rule.fitting
        }  # fmt: skip

    def undo(self, decision: str) -> str:
        result = self.ways["plan"]
        return UNDO_STEPS[int(result.pick(result.items[decision].undo)[0, 0])]

    def clashes(self, way: str = "plan") -> set[str]:
        return {t for t in self.titles if self.verdict(t, way) == "clash"}

    @property
    def goes_in(self) -> float:
        return float(self.ways["plan"].goes_in[0, 0])


def sheet_of(path: Any, rows: list[dict[str, Any]]) -> Any:
    import csv

    head = list(dict.fromkeys(k for row in rows for k in row))
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, head)
        writer.writeheader()
        writer.writerows(rows)
    return read_sheet(path)


def assess(
    folder: Any, car: dict[str, Any], gearbox: dict[str, Any], parts: list[dict[str, Any]] | None,
    draws: int,
) -> Any:  # fmt: skip
    row = {k: v for k, v in {**GEARBOX, **gearbox}.items() if v is not None}
    table = catalogue_table(sheet_of(folder / "catalogue.csv", [row]))
    some = parts_table(sheet_of(folder / "parts.csv", parts)) if parts else None
    return compare(table, read_car(car_text(car)), some, draws=draws)


def nominal(number: Any) -> bool:
    return not math.isnan(float(number))
