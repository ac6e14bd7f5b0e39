"""Engine shift: how far forward the engine goes, its brackets, and the fan before it."""

from __future__ import annotations

import numpy as np

from compare.judge.rules import SAME, Ask, Own, Reading, check, decision, quantity, seat_bound
from compare.judge.seat import Bound, beyond
from compare.ordering import Cut, order, tell
from compare.standards import general_tolerance

Array = np.ndarray


@quantity("mm", "how far forward the engine can go")
def most_shift(
    engine_mounts_shift_slotted: Array,
    engine_mounts_fan_gap: Array,
    engine_mounts_fan_gap_least: Array,
) -> Array:
    room = engine_mounts_fan_gap - engine_mounts_fan_gap_least
    return np.maximum(np.fmin(engine_mounts_shift_slotted, room), 0.0)


@check(
    "Can the engine go as far forward as the seat asks?",
    "mm",
    Own("clear as bolted, tight with the brackets slotted"),
    "Beyond its slots the engine needs new mounts.",
    criterion="fit",
    words={
        "tight": "engine {engine_shift} forward: the brackets are slotted by {brackets_slotted}"
    },
    known_as="engine_shift",
)
def shift_mounts(
    engine_shift: Array, engine_mounts_shift_bolted: Array, engine_mounts_shift_slotted: Array
) -> Reading:
    """An engine that stays where it is asks nothing of its brackets."""
    moved = np.where(engine_shift > SAME, 1.0, 0.0)
    return Reading(
        engine_shift,
        engine_mounts_shift_slotted - engine_shift,
        engine_mounts_shift_bolted - engine_shift,
        moved,
    )


@check(
    "Does the fan stay clear of the radiator?",
    "mm",
    Own("at least the least gap that you accept"),
    "A fan in the radiator empties it.",
    criterion="fit",
    words={"clash": "{fan_gap} left between fan and radiator"},
)
def fan_gap(
    engine_mounts_fan_gap: Array, engine_mounts_fan_gap_least: Array, engine_shift: Array
) -> Reading:
    left = engine_mounts_fan_gap - engine_shift
    spare = left - engine_mounts_fan_gap_least
    return Reading(left, spare, spare, np.where(engine_shift > SAME, 1.0, 0.0))


@decision("Slot the engine brackets", "engine brackets", hours=3.0,
          words="engine {engine_shift} forward; {slot_each} at each place where a bracket slides, "
                "and each mount moves the whole way", when="car")  # fmt: skip
def brackets_slotted(engine_shift: Array, engine_mounts_shift_bolted: Array) -> Ask:
    return Ask(np.where(engine_shift > SAME, engine_shift - engine_mounts_shift_bolted, 0.0))


@quantity("mm", "slot at each place where a bracket slides")
def slot_each(brackets_slotted: Array, engine_mounts_slides: Array) -> Array:
    """Half at each only where a bracket slides in two places."""
    return brackets_slotted / np.where(engine_mounts_slides == 2, 2.0, 1.0)


@seat_bound
def shift_bounds(engine_mounts_shift_bolted: Array) -> list[Bound]:
    start = np.maximum(engine_mounts_shift_bolted, 0.0)
    return [beyond("shift", "brackets_slotted", "brackets", start, 1.0)]


# ---- orders --------------------------------------------------------------------------------------


@order("brackets_slotted", step=90)
def slot_the_brackets(
    slot_each: float, engine_shift: float, engine_mounts_slides: float
) -> list[Cut]:
    where = "in both places where each slides" if engine_mounts_slides == 2 else "at each"
    return [
        Cut(
            "Slot the engine brackets", "engine brackets", "the holes as they are", 0.0, slot_each,
            slot_each + general_tolerance(max(slot_each, 0.5)), of="slot_each",
            measure_before="bolts, holes, and metal behind them",
            note=tell(where + "; every mount moves the whole {shift}; thick washers over the slots", shift=engine_shift),
        )
    ]  # fmt: skip
