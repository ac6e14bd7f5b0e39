"""Pilot: the shaft's tip in the crankshaft, its journal in the bush, the shoulder behind it.

On the shaft, s runs rearward from the tip. In the crankshaft, depth runs forward from the flange.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from compare.judge.rules import (
    SAME,
    Ask,
    AtLeast,
    Limit,
    Option,
    Options,
    Own,
    Reading,
    check,
    choice,
    decision,
    quantity,
    unknown_where,
)
from compare.ordering import Cut, order, tell
from compare.standards import centre_hole, closing, general_tolerance, limits_of_size, undercut

Array = np.ndarray

AS_IT_IS, REAM, NEW_BUSH, TO_PRESENT, TO_LARGEST, OPEN_BORE = range(6)
NEW_BUSHES = (NEW_BUSH, TO_LARGEST, OPEN_BORE)
NEEDLE = 1


def tip_reach(flange_position: Array, depth: Array, thickness: Array, stickout: Array) -> Array:
    """How far the shaft's tip stands inside the crankshaft, from its flange [mm].

    reach = flange − (depth + thickness − stickout), all [mm] and at no engine shift: the crankshaft
    moves with the engine. A backplate counts in the depth.

    >>> float(tip_reach(20.0, 150.0, 12.0, 170.0)), round(float(tip_reach(25.0, 163.2, 0.0, 163.0)), 6)
    (28.0, 24.8)
    """
    return flange_position - (depth + thickness - stickout)


def other_stop(mouth: Array, mouth_depth: Array, bore: Array, shoulder: Array) -> Array:
    """Depth of the first thing of the crankshaft narrower than the shoulder [mm]; +inf for none.

    The flange plane, unless what opens there is wider; then the end of the mouth, unless the bore
    is
    wider. The bush counts besides.

    >>> [float(other_stop(m, 6.0, 21.0, s)) for m, s in ((0.0, 25.4), (30.0, 25.4), (30.0, 20.0))]
    [0.0, 6.0, inf]
    """
    narrow = np.maximum(mouth, bore) <= shoulder
    at = np.where(narrow, 0.0, np.where(bore <= shoulder, mouth_depth, np.inf))
    return unknown_where(at, mouth, mouth_depth, bore, shoulder)


def overlap(near: Array, far: Array, journal_near: Array, journal_far: Array) -> Array:
    """Length over which the journal runs in the bush [mm]; negative: by how much it does not reach.

    near, far: depth of the bush's ends; journal_near: where the journal's cylinder begins behind
    the
    undercut of the shoulder; journal_far: depth of the tip.

    >>> float(overlap(0.0, 20.0, -5.0, 14.0)), float(overlap(0.0, 20.0, -30.0, -4.0))
    (14.0, -4.0)
    """
    return np.minimum(far, journal_far) - np.maximum(near, journal_near)


def bush_wall(bore: Any, journal: Any) -> Any:
    """Wall of a bush between a bore and a journal [mm].

    >>> bush_wall(21.0, 17.0)
    2.0
    """
    return (bore - journal) / 2.0


def undercut_length(journal: Array, small: float, large: float) -> Array:
    """Length of the undercut at the shoulder [mm]: DIN 509, one up to 18 mm of diameter, one above.

    >>> undercut_length(np.array([12.7, 18.2]), 2.0, 2.5).tolist()
    [2.0, 2.5]
    """
    return unknown_where(np.where(journal <= 18.0, small, large), journal)


WALL_CLEAR = Limit(
    "bush_wall_clear",
    2.0,
    "mm",
    "ISO 2795 (from memory): thinnest wall sold; below it one makes it",
)
WALL_TIGHT = Limit("bush_wall_tight", 1.5, "mm", "practice: thinner than this a bush crumbles")
CLEARANCE_CLEAR = Limit("pilot_clearance_clear", 0.15, "mm", "practice: still a guide")
CLEARANCE_TIGHT = Limit("pilot_clearance_tight", 0.30, "mm", "practice")
CLEARANCE_LEAST = Limit(
    "pilot_clearance_least", -0.02, "mm", "practice: same nominal size counts as fitting"
)
RUNNING = Limit(
    "pilot_running_clearance", 0.03, "mm", "ISO 286-2: H7/f7 at 12 to 18 mm gives 16 to 52 µm"
)
NEEDLE_CLEAR = Limit(
    "pilot_needle_clear", 0.06, "mm", "NTN, needle bearings p. 95: drawn cup F8 on h6, 16 to 54 µm"
)
NEEDLE_TIGHT = Limit("pilot_needle_tight", 0.10, "mm", "practice: looser, needles skew")
REAM_MOST = Limit("bush_ream_most", 0.5, "mm", "practice: what a reamer takes out of a bush")
HOLD_CLEAR = Limit("bush_hold_clear", 0.75, "× journal", "practice")
HOLD_TIGHT = Limit("bush_hold_tight", 0.5, "× journal", "practice")
BORE_TRUE = Limit(
    "pilot_bore_runout", 0.13, "mm", "TM 5-3895-383-24, p. 5-40, and a truck-engine manual"
)
CASE_THIN = Limit(
    "case_depth_assumed", 0.5, "mm", "Ovako, Case hardening steel: 0.5 to 1.0 mm is typical"
)
LEAST_JOURNAL = Limit("journal_least", 10.0, "mm", "practice: thinner, a pilot bends or shears")
UNDERCUT_SMALL = Limit("undercut_small", 2.0, "mm", "DIN 509, form E and F, over 10 to 18 mm")
UNDERCUT_LARGE = Limit("undercut_large", 2.5, "mm", "DIN 509, form E and F, over 18 to 80 mm")


# ---- diameters: which way makes the journal run --------------------------------------------------


class Ways(NamedTuple):
    """Every way to make the journal run, by diameters alone, each `(builds, draws, options)` [mm].

    journal: diameter after the work. cut: per side off the journal. ream: out of the bush's bore.
    opened: per side out of the crankshaft.
    """

    journal: Array
    cut: Array
    ream: Array
    opened: Array
    works: Array
    rank: Array


@quantity("mm diameter", "case depth, the thin end of what is usual where unknown")
def case_assumed(case_depth: Array, case_depth_assumed: float) -> Array:
    return np.where(np.isnan(case_depth), case_depth_assumed, case_depth)


def _stacked(*arrays: Array) -> Array:
    return np.stack(np.broadcast_arrays(*arrays), axis=-1)


@quantity("mm", "ways to make the journal run")
def pilot_ways(
    pilot_diameter: Array,
    crank_bush_bore: Array,
    crank_bore_diameter: Array,
    crank_pilot: Array,
    case_assumed: Array,
    bush_wall_clear: float,
    bush_wall_tight: float,
    pilot_clearance_tight: float,
    pilot_clearance_least: float,
    pilot_running_clearance: float,
    pilot_needle_tight: float,
    bush_ream_most: float,
    journal_least: float,
) -> Ways:
    """In the order of the choice's options; the shallowest, then the least metal cut, ranks first.

    What is reamed or turned for a bush is made to run in it: a clearance of nothing does not turn.
    """
    pilot, bush, bore = pilot_diameter, crank_bush_bore, crank_bore_diameter
    clearance, wall = bush - pilot, bush_wall(bore, pilot)
    nothing = np.zeros(np.broadcast_shapes(pilot.shape, bush.shape, bore.shape))
    largest = bore - 2.0 * bush_wall_clear
    present_size = bush - pilot_running_clearance
    journal = _stacked(pilot, pilot, pilot, present_size, largest, pilot)
    cut = np.maximum((pilot[..., None] - journal) / 2.0, 0.0)
    ream = np.maximum(pilot_running_clearance - clearance, 0.0)
    opened = np.maximum((pilot + 2.0 * bush_wall_clear - bore) / 2.0, 0.0)
    needle = crank_pilot == NEEDLE
    soft = (pilot - present_size) / 2.0 > case_assumed
    loosest = np.where(needle, pilot_needle_tight, pilot_clearance_tight)
    as_is = np.minimum(clearance - pilot_clearance_least, loosest - clearance)
    reamed = np.minimum(bush_ream_most - ream, wall - bush_wall_tight)
    reamed = np.where((clearance < pilot_clearance_least) & ~needle, reamed, -1.0)
    present = np.where((pilot > bush) & ~(needle & soft), present_size - journal_least, -1.0)
    turned = np.where(pilot > largest, largest - journal_least, -1.0)
    bored = np.where(opened > SAME, 1.0, -1.0)
    works = _stacked(as_is, reamed, wall - bush_wall_tight, present, turned, bored)
    works = unknown_where(works, (pilot + bush + bore)[..., None])
    undo = np.array([0.0, 0.0, 0.0, 1.0, 1.0, 4.0])
    order = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 5.0])
    metal = cut + _stacked(*[nothing] * 5, opened)
    rank = undo * 1e4 + np.minimum(np.nan_to_num(metal), 50.0) * 100.0 + order
    return Ways(
        journal, cut, _stacked(nothing, ream, *[nothing] * 4), _stacked(*[nothing] * 5, opened),
        works, rank,
    )  # fmt: skip


@choice(
    "how the journal is made to run",
    "input shaft",
    (
        Option("as it is"),
        Option("ream the present bush"),
        Option("a new bush"),
        Option("turn the journal to the present bush", when="opened"),
        Option("turn the journal for a new bush"),
        Option("open the crankshaft's bore", undo="frame cut"),
    ),
    blind=True,
    gauge="pilot_diameter",
)
def pilot_route(pilot_ways: Ways) -> Options:
    return Options(pilot_ways.works, pilot_ways.rank)


@quantity("", "1 where the journal's way asks for a new bush")
def bush_by_route(pilot_route: Array) -> Array:
    made = np.isin(pilot_route, NEW_BUSHES)
    return unknown_where(made * 1.0, pilot_route)


def _taken(field: Array, route: Array) -> Array:
    """The value of the option taken; 0 where nothing is taken or the route is not known."""
    index = np.nan_to_num(route).astype(int)
    shape = np.broadcast_shapes(field.shape[:-1], index.shape)
    wide = np.broadcast_to(field, (*shape, field.shape[-1]))
    taken = np.take_along_axis(wide, np.broadcast_to(index, shape)[..., None], axis=-1)[..., 0]
    return unknown_where(taken, route)


@decision("Turn the journal down", "input shaft", "donor cut", unit="mm diameter", tool="lathe", hours=2.0,
          gauge="pilot_diameter",
          words="from {pilot_diameter} to {journal_after}: {figure} off each side against a case of "
                "{case_assumed}; a pilot rubs only while the clutch is down")  # fmt: skip
def journal_turned(pilot_ways: Ways, pilot_route: Array) -> Ask:
    return Ask(_taken(pilot_ways.cut, pilot_route))


# The engine is stripped and the crankshaft set up true; sent out.
@decision("Open the crankshaft's bore", "crankshaft", "frame cut", unit="mm diameter", tool="sent out",
          hours=6.0, cost=350.0,
          gauge="pilot_diameter",
          words="engine stripped, crankshaft out, set up true, its bore opened by {figure} a side",
          when="opened")  # fmt: skip
def crank_bored(pilot_ways: Ways, pilot_route: Array) -> Ask:
    return Ask(_taken(pilot_ways.opened, pilot_route))


@quantity("mm diameter", "journal after the work")
def journal_after(pilot_diameter: Array, journal_turned: Array) -> Array:
    return pilot_diameter - 2.0 * journal_turned


@quantity("mm diameter", "crankshaft's bore after the work")
def crank_bore_after(crank_bore_diameter: Array, crank_bored: Array) -> Array:
    return crank_bore_diameter + 2.0 * crank_bored


@quantity("mm", "how much of the journal must run in the bush")
def hold_needed(journal_after: Array, bush_hold_tight: float) -> Array:
    return bush_hold_tight * journal_after


# ---- what a soft journal asks for ---------------------------------------------------------------


@quantity("", "1 where the journal is turned down through its case")
def turned_soft(journal_turned: Array, case_assumed: Array) -> Array:
    return unknown_where((journal_turned > case_assumed + SAME) * 1.0, journal_turned)


@quantity("", "1 where what is turned back out of the shoulder is below its case")
def shoulder_soft(shoulder: Array, journal_after: Array, case_assumed: Array) -> Array:
    deep = (shoulder - journal_after) / 2.0 > case_assumed
    return unknown_where(deep * 1.0, shoulder, journal_after)


@quantity("", "1 where a bush can take the needles' place")
def bush_for_needles(
    crank_pilot: Array, crank_bore_after: Array, journal_after: Array, bush_wall_tight: float
) -> Array:
    """It has its wall there; it is made where the journal is too soft for needles."""
    wall = bush_wall(crank_bore_after, journal_after)
    return ((crank_pilot == NEEDLE) & (wall >= bush_wall_tight - SAME)) * 1.0


# ---- lengths: tip, shoulder, bush ----------------------------------------------------------------


@quantity("mm", "reach of the tip beyond the flange")
def reach(reach_bare: Array, adapter_thickness: Array) -> Array:
    return reach_bare - adapter_thickness


@quantity("mm", "where the tip stands, from the block")
def x_tip(x_face: Array, shaft_stickout: Array) -> Array:
    return x_face - shaft_stickout


@quantity("mm diameter", "shoulder behind the journal")
def shoulder(shoulder_diameter: Array, spline_diameter: Array) -> Array:
    return np.where(np.isnan(shoulder_diameter), spline_diameter, shoulder_diameter)


@quantity("mm", "depth of the first thing of the crankshaft narrower than the shoulder")
def crank_stop(
    crank_mouth_diameter: Array,
    crank_mouth_depth: Array,
    crank_bore_after: Array,
    shoulder: Array,
) -> Array:
    return other_stop(crank_mouth_diameter, crank_mouth_depth, crank_bore_after, shoulder)


@quantity("mm", "gap asked for between shoulder and crankshaft: the undercut's length")
def shoulder_room(journal_after: Array, undercut_small: float, undercut_large: float) -> Array:
    return undercut_length(journal_after, undercut_small, undercut_large)


class Lengths(NamedTuple):
    """What the lengths at the tip hang on, beside the reach, each `(builds, draws)` [mm]."""

    bore_depth: Array
    gap: Array
    journal: Array
    room: Array
    stop: Array
    recess: Array
    far: Array
    hold: Array
    furthest: Array


@quantity("mm", "what the lengths at the tip hang on")
def pilot_lengths(
    crank_bore_depth: Array,
    end_gap_tight: float,
    pilot_length: Array,
    shoulder_room: Array,
    crank_stop: Array,
    crank_bush_recess: Array,
    crank_bush_length: Array,
    hold_needed: Array,
    clutch_friction_face: Array,
    disc_front: Array,
    clutch_wear_travel: Array,
    hub_gap_clear: float,
) -> Lengths:
    """The hub is that of the disc that will be in the car."""
    furthest = hub_gap_clear - (clutch_friction_face + disc_front - clutch_wear_travel)
    far = crank_bush_recess + crank_bush_length
    return Lengths(
        crank_bore_depth, np.asarray(end_gap_tight), pilot_length, shoulder_room, crank_stop,
        crank_bush_recess, far, hold_needed, furthest,
    )  # fmt: skip


def tip_off(reach: Array, p: Lengths) -> Array:
    """What must come off the tip to leave the least end gap [mm].

    >>> p = Lengths(*map(np.asarray, (34.0, 1.0, 26.0, 2.0, 6.0, 2.0, 22.0, 6.0, -15.0)))
    >>> float(tip_off(np.asarray(50.0), p))
    17.0
    """
    return np.maximum(p.gap - (p.bore_depth - reach), 0.0)


def bush_give(reach: Array, p: Lengths) -> Array:
    """How much deeper the bush can be pressed with the bore's bottom and the hold kept [mm].

    >>> p = Lengths(*map(np.asarray, (34.0, 1.0, 26.0, 2.0, 6.0, 2.0, 22.0, 6.0, -15.0)))
    >>> float(bush_give(np.asarray(28.0), p))
    12.0
    """
    tip = reach - tip_off(reach, p)
    return np.maximum(np.minimum(p.bore_depth - p.far, tip - p.recess - p.hold), 0.0)


def turned_need(reach: Array, p: Lengths) -> Array:
    """By how much the journal must be longer [mm], once the bush has gone as deep as it can.

    >>> p = Lengths(*map(np.asarray, (34.0, 1.0, 20.0, 2.0, 6.0, 2.0, 22.0, 8.45, -15.0)))
    >>> float(turned_need(np.asarray(50.0), p))
    26.0
    """
    stop = np.minimum(p.stop, p.recess + bush_give(reach, p))
    return np.maximum(reach - p.journal + p.room - stop, 0.0)


def turned_breaks(p: Lengths) -> tuple[Array, ...]:
    """The reaches at which `turned_need` may change its slope [mm].

    >>> p = Lengths(*map(np.asarray, (34.0, 1.0, 20.0, 2.0, 6.0, 2.0, 22.0, 8.45, -15.0)))
    >>> float(turned_breaks(p)[0])
    33.0
    """
    deepest = p.bore_depth - p.gap
    give = np.maximum(np.minimum(p.bore_depth - p.far, deepest - p.recess - p.hold), 0.0)
    last = np.minimum(p.stop, p.recess + give)
    start = p.journal - p.room
    return (
        deepest, p.recess + p.hold, p.hold + p.recess + p.bore_depth - p.far, p.stop + p.hold,
        start + last, start + p.recess, start + p.stop,
    )  # fmt: skip


@decision("Shorten the tip", "input shaft", "donor cut", tool="lathe", hours=0.5,
          gauge="reach",
          words="leaves the least end gap; keep the chamfer", when="opened")  # fmt: skip
def tip_cut(reach: Array, pilot_lengths: Lengths) -> Ask:
    return Ask(pilot_lengths.gap - (pilot_lengths.bore_depth - reach))


@decision("Turn the journal back", "input shaft", "donor cut", tool="lathe", hours=1.5, hours_per_mm=0.05,
          gauge="reach",
          words="journal {pilot_length} long, {journal_needed} needed; "
                "full splines then start at {spline_start_after}", when="opened")  # fmt: skip
def turned_back(reach: Array, pilot_lengths: Lengths) -> Ask:
    """Deeper than setting the bush deeper: it asks only for what the bush at its most cannot give."""
    return Ask(turned_need(reach, pilot_lengths))


@quantity("mm", "journal length after the work")
def journal_needed(pilot_length: Array, turned_back: Array) -> Array:
    return pilot_length + turned_back


@quantity("mm", "start of the full splines after the work")
def spline_start_after(spline_start: Array, journal_needed: Array, turned_back: Array) -> Array:
    """Turning back past the first full spline moves it."""
    return np.where(turned_back > SAME, np.maximum(spline_start, journal_needed), spline_start)


@decision("Grind the splines off ahead of the journal", "input shaft", "donor cut", tool="grinder",
          hours=1.5, gauge="reach",
          words="{figure} of full splines, down to the journal, before it is turned",
          when="opened")  # fmt: skip
def spline_cut(spline_start: Array, journal_needed: Array, turned_back: Array) -> Ask:
    into = np.where(turned_back > SAME, journal_needed - spline_start, 0.0)
    return Ask(unknown_where(into, turned_back))


@decision("Set the bush deeper", "crankshaft", hours=0.7, gauge="reach",
          words="pressed {figure} deeper, for the shoulder", when="car")  # fmt: skip
def bush_deeper(
    reach: Array, pilot_lengths: Lengths, turned_back: Array, pilot_route: Array
) -> Ask:
    """A bush that is made anyway is pressed to its place for nothing more.

    Where the crankshaft itself stops the shoulder first, a deeper bush cures nothing.
    """
    p = pilot_lengths
    wanted = reach - p.journal - turned_back + p.room
    need = np.where(wanted > p.stop + SAME, 0.0, wanted - p.recess)
    need = unknown_where(need, p.stop)
    hours = np.where(np.isin(pilot_route, NEW_BUSHES), 0.0, 0.7)
    need = np.where(need > SAME, need, unknown_where(0.0, need))
    return Ask(need, capacity=bush_give(reach, p), hours=hours)


@quantity("mm", "depth of the bush's near end, before any longer bush")
def bush_set(crank_bush_recess: Array, bush_deeper: Array) -> Array:
    return crank_bush_recess + bush_deeper


@quantity("mm", "depth of the shoulder after the work")
def shoulder_depth(reach: Array, journal_needed: Array) -> Array:
    return reach - journal_needed


@quantity("mm", "depth to which the bush's hold goes")
def hold_end(reach: Array, tip_cut: Array, pilot_lengths: Lengths, bush_deeper: Array) -> Array:
    return np.minimum(pilot_lengths.far + bush_deeper, reach - tip_cut)


@decision("Make the bush longer, toward the gearbox", "crankshaft", blind=True, tool="lathe", hours=0.5,
          cost=6.0, gauge="reach",
          words="{figure} more; the shaft reaches {reach} only; hold becomes {bush_hold}",
          when="car")  # fmt: skip
def bush_longer(
    hold_end: Array,
    bush_set: Array,
    shoulder_depth: Array,
    pilot_lengths: Lengths,
    hold_needed: Array,
    crank_bore_after: Array,
    journal_after: Array,
    hub_front_worn: Array,
    bush_wall_tight: float,
    hub_gap_clear: float,
    bush_hold_clear: float,
) -> Ask:
    """As far as hub and shoulder allow, and only where the wall allows a bush at all."""
    nearest = np.maximum(hub_gap_clear - hub_front_worn, shoulder_depth + pilot_lengths.room)
    room = np.maximum(bush_set - nearest, 0.0)
    wall = bush_wall(crank_bore_after, journal_after)
    capacity = np.where(wall >= bush_wall_tight - SAME, room, 0.0)
    hold = hold_end - bush_set
    comfort = bush_hold_clear * journal_after - hold
    return Ask(hold_needed - hold, np.inf, np.minimum(comfort, capacity), capacity)


@quantity("mm", "depth of the bush's near end; negative where it stands proud of the flange")
def bush_near(bush_set: Array, bush_longer: Array) -> Array:
    return bush_set - bush_longer


@quantity("mm", "depth of the bush's far end")
def bush_far(pilot_lengths: Lengths, bush_deeper: Array) -> Array:
    return pilot_lengths.far + bush_deeper


@quantity("", "1 where the journal runs on metal below its case")
def journal_soft(
    turned_soft: Array,
    turned_back: Array,
    shoulder_soft: Array,
    reach: Array,
    pilot_length: Array,
    bush_near: Array,
    bush_far: Array,
    shoulder_depth: Array,
    shoulder_room: Array,
) -> Array:
    """Turned through it, or turned back out of the shoulder to where the bush is."""
    fresh = overlap(bush_near, bush_far, shoulder_depth + shoulder_room, reach - pilot_length)
    back = (turned_back > SAME) & (shoulder_soft > 0) & (fresh > SAME)
    soft = (turned_soft > 0) | back
    return unknown_where(soft * 1.0, turned_soft, turned_back)


@decision(
    "Make and fit a bush for the journal",
    "crankshaft",
    unit="",
    blind=True,
    tool="lathe",
    hours=1.5,
    cost=12.0,
    words="bore {crank_bore_after}, journal {journal_after}",
    when="car",
)
def bush_made(
    bush_by_route: Array,
    bush_longer: Array,
    journal_soft: Array,
    bush_for_needles: Array,
) -> Ask:
    """In the needles' place too, where the journal is too soft for them and a bush has its wall."""
    instead = (bush_for_needles > 0) & (journal_soft > SAME)
    made = (bush_by_route > 0) | (bush_longer > SAME) | instead
    return Ask(unknown_where(made * 1.0, bush_by_route, bush_longer))


@decision("Ream the present bush", "crankshaft", unit="mm diameter", hours=0.5,
          gauge="pilot_diameter",
          words="{figure} out of a bore of {crank_bush_bore}; not a sintered bush, its pores close",
          when="car")  # fmt: skip
def bush_reamed(pilot_ways: Ways, pilot_route: Array, bush_longer: Array) -> Ask:
    """Not where a longer bush is made: only one bush is fitted."""
    need = _taken(pilot_ways.ream, pilot_route)
    return Ask(np.where(bush_longer > SAME, 0.0, unknown_where(need, bush_longer)))


@quantity("mm diameter", "outside of the bush that will be in the crankshaft")
def bush_outside(crank_bore_after: Array) -> Array:
    return crank_bore_after


@quantity("mm diameter", "bore of that bush: for the journal as it will be")
def bush_inside(
    bush_made: Array, journal_after: Array, crank_bush_bore: Array, bush_reamed: Array
) -> Array:
    return np.where(bush_made > SAME, journal_after, crank_bush_bore + bush_reamed)


@quantity("mm", "length of the bush")
def bush_length_after(bush_near: Array, bush_far: Array) -> Array:
    return bush_far - bush_near


@quantity("mm", "by how much the bush stands proud of the flange")
def bush_proud(bush_near: Array) -> Array:
    return np.maximum(-bush_near, 0.0)


# ---- checks --------------------------------------------------------------------------------------


@check(
    "Does the shaft's tip stay clear of the bottom of the crankshaft's bore?",
    "mm",
    AtLeast(clear=3.0, tight=1.0),
    "A tip that bottoms pushes the crankshaft forward and takes its thrust washers.",
    criterion="fit",
    words={
        "tight": "{end_gap} between tip and the bottom of the bore",
        "clash": "the tip bottoms: {end_gap} to the bottom of the bore",
    },
)
def end_gap(crank_bore_depth: Array, reach: Array, tip_cut: Array) -> Array:
    return crank_bore_depth - reach + tip_cut


@check(
    "Does the shoulder behind the journal stay clear of crankshaft and bush?",
    "mm",
    Own(
        "≥ the undercut's length: {undercut_small} mm on a small journal, {undercut_large} mm on a large one"
    ),
    "Where the shoulder touches, the gearbox will not go home.",
    criterion="fit",
    words={"clash": "journal too short: the shoulder stands {short} too far forward"},
)
def shoulder_gap(
    crank_stop: Array, bush_near: Array, shoulder_depth: Array, shoulder_room: Array
) -> Reading:
    gap = np.minimum(crank_stop, bush_near) - shoulder_depth
    return Reading(gap, gap - shoulder_room, gap - shoulder_room)


@check(
    "Does the journal run in the crankshaft, as it is, in a new bush, or turned?",
    "mm diameter",
    Own(
        "clearance up to {pilot_clearance_clear} mm clear, {pilot_clearance_tight} tight; wall "
        "of a new bush "
        "≥ {bush_wall_clear} mm clear, ≥ {bush_wall_tight} tight; turned through its case is "
        "tight, "
        "a clash in needles, whose clearance is up to {pilot_needle_clear} clear, "
        "{pilot_needle_tight} "
        "tight; a journal that is turned ≥ {journal_least} mm"
    ),
    "A shaft without its pilot shakes the clutch; a bush with too thin a wall spins or crumbles.",
    words={
        "clear": "wall or clearance {pilot_size}",
        "tight": "wall or clearance {pilot_size}, {journal_turned} off each side against a case "
        "of {case_assumed}",
        "clash": "journal {journal_after} against a bush of {crank_bush_bore} in a bore of "
        "{crank_bore_after}",
    },
)
def pilot_size(
    journal_after: Array,
    journal_turned: Array,
    bush_made: Array,
    crank_bush_bore: Array,
    bush_reamed: Array,
    crank_bore_after: Array,
    crank_pilot: Array,
    case_assumed: Array,
    journal_soft: Array,
    bush_wall_clear: float,
    bush_wall_tight: float,
    pilot_clearance_clear: float,
    pilot_clearance_tight: float,
    pilot_clearance_least: float,
    pilot_needle_clear: float,
    pilot_needle_tight: float,
    journal_least: float,
) -> Reading:
    """The wall of the bush that is made, or the clearance in the one that is there."""
    made = bush_made > SAME
    in_needles = (crank_pilot == NEEDLE) & ~made
    clearance = crank_bush_bore + bush_reamed - journal_after
    wall = bush_wall(crank_bore_after, journal_after)
    loosest = np.where(in_needles, pilot_needle_tight, pilot_clearance_tight)
    easy = np.where(in_needles, pilot_needle_clear, pilot_clearance_clear)
    loose = np.minimum(clearance - pilot_clearance_least, loosest - clearance)
    works = np.where(made, wall - bush_wall_tight, loose)
    comfort = np.where(made, wall - bush_wall_clear, easy - clearance)
    works = np.where((journal_soft > 0) & in_needles, -1.0, works)
    works = np.where(journal_turned > SAME, np.minimum(works, journal_after - journal_least), works)
    comfort = np.where(
        journal_turned > SAME, np.minimum(comfort, case_assumed - journal_turned), comfort
    )
    comfort = np.where(journal_soft > 0, np.minimum(comfort, -1.0), comfort)
    works = unknown_where(works, bush_made, journal_turned)
    return Reading(np.where(made, wall, clearance), works, np.minimum(works, comfort))


@check(
    "Does enough of the journal run in the bush?",
    "mm",
    Own("hold ≥ {bush_hold_clear} × journal diameter clear, ≥ {bush_hold_tight} × tight"),
    "A journal that only just enters its bush wears it out of round.",
    criterion="fit",
    words={
        "tight": "{bush_hold} of the journal in the bush, little for {journal_after}",
        "clash": "only {bush_hold} of the journal in the bush, {short} too little",
    },
)
def bush_hold(
    bush_near: Array,
    hold_end: Array,
    shoulder_depth: Array,
    shoulder_room: Array,
    journal_after: Array,
    bush_hold_clear: float,
    bush_hold_tight: float,
) -> Reading:
    """The cylinder only: the undercut at the shoulder holds nothing."""
    hold = overlap(bush_near, hold_end, shoulder_depth + shoulder_room, hold_end)
    return Reading(
        hold, hold - bush_hold_tight * journal_after, hold - bush_hold_clear * journal_after
    )


# ---- orders --------------------------------------------------------------------------------------

SHAFT, BUSH, CRANK = "input shaft", "pilot bush", "crankshaft"
TRUE = 0.02  # mm, run-out of a journal to the shaft's own bearing seat: practice
LEFT_ON = (0.4, 0.8)  # mm of diameter left for turning where splines are ground off: practice


def shaft_datum(tip_cut: float) -> str:
    """The one datum of all lengths on the shaft, whose tip may be faced [mm].

    >>> shaft_datum(0.0), shaft_datum(2.0)
    ('tip', 'tip after facing')
    """
    return "tip after facing" if tip_cut > SAME else "tip"


def over(length: float) -> str:
    """A tolerance to the long side only [mm]: what is cut back must give its room.

    >>> over(46.0)
    '+0.3 / 0'
    """
    return "" if math.isnan(length) else f"+{general_tolerance(length):g} / 0"


def runs_in_turned_bronze(soft: float, bore: float, journal: float, least_wall: float) -> bool:
    """A journal below 50 HRC, or a wall [mm] that is not sold: solid bronze, which one turns.

    >>> runs_in_turned_bronze(0.0, 21.0, 17.0, 2.0), runs_in_turned_bronze(0.0, 19.0, 17.0, 2.0)
    (False, True)
    """
    return soft > SAME or (bore - journal) / 2.0 < least_wall - SAME


def running_limits(journal: float, turned: bool, bronze: bool) -> tuple[float, float]:
    """Limits of a bush's bore as pressed [mm]: H7 of the journal's basic size, or about one as it is.

    A journal that is left as it is has no tolerance: the bore takes the least clearance of f7 (e7
    in
    turned bronze, greased) and its own IT7.

    >>> running_limits(15.0, False, False), running_limits(15.0, True, False)
    ((15.016, 15.034), (15.0, 15.018))
    """
    low, high = limits_of_size(journal, "H7")
    if turned:
        return low, high
    least = journal - limits_of_size(journal, "e7" if bronze else "f7")[1]
    return round(low + least, 3), round(high + least, 3)


def end_limits(near: float, hold_spare: float, gap_spare: float) -> tuple[float, float]:
    """Limits of the depth of a bush's near end [mm]: what its hold and the shoulder's gap can spare.

    >>> end_limits(5.0, 0.0, 2.0), end_limits(5.0, 3.0, 0.0)
    ((4.9, 5.0), (5.0, 5.1))
    """
    most = general_tolerance(max(abs(near), 0.5))
    fewer = lambda spare: most if math.isnan(spare) else min(most, max(spare, 0.0))
    return near - fewer(gap_spare), near + fewer(hold_spare)


@order("tip_cut", step=10)
def face_the_tip(tip_cut: float, shaft_stickout: float, journal_after: float) -> list[Cut]:
    most = tip_cut + general_tolerance(tip_cut)
    return [
        Cut(
            "Face the tip", SHAFT, "tip as found", 0.0, tip_cut, most, of="tip_cut",
            measure_before=tell(
                "gearbox front face to the tip: {stickout}; the depth of the crankshaft's bore",
                stickout=shaft_stickout,
            ),
            note=tell("chamfer {edge} × 45°; hard: grind it, or carbide with a fresh edge", edge=1.0),
        ),
        Cut(
            "Centre the tip again", SHAFT, shaft_datum(tip_cut), runout=TRUE,
            note=f"the old centre is gone: {centre_hole(journal_after)}, true to the bearing seat, before "
            "anything is turned between centres",
        ),
    ]  # fmt: skip


@order("spline_cut", step=20)
def grind_the_splines_off(
    spline_cut: float,
    spline_start: float,
    tip_cut: float,
    spline_diameter: float,
    journal_after: float,
) -> list[Cut]:
    depth = (spline_diameter - journal_after) / 2.0
    start = spline_start - tip_cut
    return [
        Cut(
            "Grind the splines off ahead of the journal", SHAFT, shaft_datum(tip_cut), spline_diameter,
            journal_after + LEFT_ON[0], journal_after + LEFT_ON[1], length=spline_cut,
            length_tolerance=over(spline_cut), length_of="spline_cut",
            measure_before=tell("datum to the first full spline: {start}", start=start),
            note=tell(
                "from {start} to {end}, {depth} a side in all: an interrupted cut in hard steel, "
                "no ceramic; "
                "grind wet, the shaft must not colour",
                start=start, end=start + spline_cut, depth=(depth, "mm doubt"),
            ),
        )
    ]  # fmt: skip


@order("journal_turned", "turned_back", step=30)
def turn_the_journal(
    pilot_diameter: float,
    journal_turned: float,
    turned_back: float,
    journal_after: float,
    journal_needed: float,
    tip_cut: float,
    journal_soft: float,
    case_depth: float,
    case_assumed: float,
    bush_made: float,
    bush_reamed: float,
    crank_bush_bore: float,
    crank_bore_after: float,
    crank_pilot: float,
    bush_wall_clear: float,
) -> list[Cut]:
    """Down, back, or both: one setting. The undercut stands within the length, at the shoulder."""
    bronze = runs_in_turned_bronze(journal_soft, crank_bore_after, journal_after, bush_wall_clear)
    if journal_turned <= SAME:
        low, high = limits_of_size(pilot_diameter, "h7")
        aim = "flush with the journal ahead of it, never larger"
    elif bush_made > SAME:
        low, high = limits_of_size(journal_after, "e7" if bronze else "f7")
        aim = "e7, for turned bronze with grease" if bronze else "f7"
    elif crank_pilot == NEEDLE:
        low, high = limits_of_size(crank_bush_bore, "h6")
        aim = "h6, for needles; ground"
    else:
        low, high = limits_of_size(crank_bush_bore + bush_reamed, "f7")
        aim = "f7 of the present bush's bore"
    length = journal_needed - tip_cut
    note = (
        aim
        + "; {cut} a side against "
        + ("an assumed" if math.isnan(case_depth) else "a")
        + " case of {case}"
    )
    note += (
        "; it goes through the case: soft, no oil-sintered bush, no needles"
        if journal_soft > SAME
        else ""
    )
    note += "; {longer} longer than it was" if turned_back > SAME else ""
    return [
        Cut(
            "Turn the journal" if journal_turned > SAME else "Turn the journal back", SHAFT,
            shaft_datum(tip_cut), pilot_diameter, low, high, length=length, length_tolerance=over(length),
            runout=TRUE, finish="Rz 0.5 to 1.0" if bronze and bush_made > SAME else "Ra 0.2",
            undercut=undercut(journal_after)[0], of="journal_after", length_of="journal_needed",
            measure_before="the journal in two places, the present bush's bore, the shoulder",
            note=tell(
                note + "; hot hard chips", cut=(journal_turned, "mm doubt"), case=case_assumed, longer=turned_back
            ),
        )
    ]  # fmt: skip


@order("crank_bored", step=40)
def open_the_crank_bore(
    crank_bore_diameter: float,
    crank_bore_after: float,
    crank_bore_depth: float,
    pilot_bore_runout: float,
) -> list[Cut]:
    low, high = limits_of_size(crank_bore_after, "H7")
    return [
        Cut(
            "Open the crankshaft's bore", CRANK, "crankshaft flange", crank_bore_diameter, low, high,
            length=crank_bore_depth, length_tolerance="no deeper than it is", runout=pilot_bore_runout,
            finish="Ra 1.6", of="crank_bore_after", measure_before="the bore, in two places",
            note="engine stripped, crankshaft out, set up true to its main bearings; only on "
            "advice from "
            "someone qualified",
        )
    ]  # fmt: skip


BRONZE = "turned bronze, greased: the journal is below 50 HRC, or the wall thinner than is sold"
SINTERED = "oil-sintered bronze (ISO 2795) on a journal of at least 50 HRC, else turned bronze"


def pressed_outside(bore: float) -> tuple[float, float]:
    """Limits of a bush's outside for a bore [mm]: s6 up to 18 mm, r6 above (practice).

    >>> pressed_outside(21.0)
    (21.028, 21.041)
    """
    return limits_of_size(bore, "s6" if bore <= 18.0 else "r6")


@order("bush_made", step=50)
def turn_the_bush(
    crank_bore_after: float,
    journal_after: float,
    journal_turned: float,
    journal_soft: float,
    bush_length_after: float,
    bush_far: float,
    crank_bore_depth: float,
    bush_wall_clear: float,
) -> list[Cut]:
    """One bush: its outside and length, and its bore before it is pressed in."""
    bronze = runs_in_turned_bronze(journal_soft, crank_bore_after, journal_after, bush_wall_clear)
    material = BRONZE if bronze else SINTERED
    outside = pressed_outside(crank_bore_after)
    tight = sum(outside) / 2.0 - crank_bore_after
    shut = closing(journal_after, crank_bore_after) * tight
    inside = running_limits(journal_after, journal_turned > SAME, bronze)
    longer: str | float = general_tolerance(bush_length_after)
    if crank_bore_depth - bush_far >= general_tolerance(bush_length_after):
        longer = over(bush_length_after)
    return [
        Cut(
            "Turn the bush, outside", BUSH, "its near end", math.nan, outside[0], outside[1],
            length=bush_length_after, length_tolerance=longer, runout=TRUE, finish="Ra 0.8",
            material=material, of="crank_bore_after", length_of="bush_length_after",
            measure_before="the crankshaft's bore, in two places and two directions",
            note=tell(
                "wall {wall}; limits for a bore of {bore}: shift them by what it measures more "
                "or less; "
                "lead in {lead} × 15°",
                lead=0.5,
                wall=((crank_bore_after - journal_after) / 2.0, "mm doubt"),
                bore=(crank_bore_after, "mm order"),
            ),
        ),
        Cut(
            "Bore the bush, before it is pressed in", BUSH, "its near end", math.nan,
            round(inside[0] + shut, 3), round(inside[1] + shut, 3), runout=TRUE, finish="Ra 0.8",
            material=material, of="bush_bore_before", measure_before="the journal as finished",
            note=tell(
                "pressed in, the bore closes by {shut}, {share} of the interference",
                shut=(shut, "mm order"), share=(shut / tight, ""),
            ),
        ),
    ]  # fmt: skip


@order("bush_made", step=51)
def press_the_bush(
    crank_bore_after: float,
    journal_after: float,
    journal_turned: float,
    journal_soft: float,
    bush_near: float,
    bush_proud: float,
    crank_bore_depth: float,
    bush_hold: float,
    hold_needed: float,
    shoulder_gap: float,
    shoulder_room: float,
    bush_wall_clear: float,
) -> list[Cut]:
    """Where it is pressed to, and its bore as pressed: the size that counts."""
    bronze = runs_in_turned_bronze(journal_soft, crank_bore_after, journal_after, bush_wall_clear)
    inside = running_limits(journal_after, journal_turned > SAME, bronze)
    stands = "stands {proud} proud of the flange, clear of the disc's hub"
    stands = stands if bush_proud > SAME else "near end {near} inside the flange"
    ends = end_limits(bush_near, bush_hold - hold_needed, shoulder_gap - shoulder_room)
    reamed = (
        "ream turned bronze to it"
        if bronze
        else "reaming shuts the pores of a sintered bush: mandrel"
    )
    return [
        Cut(
            "Press the bush in", BUSH, "crankshaft flange", math.nan, ends[0], ends[1], of="bush_near",
            note=tell(
                stands + "; over a mandrel of the journal's size; the bore's bottom is at {bottom}",
                proud=bush_proud, near=bush_near, bottom=crank_bore_depth,
            ),
        ),
        Cut(
            "Bore as pressed", BUSH, "crankshaft flange", math.nan, inside[0], inside[1],
            of="bush_bore_as_pressed", measure_before="the bore in the crankshaft, in two places",
            note=f"as pressed: the size that counts, measured with the bush in its place; {reamed}",
        ),
    ]  # fmt: skip


@order("bush_reamed", step=52)
def ream_the_bush(crank_bush_bore: float, journal_after: float, bush_reamed: float) -> list[Cut]:
    low, high = running_limits(journal_after, False, False)
    return [
        Cut(
            "Ream the present bush", BUSH, "crankshaft flange", crank_bush_bore, low, high, runout=0.05,
            of="bush_bore_as_pressed", measure_before="the journal, and the bush in its place",
            note="not a sintered bush, whose pores close; by hand, piloted true",
        )
    ]  # fmt: skip


@order("bush_deeper", step=53)
def press_the_bush_deeper(
    crank_bush_recess: float,
    bush_set: float,
    bush_made: float,
    crank_bore_depth: float,
    bush_hold: float,
    hold_needed: float,
    shoulder_gap: float,
    shoulder_room: float,
) -> list[Cut]:
    """A bush that is made is pressed to its place at once."""
    if bush_made > SAME:
        return []
    ends = end_limits(bush_set, bush_hold - hold_needed, shoulder_gap - shoulder_room)
    return [
        Cut(
            "Press the present bush deeper", BUSH, "crankshaft flange", crank_bush_recess, *ends,
            of="bush_near", measure_before="flange to the bush, and to the bore's bottom",
            note=tell("over a mandrel; the bore's bottom is at {bottom}", bottom=crank_bore_depth),
        )
    ]  # fmt: skip
