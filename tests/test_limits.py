"""Every limit, and what each job costs, as agreed: a number that changes must be changed here too, on purpose.

The source of each limit stands beside it on the reference page; hours and prices are common practice, no source.
A new limit or job need not be entered here to pass; one that stands here must be as it is here.
"""

from __future__ import annotations

import pytest

from compare.judge.rules import Rulebook
from compare.topics import all_topics

BOOK = Rulebook.from_topics(all_topics())
# Name -> number, in the unit that the limit has.
LIMITS = {
    "gear_steps_clear": 40.0, "gear_steps_tight": 48.0, "torque_reserve": 1.1,
    "torque_margin_clear": 1.0, "torque_margin_tight": 0.9, "air_density": 1.225,
    "top_gear_pull_clear": 2.0, "top_gear_pull_tight": 0.5, "start_gradient_clear": 25.0,
    "start_gradient_tight": 18.0, "plate_wall_clear": 8.0, "plate_wall_tight": 6.0,
    "housing_bore_runout": 0.2, "housing_face_runout": 0.3, "bush_wall_clear": 2.0,
    "bush_wall_tight": 1.5, "pilot_clearance_clear": 0.15, "pilot_clearance_tight": 0.3,
    "pilot_clearance_least": -0.02, "pilot_running_clearance": 0.03, "pilot_needle_clear": 0.06,
    "pilot_needle_tight": 0.1, "bush_ream_most": 0.5, "bush_hold_clear": 0.75,
    "bush_hold_tight": 0.5, "pilot_bore_runout": 0.13, "case_depth_assumed": 0.5,
    "journal_least": 10.0, "undercut_small": 2.0, "undercut_large": 2.5, "end_gap_clear": 3.0,
    "end_gap_tight": 1.0, "hub_seat_rear_clear": 2.0, "hub_seat_share_tight": 0.85,
    "disc_match_diameter": 0.3, "disc_bolt_gap": 1.0, "hub_gap_clear": 2.0, "hub_gap_tight": 1.0,
    "collar_gap_clear": 3.0, "collar_gap_tight": 1.0, "register_fit_same": 0.1,
    "register_ring_wall": 1.5, "bellhousing_bore_most": 5.0, "mount_bracket_most": 60.0,
    "mount_spacer_most": 25.0, "mount_lift_most": 6.0, "mount_reach_clear": 0.0,
    "mount_reach_tight": 0.0, "mount_tilt_clear": 0.5, "mount_tilt_tight": 2.0,
    "crossmember_gap": 6.0, "tunnel_station_reach": 40.0, "tunnel_clear": 10.0,
    "tunnel_tight": 6.0, "lever_same": 25.0, "shifter_opening_clear": 0.0,
    "shifter_opening_tight": 0.0, "joint_angle_least": 0.5, "joint_angle_free": 3.0,
    "joint_cancel_clear": 2.24, "joint_cancel_acceleration": 400.0, "axle_wedge_clear": 4.0,
    "axle_wedge_most": 8.0, "whirl_share_clear": 0.7, "whirl_share_tight": 0.75,
    "front_piece_least": 300.0, "shaft_length_same": 5.0, "plunge_reserve": 5.0,
    "plunge_clear": 5.0, "plunge_tight": 0.0, "slave_standoff_clear": 4.0,
    "slave_standoff_tight": 2.5, "bearing_sleeve": 30.0, "bearing_reach_clear": 15.0,
    "bearing_reach_tight": 10.0, "bearing_slide_least": 0.05, "bearing_slide_clear": 0.5,
    "bearing_slide_most": 1.0, "speedometer_share": 0.1, "speedometer_offset": 4.0,
    "budget_over": 15.0,
}  # fmt: skip
# Decision -> (undo step, tool, hours, hours a mm, price).
JOBS = {
    "adapter_made": ("bolts back", "mill", 8.0, 0.0, 60.0),
    "journal_turned": ("donor cut", "lathe", 2.0, 0.0, 0.0),
    "crank_bored": ("frame cut", "sent out", 6.0, 0.0, 350.0),
    "disc_ordered": ("bolts back", "hand tools", 0.5, 0.0, 90.0),
    "tip_cut": ("donor cut", "lathe", 0.5, 0.0, 0.0),
    "turned_back": ("donor cut", "lathe", 1.5, 0.05, 0.0),
    "spline_cut": ("donor cut", "grinder", 1.5, 0.0, 0.0),
    "bush_deeper": ("bolts back", "hand tools", 0.7, 0.0, 0.0),
    "bush_longer": ("bolts back", "lathe", 0.5, 0.0, 6.0),
    "bush_made": ("bolts back", "lathe", 1.5, 0.0, 12.0),
    "bush_reamed": ("bolts back", "hand tools", 0.5, 0.0, 0.0),
    "collar_cut": ("donor cut", "lathe", 1.0, 0.0, 0.0),
    "bellhousing_bored": ("panel cut", "sent out", 2.0, 0.0, 0.0),
    "ring_made": ("bolts back", "lathe", 2.0, 0.0, 10.0),
    "brackets_slotted": ("bolts back", "hand tools", 3.0, 0.0, 0.0),
    "crossmember_moved": ("frame cut", "sent out", 12.0, 0.0, 80.0),
    "mount_bracket": ("bolts back", "welder", 3.0, 0.0, 15.0),
    "lugs_cut": ("donor cut", "grinder", 1.0, 0.0, 0.0),
    "lift": ("bolts back", "hand tools", 1.0, 0.0, 5.0),
    "wedge_angle": ("bolts back", "grinder", 1.5, 0.0, 5.0),
    "pad_milled": ("donor cut", "mill", 2.0, 0.0, 0.0),
    "mount_spacer": ("bolts back", "hand tools", 0.5, 0.0, 5.0),
    "relief": ("frame cut", "sent out", 12.0, 0.0, 100.0),
    "box_cut": ("frame cut", "sent out", 14.0, 0.0, 120.0),
    "lip_cut": ("body cut", "grinder", 3.0, 0.0, 5.0),
    "cover_eased": ("panel cut", "hand tools", 3.0, 0.05, 10.0),
    "tunnel_eased": ("body cut", "hand tools", 3.0, 0.05, 10.0),
    "opening_cut": ("body cut", "grinder", 3.0, 0.0, 10.0),
    "lever_cranked": ("bolts back", "welder", 2.0, 0.0, 10.0),
    "larger_tube": ("bolts back", "sent out", 0.0, 0.0, 40.0),
    "two_pieces": ("bolts back", "sent out", 6.0, 0.0, 220.0),
    "axle_wedge": ("bolts back", "hand tools", 3.0, 0.0, 25.0),
    "shaft_to_order": ("bolts back", "sent out", 2.0, 0.0, 60.0),
    "yoke_to_match": ("bolts back", "hand tools", 1.0, 0.0, 60.0),
    "slave_bore": ("bolts back", "hand tools", 1.0, 0.0, 45.0),
    "bearing_to_order": ("bolts back", "hand tools", 0.5, 0.0, 40.0),
    "concentric_slave": ("bolts back", "hand tools", 2.0, 0.0, 110.0),
    "slave_shim": ("bolts back", "lathe", 1.5, 0.0, 15.0),
    "driven_to_order": ("bolts back", "hand tools", 0.5, 0.0, 15.0),
    "speedometer_converter": ("bolts back", "hand tools", 2.0, 0.0, 85.0),
    "fitted_in": ("bolts back", "hand tools", 8.0, 0.0, 35.0),
    "fetched": ("bolts back", "hand tools", 0.0, 0.0, 0.0),
    "parts_fitted": ("bolts back", "hand tools", 4.0, 0.0, 20.0),
}  # fmt: skip
# (choice, way) -> (undo step, hours, price).
WAYS = {
    ("pilot_route", "as it is"): ("bolts back", 0.0, 0.0),
    ("pilot_route", "ream the present bush"): ("bolts back", 0.0, 0.0),
    ("pilot_route", "a new bush"): ("bolts back", 0.0, 0.0),
    ("pilot_route", "turn the journal to the present bush"): ("bolts back", 0.0, 0.0),
    ("pilot_route", "turn the journal for a new bush"): ("bolts back", 0.0, 0.0),
    ("pilot_route", "open the crankshaft's bore"): ("frame cut", 0.0, 0.0),
    ("disc_round", "as it is usually fitted"): ("bolts back", 0.0, 0.0),
    ("disc_round", "turned round"): ("bolts back", 0.0, 0.0),
    ("levelling", "as it is"): ("bolts back", 0.0, 0.0),
    ("levelling", "a wedge"): ("bolts back", 0.0, 0.0),
    ("levelling", "mill the pad"): ("donor cut", 0.0, 0.0),
    ("levelling", "mill as far as its stock goes, a wedge for the rest"): ("donor cut", 0.0, 0.0),
    ("release_way", "as it is"): ("bolts back", 0.0, 0.0),
    ("release_way", "arm moved across, slave pushes"): ("bolts back", 3.0, 75.0),
    ("release_way", "arm moved across, slave pulls"): ("bolts back", 4.0, 95.0),
    ("release_way", "concentric slave"): ("bolts back", 5.0, 160.0),
}  # fmt: skip
# Of checks whose limit is a pair of its own, which side is good.
GOOD = {
    "more": {"torque_margin", "top_gear_pull", "start_gradient", "plate_wall", "end_gap", "hub_gap", "collar_gap", "tunnel", "plunge"},
    "less": {"gear_steps", "mount_reach", "shifter_opening"},
}  # fmt: skip
CHANGED = "is not what was agreed. Look for its source on the reference page; if the new number is right, type it here"


@pytest.mark.parametrize("name", LIMITS)
def test_a_limit_is_what_was_agreed(name):
    assert BOOK.limits[name].default == LIMITS[name], f"{name} {CHANGED}"


@pytest.mark.parametrize("name", JOBS)
def test_a_job_costs_what_was_agreed(name):
    rule = BOOK.rules[name]
    assert (rule.undo, rule.tool, rule.hours, rule.hours_per_mm, rule.cost) == JOBS[name], f"{name} {CHANGED}"


@pytest.mark.parametrize(("name", "way"), WAYS)
def test_a_way_costs_what_was_agreed(name, way):
    option = next(o for o in BOOK.rules[name].options if o.name == way)
    assert (option.undo, option.hours, option.cost) == WAYS[name, way], f"{name}, {way} {CHANGED}"


@pytest.mark.parametrize("side", GOOD)
def test_the_good_side_of_a_limit(side):
    kind = {"more": "AtLeast", "less": "AtMost"}[side]
    for name in GOOD[side]:
        assert type(BOOK.rules[name].limit).__name__ == kind, name
