"""Mount: where the pad comes, how it is levelled, at what height, and what lifting the tail does.

A lift h raises the gearbox at its mount about the engine's mounts: δ = h / (x_pad − pivot); what stands
at x rises δ (x − pivot) and the engine's tilt falls by δ. A spacer that fills a gap tilts nothing.
"""

from __future__ import annotations

import numpy as np

from compare.judge.rules import (
    SAME,
    Ask,
    AtMost,
    Limit,
    Option,
    Options,
    Own,
    Reading,
    check,
    choice,
    decision,
    quantity,
    seat_bound,
    unknown_where,
)
from compare.judge.seat import Bound

Array = np.ndarray
AS_IT_IS, WEDGE, MILL = range(3)

BRACKET_MOST = Limit("mount_bracket_most", 60.0, "mm", "practice: as far as a bracket carries")
SPACER_MOST = Limit("mount_spacer_most", 25.0, "mm", "practice")
LIFT_MOST = Limit("mount_lift_most", 12.0, "mm", "practice: more bends the driveline's angles")


def milled_stock(pad_length: Array, tilt: Array) -> Array:
    """Metal at the thick end of a pad milled level [mm] = length × tan(tilt); tilt in rad.

    >>> round(float(milled_stock(60.0, np.deg2rad(10.0))), 2)
    10.58
    """
    return pad_length * np.tan(np.abs(tilt))


def lift_angle(lift: Array, x_pad: Array, pivot: Array) -> Array:
    """δ [rad] of a lift [mm] at the pad, about a pivot; x in mm.

    >>> round(float(np.rad2deg(lift_angle(10.0, 800.0, -350.0))), 3)
    0.498
    """
    return lift / (x_pad - pivot)


# ---- where the pad comes ------------------------------------------------------------------------------


@quantity("mm", "x of the mount pad's centre")
def pad_x(x_face: Array, mount_position: Array) -> Array:
    return x_face + mount_position


@quantity("mm", "how far the pad stands outside the zone, rearward positive")
def pad_offset(
    pad_x: Array, car_mount_zone_start: Array, car_mount_zone_end: Array, car_mount_none: Array
) -> Array:
    off = np.maximum(pad_x - car_mount_zone_end, 0.0) - np.maximum(car_mount_zone_start - pad_x, 0.0)
    return np.where(car_mount_none == 1, 0.0, off)


@decision("Move the crossmember", "crossmember", "frame cut", tool="sent out", hours=12.0, cost=80.0,
          gauge="pad_offset",
          words="the pad stands {pad_offset} outside the zone, {figure} more than a bracket spans")  # fmt: skip
def crossmember_moved(pad_offset: Array, mount_bracket_most: float) -> Ask:
    return Ask(np.abs(pad_offset) - mount_bracket_most)


@decision("Make a mount bracket", "gearbox mount", tool="welder", hours=3.0, cost=15.0,
          gauge="pad_offset",
          words="pad centre at x {pad_x}; {figure} outside the zone")  # fmt: skip
def mount_bracket(pad_offset: Array, crossmember_moved: Array, mount_bracket_most: float) -> Ask:
    return Ask(np.abs(pad_offset) - crossmember_moved, capacity=mount_bracket_most)


@check(
    "Does the mount pad come over the place that can take it?",
    "mm",
    AtMost(clear=0.0, tight=0.0),
    "A pad in the air needs a bracket, and beyond its reach another crossmember.",
    criterion="fit",
    words={"clash": "the pad stands {mount_reach} outside the zone"},
)
def mount_reach(
    pad_offset: Array, mount_bracket: Array, crossmember_moved: Array, car_mount_none: Array
) -> Reading:
    left = np.maximum(np.abs(pad_offset) - mount_bracket - crossmember_moved, 0.0)
    return Reading(left, left, left, np.where(car_mount_none == 1, 0.0, 1.0))


# ---- lift ---------------------------------------------------------------------------------------------


@quantity("mm", "lift that the mount's height asks for: the pad hangs lower than the mount can go")
def lift_for_height(mount_drop: Array, car_mount_drop_most: Array, car_mount_none: Array) -> Array:
    need = np.maximum(mount_drop - car_mount_drop_most, 0.0)
    return np.where(car_mount_none == 1, 0.0, need)


@decision("Raise the tail", "gearbox mount", hours=1.0, cost=5.0,
          words="{figure} at the mount tilts engine and gearbox by {lift_tilt}: look at fan, "
                "carburettor and pipes; the joints' angles change with it")  # fmt: skip
def lift(
    lift_for_height: Array,
    lift_for_crossmember: Array,
    tunnel_lift_room: Array,
    mount_lift_most: float,
    engine_mounts_pivot_x: Array,
    pad_x: Array,
) -> Ask:
    """Two needs: the larger, within what the tunnel leaves above."""
    need = np.maximum(np.nan_to_num(lift_for_crossmember), lift_for_height)
    lever = pad_x - engine_mounts_pivot_x
    capacity = np.where(lever > 0, np.minimum(mount_lift_most, tunnel_lift_room), 0.0)
    return Ask(need, capacity=np.maximum(capacity, 0.0))


@quantity("rad", "tilt of engine and gearbox by the lift")
def lift_tilt(lift: Array, pad_x: Array, engine_mounts_pivot_x: Array) -> Array:
    tilted = lift_angle(lift, pad_x, engine_mounts_pivot_x)
    return np.where(np.abs(lift) > SAME, tilted, unknown_where(0.0, lift))


@quantity("mm", "rise of the output joint by the lift")
def output_rise(lift_tilt: Array, x_face: Array, length: Array, engine_mounts_pivot_x: Array) -> Array:
    rise = lift_tilt * (x_face + length - engine_mounts_pivot_x)
    return np.where(np.abs(lift_tilt) > SAME, rise, unknown_where(0.0, lift_tilt))


# ---- level --------------------------------------------------------------------------------------------


@quantity("rad", "pad against mount face")
def tilt_difference(mount_tilt: Array, lift_tilt: Array, car_mount_tilt: Array, car_mount_none: Array) -> Array:
    return np.where(car_mount_none == 1, 0.0, mount_tilt - lift_tilt - car_mount_tilt)


@quantity("rad", "most that the pad's stock lets mill")
def mill_most(mount_pad_stock: Array, mount_pad_length: Array) -> Array:
    return np.arctan(mount_pad_stock / mount_pad_length)


@choice(
    "how the mount pad is levelled",
    "gearbox mount",
    (Option("as it is"), Option("a wedge"), Option("mill the pad", undo="donor cut")),
    gauge="tilt_difference",
)
def levelling(
    tilt_difference: Array,
    mill_most: Array,
    mount_pad_length: Array,
    mount_drop: Array,
    lift: Array,
    car_mount_drop_most: Array,
    mount_tilt_tight: float,
) -> Options:
    """A wedge where the height allows it; milling as far as the stock goes, if that is enough."""
    off = np.abs(tilt_difference)
    allowed = np.deg2rad(mount_tilt_tight)
    thick = milled_stock(mount_pad_length, tilt_difference) / 2.0
    height = car_mount_drop_most - (mount_drop - lift + thick)
    milled = allowed - (off - mill_most)
    as_is, height, milled = np.broadcast_arrays(allowed - off, height, milled)
    return Options(np.stack([as_is, height, milled], axis=-1))


@decision("Fit a wedge under the mount pad", "gearbox mount", unit="rad", tool="grinder", hours=1.5, cost=5.0,
          gauge="tilt_difference",
          words="{figure} over the pad's {mount_pad_length}; mean thickness {wedge_mean}")  # fmt: skip
def wedge_angle(levelling: Array, tilt_difference: Array) -> Ask:
    return Ask(np.where(levelling == WEDGE, np.abs(tilt_difference), unknown_where(0.0, levelling)))


@decision("Mill the mount pad level", "gearbox tail", "donor cut", tool="mill", hours=2.0,
          gauge="tilt_difference",
          words="{tilt_difference} over {mount_pad_length}: {figure} off the thick end, {mount_pad_stock} may "
                "go; {mount_tilt_off} are left and the pad then sits at a drop of {mount_height}")  # fmt: skip
def pad_milled(levelling: Array, tilt_difference: Array, mill_most: Array, mount_pad_length: Array) -> Ask:
    angle = np.minimum(np.abs(tilt_difference), mill_most)
    stock = milled_stock(mount_pad_length, angle)
    return Ask(np.where(levelling == MILL, stock, unknown_where(0.0, levelling)))


@quantity("mm", "mean thickness of the wedge")
def wedge_mean(wedge_angle: Array, mount_pad_length: Array) -> Array:
    mean = milled_stock(mount_pad_length, wedge_angle) / 2.0
    return np.where(wedge_angle > SAME, mean, unknown_where(0.0, wedge_angle))


@check(
    "Does the mount pad sit level on its mount?",
    "deg",
    AtMost(clear=0.5, tight=2.0),
    "A rubber mount squeezed at one end tears; a gearbox pulled level by its mount bends the bellhousing.",
    criterion="fit",
    words={"tight": "the pad sits {mount_tilt_off} off", "clash": "the pad sits {mount_tilt_off} off level"},
    known_as="mount_tilt",
)
def mount_tilt_off(
    tilt_difference: Array,
    wedge_angle: Array,
    pad_milled: Array,
    mount_pad_length: Array,
    car_mount_none: Array,
) -> Reading:
    milled = np.where(pad_milled > SAME, np.arctan(pad_milled / mount_pad_length), 0.0)
    left = np.rad2deg(np.abs(tilt_difference) - wedge_angle - unknown_where(milled, pad_milled))
    left = np.abs(left)
    return Reading(left, left, left, np.where(car_mount_none == 1, 0.0, 1.0))


# ---- height -------------------------------------------------------------------------------------------


@quantity("mm", "drop of the pad below today's axis, before any spacer")
def drop_after(
    mount_drop: Array, wedge_mean: Array, pad_milled: Array, lift: Array
) -> Array:
    return mount_drop + wedge_mean - pad_milled / 2.0 - lift


@decision("Fit a spacer under the mount", "gearbox mount", hours=0.5, cost=5.0,
          gauge="drop_after",
          words="{figure}: pad {drop_after} below the axis, at least {car_mount_drop_least} is wanted")  # fmt: skip
def mount_spacer(drop_after: Array, car_mount_drop_least: Array, mount_spacer_most: float, car_mount_none: Array) -> Ask:
    need = np.where(car_mount_none == 1, 0.0, car_mount_drop_least - drop_after)
    return Ask(need, capacity=mount_spacer_most)


@check(
    "Is the mount pad at a height that fits?",
    "mm",
    Own("drop of the pad between the least and the most that fits, after wedge, milling, spacer and lift"),
    "Too high takes a spacer; too low lifts the tail and bends the propeller shaft's joints.",
    criterion="fit",
    words={"clash": "pad {mount_height} below the axis, {car_mount_drop_least} to {car_mount_drop_most} fits"},
)
def mount_height(
    drop_after: Array,
    mount_spacer: Array,
    car_mount_drop_least: Array,
    car_mount_drop_most: Array,
    car_mount_none: Array,
) -> Reading:
    drop = drop_after + mount_spacer
    inside = np.minimum(drop - car_mount_drop_least, car_mount_drop_most - drop)
    return Reading(drop, inside, inside, np.where(car_mount_none == 1, 0.0, 1.0))


# ---- what the seat has to mind ------------------------------------------------------------------------


def _offset(x: Array, position: Array, start: Array, end: Array) -> Array:
    return np.maximum(x + position - end, 0.0) + np.maximum(start - x - position, 0.0)


def _moved_harm(x: Array, position: Array, start: Array, end: Array, most: Array) -> Array:
    return np.maximum(_offset(x, position, start, end) - most, 0.0)


def _bracket_harm(x: Array, position: Array, start: Array, end: Array, most: Array) -> Array:
    return np.minimum(_offset(x, position, start, end), most)


def _mount_breaks(position: Array, start: Array, end: Array, most: Array) -> tuple[Array, ...]:
    near, far = start - position, end - position
    return (near, far, near - most, far + most)


@seat_bound
def mount_bounds(
    mount_position: Array,
    car_mount_zone_start: Array,
    car_mount_zone_end: Array,
    mount_bracket_most: float,
    car_mount_none: Array,
) -> list[Bound]:
    args = (mount_position, car_mount_zone_start, car_mount_zone_end, np.asarray(mount_bracket_most))
    idle = car_mount_none == 1
    return [
        Bound("face", "crossmember_moved", "crossmember moved", _mount_breaks, _moved_harm, args, idle),
        Bound("face", "mount_bracket", "mount bracket", _mount_breaks, _bracket_harm, args, idle),
    ]
