"""Bellhousing: what centres the gearbox, and the ring, the bore or the plate that makes it so."""

from __future__ import annotations

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

Array = np.ndarray
CARS_OWN, NO_PLATE = 1, 0

REGISTER_SAME = Limit("register_fit_same", 0.1, "mm", "practice")
RING_WALL = Limit("register_ring_wall", 1.5, "mm", "practice: thinner, a ring is neither turned nor pressed")


@quantity("", "1 where the car's bellhousing must centre the gearbox itself")
def register_asked(bellhousing: Array, adapter: Array) -> Array:
    """Another bellhousing is made for its gearbox, a plate carries the register."""
    asked = np.where((bellhousing == CARS_OWN) & (adapter == NO_PLATE), 1.0, 0.0)
    return np.where(np.isnan(bellhousing), np.nan, asked)


@decision("Bore the car's bellhousing for the register", "bellhousing", "panel cut", unit="mm diameter",
          tool="sent out", hours=2.0,
          gauge="register_diameter",
          words="{figure} a side, out of {car_bellhousing_register_diameter}, true to the crankshaft")  # fmt: skip
def bellhousing_bored(
    register_asked: Array,
    register_diameter: Array,
    car_bellhousing_register_diameter: Array,
    register_fit_same: float,
    register_ring_wall: float,
) -> Ask:
    """For a register that is too large; and where a ring would be too thin to make."""
    off = register_diameter - car_bellhousing_register_diameter
    thin = register_ring_wall + off / 2.0
    need = np.where(off > register_fit_same, off / 2.0, np.where(off < -register_fit_same, thin, 0.0))
    need = unknown_where(need, off)
    return Ask(np.where(register_asked == 0, 0.0, unknown_where(need, register_asked)))


@decision("Turn a register ring", "bellhousing", unit="", blind=True, tool="lathe", hours=2.0, cost=10.0,
          words="from {register_diameter} up to {bellhousing_bore_after}")  # fmt: skip
def ring_made(
    register_asked: Array,
    register_diameter: Array,
    bellhousing_bore_after: Array,
    register_fit_same: float,
) -> Ask:
    small = bellhousing_bore_after - register_diameter > register_fit_same
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
    Own("register within {register_fit_same} mm of the bore; a ring has {register_ring_wall} mm of wall"),
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
