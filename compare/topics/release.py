"""Clutch release: travel from pedal to bearing, side of the arm, the guide, and a concentric slave.

The clutch moves with the engine, and the gearbox with it: these sums know no engine shift.
"""

from __future__ import annotations

import math

import numpy as np

from compare.judge.rules import (
    SAME,
    Ask,
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
from compare.standards import general_tolerance

Array = np.ndarray

# Indices of the choices: release_type, clutch_blocked_side and release_side, arm_swaps.
FORK, CONCENTRIC = 0, 1
EITHER = NONE = 2
PUSHES, PULLS = 1, 2
# The options of release_way.
AS_IT_IS, PUSHED, PULLED, MADE_CONCENTRIC = range(4)
# Bores that slave cylinders are made in [mm]: fractions of an inch, and metric (practice).
SLAVE_BORES = (15.875, 17.46, 19.05, 20.64, 22.0, 22.2, 23.8, 25.4, 28.6)

STANDOFF_CLEAR = Limit("slave_standoff_clear", 4.0, "mm", "three shops' instructions: 4 aimed at")
STANDOFF_TIGHT = Limit("slave_standoff_tight", 2.5, "mm", "three shops' instructions: 2.5 to 6")
SLEEVE = Limit("bearing_sleeve", 30.0, "mm", "practice: length of a release bearing's carrier")
REACH_CLEAR = Limit("bearing_reach_clear", 15.0, "mm", "practice: half of the carrier is guided")
REACH_TIGHT = Limit("bearing_reach_tight", 10.0, "mm", "practice: a third of the carrier")
SLIDE_LEAST = Limit("bearing_slide_least", 0.05, "mm", "practice: looser, or it sticks when hot")
SLIDE_CLEAR = Limit("bearing_slide_clear", 0.5, "mm", "practice")
SLIDE_MOST = Limit("bearing_slide_most", 1.0, "mm", "practice: slacker, and the carrier tilts")


def slave_travel(
    pedal_travel: Array, pedal_ratio: Array, master_bore: Array, slave_bore: Array
) -> Array:
    """Travel of the slave's piston [mm] = pedal / ratio × (master / slave)²; bores [mm].

    >>> round(slave_travel(150.0, 5.0, 19.05, 22.2), 2)
    22.09
    """
    return pedal_travel / pedal_ratio * (master_bore / slave_bore) ** 2


def bearing_travel(slave_travel: Array, fork_ratio: Array, free_play: Array) -> Array:
    """Travel of the release bearing [mm] = slave / fork ratio − free play.

    >>> bearing_travel(22.0, 2.0, 1.0)
    10.0
    """
    return slave_travel / fork_ratio - free_play


def annulus_travel(
    pedal_travel: Array, pedal_ratio: Array, master_bore: Array, inside: Array, outside: Array
) -> Array:
    """Travel of a concentric slave [mm] = pedal / ratio × master² / (outside² − inside²); all mm.

    >>> round(annulus_travel(140.0, 5.0, 19.05, 36.0, 50.0), 2)
    8.44
    """
    return pedal_travel / pedal_ratio * master_bore**2 / (outside**2 - inside**2)


def centring_bore(
    travel: Array,
    pedal_travel: Array,
    pedal_ratio: Array,
    master_bore: Array,
    fork_ratio: Array,
    free_play: Array,
) -> Array:
    """The slave bore [mm] that gives a bearing travel [mm].

    >>> bore = centring_bore(10.0, 150.0, 5.0, 19.05, 2.0, 1.0)
    >>> slave = slave_travel(150.0, 5.0, 19.05, bore)
    >>> round(float(bearing_travel(slave, 2.0, 1.0)), 9)
    10.0
    """
    return master_bore * np.sqrt(pedal_travel / pedal_ratio / fork_ratio / (travel + free_play))


def pedal_leverage(
    pedal_ratio: Array, master_bore: Array, slave_bore: Array, fork_ratio: Array
) -> Array:
    """Force at the bearing over force at the pedal pad [-]: Pascal's principle and two levers.

    >>> round(pedal_leverage(5.0, 20.0, 22.0, 2.0), 2)
    12.1
    """
    return pedal_ratio * (slave_bore / master_bore) ** 2 * fork_ratio


def nearest_made(bore: Array) -> Array:
    """The nearest bore that slave cylinders are made in [mm]; NaN stays NaN.

    >>> nearest_made(np.array([21.4, 40.0])).tolist()
    [22.0, 28.6]
    """
    bores = np.array(SLAVE_BORES)
    nearest = bores[np.abs(np.asarray(bore)[..., None] - bores).argmin(axis=-1)]
    return unknown_where(nearest, bore)


def smallest_margin(*margins: Array) -> Array:
    """The least of several margins: NaN where one is unknown, unless a known one is short already.

    >>> smallest_margin(np.array([1.0, -1.0]), np.array([np.nan, np.nan])).tolist()
    [nan, -1.0]
    """
    least = np.fmin.reduce(np.broadcast_arrays(*margins))
    with np.errstate(invalid="ignore"):
        short = least < -SAME
    return np.where(short, least, unknown_where(least, *margins))


# ---- which way the clutch is released -----------------------------------------------------------


@quantity("mm", "travel that a concentric slave gives the bearing")
def concentric_travel(
    clutch_pedal_travel: Array,
    clutch_pedal_ratio: Array,
    clutch_master_bore: Array,
    annulus_inside: Array,
    annulus_outside: Array,
) -> Array:
    """A concentric slave follows the fingers: it has no free play."""
    return annulus_travel(
        clutch_pedal_travel, clutch_pedal_ratio, clutch_master_bore, annulus_inside, annulus_outside
    )


@quantity("mm", "from the gearbox's face to the tips of the cover's fingers")
def face_to_fingers(
    depth_of_face: Array,
    adapter_thickness: Array,
    crank_flange_position: Array,
    clutch_friction_face: Array,
    clutch_finger_height: Array,
) -> Array:
    """160 − 25 − 22 − 40 = 73 for a face at 160, a flange at 25, the friction face 22 behind it."""
    fingers = crank_flange_position + clutch_friction_face + clutch_finger_height
    return depth_of_face + adapter_thickness - fingers


@quantity("mm", "room in front of a concentric slave that is pushed back")
def standoff_found(face_to_fingers: Array, slave_least: Array) -> Array:
    return face_to_fingers - slave_least


@quantity("", "1 where the release arm comes out on the blocked side")
def arm_blocked(release_side: Array, clutch_blocked_side: Array) -> Array:
    """Either side will do where nothing is blocked, or where the arm has both."""
    free = (release_side == EITHER) | (clutch_blocked_side == NONE)
    blocked = (release_side == clutch_blocked_side) & ~free
    return np.where(free, 0.0, unknown_where(blocked, release_side, clutch_blocked_side))


@choice(
    "how the release arm gets away from a blocked side",
    "clutch release",
    (
        Option("as it is"),
        Option("arm moved across, slave pushes", "Move the release arm across, fit a slave there",
               hours=3.0, cost=75.0, tool="welder", when="car",
               words="the arm changes sides on its own shaft; its slave still pushes: another pipe "
               "and bracket"),
        Option("arm moved across, slave pulls", "Move the release arm across, fit a pulling slave",
               hours=4.0, cost=95.0, tool="welder", when="car",
               words="moved across, the arm sweeps the other way: a slave that pulls, with its own "
               "return spring, pipe and bracket"),
        Option("concentric slave", "Fit a concentric slave in place of fork and arm",
               hours=5.0, cost=160.0, when="car",
               words="no arm at all; {concentric_travel} of travel; gearbox out to reach a leak"),
    ),
    blind=True,
)  # fmt: skip
def release_way(
    arm_blocked: Array,
    release_type: Array,
    arm_swaps: Array,
    concentric_travel: Array,
    clutch_release_travel: Array,
    clutch_release_travel_max: Array,
    annulus_stroke: Array,
    standoff_found: Array,
    slave_standoff_tight: float,
) -> Options:
    """Margins `(builds, draws, 4)`: 1 works, −1 does not; of a concentric slave in mm.

    A slave that pulls brings no arm away from a blocked side by itself: the arm has to move.
    """
    no_arm = release_type == CONCENTRIC
    with_fork = unknown_where(np.where(arm_blocked > 0, -1.0, 1.0), arm_blocked, release_type)
    as_it_is = np.where(no_arm, 1.0, with_fork)
    moved = [np.where(arm_swaps == way, 1.0, -1.0) for way in (PUSHES, PULLS)]
    swaps = [np.where(no_arm, -1.0, unknown_where(margin, arm_swaps)) for margin in moved]
    concentric = smallest_margin(
        concentric_travel - clutch_release_travel,
        clutch_release_travel_max - concentric_travel,
        annulus_stroke - concentric_travel,
        standoff_found - slave_standoff_tight,
    )
    return Options(np.stack(np.broadcast_arrays(as_it_is, *swaps, concentric), axis=-1))


@quantity("", "1 where the clutch is released by a concentric slave")
def is_concentric(release_type: Array, release_way: Array) -> Array:
    chosen = release_way == MADE_CONCENTRIC
    return np.where(chosen, 1.0, unknown_where(release_type == CONCENTRIC, release_type))


@check(
    "Is there room for the release arm on its side?",
    "",
    Own("the arm not on the blocked side; a concentric slave has no arm, but its leak is far away"),
    "An arm against the steering or the exhaust is found out last.",
    kind="road",
    criterion="clutch",
    words={
        "tight": "no arm to find room for, but a leak of the concentric slave means gearbox out",
        "clash": "the release arm comes out on the blocked side",
    },
    known_as="release_side",
)
def release_side_free(arm_blocked: Array, release_way: Array, is_concentric: Array) -> Reading:
    """1 free, 0 blocked. A concentric slave is tight: it works, and its leaks cost a day."""
    moved = (release_way == PUSHED) | (release_way == PULLED)
    free = np.where(moved, 1.0, unknown_where(np.where(arm_blocked > 0, -1.0, 1.0), arm_blocked))
    works = np.where(is_concentric == 1, 1.0, unknown_where(free, is_concentric, release_way))
    comfort = np.where(is_concentric == 1, -1.0, works)
    return Reading(np.maximum(works, 0.0), works, comfort)


# ---- travel -------------------------------------------------------------------------------------


@quantity("", "arm travel over bearing travel, by the fork that is used")
def fork_used(fork_ratio: Array, clutch_fork_ratio: Array) -> Array:
    """The gearbox's own fork; where nothing is said of one, the car's."""
    return np.where(np.isnan(fork_ratio), clutch_fork_ratio, fork_ratio)


@quantity("mm", "slave bore that centres the travel")
def slave_bore_wanted(
    clutch_release_travel: Array,
    clutch_release_travel_max: Array,
    clutch_pedal_travel: Array,
    clutch_pedal_ratio: Array,
    clutch_master_bore: Array,
    fork_used: Array,
    clutch_free_play: Array,
) -> Array:
    middle = (clutch_release_travel + clutch_release_travel_max) / 2.0
    return centring_bore(
        middle,
        clutch_pedal_travel,
        clutch_pedal_ratio,
        clutch_master_bore,
        fork_used,
        clutch_free_play,
    )


@quantity("mm", "nearest bore that slaves are made in")
def slave_bore_made(slave_bore_wanted: Array) -> Array:
    return nearest_made(slave_bore_wanted)


@quantity("mm", "bearing travel with today's slave")
def travel_found(
    clutch_pedal_travel: Array,
    clutch_pedal_ratio: Array,
    clutch_master_bore: Array,
    clutch_slave_bore: Array,
    fork_used: Array,
    clutch_free_play: Array,
) -> Array:
    slave = slave_travel(
        clutch_pedal_travel, clutch_pedal_ratio, clutch_master_bore, clutch_slave_bore
    )
    return bearing_travel(slave, fork_used, clutch_free_play)


@quantity("mm", "bearing travel with the nearest slave that is made")
def release_travel_after(
    slave_bore_made: Array,
    clutch_pedal_travel: Array,
    clutch_pedal_ratio: Array,
    clutch_master_bore: Array,
    fork_used: Array,
    clutch_free_play: Array,
) -> Array:
    slave = slave_travel(
        clutch_pedal_travel, clutch_pedal_ratio, clutch_master_bore, slave_bore_made
    )
    return bearing_travel(slave, fork_used, clutch_free_play)


@decision("Fit a slave cylinder of another bore", "clutch slave", blind=True, hours=1.0, cost=45.0,
          words="{figure} bore, as slaves are made", when="ordered")  # fmt: skip
def slave_bore(
    travel_found: Array,
    clutch_release_travel: Array,
    clutch_release_travel_max: Array,
    clutch_pedal_travel: Array,
    clutch_pedal_ratio: Array,
    clutch_master_bore: Array,
    fork_used: Array,
    clutch_free_play: Array,
    slave_bore_made: Array,
    is_concentric: Array,
    release_way: Array,
) -> Ask:
    """0: today's. The smallest and the largest made bore whose travel lies between both ends.

    Where the way of release brings a slave anyway, only its bore is chosen here, for nothing.
    """
    bores = np.array(SLAVE_BORES)
    pedal, ratio, master, fork, play = (
        value[..., None]
        for value in (
            clutch_pedal_travel, clutch_pedal_ratio, clutch_master_bore, fork_used, clutch_free_play
        )
    )  # fmt: skip
    travel = bearing_travel(slave_travel(pedal, ratio, master, bores), fork, play)
    with np.errstate(invalid="ignore"):
        good = (travel >= clutch_release_travel[..., None] - SAME) & (
            travel <= clutch_release_travel_max[..., None] + SAME
        )
    least = np.where(good, bores, np.inf).min(axis=-1)
    most = np.where(good, bores, -np.inf).max(axis=-1)
    spare = np.minimum(
        travel_found - clutch_release_travel, clutch_release_travel_max - travel_found
    )
    with np.errstate(invalid="ignore"):
        asked = (spare < -SAME) & ~(is_concentric == 1)
    unsure = np.isnan(spare) & ~(is_concentric == 1)
    bring = (release_way == PUSHED) | (release_way == PULLED)
    return Ask(
        np.where(unsure, np.nan, np.where(asked, least, 0.0)),
        np.where(unsure, np.nan, np.where(asked, most, np.inf)),
        np.where(unsure, np.nan, np.where(asked, slave_bore_made, 0.0)),
        hours=np.where(bring, 0.0, 1.0),
        cost=np.where(bring, 0.0, 45.0),
    )


@quantity("mm", "bore of the slave that is fitted")
def slave_bore_fitted(slave_bore: Array, clutch_slave_bore: Array) -> Array:
    """Whatever figure is asked for, a slave has one of the bores that are made."""
    with np.errstate(invalid="ignore"):
        other = slave_bore > 0
    return np.where(other, nearest_made(slave_bore), unknown_where(clutch_slave_bore, slave_bore))


@quantity("", "force at the bearing over force at the pedal")
def leverage(
    clutch_pedal_ratio: Array, clutch_master_bore: Array, slave_bore_fitted: Array, fork_used: Array
) -> Array:
    return pedal_leverage(clutch_pedal_ratio, clutch_master_bore, slave_bore_fitted, fork_used)


@check(
    "Does the pedal free the clutch, and not too far?",
    "mm",
    Own("travel between what is needed and what the cover stands; a concentric slave's in stroke"),
    "Too little travel grates the gears; too much takes the cover over centre.",
    kind="road",
    criterion="clutch",
    words={
        "clash": "bearing travels {release_travel}, "
        "{clutch_release_travel} to {clutch_release_travel_max} is wanted"
        "[; a slave of {slave_bore_made} gives {release_travel_after}]"
    },
)
def release_travel(
    clutch_pedal_travel: Array,
    clutch_pedal_ratio: Array,
    clutch_master_bore: Array,
    slave_bore_fitted: Array,
    fork_used: Array,
    clutch_free_play: Array,
    clutch_release_travel: Array,
    clutch_release_travel_max: Array,
    concentric_travel: Array,
    annulus_stroke: Array,
    is_concentric: Array,
) -> Reading:
    """Of the slave that is fitted, beside the gearbox or around its shaft."""
    outer = bearing_travel(
        slave_travel(
            clutch_pedal_travel, clutch_pedal_ratio, clutch_master_bore, slave_bore_fitted
        ),
        fork_used,
        clutch_free_play,
    )
    travel = np.where(is_concentric == 1, concentric_travel, unknown_where(outer, is_concentric))
    stroke = np.where(is_concentric == 1, annulus_stroke - concentric_travel, np.inf)
    works = smallest_margin(
        travel - clutch_release_travel, clutch_release_travel_max - travel, stroke
    )
    return Reading(travel, works, works)


# ---- the guide and its bearing ------------------------------------------------------------------


@quantity("mm", "bore of the release bearing's carrier at hand")
def bearing_at_hand(bearing_bore: Array, clutch_bearing_bore: Array) -> Array:
    """That of the gearbox's own bearing; where it brings none, the car's."""
    return np.where(np.isnan(bearing_bore), clutch_bearing_bore, bearing_bore)


@decision("Fit a release bearing whose carrier runs on the guide", "release bearing", blind=True,
          hours=0.5, cost=40.0, words="{figure} bore, on a guide of {collar_diameter}",
          when="ordered")  # fmt: skip
def bearing_to_order(
    bearing_at_hand: Array,
    collar_diameter: Array,
    is_concentric: Array,
    bearing_slide_least: float,
    bearing_slide_clear: float,
    bearing_slide_most: float,
) -> Ask:
    """0: the bearing at hand goes on the guide and does not tilt there."""
    slide = bearing_at_hand - collar_diameter
    with np.errstate(invalid="ignore"):
        wrong = (slide < bearing_slide_least - SAME) | (slide > bearing_slide_most + SAME)
    fork = ~(is_concentric == 1)
    wrong, unsure = wrong & fork, np.isnan(slide) & fork
    least = np.where(wrong, collar_diameter + bearing_slide_least, 0.0)
    most = np.where(wrong, collar_diameter + bearing_slide_clear, np.inf)
    middle = collar_diameter + (bearing_slide_least + bearing_slide_clear) / 2.0
    comfort = np.where(wrong, middle, 0.0)
    return Ask(*(np.where(unsure, np.nan, figure) for figure in (least, most, comfort)))


@quantity("mm", "how loosely the release bearing slides on its guide")
def bearing_slide(bearing_at_hand: Array, bearing_to_order: Array, collar_diameter: Array) -> Array:
    with np.errstate(invalid="ignore"):
        other = bearing_to_order > 0
    return np.where(other, bearing_to_order, bearing_at_hand) - collar_diameter


@quantity("mm", "guide that is left beyond the gearbox's face")
def collar_left(collar_length: Array, collar_cut: Array) -> Array:
    return collar_length - collar_cut


@check(
    "Does the guide carry the release bearing over all its travel?",
    "mm",
    Own(
        "guide under the carrier at full travel ≥ {bearing_reach_clear} clear, ≥ "
        "{bearing_reach_tight} tight; slides with {bearing_slide_least} to {bearing_slide_most}"
    ),
    "A bearing that leaves its guide tilts, jams, and stays there with the clutch out.",
    kind="road",
    criterion="clutch",
    words={
        "tight": "{bearing_reach} of guide under the bearing at full travel, "
        "it slides with {bearing_slide}",
        "clash": "{bearing_reach} of guide under the bearing at full travel, "
        "it slides with {bearing_slide}: short by {short}",
    },
)
def bearing_reach(
    collar_left: Array,
    face_to_fingers: Array,
    clutch_release_travel: Array,
    bearing_slide: Array,
    is_concentric: Array,
    bearing_sleeve: float,
    bearing_reach_clear: float,
    bearing_reach_tight: float,
    bearing_slide_least: float,
    bearing_slide_clear: float,
    bearing_slide_most: float,
) -> Reading:
    """Guide under the carrier [mm] = guide left + carrier − (face to fingers + travel).

    80 + 30 − (73 + 8) = 29; with 20 cut off 9. At most the whole carrier. A concentric slave
    brings its own guide.
    """
    under = np.minimum(
        collar_left + bearing_sleeve - face_to_fingers - clutch_release_travel, bearing_sleeve
    )
    works = smallest_margin(
        under - bearing_reach_tight,
        bearing_slide - bearing_slide_least,
        bearing_slide_most - bearing_slide,
    )
    comfort = smallest_margin(under - bearing_reach_clear, bearing_slide_clear - bearing_slide)
    applies = np.where(np.isnan(is_concentric), np.nan, is_concentric != 1)
    return Reading(under, works, comfort, applies)


# ---- the concentric slave -----------------------------------------------------------------------


@decision("Fit the concentric slave new", "clutch slave", unit="", blind=True, hours=2.0,
          cost=110.0, words="gearbox out to reach a leak: never the old one; pipe and bleed line "
          "to the master, bled before the gearbox goes in", when="car")  # fmt: skip
def concentric_slave(release_type: Array) -> Ask:
    """1 where the gearbox is released by one. Where release_way brings it, that pays for it."""
    need = unknown_where(release_type == CONCENTRIC, release_type)
    return Ask(need, 1.0)


@decision("Turn a spacer for under the concentric slave", "clutch slave", tool="lathe",
          hours=1.5, cost=15.0, words="{figure} thick, faces parallel", when="car")  # fmt: skip
def slave_shim(
    standoff_found: Array,
    concentric_travel: Array,
    annulus_stroke: Array,
    is_concentric: Array,
    slave_standoff_clear: float,
    slave_standoff_tight: float,
) -> Ask:
    """What brings the slave so near that gap and travel lie within its stroke [mm]."""
    over = standoff_found + concentric_travel - annulus_stroke
    with np.errstate(invalid="ignore"):
        asked = (is_concentric == 1) & (over > SAME)
    unsure = np.isnan(over) & (is_concentric == 1)
    most = np.where(asked, standoff_found - slave_standoff_tight, np.inf)
    comfort = np.where(asked, np.maximum(standoff_found - slave_standoff_clear, over), 0.0)
    least = np.where(asked, over, 0.0)
    return Ask(*(np.where(unsure, np.nan, figure) for figure in (least, most, comfort)))


@check(
    "Is there room for the concentric slave, and does its stroke reach?",
    "mm",
    Own(
        "gap to the fingers ≥ {slave_standoff_clear} clear, ≥ {slave_standoff_tight} tight; "
        "gap and travel within the stroke"
    ),
    "A slave pressed against the fingers lets no clutch bite; one too far away pops its seal.",
    criterion="clutch",
    words={
        "tight": "{slave_standoff} before the fingers with the slave pushed back",
        "clash": "{slave_standoff} before the fingers with the slave pushed back, {short} amiss: "
        "{slave_standoff_tight} is the least, gap and travel {slave_reach} of {annulus_stroke}",
    },
)
def slave_standoff(
    standoff_found: Array,
    slave_shim: Array,
    concentric_travel: Array,
    annulus_stroke: Array,
    is_concentric: Array,
    slave_standoff_clear: float,
    slave_standoff_tight: float,
) -> Reading:
    """Gap [mm] = face to fingers − height of the slave pushed back − spacer."""
    gap = standoff_found - slave_shim
    stroke = annulus_stroke - concentric_travel - gap
    works = smallest_margin(gap - slave_standoff_tight, stroke)
    comfort = smallest_margin(gap - slave_standoff_clear, stroke)
    applies = unknown_where(is_concentric == 1, is_concentric)
    return Reading(gap, works, comfort, applies)


@quantity("mm", "how far a concentric slave comes out: gap and travel")
def slave_reach(standoff_found: Array, slave_shim: Array, concentric_travel: Array) -> Array:
    return standoff_found - slave_shim + concentric_travel


# ---- orders -------------------------------------------------------------------------------------


@order("slave_shim", step=61)
def turn_the_slaves_spacer(slave_shim: float) -> list[Cut]:
    tolerance = general_tolerance(slave_shim, fine=True)
    return [
        Cut(
            "Turn the concentric slave's spacer", "slave spacer", "its gearbox side", math.nan,
            slave_shim - tolerance, slave_shim + tolerance, runout=0.05, finish="Ra 1.6",
            material="steel or hard aluminium", of="slave_shim",
            measure_before="face to fingers with the clutch bolted up; the slave pushed back",
            note=tell("faces parallel within {flat}; longer screws", flat=(FLAT, "mm order")),
        )
    ]  # fmt: skip


FLAT = 0.05  # mm, faces parallel: practice
SLAVE_RESERVE = 3.0  # mm that a slave's piston keeps from either end of its cylinder: practice
PEDAL_FORCE = 127.0  # N, the most that is comfortable: SAE paper 2014-36-0139, abstract


@order("release_way:1", "release_way:2", step=62)
def make_the_slaves_bracket(
    release_way: float,
    clutch_pedal_travel: float,
    clutch_pedal_ratio: float,
    clutch_master_bore: float,
    slave_bore_fitted: float,
) -> list[Cut]:
    """Where it holds the slave: so far from the arm that the piston has its travel and a reserve."""
    travel = float(
        slave_travel(clutch_pedal_travel, clutch_pedal_ratio, clutch_master_bore, slave_bore_fitted)  # type: ignore[arg-type]
    )
    force = PEDAL_FORCE * float(
        pedal_leverage(clutch_pedal_ratio, clutch_master_bore, slave_bore_fitted, 1.0)  # type: ignore[arg-type]
    )
    least = travel + SLAVE_RESERVE
    way = "pulls" if release_way == PULLED else "pushes"
    return [
        Cut(
            "Make the slave's bracket", "slave bracket", "the piston's inner end, arm at rest", math.nan, least,
            least + SLAVE_RESERVE, of="release_way", material=tell("steel plate, {thick}, webbed", thick=6.0),
            measure_before="the arm on its new side, at rest and with the clutch out; steering and exhaust beside it",
            note=tell(
                "way left to the piston before its end; the slave " + way + ", square to the arm in the middle of its travel "
                "of {travel}, {reserve} of way behind the piston too for the disc's wear; it takes {force}",
                travel=travel, reserve=SLAVE_RESERVE, force=(force, "N"),
            ),
        )
    ]  # fmt: skip
