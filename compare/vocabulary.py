"""Every column and key once: its name, kind of quantity, possible range, meaning and how to measure
it.

Data only. The readers, the templates, the reference page and the workbook's comments are made from
it.
A catalogue column is known to the rules by its own name; a car key by `section_key`, with `car_` in
front where the catalogue uses the same words (see CAR_PREFIXED).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from compare.kinds import KINDS

__all__ = [
    "ASKED_BEFORE",
    "BASE_UNIT",
    "BY_TAPE",
    "CAR_KEYS",
    "CATALOGUE_COLUMNS",
    "CRITERIA",
    "DEFAULT_HALF_WIDTH",
    "GEARS",
    "KEEP",
    "OUTCOMES",
    "PART_COLUMNS",
    "PART_KINDS",
    "SECTIONS",
    "SOURCES",
    "STAGES",
    "STATION_SIDES",
    "TOGETHER",
    "TOOLS",
    "UNDO_STEPS",
    "VERDICTS",
    "VISITS",
    "WORK_STAGES",
    "Term",
    "by_tape",
    "car_name",
    "car_terms_by_name",
    "catalogue_terms",
    "rule_inputs",
]

# The unit in which each kind of quantity is kept after reading, and which a bare number means.
# Angles are typed in degrees and kept in radians.
BASE_UNIT = {kind.name: kind.unit for kind in KINDS.values()}

SOURCES = ("drawing", "measured", "published", "hearsay")
# Half-width of the uniform doubt when a cell states none, by how the dimensions were had.
DEFAULT_HALF_WIDTH: dict[str, dict[str, float]] = {k.name: dict(k.doubt) for k in KINDS.values() if k.doubt}

UNDO_STEPS = ("bolts back", "donor cut", "panel cut", "body cut", "frame cut")
# When a piece of work is done, in the order of work, and what that part of it is called.
WORK_STAGES: dict[str, str] = {
    "fetched": "The gearbox",
    "ordered": "Before the car is taken apart: order and buy",
    "bench": "Before the car is taken apart: on the bench, with the gearbox in hand",
    "out": "The old gearbox out",
    "opened": "Old gearbox out: offer the new one up, then what is made to what is measured there",
    "car": "Old gearbox out: on the car, offered up again before each cut",
    "fit": "The new gearbox in",
    "in": "New gearbox in, the car on its wheels",
}
CHECK_KINDS = ("fit", "road", "wish")
VERDICTS = ("clear", "tight", "clash", "unmeasured")
OUTCOMES = ("bolts in", "goes in with work", "measure first", "ruled out")
CRITERIA = ("cruise", "pull", "undo", "shaft_work", "fit", "driveline", "clutch", "cost")
TOOLS = ("hand tools", "lathe", "mill", "drill press", "grinder", "welder", "press")
GEARS = tuple(f"ratio_{n}" for n in range(1, 9))
STATION_SIDES = ("left", "right", "top", "bottom")


@dataclass(frozen=True)
class Term:
    """One column or key. `low` and `high` bound what is possible, in the base unit (angles in
    degrees).
    """

    name: str
    kind: str
    meaning: str
    measure: str = ""
    tool: str = ""
    low: float = -inf
    high: float = inf
    choices: tuple[str, ...] = ()
    other_text: bool = False
    free_choice: bool = False
    group: str = ""
    section: str = ""
    key: str = ""
    default: float | str | None = None
    exact: bool = False

    @property
    def unit(self) -> str:
        return BASE_UNIT[self.kind]

    @property
    def heading(self) -> str:
        return self.name.replace("_", " ")

    @property
    def stage(self) -> int:
        """The stage in which it is worth asking for, 1 to 4: see STAGES."""
        return STAGE_OF_NAME.get(self.name) or STAGE_OF_GROUP[self.group]


VERNIER, DEPTH, RULE, LEVEL, COUNT, TAPE = (
    "vernier",
    "depth gauge",
    "steel rule",
    "level or angle gauge",
    "count them",
    "tape and straightedge",
)


# Tools that read to a fraction of an inch; all others read thousandths.
BY_TAPE = (RULE, TAPE)
# In which order numbers are worth having, and where each column and key belongs: by group of
# columns or section
# of the car, else by its own name.
STAGES = ("gearing", "shaft and clutch", "seat", "the rest")
STAGE_OF_GROUP = {
    **dict.fromkeys(("identity", "gears", "state", "part", "car", "engine", "tyre", "axle", "cruise"), 1),
    **dict.fromkeys(("front", "input shaft", "clutch", "crank", "bellhousing", "adapter"), 2),
    **dict.fromkeys(("housing", "mount", "shifter", "engine_mounts", "crossmember", "tunnel", "opening", "lever"), 3),
    **dict.fromkeys(("output", "driveshaft", "speedometer", "workshop", "policy"), 4),
}
STAGE_OF_NAME = {
    "engine_backplate": 2,
    **dict.fromkeys(("bell_left", "bell_right", "bell_top", "bell_bottom"), 3),
    **dict.fromkeys(
        ("release_side", "arm_swaps", "fork_ratio", "annulus_inside", "annulus_outside", "annulus_stroke",
         "slave_least", "bearing_bore", "clutch_disc_diameter", "clutch_release_travel", "clutch_release_travel_max",
         "clutch_pedal_travel", "clutch_pedal_ratio", "clutch_master_bore", "clutch_slave_bore", "clutch_fork_ratio",
         "clutch_free_play", "clutch_finger_height", "clutch_bearing_bore", "clutch_blocked_side"), 4,
    ),
}  # fmt: skip


# What settles whether a number is wanted at all, and is asked for before it.
ASKED_BEFORE = {
    **dict.fromkeys(("disc_hub_front", "disc_hub_rear", "disc_thickness"), ("spline_teeth", "spline_diameter")),
    **dict.fromkeys(("fork_ratio", "arm_swaps", "annulus_inside", "annulus_outside", "annulus_stroke", "slave_least"), ("release_type",)),
    **dict.fromkeys(("slip_travel", "output_spline_teeth", "output_spline_diameter"), ("output_type",)),
    "adapter_thickness": ("adapter",), "bellhousing_depth": ("bellhousing",),
}  # fmt: skip
# What one measures in the same breath, and types in one line.
TOGETHER = (
    *(tuple(f"{box}_{side}" for side in STATION_SIDES) for box in ("case", "tail", "bell")),
    ("pilot_diameter", "pilot_length"), ("spline_teeth", "spline_diameter"), ("spline_start", "spline_end"),
    ("collar_length", "collar_diameter"), ("disc_hub_front", "disc_hub_rear", "disc_thickness"),
    ("mount_position", "mount_drop", "mount_tilt"), ("shifter_position", "shifter_offset", "shifter_room"),
    ("annulus_inside", "annulus_outside", "annulus_stroke"), ("output_spline_teeth", "output_spline_diameter"),
    ("cruise_rpm_low", "cruise_rpm_high"), ("crank_bore_diameter", "crank_bore_depth"),
    ("crank_bush_bore", "crank_bush_length", "crank_bush_recess"), ("clutch_hub_front", "clutch_hub_rear"),
    ("clutch_wear_travel", "clutch_release_float"), ("clutch_spline_teeth", "clutch_spline_diameter"),
    ("clutch_release_travel", "clutch_release_travel_max"), ("clutch_pedal_travel", "clutch_pedal_ratio"),
    ("clutch_master_bore", "clutch_slave_bore"), ("engine_mounts_shift_bolted", "engine_mounts_shift_slotted"),
    ("engine_mounts_fan_gap", "engine_mounts_fan_gap_least"), ("car_mount_drop_least", "car_mount_drop_most"),
    ("crossmember_start", "crossmember_end", "crossmember_top"),
    ("opening_start", "opening_end", "opening_left", "opening_right"),
    ("driveshaft_pinion_x", "driveshaft_pinion_drop", "driveshaft_pinion_offset"),
    ("driveshaft_pinion_tilt", "driveshaft_engine_tilt"),
    ("driveshaft_plunge", "driveshaft_plunge_bump", "driveshaft_plunge_droop"),
    ("driveshaft_yoke_spline_teeth", "driveshaft_yoke_spline_diameter"),
)  # fmt: skip


def _in(group: str, *terms: Term) -> tuple[Term, ...]:
    return tuple(Term(**{**term.__dict__, "group": group}) for term in terms)


_NOTE_SIDES = "Straightedge along the axis, rule square to it; the widest place counts, bolts and webs included."

CATALOGUE_COLUMNS: tuple[Term, ...] = (
    *_in(
        "identity",
        Term("name", "text", "what you call this gearbox; every row its own"),
        Term("family", "text", "gearboxes that share parts carry the same family"),
        Term("notes", "text", "anything worth remembering"),
        Term("price", "money", "what the gearbox costs, as offered", low=0, high=1e6),
        Term("mass", "mass", "weight of the gearbox, dry", "Bathroom scale: you with and without it.", "scale", 5, 250),
        Term(
            "source",
            "choice",
            "how its dimensions were had; sets the doubt of every length that states none",
            choices=SOURCES,
        ),
    ),
    *_in(
        "gears",
        *(
            Term(
                f"ratio_{n}",
                "ratio",
                f"ratio of gear {n} (input turns per output turn)",
                "Mark input and output, turn the input, count turns for ten turns of the output.",
                COUNT,
                0.3,
                15,
                exact=True,
            )
            for n in range(1, 9)
        ),
        Term("ratio_reverse", "ratio", "ratio of reverse", "As the forward gears.", COUNT, 0.3, 15, exact=True),
        Term(
            "torque_rating", "torque", "input torque that the gearbox is rated for", "From its maker.", "", 20, 3000,
            exact=True,
        ),
    ),
    *_in(
        "front",
        Term(
            "bellhousing",
            "choice",
            "own: the gearbox brings its bellhousing; car: the car's is kept; else say which",
            choices=("own", "car"),
            other_text=True,
        ),
        Term("backplate", "length", "engine plate between block and bellhousing, where it differs from the car's", "Vernier.", VERNIER, 0, 40),
        Term(
            "bellhousing_depth",
            "length",
            "block rear face to the gearbox's front face, with the bellhousing to be used",
            "Straightedge across the front flange, depth to the gearbox face at three places.",
            DEPTH,
            0,
            400,
        ),
        Term(
            "adapter",
            "choice",
            "plate between engine and gearbox: none, bought, or to make",
            choices=("none", "bought", "to make"),
        ),
        Term(
            "adapter_thickness",
            "length",
            "thickness of that plate; a free choice such as 12..25 mm lets the tool choose",
            "Vernier at four places.",
            VERNIER,
            0,
            120,
            free_choice=True,
        ),
        Term(
            "register_diameter",
            "diameter",
            "the spigot that centres the gearbox in its bellhousing",
            "Vernier, two directions.",
            VERNIER,
            20,
            400,
        ),
    ),
    *_in(
        "input shaft",
        Term(
            "shaft_stickout",
            "length",
            "gearbox front face to the tip of the input shaft",
            "Straightedge on the face, depth to the tip; pull the shaft forward first.",
            DEPTH,
            10,
            500,
        ),
        Term("pilot_diameter", "diameter", "journal at the tip", "Vernier, two places, two directions.", VERNIER, 5, 60),
        Term(
            "pilot_length",
            "length",
            "tip to the shoulder behind the journal",
            "Depth rod from the tip; leave out the radius.",
            VERNIER,
            3,
            120,
        ),
        Term("spline_teeth", "count", "number of splines", "Mark one, go round twice.", COUNT, 4, 60, exact=True),
        Term("spline_diameter", "diameter", "over the splines (major)", "Vernier over opposite splines.", VERNIER, 8, 80),
        Term(
            "spline_start",
            "length",
            "tip to the first full-depth spline",
            "Blue the splines; ignore the lead-in.",
            VERNIER,
            3,
            300,
        ),
        Term(
            "spline_end",
            "length",
            "tip to the last full-depth spline, before the run-out",
            "Where the root begins to climb; a straight scriber shows it.",
            VERNIER,
            10,
            450,
        ),
        Term("case_depth", "length", "depth of the hardened case", "From a drawing; else leave it empty.", "", 0.1, 3),
        Term(
            "collar_length",
            "length",
            "release-bearing guide beyond the front face",
            "Rule along the guide.",
            RULE,
            0,
            250,
        ),
        Term("collar_diameter", "diameter", "outside of that guide", "Vernier.", VERNIER, 10, 120),
        Term("shoulder_diameter", "diameter", "shoulder behind the journal; left out: the splines'", "Vernier.", VERNIER, 8, 90),
        Term(
            "measured_from",
            "choice",
            "where lengths count from: the gearbox's front face, or the front of an integral bell",
            choices=("face", "bell"),
        ),
    ),
    *_in(
        "housing",
        Term(
            "length",
            "length",
            "front face to the centre of the output joint",
            "Tape along the side; for a slip yoke, yoke pushed to its running place.",
            TAPE,
            150,
            1500,
        ),
        Term("case_length", "length", "front face to where the tail begins", "Tape along the side.", TAPE, 50, 1200),
        *(
            Term(
                f"{box}_{side}",
                "length",
                f"axis to the {side} of the {what}",
                _NOTE_SIDES,
                TAPE,
                0,
                400,
            )
            for box, what in (("case", "case"), ("tail", "tail housing"), ("bell", "bellhousing"))
            for side in STATION_SIDES
        ),
    ),
    *_in(
        "mount",
        Term("mount_position", "length", "front face to the centre of the mount pad", "Tape.", TAPE, 30, 1500),
        Term("mount_drop", "length", "axis down to the face of the pad", "Rule square to the axis.", RULE, 0, 300),
        Term("mount_tilt", "angle", "pad against the axis; rear end low is positive", "Level on pad and shaft.", LEVEL, -30, 30),
        Term("mount_pad_length", "length", "fore-aft length of the pad", "Rule.", RULE, 10, 250),
        Term("mount_pad_stock", "length", "metal that may be taken off the pad", "To the nearest bore or web.", DEPTH, 0, 40),
        Term("lug_cut", "length", "metal that may come off the tail's sides", "To the nearest bore or web.", DEPTH, 0, 60),
    ),
    *_in(
        "shifter",
        Term("shifter_position", "length", "front face to the lever", "Tape.", TAPE, 0, 1500),
        Term("shifter_offset", "position", "lever off the axis, right positive", "Rule.", RULE, -200, 200),
        Term("shifter_room", "length", "fore-aft room that turret and lever need", "Lever in all gears.", RULE, 5, 400),
        Term("turret_width", "length", "width of the turret where it comes through the floor", "Vernier or rule.", RULE, 5, 300),
    ),
    *_in(
        "clutch",
        Term("release_type", "choice", "how the clutch is released", choices=("fork", "concentric")),
        Term("release_side", "choice", "side of the release arm", choices=("left", "right", "either")),
        Term("arm_swaps", "choice", "whether the release arm goes across to the other side, and what its slave then does", choices=("no", "pushes", "pulls")),
        Term("disc_hub_front", "position", "friction face to the front of the hub of the disc to be ordered", "Disc maker's drawing, or the disc in hand.", DEPTH, -80, 80),
        Term("disc_hub_rear", "position", "friction face to the rear of that hub", "As the front.", DEPTH, -80, 120),
        Term("disc_thickness", "length", "thickness of that disc, clamped", "Disc maker.", VERNIER, 3, 20),
        Term("fork_ratio", "ratio", "arm travel over bearing travel of the gearbox's own fork", "Arms of the fork.", RULE, 0.5, 6, exact=True),
        Term("annulus_inside", "diameter", "inner diameter of a concentric slave's piston", "From its maker, or vernier.", VERNIER, 15, 120),
        Term("annulus_outside", "diameter", "outer diameter of that piston", "From its maker, or vernier.", VERNIER, 20, 150),
        Term("annulus_stroke", "length", "stroke of a concentric slave", "Vernier.", VERNIER, 3, 60),
        Term("slave_least", "length", "height of a concentric slave with its bearing, pushed back", "Depth gauge on the bench.", DEPTH, 15, 200),
        Term("bearing_bore", "diameter", "bore of the release bearing's carrier", "Inside vernier.", VERNIER, 10, 120),
    ),
    *_in(
        "state",
        Term("status", "choice", "how far you are with it", choices=("considering", "bought", "sold", "rejected")),
        Term("seller", "text", "who offers it"),
        Term("seen_on", "text", "when you saw it"),
    ),
    *_in(
        "output",
        Term("output_spline_teeth", "count", "splines of the output shaft", "Count.", COUNT, 4, 60, exact=True),
        Term("output_spline_diameter", "diameter", "over those splines", "Vernier.", VERNIER, 8, 90),
        Term("output_type", "choice", "what the propeller shaft meets", choices=("slip yoke", "flange")),
        Term("slip_travel", "length", "fore-aft travel of the slip yoke", "Yoke fully in to just engaged.", RULE, 0, 200),
        Term("speedo_drive", "choice", "how the speedometer is driven", choices=("cable", "sensor", "none")),
        Term("speedo_driver_teeth", "count", "teeth of the drive on the output shaft", "Count.", COUNT, 1, 40, exact=True),
        Term("speedo_driven_teeth", "counts", "teeth that the driven pinion is made with, as 16..23", "From its maker.", COUNT, 4, 60),
    ),
)

# Typed from the front of an integral bell, these may lie behind it: the lowest possible number then
# [mm].
LOWEST_FROM_BELL = {"shaft_stickout": -400.0, "collar_length": -400.0}

PART_COLUMNS: tuple[Term, ...] = _in(
    "part",
    Term("part", "text", "what you call this part; every row its own"),
    Term(
        "kind",
        "text",
        "input shaft, tail housing, adapter plate, bellhousing ...; a build takes at most one of a kind",
    ),
    Term("fits", "text", "the name or the family of the gearboxes that it fits"),
)

# What reports call the gearbox that is in the car, where it stands in the ranking.
KEEP = "keep today's gearbox"
# Kinds of parts that swaps are made with (practice); any other is a kind of its own.
PART_KINDS = (
    "input shaft", "output shaft", "tail housing", "tail", "case", "gear set", "adapter plate", "bellhousing", "front cover", "guide",
    "pilot bush", "flywheel", "clutch disc", "clutch cover", "release bearing", "release fork", "slave cylinder", "mount", "crossmember",
    "shifter", "shift extension", "yoke", "flange", "propeller shaft", "speedometer gear", "axle", "tyre",
)  # fmt: skip

CAR_PREFIXED = ("mount", "bellhousing", "adapter")


def car_name(section: str, key: str) -> str:
    """The name by which rules know a car key.

    >>> car_name("crank", "bore_depth"), car_name("mount", "tilt")
    ('crank_bore_depth', 'car_mount_tilt')
    """
    return f"car_{section}_{key}" if section in CAR_PREFIXED else f"{section}_{key}"


def _keys(section: str, *terms: Term) -> tuple[Term, ...]:
    return tuple(
        Term(**{**t.__dict__, "section": section, "key": t.name, "name": car_name(section, t.name), "group": section})
        for t in terms
    )


_SIDES_NOTE = "x from the block's rear face; the inside of the sheet metal, from the axis"

CAR_KEYS: tuple[Term, ...] = (
    *_keys(
        "car",
        Term("name", "text", "what you call the car"),
        Term("source", "choice", "how the car's dimensions were had", choices=SOURCES, default="measured"),
        Term("mass", "mass", "as driven, with driver and fuel", "Weighbridge, or papers plus people.", "scale", 200, 12000),
        Term("frontal_area", "area", "frontal area", "0.84 × width × height is near.", TAPE, 0.5, 10),
        Term("drag_coefficient", "number", "drag coefficient", "Old saloon about 0.45, van 0.5, open car 0.6.", "", 0.1, 1.5),
        Term("rolling_resistance", "number", "rolling resistance coefficient", "0.015 is usual.", "", 0.005, 0.05, default=0.015),
        Term("driveline_efficiency", "fraction", "power that reaches the wheels", "", "", 0.5, 1, default=0.92),
    ),
    *_keys(
        "engine",
        Term("torque_curve", "curve", "[[rpm, torque], ...], at least two points", "Maker's curve or rolling road."),
        Term("redline", "rpm", "highest speed you allow", "", "", 1000, 15000),
        Term("slowest_pull", "rpm", "lowest speed at which it pulls cleanly", "Try it on a hill in top.", "", 400, 6000),
        Term("backplate", "length", "engine plate between block and bellhousing", "Vernier at the edge.", VERNIER, 0, 40, default=0.0),
    ),
    *_keys(
        "tyre",
        Term("size", "tyre", "as on the side wall: 165/80R13, 155R13, 5.60-15"),
        Term(
            "rolling_circumference",
            "length",
            "one turn of the driven wheel on the road, laden",
            "Chalk the tyre and the floor, roll five turns, divide.",
            TAPE,
            1000,
            4000,
        ),
    ),
    *_keys("axle", Term("ratio", "ratio", "final drive ratio", "Turn the propeller shaft, count.", COUNT, 1, 12, exact=True)),
    *_keys(
        "cruise",
        Term("speed", "speed", "the speed that you want to hold", "", "", 20, 300),
        Term("rpm_low", "rpm", "lowest engine speed you want there", "", "", 500, 10000),
        Term("rpm_high", "rpm", "highest engine speed you want there", "", "", 500, 12000),
    ),
    *_keys(
        "crank",
        Term("flange_position", "position", "block rear face to crankshaft flange, rearward positive",
             "Straightedge on the block, depth to the flange.", DEPTH, -150, 150),
        Term("bore_diameter", "diameter", "bore that takes the pilot bush", "Inside vernier.", VERNIER, 8, 80),
        Term("bore_depth", "length", "flange to the bottom of that bore", "Depth gauge to solid metal.", DEPTH, 5, 150),
        Term("mouth_diameter", "diameter", "counterbore at the flange, if any", "Inside vernier.", VERNIER, 0, 150, default=0.0),
        Term("mouth_depth", "length", "depth of that counterbore", "Depth gauge.", DEPTH, 0, 80, default=0.0),
        Term("bush_bore", "diameter", "bore of the present bush", "Inside vernier.", VERNIER, 5, 60),
        Term("bush_length", "length", "length of the present bush", "Vernier.", VERNIER, 4, 80),
        Term("bush_recess", "position", "flange to the near end of the bush", "Depth gauge.", DEPTH, -30, 80),
        Term("pilot", "choice", "what carries the shaft's journal", choices=("bush", "needle"), default="bush"),
    ),
    *_keys(
        "clutch",
        Term("friction_face", "position", "flange to the flywheel's friction face, rearward positive",
             "Straightedge on the face, depth to the flange.", DEPTH, -50, 120),
        Term("hub_front", "position", "friction face to the front of the disc's hub; rearward positive",
             "Disc clamped in the cover, depth gauge through the middle.", DEPTH, -80, 80),
        Term("hub_rear", "position", "friction face to the rear of the hub", "As the front.", DEPTH, 0, 120),
        Term("wear_travel", "length", "how far the hub moves forward as the disc wears", "About half of the lining's wear.", "", 0, 8),
        Term("release_float", "length", "how far the hub can move back when released", "", "", 0, 10),
        Term("disc_diameter", "diameter", "disc", "Rule.", RULE, 80, 450),
        Term("spline_teeth", "count", "splines in the disc's hub", "Count.", COUNT, 4, 60, exact=True),
        Term("spline_diameter", "diameter", "over the splines", "Vernier.", VERNIER, 8, 80),
        Term("release_travel", "length", "travel needed at the release bearing", "Clutch data.", "", 1, 40, exact=True),
        Term("release_travel_max", "length", "most travel that the cover stands", "Clutch data.", "", 1, 60, exact=True),
        Term("pedal_travel", "length", "travel of the pedal pad", "Rule.", RULE, 30, 350),
        Term("pedal_ratio", "ratio", "pad travel over pushrod travel", "Arms of the pedal.", RULE, 1, 15, exact=True),
        Term("master_bore", "diameter", "master cylinder", "Cast on it.", VERNIER, 8, 40, exact=True),
        Term("slave_bore", "diameter", "slave cylinder", "Cast on it.", VERNIER, 8, 60, exact=True),
        Term("fork_ratio", "ratio", "arm travel over bearing travel", "Arms of the fork.", RULE, 0.5, 6, exact=True),
        Term("free_play", "length", "free play at the bearing", "", "", 0, 10, exact=True),
        Term("finger_height", "length", "friction face to the tips of the cover's fingers", "Depth gauge through the cover.", DEPTH, 5, 120),
        Term("bearing_bore", "diameter", "bore of the release bearing's carrier", "Inside vernier.", VERNIER, 10, 120),
        Term("disc_thickness", "length", "thickness of the disc, clamped", "Vernier.", VERNIER, 3, 20),
        Term("bolt_heads", "position", "flange to the heads of the flywheel's bolts, rearward positive", "Depth gauge.", DEPTH, -30, 60),
        Term("blocked_side", "choice", "side with no room for the release arm", choices=("left", "right", "none"), default="none"),
    ),
    *_keys(
        "bellhousing",
        Term("depth", "length", "block rear face to gearbox face of the car's own bellhousing", "Depth at three places.", DEPTH, 0, 400),
        Term("register_diameter", "diameter", "its bore for the gearbox's register", "Inside vernier.", VERNIER, 20, 400),
    ),
    *_keys("adapter", Term("thickness", "length", "plate for gearboxes whose adapter is to make", "", "", 0, 120, free_choice=True)),
    *_keys(
        "engine_mounts",
        Term("shift_bolted", "length", "how far forward the engine can go as it is bolted", "", RULE, 0, 150, exact=True),
        Term("shift_slotted", "length", "how far with the brackets slotted", "", RULE, 0, 150, exact=True),
        Term("fan_gap", "length", "fan to radiator today", "Rule.", RULE, 0, 300),
        Term("fan_gap_least", "length", "least gap that you accept", "", "", 0, 100, exact=True),
        Term("pivot_x", "position", "x of the line about which engine and gearbox tilt when the rear is lifted", "Middle of the front mounts.", TAPE, -1500, 400),
        Term("slides", "count", "in how many places a bracket moves: 1 or 2", "Look.", "", 1, 2, exact=True),
    ),
    *_keys(
        "mount",
        Term("zone", "pair", "[x, x] where the crossmember can take the mount", "Tape from the block's rear face.", TAPE, 50, 2500),
        Term("drop_least", "length", "least drop from the axis to the pad that fits", "Rule.", RULE, 0, 400),
        Term("drop_most", "length", "most drop", "Rule.", RULE, 0, 400),
        Term("tilt", "angle", "mount face against the crankshaft axis", "Level.", LEVEL, -30, 30),
        Term("none", "flag", "true where any place takes the mount"),
    ),
    *_keys(
        "crossmember",
        Term("start", "length", "x of its front edge", "Tape from the block's rear face.", TAPE, 50, 2500),
        Term("end", "length", "x of its rear edge", "Tape.", TAPE, 50, 2500),
        Term("top", "length", "drop of its top below the axis", "Straightedge and rule.", TAPE, 0, 400),
        Term("lip_depth", "length", "front lip that can be trimmed with the box section left whole", "Rule.", RULE, 0, 150, default=0.0, exact=True),
        Term("removable", "flag", "true when the crossmember unbolts"),
        Term("none", "flag", "true where there is no crossmember under the gearbox"),
    ),
    *_keys(
        "tunnel",
        Term("removable", "flag", "true when the tunnel cover unbolts"),
        Term("stations", "stations", "[{x, left, right, top, bottom}, ...]: " + _SIDES_NOTE, "A card template per station.", TAPE),
        Term("pieces", "pieces", "[{start, end, removable}, ...]: where there is a tunnel, and what of it unbolts"),
        Term("none", "flag", "true where there is no tunnel"),
    ),
    *_keys(
        "opening",
        Term("start", "length", "x of the front edge of the hole for the lever", "Tape.", TAPE, 50, 2500),
        Term("end", "length", "x of its rear edge", "Tape.", TAPE, 50, 2500),
        Term("left", "length", "axis to its left edge", "Rule.", RULE, 0, 300),
        Term("right", "length", "axis to its right edge", "Rule.", RULE, 0, 300),
        Term("none", "flag", "true where nothing is in the way of the lever"),
    ),
    *_keys("lever", Term("crank_most", "length", "how far a cranked lever can bring the knob", "", RULE, 0, 300, default=0.0, exact=True)),
    *_keys(
        "driveshaft",
        Term("pinion_x", "length", "x of the joint centre at the axle", "Tape at ride height.", TAPE, 500, 6000),
        Term("pinion_drop", "position", "that joint below the crankshaft axis produced rearward", "Straightedge.", TAPE, -500, 800),
        Term("pinion_offset", "position", "that joint right of the axis", "Tape.", TAPE, -500, 500),
        Term("pinion_tilt", "angle", "pinion axis against level; going rearward and down is positive", "Level on the flange.", LEVEL, -20, 20),
        Term("engine_tilt", "angle", "crankshaft axis against level; going rearward and down is positive", "Level on the block.", LEVEL, -20, 20),
        Term("tube_diameter", "diameter", "outside of the propeller shaft's tube", "Vernier.", VERNIER, 20, 200),
        Term("tube_wall", "length", "its wall", "From the maker; 1.6 to 2.1 mm is usual.", "", 0.5, 12, exact=True),
        Term("plunge", "length", "fore-aft travel that the axle asks for", "Bump to droop.", RULE, 0, 200),
        Term("plunge_bump", "length", "travel into the gearbox from ride height to bump", "Axle jacked up.", RULE, 0, 150),
        Term("plunge_droop", "length", "travel out of it from ride height to droop", "Wheels hanging.", RULE, 0, 150),
        Term("pinion_arm", "length", "centre of the axle tube to the pinion's joint", "Tape.", TAPE, 50, 600),
        Term("greatest_speed", "speed", "the fastest that you let the car go, downhill included", "", "", 40, 350),
        Term("yoke_spline_teeth", "count", "splines of today's slip yoke or flange", "Count.", COUNT, 4, 60, exact=True),
        Term("yoke_spline_diameter", "diameter", "over those splines", "Vernier.", VERNIER, 8, 90),
        Term("longest_piece", "length", "longest one-piece shaft that you would run", "", "", 300, 3000, exact=True),
    ),
    *_keys("speedometer", Term("turns_per_km", "per_km", "cable turns per km, as printed on the dial", "On the dial.", "", 100, 5000, exact=True)),
    *_keys(
        "workshop",
        Term("rate", "money", "what you count for an hour of your own", low=0, high=1000),
        Term("outside_rate", "money", "an hour of a machine shop", low=0, high=1000),
        Term("tools", "words", "tools that you own: " + ", ".join(TOOLS[1:]), choices=TOOLS),
    ),
    *_keys(
        "policy",
        Term("deepest_cut", "choice", "the deepest step of the undo scale that you permit", choices=UNDO_STEPS, default="body cut"),
        Term("budget", "money", "most that gearbox, parts and work may cost", low=0, high=1e6, default=inf),
        Term("musts", "names", "wishes that must be met: names of checks"),
        Term("sure_enough", "number", "the chance at which you call it good", low=0.5, high=0.99, default=0.8),
        Term("resale", "fraction", "share of the price that a gearbox fetches when it does not go in", low=0, high=1, default=0.5),
        Term("currency", "text", "the currency of all money here"),
        Term("transport", "money", "what fetching a gearbox costs", low=0, high=1e5, default=0.0),
    ),
)

# The likely range of a number that nobody has given: common practice of the trade for gearboxes of
# older cars
# with an engine lengthwise, no source. Absolute, in the base unit; or a share of another dimension
# of the same owner.
LIKELY: dict[str, tuple[float, float]] = {
    "shaft_stickout": (140, 210), "pilot_diameter": (12, 20), "pilot_length": (15, 32), "spline_teeth": (10, 26),
    "spline_diameter": (22, 31), "case_depth": (0.5, 1.0), "collar_diameter": (28, 42), "length": (600, 800),
    "case_left": (85, 125), "case_right": (85, 125), "case_top": (85, 125), "case_bottom": (90, 135),
    "tail_left": (50, 85), "tail_right": (50, 85), "tail_top": (55, 95), "tail_bottom": (60, 100),
    "bell_left": (150, 190), "bell_right": (150, 190), "bell_top": (150, 185), "bell_bottom": (150, 185),
    "mount_drop": (70, 120), "mount_tilt": (-4, 4), "mount_pad_length": (40, 90), "mount_pad_stock": (2, 8),
    "shifter_offset": (-20, 20), "shifter_room": (60, 110), "turret_width": (50, 90), "slip_travel": (35, 75),
    "output_spline_diameter": (22, 32), "output_spline_teeth": (16, 31), "disc_hub_front": (-12, 2), "disc_hub_rear": (18, 32),
    "disc_thickness": (7, 9.5), "annulus_inside": (34, 42), "annulus_outside": (48, 56), "annulus_stroke": (10, 16),
    "slave_least": (45, 75), "register_diameter": (110, 180), "torque_rating": (80, 400),
    "bellhousing_depth": (140, 200),
    "crank_flange_position": (-5, 40), "crank_bore_diameter": (18, 30), "crank_bore_depth": (25, 50), "crank_bush_bore": (11, 18),
    "crank_bush_length": (15, 28), "crank_bush_recess": (0, 8), "clutch_friction_face": (15, 35), "clutch_hub_front": (-8, 2),
    "clutch_hub_rear": (18, 30), "clutch_wear_travel": (0.5, 2), "clutch_release_float": (0.5, 2), "clutch_release_travel": (7, 9),
    "clutch_release_travel_max": (10, 14), "clutch_pedal_travel": (120, 155), "clutch_pedal_ratio": (4.5, 7),
    "clutch_fork_ratio": (1.7, 2.5), "clutch_free_play": (0.5, 2.5), "clutch_finger_height": (30, 55), "clutch_bolt_heads": (5, 12),
    "clutch_disc_thickness": (7, 9.5), "engine_mounts_shift_bolted": (0, 5),
    "engine_mounts_shift_slotted": (0, 15), "engine_mounts_fan_gap": (15, 60), "engine_mounts_fan_gap_least": (10, 20),
    "engine_mounts_pivot_x": (-500, -150), "car_mount_tilt": (-4, 4), "driveshaft_longest_piece": (1200, 1600),
    "driveshaft_pinion_arm": (150, 300), "driveshaft_tube_wall": (1.6, 2.1), "driveshaft_plunge": (20, 50),
    "workshop_outside_rate": (40, 90), "driveshaft_yoke_spline_diameter": (22, 32), "driveshaft_yoke_spline_teeth": (16, 31),
}  # fmt: skip
LIKELY_SHARE: dict[str, tuple[str, float, float]] = {
    "spline_start": ("shaft_stickout", 0.12, 0.27),
    "spline_end": ("shaft_stickout", 0.36, 0.58),
    "collar_length": ("shaft_stickout", 0.4, 0.58),
    "case_length": ("length", 0.35, 0.55),
    "mount_position": ("length", 0.75, 0.95),
    "shifter_position": ("length", 0.8, 1.1),
}
LIKELY_STANDING = "common practice, no source"

# Keys that only refine a judgement: without them another number serves.
NOT_NEEDED = (
    "driveshaft_greatest_speed", "driveshaft_plunge_bump", "driveshaft_plunge_droop", "engine_mounts_slides",
    "opening_left", "opening_right", "clutch_disc_diameter", "car_adapter_thickness", "tyre_size",
    "clutch_bearing_bore", "driveshaft_pinion_arm", "driveshaft_longest_piece", "driveshaft_tube_wall",
    "driveshaft_yoke_spline_teeth", "driveshaft_yoke_spline_diameter", "engine_mounts_pivot_x", "tunnel_pieces",
    "tyre_rolling_circumference", "clutch_slave_bore", "driveshaft_plunge",
)  # fmt: skip
# Columns that only some gearboxes need, or for which another number serves where they are blank.
ONLY_SOME = (
    "backplate", "adapter_thickness", "shoulder_diameter", "measured_from", "case_depth", "lug_cut", "mount_pad_stock",
    "disc_hub_front", "disc_hub_rear", "disc_thickness", "arm_swaps", "fork_ratio", "annulus_inside", "annulus_outside",
    "annulus_stroke", "slave_least", "bearing_bore", "bell_left", "bell_right", "bell_top", "bell_bottom", "mass",
    "ratio_reverse", "mount_pad_length", "collar_diameter", "turret_width", *GEARS,
)  # fmt: skip
# What a propeller shaft's length and ends are judged against: numbers of today's gearbox.
NEEDED_OF_TODAY = ("length", "output_type")

# Rules that the engine or the Report must know by name: what the seat is settled from, and what
# rows show.
SEAT_INPUTS = ("depth_of_face", "thickness_low", "thickness_high", "most_shift")
THICKNESS_WINDOWS = ("thickness_window", "thickness_window_clear")
CRUISE_SPEED_OF_ENGINE, PULL_IN_TOP, CIRCUMFERENCE = "cruise_rpm", "top_gear_pull", "rolling_circumference"
GEAR_FACTS = {
    "speed_at_redline_kmh": "gear_redline_speed", "rpm_at_cruise": "gear_cruise_rpm",
    "gradient_at_cruise_percent": "gear_gradient", "top_speed_kmh": "gear_top_speed",
}  # fmt: skip

# Occasions to measure, and where each dimension is had: by group of columns, by section of the car,
# by key.
VISITS = ("at the seller's", "from the driver's seat", "under the car", "with the gearbox out", "at the bench")
VISIT_OF_GROUP = dict.fromkeys(
    ("identity", "gears", "front", "input shaft", "housing", "mount", "shifter", "clutch", "state", "output", "part"),
    VISITS[0],
)
VISIT_WHEN_BOUGHT = VISITS[4]
VISIT_OF_SECTION = {
    **dict.fromkeys(
        ("car", "engine", "cruise", "opening", "lever", "speedometer", "workshop", "policy"), VISITS[1]
    ),
    **dict.fromkeys(
        ("tyre", "axle", "engine_mounts", "mount", "crossmember", "tunnel", "driveshaft"), VISITS[2]
    ),
    **dict.fromkeys(("crank", "clutch", "bellhousing", "adapter"), VISITS[3]),
}
VISIT_OF_KEY = {
    **dict.fromkeys(("clutch_pedal_travel", "clutch_pedal_ratio", "clutch_free_play"), VISITS[1]),
    **dict.fromkeys(("clutch_master_bore", "clutch_slave_bore", "clutch_fork_ratio"), VISITS[2]),
    "engine_backplate": VISITS[3],
}
# Minutes: one dimension with its tool, and getting ready for a visit. Common practice, no source.
# On stands at
# home taking the gearbox out is half of the six to ten hours that out and in take.
MINUTES_OF_TOOL = {VERNIER: 3, DEPTH: 4, RULE: 3, LEVEL: 4, COUNT: 2, TAPE: 5, "scale": 15, "": 5}
MINUTES_OF_VISIT = {VISITS[0]: 10, VISITS[1]: 0, VISITS[2]: 20, VISITS[3]: 240, VISITS[4]: 0}
# What can be changed about a dimension, and how; what is not here can only be measured.
CHANGED_BY = {
    **dict.fromkeys(("shaft_stickout", "pilot_diameter", "pilot_length", "spline_start", "spline_end", "spline_teeth",
                     "spline_diameter", "collar_length", "length", "mount_position", "mount_drop", "shifter_position",
                     "slip_travel", "bellhousing_depth", "adapter_thickness", "torque_rating"), "hunt for another part"),
    **dict.fromkeys(("lug_cut", "mount_pad_stock"), "machine"),
    **dict.fromkeys(("clutch_hub_front", "clutch_hub_rear", "clutch_slave_bore", "clutch_master_bore", "axle_ratio",
                     "tyre_rolling_circumference", "driveshaft_tube_diameter"), "buy"),
    **dict.fromkeys(("engine_mounts_shift_slotted", "car_mount_zone_start", "car_mount_zone_end", "engine_mounts_fan_gap",
                     "driveshaft_pinion_tilt"), "move"),
    "policy_deepest_cut": "permit",
    "policy_budget": "permit",
}  # fmt: skip

# How far a decision's figure can go either way from nothing, by its unit (angles in degrees), for
# sweeps; common
# practice, no source. What is ordered or chosen by name is no length and is not swept.
DECISION_RANGE = {"mm": (0.0, 200.0), "mm diameter": (0.0, 30.0), "rad": (0.0, 8.0)}
SEAT_RANGE = {"adapter_thickness": (0.0, 120.0), "engine_shift": (0.0, 150.0)}

SECTIONS: tuple[str, ...] = tuple(dict.fromkeys(t.section for t in CAR_KEYS)) + ("gearbox", "limits", "weights")


# Limits on which makers and shops disagree: (limit of ours, what, [(figure, who)]).
DIFFERING: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...] = (
    ("joint_angle_free", "joint angles, each and between both", (
        ("at most 3°, within 1°", "a joint maker's operating angle guide"),
        ("at most 5°, within 1.5°", "a second published manual"),
        ("at most 6°, within 1.5°", "a third published manual"),
        ("0.5° to 3°, equal", "light commercial body builder manual, 2015, p. 95"),
        ("1° to 6°, equal", "body and equipment mounting directives, 2020, 6.10"),
    )),
    ("joint_cancel_acceleration", "acceleration that two joints leave", (
        ("400 rad/s²", "SAE AE-7, 3.1.1"),
        ("300 rad/s² torsional, 1000 rad/s² inertial", "commercial design guide (from memory)"),
    )),
    ("whirl_share_clear", "share of the whirling speed that one runs", (
        ("0.70", "IMS Ltd, technical data; two calculators' notes"),
        ("0.70 to 0.80", "a third calculator's notes"),
        ("0.49 to 0.60", "commercial maker, slip inboard or outboard (from memory)"),
    )),
    ("axle_wedge_clear", "wedges under an axle", (
        ("½° to about 4°, never stacked", "NAVEDTRA 14050A"),
        ("2° to 8°", "general trade, as sold"),
    )),
    ("slave_standoff_tight", "air before a concentric slave", (
        ("0.100 to 0.150 in", "a shop's instructions"),
        ("1/8 to 1/4 in, 4 mm aimed at", "a second shop's"),
        ("0.030 to 0.100 in", "a third shop's"),
    )),
    ("pilot_clearance_clear", "running clearance of a pilot bush", (
        ("0.0015 in per inch of bore", "RBC Bearings, self-lubricating"),
        ("0.001 to 0.002 in", "machinists' practice"),
        ("1.5 to 2.5 ‰ with oil, twice that with grease", "a maker of turned bronze"),
        ("16 to 52 µm at 12 to 18 mm", "ISO 286-2, H7/f7"),
    )),
    ("bush_wall_clear", "least wall of a pilot bush", (
        ("3.0 mm, a thin series 2.0", "ISO 2795 (from memory, three sizes seen)"),
        ("√(0.5 d), 2.45 at 12 mm", "SL Gleitlagertechnik, graphite bronze"),
    )),
    ("undercut_small", "undercut radius at 3 to 10 mm", (
        ("0.2 mm", "one table of DIN 509"), ("0.4 mm", "the other"),
    )),
    ("housing_bore_runout", "run-out of a bellhousing's bore", (
        ("0.20 to 0.25 mm", "Cummins N14 specifications, by SAE size"),
        ("0.254 mm from the main bearings, 0.508 from the flange", "a truck-engine maker"),
    )),
    ("bearing_reach_clear", "pedal's travel left after the clutch is free", (
        ("at least 14.3; 15; 25 mm", "three vehicle makers' data tables"),
    )),
)  # fmt: skip


def catalogue_terms() -> dict[str, Term]:
    return {term.name: term for term in CATALOGUE_COLUMNS}


def car_terms_by_name() -> dict[str, Term]:
    return {term.name: term for term in CAR_KEYS}


def by_tape() -> frozenset[str]:
    """The columns and keys that are measured with a tape or a rule."""
    return frozenset(t.name for t in (*CATALOGUE_COLUMNS, *CAR_KEYS) if t.tool in BY_TAPE)


# Names that one key becomes on its way into the sums.
TYRE_PARTS = ("tyre_width", "tyre_aspect", "tyre_rim", "tyre_radial", "tyre_scale")
CURVE_PARTS = ("engine_curve_rpm", "engine_curve_torque")
PAIR_PARTS = ("car_mount_zone_start", "car_mount_zone_end")
PIECE_PARTS = ("tunnel_piece_start", "tunnel_piece_end", "tunnel_piece_removable")
STATION_PARTS = ("tunnel_x", *(f"tunnel_{side}" for side in STATION_SIDES))
COLLECTED = {
    "ratios": GEARS,
    "adapter_thickness_low": ("adapter_thickness",),
    "adapter_thickness_high": ("adapter_thickness",),
    "car_adapter_thickness_low": ("car_adapter_thickness",),
    "car_adapter_thickness_high": ("car_adapter_thickness",),
    "speedo_driven_least": ("speedo_driven_teeth",),
    "speedo_driven_most": ("speedo_driven_teeth",),
    "parts_inside": (),
    "gear_count": GEARS,
    **dict.fromkeys(PIECE_PARTS, ("tunnel_pieces",)),
    **dict.fromkeys(TYRE_PARTS, ("tyre_size",)),
    **dict.fromkeys(CURVE_PARTS, ("engine_torque_curve",)),
    **dict.fromkeys(PAIR_PARTS, ("car_mount_zone",)),
    **dict.fromkeys(STATION_PARTS, ("tunnel_stations",)),
}


def rule_inputs() -> dict[str, tuple[str, ...]]:
    """Every name a rule may ask for, with the terms that feed it. `present_` is the car's own gearbox."""
    numeric = [t for t in CATALOGUE_COLUMNS if t.kind != "text"]
    names: dict[str, tuple[str, ...]] = {t.name: (t.name,) for t in numeric}
    names |= {f"present_{t.name}": (f"present_{t.name}",) for t in numeric}
    names |= {t.name: (t.name,) for t in CAR_KEYS if t.kind not in ("text", "words", "names")}
    # The typed thickness may be a free choice; rules see its ends, and the solved one under its
    # plain name.
    for name in ("adapter_thickness", "car_adapter_thickness"):
        names.pop(name)
    return names | COLLECTED
