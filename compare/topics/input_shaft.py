"""Input shaft: tip in the crankshaft, journal in the bush, hub on the splines, and every way to make them meet.

On the shaft, s runs rearward from the tip. In the crankshaft, depth runs forward from the flange.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from compare.judge.rules import Amount, AtLeast, Limit, Own, Reading, check, quantity, seat_bound, work
from compare.judge.seat import Bound, beyond, toll

Array = np.ndarray

ROUTES = (
    "as it is",
    "new bush",
    "extended bush",
    "turn to the present bush",
    "turn to the largest diameter",
    "open the crank bore",
)
AS_IT_IS, NEW_BUSH, EXTENDED, TO_PRESENT, TO_LARGEST, OPEN_BORE = range(6)
ROUTE_UNDO = np.array([0.0, 0.0, 0.0, 1.0, 1.0, 4.0])
ROUTE_HOURS = np.array([0.0, 1.5, 2.0, 2.0, 3.5, 6.0])
ROUTE_MATERIAL = np.array([0.0, 12.0, 18.0, 0.0, 12.0, 12.0])



def tip_reach(flange_position: Array, depth: Array, thickness: Array, stickout: Array) -> Array:
    """How far the shaft's tip stands inside the crankshaft, from its flange [mm].

    reach = flange − (depth + thickness − stickout), all [mm] and at no engine shift: the crankshaft moves
    with the engine.

    >>> float(tip_reach(20.0, 150.0, 12.0, 170.0))
    28.0
    """
    return flange_position - (depth + thickness - stickout)


def stop_depth(mouth_diameter: Array, mouth_depth: Array, bore_diameter: Array, bush_recess: Array, shoulder: Array) -> Array:
    """Depth of the first thing narrower than the shoulder, looking in from the flange [mm].

    The flange plane, unless what opens there is wider; then the end of the mouth, unless the bore is wider;
    then the bush.

    >>> [float(stop_depth(m, 6.0, 24.0, 2.0, s)) for m, s in ((0.0, 25.4), (30.0, 25.4), (30.0, 22.0))]
    [0.0, 6.0, 2.0]
    """
    at = np.where(np.maximum(mouth_diameter, bore_diameter) > shoulder, np.where(bore_diameter > shoulder, bush_recess, mouth_depth), 0.0)
    return np.where(np.isnan(mouth_diameter + mouth_depth + bore_diameter + bush_recess + shoulder), np.nan, at)


def overlap(near: Array, far: Array, journal_near: Array, journal_far: Array) -> Array:
    """Length over which the journal runs in the bush [mm]; negative: by how much it does not reach.

    near, far: depth of the bush's ends; journal_near: depth of the shoulder; journal_far: depth of the tip.

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


def engaged_share(front_margin: Array, hub_length: Array) -> Array:
    """Share of the hub that stands on full splines, from its margin at the front [-].

    >>> float(engaged_share(-5.0, 25.0)), float(engaged_share(2.0, 25.0))
    (0.8, 1.0)
    """
    return 1.0 - np.maximum(-front_margin, 0.0) / hub_length


# ---- limits -------------------------------------------------------------------------------------------

WALL_CLEAR = Limit("bush_wall_clear", 2.0, "mm", "practice")
WALL_TIGHT = Limit("bush_wall_tight", 1.5, "mm", "practice")
CLEARANCE_CLEAR = Limit("pilot_clearance_clear", 0.15, "mm", "practice: above running clearance, still a guide")
CLEARANCE_TIGHT = Limit("pilot_clearance_tight", 0.30, "mm", "practice")
CLEARANCE_NEGATIVE = Limit("pilot_clearance_least", -0.02, "mm", "practice: same nominal size counts as fitting")
HOLD_CLEAR = Limit("bush_hold_clear", 0.75, "× journal", "practice")
HOLD_TIGHT = Limit("bush_hold_tight", 0.5, "× journal", "practice")
HUB_REAR = Limit("hub_seat_rear_clear", 2.0, "mm", "practice")
HUB_SHARE = Limit("hub_seat_share_tight", 0.85, "", "practice: share of the hub on full splines")
CASE_THIN = Limit("case_depth_assumed", 0.5, "mm", "Ovako, Case hardening steel: 0.5 to 1.0 mm is typical; the thin end is assumed")
BUSH_CLEAR_OF_HUB = Limit("bush_clear_of_hub", 2.0, "mm", "practice")
DISC_DIAMETER = Limit("disc_match_diameter", 0.3, "mm", "practice: as near as a vernier tells")
REGISTER_SAME = Limit("register_fit_same", 0.1, "mm", "practice")


# ---- where things stand -------------------------------------------------------------------------------


@quantity("mm", "block face to gearbox face, no adapter")
def depth_of_face(bellhousing: Array, bellhousing_depth: Array, car_bellhousing_depth: Array) -> Array:
    """The candidate's own number; where it states none and keeps the car's bellhousing, the car's."""
    from_car = np.where(bellhousing == 1, car_bellhousing_depth, np.nan)
    return np.where(np.isnan(bellhousing_depth), from_car, bellhousing_depth)


@quantity("mm", "least permitted adapter thickness")
def thickness_low(adapter: Array, adapter_thickness_low: Array, car_adapter_thickness_low: Array) -> Array:
    given = np.where(np.isnan(adapter_thickness_low) & (adapter == 2), car_adapter_thickness_low, adapter_thickness_low)
    return np.where(adapter == 0, 0.0, given)


@quantity("mm", "most permitted adapter thickness")
def thickness_high(adapter: Array, adapter_thickness_high: Array, car_adapter_thickness_high: Array) -> Array:
    given = np.where(np.isnan(adapter_thickness_high) & (adapter == 2), car_adapter_thickness_high, adapter_thickness_high)
    return np.where(adapter == 0, 0.0, given)


@quantity("mm", "reach of the tip without any adapter")
def reach_bare(crank_flange_position: Array, depth_of_face: Array, shaft_stickout: Array) -> Array:
    return tip_reach(crank_flange_position, depth_of_face, np.zeros(1), shaft_stickout)


@quantity("mm", "reach of the tip beyond the flange")
def reach(reach_bare: Array, adapter_thickness: Array) -> Array:
    return reach_bare - adapter_thickness


@quantity("mm", "depth of the first thing narrower than the shoulder")
def shoulder_stop(
    crank_mouth_diameter: Array, crank_mouth_depth: Array, crank_bore_diameter: Array, crank_bush_recess: Array, spline_diameter: Array
) -> Array:
    return stop_depth(crank_mouth_diameter, crank_mouth_depth, crank_bore_diameter, crank_bush_recess, spline_diameter)


@quantity("mm", "length of the disc's hub")
def hub_length(clutch_hub_front: Array, clutch_hub_rear: Array) -> Array:
    return clutch_hub_rear - clutch_hub_front


@quantity("mm", "front of the hub behind the flange, disc worn")
def hub_front_worn(clutch_friction_face: Array, clutch_hub_front: Array, clutch_wear_travel: Array) -> Array:
    return clutch_friction_face + clutch_hub_front - clutch_wear_travel


@quantity("mm", "rear of the hub behind the flange, released")
def hub_rear_released(clutch_friction_face: Array, clutch_hub_rear: Array, clutch_release_float: Array) -> Array:
    return clutch_friction_face + clutch_hub_rear + clutch_release_float


@check(
    "Does the shaft's tip stay clear of the bottom of the crankshaft's bore?",
    "mm",
    AtLeast(clear=3.0, tight=1.0),
    "A tip that bottoms pushes the crankshaft forward and takes its thrust washers.",
    resolved_by=("shorten_tip",),
    criterion="fit",
    words={
        "tight": "{end_gap} between tip and the bottom of the bore",
        "clash": "the tip bottoms: {end_gap} to the bottom of the bore",
    },
)
def end_gap(crank_bore_depth: Array, reach: Array) -> Array:
    return crank_bore_depth - reach


@check(
    "Does the shoulder behind the journal stay clear of the crankshaft?",
    "mm",
    AtLeast(clear=1.5, tight=1.5),
    "The shoulder is as wide as the splines; where it touches, the gearbox will not go home.",
    resolved_by=("turn_back",),
    criterion="fit",
    words={"clash": "journal too short: the shoulder stands {short} too far forward"},
)
def shoulder_gap(shoulder_stop: Array, reach: Array, pilot_length: Array) -> Array:
    return shoulder_stop - (reach - pilot_length)


@quantity("mm", "journal length needed")
def journal_needed(reach: Array, shoulder_stop: Array, pilot_length: Array, shoulder_gap_tight: float) -> Array:
    return np.maximum(pilot_length, reach - shoulder_stop + shoulder_gap_tight)


@quantity("mm", "length turned back")
def turned_back(journal_needed: Array, pilot_length: Array) -> Array:
    return journal_needed - pilot_length


@quantity("mm", "start of the full splines after turning back")
def spline_start_after(spline_start: Array, journal_needed: Array, turned_back: Array) -> Array:
    """Turning back past the first full spline moves it."""
    return np.where(turned_back > 0, np.maximum(spline_start, journal_needed), spline_start + 0.0 * turned_back)


@quantity("mm", "cut off the tip")
def tip_cut(end_gap: Array, end_gap_tight: float) -> Array:
    return np.maximum(end_gap_tight - end_gap, 0.0)


@quantity("mm", "hub's margin to the start of the splines, disc worn")
def hub_front_margin(reach: Array, hub_front_worn: Array, spline_start_after: Array) -> Array:
    return reach + hub_front_worn - spline_start_after


@quantity("mm", "hub's margin to the run-out, clutch released")
def hub_rear_margin(reach: Array, hub_rear_released: Array, spline_end: Array) -> Array:
    return spline_end - (reach + hub_rear_released)


@quantity("mm", "hub's margin to the start of the splines, disc new")
def hub_front_margin_new(hub_front_margin: Array, clutch_wear_travel: Array) -> Array:
    return hub_front_margin + clutch_wear_travel


@quantity("mm", "hub's margin to the run-out, clutch engaged")
def hub_rear_margin_new(hub_rear_margin: Array, clutch_release_float: Array) -> Array:
    return hub_rear_margin + clutch_release_float


@quantity("", "share of the hub on full splines, disc worn")
def hub_share(hub_front_margin: Array, hub_length: Array) -> Array:
    return engaged_share(hub_front_margin, hub_length)


@check(
    "Does the clutch disc's hub stay on full splines, worn and released?",
    "mm",
    Own("rear ≥ {hub_seat_rear_clear} mm clear, ≥ 0 tight; front ≥ 0 clear, else share ≥ {hub_seat_share_tight} tight"),
    "A hub on the run-out jams and the gearbox will not go home; a hub half off its splines wears them away.",
    criterion="fit",
    words={
        "tight": "hub margins {hub_front_margin} front, {hub_rear_margin} rear",
        "clash": "hub margins {hub_front_margin} front, {hub_rear_margin} rear: "
        "the hub stands on the run-out or off its splines",
    },
)
def hub_seat(
    hub_front_margin: Array, hub_rear_margin: Array, hub_length: Array, hub_seat_rear_clear: float, hub_seat_share_tight: float
) -> Reading:
    front_works = hub_front_margin + (1.0 - hub_seat_share_tight) * hub_length
    return Reading(
        np.minimum(hub_front_margin, hub_rear_margin),
        np.minimum(hub_rear_margin, front_works),
        np.minimum(hub_rear_margin - hub_seat_rear_clear, hub_front_margin),
    )


@check(
    "Does the release-bearing guide stay clear of the disc's hub?",
    "mm",
    AtLeast(clear=3.0, tight=1.0),
    "A guide that touches the hub wears through in a week.",
    resolved_by=("shorten_collar",),
    criterion="clutch",
    words={"tight": "{collar_gap} between guide and hub", "clash": "the guide meets the hub: {collar_gap}"},
)
def collar_gap(shaft_stickout: Array, collar_length: Array, reach: Array, hub_rear_released: Array, release_type: Array) -> Reading:
    """A concentric slave slides on no guide."""
    gap = shaft_stickout - collar_length - (reach + hub_rear_released)
    return Reading(gap, gap, gap, np.where((release_type == 1) & np.isnan(collar_length), 0.0, 1.0))


# ---- the pilot, by every route ------------------------------------------------------------------------


class Routes(NamedTuple):
    """Every way to make the journal meet the crankshaft, `(builds, draws, routes)` in the order of ROUTES.

    journal, bore: diameters after the work [mm]. wall: of the new bush, or clearance in the present one [mm].
    cut: per side off the journal, or out of the crankshaft [mm]. hold: of journal in bush [mm]. length: of
    the bush [mm]. works, comfort: margins of the route. chosen: index of the route taken, `(builds, draws)`.
    """

    journal: Array
    bore: Array
    wall: Array
    cut: Array
    hold: Array
    length: Array
    works: Array
    comfort: Array
    chosen: Array


def _lift(*arrays: Array) -> list[Array]:
    return [np.asarray(a)[..., None] for a in np.broadcast_arrays(*arrays)]


def route_diameters(
    pilot: Array, bush_bore: Array, bore: Array, case: Array, limits: dict[str, float]
) -> tuple[Array, Array, Array, Array, Array, Array]:
    """(journal, bore, wall, cut, works, comfort) per route, each `(..., routes)` [mm], by the diameters alone."""
    clear, tight = limits["wall_clear"], limits["wall_tight"]
    largest = bore - 2.0 * clear
    journal = np.concatenate(_lift(pilot, pilot, pilot, bush_bore, largest, pilot), axis=-1)
    opened = pilot + 2.0 * clear
    bores = np.concatenate(_lift(bore, bore, bore, bore, bore, opened), axis=-1)
    clearance, wall = bush_bore - pilot, bush_wall(bore, pilot)
    nothing = 0.0 * pilot
    walls = np.concatenate(_lift(clearance, wall, wall, nothing, nothing + clear, nothing + clear), axis=-1)
    to_present, to_largest = (pilot - bush_bore) / 2.0, (pilot - largest) / 2.0
    cut = np.concatenate(
        _lift(nothing, nothing, nothing, np.maximum(to_present, 0.0), np.maximum(to_largest, 0.0), np.maximum((opened - bore) / 2.0, 0.0)),
        axis=-1,
    )
    as_is = np.minimum(clearance - limits["clearance_least"], limits["clearance_tight"] - clearance)
    as_is_well = np.minimum(clearance - limits["clearance_least"], limits["clearance_clear"] - clearance)
    works = np.concatenate(
        _lift(as_is, wall - tight, wall - tight, 2.0 * to_present - 1e-6, np.minimum(2.0 * to_largest - 1e-6, largest - 5.0), opened - bore - 1e-6),
        axis=-1,
    )
    comfort = np.concatenate(
        _lift(as_is_well, wall - clear, wall - clear, case - to_present, case - to_largest, nothing - 1.0), axis=-1
    )
    return journal, bores, walls, cut, works, np.minimum(works, comfort)


@quantity("mm", "case depth, the thin end of what is usual where unknown")
def case_assumed(case_depth: Array, case_depth_assumed: float) -> Array:
    return np.where(np.isnan(case_depth), case_depth_assumed, case_depth)


@quantity("mm", "pilot routes")
def pilot_routes(
    pilot_diameter: Array,
    crank_bush_bore: Array,
    crank_bore_diameter: Array,
    crank_bush_recess: Array,
    crank_bush_length: Array,
    case_assumed: Array,
    reach: Array,
    tip_cut: Array,
    journal_needed: Array,
    hub_front_worn: Array,
    workshop_deepest: Array,
    bush_wall_clear: float,
    bush_wall_tight: float,
    pilot_clearance_clear: float,
    pilot_clearance_tight: float,
    pilot_clearance_least: float,
    bush_hold_clear: float,
    bush_hold_tight: float,
    bush_clear_of_hub: float,
    shoulder_gap_tight: float,
) -> Routes:
    """All routes with their numbers, and which one is taken: cheapest to undo, least metal cut, cheapest to do."""
    limits = {
        "wall_clear": bush_wall_clear,
        "wall_tight": bush_wall_tight,
        "clearance_clear": pilot_clearance_clear,
        "clearance_tight": pilot_clearance_tight,
        "clearance_least": pilot_clearance_least,
    }
    everything = pilot_diameter + crank_bush_bore + crank_bore_diameter + 0.0 * case_assumed
    journal, bore, wall, cut, works, comfort = route_diameters(
        pilot_diameter + 0.0 * everything, crank_bush_bore + 0.0 * everything, crank_bore_diameter + 0.0 * everything, case_assumed + 0.0 * everything, limits
    )
    tip = reach - tip_cut
    shoulder = reach - journal_needed
    far, near = crank_bush_recess + crank_bush_length, crank_bush_recess
    plain = overlap(near, far, shoulder, tip)
    furthest = np.maximum(bush_clear_of_hub - hub_front_worn, shoulder + shoulder_gap_tight)
    wanted = np.minimum(far, tip)[..., None] - bush_hold_clear * journal
    extended_near = np.minimum(np.maximum(furthest[..., None], wanted), near[..., None])
    extended = np.minimum(far, tip)[..., None] - extended_near
    shape = np.broadcast_shapes(journal.shape, plain[..., None].shape)
    hold = np.broadcast_to(plain[..., None], shape).copy()
    length = np.broadcast_to(crank_bush_length[..., None], shape).copy()
    for route in (EXTENDED, TO_LARGEST, OPEN_BORE):
        needs = hold[..., route] < bush_hold_tight * np.broadcast_to(journal, shape)[..., route]
        if route == EXTENDED:
            needs = np.ones_like(needs)
        longer = np.broadcast_to(extended, shape)[..., route]
        hold[..., route] = np.where(needs, np.maximum(longer, hold[..., route]), hold[..., route])
        length[..., route] = np.where(needs, (far[..., None] - extended_near + np.zeros(shape))[..., route], length[..., route])
    holds = hold - bush_hold_tight * journal
    both = np.minimum(np.broadcast_to(works, shape), holds)
    both = np.where(np.isnan(holds), np.broadcast_to(works, shape), both)
    forbidden = np.asarray(workshop_deepest)[..., None] < ROUTE_UNDO
    good = (both >= -1e-7) & ~forbidden
    diameter_good = (works >= -1e-7) & ~forbidden
    # Among what works: the undo step, then the metal cut, then hours. Else what fails by diameter least.
    rank = ROUTE_UNDO * 1e4 + np.minimum(np.nan_to_num(cut), 50.0) * 100.0 + ROUTE_HOURS
    price = np.where(good, rank, np.where(np.broadcast_to(diameter_good, shape), rank + 1e6, 1e8 - np.nan_to_num(works, nan=-1e7)))
    chosen = np.argmin(price, axis=-1)
    return Routes(journal, bore, wall, cut, hold, length, works, comfort, chosen)


def _taken(routes: Routes, field: Array) -> Array:
    shape = (*routes.chosen.shape, len(ROUTES))
    return np.take_along_axis(np.broadcast_to(field, shape), routes.chosen[..., None], axis=-1)[..., 0]


@quantity("", "index on the undo scale of the deepest permitted cut")
def workshop_deepest(policy_deepest_cut: Array) -> Array:
    return np.where(np.isnan(policy_deepest_cut), 4.0, policy_deepest_cut)


@quantity("", "pilot route taken")
def route_taken(pilot_routes: Routes, pilot_diameter: Array, crank_bore_diameter: Array, crank_bush_bore: Array) -> Array:
    unknown = np.isnan(pilot_diameter + crank_bore_diameter + crank_bush_bore)
    return np.where(unknown, np.nan, pilot_routes.chosen)


@quantity("mm", "journal diameter after the work")
def journal_after(pilot_routes: Routes) -> Array:
    return _taken(pilot_routes, pilot_routes.journal)


@quantity("mm", "cut per side")
def pilot_cut(pilot_routes: Routes) -> Array:
    return _taken(pilot_routes, pilot_routes.cut)


@check(
    "Does the journal run in the crankshaft, as it is, in a new bush, or turned?",
    "mm",
    Own("wall of a new bush ≥ {bush_wall_clear} mm clear, ≥ {bush_wall_tight} tight; turned inside the case clear, through it tight"),
    "A shaft without its pilot shakes the clutch; a bush with too thin a wall spins or crumbles.",
    criterion="",
    words={
        "clear": "{route}, wall or clearance {pilot_size}",
        "tight": "{route}, wall or clearance {pilot_size}, {pilot_cut} off each side against a case of {case_assumed}",
        "clash": "no route: journal {pilot_diameter} against a bore of {crank_bore_diameter}",
    },
)
def pilot_size(pilot_routes: Routes, route_taken: Array, workshop_deepest: Array) -> Reading:
    works = _taken(pilot_routes, pilot_routes.works) + 0.0 * route_taken
    forbidden = ROUTE_UNDO[pilot_routes.chosen] > workshop_deepest
    works = np.where(forbidden, np.minimum(works, -1.0), works)
    return Reading(_taken(pilot_routes, pilot_routes.wall), works, np.minimum(works, _taken(pilot_routes, pilot_routes.comfort)))


@check(
    "Does enough of the journal run in the bush?",
    "mm",
    Own("hold ≥ {bush_hold_clear} × journal diameter clear, ≥ {bush_hold_tight} × tight"),
    "A journal that only just enters its bush wears it out of round.",
    resolved_by=("make_extended_bush",),
    criterion="fit",
    words={
        "tight": "{bush_hold} of the journal in the bush, little for {journal_after}",
        "clash": "only {bush_hold} of the journal in the bush, {short} too little",
    },
)
def bush_hold(
    pilot_routes: Routes,
    journal_after: Array,
    reach: Array,
    tip_cut: Array,
    journal_needed: Array,
    crank_bush_recess: Array,
    crank_bush_length: Array,
    bush_hold_clear: float,
    bush_hold_tight: float,
) -> Reading:
    plain = overlap(crank_bush_recess, crank_bush_recess + crank_bush_length, reach - journal_needed, reach - tip_cut)
    return Reading(plain, plain - bush_hold_tight * journal_after, plain - bush_hold_clear * journal_after)


@quantity("mm", "hold of the journal after the work")
def hold_after(pilot_routes: Routes) -> Array:
    return _taken(pilot_routes, pilot_routes.hold)


# ---- hub, disc, register ------------------------------------------------------------------------------


@check(
    "Do the splines fit the car's clutch disc?",
    "mm",
    Own("same teeth, diameter within {disc_match_diameter} mm"),
    "A disc of the car's size with the gearbox's hub can usually be ordered; a wrong hub cannot be forced.",
    decides=False,
    resolved_by=("order_disc",),
    criterion="clutch",
    words={"clash": "{spline_teeth} splines of {spline_diameter} against the disc's {clutch_spline_teeth} of {clutch_spline_diameter}"},
)
def disc_match(
    spline_teeth: Array, spline_diameter: Array, clutch_spline_teeth: Array, clutch_spline_diameter: Array, disc_match_diameter: float
) -> Reading:
    off = spline_diameter - clutch_spline_diameter
    works = np.where(spline_teeth == clutch_spline_teeth, disc_match_diameter - np.abs(off), -1.0)
    works = works + 0.0 * (spline_teeth + clutch_spline_teeth + off)
    return Reading(off, works, works)


@check(
    "Is the gearbox centred by the bellhousing?",
    "mm",
    Own("register within {register_fit_same} mm of the bellhousing's bore"),
    "An input shaft off the crankshaft's axis wears its pilot and shakes the disc.",
    decides=False,
    resolved_by=("register_ring", "bore_bellhousing"),
    criterion="fit",
    words={"clash": "register {register_diameter} against a bore of {car_bellhousing_register_diameter}"},
)
def register_fit(
    register_diameter: Array, car_bellhousing_register_diameter: Array, bellhousing: Array, adapter: Array, register_fit_same: float
) -> Reading:
    off = register_diameter - car_bellhousing_register_diameter
    applies = np.where(np.isnan(bellhousing), np.nan, np.where((bellhousing == 0) | (adapter >= 1), 0.0, 1.0))
    works = np.where(bellhousing == 1, register_fit_same - np.abs(off), np.nan)
    return Reading(off + 0.0 * applies, works, works, applies)


# ---- work ---------------------------------------------------------------------------------------------


@work("Make and fit a bush for the journal", "crankshaft", "bolts back", tool="lathe", hours=1.5, cost=12.0,
      words="bore {crank_bore_diameter}, journal {journal_after}")  # fmt: skip
def make_bush(route_taken: Array) -> Amount:
    return Amount(np.where(np.isnan(route_taken), np.nan, np.isin(route_taken, (NEW_BUSH, TO_LARGEST, OPEN_BORE))))


@work("Make and fit an extended bush", "crankshaft", "bolts back", tool="lathe", hours=2.0, cost=18.0,
      words="the shaft reaches {reach} only; hold becomes {hold_after}")  # fmt: skip
def make_extended_bush(route_taken: Array, bush_hold: Reading, hold_after: Array, journal_after: Array, bush_hold_tight: float) -> Amount:
    needed = np.where(np.isnan(route_taken), np.nan, route_taken == EXTENDED)
    stretched = np.isin(route_taken, (TO_LARGEST, OPEN_BORE)) & (bush_hold.works < -1e-7)
    helps = hold_after - bush_hold_tight * journal_after >= -1e-7
    return Amount(np.where(stretched, 1.0, needed), possible=helps)


@work("Turn the journal down", "input shaft", "donor cut", tool="lathe", hours=2.0,
      words="from {pilot_diameter} to {journal_after}: {pilot_cut} off each side against a case of {case_assumed}; "
            "a pilot rubs only while the clutch is down")  # fmt: skip
def turn_journal(route_taken: Array, pilot_cut: Array) -> Amount:
    return Amount(np.where(np.isnan(route_taken), np.nan, np.isin(route_taken, (TO_PRESENT, TO_LARGEST))), pilot_cut)


@work("Turn the journal back", "input shaft", "donor cut", tool="lathe", hours=1.5, hours_per_mm=0.05,
      words="journal {pilot_length} long, {journal_needed} needed; full splines then start at {spline_start_after}")  # fmt: skip
def turn_back(turned_back: Array) -> Amount:
    return Amount(np.where(np.isnan(turned_back), np.nan, turned_back > 1e-7), turned_back)


@work("Shorten the tip", "input shaft", "donor cut", tool="lathe", hours=0.5,
      words="leaves the least end gap; keep the chamfer")  # fmt: skip
def shorten_tip(tip_cut: Array) -> Amount:
    return Amount(np.where(np.isnan(tip_cut), np.nan, tip_cut > 1e-7), tip_cut)


@work("Open the crankshaft's bore", "crankshaft", "frame cut", tool="sent out", hours=4.0, cost=100.0,
      words="engine out, bore opened by {pilot_cut} a side")  # fmt: skip
def open_crank_bore(route_taken: Array, pilot_cut: Array) -> Amount:
    return Amount(np.where(np.isnan(route_taken), np.nan, route_taken == OPEN_BORE), pilot_cut)


@work("Shorten the release-bearing guide", "gearbox front cover", "donor cut", tool="lathe", hours=1.0,
      words="guide {collar_length} long")  # fmt: skip
def shorten_collar(collar_gap: Reading, collar_gap_tight: float) -> Amount:
    short = np.where(collar_gap.applies == 0, 0.0, np.maximum(collar_gap_tight - collar_gap.value, 0.0))
    return Amount(np.where(np.isnan(short), np.nan, short > 1e-7), short)


@work("Order a clutch disc with the gearbox's hub", "clutch", "bolts back", hours=0.5, cost=90.0,
      words="{spline_teeth} splines of {spline_diameter}; say both numbers and send a rubbing")  # fmt: skip
def order_disc(disc_match: Reading) -> Amount:
    return Amount(np.where(np.isnan(disc_match.works), np.nan, disc_match.works < -1e-7))


@work("Turn a register ring", "bellhousing", "bolts back", tool="lathe", hours=2.0, cost=10.0,
      words="from {register_diameter} up to {car_bellhousing_register_diameter}")  # fmt: skip
def register_ring(register_fit: Reading, register_fit_same: float) -> Amount:
    asked = np.where(np.isnan(register_fit.applies), np.nan, register_fit.applies)
    return Amount(np.where(asked == 0, 0.0, np.where(np.isnan(register_fit.value), np.nan, register_fit.value < -register_fit_same)))


@work("Bore the car's bellhousing for the register", "bellhousing", "panel cut", tool="sent out", hours=2.0,
      words="from {car_bellhousing_register_diameter} to {register_diameter}")  # fmt: skip
def bore_bellhousing(register_fit: Reading, register_fit_same: float) -> Amount:
    needed = np.where(np.isnan(register_fit.value), np.nan, register_fit.value > register_fit_same)
    return Amount(np.where(register_fit.applies == 0, 0.0, needed), register_fit.value / 2.0)


@work("Make the adapter plate", "bellhousing", "bolts back", tool="mill", hours=8.0, cost=60.0,
      words="{adapter_thickness} thick, doweled, its bore within 0.13 mm total indicator reading of the crankshaft")  # fmt: skip
def make_adapter(adapter: Array) -> Amount:
    return Amount(np.where(np.isnan(adapter), 0.0, adapter == 2))


# ---- the window of adapter thickness ------------------------------------------------------------------


class Window(NamedTuple):
    """Thickness that satisfies every position check [mm], and which check sets each end (index into WINDOW_CHECKS).

    low > high by as much as the two checks exclude each other. NaN where nothing is known.
    """

    low: Array
    high: Array
    low_by: Array
    high_by: Array


WINDOW_CHECKS = ("end_gap", "shoulder_gap", "bush_hold", "hub_seat", "collar_gap")


@quantity("mm", "journal diameter as far as the diameters alone decide")
def journal_planned(
    pilot_diameter: Array,
    crank_bush_bore: Array,
    crank_bore_diameter: Array,
    bush_wall_tight: float,
    bush_wall_clear: float,
    pilot_clearance_tight: float,
    pilot_clearance_least: float,
) -> Array:
    clearance = crank_bush_bore - pilot_diameter
    as_is = (clearance >= pilot_clearance_least) & (clearance <= pilot_clearance_tight)
    bushed = bush_wall(crank_bore_diameter, pilot_diameter) >= bush_wall_tight
    turned = np.maximum(crank_bush_bore, crank_bore_diameter - 2.0 * bush_wall_clear)
    return np.where(as_is | bushed, pilot_diameter, np.minimum(pilot_diameter, turned)) + 0.0 * (clearance + crank_bore_diameter)


class ReachTerms(NamedTuple):
    """What limits the reach of the shaft, each `(builds, draws)` [mm]."""

    bore_depth: Array
    stop: Array
    pilot_length: Array
    recess: Array
    bush_length: Array
    spline_start: Array
    spline_end: Array
    hub_rear: Array
    hub_front: Array
    stickout: Array
    collar: Array


def _reach_limits(
    terms: ReachTerms, hold: Array, end_gap: float, shoulder: float, hub_rear: float, hub_front: Array, collar: float
) -> tuple[list[Array], list[Array]]:
    """Upper and lower limits of reach, in the order of WINDOW_CHECKS, each entry an array or NaN."""
    most = [
        terms.bore_depth - end_gap,
        terms.stop + terms.pilot_length - shoulder,
        terms.recess + terms.bush_length + terms.pilot_length - hold,
        terms.spline_end - terms.hub_rear - hub_rear,
        terms.stickout - terms.collar - terms.hub_rear - collar,
    ]
    nothing = np.full((1, 1), np.nan)
    possible = np.minimum(terms.bush_length, terms.pilot_length) >= hold - 1e-7
    least = [
        nothing,
        nothing,
        np.where(possible, terms.recess + hold, np.inf) + 0.0 * hold,
        terms.spline_start - terms.hub_front + hub_front,
        nothing,
    ]
    return most, least


def _window(bare: Array, most: list[Array], least: list[Array]) -> Window:
    shape = np.broadcast_shapes(bare.shape, *(np.shape(a) for a in (*most, *least)))
    upper = np.stack([np.broadcast_to(a, shape) for a in most], axis=-1)
    lower = np.stack([np.broadcast_to(a, shape) for a in least], axis=-1)
    upper, lower = np.where(np.isnan(upper), np.inf, upper), np.where(np.isnan(lower), -np.inf, lower)
    low = bare - upper.min(axis=-1)
    high = bare - lower.max(axis=-1)
    unknown = lambda a: np.where(np.isinf(a), np.nan, a)
    return Window(unknown(low), unknown(high), upper.argmin(axis=-1), lower.argmax(axis=-1))


@quantity("mm", "what limits the reach of the shaft")
def reach_terms(
    crank_bore_depth: Array,
    shoulder_stop: Array,
    pilot_length: Array,
    crank_bush_recess: Array,
    crank_bush_length: Array,
    spline_start: Array,
    spline_end: Array,
    hub_rear_released: Array,
    hub_front_worn: Array,
    shaft_stickout: Array,
    collar_length: Array,
) -> ReachTerms:
    return ReachTerms(
        crank_bore_depth, shoulder_stop, pilot_length, crank_bush_recess, crank_bush_length,
        spline_start, spline_end, hub_rear_released, hub_front_worn, shaft_stickout, collar_length,
    )  # fmt: skip


@quantity("mm", "thickness that satisfies every position check, tight")
def thickness_window(
    reach_bare: Array,
    reach_terms: ReachTerms,
    journal_planned: Array,
    hub_length: Array,
    end_gap_tight: float,
    shoulder_gap_tight: float,
    bush_hold_tight: float,
    hub_seat_share_tight: float,
    collar_gap_tight: float,
) -> Window:
    front = -(1.0 - hub_seat_share_tight) * hub_length
    limits = _reach_limits(reach_terms, bush_hold_tight * journal_planned, end_gap_tight, shoulder_gap_tight, 0.0, front, collar_gap_tight)
    return _window(reach_bare, *limits)


@quantity("mm", "thickness that satisfies every position check, clear")
def thickness_window_clear(
    reach_bare: Array,
    reach_terms: ReachTerms,
    journal_planned: Array,
    end_gap_clear: float,
    shoulder_gap_clear: float,
    bush_hold_clear: float,
    hub_seat_rear_clear: float,
    collar_gap_clear: float,
) -> Window:
    hold = bush_hold_clear * journal_planned
    limits = _reach_limits(reach_terms, hold, end_gap_clear, shoulder_gap_clear, hub_seat_rear_clear, np.zeros((1, 1)), collar_gap_clear)
    return _window(reach_bare, *limits)


@seat_bound
def shaft_bounds(
    reach_bare: Array,
    reach_terms: ReachTerms,
    journal_planned: Array,
    hub_length: Array,
    end_gap_tight: float,
    end_gap_clear: float,
    shoulder_gap_tight: float,
    bush_hold_tight: float,
    bush_hold_clear: float,
    hub_seat_rear_clear: float,
    hub_seat_share_tight: float,
    collar_gap_tight: float,
    collar_gap_clear: float,
    bush_clear_of_hub: float,
) -> list[Bound]:
    """What thickness does to the shaft: reach = reach_bare − thickness."""
    terms = reach_terms
    t = lambda reach_limit: reach_bare - reach_limit
    share = (1.0 - hub_seat_share_tight) * hub_length
    hold, hold_clear = bush_hold_tight * journal_planned, bush_hold_clear * journal_planned
    reaches = terms.recess + hold
    reaches_extended = np.fmin(reaches, hold - (terms.hub_front - bush_clear_of_hub))
    rear = terms.spline_end - terms.hub_rear
    front = terms.spline_start - terms.hub_front
    guide = terms.stickout - terms.collar - terms.hub_rear
    axis = "thickness"
    return [
        beyond(axis, "violation", "hub on the run-out", t(rear), -1.0),
        beyond(axis, "violation", "hub off the splines", t(front - share), 1.0),
        beyond(axis, "violation", "journal short of any bush", t(reaches_extended), 1.0),
        beyond(axis, "donor cut", "tip", t(terms.bore_depth - end_gap_tight), -1.0),
        beyond(axis, "donor cut", "journal", t(terms.stop + terms.pilot_length - shoulder_gap_tight), -1.0),
        beyond(axis, "donor cut", "guide", t(guide - collar_gap_tight), -1.0),
        toll(axis, "extended bush", t(reaches), 1.0, ROUTE_MATERIAL[EXTENDED]),
        beyond(axis, "comfort", "tip", t(terms.bore_depth - end_gap_clear), -1.0),
        beyond(axis, "comfort", "hub rear", t(rear - hub_seat_rear_clear), -1.0),
        beyond(axis, "comfort", "hub front", t(front), 1.0),
        beyond(axis, "comfort", "bush", t(terms.recess + hold_clear), 1.0),
        beyond(axis, "comfort", "guide", t(guide - collar_gap_clear), -1.0),
    ]
