"""Crossmember: the air between it and the housing over it, and lip, notch or box section that is
cut.

The housing is three boxes along x: the bell before the front face, the case, the tail. A box whose
underside comes nearer than the gap asked for conflicts where it stands over the crossmember; the
overlap is measured from the crossmember's front edge.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from compare.judge.rules import (
    SAME,
    Ask,
    Limit,
    Own,
    Reading,
    check,
    decision,
    quantity,
    seat_bound,
    unknown_where,
)
from compare.judge.seat import Bound
from compare.ordering import Cut, order, parts_of, tell
from compare.standards import general_tolerance
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
    """The boxes that come too low, from the front face [mm] `(builds, draws, boxes)`.

    front is NOWHERE for a box that does not; missing: by how much it comes too low.
    """

    front: Array
    rear: Array
    missing: Array


def low_boxes(boxes: list[tuple[Array, Array, Array]], top: Array, gap: float) -> Low:
    """Those of the boxes (front, rear, bottom [mm]) that come lower than top less gap.

    Each reaches the gap beyond its ends, but not into a neighbour that is low itself: so overlaps
    add up.

    >>> one = lambda x: np.full((1, 1), x)
    >>> low = low_boxes([(one(0.0), one(300.0), one(120.0)), (one(300.0), one(700.0), one(80.0))], one(118.0), 6.0)
    >>> low.front.tolist(), low.rear.tolist(), low.missing.tolist()
    ([[[-6.0, 1000000000.0]]], [[[306.0, 1000000001.0]]], [[[8.0, -32.0]]])
    """
    short = [bottom + gap - top for _, _, bottom in boxes]
    low = [s > 1e-9 for s in short]
    parts = []
    for i, (front, rear, _) in enumerate(boxes):
        before = low[i - 1] if i else False
        after = low[i + 1] if i + 1 < len(boxes) else False
        start = np.where(low[i], np.where(before, front, front - gap), NOWHERE)
        end = np.where(low[i], np.where(after, rear, rear + gap), NOWHERE + 1.0)
        parts.append([unknown_where(a, short[i], front, rear) for a in (start, end, short[i])])
    whole = np.broadcast_arrays(*(a for part in parts for a in part))
    stacked = [np.stack(whole[i::3], axis=-1) for i in range(3)]
    return Low(*stacked)


def overlaps(x_face: Array, low: Low, start: Array, end: Array) -> Array:
    """Overlap of each low box with [start, end] `(builds, draws, boxes)` [mm].

    >>> one = lambda *x: np.array([[list(x)]])
    >>> low = Low(one(0.0), one(300.0), one(8.0))
    >>> overlaps(np.array([[160.0]]), low, np.array([[450.0]]), np.array([[500.0]])).tolist()
    [[[10.0]]]
    """
    x = np.asarray(x_face)[..., None]
    return slide_overlap(
        x + low.front, x + low.rear, np.asarray(start)[..., None], np.asarray(end)[..., None]
    )


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
    bellhousing: Array,
    bell: tuple[Array, Array, Array],
    case: tuple[Array, Array],
    tail: tuple[Array, Array],
) -> list[tuple[Array, Array, Array]]:
    """(front, rear, bottom) of bell, case and tail from the face; the car's own bell fits today."""
    own = np.where(bellhousing == 1, -NOWHERE, bell[2])
    zero = np.zeros((1, 1))
    return [(bell[0], bell[1], own), (zero, *case), (case[0], *tail)]


@quantity("mm", "the part of the housing that comes too low, as it is")
def low_part(
    bellhousing: Array,
    depth_of_face: Array,
    thickness_low: Array,
    thickness_high: Array,
    bell_bottom: Array,
    case_length: Array,
    case_bottom: Array,
    length: Array,
    tail_bottom: Array,
    crossmember_top: Array,
    crossmember_gap: float,
) -> Low:
    """Before the plate is known: the bell wherever a plate may put it."""
    bell = (-(depth_of_face + thickness_high), -thickness_low, bell_bottom)
    boxes = _boxes(bellhousing, bell, (case_length, case_bottom), (length, tail_bottom))
    return low_boxes(boxes, crossmember_top, crossmember_gap)


def freed_by_lift(low: Low, give: Array) -> Array:
    """Whether a lift by `give` [mm] at the crossmember frees every low box `(builds, draws)`.

    >>> one = np.array([[[0.0, 0.0]]])
    >>> freed_by_lift(Low(one, one, np.array([[[3.0, 5.0]]])), np.array([[4.0]])).tolist()
    [[False]]
    """
    return np.asarray(
        (np.where(low.front < NOWHERE / 2, low.missing, 0.0) <= give[..., None] + SAME).all(axis=-1)
    )


@quantity(
    "mm", "the part that comes too low and may stand over the crossmember, wherever the seat is"
)
def low_part_near(
    low_part: Low,
    depth_of_face: Array,
    thickness_low: Array,
    thickness_high: Array,
    most_shift: Array,
    crossmember_start: Array,
    crossmember_end: Array,
) -> Low:
    """A box that no seat puts there, as a bell before it, asks for nothing."""
    first = (depth_of_face + thickness_low - most_shift)[..., None] + low_part.front
    last = (depth_of_face + thickness_high)[..., None] + low_part.rear
    away = (first > crossmember_end[..., None]) | (last < crossmember_start[..., None])
    return Low(
        np.where(away, NOWHERE, low_part.front),
        np.where(away, NOWHERE + 1.0, low_part.rear),
        low_part.missing,
    )


@quantity("mm", "the part that comes too low even with the tail raised as far as it goes")
def low_part_raised(low_part_near: Low, lift_give: Array) -> Low:
    """Cuts ask only where raising the tail, the shallower remedy, does not free the whole housing."""
    low = low_part_near
    saved = freed_by_lift(low, lift_give)[..., None]
    front = np.where(saved, NOWHERE, low.front)
    rear = np.where(saved, NOWHERE + 1.0, low.rear)
    return Low(*(unknown_where(a, low.missing) for a in (front, rear, low.missing)))


@quantity("mm", "lift that the crossmember asks for")
def lift_for_crossmember(
    low_part_near: Low,
    lift_give: Array,
    x_face: Array,
    pad_x: Array,
    engine_mounts_pivot_x: Array,
    crossmember_start: Array,
    crossmember_end: Array,
    crossmember_there: Array,
) -> Array:
    """What is missing, at the crossmember's front edge, where a low box stands over it."""
    low = low_part_near
    over = overlaps(x_face, low, crossmember_start, crossmember_end)
    lever = (crossmember_start - engine_mounts_pivot_x) / (pad_x - engine_mounts_pivot_x)
    missing = np.where(over > SAME, low.missing, 0.0).max(axis=-1)
    asked = (missing > SAME) & freed_by_lift(low, lift_give)
    need = np.where(asked, missing / lever, 0.0)
    need = unknown_where(need, over.sum(axis=-1))
    return np.where(crossmember_there == 0, 0.0, need)


@quantity("mm", "rise of the housing over the crossmember by the lift")
def crossmember_rise(
    lift_tilt: Array, crossmember_start: Array, engine_mounts_pivot_x: Array
) -> Array:
    rise = lift_tilt * (crossmember_start - engine_mounts_pivot_x)
    return np.where(np.abs(lift_tilt) > SAME, rise, unknown_where(0.0, lift_tilt))


class Seated(NamedTuple):
    """Ends from the front face and undersides of bell, case and tail [mm] `(builds, draws,
    boxes)`.
    """

    front: Array
    rear: Array
    bottom: Array


@quantity("mm", "underside of the housing, plate in place")
def undersides(
    bellhousing: Array,
    depth_of_face: Array,
    adapter_thickness: Array,
    bell_bottom: Array,
    case_length: Array,
    case_bottom: Array,
    length: Array,
    tail_bottom: Array,
) -> Seated:
    """The bell stands before the plate: from the block to the face less the plate."""
    bell = (-(depth_of_face + adapter_thickness), -adapter_thickness, bell_bottom)
    boxes = _boxes(bellhousing, bell, (case_length, case_bottom), (length, tail_bottom))
    whole = np.broadcast_arrays(*(a for box in boxes for a in box))
    return Seated(*(np.stack(whole[i::3], axis=-1) for i in range(3)))


@quantity("mm", "the part of the housing that still comes too low after the lift")
def low_part_left(
    undersides: Seated, crossmember_top: Array, crossmember_rise: Array, crossmember_gap: float
) -> Low:
    boxes = [tuple(a[..., i] for a in undersides) for i in range(3)]
    return low_boxes(boxes, crossmember_top + crossmember_rise, crossmember_gap)  # type: ignore[arg-type]


@quantity("mm", "air over the crossmember, uncut, after the lift")
def crossmember_air(
    x_face: Array,
    undersides: Seated,
    crossmember_start: Array,
    crossmember_end: Array,
    crossmember_top: Array,
    crossmember_rise: Array,
    crossmember_gap: float,
) -> Array:
    """Of the lowest box that stands over it or within the gap before or behind it; NOWHERE for
    none.
    """
    start, end = crossmember_start - crossmember_gap, crossmember_end + crossmember_gap
    bare = Low(*undersides)
    over = overlaps(x_face, bare, start, end) > SAME
    air = (crossmember_top + crossmember_rise)[..., None] - undersides.bottom
    return np.where(over, air, NOWHERE).min(axis=-1)


@quantity("mm", "overlap of the low boxes with the front lip")
def lip_overlap(
    x_face: Array,
    low_part_left: Low,
    crossmember_start: Array,
    crossmember_end: Array,
    crossmember_lip_depth: Array,
    crossmember_there: Array,
) -> Array:
    end = np.minimum(crossmember_start + crossmember_lip_depth, crossmember_end)
    over = overlaps(x_face, low_part_left, crossmember_start, end).sum(axis=-1)
    return np.where(crossmember_there == 0, 0.0, over)


@quantity("mm", "overlap of each low box with the box section")
def box_overlaps(
    x_face: Array,
    low_part_left: Low,
    crossmember_start: Array,
    crossmember_end: Array,
    crossmember_lip_depth: Array,
    crossmember_there: Array,
) -> Array:
    start = crossmember_start + crossmember_lip_depth
    over = overlaps(x_face, low_part_left, start, crossmember_end)
    return np.where(np.asarray(crossmember_there)[..., None] == 0, 0.0, over)


@quantity("mm", "overlap of the low boxes with the box section")
def box_overlap(box_overlaps: Array) -> Array:
    return box_overlaps.sum(axis=-1)


@quantity("mm", "by how much the housing comes too low where it stands over the crossmember")
def air_missing(
    x_face: Array,
    low_part_left: Low,
    crossmember_start: Array,
    crossmember_end: Array,
    crossmember_there: Array,
) -> Array:
    over = overlaps(x_face, low_part_left, crossmember_start, crossmember_end)
    missing = np.where(over > SAME, low_part_left.missing, 0.0).max(axis=-1)
    return np.where(crossmember_there == 0, 0.0, unknown_where(missing, over.sum(axis=-1)))


@quantity("", "index of the undo step of a cut into the box section")
def box_undo(crossmember_removable: Array) -> Array:
    unbolts = crossmember_removable == 1
    return np.where(unbolts, UNDO_STEPS.index(PANEL), UNDO_STEPS.index("frame cut"))


@quantity("", "index of the undo step of a cut into the lip")
def lip_undo(crossmember_removable: Array) -> Array:
    unbolts = crossmember_removable == 1
    return np.where(unbolts, UNDO_STEPS.index(PANEL), UNDO_STEPS.index("body cut"))


def _notched(box_overlaps: Array, missing: Array) -> Array:
    """Where a notch as deep as what is missing takes less than cutting fore and aft."""
    return (box_overlaps > SAME) & (missing < box_overlaps)


def box_asked(box_overlaps: Array, missing: Array) -> tuple[Array, Array]:
    """(depth of notches, length cut fore and aft) that free the box section [mm], summed over the boxes.

    >>> depth, across = box_asked(np.array([[[20.0, 5.0]]]), np.array([[[8.0, 9.0]]]))
    >>> float(depth[0, 0]), float(across[0, 0])
    (8.0, 5.0)
    """
    notched = _notched(box_overlaps, missing)
    depth = np.where(notched, missing, 0.0).sum(axis=-1)
    return depth, np.where(notched, 0.0, box_overlaps).sum(axis=-1)


@decision("Notch the crossmember's top", "crossmember", "frame cut", tool="sent out", hours=12.0, cost=100.0,
          gauge="box_overlap",
          words="{figure} deep where the housing stands over it, closed again with plate; "
                "only on advice from someone qualified", when="car")  # fmt: skip
def relief(box_overlaps: Array, low_part_left: Low, box_undo: Array) -> Ask:
    depth, _ = box_asked(box_overlaps, low_part_left.missing)
    return Ask(unknown_where(depth, box_overlaps.sum(axis=-1)), undo=box_undo)


@decision("Cut and rebuild the crossmember's box section", "crossmember", "frame cut", tool="sent out",
          hours=14.0, cost=120.0,
          gauge="box_overlap",
          words="{figure} beyond the lip; only on advice from someone qualified",
          when="car")  # fmt: skip
def box_cut(box_overlaps: Array, low_part_left: Low, box_undo: Array) -> Ask:
    _, across = box_asked(box_overlaps, low_part_left.missing)
    return Ask(across, undo=box_undo)


@decision("Trim the crossmember's front lip", "crossmember", "body cut", tool="grinder", hours=3.0, cost=5.0,
          gauge="lip_overlap",
          words="{figure} fore and aft, the box section left whole", when="car")  # fmt: skip
def lip_cut(
    lip_overlap: Array,
    box_overlaps: Array,
    low_part_left: Low,
    relief: Array,
    box_cut: Array,
    lip_undo: Array,
) -> Ask:
    """Only where the box section behind it is out of the way too: else it would cure nothing."""
    depth, across = box_asked(box_overlaps, low_part_left.missing)
    stays = (depth - relief > SAME) | (across - box_cut > SAME)
    return Ask(np.where(stays, 0.0, unknown_where(lip_overlap, relief, box_cut)), undo=lip_undo)


@check(
    "Does the housing clear the crossmember?",
    "mm",
    Own("air ≥ {crossmember_gap} mm over what is left of it"),
    "The crossmember carries the car; its lip can be trimmed, its box section must not be cut "
    "without advice.",
    criterion="fit",
    words={
        "clear": "{crossmember} of air over the crossmember",
        "clash": "{crossmember} of air over the crossmember, {short} too little, over "
        "{lip_overlap} of its lip "
        "and {box_overlap} of its box section",
    },
)
def crossmember(
    low_part_left: Low,
    lip_overlap: Array,
    box_overlaps: Array,
    air_missing: Array,
    crossmember_air: Array,
    lip_cut: Array,
    box_cut: Array,
    relief: Array,
    crossmember_there: Array,
    crossmember_gap: float,
) -> Reading:
    """The air where the housing stands over what is left of the crossmember; what is cut leaves the gap."""
    depth, across = box_asked(box_overlaps, low_part_left.missing)
    left = (lip_overlap - lip_cut > SAME) | (across - box_cut > SAME) | (depth - relief > SAME)
    air = np.where(
        left, crossmember_gap - air_missing, np.maximum(crossmember_air, crossmember_gap)
    )
    air = unknown_where(air, air_missing, crossmember_air, lip_cut, box_cut, relief)
    applies = np.where(np.isnan(air), np.nan, np.where(air < NOWHERE / 2.0, 1.0, 0.0))
    spare = air - crossmember_gap
    return Reading(air, spare, spare, np.where(crossmember_there == 0, 0.0, applies))


# ---- what the seat has to mind -------------------------------------------------------------------


def _lip_harm(x: Array, front: Array, rear: Array, start: Array, end: Array) -> Array:
    return slide_overlap(x + front, x + rear, start, end)


def _lip_breaks(front: Array, rear: Array, start: Array, end: Array) -> tuple[Array, ...]:
    return (start - rear, end - rear, start - front, end - front)


def _cut_harm(
    x: Array, front: Array, rear: Array, start: Array, end: Array, missing: Array
) -> Array:
    over = slide_overlap(x + front, x + rear, start, end)
    return np.where((missing < over) & (over > SAME), 0.0, over)


def _notch_harm(
    x: Array, front: Array, rear: Array, start: Array, end: Array, missing: Array
) -> Array:
    over = slide_overlap(x + front, x + rear, start, end)
    return np.where((missing < over) & (over > SAME), missing, 0.0)


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
    """Each box by itself: their overlaps add up."""
    lip_end = np.minimum(crossmember_start + crossmember_lip_depth, crossmember_end)
    undo = PANEL if (np.asarray(crossmember_removable) == 1).all() else ""
    section, bounds = "crossmember box section", []
    for i in range(low_part_raised.front.shape[-1]):
        front, rear, missing = (a[..., i] for a in low_part_raised)
        idle = (front > 1e8) | (crossmember_there == 0)
        if idle.all():
            continue
        lip = (front, rear, crossmember_start, lip_end)
        box = (front, rear, lip_end, crossmember_end, missing)
        bounds += [
            Bound("face", "box_cut", section, _box_breaks, _cut_harm, box, idle, undo=undo),
            Bound("face", "relief", section, _box_breaks, _notch_harm, box, idle, undo=undo),
            Bound(
                "face", "lip_cut", "crossmember lip", _lip_breaks, _lip_harm, lip, idle, undo=undo
            ),
        ]
    return bounds


# ---- orders --------------------------------------------------------------------------------------

CROSSMEMBER, FRONT_EDGE = "crossmember", "the crossmember's front edge, as found"
CLOSED = "the box section carries the car: only on advice from someone qualified, closed again with plate"
PLATE, OFFERED = "steel plate, as thick as its walls", "the air over it with the gearbox offered up"


def spans_over(x_face: float, low: Low, start: float, end: float) -> list[tuple[float, float]]:
    """(first, last) of each low box over [start, end], behind `start` [mm]; equal where it is not over it.

    >>> low = Low(np.array([0.0, 300.0]), np.array([300.0, 700.0]), np.array([8.0, 3.0]))
    >>> spans_over(160.0, low, 450.0, 500.0)
    [(0.0, 10.0), (10.0, 50.0)]
    """
    found = []
    for front, rear in zip(low.front.tolist(), low.rear.tolist(), strict=True):
        first = min(max(x_face + front, start), end)
        last = max(min(x_face + rear, end), first)
        found.append((first - start, last - start))
    return found


def _told(lead: str, boxes: Any, index: int, gap: float, unbolts: float, **values: float) -> Any:
    """A note of the order; how wide one box of the housing asks, and how the crossmember is held."""
    left, right = boxes.sides[index][:2] if index >= 0 else (math.nan, math.nan)
    known = left > 0.0 and right > 0.0  # the car's own bell has no sides here
    held = (
        "unbolt it, the engine carried, and cut it on the bench"
        if unbolts == 1
        else "engine and gearbox carried"
    )
    return tell(
        lead + "[from {left} left to {right} right of the shaft's line; ]" + held,
        left=left + gap if known else math.nan, right=right + gap if known else math.nan, **values,
    )  # fmt: skip


@order("lip_cut", step=100)
def trim_the_lip(
    lip_cut: float,
    x_face: float,
    low_part_left: Low,
    crossmember_start: float,
    crossmember_end: float,
    crossmember_lip_depth: float,
    crossmember_removable: float,
    box_cut: float,
    crossmember_gap: float,
    boxes_seated: Any,
) -> list[Cut]:
    """From where the housing stands over the lip, and no deeper than the lip while the box stays."""
    lip_end = min(crossmember_start + crossmember_lip_depth, crossmember_end)
    spans = spans_over(x_face, low_part_left, crossmember_start, lip_end)
    over = [i for i, (a, b) in enumerate(spans) if b - a > SAME]
    first = min((spans[i][0] for i in over), default=0.0)
    last = first + lip_cut
    most = last + general_tolerance(lip_cut)
    if not box_cut > SAME:
        most = max(last, min(most, crossmember_lip_depth))
    return [
        Cut(
            "Trim the crossmember's front lip", CROSSMEMBER, FRONT_EDGE, first, last, most, of="lip_cut",
            measure_before="air over the lip with the gearbox offered up; how deep the lip is before the box begins",
            note=_told("", boxes_seated, over[-1] if over else -1, crossmember_gap, crossmember_removable),
        )
    ]  # fmt: skip


def _over_the_box(
    x_face: float, left: Low, overlaps: Array, start: float, end: float
) -> tuple[Any, Any]:
    """Where each part of the housing stands over the box section, and whether it is notched there."""
    return spans_over(x_face, left, start, end), _notched(overlaps, left.missing)


@order("box_cut", step=101)
def cut_the_box(
    box_cut: float,
    x_face: float,
    low_part_left: Low,
    box_overlaps: Array,
    crossmember_start: float,
    crossmember_end: float,
    crossmember_lip_depth: float,
    crossmember_removable: float,
    crossmember_gap: float,
    boxes_seated: Any,
) -> list[Cut]:
    """Fore and aft, over the box section's whole height: one cut for each part of the housing."""
    start = crossmember_start + crossmember_lip_depth
    spans, notched = _over_the_box(x_face, low_part_left, box_overlaps, start, crossmember_end)
    needs = [0.0 if skip else b - a for (a, b), skip in zip(spans, notched, strict=True)]
    cuts = []
    for i, amount in parts_of(box_cut, needs):
        first = crossmember_lip_depth + (spans[i][0] if i >= 0 else 0.0)
        note = _told(CLOSED + "; ", boxes_seated, i, crossmember_gap, crossmember_removable)
        cuts.append(
            Cut(
                "Cut the crossmember's box section back", CROSSMEMBER, FRONT_EDGE, first, first + amount,
                first + amount + general_tolerance(amount), of="box_cut", material=PLATE, measure_before=OFFERED,
                note=note,
            )
        )  # fmt: skip
    return cuts


@order("relief", step=102)
def notch_the_top(
    relief: float,
    x_face: float,
    low_part_left: Low,
    box_overlaps: Array,
    crossmember_start: float,
    crossmember_end: float,
    crossmember_lip_depth: float,
    crossmember_removable: float,
    crossmember_gap: float,
    boxes_seated: Any,
) -> list[Cut]:
    """As deep as what is missing, where each part of the housing stands over the box section."""
    start = crossmember_start + crossmember_lip_depth
    spans, notched = _over_the_box(x_face, low_part_left, box_overlaps, start, crossmember_end)
    needs = [
        float(m) if yes else 0.0 for m, yes in zip(low_part_left.missing, notched, strict=True)
    ]
    cuts = []
    for i, depth in parts_of(relief, needs):
        first, last = (crossmember_lip_depth + x for x in spans[i]) if i >= 0 else (math.nan,) * 2
        where = (
            "from {first} to {last} behind its front edge; "
            if i >= 0
            else "where the housing stands over it; "
        )
        note = _told(
            where + CLOSED + "; ",
            boxes_seated,
            i,
            crossmember_gap,
            crossmember_removable,
            first=first,
            last=last,
        )
        cuts.append(
            Cut(
                "Notch the crossmember's top", CROSSMEMBER, "the crossmember's top, as found", 0.0, depth,
                depth + general_tolerance(depth), length=last - first, of="relief", material=PLATE,
                measure_before=OFFERED, note=note,
            )
        )  # fmt: skip
    return cuts
