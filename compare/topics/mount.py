"""Mount: where the pad comes, how it is levelled, at what height, and what lifting the tail does.

A lift h raises the gearbox at its mount about the engine's mounts: δ = h / (x_pad − pivot); what
stands
at x rises δ (x − pivot) and the engine's tilt falls by δ. A spacer that fills a gap tilts nothing.
"""

from __future__ import annotations

import math

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
from compare.ordering import Cut, order, tell
from compare.standards import general_tolerance
from compare.vocabulary import UNDO_STEPS

Array = np.ndarray
AS_IT_IS, WEDGE, MILL, BOTH = range(4)
WEDGE_TRUE = 0.1  # °, to which a wedge is ground: practice

BRACKET_MOST = Limit("mount_bracket_most", 60.0, "mm", "practice: as far as a bracket carries")
SPACER_MOST = Limit("mount_spacer_most", 25.0, "mm", "practice")
LIFT_MOST = Limit("mount_lift_most", 6.0, "mm", "practice: more bends the driveline's angles")


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


# ---- where the pad comes -------------------------------------------------------------------------


@quantity("mm", "x of the mount pad's centre")
def pad_x(x_face: Array, mount_position: Array) -> Array:
    return x_face + mount_position


@quantity("mm", "how far the pad stands outside the zone, rearward positive")
def pad_offset(
    pad_x: Array, car_mount_zone_start: Array, car_mount_zone_end: Array, car_mount_none: Array
) -> Array:
    off = np.maximum(pad_x - car_mount_zone_end, 0.0) - np.maximum(
        car_mount_zone_start - pad_x, 0.0
    )
    return np.where(car_mount_none == 1, 0.0, off)


@decision("Move the crossmember", "crossmember", "frame cut", tool="sent out", hours=12.0, cost=80.0,
          gauge="pad_offset",
          words="the pad stands {pad_offset} outside the zone, {figure} more than a bracket spans",
          when="car")  # fmt: skip
def crossmember_moved(pad_offset: Array, mount_bracket_most: float) -> Ask:
    return Ask(np.abs(pad_offset) - mount_bracket_most)


@decision("Make a mount bracket", "gearbox mount", tool="welder", hours=3.0, cost=15.0,
          gauge="pad_offset",
          words="pad centre at x {pad_x}; {figure} outside the zone", when="car")  # fmt: skip
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


# ---- lift ----------------------------------------------------------------------------------------


@quantity("mm", "drop of the pad once it is milled, where nothing shallower levels it")
def drop_levelled(
    mount_drop: Array,
    mount_tilt: Array,
    car_mount_tilt: Array,
    car_mount_drop_most: Array,
    mount_pad_length: Array,
    mill_most: Array,
    policy_deepest_cut: Array,
    mount_tilt_tight: float,
) -> Array:
    """Before any lift: milling brings a pad nearer the axis by half of what comes off its thick
    end.
    """
    off = np.abs(mount_tilt - car_mount_tilt)
    allowed = np.deg2rad(mount_tilt_tight)
    half = milled_stock(mount_pad_length, off) / 2.0
    milled = (off > allowed + SAME) & (mount_drop + half > car_mount_drop_most + SAME)
    milled = milled & (off - mill_most <= allowed + SAME)
    milled = milled & ~(policy_deepest_cut < UNDO_STEPS.index("donor cut"))
    least = np.minimum(off, mill_most)
    return np.where(milled, mount_drop - milled_stock(mount_pad_length, least) / 2.0, mount_drop)


@quantity("mm", "lift that the mount's height asks for: the pad hangs lower than the mount can go")
def lift_for_height(
    drop_levelled: Array,
    mount_drop: Array,
    mount_tilt: Array,
    car_mount_tilt: Array,
    mount_pad_length: Array,
    pad_x: Array,
    engine_mounts_pivot_x: Array,
    car_mount_drop_most: Array,
    car_mount_none: Array,
) -> Array:
    """Each millimetre of lift tilts a pad that is milled, and changes what is milled off it."""
    need = np.maximum(drop_levelled - car_mount_drop_most, 0.0)
    lever = pad_x - engine_mounts_pivot_x
    off = mount_tilt - car_mount_tilt
    steeper = np.sign(off) * mount_pad_length / (2.0 * lever * np.cos(off) ** 2)
    milled = (drop_levelled < mount_drop - SAME) & (lever > 0)
    need = np.where(milled, need / (1.0 - steeper), need)
    return np.where(car_mount_none == 1, 0.0, need)


@decision("Raise the tail", "gearbox mount", hours=1.0, cost=5.0,
          words="{figure} at the mount tilts engine and gearbox by {lift_tilt}: look at fan, "
                "carburettor and pipes; the joints' angles change with it", when="car")  # fmt: skip
def lift(
    lift_for_height: Array,
    lift_for_crossmember: Array,
    tunnel_lift_room: Array,
    joint_lift_room: Array,
    mount_lift_most: float,
    engine_mounts_pivot_x: Array,
    pad_x: Array,
    car_mount_drop_least: Array,
    drop_levelled: Array,
    mount_spacer_most: float,
    car_mount_none: Array,
) -> Ask:
    """Two needs: the larger that can be had, within what tunnel, front joint and spacers leave.

    A need that is not known asks nothing: its own check stays open. One that cannot be met does not
    keep the other from being met.
    """
    lever = pad_x - engine_mounts_pivot_x
    room = np.fmin(np.fmin(tunnel_lift_room, joint_lift_room), mount_lift_most)
    spacer = drop_levelled - car_mount_drop_least + mount_spacer_most
    room = np.where(car_mount_none == 1, room, np.fmin(room, spacer))
    capacity = np.maximum(np.where(lever > 0, room, 0.0), 0.0)
    needs = [np.nan_to_num(lift_for_crossmember), np.nan_to_num(lift_for_height)]
    met = [np.where(need <= capacity + SAME, need, 0.0) for need in needs]
    return Ask(np.maximum(*met), capacity=capacity)


@quantity("rad", "tilt of engine and gearbox by the lift")
def lift_tilt(lift: Array, pad_x: Array, engine_mounts_pivot_x: Array) -> Array:
    tilted = lift_angle(lift, pad_x, engine_mounts_pivot_x)
    return np.where(np.abs(lift) > SAME, tilted, unknown_where(0.0, lift))


@quantity("mm", "rise of the output joint by the lift")
def output_rise(
    lift_tilt: Array, x_face: Array, length: Array, engine_mounts_pivot_x: Array
) -> Array:
    rise = lift_tilt * (x_face + length - engine_mounts_pivot_x)
    return np.where(np.abs(lift_tilt) > SAME, rise, unknown_where(0.0, lift_tilt))


# ---- level ---------------------------------------------------------------------------------------


@quantity("rad", "pad against mount face")
def tilt_difference(
    mount_tilt: Array, lift_tilt: Array, car_mount_tilt: Array, car_mount_none: Array
) -> Array:
    return np.where(car_mount_none == 1, 0.0, mount_tilt - lift_tilt - car_mount_tilt)


@quantity("rad", "most that the pad's stock lets mill")
def mill_most(mount_pad_stock: Array, mount_pad_length: Array) -> Array:
    return np.arctan(mount_pad_stock / mount_pad_length)


@choice(
    "how the mount pad is levelled",
    "gearbox mount",
    (
        Option("as it is"),
        Option("a wedge"),
        Option("mill the pad", undo="donor cut"),
        Option("mill as far as its stock goes, a wedge for the rest", undo="donor cut"),
    ),
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
    """A wedge where the height allows it; milling as far as the stock goes, and a wedge for the
    rest.
    """
    off = np.abs(tilt_difference)
    allowed = np.deg2rad(mount_tilt_tight)
    room = car_mount_drop_most - (mount_drop - lift)
    wedge = room - milled_stock(mount_pad_length, off) / 2.0
    milled = allowed - (off - mill_most)
    rest = np.maximum(off - mill_most, 0.0)
    thick = milled_stock(mount_pad_length, rest) - milled_stock(
        mount_pad_length, np.minimum(off, mill_most)
    )
    both = np.where(mill_most > SAME, room - thick / 2.0, -1.0)
    margins = np.broadcast_arrays(allowed - off, wedge, milled, both)
    return Options(np.stack(margins, axis=-1))


@quantity("mm", "metal off the pad's thick end that would level it")
def stock_needed(mount_pad_length: Array, tilt_difference: Array) -> Array:
    return milled_stock(mount_pad_length, tilt_difference)


@quantity("rad", "what is left where all of the pad's stock goes")
def tilt_milled(tilt_difference: Array, mill_most: Array) -> Array:
    return np.maximum(np.abs(tilt_difference) - mill_most, 0.0)


@decision("Fit a wedge under the mount pad", "gearbox mount", unit="rad", tool="grinder", hours=1.5, cost=5.0,
          gauge="tilt_difference",
          words="{figure} over the pad's {mount_pad_length}; mean thickness {wedge_mean}",
          when="car")  # fmt: skip
def wedge_angle(levelling: Array, tilt_difference: Array, tilt_milled: Array) -> Ask:
    whole = np.where(levelling == WEDGE, np.abs(tilt_difference), 0.0)
    return Ask(np.where(levelling == BOTH, tilt_milled, unknown_where(whole, levelling)))


@decision("Mill the mount pad level", "gearbox tail", "donor cut", tool="mill", hours=2.0,
          gauge="tilt_difference",
          words="{stock_needed} would level it, {mount_pad_stock} may go: {figure} off the thick end of "
                "{mount_pad_length}, {tilt_milled} are left and the pad then sits at a drop of "
                "{mount_height}", when="opened")  # fmt: skip
def pad_milled(
    levelling: Array, tilt_difference: Array, mill_most: Array, mount_pad_length: Array
) -> Ask:
    angle = np.minimum(np.abs(tilt_difference), mill_most)
    stock = milled_stock(mount_pad_length, angle)
    return Ask(
        np.where((levelling == MILL) | (levelling == BOTH), stock, unknown_where(0.0, levelling))
    )


@quantity("mm", "mean thickness of the wedge")
def wedge_mean(wedge_angle: Array, mount_pad_length: Array) -> Array:
    mean = milled_stock(mount_pad_length, wedge_angle) / 2.0
    return np.where(wedge_angle > SAME, mean, unknown_where(0.0, wedge_angle))


@check(
    "Does the mount pad sit level on its mount?",
    "deg",
    AtMost(clear=0.5, tight=2.0),
    "A rubber mount squeezed at one end tears; a gearbox pulled level by its mount bends the "
    "bellhousing.",
    criterion="fit",
    words={
        "tight": "the pad sits {mount_tilt_off} off",
        "clash": "the pad sits {mount_tilt_off} off level: {stock_needed} off its thick end "
        "would level it, "
        "{mount_pad_stock} may go and leave {tilt_milled}",
    },
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


# ---- height --------------------------------------------------------------------------------------


@quantity("mm", "drop of the pad below today's axis, before any spacer")
def drop_after(mount_drop: Array, wedge_mean: Array, pad_milled: Array, lift: Array) -> Array:
    return mount_drop + wedge_mean - pad_milled / 2.0 - lift


@decision("Fit a spacer under the mount", "gearbox mount", hours=0.5, cost=5.0,
          gauge="drop_after",
          words="{figure}: pad {drop_after} below the axis, at least {car_mount_drop_least} is wanted",
          when="car")  # fmt: skip
def mount_spacer(
    drop_after: Array, car_mount_drop_least: Array, mount_spacer_most: float, car_mount_none: Array
) -> Ask:
    need = np.where(car_mount_none == 1, 0.0, car_mount_drop_least - drop_after)
    return Ask(need, capacity=mount_spacer_most)


@check(
    "Is the mount pad at a height that fits?",
    "mm",
    Own(
        "drop of the pad between the least and the most that fits, after wedge, milling, spacer "
        "and lift"
    ),
    "Too high takes a spacer; too low lifts the tail and bends the propeller shaft's joints.",
    criterion="fit",
    words={
        "clash": "pad {mount_height} below the axis, {car_mount_drop_least} to "
        "{car_mount_drop_most} fits"
    },
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


# ---- what the seat has to mind -------------------------------------------------------------------


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
    args = (
        mount_position,
        car_mount_zone_start,
        car_mount_zone_end,
        np.asarray(mount_bracket_most),
    )
    idle = car_mount_none == 1
    return [
        Bound(
            "face", "crossmember_moved", "crossmember moved", _mount_breaks, _moved_harm, args, idle
        ),
        Bound("face", "mount_bracket", "mount bracket", _mount_breaks, _bracket_harm, args, idle),
    ]


# ---- orders --------------------------------------------------------------------------------------


@order("crossmember_moved", step=77)
def move_the_crossmember(crossmember_moved: float, pad_offset: float, pad_x: float) -> list[Cut]:
    """Before anything is made to the mount that it carries."""
    way = "rearward" if pad_offset > 0 else "forward"
    return [
        Cut(
            "Move the crossmember", "crossmember", "where it is bolted, as found", 0.0, crossmember_moved,
            crossmember_moved + general_tolerance(crossmember_moved), of="crossmember_moved",
            measure_before="the pad with the gearbox in its place, and what the crossmember is bolted to",
            note=tell(
                way + ", both ends alike; the pad's centre is {at} behind the block; it carries the car: only on "
                "advice from someone qualified", at=pad_x,
            ),
        )
    ]  # fmt: skip


@order("lift", step=78)
def raise_the_tail(
    lift: float,
    lift_tilt: float,
    output_rise: float,
    tunnel_lift_room: float,
    joint_lift_room: float,
    mount_lift_most: float,
) -> list[Cut]:
    """Before the pad is levelled, which the lift tilts; no further than tunnel and joint leave."""
    room = min(
        (r for r in (tunnel_lift_room, joint_lift_room, mount_lift_most) if not math.isnan(r)),
        default=lift,
    )
    most = max(lift, min(lift + general_tolerance(lift), room))
    return [
        Cut(
            "Raise the tail", "gearbox mount", "the pad's height, engine and gearbox as found", 0.0, lift, most, of="lift",
            measure_before="the air under the housing and above it, gearbox bolted up and carried",
            note=tell(
                "packed at the mount; engine and gearbox tilt by {tilt}, the output joint rises {rise}: look at fan, "
                "carburettor and pipes", tilt=(lift_tilt, "rad doubt"), rise=output_rise,
            ),
        )
    ]  # fmt: skip


@order("pad_milled", step=80)
def mill_the_pad(
    pad_milled: float,
    tilt_difference: float,
    mount_pad_length: float,
    mount_pad_stock: float,
    tilt_milled: float,
) -> list[Cut]:
    """Measured at the thick end: nothing comes off the other."""
    end = "rear" if tilt_difference > 0 else "front"
    tolerance = min(general_tolerance(pad_milled), max(mount_pad_stock - pad_milled, 0.0) + 0.1)
    return [
        Cut(
            "Mill the mount pad", "gearbox tail", f"the pad's face, {end} end", 0.0,
            max(pad_milled - tolerance, 0.0), min(pad_milled + tolerance, mount_pad_stock),
            length=mount_pad_length, finish="Ra 3.2", of="pad_milled", length_of="mount_pad_length",
            measure_before="the pad against the axis with a level; metal over the nearest bore",
            note=tell(
                "off the {end} end, nothing off the other: {off}, {left} are left", end=end,
                off=(abs(tilt_difference), "rad"), left=(tilt_milled, "rad"),
            ),
        )
    ]  # fmt: skip


@order("wedge_angle", step=81)
def make_the_wedge(
    wedge_angle: float, mount_pad_length: float, tilt_difference: float
) -> list[Cut]:
    thick = mount_pad_length * math.tan(wedge_angle)
    angle, end = math.degrees(wedge_angle), "front" if tilt_difference > 0 else "rear"
    return [
        Cut(
            "Make the wedge", "mount wedge", "its lower face", math.nan, angle - WEDGE_TRUE, angle + WEDGE_TRUE, "deg",
            length=mount_pad_length, length_tolerance=general_tolerance(mount_pad_length), material="steel",
            of="wedge_angle", length_of="mount_pad_length",
            measure_before="the pad against the mount, gearbox bolted up",
            note=tell("from nothing to {thick}, thick end to the {end}; over the bolts' whole width", thick=thick, end=end),
        )
    ]  # fmt: skip


@order("mount_spacer", step=82)
def make_the_spacer(
    mount_spacer: float,
    pad_milled: float,
    wedge_angle: float,
    mount_pad_length: float,
    lift: float,
) -> list[Cut]:
    """Made last, and thicker by what milling, wedge and lift may have taken from the height within
    their limits.
    """
    spread = general_tolerance(pad_milled) / 2.0 if pad_milled > SAME else 0.0
    spread += general_tolerance(lift) if lift > SAME else 0.0
    spread += mount_pad_length * math.tan(math.radians(WEDGE_TRUE)) if wedge_angle > SAME else 0.0
    least = mount_spacer + spread
    return [
        Cut(
            "Make the mount's spacer", "mount spacer", "its lower face", math.nan, least,
            least + general_tolerance(mount_spacer), material="steel or hard aluminium", of="mount_spacer",
            measure_before="the gap with the gearbox carried at its height, pad levelled",
            note="longer bolts to match",
        )
    ]  # fmt: skip


@order("mount_bracket", step=83)
def make_the_bracket(mount_bracket: float, pad_x: float) -> list[Cut]:
    tolerance = general_tolerance(mount_bracket)
    return [
        Cut(
            "Make the mount bracket", "mount bracket", "edge of the mount's zone", math.nan,
            mount_bracket - tolerance, mount_bracket + tolerance, material="steel plate, as thick as the crossmember's",
            of="mount_bracket", measure_before="the pad with the gearbox in its place",
            note=tell("pad centre {at} behind the block; welded by someone who can", at=pad_x),
        )
    ]  # fmt: skip
