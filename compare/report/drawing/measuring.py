"""The measuring drawings: what every letter stands for, and where it is measured.

One table: a sheet is an outline (of no particular gearbox or car, not to scale) and its marks, in
order; a mark is the name of a column or key and where its dimension lies. Letters follow from the
order: capitals on the gearbox, small letters on the car, so that no two dimensions share one.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from itertools import islice

from compare.answer.stages import term_of
from compare.judge.rules import Shape
from compare.report.drawing.layout import arrange
from compare.report.drawing.model import Drawing, Point

__all__ = ["LETTERS", "SHEETS", "Mark", "Sheet", "letter_of", "measuring_drawing", "sheet_of"]


@dataclass(frozen=True)
class Mark:
    """One dimension on a sheet: its name, how it is drawn, and where (a zone has two pairs of
    points).
    """

    name: str
    form: str
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Sheet:
    """One measuring drawing. `of` is `gearbox` or `car`; `signs` says which way counts as positive.

    stretch: heights are drawn so many times larger, to keep what is tall and short on one page.
    """

    name: str
    title: str
    of: str
    outline: tuple[Shape, ...]
    marks: tuple[Mark, ...]
    signs: tuple[str, ...] = field(default=())
    stretch: float = 1.0


def _area(role: str, *points: Point) -> Shape:
    return Shape("polygon", role, points)


def _box(role: str, x0: float, x1: float, z0: float, z1: float) -> Shape:
    return _area(role, (x0, z0), (x1, z0), (x1, z1), (x0, z1))


def _line(role: str, *points: Point) -> Shape:
    return Shape("line", role, points)


def _both(role: str, x0: float, x1: float, r0: float, r1: float) -> tuple[Shape, Shape]:
    """Above and below the axis."""
    return _box(role, x0, x1, r0, r1), _box(role, x0, x1, -r1, -r0)


def _ring(role: str, x: float, z: float, r: float) -> Shape:
    return Shape("circle", role, ((x, z), (x + r, z)))


def _word(text: str, x: float, z: float) -> Shape:
    return Shape("note", "thin", ((x, z),), text)


def _along(name: str, x0: float, x1: float, z: float) -> Mark:
    return Mark(name, "dimension", ((x0, z), (x1, z)))


def _up(name: str, x: float, z0: float, z1: float) -> Mark:
    return Mark(name, "dimension", ((x, z0), (x, z1)))


def _across(name: str, x: float, radius: float) -> Mark:
    return _up(name, x, -radius, radius)


def _turn(name: str, vertex: Point, first: Point, second: Point) -> Mark:
    return Mark(name, "angle", (vertex, first, second))


def _at(name: str, x: float, z: float) -> Mark:
    return Mark(name, "note", ((x, z),))


SHAFT = Sheet(
    "shaft",
    "Input shaft, gearbox seen from its left, tip to the left",
    "gearbox",
    (
        _box("metal", 0, 26, -7, 7),
        _box("metal", 26, 34, -11, 11),
        _box("metal", 34, 190, -13, 13),
        _line("thin", (34, 10.5), (96, 10.5), (108, 13)),
        _line("thin", (34, -10.5), (96, -10.5), (108, -13)),
        *_both("metal", 112, 190, 15, 20),
        *_both("metal", 184, 190, 20, 48),
        _area("metal", (190, -64), (214, -64), (214, 64), (190, 64)),
        _line("axis", (-10, 0), (226, 0)),
        _word("gearbox", 202, 40),
    ),
    (
        _along("shaft_stickout", 0, 190, -13),
        _across("pilot_diameter", 10, 7),
        _along("pilot_length", 0, 26, 7),
        _across("shoulder_diameter", 31, 11),
        _along("spline_start", 0, 34, 13),
        _along("spline_end", 0, 96, 13),
        _across("spline_diameter", 62, 13),
        _at("case_depth", 18, -7),
        _along("collar_length", 112, 190, 20),
        _across("collar_diameter", 128, 20),
        _across("register_diameter", 184, 48),
    ),
    ("Lengths of the shaft run from its tip, on a bare shaft pulled forward.",),
    0.6,
)

SIDE = Sheet(
    "side",
    "Gearbox from its left side",
    "gearbox",
    (
        _box("car", -196, -170, -120, 120),
        _box("metal", -170, -160, -130, 130),
        _area("metal", (-160, -130), (-20, -95), (-20, 95), (-160, 130)),
        _box("made", -20, 0, -100, 100),
        _box("metal", 0, 230, -105, 95),
        _area("metal", (230, -70), (520, -60), (520, 55), (230, 65)),
        _box("metal", 520, 580, -16, 16),
        _ring("metal", 610, 0, 20),
        _area("metal", (440, -100), (510, -86), (510, -76), (440, -90)),
        _box("clearance", 430, 510, 55, 110),
        _line("metal", (470, 62), (470, 150)),
        _line("axis", (-210, 0), (650, 0)),
        _word("block", -184, 80),
        _word("lever", 470, 146),
        _word("plate", -10, -96),
    ),
    (
        _along("backplate", -170, -160, 130),
        _along("bellhousing_depth", -160, -20, 130),
        _along("adapter_thickness", -20, 0, 100),
        _up("bell_top", -120, 0, 120),
        _up("bell_bottom", -120, 0, -120),
        _along("case_length", 0, 230, 95),
        _along("length", 0, 610, -105),
        _up("case_top", 60, 0, 95),
        _up("case_bottom", 60, 0, -105),
        _up("tail_top", 300, 0, 62),
        _up("tail_bottom", 300, 0, -67),
        _along("mount_position", 0, 475, -93),
        _up("mount_drop", 475, 0, -93),
        _turn("mount_tilt", (440, -100), (510, -100), (510, -86)),
        _along("mount_pad_length", 440, 510, -100),
        _at("mount_pad_stock", 500, -82),
        _along("shifter_position", 0, 470, 150),
        _along("shifter_room", 430, 510, 110),
        _along("slip_travel", 540, 580, 16),
        _across("output_spline_diameter", 560, 16),
    ),
    ("Pad tilt: rear end low is positive.",),
)

ABOVE = Sheet(
    "above",
    "Gearbox from above, left side up",
    "gearbox",
    (
        _area("metal", (-160, -125), (-20, -95), (-20, 95), (-160, 125)),
        _box("metal", 0, 230, -100, 90),
        _area("metal", (230, -65), (520, -58), (520, 58), (230, 65)),
        _box("cut", 340, 380, 61, 74),
        _box("clearance", 430, 510, -46, 26),
        _ring("metal", 470, -10, 8),
        _line("axis", (-190, 0), (560, 0)),
        _word("left", 115, 70),
        _word("turret", 500, -40),
    ),
    (
        _up("bell_left", -110, 0, 114),
        _up("bell_right", -110, 0, -114),
        _up("case_left", 60, 0, 90),
        _up("case_right", 60, 0, -100),
        _up("tail_left", 290, 0, 63.5),
        _up("tail_right", 290, 0, -63.5),
        _up("lug_cut", 340, 61, 74),
        _up("shifter_offset", 470, 0, -10),
        _up("turret_width", 510, -46, 26),
    ),
    ("Lever offset: right of the axis is positive.",),
)

RELEASE = Sheet(
    "release",
    "Disc to be ordered, and concentric slave",
    "gearbox",
    (
        *_both("car", -30, 0, 30, 80),
        *_both("metal", 0, 8, 36, 80),
        *_both("metal", -5, 24, 14, 24),
        *_both("metal", 90, 130, 18, 42),
        *_both("made", 78, 96, 22, 36),
        _line("sheet", (130, -60), (130, 60)),
        _line("axis", (-44, 0), (150, 0)),
        _word("flywheel", -15, 66),
        _word("disc", 4, -70),
        _word("slave", 112, -36),
    ),
    (
        _along("disc_hub_front", -5, 0, -24),
        _along("disc_hub_rear", 0, 24, 24),
        _along("disc_thickness", 0, 8, 80),
        _across("annulus_inside", 86, 22),
        _across("annulus_outside", 78, 36),
        _along("annulus_stroke", 78, 96, -36),
        _along("slave_least", 78, 130, 60),
        _across("bearing_bore", 122, 18),
    ),
    ("Hub: behind the flywheel's friction face is positive, so its front is often negative.",),
    0.6,
)

CRANK = Sheet(
    "crank",
    "Crankshaft flange, bush and bellhousing of the car",
    "car",
    (
        _area(
            "car", (-60, 40), (0, 40), (0, 17), (-6, 17), (-6, 11), (-42, 11), (-42, -11),
            (-6, -11), (-6, -17), (0, -17), (0, -40), (-60, -40),
        ),
        *_both("made", -27, -8, 7, 11),
        *_both("car", -60, -20, 70, 100),
        *_both("metal", -20, -14, 70, 100),
        _area("metal", (-14, 84), (96, 60), (96, 46), (-14, 70)),
        _area("metal", (-14, -84), (96, -60), (96, -46), (-14, -70)),
        *_both("made", 96, 108, 40, 62),
        _box("car", 4, 9, 22, 28),
        _line("axis", (-72, 0), (124, 0)),
        _word("block", -40, 92),
        _word("crankshaft", -52, 30),
        _word("bellhousing", 40, -66),
        _word("bolt", 9, 25),
    ),
    (
        _along("crank_flange_position", -20, 0, 40),
        _along("engine_backplate", -20, -14, 100),
        _along("car_bellhousing_depth", -20, 96, -100),
        _along("car_adapter_thickness", 96, 108, 62),
        _across("car_bellhousing_register_diameter", 96, 46),
        _across("crank_bore_diameter", -36, 11),
        _along("crank_bore_depth", -42, 0, -40),
        _across("crank_mouth_diameter", 0, 17),
        _along("crank_mouth_depth", -6, 0, -17),
        _across("crank_bush_bore", -18, 7),
        _along("crank_bush_length", -27, -8, -11),
        _along("crank_bush_recess", -8, 0, 11),
        _along("clutch_bolt_heads", 0, 9, 28),
    ),
    (
        "Flange: behind the block's rear face is positive.",
        "Bush recess: inside the flange is positive.",
    ),
    0.4,
)  # fmt: skip

CLUTCH = Sheet(
    "clutch",
    "Flywheel, disc and cover of the car",
    "car",
    (
        _box("car", -24, -8, -40, 40),
        *_both("car", -8, 14, 40, 110),
        *_both("metal", 14, 22, 40, 104),
        *_both("metal", 10, 38, 13, 22),
        _line("sheet", (22, 100), (40, 70), (54, 26)),
        _line("sheet", (22, -100), (40, -70), (54, -26)),
        *_both("metal", 62, 80, 16, 30),
        _line("axis", (-34, 0), (100, 0)),
        _word("flange", -16, 30),
        _word("flywheel", 3, 90),
        _word("finger", 46, 50),
        _word("bearing", 74, -26),
    ),
    (
        _along("clutch_friction_face", -8, 14, 110),
        _along("clutch_hub_front", 10, 14, 22),
        _along("clutch_hub_rear", 14, 38, 22),
        _along("clutch_wear_travel", 6, 10, -22),
        _along("clutch_release_float", 38, 42, -22),
        _across("clutch_disc_diameter", 22, 104),
        _across("clutch_spline_diameter", 30, 13),
        _along("clutch_disc_thickness", 14, 22, -104),
        _along("clutch_finger_height", 14, 54, 26),
        _across("clutch_bearing_bore", 76, 16),
    ),
    ("Friction face: behind the flange is positive. Hub: behind the friction face is positive.",),
    0.4,
)

PEDAL = Sheet(
    "pedal",
    "Pedal, cylinders and release bearing of the car",
    "car",
    (
        _line("metal", (0, 120), (14, 60), (40, -40)),
        _line("clearance", (0, 120), (-20, 60), (-60, -34)),
        _ring("metal", 0, 120, 5),
        _box("car", -110, -50, 50, 76),
        _box("car", -100, -30, -100, -70),
        _line("metal", (-30, -85), (0, -85), (10, -150)),
        _box("metal", 10, 26, -160, -120),
        _box("clearance", -6, 4, -160, -120),
        _word("pedal", 30, 0),
        _word("master", -80, 56),
        _word("slave", -65, -94),
        _word("bearing", 18, -128),
    ),
    (
        _along("clutch_pedal_travel", -60, 40, -40),
        _up("clutch_master_bore", -110, 50, 76),
        _up("clutch_slave_bore", -100, -100, -70),
        _along("clutch_free_play", 4, 10, -120),
        _along("clutch_release_travel", -6, 10, -160),
        _at("clutch_release_travel_max", -6, -150),
    ),
)

ENGINE = Sheet(
    "engine",
    "Engine and its mounts, car from its left side",
    "car",
    (
        _box("car", -420, 0, -110, 130),
        _box("sheet", -530, -510, -120, 140),
        _line("sheet", (-470, -100), (-470, 100)),
        _box("metal", -330, -270, -170, -110),
        _box("clearance", -350, -330, -170, -150),
        _line("axis", (-480, 0), (60, 0)),
        _word("radiator", -520, 60),
        _word("fan", -470, 80),
        _word("block", -210, 60),
        _word("front mount", -300, -150),
    ),
    (
        _along("engine_mounts_fan_gap", -510, -470, 100),
        _at("engine_mounts_fan_gap_least", -495, 20),
        _along("engine_mounts_pivot_x", -300, 0, -140),
        _along("engine_mounts_shift_bolted", -340, -330, -170),
        _along("engine_mounts_shift_slotted", -350, -330, -170),
    ),
    ("Pivot: forward of the block's rear face is negative.",),
)

FLOOR = Sheet(
    "floor",
    "Crossmember, mount, tunnel and hole for the lever, car from its left side",
    "car",
    (
        _box("car", -60, 0, -100, 110),
        _line("sheet", (90, 190), (300, 150), (520, 120)),
        _line("sheet", (640, 112), (760, 105)),
        _box("car", 330, 410, -150, -105),
        _box("cut", 312, 330, -150, -105),
        _box("zone", 520, 600, -120, -80),
        _line("metal", (520, -120), (600, -114)),
        _line("clearance", (300, 150), (300, -20)),
        _line("axis", (-80, 0), (780, 0)),
        _line("metal", (580, 40), (540, 190)),
        _line("clearance", (580, 40), (610, 185)),
        _word("block", -30, 80),
        _word("crossmember", 370, -140),
        _word("mount's zone", 560, -100),
        _word("tunnel", 160, 178),
        _word("station", 300, 60),
    ),
    (
        _along("crossmember_start", 0, 312, -150),
        _along("crossmember_end", 0, 410, -150),
        _up("crossmember_top", 370, 0, -105),
        _along("crossmember_lip_depth", 312, 330, -150),
        Mark("car_mount_zone", "dimension", ((0, -120), (520, -120), (0, -120), (600, -120))),
        _up("car_mount_drop_least", 535, 0, -80),
        _up("car_mount_drop_most", 600, 0, -120),
        _turn("car_mount_tilt", (520, -120), (600, -120), (600, -114)),
        _along("tunnel_stations", 0, 300, 190),
        _along("tunnel_pieces", 90, 520, 190),
        _along("opening_start", 0, 520, 120),
        _along("opening_end", 0, 640, 112),
        _along("lever_crank_most", 540, 610, 188),
    ),
    ("Mount tilt: rear end low is positive. Drops are below the crankshaft's axis.",),
)

HOLE = Sheet(
    "hole",
    "Hole for the lever, from above, left side up",
    "car",
    (
        _line("sheet", (480, 95), (700, 85)),
        _line("sheet", (480, -95), (700, -85)),
        _box("clearance", 520, 640, -48, 52),
        _line("axis", (470, 0), (710, 0)),
        _word("tunnel", 500, 95),
        _word("hole", 570, 30),
    ),
    (_up("opening_left", 640, 0, 52), _up("opening_right", 640, 0, -48)),
    stretch=0.6,
)

DRIVELINE = Sheet(
    "driveline",
    "Propeller shaft, from the side and from above; wheel",
    "car",
    (
        _box("metal", -150, 0, -24, 24),
        _line("axis", (-160, 0), (420, 0)),
        _ring("metal", 0, 0, 10),
        _area("metal", (6, 8), (396, -52), (396, -68), (6, -8)),
        _ring("metal", 400, -60, 10),
        _box("metal", 410, 470, -80, -44),
        _ring("car", 520, -62, 40),
        _line("axis", (380, -60), (560, -74)),
        _line("axis", (380, -60), (560, -60)),
        _line("axis", (-160, -180), (420, -180)),
        _area("metal", (0, -174), (400, -194), (400, -206), (0, -186)),
        _ring("metal", 400, -200, 8),
        _ring("car", 640, -120, 90),
        _line("sheet", (520, -210), (760, -210)),
        _line("axis", (-160, 34), (60, 34)),
        _line("axis", (-160, 34), (60, 20)),
        _word("gearbox", -110, 10),
        _word("axle", 520, -50),
        _word("wheel", 640, -90),
        _word("from above", 60, -186),
    ),
    (
        Mark("driveshaft_pinion_x", "dimension", ((-150, -80), (400, -80))),
        _up("driveshaft_pinion_drop", 400, 0, -60),
        _up("driveshaft_pinion_offset", 400, -180, -200),
        _turn("driveshaft_pinion_tilt", (400, -60), (560, -60), (560, -72.4)),
        _turn("driveshaft_engine_tilt", (-160, 34), (60, 34), (60, 20)),
        _up("driveshaft_tube_diameter", 200, -22, -38),
        _at("driveshaft_tube_wall", 260, -38),
        _along("driveshaft_plunge", -40, 0, 24),
        _along("driveshaft_plunge_bump", -20, 0, 24),
        _along("driveshaft_plunge_droop", -40, -20, 24),
        _along("driveshaft_pinion_arm", 400, 520, -62),
        _up("driveshaft_yoke_spline_diameter", -60, -10, 10),
        _along("driveshaft_longest_piece", 0, 400, -206),
        _along("tyre_rolling_circumference", 520, 760, -210),
    ),
    (
        "Pinion: below the axis and right of it are positive.",
        "Tilts: going rearward and down is positive.",
        "Pinion's place counts from the block's rear face, at ride height.",
    ),
)

SHEETS = (SHAFT, SIDE, ABOVE, RELEASE, CRANK, CLUTCH, PEDAL, ENGINE, FLOOR, HOLE, DRIVELINE)


def _series(letters: str) -> Iterator[str]:
    """A, B … Z, AA, AB …, without those that are taken for a figure."""
    yield from letters
    for first in letters:
        yield from (first + second for second in letters)


def _lettered() -> dict[str, str]:
    found: dict[str, str] = {}
    for of, letters in (
        ("gearbox", "ABCDEFGHJKLMNPQRSTUVWXYZ"),
        ("car", "abcdefghjkmnpqrstuvwxyz"),
    ):
        names = [m.name for sheet in SHEETS if sheet.of == of for m in sheet.marks]
        found |= dict(zip(names, islice(_series(letters), len(names)), strict=True))
    return found


LETTERS: dict[str, str] = _lettered()


def letter_of(of: str, name: str) -> str:
    """The letter of a number on its drawing, nothing where none shows it.

    >>> letter_of("Keld 5", "spline_end"), letter_of("car", "present_spline_end"), letter_of("car", "axle_ratio")
    ('F', 'F', '')
    """
    return LETTERS.get(term_of(of, name).name, "")


def sheet_of(name: str) -> Sheet | None:
    """The sheet on which a column or key is measured, None where none shows it."""
    return next((s for s in SHEETS if any(m.name == name for m in s.marks)), None)


def measuring_drawing(
    sheet: Sheet, names: Collection[str] | None = None, tallest: float = 150.0
) -> Drawing:
    """One sheet with its letters, at most `tallest` [mm] on paper; with `names`, only theirs."""
    shapes = list(sheet.outline)
    for mark in sheet.marks:
        if names is not None and mark.name not in names:
            continue
        letter, of = LETTERS[mark.name], (mark.name,)
        if len(mark.points) == 4:
            first, second = mark.points[:2], mark.points[2:]
            shapes.append(Shape(mark.form, "thin", first, letter + "₁", of))
            shapes.append(Shape(mark.form, "thin", second, letter + "₂", of))
        else:
            shapes.append(Shape(mark.form, "thin", mark.points, letter, of))
    return arrange(shapes, sheet.title, tallest=tallest, stretch=sheet.stretch, notes=sheet.signs)
