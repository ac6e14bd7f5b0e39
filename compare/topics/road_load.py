"""Road load and pulling power: what top gear holds at cruise, how steep a start, how fast at all."""

from __future__ import annotations

import numpy as np

from compare.judge.rules import SAME, AtLeast, Limit, check, quantity

Array = np.ndarray

GRAVITY = 9.80665  # m/s², standard value
AIR_DENSITY = Limit("air_density", 1.225, "kg/m³", "ISO 2533, sea level, 15 °C")
GRID = 33  # points of engine speed between which a top speed is looked for


def drag_force(
    speed: Array, frontal_area: Array, drag_coefficient: Array, air_density: Array | float
) -> Array:
    """Air drag [N] = ½ ρ CdA v²; speed [km/h], area [m²], density [kg/m³].

    >>> round(float(drag_force(100.0, 2.0, 0.4, 1.225)), 2)
    378.09
    """
    return 0.5 * air_density * drag_coefficient * frontal_area * (speed / 3.6) ** 2


def rolling_and_grade(mass: Array, rolling_resistance: Array, gradient: Array | float) -> Array:
    """Rolling and climbing force [N] = m g (Crr cos θ + sin θ); mass [kg].

    gradient [%] = 100 tan θ.

    >>> round(float(rolling_and_grade(1000.0, 0.015, 0.0)), 2)
    147.1
    """
    slope = np.arctan(np.asarray(gradient) / 100.0)
    return mass * GRAVITY * (rolling_resistance * np.cos(slope) + np.sin(slope))


def wheel_force(
    torque: Array, overall_ratio: Array, efficiency: Array, circumference: Array
) -> Array:
    """Force at the road [N] = T i η / r with r = C / 2π; torque [N·m], circumference [mm].

    >>> round(float(wheel_force(100.0, 4.0, 0.9, 1800.0)), 1)
    1256.6
    """
    return torque * overall_ratio * efficiency * 2.0 * np.pi / (circumference / 1000.0)


def gradient_held(force: Array, mass: Array, rolling_resistance: Array) -> Array:
    """The gradient [%] that a force [N] beyond the air drag holds; mass [kg].

    Solves F = m g (Crr cos θ + sin θ) for 100 tan θ; negative where it cannot hold the level.

    >>> force = rolling_and_grade(1000.0, 0.015, 12.0)
    >>> round(float(gradient_held(force, 1000.0, 0.015)), 9)
    12.0
    """
    share = force / (mass * GRAVITY * np.sqrt(1.0 + rolling_resistance**2))
    angle = np.arcsin(np.clip(share, -0.999, 0.999)) - np.arctan(rolling_resistance)
    return 100.0 * np.tan(angle)


def torque_at(rpm: Array, curve_rpm: Array, curve_torque: Array) -> Array:
    """Torque [N·m] at engine speeds [rev/min], any shape; straight lines between the curve's points.

    Beyond either end nobody knows: NaN, never nothing. NaN stays NaN.

    >>> curve = np.array([1000.0, 2000.0]), np.array([80.0, 90.0])
    >>> torque_at(np.array([1000.0, 1500.0, 9000.0]), *curve).tolist()
    [80.0, 85.0, nan]
    """
    rpm = np.asarray(rpm, dtype=float)
    if np.isnan(curve_rpm).any() or np.isnan(curve_torque).any():
        return np.full(rpm.shape, np.nan)
    speeds, torques = curve_rpm.ravel(), curve_torque.ravel()
    return np.interp(rpm, speeds, torques, left=np.nan, right=np.nan)


def engine_power(torque: Array, rpm: Array) -> Array:
    """Power [kW] of a torque [N·m] at an engine speed [rev/min].

    >>> round(float(engine_power(100.0, 3000.0)), 2)
    31.42
    """
    return torque * rpm * 2.0 * np.pi / 60.0 / 1000.0


def fastest_on_level(speed: Array, spare: Array) -> tuple[Array, Array]:
    """The highest speed at which there is force to spare, and whether it still pulls at the last.

    speed [km/h] rising and spare force [N], both `(..., points)`. Between points a straight line;
    0 where nothing is ever to spare, NaN where the spare force is not known.

    >>> speed = np.array([[50.0, 100.0, 150.0]])
    >>> [a.tolist() for a in fastest_on_level(speed, np.array([[300.0, 100.0, -100.0]]))]
    [[125.0], [False]]
    """
    with np.errstate(invalid="ignore"):
        holds = spare >= 0
    points = spare.shape[-1]
    last = points - 1 - np.argmax(holds[..., ::-1], axis=-1)
    after = np.minimum(last + 1, points - 1)

    def pick(values: Array, at: Array) -> Array:
        full = np.broadcast_to(values, spare.shape)
        return np.take_along_axis(full, at[..., None], axis=-1)[..., 0]

    fall = pick(spare, last) - pick(spare, after)
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where(fall > 0, pick(spare, last) / fall, 0.0)
    found = pick(speed, last) + part * (pick(speed, after) - pick(speed, last))
    found = np.where(holds.any(axis=-1), found, 0.0)
    return np.where(np.isnan(spare).any(axis=-1), np.nan, found), holds[..., -1]


@quantity("N", "road load on the level at cruise")
def cruise_load(
    car_mass: Array,
    car_rolling_resistance: Array,
    cruise_speed: Array,
    car_frontal_area: Array,
    car_drag_coefficient: Array,
    air_density: float,
) -> Array:
    rolling = rolling_and_grade(car_mass, car_rolling_resistance, 0.0)
    return rolling + drag_force(cruise_speed, car_frontal_area, car_drag_coefficient, air_density)


@quantity("N", "air drag at cruise")
def cruise_drag(
    cruise_speed: Array, car_frontal_area: Array, car_drag_coefficient: Array, air_density: float
) -> Array:
    return drag_force(cruise_speed, car_frontal_area, car_drag_coefficient, air_density)


@quantity("%", "gradient that each gear holds at cruising speed")
def gear_gradient(
    gear_cruise_rpm: Array,
    ratios: Array,
    axle_ratio: Array,
    rolling_circumference: Array,
    engine_curve_rpm: Array,
    engine_curve_torque: Array,
    engine_redline: Array,
    car_driveline_efficiency: Array,
    car_mass: Array,
    car_rolling_resistance: Array,
    cruise_drag: Array,
) -> Array:
    """`(builds, 1, gears)`, nominal; NaN beyond redline, beyond the curve's ends, for no gear."""
    torque = torque_at(gear_cruise_rpm, engine_curve_rpm, engine_curve_torque)
    with np.errstate(invalid="ignore"):
        torque = np.where(gear_cruise_rpm > engine_redline[:, :1, None] + SAME, np.nan, torque)
    force = wheel_force(
        torque,
        ratios[:, :1] * axle_ratio[:, :1, None],
        car_driveline_efficiency[:, :1, None],
        rolling_circumference[:, :1, None],
    )
    spare = force - cruise_drag[:, :1, None]
    return gradient_held(spare, car_mass[:, :1, None], car_rolling_resistance[:, :1, None])


@quantity("N·m", "engine torque at cruise in top gear")
def cruise_torque(
    top_cruise_rpm: Array, engine_curve_rpm: Array, engine_curve_torque: Array
) -> Array:
    return torque_at(top_cruise_rpm, engine_curve_rpm, engine_curve_torque)


@check(
    "Can top gear hold your cruising speed against a slope?",
    "%",
    AtLeast(clear=2.0, tight=0.5),
    "An overdrive too tall for the engine is only used downhill.",
    kind="wish",
    words={
        "clear": "top gear holds {top_gear_pull} at cruise",
        "tight": "top gear holds only {top_gear_pull} at cruise",
        "clash": "top gear is for downhill: it holds {top_gear_pull} at cruise"
        "[; gear {road_gear} holds the road at {road_gear_rpm}]"
        "[; an axle of {axle_to_suit} would suit it]",
    },
)
def top_gear_pull(
    cruise_torque: Array,
    top_ratio: Array,
    axle_ratio: Array,
    car_driveline_efficiency: Array,
    rolling_circumference: Array,
    car_mass: Array,
    car_rolling_resistance: Array,
    cruise_drag: Array,
) -> Array:
    force = wheel_force(
        cruise_torque, top_ratio * axle_ratio, car_driveline_efficiency, rolling_circumference
    )
    return gradient_held(force - cruise_drag, car_mass, car_rolling_resistance)


@quantity("", "highest gear that holds the road at cruising speed")
def road_gear(
    gear_gradient: Array,
    gear_cruise_rpm: Array,
    engine_slowest_pull: Array,
    top_gear_pull_tight: float,
) -> Array:
    """`(builds, 1)`, nominal; NaN where none is known to. A gear below the slowest pull is none."""
    with np.errstate(invalid="ignore"):
        holds = gear_gradient >= np.asarray(top_gear_pull_tight)[..., None] - SAME
        holds = holds & ~(gear_cruise_rpm < engine_slowest_pull[:, :1, None])
    gear = holds.shape[-1] - np.argmax(holds[..., ::-1], axis=-1)
    return np.where(holds.any(axis=-1), gear, np.nan)


@quantity("rev/min", "engine speed at cruise in the highest gear that holds the road")
def road_gear_rpm(road_gear: Array, gear_cruise_rpm: Array) -> Array:
    known = ~np.isnan(road_gear)
    index = np.where(known, road_gear - 1, 0).astype(int)
    rpm = np.take_along_axis(gear_cruise_rpm, index[..., None], axis=-1)[..., 0]
    return np.where(known, rpm, np.nan)


@quantity("", "1 where top gear is for downhill and a lower gear holds the road")
def top_for_downhill(top_gear_pull: Array, road_gear: Array, top_gear_pull_tight: float) -> Array:
    """`(builds, 1)`, nominal: 1 or 0, NaN where top gear's pull is not known."""
    pull = top_gear_pull[:, :1]
    with np.errstate(invalid="ignore"):
        tall = pull < top_gear_pull_tight - SAME
    return np.where(np.isnan(pull), np.nan, tall & ~np.isnan(road_gear))


@quantity("", "axle ratio with which top gear would pull comfortably at cruise")
def axle_to_suit(
    top_cruise_rpm: Array,
    top_ratio: Array,
    axle_ratio: Array,
    rolling_circumference: Array,
    engine_curve_rpm: Array,
    engine_curve_torque: Array,
    car_driveline_efficiency: Array,
    car_mass: Array,
    car_rolling_resistance: Array,
    cruise_drag: Array,
    top_gear_pull: Array,
    top_gear_pull_clear: float,
    top_gear_pull_tight: float,
) -> Array:
    """`(builds, 1)`, nominal, where top gear is too tall: the tallest axle, up to twice as short,
    that holds the comfortable gradient; NaN where none does or none is asked for."""
    shorter = np.linspace(1.0, 2.0, 101)
    axles = axle_ratio[:, :1, None] * shorter
    torque = torque_at(top_cruise_rpm[:, :1, None] * shorter, engine_curve_rpm, engine_curve_torque)
    force = wheel_force(
        torque,
        top_ratio[:, :1, None] * axles,
        car_driveline_efficiency[:, :1, None],
        rolling_circumference[:, :1, None],
    )
    held = gradient_held(
        force - cruise_drag[:, :1, None],
        car_mass[:, :1, None],
        car_rolling_resistance[:, :1, None],
    )
    with np.errstate(invalid="ignore"):
        tall = top_gear_pull[:, :1] < top_gear_pull_tight - SAME
        enough = (held >= np.asarray(top_gear_pull_clear)[..., None]) & tall[..., None]
    first = enough.argmax(axis=-1)[..., None]
    axle = np.take_along_axis(np.broadcast_to(axles, enough.shape), first, axis=-1)[..., 0]
    return np.where(enough.any(axis=-1), axle, np.nan)


@check(
    "How steep a hill can first gear start on?",
    "%",
    AtLeast(clear=25.0, tight=18.0),
    "A laden start on a ramp is where a tall first gear burns its clutch.",
    kind="wish",
    words={
        "tight": "first gear starts on {start_gradient}",
        "clash": "first gear is too tall: it starts on {start_gradient} only",
    },
)
def start_gradient(
    ratios: Array,
    axle_ratio: Array,
    peak_torque: Array,
    car_driveline_efficiency: Array,
    rolling_circumference: Array,
    car_mass: Array,
    car_rolling_resistance: Array,
) -> Array:
    force = wheel_force(
        peak_torque, ratios[..., 0] * axle_ratio, car_driveline_efficiency, rolling_circumference
    )
    return gradient_held(force, car_mass, car_rolling_resistance)


@quantity("km/h", "highest speed that each gear reaches on the level")
def gear_top_speed(
    gear_redline_speed: Array,
    ratios: Array,
    axle_ratio: Array,
    rolling_circumference: Array,
    engine_curve_rpm: Array,
    engine_curve_torque: Array,
    engine_redline: Array,
    car_driveline_efficiency: Array,
    car_mass: Array,
    car_rolling_resistance: Array,
    car_frontal_area: Array,
    car_drag_coefficient: Array,
    air_density: float,
) -> Array:
    """`(builds, 1, gears)`, nominal: where pull meets load, or redline, whichever comes first.

    0: that gear cannot hold the level at all. NaN: no such gear, or it still pulls where the
    torque curve ends short of the redline, and nobody knows what comes after.
    """
    redline = engine_redline[:, :1, None, None]
    share = np.linspace(0.0, 1.0, GRID)
    first, end = engine_curve_rpm.min(), np.minimum(engine_curve_rpm.max(), redline)
    rpm = first + (end - first) * share
    torque = torque_at(rpm, engine_curve_rpm, engine_curve_torque)
    speed = gear_redline_speed[:, :1, :, None] * rpm / redline
    last_axes = (slice(None), slice(None, 1), None, None)
    load = rolling_and_grade(car_mass, car_rolling_resistance, 0.0)[last_axes] + drag_force(
        speed,
        car_frontal_area[last_axes],
        car_drag_coefficient[last_axes],
        np.asarray(air_density)[..., None, None],
    )
    pull = wheel_force(
        torque,
        ratios[:, :1, :, None] * axle_ratio[last_axes],
        car_driveline_efficiency[last_axes],
        rolling_circumference[last_axes],
    )
    spare = pull - load
    found, still_pulls = fastest_on_level(np.broadcast_to(speed, spare.shape), spare)
    ends_early = (end < redline - SAME)[..., 0]
    return np.where(still_pulls & ends_early, np.nan, found)


@quantity("km/h", "top speed on the level")
def top_speed(gear_top_speed: Array, gear_redline_speed: Array) -> Array:
    """`(builds, 1)`: NaN where a gear whose speed is not known could be the fastest."""
    known = ~np.isnan(gear_top_speed)
    best = np.where(known, gear_top_speed, -np.inf).max(axis=-1)
    open_to = np.where(known | np.isnan(gear_redline_speed), -np.inf, gear_redline_speed)
    sure = known.any(axis=-1) & (best >= open_to.max(axis=-1) - SAME)
    return np.where(sure, best, np.nan)


def _best(values: Array) -> Array:
    """The number of the gear that has the largest of `(..., gears)`; NaN where none is known."""
    known = ~np.isnan(values)
    gear = np.where(known, values, -np.inf).argmax(axis=-1) + 1.0
    return np.where(known.any(axis=-1), gear, np.nan)


@quantity("", "gear in which the top speed is reached")
def top_speed_gear(gear_top_speed: Array, top_speed: Array) -> Array:
    return np.where(np.isnan(top_speed), np.nan, _best(gear_top_speed))


@quantity("", "gear in which the engine pulls best at cruising speed")
def best_pull_gear(gear_gradient: Array) -> Array:
    return _best(gear_gradient)
