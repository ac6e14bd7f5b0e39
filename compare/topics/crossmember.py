"""Crossmember: the air between it and the housing over it, and lip, notch or box section that is cut.

The housing is three boxes along x: the bell before the front face, the case, the tail. A box whose
underside comes nearer than the gap asked for conflicts where it stands over the crossmember; the
overlap is measured from the crossmember's front edge.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from compare.judge.rules import (
    SAME,
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
from compare.judge.seat import Bound
from compare.vocabulary import UNDO_STEPS

Array = np.ndarray
NOWHERE = 1e9
PANEL = "panel cut"

HOUSING_GAP = Limit(
    "crossmember_gap", 6.0, "mm", "practice: about a quarter of an inch between housing and chassis"
)


def slide_overlap(front: Array, rear: Array, start: Array, end: Array) -> Array:
    """Length common to [front, rear] and [start, end] [mm], zero when they miss each other.

    >>> float(slide_overlap(0.0, 50.0, 40.0, 90.0))
    10.0
    """
    return np.maximum(np.minimum(rear, end) - np.maximum(front, start), 0.0)


class Low(NamedTuple):
    """The part of the housing that comes too low, from its front face [mm], and by how much [mm].

    front is NOWHERE where none does.
    """

    front: Array
    rear: Array
    missing: Array


def _low(boxes: list[tuple[Array, Array, Array]], top: Array, gap: float) -> Low:
    """The hull of the boxes (front, rear, bottom) that come lower than top + gap."""
    front: Array = np.full((1, 1), NOWHERE)
    rear: Array = np.full((1, 1), -NOWHERE)
    missing: Array = np.zeros((1, 1))
    for box_front, box_rear, bottom in boxes:
        short = bottom + gap - top
        is_low = short > 1e-9
        front = np.where(is_low, np.minimum(front, box_front - gap), front)
        rear = np.where(is_low, np.maximum(rear, box_rear + gap), rear)
        missing = np.maximum(missing, short)
    none = front > 1e8
    unknown = [b for box in boxes for b in box] + [top]
    rear = np.where(none, NOWHERE + 1.0, rear)
    return Low(*(unknown_where(a, *unknown) for a in (front, rear, missing)))


@quantity("", "1 where there is a crossmember under the gearbox")
def crossmember_there(crossmember_none: Array) -> Array:
    return np.where(crossmember_none == 1, 0.0, 1.0)


@quantity("mm", "how much the tail can be raised over the crossmember at most")
def lift_give(
    crossmember_start: Array,
    engine_mounts_pivot_x: Array,
    car_mount_zone_start: Array,
    car_mount_zone_end: Array,
    mount_lift_most: float,
) -> Array:
    """Before the seat is known: by the lever arms of crossmember and mount zone alone."""
    middle = (car_mount_zone_start + car_mount_zone_end) / 2.0
    ratio = (crossmember_start - engine_mounts_pivot_x) / (middle - engine_mounts_pivot_x)
    return np.nan_to_num(mount_lift_most * np.clip(ratio, 0.0, 1.0))


def _boxes(
    bellhousing: Array, depth: Array, bell: Array, case_length: Array, case: Array, length: Array, tail: Array
) -> list[tuple[Array, Array, Array]]:
    """(front, rear, bottom) of bell, case and tail from the face; the car's own bell fits today."""
    own = np.where(bellhousing == 1, -NOWHERE, bell)
    zero = np.zeros((1, 1))
    return [(-depth, zero, own), (zero, case_length, case), (case_length, length, tail)]


@quantity("mm", "the part of the housing that comes too low, as it is")
def low_part(
    bellhousing: Array,
    depth_of_face: Array,
    bell_bottom: Array,
    case_length: Array,
    case_bottom: Array,
    length: Array,
    tail_bottom: Array,
    crossmember_top: Array,
    crossmember_gap: float,
) -> Low:
    boxes = _boxes(bellhousing, depth_of_face, bell_bottom, case_length, case_bottom, length, tail_bottom)
    return _low(boxes, crossmember_top, crossmember_gap)


@quantity("mm", "the part that comes too low even with the tail raised as far as it goes")
def low_part_raised(low_part: Low, lift_give: Array) -> Low:
    """Cuts ask only for what raising the tail, the shallower remedy, cannot put right by itself."""
    saved = low_part.missing <= lift_give + SAME
    front = np.where(saved, NOWHERE, low_part.front)
    rear = np.where(saved, NOWHERE + 1.0, low_part.rear)
    return Low(*(unknown_where(a, low_part.missing) for a in (front, rear, low_part.missing)))


@quantity("mm", "lift that the crossmember asks for")
def lift_for_crossmember(
    low_part: Low,
    x_face: Array,
    pad_x: Array,
    engine_mounts_pivot_x: Array,
    crossmember_start: Array,
    crossmember_end: Array,
    crossmember_there: Array,
) -> Array:
    """What is missing, at the crossmember's front edge, where a low part stands over it."""
    over = slide_overlap(
        x_face + low_part.front, x_face + low_part.rear, crossmember_start, crossmember_end
    )
    lever = (crossmember_start - engine_mounts_pivot_x) / (pad_x - engine_mounts_pivot_x)
    need = np.where(over > SAME, low_part.missing / lever, 0.0)
    return np.where(crossmember_there == 0, 0.0, unknown_where(need, low_part.missing, over))


@quantity("mm", "rise of the housing over the crossmember by the lift")
def crossmember_rise(lift_tilt: Array, crossmember_start: Array, engine_mounts_pivot_x: Array) -> Array:
    rise = lift_tilt * (crossmember_start - engine_mounts_pivot_x)
    return np.where(np.abs(lift_tilt) > SAME, rise, unknown_where(0.0, lift_tilt))


@quantity("mm", "the part of the housing that still comes too low after the lift")
def low_part_left(
    bellhousing: Array,
    depth_of_face: Array,
    bell_bottom: Array,
    case_length: Array,
    case_bottom: Array,
    length: Array,
    tail_bottom: Array,
    crossmember_top: Array,
    crossmember_rise: Array,
    crossmember_gap: float,
) -> Low:
    boxes = _boxes(bellhousing, depth_of_face, bell_bottom, case_length, case_bottom, length, tail_bottom)
    return _low(boxes, crossmember_top + crossmember_rise, crossmember_gap)


@quantity("mm", "overlap of the low part with the front lip")
def lip_overlap(
    x_face: Array,
    low_part_left: Low,
    crossmember_start: Array,
    crossmember_end: Array,
    crossmember_lip_depth: Array,
    crossmember_there: Array,
) -> Array:
    end = np.minimum(crossmember_start + crossmember_lip_depth, crossmember_end)
    over = slide_overlap(
        x_face + low_part_left.front, x_face + low_part_left.rear, crossmember_start, end
    )
    return np.where(crossmember_there == 0, 0.0, over)


@quantity("mm", "overlap of the low part with the box section")
def box_overlap(
    x_face: Array,
    low_part_left: Low,
    crossmember_start: Array,
    crossmember_end: Array,
    crossmember_lip_depth: Array,
    crossmember_there: Array,
) -> Array:
    start = crossmember_start + crossmember_lip_depth
    over = slide_overlap(
        x_face + low_part_left.front, x_face + low_part_left.rear, start, crossmember_end
    )
    return np.where(crossmember_there == 0, 0.0, over)


@quantity("", "index of the undo step of a cut into the box section")
def box_undo(crossmember_removable: Array) -> Array:
    unbolts = crossmember_removable == 1
    return np.where(unbolts, UNDO_STEPS.index(PANEL), UNDO_STEPS.index("frame cut"))


@quantity("", "index of the undo step of a cut into the lip")
def lip_undo(crossmember_removable: Array) -> Array:
    unbolts = crossmember_removable == 1
    return np.where(unbolts, UNDO_STEPS.index(PANEL), UNDO_STEPS.index("body cut"))


@decision("Trim the crossmember's front lip", "crossmember", "body cut", tool="grinder", hours=3.0, cost=5.0,
          gauge="lip_overlap",
          words="{figure} fore and aft, the box section left whole")  # fmt: skip
def lip_cut(lip_overlap: Array, lip_undo: Array) -> Ask:
    return Ask(lip_overlap, undo=lip_undo)


@decision("Notch the crossmember's top", "crossmember", "frame cut", tool="sent out", hours=12.0, cost=100.0,
          gauge="box_overlap",
          words="{figure} deep where the housing stands over it, closed again with plate; "
                "only on advice from someone qualified")  # fmt: skip
def relief(box_overlap: Array, low_part_left: Low, box_undo: Array) -> Ask:
    """Where a notch as deep as what is missing takes less than cutting fore and aft."""
    notch = (box_overlap > SAME) & (low_part_left.missing < box_overlap)
    return Ask(unknown_where(np.where(notch, low_part_left.missing, 0.0), box_overlap), undo=box_undo)


@decision("Cut and rebuild the crossmember's box section", "crossmember", "frame cut", tool="sent out",
          hours=14.0, cost=120.0,
          gauge="box_overlap",
          words="{figure} beyond the lip; only on advice from someone qualified")  # fmt: skip
def box_cut(box_overlap: Array, relief: Array, box_undo: Array) -> Ask:
    return Ask(np.where(relief > SAME, 0.0, box_overlap), undo=box_undo)


@check(
    "Does the housing clear the crossmember?",
    "mm",
    AtLeast(clear=6.0, tight=6.0),
    "The crossmember carries the car; its lip can be trimmed, its box section must not be cut without advice.",
    criterion="fit",
    words={
        "clear": "{crossmember} of air over the crossmember",
        "clash": "{crossmember} of air over the crossmember, {short} too little, over {lip_overlap} of its lip "
        "and {box_overlap} of its box section",
    },
)
def crossmember(
    low_part_left: Low,
    lip_overlap: Array,
    box_overlap: Array,
    lip_cut: Array,
    box_cut: Array,
    relief: Array,
    crossmember_there: Array,
    crossmember_gap: float,
) -> Reading:
    """The air that is left where the housing stands over what is left of the crossmember."""
    lip, box = lip_overlap - lip_cut, box_overlap - box_cut
    air = crossmember_gap - low_part_left.missing
    over_box = np.where(box > SAME, air + relief, np.inf)
    over_lip = np.where(lip > SAME, air, np.inf)
    left = unknown_where(np.minimum(over_box, over_lip), lip, box, air)
    applies = np.where(np.isinf(left), 0.0, 1.0)
    applies = np.where(np.isnan(left), np.nan, applies)
    return Reading(left, left, left, np.where(crossmember_there == 0, 0.0, applies))


# ---- what the seat has to mind ------------------------------------------------------------------------


def _lip_harm(x: Array, front: Array, rear: Array, start: Array, end: Array) -> Array:
    return slide_overlap(x + front, x + rear, start, end)


def _lip_breaks(front: Array, rear: Array, start: Array, end: Array) -> tuple[Array, ...]:
    return (start - rear, end - rear, start - front, end - front)


def _cut_harm(x: Array, front: Array, rear: Array, start: Array, end: Array, missing: Array) -> Array:
    over = slide_overlap(x + front, x + rear, start, end)
    return np.where(missing < over, 0.0, over)


def _notch_harm(x: Array, front: Array, rear: Array, start: Array, end: Array, missing: Array) -> Array:
    over = slide_overlap(x + front, x + rear, start, end)
    return np.where(missing < over, missing, 0.0)


def _box_breaks(
    front: Array, rear: Array, start: Array, end: Array, missing: Array
) -> tuple[Array, ...]:
    ends = _lip_breaks(front, rear, start, end)
    return (*ends, start - rear + missing, end - front - missing)


@seat_bound
def crossmember_bounds(
    low_part_raised: Low,
    crossmember_start: Array,
    crossmember_end: Array,
    crossmember_lip_depth: Array,
    crossmember_removable: Array,
    crossmember_there: Array,
) -> list[Bound]:
    front, rear, missing = low_part_raised
    lip_end = np.minimum(crossmember_start + crossmember_lip_depth, crossmember_end)
    idle = (front > 1e8) | (crossmember_there == 0)
    undo = PANEL if (np.asarray(crossmember_removable) == 1).all() else ""
    lip = (front, rear, crossmember_start, lip_end)
    box = (front, rear, lip_end, crossmember_end, missing)
    place = "crossmember box section"
    return [
        Bound("face", "box_cut", place, _box_breaks, _cut_harm, box, idle, undo=undo),
        Bound("face", "relief", place, _box_breaks, _notch_harm, box, idle, undo=undo),
        Bound("face", "lip_cut", "crossmember lip", _lip_breaks, _lip_harm, lip, idle, undo=undo),
    ]
