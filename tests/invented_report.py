"""Invented rows of a report, in the shapes that the papers read: one candidate in full, others to
be passed over.

No real car, gearbox or firm. Lengths in mm, angles in rad; the numbers of the drawings agree with
the rows.
"""

from __future__ import annotations

import math

__all__ = ["CAUTIONS", "FACTS", "hostile_rows", "rows"]

CAUTIONS = [
    "Support the car on stands rated for it, never a jack alone; a gearbox is heavy: use a hoist.",
    "Old clutch linings may hold asbestos: no blowing, no dry brushing.",
    "Cut or weld structural metal only on advice from someone qualified; ask what local rules say.",
    "A failed propeller shaft is dangerous: balanced by a specialist, guarded where rules ask.",
    "Figures are for planning: measure the parts in hand; hardened shafts throw hot hard chips.",
]
NOT_JUDGED = [
    "Starter and ring gear",
    "Cable side and turn",
    "Reverse switch",
    "Exhaust",
    "Handbrake cable",
    "Dipstick",
    "Oil and its filler",
    "Clutch's capacity",
    "Linkage",
    "Lean of the gearbox",
]

# Shaft: tip 26 behind the flange; bore 42; bush from 1 to 23; journal 30 long after turning back.
FACTS: dict[str, object] = {
    "price": 780.0,
    "shaft_stickout": 190.0,
    "pilot_diameter": 15.0,
    "pilot_length": 22.0,
    "journal_after": 12.676,
    "turned_back": 8.0,
    "journal_needed": 30.0,
    "tip_cut": 3.0,
    "shoulder_diameter": 22.0,
    "spline_diameter": 25.4,
    "spline_start_after": 32.0,
    "spline_end": 84.0,
    "spline_cut": 2.0,
    "reach": 26.0,
    "collar_length": 90.0,
    "collar_diameter": 35.0,
    "collar_cut": 4.0,
    "crank_bore_diameter": 21.0,
    "crank_bore_depth": 42.0,
    "crank_mouth_diameter": 30.0,
    "crank_mouth_depth": 6.0,
    "bush_near": 1.0,
    "bush_far": 23.0,
    "bush_outside": 21.0,
    "bush_inside": 12.7,
    "bush_made": 1.0,
    "bush_proud": 0.0,
    "clutch_friction_face": 22.0,
    "hub_front": -3.0,
    "hub_rear": 20.0,
    "clutch_wear_travel": 1.5,
    "clutch_release_float": 1.0,
    "ring_made": 1.0,
    "register_diameter": 125.0,
    "car_bellhousing_register_diameter": 140.0,
    "bellhousing_bore_after": 140.0,
    "adapter_thickness": 12.0,
    "wedge_angle": math.radians(3.0),
    "mount_pad_length": 60.0,
    "x_face": 172.0,
    "backplate": 3.0,
    "engine_shift": 9.0,
    "bell_top": 170.0,
    "bell_bottom": 160.0,
    "bell_left": 175.0,
    "bell_right": 175.0,
    "case_length": 260.0,
    "case_top": 110.0,
    "case_bottom": 115.0,
    "case_left": 100.0,
    "case_right": 98.0,
    "length": 660.0,
    "tail_top": 70.0,
    "tail_bottom": 75.0,
    "tail_left": 62.0,
    "tail_right": 62.0,
    "mount_position": 560.0,
    "mount_drop": 95.0,
    "mount_tilt": math.radians(3.0),
    "car_mount_zone_start": 700.0,
    "car_mount_zone_end": 760.0,
    "car_mount_drop_least": 85.0,
    "car_mount_drop_most": 110.0,
    "pad_milled": 0.0,
    "lift": 0.0,
    "lift_tilt": 0.0,
    "crossmember_start": 420.0,
    "crossmember_end": 500.0,
    "crossmember_top": 100.0,
    "lip_cut": 14.0,
    "box_cut": 0.0,
    "relief": 0.0,
    "tunnel_x": [150.0, 400.0, 600.0, 900.0],
    "tunnel_top": [200.0, 140.0, 105.0, 95.0],
    "tunnel_left": [190.0, 130.0, 90.0, 80.0],
    "tunnel_right": [190.0, 120.0, 90.0, 80.0],
    "tunnel_piece_start": [-200.0],
    "tunnel_piece_end": [1400.0],
    "tunnel_piece_removable": [1.0],
    "cover_eased": 0.0,
    "tunnel_eased": 0.0,
    "eased_to": 6.0,
    "lug_off_left": 0.0,
    "lug_off_right": 0.0,
    "engine_mounts_fan_gap": 40.0,
    "engine_mounts_fan_gap_least": 15.0,
    "opening_start": 705.0,
    "opening_end": 800.0,
    "opening_left": 50.0,
    "opening_right": 50.0,
    "opening_front": 8.0,
    "opening_rear": 0.0,
    "shifter_position": 570.0,
    "shifter_room": 90.0,
    "shifter_offset": 5.0,
    "turret_width": 64.0,
    "driveshaft_pinion_x": 1980.0,
    "driveshaft_pinion_drop": 52.0,
    "driveshaft_pinion_arm": 200.0,
    "driveshaft_pinion_tilt": 0.0,
    "driveshaft_engine_tilt": math.radians(3.0),
    "axle_wedge": math.radians(3.0),
    "two_pieces": 0.0,
    "front_angle": 0.0363,
    "rear_angle": 0.0363,
}

NAME, BUILD, CAR = "Tarn 5A", "Tarn 5A + short shaft", "Pellow 15-cwt van"


def _mine(*rows: dict[str, object]) -> list[dict[str, object]]:
    return [{"candidate": NAME, "build": BUILD} | row for row in rows]


def _other(row: dict[str, object]) -> dict[str, object]:
    return {"candidate": "Brindle H5", "build": "Brindle H5"} | row


def rows() -> dict[str, object]:
    """The whole report, asked for the papers of one candidate."""
    return {
        "candidate": NAME,
        "build": BUILD,
        "car": {"name": CAR},
        "units": "metric",
        "currency": "EUR",
        "facts": dict(FACTS),
        "cautions": CAUTIONS,
        "not_judged": NOT_JUDGED,
        "ranking": _ranking(),
        "checks": _checks(),
        "plan": _plan(),
        "work": _work(),
        "seats": _seats(),
        "windows": [],
        "ways_out": _ways_out(),
        "accept": _accept(),
        "gates": _gates(),
        "visits": [
            {
                "visit": "at the seller's",
                "of": NAME,
                "dimensions": ["shaft_stickout"],
                "minutes": 10,
                "worth": 38.0,
                "worth_error": 4.0,
                "text": "Ten minutes at the seller's.",
            }
        ],
        "measuring": [
            {
                "of": NAME,
                "dimension": n,
                "visit": "at the seller's",
                "minutes": 2,
                "worth": 9.0,
                "worth_error": 2.0,
                "decides_figure_of": "tip_cut",
                "text": "",
            }
            for n in (
                "shaft_stickout",
                "spline_end",
                "mount_tilt",
                "length",
                "case_bottom",
                "turret_width",
            )
        ],
        "decision": {
            "buy": NAME,
            "build": BUILD,
            "because": [
                {"criterion": "cruise", "points": 4.0, "figures": [], "text": "2907 rev/min"}
            ],
            "close_behind": [{"candidate": "Brindle H5", "chance_first": 0.2}],
            "cut": [
                {
                    "decision": "tip_cut",
                    "operation": "Shorten the tip",
                    "text": "shorten the tip, 3 mm",
                }
            ],
            "make": [
                {"decision": "bush", "operation": "Make a pilot bush", "text": "make a pilot bush"}
            ],
            "measure_before_paying": [],
            "worth_of_knowing_everything": 41.0,
            "text": "Buy Tarn 5A, 780: likeliest to come first (62 %): 2907 rev/min when cruising. "
            "You will cut: shorten the tip, 3 mm. You will make or order: make a pilot bush.",
        },
        "baseline": {
            "passes": False,
            "checks": [
                {
                    "check": "shoulder_gap",
                    "verdict": "clash",
                    "value": -4.0,
                    "unit": "mm",
                    "fed_by": ["crank_bush_recess", "pilot_length"],
                }
            ],
        },
        "orders": _orders(),
    }


def _ranking() -> list[dict[str, object]]:
    mine = {
        "rank": 1,
        "outcome": "goes in with work",
        "score": 71.0,
        "cruise_rpm": 2907.0,
        "undo": "body cut",
        "cost": 1243.0,
        "hours": 21.5,
        "why": "calm and close",
        "chance_fitted": 0.98,
        "chance_with_these_figures": 0.49,
        "chance_bolts_in": 0.0,
        "undo_shares": [0, 0.1, 0, 0.9, 0],
        "hours_low": 18.0,
        "hours_high": 26.0,
        "cost_low": 1150.0,
        "cost_high": 1390.0,
    }
    return [*_mine(mine), _other(mine | {"rank": 2, "chance_fitted": None, "cost": math.nan})]


def _checks() -> list[dict[str, object]]:
    row = {
        "kind": "fit",
        "verdict_as_found": "clash",
        "value_as_found": -2.0,
        "margin": 1.0,
        "chance_with_these_figures": 0.9,
        "chance_fitted": 1.0,
    }
    return [
        *_mine(
            row
            | {
                "check": "end_gap",
                "verdict": "clear",
                "value": 19.0,
                "unit": "mm",
                "limit": "≥ 1 mm",
                "why": "The tip stays clear of the bore's bottom.",
            },
            row
            | {
                "check": "hub_seat",
                "verdict": "tight",
                "value": 1.0,
                "unit": "mm",
                "limit": "≥ 0 mm",
                "why": "Released, the hub comes within 1 mm of the run-out of the splines.",
            },
            row
            | {
                "check": "mount_tilt",
                "verdict": "clash",
                "value": 0.0524,
                "unit": "rad",
                "limit": "≤ 2°",
                "why": "The pad lies 3° off its mount, and the wedge is not yet made.",
            },
            row
            | {
                "check": "speedometer_error",
                "verdict": "unmeasured",
                "value": None,
                "unit": "%",
                "limit": "≤ 10 %",
                "why": "speedo driver teeth of Tarn 5A is not known.",
            },
        ),
        _other(
            row
            | {
                "check": "tunnel",
                "verdict": "clash",
                "value": -9.0,
                "unit": "mm",
                "limit": "",
                "why": "x",
            }
        ),
    ]


def _plan() -> list[dict[str, object]]:
    row = {
        "unit": "mm",
        "nothing_done": 0.0,
        "undo": "donor cut",
        "hours": 1.0,
        "cost": 20.0,
        "tool": "lathe",
        "tolerance_low": None,
        "tolerance_high": None,
    }
    return _mine(
        row
        | {
            "decision": "adapter_thickness",
            "on": "adapter plate",
            "blind": True,
            "figure": 12.0,
            "undo": "bolts back",
            "tolerance_low": 11.2,
            "tolerance_high": 12.9,
        },
        row
        | {
            "decision": "engine_shift",
            "on": "engine mounts",
            "blind": False,
            "figure": 9.0,
            "undo": "bolts back",
            "tolerance_low": 8.6,
            "tolerance_high": 12.0,
        },
        row
        | {
            "decision": "journal_after",
            "on": "input shaft",
            "blind": False,
            "figure": 12.676,
            "nothing_done": 15.0,
        },
        row | {"decision": "turned_back", "on": "input shaft", "blind": False, "figure": 8.0},
        row | {"decision": "tip_cut", "on": "input shaft", "blind": False, "figure": 3.0},
        row
        | {
            "decision": "lip_cut",
            "on": "crossmember",
            "blind": False,
            "figure": 14.0,
            "undo": "body cut",
        },
        row
        | {
            "decision": "axle_wedge",
            "on": "rear axle",
            "blind": True,
            "figure": math.radians(3.0),
            "unit": "rad",
            "undo": "bolts back",
        },
        row
        | {
            "decision": "spacer",
            "on": "mount",
            "blind": False,
            "figure": None,
            "undo": "bolts back",
        },
    )


def _work() -> list[dict[str, object]]:
    row = {"extent_mm": None, "permitted": True, "halves": None}
    return _mine(
        row
        | {
            "decision": "lip_cut",
            "when": "car",
            "sequence": 100,
            "operation": "Trim the front lip",
            "on": "crossmember",
            "undo": "body cut",
            "extent_mm": 14.0,
            "hours": 2.0,
            "cost": 0.0,
            "tool": "grinder",
            "why": "the case comes lower than its top over 14 mm",
            "afterwards": "paint the edge",
        },
        row
        | {
            "decision": "bush",
            "when": "car",
            "sequence": 50,
            "operation": "Make a pilot bush",
            "on": "pilot bush",
            "undo": "bolts back",
            "hours": 1.5,
            "cost": 18.0,
            "tool": "lathe, sent out",
            "why": "the journal is thinner than the bore",
        },
        row
        | {
            "decision": "tip_cut",
            "when": "opened",
            "sequence": 10,
            "operation": "Shorten the tip",
            "on": "input shaft",
            "undo": "donor cut",
            "extent_mm": 3.0,
            "hours": 0.5,
            "cost": 30.0,
            "tool": "lathe, sent out",
            "why": "",
        },
        row
        | {
            "decision": "journal_after",
            "when": "opened",
            "sequence": 30,
            "operation": "Turn the journal",
            "on": "input shaft",
            "undo": "donor cut",
            "hours": 2.0,
            "cost": 95.0,
            "tool": "lathe, sent out",
            "why": "",
        },
        row
        | {
            "decision": "adapter_thickness",
            "when": "opened",
            "sequence": 72,
            "operation": "Make the adapter plate",
            "on": "adapter plate",
            "undo": "bolts back",
            "extent_mm": 12.0,
            "hours": 6.0,
            "cost": 180.0,
            "tool": "mill, sent out",
            "why": "no plate for this pair is sold",
        },
        row
        | {
            "decision": "engine_shift",
            "when": "car",
            "sequence": 90,
            "operation": "Slot the brackets",
            "on": "engine mounts",
            "undo": "bolts back",
            "extent_mm": 9.0,
            "hours": 2.0,
            "cost": 0.0,
            "tool": "grinder",
            "why": "",
        },
        row
        | {
            "decision": "fitted_in",
            "when": "fit",
            "sequence": 1000,
            "halves": {"out": "Take the old one out", "fit": "Fit the new one"},
            "operation": "Take the old one out and fit the new one",
            "on": "car",
            "undo": "bolts back",
            "hours": 8.0,
            "cost": 35.0,
            "tool": "hand tools",
            "why": "on stands",
        },
        row
        | {
            "decision": "shaft_to_order",
            "when": "in",
            "sequence": 120,
            "operation": "Have the shaft made",
            "on": "propeller shaft",
            "undo": "bolts back",
            "hours": 2.0,
            "cost": 60.0,
            "tool": "sent out",
            "why": "",
        },
    )


def _seats() -> list[dict[str, object]]:
    return _mine(
        {
            "adapter_thickness_mm": 12.0,
            "engine_shift_mm": 9.0,
            "undo": "body cut",
            "cut_mm": 14.0,
            "thickness_window_mm": [9.0, 14.0],
            "shift_window_mm": [8.6, 12.0],
            "planned_adapter_thickness_mm": 12.0,
            "planned_engine_shift_mm": 9.0,
            "why": "Engine 9 mm forward; 8.6 to 12 mm cuts no more.",
        }
    )


def _ways_out() -> list[dict[str, object]]:
    return _mine(
        {
            "change": 1,
            "of": NAME,
            "of_kind": "gearbox",
            "dimension": "shaft_stickout",
            "from": 190.0,
            "to": 186.5,
            "unit": "mm",
            "undo": "bolts back",
            "cost": 60.0,
            "chance_then": 0.93,
            "text": "Find an input shaft of at most 186.5 mm stick-out",
        },
        {
            "change": 2,
            "of": "car",
            "of_kind": "policy",
            "dimension": "policy_deepest_cut",
            "from": "panel cut",
            "to": "frame cut",
            "unit": "",
            "undo": "frame cut",
            "cost": None,
            "chance_then": 0.999,
            "text": "",
        },
    )


def _accept() -> list[dict[str, object]]:
    row = {
        "unit": "mm",
        "buy_low": None,
        "buy_high": None,
        "walk_low": None,
        "walk_high": None,
        "with": [],
        "text": "",
    }
    return [
        *_mine(
            row
            | {
                "dimension": "spline_end",
                "buy_low": 77.0,
                "walk_low": 75.0,
                "text": "77 mm or more; under 75 mm: walk away",
            },
            row
            | {
                "dimension": "shaft_stickout",
                "with": ["bellhousing_depth"],
                "text": "spline end + bell depth − stick-out ≥ 73.5 mm; yours 81",
            },
            row | {"dimension": "mount_tilt", "unit": "rad", "buy_low": -0.035, "buy_high": 0.035},
            row | {"dimension": "register_diameter", "buy_high": 139.0, "walk_high": 141.0},
            row | {"dimension": "pilot_diameter"},
        ),
        _other(row | {"dimension": "length", "buy_high": 1.0}),
    ]


def _gates() -> list[dict[str, object]]:
    return _mine(
        {
            "before": "tip_cut",
            "when": "opened",
            "measure": "reach",
            "low": 39.2,
            "high": 41.0,
            "unit": "mm",
            "then": {"decision": "tip_cut", "quantity": "reach", "sign": 1, "constant": -21.0},
            "text": "measure reach; only if it is between 39.2 and 41 mm, shorten the tip: what it is over 21 mm",
        },
        {
            "before": "lip_cut",
            "when": "car",
            "measure": "crossmember_air",
            "low": -14.0,
            "high": None,
            "unit": "mm",
            "then": {
                "decision": "lip_cut",
                "quantity": "crossmember_air",
                "sign": -1,
                "constant": 6.0,
            },
            "text": "measure crossmember air; only if it is at least -14 mm, trim the front lip: what it is short of 6 mm",
        },
        {
            "before": "box_cut",
            "when": "car",
            "measure": "end_gap",
            "low": None,
            "high": None,
            "unit": "mm",
            "then": None,
            "text": "offer up with the dummy first",
        },
    )


def _orders() -> list[dict[str, object]]:
    row = {
        "unit": "mm",
        "length": None,
        "length_tolerance": None,
        "runout": None,
        "finish": None,
        "undercut": None,
        "material": None,
        "measure_before": None,
        "note": None,
        "step": "donor cut",
    }
    return _mine(
        row
        | {
            "operation": "Turn the journal",
            "on": "input shaft",
            "datum": "tip as found",
            "from": 15.0,
            "to_low": 12.666,
            "to_high": 12.684,
            "of": "journal_after",
            "length": 30.0,
            "length_tolerance": 0.1,
            "length_of": "journal_needed",
            "runout": 0.02,
            "finish": "Ra 0.4",
            "undercut": "DIN 509 – E 0.6 × 0.2",
            "measure_before": "the bore of the bush as pressed in",
            "note": "2.3 mm off the diameter goes through the case: soft below",
        },
        row
        | {
            "operation": "Shorten the tip",
            "on": "input shaft",
            "datum": "tip as found",
            "from": 190.0,
            "to_low": 2.9,
            "to_high": 3.1,
            "of": "tip_cut",
            "note": "face last, chamfer 1 × 45°",
        },
        row
        | {
            "operation": "Grind the splines off first",
            "on": "input shaft",
            "datum": "tip as found",
            "from": None,
            "to_low": 31.9,
            "to_high": 32.1,
            "of": "spline_cut",
            "finish": "by hand",
        },
        row
        | {
            "operation": "Turn outside",
            "on": "pilot bush",
            "datum": "face towards the clutch",
            "from": None,
            "to_low": 21.028,
            "to_high": 21.041,
            "of": "crank_bore_after",
            "length": 22.0,
            "length_tolerance": 0.1,
            "length_of": "bush_length_after",
            "material": "solid bronze",
            "runout": 0.02,
            "finish": "Ra 0.8",
        },
        row
        | {
            "operation": "Bore, after pressing in",
            "on": "pilot bush",
            "datum": "outside",
            "from": None,
            "to_low": 12.7,
            "to_high": 12.718,
            "of": "bush_bore_before",
            "finish": "Ra 0.8",
        },
        row
        | {
            "operation": "Turn outside",
            "on": "register ring",
            "datum": "bore",
            "from": None,
            "to_low": 139.95,
            "to_high": 139.97,
            "of": "bellhousing_bore_after",
            "material": "mild steel",
            "runout": 0.05,
        },
        row
        | {
            "operation": "Bore",
            "on": "register ring",
            "datum": "bore",
            "from": None,
            "to_low": 125.01,
            "to_high": 125.05,
            "of": "register_diameter",
        },
        row
        | {
            "operation": "Mill both faces",
            "on": "adapter plate",
            "datum": "engine side",
            "from": None,
            "to_low": 11.9,
            "to_high": 12.1,
            "of": "adapter_thickness",
            "material": "aluminium",
            "note": "parallel within 0.05; doweled, set true within 0.2 indicated",
        },
        row
        | {
            "operation": "Mill the slope",
            "on": "mount wedge",
            "datum": "foot",
            "from": None,
            "unit": "rad",
            "to_low": math.radians(2.9),
            "to_high": math.radians(3.1),
            "of": "wedge_angle",
            "material": "steel",
        },
        row
        | {
            "operation": "Check for cracks",
            "on": "bellhousing",
            "datum": None,
            "from": None,
            "to_low": None,
            "to_high": math.nan,
            "unit": None,
        },
    )


HOSTILE = (
    "<script>alert(1)</script>\"'><img src=http://example.invalid/x.png onerror=alert(2)>"
    "{{7*7}}</style>\u202e\x1b[31m"
)


def hostile_rows() -> dict[str, object]:
    """The same report with a name that tries everything, in every text of every row."""
    names = {NAME: HOSTILE, BUILD: HOSTILE, CAR: HOSTILE}
    keep = {
        "visit",
        "verdict",
        "undo",
        "of_kind",
        "dimension",
        "decision",
        "before",
        "of",
        "length_of",
        "unit",
        "units",
        "quantity",
        "when",
    }

    def turned(value: object, key: str = "") -> object:
        if isinstance(value, dict):
            return {k: turned(v, k) for k, v in value.items()}
        if isinstance(value, list):
            return [turned(v, key) for v in value]
        if isinstance(value, str):
            if value in names:
                return names[value]
            return value if key in keep or key == "with" or not value else f"{value} {HOSTILE}"
        return value

    whole = rows()
    return {k: (v if k in ("facts", "units") else turned(v, k)) for k, v in whole.items()}
