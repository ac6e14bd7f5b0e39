"""Thickness: where the gearbox's front face stands, the plate between, and what a plate does to the
shaft.

x_face = backplate + bellhousing depth + thickness − engine shift. All checks of the shaft depend on
the
thickness only through the reach, and linearly.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from compare.judge.rules import (
    Ask,
    AtLeast,
    Limit,
    Reading,
    check,
    decision,
    quantity,
    seat_bound,
    unknown_where,
)
from compare.judge.seat import Bound, beyond
from compare.ordering import Cut, order, tell
from compare.standards import general_tolerance, limits_of_size
from compare.topics.pilot import Lengths, tip_off, tip_reach, turned_breaks, turned_need

Array = np.ndarray
TO_MAKE = 2


@quantity("mm", "block face to gearbox face, no adapter")
def depth_of_face(
    bellhousing: Array,
    bellhousing_depth: Array,
    car_bellhousing_depth: Array,
    backplate: Array,
    engine_backplate: Array,
) -> Array:
    """The candidate's own depth; the car's where its bellhousing is kept; the backplate before it."""
    plate = np.where(np.isnan(backplate), engine_backplate, backplate)
    return plate + np.where(bellhousing == 1, car_bellhousing_depth, bellhousing_depth)


@quantity("mm", "least permitted adapter thickness")
def thickness_low(
    adapter: Array, adapter_thickness_low: Array, car_adapter_thickness_low: Array
) -> Array:
    blank = np.isnan(adapter_thickness_low) & (adapter == TO_MAKE)
    given = np.where(blank, car_adapter_thickness_low, adapter_thickness_low)
    return np.where(adapter == 0, 0.0, given)


@quantity("mm", "most permitted adapter thickness")
def thickness_high(
    adapter: Array, adapter_thickness_high: Array, car_adapter_thickness_high: Array
) -> Array:
    blank = np.isnan(adapter_thickness_high) & (adapter == TO_MAKE)
    given = np.where(blank, car_adapter_thickness_high, adapter_thickness_high)
    return np.where(adapter == 0, 0.0, given)


@quantity("mm", "x of the gearbox's front face")
def x_face(depth_of_face: Array, adapter_thickness: Array, engine_shift: Array) -> Array:
    return depth_of_face + adapter_thickness - engine_shift


@quantity("mm", "reach of the tip without any adapter")
def reach_bare(crank_flange_position: Array, depth_of_face: Array, shaft_stickout: Array) -> Array:
    return tip_reach(crank_flange_position, depth_of_face, np.zeros(1), shaft_stickout)


@decision(
    "Make the adapter plate",
    "adapter plate",
    unit="",
    tool="mill",
    hours=8.0,
    cost=60.0,
    words="{adapter_thickness} thick, doweled, its bore within {housing_bore_runout} total "
    "indicator reading of the crankshaft, its face within {housing_face_runout}",
    when="opened",
)
def adapter_made(adapter: Array) -> Ask:
    return Ask(np.where(adapter == TO_MAKE, 1.0, 0.0))


@check(
    "Is the plate to make thick enough to be made?",
    "mm",
    AtLeast(clear=8.0, tight=6.0),
    "A thinner plate has no thread for its bolts and bends where it is clamped.",
    criterion="fit",
    words={
        "tight": "a plate of {plate_wall}",
        "clash": "a plate of {plate_wall} cannot be made to hold",
    },
)
def plate_wall(adapter: Array, adapter_thickness: Array) -> Reading:
    asked = unknown_where((adapter == TO_MAKE) * 1.0, adapter)
    return Reading(adapter_thickness, adapter_thickness, adapter_thickness, asked)


BORE_RUNOUT = Limit(
    "housing_bore_runout", 0.20, "mm", "Cummins N14 specifications, flywheel housing, p. 0-71"
)
FACE_RUNOUT = Limit(
    "housing_face_runout", 0.30, "mm", "TM 5-3895-383-24: flywheel housing, face run-out"
)


# ---- the window of thickness, shaft as it is -----------------------------------------------------


class Window(NamedTuple):
    """Thickness that satisfies every position check of the shaft as it is [mm].

    low_by, high_by: which check sets each end (index into WINDOW_CHECKS). low > high by as much as
    two
    checks exclude each other. NaN where nothing is known.
    """

    low: Array
    high: Array
    low_by: Array
    high_by: Array


WINDOW_CHECKS = ("end_gap", "shoulder_gap", "bush_hold", "hub_seat", "collar_gap")


class Terms(NamedTuple):
    """What limits the reach of the shaft, each `(builds, draws)` [mm]."""

    pilot: Lengths
    journal: Array
    spline_start: Array
    spline_end: Array
    hub_front: Array
    hub_rear: Array
    turned_front: Array
    turned_rear: Array
    hub_length: Array
    stickout: Array
    collar: Array
    longest: Array


@quantity("mm", "what limits the reach of the shaft")
def reach_terms(
    pilot_lengths: Lengths,
    journal_after: Array,
    spline_start: Array,
    spline_end: Array,
    clutch_friction_face: Array,
    disc_front: Array,
    disc_rear: Array,
    disc_thick: Array,
    clutch_wear_travel: Array,
    clutch_release_float: Array,
    clutch_bolt_heads: Array,
    shaft_stickout: Array,
    collar_length: Array,
    guide_asked: Array,
    crank_bore_after: Array,
    bush_wall_tight: float,
    disc_bolt_gap: float,
) -> Terms:
    """The hub both ways round; turned round it must clear the bolts, else it stands far off."""
    front = clutch_friction_face + disc_front - clutch_wear_travel
    rear = clutch_friction_face + disc_rear + clutch_release_float
    turned_front = clutch_friction_face + disc_thick - disc_rear - clutch_wear_travel
    turned_rear = clutch_friction_face + disc_thick - disc_front + clutch_release_float
    blocked = ~(turned_front - clutch_bolt_heads - disc_bolt_gap >= 0)
    far = np.where(blocked, 1e6, 0.0)
    collar = np.where(guide_asked > 0, collar_length, -1e6)
    bushable = (crank_bore_after - journal_after) / 2.0 >= bush_wall_tight - 1e-9
    nearest = np.minimum(pilot_lengths.recess, np.where(bushable, pilot_lengths.furthest, np.inf))
    return Terms(
        pilot_lengths, journal_after, spline_start, spline_end, front, rear, turned_front + far,
        turned_rear + far, disc_rear - disc_front, shaft_stickout, collar, nearest,
    )  # fmt: skip


def _window(bare: Array, most: list[Array], least: list[Array]) -> Window:
    shape = np.broadcast_shapes(bare.shape, *(np.shape(a) for a in (*most, *least)))
    upper = np.stack([np.broadcast_to(a, shape) for a in most], axis=-1)
    lower = np.stack([np.broadcast_to(a, shape) for a in least], axis=-1)
    upper = np.where(np.isnan(upper), np.inf, upper)
    lower = np.where(np.isnan(lower), -np.inf, lower)
    low, high = bare - upper.min(axis=-1), bare - lower.max(axis=-1)
    unknown = lambda a: np.where(np.isinf(a) | (np.abs(a) > 1e5), np.nan, a)
    return Window(unknown(low), unknown(high), upper.argmin(axis=-1), lower.argmax(axis=-1))


def _reach_limits(
    terms: Terms, hold: Array, end_gap: float, hub_rear: float, share: Array, collar: float
) -> tuple[list[Array], list[Array]]:
    """Upper and lower limits of reach, in the order of WINDOW_CHECKS, each an array or NaN."""
    p = terms.pilot
    most = [
        p.bore_depth - end_gap,
        np.minimum(p.stop, p.recess) + p.journal - p.room,
        np.full((1, 1), np.nan),
        terms.spline_end - terms.hub_rear - hub_rear,
        terms.stickout - terms.collar - terms.hub_rear - collar,
    ]
    nothing = np.full((1, 1), np.nan)
    holds = np.where(p.far - p.recess >= hold - 1e-7, p.recess + hold, np.inf)
    least = [
        nothing,
        nothing,
        np.where(np.isnan(hold + p.recess + p.far), np.nan, holds),
        terms.spline_start - terms.hub_front - share,
        nothing,
    ]
    return most, least


@quantity("mm", "thickness that satisfies every position check, tight")
def thickness_window(
    reach_bare: Array,
    reach_terms: Terms,
    end_gap_tight: float,
    bush_hold_tight: float,
    hub_seat_share_tight: float,
    collar_gap_tight: float,
) -> Window:
    share = (1.0 - hub_seat_share_tight) * reach_terms.hub_length
    hold = bush_hold_tight * reach_terms.journal
    limits = _reach_limits(reach_terms, hold, end_gap_tight, 0.0, share, collar_gap_tight)
    return _window(reach_bare, *limits)


@quantity("mm", "thickness that satisfies every position check, clear")
def thickness_window_clear(
    reach_bare: Array,
    reach_terms: Terms,
    end_gap_clear: float,
    bush_hold_clear: float,
    hub_seat_rear_clear: float,
    collar_gap_clear: float,
) -> Window:
    hold = bush_hold_clear * reach_terms.journal
    share = np.zeros((1, 1))
    limits = _reach_limits(
        reach_terms, hold, end_gap_clear, hub_seat_rear_clear, share, collar_gap_clear
    )
    return _window(reach_bare, *limits)


# ---- what the seat has to mind -------------------------------------------------------------------


def _hub_misses(reach: Array, t: Terms, share: Array) -> tuple[Array, Array]:
    """By how much the hub misses its splines, as usual and turned round; turning back included
    [mm].
    """
    turned = turned_need(reach, t.pilot)
    behind = np.maximum(t.spline_start, t.pilot.journal + turned)
    start = np.where(turned > 1e-9, behind, t.spline_start)
    slack = (1.0 - share) * t.hub_length

    def miss(front: Array, rear: Array) -> Array:
        ahead = np.maximum(start - slack - (reach + front), 0.0)
        return ahead + np.maximum(reach + rear - t.spline_end, 0.0)

    return miss(t.hub_front, t.hub_rear), miss(t.turned_front, t.turned_rear)


def _terms_of(args: tuple[Array, ...]) -> Terms:
    """The terms, from the flat arguments of a bound."""
    count = len(Lengths._fields)
    return Terms(Lengths(*args[:count]), *args[count:])


def _flat(terms: Terms) -> tuple[Array, ...]:
    return (*terms.pilot, *terms[1:])


def _hub_harm(t: Array, bare: Array, share: Array, *args: Array) -> Array:
    return np.minimum(*_hub_misses(bare - t, _terms_of(args), share))


def _hub_breaks(bare: Array, share: Array, *args: Array) -> tuple[Array, ...]:
    terms = _terms_of(args)
    slack = (1.0 - share) * terms.hub_length
    reaches = list(turned_breaks(terms.pilot))
    for front, rear in (
        (terms.hub_front, terms.hub_rear),
        (terms.turned_front, terms.turned_rear),
    ):
        starts = (terms.spline_start, terms.pilot.journal)
        reaches += [s - slack - front for s in starts] + [terms.spline_end - rear]
    reaches.append(
        terms.spline_start - terms.pilot.room + np.minimum(terms.pilot.stop, terms.pilot.far)
    )
    both = (terms.hub_front, terms.turned_front)
    middle = (terms.spline_end - terms.hub_rear + terms.spline_start - slack - both[1]) / 2.0
    reaches += [
        middle,
        (terms.spline_end - terms.turned_rear + terms.spline_start - slack - both[0]) / 2.0,
    ]
    return tuple(bare - r for r in reaches)


def _guide_harm(t: Array, gap: Array, bare: Array, share: Array, *args: Array) -> Array:
    """What the guide must lose: the hub as usual, turned round only where that alone seats it."""
    terms, reach = _terms_of(args), bare - t
    usual, other = _hub_misses(reach, terms, share)
    round_ = (usual > 1e-9) & (other <= 1e-9)
    rear = np.where(round_, terms.turned_rear, terms.hub_rear)
    return np.maximum(reach + rear + gap - (terms.stickout - terms.collar), 0.0)


def _guide_breaks(gap: Array, bare: Array, share: Array, *args: Array) -> tuple[Array, ...]:
    terms = _terms_of(args)
    room = terms.stickout - terms.collar - gap
    ends = tuple(bare - (room - rear) for rear in (terms.hub_rear, terms.turned_rear))
    return (*_hub_breaks(bare, share, *args), *ends)


def _turned_harm(t: Array, bare: Array, *args: Array) -> Array:
    return turned_need(bare - t, Lengths(*args))


def _turned_breaks(bare: Array, *args: Array) -> tuple[Array, ...]:
    return tuple(bare - r for r in turned_breaks(Lengths(*args)))


def _into_harm(t: Array, bare: Array, start: Array, *args: Array) -> Array:
    p = Lengths(*args)
    turned = turned_need(bare - t, p)
    return np.where(turned > 1e-9, np.maximum(p.journal + turned - start, 0.0), 0.0)


def _into_breaks(bare: Array, start: Array, *args: Array) -> tuple[Array, ...]:
    p = Lengths(*args)
    at = [
        start - p.room + s
        for s in (p.stop, p.recess, np.minimum(p.stop, p.far), p.bore_depth - p.far + p.recess)
    ]
    return (*_turned_breaks(bare, *args), *(bare - r for r in at))


def _deeper_harm(t: Array, bare: Array, *args: Array) -> Array:
    """By how much the bush is set deeper for the shoulder [mm]."""
    p, reach = Lengths(*args), bare - t
    return np.maximum(reach - p.journal - turned_need(reach, p) + p.room - p.recess, 0.0)


def _pressed_harm(t: Array, bare: Array, made: Array, *args: Array) -> Array:
    """The same where the present bush stays: one that is made is pressed to its place at once [mm]."""
    return np.where(made > 0, 0.0, _deeper_harm(t, bare, *args))


def _longer_harm(t: Array, bare: Array, *args: Array) -> Array:
    """By how much the bush must be longer to hold enough of the journal [mm]."""
    p, reach = Lengths(*args), bare - t
    deeper = _deeper_harm(t, bare, *args)
    held = np.minimum(p.far + deeper, reach - tip_off(reach, p)) - (p.recess + deeper)
    return np.maximum(p.hold - held, 0.0)


def _longer_breaks(bare: Array, *args: Array) -> tuple[Array, ...]:
    p = Lengths(*args)
    start = p.journal - p.room
    reaches = (p.recess + p.hold, p.far, start + p.recess, p.far + start - p.hold)
    return (*_turned_breaks(bare, *args), *(bare - r for r in reaches))


def _fresh_in_bush(t: Array, bare: Array, *args: Array) -> Array:
    """How much of what is turned back out of the shoulder runs in the pilot [mm]; as `journal_soft`
    has it.
    """
    p, reach = Lengths(*args), bare - t
    turned, deeper = turned_need(reach, p), _deeper_harm(t, bare, *args)
    journal_near = np.maximum(p.recess + deeper, reach - p.journal - turned + p.room)
    fresh = np.minimum(p.far + deeper, reach - p.journal) - journal_near
    return np.where(turned > 1e-7, fresh, 0.0)


def _made_harm(
    t: Array, bare: Array, made: Array, needles: Array, soft: Array, back: Array, *args: Array
) -> Array:
    """1 where the seat makes a bush that diameters do not ask for: a longer one, or one in the
    needles' place.
    """
    instead = (soft > 0) | ((back > 0) & (_fresh_in_bush(t, bare, *args) > 1e-7))
    asked = (_longer_harm(t, bare, *args) > 1e-7) | ((needles > 0) & instead)
    return np.where(asked & (made == 0), 1.0, 0.0)


def _made_breaks(
    bare: Array, made: Array, needles: Array, soft: Array, back: Array, *args: Array
) -> tuple[Array, ...]:
    p = Lengths(*args)
    ends = (p.recess, p.stop, p.recess + p.bore_depth - p.far, p.bore_depth - p.gap - p.hold)
    return (*_longer_breaks(bare, *args), *(bare - p.journal - end for end in ends))


def _pressed_breaks(bare: Array, made: Array, *args: Array) -> tuple[Array, ...]:
    return _longer_breaks(bare, *args)


@seat_bound
def shaft_bounds(
    reach_bare: Array,
    reach_terms: Terms,
    bush_by_route: Array,
    bush_for_needles: Array,
    turned_soft: Array,
    shoulder_soft: Array,
    end_gap_tight: float,
    end_gap_clear: float,
    bush_hold_tight: float,
    bush_hold_clear: float,
    hub_seat_rear_clear: float,
    hub_seat_share_tight: float,
    collar_gap_tight: float,
    collar_gap_clear: float,
    adapter: Array,
    plate_wall_tight: float,
) -> list[Bound]:
    """What thickness does to the shaft: reach = reach_bare − thickness."""
    terms, p, axis = reach_terms, reach_terms.pilot, "thickness"
    at = lambda reach_limit: reach_bare - reach_limit
    hold, hold_clear = bush_hold_tight * terms.journal, bush_hold_clear * terms.journal
    guide = terms.stickout - terms.collar - terms.hub_rear
    share = np.asarray(hub_seat_share_tight)
    thinnest = np.where(adapter == TO_MAKE, plate_wall_tight, -1e6)
    return [
        beyond(axis, "violation", "plate too thin", thinnest, -1.0),
        Bound(axis, "", "hub off its splines", _hub_breaks, _hub_harm,
              (reach_bare, share, *_flat(terms)), level="violation"),
        beyond(axis, "violation", "journal short of any bush", at(hold + terms.longest), 1.0),
        beyond(axis, "tip_cut", "tip", at(p.bore_depth - end_gap_tight), -1.0),
        Bound(axis, "turned_back", "journal", _turned_breaks, _turned_harm, (reach_bare, *p)),
        Bound(axis, "spline_cut", "splines", _into_breaks, _into_harm,
              (reach_bare, terms.spline_start, *p)),
        Bound(axis, "collar_cut", "guide", _guide_breaks, _guide_harm,
              (np.asarray(collar_gap_tight), reach_bare, share, *_flat(terms))),
        Bound(axis, "bush_deeper", "bush", _pressed_breaks, _pressed_harm, (reach_bare, bush_by_route, *p)),
        Bound(axis, "bush_longer", "longer bush", _longer_breaks, _longer_harm, (reach_bare, *p)),
        Bound(axis, "bush_made", "bush", _made_breaks, _made_harm,
              (reach_bare, bush_by_route, bush_for_needles, turned_soft, shoulder_soft, *p)),
        beyond(axis, "comfort", "tip", at(p.bore_depth - end_gap_clear), -1.0),
        beyond(axis, "comfort", "hub rear", at(terms.spline_end - terms.hub_rear - hub_seat_rear_clear), -1.0),
        beyond(axis, "comfort", "hub front", at(terms.spline_start - terms.hub_front), 1.0),
        beyond(axis, "comfort", "bush", at(hold_clear + p.recess), 1.0),
        beyond(axis, "comfort", "guide", at(guide - collar_gap_clear), -1.0),
    ]  # fmt: skip


# ---- orders --------------------------------------------------------------------------------------


FLAT = 0.05  # mm, faces of a plate parallel: practice


@order("adapter_made", step=72)
def make_the_plate(
    adapter_thickness: float,
    register_diameter: float,
    housing_bore_runout: float,
    housing_face_runout: float,
) -> list[Cut]:
    tolerance = general_tolerance(adapter_thickness, fine=True)
    bore = limits_of_size(register_diameter, "H7")
    return [
        Cut(
            "Mill the adapter plate", "adapter plate", "its engine side", math.nan,
            adapter_thickness - tolerance, adapter_thickness + tolerance, runout=housing_face_runout,
            finish="Ra 3.2", material="aluminium plate, or steel", of="adapter_thickness",
            measure_before="stick-out, depth of the bellhousing, crankshaft's bore: what the thickness follows from",
            note=tell("faces parallel within {flat} (practice); doweled to block and gearbox", flat=(FLAT, "mm order")),
        ),
        Cut(
            "Bore the adapter plate for the register", "adapter plate", "crankshaft axis", math.nan, *bore,
            runout=housing_bore_runout, finish="Ra 1.6", of="register_diameter",
            measure_before="the register in two directions",
            note="set true to the crankshaft with the plate bolted up, then dowel it",
        ),
    ]  # fmt: skip
