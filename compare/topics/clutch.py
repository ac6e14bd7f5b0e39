"""Clutch release: travel from pedal to bearing, the side of the arm, and what a concentric slave means."""

from __future__ import annotations

import numpy as np

from compare.judge.rules import Amount, Own, Reading, check, quantity, work

Array = np.ndarray

CONCENTRIC = 1  # index of the choice
# Bores that slave cylinders are made in [mm]: eighths and sixteenths of an inch, and metric (practice).
SLAVE_BORES = (15.875, 17.46, 19.05, 20.64, 22.0, 22.2, 23.8, 25.4, 28.6)


def slave_travel(pedal_travel: Array, pedal_ratio: Array, master_bore: Array, slave_bore: Array) -> Array:
    """Travel of the slave's piston [mm] = pedal / ratio × (master / slave)²; lengths and bores [mm].

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


def centring_bore(travel: Array, pedal_travel: Array, pedal_ratio: Array, master_bore: Array, fork_ratio: Array, free_play: Array) -> Array:
    """The slave bore [mm] that gives a bearing travel [mm].

    >>> bore = centring_bore(10.0, 150.0, 5.0, 19.05, 2.0, 1.0)
    >>> round(float(bearing_travel(slave_travel(150.0, 5.0, 19.05, bore), 2.0, 1.0)), 9)
    10.0
    """
    return master_bore * np.sqrt(pedal_travel / pedal_ratio / fork_ratio / (travel + free_play))


def pedal_leverage(pedal_ratio: Array, master_bore: Array, slave_bore: Array, fork_ratio: Array) -> Array:
    """Force at the bearing over force at the pedal pad [-]: Pascal's principle and two levers.

    >>> round(pedal_leverage(5.0, 20.0, 22.0, 2.0), 2)
    12.1
    """
    return pedal_ratio * (slave_bore / master_bore) ** 2 * fork_ratio


@quantity("mm", "slave bore that centres the travel")
def slave_bore_wanted(
    clutch_release_travel: Array,
    clutch_release_travel_max: Array,
    clutch_pedal_travel: Array,
    clutch_pedal_ratio: Array,
    clutch_master_bore: Array,
    clutch_fork_ratio: Array,
    clutch_free_play: Array,
) -> Array:
    middle = (clutch_release_travel + clutch_release_travel_max) / 2.0
    return centring_bore(middle, clutch_pedal_travel, clutch_pedal_ratio, clutch_master_bore, clutch_fork_ratio, clutch_free_play)


@quantity("mm", "nearest bore that slaves are made in")
def slave_bore_made(slave_bore_wanted: Array) -> Array:
    bores = np.array(SLAVE_BORES)
    nearest = bores[np.abs(slave_bore_wanted[..., None] - bores).argmin(axis=-1)]
    return np.where(np.isnan(slave_bore_wanted), np.nan, nearest)


@quantity("mm", "bearing travel with that slave")
def release_travel_after(
    slave_bore_made: Array, clutch_pedal_travel: Array, clutch_pedal_ratio: Array, clutch_master_bore: Array, clutch_fork_ratio: Array, clutch_free_play: Array
) -> Array:
    return bearing_travel(
        slave_travel(clutch_pedal_travel, clutch_pedal_ratio, clutch_master_bore, slave_bore_made), clutch_fork_ratio, clutch_free_play
    )


@quantity("", "force at the bearing over force at the pedal")
def leverage(clutch_pedal_ratio: Array, clutch_master_bore: Array, clutch_slave_bore: Array, clutch_fork_ratio: Array) -> Array:
    return pedal_leverage(clutch_pedal_ratio, clutch_master_bore, clutch_slave_bore, clutch_fork_ratio)


@check(
    "Does the pedal free the clutch, and not too far?",
    "mm",
    Own("bearing travel between what is needed and the most that the cover stands"),
    "Too little travel grates the gears; too much takes the cover over centre.",
    decides=False,
    resolved_by=("other_slave",),
    criterion="clutch",
    words={
        "clash": "bearing travels {release_travel}, {clutch_release_travel} to {clutch_release_travel_max} is wanted; "
        "a slave of {slave_bore_made} gives {release_travel_after}"
    },
)
def release_travel(
    clutch_pedal_travel: Array,
    clutch_pedal_ratio: Array,
    clutch_master_bore: Array,
    clutch_slave_bore: Array,
    clutch_fork_ratio: Array,
    clutch_free_play: Array,
    clutch_release_travel: Array,
    clutch_release_travel_max: Array,
    release_type: Array,
) -> Reading:
    """A concentric slave brings its own travel: the question is then its maker's."""
    slave = slave_travel(clutch_pedal_travel, clutch_pedal_ratio, clutch_master_bore, clutch_slave_bore)
    travel = bearing_travel(slave, clutch_fork_ratio, clutch_free_play) + 0.0 * release_type
    works = np.minimum(travel - clutch_release_travel, clutch_release_travel_max - travel)
    return Reading(travel, works, works, np.where(release_type == CONCENTRIC, 0.0, np.where(np.isnan(release_type), np.nan, 1.0)))


@work("Fit a slave cylinder of another bore", "clutch slave", "bolts back", hours=1.0, cost=45.0,
      words="{slave_bore_made} bore: bearing travel {release_travel_after}")  # fmt: skip
def other_slave(
    release_travel: Reading, release_travel_after: Array, clutch_release_travel: Array, clutch_release_travel_max: Array
) -> Amount:
    asked = np.where(np.isnan(release_travel.applies), np.nan, release_travel.applies)
    needed = np.where(asked == 0, 0.0, np.where(np.isnan(release_travel.works), np.nan, release_travel.works < -1e-7))
    good = (release_travel_after >= clutch_release_travel - 1e-7) & (release_travel_after <= clutch_release_travel_max + 1e-7)
    return Amount(needed, possible=good)


@check(
    "Is there room for the release arm on its side?",
    "",
    Own("release side is not the blocked one"),
    "An arm against the steering or the exhaust is found out last.",
    decides=False,
    resolved_by=("slave_bracket",),
    criterion="clutch",
    words={"clash": "the release arm comes out on the blocked side"},
    known_as="release_side",
)
def release_side_free(release_side: Array, release_type: Array, clutch_blocked_side: Array) -> Reading:
    """1 free, 0 blocked. `either` and a concentric slave have no side."""
    blocked = np.where((release_side == clutch_blocked_side) & (clutch_blocked_side < 2), -1.0, 1.0)
    works = np.where(np.isnan(release_side + clutch_blocked_side), np.nan, blocked)
    applies = np.where((release_type == CONCENTRIC) | (clutch_blocked_side == 2), 0.0, 1.0)
    return Reading(np.where(works < 0, 0.0, works), works, works, applies)


@work("Make a bracket for a slave that pulls from the free side", "clutch slave", "bolts back", tool="welder", hours=4.0, cost=30.0,
      words="a pulling slave reverses the pipe and wants its own return spring")  # fmt: skip
def slave_bracket(release_side_free: Reading) -> Amount:
    works = np.where(release_side_free.applies == 0, 1.0, release_side_free.works)
    return Amount(np.where(np.isnan(works), np.nan, works < 0))


@work("Mind the concentric slave", "clutch slave", "bolts back", hours=1.5, cost=25.0,
      words="gearbox out to reach a leak: fit it new, bleed it before the gearbox goes in, check its stack height")  # fmt: skip
def concentric_slave(release_type: Array) -> Amount:
    return Amount(np.where(np.isnan(release_type), 0.0, release_type == CONCENTRIC))
