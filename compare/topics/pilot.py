"""Pilot: the shaft's tip in the crankshaft, its journal in the bush, the shoulder behind it.

On the shaft, s runs rearward from the tip. In the crankshaft, depth runs forward from the flange.
"""

from __future__ import annotations

from typing import NamedTuple

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

Array = np.ndarray

AS_IT_IS, REAM, NEW_BUSH, TO_PRESENT, TO_LARGEST, OPEN_BORE = range(6)
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

    The flange plane, unless what opens there is wider; then the end of the mouth, unless the bore is
    wider. The bush counts besides.

    >>> [float(other_stop(m, 6.0, 21.0, s)) for m, s in ((0.0, 25.4), (30.0, 25.4), (30.0, 20.0))]
    [0.0, 6.0, inf]
    """
    narrow = np.maximum(mouth, bore) <= shoulder
    at = np.where(narrow, 0.0, np.where(bore <= shoulder, mouth_depth, np.inf))
    return unknown_where(at, mouth, mouth_depth, bore, shoulder)


def overlap(near: Array, far: Array, journal_near: Array, journal_far: Array) -> Array:
    """Length over which the journal runs in the bush [mm]; negative: by how much it does not reach.

    near, far: depth of the bush's ends; journal_near: where the journal's cylinder begins behind the
    undercut of the shoulder; journal_far: depth of the tip.

    >>> float(overlap(0.0, 20.0, -5.0, 14.0)), float(overlap(0.0, 20.0, -30.0, -4.0))
    (14.0, -4.0)
    """
    return np.minimum(far, journal_far) - np.maximum(near, journal_near)


def bush_wall(bore: Array, journal: Array) -> Array:
    """Wall of a bush between a bore and a journal [mm].

    >>> bush_wall(21.0, 17.0)
    2.0
    """
    return (bore - journal) / 2.0


def undercut_length(journal: Array, small: Array, large: Array) -> Array:
    """Length of the undercut at the shoulder [mm]: DIN 509, one up to 18 mm of diameter, one above.

    >>> undercut_length(np.array([12.7, 18.2]), 2.0, 2.5).tolist()
    [2.0, 2.5]
    """
    return unknown_where(np.where(journal <= 18.0, small, large), journal)


WALL_CLEAR = Limit(
    "bush_wall_clear", 2.0, "mm", "ISO 2795 (from memory): thinnest wall sold; below it one makes it"
)
WALL_TIGHT = Limit("bush_wall_tight", 1.5, "mm", "practice: thinner than this a bush crumbles")
CLEARANCE_CLEAR = Limit("pilot_clearance_clear", 0.15, "mm", "practice: still a guide")
CLEARANCE_TIGHT = Limit("pilot_clearance_tight", 0.30, "mm", "practice")
CLEARANCE_LEAST = Limit(
    "pilot_clearance_least", -0.02, "mm", "practice: same nominal size counts as fitting"
)
REAM_MOST = Limit("bush_ream_most", 0.5, "mm", "practice: what a reamer takes out of a bush")
HOLD_CLEAR = Limit("bush_hold_clear", 0.75, "× journal", "practice")
HOLD_TIGHT = Limit("bush_hold_tight", 0.5, "× journal", "practice")
CASE_THIN = Limit(
    "case_depth_assumed", 0.5, "mm", "Ovako, Case hardening steel: 0.5 to 1.0 mm is typical"
)
LEAST_JOURNAL = Limit("journal_least", 10.0, "mm", "practice: thinner, a pilot bends or shears")
UNDERCUT_SMALL = Limit("undercut_small", 2.0, "mm", "DIN 509, form E and F, over 10 to 18 mm")
UNDERCUT_LARGE = Limit("undercut_large", 2.5, "mm", "DIN 509, form E and F, over 18 to 80 mm")
CLEAR_OF_HUB = Limit("bush_clear_of_hub", 2.0, "mm", "practice")


# ---- diameters: which way makes the journal run -------------------------------------------------------


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
    bush_ream_most: float,
    journal_least: float,
) -> Ways:
    """In the order of the choice's options; the shallowest, then the least metal cut, ranks first."""
    pilot, bush, bore = pilot_diameter, crank_bush_bore, crank_bore_diameter
    clearance, wall = bush - pilot, bush_wall(bore, pilot)
    nothing = np.zeros(np.broadcast_shapes(pilot.shape, bush.shape, bore.shape))
    largest = bore - 2.0 * bush_wall_clear
    journal = _stacked(pilot, pilot, pilot, bush, largest, pilot)
    cut = np.maximum((pilot[..., None] - journal) / 2.0, 0.0)
    ream = np.maximum(-clearance, 0.0)
    opened = np.maximum((pilot + 2.0 * bush_wall_clear - bore) / 2.0, 0.0)
    needle = crank_pilot == NEEDLE
    soft = (pilot - bush) / 2.0 > case_assumed
    as_is = np.minimum(clearance - pilot_clearance_least, pilot_clearance_tight - clearance)
    reamed = np.minimum(bush_ream_most - ream, wall - bush_wall_tight)
    reamed = np.where((clearance < pilot_clearance_least) & ~needle, reamed, -1.0)
    present = np.where((pilot > bush) & ~(needle & soft), bush - journal_least, -1.0)
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
        Option("turn the journal to the present bush"),
        Option("turn the journal for a new bush"),
        Option("open the crankshaft's bore", undo="frame cut"),
    ),
    blind=True,
    gauge="pilot_diameter",
)
def pilot_route(pilot_ways: Ways) -> Options:
    return Options(pilot_ways.works, pilot_ways.rank)


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


@decision("Ream the present bush", "crankshaft", unit="mm diameter", hours=0.5,
          gauge="pilot_diameter",
          words="{figure} out of a bore of {crank_bush_bore}; not a sintered bush, its pores close")  # fmt: skip
def bush_reamed(pilot_ways: Ways, pilot_route: Array) -> Ask:
    return Ask(_taken(pilot_ways.ream, pilot_route))


# The engine is stripped and the crankshaft set up true; sent out.
@decision("Open the crankshaft's bore", "crankshaft", "frame cut", unit="mm diameter", tool="sent out",
          hours=6.0, cost=350.0,
          gauge="pilot_diameter",
          words="engine stripped, crankshaft out, set up true, its bore opened by {figure} a side")  # fmt: skip
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


# ---- lengths: tip, shoulder, bush ---------------------------------------------------------------------


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
    crank_bore_diameter: Array,
    shoulder: Array,
) -> Array:
    return other_stop(crank_mouth_diameter, crank_mouth_depth, crank_bore_diameter, shoulder)


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
    clutch_hub_front: Array,
    clutch_wear_travel: Array,
    bush_clear_of_hub: float,
) -> Lengths:
    furthest = bush_clear_of_hub - (clutch_friction_face + clutch_hub_front - clutch_wear_travel)
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
    """The reaches at which `turned_need` may change its slope [mm]."""
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
          words="leaves the least end gap; keep the chamfer")  # fmt: skip
def tip_cut(reach: Array, pilot_lengths: Lengths) -> Ask:
    return Ask(pilot_lengths.gap - (pilot_lengths.bore_depth - reach))


@decision("Turn the journal back", "input shaft", "donor cut", tool="lathe", hours=1.5, hours_per_mm=0.05,
          gauge="reach",
          words="journal {pilot_length} long, {journal_needed} needed; "
                "full splines then start at {spline_start_after}")  # fmt: skip
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
          words="{figure} of full splines, down to the journal, before it is turned")  # fmt: skip
def spline_cut(spline_start: Array, journal_needed: Array, turned_back: Array) -> Ask:
    into = np.where(turned_back > SAME, journal_needed - spline_start, 0.0)
    return Ask(unknown_where(into, turned_back))


@decision("Set the bush deeper", "crankshaft", hours=0.7, gauge="reach",
          words="pressed {figure} deeper, for the shoulder")  # fmt: skip
def bush_deeper(reach: Array, pilot_lengths: Lengths, turned_back: Array) -> Ask:
    p = pilot_lengths
    need = reach - p.journal - turned_back + p.room - p.recess
    return Ask(np.where(need > SAME, need, 0.0), capacity=bush_give(reach, p))


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
          words="{figure} more; the shaft reaches {reach} only; hold becomes {bush_hold}")  # fmt: skip
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
    bush_clear_of_hub: float,
    bush_hold_clear: float,
) -> Ask:
    """As far as hub and shoulder allow, and only where the wall allows a bush at all."""
    nearest = np.maximum(bush_clear_of_hub - hub_front_worn, shoulder_depth + pilot_lengths.room)
    room = np.maximum(bush_set - nearest, 0.0)
    wall = bush_wall(crank_bore_after, journal_after)
    capacity = np.where(wall >= bush_wall_tight - SAME, room, 0.0)
    hold = hold_end - bush_set
    comfort = bush_hold_clear * journal_after - hold
    return Ask(hold_needed - hold, np.inf, np.minimum(comfort, capacity), capacity)


@decision("Make and fit a bush for the journal", "crankshaft", unit="", blind=True, tool="lathe",
          hours=1.5, cost=12.0, words="bore {crank_bore_after}, journal {journal_after}")  # fmt: skip
def bush_made(pilot_route: Array, bush_longer: Array) -> Ask:
    made = np.isin(pilot_route, (NEW_BUSH, TO_LARGEST, OPEN_BORE)) | (bush_longer > SAME)
    return Ask(unknown_where(made * 1.0, pilot_route))


@quantity("mm", "depth of the bush's near end; negative where it stands proud of the flange")
def bush_near(bush_set: Array, bush_longer: Array) -> Array:
    return bush_set - bush_longer


@quantity("mm", "depth of the bush's far end")
def bush_far(pilot_lengths: Lengths, bush_deeper: Array) -> Array:
    return pilot_lengths.far + bush_deeper


@quantity("mm", "length of the bush")
def bush_length_after(bush_near: Array, bush_far: Array) -> Array:
    return bush_far - bush_near


@quantity("mm", "by how much the bush stands proud of the flange")
def bush_proud(bush_near: Array) -> Array:
    return np.maximum(-bush_near, 0.0)


# ---- checks -------------------------------------------------------------------------------------------


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
    Own("≥ the undercut's length: {undercut_small} mm up to 18 mm of journal, else {undercut_large}"),
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
        "clearance up to {pilot_clearance_clear} mm clear, {pilot_clearance_tight} tight; wall of a new bush "
        "≥ {bush_wall_clear} mm clear, ≥ {bush_wall_tight} tight; turned through its case is tight; "
        "journal ≥ {journal_least} mm"
    ),
    "A shaft without its pilot shakes the clutch; a bush with too thin a wall spins or crumbles.",
    words={
        "clear": "wall or clearance {pilot_size}",
        "tight": "wall or clearance {pilot_size}, {journal_turned} off each side against a case of {case_assumed}",
        "clash": "journal {journal_after} against a bush of {crank_bush_bore} in a bore of {crank_bore_after}",
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
    bush_wall_clear: float,
    bush_wall_tight: float,
    pilot_clearance_clear: float,
    pilot_clearance_tight: float,
    pilot_clearance_least: float,
    journal_least: float,
) -> Reading:
    """The wall of the bush that is made, or the clearance in the one that is there."""
    made = bush_made > SAME
    clearance = crank_bush_bore + bush_reamed - journal_after
    wall = bush_wall(crank_bore_after, journal_after)
    loose = np.minimum(clearance - pilot_clearance_least, pilot_clearance_tight - clearance)
    works = np.where(made, wall - bush_wall_tight, loose)
    comfort = np.where(made, wall - bush_wall_clear, pilot_clearance_clear - clearance)
    through = journal_turned > case_assumed + SAME
    works = np.where(through & (crank_pilot == NEEDLE) & ~made, -1.0, works)
    works = np.where(journal_turned > SAME, np.minimum(works, journal_after - journal_least), works)
    comfort = np.where(journal_turned > SAME, np.minimum(comfort, case_assumed - journal_turned), comfort)
    unknown = bush_made + 0.0 * journal_turned
    works = unknown_where(works, unknown)
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
