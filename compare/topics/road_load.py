"""Road load and pulling power: what top gear holds at cruise, how steep a start, how fast at all."""

from __future__ import annotations

import numpy as np

from compare.judge.rules import AtLeast, Limit, Reading, check, quantity

Array = np.ndarray

GRAVITY = 9.80665  # m/s², standard value
AIR_DENSITY = Limit("air_density", 1.225, "kg/m³", "ISO 2533, sea level, 15 °C")


def drag_force(speed: Array, frontal_area: Array, drag_coefficient: Array, air_density: Array | float) -> Array:
    """Air drag [N] = ½ ρ CdA v²; speed [km/h], area [m²], density [kg/m³].

    >>> round(float(drag_force(100.0, 2.0, 0.4, 1.225)), 2)
    378.09
    """
    return 0.5 * air_density * drag_coefficient * frontal_area * (speed / 3.6) ** 2


def rolling_and_grade(mass: Array, rolling_resistance: Array, gradient: Array | float) -> Array:
    """Rolling and climbing force [N] = m g (Crr cos θ + sin θ); mass [kg], gradient [%] = 100 tan θ.

    >>> round(float(rolling_and_grade(1000.0, 0.015, 0.0)), 2)
    147.1
    """
    slope = np.arctan(np.asarray(gradient) / 100.0)
    return mass * GRAVITY * (rolling_resistance * np.cos(slope) + np.sin(slope))


def wheel_force(torque: Array, overall_ratio: Array, efficiency: Array, circumference: Array) -> Array:
    """Force at the road [N] = T i η / r with r = C / 2π; torque [N·m], circumference [mm].

    >>> round(float(wheel_force(100.0, 4.0, 0.9, 1800.0)), 1)
    1256.6
    """
    return torque * overall_ratio * efficiency * 2.0 * np.pi / (circumference / 1000.0)


def gradient_held(force: Array, mass: Array, rolling_resistance: Array) -> Array:
    """The gradient [%] that a force [N] beyond the air drag holds; mass [kg].

    Solves F = m g (Crr cos θ + sin θ) for 100 tan θ; negative where it cannot hold the level.

    >>> round(float(gradient_held(rolling_and_grade(1000.0, 0.015, 12.0), 1000.0, 0.015)), 9)
    12.0
    """
    share = force / (mass * GRAVITY * np.sqrt(1.0 + rolling_resistance**2))
    return 100.0 * np.tan(np.arcsin(np.clip(share, -0.999, 0.999)) - np.arctan(rolling_resistance))


def torque_at(rpm: Array, curve_rpm: Array, curve_torque: Array) -> Array:
    """Torque [N·m] at engine speeds [rev/min], any shape; straight lines between the curve's points.

    Below the first point its torque is kept, beyond the last there is none. NaN stays NaN.

    >>> torque_at(np.array([1000.0, 1500.0, 9000.0]), np.array([1000.0, 2000.0]), np.array([80.0, 90.0])).tolist()
    [80.0, 85.0, 0.0]
    """
    rpm = np.asarray(rpm, dtype=float)
    if np.isnan(curve_rpm).any():
        return np.full(rpm.shape, np.nan)
    found = np.interp(rpm, curve_rpm.ravel(), curve_torque.ravel(), right=0.0)
    return np.where(np.isnan(rpm), np.nan, found)


def engine_power(torque: Array, rpm: Array) -> Array:
    """Power [kW] of a torque [N·m] at an engine speed [rev/min].

    >>> round(float(engine_power(100.0, 3000.0)), 2)
    31.42
    """
    return torque * rpm * 2.0 * np.pi / 60.0 / 1000.0


@quantity("N", "road load on the level at cruise")
def cruise_load(
    car_mass: Array,
    car_rolling_resistance: Array,
    cruise_speed: Array,
    car_frontal_area: Array,
    car_drag_coefficient: Array,
    air_density: float,
) -> Array:
    return rolling_and_grade(car_mass, car_rolling_resistance, 0.0) + drag_force(
        cruise_speed, car_frontal_area, car_drag_coefficient, air_density
    )


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
    cruise_speed: Array,
    car_frontal_area: Array,
    car_drag_coefficient: Array,
    air_density: float,
) -> Array:
    """`(builds, 1, gears)`, nominal; NaN for gears beyond redline."""
    rpm = gear_cruise_rpm[:, :1]
    torque = torque_at(rpm, engine_curve_rpm, engine_curve_torque)
    torque = np.where(rpm <= engine_redline[:, :1, None], torque, np.nan)
    force = wheel_force(
        torque,
        ratios[:, :1] * axle_ratio[:, :1, None],
        car_driveline_efficiency[:, :1, None],
        rolling_circumference[:, :1, None],
    )
    drag = drag_force(cruise_speed, car_frontal_area, car_drag_coefficient, air_density)[:, :1, None]
    return gradient_held(force - drag, car_mass[:, :1, None], car_rolling_resistance[:, :1, None])


@quantity("N·m", "engine torque at cruise in top gear")
def cruise_torque(cruise_rpm: Reading, engine_curve_rpm: Array, engine_curve_torque: Array) -> Array:
    return torque_at(cruise_rpm.value, engine_curve_rpm, engine_curve_torque)


@check(
    "Can top gear hold your cruising speed against a slope?",
    "%",
    AtLeast(clear=2.0, tight=0.5),
    "An overdrive too tall for the engine is only used downhill.",
    decides=False,
    criterion="pull",
    words={
        "clear": "top gear holds {top_gear_pull} at cruise",
        "tight": "top gear holds only {top_gear_pull} at cruise",
        "clash": "top gear is too tall: it holds {top_gear_pull} at cruise; an axle of {axle_to_suit} would suit it",
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
    cruise_speed: Array,
    car_frontal_area: Array,
    car_drag_coefficient: Array,
    air_density: float,
) -> Array:
    force = wheel_force(cruise_torque, top_ratio * axle_ratio, car_driveline_efficiency, rolling_circumference)
    drag = drag_force(cruise_speed, car_frontal_area, car_drag_coefficient, air_density)
    return gradient_held(force - drag, car_mass, car_rolling_resistance)


@quantity("", "axle ratio with which top gear would pull comfortably at cruise")
def axle_to_suit(
    cruise_rpm: Reading,
    top_ratio: Array,
    axle_ratio: Array,
    rolling_circumference: Array,
    cruise_speed: Array,
    engine_curve_rpm: Array,
    engine_curve_torque: Array,
    car_driveline_efficiency: Array,
    car_mass: Array,
    car_rolling_resistance: Array,
    car_frontal_area: Array,
    car_drag_coefficient: Array,
    air_density: float,
    top_gear_pull: Array,
    top_gear_pull_clear: float,
    top_gear_pull_tight: float,
) -> Array:
    """`(builds, 1)`, nominal, where top gear is too tall: the tallest axle up to twice as short that holds the comfortable gradient."""
    found = np.full((len(top_ratio), 1), np.nan)
    tall = np.flatnonzero(top_gear_pull[:, 0] < top_gear_pull_tight)
    if not len(tall):
        return found
    some = lambda a: a[tall] if len(a) > 1 else a
    top_ratio, axle_ratio, rolling_circumference, cruise_speed = (some(a) for a in (top_ratio, axle_ratio, rolling_circumference, cruise_speed))
    shorter = np.linspace(1.0, 2.0, 101)
    axles = axle_ratio[:, :1, None] * shorter
    gear, circumference, speed = (a[:, :1, None] for a in (top_ratio, rolling_circumference, cruise_speed))
    torque = torque_at(some(cruise_rpm.value)[:, :1, None] * shorter, engine_curve_rpm, engine_curve_torque)
    force = wheel_force(torque, gear * axles, some(car_driveline_efficiency)[:, :1, None], circumference)
    drag = drag_force(speed, some(car_frontal_area)[:, :1, None], some(car_drag_coefficient)[:, :1, None], air_density)
    held = gradient_held(force - drag, some(car_mass)[:, :1, None], some(car_rolling_resistance)[:, :1, None])
    with np.errstate(invalid="ignore"):
        enough = held >= top_gear_pull_clear
    first = np.take_along_axis(np.broadcast_to(axles, held.shape), enough.argmax(axis=-1)[..., None], axis=-1)[..., 0]
    found[tall] = np.where(enough.any(axis=-1), first, np.nan)
    return found


@check(
    "How steep a hill can first gear start on?",
    "%",
    AtLeast(clear=25.0, tight=18.0),
    "A laden start on a ramp is where a tall first gear burns its clutch.",
    decides=False,
    words={"tight": "first gear starts on {start_gradient}", "clash": "first gear is too tall: it starts on {start_gradient} only"},
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
    force = wheel_force(peak_torque, ratios[..., 0] * axle_ratio, car_driveline_efficiency, rolling_circumference)
    return gradient_held(force, car_mass, car_rolling_resistance)


GRID = 32


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
    """`(builds, 1, gears)`, nominal: where pull meets load, or redline, whichever comes first."""
    shape = (len(ratios), 1, ratios.shape[-1])
    if np.isnan(engine_curve_rpm).any() or np.isnan(engine_redline[:, 0]).any():
        return np.full(shape, np.nan)
    rpm = np.linspace(float(engine_curve_rpm.min()), float(engine_redline[0, 0]), GRID)
    torque = torque_at(rpm, engine_curve_rpm, engine_curve_torque)
    gear = ratios[:, 0, :, None]
    axle, circumference = axle_ratio[:, :1, None], rolling_circumference[:, :1, None]
    speed = gear_redline_speed[:, 0, :, None] * (rpm / rpm[-1])
    load = rolling_and_grade(car_mass, car_rolling_resistance, 0.0)[:, :1, None] + drag_force(
        speed, car_frontal_area[:, :1, None], car_drag_coefficient[:, :1, None], air_density
    )
    spare = wheel_force(torque, gear * axle, car_driveline_efficiency[:, :1, None], circumference) - load
    with np.errstate(invalid="ignore"):
        holds = spare >= 0
    last = GRID - 1 - np.argmax(holds[..., ::-1], axis=-1)
    after = np.minimum(last + 1, GRID - 1)
    pick = lambda a, i: np.take_along_axis(a, i[..., None], axis=-1)[..., 0]
    drop = pick(spare, last) - pick(spare, after)
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where(drop > 0, pick(spare, last) / drop, 0.0)
    found = pick(speed, last) + np.clip(part, 0.0, 1.0) * (pick(speed, after) - pick(speed, last))
    return np.where(holds.any(axis=-1), found, np.nan)[:, None, :]


@quantity("km/h", "top speed on the level")
def top_speed(gear_top_speed: Array) -> Array:
    known = ~np.isnan(gear_top_speed)
    best = np.where(known, gear_top_speed, -np.inf).max(axis=-1)
    return np.where(known.any(axis=-1), best, np.nan)


@quantity("", "gear in which the top speed is reached")
def top_speed_gear(gear_top_speed: Array) -> Array:
    known = ~np.isnan(gear_top_speed)
    gear = np.where(known, gear_top_speed, -np.inf).argmax(axis=-1) + 1.0
    return np.where(known.any(axis=-1), gear, np.nan)


@quantity("", "gear in which the engine pulls best at cruising speed")
def best_pull_gear(gear_gradient: Array) -> Array:
    known = ~np.isnan(gear_gradient)
    gear = np.where(known, gear_gradient, -np.inf).argmax(axis=-1) + 1.0
    return np.where(known.any(axis=-1), gear, np.nan)
