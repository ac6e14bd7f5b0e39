"""Random cars and gearboxes, invented: catalogues that make the solver work hard."""

from __future__ import annotations

import random

from compare.read.car import Car, read_car
from compare.read.catalogue import Table, load_catalogue

STEPS = ["frame cut", "body cut", "panel cut", "donor cut", "bolts back"]


def car_text(seed: int, extra: str = "", deepest: str = "") -> str:
    """A profile in which crossmember, tunnel, opening and mounts are in the way of some gearboxes."""
    r = random.Random(seed)
    start = r.randint(420, 560)
    xs = [0, 250, 500, 760, 1300]
    widths = [230, r.randint(150, 190), r.randint(120, 150), r.randint(92, 118), r.randint(85, 100)]
    tops = [240, r.randint(160, 190), r.randint(130, 160), r.randint(105, 130), r.randint(95, 120)]
    stations = ", ".join(
        f"{{x = {x}, left = {w}, right = {w + r.randint(-4, 4)}, top = {t}}}"
        for x, w, t in zip(xs, widths, tops, strict=True)
    )
    return f"""
[car]
name = "trial car {seed}"
source = "{r.choice(["measured", "published"])}"
[engine]
torque_curve = [[1000, 82], [2600, 105], [5000, 68]]
redline = 4800
[tyre]
rolling_circumference = "1947 ±8 mm"
[axle]
ratio = 4.1
[cruise]
speed = 95
rpm_low = 2400
rpm_high = 3300
[crank]
flange_position = {r.randint(18, 28)}
bore_diameter = {r.choice([20, 21, 24])}
bore_depth = {r.randint(30, 40)}
mouth_diameter = {r.choice([0, 30])}
mouth_depth = {r.choice([0, 6])}
bush_bore = {r.choice([12.7, 14, 15])}
bush_length = {r.randint(16, 20)}
bush_recess = {r.randint(1, 6)}
pilot = "{"needle" if seed % 3 == 0 else "bush"}"
[clutch]
friction_face = 22
hub_front = -3
hub_rear = 25
wear_travel = 1.5
release_float = 1.5
spline_teeth = 10
spline_diameter = 25.4
finger_height = 42
disc_thickness = 8
bolt_heads = 9
bearing_bore = 35.2
[bellhousing]
depth = 160
register_diameter = 146
[engine_mounts]
shift_bolted = {r.randint(0, 4)}
shift_slotted = {r.randint(8, 16)}
fan_gap = {r.randint(24, 44)}
fan_gap_least = 15
[mount]
zone = [{r.randint(740, 790)}, {r.randint(800, 860)}]
drop_least = 80
drop_most = 110
tilt = 0
[crossmember]
start = {start}
end = {start + r.randint(50, 80)}
top = {r.randint(108, 122)}
lip_depth = {r.choice([0, 8, 12])}
removable = {r.choice(["true", "false"])}
[tunnel]
removable = {r.choice(["true", "false"])}
stations = [{stations}]
[opening]
start = {r.randint(760, 820)}
end = {r.randint(900, 960)}
left = 60
right = 60
[workshop]
rate = {r.choice([0, 5, 12])}
outside_rate = 55
tools = ["lathe"{r.choice(["", ', "grinder"', ', "welder"'])}]
[policy]
deepest_cut = "{deepest or r.choice(STEPS)}"
{extra}
"""


HEAD = (
    "name,price,source,ratio_1,ratio_2,ratio_3,ratio_4,ratio_5,torque_rating,bellhousing,bellhousing_depth,adapter,"
    "adapter_thickness,shaft_stickout,pilot_diameter,pilot_length,spline_teeth,spline_diameter,spline_start,"
    "spline_end,case_depth,collar_length,collar_diameter,length,case_length,bell_left,bell_right,bell_top,"
    "bell_bottom,case_left,case_right,case_top,case_bottom,tail_left,tail_right,tail_top,tail_bottom,"
    "mount_position,mount_drop,mount_tilt,mount_pad_length,mount_pad_stock,shifter_position,shifter_offset,"
    "shifter_room,turret_width,release_type,lug_cut"
)


def row(r: random.Random, number: int) -> list[object]:
    stick, plate = r.randint(150, 190), r.choice(["none", "none", "bought", "to make", "to make"])
    thick = {"none": "", "bought": r.randint(10, 24), "to make": f"{r.randint(5, 12)}..{r.randint(24, 40)}"}
    depth = 160 if plate == "none" else 160 - r.randint(10, 26)
    return [
        f"Trial {number}", 300, r.choice(["measured", "published", "hearsay"]), 3.4, 2.1, 1.4, 1, 0.8, 200, "own",
        depth, plate, thick[plate], stick, r.choice([12.7, 15, 16.5, 18.5]), r.randint(18, 28), 10, 25.4,
        r.randint(34, 46), stick - r.randint(76, 90), 0.8, r.randint(68, 82), 35, r.randint(660, 740),
        r.randint(280, 400), 165, 165, 165, 160, r.randint(92, 110), r.randint(92, 110), r.randint(95, 115),
        r.randint(100, 128), r.randint(58, 88), r.randint(58, 88), r.randint(62, 96), r.randint(70, 116),
        r.randint(600, 690), r.randint(78, 108), r.choice([0, 0, 1, 4, 9]), 60, r.randint(2, 12),
        r.randint(620, 730), r.randint(-8, 8), 80, 70, "fork", (0, 3, 6)[number % 3],
    ]  # fmt: skip


def catalogue(path, seed: int, count: int) -> Table:
    """A catalogue of `count` random gearboxes, written to `path` and read back."""
    r = random.Random(seed)
    lines = [HEAD, *(",".join(str(c) for c in row(r, n)) for n in range(count))]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return load_catalogue(path)


def car(seed: int, extra: str = "", deepest: str = "") -> Car:
    return read_car(car_text(seed, extra, deepest))
