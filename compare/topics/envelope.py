"""Envelope: the housing as two boxes between mount, crossmember, tunnel and opening, and what must be cut.

The case stands over [x_face, x_face + case_length], the tail from there to x_face + length. A cut is what is
missing to the tight clearance; each place counts once and places add up within an undo step.
"""

from __future__ import annotations

import numpy as np

from compare.judge.rules import Amount, AtLeast, AtMost, Limit, Own, Reading, check, quantity, seat_bound, work
from compare.judge.seat import Bound, toll

Array = np.ndarray

BODY, PANEL = 3.0, 2.0
SIDES = ("left", "right", "top", "bottom")
BRACKET_HOURS, SLOT_HOURS, CRANK_HOURS = 3.0, 3.0, 2.0

BRACKET_MOST = Limit("mount_bracket_most", 60.0, "mm", "practice: as far as a bracket carries the mount")
SPACER_MOST = Limit("mount_spacer_most", 25.0, "mm", "practice")
HOUSING_GAP = Limit("crossmember_gap", 6.0, "mm", "practice: about a quarter of an inch between housing and chassis")


def interpolate(x: Array, stations: Array, values: Array) -> Array:
    """Straight lines between stations; kept flat beyond the first and the last.

    x: `(..., points)` [mm]. stations, values: `(..., S)` [mm], leading axes broadcast against those of x.

    >>> interpolate(np.array([[150.0, 900.0]]), np.array([[100.0, 200.0]]), np.array([[50.0, 30.0]])).tolist()
    [[40.0, 30.0]]
    """
    total = values[..., :1] + 0.0 * x
    for k in range(stations.shape[-1] - 1):
        run = stations[..., k + 1 : k + 2] - stations[..., k : k + 1]
        rise = values[..., k + 1 : k + 2] - values[..., k : k + 1]
        total = total + rise / run * np.clip(x - stations[..., k : k + 1], 0.0, run)
    return total


def deepest(front: Array, rear: Array, need: Array, stations: Array, section: Array) -> Array:
    """How far a box side stands beyond the section, at its worst place [mm]; −inf where it is outside the stations.

    front, rear: ends of the box `(..., points)`; need: distance asked for `(..., 1)`; stations, section `(..., S)`.

    >>> deepest(np.array([[0.0]]), np.array([[150.0]]), np.array([[55.0]]),
    ...         np.array([[100.0, 200.0]]), np.array([[60.0, 40.0]])).tolist()
    [[5.0]]
    """
    first, last = stations[..., :1], stations[..., -1:]
    worst = need - np.minimum(
        interpolate(np.clip(front, first, last), stations, section), interpolate(np.clip(rear, first, last), stations, section)
    )
    for k in range(stations.shape[-1]):
        at = stations[..., k : k + 1]
        inside = (at >= front) & (at <= rear)
        worst = np.maximum(worst, np.where(inside, need - section[..., k : k + 1], -np.inf))
    # A box that only touches the first or the last station is outside: so the least harm is one that can be had.
    outside = (rear <= first + 1e-9) | (front >= last - 1e-9)
    return np.where(outside, np.where(np.isnan(worst), np.nan, -np.inf), worst)


def slide_overlap(front: Array, rear: Array, start: Array, end: Array) -> Array:
    """Length common to [front, rear] and [start, end] [mm], zero when they miss each other.

    >>> float(slide_overlap(0.0, 50.0, 40.0, 90.0))
    10.0
    """
    return np.maximum(np.minimum(rear, end) - np.maximum(front, start), 0.0)


def milled_stock(pad_length: Array, tilt: Array) -> Array:
    """Metal at the thick end of a pad milled level [mm] = length × tan(tilt); tilt in rad.

    >>> round(float(milled_stock(60.0, np.deg2rad(10.0))), 2)
    10.58
    """
    return pad_length * np.tan(np.abs(tilt))


# ---- the front face and the two boxes -----------------------------------------------------------------


@quantity("mm", "x of the gearbox's front face")
def x_face(depth_of_face: Array, adapter_thickness: Array, engine_shift: Array) -> Array:
    return depth_of_face + adapter_thickness - engine_shift


@quantity("mm", "how far forward the engine can go")
def most_shift(engine_mounts_shift_slotted: Array, engine_mounts_fan_gap: Array, engine_mounts_fan_gap_least: Array) -> Array:
    return np.maximum(np.fmin(engine_mounts_shift_slotted, engine_mounts_fan_gap - engine_mounts_fan_gap_least), 0.0)


@check(
    "Can the engine go as far forward as the seat asks?",
    "mm",
    Own("clear as bolted, tight with the brackets slotted"),
    "Beyond its slots the engine needs new mounts.",
    criterion="fit",
    words={"tight": "engine {engine_shift} forward: the brackets are slotted by {slot}"},
    known_as="engine_shift",
)
def shift_mounts(engine_shift: Array, engine_mounts_shift_bolted: Array, engine_mounts_shift_slotted: Array) -> Reading:
    return Reading(engine_shift, engine_mounts_shift_slotted - engine_shift, engine_mounts_shift_bolted - engine_shift)


@check(
    "Does the fan stay clear of the radiator?",
    "mm",
    Own("at least the least gap that you accept"),
    "A fan in the radiator empties it.",
    decides=False,
    criterion="fit",
    words={"clash": "{fan_gap} left between fan and radiator"},
)
def fan_gap(engine_mounts_fan_gap: Array, engine_mounts_fan_gap_least: Array, engine_shift: Array) -> Reading:
    left = engine_mounts_fan_gap - engine_shift
    applies = np.where(engine_shift > 1e-7, 1.0, 0.0)
    return Reading(left, left - engine_mounts_fan_gap_least, left - engine_mounts_fan_gap_least, applies)


@quantity("mm", "slot needed in the engine brackets, shared by both")
def slot(engine_shift: Array, engine_mounts_shift_bolted: Array) -> Array:
    return np.maximum(engine_shift - engine_mounts_shift_bolted, 0.0)


@work("Slot the engine brackets", "engine brackets", "bolts back", tool="hand tools", hours=SLOT_HOURS,
      words="engine {engine_shift} forward; half of {slot} at each bracket")  # fmt: skip
def slot_brackets(slot: Array) -> Amount:
    return Amount(np.where(np.isnan(slot), np.nan, slot > 1e-7), slot)


# ---- mount --------------------------------------------------------------------------------------------


@quantity("mm", "x of the mount pad's centre")
def pad_x(x_face: Array, mount_position: Array) -> Array:
    return x_face + mount_position


@quantity("mm", "how far the pad stands outside the zone, rearward positive")
def pad_offset(pad_x: Array, car_mount_zone_start: Array, car_mount_zone_end: Array) -> Array:
    return np.maximum(pad_x - car_mount_zone_end, 0.0) - np.maximum(car_mount_zone_start - pad_x, 0.0)


@check(
    "Does the mount pad come over the place that can take it?",
    "mm",
    AtMost(clear=0.0, tight=0.0),
    "A pad in the air needs a bracket, and beyond its reach another crossmember.",
    resolved_by=("mount_bracket", "move_crossmember"),
    criterion="fit",
    words={"clash": "the pad stands {mount_reach} outside the zone"},
)
def mount_reach(pad_offset: Array) -> Array:
    return np.abs(pad_offset)


@work("Make a mount bracket", "gearbox mount", "bolts back", tool="welder", hours=BRACKET_HOURS, cost=15.0,
      words="pad centre at x {pad_x}, {mount_reach} outside the zone")  # fmt: skip
def mount_bracket(mount_reach: Array) -> Amount:
    return Amount(np.where(np.isnan(mount_reach), np.nan, mount_reach > 1e-7))


@work("Move the crossmember", "crossmember", "frame cut", tool="sent out", hours=12.0, cost=80.0,
      words="the pad stands {mount_reach} outside the zone, more than a bracket spans")  # fmt: skip
def move_crossmember(mount_reach: Array, mount_bracket_most: float) -> Amount:
    beyond_bracket = np.maximum(mount_reach - mount_bracket_most, 0.0)
    return Amount(np.where(np.isnan(mount_reach), np.nan, beyond_bracket > 1e-7), beyond_bracket)


@quantity("rad", "pad against mount face")
def tilt_difference(mount_tilt: Array, car_mount_tilt: Array) -> Array:
    return mount_tilt - car_mount_tilt


@check(
    "Does the mount pad sit level on its mount?",
    "deg",
    AtMost(clear=0.5, tight=2.0),
    "A rubber mount squeezed at one end tears; a gearbox pulled level by its mount bends the bellhousing.",
    resolved_by=("mount_wedge", "mill_pad"),
    criterion="fit",
    words={"tight": "the pad sits {mount_tilt_off} off", "clash": "the pad sits {mount_tilt_off} off level"},
    known_as="mount_tilt",
)
def mount_tilt_off(tilt_difference: Array) -> Array:
    return np.rad2deg(np.abs(tilt_difference))


@quantity("mm", "mean thickness of a wedge under the pad")
def wedge(tilt_difference: Array, mount_pad_length: Array) -> Array:
    return milled_stock(mount_pad_length, tilt_difference) / 2.0


@quantity("", "1 where the wedge is wanted and the height allows it")
def wedge_fits(mount_tilt_off: Array, mount_tilt_tight: float, wedge: Array, mount_drop: Array, car_mount_drop_most: Array) -> Array:
    wanted = np.where(mount_tilt_off > mount_tilt_tight + 1e-9, 1.0, 0.0)
    return np.where(np.isnan(mount_tilt_off), np.nan, wanted * np.where(mount_drop + wedge <= car_mount_drop_most + 1e-7, 1.0, 0.0))


@work("Fit a wedge under the mount pad", "gearbox mount", "bolts back", tool="grinder", hours=1.5, cost=5.0,
      words="{mount_tilt_off} over the pad's {mount_pad_length}; mean thickness {wedge}")  # fmt: skip
def mount_wedge(wedge_fits: Array, wedge: Array) -> Amount:
    return Amount(wedge_fits, possible=~np.isnan(wedge + 0.0 * wedge_fits))


@quantity("mm", "metal to mill off the thick end of the pad")
def pad_milling(tilt_difference: Array, mount_pad_length: Array) -> Array:
    return milled_stock(mount_pad_length, tilt_difference)


@work("Mill the mount pad level", "gearbox tail", "donor cut", tool="mill", hours=2.0,
      words="{mount_tilt_off} over {mount_pad_length}: {pad_milling} off the thick end, {mount_pad_stock} may go; "
            "the pad then sits at a drop of {drop_after}")  # fmt: skip
def mill_pad(mount_tilt_off: Array, wedge_fits: Array, pad_milling: Array, mount_pad_stock: Array, mount_tilt_tight: float) -> Amount:
    wanted = np.where(np.isnan(mount_tilt_off), np.nan, (mount_tilt_off > mount_tilt_tight + 1e-9) & ~(wedge_fits > 0))
    goes = np.where(np.isnan(pad_milling + mount_pad_stock), np.nan, pad_milling <= mount_pad_stock + 1e-7)
    return Amount(wanted, pad_milling, possible=goes)


@quantity("mm", "drop of the pad after milling or wedging")
def drop_after(mount_drop: Array, wedge_fits: Array, wedge: Array, mill_pad: Amount) -> Array:
    milled = (np.asarray(mill_pad.needed) > 0) & (np.asarray(mill_pad.possible) == 1.0)
    return mount_drop + np.where(wedge_fits > 0, np.nan_to_num(wedge), 0.0) - np.where(milled, np.nan_to_num(mill_pad.extent) / 2.0, 0.0)


@check(
    "Is the mount pad at a height that fits?",
    "mm",
    Own("drop of the pad between the least and the most that fits, after any wedge or milling"),
    "Too high takes a spacer; too low lifts the tail and bends the propeller shaft's joints.",
    resolved_by=("mount_spacer",),
    criterion="fit",
    words={"clash": "pad {mount_height} below the axis, {car_mount_drop_least} to {car_mount_drop_most} fits"},
)
def mount_height(drop_after: Array, car_mount_drop_least: Array, car_mount_drop_most: Array) -> Reading:
    inside = np.minimum(drop_after - car_mount_drop_least, car_mount_drop_most - drop_after)
    return Reading(drop_after, inside, inside)


@work("Fit a spacer under the mount", "gearbox mount", "bolts back", tool="hand tools", hours=0.5, cost=5.0,
      words="pad {drop_after} below the axis, at least {car_mount_drop_least} is wanted")  # fmt: skip
def mount_spacer(drop_after: Array, car_mount_drop_least: Array, mount_spacer_most: float) -> Amount:
    short = car_mount_drop_least - drop_after
    return Amount(np.where(np.isnan(short), np.nan, short > 1e-7), possible=short <= mount_spacer_most + 1e-7)


# ---- crossmember --------------------------------------------------------------------------------------


def _low_box(length: Array, case_length: Array, case_bottom: Array, tail_bottom: Array, top: Array, gap: float) -> tuple[Array, Array]:
    """Front and rear, from the front face, of that part of the housing that comes too low; NaN front when none does."""
    case = np.where(case_bottom + gap > top + 1e-9, 1.0, 0.0) + 0.0 * (case_bottom + top)
    tail = np.where(tail_bottom + gap > top + 1e-9, 1.0, 0.0) + 0.0 * (tail_bottom + top)
    front = np.where(case > 0, 0.0, case_length) - gap
    rear = np.where(tail > 0, length, case_length) + gap
    none = (case == 0) & (tail == 0)
    nowhere = 1e9
    front = np.where(none, nowhere, front) + 0.0 * (case + tail)
    rear = np.where(none, nowhere + 1.0, rear) + 0.0 * (case + tail)
    return front, rear


@quantity("mm", "front of the part of the housing that comes too low, from its front face")
def low_front(length: Array, case_length: Array, case_bottom: Array, tail_bottom: Array, crossmember_top: Array, crossmember_gap: float) -> Array:
    return _low_box(length, case_length, case_bottom, tail_bottom, crossmember_top, crossmember_gap)[0]


@quantity("mm", "rear of that part")
def low_rear(length: Array, case_length: Array, case_bottom: Array, tail_bottom: Array, crossmember_top: Array, crossmember_gap: float) -> Array:
    return _low_box(length, case_length, case_bottom, tail_bottom, crossmember_top, crossmember_gap)[1]


@quantity("mm", "trim of the crossmember's front lip")
def lip_cut(x_face: Array, low_front: Array, low_rear: Array, crossmember_start: Array, crossmember_lip_depth: Array) -> Array:
    return slide_overlap(x_face + low_front, x_face + low_rear, crossmember_start, crossmember_start + crossmember_lip_depth)


@quantity("mm", "cut into the crossmember's box section")
def box_cut(
    x_face: Array, low_front: Array, low_rear: Array, crossmember_start: Array, crossmember_end: Array, crossmember_lip_depth: Array
) -> Array:
    return slide_overlap(x_face + low_front, x_face + low_rear, crossmember_start + crossmember_lip_depth, crossmember_end)


@check(
    "Does the housing clear the crossmember?",
    "mm",
    AtMost(clear=0.0, tight=0.0),
    "The crossmember carries the car; its lip can be trimmed, its box section must not be cut without advice.",
    resolved_by=("trim_lip", "cut_box_section"),
    criterion="fit",
    words={"clash": "the housing reaches {crossmember} into the crossmember: lip {lip_cut}, box section {box_cut}"},
)
def crossmember(lip_cut: Array, box_cut: Array) -> Array:
    return lip_cut + box_cut


@work("Trim the crossmember's front lip", "crossmember", "body cut", tool="grinder", hours=3.0, cost=5.0,
      words="{lip_cut} fore and aft, the box section left whole")  # fmt: skip
def trim_lip(lip_cut: Array, box_cut: Array) -> Amount:
    return Amount(np.where(np.isnan(lip_cut + box_cut), np.nan, lip_cut > 1e-7), lip_cut)


@work("Cut and rebuild the crossmember's box section", "crossmember", "frame cut", tool="sent out", hours=14.0, cost=120.0,
      words="{box_cut} beyond the lip; only on advice from someone qualified")  # fmt: skip
def cut_box_section(box_cut: Array) -> Amount:
    return Amount(np.where(np.isnan(box_cut), np.nan, box_cut > 1e-7), box_cut)


# ---- tunnel -------------------------------------------------------------------------------------------


def tunnel_clearance(
    x_face: Array, case_length: Array, length: Array, case: Array, tail: Array, tunnel_x: Array, tunnel: Array, comfortable: float = np.inf
) -> tuple[Array, Array]:
    """Clearance of case and tail on one side [mm] `(builds, draws)`; inf outside the stations.

    Exact for the nominal draw, and for every draw of a build that anywhere comes nearer than `comfortable` to
    the narrowest station; for the others the clearance to that station stands, which is no more than the true one.
    """
    mid, end = x_face + case_length, x_face + length
    return (
        _clearance(x_face, mid, case, tunnel_x, tunnel, comfortable),
        _clearance(mid, end, tail, tunnel_x, tunnel, comfortable),
    )


def _clearance(front: Array, rear: Array, side: Array, tunnel_x: Array, tunnel: Array, comfortable: float) -> Array:
    shape = np.broadcast_shapes(front.shape, rear.shape, side.shape, tunnel.shape[:2])
    found = np.broadcast_to(tunnel.min(axis=-1) - side, shape).copy()
    exact = np.ones(shape[0], dtype=bool) if shape[1] == 1 or tunnel.shape[0] > 1 else (found < comfortable).any(axis=1)
    exact |= np.isnan(found).any(axis=1)

    def part(array: Array, rows: Array, columns: slice) -> Array:
        return np.broadcast_to(array, shape)[rows][:, columns, None]

    for rows, columns in ((exact, slice(None)), (~exact, slice(0, 1))):
        if rows.any():
            section = tunnel[:, columns] if tunnel.shape[1] > 1 else tunnel
            stations = tunnel_x
            if tunnel.shape[0] > 1:
                section, stations = section[rows], tunnel_x[rows] if tunnel_x.shape[0] > 1 else tunnel_x
            found[rows, columns] = -deepest(part(front, rows, columns), part(rear, rows, columns), part(side, rows, columns), stations, section)[..., 0]
    return found


def _sides_rule(side: str) -> None:
    """One quantity per side: clearances of case and tail, as `tunnel_left_clearance` and so on."""

    def clearance(x_face, case_length, length, case_side, tail_side, tunnel_x, tunnel_side, tunnel_clear):  # type: ignore[no-untyped-def]
        open_below = side == "bottom" and np.isnan(tunnel_side).all()
        if open_below:
            tunnel_side = np.full(tunnel_x.shape, 1e6) + 0.0 * tunnel_x
        return np.stack(tunnel_clearance(x_face, case_length, length, case_side, tail_side, tunnel_x, tunnel_side, tunnel_clear), axis=-1)

    _declare(clearance, f"tunnel_{side}_clearance", ("x_face", "case_length", "length", f"case_{side}", f"tail_{side}", "tunnel_x", f"tunnel_{side}", "tunnel_clear"),
             quantity("mm", f"clearance of case and tail, {side}"))  # fmt: skip

    def ease(clearances, tunnel_removable, tunnel_tight):  # type: ignore[no-untyped-def]
        short = np.maximum(tunnel_tight - clearances, 0.0).sum(axis=-1)
        undo = np.where(tunnel_removable == 1, PANEL, BODY)
        return Amount(np.where(np.isnan(short), np.nan, short > 1e-7), short, undo=undo)

    _declare(
        ease, f"ease_tunnel_{side}", (f"tunnel_{side}_clearance", "tunnel_removable", "tunnel_tight"),
        work(f"Ease or cut the tunnel, {side}", "tunnel", "body cut", tool="hand tools", hours=3.0, hours_per_mm=0.05, cost=10.0,
             words=f"{{ease_tunnel_{side}_extent}} missing over {{tunnel_{side}_stretch}}"),
    )  # fmt: skip


def _declare(function, name, inputs, decorator) -> None:  # type: ignore[no-untyped-def]
    """Give a function made here a name and inputs of its own, and mark it."""
    import inspect

    def rule(**values):  # type: ignore[no-untyped-def]
        return function(*(values[i] for i in inputs))

    rule.__name__ = name
    rule.__module__ = __name__
    rule.__signature__ = inspect.Signature([inspect.Parameter(i, inspect.Parameter.KEYWORD_ONLY) for i in inputs])  # type: ignore[attr-defined]
    globals()[name] = decorator(rule)


for _side in SIDES:
    _sides_rule(_side)


@check(
    "Does the housing clear the tunnel?",
    "mm",
    AtLeast(clear=10.0, tight=6.0),
    "A housing against the tunnel drums, and cooks the floor.",
    resolved_by=tuple(f"ease_tunnel_{s}" for s in SIDES),
    criterion="fit",
    words={"tight": "{tunnel} to the tunnel at the closest", "clash": "{tunnel} to the tunnel at the closest"},
)
def tunnel(
    tunnel_left_clearance: Array, tunnel_right_clearance: Array, tunnel_top_clearance: Array, tunnel_bottom_clearance: Array
) -> Array:
    sides = (tunnel_left_clearance, tunnel_right_clearance, tunnel_top_clearance, tunnel_bottom_clearance)
    return np.minimum.reduce([np.minimum(s[..., 0], s[..., 1]) for s in np.broadcast_arrays(*sides)])


# ---- shifter ------------------------------------------------------------------------------------------


def overrun(x_face: Array, position: Array, room: Array, start: Array, end: Array) -> tuple[Array, Array]:
    """How far turret and lever stand beyond the opening, front and rear [mm].

    >>> [float(a) for a in overrun(100.0, 400.0, 60.0, 480.0, 520.0)]
    [10.0, 10.0]
    """
    lever = x_face + position
    return np.maximum(start - (lever - room / 2.0), 0.0), np.maximum(lever + room / 2.0 - end, 0.0)


@quantity("mm", "opening missing at the front")
def opening_front(x_face: Array, shifter_position: Array, shifter_room: Array, opening_start: Array, opening_end: Array) -> Array:
    return overrun(x_face, shifter_position, shifter_room, opening_start, opening_end)[0]


@quantity("mm", "opening missing at the rear")
def opening_rear(x_face: Array, shifter_position: Array, shifter_room: Array, opening_start: Array, opening_end: Array) -> Array:
    return overrun(x_face, shifter_position, shifter_room, opening_start, opening_end)[1]


@quantity("mm", "lever beyond the side of the opening")
def opening_side(shifter_offset: Array, opening_left: Array, opening_right: Array) -> Array:
    """Zero where offset or sides are not given: the fore-aft room decides then."""
    beyond_side = np.maximum(shifter_offset - opening_right, 0.0) + np.maximum(-shifter_offset - opening_left, 0.0)
    return np.nan_to_num(beyond_side, nan=0.0)


@check(
    "Does the lever come up through the opening?",
    "mm",
    AtMost(clear=0.0, tight=0.0),
    "An opening grown twice never closes again; a cranked lever often saves it.",
    resolved_by=("crank_lever", "lengthen_opening"),
    criterion="fit",
    words={"clash": "turret and lever stand {opening_front} too far forward, {opening_rear} too far back"},
)
def shifter_opening(opening_front: Array, opening_rear: Array, opening_side: Array) -> Array:
    return opening_front + opening_rear + opening_side


@work("Crank the gear lever", "gear lever", "bolts back", tool="welder", hours=CRANK_HOURS, cost=10.0,
      words="the knob comes back by up to {lever_crank_most}")  # fmt: skip
def crank_lever(shifter_opening: Array, lever_crank_most: Array) -> Amount:
    return Amount(np.where(np.isnan(shifter_opening), np.nan, (shifter_opening > 1e-7) & (lever_crank_most > 0)))


@quantity("mm", "opening to cut beyond what a cranked lever takes")
def opening_cut(shifter_opening: Array, lever_crank_most: Array) -> Array:
    return np.maximum(shifter_opening - lever_crank_most, 0.0)


@work("Lengthen the lever's opening", "tunnel", "body cut", tool="grinder", hours=3.0, cost=10.0,
      words="front {opening_front}, rear {opening_rear}, less what the cranked lever takes")  # fmt: skip
def lengthen_opening(opening_cut: Array, tunnel_removable: Array) -> Amount:
    undo = np.where(tunnel_removable == 1, PANEL, BODY)
    return Amount(np.where(np.isnan(opening_cut), np.nan, opening_cut > 1e-7), opening_cut, undo=undo)


# ---- what the seat has to mind ------------------------------------------------------------------------


def _overlap_breaks(front: Array, rear: Array, start: Array, end: Array) -> tuple[Array, ...]:
    return (start - rear, end - rear, start - front, end - front)


def _bracket_breaks(position: Array, start: Array, end: Array, most: Array) -> tuple[Array, ...]:
    return (start - position - most, end - position + most)


def _opening_breaks(position: Array, room: Array, side: Array, start: Array, end: Array, crank: Array, weight: Array) -> tuple[Array, ...]:
    front, rear = start - position + room / 2.0, end - position - room / 2.0
    return (front, rear, front - (crank - side), rear + (crank - side))


def _overlap_harm(x: Array, front: Array, rear: Array, start: Array, end: Array) -> Array:
    return slide_overlap(x + front, x + rear, start, end)


def _bracket_harm(x: Array, position: Array, start: Array, end: Array, most: Array) -> Array:
    offset = np.maximum(x + position - end, 0.0) + np.maximum(start - x - position, 0.0)
    return np.maximum(offset - most, 0.0)


def _opening_harm(x: Array, position: Array, room: Array, side: Array, start: Array, end: Array, crank: Array, weight: Array) -> Array:
    front, rear = overrun(x, position, room, start, end)
    return weight * np.maximum(front + rear + side - crank, 0.0)


def _tunnel_harm(x: Array, front: Array, rear: Array, need: Array, weight: Array, stations: Array, section: Array) -> Array:
    flat = deepest(x + front, x + rear, need, stations[..., 0, :], section[..., 0, :])
    return weight * np.maximum(flat, 0.0)


def _tunnel_breaks(front: Array, rear: Array, need: Array, weight: Array, stations: Array, section: Array) -> tuple[Array, ...]:
    """Where the slope of the tunnel's harm may change, as positions of the front face.

    Ends of the box at stations; and where the section at either end passes the need (harm begins), the
    section of another station, or the section at the other end.
    """
    found = []
    count = stations.shape[-1]
    lines = []
    for k in range(count):
        found += [stations[..., k] - front, stations[..., k] - rear]
    for k in range(count - 1):
        slope = (section[..., k + 1] - section[..., k]) / (stations[..., k + 1] - stations[..., k])
        lines.append((slope, section[..., k] - slope * stations[..., k]))
        with np.errstate(divide="ignore", invalid="ignore"):
            for level in (need, *(section[..., m] for m in range(count))):
                at = stations[..., k] + (level - section[..., k]) / slope
                at = np.where(np.isfinite(at), at, stations[..., k])
                found += [at - front, at - rear]
    for i, (slope, base) in enumerate(lines):
        for other, base_other in lines[i:]:
            with np.errstate(divide="ignore", invalid="ignore"):
                at = (base_other + other * rear - base - slope * front) / (slope - other)
                found.append(np.where(np.isfinite(at), at, stations[..., 0]))
    return tuple(found)


@seat_bound
def envelope_bounds(
    length: Array,
    case_length: Array,
    low_front: Array,
    low_rear: Array,
    crossmember_start: Array,
    crossmember_end: Array,
    crossmember_lip_depth: Array,
    mount_position: Array,
    car_mount_zone_start: Array,
    car_mount_zone_end: Array,
    mount_bracket_most: float,
    shifter_position: Array,
    shifter_room: Array,
    opening_side: Array,
    opening_start: Array,
    opening_end: Array,
    lever_crank_most: Array,
    engine_mounts_shift_bolted: Array,
    tunnel_removable: Array,
    tunnel_x: Array,
    tunnel_left: Array,
    tunnel_right: Array,
    tunnel_top: Array,
    tunnel_bottom: Array,
    case_left: Array,
    case_right: Array,
    case_top: Array,
    case_bottom: Array,
    tail_left: Array,
    tail_right: Array,
    tail_top: Array,
    tail_bottom: Array,
    tunnel_tight: float,
    workshop_outside_rate: Array,
) -> list[Bound]:
    """Everything that the place of the front face, or the engine's shift, can harm."""
    lip_end = crossmember_start + crossmember_lip_depth
    hour = np.maximum(workshop_outside_rate, 1.0)
    bounds = []
    for level, place, start, end in (
        ("frame cut", "crossmember box section", lip_end, crossmember_end),
        ("body cut", "crossmember lip", crossmember_start, lip_end),
    ):
        bounds.append(Bound("face", level, place, _overlap_breaks, _overlap_harm, (low_front, low_rear, start, end), low_front > 1e8))
    zone = (car_mount_zone_start - mount_position, car_mount_zone_end - mount_position)
    most = np.asarray(mount_bracket_most)
    bounds.append(
        Bound("face", "frame cut", "crossmember moved for the mount", _bracket_breaks, _bracket_harm,
              (mount_position, car_mount_zone_start, car_mount_zone_end, most))
    )  # fmt: skip
    bounds += [toll("face", "mount bracket", zone[0], -1.0, BRACKET_HOURS * hour), toll("face", "mount bracket", zone[1], 1.0, BRACKET_HOURS * hour)]
    half = shifter_room / 2.0
    front, rear = opening_start - shifter_position + half, opening_end - shifter_position - half
    removable = np.where(tunnel_removable == 1, 1.0, 0.0)
    for level, weight in (("panel cut", removable), ("body cut", 1.0 - removable)):
        bounds.append(
            Bound("face", level, "lever's opening", _opening_breaks, _opening_harm,
                  (shifter_position, shifter_room, opening_side, opening_start, opening_end, lever_crank_most, weight), weight == 0)
        )  # fmt: skip
    bounds += [toll("face", "cranked lever", front, -1.0, CRANK_HOURS * hour), toll("face", "cranked lever", rear, 1.0, CRANK_HOURS * hour)]
    bounds.append(toll("shift", "slotted brackets", engine_mounts_shift_bolted, 1.0, SLOT_HOURS * hour))
    case = {"left": case_left, "right": case_right, "top": case_top, "bottom": case_bottom}
    tail = {"left": tail_left, "right": tail_right, "top": tail_top, "bottom": tail_bottom}
    for side, section in (("left", tunnel_left), ("right", tunnel_right), ("top", tunnel_top), ("bottom", tunnel_bottom)):
        for box, sides, x_front, x_rear in (("case", case, 0.0 * case_length, case_length), ("tail", tail, case_length, length)):
            need = sides[side] + tunnel_tight
            idle = need <= section.min(axis=-1)
            if np.all(idle | np.isnan(need) | np.isnan(section).all(axis=-1)):
                continue
            for level, weight in (("panel cut", removable), ("body cut", 1.0 - removable)):
                args = (x_front, x_rear, need, weight, tunnel_x, section)
                bounds.append(Bound("face", level, f"tunnel, {side} of the {box}", _tunnel_breaks, _tunnel_harm, args, idle | (weight == 0)))
    return bounds
