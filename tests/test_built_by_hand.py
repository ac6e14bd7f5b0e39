"""Builds of the Calder tourer, an invented car that is not the demo's, worked by hand.

Each runs through the whole engine: as found, the plan, fitted. The car's numbers stand in `calder.py`;
where nothing else is said: flange 18, bore 24 × 40, bush 14.0 × 20 recessed 3, face at 170, tip at −6,
reach 24, journal 13.96 × 30, hub on the shaft from 45 (worn) to 75 (released), splines 42 to 82.
Lengths in mm, angles in degrees.
"""

from __future__ import annotations

import math

import pytest
from calder import Built, assess


@pytest.fixture
def build(tmp_path):
    """Judges one build: changes to the car (`section.key`), to the gearbox, parts, draws."""

    def judged(car=None, box=None, parts=None, draws=1):
        return Built(assess(tmp_path, car or {}, box or {}, parts, draws))

    return judged


def near(value):
    return pytest.approx(value, abs=1e-6)


# ---- the plain build, and today's gearbox as the gauge ------------------------------------------


def test_the_plain_build_bolts_in(build):
    # End gap 40 − 24 = 16. Shoulder at 24 − 30 = −6, stop at the flange 0: gap 6. Hold 3 to 23: 20.
    # Hub 45 − 42 = 3 in front, 82 − 75 = 7 behind. Guide 176 − 90 − 75 = 11.
    plain = build()
    assert plain.done() == set() and plain.clashes() == set() and plain.goes_in == 1
    assert plain.reading("end_gap") == near(16)
    assert plain.reading("shoulder_gap") == near(6)
    assert plain.reading("bush_hold") == near(20)
    assert plain.reading("hub_seat") == near(3)
    assert plain.reading("collar_gap") == near(11)
    assert plain.clashes("found") == set() and plain.clashes("fitted") == set()


def test_todays_gearbox_of_the_calder_passes_and_a_wrong_crank_dimension_is_caught_by_it(build):
    assert build().a.today.failing == []
    # A recess typed with the wrong sign: the bush stands 8 proud, the shoulder (−6) runs into it.
    assert build({"crank.bush_recess": -8}).a.today.failing == ["shoulder_gap"]
    # A bore typed 14 deep instead of 40: today's tip (reach 24) would bottom.
    wrong = build({"crank.bore_depth": 22}).a.today.failing
    assert "end_gap" in wrong
    # A bush bore of 13.4 cannot hold the journal of 13.96 that runs in it.
    assert "pilot_size" in build({"crank.bush_bore": 13.4}).a.today.failing


# ---- shoulder and bush --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("recess", "stop", "gap"),
    [
        # Mouth 30 × 6, bore 21, shoulder 25.4: the mouth's end 6. The bush counts besides.
        (2, 6.0, 2 + 6),  # min(6, 2) − (−6)
        (8, 6.0, 6 + 6),  # min(6, 8) − (−6)
    ],
)
def test_shoulder_against_bush_and_mouth(build, recess, stop, gap):
    changes = {"crank.mouth_diameter": 30, "crank.mouth_depth": 6, "crank.bore_diameter": 21}
    found = build(changes | {"crank.bush_recess": recess}, {"shoulder_diameter": 25.4})
    assert found.value("crank_stop") == near(stop)
    assert found.reading("shoulder_gap") == near(gap)


def test_a_bush_that_ends_where_the_shoulder_stands_is_a_clash_as_found(build):
    # Journal 27: shoulder at −3; a bush 3 proud touches it: gap 0, the undercut asks for 2.
    # It goes 2 deeper: bore 40 − 17 = 23 of room.
    found = build({"crank.bush_recess": -3}, {"pilot_length": 27})
    assert found.reading("shoulder_gap", "found") == near(0)
    assert found.verdict("shoulder_gap", "found") == "clash"
    assert found.done() == {"bush_deeper"} and found.value("bush_deeper") == near(2)
    assert found.verdict("shoulder_gap") == "clear"


def test_a_bush_eight_proud_is_seen(build):
    # Near end −8, shoulder −6: gap −2. Set 4 deeper: −4 − (−6) = 2. Hub worn at 21: 21 − 4 = 17.
    found = build({"crank.bush_recess": -8})
    assert found.reading("shoulder_gap", "found") == near(-2)
    assert found.value("bush_deeper") == near(4) and found.reading("shoulder_gap") == near(2)
    assert found.value("bush_proud") == near(4) and found.reading("hub_gap") == near(17)


def test_a_hub_that_meets_a_proud_bush_is_a_clash(build):
    # Friction face 12: hub worn at 12 − 4 − 1 = 7; bush 6.5 proud: 0.5 of air, 1 is the least.
    found = build({"clutch.friction_face": 12, "crank.bush_recess": -6.5},
                  {"spline_start": 28, "pilot_length": 40})  # fmt: skip
    assert found.reading("hub_gap", "found") == near(0.5)
    assert found.verdict("hub_gap", "found") == "clash"


def test_a_narrower_shoulder_goes_past_the_flange(build):
    # Shoulder 22 in a bore of 24: the flange stops nothing, the bush at 3 does: 3 − (−6) = 9.
    assert build(box={"shoulder_diameter": 22}).reading("shoulder_gap") == near(9)
    # Left out, it is the splines' 28: the flange at 0 stops it.
    assert build().reading("shoulder_gap") == near(6)


def test_a_journal_too_short_is_turned_back_by_what_the_undercut_asks(build):
    # Journal 22: shoulder at 2, stop 0: it must come to −2: 4 turned back.
    found = build(box={"pilot_length": 22})
    assert found.value("turned_back") == near(4) and found.reading("shoulder_gap") == near(2)
    assert found.undo("turned_back") == "donor cut"
    # Above 18 of journal the undercut is 2.5 long: 4.5.
    thick = build(box={"pilot_length": 22, "pilot_diameter": 19})
    assert thick.value("turned_back") == near(4.5)


def test_cutting_back_into_the_splines_is_its_own_operation(build):
    # Stick-out 196: reach 44, tip off 44 − 39 = 5. Shoulder at 44 − 26 = 18 must come to −2: 20.
    # Journal to 46; full splines began at 42: 4 of them are ground off and they now start at 46.
    found = build(
        box={"shaft_stickout": 196, "pilot_length": 26, "spline_end": 102, "collar_length": 105}
    )
    assert found.value("tip_cut") == near(5) and found.value("turned_back") == near(20)
    assert found.value("spline_cut") == near(4) and found.value("spline_start_after") == near(46)
    # Hub from 44 + 21 = 65: margins 19 and 102 − 95 = 7.
    assert found.reading("hub_seat") == near(7)
    # What was turned out of a shoulder of 28 is (28 − 13.96) / 2 = 7 below its case of 0.8.
    assert found.value("journal_soft") == 1 and found.verdict("pilot_size") == "tight"


def test_hub_ends_on_the_runout_when_the_splines_were_cut_back_too_far(build):
    # As above with splines 42 to 66: rear 66 − 95 = −29, whatever is turned.
    found = build(
        box={"shaft_stickout": 196, "pilot_length": 26, "spline_end": 66, "collar_length": 105}
    )
    assert found.reading("hub_seat") == near(66 - 95) and found.verdict("hub_seat") == "clash"


def test_only_the_cylinder_holds(build):
    # Reach 12: journal −18 to 12, its cylinder from −16; bush 3 to 23: hold 9 of 13.96, half
    # is 6.98.
    found = build(
        box={"shaft_stickout": 164, "collar_length": 70, "spline_start": 30, "spline_end": 70}
    )
    assert found.reading("bush_hold") == near(9) and found.verdict("bush_hold") == "tight"


def test_a_shaft_that_does_not_reach_takes_one_longer_bush_that_stands_proud(build):
    # Stick-out 160: reach 8, hold 8 − 3 = 5, least 6.98, comfortable 10.47: 5.47 longer, near
    # end −2.47.
    box = {
        "shaft_stickout": 160,
        "collar_length": 68,
        "pilot_length": 24,
        "spline_start": 26,
        "spline_end": 66,
    }
    found = build({"clutch.finger_height": 30}, box)
    assert {"bush_longer", "bush_made"} <= found.done()
    assert found.value("bush_proud") == near(10.47 - 8) and found.reading("bush_hold") == near(
        10.47
    )
    # Bush of 14.1 besides: it is not reamed first and thrown away then.
    both = build({"clutch.finger_height": 30}, box | {"pilot_diameter": 14.1})
    assert "bush_reamed" not in both.done() and "bush_made" in both.done()


# ---- journal against bush -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("journal", "done", "reading", "verdict"),
    [
        (13.96, set(), 0.04, "clear"),  # 14.0 − 13.96
        (14.2, {"bush_reamed"}, 0.03, "clear"),  # reamed to 14.23: it must run, not only touch
        (18.0, {"bush_made"}, 3.0, "clear"),  # wall (24 − 18) / 2
        (20.6, {"bush_made"}, 1.7, "tight"),  # wall 1.7: a bush one makes
        (
            21.2,
            {"bush_made", "journal_turned"},
            2.0,
            "clear",
        ),  # to 24 − 4 = 20: 0.6 a side of a case of 0.8
        (22.4, {"bush_made", "journal_turned"}, 2.0, "tight"),  # 1.2 a side: through the case
    ],
)
def test_which_way_the_journal_is_made_to_run(build, journal, done, reading, verdict):
    found = build(box={"pilot_diameter": journal})
    assert found.done() == done
    assert found.reading("pilot_size") == near(reading) and found.verdict("pilot_size") == verdict


def test_reaming_is_no_more_than_a_reamer_takes(build):
    # 14.48: 0.48 + 0.03 = 0.51 is more than the 0.5 a reamer takes: a new bush, wall 4.76.
    assert build(box={"pilot_diameter": 14.48}).done() == {"bush_made"}
    assert build(box={"pilot_diameter": 14.46}).done() == {"bush_reamed"}


def test_turning_to_the_present_bush_leaves_a_running_clearance(build):
    # Bore 15: no new bush (wall 0); turned to 14.0 − 0.03 = 13.97: (15 − 13.97) / 2 = 0.515 a side.
    found = build({"crank.bore_diameter": 15}, {"pilot_diameter": 15})
    assert found.done() == {"journal_turned"} and found.value("journal_turned") == near(0.515)
    assert found.reading("pilot_size") == near(0.03)


def test_a_needle_pilot_takes_no_journal_through_its_case(build):
    # Needles 14 inside, 17 outside. Journal 16 to 13.97: 1.015 a side, case 0.8: soft. Turned for a
    # bush of 2.0 in the needles' place instead: 17 − 4 = 13, 1.5 a side.
    car = {"crank.pilot": "needle", "crank.bore_diameter": 17}
    found = build(car, {"pilot_diameter": 16})
    assert found.done() == {"journal_turned", "bush_made"} and found.value("journal_after") == near(
        13
    )
    # With a case of 1.2 it stays in the needles.
    hard = build(car, {"pilot_diameter": 16, "case_depth": 1.2})
    assert hard.done() == {"journal_turned"} and hard.value("journal_after") == near(13.97)
    # Needles want a close shaft: 0.14 of clearance serves a bush, not needles.
    loose = build(car, {"pilot_diameter": 13.86})
    assert loose.reading("pilot_size", "found") == near(0.14)
    assert loose.verdict("pilot_size", "found") == "clash"
    assert build(box={"pilot_diameter": 13.86}).verdict("pilot_size") == "clear"


def test_a_journal_turned_back_in_needles_runs_on_soft_metal(build):
    # Journal 10, reach 24: shoulder at 14 is turned back to −2; needles 3 to 23 then run on 3
    # to 14,
    # (28 − 13.96) / 2 deep in the shaft: soft. A bush takes their place: wall (24 − 13.96) / 2.
    found = build({"crank.pilot": "needle"}, {"pilot_length": 10})
    assert found.value("journal_soft") == 1 and "bush_made" in found.done()
    assert found.reading("pilot_size") == near(5.02) and found.verdict("pilot_size") == "tight"
    # Where the needles' seat leaves no wall for one, it is a clash.
    thin = build({"crank.pilot": "needle", "crank.bore_diameter": 16.5}, {"pilot_length": 10})
    assert "bush_made" not in thin.done() and thin.verdict("pilot_size") == "clash"


def test_a_deeper_bush_cures_nothing_where_the_flange_stops_the_shoulder(build):
    # Journal 22: shoulder at 2 against the flange at 0; nothing may be cut: the bush stays
    # where it is.
    found = build(
        {"policy.deepest_cut": "bolts back", "crank.bush_recess": 1}, {"pilot_length": 22}
    )
    assert found.done() == set() and found.verdict("shoulder_gap") == "clash"


def test_no_ring_that_is_too_thin_to_make(build):
    # 148 in 150: a wall of 1; boring is not permitted: no ring is turned that cannot be.
    found = build(
        {"policy.deepest_cut": "bolts back"}, {"bellhousing": "car", "register_diameter": 148}
    )
    assert found.done() == set() and found.verdict("register_fit") == "clash"


def test_the_crank_bore_is_opened_only_when_permitted_and_nothing_smaller_goes(build):
    # Bore 12.5, journal 13: turned to 12.5 − 4 = 8.5 or to 9.47 it is below 10. Opened to 13
    # + 4 = 17.
    car = {"crank.bore_diameter": 12.5, "crank.bush_bore": 9.5}
    forbidden = build(car, {"pilot_diameter": 13})
    assert forbidden.done() == set() and forbidden.verdict("pilot_size") == "clash"
    permitted = build(car | {"policy.deepest_cut": "frame cut"}, {"pilot_diameter": 13})
    assert permitted.done() == {"crank_bored", "bush_made"}
    assert (
        permitted.value("crank_bored") == near(2.25)
        and permitted.undo("crank_bored") == "frame cut"
    )
    # Engine stripped, crankshaft out, set up true, sent out: 6 h at 50 and 350.
    item = permitted.ways["plan"].items["crank_bored"]
    assert float(item.cost.max()) == near(650)


# ---- disc and hub -------------------------------------------------------------------------------


def test_the_hub_of_the_disc_that_must_be_ordered_is_judged(build):
    # 24 teeth: another disc, hub −4 to 40: rear released 26 + 40 + 1 + 24 = 91 against 82: −9.
    found = build(
        box={"spline_teeth": 24, "disc_hub_front": -4, "disc_hub_rear": 40, "disc_thickness": 8}
    )
    assert "disc_ordered" in found.done()
    assert found.reading("hub_seat") == near(-9) and found.verdict("hub_seat") == "clash"


def test_an_unknown_hub_of_the_disc_to_order_is_open(build):
    assert build(box={"spline_teeth": 24}).verdict("hub_seat") == "unmeasured"


ROUND = {"clutch.hub_front": -3, "clutch.hub_rear": 25, "clutch.bolt_heads": 6}
SHORT_SPLINES = {"spline_start": 26, "spline_end": 66, "collar_length": 70, "pilot_length": 26}


def test_a_disc_turned_round_saves_a_hub_on_the_runout(build):
    # −3 to 25, T 8: turned round 8 − 25 = −17 to 8 − (−3) = 11. As usual the rear stands at
    # 24 + 26 + 25 + 1 = 76 against 66. Turned: front 24 + 26 − 17 − 1 = 32, rear 62: margins
    # 6 and 4.
    found = build(ROUND, SHORT_SPLINES)
    assert found.done() == {"disc_round:1"}
    assert (found.value("hub_front"), found.value("hub_rear")) == (near(-17), near(11))
    assert found.reading("hub_seat") == near(4) and found.reading("hub_seat", "found") == near(
        66 - 76
    )


@pytest.mark.parametrize("bolt_heads", [7.5, 8])
def test_turned_round_the_hub_must_clear_the_flywheels_bolts(build, bolt_heads):
    # Foremost at 26 − 17 − 1 = 8 behind the flange; bolts at 7.5 leave 0.5, 1 is asked.
    found = build(ROUND | {"clutch.bolt_heads": bolt_heads}, SHORT_SPLINES)
    assert "disc_round:1" not in found.done() and found.verdict("hub_seat") == "clash"


def test_a_disc_of_unknown_thickness_is_neither_turned_nor_refused(build):
    found = build(ROUND | {"clutch.disc_thickness": None}, SHORT_SPLINES)
    assert found.verdict("hub_seat") == "unmeasured"


# ---- guide --------------------------------------------------------------------------------------


def test_a_guide_that_is_shortened_still_guides(build):
    # Guide 106: 176 − 106 − 75 = −5: 6 off. Under the carrier 100 + 30 − (170 − 18 − 26 − 44)
    # − 8 = 40,
    # at most the carrier's 30.
    found = build(box={"collar_length": 106})
    assert found.value("collar_cut") == near(6) and found.reading("bearing_reach") == near(30)


def test_a_guide_that_would_no_longer_guide_is_a_clash(build):
    # Stick-out 130 and reach −22 leave 130 − L − (−22 + 51) for the gap: a guide of 110 must
    # lose 10 ...
    # and fingers 20 low, 106 from the face: 100 + 30 − 106 − 8 = 16. With a carrier of 20: 6,
    # 10 is asked.
    # Nothing is known of today's guide: what today's car fails too would be judged against it.
    car = {
        "clutch.finger_height": 20,
        "limits": {"bearing_sleeve": 20},
        "gearbox": {"ratio_1": 3.6},
    }
    found = build(car,
                  {"shaft_stickout": 130, "collar_length": 110})  # fmt: skip
    assert found.value("collar_cut") == near(10) and found.reading("bearing_reach") == near(6)
    assert found.verdict("bearing_reach") == "clash"


# ---- where the face is --------------------------------------------------------------------------


def test_a_backplate_counts(build):
    # 3.2 + 160 = 163.2; stick-out 163, flange 25: reach 25 − 0.2 = 24.8.
    found = build({"engine.backplate": 3.2, "crank.flange_position": 25, "bellhousing.depth": 160},
                  {"bellhousing": "car", "shaft_stickout": 163})  # fmt: skip
    assert found.value("depth_of_face") == near(163.2) and found.value("reach") == near(24.8)
    # The candidate's own plate, where it has another: 2.0, 0.6 mm less behind the block.
    own = build({"engine.backplate": 3.2}, {"backplate": 2.6})
    assert own.value("depth_of_face") == near(172.6)


def test_an_integral_bell_is_typed_from_its_front(build):
    # Depth 165, stick-out typed −3: 162, x_tip 3. Stations lose the depth: 885 − 165 = 720 long.
    box = {"measured_from": "bell", "bellhousing_depth": 165, "shaft_stickout": -3, "collar_length": -79,
           "length": 885, "case_length": 475, "mount_position": 815, "shifter_position": 845}  # fmt: skip
    found = build(box=box)
    assert found.value("x_tip") == near(3) and found.value("reach") == near(15)
    assert found.value("output_x") == near(885) and found.value("pad_x") == near(815)
    # Guide −79 → 86: 162 − 86 − (15 + 51) = 10.
    assert found.reading("collar_gap") == near(10)


def test_a_negative_stick_out_from_the_face_is_refused(build):
    from compare.problems import InputError

    with pytest.raises(InputError, match="outside what is possible"):
        build(box={"shaft_stickout": -3})


def test_a_plate_to_make_has_a_least_thickness(build):
    # Stick-out 178 and a plate of 2 to 30 mm: reach 26 − t. Thin would do for the shaft; 6 is
    # the least.
    found = build(box={"shaft_stickout": 178, "adapter": "to make", "adapter_thickness": "2..30"})
    assert found.value("adapter_thickness") >= 6 - 1e-9 and found.verdict("plate_wall") != "clash"
    thin = build(box={"adapter": "to make", "adapter_thickness": "2..4"})
    assert thin.verdict("plate_wall") == "clash"


# ---- register -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("register", "done", "bore"),
    [
        (140, {"ring_made"}, 150.0),  # wall 5
        (148, {"ring_made", "bellhousing_bored"}, 151.0),  # wall 1 is too thin: 0.5 a side more
        (156, {"bellhousing_bored"}, 156.0),  # 3 a side
        (150.05, set(), 150.0),  # within 0.1
    ],
)
def test_the_register_is_made_to_fit(build, register, done, bore):
    found = build(box={"bellhousing": "car", "register_diameter": register})
    assert found.done() == done and found.value("bellhousing_bore_after") == near(bore)
    assert found.verdict("register_fit") == "clear"


def test_a_register_far_too_large_is_not_bored_out(build):
    # 180 in 150: 15 a side, 5 is the most before the bore's wall is gone.
    found = build(box={"bellhousing": "car", "register_diameter": 180})
    assert found.done() == set() and found.verdict("register_fit") == "clash"


# ---- mount --------------------------------------------------------------------------------------


def test_partial_levelling_says_what_is_left(build):
    # 60 tan 10° = 10.58 needed, 8 allowed: atan(8 / 60) = 7.595°, 2.405° are left, 2 is the most.
    # Even a wedge for the rest wants room: 96 − 4 + 60 tan 2.405° / 2 = 93.26 against 92 at most.
    found = build({"mount.drop_most": 92, "limits": {"mount_lift_most": 0}}, {"mount_tilt": 10})
    assert found.value("stock_needed") == pytest.approx(10.6, abs=0.05)
    assert math.degrees(found.value("tilt_milled")) == pytest.approx(2.4, abs=0.05)
    assert found.verdict("mount_tilt") == "clash" and "pad_milled" not in found.done()


def test_a_wedge_takes_what_milling_leaves(build):
    # As above with 97 at most: milled 8 (4 nearer the axis), wedge 2.405° (1.26 mean): 93.26.
    found = build({"mount.drop_most": 97}, {"mount_tilt": 10})
    assert found.done() == {"pad_milled", "wedge_angle"} and found.value("pad_milled") == near(8)
    assert found.reading("mount_height") == pytest.approx(93.26, abs=0.005)
    assert found.reading("mount_tilt") == near(0)


def test_a_wedge_where_the_height_allows_it(build):
    # 4° over 60: 4.196 thick, mean 2.098: 98.098, 112 is the most.
    found = build(box={"mount_tilt": 4})
    assert found.done() == {"wedge_angle"} and found.reading("mount_height") == pytest.approx(
        98.098, abs=1e-3
    )


def test_milling_brings_the_pad_up_so_the_tail_is_not_raised_too(build):
    # Pad 95 down and 6° off, 93 at most. Milled 60 tan 6° = 6.306: 95 − 3.153 = 91.847. No lift.
    found = build({"mount.drop_most": 93}, {"mount_tilt": 6, "mount_drop": 95})
    assert found.done() == {"pad_milled"} and found.reading("mount_height") == pytest.approx(
        91.847, abs=1e-3
    )


@pytest.mark.parametrize(
    ("drop", "spacer", "verdict"), [(75, 10.0, "clear"), (60, 25.0, "clear"), (55, 0.0, "clash")]
)
def test_a_spacer_fills_a_gap_and_tilts_nothing(build, drop, spacer, verdict):
    # 85 is the least; a spacer is 25 at most: it does all of it or is left away.
    found = build(box={"mount_drop": drop})
    assert found.value("mount_spacer") == near(spacer) and found.verdict("mount_height") == verdict
    assert found.value("lift_tilt") == 0


def test_a_bracket_reaches_sixty(build):
    # Pad at 170 + 560 = 730: 50 before the zone. At 700 it is 80: the crossmember must move.
    assert build(box={"mount_position": 560}).value("mount_bracket") == near(50)
    far = build(box={"mount_position": 530})
    assert far.verdict("mount_reach") == "clash" and "mount_bracket" not in far.done()
    moved = build({"policy.deepest_cut": "frame cut"}, {"mount_position": 530})
    assert moved.value("crossmember_moved") == near(20) and moved.value("mount_bracket") == near(60)


LIFTED = {"mount_drop": 122, "mount_position": 630, "length": 688}


def test_a_lift_tilts_engine_and_gearbox_and_raises_the_output(build):
    # h 10 at pad 800 about −350: δ = 10 / 1150 = 0.498°; output at 858: 1208 × δ = 10.5 up.
    # The pad stands δ off its mount: within half a degree.
    found = build({"limits": {"mount_lift_most": 12}}, LIFTED)
    assert "lift" in found.done() and found.reading("mount_height") == near(112)
    assert math.degrees(found.value("lift_tilt")) == pytest.approx(0.498, abs=5e-4)
    assert found.value("output_rise") == pytest.approx(10.5, abs=0.05)
    assert found.reading("mount_tilt") == pytest.approx(0.498, abs=5e-4)
    # Joints: θ = atan((48 + 10.5) / 1192) = 2.81°; front θ + δ = 3.31°, rear θ = 2.81°.
    theta = math.degrees(math.atan2(48 + found.value("output_rise"), 2050 - 858))
    assert math.degrees(found.value("front_angle")) == pytest.approx(theta + 0.498, abs=1e-3)
    assert math.degrees(found.value("rear_angle")) == pytest.approx(theta, abs=1e-3)


def test_no_lift_that_the_joints_do_not_bear(build):
    # Pinion 100 down: θ = 4.8° already, the table permits no more: no lift, the height stays
    # a clash.
    found = build({"limits": {"mount_lift_most": 12}, "driveshaft.pinion_drop": 100}, LIFTED)
    assert "lift" not in found.done() and found.verdict("mount_height") == "clash"


def test_what_the_crossmember_asks_in_vain_does_not_stop_the_lift_that_the_mount_needs(build):
    # Tail 139 down: 20 missing at the crossmember, more than any lift. The pad, 4 too low, is
    # lifted 4.
    found = build(box={"tail_bottom": 139, "mount_drop": 116})
    assert found.value("lift") == near(4) and found.verdict("mount_height") == "clear"
    assert found.verdict("crossmember") == "clash"


# ---- crossmember --------------------------------------------------------------------------------


def test_the_crossmember_is_judged_by_the_air_over_it(build):
    # Top 125 down, tail 84 down: 41 of air.
    assert build().reading("crossmember") == near(41)
    assert build(box={"tail_bottom": 119}).reading("crossmember") == near(6)


def test_the_tail_is_raised_over_the_crossmember(build):
    # Tail 123: 2 of air, 4 missing at x 500. Pad 820: lift 4 × (820 + 350) / (500 + 350) = 5.506.
    found = build(box={"tail_bottom": 123})
    assert found.done() == {"lift"} and found.value("lift") == pytest.approx(5.506, abs=1e-3)
    assert found.reading("crossmember") == near(6)


def test_a_lip_is_trimmed_and_the_box_left_whole(build):
    # Case to 170 + 330 = 500, 130 down, with 6 of gap 6 over the lip (10 deep).
    found = build(box={"case_length": 330, "case_bottom": 130})
    assert found.done() == {"lip_cut"} and found.value("lip_cut") == near(6)
    assert found.undo("lip_cut") == "body cut"


def test_a_notch_and_what_it_is_when_the_crossmember_unbolts(build):
    # Tail 139: 20 missing over all of 500 to 570: lip 10, a notch 20 deep rather than 60 fore
    # and aft.
    forbidden = build(box={"tail_bottom": 139})
    assert forbidden.verdict("crossmember") == "clash" and forbidden.reading("crossmember") == near(
        -14
    )
    # A lip trimmed for nothing is not trimmed.
    assert forbidden.done() == set()
    permitted = build({"policy.deepest_cut": "frame cut"}, {"tail_bottom": 139})
    assert permitted.value("relief") == near(20) and permitted.undo("relief") == "frame cut"
    unbolts = build({"crossmember.removable": True}, {"tail_bottom": 139})
    assert unbolts.undo("relief") == unbolts.undo("lip_cut") == "panel cut" and unbolts.goes_in == 1


def test_another_gap_is_one_limit(build):
    # 4.5 of air with a gap of 4 asked for: enough.
    found = build({"limits": {"crossmember_gap": 4}}, {"tail_bottom": 120.5})
    assert found.verdict("crossmember") == "clear" and found.reading("crossmember") == near(4.5)


def test_the_bell_is_a_box_too(build):
    # Crossmember at 150 to 220 under the bell's rear end (to 170): bell 160 down, 35 below the top.
    car = {"crossmember.start": 150, "crossmember.end": 220}
    found = build(car, {"bell_bottom": 160, "case_bottom": 90})
    assert (
        found.reading("crossmember") == near(125 - 160) and found.verdict("crossmember") == "clash"
    )
    # Behind a plate of 30 the bell still ends at 170: a crossmember from 180 is clear of it.
    plate = {"adapter": "bought", "adapter_thickness": 30, "shaft_stickout": 206, "bell_bottom": 160,
             "case_bottom": 90, "collar_length": 110}  # fmt: skip
    behind = build({"crossmember.start": 180, "crossmember.end": 220}, plate)
    assert behind.verdict("crossmember") == "clear" and behind.reading("crossmember") == near(35)


def test_no_crossmember_and_one_whose_height_nobody_knows(build):
    none = build({"crossmember": {"none": True}}, {"tail_bottom": 139})
    assert none.verdict("crossmember") == "clear" and none.goes_in == 1
    open_ = build({"crossmember.top": None}, {"tail_bottom": 139})
    assert open_.verdict("crossmember") == "unmeasured" and math.isnan(open_.goes_in)


# ---- tunnel and opening -------------------------------------------------------------------------


def test_the_tunnel_is_eased_by_what_is_missing_to_the_tight_clearance(build):
    # At 890 the left side is 150 − 40 × 410 / 420 = 110.952; tail 110 + 6 − 110.952 = 5.048.
    found = build(box={"tail_left": 110})
    assert found.value("cover_eased") == pytest.approx(5.048, abs=1e-3)
    assert found.undo("cover_eased") == "panel cut" and found.reading("tunnel") == near(6)
    fixed = build({"tunnel.removable": False}, {"tail_left": 110})
    assert fixed.undo("tunnel_eased") == "body cut"


def test_lugs_come_off_the_tail_before_the_tunnel_is_cut(build):
    # 112 + 6 − 110.952 = 7.048: 5 off the lugs, 2.048 out of the tunnel.
    found = build({"tunnel.removable": False}, {"tail_left": 112, "lug_cut": 5})
    assert found.value("lugs_cut") == near(5) and found.undo("lugs_cut") == "donor cut"
    assert found.value("tunnel_eased") == pytest.approx(2.048, abs=1e-3)
    assert found.reading("tunnel") == near(6)


def test_pieces_of_the_tunnel(build):
    pieces = [
        {"start": 0, "end": 700, "removable": True},
        {"start": 700, "end": 1200, "removable": False},
    ]
    found = build({"tunnel.pieces": pieces}, {"tail_left": 110})
    assert (
        found.value("tunnel_eased") == pytest.approx(5.048, abs=1e-3)
        and found.value("cover_eased") == 0
    )


def test_a_stretch_without_a_station_is_open(build):
    stations = [
        {"x": 0, "left": 240, "right": 240, "top": 250},
        {"x": 480, "left": 150, "right": 150, "top": 170},
    ]
    assert build({"tunnel.stations": stations}).verdict("tunnel") == "unmeasured"
    assert build({"tunnel": {"none": True}}, {"tail_left": 110}).verdict("tunnel") == "clear"


def test_the_bell_against_the_tunnel(build):
    # Left 163 at 0, 150 at 480: at 170 163 − 13 × 170 / 480 = 158.396; bell 160 + 6: 7.604.
    stations = [{"x": 0, "left": 163, "right": 240, "top": 250}, {"x": 480, "left": 150, "right": 150, "top": 170},
                {"x": 900, "left": 110, "right": 110, "top": 130}]  # fmt: skip
    assert build({"tunnel.stations": stations}).value("cover_eased") == pytest.approx(
        7.604, abs=1e-3
    )


@pytest.mark.parametrize("crank", [0, 40])
def test_a_turret_does_not_shrink_because_the_lever_is_cranked(build, crank):
    # Lever at 170 + 610 = 780: 740 to 820 against 790 to 930: 50 at the front, whatever the
    # lever does.
    found = build({"lever.crank_most": crank}, {"shifter_position": 610})
    assert found.value("opening_cut") == near(50)
    # The knob, 70 forward, comes back by what the crank gives.
    assert found.value("lever_cranked") == near(crank)


def test_a_turret_off_to_the_side(build):
    # Right 40 + 35 = 75 against 70.
    assert build(box={"shifter_offset": 40}).value("opening_cut") == near(5)
    assert build({"opening.left": None}).verdict("shifter_opening") == "unmeasured"
    assert build({"opening": {"none": True}}, {"shifter_position": 610}).done() == {"lever_cranked"}


# ---- engine forward -----------------------------------------------------------------------------

MOVES = {"engine_mounts.shift_bolted": 4, "engine_mounts.shift_slotted": 12}
INTO_BOX = {"case_length": 335, "case_bottom": 130}


@pytest.mark.parametrize(("slides", "each"), [(1, 7.0), (2, 3.5)])
def test_half_at_each_only_where_a_bracket_slides_in_two_places(build, slides, each):
    # Case and gap to 170 + 335 + 6 = 511: 11 forward spares all of the crossmember; 4 as bolted: 7.
    found = build(MOVES | {"engine_mounts.slides": slides}, INTO_BOX)
    assert found.reading("engine_shift") == near(11) and found.value("brackets_slotted") == near(7)
    assert found.value("slot_each") == near(each)


def test_the_fan_ends_the_shift(build):
    # 20 − 15 = 5 forward at most; 6 of the lip are trimmed.
    found = build(MOVES | {"engine_mounts.fan_gap": 20}, INTO_BOX)
    assert found.reading("engine_shift") == near(5) and found.value("lip_cut") == near(6)
    assert found.reading("fan_gap") == near(15) and found.verdict("fan_gap") == "clear"


# ---- clutch, driveline, money and marks ---------------------------------------------------------


def test_a_concentric_slave_by_hand(build):
    # Face to fingers 170 − 18 − 26 − 44 = 82; slave 78: 4 of air. 28 × 19.05² / (50² − 36²) = 8.44.
    box = {"release_type": "concentric", "annulus_inside": 36, "annulus_outside": 50, "annulus_stroke": 14,
           "slave_least": 78, "collar_length": None}  # fmt: skip
    found = build(box=box)
    assert found.reading("slave_standoff") == near(4) and found.verdict("slave_standoff") == "clear"
    assert found.reading("release_travel") == pytest.approx(8.44, abs=5e-3)
    # It is bought (110) and fitted (2 h at 8), and counts against the clutch.
    assert found.done() == {"concentric_slave"} and found.verdict("release_side") == "tight"
    assert float(found.ways["plan"].items["concentric_slave"].cost.max()) == near(126)


def test_an_arm_on_the_blocked_side_is_moved_across(build):
    found = build(box={"release_side": "right", "arm_swaps": "pushes"})
    assert found.done() == {"release_way:1"} and found.verdict("release_side") == "clear"


def test_joints_of_the_plain_build(build):
    # θ = atan(48 / (2050 − 890)) = 2.37° at both: nothing is left.
    found = build()
    assert found.reading("joint_angle") == pytest.approx(2.37, abs=5e-3)
    assert found.reading("joint_cancel") == near(0)


def test_a_wedge_in_the_axle_cures_what_the_joints_leave(build):
    # Engine 3°, pinion 0°: θ = 2.37°; rear 5.37°. 3° of wedge: both the same, arm 200 sin 3° lower.
    car = {"driveshaft.pinion_tilt": 0, "gearbox": {"ratio_1": 3.6}}
    found = build(car, {"output_spline_teeth": 16})
    assert "axle_wedge" in found.done()
    assert found.verdict("joint_cancel") != "clash"


def test_a_yoke_must_match(build):
    found = build(box={"output_spline_teeth": 25})
    assert "yoke_to_match" in found.done() and found.verdict("yoke_match", "found") == "clash"


def test_slip_needs_engagement(build):
    # 35 of travel, 5 of reserve, 25.4 of engagement: 65.4. A slip of 60 is 5.4 short, 65.4
    # just does.
    assert build(box={"slip_travel": 60}).reading("plunge") == near(-5.4)
    assert build(box={"slip_travel": 65.4}).verdict("plunge") == "tight"


def test_money_of_the_plain_build(build):
    # Gearbox 400, oil and gaskets 35, 8 h at 8, speedometer's driven gear; fetching is counted too.
    bare = build().value("total_cost")
    fetched = build({"policy.transport": 30}).value("total_cost")
    assert fetched - bare == near(30)
    unknown = build(box={"price": None})
    assert math.isnan(unknown.value("total_cost")) and unknown.verdict("budget") == "unmeasured"


def test_the_owners_marks_weigh(build):
    plain = build(box={"mark_synchromesh": 10})
    heavy = build({"weights": {"synchromesh": 8}}, {"mark_synchromesh": 10})
    poor = build({"weights": {"synchromesh": 8}}, {"mark_synchromesh": 2})
    assert heavy.a.score[0] > plain.a.score[0] > poor.a.score[0]
    # A mark of 10 is worth 1 and one of 2 is worth 0.2: S falls by 100 × 0.8 × 8 / (16 + 8).
    total = 16.0
    assert heavy.a.score[0] - poor.a.score[0] == pytest.approx(
        100 * 0.8 * 8 / (total + 8), abs=1e-6
    )


# ---- unknown numbers ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("car", "box", "check"),
    [
        ({"crank.bush_recess": None}, {}, "shoulder_gap"),
        ({"crank.bore_depth": None}, {}, "end_gap"),
        ({"clutch.friction_face": None}, {}, "hub_seat"),
        ({}, {"spline_end": None}, "hub_seat"),
        ({}, {"collar_length": None}, "collar_gap"),
        ({"mount.drop_most": None}, {}, "mount_height"),
        ({}, {"mount_tilt": None}, "mount_tilt"),
        ({"mount.tilt": None}, {}, "mount_tilt"),
        ({"crossmember.start": None}, {}, "crossmember"),
        ({}, {"tail_top": None}, "tunnel"),
        ({}, {"shifter_room": None}, "shifter_opening"),
        ({}, {"turret_width": None}, "shifter_opening"),
        ({}, {"bellhousing": "car", "register_diameter": None}, "register_fit"),
        ({}, {"bellhousing": "car", "adapter": None}, "register_fit"),
        ({"bellhousing.register_diameter": None}, {"bellhousing": "car"}, "register_fit"),
        ({}, {"mount_tilt": 10, "mount_pad_stock": None, "mount_drop": 112}, "mount_tilt"),
    ],
)
def test_what_is_not_known_is_never_passed(build, car, box, check):
    found = build(car, box)
    assert found.verdict(check) == "unmeasured"


def test_an_unknown_height_of_the_mount_says_nothing_of_the_joints(build):
    found = build({"mount.drop_most": None})
    assert found.verdict("joint_angle") == "clear" and found.verdict("crossmember") == "clear"


def test_nothing_in_the_way(build):
    car = {
        "mount": {"none": True},
        "crossmember": {"none": True},
        "tunnel": {"none": True},
        "opening": {"none": True},
    }
    found = build(car, {"mount_tilt": 9, "tail_bottom": 150, "tail_left": 200})
    assert found.clashes() == set()
    assert {
        found.verdict(c)
        for c in ("mount_tilt", "mount_height", "mount_reach", "crossmember", "tunnel")
    } == {"clear"}


# ---- with doubt ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "box",
    [
        {"pilot_length": 22}, {"mount_tilt": 4}, {"mount_drop": 75}, {"tail_bottom": 122}, {"tail_left": 110},
        {"case_length": 330, "case_bottom": 130}, {"shifter_position": 610}, {"collar_length": 106},
        {"pilot_diameter": 18}, {"pilot_diameter": 21.2}, {"mount_position": 560},
        {"bellhousing": "car", "register_diameter": 140}, {"bellhousing": "car", "register_diameter": 156},
    ],
)  # fmt: skip
def test_a_cure_cures_in_the_draws_too(build, box):
    """Each draw's own figure puts right what it was asked for; no cure spoils another check."""
    found = build(box=box, draws=96)
    assert found.a.chance[0] > 0.97, dict(
        zip(found.titles, found.a.drawn.clash_fitted[0].round(2), strict=True)
    )


# ---- the demo's car -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "typed", "caught"),
    [
        (None, None, []),
        (
            "flange_position = 25",
            "flange_position = 52",
            ["end_gap", "shoulder_gap", "hub_seat", "collar_gap"],
        ),
        ("bore_depth = 34", "bore_depth = 24", ["end_gap"]),
        ("bush_recess = 5", "bush_recess = -5", ["shoulder_gap"]),
        ('bush_bore = "12.73 ±0.03 mm"', "bush_bore = 12.23", ["pilot_size"]),
        ("bush_length = 18", "bush_length = 4", ["bush_hold"]),
    ],
)
def test_todays_gearbox_of_the_demo_is_the_gauge_of_its_crank(key, typed, caught):
    """As found it passes; each wrong dimension of the crankshaft is caught by it."""
    from pathlib import Path

    from compare.judge.baseline import today
    from compare.judge.engine import Engine
    from compare.read.car import read_car

    text = (Path(__file__).resolve().parent.parent / "catalogs" / "pellow-van.toml").read_text(
        "utf-8"
    )
    if key is not None:
        assert text.count(key) == 1
        text = text.replace(key, typed)
    found = today(Engine(read_car(text)))
    assert found is not None and set(caught) <= set(found.failing) and found.passes == (not caught)
