"""Which unknown inputs keep a check open: found by trying, not by reading what feeds it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from compare.judge.draws import build_arrays, car_arrays
from compare.judge.engine import Assessment
from compare.judge.rules import UNMEASURED
from compare.vocabulary import CURVE_PARTS, GEARS, TYRE_PARTS, car_terms_by_name, catalogue_terms

__all__ = ["missing_inputs"]


def missing_inputs(a: Assessment, builds: Sequence[int]) -> list[dict[str, list[str]]]:
    """Per build, the unmeasured checks and which unknown inputs keep each of them open.

    Found by trying: with every unknown filled in, each is taken away in turn; where a check falls open it
    is needed. So an input that does not matter for this build is not asked for. Builds that lack the same
    things, made the same choices and have the same checks open are tried once.
    """
    todo = [b for b in dict.fromkeys(builds) if b not in a.lacking]
    if todo:
        a.lacking.update(zip(todo, _missing_of(a, todo), strict=True))
    return [a.lacking[b] for b in builds]


def _missing_of(a: Assessment, builds: Sequence[int]) -> list[dict[str, list[str]]]:
    rows = np.asarray(builds, dtype=int)
    of_build = build_arrays(a.builds, rows, 1, a.seed)
    choices = [t.name for t in catalogue_terms().values() if t.choices and t.name in of_build]
    unknown = [n for n in of_build if n not in ("ratios", *GEARS) and np.isnan(of_build[n]).any()]
    keys: list[tuple[Any, ...]] = [
        (tuple(bool(np.isnan(of_build[n][at, 0])) for n in unknown), tuple(float(np.nan_to_num(of_build[n][at, 0], nan=-1.0)) for n in choices))
        for at in range(len(rows))
    ]
    now = a.nominal(list(rows)).verdicts[:, :, 0] == UNMEASURED
    keys = [(*key, tuple(now[:, at].tolist())) for at, key in enumerate(keys)]
    tried: dict[Any, dict[str, list[str]]] = {}
    found = []
    for at, key in enumerate(keys):
        if key not in tried:
            tried[key] = _needed(a, int(rows[at]))
        found.append({r.title: tried[key].get(r.title, []) for i, r in enumerate(a.engine.checks) if now[i, at]})
    return found


def _needed(a: Assessment, build: int) -> dict[str, list[str]]:
    """Check -> the unknown inputs of one build without any one of which it stays open."""
    of_car = car_arrays(a.car, 1, a.seed)
    of_build = build_arrays(a.builds, np.array([build]), 1, a.seed)
    names: dict[str, Any] = dict(of_car) | dict(of_build)
    unknown = [n for n, v in names.items() if np.isnan(np.asarray(v, dtype=float)).all() and not n.startswith("present_") and n not in ("tunnel_bottom", *GEARS)]
    if np.isnan(of_car["tyre_rolling_circumference"]).all():
        # Size or circumference: either will do, and the circumference is the better answer.
        unknown = [n for n in unknown if n not in TYRE_PARTS]
    count = 1 + len(unknown)
    stations = np.asarray(of_car["tunnel_x"]).shape[-1]
    for name, values in names.items():
        values = np.asarray(values, dtype=float)
        if name in CURVE_PARTS:
            names[name] = np.asarray(_filler(name, a))[None, None, :] if name in unknown else values
            continue
        if name in unknown:
            fill = np.linspace(0.0, 3000.0, stations) if name == "tunnel_x" else np.full(stations, 300.0) if values.ndim == 3 else _filler(name, a)
            values = np.broadcast_to(fill, values.shape)
        values = np.broadcast_to(values, (count, *values.shape[1:])).copy()
        if name in unknown:
            values[1 + unknown.index(name)] = np.nan
        names[name] = values
    without_curve = dict(names) | {n: of_car[n] for n in CURVE_PARTS}
    opened = a.engine.run(names, (count, 1)).verdicts[:, :, 0] == UNMEASURED
    if CURVE_PARTS[0] in unknown:  # a curve is there or not for all rows alike, so it takes a run of its own
        opened[:, 1 + unknown.index(CURVE_PARTS[0])] = a.engine.run(without_curve, (count, 1)).verdicts[:, 0, 0] == UNMEASURED
    found: dict[str, list[str]] = {}
    for i, rule in enumerate(a.engine.checks):
        lacking = [_asked_as(name) for k, name in enumerate(unknown) if opened[i, 1 + k] and not opened[i, 0]]
        found[rule.title] = list(dict.fromkeys(lacking))
    return found


def _asked_as(name: str) -> str:
    """The column or key to fill in, for a name that only the sums know."""
    if name.startswith("tyre_"):
        return "tyre rolling_circumference"
    if name.startswith("engine_curve"):
        return "engine torque_curve"
    if name.startswith("tunnel_") and name != "tunnel_removable":
        return "tunnel stations"
    return name.removesuffix("_low").removesuffix("_high") if "adapter_thickness" in name else name.replace("_driven_least", "_driven_teeth").replace("_driven_most", "_driven_teeth")


def _filler(name: str, a: Assessment) -> Any:
    """A plausible value for an unknown input; only used to find out whether it is needed."""
    special: dict[str, Any] = {
        "engine_curve_rpm": [1000.0, 5000.0],
        "engine_curve_torque": [100.0, 100.0],
        "tyre_width": 165.0, "tyre_aspect": 0.8, "tyre_rim": 330.0, "tyre_radial": 1.0, "tyre_scale": 1.0,
        "speedo_driven_least": 15.0, "speedo_driven_most": 22.0, "adapter": 1.0,
        "price": 500.0, "part_price": 0.0,
    }  # fmt: skip
    if name in special:
        return special[name]
    if "adapter_thickness" in name:
        return 10.0
    term = catalogue_terms().get(name) or car_terms_by_name().get(name)
    if term is None:
        return 800.0
    if term.choices:
        return 0.0
    if term.name in a.builds.columns:
        known = a.builds.columns[term.name].nominal
        if np.isfinite(known).any():
            return float(np.nanmedian(known))
    scale = math.pi / 180 if term.kind == "angle" else 1.0
    low, high = (0.0 if math.isinf(term.low) else term.low), (1000.0 if math.isinf(term.high) else term.high)
    return (low + high) / 2.0 * scale
