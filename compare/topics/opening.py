"""Opening: the turret through the floor, the lever to the hand."""

from __future__ import annotations

import math

import numpy as np

from compare.judge.rules import (
    SAME,
    Ask,
    AtMost,
    Limit,
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
PANEL = "panel cut"

LEVER_SAME = Limit("lever_same", 25.0, "mm", "practice: a hand finds a knob that moved less")


def overrun(
    x_face: Array, position: Array, room: Array, start: Array, end: Array
) -> tuple[Array, Array]:
    """How far turret and lever stand beyond the opening, front and rear [mm].

    >>> [float(a) for a in overrun(100.0, 400.0, 60.0, 480.0, 520.0)]
    [10.0, 10.0]
    """
    lever = x_face + position
    return np.maximum(start - (lever - room / 2.0), 0.0), np.maximum(lever + room / 2.0 - end, 0.0)


@quantity("mm", "opening missing at the front")
def opening_front(
    x_face: Array,
    shifter_position: Array,
    shifter_room: Array,
    opening_start: Array,
    opening_end: Array,
) -> Array:
    return overrun(x_face, shifter_position, shifter_room, opening_start, opening_end)[0]


@quantity("mm", "opening missing at the rear")
def opening_rear(
    x_face: Array,
    shifter_position: Array,
    shifter_room: Array,
    opening_start: Array,
    opening_end: Array,
) -> Array:
    return overrun(x_face, shifter_position, shifter_room, opening_start, opening_end)[1]


@quantity("mm", "turret beyond the sides of the opening")
def opening_side(
    shifter_offset: Array, turret_width: Array, opening_left: Array, opening_right: Array
) -> Array:
    """Beyond the left and the right edge together; not known where one of them is not."""
    half = turret_width / 2.0
    right, left = shifter_offset + half - opening_right, half - shifter_offset - opening_left
    return np.maximum(right, 0.0) + np.maximum(left, 0.0)


@quantity("", "index of the undo step of a cut around the opening")
def opening_undo(
    opening_start: Array,
    opening_end: Array,
    tunnel_piece_start: Array,
    tunnel_piece_end: Array,
    tunnel_piece_removable: Array,
) -> Array:
    """A panel cut where the opening lies in a piece of the tunnel that unbolts."""
    middle = ((opening_start + opening_end) / 2.0)[..., None]
    inside = (middle >= tunnel_piece_start) & (middle <= tunnel_piece_end)
    unbolts = (inside & (tunnel_piece_removable == 1)).any(axis=-1)
    return np.where(unbolts, UNDO_STEPS.index(PANEL), UNDO_STEPS.index("body cut"))


@decision("Lengthen the lever's opening", "tunnel", "body cut", tool="grinder", hours=3.0, cost=10.0,
          gauge="x_face",
          words="front {opening_front}, rear {opening_rear}, sides {opening_side}; the turret needs its "
                "room whatever the lever does", when="car")  # fmt: skip
def opening_cut(
    opening_front: Array,
    opening_rear: Array,
    opening_side: Array,
    opening_undo: Array,
    opening_none: Array,
) -> Ask:
    missing = opening_front + opening_rear + opening_side
    return Ask(np.where(opening_none == 1, 0.0, missing), undo=opening_undo)


@check(
    "Do turret and lever come up through the opening?",
    "mm",
    AtMost(clear=0.0, tight=0.0),
    "An opening grown twice never closes again.",
    criterion="fit",
    words={"clash": "turret and lever stand {opening_front} too far forward, {opening_rear} too far back, "
                    "{opening_side} too far aside"},
)  # fmt: skip
def shifter_opening(
    opening_front: Array,
    opening_rear: Array,
    opening_side: Array,
    opening_cut: Array,
    opening_none: Array,
) -> Reading:
    left = np.maximum(opening_front + opening_rear + opening_side - opening_cut, 0.0)
    return Reading(left, left, left, np.where(opening_none == 1, 0.0, 1.0))


@quantity("mm", "how far the lever stands from today's, rearward positive")
def lever_moved(
    x_face: Array,
    shifter_position: Array,
    present_shifter_position: Array,
    car_bellhousing_depth: Array,
    engine_backplate: Array,
) -> Array:
    return (
        x_face
        + shifter_position
        - (engine_backplate + car_bellhousing_depth + present_shifter_position)
    )


@decision(
    "Crank the gear lever",
    "gear lever",
    tool="welder",
    hours=2.0,
    cost=10.0,
    words="the lever stands {lever_moved} from today's; the knob comes back by {figure}",
    when="in",
)
def lever_cranked(lever_moved: Array, lever_crank_most: Array, lever_same: float) -> Ask:
    """Brings the knob back as far as it goes; the opening has nothing from it."""
    off = np.abs(np.nan_to_num(lever_moved))
    wanted = np.where(off > lever_same + SAME, np.minimum(off, lever_crank_most), 0.0)
    return Ask(unknown_where(wanted, lever_crank_most))


# ---- what the seat has to mind -------------------------------------------------------------------


def _breaks(
    position: Array, room: Array, side: Array, start: Array, end: Array
) -> tuple[Array, ...]:
    return (start - position + room / 2.0, end - position - room / 2.0)


def _harm(x: Array, position: Array, room: Array, side: Array, start: Array, end: Array) -> Array:
    front, rear = overrun(x, position, room, start, end)
    return np.maximum(front + rear + side, 0.0)


@seat_bound
def opening_bounds(
    shifter_position: Array,
    shifter_room: Array,
    opening_side: Array,
    opening_start: Array,
    opening_end: Array,
    opening_undo: Array,
    opening_none: Array,
) -> list[Bound]:
    args = (shifter_position, shifter_room, opening_side, opening_start, opening_end)
    bounds = []
    for step in np.unique(opening_undo):
        idle = (opening_none == 1) | (opening_undo != step)
        undo = UNDO_STEPS[int(step)]
        bounds.append(
            Bound("face", "opening_cut", "lever's opening", _breaks, _harm, args, idle, undo=undo)
        )
    return bounds


# ---- orders --------------------------------------------------------------------------------------

FACE, LINE = "the gearbox's front face", "the shaft's line"


@order("opening_cut", step=110)
def lengthen_the_opening(
    opening_cut: float,
    x_face: float,
    opening_front: float,
    opening_rear: float,
    opening_start: float,
    opening_end: float,
    opening_left: float,
    opening_right: float,
    shifter_offset: float,
    turret_width: float,
) -> list[Cut]:
    """Each edge that has to move, by where it ends up; never short of it, so that the turret has its room."""
    half = turret_width / 2.0
    over = (half - shifter_offset - opening_left, shifter_offset + half - opening_right)
    needs = [opening_front, opening_rear, *(max(x, 0.0) for x in over)]
    was = (opening_start - x_face, opening_end - x_face, opening_left, opening_right)
    edges = (("front", FACE, -1.0), ("rear", FACE, 1.0), ("left", LINE, 1.0), ("right", LINE, 1.0))
    cuts = []
    for place, amount in parts_of(opening_cut, [0.0 if math.isnan(n) else n for n in needs]):
        edge, datum, sign = edges[max(place, 0)]
        size = was[max(place, 0)] + sign * amount
        low, high = sorted((size, size + sign * general_tolerance(amount)))
        cuts.append(
            Cut(
                f"Cut the lever's opening, {edge} edge", "tunnel", datum, was[max(place, 0)], low, high, of="opening_cut",
                measure_before="the turret's room with the gearbox in its place, in every gear",
                note=tell("{amount} off the edge as found; the corners round, no saw cuts", amount=amount),
            )
        )  # fmt: skip
    return cuts


@order("lever_cranked", step=112)
def crank_the_lever(lever_cranked: float, lever_moved: float, lever_crank_most: float) -> list[Cut]:
    """The knob against where the straight lever has it."""
    way = "forward" if lever_moved > 0 else "rearward"
    most = max(
        lever_cranked, min(lever_cranked + general_tolerance(lever_cranked), lever_crank_most)
    )
    return [
        Cut(
            "Crank the gear lever", "gear lever", "the knob as the lever was", 0.0, lever_cranked, most, of="lever_cranked",
            measure_before="the knob against today's, gearbox in its place, in every gear",
            note=tell(
                way + "; the lever stands {moved} from today's; cranked above the turret, which needs its room as before",
                moved=abs(lever_moved),
            ),
        )
    ]  # fmt: skip
