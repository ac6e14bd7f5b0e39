"""Hub: the clutch disc's hub on the splines, which disc, which way round, and the guide behind it.

In shaft coordinates (from the tip) the hub runs from reach + its front, disc worn, to reach + its
rear,
clutch released; it must stay between the first and the last full spline.
"""

from __future__ import annotations

import math

import numpy as np

from compare.judge.rules import (
    SAME,
    Ask,
    AtLeast,
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
from compare.standards import general_tolerance, identify_spline

Array = np.ndarray
CONCENTRIC = 1


def engaged_share(front_margin: Array, hub_length: Array) -> Array:
    """Share of the hub that stands on full splines, from its margin at the front [-].

    >>> float(engaged_share(-5.0, 25.0)), float(engaged_share(2.0, 25.0))
    (0.8, 1.0)
    """
    return 1.0 - np.maximum(-front_margin, 0.0) / hub_length


def turned_round(front: Array, rear: Array, thickness: Array) -> tuple[Array, Array]:
    """(front, rear) of the hub [mm] from the friction face with the disc turned round.

    front' = T − rear, rear' = T − front.

    >>> turned_round(-3.0, 25.0, 8.0)
    (-17.0, 11.0)
    """
    return thickness - rear, thickness - front


HUB_REAR = Limit("hub_seat_rear_clear", 2.0, "mm", "practice")
HUB_SHARE = Limit("hub_seat_share_tight", 0.85, "", "practice: share of the hub on full splines")
DISC_DIAMETER = Limit("disc_match_diameter", 0.3, "mm", "practice: as near as a vernier tells")
BOLT_GAP = Limit("disc_bolt_gap", 1.0, "mm", "practice: hub to the heads of the flywheel's bolts")


@decision(
    "Order a clutch disc with the gearbox's hub",
    "clutch",
    unit="",
    blind=True,
    hours=0.5,
    cost=90.0,
    words="{spline_teeth} splines of {spline_diameter}; say both numbers and send a rubbing",
    when="ordered",
)
def disc_ordered(
    spline_teeth: Array,
    spline_diameter: Array,
    clutch_spline_teeth: Array,
    clutch_spline_diameter: Array,
    disc_match_diameter: float,
) -> Ask:
    off = np.abs(spline_diameter - clutch_spline_diameter)
    other = (spline_teeth != clutch_spline_teeth) | (off > disc_match_diameter)
    return Ask(unknown_where(other * 1.0, spline_teeth, clutch_spline_teeth, off))


@check(
    "Do the splines fit the clutch disc?",
    "mm diameter",
    Own("same teeth, diameter within {disc_match_diameter} mm"),
    "A disc of the car's size with the gearbox's hub can be ordered; a wrong hub cannot be forced.",
    criterion="clutch",
    words={
        "clear": "{spline_teeth} splines of {spline_diameter}",
        "clash": "{spline_teeth} splines of {spline_diameter} against the disc's "
        "{clutch_spline_teeth} "
        "of {clutch_spline_diameter}",
    },
)
def disc_match(
    spline_teeth: Array,
    spline_diameter: Array,
    clutch_spline_teeth: Array,
    clutch_spline_diameter: Array,
    disc_ordered: Array,
    disc_match_diameter: float,
) -> Reading:
    off = spline_diameter - clutch_spline_diameter
    works = np.where(spline_teeth == clutch_spline_teeth, disc_match_diameter - np.abs(off), -1.0)
    works = unknown_where(works, spline_teeth, clutch_spline_teeth, off)
    works = np.where(disc_ordered > SAME, disc_match_diameter, works)
    return Reading(np.where(disc_ordered > SAME, 0.0, off), works, works)


# ---- the hub of the disc that will be in the car -------------------------------------------------


@quantity("mm", "front of the hub from the friction face, disc new, as it is usually fitted")
def disc_front(disc_ordered: Array, disc_hub_front: Array, clutch_hub_front: Array) -> Array:
    """The hub of the disc that must be ordered is its own."""
    return np.where(disc_ordered > SAME, disc_hub_front, clutch_hub_front)


@quantity("mm", "rear of that hub from the friction face")
def disc_rear(disc_ordered: Array, disc_hub_rear: Array, clutch_hub_rear: Array) -> Array:
    return np.where(disc_ordered > SAME, disc_hub_rear, clutch_hub_rear)


@quantity("mm", "thickness of that disc")
def disc_thick(disc_ordered: Array, disc_thickness: Array, clutch_disc_thickness: Array) -> Array:
    return np.where(disc_ordered > SAME, disc_thickness, clutch_disc_thickness)


@quantity("mm", "length of the hub")
def hub_length(disc_front: Array, disc_rear: Array) -> Array:
    return disc_rear - disc_front


@choice(
    "which way round the disc is fitted",
    "clutch",
    (
        Option("as it is usually fitted"),
        Option(
            "turned round",
            "Fit the disc turned round",
            hours=0.0,
            words="hub from {hub_front} to {hub_rear} behind the friction face; try that nothing "
            "of it meets flywheel or bolts",
            on="clutch",
            when="car",
        ),
    ),
    gauge="reach",
)
def disc_round(
    reach: Array,
    disc_front: Array,
    disc_rear: Array,
    disc_thick: Array,
    clutch_friction_face: Array,
    clutch_bolt_heads: Array,
    clutch_wear_travel: Array,
    clutch_release_float: Array,
    spline_start_after: Array,
    spline_end: Array,
    crank_bush_recess: Array,
    hub_seat_share_tight: float,
    hub_gap_tight: float,
    disc_bolt_gap: float,
) -> Options:
    """Turned round the hub stands far forward: it must clear the bolts, and a bush that stands
    proud.
    """
    share = (1.0 - hub_seat_share_tight) * (disc_rear - disc_front)

    def margin(front: Array, rear: Array) -> Array:
        base = reach + clutch_friction_face
        ahead = base + front - clutch_wear_travel - spline_start_after + share
        return np.minimum(ahead, spline_end - (base + rear + clutch_release_float))

    front, rear = turned_round(disc_front, disc_rear, disc_thick)
    foremost = clutch_friction_face + front - clutch_wear_travel
    clear_of_bolts = foremost - clutch_bolt_heads - disc_bolt_gap
    proud = np.maximum(-np.nan_to_num(crank_bush_recess), 0.0)
    clear_of_bush = np.where(proud > SAME, foremost - proud - hub_gap_tight, np.inf)
    usual = margin(disc_front, disc_rear)
    other = np.minimum(margin(front, rear), np.minimum(clear_of_bolts, clear_of_bush))
    usual, other = np.broadcast_arrays(usual, other)
    return Options(np.stack([usual, other], axis=-1))


@quantity("mm", "front of the hub from the friction face, as fitted")
def hub_front(disc_round: Array, disc_front: Array, disc_rear: Array, disc_thick: Array) -> Array:
    return np.where(disc_round == 1, disc_thick - disc_rear, unknown_where(disc_front, disc_round))


@quantity("mm", "rear of the hub from the friction face, as fitted")
def hub_rear(disc_round: Array, disc_front: Array, disc_rear: Array, disc_thick: Array) -> Array:
    return np.where(disc_round == 1, disc_thick - disc_front, unknown_where(disc_rear, disc_round))


@quantity("mm", "front of the hub behind the flange, disc worn")
def hub_front_worn(
    clutch_friction_face: Array, hub_front: Array, clutch_wear_travel: Array
) -> Array:
    return clutch_friction_face + hub_front - clutch_wear_travel


@quantity("mm", "rear of the hub behind the flange, released")
def hub_rear_released(
    clutch_friction_face: Array, hub_rear: Array, clutch_release_float: Array
) -> Array:
    return clutch_friction_face + hub_rear + clutch_release_float


@quantity("mm", "hub's margin to the start of the splines, disc worn")
def hub_front_margin(reach: Array, hub_front_worn: Array, spline_start_after: Array) -> Array:
    return reach + hub_front_worn - spline_start_after


@quantity("mm", "hub's margin to the run-out, clutch released")
def hub_rear_margin(reach: Array, hub_rear_released: Array, spline_end: Array) -> Array:
    return spline_end - (reach + hub_rear_released)


@quantity("", "share of the hub on full splines, disc worn")
def hub_share(hub_front_margin: Array, hub_length: Array) -> Array:
    return engaged_share(hub_front_margin, hub_length)


@check(
    "Does the clutch disc's hub stay on full splines, worn and released?",
    "mm",
    Own(
        "rear ≥ {hub_seat_rear_clear} mm clear, ≥ 0 tight; front ≥ 0 clear, "
        "else share ≥ {hub_seat_share_tight} tight"
    ),
    "A hub on the run-out jams and the gearbox will not go home; one half off its splines wears "
    "them away.",
    criterion="fit",
    words={
        "tight": "hub margins {hub_front_margin} front, {hub_rear_margin} rear",
        "clash": "hub margins {hub_front_margin} front, {hub_rear_margin} rear: "
        "the hub stands on the run-out or off its splines",
    },
)
def hub_seat(
    hub_front_margin: Array,
    hub_rear_margin: Array,
    hub_length: Array,
    hub_seat_rear_clear: float,
    hub_seat_share_tight: float,
) -> Reading:
    front_works = hub_front_margin + (1.0 - hub_seat_share_tight) * hub_length
    return Reading(
        np.minimum(hub_front_margin, hub_rear_margin),
        np.minimum(hub_rear_margin, front_works),
        np.minimum(hub_rear_margin - hub_seat_rear_clear, hub_front_margin),
    )


@check(
    "Does the disc's hub stay clear of a bush that stands out of the crankshaft?",
    "mm",
    AtLeast(clear=2.0, tight=1.0),
    "A hub that meets the bush keeps the clutch from closing once the disc has worn.",
    criterion="fit",
    words={
        "tight": "{hub_gap} between the hub, disc worn, and a bush that stands {bush_proud} proud",
        "clash": "{hub_gap} between the hub, disc worn, and a bush that stands {bush_proud} proud",
    },
)
def hub_gap(hub_front_worn: Array, bush_proud: Array) -> Reading:
    gap = hub_front_worn - bush_proud
    asked = unknown_where((bush_proud > SAME) * 1.0, bush_proud)
    return Reading(gap, gap, gap, asked)


# ---- the guide of the release bearing ------------------------------------------------------------


@quantity("mm", "gap between guide and hub, guide as it is")
def guide_gap(
    shaft_stickout: Array, collar_length: Array, reach: Array, hub_rear_released: Array
) -> Array:
    return shaft_stickout - collar_length - (reach + hub_rear_released)


@quantity("", "1 where a guide is asked about: a concentric slave without one slides on none")
def guide_asked(release_type: Array, collar_length: Array) -> Array:
    return np.where(release_type == CONCENTRIC, 0.0, 1.0)


@decision("Shorten the release-bearing guide", "gearbox front cover", "donor cut", tool="lathe", hours=1.0,
          gauge="guide_gap",
          words="guide {collar_length} long; what is left must still guide the bearing",
          when="opened")  # fmt: skip
def collar_cut(guide_gap: Array, guide_asked: Array, collar_gap_tight: float) -> Ask:
    return Ask(np.where(guide_asked > 0, collar_gap_tight - guide_gap, 0.0))


@check(
    "Does the release-bearing guide stay clear of the disc's hub?",
    "mm",
    AtLeast(clear=3.0, tight=1.0),
    "A guide that touches the hub wears through in a week.",
    criterion="clutch",
    words={
        "tight": "{collar_gap} between guide and hub",
        "clash": "the guide meets the hub: {collar_gap}",
    },
)
def collar_gap(guide_gap: Array, collar_cut: Array, guide_asked: Array) -> Reading:
    gap = guide_gap + collar_cut
    return Reading(gap, gap, gap, guide_asked)


# ---- orders --------------------------------------------------------------------------------------


@order("collar_cut", step=60)
def shorten_the_guide(
    collar_length: float, collar_left: float, collar_diameter: float
) -> list[Cut]:
    """To the short side only: what is asked for is air before the hub."""
    least = collar_left - general_tolerance(collar_left)
    return [
        Cut(
            "Shorten the release-bearing guide", "release-bearing guide", "gearbox front face",
            collar_length, least, collar_left, finish="Ra 1.6", of="collar_left",
            measure_before="front face to the guide's end; the bearing on it, at full travel",
            note=tell(
                "square to its bore, chamfer 0.5 × 45° outside so that the bearing does not "
                "catch[; its "
                "outside of {outside} stays as it is]",
                outside=(collar_diameter, "mm diameter"),
            ),
        )
    ]  # fmt: skip


@order("disc_ordered", step=130)
def order_the_disc(
    spline_teeth: float,
    spline_diameter: float,
    clutch_disc_diameter: float,
    disc_front: float,
    disc_rear: float,
) -> list[Cut]:
    known = not math.isnan(spline_teeth + spline_diameter)
    forms = identify_spline(spline_teeth, spline_diameter) if known else []
    note = "[hub from {front} to {rear} behind the friction face, clamped; ][{size} disc]"
    note += "; numbers as of {forms}: equal numbers are no proof" if forms else ""
    return [
        Cut(
            "Order a clutch disc", "clutch disc", "friction face", math.nan, disc_front, disc_rear,
            material=tell(f"{spline_teeth:.0f} splines of {{over}}", over=(spline_diameter, "mm diameter")) if known else "",
            of="disc_hub",
            measure_before="count the splines twice; send a rubbing",
            note=tell(note, front=disc_front, rear=disc_rear, size=clutch_disc_diameter, forms=" or ".join(forms)),
        )
    ]  # fmt: skip
