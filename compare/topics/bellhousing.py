"""Bellhousing: what centres the gearbox, and the ring, the bore or the plate that makes it so."""

from __future__ import annotations

import math

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
    unknown_where,
)
from compare.ordering import Cut, order, tell
from compare.standards import limits_of_size

Array = np.ndarray
CARS_OWN, NO_PLATE = 1, 0

REGISTER_SAME = Limit("register_fit_same", 0.1, "mm", "practice")
RING_WALL = Limit(
    "register_ring_wall", 1.5, "mm", "practice: thinner, a ring is neither turned nor pressed"
)

BORE_MOST = Limit(
    "bellhousing_bore_most", 5.0, "mm", "practice: a side, before the register's wall is gone"
)


@quantity("", "1 where the car's bellhousing must centre the gearbox itself")
def register_asked(bellhousing: Array, adapter: Array) -> Array:
    """Another bellhousing is made for its gearbox, a plate carries the register."""
    plate = unknown_where((adapter == NO_PLATE) * 1.0, adapter)
    asked = np.where(bellhousing == CARS_OWN, plate, 0.0)
    return unknown_where(asked, bellhousing)


@decision("Bore the car's bellhousing for the register", "bellhousing", "panel cut", unit="mm diameter",
          tool="sent out", hours=2.0,
          gauge="register_diameter",
          words="{figure} a side, out of {car_bellhousing_register_diameter}, true to the crankshaft",
          when="car")  # fmt: skip
def bellhousing_bored(
    register_asked: Array,
    register_diameter: Array,
    car_bellhousing_register_diameter: Array,
    register_fit_same: float,
    register_ring_wall: float,
    bellhousing_bore_most: float,
) -> Ask:
    """For a register that is too large; and where a ring would be too thin to make."""
    off = register_diameter - car_bellhousing_register_diameter
    thin = register_ring_wall + off / 2.0
    need = np.where(
        off > register_fit_same, off / 2.0, np.where(off < -register_fit_same, thin, 0.0)
    )
    need = unknown_where(need, off)
    need = np.where(register_asked == 0, 0.0, unknown_where(need, register_asked))
    return Ask(need, capacity=bellhousing_bore_most)


@decision(
    "Turn a register ring",
    "register ring",
    unit="",
    blind=True,
    tool="lathe",
    hours=2.0,
    cost=10.0,
    words="from {register_diameter} up to {bellhousing_bore_after}",
)
def ring_made(
    register_asked: Array,
    register_diameter: Array,
    bellhousing_bore_after: Array,
    register_fit_same: float,
    register_ring_wall: float,
) -> Ask:
    """Not where it would be too thin to make."""
    room = bellhousing_bore_after - register_diameter
    small = (room > register_fit_same) & (room / 2.0 >= register_ring_wall - 1e-9)
    small = unknown_where(small * 1.0, bellhousing_bore_after - register_diameter)
    return Ask(np.where(register_asked == 0, 0.0, unknown_where(small, register_asked)))


@quantity("mm diameter", "bellhousing's bore for the register, after the work")
def bellhousing_bore_after(
    car_bellhousing_register_diameter: Array, bellhousing_bored: Array
) -> Array:
    return car_bellhousing_register_diameter + 2.0 * bellhousing_bored


@check(
    "Is the gearbox centred by the bellhousing?",
    "mm diameter",
    Own(
        "register within {register_fit_same} mm of the bore; a ring has {register_ring_wall} mm "
        "of wall"
    ),
    "An input shaft off the crankshaft's axis wears its pilot and shakes the disc.",
    criterion="fit",
    words={"clash": "register {register_diameter} against a bore of {bellhousing_bore_after}"},
)
def register_fit(
    register_asked: Array,
    register_diameter: Array,
    bellhousing_bore_after: Array,
    ring_made: Array,
    register_fit_same: float,
    register_ring_wall: float,
) -> Reading:
    """What is left between register and bore; a ring fills it where its wall can be made."""
    off = register_diameter - bellhousing_bore_after
    bare = register_fit_same - np.abs(off)
    ringed = np.minimum(-off / 2.0 - register_ring_wall + 1e-9, register_fit_same)
    ring = ring_made > SAME
    works = unknown_where(np.where(ring, ringed, bare), ring_made)
    return Reading(np.where(ring, 0.0, off), works, works, register_asked)


# ---- orders --------------------------------------------------------------------------------------


@order("bellhousing_bored", step=70)
def bore_the_bellhousing(
    car_bellhousing_register_diameter: float,
    bellhousing_bore_after: float,
    ring_made: float,
    register_diameter: float,
    housing_bore_runout: float,
) -> list[Cut]:
    """To the register itself, or wider, for a ring of a wall that can be made."""
    basic = bellhousing_bore_after if ring_made > SAME else register_diameter
    low, high = limits_of_size(basic, "H7")
    return [
        Cut(
            "Bore the bellhousing", "bellhousing", "crankshaft axis", car_bellhousing_register_diameter,
            low, high, runout=housing_bore_runout, finish="Ra 3.2", of="bellhousing_bore_after",
            measure_before="the register in two directions, the bore, and what stands around it",
            note="bolted to the block and set true to the crankshaft, or on a fixture with the "
            "dowels",
        )
    ]  # fmt: skip


@order("ring_made", step=71)
def turn_the_ring(
    register_diameter: float, bellhousing_bore_after: float, housing_bore_runout: float
) -> list[Cut]:
    inside, outside = (
        limits_of_size(register_diameter, "H7"),
        limits_of_size(bellhousing_bore_after, "p6"),
    )
    wall = (bellhousing_bore_after - register_diameter) / 2.0
    play = inside[1] - limits_of_size(register_diameter, "g6")[0]
    return [
        Cut(
            "Turn the register ring, inside", "register ring", "its own axis", math.nan, *inside,
            runout=0.05, finish="Ra 1.6", material="steel or hard aluminium", of="register_diameter",
            measure_before="the register in two directions",
            note=tell("H7; on a register of g6 the play is up to {play}", play=(play, "mm order")),
        ),
        Cut(
            "Turn the register ring, outside", "register ring", "its own axis", math.nan, *outside,
            runout=0.05, finish="Ra 1.6", of="bellhousing_bore_after",
            measure_before="the bellhousing's bore in two directions",
            note=tell(
                "wall {wall}; p6, for the bore as measured; in place within {true} total "
                "indicator reading of "
                "the crankshaft",
                wall=(wall, "mm doubt"), true=(housing_bore_runout, "mm doubt"),
            ),
        ),
    ]  # fmt: skip
